"""What spreading tasks over processes costs: two workers against one, a cluster against processes here.

``python -m tests.study.benchmark_fanout`` prints ratios measured in one run; nothing here asserts a time.
"""

from __future__ import annotations

import time

from kit.study.fanout import each

TASK_SECONDS, TASKS = 0.03, 400
FUNCTION = "tests.study.benchmark_fanout:spin"


def spin(seconds: float) -> float:
    """Keep one processor busy for so long of its own time."""
    end = time.process_time() + seconds
    while time.process_time() < end:
        pass
    return seconds


def seconds(**options) -> float:
    """Wall time of all tasks, workers already started by a few tasks before."""
    begun = time.monotonic()
    assert (
        sum(answer.status == "done" for answer in each(FUNCTION, [TASK_SECONDS] * TASKS, **options)) == TASKS
    )
    return time.monotonic() - begun


def main() -> None:
    one, two = seconds(workers=1), seconds(workers=2)
    print(
        f"{TASKS} tasks of {1000 * TASK_SECONDS:.0f} ms: one worker {one:.2f} s, two {two:.2f} s, {one / two:.2f} times"
    )
    try:
        from distributed import LocalCluster

        from kit.study.cluster import connected
    except ImportError:
        print("the cluster extra is not installed: not measured")
        return
    local = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with local, connected(local.scheduler_address) as (executor, threads):
        seconds(executor=executor, workers=threads)
        there = seconds(executor=executor, workers=threads)
    print(f"two cluster workers {there:.2f} s: {there / two:.2f} times the time of two processes here")


if __name__ == "__main__":
    main()
