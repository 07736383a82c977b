"""Every limit once: the table, the names in code, the words that say it, and no second value anywhere."""

import ast
import math
import re
from itertools import combinations
from pathlib import Path

import pytest

from flakeyard import limits, tables
from flakeyard.messages import texts
from flakeyard.models import growth, solutions
from flakeyard.steps.judge.facts import fact_words, rule_rows, rule_texts
from flakeyard.steps.judge.warm_hours import ladder
from flakeyard.units import read_amount, show

SOURCE = Path(limits.__file__).parent
ROWS = list(limits.LIMITS.values())
UNITS = {"degF", "degC", "h", "min", "d", "mg", "kg/kg", ""}
ONE_NUMBER_SEVERAL_THINGS = (  # the same number and unit, and why these are different things all the same
    {"room_hours", "clock_warm_hours", "clock_inner_hours"},  # three official rules that each say 2 h
    {"histamine_warm_hours", "clock_hours"},  # histamine and growth of germs are two clocks
    {"cupboard_aim", "store_mould"},  # what is aimed at, and what grows: the aim may move, the mould does not
    {"parasite_days", "brine_days"},  # a week in the freezer against parasites, a week in the cupboard at most
)


# ---- the table


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_every_row_has_a_source_a_unit_and_rules_that_exist(row):
    assert row.source.title and row.how in tables.HOWS
    assert (row.source_id == "judgement") <= (row.how == "memory")
    assert row.unit in UNITS and row.what and math.isfinite(row.value)
    assert set(row.rule.split()) <= {rule for rule, _ in rule_texts()} | {row.rule for row in ladder()}


def test_no_two_rows_are_the_same_thing():
    """Neither in words nor as two values so close that one is a slip for the other."""
    assert len({row.what for row in ROWS}) == len(ROWS) == len({row.id for row in ROWS})
    for one, other in combinations(ROWS, 2):
        if (one.unit in ("degF", "degC")) == (other.unit in ("degF", "degC")) and one.unit[:3] == other.unit[:3]:
            near = math.isclose(one.number, other.number, rel_tol=0.02)
            assert not near or any({one.id, other.id} <= some for some in ONE_NUMBER_SEVERAL_THINGS), (one, other)


@pytest.mark.parametrize("row", [row for row in ROWS if row.unit == "degF"], ids=lambda row: row.id)
def test_degrees_fahrenheit_are_turned_without_rounding(row):
    """What is typed as the source prints it is the limit itself, neither above nor below."""
    assert getattr(limits, row.id.upper()) == row.number
    assert row.number == pytest.approx(read_amount(f"{row.value:g} °F", "temperature", "x").value, abs=1e-12)


def test_the_growth_zone_is_the_official_one():
    """fda_hazards_app4, summary (read): 50 to 135 °F, and 70 °F."""
    official = {"GROWTH_BOTTOM": 10.0, "WARM": 190 / 9, "GROWTH_TOP": 515 / 9}
    assert {name: getattr(limits, name) for name in official} == pytest.approx(official, abs=1e-12)


def test_limits_stand_in_their_order():
    activity = [limits.ANY_MICROBE, limits.STORE_MOULD, limits.PINK_BACTERIA, limits.CUPBOARD_ESTIMATE, limits.MOIST]
    activity += [limits.PERISHABLE, limits.LIKE_FRESH]
    assert activity == sorted(activity) and len(set(activity)) == len(activity)
    warmth = [
        limits.PARASITE_FREEZER,
        limits.FREEZER,
        limits.COLD_MOIST,
        limits.COLD,
        limits.GROWTH_BOTTOM,
        limits.WARM,
    ]
    warmth += [limits.HOT_ROOM, limits.GROWTH_TOP, limits.PARASITE_CORE, limits.KILL_CORE_HELD, limits.KILL_CORE]
    assert warmth == sorted(warmth)
    assert limits.CUPBOARD_AIM <= limits.CUPBOARD_ESTIMATE <= limits.MOIST
    assert limits.SODIUM_WHO < limits.SODIUM_US


def test_salt_alone_keeps_fish_at_the_salt_that_the_models_give():
    assert solutions.nacl_fraction_for(limits.MOIST) == pytest.approx(limits.KEEPING_SALT, abs=0.005)


def test_models_that_read_no_files_have_the_same_numbers():
    assert (growth.ZONE_LOW, growth.ZONE_HIGH) == (limits.GROWTH_BOTTOM, limits.GROWTH_TOP)
    assert (growth.WARM_ABOVE, growth.STILL_MOIST) == (limits.WARM, limits.MOIST)


# ---- the names


def test_a_name_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(AttributeError, match=r"there is no limit GROWTH_TIP: did you mean GROWTH_TOP"):
        limits.GROWTH_TIP  # noqa: B018
    with pytest.raises(AttributeError, match=r"one of data/limits\.csv"):
        limits.Q  # noqa: B018
    with pytest.raises(ImportError):
        exec("from flakeyard.limits import GROWTH_TIP")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_help_tells_unit_and_source(row):
    line = next(line for line in limits.__doc__.splitlines() if line.startswith(f"{row.id.upper()} = "))
    assert row.source_id in line and row.unit in line and row.what in line


