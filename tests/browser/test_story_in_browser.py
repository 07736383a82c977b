"""The story of one fish typed in the browser, to a verdict that is mended with a button; a narrow page, the keyboard alone."""

import shutil
import tomllib

import pytest
from conftest import write_notebook
from test_panels_in_browser import broken_by_axe

from flakeyard.steps.intent.batch_file import written
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import text_of

pytestmark = pytest.mark.browser

CELL = "from flakeyard.workbook.panels import story\nstory.{form}('own-story-{form}')"

PLACE = "node => node.getBoundingClientRect().top - document.querySelector('.fy-story').getBoundingClientRect().top"


@pytest.fixture
def open_story(notebooks, open_notebook):
    def opened(form="story_form", told=""):
        shutil.rmtree(notebooks / f"own-story-{form}", ignore_errors=True)
        (notebooks / f"own-story-{form}").mkdir()
        if told:
            (notebooks / f"own-story-{form}" / "my-batch.toml").write_text(told, encoding="utf-8")
        write_notebook(notebooks / f"{form}.ipynb", CELL.format(form=form))
        page = open_notebook(f"{form}.ipynb")
        in_view(page).first.wait_for()
        return page, notebooks / f"own-story-{form}" / "my-batch.toml"

    return opened


def field(page, asked):
    return page.locator(".fy-ask:not(.fy-hidden)", has=page.get_by_text(asked)).locator("input, select").first


def answer(page, asked, text):
    """Answer a question with the keyboard alone, and go on with Tab."""
    where = field(page, asked)
    where.focus()
    if where.evaluate("node => node.tagName") == "SELECT":
        where.select_option(label=text)
    else:
        page.keyboard.press("Control+a")
        page.keyboard.type(text)
    page.keyboard.press("Tab")


def press(page, name):
    page.get_by_role("button", name=name).focus()
    page.keyboard.press("Enter")


def in_view(page):
    return page.locator(".fy-ask:not(.fy-hidden)")


def test_a_narrow_page_does(open_story, shoot):
    page, _ = open_story("first_taste")
    page.evaluate("window.jupyterapp.commands.execute('application:toggle-left-area')")
    page.set_viewport_size({"width": 390, "height": 844})
    box = page.locator(".fy-story")
    answer(page, "Which fish is it?", "Norhtern pike")
    page.get_by_role("button", name="Yes: ").wait_for()
    field(page, "Which fish is it?").scroll_into_view_if_needed()
    shoot("story_narrow")
    assert box.evaluate("box => box.scrollWidth <= box.clientWidth + 1")
    edges = box.bounding_box()
    for one in in_view(page).locator("input, select").all():
        place = one.bounding_box()
        assert place["x"] >= edges["x"] and place["x"] + place["width"] <= edges["x"] + edges["width"]
        assert place["width"] > 150
    answer(page, "Which fish is it?", "Northern pike")
    page.get_by_text("No verdict yet. Still needed:").wait_for()
    page.get_by_text("No verdict yet. Still needed:").scroll_into_view_if_needed()
    shoot("story_narrow_end")


def test_the_keyboard_goes_to_the_head_of_a_new_page_and_past_what_is_hidden(open_story):
    page, _ = open_story()
    press(page, "Next")
    page.wait_for_function("() => document.activeElement.classList.contains('fy-page-head')")
    field(page, "Is it gutted?").wait_for()
    press(page, "Back")
    field(page, "Which fish is it?").wait_for()
    field(page, "Which fish is it?").focus()
    page.keyboard.type("Northern pike")
    page.keyboard.press("Enter")  # goes on as Tab does
    page.wait_for_function("() => /weigh/.test(document.activeElement.closest('.fy-ask')?.innerText)")
    answer(page, "hours above 4 °C", "0")  # and Tab, into a question that is then no longer asked
    page.get_by_text("hours above 21 °C").first.wait_for(state="hidden")
    page.wait_for_function(
        "() => document.activeElement.matches('.fy-story button, .fy-story input, .fy-story select')"
    )


