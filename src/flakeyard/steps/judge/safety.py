"""Judge: where a batch may be kept and whether it may be eaten, by rules alone.

The rules and their words are rows of ``data/safety_rules.csv``; here stand only the conditions. Every rule can raise
the severity of the verdict and none can lower it, so a missing rule is the only way to be too mild. What is not known
counts as the unsafe value or leads to "not known", never to a milder verdict. Nothing here certifies a batch.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from flakeyard.steps.judge.facts import PLACES, Facts, RuleText, fact_words, rule_texts

__all__ = [
    "EAT",
    "KEEP",
    "PLACES",
    "Caution",
    "Facts",
    "Reason",
    "Verdict",
    "fact_words",
    "judge",
    "rule_texts",
    "severest",
]

KEEP = ("cupboard", "cold", "freezer", "not_known", "nowhere")  # severity rises
EAT = ("ready", "cook_first", "not_known", "no")

# Limits; the texts and sources stand beside the rule of the same name in data/safety_rules.csv.
SHELF_MEASURED = 0.85  # L5: no growth or toxin of any pathogen at or below it
SHELF_ESTIMATED = 0.80  # L4: judgement, 0.05 below the line for what was only estimated
RUNGS = ((0.97, "L1"), (0.92, "L2"), (SHELF_MEASURED, "L3"))  # above the limit: the rung of a moist fish
DRY_RUNGS = ((0.60, "L8"), (0.70, "L7"), (0.75, "L6"))  # at or below the limit (L8: below)
METERS_DISAGREE = 0.10  # L9: judgement
KILL_CORE = (165 - 32) / 1.8  # K1: 165 °F, degC
KILL_CORE_HELD, KILL_HOLD = 71.0, 1.0  # K1: degC (160 °F), min
PARASITE_CORE = (145 - 32) / 1.8  # G3: 145 °F, degC
PARASITE_FREEZER, PARASITE_DAYS = -20.0, 7.0  # G3: degC (-4 °F), days
HISTAMINE_HOURS, HISTAMINE_HOURS_COOL = 4.0, 8.0  # G2: with and without time above 21 °C
WARM_HOURS, HOT_HOURS, HOT_ROOM = 2.0, 1.0, (90 - 32) / 1.8  # G4: h, h above 90 °F, degC
CLOCK_HOURS, CLOCK_INNER, CLOCK_WARM_HOURS = 4.0, 2.0, 2.0  # T1
STAPH_HOURS = 3.0  # T3
FATTY = 0.05  # P8: kg fat per kg raw fish
SALT_BANDS = (  # B3: g salt per 100 g water phase, at most
    (0.01, "unsalted"),
    (0.04, "very light"),
    (0.10, "light"),
    (0.20, "medium"),
    (1.00, "heavy"),
)


@dataclass(frozen=True)
class Reason:
    """Why the verdict is what it is: the rule, its words and the id of its source."""

    rule: str
    text: str
    source: str


@dataclass(frozen=True)
class Caution(Reason):
    """What to heed besides the verdict."""


@dataclass(frozen=True)
class Verdict:
    """Where to keep the fish and whether to eat it, and why; ``unknown`` names the facts that were missing."""

    keep: str
    eat: str
    water_activity_used: float | None
    reasons: tuple[Reason, ...]
    cautions: tuple[Caution, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True)
class Finding:
    """What one rule says of one batch: words, and the mildest verdict it still allows."""

    row: RuleText
    text: str
    keep: str = KEEP[0]
    eat: str = EAT[0]
    missing: tuple[str, ...] = ()


def _say(rule: str, variant: str = "", keep=KEEP[0], eat=EAT[0], missing=(), **words) -> Finding:
    row = rule_texts()[rule, variant]
    return Finding(row, row.text.format(**words), keep, eat, tuple(missing))


def _block(rule: str, variant: str = "", missing=(), **words) -> Finding:
    return _say(rule, variant, "nowhere", "no", missing, **words)


def _unsure(rule: str, missing, variant: str = "not_known", **words) -> Finding:
    return _say(rule, variant, "not_known", "not_known", missing, **words)


def _degrees(celsius: float) -> str:
    return f"{celsius:.0f} °C ({celsius * 1.8 + 32:.0f} °F)"


def _hours(hours: float) -> str:
    """Hours to one decimal, rounded up so that no breach reads as the limit itself."""
    return f"{_up(hours, 1):g}" if math.isfinite(hours) else "countless"


def _up(value: float, decimals: int) -> float:
    return math.ceil(value * 10**decimals - 1e-6) / 10**decimals


class Case:
    """The facts with what several rules ask of them."""

    def __init__(self, facts: Facts):
        self.facts = facts

    def missing(self, *names: str) -> tuple[str, ...]:
        return tuple(name for name in names if getattr(self.facts, name) is None)

    def known_sum(self, *names: str) -> float:
        """Sum of the times that are known: a lower bound when some are not."""
        return sum(getattr(self.facts, name) or 0.0 for name in names)

    @cached_property
    def killed(self) -> bool:
        core, hold = self.facts.heat_core, self.facts.heat_hold_min
        if core is None:
            return False
        return core >= KILL_CORE - 1e-6 or (core >= KILL_CORE_HELD and hold is not None and hold >= KILL_HOLD)

    @cached_property
    def raw_clock(self) -> tuple[str, ...]:
        """Times in the growth zone that no kill step came before; the cold history counts as a whole."""
        drying = () if self.killed else ("hours_flesh_10_to_57",)
        return ("hours_above_4c", "cure_hours_above_10c", *drying)

    @cached_property
    def raw_warm_clock(self) -> tuple[str, ...]:
        drying = () if self.killed else ("hours_flesh_above_21",)
        return ("hours_above_21c", "cure_hours_above_21c", *drying)

    @cached_property
    def measured(self) -> bool:
        return self.facts.water_activity_measured is not None

    @cached_property
    def water_activity(self) -> float | None:
        """The value the ladder reads: measured plus its error, else the cautious end of the estimate."""
        if not self.measured:
            return self.facts.water_activity_cautious
        if self.facts.measured_error is None:
            return None
        return min(1.0, round(self.facts.water_activity_measured + self.facts.measured_error, 6))

    @cached_property
    def level(self) -> float:
        """Water activity for the ladder: 1 when not known, above 0.85 when drying does not reach its target."""
        known = 1.0 if self.water_activity is None else self.water_activity
        return known if self.facts.target_reached else max(known, SHELF_MEASURED + 1e-9)

    @cached_property
    def moist(self) -> bool:
        return self.level > SHELF_MEASURED

    @cached_property
    def airless(self) -> bool:
        """Whether the pack keeps fresh air out; a pack that is not known, or does not say, counts as one that does."""
        return any(getattr(self.facts.pack, trait, None) is not False for trait in ("airtight", "removes_air"))

    @cached_property
    def activity_words(self) -> str:
        facts = self.facts
        if self.water_activity is None:
            return "not known"
        if self.measured:
            return f"measured {facts.water_activity_measured:.2f}, with its error {_up(self.water_activity, 2):.2f}"
        mid = "" if facts.water_activity_mid is None else f"{facts.water_activity_mid:.2f}, "
        return f"estimated {mid}cautious end {_up(self.water_activity, 2):.2f}"


Findings = Iterator[Finding]


def gutted(case: Case) -> Findings:
    if case.facts.gutted is None:
        yield _unsure("G1", ["gutted"])
    elif not case.facts.gutted:
        yield _block("G1")


def histamine(case: Case) -> Findings:
    """An unknown family counts as one that forms histamine."""
    facts = case.facts
    if facts.histamine_former is False:
        return
    drying = ((), ()) if case.killed else (("hours_flesh_10_to_57",), ("hours_flesh_above_21",))
    clock = ("hours_above_4c", "cure_hours_above_4c", *drying[0])
    warm = ("hours_above_21c", "cure_hours_above_21c", *drying[1])
    hours_warm = case.known_sum(*warm)
    hours = max(case.known_sum(*clock), hours_warm)
    missing = case.missing(*clock, *warm)
    if hours > (HISTAMINE_HOURS if hours_warm > 0.0 else HISTAMINE_HOURS_COOL):
        yield _block("G2", missing=missing, hours=_hours(hours))
    elif missing:
        yield _block("G2", "not_known", missing)
    else:
        yield _say("G2", "within")


def parasites(case: Case) -> Findings:
    facts = case.facts
    if facts.origin == "farmed" or (facts.heat_core is not None and facts.heat_core >= PARASITE_CORE - 1e-6):
        return
    frozen = facts.stock == "frozen" and not case.missing("frozen_at", "frozen_days")
    if frozen and facts.frozen_at <= PARASITE_FREEZER + 1e-6 and facts.frozen_days >= PARASITE_DAYS:
        return
    missing = case.missing("origin", "stock")
    if facts.stock == "frozen":
        missing += case.missing("frozen_at", "frozen_days")
    yield _block("G3", "" if facts.origin else "not_known", missing)


def fit_to_use(case: Case) -> Findings:
    facts = case.facts
    if facts.smells_normal is False:
        yield _block("G4", "smell")
    if facts.thawed_in_vacuum:
        yield _block("G4", "vacuum")
    warm = facts.hours_above_21c or 0.0
    hot = facts.warmest_held is not None and facts.warmest_held > HOT_ROOM
    if warm > (HOT_HOURS if hot else WARM_HOURS):
        yield _block("G4", "warm", hours=_hours(warm))
    missing = case.missing("smells_normal", "hours_above_4c", "hours_above_21c")
    if warm > HOT_HOURS:
        missing += case.missing("warmest_held")
    if missing:
        yield _unsure("G4", missing, what=_plain(missing))


def kind_of_fish(case: Case) -> Findings:
    if case.facts.advisory_species:
        yield _block("G5")
    missing = case.missing("histamine_former", "advisory_species")
    if not case.facts.species_known or missing:
        yield _unsure("G5", (*(() if case.facts.species_known else ("species_known",)), *missing))


def brining(case: Case) -> Findings:
    facts = case.facts
    if facts.cure_hours_above_4c:
        yield _say("B1", hours=_hours(facts.cure_hours_above_4c))
    salt = facts.water_phase_salt
    if salt is not None:
        yield _say("B2", salt=f"{100 * salt:.1f}")
        yield _say("B3", band=next(name for limit, name in SALT_BANDS if salt <= limit))
        if case.moist and salt > SALT_BANDS[0][0]:
            yield _say("B4")
    if facts.vinegar_or_acid:
        yield _say("B5")
    if facts.freshened:
        yield _say("B6")
    if facts.sugar_used:
        yield _say("B7")


def heating(case: Case) -> Findings:
    core = case.facts.heat_core
    if case.killed:
        yield _say("K1", core=_degrees(core))
    elif core is None:
        yield _say("K1", "raw", eat="cook_first")
        yield _say("K3")
        yield _say("K4")
    else:
        yield _say("K2", eat="cook_first", missing=case.missing("heat_hold_min"), core=_degrees(core))
    if core is not None:
        yield _say("K5")


def growth_clock(case: Case) -> Findings:
    warm = case.known_sum(*case.raw_warm_clock)
    hours = max(case.known_sum(*case.raw_clock), warm)
    missing = case.missing(*case.raw_clock, *case.raw_warm_clock)
    if hours > CLOCK_HOURS or warm > CLOCK_WARM_HOURS:
        yield _block("T1", missing=missing, hours=_hours(hours), warm=_hours(warm))
        yield _block("T2")
        yield _say("T6")
        return
    if missing:
        yield _unsure("T1", missing, what=_plain(missing))
    if hours > CLOCK_INNER:
        yield _say("T1", "inner", hours=_hours(hours))
        yield _say("T6")


def after_heating(case: Case) -> Findings:
    hours = case.facts.hours_flesh_10_to_57
    if not case.killed:
        return
    if hours is None:
        yield _say("T3", "not_known", missing=["hours_flesh_10_to_57"])
    elif hours > STAPH_HOURS:
        yield _say("T3", hours=_hours(hours))
        yield _say("T6")


def drying_target(case: Case) -> Findings:
    if case.facts.target_reached is None:
        yield _unsure("R2", ["target_reached"])
    elif not case.facts.target_reached:
        yield _say("R2", keep="cold")
    if case.facts.outside_range:
        yield _say("R1", keep="not_known", eat="not_known", what="; ".join(case.facts.outside_range))


def ladder(case: Case) -> Findings:
    facts, used = case.facts, case.water_activity
    words = {"aw": case.activity_words}
    if used is None:
        needed = ("measured_error",) if case.measured else ("water_activity_cautious",)
        if facts.target_reached is False and not case.measured:
            yield _say("L1", keep="cold", missing=needed, **words)
        else:
            yield _unsure("L1", needed)
        return
    if case.moist:
        rung = next(name for limit, name in RUNGS if case.level > limit)
        yield _say(rung, keep="cold", **words)
    elif not case.measured and used > SHELF_ESTIMATED:
        yield _say("L4", keep="cold", **words)
    else:
        yield _say(_dry_rung(used), **words)
    measured, mid = facts.water_activity_measured, facts.water_activity_mid
    if case.measured and mid is not None and abs(measured - mid) > METERS_DISAGREE:
        yield _say("L9", measured=f"{measured:.2f}", mid=f"{mid:.2f}")


def _dry_rung(used: float) -> str:
    if used < DRY_RUNGS[0][0]:
        return DRY_RUNGS[0][1]
    return next((name for limit, name in DRY_RUNGS[1:] if used <= limit), "L5")


def packing(case: Case) -> Findings:
    facts = case.facts
    if case.moist and case.airless:
        yield _say("P1", "not_known" if facts.pack is None else "", "freezer", missing=case.missing("pack"))
        yield _say("P2")
    removes_air = getattr(facts.pack, "removes_air", False)
    if removes_air or (facts.stock != "fresh" and facts.thawed_in_vacuum is None):
        yield _say("P3")
    if removes_air:
        yield _say("P4")
    if not case.moist:
        yield _say("P5")
        yield _say("P7")
    if case.level >= DRY_RUNGS[0][0]:
        yield _say("P6")
    if facts.fat_raw is None or facts.fat_raw >= FATTY:
        yield _say("P8", "not_known" if facts.fat_raw is None else "", missing=case.missing("fat_raw"))


RULES = (
    *(gutted, histamine, parasites, fit_to_use, kind_of_fish),
    *(brining, heating, growth_clock, after_heating, drying_target, ladder, packing),
)


def _plain(names) -> str:
    """Names of facts as words for a sentence."""
    return ", ".join(fact_words()[name] for name in names)


def severest(values, order: tuple[str, ...]) -> str:
    """The most severe of some verdict words in their order."""
    return max(values, key=order.index)


def judge(facts: Facts) -> Verdict:
    """Judge a batch by every rule; the severest finding is the verdict.

    The words for a place or a rung are left out where a severer rule has already said "nowhere" or "not known": they
    would read as advice to keep the fish.
    """
    case = Case(facts)
    findings = [finding for rule in RULES for finding in rule(case)]
    keep = severest([finding.keep for finding in findings], KEEP)
    eat = severest([finding.eat for finding in findings], EAT)
    asked = _asked(facts.place, keep)
    if keep == "cupboard":
        findings.append(_say("E4"))
    shown = [finding for finding in (*findings, *asked) if _still_said(finding, keep)]
    unknown = dict.fromkeys(name for finding in findings for name in finding.missing)
    reasons = tuple(Reason(*_card(item)) for item in shown if item.row.show == "reason")
    cautions = tuple(Caution(*_card(item)) for item in (*shown, *_always()) if item.row.show in ("caution", "always"))
    used = None if case.water_activity is None else case.level
    return Verdict(keep, eat, used, reasons, cautions, tuple(unknown))


def _asked(place: str | None, keep: str) -> list[Finding]:
    if place is None or keep in ("not_known", "nowhere") or KEEP.index(PLACES[place]) >= KEEP.index(keep):
        return []
    return [_say("A1", place=place, allowed={"cold": "refrigerator or freezer", "freezer": "freezer only"}[keep])]


def _still_said(finding: Finding, keep: str) -> bool:
    if keep == "nowhere":
        return finding.row.section not in ("ladder", "packing")
    if keep == "not_known":
        return finding.row.section != "ladder" or finding.keep == "not_known"
    return True


def _always() -> list[Finding]:
    return [Finding(row, row.text) for row in rule_texts().values() if row.show == "always"]


def _card(finding: Finding) -> tuple[str, str, str]:
    return finding.row.rule, finding.text, finding.row.source_id
