"""Outlines made ready away from the study: whatever one does to its process costs that one alone."""

import dataclasses

import pytest

from kit.outlines import LeftOut, Making
from kit.study import auditing, readying
from kit.study.fanout import Limits
from kit.study.looking import look
from kit.study.resolving import load_study
from kit.study.sectioning import SectionTask
from tests.study.files import changed, written
from tests.study.test_sheets import DUSTY, SOUND, drawing

HOSTILE = "tests.study.hostile_tasks:ready"
BARS = "".join(
    f"  - {{from: shape, name: {name}, shape: circle, dimensions: {{diameter: {30 + i} mm}}}}\n"
    for i, name in enumerate(("crash", "hang", "fill"))
)


def named(name):
    return dataclasses.replace(SOUND.outline, name=name)


def test_what_comes_back_is_what_preparing_gives_in_order():
    outlines = [SOUND.outline, drawing("nothing"), DUSTY.outline]
    first, second, third = readying.ready(outlines, Making(), Limits())
    assert second == LeftOut("nothing.svg", "nothing", "it has no contours; nothing is drawn")
    for found, expected in ((first, SOUND), (third, DUSTY)):
        assert found.outline is expected.outline
        assert found.polygon.equals_exact(expected.polygon, 0.0) and found.flags == expected.flags


def test_a_crash_a_hang_and_a_glutton_cost_themselves_alone(monkeypatch):
    monkeypatch.setattr(readying, "ONE", HOSTILE)
    names = ["a", "crash", "hang", "b", "fill", "c"]
    limits = Limits(seconds=3.0, memory_bytes=2_000_000_000)
    found = readying.ready([named(name) for name in names], Making(), limits)
    lost = {one.outline: one.reason for one in found if isinstance(one, LeftOut)}
    assert list(lost) == ["crash", "hang", "fill"]
    assert "ended" in lost["crash"] and "not done within 3 s" in lost["hang"] and "memory" in lost["fill"]


def test_a_look_goes_on_after_outlines_that_crash_hang_or_fill_the_memory(monkeypatch, tmp_path):
    monkeypatch.setattr(readying, "ONE", HOSTILE)
    text = changed(("reference", f"{BARS}limits: {{time_per_outline: 3 s}}\nreference"))
    found = look(load_study(written(tmp_path, text)), tmp_path / "results")
    assert [one.outline.name for one in found.prepared] == ["bar", "rod"]
    assert {out.outline for out in found.left_out} == {"crash", "hang", "fill"}
    assert "crashed: " in found.sheet.read_text(encoding="utf-8")


def test_the_audit_passes_over_outlines_that_crash(monkeypatch):
    monkeypatch.setattr(readying, "ONE", HOSTILE)
    monkeypatch.setattr(auditing, "SECONDS", 3.0)
    tasks = [SectionTask(named(name), Making()) for name in ("crash", "a", "hang")]
    assert [item.task.outline.name for item in auditing.sample(tasks, seed=1)] == ["a"]


@pytest.mark.parametrize("count", [1, 3])
def test_progress_counts_every_outline(count):
    class Counted:
        done = failed = 0

        def advance(self, n, *, failed=0):
            self.done, self.failed = self.done + n, self.failed + failed

    counted = Counted()
    readying.ready([SOUND.outline, *[drawing("nothing")] * count], Making(), Limits(), progress=counted)
    assert (counted.done, counted.failed) == (1 + count, count)
