"""The story of one fish typed in the browser, to a verdict: one answer is refused, all are in the file, a narrow page does."""

import shutil
import tomllib

import pytest
from conftest import write_notebook
from test_panels_in_browser import broken_by_axe

from flakeyard.messages import say
from flakeyard.steps.intent.fields import Flag, OneOf
from flakeyard.workbook.asking import Story, questions
from flakeyard.workbook.loosely import heard

pytestmark = pytest.mark.browser

CELL = "from flakeyard.workbook.panels import story\nstory.{form}('own-story-{form}')"
PIKE = {  # chapter by chapter: the words of a question, and what is answered
    "fish": (
        ("Which fish is it?", "Northern pike"), ("How much does the fish weigh", "2 lb"), ("Is it farmed", "wild"),
        ("fresh or frozen", "fresh"), ("hours above 4 °C", "1"), ("above 21 °C", "0"),
    ),
    "fish, second page": (("Is it gutted?", "yes"), ("smell as it should", "yes")),
    "cut": (
        ("How do you cut it?", "fillets"), ("How thick are the pieces", "5/32 in"), ("the thickest piece?", "3/16 in"), ("Is the skin off", "off"),
    ),
    "salt": (
        ("Do you salt or marinate it", "dry"), ("How long does the fish lie in it?", "12 h"), ("How cold is it kept", "38 °F"),
        ("What goes in?", "pickling salt"), ("How much pickling salt", "40 g"),
    ),
    "salt, second page": (),
    "heat": (
        ("Do you cook or heat it through", "yes"), ("How hot does the middle", "75 °C"), ("How long is it held", "1 min"),
        ("How do you check it", "probe"), ("from that reading", "10 min"),
    ),
    "dryer": (
        ("What is the dryer or oven set to", "158 °F"), ("How many trays", "4"), ("How large is one tray", "12 x 14 in"), ("Do pieces lie on", "2"),
    ),
    "keeping": (("How warm is the room", "70 °F"), ("Where do you want to keep it?", "cupboard"), ("What will you pack it in?", "paper bag")),
}  # fmt: skip


@pytest.fixture
def open_story(notebooks, open_notebook):
    def opened(form="story_form"):
        shutil.rmtree(notebooks / f"own-story-{form}", ignore_errors=True)
        (notebooks / f"own-story-{form}").mkdir()
        write_notebook(notebooks / f"{form}.ipynb", CELL.format(form=form))
        page = open_notebook(f"{form}.ipynb")
        page.locator(".fy-story .fy-ask").first.wait_for()
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


