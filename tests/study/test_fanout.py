"""Whatever one task does, every other task is answered."""

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from kit.study.fanout import Limits, each, stop_workers, usable_processors

ACT = "tests.study.hostile_tasks:act"


def answers(tasks, **options):
    found = list(each(ACT, tasks, **options))
    assert sorted(answer.index for answer in found) == list(range(len(tasks)))
    return {answer.index: answer for answer in found}


def test_every_task_is_answered_once_by_the_right_result():
    found = answers([("square", float(i)) for i in range(50)], workers=2)
    assert [found[i].result for i in range(50)] == [float(i * i) for i in range(50)]


def test_an_exception_costs_its_task_and_gives_the_reason():
    found = answers([("square", 2.0), ("raise", 3.0), ("square", 4.0)], workers=1)
    assert found[1].status == "failed"
    assert "cannot take 3.0" in found[1].reason
    assert [found[0].result, found[2].result] == [4.0, 16.0]


def test_a_crash_costs_its_task_only():
    found = answers(
        [("square", 1.0), ("crash", 0.0), ("square", 3.0), ("crash", 0.0), ("square", 5.0)], workers=2
    )
    assert [found[i].status for i in range(5)] == ["done", "crashed", "done", "crashed", "done"]
    assert "exit code 11" in found[1].reason


def test_a_hang_costs_its_task_only_and_is_tried_twice():
    begun = time.monotonic()
    found = answers([("hang", 0.0), ("square", 3.0)], workers=1, limits=Limits(seconds=0.5))
    assert found[0].status == "timeout"
    assert "tried twice" in found[0].reason
    assert found[1].result == 9.0
    assert time.monotonic() - begun < 30


def test_memory_beyond_the_limit_costs_its_task_only():
    pytest.importorskip("resource")
    found = answers([("fill", 8e9), ("square", 3.0)], workers=1, limits=Limits(30.0, 2 * 10**9))
    assert found[0].status == "failed"
    assert "memory" in found[0].reason
    assert found[1].result == 9.0


def test_printing_does_not_spoil_the_answers():
    assert answers([("print", 1.5)], workers=1)[0].result == 1.5


def test_no_tasks_need_no_workers():
    assert answers([]) == {}


def test_any_executor_serves():
    with ThreadPoolExecutor(2) as pool:
        found = answers([("square", float(i)) for i in range(9)], executor=pool, workers=2)
    stop_workers()
    assert found[8].result == 64.0


def test_at_least_one_processor():
    assert usable_processors() >= 1
