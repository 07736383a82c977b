"""The table of messages: whole, filled in as it is asked for, and said in another language where there is one."""

import ast
import csv
import os
import re
import string
import subprocess
import sys
from pathlib import Path

import literals
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


def test_a_file_of_words_is_found_from_another_folder_too(tmp_path, monkeypatch):
    """What a program starts, such as the kernel of a workbook, may stand elsewhere."""
    words_file(tmp_path / "words.csv", ("live.back", messages.texts()["live.back"], "Flu", "read"))
    (tmp_path / "in").mkdir()
    monkeypatch.chdir(tmp_path)
    child = "import subprocess, sys; subprocess.run([sys.executable, '-c', 'from flakeyard.messages import say; print(say(\"live.back\"))'], cwd='in')"
    assert in_language("words.csv", f"from flakeyard.messages import say; say('live.back'); {child}") == "Flu\n"


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


NEW = 0.02  # the largest share of texts that may wait for their translation; they are said in English
LANGUAGES = sorted(messages.DATA.glob("messages.*.csv"))


@pytest.mark.parametrize("path", LANGUAGES, ids=lambda path: path.stem)
def test_a_language_that_comes_with_the_package_says_what_the_english_says(path):
    """Row by row: of a text that is still there, with its braces and every figure, and known to be a draft or read."""
    told = [row for row in messages.read_language(path) if row["translation"]]
    there = set(messages.all_words())
    for row in told:
        english, other = row["english"], row["translation"]
        assert (row["name"], english) in there, f"out of date: run flakeyard words {path.name}: {row}"
        assert messages._fits(english, other) and row["status"] in ("draft", messages.READ), row
        if not row["name"].startswith("language."):
            assert figures(english) == figures(other), row
    assert {"language.code", "language.draft", "language.point"} <= {row["name"] for row in told}
    done = {(row["name"], row["english"]) for row in told}
    assert len(there - done) <= NEW * len(there), (
        f"run flakeyard words {path.name} and translate: {sorted(there - done)[:9]}"
    )


IN_ONE_SYSTEM = """
import re, sys
sys.stdout.reconfigure(encoding="utf-8")
from flakeyard import messages
from flakeyard.workbook.words import in_system
for name, text in messages.all_words():
    said = re.sub(r"\\{[^}]*\\}", "7 x", messages.translated(text, name))
    print(*(sorted(re.findall(r"\\d", in_system(said, system))) for system in ("metric", "us")))
"""


@pytest.mark.parametrize("path", LANGUAGES, ids=lambda path: path.stem)
def test_a_language_gives_the_same_degrees_in_one_system_of_units(path):
    """Of a text in both systems the same part stays as in English: what joins a range is known, and nothing else is taken for it."""
    english, other = (in_language(one, IN_ONE_SYSTEM).splitlines() for one in ("", path))
    texts = [text for _, text in messages.all_words()]
    assert (
        len(english) == len(texts)
        and [(text, one, two) for text, one, two in zip(texts, english, other, strict=True) if one != two] == []
    )


def figures(text: str) -> list[str]:
    """All figures of a text, whatever signs stand between them."""
    return sorted(re.findall(r"\d", re.sub(r"\{[^}]*\}", "", text)))


# ---- every text comes out of the table

PROGRAMS = {str(path.relative_to(SOURCE)): path.read_text("utf-8") for path in SOURCE.rglob("*.py")}
PAGES = {str(path.relative_to(SOURCE)): path.read_text("utf-8") for path in SOURCE.rglob("*.html")}
SCRIPTS = {str(path.relative_to(SOURCE)): path.read_text("utf-8") for path in SOURCE.rglob("*.js")}
with (Path(__file__).parent / "not_texts.csv").open(encoding="utf-8", newline="") as lines:
    NOT_TEXTS = list(csv.DictReader(lines))
NOT_YET = {
    row["file"] for row in NOT_TEXTS if row["what"] == "*"
}  # whole files on their way into the table; this only shrinks


def not_out_of_the_table(file: str, found) -> list[tuple]:
    """What of the literals of a file is none of those that are known to be no text of ours."""
    known = {row["what"] for row in NOT_TEXTS if row["file"] in ("", file)}
    return [one for one in found if not known & set(one[1:])]


def in_file(file: str, text: str) -> list[tuple]:
    if file.endswith(".py"):
        return not_out_of_the_table(file, literals.in_python(text))
    scripts = re.findall(r"<script\b[^>]*>(.*?)</script>", text, flags=re.DOTALL) if file.endswith(".html") else [text]
    shown = list(literals.in_page(text)) if file.endswith(".html") else []
    told = [*shown, *(one for script in scripts for one in literals.in_script(script))]
    return not_out_of_the_table(file, ((0, one) for one in told))


@pytest.mark.parametrize("file", sorted((PROGRAMS | PAGES | SCRIPTS).keys() - NOT_YET))
def test_every_text_that_a_person_reads_comes_out_of_the_table(file):
    assert in_file(file, (PROGRAMS | PAGES | SCRIPTS)[file]) == []


