"""The simulated kitchen: independent of the package, lawful, readable by it, and each of its mechanisms does what it says."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flakeyard.models import moist_air, slab_drying
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.learn.logbook import THICKEST, read_log
from simulator import ALL, HARD, KINDS, MECHANISMS, Evening, batches, kinds, published, score, simulate, verdicts
from simulator.air import Box, Heater, Room
from simulator.drying import Pieces, dry
from simulator.flesh import MIDDLE, MakeUp

HERE = Path(__file__).parent
SEEDS = (0, 2, 4)  # even: odd ones are only ever scored
CASES = [(kind, seed) for kind in KINDS for seed in SEEDS]
ROOM = Room(20.0, 0.5)


@pytest.fixture(scope="module")
def plain():
    return {case: simulate(*case, mechanisms=()) for case in CASES}


@pytest.fixture(scope="module")
def whole():
    return {case: simulate(*case) for case in CASES}


def load(trays=1, sizes=2, thickness=0.006, water=0.72, salt=0.0, fat=0.03, kilograms=0.5, **more):
    """A load of equal pieces with open faces."""
    even = np.ones((trays, sizes))
    made = MakeUp(water * even, salt * even, 0 * even, fat * even, (1 - water - salt - fat) * even)
    area = kilograms / (trays * sizes) / (thickness * made.density)
    fields = {"upper": even, "lower": even, "film": even, "warmer": 0 * even} | more
    return Pieces(thickness * even, area, made, **fields)


def hours(course, kept=0.5):
    return published.hours_to(course, kept)


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield ("." * node.level) + (node.module or "")
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "import_module",
            "__import__",
        ):
            yield "hidden import"


# --- independence


@pytest.mark.parametrize("path", sorted(HERE.glob("*.py")), ids=lambda path: path.name)
def test_nothing_of_the_package_is_in_the_simulator(path):
    """Only the test, and the scripts that score (which nothing else imports), may know the package."""
    found = set(imports_of(path))
    if path.name not in ("test_simulator.py", *KNOWING):
        knowing = tuple(name.removesuffix(".py") for name in KNOWING)
        assert not [name for name in found if name.startswith("flakeyard") or name.endswith(knowing)]
        assert found <= {"__future__", "argparse", "csv", "sys"} | {n for n in found if n.startswith(ALLOWED)}
    assert "hidden import" not in found


KNOWING = ("score.py", "evenings.py", "verdicts.py")
ALLOWED = (
    ".",
    "collections",
    "dataclasses",
    "datetime",
    "itertools",
    "math",
    "numpy",
    "pathlib",
    "scipy",
    "simulator",
    "zlib",
)


def flakeyard_hours(kind, seed, kitchen):
    """The package's own slab, middle parameters, in the air of the dial and of the room."""
    recipe, laid = kinds.draw(kind, seed), kitchen.truth.laid
    slab = slab_drying.Slab(
        thickness=kitchen.truth.hidden["marked thickness"], faces=recipe.faces, water=laid.water, salt=laid.salt,
        fat=laid.fat, solids=laid.solids + laid.sugar,
    )  # fmt: skip
    ratio = moist_air.humidity_ratio(recipe.room[0], recipe.room[1] / 100, moist_air.altitude_pressure(150.0))
    times = 3600 * np.linspace(0, 200, 1601)
    kept = slab_drying.dry(slab, slab_drying.Air(recipe.dial, ratio, recipe.speed), times).mass_ratio.ravel()
    return float(np.interp(-kitchen.truth.hidden["aim"], -kept, times)) / 3600


@pytest.mark.parametrize("case", CASES, ids=str)
def test_plain_hours_are_not_those_of_the_package(case, plain):
    own = plain[case].truth.hours(plain[case].truth.hidden["aim"])
    assert abs(np.log(own / flakeyard_hours(*case, plain[case]))) > np.log(1.1)


# --- laws


def test_most_published_times_within_a_factor_of_two():
    found = {name: ours / published_mid for name, _, published_mid, ours in published.table()}
    assert sum(0.5 <= share <= 2 for share in found.values()) >= 16
    assert len(found) == 19
    assert {name for name, share in found.items() if not 0.5 <= share <= 2} == {"Y03", "E2", "E5"}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_water_that_leaves_the_flesh_is_in_the_air(case, whole):
    course = whole[case].truth.course
    gone = course.mass[0].sum() - course.mass.sum(axis=(1, 2))
    np.testing.assert_allclose(gone, course.evaporated + course.dripped + course.lost, atol=1e-9)
    assert course.driest > 0


