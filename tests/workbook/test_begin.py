"""A batch told in a terminal: what is asked, refused, kept and said at the end."""

import functools
import io
import math
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from flakeyard import cli
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.steps.plan import mending
from flakeyard.workbook import begin, begin_ending, own, unasked, words
from flakeyard.workbook.asking import next_question
from flakeyard.workbook.story_file import story_of

HERON = Path(__file__).parents[2] / "data_demo" / "heron.toml"
COD = """Atlantic cod
1 kg
wild
fresh
0.5

yes
yes
fillets
4 mm
off
wet
6 h
3 °C
table salt
80 g
water
1 L

heated
75 °C
1 min
probe
5 min
70 °C
4
900 cm2
2
500 W

20 °C
50
refrigerator
14
paper bag
""".splitlines()  # fmt: skip
MORE = """
3 mm
5 mm






Cod for the hut
no
""".splitlines()  # fmt: skip


@pytest.fixture(autouse=True)
def few_members(monkeypatch, tmp_path):
    monkeypatch.setattr(begin_ending, "plan", functools.partial(begin_ending.plan, members=20))
    monkeypatch.setattr(unasked, "plan", functools.partial(unasked.plan, members=20))
    monkeypatch.setattr(mending, "MEMBERS", 20)
    monkeypatch.setattr(mending, "TRIED", 20)
    monkeypatch.setattr(begin_ending, "next_answer", functools.partial(begin_ending.next_answer, members=8))
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def answer(monkeypatch, capsys):
    """Tell some answers through a pipe; returns exit code, what was said and what was said of errors."""

    def run(*answers: str, file: str = "mine.toml") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{one}\n" for one in answers)))
        code = cli.main(["begin", file])
        out, errors = capsys.readouterr()
        assert "Traceback" not in errors
        return code, out, " ".join(out.split())

    return run


def story(file: str = "mine.toml"):
    return story_of(Path(file).read_text(encoding="utf-8"), file)


def test_a_whole_story_ends_with_verdict_weight_hours_and_the_next_answer(answer):
    answer(*COD)
    assert next_question(story(), more=False) is None and next_question(story()).place == "fish.fat"
    code, out, said = answer(*MORE)  # what few can answer, when the file is taken up again
    assert code == 0 and next_question(story()) is None
    assert load_batch("mine.toml").title == "Cod for the hut"
    outcome = begin_ending.plan(load_batch("mine.toml"))
    for text in (" ".join(words.headline(outcome.verdict, outcome.keep).split()), "teaching estimate", "mark that thickest piece and weigh it",
                  "It takes about", "flakeyard plan mine.toml", "local rules come first"):  # fmt: skip
        assert text in said, text
    assert max(len(line) for line in out.splitlines() if ") > " not in line) <= 80


def test_what_is_refused_is_told_and_asked_again_and_nothing_is_lost(answer):
    wrong = {
        "Atlantic cod": "moon fish",
        "1 kg": "1 grain",
        "5 mm": "3 mm",
        "table salt": "pink curing salt",
        "4": "4.5",
    }
    answers = [text for one in [*COD, "\n", *MORE] for text in ((wrong[one], one) if one in wrong else (one,))]
    cut = answers.index("\n")
    said = answer(*answers[:cut])[2] + answer(*answers[cut + 1 :])[2]
    assert said.count("Not taken") == len(wrong) - 1
    for text in (
        "“moon fish” is not in the list of fish",
        '"grain" is not known',
        "rising order",
        "nitrite",
        "whole number",
    ):
        assert text in said
    refused = story()
    Path("mine.toml").unlink()
    answer(*COD)
    answer(*MORE)
    assert refused == story()


def test_thin_soy_and_no_are_met_with_what_is_missing(answer):
    at = COD.index("4 mm")
    salt = ["soy", "1 cup", "low sodium soy sauce", "1", "2 tbsp", "table salt", "80 g", "water", "1 L", ""]
    heating = ["heated", "75 °C", "don't hold it", "probe", "5 min"]
    _, _, said = answer(*COD[:at], "thin", "4 mm", "no", "2", "wet", "6 h", "3 °C", *salt, *heating)
    assert "stand a ruler against the cut edge" in said and "Not taken" not in said
    assert "1: skin still on one side; 2: no skin, it is off." in said
    assert "“low sodium soy sauce” is not in the table" in said
    told = story().typed
    assert told["cut"] == {"form": "fillets", "thickness": "4 mm", "skin": "off"} and told["heat"]["hold"] == "0 min"
    assert [row["what"] for row in told["brine"]["ingredient"]][:2] == ["soy sauce", "sauce or drink, salt not known"]


