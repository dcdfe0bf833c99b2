"""The other load sense: the same sections loaded along +y."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.members import curve_moments, free_limit
from kit.members.walls import KINDS, column

SWAPPED = (
    ("y_top_mm", "y_bottom_mm"),
    ("Wel_x_top_mm3", "Wel_x_bottom_mm3"),
    ("Wel_x_free_tension_mm3", "Wel_x_free_compression_mm3"),
    ("head_left_mm", "base_left_mm"),
    ("head_right_mm", "base_right_mm"),
    ("head_contact_mm", "base_contact_mm"),
    ("head_leg_mm", "base_leg_mm"),
    ("head_web_mm", "base_web_mm"),
)
NEGATED = ("y_top_mm", "y_bottom_mm", "Ixy_mm4", "principal_angle_deg", "ys_mm", "beta_x_mm")


def upside_down(sections: pd.DataFrame) -> pd.DataFrame:
    """The table of the sections mirrored top to bottom: loading these down is loading those up.

    Plastic moduli for a ratio ρ of strengths below ÷ above follow from those for 1/ρ, Wpl'(ρ) = ρ Wpl(1/ρ);
    where the table lacks 1/ρ the column becomes NaN, which is not assessed.
    """
    changed = {}
    for one, other in SWAPPED:
        if one in sections and other in sections:
            changed[one], changed[other] = sections[other], sections[one]
    # What buckles first is another wall when the other side is compressed: not known.
    unknown = [*(column(kind) for kind in KINDS), *free_limit.NAMES]
    turned = sections.drop(columns=unknown, errors="ignore")
    turned = turned.assign(**changed)
    turned = turned.assign(**{name: -turned[name] for name in NEGATED if name in turned})
    return turned.assign(**_plastic(sections), **_by_curve(sections))


def _by_curve(sections: pd.DataFrame) -> dict[str, pd.Series]:
    """Moments by a measured curve: those of the other sense."""
    column, both = curve_moments.name, (True, False)
    pairs = ((column(held, here), column(held, not here)) for held in both for here in both)
    return {mine: sections[other] for mine, other in pairs if other in sections}


def _plastic(sections: pd.DataFrame) -> dict[str, pd.Series | float]:
    """Plastic moduli about x of the mirrored sections, for unequal strengths."""
    found = {}
    for name in sections.columns:
        stem, at, ratio = str(name).partition("@")
        if at and stem.startswith("Wpl_x"):
            inverse = f"{stem}@{1.0 / float(ratio):.4f}"
            found[name] = float(ratio) * sections[inverse] if inverse in sections else np.nan
    return found
