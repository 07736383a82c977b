"""Readings of answers with extra words: offered, confirmed before they count, and never the milder of two."""

import io
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard import cli
from flakeyard.steps.intent.fields import FIELDS, INGREDIENT
from flakeyard.units import InputError
from flakeyard.workbook import begin
from flakeyard.workbook.asked import ASKED, DOORS
from flakeyard.workbook.asking import message_of
from flakeyard.workbook.offering import reading
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of
from flakeyard.workbook.telling import tell

METRIC = Story({"fish": {"species": "cod", "raw_weight": "2 kg", "hours_above_4c": 4}, "cut": {"thickness": "8 mm", "thickest": "1 cm"}})  # fmt: skip
US = Story({"fish": {"species": "cod", "raw_weight": "4 lb"}, "cut": {"thickness": "1/4 in", "thickest": "3/8 in"}})


def question(place: str) -> Question:
    section, key = place.split(".")[0], place.rpartition(".")[2]
    if place in DOORS:
        return Question(place, section, f"gate.{place}", DOORS[place], DOORS[place].words[0], empty=NO)
    asked = "ingredient" if ".ingredient." in place else "soak" if section in ("brine", "presoak") else section
    one = next(one for one in ASKED[asked] if one.key == key)
    kind = (INGREDIENT if asked == "ingredient" else FIELDS[section])[key]
    return Question(place, section, message_of(section, place), kind, one.metric, one.us)


