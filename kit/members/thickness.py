"""Whether a section is thicker than the strengths of its material hold for.

The thickness of a section is taken as the diameter of the greatest circle that fits into it.
"""

from __future__ import annotations

import numpy as np

from kit.members.materials import Material
from kit.members.state import Columns
from kit.sources import carries

# A wall as thick as the limit is inside it; the area of a flattened curve is less certain than this.
ROUNDING = 1e-6


@carries("sz-nagy-1959", caveats=("thickness-beyond-values",))
def least_thickness(columns: Columns) -> np.ndarray:
    """A thickness that some part of every section has, mm.

    Without holes (P − √(P² − 4π A)) / π, else the mean wall, 2 A / P.

    Notes
    -----
    The curves at distance t inside the boundary are no longer than P + 2π (h − 1) t, h the number of holes
    (Steiner; Sz.-Nagy). Added up to the radius r of the greatest circle they cover the area, A ≤ P r +
    π (h − 1) r². So 2 r ≥ 2 A / P for h ≤ 1, with equality for a ring, and the first formula for h = 0, with
    equality for a round bar. With more holes the mean wall may exceed 2 r, by a few per cent where the walls
    are slender. Only a section without holes has no wall of a closed cell.
    """
    area, around = columns["area_mm2"], columns["perimeter_mm"]
    mean = 2.0 * area / around
    if "cell_wall_b_over_t" not in columns:
        return mean
    inside = (around - np.sqrt(np.maximum(around**2 - 4.0 * np.pi * area, 0.0))) / np.pi
    return np.where(columns["cell_wall_b_over_t"] == 0.0, inside, mean)


@carries("polya-szego-1951", caveats=("thickness-not-told",))
def greatest_thickness(columns: Columns) -> np.ndarray:
    """A thickness that no part of a section exceeds, mm.

    Notes
    -----
    A circle in the section is no wider than its envelope, has no greater area, π r² ≤ A, and no greater
    torsion constant, π r⁴ / 2 ≤ J (torsional rigidity grows with the domain: Pólya and Szegő).
    """
    torsion = columns.get("J_high_mm4", columns["J_mm4"])
    by_area = 2.0 * np.sqrt(columns["area_mm2"] / np.pi)
    by_torsion = 2.0 * (2.0 * torsion / np.pi) ** 0.25
    envelope = np.minimum(columns["width_mm"], columns["depth_mm"])
    return np.minimum(envelope, np.minimum(by_area, by_torsion))


def beyond(columns: Columns, material: Material) -> tuple[tuple, tuple]:
    """Rows blocked because they certainly are too thick, and rows of which that cannot be told.

    Returns
    -------
    blocked, caveats : tuples of (key, mask)
        Empty where the material states no greatest thickness.
    """
    limit = material.thickness_up_to_mm
    if limit is None:
        return (), ()
    certain = least_thickness(columns) > limit * (1.0 + ROUNDING)
    perhaps = greatest_thickness(columns) > limit * (1.0 + ROUNDING)
    return (("thickness-beyond-values", certain),), (("thickness-not-told", perhaps & ~certain),)
