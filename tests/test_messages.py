"""The table of messages: whole, filled in as it is asked for, and said in another language where there is one."""

import csv
import os
import re
import string
import subprocess
import sys
from pathlib import Path

import pytest

from flakeyard import cli, messages, tables
from flakeyard.packaged import rows

SOURCE = Path(__file__).parents[1] / "src" / "flakeyard"


def in_language(file: Path | str, python: str) -> str:
    """What some Python prints in a process of its own whose language is a file of words."""
    ran = subprocess.run(
        [sys.executable, "-c", python], env=os.environ | {"FLAKEYARD_LANGUAGE": str(file), "LANG": "es_ES.UTF-8"},
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    return ran.stdout + ran.stderr.strip().rpartition("\n")[2]


def words_file(path: Path, *told: tuple[str, str, str, str]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as lines:
        csv.writer(lines).writerows([messages.COLUMNS, *told])
    return path


SAYS = """
import sys
sys.stdout.reconfigure(encoding="utf-8")
from flakeyard import messages, tables, units
from flakeyard.steps.judge.facts import fact_words
print(messages.say("mistakes.several", number=3), messages.say("mistakes.more", number=3), messages.say("gate.heat.words"))
print(units.show(0.00635, "length", "both"), messages.number(2300.5, ",.1f"), units.read_amount("2,5 kg", "mass", "x").value)
print(messages.draft_line(), fact_words()["gutted"], messages.translated(tables.species("cod_atlantic").common_name))
"""


def test_a_language_is_one_file_of_words(tmp_path):
    """A made-up one: what is translated is said in it, numbers have its sign, a slip in braces and a text that has
    changed since are said in English, and a row that nobody has read makes it a draft."""
    english, gutted = messages.texts(), {row["name"]: row["words"] for row in rows("fact_words.csv")}["gutted"]
    told = [
        ("mistakes.several", english["mistakes.several"], "Otra {number} flu!", "read"),
        ("mistakes.more", english["mistakes.more"], "Otra {nummer} flu!", "draft"),
        ("gate.heat.words", "Was it heated at all?", "Flu?", "draft"),
        ("language.point", ".", ",", "read"),
        ("fact_words.csv", gutted, "gulu", "read"),
        ("species.csv", tables.species("cod_atlantic").common_name, "kodo", "read"),
    ]
    said = in_language(words_file(tmp_path / "words.csv", *told), SAYS)
    more = english["mistakes.more"].format(number=3)
    assert said == f"Otra 3 flu! {more} {english['gate.heat.words']}\n6,3 mm (0,25 in) 2\u00a0300,5 2.5\n gulu kodo\n"
    told[0] = (*told[0][:3], "draft")
    assert english["language.draft"] in in_language(words_file(tmp_path / "draft.csv", *told), SAYS)


def test_a_language_is_chosen_never_guessed_and_only_once(tmp_path):
    alone = "from flakeyard import messages; print(messages.say('mistakes.several', number=3))"
    assert in_language("", alone).startswith("3 things")  # though the computer is set to Spanish
    late = f"{alone}; messages.language('es')"
    assert messages.texts()["language.late"] in in_language("en", late)


@pytest.mark.parametrize("wrong", ["tlh", "nowhere.csv", "no-columns.csv", "no-text.csv"])
def test_a_language_that_is_not_there_is_refused_in_a_line(tmp_path, wrong):
    (tmp_path / "no-columns.csv").write_text("name,english\na,b\n", encoding="utf-8")
    (tmp_path / "no-text.csv").write_bytes(b"\xff\xfe\x00")
    chosen = tmp_path / wrong if wrong.startswith("no") else Path(wrong)
    ran = in_language(chosen, "from flakeyard import cli; raise SystemExit(cli.main(['--version']))")
    assert "FLAKEYARD_LANGUAGE" in ran and "Traceback" not in ran


def test_a_file_of_words_holds_every_text_and_keeps_what_is_in_it(tmp_path):
    path = tmp_path / "words.csv"
    assert cli.main(["words", str(path)]) == 0
    made = messages.read_language(path)
    assert {(row["name"], row["english"]) for row in made} == set(messages.all_words())
    name, text = "mistakes.several", messages.texts()["mistakes.several"]
    words_file(
        path, (name, text, "Otra {number} flu!", "read"), ("gate.heat.words", "Was it heated at all?", "Flu?", "read")
    )
    assert cli.main(["words", str(path)]) == 0
    kept = [row for row in messages.read_language(path) if row["translation"]]
    assert kept == [{"name": name, "english": text, "translation": "Otra {number} flu!", "status": "read"}]
    assert len(list(tmp_path.glob("words*.csv"))) == 2  # the older one stays as a numbered copy


def test_every_text_is_whole_and_its_braces_have_names():
    for name, text in messages.texts().items():
        assert text.strip() == text != "", name
        assert all(field is None or field.isidentifier() for _, field, _, _ in string.Formatter().parse(text)), name


def test_every_message_that_is_asked_for_is_in_the_table():
    asked = {
        name for path in SOURCE.rglob("*.py") for name in re.findall(r'\bsay\("([^"{]+)"', path.read_text("utf-8"))
    }
    assert asked and asked <= set(messages.texts())
