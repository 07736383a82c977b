"""Tables of workbook 07: the ladder and the rules at work, packs and guidance side by side, and a verdict as a page."""

from __future__ import annotations

from flakeyard import limits, tables
from flakeyard.messages import number, say, translated
from flakeyard.steps.chain.fish import prepare_fish
from flakeyard.steps.chain.heating_through import heating_methods
from flakeyard.steps.intent.batch_file import SERVING, said
from flakeyard.steps.intent.spread import Draws
from flakeyard.steps.judge import packing, safety, storing, warm_hours
from flakeyard.steps.plan.packs import judged
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.timetable import minutes_to_plan
from flakeyard.units import show
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels.panel import Choice
from flakeyard.workbook.table import Table, Text, heads

PACKS = (  # None: not told; then from open to tight, and the two that take the air out
    (None, say("pack.short.not_told")),
    *(
        (pack, say(f"pack.short.{pack}"))
        for pack in (
            "cloth",
            "paper_bag",
            "zip_bag",
            "plastic_tub",
            "glass_jar",
            "vacuum_pouch",
            "glass_jar_absorber",
        )
    ),
)
PLACE_WORDS = {name: say(f"verdict.place.{name}") for name in words.KEEP_WORDS}
DAMP = (25.0, 0.85)  # degC and humidity in which packs are compared
MARGIN = 0.08  # judgement: how far a usual estimate lies below its cautious end
LADDER = (0.98, 0.94, 0.88, 0.83, 0.78, 0.72, 0.65, 0.58)  # one water activity of each rung


def ladder_table() -> Table:
    """Each rung of the water activity ladder with the place it allows: estimated, measured, and in a tight pack."""
    rows = []
    for used in LADDER:
        open_pack = {"pack": "paper bag", "fat_raw": 0.02}
        estimate = {"water_activity_cautious": used, "water_activity_mid": used - MARGIN}
        estimated = judged(**estimate, **open_pack)
        measured = judged(water_activity_measured=used - 0.01, measured_error=0.01, **open_pack)
        tight = judged(**estimate, pack="glass jar", fat_raw=0.02)
        places = (PLACE_WORDS[one.keep] for one in (estimated, measured, tight))
        rows.append((number(used, ".2f"), *places))
    return Table(heads("keeping.ladder_heads"), tuple(rows))


CASES = (  # what is told, beside everything in order
    (say("keeping.all_order_cautious"), {}),
    (say("keeping.same_but_not"), {"heat_core": None}),
    (
        say("keeping.not_heated_6"),
        {"heat_core": None, "hours_flesh_10_to_57": 6.0, "hours_flesh_above_21": 6.0},
    ),
    (say("keeping.heated_63_c"), {"heat_core": 63.0}),
    (say("keeping.not_gutted"), {"gutted": False}),
    (say("keeping.nobody_knows_whether"), {"gutted": None}),
    (say("keeping.mackerel_nobody_knows"), {"histamine_former": True, "hours_above_4c": None}),
    (say("keeping.cautious_end_0"), {"water_activity_cautious": 0.90}),
    (say("keeping.cautious_end_0_2"), {"water_activity_cautious": 0.90, "pack": None}),
    (say("keeping.water_activity_not"), {"water_activity_cautious": None}),
)


def cases_table(cases=CASES) -> Table:
    """Both verdicts on some cases with the first words of the reason that weighs most."""
    rows = []
    for name, told in cases:
        upper = told.get("water_activity_cautious", 0.78)
        middle = {"water_activity_mid": upper and upper - MARGIN, "water_activity_cautious": upper}
        verdict = judged(**middle | {"pack": "glass jar", "fat_raw": 0.02} | told)
        shown = (
            f"{words.SHAPES[verdict.keep]} {PLACE_WORDS[verdict.keep]}",
            f"{words.SHAPES[verdict.eat]} {words.eat_words(verdict.eat)}",
        )
        rows.append((name, *(text.replace(" ", "\u00a0") for text in shown), deciding(verdict)))
    return Table(heads("keeping.cases_heads"), tuple(rows))


def deciding(verdict: safety.Verdict) -> str:
    """The first words of the reason that weighs most: a gate, the clock, what is missing, the pack, the heat, the water."""
    reasons = [reason for reason in verdict.reasons if not words.speaks_for_it(reason)]
    unsure = verdict.keep == "not_known"
    first = min(reasons, key=lambda one: (unsure and one.keep != "not_known", WEIGHT.index(one.rule[0])))
    return first.text.split(". ")[0].split(": ")[0].rstrip(".") + "."


WEIGHT = "GTWRPKL"  # initials of the rules, the weightiest first