SAID = """yellow perch
2 lb 3 oz
from the supermarket
frozen
no
an hour or so

yep
smells fine
filets
1/8" to a quarter inch, mostly 3/16 inch
skinless
brined
overnight

38F
kosher salt
1/2 cup
water
2 quarts
nope
no, just cook it first
165F
a minute
meat thermometer
a few minutes
160F
5 trays
13 inch round
both sides
600 watts
a fan
70F
40%
in the freezer
6 months
freezer bags

""".splitlines()


def test_a_story_in_words_as_people_write_has_no_answer_refused(answer):
    _, _, said = answer(*SAID)
    assert next_question(story(), more=False) is None and "Not taken" not in said and "cannot read" not in said
    assert "I read: 12 h." in said and 'I read: usual 3/16 inch, thinnest 1/8", thickest 1/4 inch.' in said
    assert said.count("does not decide it; it is taken as not known.") == 2  # supermarket, a few minutes
    batch = load_batch("mine.toml")
    assert (
        batch.fish.origin is None
        and batch.heat.to_tray is None
        and batch.dryer.trays == 5
        and batch.fish.frozen_days is None  # not asked: the heat ends parasites
    )
    assert batch.dryer.tray_area == pytest.approx(math.pi / 4 * (13 * 0.0254) ** 2)
    assert "13 inch round" in Path("mine.toml").read_text(encoding="utf-8") and "is not known" in said


def test_the_file_is_written_after_every_answer(answer, monkeypatch):
    written = []
    whole = begin.write_whole
    monkeypatch.setattr(
        begin, "write_whole", lambda path, text, **how: written.append(text) or whole(path, text, **how)
    )
    answer(*COD[:10])
    assert len(written) == 10 and 'species = "Atlantic cod"' in written[0] and "gutted" in written[-1]
    assert "# species" in begin.text_of(begin.Story(), "x") and "farmed | wild" in written[0]


def test_an_unfinished_story_goes_on_where_it_stopped(answer):
    code, _, said = answer(*COD[:13])
    assert code == 0 and "The answers end here" in said and "No plan yet. Still needed: " in said
    _, _, said = answer(*COD[13:])
    assert "only what it does not tell is asked" in said and "Is it gutted?" not in said
    one_go = story()
    Path("mine.toml").unlink()
    answer(*COD)
    assert one_go == story()


def test_not_known_on_purpose_is_remembered_and_what_is_needed_is_asked_again(answer):
    _, _, said = answer(*(("" if one == "70 °C" else one) for one in COD))
    assert (
        "Without it no plan can be made. It stays open" in said
        and "A plan still needs these answers: 1." in said
        and said.count("What is the dryer or oven set to") == 3
    )
    _, _, said = answer("70 °C")
    assert said.count(" > ") == 2 and "All that counts" in said and "What is the dryer or oven set to" in said
    assert "stop when" in said


def test_the_answer_that_would_help_most_is_named(answer):
    answers = list(COD)
    answers[6] = ""  # gutted
    _, _, said = answer(*answers)
    assert "This answer would help most: Is it gutted? If “yes” is true, the verdict is" in said


def test_several_answers_that_stand_in_the_way(answer):
    answers = ["" if number in (6, 7) else one for number, one in enumerate(COD)]
    _, _, said = answer(*answers)
    assert "Find out first: Is it gutted?" in said or "Find out first: Does it smell" in said


def test_why_and_back(answer):
    _, _, said = answer("<", "?", "Atlantic cod", "<", "halibut", "?", "1 kg")
    assert "This is the first question." in said
    assert "Why: Its water, protein and fat come from a table" in said and "Names in the table: Rainbow trout" in said
    assert "Allowed: a mass between 20 g" in said and said.count("Which fish is it?") == 3
    assert story().typed["fish"] == {"species": "halibut", "raw_weight": "1 kg"}


