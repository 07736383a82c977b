"""The table of messages: whole, filled in as it is asked for, and said in another language where there is one."""

import re
import string
import struct
from pathlib import Path

import pytest

from flakeyard import messages

SOURCE = Path(__file__).parents[1] / "src" / "flakeyard"


def compiled(texts: dict[str, str]) -> bytes:
    """A catalogue of gettext: head, then the places of texts and of their translations, in the order of the texts."""
    texts = {"": "Content-Type: text/plain; charset=UTF-8\n"} | texts
    pairs = sorted((one.encode(), other.encode()) for one, other in texts.items())
    places, body, at = [], b"", 28 + 16 * len(pairs)
    for side in (0, 1):
        for pair in pairs:
            places += [len(pair[side]), at + len(body)]
            body += pair[side] + b"\0"
    head = struct.pack("<7I", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    return head + struct.pack(f"<{len(places)}I", *places) + body


@pytest.fixture
def made_up(tmp_path, monkeypatch):
    """A language nobody speaks, in which every text is its English turned round, its braces kept."""
    english = messages.texts()["mistakes.several"]
    folder = tmp_path / "xx" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    broken = messages.texts()["mistakes.more"]
    texts = {english: "Otra {number} flu!", broken: "Otra {nummer} flu!"}
    (folder / "flakeyard.mo").write_bytes(compiled(texts))
    monkeypatch.setattr(messages, "LOCALE", tmp_path)
    monkeypatch.setenv("LANGUAGE", "xx")
    messages._catalogue.cache_clear()
    yield
    monkeypatch.undo()
    messages._catalogue.cache_clear()


def test_a_translation_is_used(made_up):
    assert messages.say("mistakes.several", number=3) == "Otra 3 flu!"


def test_a_translation_with_a_slip_in_its_braces_falls_back_to_english(made_up):
    assert messages.say("mistakes.more", number=3) == messages.texts()["mistakes.more"].format(number=3)


def test_without_a_translation_english_is_said(monkeypatch):
    monkeypatch.setenv("LANGUAGE", "tlh")
    messages._catalogue.cache_clear()
    assert messages.say("mistakes.more", number=3).startswith("… and 3 more")


def test_every_text_is_whole_and_its_braces_have_names():
    for name, text in messages.texts().items():
        assert text.strip() == text != "", name
        assert all(field is None or field.isidentifier() for _, field, _, _ in string.Formatter().parse(text)), name


def test_every_message_that_is_asked_for_is_in_the_table():
    asked = {
        name for path in SOURCE.rglob("*.py") for name in re.findall(r'\bsay\("([^"{]+)"', path.read_text("utf-8"))
    }
    assert asked and asked <= set(messages.texts())


def test_the_template_holds_every_text_once():
    told = messages.template()
    assert told.count("\nmsgid ") == len(set(messages.texts().values()))
    assert all(f"{name}" in told for name in messages.texts())
