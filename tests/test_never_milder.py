"""Nothing riskier gets a milder verdict: each move that makes a batch riskier is tried on random batches.

A move changes one thing that was typed, and both batches go through the whole plan with the same few draws. Where the
weight to stop at would follow the move, both are stopped at the weight of the first (`stop_at`): what is compared is
the same piece, kept in another way. All batches are invented here.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from random_batches import amount, odd_typed, random_typed

from flakeyard import tables
from flakeyard.steps.chain import drying
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.intent.records import METERS
from flakeyard.steps.judge import safety
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.judge.warm_hours import COUNTS, WarmHours
from flakeyard.steps.learn import learning
from flakeyard.steps.learn.logbook import read_log
from flakeyard.steps.plan import plan as batches
from flakeyard.units import read_amount

MEMBERS, LEARNING = 16, 100  # a handful of members is not enough to be told apart by weighings
THINNEST_TESTED = drying.TESTED["thickness"][0]  # m
HISTORY = {
    "gutted": True, "origin": "farmed", "smells_normal": True, "hours_above_4c": 0.2, "hours_above_21c": 0.0,
    "warmest": "10 °C", "stock": "frozen", "frozen_at": "-25 °C", "frozen_days": 20, "thawed_in_vacuum": False,
    "waters": "cold or temperate",
}  # fmt: skip
HEAT = {"core": "76 °C", "hold": "2 min", "checked": "probe", "to_tray": "10 min"}


def typed_batch(number: int) -> dict:
    """A random batch. Four in five are mended to a good history, most of these to a heating that counts and a dryer
    that dries: of the others nearly all are refused, and nothing can be milder than that."""
    luck = random.Random(number)
    typed = (random_typed, odd_typed)[number % 2](luck)
    if number % 5 == 0:
        return typed
    typed["fish"] |= {name: value for name, value in HISTORY.items() if luck.random() < 0.98}
    for soak in [typed.get("presoak", {}), typed.get("brine", {}), typed.get("rest", {}), *typed.get("freshen", ())]:
        if soak:
            soak["temperature"] = amount(luck, 0, 4, "°C")
    if luck.random() < 0.8:
        typed["heat"] = dict(HEAT)
    if luck.random() < 0.8:
        _dries_well(luck, typed)
    if luck.random() < 0.25:
        told = {
            "measured_water_activity": round(luck.uniform(0.45, 0.9), 2),
            "measured_error": round(luck.uniform(0.0, 0.05), 2),
        }
        typed["keep"] |= told | luck.choice(({}, *({"measured_by": one} for one in METERS)))
    return typed


def _dries_well(luck: random.Random, typed: dict) -> None:
    usual = luck.uniform(3.5, 7.0)
    typed["fish"]["raw_weight"] = amount(luck, 0.3, 1.0, "kg")
    typed["cut"] = {"form": luck.choice(("strips", "split")), "skin": "off", "width": "30 mm"}
    typed["cut"] |= {"thinnest": f"{0.9 * usual:.3f} mm", "thickness": f"{usual:.3f} mm"}
    typed["cut"] |= {"thickest": f"{luck.uniform(1.05, 1.4) * usual:.3f} mm"}
    typed["dryer"] = {"temperature": amount(luck, 58, 75, "°C"), "trays": 10, "tray_area": "1500 cm2"}
    typed["dryer"] |= {"faces": 2, "heater": amount(luck, 1000, 2000, "W")}
    typed["room"] = {"temperature": amount(luck, 17, 28, "°C"), "relative_humidity": luck.randint(20, 55)}
    if luck.random() < 0.5:
        typed["keep"] |= {"place": "cupboard"}
        typed["keep"].pop("target_moisture", None)


def judged(typed: dict, stop_at: float | None = None) -> batches.Outcome:
    keep = typed.get("keep", {})
    if stop_at is not None:
        keep = {key: value for key, value in keep.items() if key != "target_moisture"} | {"stop_at": stop_at}
    return batches.plan(read_batch(typed | {"keep": keep}), members=MEMBERS)


def milder(one, other) -> list[str]:
    """In what the first verdict is milder than the second."""
    ranks = {"keep": KEEP, "eat": EAT}
    return [
        name for name, order in ranks.items() if order.index(getattr(one, name)) < order.index(getattr(other, name))
    ]


# Moves: from what is typed to the riskier thing, or None where there is nothing to move


def changed(typed: dict, section: str, **values) -> dict:
    """What is typed with fields of a section changed; None takes one out."""
    kept = {key: value for key, value in (typed.get(section, {}) | values).items() if value is not None}
    return typed | {section: kept}


def number_of(typed: dict, section: str, key: str, kind: str) -> float | None:
    """SI value of an amount; None where it is not typed."""
    word = typed.get(section, {}).get(key)
    return None if word is None or word == "not known" else read_amount(word, kind, key, low=-300.0).value


def longer_warm(typed):
    held = typed["fish"].get("hours_above_21c")
    if held is None:
        return None
    cold = typed["fish"].get("hours_above_4c")
    return changed(typed, "fish", hours_above_21c=held + 1.0, hours_above_4c=None if cold is None else cold + 1.0)


def longer_cool(typed):
    held = typed["fish"].get("hours_above_4c")
    return None if held is None else changed(typed, "fish", hours_above_4c=held + 2.0)


def warmer_place(typed):
    return None if typed["fish"].get("warmest") is None else changed(typed, "fish", warmest="40 °C")


def warmer_freezer(typed):
    return None if typed["fish"].get("frozen_at") is None else changed(typed, "fish", frozen_at="-15 °C")


def shorter_frozen(typed):
    return None if typed["fish"].get("frozen_days") is None else changed(typed, "fish", frozen_days=3)


def wild(typed):
    return changed(typed, "fish", origin="wild") if typed["fish"].get("origin") == "farmed" else None


def ungutted(typed):
    return changed(typed, "fish", gutted=False) if typed["fish"].get("gutted") else None


def warm_waters(typed):
    return changed(typed, "fish", waters="tropical or reef") if typed["fish"].get("waters") else None


def warmer_brine(typed):
    return changed(typed, "brine", temperature="24 °C") if "brine" in typed else None


def no_probe(typed):
    return changed(typed, "heat", checked="not checked") if typed.get("heat", {}).get("checked") == "probe" else None


def cooler_core(typed):
    core = number_of(typed, "heat", "core", "temperature")
    return None if core is None else changed(typed, "heat", core=f"{core - 6:.2f} °C")


def shorter_hold(typed):
    hold = number_of(typed, "heat", "hold", "time")
    return None if hold is None else changed(typed, "heat", hold=f"{hold / 20:.2f} s")


def not_heated(typed):
    return {name: section for name, section in typed.items() if name != "heat"} if "heat" in typed else None


def longer_to_tray(typed):
    time = number_of(typed, "heat", "to_tray", "time")
    return None if time is None else changed(typed, "heat", to_tray=f"{time / 60 + 45:.1f} min")


def lower_dial(typed):
    """Within the tested range: above it no verdict is known, and a dial below it is not warm but cold."""
    dial = number_of(typed, "dryer", "temperature", "temperature")
    return changed(typed, "dryer", temperature=f"{dial - 8:.2f} °C") if 28 <= dial <= 75 else None


def thicker(typed):
    """From a thinnest piece that is thick enough for the tested range: of thinner ones nothing is known."""
    sizes = {key: number_of(typed, "cut", key, "length") for key in ("thinnest", "thickness", "thickest")}
    if sizes["thickness"] > 0.025 or (sizes["thickest"] or 0) > 0.033 or (sizes["thinnest"] or 1) < THINNEST_TESTED:
        return None
    return changed(typed, "cut", **{key: f"{1200 * size:.4f} mm" for key, size in sizes.items() if size})


def one_face(typed):
    return changed(typed, "dryer", faces=1) if typed["dryer"].get("faces") == 2 else None


def less_salt(typed):
    if "brine" not in typed:
        return None
    rows = [half_of(row) for row in typed["brine"]["ingredient"]]
    return changed(typed, "brine", ingredient=rows) if rows != typed["brine"]["ingredient"] else None


def half_of(row: dict) -> dict:
    if tables.ingredient(row["what"]).kind != "salt":
        return row
    number, unit = row["amount"].split(maxsplit=1)
    return row | {"amount": f"{float(number) / 2:.3f} {unit}"}


def tighter_pack(typed):
    return changed(typed, "keep", pack="glass jar") if typed["keep"].get("pack") in OPEN_PACKS else None


def worse_meter(typed):
    error = typed["keep"].get("measured_error")
    return None if error is None else changed(typed, "keep", measured_error=min(0.1, error + 0.03))


def household_meter(typed):
    return changed(typed, "keep", measured_by="household hygrometer") if typed["keep"].get("measured_by") else None


def moister_reading(typed):
    read = typed["keep"].get("measured_water_activity")
    return None if read is None else changed(typed, "keep", measured_water_activity=min(1.0, round(read + 0.05, 3)))


OPEN_PACKS = {pack.id for pack in tables.packs() if not pack.airtight and not pack.removes_air}
RISKIER = (
    longer_warm, longer_cool, warmer_place, warmer_freezer, shorter_frozen, wild, ungutted, warm_waters, warmer_brine,
    no_probe, cooler_core, shorter_hold, not_heated, longer_to_tray, lower_dial, thicker, one_face, less_salt, worse_meter,
    household_meter, moister_reading,
)  # fmt: skip
AT_ONE_WEIGHT = (tighter_pack,)  # the pack asked for decides how far to dry


# Where a move is no comparison, though it was made


def comparable(move, typed: dict, first: batches.Outcome) -> bool:
    """Whether a move makes this batch riskier and nothing else.

    Salt: a saltier piece that never gets to its aim counts as moist already, and below the step of solid salt more salt
    makes it harder to get there. Thickness goes with salt: so here too, and a thin piece loses more in fresh water. In a
    dryer that its load keeps cool, thicker pieces of the same weight have less surface, and the air is warmer.
    """
    if move in (thicker, less_salt) and not first.facts.target_reached:
        return False
    if move is thicker:
        warm = first.load.coolest_air > number_of(typed, "dryer", "temperature", "temperature") - 5.0
        return warm and not typed.get("freshen")
    return True


# Leaving out


BEST = {  # what may be left out, and what could be typed there instead: among it the best there is
    ("fish", "gutted"): (True,), ("fish", "origin"): ("farmed",), ("fish", "smells_normal"): (True,),
    ("fish", "hours_above_4c"): (0.0,), ("fish", "hours_above_21c"): (0.0,), ("fish", "warmest"): ("0 °C",),
    ("fish", "stock"): ("frozen", "fresh"), ("fish", "frozen_at"): ("-40 °C",), ("fish", "frozen_days"): (60,),
    ("fish", "thawed_in_vacuum"): (False,), ("fish", "waters"): ("cold or temperate",),
    ("cut", "form"): ("strips", "fillets", "split"), ("cut", "skin"): ("off",), ("cut", "thickest"): ("usual",),
    ("cut", "width"): ("5 mm",), ("heat", "hold"): ("10 min",), ("heat", "checked"): ("probe",),
    ("heat", "to_tray"): ("0 min",), ("dryer", "faces"): (2,), ("dryer", "heater"): ("2000 W", "10 kW"),
    ("dryer", "fresh_air"): ("5 m3/h", "20 m3/h", "60 m3/h"), ("room", "temperature"): ("20 °C", "25 °C", "15 °C"),
    ("room", "relative_humidity"): (5, 30), ("room", "altitude"): ("0 m",), ("keep", "per_pack"): ("30 g", "400 g"),
    ("keep", "measured_water_activity"): (0.3,), ("keep", "measured_error"): (0.0,), ("keep", "measured_by"): METERS[:1],
}  # fmt: skip


def left_out(typed: dict) -> list[tuple[str, str]]:
    """What a batch tells and could leave out, without two things. A reading without its error counts for nothing, so
    nothing is lost with it. Skin that is not told counts as left on, which dries more slowly; but in fresh water it
    keeps the salt in, and whether that or the drying matters more is not one way for all fish."""
    told = [(section, key) for section, key in BEST if key in typed.get(section, {})]
    no_loss = {("keep", "measured_water_activity")} if "measured_error" not in typed["keep"] else set()
    return [place for place in told if place not in no_loss | ({("cut", "skin")} if typed.get("freshen") else set())]


def instead(typed: dict, section: str, key: str) -> list[dict]:
    """The batch with other values in the place of one: what is typed may be a breach, and then nothing is lost with it."""
    values = (typed["cut"]["thickness"],) if key == "thickest" else BEST[section, key]
    return [changed(typed, section, **{key: value}) for value in values]


def milder_without(typed: dict, first: batches.Outcome, section: str, key: str) -> str:
    """What is milder where a fact is left out, and milder than all that could be typed there; "" where nothing is."""
    then = judged(changed(typed, section, **{key: None}))
    for one in (
        first,
        *(judged(other) for other in instead(typed, section, key) if milder(then.verdict, first.verdict)),
    ):
        if not milder(then.verdict, one.verdict):
            return ""
    return f"{section}.{key} left out: {verdict_words(first)} became {verdict_words(then)}"


def verdict_words(outcome: batches.Outcome) -> str:
    return f"{outcome.verdict.keep}/{outcome.verdict.eat}"


def milder_after(move, typed: dict, first: batches.Outcome) -> str | None:
    """What is milder after a move; "" where nothing is, None where there is nothing to compare."""
    after = move(typed)
    if after is None or not comparable(move, typed, first):
        return None
    stop = first.load.mass_ratio if move in AT_ONE_WEIGHT else None
    before = first if stop is None else judged(typed, stop)
    then = judged(after, stop)
    verdict = safety.judge(hours_of(before, then)) if move is less_salt else then.verdict
    if not milder(verdict, before.verdict):
        return ""
    return f"{move.__name__}: {verdict_words(before)} became {verdict.keep}/{verdict.eat}"


def hours_of(before: batches.Outcome, then: batches.Outcome) -> safety.Facts:
    """Facts after less salt, with the longer hours of both: salt slows drying, so less of it is quicker, and the clocks
    are not what this move makes riskier."""
    one, other = before.facts, then.facts
    clocks = ("hours_flesh_10_to_57", "hours_flesh_above_21")
    longer = {name: max(getattr(one, name), getattr(other, name)) for name in clocks}
    warm = WarmHours(*(max(getattr(one.warm, name), getattr(other.warm, name)) for name in COUNTS))
    return replace(other, warm=warm, **longer)


def tried(numbers, moves, facts_left_out: int | None) -> tuple[list[str], Counter]:
    """Moves tried on batches of some numbers: what became milder, and how often each was tried.

    ``facts_left_out``: how many of the facts told are left out, one at a time; None for all.
    """
    wrong, counts = [], Counter()
    for number in numbers:
        typed, luck = typed_batch(number), random.Random(number)
        try:
            first = judged(typed)
        except ValueError:  # a batch that cannot be
            counts["refused"] += 1
            continue
        told = left_out(typed)
        chosen = told if facts_left_out is None else luck.sample(told, min(facts_left_out, len(told)))
        steps = [(move.__name__, milder_after, (move,)) for move in moves(luck)]
        steps += [(f"without {key}", milder_without, (section, key)) for section, key in chosen]
        for name, step, given in steps:
            try:
                found = step(given[0], typed, first) if step is milder_after else step(typed, first, *given)
            except ValueError:  # the move made a batch that cannot be
                continue
            counts[name] += found is not None
            wrong += [f"{number}: {found}"] if found else []
        counts[verdict_words(first)] += 1
    return wrong, counts


# Logs


def log_of(outcome: batches.Outcome, later: float = 1.0, pause: float = 0.0, share: float = 1.03):
    """Weighings of the marked piece on the middle course of a plan, some share of its way to the weight to stop at.

    Parameters: later – the finish over the planned one; pause – hours in the room after a third of the way
    """
    times = outcome.load.result.times / 3600
    piece = np.median(outcome.load.result.mass_ratio[-MEMBERS:], axis=0)
    planned = float(np.interp(-outcome.load.mass_ratio, -piece, times))
    rows = []
    for way in np.linspace(0.0, share, 6):
        hours = way * planned * later + (pause if way > share / 3 else 0.0)
        rows.append((hours, "thickest", f"{500 * np.interp(way * planned, times, piece):.2f}", ""))
    if pause:
        begin = share / 3 * planned * later + 1e-3
        rows += [(begin, "", "", "pause"), (begin + pause, "", "", "go on")]
    lines = [f"{hours:.4f},{tray},{grams},{event}" for hours, tray, grams, event in sorted(rows)]
    return read_log("\n".join(["hours,tray,mass_g,event", *lines]))


PAUSES, LATER = (1.0, 3.0, 8.0, 24.0, 48.0), (1.25, 1.6, 2.5)


def logs_tried(numbers) -> tuple[list[str], Counter]:
    """Longer pauses and later finishes tried on batches of some numbers that reach their aim."""
    wrong, counts = [], Counter()
    for number in numbers:
        try:
            first = judged(typed_batch(number))
        except ValueError:
            continue
        if not first.facts.target_reached or first.verdict.eat == "no" or first.load.mass_ratio > 0.9:
            continue  # nothing to dry, or nothing that could get worse
        share = random.Random(number).choice((0.6, 1.03))
        prior = learning.prior_course(first.batch, read_log("hours,tray,mass_g\n0,1,500\n"), LEARNING)  # alike for all
        verdicts = [learned(first, prior, share=share)]
        verdicts += [learned(first, prior, pause=pause, share=share) for pause in PAUSES]
        wrong += steps_down(number, "pause", verdicts)
        slower = [verdicts[0], *(learned(first, prior, later=later, share=share) for later in LATER)]
        wrong += steps_down(number, "later", slower)
        counts.update([verdict_words(verdicts[0]), f"share {share}"])
    return wrong, counts


def learned(outcome: batches.Outcome, prior, **told) -> batches.Outcome:
    return learning.learn(outcome.batch, log_of(outcome, **told), members=LEARNING, prior=prior).outcome


def steps_down(number: int, what: str, outcomes: list) -> list[str]:
    """Where a longer one of some pauses or finishes is milder than a shorter one."""
    return [
        f"{number}: {what} {place}: {verdict_words(one)} became {verdict_words(other)}"
        for place, (one, other) in enumerate(pairwise(outcomes))
        if milder(other.verdict, one.verdict)
    ]


# The sweeps


def lively(count: int) -> list[int]:
    """Numbers of the first batches that are not refused: only there anything can become milder."""
    found = (number for number in range(1, 1000) if may_be_eaten(number))
    return [number for number, _ in zip(found, range(count), strict=False)]


def may_be_eaten(number: int) -> bool:
    try:
        return judged(typed_batch(number)).verdict.eat != EAT[-1]
    except ValueError:
        return False


def test_no_riskier_batch_gets_a_milder_verdict():
    """Some moves on each of 25 batches; all of them on 500 in the slow run."""
    wrong, counts = tried(lively(25), lambda luck: luck.sample(RISKIER, 6) + list(AT_ONE_WEIGHT), 4)
    assert not wrong, "\n".join(wrong)
    assert sum(counts[move.__name__] for move in (*RISKIER, *AT_ONE_WEIGHT)) > 100


@pytest.mark.slow
def test_no_riskier_batch_gets_a_milder_verdict_in_five_hundred(capsys):
    wrong, counts = tried(range(500), lambda luck: RISKIER + AT_ONE_WEIGHT, None)
    with capsys.disabled():
        print(f"\n{counts}")
    assert not wrong, "\n".join(wrong)


def test_no_longer_pause_and_no_later_finish_gets_a_milder_verdict():
    wrong, counts = logs_tried(lively(12))
    assert not wrong, "\n".join(wrong)
    assert counts.total() >= 4


@pytest.mark.slow
def test_no_longer_pause_and_no_later_finish_gets_a_milder_verdict_in_two_hundred(capsys):
    wrong, counts = logs_tried(range(200))
    with capsys.disabled():
        print(f"\n{counts}")
    assert not wrong, "\n".join(wrong)


def test_the_sweep_sees_a_rule_that_is_too_mild(monkeypatch):
    """With a judge to whom fish that nobody probed is dry fish, moves that take the probe away are found."""
    judge, dry = safety.judge, {"heat_probed": True, "water_activity_mid": 0.3, "water_activity_cautious": 0.4}

    def mild(facts, *words):
        return judge(facts if facts.heat_probed else replace(facts, **dry), *words)

    monkeypatch.setattr(safety, "judge", mild)
    wrong, _ = tried(lively(8), lambda luck: (no_probe, wild), 0)
    assert wrong and all("no_probe" in line for line in wrong)
