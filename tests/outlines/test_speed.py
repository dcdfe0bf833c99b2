"""How fast letterforms become sound outlines; printed, not asserted: other work may share the machine."""

import time
from pathlib import Path

import matplotlib
import pytest

from kit.errors import Unusable
from kit.outlines import FontFiles, Making, Outline, prepare
from kit.outlines.fonts import outlines_of
from kit.outlines.worker import Progress

FACES = (
    "DejaVuSans.ttf",
    "DejaVuSerif.ttf",
    "DejaVuSerif-Italic.ttf",
    "STIXGeneral.ttf",
    "cmr10.ttf",
    "cmti10.ttf",
)
FIT = Making(fit=("envelope", (100.0, 100.0)))


def letters():
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    spec = FontFiles((), ("A-Z", "a-z", "0-9"))
    found = (item for name in FACES for item in outlines_of(folder / name, spec, Progress(lambda *_: None)))
    return [item for item in found if isinstance(item, Outline)]


def best(work, times: int = 3) -> float:
    """Least processor time of several runs, s."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def prepared(outlines) -> int:
    done = 0
    for outline in outlines:
        try:
            prepare(outline, FIT)
            done += 1
        except Unusable:
            pass
    return done


@pytest.mark.slow
def test_glyphs_a_second(capsys):
    outlines = letters()
    reading, preparing = best(letters), best(lambda: prepared(outlines))
    with capsys.disabled():
        print(
            f"\n{len(outlines)} glyphs a second on one core: read {len(outlines) / reading:.0f}, "
            f"prepared {len(outlines) / preparing:.0f}, both {len(outlines) / (reading + preparing):.0f}"
        )
    assert prepared(outlines) > 0.9 * len(outlines)
