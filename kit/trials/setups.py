"""What turns a record of a piece into values: the piece's own stiffness per modulus, strain per travel, stress per load.

For every kind of test the travel is δ = F (u/E + C) + toe: u is the compliance of the piece for a modulus of
1 MPa, C that of all else (machine, indentation at the supports, shear where its modulus is known apart).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members import shafts
from kit.members.cases import BendingCase, CompressionCase, LoadCase, TensionCase, TorsionCase
from kit.members.loading import load_effects
from kit.members.materials import Material
from kit.members.state import columns_of
from kit.sections.section import SectionProperties
from kit.sources import carries


@dataclass(frozen=True)
class Setup:
    """A test in numbers.

    Attributes
    ----------
    kind : str
        ``bending``, ``compression``, ``tension`` or ``torsion``.
    unit_compliance : float
        u: travel × modulus ÷ load, 1/mm (torsion: rad MPa / N mm).
    other_compliance : float
        C, mm/N (rad / N mm).
    strain_per_travel : float
        Greatest strain in the piece ÷ its own travel (without machine and toe), 1/mm (1/rad); shear strain
        for torsion. NaN where it is not known.
    stress_per_load : float
        Greatest elastic stress ÷ load, 1/mm2 (1/mm3); NaN where not known.
    offset_strain : float
        Plastic strain at the offset yield.
    modulus : str
        ``E`` or ``G``: which modulus the record gives.
    notes : tuple of str
        What was assumed.
    """

    kind: str
    unit_compliance: float
    other_compliance: float
    strain_per_travel: float
    stress_per_load: float
    offset_strain: float = 0.002
    modulus: str = "E"
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rig:
    """Compliances outside the piece, mm/N (rad / N mm for torsion): machine, and indentation of the piece."""

    machine: float = 0.0
    indentation: float = 0.0

    @property
    def compliance(self) -> float:
        """Both together."""
        return self.machine + self.indentation


def setup_of(section: pd.Series, case: LoadCase, material: Material, rig: Rig = Rig()) -> Setup:
    """The set-up of a whole member.

    Parameters
    ----------
    section : Series
        Its row of ``sections.csv``, as tested (turned, at its measured size).
    case : LoadCase
        With the length or span of the test.
    material : Material
        For Poisson's ratio, or a shear modulus of its own.
    rig : Rig
    """
    columns = {name: values[0] for name, values in columns_of(pd.DataFrame([section])).items()}
    return _SETUPS[type(case)](columns, case, material, rig)


@carries("timoshenko-1955", caveats=("shear-area-without-poisson", "indentation-by-compliance"))
def bending_setup(c: dict, case: BendingCase, material: Material, rig: Rig) -> Setup:
    """A beam: δ = W (f L³/(E I) + s L/(G A_s) + C), ε = m c L/(E I) W.

    Notes
    -----
    f, s and m are the loading's flexure, shear and moment factors; c the distance of the extreme fibre
    from the neutral axis. With G = E/(2(1 + ν)) both terms share one modulus.
    """
    effects = load_effects(case)
    span, free = case.span_mm, case.restraint == "none"
    second = c["Ix_mm4"] - (c["Ixy_mm4"] ** 2 / c["Iy_mm4"] if free else 0.0)
    lesser = c["Wel_x_free_mm3"] if free else min(c["Wel_x_top_mm3"], c["Wel_x_bottom_mm3"])
    flexure = effects.flexure * span**3 / second
    shear = effects.shear_flexure * span / c["shear_area_y_nu0_mm2"]
    stress = effects.moment * span / lesser
    own_shear = material.shear_modulus_MPa is not None
    if not (own_shear or material.isotropic):
        raise InputError(
            "a beam of timber without a shear modulus: its deflection by shear does not follow from E",
            f"materials.{material.key}.shear_modulus",
            "the shear modulus",
        )
    unit = flexure if own_shear else flexure + shear * 2.0 * (1.0 + material.poissons_ratio)
    other = rig.compliance + (shear / material.shear_modulus_MPa if own_shear else 0.0)
    share = 1.0 - unit_share(flexure, unit)
    note = f"shear is {share:.0%} of the piece's deflection"
    return Setup("bending", unit, other, stress / unit, stress, notes=(note,))


def unit_share(flexure: float, unit: float) -> float:
    """Share of bending in the deflection of the piece."""
    return flexure / unit


@carries("timoshenko-1955", caveats=("ends-by-compliance",))
def axial_setup(c: dict, case: CompressionCase | TensionCase, material: Material, rig: Rig) -> Setup:
    """A column before it buckles, or a tie: δ = F (L/(E A) + C)."""
    length, area = case.length_mm, c["area_mm2"]
    return Setup(case.kind, length / area, rig.compliance, 1.0 / length, 1.0 / area)


@carries("vlasov-1961")
def torsion_setup(c: dict, case: TorsionCase, material: Material, rig: Rig) -> Setup:
    """A shaft: φ = T × (twist per torque for G = 1, with E = 2(1 + ν) G).

    The offset of 0.0035 in shear strain is √3 × 0.002 (von Mises).
    """
    ratio = material.youngs_modulus_MPa.mean / material.shear_modulus
    unit = float(shafts.twist(1.0, case.length_mm, c["J_mm4"], ratio * c["Iw_mm6"], case.ends))
    stress = c["tau_per_torque_1_per_mm3"]
    stress = stress if np.isfinite(stress) else np.nan
    return Setup("torsion", unit, rig.compliance, stress / unit, stress, 0.0035, "G")


_SETUPS = {
    BendingCase: bending_setup,
    CompressionCase: axial_setup,
    TensionCase: axial_setup,
    TorsionCase: torsion_setup,
}


def as_measured(section: pd.Series, width_mm: float | None, depth_mm: float | None) -> pd.Series:
    """The section at its measured width and depth.

    Areas and second moments follow exactly from stretching both ways; what does not (torsion, shear
    areas) follows the mean stretch, and only within 5 % of the drawn size.

    Raises
    ------
    ValueError
        If a size differs from the drawn one by more than 5 %.
    """
    wide = 1.0 if not width_mm else width_mm / section["width_mm"]
    deep = 1.0 if not depth_mm else depth_mm / section["depth_mm"]
    if max(abs(wide - 1.0), abs(deep - 1.0)) > 0.05:
        raise ValueError(
            f"measured {width_mm or section['width_mm']:g} × {depth_mm or section['depth_mm']:g} mm, drawn "
            f"{section['width_mm']:.4g} × {section['depth_mm']:.4g} mm: more than 5 % apart"
        )
    if wide == deep == 1.0:
        return section
    changed = section.copy()
    mean = np.sqrt(wide * deep)
    for name, value in section.items():
        power = _POWERS.get(str(name).split("@")[0])
        if power:
            changed[name] = value * wide ** power[0] * deep ** power[1]
        elif str(name) in _ISOTROPIC:
            changed[name] = value * mean ** _ISOTROPIC[str(name)]
    return changed


_POWERS = {
    "area_mm2": (1, 1), "Ix_mm4": (1, 3), "Iy_mm4": (3, 1), "Ixy_mm4": (2, 2), "width_mm": (1, 0), "depth_mm": (0, 1),
    "Wel_x_top_mm3": (1, 2), "Wel_x_bottom_mm3": (1, 2), "Wel_x_free_mm3": (1, 2), "Wpl_x_mm3": (1, 2),
    "Wpl_x_free_mm3": (1, 2), "Wel_y_left_mm3": (2, 1), "Wel_y_right_mm3": (2, 1), "Wpl_y_mm3": (2, 1),
    "xs_mm": (1, 0), "ys_mm": (0, 1), "shear_area_x_nu0_mm2": (1, 1), "shear_area_y_nu0_mm2": (1, 1),
    "x_left_mm": (1, 0), "x_right_mm": (1, 0), "y_bottom_mm": (0, 1), "y_top_mm": (0, 1),
}  # fmt: skip
_ISOTROPIC = {"J_mm4": 4, "J_low_mm4": 4, "J_high_mm4": 4, "Iw_mm6": 6, "I1_mm4": 4, "I2_mm4": 4, "perimeter_mm": 1,
              "tau_per_torque_1_per_mm3": -3, "Wpl_t_mm3": 3, "Wel_1_mm3": 3, "Wel_2_mm3": 3}  # fmt: skip


def row_of(properties: SectionProperties) -> pd.Series:
    """Section properties as a row of ``sections.csv``."""
    return pd.Series(properties.row())
