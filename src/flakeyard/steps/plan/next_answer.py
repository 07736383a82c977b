"""The one answer that would help most: every fact that was not told is tried at the best that may plausibly be true.

Whoever tells a batch piece by piece wants to know what to find out next. A fact that only the rules read is judged on
the drying that is there already; any other goes through the whole plan again, with a small ensemble. What comes out
holds only if the answer is true: it is a reason to look, never a verdict.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from flakeyard.steps.intent.batch_file import with_typed
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge.safety import EAT, KEEP, Verdict
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.judging import judge
from flakeyard.steps.plan.plan import Outcome, plan

MEMBERS = 20  # of a plan that is tried: enough to see a verdict change (judgement)
NEARLY_ALIKE = 1.1  # thickest piece over the usual one where they were cut with care (judgement)
ONLY_RULES = ("origin", "stock", "frozen_at", "frozen_days", "hours_above_4c", "hours_above_21c", "warmest", "gutted",
              "smells_normal", "waters", "hold", "checked", "to_tray")  # fmt: skip
FROZEN = {"stock": "frozen", "frozen_at": "-20 °C", "frozen_days": 7}
BEST = (  # section, and what may plausibly be told: the first key is the fact, the others go with it (judgement)
    ("fish", {"gutted": True}), ("fish", {"smells_normal": True}), ("fish", {"hours_above_4c": 0, "hours_above_21c": 0}),
    ("fish", {"hours_above_21c": 0}), ("fish", {"warmest": "20 °C"}), ("fish", {"species": "Atlantic cod"}),
    ("fish", {"waters": "cold or temperate"}), ("fish", {"origin": "farmed"}), ("fish", FROZEN),
    ("fish", {"frozen_at": "-20 °C"}), ("fish", {"frozen_days": 7}),
    ("heat", {"checked": "probe"}), ("heat", {"hold": "1 min"}), ("heat", {"to_tray": "5 min"}),
    ("cut", {"skin": "off"}), ("dryer", {"faces": 2}), ("dryer", {"heater": "1000 W"}), ("dryer", {"fresh_air": "30 m3/h"}),
    ("room", {"temperature": "20 °C"}), ("room", {"relative_humidity": 40}),
    ("keep", {"pack": "glass jar"}), ("keep", {"pack": "paper bag"}), ("keep", {"measured_error": 0.01}),
    ("keep", {"measured_by": "laboratory"}),
)  # fmt: skip
NEEDS = {  # facts that mean something only where another is told so
    "frozen_at": ("stock", "frozen"), "frozen_days": ("stock", "frozen"), "measured_error": ("measured_water_activity", None),
    "measured_by": ("measured_water_activity", None),
}  # fmt: skip


@dataclass(frozen=True)
class Fact:
    """Something not told, with the best that may be true, as typed in a batch file."""

    section: str
    typed: dict

    @property
    def key(self) -> str:
        return next(iter(self.typed))

    @property
    def best(self):
        return self.typed[self.key]

    @property
    def only_rules(self) -> bool:
        """Whether no number of the plan hangs on it."""
        return self.key in ONLY_RULES

    @property
    def asked_by_rules(self) -> bool:
        return self.only_rules or self.key == "species"

    def put_in(self, batch: Batch) -> Batch:
        """The batch with this told, and with nothing that was told changed."""
        record = getattr(batch, self.section)
        return with_typed(
            batch, self.section, **{key: one for key, one in self.typed.items() if getattr(record, key) is None}
        )


@dataclass(frozen=True)
class NextAnswer:
    """The fact to find out first, and the verdict if it is as good as may be: by itself (``alone``), or, where no single
    fact changes anything, with the others that rules ask for at their best too."""

    fact: Fact
    verdict: Verdict
    alone: bool


def untold(batch: Batch) -> tuple[Fact, ...]:
    """Facts that were not told and may change a verdict, the alternatives of one fact beside each other."""
    usual = f"{1000 * NEARLY_ALIKE * batch.cut.thickness:.4g} mm"
    facts = [Fact(*row) for row in (*BEST, ("cut", {"thickest": usual}))]
    return tuple(fact for fact in facts if _is_open(fact, batch))


def _is_open(fact: Fact, batch: Batch) -> bool:
    record = getattr(batch, fact.section)
    if record is None or getattr(record, fact.key) is not None:
        return False
    other, wanted = NEEDS.get(fact.key, ("", None))
    return not other or getattr(record, other) == wanted or (wanted is None and getattr(record, other) is not None)


def next_answer(batch: Batch, members: int = MEMBERS) -> NextAnswer | None:
    """The fact that would make the verdict mildest, of those that were not told; None where none would."""
    now = plan(batch, members)
    facts = untold(batch)
    tried = [(fact, _verdict(now, [fact], members)) for fact in facts]
    best = max(tried, key=lambda one: mildness(one[1], batch), default=None)
    if best and mildness(best[1], batch) > mildness(now.verdict, batch):
        return NextAnswer(*best, alone=True)
    facts = tuple(fact for fact in facts if fact.asked_by_rules)
    whole = _verdict(now, facts, members)
    if mildness(whole, batch) <= mildness(now.verdict, batch):
        return None
    without = [(fact, _verdict(now, [other for other in facts if other.key != fact.key], members)) for fact in facts]
    return NextAnswer(min(without, key=lambda one: mildness(one[1], batch))[0], whole, alone=False)


def mildness(verdict: Verdict, batch: Batch) -> tuple[int, bool]:
    """How mild a verdict is, and whether it grants the place asked; more is better.

    Returns: a place in the orders of verdicts [count, -7–0], and whether the aim is granted
    Source: the rules
    """
    return -KEEP.index(verdict.keep) - EAT.index(verdict.eat), ways.grants(verdict, batch.keep.aim)


def _verdict(now: Outcome, facts: Iterable[Fact], members: int) -> Verdict:
    """The verdict with some facts told at their best."""
    facts, batch = tuple(facts), now.batch
    for fact in facts:
        batch = fact.put_in(batch)
    if all(fact.only_rules for fact in facts):
        return judge(batch, now.laid, now.load).verdict
    return plan(batch, members).verdict