PERCH = {  # words of a question: what is answered
    "Which fish is it?": "2 lb of yellow perch, wild", "fresh or frozen": "frozen", "How cold was it frozen?": "0F", "For how many days was it frozen?": "3 months",
    "thawed": "no", "How many hours above 4": "an hour or so", "of these hours above 21": "no", "Is it gutted?": "yes", "smell as it should": "yes",
    "How do you cut it?": "fillets", "How thick are the pieces": "half an inch", "Is the skin off": "off",
    "Do you salt or marinate it": "wet", "How long does the fish lie in it?": "ten hours at 38F", "What goes in?": "2 quarts of water, 1/2 cup kosher salt",
    "Any of these": "no", "oven set to": "145F, 5 mesh trays", "How large is one tray": "13 inch round", "strong is the heater": "600 watts",
    "What moves the air": "fan", "How warm is the room": "70F", "How damp": "40%",
    "Where do you want to keep it?": "freezer", "For how many days do you want": "6 months", "What will you pack it in?": "freezer bag",
}  # fmt: skip


def asked(page) -> list[str]:
    """The questions in view, in one look: a row may go between two."""
    told = in_view(page).evaluate_all("rows => rows.map(row => row.querySelector('label').innerText)")
    return [words.replace("\xa0", " ") for words in told]


def test_a_story_in_words_as_people_write_comes_to_a_verdict_and_is_changed_with_a_button(open_story, shoot):
    """Wild perch, not heated: refused, and mended with a button; several things in one answer, none refused."""
    page, file = open_story()
    page.set_viewport_size({"width": 1366, "height": 900})
    left, refused = dict(PERCH), []
    while left:
        here = next((words for question in asked(page) for words in left if words in question), None)
        if here is None:
            press(page, "Next")
            page.locator(".fy-page-head:focus").wait_for()  # comes last: the page is there
            continue
        answer(page, here, left.pop(here))
        page.wait_for_timeout(500)
        refused += [here] * page.locator(".fy-ask.fy-refused:not(.fy-hidden)", has=page.get_by_text(here)).count()
        assert in_view(page).count() <= 7
    shoot("story_told")
    told = tomllib.loads(file.read_text(encoding="utf-8"))
    assert not refused and told["fish"]["raw_weight"] == "2 lb" and told["fish"]["origin"] == "wild"
    assert (
        told["brine"]["temperature"] == "38F" and len(told["brine"]["ingredient"]) == 2 and told["dryer"]["trays"] == 5
    )
    press(page, "Save and see the verdict")
    page.wait_for_function("() => document.activeElement.classList.contains('fy-result')")
    page.get_by_text("Do not eat").first.wait_for()
    change = page.get_by_role("button", name="Change the plan so").first
    change.wait_for()
    shoot("story_refused")
    change.click()
    page.locator(".fy-result", has_text="Ready to eat").wait_for()
    page.get_by_role("table").wait_for()
    page.locator(".fy-line", has_text="When in doubt, throw it out").wait_for()
    assert "heat" in tomllib.loads(file.read_text(encoding="utf-8")) and (file.parent / "my-batch-1.toml").exists()
    shoot("story_verdict")
    assert not broken_by_axe(page)


def test_a_change_is_taken_back_with_the_keyboard(open_story, shoot):
    """Trout not heated: refused; a change mends it, and the page is as it was when the change is taken back."""
    heron = {name: one for name, one in written(demo_batch("heron")).items() if name != "heat"}
    told = heron | {"keep": {"place": "cupboard", "pack": "freezer_bag"}}
    page, file = open_story(told=text_of(Story(told), "my-batch.toml"))
    back, save = (
        page.get_by_role("button", name=name, exact=True)
        for name in ("Take the change back", "Save and see the verdict")
    )
    page.get_by_role("button", name="Change the plan so").first.wait_for()
    assert not back.count()  # neither seen nor reached
    at, before = save.evaluate(PLACE), tomllib.loads(file.read_text(encoding="utf-8"))
    press(page, "Change the plan so")
    page.locator(".fy-result", has_text="Ready to eat").wait_for()
    page.get_by_role("table").wait_for()
    assert "heat" in tomllib.loads(file.read_text(encoding="utf-8")) and save.evaluate(PLACE) == at
    assert page.get_by_role("cell", name="zip bag, freezer weight").count() and not broken_by_axe(page)
    shoot("story_may_be_taken_back")
    page.get_by_role("table").scroll_into_view_if_needed()
    shoot("story_ways")
    page.keyboard.press("Tab")
    assert back.evaluate("node => node === document.activeElement")
    page.keyboard.press("Enter")
    page.locator(".fy-result", has_text="Do not eat").wait_for()
    page.wait_for_function("() => document.activeElement.classList.contains('fy-result')")
    assert tomllib.loads(file.read_text(encoding="utf-8")) == before
    assert not back.count() and save.evaluate(PLACE) == at
    assert page.get_by_text("The changed plan is kept beside it").is_visible()
