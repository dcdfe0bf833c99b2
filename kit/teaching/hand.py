"""A hand calculation beside the computed value, compared where both can be seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class HandCheck:
    """A comparison that agreed.

    Attributes
    ----------
    what : str
        What was compared, with its unit.
    by_hand, computed : float
        In that unit.
    within : float
        Greatest relative difference allowed.
    """

    what: str
    by_hand: float
    computed: float
    within: float

    @property
    def difference(self) -> float:
        """Difference relative to the value by hand."""
        return self.computed / self.by_hand - 1.0

    def _repr_markdown_(self) -> str:
        return (
            f"**By hand** – {self.what}: by hand {self.by_hand:.6g}, computed {self.computed:.6g}; "
            f"they differ by {abs(self.difference):.1e}, allowed {self.within:.1e}."
        )


def hand_check(what: str, by_hand: float, computed: float, within: float = 1e-6) -> HandCheck:
    """Compare a value worked out by hand with the computed one.

    Parameters
    ----------
    what : str
        What is compared, with its unit.
    by_hand, computed : float
        Both in the same unit.
    within : float
        Greatest difference, relative to the value by hand, which must not be 0.

    Raises
    ------
    AssertionError
        With both values, if they differ by more.
    """
    found = HandCheck(what, float(by_hand), float(computed), within)
    if found.by_hand == 0.0:
        raise ValueError(f"{what}: by hand it is 0, which nothing can be compared with in relative terms")
    agrees = np.isfinite(found.difference) and abs(found.difference) <= within
    assert agrees, f"{what}: by hand {found.by_hand:.6g}, computed {found.computed:.6g}, allowed {within:.1e}"
    return found