def test_a_file_of_ones_own_stays_as_a_numbered_copy(answer):
    Path("mine.toml").write_bytes(HERON.read_bytes())
    code, _, said = answer("no")
    assert code == 0 and "stop when" in said
    assert Path("mine-1.toml").read_bytes() == HERON.read_bytes() and not Path("mine-2.toml").exists()
    assert load_batch("mine.toml").fish.thawed_in_vacuum is False


def test_a_file_that_is_no_batch_is_left_alone(answer, capsys):
    for text in ("[fish", '[fish]\norgin = "wild"\nraw_weight = "3"'):
        Path("mine.toml").write_text(text, encoding="utf-8")
        assert answer(*COD)[0] == 2
        assert Path("mine.toml").read_text(encoding="utf-8") == text
    Path("folder").mkdir()
    assert answer(*COD, file="folder")[0] == 2


def test_without_a_single_answer_nothing_is_written(answer):
    assert answer()[0] == 0
    assert not Path("mine.toml").exists()


def test_what_cannot_be_planned_after_all_is_told(answer, monkeypatch):
    def refuse(_batch):
        raise begin.InputError("[room] air", "none", "there is no air", "some", '"air"')

    monkeypatch.setattr(begin_ending, "plan", refuse)
    code, _, said = answer(*COD)
    assert code == 0 and "there is no air" in said and "[room]" not in said


def test_ctrl_c_keeps_what_was_told(capsys, monkeypatch):
    answers = iter(COD[:2])

    def typed(_prompt):
        try:
            return next(answers)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr("builtins.input", typed)
    assert cli.main(["begin"]) == 130
    assert "kept in my-batch.toml; go on with: flakeyard begin my-batch.toml" in " ".join(
        capsys.readouterr().out.split()
    )
    assert story("my-batch.toml").typed["fish"] == {"species": "Atlantic cod", "raw_weight": "1 kg"}
    monkeypatch.setattr("builtins.input", typed)
    assert cli.main(["begin", "other.toml"]) == 130
    assert "nothing is written" in capsys.readouterr().out and not Path("other.toml").exists()


@pytest.mark.skipif(os.name == "nt", reason="signals of this kind are not there")
def test_a_real_ctrl_c_keeps_what_was_told(tmp_path):
    command = [sys.executable, "-m", "flakeyard.cli", "begin", "mine.toml"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command, **pipes, text=True, cwd=tmp_path, env=os.environ | {"PYTHONUNBUFFERED": "1"}) as run:
        run.stdin.write("Atlantic cod\n1 kg\n")
        run.stdin.flush()
        while "farmed or wild" not in run.stdout.readline():
            pass
        run.send_signal(signal.SIGINT)
        out, errors = run.communicate(timeout=60)
    assert run.returncode == 130 and "Stopped." in out and not errors
    assert story(tmp_path / "mine.toml").typed["fish"]["raw_weight"] == "1 kg"


def test_what_no_terminal_can_spell_does_not_end_the_telling(tmp_path):
    command = [sys.executable, "-m", "flakeyard.cli", "begin", "mine.toml"]
    answers = b"caf\xe9\n\x1b[2J\nAtlantic cod\n"
    done = subprocess.run(
        command, input=answers, capture_output=True, cwd=tmp_path, env=os.environ | {"PYTHONIOENCODING": "ascii"}
    )
    assert done.returncode == 0 and not done.stderr and b"\x1b" not in done.stdout
    assert 'species = "Atlantic cod"' in (tmp_path / "mine.toml").read_text(encoding="utf-8")


def test_the_file_is_the_one_that_the_workbooks_read():
    assert own.FILE == "my-batch.toml"


def test_for_fish_that_must_not_be_kept_no_weight_to_stop_at_is_told(answer):
    answers = ["no" if number == 6 else one for number, one in enumerate(COD)]  # not gutted
    _, _, said = answer(*answers)
    assert "must not be kept" in said and "stop when" not in said and "It takes" not in said