def test_a_text_that_does_not_is_found():
    """Each of these, planted in a module, a page or a script, is seen; what is looked up, computed or said is not."""
    bad = [
        'told = "Stop drying"', 'told = "Salt"', 'told = f"after {hours} it is dry"', 'told = f"{low} to {high}"',
        'told = {"keep": "in the cupboard"}', 'say("a.b", what="the load")', 'told = " or ".join(names)',
    ]  # fmt: skip
    for one in bad:
        assert in_file("x.py", one), one
    good = [
        '"""Docs of it."""',
        'say("a.b", what=load)',
        're.sub("a or b", "", text)',
        'raise ValueError("not this")',
        'x = f"{mass} kg"',
    ]
    for one in good:
        assert in_file("x.py", one) == [], one
    assert in_file("x.html", "<p title=\"Not this\">@MARK@</p><script>say('marked')</script>")
    assert in_file("x.html", "<p>Wait</p>") and in_file("x.html", "<script>put('Wait a bit')</script>")
    assert in_file("x.html", "<style>a { b: c }</style><p>@MARK@</p>") == []
    assert in_file("x.js", "// a remark here\nput(`${mass}\u00a0kg`);") == [] and in_file(
        "x.js", "put(`${mass} is left`)"
    )


def test_what_is_known_to_be_no_text_is_still_there():
    """A row of the exceptions that nothing needs any more goes."""
    found = {
        file: {one for each in _all_of(file, text) for one in each[1:]}
        for file, text in (PROGRAMS | PAGES | SCRIPTS).items()
    }
    for row in NOT_TEXTS:
        if row["what"] == "*":
            assert in_file(row["file"], (PROGRAMS | PAGES | SCRIPTS)[row["file"]]), (
                f"{row['file']} is done: take its row out"
            )
            continue
        there = set().union(*found.values()) if not row["file"] else found[row["file"]]
        assert row["what"] in there and row["why"], row


def _all_of(file: str, text: str) -> list[tuple]:
    if file.endswith(".py"):
        return list(literals.in_python(text))
    return [
        (0, one) for one in (*literals.in_script(text), *(literals.in_page(text) if file.endswith(".html") else ()))
    ]


def test_every_message_that_is_asked_for_is_in_the_table():
    asked = {
        name
        for path in SOURCE.rglob("*.py")
        for name in re.findall(r'\b(?:say|joined)\("([^"{]+)"', path.read_text("utf-8"))
    }
    assert asked and asked <= set(messages.texts())


def test_every_name_that_is_made_fits_a_message():
    """A name with places in it, such as say(f"file.allowed.{what}"), has at least one row that it may mean."""
    names = "\n".join(messages.texts())
    calls = (one for text in PROGRAMS.values() for one in ast.walk(ast.parse(text)) if isinstance(one, ast.Call))
    firsts = [one.args[0] for one in calls if getattr(one.func, "id", "") in ("say", "joined") and one.args]
    made = [one for one in firsts if isinstance(one, ast.JoinedStr)]
    parts = (
        ["[^\\n]+" if isinstance(v, ast.FormattedValue) else re.escape(v.value) for v in one.values] for one in made
    )
    assert made and [one for one in map("".join, parts) if not re.search(f"^{one}$", names, re.MULTILINE)] == []


BY_A_PAGE = {
    "phone.": "kitchen_page.js",
    "explorer.": "explorer.html",
    "words.": "explorer.html",
}  # places whose messages a script says by the rest of the name
FILLED_BY = {"kitchen_page.js": "kitchen_page.py", "explorer.html": "explorers.py"}


def _said(name: str, told: set[str], made: re.Pattern) -> bool:
    """Whether something of the source names a message: whole, with a place for a part of it, or by the place it stands in."""
    place, _, rest = name.rpartition(".")
    return (
        name in told or made.fullmatch(name) is not None or f"{{}}.{rest}" in told or f"{{}}_{name.rpartition('_')[2]}" in told
        or (f"{place}." in told and f"{place}." not in BY_A_PAGE)
    )  # fmt: skip


def _named() -> tuple[set[str], re.Pattern]:
    """Every literal of the source, and a pattern of those with places in them."""
    told = {one for text in PROGRAMS.values() for one in literals.all_in_python(text)}
    told |= {one for text in PAGES.values() for one in re.findall(r'say\("([\w.]+)"', text)}
    scripts = {Path(file).name: text for file, text in (SCRIPTS | PAGES).items()}
    for place, script in BY_A_PAGE.items():  # by their names in the script and in the module that fills the page
        text = scripts[script] + PROGRAMS[f"workbook/pages/{FILLED_BY[script]}"]
        told |= {f"{place}{one}" for one in re.findall(r"['\"`]([\w.]+)(?=['\"`])", text)}
        told |= {f"{place}{one}{{}}" for one in re.findall(r"`(\w+)\$\{", text)}
    made = [
        one for one in told - {f"{place}{{}}" for place in BY_A_PAGE} if re.fullmatch(r"[a-z][\w.]*\{\}[\w.{}]*", one)
    ]
    return told, re.compile("|".join(_pattern(one) for one in made))


def _pattern(literal: str) -> str:
    """Each place of a name is one part of it; only the last of several may be more."""
    *first, last = re.escape(literal).split(r"\{\}")
    several = len(first) > 1
    return r"[\w ]+".join(first) + (r"[\w .]+" if several else r"[\w ]+") + last


def test_no_message_is_left_that_nothing_says():
    told, made = _named()
    told |= {"language.name"}  # for whoever reads the list of languages
    words = {name for name in messages.texts() if name.startswith("word.")}  # said by their text, see `translated`
    assert sorted(name for name in messages.texts().keys() - words if not _said(name, told, made)) == []
    assert sorted(name for name in words if messages.texts()[name] not in told | _of_tables()) == []
    assert not _said("nothing.says.this", told, made) and not _said("phone.nothing_says_this", told, made)


def _of_tables() -> set[str]:
    return {
        cell
        for table in messages.SHOWN.keys() | messages.NAMED.keys() | {"keeping_caps.csv", "limits.csv"}
        for row in rows(table)
        for cell in row.values()
    }