def pack_table(choice: Choice) -> Table:
    """Packs side by side: whether air gets in, and how long lean fish stays dry in damp, warm air."""
    rows = []
    for name, label in PACKS[1:]:
        record = tables.pack(name)
        short, long = packing.days_until(0.75, start=0.60, pack=record, temperature=DAMP[0], humidity=DAMP[1])
        air = say(f"keeping.air_{'taken_out' if record.removes_air else 'shut_out' if record.airtight else 'gets_in'}")
        rows.append((label, air, _span(short, long)))
    head = say(
        "keeping.pack_heads", warmth=choice.show(DAMP[0], "temperature"), humidity=choice.show(DAMP[1], "percent")
    )
    return Table(tuple(head.split("|")), tuple(rows))


def _span(short: float, long: float) -> str:
    """From so long to so long, in words; beyond three years nobody keeps dried fish."""
    if short > 1000:
        return say("keeping.years")
    size, unit = (1.0, "days") if long < 60 else (365.25 / 12, "months")
    reach = "to" if long <= 1000 else "or_more"
    return say(f"keeping.{unit}_{reach}", low=f"{short / size:.0f}", high=f"{long / size:.0f}")


def caps_table() -> Table:
    """The longest keeping that guidance for similar food gives, row by row."""
    rows = (
        (
            translated(cap.place),
            STATE_WORDS[cap.state],
            translated(cap.fat),
            words.days_words(cap.days),
            SEEN_WORDS[cap.how],
        )
        for cap in storing.caps()
    )
    return Table(heads("keeping.caps_heads"), tuple(rows))


SEEN_WORDS = {"read": say("keeping.read_source"), "memory": say("keeping.from_memory")}
STATE_WORDS = {
    "dry": say("keeping.dry", limit=limits.MOIST), "moist": say("keeping.moist", low=limits.MOIST, high=limits.LIKE_FRESH),
    "like_fresh": say("keeping.like_fresh", limit=limits.LIKE_FRESH), "any": say("keeping.any"),
}  # fmt: skip


SIZES = (0.006, 0.009, 0.012, 0.015)  # m, thickest pieces of the table of heating
HIGH = 2400.0  # m, a village in the mountains
PROBE_ALONE = say("keeping.no_time_probe")


def heating_table() -> Table:
    """Minutes to plan for heating trout through, way by way and by thickest piece, with both faces open."""
    flesh = prepare_fish(demo_batch("heron"), Draws(20)).flesh
    cells = [*((size, None) for size in SIZES), (SIZES[1], HIGH)]
    rows = []
    for way in heating_methods().values():
        minutes = [minutes_to_plan(way.id, size, 2, flesh, altitude) for size, altitude in cells]
        rows.append((_way(way), *(PROBE_ALONE if one is None else f"{one} min" for one in minutes)))
    sizes = [show(size, "length", "both") for size in SIZES]
    high = say("keeping.size_high", size=sizes[1], high=show(HIGH, "length", "both"))
    return Table((say("keeping.way"), *sizes, high), tuple(rows))


def _way(way) -> str:
    """A way of heating in words; minutes of a covered dish begin when its liquid boils."""
    return say("keeping.once_boils", way=translated(way.words)) if way.id == "covered_dish" else translated(way.words)


def warm_table() -> Table:
    """Each count of warm, moist hours after heating, and past how many of them it says caution, not known, do not eat."""
    past = {(row.count, row.says): f"{number(row.above_hours, 'g')} h" for row in warm_hours.ladder() if row.count}
    rows = [
        (what, *(past.get((count, says), NO_RUNG) for says in warm_hours.SAYS[1:])) for count, what in COUNTED.items()
    ]
    return Table(heads("keeping.warm_heads"), tuple(rows))


NO_RUNG = "–"  # this count never says so
COUNTED = {  # what each count of `warm_clock` counts; °F as the rules say them
    "h": say("keeping.flesh_between_10"),
    "hs": say("keeping.middle_below_54"),
    "f48": say("keeping.flesh_below_48"),
    "c54": say("keeping.air_below_54"),
    "c40": say("keeping.air_below_40"),
}


def verdict_page(outcome: Outcome) -> Text:
    """Both verdicts of a plan, by when and until when, every reason with its way out, the salt of a serving, whom to ask."""
    head = words.headline(outcome.verdict, outcome.keep)
    rest = words.verdict_sentence(outcome.verdict, outcome.keep).removeprefix(f"{head}. ")
    sodium = outcome.dried["sodium_mg_per_serving"]
    salt = say("keeping.sodium_serving_not")
    if sodium.known:
        serving = said(outcome.batch, "serving") or SERVING
        salt = words.sodium_sentence(serving, sodium.low, sodium.high)
    reasons = "\n".join(f"- {_with_way(reason)}" for reason in outcome.verdict.reasons)
    title = f"**{outcome.batch.title}: {head}**"
    return Text((title, rest, reasons, salt, words.where_to_ask()), listed=False)


def _with_way(reason: safety.Reason) -> str:
    return f"{reason.text} {words.WAY_OUT}{reason.way_out}" if reason.way_out else reason.text
