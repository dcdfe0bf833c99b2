"""Whether a section is thicker than the strengths of its material hold for."""

from __future__ import annotations

import numpy as np

from kit.members.materials import Material
from kit.members.state import Columns
from kit.sources import carries

# A wall as thick as the limit is inside it.
ROUNDING = 1e-6


@carries("en-1993-1-1", "en-1999-1-1", caveats=("thickness-beyond-values",))
def beyond(columns: Columns, material: Material) -> np.ndarray:
    """Rows whose thickest part, the greatest circle that fits into them, is beyond the material's limit, (n,)."""
    thickest = columns["thickest_mm"]
    if material.thickness_up_to_mm is None:
        return np.zeros(np.shape(thickest), dtype=bool)
    return thickest > material.thickness_up_to_mm * (1.0 + ROUNDING)