@pytest.mark.parametrize(
    ("place", "text", "found"),
    [
        ("cut.thinnest", "at the tail 1/4 in", "1/4 in"), ("cut.thickest", "3/4", "3/4 in"), ("keep.place", "garage fridge", "refrigerator"),
        ("fish.origin", "wild, I caught it", "wild"), ("fish.species", "Atlantic cod (Gadus morhua)", "Atlantic cod"), ("fish.species", "coho, a big one", "coho salmon"),
        ("fish.gutted", "gutted on the boat", "yes"), ("fish.gutted", "yes, all of it", "yes"), ("fish.thawed_in_vacuum", "no, in the sink", "no"),
        ("heat", "no, the smoker does that", "no"), ("heat", "hot smoked, 160 F inside", "yes"), ("brine", "no, just dry it", "no"),
        ("freshen", "I rinse it under the tap", "no"), ("dryer.temperature", "no dryer, shed at 60 F with a fan", "60 F"), ("dryer.trays", "all 6", "6"),
        ("room.temperature", "22 degrees in the kitchen", "22 °C"),
        ("brine.time", "overnight, 12 hrs", "12 hrs"), ("brine.temperature", "in the cold cellar at 4 degrees", "4 °C"), ("brine.ingredient.1.what", "vinegar 4%", "vinegar"),
        ("brine.ingredient.1.what", "1 cup kosher salt, 2 qt water", "kosher salt"), ("keep.pack", "jar with a screw lid", "jar"), ("keep.pack", "baking paper and a zip bag", "zip bag"),
        ("fish.raw_weight", "three fish, 2.4 kg all told", "2.4 kg"), ("fish.origin", "not sure, the man said wild", "not known"), ("fish.hours_above_21c", "all of them, 24 degrees", "4"),
        ("fish.stock", "not frozen, just on ice", "fresh"), ("fish.stock", "fresh, then froze it on the ice", "frozen"),
        ("fish.gutted", "it's fillets, so yes", "yes"), ("fish.thawed_in_vacuum", "in its plastic, yes", "yes"), ("fish.hours_above_21c", "none of it", "0"), ("fish.hours_above_21c", "none, it's February", "0"),
        ("fish.hours_above_4c", "overnight on the counter, 9 hours", "9 hours"), ("fish.hours_above_4c", "not more than 1h", "1h"), ("fish.hours_above_4c", "hour and a half getting home", "1 1/2 hour"), ("fish.hours_above_4c", "on ice, then 20 min in the car", "20 min"),
        ("fish.raw_weight", "just over 900 g", "about 900 g"), ("fish.raw_weight", "20 little ones, 1.6 kg", "1.6 kg"), ("fish.frozen_at", "-18 on the box", "-18 °C"), ("fish.warmest", "24 degrees in the kitchen", "24 °C"),
        ("fish.fat", "13 g per 100 g, says the label", "13 %"), ("fish.stock", "alive this morning!", "fresh"), ("fish.stock", "fresh but I froze it for a week", "frozen"), ("fish.species", "cod loin from the freezer aisle", "cod"),
        ("cut.form", "opened like a book", "split"), ("cut.form", "strips, across the side", "strips"), ("cut.skin", "the skin stays on", "one side"), ("cut.skin", "I take the skin off", "off"),
        ("brine", "wet, a gallon of water with salt", "wet"), ("brine", "just a sprinkle of salt", "dry"), ("brine", "3% salt water", "wet"), ("presoak", "nothing of the sort", "no"), ("presoak", "a bath of milk, an hour", "wet"),
        ("rest", "on a rack in the fridge, 8 h", "yes"), ("rest", "I pat it dry and that's all", "no"), ("freshen", "then soak in water for hours", "yes"), ("heat", "cold smoke for 3 days, 75 F", "no"), ("heat", "not heated", "no"),
        ("heat.checked", "a thermometer stuck into the middle", "probe"), ("brine.temperature", "fridge, +5", "5 °C"), ("brine.ingredient.1.what", "salt, fine without iodine", "salt"), ("brine.ingredient.1.what", "crushed coriander", "coriander"),
        ("dryer.trays", "5 of them", "5"), ("dryer.trays", "it hangs on hooks", "1"), ("dryer.tray_area", "45 times 37", "45 x 37 cm"),
        ("dryer.faces", "plastic mesh", "2"), ("dryer.faces", "mesh with baking paper", "1"), ("room.altitude", "near sea level", "0 m"), ("keep.place", "in my backpack, no fridge", "cupboard"), ("keep.pack", "vac sealed", "vacuum pouch"),
        ("keep.wanted_days", "a five day hike, so 5", "5"), ("brine.time", "4-5 hours", "4 hours"), ("rest.time", "1 to 2 hours", "2 hours"), ("room.relative_humidity", "40-50", "50"),
        # of a range the cautious end
        ("fish.hours_above_4c", "2 or 3 hours warm", "3 hours"), ("fish.hours_above_4c", "3 hours in the bucket, maybe 4", "4 hours"), ("fish.hours_above_4c", "less than an hour", "an hour"),
        ("fish.frozen_days", "2 or 3 weeks", "2 weeks"), ("fish.frozen_days", "at least 10 days", "10 days"), ("cut.thickest", "8-10 mm", "10 mm"), ("brine.temperature", "4 to 6 °C", "6 °C"),
        # two of them, more than is said, or perhaps not so: nothing
        ("fish.hours_above_4c", "1 hour in the boat and 1 in the car", ""), ("fish.hours_above_4c", "an hour each way", ""), ("fish.hours_above_4c", "more than 2 hours", ""),
        ("fish.hours_above_4c", "2 hours, then overnight in the shed", ""), ("fish.hours_above_4c", "1 hour, and the afternoon in the car", ""), ("fish.hours_above_4c", "not 2 hours", ""),
        ("fish.hours_above_4c", "none, 20ish", ""), ("fish.frozen_days", "less than 10 days", ""), ("fish.frozen_at", "about 10 below", ""), ("heat.core", "about 165F inside", ""), ("heat.core", "maybe 165 F inside", ""),
        ("heat.hold", "a minute or two", ""), ("dryer.temperature", "55 or 60 °C", ""), ("cut.thickness", "4cm and 3", ""), ("brine.temperature", "not over 4", ""), ("fish.gutted", "no, I gutted them when I got home", ""),
        ("fish.gutted", "yes, but not all", ""), ("fish.smells_normal", "a bit fishy but okay", ""), ("fish.smells_normal", "not good", ""), ("fish.origin", "wild or farmed", ""), ("fish.stock", "I never freeze it, frozen is bad", ""),
        ("keep.place", "the freezer, next to the fridge", ""), ("keep.pack", "paper bag in a coffee can", ""), ("keep.pack", "jar, foil on top", ""), ("fish.species", "cod or haddock", ""), ("brine", "no, dry salted", ""),
        ("brine.ingredient.1.what", "salt substitute", ""), ("brine.ingredient.1.what", "salt with pink curing salt", ""), ("fish.raw_weight", "2 fillets 300 g each", ""), ("heat.checked", "no probe", ""), ("heat.checked", "no, the probe is broken", ""),
        ("fish.gutted", "will be gutted tonight", ""), ("fish.thawed_in_vacuum", "no, it stayed in its bag", ""), ("fish.stock", "fresh from the freezer", ""), ("cut.skin", "skin kept, fresh off the boat", ""),
        ("fish.hours_above_4c", "1 hour on the quay and the drive home", ""), ("fish.hours_above_4c", "1 hour in the boat, maybe 2 hours in the car", ""), ("fish.frozen_at", "10", ""), ("heat", "cooked when we eat it", ""),
        ("freshen", "rinsed it for 2 hours", ""), ("fish.hours_above_4c", "none, but an hour in the sun", "an hour"), ("fish.hours_above_21c", "none in the shade", "0"), ("fish.hours_above_4c", "overnight, 2 hours of it warm", ""),
        ("fish.smells_normal", "sickly sweet", ""), ("fish.smells_normal", "fine I guess", ""), ("heat.checked", "a thermometer in the oven", ""), ("heat.checked", "should stick a probe into the middle", ""), ("cut.skin", "skin on, half off", ""),
        ("keep.pack", "vacuum bag or paper", ""), ("keep.place", "on a shelf in the fridge", ""), ("rest", "straight on, after an hour on the counter", "yes"), ("brine.time", "at least 5 hours", "5 hours"),
    ],
)  # fmt: skip
def test_what_is_read_in_an_answer(place, text, found):
    story = US if place == "cut.thickest" and "/" in text else METRIC
    with pytest.raises(InputError):
        tell(story, question(place), text)
    assert reading(story, question(place), text) == found


