"""What the lessons look into: one step of a batch at a time, in numbers in SI (h and °C where a name says so).

SODIUM_A_DAY is the most sodium of a day [mg] for the stricter of two guidances, HYGROMETER_ERROR the doubt about a
household hygrometer that was checked over wet salt [water activity].
"""

from __future__ import annotations

from flakeyard.door import measure_next
from flakeyard.limits import SODIUM_WHO as SODIUM_A_DAY
from flakeyard.steps.chain.brining import hydrometer_degrees
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.storing import sodium_mg_per_serving
from flakeyard.steps.judge.water_check import HYGROMETER_ERROR, corrected_reading, humidity_over
from flakeyard.steps.learn.book import Trial, hours_by_hand, only, retyped, width
from flakeyard.steps.plan import weighing
from flakeyard.steps.plan.cutting import study_cuts
from flakeyard.steps.plan.loading import fill_dryer, lay
from flakeyard.steps.plan.packs import judged
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.soaking import dried_salt, salted, time_to
from flakeyard.steps.plan.weighing import when_done, when_tray_weighs
from flakeyard.workbook.words import eat_words, headline, keep_words

__all__ = [
    "HYGROMETER_ERROR", "SODIUM_A_DAY", "Trial", "card", "corrected_reading", "demo_book", "dried_salt", "eat_words",
    "evening_out", "fill_dryer", "headline", "hours_by_hand", "hours_by_size", "humidity_over", "hydrometer_degrees",
    "judged", "keep_words", "lay", "measure_next", "only", "retyped", "salted", "sodium_mg_per_serving", "study_cuts",
    "time_to", "when_done", "when_tray_weighs", "width",
]  # fmt: skip


def hours_by_size(outcome: Outcome) -> tuple[Band, ...]:
    """Hours until a thin, a usual and a thickest piece of a plan are done.

    Returns: three Bands [h, 0 up, not known where they never are]
    Source: the drying of the plan
    """
    return tuple(band(hours) for hours in outcome.load.hours_by_class)


def evening_out(outcome: Outcome, temperature: float = weighing.JAR) -> Band:
    """Hours of rest in a closed jar until face and middle of the thickest piece of a plan have come together.

    Parameters: temperature – of the jar [degC]
    Returns: Band [h, 0 up]
    Source: crank_1975, plane sheet without flow through its faces
    """
    return band(weighing.evening_out(outcome.load, temperature))


def demo_book(name: str = "heron") -> Trial:
    """A batch of the demo class with its log, on a scratch copy: ``learned(n)`` is the forecast after n weighings.

    Parameters: name – heron, otter or kingfisher
    Returns: Trial – ``batch``, ``log``, ``moments`` of weighing [h], ``what_if(log)``, ``upto(n)``
    """
    from flakeyard.workbook.panels import batch_book

    return batch_book.demo_book(name)


def card(outcome: Outcome, start: str | None = None, choice=None):
    """The card of a plan, its page for the kitchen wall, to look at.

    Parameters: start – when the fish meets the salt, such as "2026-12-05 18:00"; choice – of `choose_units`
    Returns: a picture with its words
    """
    from flakeyard.workbook.panels.batch_book import card_picture

    return card_picture(outcome, start, choice)
