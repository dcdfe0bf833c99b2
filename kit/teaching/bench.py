"""The bench: what a setting of its controls amounts to. Nothing here knows of controls or notebooks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from shapely import Polygon

from kit.members.cases import BendingCase, CompressionCase, LoadCase, TensionCase, TorsionCase
from kit.members.merit import line_of_equal_merit
from kit.members.resistance import resistance
from kit.members.service import Service
from kit.outlines.preparing import Prepared, turn
from kit.sections.halfwave import section_under
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_stress import LinearStress, isotropic
from kit.sections.section import SectionProperties, properties, turned
from kit.sources import caveats as caveat_texts
from kit.teaching import saltmere

BOUNDS = 0.03  # how close the bounds on J must come: the bench is quick, a study is closer
FLATTEN_MM = 0.15  # coarse, but the area is kept: fewer sides, fewer triangles
ELEMENTS = 200
HALF_WAVES = 10
NOT_ASSESSED = "Not assessed: "


@dataclass(frozen=True)
class Setting:
    """Where the controls stand.

    Attributes
    ----------
    outline : str
        Name of a drawing, or a single character.
    typeface : str
        Of the character; a drawing has none.
    turn_deg : float
        Counter-clockwise.
    cutter_radius_mm, span_mm : float
    material : str
        Key of a material.
    """

    outline: str = "otter"
    typeface: str = "DejaVu Serif"
    turn_deg: float = 0.0
    cutter_radius_mm: float = 2.0
    span_mm: float = 1000.0
    material: str = "saltmere-lumber"


@dataclass(frozen=True)
class Shown:
    """What follows from a setting at once.

    Attributes
    ----------
    prepared : Prepared
        At 0°.
    polygon : shapely.Polygon, mm
        Turned.
    properties : SectionProperties
        Turned.
    members : DataFrame
        A row for each load case: ``load_case``, ``resistance``, ``unit``, ``limit_state``, ``mass_kg``, and ``why``
        there is no resistance, if there is none.
    """

    prepared: Prepared
    polygon: Polygon
    properties: SectionProperties
    members: pd.DataFrame


@lru_cache(maxsize=64)
def prepared_of(outline: str, typeface: str, cutter_radius_mm: float) -> Prepared:
    """The outline made ready in an envelope of 100 × 100 mm; raises Unusable where the tool cannot make it."""
    drawn = saltmere.letter(outline, typeface) if len(outline) == 1 else saltmere.drawing(outline)
    return saltmere.ready(drawn, cutter_radius_mm=cutter_radius_mm, flatten_mm=FLATTEN_MM)


@lru_cache(maxsize=64)
def solved(outline: str, typeface: str, cutter_radius_mm: float) -> SectionProperties:
    """Properties at 0°: the one thing that takes a while, so kept for every turn, span and material."""
    made = prepared_of(outline, typeface, cutter_radius_mm)
    return properties(made.polygon, internal_radius_mm=made.internal_radius_mm, bounds=BOUNDS)


def cases_of(span_mm: float) -> tuple[LoadCase, ...]:
    """The load cases of the bench: one beam, column, tie and shaft of the same length."""
    return (
        BendingCase("beam", span_mm, supports="forked"),
        CompressionCase("column", span_mm),
        TensionCase("tie", span_mm),
        TorsionCase("shaft", span_mm),
    )


def shown(setting: Setting) -> Shown:
    """Outline, properties and resistances of a setting."""
    key = (setting.outline, setting.typeface, setting.cutter_radius_mm)
    made, upright = prepared_of(*key), solved(*key)
    polygon = turn(made.polygon, setting.turn_deg)
    found = turned(upright, made.polygon, setting.turn_deg) if setting.turn_deg else upright
    table = pd.DataFrame([saltmere.row(found, section_id="bench", outline=setting.outline)]).infer_objects()
    material = saltmere.materials()[setting.material]
    rows = [_row(table, case, material) for case in cases_of(setting.span_mm)]
    return Shown(made, polygon, found, pd.DataFrame(rows))


def _row(table: pd.DataFrame, case: LoadCase, material) -> dict:
    found = resistance(table, case, material, Service()).iloc[0]
    torque = isinstance(case, TorsionCase)
    return {
        "load_case": case.name,
        "resistance": float(found["resistance_Nmm" if torque else "resistance_N"]),
        "unit": "N mm" if torque else "N",
        "limit_state": found["limit_state"],
        "mass_kg": float(found["mass_kg"]),
        "why": _why_not(found["caveats"].split()),
    }


def _why_not(caveats: list[str]) -> str:
    """Of the caveats of a member those that say why it is not assessed, the first sentence of each."""
    texts = (caveat_texts()[key]["text"] for key in caveats)
    reasons = (text.removeprefix(NOT_ASSESSED) for text in texts if text.startswith(NOT_ASSESSED))
    return "; ".join(reason.partition(". ")[0].rstrip(".") for reason in reasons)


@lru_cache(maxsize=1)
def reference() -> pd.Series:
    """The demo's reference, a plain I of 100 × 100 mm, as a row of sections."""
    plain = saltmere.shape("i-section", depth=100, width=100, flange=12, web=12, root_radius=3)
    return saltmere.row(properties(plain, internal_radius_mm=3.0, bounds=BOUNDS), section_id="plain I")


@lru_cache(maxsize=64)
def equal_merit(span_mm: float, material: str) -> tuple[np.ndarray, np.ndarray]:
    """Mass (kg) and load (N) of beams that are as good for their mass as the reference."""
    case = cases_of(span_mm)[0]
    line = line_of_equal_merit(reference(), case, saltmere.materials()[material], Service())
    return line["mass_kg"].to_numpy(), line["load"].to_numpy()


def half_waves(
    setting: Setting, wanted: Callable[[], bool] = lambda: True
) -> tuple[np.ndarray, np.ndarray] | None:
    """Half-wavelengths (mm) and critical stresses (MPa) in even compression, from a quarter depth to the span.

    Parameters
    ----------
    setting : Setting
    wanted : callable
        Asked before each half-wavelength; once it says no the rest is not computed, and the answer is None.
    """
    lengths = np.geomspace(25.0, max(setting.span_mm, 400.0), HALF_WAVES)
    stress = []
    for length in lengths:
        if not wanted():
            return None
        stress.append(_critical_MPa(_wall(setting), float(length)))
    return lengths, np.array(stress)


def _wall(setting: Setting) -> tuple[Polygon, float, float]:
    """What a half-wavelength's stress follows from: polygon, modulus, Poisson's ratio. Even compression knows no turn."""
    material = saltmere.materials()[setting.material]
    polygon = prepared_of(setting.outline, setting.typeface, setting.cutter_radius_mm).polygon
    return polygon, material.youngs_modulus_MPa.mean, material.poissons_ratio


@lru_cache(maxsize=8)
def _meshed(polygon: Polygon, modulus_MPa: float, poissons_ratio: float):
    return section_under(
        polygon, isotropic(modulus_MPa, poissons_ratio), LinearStress(-1.0), elements=ELEMENTS
    )


@lru_cache(maxsize=1024)
def _critical_MPa(wall: tuple[Polygon, float, float], length_mm: float) -> float:
    return float(buckling_modes(_meshed(*wall).assembly, length_mm, modes=1).factors[0])
