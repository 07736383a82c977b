"""The room as a visitor sees it: password, list, a workbook without code whose sliders move, nothing asked elsewhere."""

import sys
from pathlib import Path

import pytest
from conftest import free_port, private_environment, serve

pytest.importorskip("voila")
pytestmark = pytest.mark.browser
PASSWORD = "invented-for-tests"
DRAWN = ".fy-touch svg > g[role=img]"


@pytest.fixture(scope="module")
def room(chromium, tmp_path_factory):
    """The address of an open room, served from the source tree."""
    place, port = tmp_path_factory.mktemp("room"), free_port()
    command = [sys.executable, "-m", "flakeyard.cli", "serve", f"--port={port}", f"--token={PASSWORD}"]
    address = f"http://127.0.0.1:{port}"
    with serve(command, f"{address}/login", private_environment(place), place / "room.log"):
        yield address


@pytest.fixture
def visitor(page, room):
    """A page of someone who came in by the whole address, password and all."""
    page.set_default_timeout(60_000)
    page.goto(f"{room}/?token={PASSWORD}")
    page.wait_for_selector("text=Choose one")
    return page


def test_password_is_asked_and_a_wrong_one_is_refused(page, room, shoot):
    page.set_default_timeout(60_000)
    page.context.clear_cookies()
    page.goto(f"{room}/voila/tree")
    page.get_by_label("Password").fill("not-the-password")
    page.get_by_role("button", name="Come in").click()
    assert page.get_by_role("alert").inner_text().startswith("That is not the password")
    shoot("room-password")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    page.wait_for_selector("text=Choose one")
    assert page.get_by_role("link", name="00 · Start here").is_visible()
    shoot("room-list")


def test_workbook_runs_without_code_and_its_sliders_move(visitor, shoot):
    visitor.set_viewport_size({"width": 820, "height": 1180})  # a tablet held upright
    visitor.get_by_role("link", name="00 · Start here").click()
    visitor.wait_for_selector(DRAWN)
    visitor.wait_for_selector("[role=slider][aria-label]")
    assert "until the class leader closes the room" in visitor.inner_text("body")
    assert "import panels" not in visitor.content(), "code is shown"
    assert visitor.locator("math").count() > 0
    handle = visitor.locator("[role=slider][aria-label]").first
    before = visitor.locator(DRAWN).first.inner_html()
    handle.focus()
    handle.press("ArrowRight")
    visitor.wait_for_function(
        "([drawn, before]) => document.querySelector(drawn).innerHTML !== before", arg=[DRAWN, before], timeout=60_000
    )
    shoot("room-workbook-top")
    visitor.locator(DRAWN).first.scroll_into_view_if_needed()
    assert (
        visitor.locator(".fy-numbers dt").first.evaluate(
            "term => getComputedStyle(term).float + getComputedStyle(term.parentElement).display"
        )
        == "nonegrid"
    )
    shoot("room-workbook-panel")
    assert visitor.get_by_role("link", name="Contents").first.get_attribute("href") == "/"


@pytest.mark.slow
def test_numbers_of_one_lesson_are_there_in_another_after_a_reload_and_go_home(visitor, room):
    visitor.set_default_timeout(300_000)
    visitor.set_default_navigation_timeout(300_000)
    visitor.get_by_role("link", name="06 ·").click()
    thickness = visitor.locator(".widget-text:has-text('Usual thickness') input").first
    thickness.wait_for()
    thickness.fill("6.5 mm")
    visitor.get_by_role("button", name="Save my numbers").click()
    visitor.wait_for_selector("text=Saved in my-batch.toml")
    visitor.reload()
    thickness.wait_for()
    assert thickness.input_value() == "6.5 mm"
    visitor.goto(f"{room}/voila/render/08-plan-log-learn.ipynb")
    visitor.wait_for_selector("text=Still the demonstration's, until you save your own")  # only where there is a file
    visitor.goto(room)
    with visitor.expect_download() as download:
        visitor.get_by_role("link", name="Take home what you saved").click()
    assert download.value.suggested_filename == "my-batch.toml"
    assert 'thickness = "6.5 mm"' in Path(download.value.path()).read_text(encoding="utf-8")


def test_page_itself_forbids_requests_to_other_computers(visitor):
    told = visitor.evaluate(
        "() => fetch('http://192.0.2.1/', {mode: 'no-cors'}).then(() => 'sent', error => error.constructor.name)"
    )
    assert told == "TypeError"
    assert visitor.context.outside == [], "the policy of the page lets requests out"
