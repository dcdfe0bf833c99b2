"""Elastic limit of beams in free bending whose outline's half-wavelength curve is known.

Beam theory keeps the shape of the section. Finite elements on the section do not, so that at a half-wave as
long as the beam they buckle at the same stress or a lower one. Their critical strain (greatest compressive
stress ÷ Young's modulus) against half-wavelength ÷ depth is a curve of the outline alone, the same for a
section twice as large. A table of sections carries it as columns, at fixed ratios.
"""

from __future__ import annotations

import numpy as np

from kit.members.cases import BendingCase
from kit.members.loading import load_effects
from kit.members.state import Columns, State
from kit.sections.halfwave_beam import rigid_bending_limits
from kit.sources import carries

STEP, COUNT = 1.4, 15  # half-wavelengths from once to 111 times the depth
STEM = "free_limit_strain@"
NAMES = tuple(f"{STEM}{number}" for number in range(COUNT))


def curve_columns(depth_mm: float, half_wavelengths_mm, strains) -> dict[str, float]:
    """The curve of one outline as columns: NaN beyond its last half-wavelength, where it moves as a rigid one.

    Parameters
    ----------
    depth_mm : float
    half_wavelengths_mm, strains : (n,) arrays, increasing half-wavelengths
        Lowest critical strain at each.
    """
    place = np.log(STEP) * np.arange(COUNT) + np.log(depth_mm)
    with np.errstate(divide="ignore"):
        known = np.interp(place, np.log(half_wavelengths_mm), np.log(strains), right=np.nan)
    return dict(zip(NAMES, np.exp(known).tolist(), strict=True))


@carries("timoshenko-gere-1961", "trahair-1993", caveats=("halfwave-free-bending", "halfwave-cannot-see"))
def shape_share(columns: Columns, case: BendingCase, state: State) -> tuple[np.ndarray, np.ndarray]:
    """Elastic limit with changes of shape ÷ that of the rigid section, no more than 1; and where it is known.

    Both under a uniform moment on the stress of free bending, at a half-wave as long as the beam (twice that
    for a cantilever): what of it a gradient of moment or the height of the load changes, both share.
    """
    rows = len(columns["area_mm2"])
    if NAMES[0] not in columns:
        return np.ones(rows), np.zeros(rows, dtype=bool)
    hogging = load_effects(case).hogging
    wave = case.span_mm * (2.0 if case.loading == "cantilever" else 1.0)
    rigid = rigid_bending_limits(columns, wave, state.column_modulus, state.column_shear_modulus)[
        int(hogging)
    ]
    modulus = columns[f"Wel_x_free_{'tension' if hogging else 'compression'}_mm3"]
    found = _strain_at(columns, wave / columns["depth_mm"]) * state.column_modulus * modulus
    share = np.where(np.isnan(found), 1.0, np.clip(found / rigid, 0.0, 1.0))
    return share, ~np.isnan(columns[NAMES[0]])


def _strain_at(columns: Columns, ratio: np.ndarray) -> np.ndarray:
    """Critical strain at half-wavelength ÷ depth, straight between logarithms; NaN beyond the curve."""
    curve = np.log(np.stack([columns[name] for name in NAMES]))
    place = np.log(ratio) / np.log(STEP)
    lower = np.clip(np.floor(place).astype(int), 0, COUNT - 2)
    share = np.clip(place - lower, 0.0, None)
    rows = np.arange(len(ratio))
    first, second = curve[lower, rows], curve[lower + 1, rows]
    return np.where(share > 1.0, np.nan, np.exp(first + share * (second - first)))
