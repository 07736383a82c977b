"""Which words of a finding are shown: they depend on the verdict, on pack and place, and on tense.

A plan speaks of what will be, a log of what was. The conditions are columns of ``data/safety_rules.csv``: a rule may have
several rows, one for each way to say it, and the first whose conditions all hold is shown. None of this moves a verdict.
"""

from __future__ import annotations

from dataclasses import dataclass

from flakeyard.messages import say, translated
from flakeyard.steps.judge.facts import RuleText, rule_rows

PLAN, LOG = "plan", "log"
PACK_KINDS = ("open", "tight", "airless", "not_known")
TRAITS = ("moist", "reached", "raw", "heated", "fatty", "two_weeks", "weak_salt", "thawing_not_known", "no_laboratory")


@dataclass(frozen=True)
class Scene:
    """What the choice of words hangs on: tense, verdict, the place it is kept at (None: nowhere), kind of pack, traits."""

    tense: str
    keep: str
    eat: str
    place: str | None
    pack: str
    traits: frozenset[str]

    def fits(self, row: RuleText) -> bool:
        """Whether all conditions of a row hold; an empty one always does."""
        told = (
            (row.tense, self.tense), (row.when_keep, self.keep), (row.when_eat, self.eat),
            (row.when_place, self.place), (row.when_pack, self.pack),
        )  # fmt: skip
        return all(not allowed or found in allowed.split() for allowed, found in told) and self.traits.issuperset(
            row.when.split()
        )

    def row(self, found: RuleText) -> RuleText | None:
        """The row to show for one that a rule found; None where none fits. A row from another table is shown as it is."""
        rows = rule_rows().get((found.rule, found.variant))
        return found if rows is None else next((row for row in rows if self.fits(row)), None)


def pack_kind(pack) -> str:
    """How a pack deals with air; one that does not say counts as not known."""
    airtight, airless = (getattr(pack, trait, None) for trait in ("airtight", "removes_air"))
    if airless:
        return "airless"
    if airtight is None or airless is None:
        return "not_known"
    return "tight" if airtight else "open"


def pack_words(pack) -> str:
    """A pack by its name."""
    return translated(pack.common_name, "packs.csv") if hasattr(pack, "common_name") else say("safety.the_pack")
