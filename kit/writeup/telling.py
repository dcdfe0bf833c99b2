"""What the study notebooks show: a study's tables in words a reader can check, its findings in numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from kit.outlines.outline import LeftOut, Outline
from kit.study.resolving import Study, Variant
from kit.study.stages import Assembled
from kit.writeup.numbers import count, number, power, share
from kit.writeup.tables import Prose, Table, prose, table

FITS = {
    "envelope": "the envelope {0:g} mm × {1:g} mm (proportions kept)",
    "cap_height": "a cap height of {0:g} mm, one scale for a whole typeface; shapes and drawings as drawn",
    "area": "an area of {0:g} mm² as cut",
    "mass_per_length": "{0:g} kg/m as cut",
    "scale": "{0:g} times the drawn size",
}


def preparation(study: Study) -> Table:
    """How each outline is made into a section, for every distinct preparation of the study."""
    rows: dict[tuple, dict] = {}
    for variant in study.variants:
        making = variant.making
        row = {
            "process": making.process,
            "fit": FITS[making.fit[0]].format(*making.fit[1]),
            "cutter_radius_mm": making.cutter_radius_mm,
            "least_wall_mm": making.least_wall_mm,
            "separate parts": making.separate_parts,
            "orientations": ", ".join(f"{angle:g}°" for angle in variant.orientations),
            "torsion bounds asked": share(variant.torsion_bounds),
        }
        known = rows.setdefault(tuple(row.values()), row | {"variants": []})
        known["variants"].append(variant.name)
    frame = pd.DataFrame(list(rows.values()))
    frame["variants"] = "all" if len(frame) == 1 else [", ".join(names) for names in frame["variants"]]
    return table(frame, "preparation", "Preparation, in this order: unite, repair, fit, flatten, cut, turn.")


def outlines(read: Sequence[Outline], left_out: Sequence[LeftOut]) -> Table:
    """How many outlines each source gave and how many of them could not be read."""
    used = pd.Series([outline.source for outline in read], dtype=object).value_counts()
    lost = pd.Series([one.source for one in left_out], dtype=object).value_counts()
    sources = list(dict.fromkeys([*(o.source for o in read), *(one.source for one in left_out)]))
    drawn = [name for name in sources if used.get(name, 0) + lost.get(name, 0) == 1]
    rows = [(name, int(used.get(name, 0)), int(lost.get(name, 0))) for name in sources if name not in drawn]
    if drawn:
        rows.insert(
            0,
            (
                f"drawings of one outline ({len(drawn)})",
                int(sum(used.get(name, 0) for name in drawn)),
                int(sum(lost.get(name, 0) for name in drawn)),
            ),
        )
    frame = pd.DataFrame(rows, columns=["source", "outlines read", "left out while reading"])
    return table(frame, "outlines", "Outlines by source.")


def variant(chosen: Variant) -> Table:
    """What one variant sets: its material, service and load cases."""
    rows = [
        ("material", f"{chosen.material.name} ({chosen.material.key})"),
        ("values from", chosen.material.source or "not stated"),
        ("service", _service(chosen)),
    ]
    rows += [(f"load case {case.name}", describe(case)) for case in chosen.cases]
    return table(pd.DataFrame(rows, columns=["key", "value"]), "variant", f"The variant “{chosen.name}”.")


def describe(case) -> str:
    """A load case in words: everything its resistances depend on."""
    words = [DESCRIBED[case.kind](case), *_limited(case)]
    return ", ".join(word for word in words if word)


def _bending(case) -> str:
    length, between = f"{case.length_mm:g} mm", ""
    if case.loading == "four-point":
        apart = f"{case.load_spacing_mm:g} mm" if case.load_spacing_mm else "a third of the span"
        between = f" (loads {apart} apart)"
    words = f"{case.loading} bending over {length}{between}, restraint {case.restraint}, load at {case.load_height}"
    if case.load_line_mm is not None:
        words += f", {case.load_line_mm:g} mm beside the centroid"
    if case.loading != "cantilever":
        words += f", supports {case.supports}"
    return words + (f", bow span/{1 / case.bow:.4g}" if case.bow else "")


def _compression(case) -> str:
    ends = case.ends if case.ends_y in (None, case.ends) else f"{case.ends} (in x {case.ends_y})"
    bow = f" (bow length/{1 / case.bow:.4g})" if case.column_curve == "perry-robertson" and case.bow else ""
    words = f"compression over {case.length_mm:g} mm, {ends}, column curve {case.column_curve}{bow}"
    beside = (case.eccentricity_x_mm, case.eccentricity_y_mm)
    return words + (
        ", load at x = {:g} mm, y = {:g} mm from the centroid".format(*beside) if any(beside) else ""
    )


def _tension(case) -> str:
    holes = f", holes take {case.holes_area_mm2:g} mm²" if case.holes_area_mm2 else ""
    return f"tension over {case.length_mm:g} mm{holes}"


def _limited(case) -> list[str]:
    """Where it fails in service, and what it bears on, as far as stated."""
    told = []
    if getattr(case, "bearing_length_mm", None):
        told.append(f"bearing on {case.bearing_length_mm:g} mm")
    if getattr(case, "deflection_limit", None):
        told.append(f"deflection limit span/{1 / case.deflection_limit:.4g}")
    if getattr(case, "twist_limit_deg", None):
        told.append(f"twist limit {case.twist_limit_deg:g}°")
    return told


DESCRIBED = {
    "bending": _bending,
    "compression": _compression,
    "tension": _tension,
    "torsion": lambda case: f"torsion over {case.length_mm:g} mm, ends {case.ends}",
}


def best(members: pd.DataFrame, few: int = 5) -> Table:
    """The best outlines of each load case by merit."""
    rows = members[np.isfinite(members["merit"])].sort_values(
        ["load_case", "merit", "section_id"], ascending=[True, False, True], kind="stable"
    )
    rows = rows.groupby("load_case", sort=False).head(few)
    columns = ["outline", "load_case", "mass_kg", "merit", "limit_state"]
    loads = [name for name in ("resistance_N", "resistance_Nmm") if name in rows]
    shown = rows[columns[:3] + loads + columns[3:]]
    return table(shown, "best", f"The best {few} outlines of each load case by merit.")


def materials(study: Study) -> Table:
    """The materials of the study, with where each value comes from."""
    rows = {}
    for chosen in study.variants:
        material = chosen.material
        rows[material.key] = {
            "material": material.name,
            "density_kg_m3": material.density_kg_m3,
            "E [MPa]": _spread(material.youngs_modulus_MPa),
            "Poisson's ratio": material.poissons_ratio,
            "yield, tension [MPa]": _spread(material.yield_tension_MPa),
            "yield, compression [MPa]": _spread(material.yield_compression_MPa),
            "ductile": material.ductile,
            "conditions": material.conditions,
            "source": material.source,
        }
    return table(
        pd.DataFrame(list(rows.values())), "materials", "Materials: mean, and coefficient of variation."
    )


def _spread(value) -> str:
    if value is None:
        return "not known"
    text = number(value.mean, digits=4)
    return f"{text} ({share(value.cov)})" if value.cov else text


def cases(study: Study) -> Table:
    """Every variant with its load cases in words, and the service its values are taken at."""
    rows = [
        (chosen.name, chosen.material.name, _service(chosen), case.name, describe(case))
        for chosen in study.variants
        for case in chosen.cases
    ]
    columns = ["variant", "material", "service", "load case", "what it is"]
    caption = "Variants and load cases."
    factors = dict.fromkeys((chosen.material_factor, chosen.load_factor) for chosen in study.variants)
    if study.factored:
        told = "; ".join(f"material {material:g}, load {load:g}" for material, load in factors)
        caption += f" Partial factors: {told}; only design_load and design_use in the tables count them."
    return table(pd.DataFrame(rows, columns=columns), "cases", caption)


def _service(chosen: Variant) -> str:
    return f"{chosen.service.duration}, {chosen.service.temperature_degC:g} °C"


def question(study: Study, found: Assembled) -> Prose:
    """What is compared with what, and what the words of the comparison mean."""
    kinds = dict.fromkeys(found.members["kind"].astype(str)) if "kind" in found.members else {}
    return prose(
        "Which of {outlines} resists most for its mass as a member in {kinds}? Each is compared with the "
        "reference, {reference}, at the same length, material and load case. The *merit* of an outline is the load "
        "it carries when it is scaled to weigh as much as the reference, as a multiple of the reference’s load: "
        "above 1 it carries more. A *limit state* is what ends the load: yield, full plasticity, buckling, fracture. "
        "*Restraint* is what keeps a member from moving sideways between its supports; the *least wall* is the "
        "thinnest wall found in an outline.",
        outlines=count(found.sections.table["outline"].nunique(), "outline"),
        kinds=", ".join(kinds) or "no load case",
        reference=study.reference[0],
    )


def left_out(found: Assembled) -> Table | Prose:
    """What was not analysed, and why."""
    if found.sections.left_out.empty:
        return Prose("No outline was left out.")
    return table(found.sections.left_out, "left-out", "Outlines left out, each with its reason.")


def merits(found: Assembled, most: int = 30) -> Table:
    """Merit of each outline in every load case of the first variant, best first in the first load case."""
    members = found.members[found.members["variant"] == found.members["variant"].iloc[0]]
    keys = ["outline", "orientation_deg", "load_case"]
    wide = members.drop_duplicates(keys).set_index(keys)["merit"].astype(float).unstack(sort=False)
    wide = wide.sort_values(wide.columns[0], ascending=False, kind="stable").reset_index()
    if wide["orientation_deg"].nunique() == 1:
        wide = wide.drop(columns="orientation_deg")
    caption = (
        f"Merit by load case in the variant “{members['variant'].iloc[0]}”; members.csv holds every row."
    )
    return table(wide, "merits", caption, most=most)


def doubts(found: Assembled) -> list[str]:
    """What a reader must know first; empty where there is no reason for doubt."""
    lines = [
        f"The variant “{name}” failed and is missing from everything below: {reason}"
        for name, reason in getattr(found, "failed", ())
    ]
    if not np.isfinite(found.members["merit"].astype(float)).any():
        what = "compared with the reference" if _any_load(found.members) else "assessed"
        lines.append(f"No member could be {what}: there are sections, but no results to rank.")
    checks = found.checks
    failed = int((~checks["passed"].astype(bool)).sum())
    if failed:
        lines.append(f"{failed} of {len(checks)} published values were not met by this run.")
    missed = int((~found.audit["passed"].astype(bool)).sum())
    if missed:
        lines.append(f"{missed} of {len(found.audit)} audited values of this study's sections did not agree.")
    if found.sections.provisional:
        lines.append(
            "Some outlines ran out of time: the results are provisional, and not claimed to repeat exactly."
        )
    return lines


def _any_load(members: pd.DataFrame) -> bool:
    names = [name for name in ("resistance_N", "resistance_Nmm") if name in members]
    return bool(np.isfinite(members[names].astype(float)).any(axis=None))


def audit(audited: pd.DataFrame) -> Table:
    """The sample of sections that was computed again, by route and quantity."""
    rows = audited.assign(disagreement=audited["difference"].abs(), passed=audited["passed"].astype(bool))
    groups = rows.groupby(["route", "quantity"], sort=False)
    summed = groups.agg(
        sections=("section_id", "nunique"),
        greatest=("disagreement", "max"),
        allowed=("threshold", "max"),
        passed=("passed", "sum"),
    ).reset_index()
    for column in ("greatest", "allowed"):
        summed[column] = [power(value) for value in summed[column]]
    names = {"greatest": "greatest relative difference", "allowed": "threshold"}
    return table(
        summed, "audit", "Sections of this study computed again by other routes.", names=names, numeric=names
    )
