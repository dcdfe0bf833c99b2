"""Ties: the gross section yields, or the net section breaks."""

from __future__ import annotations

import numpy as np

from kit.members.cases import TensionCase
from kit.members.state import Assessment, Columns, Limit, State
from kit.sources import carries


def gross_yield(area_mm2, strength):
    """Load at which the whole section yields, N = A f (``strength`` in MPa)."""
    return area_mm2 * strength


def net_fracture(area_mm2, holes_area_mm2, ultimate):
    """Load at which the section less its holes breaks, N = (A − A_holes) f_u; no area left gives zero."""
    return np.maximum(area_mm2 - holes_area_mm2, 0.0) * ultimate


@carries("en-1993-1-1", "aisc-360", caveats=("central-load", "grips-not-considered"))
def assess(columns: Columns, case: TensionCase, state: State) -> Assessment:
    """Assess ties, row by row; loads in N. EN 1993-1-1, 6.2.3 without its factor 0.9; AISC 360, D2."""
    area = columns["area_mm2"]
    holed = case.holes_area_mm2 > 0
    everywhere = np.ones(len(area), dtype=bool)
    caveats = [("central-load", everywhere), ("grips-not-considered", everywhere)]
    blocked = []
    if not state.ductile:
        limits = [Limit("fracture", gross_yield(area, state.tension))]
        # Stress at the edge of a hole is about three times the mean: nothing redistributes it here.
        blocked.append(("brittle-with-holes", everywhere & holed))
    else:
        limits = [Limit("yield", gross_yield(area, state.tension))]
        if state.ultimate is not None:
            limits.append(Limit("fracture", net_fracture(area, case.holes_area_mm2, state.ultimate)))
        elif holed:
            limits.append(
                Limit("yield of the net section", net_fracture(area, case.holes_area_mm2, state.tension))
            )
    return Assessment(tuple(limits), tuple(caveats), tuple(blocked))