def test_the_air_carries_off_what_evaporated():
    """Unforced: the ledger of the air is kept from its humidity, that of the fish from its mass."""
    box = Box(63.0, heater=500.0, fresh=0.01, flow=0.03)
    errors = []
    for finer in (1, 4):
        course = dry(load(5, 4, kilograms=1.8), MIDDLE, box, ROOM, finer=finer)
        errors.append(abs(course.carried[-1] / course.evaporated[-1] - 1))
    assert errors[0] < 0.02
    assert errors[1] < 0.6 * errors[0]


def test_shorter_steps_hardly_matter():
    box = Box(63.0, heater=500.0, fresh=0.01, flow=0.03, band=4.0)
    coarse, fine = (hours(dry(load(3), MIDDLE, box, ROOM, finer=finer)) for finer in (1, 6))
    assert coarse == pytest.approx(fine, rel=0.02)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.003, 0.012), st.floats(20, 75), st.floats(0.01, 0.08), st.floats(1.1, 1.6))
def test_thicker_is_slower_hotter_is_faster_and_salt_slows(thickness, celsius, salt, more):
    def asked(thickness=thickness, celsius=celsius, slowing=9.0):
        pieces, law = load(sizes=1, thickness=thickness, salt=salt), replace(MIDDLE, salt_slowing=slowing)
        return hours(dry(pieces, law, Box(celsius), ROOM, horizon=400, driest=1.2), 0.6)

    first = asked()
    assert asked(thickness=more * thickness) > first
    assert asked(celsius=celsius + 5) < first
    assert asked(slowing=0.0) < first


def test_more_load_less_fan_and_damper_rooms_are_slower():
    box = Box(63.0, heater=500.0, fresh=0.01, flow=0.03)
    first = hours(dry(load(5, kilograms=1.0), MIDDLE, box, ROOM))
    assert hours(dry(load(5, kilograms=3.0), MIDDLE, box, ROOM)) > 1.2 * first
    assert hours(dry(load(5, kilograms=1.0), MIDDLE, replace(box, speed=0.4), ROOM)) > first
    assert hours(dry(load(5, kilograms=1.0), MIDDLE, box, Room(20.0, 0.9))) > first
    assert hours(dry(load(5, kilograms=1.0), MIDDLE, replace(box, heater=200.0), ROOM)) > first


def test_the_last_tray_is_slower_than_the_first():
    course = dry(load(5, kilograms=2.0), MIDDLE, Box(63.0, fresh=0.01, flow=0.02), ROOM)
    left = course.mass[60].sum(axis=1)
    assert np.all(np.diff(left) > 0)
    assert np.all(np.diff(course.air[60]) < 0)


def test_crust_and_blocked_faces_slow_and_edges_hasten():
    first = hours(dry(load(width=0.025), MIDDLE, Box(63.0), ROOM))
    assert hours(dry(load(width=0.025), replace(MIDDLE, crust=2e8), Box(63.0), ROOM)) > 1.02 * first
    assert hours(dry(load(width=0.025, lower=np.full((1, 2), 0.3)), MIDDLE, Box(63.0), ROOM)) > 1.05 * first
    one_face = hours(dry(load(width=0.025, lower=np.zeros((1, 2))), MIDDLE, Box(63.0), ROOM))
    assert one_face > 1.7 * first
    assert hours(dry(load(width=0.025), replace(MIDDLE, edges=True), Box(63.0), ROOM)) < 0.95 * first


def test_a_wet_piece_is_cooler_than_its_air():
    course = dry(load(), MIDDLE, Box(63.0), ROOM)
    assert 25 < course.flesh[60].mean() < 45
    assert course.flesh[-1].mean() == pytest.approx(63.0, abs=2.0)


@settings(max_examples=40, deadline=None)
@given(st.floats(40, 75), st.floats(2, 8), st.floats(60, 2000), st.floats(5, 20))
def test_a_thermostat_stays_between_its_edges(dial, band, seconds, lost):
    heater = Heater(Box(dial, band=band), dial)
    drawn = 20.0 * lost
    means = [heater.run(seconds, lost, drawn) for _ in range(10)]
    assert np.all(np.abs(np.array(means) - dial) <= 0.5 * band + 1e-6)
    weak = Heater(Box(dial, band=band, heater=5.0 * lost), 20.0)
    assert weak.run(1e6, lost, drawn) == pytest.approx(25.0, abs=0.1)


