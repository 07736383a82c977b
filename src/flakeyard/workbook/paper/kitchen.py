"""A plan as the text to work by, standing in a kitchen: what to do, in order, each step with the caution that belongs to it.

First whether it is granted at all and what to be careful of; a batch that is refused gets no steps. Every caution of the
verdict has a place here, in the short words of the messages ``short.*`` where there are some and in its own words where
there are none, so that none can be lost; only `ONLY_IN_ALL`, on which nobody acts in a kitchen, stand in `report` alone,
with the numbers and their spread, the rules and sources.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Iterator

from flakeyard import limits
from flakeyard.messages import draft_line, number, say, texts, translated
from flakeyard.steps.chain import airing
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.intent.outside import spoken
from flakeyard.steps.intent.records import Batch, Fish, Heat, Rest, Soak
from flakeyard.steps.judge.safety import Reason
from flakeyard.steps.plan import timetable, ways, weighing
from flakeyard.steps.plan.judging import heating_counts
from flakeyard.steps.plan.plan import Outcome, already_dry
from flakeyard.steps.plan.wishes import Wished
from flakeyard.units import fahrenheit, show, show_kitchen
from flakeyard.workbook import words
from flakeyard.workbook.near_limit import RAW_CLOCK, at_limit_words, warm_already
from flakeyard.workbook.paper import as_told, ways_text, wishes_text, worth_text
from flakeyard.workbook.paper.report import besides_the_air, by_when, example, to_buy

WIDTH = 80
FAHRENHEIT_FIRST = "us"
COUNTED = 0.5  # min, to count to 30
LEAST_LOOK = 0.5  # h, the soonest first weighing that is asked for (judgement)
REST_AT = limits.COLD  # °C, where pieces even out
PLACES = {  # where a caution or a reason stands, by its rule
    "head": ("E1",), "before": ("G2", "T1"), "salt": ("B1", "B2", "B3", "B4", "B5", "B7"), "freshen": ("B6",),
    "heat": ("K1", "K2", "K3", "K4"), "lay": ("K5", "W1", "W12"), "stop": ("T6",), "rest": ("P5",),
    "pack": ("L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8", "L10", "P3", "P4", "P6", "P7", "P8", "E4"), "why": ("P1", "P2", "A1", "R2", "R3"), "who": ("H1", "H2", "H3", "H4", "E2", "E3"),
}  # fmt: skip
ONLY_IN_ALL = ("P4",)
UNLESS_ASKED = {"L4": "cupboard"}  # said only where that place was asked for
TOGETHER_SAID = (  # several cautions in one sentence
    ("kitchen.salt_and_sugar", ("short.B2", "short.B7")), ("kitchen.local", ("short.H4", "short.E2")),
    ("kitchen.airless", ("short.P1", "short.P2", "short.L2 freezer")),
    ("kitchen.hands", ("short.K5", "short.W1 h hs")), ("kitchen.hands", ("short.K5", "short.W1 h")),
)  # fmt: skip
RUNGS = tuple(f"L{n}" for n in range(1, 9))  # they begin with the water activity
TICKED = ("P3 raw",)  # stands among the lines to tick
PLACE = {rule: place for place, rules in PLACES.items() for rule in rules}
ELSEWHERE = "watch"
LABEL = re.compile(r"[A-Z]+( [A-Z]+)?:\s+(?=[^\s-])")
TOGETHER = re.compile(r"(?<=[\d_]) (?=(?:°C|°F|%|g|kg|mg|oz|lb|qt|gal|cup|tbsp|tsp|mL|L|mm|in|h|min|days?|\d/\d)\b)")


class Placed:
    """Cautions and reasons of a verdict by the place where they stand, each in short words; what is taken is not told again."""

    def __init__(self, outcome: Outcome, told: Iterable[Reason] = ()):
        verdict, self.by_place = outcome.verdict, {}
        for one in (*verdict.reasons, *verdict.cautions):
            if one not in tuple(told) and not only_in_all(one, outcome.batch):
                self.by_place.setdefault(place_of(one), {})[short(one)] = one

    @property
    def places(self) -> tuple[str, ...]:
        """Where something is still to be said."""
        return tuple(self.by_place)

    def take(self, *places: str) -> list[str]:
        """What stands at some places, each text once."""
        return together([text for place in places for text in self.by_place.pop(place, {})])


def place_of(one: Reason) -> str:
    """Where a caution or a reason stands."""
    return "before" if one.row in TICKED else PLACE.get(one.rule, ELSEWHERE)


def together(found: list[str]) -> list[str]:
    """Cautions in short words, those that one sentence says at once in that sentence, where the first of them stood."""
    for message, parts in TOGETHER_SAID:
        said_so = [say(part) for part in parts]
        if set(said_so) <= set(found):
            first = min(found.index(one) for one in said_so)
            found = [
                say(message) if n == first else text
                for n, text in enumerate(found)
                if n == first or text not in said_so
            ]
    return found


def only_in_all(one: Reason, batch: Batch) -> bool:
    """Whether nobody acts on a caution or a reason in the kitchen: it stands in the whole of it only."""
    asked = UNLESS_ASKED.get(one.rule)
    return one.rule in ONLY_IN_ALL or (
        asked is not None and one.row != "L4 brine" and batch.keep.place not in (None, asked)
    )


def short(one: Reason) -> str:
    """A caution or a reason in short words; in its own where there are none, without the number it begins with."""
    name = f"short.{one.row or one.rule}"
    if name in texts():
        return say(name)
    head, ends, rest = one.text.partition(". ")
    return rest if ends and one.rule in RUNGS and re.search(r"\d[.,]\d", head) else one.text


def kitchen(
    outcome: Outcome, units: str = "both", with_changes: bool = False, earn: bool = True, wished: Wished | None = None
) -> str:
    """The plan as text for the kitchen.

    Parameters: units – metric, us or both; with_changes – also the table of ways and every change that earns what was
    asked; earn – look for the smallest such change where it is not granted, which takes a second; wished – what was wished
    for, of which this is the outcome
    """
    to_shop, wished = wished is not None, wished or Wished(outcome)
    needed = with_changes or outcome.batch.keep.wanted_days is not None or not ways.asked(outcome).granted
    found = ways.ways(outcome) if needed else ()
    refused = words.refused(outcome.verdict)
    unmet = wishes_text.first(wished, units)
    parts = ["\n".join([title(outcome), *unmet, *_head(outcome, found, units)])]
    earn = earn and not with_changes and outcome.carried_at is None  # changes are judged in the room
    parts += _not_to_make(outcome, units) if refused else _to_make(wished, to_shop, found, units, earn)
    if with_changes:
        parts += [
            _table(outcome, found),
            items(say("ways.changes_title"), ways_text.change_lines(ways.changes(outcome))),
        ]
    return laid_out(parts, units) + f"\n{say('kitchen.more')}"


def laid_out(parts: Iterable[str], units: str) -> str:
    """Parts of a text under each other, in one system or both, no wider than the page."""
    told = "\n\n".join(part for part in parts if part)
    return "\n".join(_wrapped(line) for line in words.in_system(told, units).split("\n"))


def _wrapped(line: str) -> str:
    """A line in the width of the page; what follows a number, a dash or a box hangs behind it."""
    indent = len(line) - len(line.lstrip())
    mark = line.lstrip().split(" ", 1)[0]
    hang = len(mark) + 1 + indent if mark in ("-", "[_]") or mark.rstrip(".").isdigit() else indent
    label = LABEL.match(line)
    hang = label.end() if label else hang
    line = TOGETHER.sub("\N{NO-BREAK SPACE}", line)
    return (
        textwrap.fill(line, WIDTH, subsequent_indent=" " * hang)
        .replace("[_]", "[ ]")
        .replace("\N{NO-BREAK SPACE}", " ")
    )


def title(outcome: Outcome) -> str:
    name, caution = outcome.batch.title, words.caution_line(outcome.verdict)
    return "\n".join(filter(None, [name, "=" * len(name), draft_line(), caution]))


def _head(outcome: Outcome, found, units: str) -> Iterator[str]:
    """What was asked and is not granted; both verdicts with place and days; deadlines."""
    if not ways.asked(outcome).granted:
        yield ways_text.missed(outcome)
    lines = verdict_lines(outcome)
    wanted = ways_text.wanted(outcome, found)
    near = at_limit_words(outcome, "kitchen.at_limit")
    yield "\n".join(filter(None, [*lines, near, *by_when(outcome, units), wanted]))


def verdict_lines(outcome: Outcome) -> list[str]:
    """Both verdicts with place and days, and what they ask for."""
    verdict = outcome.verdict
    keep, eat = words.headline(verdict, outcome.keep).split("   ")
    lines = [f"{say('kitchen.to_keep', keep=keep)} {_days(outcome)}".rstrip(), say("kitchen.to_eat", eat=eat)]
    lines += [words.COOK] if verdict.eat == "cook_first" else []
    return lines + ([words.NOT_KNOWN] if "not_known" in (verdict.keep, verdict.eat) else [])


def _days(outcome: Outcome) -> str:
    """How long it keeps where it is granted: nothing for fish that is not made, or where the verdict says it already."""
    keep = outcome.keep
    if words.refused(outcome.verdict) or keep.place is None or (keep.place == "cupboard" and keep.days is not None):
        return ""
    if keep.days is None and keep.limited_by == "rancidity":
        most = words.days_words(keep.clocks["official_cap"])
        return say("kitchen.days_not_tested", place=translated(keep.place), days=most)
    if keep.days is None:
        return " ".join(reason.text for reason in keep.reasons if reason.rule != "S5")
    return say("kitchen.keep_until", place=translated(keep.place), days=words.days_words(keep.days))


# ---- a batch that is refused


def _not_to_make(outcome: Outcome, units: str) -> Iterator[str]:
    """Why, each with its way out; what is not known; what else speaks against it; no step at all."""
    already = warm_already(outcome)
    lines = [say("kitchen.no_change_mends", why=already)] if already else []
    for reasons, way in words.changes_needed(outcome.verdict):
        way = "" if already and any(one.rule in RAW_CLOCK for one in reasons) else way
        lines += [*(reason.text for reason in reasons), *([f"{words.WAY_OUT.upper()}{way}"] if way else [])]
    yield items(words.DO_NOT_MAKE, lines)
    yield items(words.STILL_NEEDED, words.plain_words(outcome.unknown))
    placed = Placed(outcome, words.blocking(outcome.verdict))
    people = who(outcome, placed, units)
    placed.take("head")
    rest = placed.take("before", "salt", "freshen", "heat", "lay", "stop", "rest", "pack", "why", ELSEWHERE)
    yield items(say("kitchen.watch"), [*rest, *notes(outcome)])
    yield people


# ---- a batch that may be made


def _to_make(wished: Wished, to_shop: bool, found, units: str, earn: bool) -> Iterator[str]:
    outcome = wished.outcome
    placed = Placed(outcome)
    placed.take("head")
    yield _before(wished, to_shop, placed, units)
    if wished.start is not None:
        yield items(say("wish.when"), wishes_text.times(outcome, wished.start, units))
    why_not = _why_not(outcome, found, placed, earn)
    steps = list(_steps(outcome, placed, units))
    yield "\n".join([say("kitchen.do"), *(f"{n:2d}. {step}" for n, step in enumerate(steps, 1))])
    yield why_not
    people = who(outcome, placed, units)
    left = placed.take(*placed.places)
    yield items(say("kitchen.watch"), [*left, *besides_the_air(outcome, notes(outcome))])
    yield people


def _before(wished: Wished, to_shop: bool, placed: Placed, units: str) -> str:
    outcome, batch, lines = wished.outcome, wished.outcome.batch, []
    ticked = [text for text, one in placed.by_place.get("before", {}).items() if one.row in TICKED]
    lines += [line for line in (_sound(batch.fish), "; ".join([*_frozen(batch.fish), *ticked])) if line]
    lines.append(say("kitchen.tools" if batch.heat else "kitchen.tools_raw"))
    rest = [text for text in placed.take("before") if text not in ticked]
    open_ended = "not_known" in (outcome.verdict.keep, outcome.verdict.eat)
    unknown = words.plain_words(_not_told(outcome)) if open_ended else []
    rest += [say("kitchen.not_told", what=", ".join(unknown))] if unknown else []
    ticks = [f"[_] {line}" for line in lines]
    if to_shop:
        rest.insert(0, to_buy(outcome, wished.loads, units))
    return "\n".join([say("kitchen.before"), *ticks, *rest])


def _not_told(outcome: Outcome) -> list[str]:
    """What was not told, without the numbers that cannot be said for it."""
    numbers = {
        f"{part}.{key}" for part in ("fish", "brine", "salted", "drying", "dried") for key in getattr(outcome, part)
    }
    return [name for name in outcome.unknown if name not in numbers]


def _sound(fish: Fish) -> str:
    """What was told of the fish, for the cook to look at once more."""
    told = (
        (fish.origin == "farmed", "farmed"), (fish.origin == "wild", "wild"), (fish.gutted is True, "gutted"),
        (fish.smells_normal is True, "smells"),
    )  # fmt: skip
    lines = [say(f"kitchen.{name}") for holds, name in told if holds]
    if fish.hours_above_4c is not None:
        warm = fish.hours_above_21c
        name = {None: "hours", 0: "hours_never_warm"}.get(warm, "hours_warm")
        told = {"hours": words.hours_words(fish.hours_above_4c), "warm": words.hours_words(warm or 0)}
        lines.append(say(f"kitchen.{name}", **told))
    return ", ".join(lines)


def _frozen(fish: Fish) -> list[str]:
    """How it was frozen, where that was told in whole."""
    if fish.stock != "frozen" or fish.frozen_at is None or fish.frozen_days is None:
        return []
    cold, days = show(fish.frozen_at, "temperature", "both"), words.days_words(fish.frozen_days)
    return [say("kitchen.frozen", cold=cold, days=days)]


def _steps(outcome: Outcome, placed: Placed, units: str) -> Iterator[str]:
    """Everything to do, in order, each with its cautions."""
    batch = outcome.batch
    steps = [[_cut(batch, units)]]
    if batch.presoak:
        steps.append([_soak(batch, "presoak", batch.presoak, units)])
    if batch.brine:
        steps.append([_soak(batch, "brine", batch.brine, units), *placed.take("salt")])
    if batch.rest:
        steps.append([say("kitchen.rest", time=said(batch, "rest", "time"), warmth=_warmth(batch.rest))])
    for row, soak in enumerate(batch.freshen):
        water = as_told.amount(batch, soak.water, units, "freshen", row, "water")
        told = {"waters": soak.waters, "time": said(batch, "freshen", row, "time"), "warmth": _warmth(soak)}
        steps.append([say("kitchen.freshen", water=water, **told), *placed.take("freshen")])
    if batch.heat:
        steps.append([heat(outcome, units), *placed.take("heat")])
    if outcome.load.no_drying:
        steps.append([nothing_to_dry(outcome), *placed.take("heat", "lay", "stop")])
    else:
        steps.append([*placed.take("heat"), _lay(outcome, units), *placed.take("lay")])
        steps += [[_dry(outcome)], [stop(outcome, units), *placed.take("stop")]]
    steps += to_the_end(outcome, placed)
    return (" ".join(filter(None, step)) for step in steps)


def nothing_to_dry(outcome: Outcome) -> str:
    """That the fish is as dry as was asked before it is laid."""
    return f"{already_dry(outcome.batch, outcome.load)} {say('plan.no_weight')}"


def to_the_end(outcome: Outcome, placed: Placed) -> Iterator[list[str]]:
    """Cool, rest, pack, label, the last day: what comes after the stop weight."""
    rest = placed.take("rest")
    cool = say("kitchen.cool", rest=" ".join([*rest, *_resting(outcome, bool(rest))])).strip()
    if rest:
        yield [cool]
    keep, pack = outcome.keep, outcome.batch.keep.pack
    until = say("kitchen.days_open")
    if keep.days is not None:
        guess = "kitchen.until_guess" if days_guessed(outcome) else "kitchen.until"
        until = say(guess, place=translated(keep.place), days=words.days_words(keep.days))
    name = "kitchen.pack" if pack else "kitchen.pack_untold"
    kept = [say("short.S5")] if keep.place else []
    what = say(name, pack=pack and words.pack_name(pack).partition(" (")[0], until=until)
    yield [*([] if rest else [cool]), what, *kept, *placed.take("why", "pack")]


def evening_out(outcome: Outcome) -> str:
    """How pieces even out before they are packed, with the days it takes; "" where no rule asks for it."""
    rest = [short(one) for one in outcome.verdict.cautions if place_of(one) == "rest"]
    return " ".join([*rest, *_resting(outcome, bool(rest))])


def _resting(outcome: Outcome, rests: bool) -> Iterator[str]:
    """How long pieces take to even out in the refrigerator; the jar in a cupboard has its own days."""
    if not rests or outcome.keep.place == "cupboard":
        return
    middle, late = (math.ceil(hours / 24) for hours in _quantiles(weighing.evening_out(outcome.load, REST_AT)))
    yield say(
        "kitchen.rest_days",
        days=say("kitchen.days_span", low=middle, high=late) if late > middle else words.days_words(middle),
    )


def _quantiles(hours) -> tuple[float, float]:
    from numpy import quantile

    return tuple(quantile(hours, [0.5, 0.9]))


def _cut(batch: Batch, units: str) -> str:
    usual, thickest = (show_kitchen(size, "length", units) for size in batch.cut.sizes[1:])
    weight = show_kitchen(batch.fish.raw_weight, "mass", units)
    return say("kitchen.cut", weight=weight, usual=usual, thickest=thickest)


def _soak(batch: Batch, name: str, soak: Soak, units: str) -> str:
    message = "soak_first" if name == "presoak" else "dry_salt" if soak.dry else "brine"
    what = as_told.ingredients(batch, name, units)
    return say(f"kitchen.{message}", what=what, time=said(batch, name, "time"), warmth=_warmth(soak))


def _warmth(step: Rest) -> str:
    return show(step.temperature, "temperature", "both")


def heat(outcome: Outcome, units: str) -> str:
    """How to heat the thickest piece through and show it, with a line to fill in."""
    batch = outcome.batch
    core = at_least(batch.heat.core if heating_counts(batch.heat) else max(batch.heat.core, limits.KILL_CORE))
    long_enough = (batch.heat.hold_minutes or 0.0) >= COUNTED
    held = (
        say("kitchen.held", core=core, time=said(batch, "heat", "hold"))
        if long_enough
        else say("kitchen.count", core=core)
    )
    degrees = "°F" if units == FAHRENHEIT_FIRST else "°C"
    return say(
        "kitchen.heat",
        core=core,
        held=aimed(held, batch.heat),
        minutes=minutes(outcome, units),
        witness=witness(batch, units),
        degrees=degrees,
    )


def at_least(core: float, system: str = "both") -> str:
    """A core temperature, rounded up, so that what is done counts."""
    metric, us = (math.ceil(one - 1e-6) for one in (core, fahrenheit(core)))
    told = {"metric": f"{metric} °C", "us": f"{us} °F"}
    return told[system] if system in told else say("mending.both", **told)


def aimed(held: str, heat: Heat) -> str:
    """What a probe has to show; where that is the cooler of the two that count, with the hotter one to aim at."""
    if not heating_counts(heat) or heat.core >= limits.KILL_CORE - 1e-6:
        return held
    return say("kitchen.aim", held=held, aim=show(limits.KILL_CORE, "temperature", "both"))


def too_thin(batch: Batch) -> bool:
    """Whether even the thickest piece is too thin for a probe."""
    return batch.cut.sizes[-1] <= timetable.THIN + 1e-9


def witness(batch: Batch, units: str) -> str:
    """The piece that the probe goes into: pieces too thin for it need a thicker one beside them."""
    if too_thin(batch):
        return say("kitchen.witness", thick=show_kitchen(timetable.WITNESS, "length", units))
    return say("kitchen.thickest")


def minutes(outcome: Outcome, units: str) -> str:
    """Two ways of heating, with the minutes to plan where they can be told."""
    batch = outcome.batch
    thick = batch.cut.sizes[-1]
    faces = 1 if batch.cut.closed_face else 2
    size, altitude = show_kitchen(thick, "length", units), batch.room.altitude
    steam, simmer = (
        timetable.minutes_to_plan(way, thick, faces, outcome.raw.flesh, altitude) for way in ("steam", "simmer")
    )
    if steam is None or simmer is None:
        return say("kitchen.no_minutes", size=size)
    return say(
        "kitchen.minutes",
        steam=steam,
        simmer=simmer,
        size=size,
        where="" if altitude is not None else say("kitchen.at_sea"),
    )


def _lay(outcome: Outcome, units: str) -> str:
    batch = outcome.batch
    soon = ""
    if batch.heat:
        soon = say(
            "kitchen.soon", time=said(batch, "heat", "to_tray") or show(60 * 60 * batch.heat.bench_hours, "time")
        )
    mesh = f" {say('kitchen.mesh')}" if batch.dryer.faces == 2 else ""
    unit = "oz" if units == "us" else "g"
    return say("kitchen.lay", mesh=mesh, soon=soon, unit=unit)


def _dry(outcome: Outcome) -> str:
    hours, where = outcome.drying["hours_to_target"], airing.where(outcome.batch, _warmth(outcome.batch.dryer))
    if hours.mid is None:
        return say("kitchen.dry_never", where=where)
    low = hours.mid if hours.low is None else hours.low
    told = {"first": f"{words.about_hours(max(LEAST_LOOK, low / 2), math.floor)} h", "where": where}
    told |= {"from_then": f"{words.about_hours(low, math.floor)} h", "hours": f"{words.about_hours(hours.mid)} h"}
    turning = _rotate(outcome.batch)
    if hours.high is None:
        return f"{say('kitchen.dry_open', **told)}{turning}"
    dry = say("kitchen.dry", range=words.hours_range(low, hours.high), **told)
    return f"{dry}{turning} {worth_text.of_hours(outcome)}".rstrip()


def _rotate(batch: Batch) -> str:
    """That the trays change places, where that was told."""
    every = said(batch, "dryer", "rotated")
    return f" {say('kitchen.rotate', every=every)}" if every else ""


def stop(outcome: Outcome, units: str) -> str:
    """The weight to stop at, as a share and as grams of a hundred as laid."""
    ratio = outcome.drying["mass_ratio"].mid
    if ratio is None or not outcome.load.reached:
        return say("kitchen.no_stop")
    percent = words.stop_percent(ratio)
    return say("kitchen.stop", percent=percent, example=example(percent, units))


# ---- why, what to watch, who


def _why_not(outcome: Outcome, found, placed: Placed, earn: bool) -> str:
    """What stands against what was asked, the nearest way that is granted, and a change that would earn it."""
    aim = ways.asked(outcome)
    if aim.granted:
        return ""
    verdict = outcome.verdict
    decides = [
        one for one in verdict.reasons
        if (one.keep == verdict.keep != "cupboard") or (one.eat == verdict.eat != "ready")
    ]  # fmt: skip
    lines = list(dict.fromkeys([*(short(one) for one in decides if one.rule not in ("K1", "K2")), *placed.take("why")]))
    for texts_of in placed.by_place.values():
        for text in lines:
            texts_of.pop(text, None)
    best = ways.nearest(outcome, found)
    if best is not None:
        lines.append(ways_text.instead(best))
    if earn:
        change = next(ways.earning(outcome.batch), None)
        lines.append(
            say("ways.no_change") if change is None else say("kitchen.earn", change=ways_text.change_line(change))
        )
    return items(say("kitchen.why_not", asked=ways_text.what(aim)), lines)


def notes(outcome: Outcome) -> list[str]:
    """What the plan remarks, without what stands elsewhere in the text."""
    elsewhere = (*spoken(outcome.keep.outside), already_dry(outcome.batch, outcome.load))
    return [note for note in outcome.notes if note not in elsewhere]


def days_guessed(outcome: Outcome) -> bool:
    """Whether no keeping clock was tested on such fish, so that its days are partly a guess."""
    return not set(spoken(outcome.keep.outside)).isdisjoint(outcome.notes)


def who(outcome: Outcome, placed: Placed, units: str = "both") -> str:
    """Who should not eat it, the sodium, whose word counts more, and when to call for help."""
    lines, sodium = [], outcome.dried["sodium_mg_per_serving"]
    for text, one in placed.by_place.pop("who", {}).items():
        if one.rule == "H3" and sodium.known and sodium.high is not None:
            low, high = (f"{round(value, -1):.0f}" for value in (sodium.low, sodium.high))
            serving = show_kitchen(outcome.batch.serving, "mass", units)
            text = say("kitchen.sodium", serving=serving, low=low, high=high, limit=number(limits.SODIUM_US, ",.0f"))
        lines.append(text)
    return items(say("kitchen.who"), together(lines))


def _table(outcome: Outcome, found) -> str:
    if not found:
        return ""
    return "\n".join([say("ways.title"), *ways_text.table(found), say("ways.same_fish")])


def items(title: str, lines: Iterable[str]) -> str:
    lines = list(lines)
    return "\n".join([title, *(f"- {line}" for line in lines)]) if lines else ""
