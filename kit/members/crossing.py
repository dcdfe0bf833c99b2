"""Where a use first reaches 1, for all rows at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

HALVINGS, CHORDS = 9, 7


def first_crossing(excess: Callable[[np.ndarray], np.ndarray], high: np.ndarray) -> np.ndarray:
    """Load at which ``excess`` (use − 1) turns positive between 0 and ``high``; ``high`` where it never does.

    Parameters
    ----------
    excess : function of the load, (n,) to (n,)
        Negative at zero load and growing.
    high : (n,) array
        Loads not to be passed.

    Notes
    -----
    Nine halvings, then chords by the Illinois rule, which need no derivative and never leave the bracket.
    The lower end is returned, which is on the safe side.
    """
    low, top = np.zeros_like(high), high
    at_top = excess(top)
    spared = ~(at_top > 0.0)
    at_low, at_high = np.full_like(high, -1.0), at_top
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        value = excess(middle)
        over = value > 0.0
        low, at_low = np.where(over, low, middle), np.where(over, at_low, value)
        high, at_high = np.where(over, middle, high), np.where(over, value, at_high)
    for _ in range(CHORDS):
        with np.errstate(invalid="ignore", divide="ignore"):
            chord = (low * at_high - high * at_low) / (at_high - at_low)
        chord = np.where((chord > low) & (chord < high), chord, 0.5 * (low + high))
        value = excess(chord)
        over = value > 0.0
        low, at_low = np.where(over, low, chord), np.where(over, 0.5 * at_low, value)
        high, at_high = np.where(over, chord, high), np.where(over, value, 0.5 * at_high)
    return np.where(spared, top, low)