def test_isotherm_is_that_of_fish():
    moisture = np.geomspace(0.02, 5.0, 400)
    for salt in (0.0, 0.1, 0.3):
        activity = MIDDLE.activity(moisture, salt)
        assert np.all(np.diff(activity) >= 0)
    for share, activity in ((0.25, 0.84), (0.15, 0.69)):  # rules of practice: bacteria stop, moulds stop
        assert MIDDLE.activity(share / (1 - share), 0.0) == pytest.approx(activity, abs=0.05)
    assert MIDDLE.activity(4.0, 0.0) > 0.99
    assert MIDDLE.activity(0.8, 0.3) == pytest.approx(0.75, abs=0.02)


# --- batches and logs


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_package_reads_what_was_typed_and_logged(case, whole):
    kitchen = whole[case]
    batch, log = read_batch(kitchen.batch), read_log(kitchen.log_csv)
    assert batch.title == kitchen.batch["title"]
    assert log.entries[0].hours == 0.0
    assert not log.remarks
    assert set(log.trays) <= {THICKEST, *(str(n + 1) for n in range(kitchen.batch["dryer"]["trays"]))}
    assert 2 <= len(log.moments) + 1 <= 13


@pytest.mark.parametrize("kind", KINDS)
def test_a_plain_log_is_the_truth(kind, plain):
    kitchen = plain[kind, 0]
    for entry in read_log(kitchen.log_csv).weighings:
        truth = kitchen.truth
        if entry.tray == THICKEST:
            curve = truth.marked_mass * truth.marked
        else:
            curve = truth.trays[:, int(entry.tray) - 1]
        assert entry.mass == pytest.approx(float(np.interp(entry.hours, truth.times, curve)), abs=1e-5)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_truth_follows_the_ratio(case, whole):
    truth = whole[case].truth
    ratios = np.linspace(0.97, truth.hidden["aim"], 8)
    said = [truth.hours(ratio) for ratio in ratios]
    assert np.all(np.diff(said) >= 0)
    assert np.all(np.diff([truth.water_activity(ratio) for ratio in ratios]) <= 0)
    assert truth.hours(0.01) == np.inf
    assert truth.water_activity(truth.hidden["aim"]) == pytest.approx(
        0.70 if whole[case].batch["keep"]["place"] == "cupboard" else 0.85, abs=0.01
    )


def test_the_same_seed_is_the_same_batch():
    one, other = (simulate("thin trout", 6) for _ in range(2))
    assert one.log_csv == other.log_csv
    assert one.batch == other.batch
    assert simulate("thin trout", 8).log_csv != one.log_csv


def test_batches_take_every_second_seed():
    assert [kitchen.seed for kitchen in batches("cold wind", 3, 10, mechanisms=())] == [10, 12, 14]


def test_what_is_not_known_is_refused():
    with pytest.raises(ValueError, match=r'kind = "hot wind".*thin trout'):
        simulate("hot wind", 0)
    with pytest.raises(ValueError, match=r'mechanism "mood".*thermostat'):
        simulate("thin trout", 0, ("mood",))


@pytest.mark.parametrize("name", ALL)
def test_each_mechanism_alone_changes_truth_or_log(name, plain):
    changed, active = [], set()
    for seed in SEEDS:
        one, other = simulate("thin trout", seed, (name,)), plain["thin trout", seed]
        same = len(one.truth.marked) == len(other.truth.marked) and np.array_equal(one.truth.marked, other.truth.marked)
        changed.append(not same or one.log_csv != other.log_csv)
        active |= set(one.truth.active)
    assert any(changed)
    assert active == {name}


@pytest.mark.parametrize("name", ["dial", "thermostat", "heater", "stream", "uneven", "fish", "sizes", "salt slowing"])
def test_dryer_and_fish_alone_change_the_hours(name, plain):
    aim = plain["thin trout", 0].truth.hidden["aim"]
    moved = [
        abs(np.log(simulate("thin trout", seed, (name,)).truth.hours(aim) / plain["thin trout", seed].truth.hours(aim)))
        for seed in SEEDS
    ]
    assert max(moved) > 0.003


@pytest.mark.parametrize("name", ["scale", "wet trays", "habit"])
def test_scale_and_habit_leave_the_truth_alone(name, plain):
    one, other = simulate("thick fatty", 2, (name,)), plain["thick fatty", 2]
    np.testing.assert_array_equal(one.truth.marked, other.truth.marked)


