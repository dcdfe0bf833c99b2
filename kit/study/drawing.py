"""The stills of the write-up, drawn by processes that are made ready while its notebook still runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

from kit.study import fanout

STILL = "kit.writeup.stills:still"
LIMITS = fanout.Limits(seconds=120.0)
EMPTY = {"key": "", "spec": {"mark": "point", "data": {"values": [{}]}}, "layout": {}}


class Drawing:
    """As many drawing processes as there are processors; `fanout.stop_workers` ends them."""

    def __init__(self, workers: int | None = None):
        self.workers = workers or fanout.usable_processors()
        self.pool: ThreadPoolExecutor | None = None

    def make_ready(self) -> None:
        """Start the processes and have each draw an empty chart; nothing waits for it."""
        self.pool = ThreadPoolExecutor(self.workers)
        for _ in range(self.workers):
            self.pool.submit(fanout.run_batch, STILL, [(0, EMPTY)], LIMITS)

    def draw(self, charts: Sequence[dict]) -> Iterator[object]:
        """Stills of charts, in their order.

        Raises
        ------
        RuntimeError
            If one cannot be drawn.
        """
        if self.pool is None:
            self.make_ready()
        drawn = [self.pool.submit(fanout.run_batch, STILL, [(0, chart)], LIMITS) for chart in charts]
        for chart, future in zip(charts, drawn, strict=True):
            answer = future.result()[0]
            if answer.status != "done":
                raise RuntimeError(f"the figure {chart['key']} cannot be drawn: {answer.reason}")
            yield answer.result
        self.pool.shutdown()
