"""The verb ``size``: how big one outline of a study must be made to carry a load."""

from __future__ import annotations

import base64
import difflib
from dataclasses import dataclass

import numpy as np
import pandas as pd

from kit import quantities
from kit.errors import InputError
from kit.members import curve_moments
from kit.members.cases import LoadCase
from kit.members.sizing import Factors, Sizing, size
from kit.outlines.outline import Outline
from kit.outlines.preparing import turn
from kit.study import fanout, stages, walls
from kit.study.packing import unpack
from kit.study.resolving import Study, Variant
from kit.study.sectioning import SectionTask

# Span ÷ deflection down to which beam theory's small deflections hold within a few per cent.
SMALL = 10.0


@dataclass(frozen=True)
class Asked:
    """What was asked for, in the objects of the study; the load in N, or N mm for torsion."""

    variant: Variant
    case: LoadCase
    outline: str
    orientation_deg: float
    load: float

    @property
    def factors(self) -> Factors:
        """Partial factors of the study."""
        return Factors(self.variant.material_factor, self.variant.load_factor)


def asked(study: Study, outline: str, load: str, case: str, options: dict[str, str | None]) -> Asked:
    """Read what was asked for.

    Parameters
    ----------
    study : Study
    outline, load, case : str
        Name of the outline, a force (a torque for torsion) with its unit, name of the load case.
    options : dict
        ``orientation`` (an angle with its unit) and ``variant`` (its name); None: the first of the study.

    Raises
    ------
    InputError
        With the names there are, or the units there are.
    """
    variant = study.variants[0]
    if options.get("variant") is not None:
        variant = stages.variant_named(study, options["variant"])
    chosen = next((one for one in variant.cases if one.name == case), None)
    if chosen is None:
        raise _unknown("load case", case, [one.name for one in variant.cases], str(study.file))
    turn = options.get("orientation")
    angle = variant.orientations[0] if turn is None else _quantity(turn, "angle", "--orientation")
    amount = _quantity(load, "moment" if chosen.kind == "torsion" else "force", "--load")
    if not amount > 0:
        raise InputError(f"a load of {load}", "--load", "above zero")
    return Asked(variant, chosen, outline, angle, amount)


def _quantity(text: str, dimension: str, where: str) -> float:
    try:
        return quantities.parse(text, dimension)
    except InputError as error:
        raise InputError(error.what, where, error.todo) from None


def _unknown(kind: str, name: str, known: list[str], where: str) -> InputError:
    near = difflib.get_close_matches(name.casefold(), [one.casefold() for one in known], n=5, cutoff=0.4)
    shown = [one for one in known if one.casefold() in near] or known[:5]
    more = f" (of {len(known)})" if len(known) > len(shown) else ""
    return InputError(
        f"{name!r} is no {kind} of this study", where, f"one of: {', '.join(map(repr, shown))}{more}"
    )


def section_row(study: Study, wanted: Asked) -> pd.Series:
    """The section of the outline as the study makes it, a row of ``sections.csv``.

    Raises
    ------
    InputError
        If there is no such outline, or it cannot be made.
    """
    outlines, left_out = stages.read_outlines(study)
    outline = next((one for one in outlines if one.name == wanted.outline), None)
    if outline is None:
        reason = next((one.reason for one in left_out if one.outline == wanted.outline), None)
        if reason:
            raise InputError(f"{wanted.outline!r} is left out: {reason}", "--outline", "another outline")
        raise _unknown("outline", wanted.outline, [one.name for one in outlines], str(study.file))
    return _solved(study, wanted, outline)


def _solved(study: Study, wanted: Asked, outline: Outline) -> pd.Series:
    limits, variant = study.model.limits, wanted.variant
    ratios = stages.strength_ratios(study)
    task = SectionTask(
        outline, variant.making, (wanted.orientation_deg,), variant.torsion_bounds, ratios,
        limits.points, limits.elements,
    )  # fmt: skip
    allowed = fanout.Limits(limits.time_per_outline, int(limits.memory_per_worker * 1e6))
    answer = next(iter(fanout.each("kit.study.sectioning:solve", [task], workers=1, limits=allowed)))
    record = answer.result or {"left_out": f"{answer.status}: {answer.reason}"}
    if "left_out" in record:
        raise InputError(
            f"{outline.name!r} is left out: {record['left_out']}", "--outline", "another outline"
        )
    made = pd.Series({**record["made"], **record["turned"][0]})
    polygon = turn(unpack(base64.b64decode(record["polygon"])), wanted.orientation_deg)
    strains = walls.of_one(polygon, wanted.case, variant.material, allowed)
    made = made if strains.isna().all(axis=None) else pd.concat([made, strains.iloc[0]])
    if curve_moments.applies(wanted.case, variant.material):
        made = pd.concat(
            [made, pd.Series(curve_moments.curve_columns(polygon, wanted.case, variant.material))]
        )
    return made