def test_one_mechanism_draws_the_same_with_or_without_the_others(whole):
    alone, together = simulate("low oven", 2, ("dial",)), whole["low oven", 2]
    assert alone.truth.hidden["dial is off"] == together.truth.hidden["dial is off"] != 0.0


def test_dials_are_off_by_some_kelvin():
    off = [simulate("cold wind", seed, ("dial",), horizon=0.5).truth.hidden["dial is off"] for seed in range(0, 80, 2)]
    assert 2.2 < np.std(off) < 3.7  # sd 3 K


def test_a_pause_costs_its_length():
    for seed in (0, 4):  # under 2 it comes when the fish is done
        kitchen, other = simulate("thick fatty", seed, ("pause",)), simulate("thick fatty", seed, ())
        aim, (pause,) = other.truth.hidden["aim"], kitchen.truth.changes
        lost = kitchen.truth.hours(aim) - other.truth.hours(aim)
        assert pause.logged and "pause cold" in kitchen.log_csv and "go on" in kitchen.log_csv
        assert lost == pytest.approx(pause.length, abs=1.0)  # water evens out meanwhile, and the piece is cold


def test_only_what_was_noted_stands_in_the_log():
    noted = {True: 0, False: 0}
    for seed in range(0, 16, 2):
        kitchen = simulate("thick fatty", seed, ("turned",))
        (turn,) = kitchen.truth.changes
        log = read_log(kitchen.log_csv)
        dials = [entry.readings["dial"] for entry in log.entries if "dial" in entry.readings]
        assert dials == ([float(turn.what.split(" ")[1])] if turn.logged and turn.hours <= log.last else [])
        noted[turn.logged] += 1
    assert min(noted.values()) > 0
    assert "door" not in simulate("thin trout", 0, ("door",)).log_csv


def test_an_evening_is_as_settled():
    one = simulate("thin trout", 2, ("turned",), evening=Evening(every=1.0, turned=-15.0))
    (turn,) = one.truth.changes
    assert not turn.logged and turn.what == f"dial {kinds.draw('thin trout', 2).dial - 15:g}"
    assert np.diff(read_log(one.log_csv).moments) == pytest.approx(1.0)
    shared = [simulate("low oven", seed, evening=Evening(dryer=7)).truth.hidden for seed in (1, 3)]
    assert shared[0]["dial is off"] == shared[1]["dial is off"] and shared[0]["gain"] != shared[1]["gain"]


@pytest.mark.parametrize("name", HARD)
def test_what_is_settled_is_neither_drawn_nor_plain(name):
    mechanisms, how = HARD[name]
    one = simulate("salted cupboard", 2, mechanisms, evening=Evening(**how))
    settled = how.get("settled", {})
    assert {key: one.truth.hidden[key] for key in settled} == settled
    assert set(one.truth.active) <= {*mechanisms, "turned"}
    plain = simulate("salted cupboard", 2, mechanisms)
    same = one.log_csv == plain.log_csv and np.array_equal(one.truth.marked, plain.truth.marked)
    assert same is (not how)


def test_scales_show_their_steps():
    steps = set()
    for seed in range(0, 24, 2):
        kitchen = simulate("cold wind", seed, ("scale",))
        step = kitchen.truth.hidden["scale step"]
        masses = np.array([1000 * entry.mass for entry in read_log(kitchen.log_csv).weighings])
        np.testing.assert_allclose(masses / step, np.round(masses / step), atol=1e-6)
        steps.add(step)
    assert steps == {1.0, 2.0, 5.0}


def test_every_mechanism_is_described_and_can_come_into_play(whole):
    assert tuple(MECHANISMS) == ALL
    seen = set().union(*(kitchen.truth.active for kitchen in whole.values()))
    assert seen == set(ALL)


# --- scoring


def update(**fields):
    usual = {
        "kind": "thin trout", "seed": 0, "active": (), "number": 1, "last": False, "hours": 2.0, "low": 5.0, "mid": 6.0, "high": 8.0,
        "truth": 7.0, "truth_thickest": 9.0, "ratio": 0.5, "refused": False, "left_out": False,
    }  # fmt: skip
    return score.Update(**(usual | fields))


