"""Second route, on the demo's drawings and shapes: sectionproperties' own analysis, on a mesh at least four
times finer, gives a J inside the proven bounds, and the same properties otherwise."""

import pandas as pd
import pytest

from kit.errors import Unusable
from kit.outlines.preparing import prepare
from kit.places import carried
from kit.sections.audit import second_implementation
from kit.sections.section import properties
from kit.study import stages
from kit.study.resolving import load_study

pytestmark = pytest.mark.slow


def audited() -> pd.DataFrame:
    study = load_study(carried("params/saltmere.yml"))
    outlines, _ = stages.read_outlines(study)
    rows = []
    chosen = [outline for outline in outlines if not outline.character]
    for task in stages.section_tasks(study, chosen)[0]:
        try:
            made = prepare(task.outline, task.making)
        except Unusable:
            continue  # the study leaves it out, too
        ours = properties(made.polygon, bounds=task.bounds, internal_radius_mm=made.internal_radius_mm)
        rows += second_implementation(task.outline.name, made.polygon, ours)
    return pd.DataFrame(rows)


def test_drawings_and_shapes_agree_with_the_second_implementation():
    rows = audited()
    torsion = rows[rows["quantity"] == "J_mm4"]
    assert len(torsion) == 29
    outside = torsion[(torsion["value"] < torsion["low"]) | (torsion["value"] > torsion["high"])]
    assert outside.empty, outside[["section_id", "value", "low", "high"]].to_string()
    failed = rows[~rows["passed"].astype(bool)]
    assert failed.empty, failed[["section_id", "quantity", "value", "ours", "difference"]].to_string()
