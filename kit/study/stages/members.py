"""From sections to members: resistance and merit under every load case of one variant."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from kit import sources
from kit.members.cases import LoadCase
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.members.sizing import Factors, design_load
from kit.study import chances, walls
from kit.study.measured import with_curve_moments
from kit.study.progress import Progress
from kit.study.resolving import Study, Variant
from kit.study.results import Folder
from kit.study.sectioning import Sections
from kit.study.stages.opening import STORE, limits_of, reference_row, sections_of


@dataclass(frozen=True)
class Members:
    """The members of one variant and the functions of mechanics they rest on."""

    table: pd.DataFrame
    used: frozenset[str]


def make_members(study: Study, variant: Variant, sections: Sections, folder: Folder | None = None) -> Members:
    """Resistance and merit of every section of a variant under every load case.

    Parameters
    ----------
    folder : Folder, optional
        The study's results, where the store lies beside; needed where all outlines' walls are checked.
    """
    upright = sections_of(study, variant, sections)
    marks = sections.marks()
    every_wall = study.model.report.local_buckling == "all" and folder is not None
    parts = []
    with (
        sources.recording() as used,
        Progress(f"members, {variant.name}", total=len(variant.cases)) as progress,
    ):
        upright = with_curve_moments(upright, marks, variant.cases, variant.material)
        for case in variant.cases:
            table = upright
            if every_wall and case.kind in walls.WALLED:
                table, _ = walls.strained(
                    upright, marks, variant, case, curves_kept(study, folder, workers=1)
                )
            reference = reference_row(study, table)
            rows = evaluated(study, variant, case, table)
            compared = merit(table, reference, case, variant.material, variant.service)
            judged = compared.assign(limit_states_checked=rows["limit_states_checked"])
            surely = chances.of_merit(variant, case, table, reference, judged)
            parts.append(pd.concat([rows, compared, surely], axis=1))
            progress.advance(1)
    members = pd.concat(parts, ignore_index=True)
    members.insert(0, "variant", variant.name)
    return Members(members, frozenset(used))


def evaluated(study: Study, variant: Variant, case: LoadCase, table: pd.DataFrame) -> pd.DataFrame:
    """Resistances of every section of a table, with partial factors and intervals where they are stated."""
    rows = resistance(table, case, variant.material, variant.service)
    designed = with_factors(study, variant, case, table)
    return pd.concat([rows, designed, chances.intervals(variant, case, table)], axis=1)


def with_factors(study: Study, variant: Variant, case: LoadCase, table: pd.DataFrame) -> pd.DataFrame:
    """Column ``design_load`` where the study states partial factors, else no column."""
    if not study.factored:
        return pd.DataFrame(index=table.index)
    factors = Factors(variant.material_factor, variant.load_factor)
    found = design_load(table, case, variant.material, variant.service, factors)
    return pd.DataFrame({"design_load": found}, index=table.index)


def curves_kept(study: Study, folder: Folder, workers: int | None = None) -> walls.Where:
    """Where half-wavelength curves are kept, and what one may cost."""
    return walls.Where(folder.path.parent / STORE, workers, limits_of(study))
