"""What the study notebooks show: a study's tables in words a reader can check, its findings in numbers."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version

import numpy as np
import pandas as pd

import kit
from kit.outlines.outline import LeftOut, Outline
from kit.study.resolving import Study, Variant
from kit.study.stages import Assembled
from kit.study.store import solver_version
from kit.writeup.figures import PART
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

FITS = {
    "envelope": "the envelope {0:g} mm × {1:g} mm (proportions kept)",
    "cap_height": "a cap height of {0:g} mm, one scale for a whole typeface",
    "area": "an area of {0:g} mm² as cut",
    "mass_per_length": "{0:g} kg/m as cut",
    "scale": "{0:g} times the drawn size",
}


def preparation(study: Study) -> Table:
    """How each outline is made into a section, for every distinct preparation of the study."""
    rows = []
    for variant in study.variants:
        making = variant.making
        rows.append(
            {
                "process": making.process,
                "fit": FITS[making.fit[0]].format(*making.fit[1]),
                "cutter_radius_mm": making.cutter_radius_mm,
                "least_wall_mm": making.least_wall_mm,
                "separate parts": making.separate_parts,
                "orientations": ", ".join(f"{angle:g}°" for angle in variant.orientations),
                "torsion bounds asked": share(variant.torsion_bounds),
            }
        )
    frame = pd.DataFrame(rows).drop_duplicates()
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
        ("service", f"{chosen.service.duration}, {chosen.service.temperature_degC:g} °C"),
    ]
    rows += [(f"load case {case.name}", describe(case)) for case in chosen.cases]
    return table(pd.DataFrame(rows, columns=["key", "value"]), "variant", f"The variant “{chosen.name}”.")


def describe(case) -> str:
    """A load case in words."""
    length = number(case.length_mm, "mm", digits=4)
    if case.kind == "bending":
        words = (
            f"{case.loading} bending over {length}, restraint {case.restraint}, load at {case.load_height}"
        )
        return words + (
            f", deflection limit span/{1 / case.deflection_limit:g}" if case.deflection_limit else ""
        )
    if case.kind == "compression":
        bow = f" (bow length/{1 / case.bow:g})" if case.column_curve == "perry-robertson" and case.bow else ""
        return f"compression over {length}, {case.ends}, column curve {case.column_curve}{bow}"
    if case.kind == "torsion":
        return f"torsion over {length}, ends {case.ends}"
    return f"tension over {length}"


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
    text = number(value.mean, digits=4)
    return f"{text} ({share(value.cov)})" if value.cov else text


def cases(study: Study) -> Table:
    """Every variant with its load cases in words."""
    rows = [
        (chosen.name, chosen.material.name, case.name, describe(case))
        for chosen in study.variants
        for case in chosen.cases
    ]
    columns = ["variant", "material", "load case", "what it is"]
    return table(pd.DataFrame(rows, columns=columns), "cases", "Variants and load cases.")


def summary(study: Study, found: Assembled) -> Prose:
    """The main findings in numbers: what was compared, and what came first in each load case."""
    sections = found.sections.table
    opening = prose(
        "{outlines} were made into {sections}; {left} left out. {members} were evaluated in {variants}.",
        outlines=count(sections["outline"].nunique(), "outline"),
        sections=count(len(sections), "section"),
        left=count(len(found.sections.left_out), "outline was", "outlines were"),
        members=count(len(found.members), "member"),
        variants=count(len(study.variants), "variant"),
    ).text
    lines = [_leader(part) for _, part in found.members.groupby(["load_case", "variant"], sort=False)]
    return Prose("\n".join([opening, "", *(f"- {line}" for line in lines if line)]))


def _leader(part: pd.DataFrame) -> str:
    known = part[np.isfinite(part["merit"])].sort_values(["merit", "section_id"], ascending=[False, True])
    if known.empty:
        return ""
    first = known.iloc[0]
    torque = "resistance_Nmm" in first and np.isfinite(first.get("resistance_Nmm", np.nan))
    load = (
        number(first["resistance_Nmm"] / 1e6, "kN m") if torque else number(first["resistance_N"] / 1e3, "kN")
    )
    return prose(
        "**{case}, {variant}**: {outline} comes first, {merit} times the reference at equal mass; as drawn "
        "it reaches {load} at {mass}, limited by {state}. {assessed} of {all} could be assessed.",
        case=first["load_case"],
        variant=first["variant"],
        outline=first["outline"],
        merit=number(first["merit"]),
        load=load,
        mass=number(first["mass_kg"], "kg"),
        state=first["limit_state"],
        assessed=len(known),
        all=count(len(part), "member"),
    ).text


@dataclass(frozen=True)
class Picture:
    """An SVG picture with its key, caption and the words that stand for it."""

    key: str
    title: str
    caption: str
    alternative: str
    svg: str

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        part = {
            "kind": "picture",
            "key": self.key,
            "title": self.title,
            "caption": self.caption,
            "alternative": self.alternative,
        }
        return {"image/svg+xml": self.svg, PART: part, "text/plain": self.alternative}


def outline_sheet(svg: str, found: Assembled) -> Picture:
    """Every outline small, used and left out."""
    used, left = found.sections.table["outline"].nunique(), len(found.sections.left_out)
    return Picture(
        "outline-sheet",
        "The outline sheet",
        "Every outline, drawn and as cut; those left out stand at the end with the reason.",
        f"{count(used, 'outline')} used, {left} left out.",
        svg,
    )


def left_out(found: Assembled) -> Table:
    """What was not analysed, and why."""
    return table(found.sections.left_out, "left-out", "Outlines left out, each with its reason.")


def merits(found: Assembled, most: int = 30) -> Table:
    """Merit of each outline in every load case of the first variant, best first in the first load case."""
    members = found.members[found.members["variant"] == found.members["variant"].iloc[0]]
    wide = members.pivot_table(
        index=["outline", "orientation_deg"], columns="load_case", values="merit", sort=False
    )
    wide = wide.sort_values(wide.columns[0], ascending=False).reset_index()
    caption = (
        f"Merit by load case in the variant “{members['variant'].iloc[0]}”; members.csv holds every row."
    )
    return table(wide, "merits", caption, most=most)


def doubts(found: Assembled) -> list[str]:
    """What a reader must know first; empty where there is no reason for doubt."""
    lines = []
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
    summed["greatest"] = [f"{value:.1e}" for value in summed["greatest"]]
    summed["allowed"] = [f"{value:.1e}" for value in summed["allowed"]]
    names = {"greatest": "greatest relative difference", "allowed": "threshold"}
    return table(summed, "audit", "Sections of this study computed again by other routes.", names=names)


def repeating(study: Study, folder) -> Prose:
    """How to run this study again, with and without its fonts and drawings."""
    return prose(
        "Install the kit at the versions of [Table](#tab:versions) and run "
        "`section-study run parameters.yml` on the `parameters.yml` beside this page, with the input files "
        "where it names them; in one environment the same inputs give the same CSV tables, byte for byte, "
        "on any number of workers. Without the fonts and drawings, start from `sections.parquet`: everything "
        "after the sections stage reads only that table. The solver that made these sections has the "
        "fingerprint {solver}.",
        solver=solver_version()[:16],
    )


PACKAGES = (
    *("numpy", "scipy", "shapely", "cytriangle", "fonttools", "sectionproperties"),
    *("pandas", "altair", "papermill"),
)


def versions() -> Table:
    """Versions of what computed this page."""
    rows = [("section study kit", kit.__version__), ("Python", platform.python_version())]
    rows += [(name, version(name)) for name in PACKAGES]
    return table(
        pd.DataFrame(rows, columns=["package", "version"]), "versions", "Versions that made this page."
    )