def test_all_that_counts_is_shown_once_and_can_be_mended(answer, monkeypatch):
    monkeypatch.setattr(begin, "tell_end", lambda *_: None)
    said = answer(*COD, "1", "c", "farmed", "3", "b", "8 h", "9", "")[2]
    assert (
        "All that counts: 1: The fish: Atlantic cod; 1 kg; wild; fresh; above 4 °C: 0.5 h; above 21 °C: all, as not told; gutted: yes; smell right: yes."
        in said
    )
    assert "3: The salt: wet; 6 h; 3 °C; table salt 80 g, water 1 L." in said
    assert (
        said.count("Is it farmed or wild?") == 2
        and story().typed["brine"]["time"] == "8 h"
        and said.count("All that counts") == 4
    )
    assert len(said.split("All that counts:")[1].split("(Enter")[0].split()) < 105
    answer(*COD[:3], file="other.toml")
    assert "All that counts" not in answer(file="mine.toml")[2]  # nothing new was told


def test_a_list_is_told_again_as_a_whole(answer, monkeypatch):
    monkeypatch.setattr(begin, "tell_end", lambda *_: None)
    answer(*COD, "3", "d", "2 L water, 150 g table salt", "")
    assert [row["amount"] for row in story().typed["brine"]["ingredient"]] == ["2 l", "150 g"]


def test_fish_on_ice_was_never_very_warm_once_that_is_confirmed(answer):
    told = list(COD)
    at = told.index("0.5")
    told[at : at + 2] = ["half an hour in a cool bag", ""]
    assert "above 21 °C: 0 h" in answer(*told)[2] and story().typed["fish"]["hours_above_21c"] == 0
    Path("mine.toml").unlink()
    told[at : at + 2] = ["half an hour, not on ice", "", ""]
    assert "above 21 °C: all, as not told" in answer(*told)[2]
    Path("mine.toml").unlink()
    told[at : at + 3] = ["half an hour on ice", "<", "0.5", ""]
    assert "above 21 °C: all, as not told" in answer(*told)[2]


def test_back_takes_the_whole_answer_back(answer):
    said = answer("2 lb wild cod, fresh", "<", "halibut")[2]
    assert "Also read: weight: 2 lb; farmed or wild: wild; fresh or frozen: fresh." in said
    assert story().typed["fish"] == {"species": "halibut"}


UP_TO_THE_SALT = COD[: COD.index("table salt")]


@pytest.fixture
def no_end(monkeypatch):
    monkeypatch.setattr(begin, "tell_end", lambda *_: None)


def test_a_freezer_told_with_the_fish_is_confirmed_with_it(answer, no_end):
    text = "walleye in our chest freezer (about zero Fahrenheit) in bags for five days"
    said = answer(text, "", "2 lb", "wild")[2]
    assert "fresh or frozen: frozen; frozen at: 0" in said and "days frozen: 5 days. Right?" in said
    assert story().get("fish.stock") == "frozen" and story().get("fish.frozen_days") == 5
    Path("mine.toml").unlink()
    said = answer(text, "walleye", "2 lb", "wild", "fresh")[
        2
    ]  # typed again: what was told in passing is not lost, and not taken
    assert "Did you get it fresh or frozen? I read: frozen. Right?" in said
    assert story().get("fish.stock") == "fresh"


def rows() -> list[tuple[str, str]]:
    return [(row["what"], row.get("amount", "")) for row in story().get("brine.ingredient")]


def test_what_an_unknown_thing_is_never_falls_on_a_row_that_is_told(answer, no_end):
    said = answer(*UP_TO_THE_SALT, "1 L water, 80 g magic dust, 40 g sugar", "kosher salt", "80 g", "")[2]
    assert "“magic dust” is not in the table" in said and "3: nothing, leave it out" in said
    assert rows() == [("water", "1 L"), ("sugar", "40 g"), ("kosher salt", "80 g")] or rows()[0] == ("water", "1 l")
    Path("mine.toml").unlink()
    answer(*UP_TO_THE_SALT, "1 L water, 80 g salt, magic dust", "3, leave it out, please")
    assert [what for what, _ in rows()] == ["water", "salt"]


def test_a_question_is_nothing_that_goes_in_and_leaving_out_may_be_said_last(answer, no_end):
    _, _, said = answer(
        *UP_TO_THE_SALT, "1 L water, 80 g salt, magic dust. is that enough for 1.5 kg?", "what? leave it out"
    )
    assert "“magic dust” is not in the table" in said and "enough" not in said.replace("is that enough for 1.5 kg?", "")
    assert [one["what"] for one in story().typed["brine"]["ingredient"]] == ["water", "salt"]