def test_a_unit_is_that_of_all_else_that_was_told():
    assert reading(US, question("dryer.tray_area"), "14 x 12") == "14 x 12 in"
    assert reading(METRIC, question("dryer.tray_area"), "30 x 40") == "30 x 40 cm"
    assert reading(Story(), question("dryer.tray_area"), "14 x 12") == ""
    assert reading(US, question("dryer.temperature"), "smoker at 150") == "150 °F"


PLACES = ("fish.species", "fish.gutted", "fish.origin", "fish.hours_above_4c", "fish.frozen_days", "cut.thickest", "heat", "heat.core", "dryer.trays", "keep.pack")  # fmt: skip
WORDS = st.sampled_from(["no", "yes", "not", "2", "3", "1/4", "hours", "h", "in", "mm", "°C", "F", "or", "and", "to", "maybe", "about", "each", "wild", "frozen", "gutted", "paper", "jar", "cod", "salt", "the", "a", ",", "-", "("])  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(place=st.sampled_from(PLACES), words=st.lists(WORDS, min_size=1, max_size=7))
def test_whatever_is_offered_can_be_taken_and_stands_in_the_answer(place, words):
    found = reading(METRIC, question(place), " ".join(words))
    if found and found != "not known":
        told = tell(METRIC, question(place), found)
        assert told.get(place) is not None or place in told.left
        assert place != "fish.hours_above_4c" or told.get(place) != 0 or "no" in words


# Through the terminal


@pytest.fixture
def typed(monkeypatch, capsys, tmp_path):
    """Tell some answers; what was said, and the story that is kept. No plan is made."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(begin, "tell_end", lambda *_: None)

    def run(*answers: str) -> tuple[str, Story]:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{one}\n" for one in answers)))
        assert cli.main(["begin", "mine.toml"]) == 0
        return " ".join(capsys.readouterr().out.split()), story_of(Path("mine.toml").read_text(encoding="utf-8"), "x")

    return run


def test_a_reading_counts_only_when_it_is_confirmed(typed):
    said, story = typed("Atlantic cod (Gadus morhua)", "")
    assert "I read: Atlantic cod." in said and story.get("fish.species") == "Atlantic cod"
    hours = ["cod", "", "1 kg", "wild", "fresh", "maybe 1 hour on the quay"]
    assert typed(*hours)[1].get("fish.hours_above_4c") is None
    Path("mine.toml").unlink()
    said, story = typed(*hours, "no", "2 h")
    assert "Then once more." in said and story.get("fish.hours_above_4c") == 2
    Path("mine.toml").unlink()
    assert typed(*hours, "3 h")[1].get("fish.hours_above_4c") == 3


def test_enter_after_a_refusal_never_sends_what_was_refused(typed):
    said, story = typed("moon fish", "")
    assert "“moon fish” is not in the list of fish" in said and "[fish]" not in said and "quotes" not in said
    assert story.left["fish.species"] == "not known" and "fish" not in story.typed
