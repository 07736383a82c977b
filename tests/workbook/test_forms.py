"""A form that cannot save says so in plain words, and what was typed still stands in it."""

import errno
import os
from types import SimpleNamespace

import ipywidgets as widgets
import numpy as np
import pytest

from flakeyard.steps.learn.dryer_profile import DryerProfile
from flakeyard.steps.plan import plan as batches
from flakeyard.workbook import own
from flakeyard.workbook.panels import air, batch_book, brine, keeping, log_form, salt
from flakeyard.workbook.paper import card, sheet


def whole_brine_form(folder):
    """The form for one's own brine with everything typed in it but one field."""
    form = brine.own_brine_form(folder)
    rows = [row.children for row in form.children if isinstance(row, widgets.HBox)]
    for row, words in zip(rows, (("salt", "100 g"), ("water", "1 L")), strict=False):
        for field, text in zip(row, words, strict=False):
            field.value = text
    rows[-1][1].value = "3 °C"
    return form


FORMS = {
    "numbers": (own.own_batch_form, "Weight, trimmed", "1.7 kg"),
    "soaks": (lambda folder: salt.own_soaks_form(None, folder), "A portion, dried", "35 g"),
    "brine": (whole_brine_form, "Time in it", "7 h"),
    "dryer": (air.dryer_form, "Dryer set to", "64 °C"),
    "keeping": (keeping.own_keeping_form, "Fish in one pack", "170 g"),
}
TROUBLES = {errno.ENOSPC: "the disk is full", errno.EACCES: "may not be written to", errno.EROFS: "can only be read"}


def inside(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from inside(child)


@pytest.fixture(params=TROUBLES)
def trouble(request, monkeypatch):
    """A folder in which nothing can be written; the words for that."""

    def refuse(*_given, **_options):
        raise OSError(request.param, os.strerror(request.param))

    monkeypatch.setattr(os, "replace", refuse)
    return TROUBLES[request.param]


@pytest.mark.parametrize("name", FORMS)
def test_a_form_that_cannot_save_says_why_and_keeps_what_was_typed(tmp_path, trouble, name):
    make, label, typed = FORMS[name]
    parts = list(inside(make(folder=tmp_path)))
    fields = [part for part in parts if isinstance(part, widgets.Text)]
    field = next(field for field in fields if label in (None, field.description))
    field.value = typed
    before = [field.value for field in fields]
    next(part for part in parts if isinstance(part, widgets.Button)).click()
    told = next(part for part in parts if "fy-live" in part._dom_classes).value
    assert told.startswith("Not saved: ") and trouble in told and "Errno" not in told
    assert [field.value for field in fields] == before and typed in before
    assert not list(tmp_path.iterdir())


def test_a_weighing_that_cannot_be_kept_stays_in_the_form(tmp_path, trouble):
    book = batch_book.own_book(tmp_path)
    form = log_form.Form(lambda typed: log_form.keep_weighing(book, typed, 0), lambda: "never reached")
    for name, text in {"time": "2026-11-20 17:00", "tray": "1", "mass": "322 g", "note": "skin down"}.items():
        form.fields[name].value = text
    before = form.typed
    form.press()
    assert form.told.value.startswith("Not kept: ") and trouble in form.told.value and "Errno" not in form.told.value
    assert form.typed == before and not list(tmp_path.iterdir())


def test_a_card_that_cannot_be_written_is_told(tmp_path, trouble, monkeypatch):
    batch = own.demo_batch("heron")
    monkeypatch.setattr(card, "batch_card", lambda *_given: (sheet.Page(), sheet.Page()))
    monkeypatch.setattr(batches, "plan", lambda given: SimpleNamespace(batch=given))
    told = batch_book.save_card(batch, tmp_path)
    assert told.startswith("Not saved: ") and trouble in told and not list(tmp_path.iterdir())


def test_a_dryer_that_cannot_be_kept_is_told(tmp_path, trouble):
    profile = DryerProfile("my dryer", (), (), np.zeros(0), np.zeros((0, 0)))
    learned = SimpleNamespace(contradiction="", profile=lambda *_given: profile)
    book = SimpleNamespace(moments=(2.0,), profile=None, learned=lambda _used: learned)
    told = batch_book.keep_dryer(book, tmp_path)
    assert told.startswith("Not saved: ") and trouble in told and not list(tmp_path.iterdir())