def test_the_story_of_a_fish_is_told_to_a_verdict(open_story, shoot):
    page, file = open_story()
    page.set_viewport_size({"width": 1366, "height": 768})
    page.get_by_text("No verdict yet. Still needed:").wait_for()
    assert in_view(page).count() == 7
    shoot("story_begins")
    answer(page, "How much does the fish weigh", "a bucket")
    page.get_by_text("it does not begin with a number").wait_for()
    assert field(page, "How much does the fish weigh").input_value() == "a bucket"
    assert field(page, "How much does the fish weigh").get_attribute("aria-invalid") == "true"
    page.get_by_text("No verdict while an answer is not taken:").wait_for()
    shoot("story_refused")
    for chapter, answers in PIKE.items():
        for asked, text in answers:
            answer(page, asked, text)
        assert in_view(page).count() <= 7
        shoot(f"story_{chapter.replace(', ', '_')}")
        if chapter != "keeping":
            press(page, "Next")
            page.locator(".fy-page-head:focus").wait_for()  # else the next key may go to the page before
    page.get_by_text("Cupboard, 14 days at most").wait_for()
    page.get_by_role("table").wait_for()
    press(page, "Save and see the verdict")
    page.wait_for_function("() => document.activeElement.classList.contains('fy-result')")
    page.get_by_text("Cupboard, 14 days at most").wait_for()
    shoot("story_verdict")
    assert not broken_by_axe(page)
    told = tomllib.loads(file.read_text(encoding="utf-8"))
    assert told["fish"]["species"] == "Northern pike" and told["fish"]["raw_weight"] == "2 lb"
    assert told["heat"] == {"core": "75 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}
    assert "presoak" not in told and [path.name for path in file.parent.iterdir() if path.suffix == ".toml"] == [
        file.name
    ]


def test_a_narrow_page_does(open_story, shoot):
    page, _ = open_story("first_taste")
    page.evaluate("window.jupyterapp.commands.execute('application:toggle-left-area')")
    page.set_viewport_size({"width": 390, "height": 844})
    box = page.locator(".fy-story")
    answer(page, "Which fish is it?", "Norhtern pike")
    page.get_by_text("did you mean").wait_for()
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
    assert page.locator(".fy-page-head").inner_text().startswith("The fish: questions 8 to 10 of 10")
    press(page, "Back")
    page.get_by_text("The fish: questions 1 to 7 of 10").wait_for()
    answer(page, "warmer than 4 °C", "0")  # and Tab, into a question that is then no longer asked
    page.wait_for_function(
        "() => /^Is it gutted/.test(document.activeElement.closest('.fy-ask:not(.fy-hidden)')?.innerText)"
    )
    assert not page.get_by_text("above 21 °C").is_visible()


AS_PEOPLE_WRITE = {  # place: what is answered; a second answer stands behind "|" where the first is refused
    "mackerel": {
        "fish.species": "mackerel fillets|Atlantic mackerel", "fish.fat": "not sure", "fish.raw_weight": "about 600 g", "fish.origin": "wild",
        "fish.stock": "fresh", "fish.hours_above_4c": "half an hour", "fish.hours_above_21c": "none", "fish.gutted": "yes", "fish.smells_normal": "yes",
        "cut.form": "fillets", "cut.thickness": "about 1.2 cm", "cut.thinnest": "half a cm", "cut.thickest": "1,6 cm", "cut.skin": "one side",
        "brine": "wet", "brine.time": "two hours", "brine.temperature": "4C", "brine.ingredient.1.what": "sea salt", "brine.ingredient.1.amount": "80g",
        "brine.ingredient.2.what": "water", "brine.ingredient.2.amount": "1 litre", "brine.ingredient.3.what": "that's all",
        "heat": "yes", "heat.core": "75C", "heat.hold": "two minutes", "heat.checked": "probe", "heat.to_tray": "a few minutes", "heat.weight_after": "dunno",
        "dryer.temperature": "60C", "dryer.trays": "six", "dryer.tray_area": "30 cm x 30 cm", "dryer.heater": "350 watt", "dryer.fresh_air": "no idea",
        "room.temperature": "20 C", "room.relative_humidity": "normal", "room.altitude": "sea level", "keep.place": "refrigerator",
        "keep.wanted_days": "two weeks", "keep.pack": "zip bags", "keep.per_pack": "100 g", "keep.measured_water_activity": "no", "serving": "25g",
    },
    "perch": {
        "fish.species": "yellow perch", "fish.fat": "idk", "fish.raw_weight": "2 lb 3 oz", "fish.origin": "wild", "fish.stock": "frozen",
        "fish.frozen_at": "0F", "fish.frozen_days": "3 months", "fish.thawed_in_vacuum": "no", "fish.hours_above_4c": "an hour or so", "fish.hours_above_21c": "no",
        "fish.gutted": "yes", "fish.smells_normal": "yes", "cut.form": "fillets", "cut.thickness": "3/8 inch", "cut.thinnest": "1/4\"", "cut.thickest": "half an inch",
        "cut.skin": "off", "brine": "wet", "brine.time": "overnight|ten hours", "brine.temperature": "38F", "brine.ingredient.1.what": "kosher salt",
        "brine.ingredient.1.amount": "1/2 cup", "brine.ingredient.2.what": "water", "brine.ingredient.2.amount": "2 quarts", "brine.ingredient.3.what": "nope",
        "heat": "yes", "heat.core": "165F", "heat.hold": "a minute", "heat.checked": "probe", "heat.to_tray": "5 min", "heat.weight_after": "1 lb 12 oz",
        "dryer.temperature": "145F", "dryer.trays": "5 trays", "dryer.tray_area": "13 inch round", "dryer.faces": "both sides", "dryer.heater": "600 watts",
        "room.temperature": "70F", "room.relative_humidity": "40%", "room.altitude": "900 feet", "keep.place": "freezer", "keep.wanted_days": "6 months",
        "keep.pack": "freezer bag", "keep.per_pack": "4 oz", "serving": "an ounce", "title": "Perch",
    },
}  # fmt: skip


def answered_as_written(page, question, text) -> bool:
    """Answer the first question of these words, on this page or the next, of several that are asked again the first
    that is empty; whether it was taken."""
    again = ".ingredient." in question.place
    asked = page.locator(".fy-ask:not(.fy-hidden)", has=page.get_by_text(question.words))
    while not (rows := [row for row in asked.all() if not again or row.locator("input").first.input_value() == ""]):
        press(page, "Next")
        page.locator(".fy-page-head:focus").wait_for()
    where = rows[0].locator("input, select").first
    where.focus()
    if isinstance(question.kind, OneOf | Flag):
        where.select_option(label=text)
    else:
        page.keyboard.press("Control+a")
        page.keyboard.type(text)
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    return "fy-refused" not in rows[0].get_attribute("class")


@pytest.mark.parametrize("fish", AS_PEOPLE_WRITE)
def test_a_story_in_words_as_people_write_has_at_most_one_answer_refused(open_story, shoot, fish):
    page, file = open_story()
    page.set_viewport_size({"width": 1366, "height": 900})
    story, refused, said = Story(), [], AS_PEOPLE_WRITE[fish]
    while question := next((one for one in questions(story) if not story.answered(one.place)), None):
        answers = said.get(question.place, "").split("|")
        for text in answers if answers[0] else ():
            told = heard(story, question, text)
            story = told.sure.put_in(story) if told.sure else story if told.readings else told.story or story
            if not answered_as_written(page, question, text):
                refused.append(question.place)
                shoot(f"said_{fish}_{question.key}")
            if question.key in ("thickest", "tray_area", "weight_after"):
                shoot(f"said_{fish}_{question.key}")
        if not story.answered(question.place):
            story = story.left_open(question.place, question.empty)
    page.get_by_text(say("story.working")).wait_for(state="hidden")
    shoot(f"said_{fish}_end", full_page=True)
    for _ in range(300):  # the last answers may still be on their way into the file
        told = tomllib.loads(file.read_text(encoding="utf-8"))
        if told == story.typed:
            break
        page.wait_for_timeout(100)
    assert len(refused) <= 1, refused
    assert told["dryer"]["tray_area"] == said["dryer.tray_area"] and told == story.typed
