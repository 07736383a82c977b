"""A plan as plain text in 80 columns: what to do, when, at what weight to stop, what could go wrong, cautions.

A batch that is refused begins with that, with each reason and its way out; what was planned comes after it.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator

from flakeyard import limits
from flakeyard.messages import draft_line, number, say, translated
from flakeyard.models.constants import HOUR
from flakeyard.steps.chain import airing
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.intent.records import Batch, Portion
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan import deadlines, timetable, ways
from flakeyard.steps.plan.plan import Outcome, already_dry
from flakeyard.steps.plan.wishes import buying
from flakeyard.units import OUNCE, show, show_band, show_kitchen
from flakeyard.workbook import words
from flakeyard.workbook.paper import as_told, ways_text, worth_text

WIDTH = 80
SYSTEMS = {"metric": "metric", "us": "us", "both": "both"}


NOT_YET = say("report.not_yet")


def report(outcome: Outcome, units: str = "both", with_changes: bool = False, loads: int = 1) -> str:
    """The plan as text; ``units`` is metric, us or both; ``with_changes``: try single changes too, which takes
    seconds; ``loads``: for the shop, so many loads like this."""
    system, found, refused = SYSTEMS[units], ways.ways(outcome), words.refused(outcome.verdict)
    parts = [
        _title(outcome),
        _refusal(outcome, system) if refused else "",
        "\n".join(textwrap.wrap(ways_text.not_granted(outcome, found), WIDTH)),
        _verdict(outcome),
        _section(say("report.when"), by_when(outcome, system), system),
        _section(NOT_YET if refused else say("report.what_do"), _to_do(outcome, system, loads), system),
        words.in_system(_ways(outcome, found), system),
        _section(say("ways.changes_title"), ways_text.change_lines(ways.changes(outcome)), system)
        if with_changes
        else "",
        _section(say("report.what_expect"), _expect(outcome, system), system),
        _measure_next(outcome, system),
        _section(
            say("report.what_look_out"),
            besides_the_air(outcome, outcome.notes) + ([] if refused else _not_known(outcome)),
            system,
        ),
        *_why(outcome, system),
    ]
    return "\n\n".join(part for part in parts if part)


def besides_the_air(outcome: Outcome, remarks: Iterable[str]) -> list[str]:
    """Remarks, without the schedule of the air where the step of drying tells it already."""
    told = "" if outcome.load.no_drying else airing.in_words(outcome.batch)
    return [remark for remark in remarks if remark != told]


def _measure_next(outcome: Outcome, system: str) -> str:
    """A table of what might be measured, with what it would be worth; nothing for fish that is not to be made."""
    if words.refused(outcome.verdict):
        return ""
    title, below = say("worth.title"), [worth_text.sentences(outcome), say("worth.below"), worth_text.where()]
    lines = [line for text in below if text for line in textwrap.wrap(text, WIDTH)]
    return "\n".join([title, "-" * len(title), *worth_text.table(outcome, system), *lines])


def _refusal(outcome: Outcome, system: str) -> str:
    """That the batch is not to be made, why, the ways out, and what is not known of it."""
    lines = []
    for reasons, way in words.changes_needed(outcome.verdict):
        lines += [*map(_with_source, reasons), *([f"{words.WAY_OUT.upper()}{way}"] if way else [])]
    unknown = _section(words.STILL_NEEDED, words.plain_words(outcome.unknown), system)
    return "\n\n".join(filter(None, (_section(words.DO_NOT_MAKE, lines, system), unknown)))


def _with_source(reason) -> str:
    return f"{reason.text} [{reason.rule}, {reason.source}]"


def _why(outcome: Outcome, system: str) -> list[str]:
    """The reasons, but for those with which the text begins, and the cautions."""
    verdict = outcome.verdict
    told = words.blocking(verdict) if words.refused(verdict) else ()
    rest = [_with_source(reason) for reason in verdict.reasons if reason not in told]
    return [
        _section(say("report.besides") if told else say("report.why_verdict"), rest, system),
        _section(say("report.cautions"), [f"{caution.text} [{caution.rule}]" for caution in verdict.cautions], system),
    ]


def _not_known(outcome: Outcome) -> list[str]:
    return [say("report.not_known", what=", ".join(words.plain_words(outcome.unknown)))] if outcome.unknown else []


def by_when(outcome: Outcome, system: str, clock=None) -> list[str]:
    """Deadlines of a plan and what would gain time; nothing where no clock stands in the way."""
    by = outcome.verdict.by
    told = list(words.deadline_words(by, clock))
    gained = [gain_words(outcome.batch, gain, system) for gain in deadlines.gains(outcome.batch, outcome.facts, by)]
    return [*told, *([say("report.gained", what="; ".join(gained))] if gained else [])]


def gain_words(batch: Batch, gain: deadlines.Gain, system: str) -> str:
    """A change with its hours, and how many then make the first deadline."""
    thickest = show(deadlines.THINNER * batch.cut.sizes[-1], "length", system)
    dial = _warmth(batch.dryer.temperature + deadlines.WARMER, system)
    change = say(f"report.gain_{gain.change}", thickest=thickest, dial=dial)
    return say("report.gain", change=change, hours=_hours(gain.hours), share=words.share_words(gain.in_time))


def _title(outcome: Outcome) -> str:
    title = outcome.batch.title
    return "\n".join(filter(None, [title, "=" * len(title), draft_line(), say("report.brackets")]))


def _verdict(outcome: Outcome) -> str:
    days = outcome.keep.days if outcome.keep.place == "cupboard" else None
    keep, eat = words.keep_words(outcome.verdict.keep, days), words.eat_words(outcome.verdict.eat)
    caution = textwrap.wrap(words.caution_line(outcome.verdict), WIDTH)
    return "\n".join([say("report.to_keep", keep=keep), say("report.to_eat", eat=eat), *caution])


def _to_do(outcome: Outcome, system: str, loads: int) -> list[str]:
    batch = outcome.batch
    return [
        to_buy(outcome, loads, system),
        say(
            "report.weigh",
            weight=show(batch.fish.raw_weight, "mass", system),
            thickness=show(batch.cut.thickness, "length", system),
        ),
        *_before_drying(batch, system),
        *heating_lines(outcome, system),
        *_drying_steps(outcome, system),
    ]


def _drying_steps(outcome: Outcome, system: str) -> list[str]:
    """How long to dry, and at what weight to stop; one sentence where there is nothing to dry."""
    batch, drying = outcome.batch, outcome.drying
    percent = words.stop_percent(drying["mass_ratio"].mid)
    if outcome.load.no_drying:
        return [f"{already_dry(batch, outcome.load)} {say('plan.no_weight')}"]
    return [
        say(
            "report.dry",
            where=airing.where(batch, _warmth(batch.dryer.temperature, system)),
            hours=_never(outcome) or _hours(drying["hours_to_target"]),
        ),
        say("report.stop", percent=percent, example=example(percent, system))
        + _load_weighs(drying["target_mass_kg"], system),
    ]


def _never(outcome: Outcome) -> str:
    """That air which changes may never dry it, in words; "" where it does, or the dryer is one that stays as it is."""
    if outcome.drying["hours_to_target"].mid is not None or not airing.changes(outcome.batch):
        return ""
    return say("air.never", hours=number(outcome.load.result.times[-1] / HOUR, ",.0f"))


def example(percent: int, units: str) -> str:
    """What a hundred grams, or ten ounces, become."""
    laid, unit = (10, "oz") if units == "us" else (100, "g")
    return say("kitchen.grams", laid=f"{laid} {unit}", left=f"{number(percent * laid / 100, 'g')} {unit}")


def _load_weighs(mass: Band, system: str) -> str:
    return f" {say('plan.load_weighs', mass=_mass(mass, system))}" if mass.known else ""


def _before_drying(batch: Batch, system: str) -> Iterator[str]:
    """Soaks, rest, freshening and heating; times in the words they were typed in."""
    for name in ("presoak", "brine"):
        soak = getattr(batch, name)
        if soak:
            what = ", ".join(f"{portion(row.amount, system)} {translated(row.what)}" for row in soak.ingredients)
            how = {"time": said(batch, name, "time"), "warmth": _warmth(soak.temperature, system)}
            yield say(f"report.{name}", what=what, **how)
    if batch.rest:
        warmth = _warmth(batch.rest.temperature, system)
        yield say("report.rest", time=said(batch, "rest", "time"), warmth=warmth)
    for row, soak in enumerate(batch.freshen):
        how = {"time": said(batch, "freshen", row, "time"), "warmth": _warmth(soak.temperature, system)}
        yield say("report.freshen", waters=soak.waters, water=portion(soak.water, system), **how)
    if batch.heat:
        held = "report.heat" if batch.heat.hold is None else "report.heat_held"
        yield say(held, core=_warmth(batch.heat.core, system), hold=said(batch, "heat", "hold"))


def heating_lines(outcome: Outcome, system: str) -> list[str]:
    """How to heat the thickest piece of this batch through and how to show it; nothing for fish that is not heated."""
    batch = outcome.batch
    if batch.heat is None:
        return []
    thick = batch.cut.sizes[-1]
    size, core = show(thick, "length", system), _warmth(limits.KILL_CORE, system)
    how = "report.how_witness" if thick <= timetable.THIN + 1e-9 else "report.how_thickest"
    witness = show(timetable.WITNESS, "length", system)
    return [
        say(how, minutes=_minutes(outcome, size, system), witness=witness, core=core),
        say("report.write_down", degrees="°F" if system == "us" else "°C"),
    ]


def _minutes(outcome: Outcome, size: str, system: str) -> str:
    """Minutes to plan for two ways of heating, where they can be told."""
    batch, flesh = outcome.batch, outcome.raw.flesh
    thick, faces, altitude = batch.cut.sizes[-1], 1 if batch.cut.closed_face else 2, batch.room.altitude
    steam, simmer = (timetable.minutes_to_plan(way, thick, faces, flesh, altitude) for way in ("steam", "simmer"))
    if steam is None or simmer is None:
        return say("report.no_minutes", size=size)
    where = "report.minutes_low" if altitude is None else "report.minutes_high"
    high = show(altitude or 0.0, "length", system)
    return say(where, steam=steam, simmer=simmer, size=size, altitude=high)


def _expect(outcome: Outcome, system: str) -> list[str]:
    brine, salted, drying, dried = outcome.brine, outcome.salted, outcome.drying, outcome.dried
    lines = []
    if brine["mass_kg"].known and brine["mass_kg"].mid > 0:
        lines.append(
            say(
                "report.brine_is",
                salt=_percent(brine["solute_fraction_salt"]),
                degrees=f"{brine['salometer'].mid:.0f}",
                mass=_mass(brine["mass_kg"], system),
                volume=show(brine["volume_l"].mid / 1000, "volume", system),
            )
        )
    lines += [
        say(
            "report.salted",
            salt=_percent(salted["salt_fraction"]),
            water=_percent(salted["water_phase_salt"]),
            middle=_percent(salted["water_phase_salt_centre"]),
        ),
        *_while_drying(outcome, system),
        say(
            "plan.marked",
            water=_percent(outcome.marked["water_fraction"]),
            salt=_percent(outcome.marked["salt_fraction"]),
            activity=_band(outcome.marked["water_activity"], ".2f"),
        ),
        say(
            "plan.load",
            water=_percent(dried["water_fraction"]),
            salt=_percent(dried["salt_fraction"]),
            mass=_mass(dried["mass_kg"], system),
            share=f"{100 * dried['yield_of_raw'].mid:.0f}",
        ),
        say(
            "plan.portion",
            sodium=_band(dried["sodium_mg_per_serving"], ".0f"),
            limit=number(limits.SODIUM_US, ",.0f"),
            serving=show(outcome.batch.serving, "mass", system),
            left_in=_left_in(outcome),
        ),
        *([] if outcome.load.no_drying else [say("report.electricity", energy=_energy(drying["kwh"]))]),
    ]
    return [
        *lines,
        *([] if words.refused(outcome.verdict) else [say("report.keeping", how=words.keeping_sentence(outcome.keep))]),
    ]


def _left_in(outcome: Outcome) -> str:
    """The sodium of a portion where thin pieces stay on the trays and dry on, in words; "" where it is not known."""
    left_in, taken_out, sodium = (
        outcome.drying["target_mass_kg"],
        outcome.dried["mass_kg"],
        outcome.dried["sodium_mg_per_serving"],
    )
    if outcome.load.no_drying or left_in.mid is None or taken_out.mid is None or sodium.mid is None:
        return ""
    return say("plan.portion_left_in", sodium=f"{sodium.mid * taken_out.mid / left_in.mid:.0f}")


def _while_drying(outcome: Outcome, system: str) -> list[str]:
    """When pieces are done, and how long the middle is warm; nothing where there is nothing to dry."""
    if outcome.load.no_drying:
        return []
    drying, zone = outcome.drying, (limits.GROWTH_BOTTOM, limits.GROWTH_TOP)
    shares = ", ".join(
        f"{translated(name)} {_round_hours(value.mid)}" for name, value in outcome.hours_by_share.items()
    )
    low, high, bulb = (_warmth(one, system) for one in (*zone, drying["wet_bulb_c"].mid))
    moist = _hours(drying["hours_flesh_10_to_57_c"])
    return [
        say("plan.taken_out", percent=f"{100 * drying['mass_ratio'].mid:.0f}", shares=shares),
        f"{say('report.warm', low=low, high=high, moist=moist, bulb=bulb)} {say('plan.counts')}",
    ]


def _ways(outcome: Outcome, found: tuple[ways.Way, ...]) -> str:
    """A table of the ways to keep the batch, with what it says of the days that were wished for."""
    if not found:
        return ""
    title, wanted = say("ways.title"), ways_text.wanted(outcome, found)
    below = [line for text in (say("ways.same_fish"), wanted) for line in textwrap.wrap(text, WIDTH)]
    return "\n".join([title, "-" * len(title), *ways_text.table(found), *below])


def _section(title: str, lines: list[str], system: str) -> str:
    """A title with lines under it, in one system of units or in both."""
    if not lines:
        return ""
    lines = [words.in_system(line, system) for line in lines]
    body = [textwrap.fill(line, WIDTH, initial_indent="- ", subsequent_indent="  ") for line in lines]
    return "\n".join([title, "-" * len(title), *body])


def portion(amount: Portion, system: str, digits: int = 2) -> str:
    """So much of an ingredient, by weight or by volume as it was told."""
    if amount.mass is not None:
        return show(amount.mass, "mass", system, digits)
    return show(amount.volume, "volume", system, digits)


def to_buy(outcome: Outcome, loads: int, units: str) -> str:
    """The line for the shop: whole fish, fillet and trimmed, what goes into the soaks, packs."""
    buy = buying(outcome, loads)
    low, high = (show_kitchen(one, "mass", units) for one in buy.whole)
    rest = [
        f"{as_told.in_kitchen(row.amount, units)} {translated(row.what)}" for row in buy.needed if row.what != "water"
    ]
    if buy.packs is not None and outcome.batch.keep.pack:
        pack, each = words.pack_name(outcome.batch.keep.pack), show_kitchen(buy.per_pack, "mass", units)
        rest.append(say("wish.packs", count=buy.packs, pack=pack, each=each))
    whole = low if low == high else say("wish.span", first=low, last=high)
    told = {"trimmed": buy.trimmed, "fillet": buy.fillet}
    told = {name: show_kitchen(mass, "mass", units) for name, mass in told.items()}
    return say("wish.buy", whole=whole, rest=", ".join(rest), **told).replace("; .", ".")


def _warmth(temperature: float, system: str) -> str:
    return show(temperature, "temperature", system)


def _mass(value: Band, system: str) -> str:
    if not value.known:
        return say("amount.not_known")
    if abs(value.high - value.low) < 0.01 * value.mid:
        return show(value.mid, "mass", system, 3)
    return f"{show(value.mid, 'mass', system)} [{show_band(value.low, value.high, 'mass', system)}]"


def _percent(value: Band) -> str:
    return _band(Band(*(None if v is None else 100 * v for v in (value.low, value.mid, value.high))), ".1f", " %")


def _band(value: Band, form: str, unit: str = "") -> str:
    if value.mid is None:
        return say("amount.not_known")
    middle = f"{number(value.mid, form)}{unit}"
    low = "?" if value.low is None else number(value.low, form)
    high = say("report.never") if value.high is None else number(value.high, form)
    return middle if low == high else f"{middle} [{say('amount.from_to', low=low, high=high)}]"


def _hours(value: Band) -> str:
    if value.mid is None:
        return say("report.may_never")
    return _band(value, ".0f" if value.mid >= 10 else ".1f", " h")


def _round_hours(hours: float | None) -> str:
    if hours is None:
        return say("report.never")
    return say("report.by", hours=number(hours, ".0f" if hours >= 10 else ".1f"))


def _energy(value: Band) -> str:
    return say("amount.not_known") if value.mid is None else say("report.about_kwh", energy=_band(value, ".1f"))


def log_report(learned, units: str = "both") -> str:
    """A new forecast from weighings as text: when it is done, at what weights to stop, what was learned, the weighings."""
    system, log, outcome = SYSTEMS[units], learned.log, learned.outcome
    against = [] if not words.refused(outcome.verdict) else [*map(_with_source, words.blocking(outcome.verdict))]
    parts = [
        _title(outcome),
        _section(say("report.log_contradicts_plan"), [learned.contradiction], system) if learned.contradiction else "",
        _verdict(outcome),
        _section(say("report.what_stands_against"), against, system),
        _section(say("report.when"), log_deadlines(learned), system),
        _section(say("report.forecast"), _forecast(learned, system), system),
        _section(say("report.what_weighing_taught"), list(learned.learned), system),
        _weighings(log, system),
        _section(say("report.remarks_on_log"), list(log.remarks), system),
        _section(say("report.not_known_2"), list(words.plain_words(outcome.unknown)), system),
        *_why(outcome, system),
    ]
    return "\n\n".join(part for part in parts if part)


def log_deadlines(learned) -> list[str]:
    """Deadlines by the hours that really passed, with clock times where the log has them."""
    by, log, batch = learned.outcome.verdict.by, learned.log, learned.outcome.batch
    if not deadlines.stands(by) or by[0].hours is None:
        return []
    bench = batch.heat.bench_hours
    clock = None if log.began is None else lambda hours: log.clock(_early(hours - bench))
    done = _seen_done(learned)
    if done is None:
        passed = say("report.passed", hours=words.hours_words(log.last + bench))
    else:
        passed = say("report.was_down", hours=words.hours_words(done + bench))
    return [*words.deadline_words(by, clock, done is None), passed]


def _seen_done(learned) -> float | None:
    """When the marked piece was seen to have its stop weight [h since drying began]; None: not yet."""
    from flakeyard.steps.learn.clocks import seen_done  # a plan is told without the room of logs

    return seen_done(learned.log, learned.outcome.load.mass_ratio, learned.set_aside)


def _early(hours: float) -> float:
    """Hours on the clock of a log, rounded down to five minutes."""
    return math.floor(words.FIVE_MINUTES * hours + 1e-6) / words.FIVE_MINUTES


def _forecast(learned, system: str) -> list[str]:
    if learned.outcome.load.no_drying:
        return [f"{already_dry(learned.outcome.batch, learned.outcome.load)} {say('plan.no_weight')}"]
    hours, log, plan = learned.hours_to_target, learned.log, learned.plan.drying["hours_to_target"]
    due = hours.mid is not None and hours.mid <= log.last and _seen_done(learned) is None
    now = (
        say("report.done", now=_done(learned)),
        say("report.due") if due else "",
        say("report.plan_said", hours=_hours(plan)),
    )
    lines = [" ".join(filter(None, now))]
    ratio = learned.outcome.drying["mass_ratio"]
    if ratio.known:
        lines.append(say("report.stop_at", percent=words.stop_percent(ratio.mid)))
        lines.append(say("plan.load_weighs", mass=_mass(learned.target_mass_kg, system)))
    if learned.target_tray_kg:
        trays = (f"{tray}: {show(mass.mid, 'mass', system, 3)}" for tray, mass in learned.target_tray_kg.items())
        lines.append(say("report.by_tray", trays="; ".join(trays)))
    if learned.next_weighing_h is not None:
        lines.append(
            say("live.log.again_clock", hours=learned.next_weighing_h, clock=log.clock(learned.next_weighing_h))
        )
    return lines


def _done(learned) -> str:
    """When the thickest piece is done, with its time of day where the log has one."""
    hours, log = learned.hours_to_target, learned.log
    if learned.contradiction:
        return say("amount.not_known")
    if hours.mid is None or log.began is None:
        return say("report.after", hours=_hours(hours))
    return say("report.after_clock", hours=_hours(hours), clock=log.clock(hours.mid))


def _weighings(log, system: str) -> str:
    """A table of what was weighed: a line a moment, a column a tray, at most ten trays side by side."""
    unit, size, digits = ("oz", OUNCE, 2) if system == "us" else ("g", 0.001, 0)  # a scale may show 0.05 oz
    moments = sorted({entry.hours for entry in log.weighings})
    found = {(entry.hours, entry.tray): number(entry.mass / size, f".{digits}f") for entry in log.weighings}
    blocks = []
    for first in range(0, len(log.trays), 10):
        trays = log.trays[first : first + 10]
        lines = [f"{'':16} " + "".join(f"{tray[:5]:>6}" for tray in trays)]
        lines += [
            f"{log.clock(hours):16} " + "".join(f"{found.get((hours, tray), ''):>6}" for tray in trays)
            for hours in moments
        ]
        blocks.append("\n".join(lines))
    title = say("report.weighings", unit=unit)
    return "\n".join([title, "-" * len(title), *blocks]) if blocks else ""
