"""Checks of what goes into a model, records of what a model was tested on, and one root finder.

Two different things can be wrong with an input. It can be impossible (a negative mass, a fraction above one, not a
number): then `checked` refuses it. Or it can be possible but outside what the formula was tested on: then the formula
still computes, and `outside` says in words what is outside. Words, not a number, because nothing there is known to
be right: whoever shows the result has to say so.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from flakeyard.messages import say

Numbers = float | np.ndarray


@dataclass(frozen=True)
class Range:
    """What a formula was tested on: bounds of each input, the largest error found there, and where that is written."""

    name: str  # tested.… of the messages
    bounds: Mapping[str, tuple[float, float, str]]  # input name -> lowest, highest, unit
    error: str
    source_id: str

    @property
    def formula(self) -> str:
        """What the formula is about, in words."""
        return say(f"tested.{self.name}")


def checked(name: str, value: ArrayLike, low: float = 0.0, high: float = np.inf) -> np.ndarray:
    """Give the value back as an array of floats, or refuse it when it is impossible.

    Parameters:
        name : str – the parameter as the caller knows it, for the message
        value : float or array – what was given [any]
        low : float – least possible value [as value]
        high : float – greatest possible value [as value]
    Returns: array – the same numbers
    Raises: ValueError naming the parameter, the value and what is allowed
    """
    numbers = np.asarray(value, dtype=float)
    least, most = (numbers.min(), numbers.max()) if numbers.size else (low, low)
    if -np.inf < least and low <= least and most <= high and most < np.inf:  # what is not a number is neither
        return numbers
    possible = np.isfinite(numbers) & (numbers >= low) & (numbers <= high)
    if not np.all(possible):
        wrong = numbers[~possible].ravel()[0] if numbers.ndim else float(numbers)
        bounds = "at_least" if high == np.inf else "between"
        raise ValueError(say(f"input.{bounds}", input=name, wrong=wrong, low=low, high=high))
    return numbers


def outside(tested: Range, **inputs: Numbers | None) -> tuple[str, ...]:
    """Say in words which inputs lie outside what a formula was tested on, or are missing; empty when all is inside.

    Parameters:
        tested : Range – the record that belongs to the formula
        inputs : float or array – the inputs by name; None or not-a-number counts as not known [as the record]
    Returns: tuple of str – one sentence for each input
    """
    sentences = []
    for name, (low, high, unit) in tested.bounds.items():
        value = inputs.get(name)
        numbers = np.asarray(np.nan if value is None else value, dtype=float)
        what = say(f"tested.of.{name}")
        if np.isnan(numbers).any():
            sentences.append(say("tested.not_known", formula=tested.formula, what=what))
        elif (numbers < low).any() or (numbers > high).any():
            given = numbers[(numbers < low) | (numbers > high)].ravel()[0]
            limits = say("tested.limits", low=low, high=high, unit=unit).strip()
            sentences.append(say("tested.outside", formula=tested.formula, what=what, given=given, limits=limits))
    return tuple(sentences)


def rising_root(
    function: Callable[[np.ndarray], np.ndarray], low: ArrayLike, high: ArrayLike, within: float = 0.0
) -> np.ndarray:
    """Find where a rising function crosses zero between two bounds, for whole arrays at once.

    Chandrupatla's rule: a curve through the last three points where they allow it, else a halving. Where there is no
    crossing the nearer bound comes back.

    Parameters:
        function : callable – rising function of an array
        low : float or array – lower bounds
        high : float or array – upper bounds
        within : float – how far off a crossing may be; 0 is as near as numbers go
    Returns: array – the crossings
    """
    before, new = (np.array(bound, dtype=float) for bound in np.broadcast_arrays(low, high))
    f_before, f_new = function(before), function(new)
    bound = np.where(f_before >= 0.0, before, new)
    crosses = (f_before < 0.0) & (f_new > 0.0)
    part = np.full(crosses.shape, 0.5)
    with np.errstate(all="ignore"):
        for _ in range(100):
            trial = before + part * (new - before)
            f_trial = function(trial)
            same = (f_trial > 0.0) == (f_before > 0.0)
            third, f_third = np.where(same, before, new), np.where(same, f_before, f_new)
            new, f_new = np.where(same, new, before), np.where(same, f_new, f_before)
            before, f_before = trial, f_trial
            best = np.where(np.abs(f_before) < np.abs(f_new), before, new)
            least = (2e-16 * np.abs(best) + 1e-18 + within) / np.abs(new - before)
            done = ~crosses | ~(least <= 0.5) | (f_before == 0.0)
            if np.all(done):
                break
            curved = np.clip(_curved(before, new, third, f_before, f_new, f_third), least, 1.0 - least)
            part = np.where(done, 0.5, curved)
    return np.where(crosses, best, bound)[()]


def _curved(a, b, c, f_a, f_b, f_c):
    """Part of the way from a to b at which a curve through three points is zero, or the middle if it bends too much."""
    place, height = (a - b) / (c - b), (f_a - f_b) / (f_c - f_b)
    smooth = (height**2 < place) & ((1.0 - height) ** 2 < 1.0 - place)
    curve = f_a / (f_b - f_a) * f_c / (f_b - f_c) + (c - a) / (b - a) * f_a / (f_c - f_a) * f_b / (f_c - f_b)
    return np.where(smooth & np.isfinite(curve), curve, 0.5)
