"""Handouts opened from the disk with the network cut: what they show, and that they ask for nothing."""

import json

import pytest
from conftest import ROOT
from test_panels_in_browser import AXE

from flakeyard.workbook.paper import handout

pytestmark = pytest.mark.browser


@pytest.fixture(scope="session")
def pages(tmp_path_factory):
    return handout.write_handouts(ROOT, tmp_path_factory.mktemp("handouts"))


def test_handouts_ask_for_nothing_and_show_their_pictures(pages, context, shoot, page):
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": 390, "height": 800})
    for path in pages:
        page.goto(path.as_uri())
        widest = page.evaluate("document.documentElement.scrollWidth")
        assert widest <= 390, f"{path.name} is {widest} wide on a narrow screen"
        broken = page.evaluate("[...document.images].filter(image => !image.naturalWidth).map(image => image.alt)")
        assert broken == []
        shoot(f"handout_{path.stem}")
    assert all(url.startswith(("file:", "data:")) for url in asked)


def test_a_printed_handout_is_no_wider_than_its_paper_and_has_no_bar_to_scroll(pages, page):
    page.set_viewport_size({"width": 688, "height": 900})  # CSS px of A4 between its margins
    page.emulate_media(media="print")
    for path in pages:
        page.goto(path.as_uri())
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert page.evaluate("document.documentElement.scrollWidth") <= 688, path.name
        shown = "[...document.querySelectorAll('.scroll, .formula, pre')].map(one => getComputedStyle(one).overflowX)"
        assert set(page.evaluate(shown)) <= {"visible"}, path.name


def test_handouts_pass_axe(pages, page):
    for path in pages:
        free = path.with_name(f"axe-{path.name}")  # the page's own policy would keep the checker out
        free.write_text(
            path.read_text(encoding="utf-8").replace(
                handout.POLICY, "default-src * 'unsafe-inline' 'unsafe-eval' data:"
            ),
            "utf-8",
        )
        page.goto(free.as_uri())
        page.evaluate(AXE.read_text() + ";undefined")
        result = page.evaluate("async () => await axe.run(document, {resultTypes: ['violations']})")
        assert json.dumps([(rule["id"], rule["nodes"][0]["html"][:120]) for rule in result["violations"]]) == "[]", (
            path.name
        )
