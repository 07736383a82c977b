"""A kitchen that dries fish by laws of its own, so that forecasts can be scored against something they did not assume.

`simulate(kind, seed)` gives one batch; `batches` many; `mechanisms.MECHANISMS` says what can be switched on alone.
"""

from .kinds import KINDS
from .kitchen import Evening, Kitchen, Truth, batches, simulate
from .mechanisms import ALL, HARD, MECHANISMS

__all__ = ["ALL", "HARD", "KINDS", "MECHANISMS", "Evening", "Kitchen", "Truth", "batches", "simulate"]
