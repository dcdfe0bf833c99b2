"""The verb ``plan``: which pieces to make, their drawings, predictions and test sheet."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd

from kit.errors import InputError
from kit.members.cases import LoadCase
from kit.members.uncertainty import Uncertainty
from kit.study import stages, walls
from kit.study.keys_study import TestPlan
from kit.study.measured import with_curve_moments
from kit.study.resolving import Study, Variant
from kit.study.results import LEDGER, PLAN, PREDICTIONS, Folder, write_csv, write_text
from kit.study.sectioning import Sections
from kit.trials import drawings, plan, sheet
from kit.trials.prediction import Test, as_row, digest, predict
from kit.trials.setups import Rig


def spread_of(variant: Variant, kind: str) -> Uncertainty:
    """What the intervals of predictions hold: as the study states it, or the material's scatter alone."""
    stated = variant.model.uncertainty
    if stated is None:
        return Uncertainty()
    return Uncertainty(stated.samples, stated.seed, stated.dimensions, getattr(stated.model, kind))


def rig_of(study: Study, case: LoadCase) -> Rig:
    """Compliances that the study states for its tests; none for torsion, whose unit is another."""
    if study.model.trials is None or case.kind == "torsion":
        return Rig()
    reduction = study.model.trials.reduction
    return Rig(reduction.compliance, reduction.indentation if case.kind == "bending" else 0.0)


def test_of(
    study: Study,
    variant: Variant,
    case: LoadCase,
    row: pd.Series,
    sections: Sections,
    where: walls.Where | None = None,
) -> Test:
    """The test of one section, its row with all that the table of members has.

    Parameters
    ----------
    where : walls.Where, optional
        Where half-wavelength curves are kept; without it the walls have no say in the prediction.
    """
    marks = sections.marks()
    table = pd.DataFrame([row]).infer_objects()
    if where is not None and case.kind in walls.WALLED:
        table, _ = walls.strained(table, marks, variant, case, where)
    else:
        table = with_curve_moments(table, marks, [case], variant.material)
    polygon = marks[row["section_id"]]
    return Test(table.iloc[0], polygon, case, variant.material, variant.service, rig_of(study, case))


test_of.__test__ = False


def curves_for(study: Study, folder: Folder) -> walls.Where | None:
    """Where the curves of the pieces' walls are kept; None where the study leaves walls out."""
    return None if study.model.report.local_buckling == "none" else stages.curves_kept(study, folder)


def make_plan(study: Study, results: Path, workers: int | None = None) -> Path:
    """Choose pieces, predict them and write drawings, predictions and the test sheet.

    Returns
    -------
    Path
        The folder with the plan.

    Raises
    ------
    InputError
        If records were read already: predictions made now would not come first. The first plan stands.
    """
    folder = stages.folder_of(study, results)
    there = folder.path / PLAN
    if (there / PREDICTIONS).exists() and folder.notes(LEDGER):
        raise InputError(
            "records of this study were read already: predictions written now would not come first",
            str(there),
            "keep the plan there is; give a changed study a name of its own",
        )
    wanted = study.model.test_plan or TestPlan()
    outlines, left_out = stages.read_outlines(study, workers)
    sections = stages.make_sections(study, outlines, left_out, results=results, workers=workers)
    planned = planned_pieces(study, sections, curves_for(study, folder))
    _write(there, study, planned, wanted)
    return there


def planned_pieces(study: Study, sections: Sections, where: walls.Where | None = None) -> list[sheet.Planned]:
    """The pieces to make, with their tests, predictions and needs; shared out over the load cases."""
    wanted = study.model.test_plan or TestPlan()
    variant = study.variants[0]
    cases = _cases(study, variant, wanted)
    table = stages.sections_of(study, variant, sections)
    members = stages.make_members(study, variant, sections).table
    rows = {row["section_id"]: row for _, row in table.iterrows()}
    found = []
    cut = variant.making.process not in ("extruded", "printed")
    for number, case in enumerate(cases):
        share = wanted.pieces // len(cases) + (number < wanted.pieces % len(cases))
        of_case = members[members["load_case"] == case.name]
        for _, member in plan.choose(of_case, share, study.reference[0]).iterrows():
            test = test_of(study, variant, case, rows[member["section_id"]], sections, where)
            seen = predict(test, spread_of(variant, case.kind))
            needed = plan.needs(test, seen, wanted.stock, wanted.load_cell, cut)
            name = f"P{len(found) + 1:02d}"
            found.append(sheet.Planned(name, member["reason"], test, seen, needed, wanted.repeats))
    return found


def _cases(study: Study, variant: Variant, wanted: TestPlan) -> list[LoadCase]:
    cases = {case.name: case for case in variant.cases}
    names = wanted.load_cases or tuple(cases)
    for name in names:
        if name not in cases:
            raise InputError(
                f"{name!r} is no load case",
                study.document.place(("test_plan", "load_cases")),
                f"any of: {', '.join(cases)}",
            )
    return [cases[name] for name in names]


def _write(there: Path, study: Study, planned: Sequence[sheet.Planned], wanted: TestPlan) -> None:
    table = pd.DataFrame([as_row(one.predicted, one.test) for one in planned])
    table.insert(0, "piece", [one.name for one in planned])
    write_csv(table, there / PREDICTIONS)
    stamp = {"sha256": digest(table), "written": datetime.now(UTC).isoformat(timespec="seconds")}
    write_text(there / "predictions.json", json.dumps(stamp, indent=1) + "\n")
    write_csv(_list(planned), there / "pieces.csv")
    for one in planned:
        name = f"{one.name}-{_file_name(str(one.test.section['outline']))}"
        title = f"{one.name} {one.test.section['outline']} {one.test.section['orientation_deg']:g} deg"
        note = f"{study.name}; as cut, mm; length {one.needs.length_mm:g} mm"
        write_text(there / f"{name}.svg", drawings.outline_svg(one.test.polygon, title, note))
        write_text(there / f"{name}.dxf", drawings.outline_dxf(one.test.polygon, title))
    notes = plan.tests_short(table, wanted.repeats)
    notes.append("The pieces span the field on purpose: they are no random sample of the outlines.")
    write_text(there / "test-sheet.html", sheet.test_sheet(study.title, planned, stamp["sha256"], notes))


def _file_name(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-").lower()[:40] or "outline"


def _list(planned: Sequence[sheet.Planned]) -> pd.DataFrame:
    """The plan as a table: what to make and why."""
    return pd.DataFrame(
        {
            "piece": [one.name for one in planned],
            "outline": [one.test.section["outline"] for one in planned],
            "orientation_deg": [one.test.section["orientation_deg"] for one in planned],
            "load_case": [one.test.case.name for one in planned],
            "tests": [one.repeats for one in planned],
            "length_mm": [one.needs.length_mm for one in planned],
            "overhang_mm": [one.needs.overhang_mm for one in planned],
            "part_kg": [one.needs.part_kg for one in planned],
            "chips_kg": [one.needs.chips_kg for one in planned],
            "reason": [one.reason for one in planned],
            "warnings": ["; ".join(one.needs.warnings) for one in planned],
        }
    )