def test_what_mends_a_part_of_an_offer_leaves_the_rest(answer, no_end):
    _, _, said = answer("about 4 lbs tilapia, gutted, in the fridge. I want to make chewy strips of it to take along", "the 4 lbs was the whole fish before I cut them up", "", "1 lb 6 oz")  # fmt: skip
    assert "weight of the whole fish is not that of the cut fish" in said and "not in the list" not in said
    assert story().typed["fish"] == {"species": "tilapia", "gutted": True, "raw_weight": "1 lb 6 oz"}


def test_why_the_steps_are_asked_shows_how_they_are_told(answer, no_end):
    _, _, said = answer(*UP_TO_THE_SALT, "1 L water, 80 g salt", "?")
    assert "For example ." not in said and said.count("for example 2 h on a rack in the fridge") >= 2


def test_of_what_nothing_goes_in_the_row_is_taken_out(answer, no_end):
    said = answer(
        *UP_TO_THE_SALT, "salt, sugar, water", "80 g, and no more", "80 g", "there is no sugar, I told you", "1 L"
    )[2]
    assert "Left out: sugar." in said and rows() == [("salt", "80 g"), ("water", "1 L")]


def test_a_bath_that_cannot_be_is_asked_once_more(answer, no_end):
    told = [*UP_TO_THE_SALT, "1 cup salt, 1 tsp water, 40 cups sugar", *COD[COD.index("heated") :]]
    said = answer(*told, "80 g salt, 1 L water", "")[2]
    assert "That cannot be" in said and "cannot dissolve so much" in said and "All that counts" in said
    assert rows() == [("salt", "80 g"), ("water", "1 l")]


def test_a_long_answer_is_shown_whole_before_it_is_taken(answer, no_end):
    long = "well it is farmed rainbow trout from the shop, fresh, some 4 lb of fillets I would think"
    said = answer(long, "")[2]
    assert "Right?" in said
    sure = "this is rainbow trout, farmed, from the shop by the river, fresh, and it came filleted and skinless"
    Path("mine.toml").unlink()
    said = answer(sure)[2]
    assert (
        "I read: rainbow trout, farmed; farmed or wild: farmed; fresh or frozen: fresh; gutted: yes; skin: off." in said
    )
    assert not Path("mine.toml").exists()  # nothing is taken before Enter
    assert answer(sure, "") and story().typed["fish"]["origin"] == "farmed" and story().typed["cut"]["skin"] == "off"


SOY_BATH = "wet, in soy sauce and brown sugar overnight in the fridge, a cup of soy, half a cup brown sugar and 2 tablespoons salt"


def test_what_goes_in_is_told_once_however_often_it_is_said(answer, no_end):
    at = UP_TO_THE_SALT.index("wet")
    said = answer(*UP_TO_THE_SALT[:at], SOY_BATH, "", "", "I said it, 2 tablespoons salt and some black pepper")[2]
    bath = [("soy sauce", "1 cup"), ("brown sugar", "1/2 cup"), ("salt", "2 tablespoons")]
    assert rows() == bath and "How much of each" not in said and "How much soy" not in said
    Path("mine.toml").unlink()
    bath = [("soy sauce", "1 cup"), ("brown sugar", "half a cup"), ("salt", "2 tablespoons")]
    answer(
        *UP_TO_THE_SALT, "soy sauce, brown sugar, 2 tablespoons salt", "I told you, 1 cup soy, half a cup brown sugar"
    )
    assert rows() in (bath, [(what, much.replace("half a", "1/2")) for what, much in bath])


UP_TO_THE_HEATING = (*COD[: COD.index("heated")], "heated")


def test_a_heating_is_asked_at_once_and_what_is_left_one_by_one(answer, no_end):
    said = answer(*UP_TO_THE_HEATING, "72 °C for 2 min by a probe", "5 min")[2]
    assert "Heat it to what in the middle" in said and "How hot does the middle" not in said
    assert story().typed["heat"] == {"core": "72 °C", "hold": "2 min", "checked": "probe", "to_tray": "5 min"}
    Path("mine.toml").unlink()
    answer(*UP_TO_THE_HEATING, "72 °C for 2 min by a probe", "<", "74 °C by a probe", "1 min", "5 min")
    assert story().typed["heat"] == {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "5 min"}


