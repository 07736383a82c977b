"""Judge: where a batch may be kept and whether it may be eaten, by rules alone.

The rules and their words are rows of ``data/safety_rules.csv``; here stand only the conditions. Every rule can raise
the severity of the verdict and none can lower it, so a missing rule is the only way to be too mild. What is not known
counts as the unsafe value or leads to "not known", never to a milder verdict. Nothing here certifies a batch.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from flakeyard import limits, refused
from flakeyard.messages import number, say
from flakeyard.steps.judge import shown, warm_hours, water_check
from flakeyard.steps.judge.clock import Clock, add_hours
from flakeyard.steps.judge.facts import PLACES, PLAIN, Facts, RuleText, fact_words, rule_texts
from flakeyard.steps.judge.shown import PLAN, Scene
from flakeyard.steps.judge.warm_hours import WarmHours
from flakeyard.units import fahrenheit, show

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

# What each number is, with its unit, rule and source, stands in data/limits.csv; the words in data/safety_rules.csv.
RUNGS = ((limits.LIKE_FRESH, "L1"), (limits.PERISHABLE, "L2"), (limits.MOIST, "L3"))  # above it: the rung of moist fish
DRY_RUNGS = ((limits.STORE_MOULD, "L7"), (limits.PINK_BACTERIA, "L6"))  # at or below it
SALT_BANDS = (  # B3: at most
    (limits.SALT_UNSALTED, "salt_band.unsalted"),
    (limits.SALT_VERY_LIGHT, "salt_band.very_light"),
    (limits.SALT_LIGHT, "salt_band.light"),
    (limits.SALT_MEDIUM, "salt_band.medium"),
    (1.00, "salt_band.heavy"),
)


@dataclass(frozen=True)
class Reason:
    """Why the verdict is what it is: the rule, its words and the id of its source; the mildest verdict it still allows,
    what to change where it refuses the batch, and which row of its table it is."""

    rule: str
    text: str
    source: str
    keep: str = KEEP[0]
    eat: str = EAT[0]
    way_out: str = ""
    row: str = ""


@dataclass(frozen=True)
class Caution(Reason):
    """What to heed besides the verdict."""


@dataclass(frozen=True)
class Deadline:
    """What the verdict on eating is if the marked piece has its stop weight within so many hours of the heating (None:
    at any later time), and the share of such batches that make it."""

    hours: float | None
    eat: str
    chance: float


@dataclass(frozen=True)
class Verdict:
    """Where to keep the fish and whether to eat it, and why; ``unknown`` names the facts that were missing; ``by`` holds
    the deadlines, the earliest first."""

    keep: str
    eat: str
    water_activity_used: float | None
    reasons: tuple[Reason, ...]
    cautions: tuple[Caution, ...]
    unknown: tuple[str, ...]
    by: tuple[Deadline, ...] = ()


@dataclass(frozen=True)
class Finding:
    """What one rule says of one batch: words, and the mildest verdict it still allows; ``words`` go into the text."""

    row: RuleText
    text: str
    keep: str = KEEP[0]
    eat: str = EAT[0]
    missing: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)


def _say(rule: str, variant: str = "", keep=KEEP[0], eat=EAT[0], missing=(), **words) -> Finding:
    row = rule_texts()[rule, variant]
    return Finding(row, row.text.format(**words), keep, eat, tuple(missing), words)


def _block(rule: str, variant: str = "", missing=(), **words) -> Finding:
    return _say(rule, variant, "nowhere", "no", missing, **words)


def _unsure(rule: str, missing, variant: str = "not_known", **words) -> Finding:
    return _say(rule, variant, "not_known", "not_known", missing, **words)


def _short_of(celsius: float) -> str:
    """A temperature that falls short of a limit, rounded down so that it never reads as the limit itself."""
    metric, us = (math.floor(degrees + 1e-6) for degrees in (celsius, fahrenheit(celsius)))
    return say("safety.short_of", metric=metric, us=us)


def _hours(hours: float) -> str:
    """Hours to one decimal, rounded up so that no breach reads as the limit itself."""
    return number(_up(hours, 1), "g") if math.isfinite(hours) else say("safety.countless")


def _up(value: float, decimals: int) -> float:
    return math.ceil(value * 10**decimals - 1e-6) / 10**decimals


class Case:
    """The facts with what several rules ask of them."""

    def __init__(self, facts: Facts):
        self.facts = facts

    def missing(self, *names: str) -> tuple[str, ...]:
        return tuple(name for name in names if getattr(self.facts, name) is None)

    def clock(self, *names: str) -> Clock:
        """Some times of the facts added up, with what is missing of them."""
        return add_hours({name: getattr(self.facts, name) for name in names})

    @cached_property
    def killed(self) -> bool:
        core, hold = self.facts.heat_core, self.facts.heat_hold_min
        if core is None or not self.facts.heat_probed:
            return False
        held = 0.0 if hold is None else hold
        hot = core >= limits.KILL_CORE - 1e-6 and held >= limits.KILL_HOLD_HOT - 1e-9
        return hot or (core >= limits.KILL_CORE_HELD - 1e-6 and held >= limits.KILL_HOLD - 1e-9)

    def raw_clock(self, cure: str) -> Clock:
        """Hours that no kill step came before: cold history as a whole, the cure by one of its counts, drying."""
        drying = () if self.killed else ("hours_flesh_10_to_57",)
        return self.clock("hours_above_4c", cure, *drying).holding(self.raw_warm_clock)

    @cached_property
    def raw_warm_clock(self) -> Clock:
        """The part of the raw clock above `limits.WARM`."""
        drying = () if self.killed else ("hours_flesh_above_21",)
        return self.clock("hours_above_21c", "cure_hours_above_21c", *drying)

    @cached_property
    def measured(self) -> bool:
        """Whether anything measured the water activity."""
        return self.facts.water_activity_measured is not None

    @cached_property
    def water_activity(self) -> float | None:
        """The value the ladder reads: measured plus its error, else the cautious end of the estimate; the moister of the
        two in a pack without fresh air, unless a reading of its kind `opens_alone`.

        Returns: float or None [water activity, 0–1]
        Source: the facts
        """
        estimate = self.facts.water_activity_cautious
        if not self.measured:
            return estimate
        if self.reading is None or not self.held_to_estimate:
            return self.reading
        return None if estimate is None else max(self.reading, estimate)

    @cached_property
    def reading(self) -> float | None:
        """The measured water activity with its error; None where nothing measured it or no error was told.

        Returns: float or None [water activity, 0–1]
        Source: steps.judge.water_check.end_of_reading
        """
        facts = self.facts
        return water_check.end_of_reading(facts.water_activity_measured, facts.measured_error, facts.measured_by)

    @cached_property
    def held_to_estimate(self) -> bool:
        """Whether a reading may not make the fish drier than its estimate: without fresh air botulism gives no sign."""
        return self.airless and not water_check.opens_alone(self.facts.measured_error, self.facts.measured_by)

    @cached_property
    def overruled(self) -> bool:
        """Whether the estimate counts in the place of a drier reading."""
        return self.measured and self.reading is not None and self.water_activity != self.reading

    @cached_property
    def trusted(self) -> bool:
        """Whether a laboratory or a checked meter measured it."""
        return self.measured and self.facts.measured_by in water_check.TRUSTED

    @cached_property
    def level(self) -> float:
        """Water activity for the ladder: 1 when not known, moist when drying does not reach its target.

        Returns: float [water activity, 0–1]
        Source: the facts; judgement, that not known counts as 1
        """
        known = 1.0 if self.water_activity is None else self.water_activity
        return known if self.facts.target_reached else max(known, limits.MOIST + 1e-9)

    @cached_property
    def moist(self) -> bool:
        return self.level > limits.MOIST

    @cached_property
    def airless(self) -> bool:
        """Whether the pack keeps fresh air out; a pack that is not known, or does not say, counts as one that does."""
        return any(getattr(self.facts.pack, trait, None) is not False for trait in ("airtight", "removes_air"))

    @cached_property
    def activity_words(self) -> str:
        facts = self.facts
        if self.water_activity is None:
            return say("amount.not_known")
        if self.measured and self.reading is not None:
            reading = {"read": facts.water_activity_measured, "most": _up(self.reading, 2)}
            name = "safety.overruled" if self.overruled else "safety.measured"
            return say(name, **reading, estimated=_up(self.water_activity, 2))
        name = "safety.cautious_end" if facts.water_activity_mid is None else "safety.estimated"
        return say(name, middle=facts.water_activity_mid, most=_up(self.water_activity, 2))


AIM_MET = 1e-3  # the search for the weight to stop at ends so near to its aim
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
    clock, warm = case.raw_clock("cure_hours_above_4c"), case.raw_warm_clock
    limit = limits.HISTAMINE_WARM_HOURS if warm.past(0.0) else limits.HISTAMINE_COOL_HOURS
    if clock.past(limit):
        yield _block("G2", missing=clock.missing, hours=_hours(clock.hours))
    elif clock.within(limit):
        yield _say("G2", "within")
    else:
        yield _block("G2", "not_known", clock.missing)


def ends_parasites(core: float | None, probed: bool | None) -> bool:
    """Whether a heating to a core temperature [degC] ends parasites: only where a probe reads it."""
    return bool(probed) and core is not None and core >= limits.PARASITE_CORE - 1e-6


def parasites(case: Case) -> Findings:
    facts = case.facts
    if facts.origin == "farmed" or ends_parasites(facts.heat_core, facts.heat_probed):
        return
    frozen = facts.stock == "frozen" and not case.missing("frozen_at", "frozen_days")
    cold = frozen and facts.frozen_at <= limits.PARASITE_FREEZER + 1e-6
    if cold and facts.frozen_days >= limits.PARASITE_DAYS:
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
    warm = case.clock("hours_above_21c")
    hot = facts.warmest_held is not None and facts.warmest_held > limits.HOT_ROOM
    if warm.past(limits.HOT_ROOM_HOURS if hot else limits.ROOM_HOURS):
        yield _block("G4", "warm", hours=_hours(warm.hours))
    missing = case.missing("smells_normal", "hours_above_4c") + warm.missing
    if warm.past(limits.HOT_ROOM_HOURS):
        missing += case.missing("warmest_held")
    if missing:
        yield _unsure("G4", missing, what=_plain(missing))


def kind_of_fish(case: Case) -> Findings:
    if case.facts.advisory_species:
        yield _block("G5")
    if case.facts.refused_as not in (None, PLAIN):
        yield from _against(refused.row_of(case.facts.refused_as, case.facts.waters), case.missing("waters"))
    missing = case.missing("histamine_former", "advisory_species", "refused_as")
    if not case.facts.species_known or missing:
        yield _unsure("G5", (*(() if case.facts.species_known else ("species_known",)), *missing))


def _against(row: refused.RefusedRow, missing: tuple[str, ...]) -> Findings:
    """A row of the table of refused fish as a finding; an open question leaves all open."""
    words = RuleText(
        rule="G5", variant=row.id, section="gates", show="reason", text=row.why, basis="J", source_id=row.source_id,
        how=row.how, way_out=rule_texts()["G5", "" if row.says == "refuse" else "not_known"].way_out,
    )  # fmt: skip
    if row.says == "refuse":
        yield Finding(words, row.why, "nowhere", "no")
    elif row.says == "ask":
        yield Finding(words, row.why, "not_known", "not_known", missing)


def brining(case: Case) -> Findings:
    facts = case.facts
    if facts.cure_hours_above_4c:
        yield _say("B1", hours=_hours(facts.cure_hours_above_4c))
    salt = facts.water_phase_salt
    if salt is not None:
        yield _say("B2", salt=number(100 * salt, ".1f"))
        yield _say("B3", band=say(next(name for limit, name in SALT_BANDS if salt <= limit)))
        if case.moist and salt > limits.SALT_UNSALTED:
            yield _say("B4")
    if facts.vinegar_or_acid:
        yield _say("B5")
    if facts.freshened:
        yield _say("B6")
    if facts.sugar_used:
        yield _say("B7")


def _degrees(core: float) -> str:
    return show(core, "temperature", "both")


def heating(case: Case) -> Findings:
    core = case.facts.heat_core
    if case.killed and core is not None:
        yield _say("K1", core=_degrees(core))
    elif core is None:
        yield _say("K1", "raw", eat="cook_first")
        yield _say("K3")
        yield _say("K4")
    elif not case.facts.heat_probed:
        yield _say("K1", "unchecked", eat="cook_first", missing=case.missing("heat_probed"), core=_degrees(core))
    elif core >= limits.KILL_CORE - 1e-6:
        yield _say("K2", "hold", eat="cook_first", missing=case.missing("heat_hold_min"), core=_degrees(core))
    else:
        yield _say("K2", eat="cook_first", missing=case.missing("heat_hold_min"), core=_short_of(core))
    if core is not None:
        yield _say("K5")


def growth_clock(case: Case) -> Findings:
    clock, warm = case.raw_clock("cure_hours_above_10c"), case.raw_warm_clock
    if clock.past(limits.CLOCK_HOURS) or warm.past(limits.CLOCK_WARM_HOURS):
        yield _block("T1", missing=clock.missing, hours=_hours(clock.hours), warm=_hours(warm.hours))
        yield _block("T2")
        yield _say("T6")
        return
    if clock.missing:
        yield _unsure("T1", clock.missing, what=_plain(clock.missing))
    if clock.past(limits.CLOCK_INNER_HOURS):
        yield _say("T1", "inner", hours=_hours(clock.hours))
        yield _say("T6")


def after_heating(case: Case) -> Findings:
    """The ladder of warm hours, for fish whose heating counts; fish that counts as raw has its own clock."""
    if not case.killed:
        return
    says, hits = warm_hours.rung(case.facts.warm or WarmHours())
    for hit in hits:
        if hit.rung.says != "silent":
            yield _climbed(hit, case.missing("warm"))
    if says != "silent":
        yield _say("T6")


def _climbed(hit: warm_hours.Hit, missing: tuple[str, ...]) -> Finding:
    """A rung as a finding: past the last ones nothing of the fish is kept either. The count stands for the variant."""
    rung = hit.rung
    show_as = "caution" if rung.says == "caution" else "reason"
    row = RuleText(
        rule=rung.rule, variant=rung.count, section="warm", show=show_as, text=hit.text, basis=rung.basis,
        source_id=rung.source_id, how=rung.how, way_out=rung.way_out,
    )  # fmt: skip
    keep, eat = {"caution": (KEEP[0], EAT[0]), "not_known": (KEEP[0], "not_known"), "no": ("nowhere", "no")}[rung.says]
    words = {} if hit.hours is None else {"hours": _hours(hit.hours), "limit": number(rung.above_hours or 0, "g")}
    return Finding(row, hit.text, keep, eat, missing, words)


def drying_target(case: Case) -> Findings:
    if case.facts.target_reached is None:
        yield _unsure("R2", ["target_reached"])
    elif not case.facts.target_reached:
        yield _say("R2", keep="cold")
    if case.facts.outside_range:
        yield _say("R1", keep="not_known", eat="not_known", what="; ".join(case.facts.outside_range))
    if case.facts.borrowed:
        yield _say("R4", keep="not_known", eat="not_known", what=case.facts.borrowed)
    if case.facts.cupboard_outside:
        yield _say("R3", keep="cold", what="; ".join(case.facts.cupboard_outside))


def ladder(case: Case) -> Findings:
    facts, used = case.facts, case.water_activity
    words = {"aw": case.activity_words}
    if used is None:
        needed = ("measured_error",) if case.measured and case.reading is None else ("water_activity_cautious",)
        if facts.target_reached is False and not case.measured:
            yield _say("L1", keep="cold", missing=needed, **words)
        else:
            yield _unsure("L1", needed)
        return
    if case.moist:
        rung = next(name for limit, name in RUNGS if case.level > limit)
        yield _say(rung, keep="cold", **words)
    elif case.trusted:
        yield _say(_dry_rung(used), **words)
    elif _too_moist_by_estimate(facts):
        variant = "hygrometer" if case.measured else "brine" if facts.brine_stays else ""
        yield _say("L4", variant, keep="cold", missing=case.missing("water_activity_cautious"), **words)
    elif facts.brine_stays and facts.place == "cupboard":
        yield _say("L5", "brine", days=number(limits.BRINE_DAYS, ".0f"), **words)
    elif facts.water_activity_mid is None or facts.water_activity_mid > limits.CUPBOARD_AIM + AIM_MET:
        variant = "hygrometer" if case.measured else "aim"
        yield _say("L4", variant, keep="cold", missing=case.missing("water_activity_mid"), **words)
    else:
        yield _say(_dry_rung(used), **words)


def _too_moist_by_estimate(facts: Facts) -> bool:
    """Whether the cautious end of the estimate is too moist for the cupboard, or not known."""
    end = facts.water_activity_cautious
    return end is None or end > limits.CUPBOARD_ESTIMATE


def meter(case: Case) -> Findings:
    """What measured the water activity, and whether that fits the estimate."""
    measured, mid = case.facts.water_activity_measured, case.facts.water_activity_mid
    if measured is not None and case.measured and mid is not None and abs(measured - mid) > limits.METERS_DISAGREE:
        yield _say("L9", measured=number(measured, ".2f"), mid=number(mid, ".2f"))
    if case.measured and case.facts.measured_by is None:
        yield _say("L9", "by_what", missing=["measured_by"], error=number(water_check.HYGROMETER_ERROR, ".2f"))
    if case.overruled and case.moist:
        yield _say("L10", most=number(limits.SMALL_METER_ERROR, ".2f"))


def _dry_rung(used: float) -> str:
    if used < limits.ANY_MICROBE:
        return "L8"
    return next((name for limit, name in DRY_RUNGS if used <= limit), "L5")


def packing(case: Case) -> Findings:
    facts = case.facts
    if case.moist and case.airless:
        told = {} if facts.pack is None else {"pack": shown.pack_words(facts.pack)}
        yield _say("P1", "not_known" if facts.pack is None else "", "freezer", missing=case.missing("pack"), **told)
        yield _say("P2")
    removes_air = getattr(facts.pack, "removes_air", False)
    if removes_air or (facts.stock != "fresh" and facts.thawed_in_vacuum is None):
        yield _say("P3", pack=shown.pack_words(facts.pack))
    if removes_air:
        yield _say("P4")
    if not case.moist:
        yield _say("P5")
        yield _say("P7", pack=shown.pack_words(facts.pack))
    if case.level >= limits.ANY_MICROBE:
        yield _say("P6")
    if facts.fat_raw is None or facts.fat_raw >= limits.FATTY:
        yield _say("P8", "not_known" if facts.fat_raw is None else "", missing=case.missing("fat_raw"))


RULES = (
    *(gutted, histamine, parasites, fit_to_use, kind_of_fish),
    *(brining, heating, growth_clock, after_heating, drying_target, ladder, meter, packing),
)


def _plain(names) -> str:
    """Names of facts as words for a sentence."""
    return ", ".join(fact_words()[name] for name in names)


def severest(values, order: tuple[str, ...]) -> str:
    """The most severe of some verdict words in their order."""
    return max(values, key=order.index)


def judge(facts: Facts, tense: str = PLAN, at_least: tuple[str, str] = (KEEP[0], EAT[0])) -> Verdict:
    """Judge a batch by every rule; the severest finding is the verdict.

    Parameters: facts – what is known; tense – of the words, `shown.PLAN` or `shown.LOG`; at_least – verdicts on keeping
    and eating that are known from elsewhere. Words that do not fit the verdict are left out: they would read as advice
    against it.
    """
    case = Case(facts)
    findings = [finding for rule in RULES for finding in rule(case)]
    keep = severest([at_least[0], *(finding.keep for finding in findings)], KEEP)
    eat = severest([at_least[1], *(finding.eat for finding in findings)], EAT)
    said = _warm_once([*findings, _say("E4"), *_asked(facts.place, keep), *_always()], eat)
    scene = _scene(case, tense, keep, eat)
    cards = dict.fromkeys(_card(finding, row) for finding in said if (row := scene.row(finding.row)))
    reasons = (Reason(*card) for show, card in cards if show == "reason")
    cautions = tuple(Caution(*card) for show, card in cards if show in ("caution", "always"))
    unknown = dict.fromkeys(name for finding in findings for name in finding.missing)
    used = None if case.water_activity is None else case.level
    return Verdict(keep, eat, used, deciding_first(reasons, keep, eat), cautions, tuple(unknown))


def deciding_first(reasons: Iterable[Reason], keep: str, eat: str) -> tuple[Reason, ...]:
    """Reasons in such an order that those come first that make the verdict what it is."""

    def beside(reason: Reason) -> bool:
        decides = (reason.keep == keep != KEEP[0], reason.eat == eat != EAT[0])
        return not any(decides)

    return tuple(sorted(reasons, key=beside))


def place_kept(asked: str | None, keep: str) -> str | None:
    """The place that words and days are for: the place asked if the verdict allows it, else the mildest one it allows."""
    if keep not in PLACES.values():
        return None
    if asked is not None and KEEP.index(PLACES[asked]) >= KEEP.index(keep):
        return asked
    return next(place for place, verdict in PLACES.items() if verdict == keep)


def _scene(case: Case, tense: str, keep: str, eat: str) -> Scene:
    """What the choice of words hangs on."""
    facts = case.facts
    salt = facts.water_phase_salt
    fatty = facts.fat_raw is None or facts.fat_raw >= limits.FATTY
    traits = {
        "moist": case.moist, "heated": case.killed, "raw": not case.killed, "fatty": fatty, "two_weeks": not (fatty or facts.brine_stays),
        "reached": bool(facts.target_reached), "weak_salt": salt is not None and salt < limits.KEEPING_SALT,
        "no_laboratory": facts.measured_by != "laboratory",
        "thawing_not_known": facts.stock != "fresh" and facts.thawed_in_vacuum is None,
    }  # fmt: skip
    kind = shown.pack_kind(facts.pack)
    return Scene(tense, keep, eat, place_kept(facts.place, keep), kind, frozenset(one for one in traits if traits[one]))


def _warm_once(findings: list[Finding], eat: str) -> list[Finding]:
    """Warm hours, each count said once and by the severest rung; "not known" beside a "no" would read as milder."""
    warm = [one for one in findings if one.row.section == "warm"]
    dropped = [
        one
        for one in warm
        if any(_outdoes(other, one) for other in warm) or (eat == EAT[-1] and one.eat == "not_known")
    ]
    kept = [one for one in findings if not any(one is other for other in dropped)]
    mild = {one.row.variant: one for one in kept if one.row.rule == "W1"}
    if len(mild) < 2:
        return kept
    whole, moist = mild["h"], mild["hs"]
    both = _say("W1", "h hs", moist_hours=moist.words["hours"], moist_limit=moist.words["limit"], **whole.words)
    return [both if one is whole else one for one in kept if one is not moist]


def _outdoes(one: Finding, other: Finding) -> bool:
    """Whether one rung is severer than another on the same count."""
    return one.row.variant == other.row.variant and EAT.index(one.eat) > EAT.index(other.eat)


def _asked(place: str | None, keep: str) -> list[Finding]:
    if place is None or keep in ("not_known", "nowhere") or KEEP.index(PLACES[place]) >= KEEP.index(keep):
        return []
    return [_say("A1", place=say(f"safety.place.{place}"), allowed=say(f"safety.{keep}"))]


def _always() -> list[Finding]:
    return [Finding(row, row.text) for row in rule_texts().values() if row.show == "always"]


def _card(finding: Finding, row: RuleText) -> tuple[str, tuple]:
    """How a finding is shown, and the fields of its reason or caution."""
    text = finding.text if row is finding.row else row.text.format(**finding.words)
    name = " ".join(filter(None, (row.rule, row.variant, row.case)))
    return row.show, (row.rule, text, row.source_id, finding.keep, finding.eat, row.way_out, name)