def test_every_name_used_in_the_package_is_a_limit_and_every_limit_is_used():
    """A limit that nothing reads or says decides nothing and belongs out of the table."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py"))
    used = set(re.findall(r"\blimits\.([A-Z][A-Z_]*)\b", code)) - {"LIMITS"}
    assert used <= limits.LIMITS.keys()
    only_said = {"COLD_MOIST"}  # the words of L2 and L3
    assert limits.LIMITS.keys() - used <= only_said


# ---- the words

OTHER_DEGREES = {  # of the rule texts, not limits: rule -> degrees Celsius
    "K3": (31, 71),  # ends of what the wet bulb and the dial may be
    "K4": (135,),  # an oven, named only to say that it does not count
    "G3": (-18,),  # a home freezer that is not cold enough
    "P2": (8,),  # where salmon turned toxic
    "P7": (60,),  # kills beetles
    "L9": (25,),  # of the saturated salt
}
HEATED = ("kill_core", "kill_core_held", "parasite_core")  # whole degrees Celsius are rounded up: to be reached
SAID = [
    (" ".join(filter(None, (row.rule, row.variant, row.case, part))), text)
    for rows in rule_rows().values() for row in rows for part, text in (("", row.text), ("way out", row.way_out)) if text
]  # fmt: skip
SAID += [(f"fact {name}", text) for name, text in fact_words().items()]


def _degrees_of_limits() -> set[tuple[int, int]]:
    pairs = set()
    for row in ROWS:
        if row.unit in ("degF", "degC"):
            celsius = math.ceil(row.number - 1e-6) if row.id in HEATED else round(row.number)
            pairs.add((celsius, round(1.8 * row.number + 32.0)))
    return pairs


@pytest.mark.parametrize(("where", "text"), SAID, ids=[where for where, _ in SAID])
def test_degrees_in_the_words_are_those_of_limits(where, text):
    pairs = re.findall(r"([−-]?\d+) °C \(([−-]?\d+) °F\)", text)
    rule = where.split()[0]
    for celsius, fahrenheit in (tuple(int(part.replace("−", "-")) for part in pair) for pair in pairs):
        assert (celsius, fahrenheit) in _degrees_of_limits() or celsius in OTHER_DEGREES.get(rule, ()), text


@pytest.mark.parametrize(("where", "text"), SAID, ids=[where for where, _ in SAID])
def test_hours_and_water_activities_in_the_words_are_those_of_limits(where, text):
    rule = where.split()[0]
    mine = [row for row in ROWS if rule in row.rule.split()]
    hours = {f"{row.value:g}" for row in mine if row.unit == "h"}
    assert {found for found in re.findall(r"(?<![–\d.])(\d+) h\b", text)} <= hours
    activity = {f"{row.value:.2f}" for row in ROWS if row.unit == "" and row.value < 1.0}
    other = {"L7": {"0.65"}, "P4": {"0.91"}, "K2": {"0.15"}}.get(rule, set())  # mould.csv; meat; log reductions
    assert set(re.findall(r"\b0\.\d\d\b", text)) <= activity | other


def test_other_figures_in_the_words_are_those_of_limits():
    texts = {where: text for where, text in SAID}
    assert f"{100 * limits.KEEPING_SALT:.0f} %" in texts["B4"]
    assert f"{limits.SODIUM_US:,.0f} mg" in texts["H3"]
    assert f"{100 * limits.FATTY:g} %" in texts["P8"]
    assert (
        f"for {limits.PARASITE_DAYS:g} days" in texts["G3"]
        and f"for {limits.PARASITE_DAYS:g} days" in texts["G3 not_known"]
    )
    assert f"for {limits.KILL_HOLD:g} minute" in texts["K1 raw"] and f"for {limits.KILL_HOLD:g} minute" in texts["K2"]
    assert show(limits.HOT_ROOM, "temperature", "both") in texts["G4 warm"]


# ---- no second value: numbers and words in code

NUMBERS = {57.0, 57.2, 57.22, 21.1, 21.11, 4.4, 4.44, 32.2, 73.9, 71.1, 62.8, 0.85, 0.97, 0.92, 2000.0, 2300.0}
WORDS = re.compile(r"\b0\.85\b|\b0\.97\b|2,300|2,000 mg|\b57 °C|\b(?:135|165|160|145|70|40|50) °F|\b(?:21|4) °C \(")
TURNED = re.compile(r"\b(?:40|50|70|90|135|145|160|165)(?:\.0)? - 32")  # degrees Fahrenheit turned on the spot
ALLOWED = (  # file or folder, part of the line, why it is not that limit
    ("steps/learn/log_times.py", "FIRST_DAY", "a day that stands for one not told"),
    ("steps/learn/log_times.py", "2000 + year", "a year written with two digits"),
    ("reading.py", "MOST_VALUES", "how many values a file may hold"),
    ("steps/learn/log_course.py", "FASTEST = 0.85", "the fastest drying there is"),
    ("workbook/asked.py", 'Ask("core"', "an example of an answer"),
    ("workbook/asked.py", 'Ask("temperature", "63 °C"', "an example of an answer"),
    ("units.py", "Kind(", "an example of what can be typed"),
    ("models/growth.py", "STILL_MOIST = 0.85", "a model reads no files; held to the table above"),
    ("models/growth.py", "ZONE_LOW, ZONE_HIGH, WARM_ABOVE =", "a model reads no files; held to the table above"),
    ("models/drying_physics.py", '"water": (0.50, 0.85', "water for which the model was tested"),
    ("models/salt_transport.py", '"water": (0.60, 0.85', "water for which the model was tested"),
    ("models/salt_transport.py", "FAT_DENSITY = 1.35, 0.92", "density of fat over that of water"),
    ("models/sorption.py", "0.03 to 0.05 near 0.85", "where the model was tested"),
    ("models/sorption.py", "np.linspace(1e-4, 0.999, 2000)", "points of a curve"),
    ("models/keeping.py", 'checked("humidity"', "no room is counted as damper"),
    ("steps/chain/brining.py", "np.clip(sugar", "the strongest syrup that is still one"),
    ("steps/intent/fields.py", "Number(0, 2000", "the longest that may be typed"),
    ("steps/learn/lessons.py", "NARROWER = 0.85", "how much narrower counts as learned"),
    ("steps/learn/lessons.py", '(0.85, "tenth")', "words for a ratio"),
    ("workbook/panels/", '"alpha": 0.85', "how opaque the ground of words is"),
    ("workbook/panels/", "DAMP = (25.0, 0.85)", "humidity of a damp room"),
)


def _constants(path: Path):
    """Numbers and words of a module with their lines; docstrings are not code."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    bodies = [node for node in ast.walk(tree) if isinstance(getattr(node, "body", None), list)]
    loose = {id(node.value) for body in bodies for node in body.body if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in loose:
            yield node.value, text.splitlines()[node.lineno - 1]


def strays(folder: Path = SOURCE):
    """File and line of whatever looks like a second value of a limit."""
    for path in sorted(folder.rglob("*.py")):
        for value, line in _constants(path):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            if (number and (value in NUMBERS or TURNED.search(line))) or (
                isinstance(value, str) and WORDS.search(value)
            ):
                yield path.relative_to(folder).as_posix(), line.strip()


def test_no_limit_has_a_second_value_in_code():
    allowed = [entry[:2] for entry in ALLOWED]
    wrong = [
        (file, line)
        for file, line in strays()
        if not any(file.startswith(one) and part in line for one, part in allowed)
    ]
    assert not wrong


def test_what_is_allowed_is_still_there():
    """An exception that nothing needs any more would hide the next stray."""
    found = list(strays())
    needless = [one for one in ALLOWED if not any(file.startswith(one[0]) and one[1] in line for file, line in found)]
    assert not needless


@pytest.mark.parametrize(
    ("code", "caught"),
    [
        ("ZONE = (10.0, 57.0)", True),
        ("x = 0.85", True),
        ("x = (135 - 32) / 1.8", True),
        ("words = f'at most 2,300 mg of {what}'", True),
        ('"""Up to 57 °C (135 °F)."""\nx = 1  # 0.85', False),
    ],
)
def test_strays_are_seen(tmp_path, code, caught):
    (tmp_path / "one.py").write_text(code, encoding="utf-8")
    assert bool(list(strays(tmp_path))) == caught


MESSAGES = {  # messages that say a limit in words, and which
    "kitchen.hours": ("COLD",), "kitchen.hours_warm": ("COLD", "WARM"), "kitchen.hours_never_warm": ("COLD", "WARM"),
    "live.keep.hours_over_4": ("COLD",), "live.keep.hours_over_21": ("WARM",),
}  # fmt: skip
NO_LIMIT = {  # messages with the number of a limit in them, and why it is not that limit
    "live.water.guess_prompt": "where a picture asks", "live.water.guess": "where a picture asks",
    "live.water.look_1": "where a picture asks", "live.water.look_3": "where a picture asks",
    "live.air.saw_1": "air in a dryer", "keeping.heated_63_c": "a case that is judged",
    **dict.fromkeys(("gate.brine.several", "fish.hours_above_4c.several", "dryer.temperature.several"), "an example of an answer"),
    "keeping.flesh_between_10": "held to what is counted by a test of its own",
}  # fmt: skip


def test_no_limit_has_a_second_value_in_the_messages():
    named = {name: text for name, text in texts().items() if WORDS.search(text)}
    assert set(named) == set(MESSAGES) | set(NO_LIMIT)
    for name, said in MESSAGES.items():
        assert all(show(getattr(limits, one), "temperature", "both") in named[name] for one in said), name
