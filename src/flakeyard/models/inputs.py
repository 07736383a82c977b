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

Numbers = float | np.ndarray


@dataclass(frozen=True)
class Range:
    """What a formula was tested on: bounds of each input, the largest error found there, and where that is written."""

    formula: str
    bounds: Mapping[str, tuple[float, float, str]]  # input name -> lowest, highest, unit
    error: str
    source_id: str


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
    possible = np.isfinite(numbers) & (numbers >= low) & (numbers <= high)
    if not np.all(possible):
        wrong = numbers[~possible].ravel()[0] if numbers.ndim else float(numbers)
        limit = f"at least {low:g}" if high == np.inf else f"between {low:g} and {high:g}"
        raise ValueError(f"{name} = {wrong:g} is impossible: allowed is a number {limit}")
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
        plain_name = name.replace("_", " ")
        if np.isnan(numbers).any():
            sentences.append(f"{tested.formula}: {plain_name} is not known")
        elif (numbers < low).any() or (numbers > high).any():
            given = numbers[(numbers < low) | (numbers > high)].ravel()[0]
            limits = f"{low:g} to {high:g} {unit}".rstrip()
            sentences.append(f"{tested.formula}: {plain_name} {given:.4g} is outside the tested {limits}")
    return tuple(sentences)


def rising_root(function: Callable[[np.ndarray], np.ndarray], low: ArrayLike, high: ArrayLike) -> np.ndarray:
    """Find where a rising function crosses zero between two bounds, for whole arrays at once.

    False position with the Illinois weight (an end kept twice running counts half), and every third turn a plain
    halving, so that it is never much slower than halving. Where there is no crossing the nearer bound comes back.

    Parameters:
        function : callable – rising function of an array
        low : float or array – lower bounds
        high : float or array – upper bounds
    Returns: array – the crossings
    """
    low, high = (np.array(bound) for bound in np.broadcast_arrays(np.asarray(low, float), np.asarray(high, float)))
    f_low, f_high = function(low), function(high)
    root, side = np.where(f_low >= 0.0, low, high), np.zeros(np.shape(f_low))
    open_bracket = (f_low < 0.0) & (f_high > 0.0)
    for turn in range(120):
        secant = high - f_high * (high - low) / np.where(open_bracket, f_high - f_low, 1.0)
        trial = 0.5 * (low + high) if turn % 3 == 2 else np.clip(secant, low, high)
        value = function(trial)
        root = np.where(open_bracket, trial, root)
        open_bracket = open_bracket & (value != 0.0) & (high - low > 1e-15 * np.maximum(np.abs(trial), 1e-6))
        if not np.any(open_bracket):
            break
        above = value > 0.0
        f_low = np.where(above, np.where(side > 0.0, 0.5 * f_low, f_low), value)
        f_high = np.where(above, value, np.where(side < 0.0, 0.5 * f_high, f_high))
        low, high, side = np.where(above, low, trial), np.where(above, trial, high), np.where(above, 1.0, -1.0)
    return root[()]