def size_outline(study: Study, wanted: Asked) -> tuple[Sizing, pd.Series]:
    """How big to make it, and the section it is a scale on."""
    row = section_row(study, wanted)
    variant = wanted.variant
    found = size(row, wanted.load, wanted.case, variant.material, variant.service, wanted.factors)
    return found, row


def summary(wanted: Asked, found: Sizing, row: pd.Series) -> str:
    """What ``size`` prints: one screen and the cautions."""
    case, factors = wanted.case, wanted.factors
    head = (
        f"{wanted.outline}, turned {wanted.orientation_deg:g} deg, {wanted.variant.material.name}: "
        f"{case.name} ({case.kind}) over {case.length_mm:g} mm, variant {wanted.variant.name}"
    )
    beside = "" if case.kind == "torsion" else ", beside the member's own weight"
    lines = [head, _line("load", f"{_load(wanted.load, case)}, the load itself{beside}")]
    if (factors.load, factors.material) != (1.0, 1.0):
        told = f"loads × {factors.load:g}, resistance ÷ {factors.material:g}"
        lines.append(_line("partial factors", f"{told}; none on limits of deflection and twist"))
    lines += _answer(found, wanted) if np.isfinite(found.scale) else [_line("size", found.limit_state)]
    cautions = [*found.cautions, *_made_cautions(found, row, wanted)]
    return "\n".join([*lines, "", "Cautions:", *(f"- {text}" for text in cautions)])


def _line(name: str, text: str) -> str:
    return f"  {name:16} {text}"


def _load(value: float, case: LoadCase) -> str:
    if case.kind == "torsion":
        return f"{value / 1e6:.4g} kN m"
    return f"{value / 1e3:.4g} kN"


def _answer(found: Sizing, wanted: Asked) -> list[str]:
    case = wanted.case
    lines = [
        _line("scale", f"{found.scale:.4g} times the section of the study"),
        _line("size", f"{found.width_mm:.4g} mm wide, {found.depth_mm:.4g} mm deep, {found.area_mm2:.4g} mm²"),
        _line("mass", f"{found.mass_kg:.4g} kg, {1e3 * found.mass_kg / case.length_mm:.4g} kg/m"),
        *([] if case.kind == "torsion" else [_line("own weight", _load(found.own_weight_N, case))]),
        _line("limit state", found.limit_state),
        _line("resistance", f"{_load(found.resistance, case)}, without partial factors"),
    ]  # fmt: skip
    if np.isfinite(found.deflection_mm):
        share = case.length_mm / found.deflection_mm
        told = f"{found.deflection_mm:.3g} mm (elastic) under the load itself and the own weight"
        beyond = "" if share > SMALL else ": far beyond what holds for small deflections"
        lines.append(_line("deflection", f"{told} ({found.sag_mm:.2g} mm), span/{share:.3g}{beyond}"))
    if np.isfinite(found.twist_deg):
        lines.append(_line("twist", f"{found.twist_deg:.3g} deg (elastic) under the load itself"))
    return lines


def _made_cautions(found: Sizing, row: pd.Series, wanted: Asked) -> list[str]:
    """What the scale does to how the section is made: corners and walls scale with it."""
    if not np.isfinite(found.scale):
        return []
    texts, scale, least = [], found.scale, wanted.variant.making.least_wall_mm
    radius, wall = row.get("internal_radius_mm"), row.get("least_wall_found_mm")
    if radius is not None and np.isfinite(radius) and radius > 0:
        texts.append(
            f"Internal corners scale with the rest: their least radius becomes {scale * radius:.3g} mm."
        )
    if wall is not None and np.isfinite(wall) and scale * wall < least:
        texts.append(
            f"The thinnest wall becomes {scale * wall:.3g} mm, less than the {least:g} mm the study asks for."
        )
    return texts
