"""A section whose computation crashes, hangs or fills the memory costs that outline only, and says why."""

from pathlib import Path

import pytest

from kit.outlines.making import Making
from kit.outlines.reading import read
from kit.outlines.specs import FontFiles
from kit.study import fanout, sectioning
from kit.study.sectioning import SectionTask
from kit.study.store import Store

HOSTILE = "tests.study.hostile_tasks:act"
ACTS = {"crash": ("crash", 0.0), "hang": ("hang", 0.0), "memory": ("fill", 8e9)}


@pytest.mark.parametrize(("act", "said"), [("crash", "crash"), ("hang", "timeout"), ("memory", "memory")])
def test_the_reason_reaches_the_table_of_what_was_left_out(tmp_path, monkeypatch, act, said):
    """Real processes; the second of three sections does to its process what its name says."""
    font = FontFiles(files=("installed:matplotlib/mpl-data/fonts/ttf/DejaVuSans.ttf",), characters=("I-L",))
    outlines, _ = read([font], Path())
    making = Making(fit=("envelope", (100.0, 100.0)))
    tasks = [SectionTask(outline, making) for outline in outlines[:3]]
    really = fanout.each

    def one_hostile(function, todo, **others):
        others["limits"] = fanout.Limits(2.0 if act == "hang" else 60.0, 4_000_000_000)
        (bad,) = really(HOSTILE, [ACTS[act]], workers=1, limits=others["limits"])
        for answer in really(function, [todo[0], todo[2]], **others):
            yield fanout.Answer(2 * answer.index, answer.status, answer.result, answer.reason)
        yield fanout.Answer(1, bad.status, bad.result, bad.reason)

    monkeypatch.setattr(sectioning.fanout, "each", one_hostile)
    computed = sectioning.compute(tasks, Store(tmp_path / "store.sqlite"))
    found = sectioning.gather([tasks], computed, [])
    assert list(found.table["outline"]) == [outlines[0].name, outlines[2].name]
    (row,) = found.left_out.to_dict("records")
    assert row["outline"] == outlines[1].name
    assert said in row["reason"]
    assert found.provisional == (act == "hang")
