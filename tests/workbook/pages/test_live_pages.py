"""Pages with a lesson's own picture: at every setting they say what the panel says, in both unit systems."""

import base64
import json
import re
import zlib
from dataclasses import replace

import pytest

from flakeyard.workbook import own, words
from flakeyard.workbook.pages import explorers, live_pages
from flakeyard.workbook.panels.live import Live
from flakeyard.workbook.panels.panel import Choice

HERON = own.demo_batch("heron")
FEW = {
    "salt-through": {"thickness": (0.003, 0.007, 0.004), "waters": (0, 2, 2)},
    "dryer-box": {"load": (0.5, 3.0, 2.5), "hours": (0, 36000, 36000)},
    "pack-and-room": {"pack": (0, 5, 5), "spot": (0, 7, 7), "day": (0, 42, 42)},
}


@pytest.fixture(scope="module", params=live_pages.PAGES, ids=lambda page: page.name)
def made(request):
    page = replace(request.param, marks=FEW[request.param.name])
    return page, live_pages.text_of(page, HERON)


def inside(text: str) -> dict:
    return json.loads(zlib.decompress(base64.b64decode(re.search(r"const PACKED = '([^']+)'", text)[1])))


def test_a_page_is_whole_and_asks_for_nothing(made):
    _, text = made
    assert not re.search(r"@[A-Z]+@", text.replace(inside_text(text), ""))
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text)
    assert "default-src 'none'" in text and "teaching estimate" in text
    assert f"<title>Explorer: {live_pages.lesson_of(made[0], HERON).title}</title>" in text


def inside_text(text: str) -> str:
    return re.search(r"const PACKED = '([^']+)'", text)[1]


def test_every_setting_says_what_the_panel_says(made):
    page, text = made
    data, lesson = inside(text), live_pages.lesson_of(page, HERON)
    count = 1
    for one in lesson.controls:
        count *= len(one.values())
    for system in ("metric", "us"):
        panel = Live(lesson, Choice(system))
        assert len(data["states"][system]) == count and data["setups"][system] == json.loads(json.dumps(panel.setup))
        for values, key in live_pages.states(lesson):
            told, wanted = data["states"][system][key], json.loads(json.dumps(panel.at(**values)))
            assert all(
                told[name] == wanted[name] for name in ("fields", "numbers", "chips", "caution", "sure", "values")
            )
            assert told["caution"].endswith(words.caution_line())
            assert {one["control"] for one in told["handles"] + told["buttons"]} <= set(values)


def test_left_out_handles_stand_where_the_batch_has_them(made):
    page, _ = made
    whole, lesson = page.panel(HERON), live_pages.lesson_of(page, HERON)
    values = {one.name: one.start for one in lesson.controls}
    same = whole.at(**{one.name: one.start for one in whole.controls} | values)
    assert Live(lesson, whole.choice).at(**values)["numbers"] == same["numbers"]


@pytest.mark.parametrize("page", live_pages.PAGES, ids=lambda page: page.name)
def test_marks_are_marks_of_the_lesson_and_the_start_is_near_the_batch(page):
    whole = {one.name: one for one in page.panel(HERON).controls}
    for one in live_pages.lesson_of(page, HERON).controls:
        assert all(whole[one.name].nearest(value) == pytest.approx(value) for value in one.values())
        assert abs(one.start - whole[one.name].start) <= 0.5 * one.step + 1e-9


def test_all_explorers_are_named_once():
    names = explorers.all_files()
    assert len(set(names)) == len(names) == 5 and all(name.startswith("explorer-") for name in names)
