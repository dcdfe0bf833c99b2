"""How long reading and reducing take: ``python -m tests.trials.benchmark_reduction``. Not a test: times differ by machine.

Prints seconds for a record of 100 000 rows and the ratio to one of 10 000 rows, measured in one run.
"""

import time

from kit.trials import synthetic
from kit.trials.detection import examine
from kit.trials.records import parse_record
from kit.trials.reduction import reduce
from kit.trials.setups import Rig, setup_of
from tests.trials.pieces import beam, plastic, section


def seconds(points: int) -> tuple[float, float]:
    """Best of three: reading the text, then judging and reducing."""
    setup = setup_of(section(), beam(1200.0), plastic(), Rig(2e-5, 1e-5))
    travel, load = synthetic.clean(synthetic.Truth(1050.0, 4000.0, 0.8), setup, points)
    text = synthetic.as_text(travel, synthetic.noisy(load, 4000.0, 1), "made").encode()
    best = [float("inf"), float("inf")]
    for _ in range(3):
        begin = time.perf_counter()
        record = parse_record("made.csv", text)
        middle = time.perf_counter()
        reduce(examine(record), setup)
        best = [min(best[0], middle - begin), min(best[1], time.perf_counter() - middle)]
    return best[0], best[1]


if __name__ == "__main__":
    large, small = seconds(100_000), seconds(10_000)
    print(f"100 000 rows: read {large[0]:.3f} s, judged and reduced {large[1]:.3f} s")
    print(f"ten times the rows take {large[0] / small[0]:.1f} and {large[1] / small[1]:.1f} times as long")
