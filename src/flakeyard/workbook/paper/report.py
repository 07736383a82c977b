"""A plan as plain text in 80 columns: what to do, when, at what weight to stop, what could go wrong, cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from flakeyard import limits
from flakeyard.steps.intent.batch_file import said
from flakeyard.steps.intent.records import Batch, Portion
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import show, show_band
from flakeyard.workbook import words

WIDTH = 80
SYSTEMS = {"metric": "metric", "us": "us", "both": "both"}


def report(outcome: Outcome, units: str = "both") -> str:
    """The plan as text; ``units`` is metric, us or both."""
    system = SYSTEMS[units]
    parts = [
        _title(outcome),
        _verdict(outcome),
        _section("What to do", _to_do(outcome, system)),
        _section("What to expect", _expect(outcome, system)),
        _section(
            "What to look out for",
            list(outcome.notes) + [f"not known: {', '.join(outcome.unknown)}"] * bool(outcome.unknown),
        ),
        _section(
            "Why this verdict",
            [f"{reason.text} [{reason.rule}, {reason.source}]" for reason in outcome.verdict.reasons],
        ),
        _section("Cautions", [f"{caution.text} [{caution.rule}]" for caution in outcome.verdict.cautions]),
    ]
    return "\n\n".join(part for part in parts if part)


def _title(outcome: Outcome) -> str:
    return f"{outcome.batch.title}\n{'=' * len(outcome.batch.title)}\nNumbers in brackets after a value are its 10th to 90th percentile."


def _verdict(outcome: Outcome) -> str:
    days = outcome.keep.days if outcome.keep.place == "cupboard" else None
    keep, eat = words.keep_words(outcome.verdict.keep, days), words.eat_words(outcome.verdict.eat)
    return f"TO KEEP: {keep}\nTO EAT:  {eat}\n" + "\n".join(textwrap.wrap(words.caution_line(), WIDTH))


def _to_do(outcome: Outcome, system: str) -> list[str]:
    batch, drying = outcome.batch, outcome.drying
    ratio = drying["mass_ratio"].mid
    return [
        f"Weigh {show(batch.fish.raw_weight, 'mass', system)} of trimmed fish and cut it {show(batch.cut.thickness, 'length', system)} thick.",
        *_before_drying(batch, system),
        f"Dry at {_warmth(batch.dryer.temperature, system)}: {_hours(drying['hours_to_target'])}.",
        f"Mark the thickest piece and weigh it by itself. STOP when it weighs {100 * ratio:.0f} % of what it weighed "
        f"as laid (100 g becomes {100 * ratio:.0f} g). The whole load then weighs {_mass(drying['target_mass_kg'], system)}.",
    ]


def _before_drying(batch: Batch, system: str) -> Iterator[str]:
    """Soaks, rest, freshening and heating; times in the words they were typed in."""
    for name, title in (("presoak", "Soak first"), ("brine", "Salt it")):
        soak = getattr(batch, name)
        if soak:
            what = ", ".join(f"{portion(row.amount, system)} {row.what}" for row in soak.ingredients)
            yield f"{title}: {what}, for {said(batch, name, 'time')} at {_warmth(soak.temperature, system)}."
    if batch.rest:
        yield f"Rest out of the brine for {said(batch, 'rest', 'time')} at {_warmth(batch.rest.temperature, system)}."
    for number, soak in enumerate(batch.freshen):
        yield (
            f"Freshen: {soak.waters} × {portion(soak.water, system)} plain water, {said(batch, 'freshen', number, 'time')} each, at "
            f"{_warmth(soak.temperature, system)}."
        )
    if batch.heat:
        held = "" if batch.heat.hold is None else f", held {said(batch, 'heat', 'hold')}"
        yield f"Heat moist to {_warmth(batch.heat.core, system)} in the middle{held}; check with a probe; then weigh."


def _expect(outcome: Outcome, system: str) -> list[str]:
    brine, salted, drying, dried = outcome.brine, outcome.salted, outcome.drying, outcome.dried
    shares = ", ".join(f"{name} by {_round_hours(value.mid)}" for name, value in outcome.hours_by_share.items())
    lines = []
    if brine["mass_kg"].known and brine["mass_kg"].mid > 0:
        lines.append(
            f"Brine: {_percent(brine['solute_fraction_salt'])} salt by weight of the whole brine, {brine['salometer'].mid:.0f} degrees "
            f"salometer, {_mass(brine['mass_kg'], system)}, {show(brine['volume_l'].mid / 1000, 'volume', system)}."
        )
    lines += [
        f"Salt in the fish as laid: {_percent(salted['salt_fraction'])}; in its water {_percent(salted['water_phase_salt'])}; in the "
        f"middle of the thickest piece {_percent(salted['water_phase_salt_centre'])}.",
        f"Pieces done: {shares}.",
        f"The middle of the thickest piece is between {show(limits.GROWTH_BOTTOM, 'temperature', system)} and {show(limits.GROWTH_TOP, 'temperature', system)} and still "
        f"moist for {_hours(drying['hours_flesh_10_to_57_c'])}; the wet bulb of this air is {show(drying['wet_bulb_c'].mid, 'temperature', system)}.",
        f"Dried: {_percent(dried['water_fraction'])} water, {_percent(dried['salt_fraction'])} salt, estimated water activity "
        f"{_band(dried['water_activity'], '.2f')}; {_band(dried['sodium_mg_per_serving'], '.0f')} mg sodium in "
        f"{show(outcome.batch.serving, 'mass', system)} (adults: at most {limits.SODIUM_US:,.0f} mg a day).",
        f"Electricity: about {_band(drying['kwh'], '.1f')} kWh.",
    ]
    return [*lines, f"Keeping: {words.keeping_sentence(outcome.keep)}"]


def _section(title: str, lines: list[str]) -> str:
    if not lines:
        return ""
    body = [textwrap.fill(line, WIDTH, initial_indent="- ", subsequent_indent="  ") for line in lines]
    return "\n".join([title, "-" * len(title), *body])


def portion(amount: Portion, system: str, digits: int = 2) -> str:
    """So much of an ingredient, by weight or by volume as it was told."""
    if amount.mass is not None:
        return show(amount.mass, "mass", system, digits)
    return show(amount.volume, "volume", system, digits)


def _warmth(temperature: float, system: str) -> str:
    return show(temperature, "temperature", system)


def _mass(value: Band, system: str) -> str:
    if not value.known:
        return "not known"
    if abs(value.high - value.low) < 0.01 * value.mid:
        return show(value.mid, "mass", system, 3)
    return f"{show(value.mid, 'mass', system)} [{show_band(value.low, value.high, 'mass', system)}]"


def _percent(value: Band) -> str:
    return _band(Band(*(None if v is None else 100 * v for v in (value.low, value.mid, value.high))), ".1f", " %")


def _band(value: Band, form: str, unit: str = "") -> str:
    if value.mid is None:
        return "not known"
    middle = f"{value.mid:{form}}{unit}"
    low = "?" if value.low is None else f"{value.low:{form}}"
    high = "never" if value.high is None else f"{value.high:{form}}"
    return middle if low == high else f"{middle} [{low} to {high}]"


def _hours(value: Band) -> str:
    if value.mid is None:
        return "it may never get there in this dryer (not within 96 h)"
    return _band(value, ".0f" if value.mid >= 10 else ".1f", " h")


def _round_hours(hours: float | None) -> str:
    return "never" if hours is None else f"{hours:.0f} h" if hours >= 10 else f"{hours:.1f} h"


def log_report(learned, units: str = "both") -> str:
    """A new forecast from weighings as text: when it is done, at what weights to stop, what was learned, the weighings."""
    system, log, outcome = SYSTEMS[units], learned.log, learned.outcome
    parts = [
        _title(outcome),
        _section("THE LOG CONTRADICTS THE PLAN", [learned.contradiction]) if learned.contradiction else "",
        _verdict(outcome),
        _section("Forecast", _forecast(learned, system)),
        _section("What weighing taught", list(learned.learned)),
        _weighings(log, system),
        _section("Remarks on the log", list(log.remarks)),
        _section("Not known", [", ".join(outcome.unknown)] * bool(outcome.unknown)),
        _section(
            "Why this verdict",
            [f"{reason.text} [{reason.rule}, {reason.source}]" for reason in outcome.verdict.reasons],
        ),
        _section("Cautions", [f"{caution.text} [{caution.rule}]" for caution in outcome.verdict.cautions]),
    ]
    return "\n\n".join(part for part in parts if part)


def _forecast(learned, system: str) -> list[str]:
    hours, log, plan = learned.hours_to_target, learned.log, learned.plan.drying["hours_to_target"]
    clock = f", that is {log.clock(hours.mid)}" if hours.mid is not None and log.began is not None else ""
    done = (
        " It should be done by now: weigh the thickest piece."
        if hours.mid is not None and hours.mid <= log.last
        else ""
    )
    now = "not known" if learned.contradiction else f"{_hours(hours)} after drying began{clock}"
    lines = [f"The thickest piece is done: {now}.{done} The plan said {_hours(plan)}."]
    ratio = learned.outcome.drying["mass_ratio"]
    if ratio.known:
        lines.append(
            f"STOP when the marked thickest piece weighs {100 * ratio.mid:.0f} % of what it weighed as laid. The weight decides, not the hours."
        )
        lines.append(f"The whole load then weighs {_mass(learned.target_mass_kg, system)}.")
    if learned.target_tray_kg:
        lines.append(
            "By tray: "
            + "; ".join(f"{tray}: {show(mass.mid, 'mass', system, 3)}" for tray, mass in learned.target_tray_kg.items())
            + "."
        )
    if learned.next_weighing_h is not None:
        lines.append(
            f"Weigh again {learned.next_weighing_h:.1f} h after drying began ({log.clock(learned.next_weighing_h)})."
        )
    return lines


def _weighings(log, system: str) -> str:
    """A table of what was weighed: a line a moment, a column a tray, at most ten trays side by side."""
    unit, size, digits = ("oz", 0.45359237 / 16, 1) if system == "us" else ("g", 0.001, 0)
    moments = sorted({entry.hours for entry in log.weighings})
    found = {(entry.hours, entry.tray): f"{entry.mass / size:.{digits}f}" for entry in log.weighings}
    blocks = []
    for first in range(0, len(log.trays), 10):
        trays = log.trays[first : first + 10]
        lines = [f"{'':16} " + "".join(f"{tray[:5]:>6}" for tray in trays)]
        lines += [
            f"{log.clock(hours):16} " + "".join(f"{found.get((hours, tray), ''):>6}" for tray in trays)
            for hours in moments
        ]
        blocks.append("\n".join(lines))
    title = f"Weighings, {unit}, by tray"
    return "\n".join([title, "-" * len(title), *blocks]) if blocks else ""