@pytest.mark.parametrize("text", ["", "don't know"])
def test_a_heating_of_which_nothing_is_known_stays_open(answer, no_end, text):
    said = answer(*UP_TO_THE_HEATING, text, "70 °C")[2]
    assert "Without it no plan can be made" in said and "What is the dryer or oven set to" in said
    assert story().typed["heat"] == {} and story().left["heat.checked"] == "not known"


def test_what_a_rule_says_counts_only_when_it_is_confirmed(answer, no_end):
    said = answer(*UP_TO_THE_HEATING, "you tell me")[2]
    assert "What counts is 74 °C" in said and "Will you do it so: heated to 74 °C in the middle for 1 min" in said
    assert story().typed["heat"] == {}
    Path("mine.toml").unlink()
    answer(*UP_TO_THE_HEATING, "you tell me", "72 °C")  # typed again: nothing of what the rule said is kept
    assert story().typed["heat"] == {"core": "72 °C"}
    Path("mine.toml").unlink()
    said = answer(*UP_TO_THE_HEATING, "you tell me", "72 °C", "", "")[2]
    assert (
        "I read: 1 min" not in said and "hold" not in story().typed["heat"] and "checked" not in story().typed["heat"]
    )
    Path("mine.toml").unlink()
    answer(*UP_TO_THE_HEATING, "you tell me", "", "70 °C")
    assert story().typed["heat"] == {"core": "74 °C", "hold": "1 min", "checked": "probe", "to_tray": "10 min"}


def test_what_was_told_with_the_salt_is_asked_no_more(answer, no_end):
    said = answer(*UP_TO_THE_SALT[: UP_TO_THE_SALT.index("wet")], "soak it overnight in the fridge, a cup of soy and 2 tablespoons salt", "")[2]  # fmt: skip
    assert "time: 12 h; nothing else goes in. Right?" in said and "How long does the fish lie" not in said
    assert "What else goes in?" not in said and [what for what, _ in rows()] == ["soy sauce", "salt"]


def test_a_fish_that_cannot_be_reckoned_with_is_told_why_and_the_rest_is_not_lost(answer, no_end):
    said = answer("haddock fillet, 1.2 kg, fresh, no skin", "cod")[2]
    assert "213 mg sodium" in said and "not in the list of fish" not in said and "I read: 1.2 kg. Right?" in said
    Path("mine.toml").unlink()
    said = answer("1.2 kg fresh haddock or cod fillet, no skin, home by bike in 20 min", "2")[2]
    assert "1: haddock: no numbers" not in said and "1: cod; 2: haddock: no numbers" in said
    assert story().get("fish.species") is None and "fish.species" in story().left
    Path("mine.toml").unlink()
    said = answer("1.2 kg fresh haddock or cod fillet, no skin, home by bike in 20 min", "1", "")[2]
    assert story().typed == {"fish": {"species": "cod", "stock": "fresh", "gutted": True, "raw_weight": "1.2 kg"}, "cut": {"skin": "off"}}  # fmt: skip


def test_a_yes_with_more_behind_it_takes_the_fish_that_is_offered_and_hears_the_rest(answer, no_end):
    said = answer("some kind of catfish", "yeah but they're fillets now, and farm raised")[2]
    assert "not in the list of fish" not in said and "farmed or wild: farmed; gutted: yes" in said
    assert story().typed["fish"]["species"] == "catfish" and story().typed["fish"]["origin"] == "farmed"
    Path("mine.toml").unlink()
    answer("some kind of catfish", "yeah but it's a cod")
    assert not Path("mine.toml").exists() or "catfish" not in Path("mine.toml").read_text("utf-8")


def test_what_a_dial_can_do_is_no_setting_and_the_rest_of_the_answer_is_heard(answer, no_end):
    before = "\n".join(COD[: COD.index("70 °C")])
    said = answer(*before.split("\n"), "I don't know which. It goes from 30 to 75 °C, 6 mesh trays, 500 W", "")[2]
    assert "30 °C;" not in said and "one setting that you choose" in said
    told = story().typed["dryer"]
    assert told["temperature"] == "75 °C" and told["trays"] == 6 and told["heater"] == "500 W"