def test_scoring_counts_what_is_inside():
    updates = [update(), update(truth=9.0), update(truth=4.0), update(truth=np.inf), update(refused=True)]
    text = score.line("some", updates).split()
    assert text[1:6] == ["5", "1", "0", "0", "1"]
    assert text[6:9] == ["33%", "33%", "33%"]
    assert not update(flagged=True).known
    assert update(hours=7.5).ahead is False
    assert "  the load's thickest piece" in score.report(updates, by_mechanism=False)


def test_all_forecasts_of_a_batch_count_as_one():
    told = [
        update(),
        update(truth=9.0),
        update(seed=2),
        update(seed=4, flagged=True),
        update(seed=6, number=0, truth=9.0),
    ]
    (_, one, whole) = score.by_batch(told)
    assert one.split("  ")[-1] == "75 % ± 35 (2 batches), 1" and one.split()[0] == "thin"
    assert whole.endswith(one.split("  ")[-1])


def test_a_milder_verdict_is_counted_once_a_batch():
    true = ("freezer", "cook_first")
    told = [update(said=("cupboard", "no"), true=true), update(said=("freezer", "cook_first"), true=true, last=True)]
    assert score.milder_verdicts(told)[1].endswith(" 0 of 1, 1 of 1")
    assert not verdicts.milder(("nowhere", "no"), true) and verdicts.milder(("freezer", "ready"), true)


def test_the_verdict_of_the_truth_knows_its_water():
    kitchen = simulate("low oven", 2)
    ((_, learned),) = score.forecasts_of(kitchen, 24, True)[-1:]
    said, true = verdicts.said_and_true(kitchen, learned)
    assert said == (learned.outcome.verdict.keep, learned.outcome.verdict.eat)
    wet = replace(kitchen.truth, laid=replace(kitchen.truth.laid, water=0.9, solids=0.05))
    assert verdicts.milder(true, verdicts.said_and_true(replace(kitchen, truth=wet), learned)[1])


def test_a_pause_still_to_come_is_not_held_against_a_forecast():
    kitchen = simulate("thick fatty", 0, ("pause",))
    (pause,), aim = kitchen.truth.changes, kitchen.truth.hidden["aim"]
    whole = kitchen.truth.hours(aim)
    assert score.truth_at(kitchen, pause.hours - 0.1, aim) == pytest.approx(whole - pause.length)
    assert score.truth_at(kitchen, pause.hours + 0.1, aim) == whole


@pytest.mark.parametrize("kind", ["thin trout", "cold wind"])
def test_the_table_of_scores_is_of_this_package(kind):
    """A slice of the stored table is scored again; who changes a forecast makes the table anew."""
    rows = [row.split(" | ") for row in (HERE / "scored.txt").read_text(encoding="utf-8").splitlines()]
    stored = [[float(cell) for cell in row[4:]] for row in rows if row[0] == "slice" and row[1] == kind]
    again = [[one.low, one.mid, one.high, one.truth] for one in score.updates_of(simulate(kind, 1), sketch=True)]
    np.testing.assert_allclose(again, stored, rtol=0.03)


def test_hours_without_verdicts_are_the_hours():
    kitchen = simulate("cold wind", 4)
    whole, alone = (score.updates_of(kitchen, 40, True, hours_only) for hours_only in (False, True))
    assert [replace(one, said=("", ""), true=("", "")) for one in whole] == alone
    assert any(one.said[0] for one in whole) and len(alone) > 2


def inside_alone(name, kinds, seeds):
    """Share of forecasts after any weighing that hold the truth, with what is asked about, one batch counted as one."""
    mechanisms, how = HARD[name]
    shares = []
    for kind in kinds:
        for seed in seeds:
            told = score.updates_of(simulate(kind, seed, mechanisms, evening=Evening(**how)), sketch=True)
            asked = [one for one in told if one.number and one.ahead and not one.refused and not one.left_out]
            known = [one.inside for one in asked if np.isfinite(one.truth)]
            shares += [np.mean(known)] if known else []
    return float(np.mean(shares))


@pytest.mark.parametrize("name", ["marked piece 15 % thinner", "clock late, trays wet"])
def test_a_mechanism_alone_leaves_the_truth_inside(name):
    assert inside_alone(name, ["thin trout"], (0,)) >= 0.65


@pytest.mark.slow
@pytest.mark.parametrize("name", HARD)
def test_each_mechanism_alone_leaves_the_truth_inside(name):
    assert inside_alone(name, KINDS, (0, 2)) >= 0.65
