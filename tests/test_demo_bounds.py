"""Second route, on every outline of the demo: sectionproperties' own analysis, on a mesh at least four times
finer, gives a J inside the proven bounds, and the same properties otherwise."""

import pytest

from kit.places import carried
from kit.sections.audit import SECOND
from kit.study import auditing, stages
from kit.study.resolving import load_study


@pytest.mark.slow
def test_every_outline_of_the_demo_agrees_with_the_second_implementation():
    study = load_study(carried("params/saltmere.yml"))
    outlines, _ = stages.read_outlines(study)
    tasks = auditing.can_be_made(stages.section_tasks(study, outlines)[0])
    assert len(tasks) == 101
    rows = auditing.start(
        [auditing.AuditTask(task, task.outline.name, third=False) for task in tasks]
    ).table()
    torsion = rows[(rows["quantity"] == "J_mm4") & (rows["route"] == SECOND)]
    assert len(torsion) == len(tasks)
    outside = torsion[(torsion["value"] < torsion["low"]) | (torsion["value"] > torsion["high"])]
    assert outside.empty, outside[["section_id", "value", "low", "high"]].to_string()
    failed = rows[~rows["passed"].astype(bool)]
    assert failed.empty, failed[["section_id", "quantity", "value", "ours", "difference"]].to_string()
