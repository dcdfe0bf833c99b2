"""How fast the members stage is: ``python -m tests.members.benchmark [rows]``. Nothing is asserted."""

from __future__ import annotations

import resource
import sys
import time

import numpy as np
import pandas as pd
from shapely import Polygon, box

from kit.members import momentcurvature as mc
from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Service, library
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.members.uncertainty import Uncertainty, samples
from kit.sections.section import properties, scaled
from tests.sections.letters import letters

OUTLINES = {
    "slab": box(0, 0, 20, 60),
    "angle": Polygon([(0, 0), (60, 0), (60, 10), (10, 10), (10, 100), (0, 100)]),
    "channel": Polygon([(0, 0), (60, 0), (60, 8), (8, 8), (8, 92), (60, 92), (60, 100), (0, 100)]),
    "vee": Polygon([(-40, 100), (-3, 0), (3, 0), (40, 100), (30, 100), (0, 10), (-30, 100)]),
}
CASES = (
    BendingCase("bending", 900.0, deflection_limit=1 / 200),
    CompressionCase("compression", 900.0),
    TensionCase("tension", 900.0),
    TorsionCase("torsion", 900.0),
)


def table(rows: int) -> pd.DataFrame:
    """So many sections: four outlines at random sizes."""
    few = pd.DataFrame([{"section_id": name, **properties(shape).row()} for name, shape in OUTLINES.items()])
    many = pd.concat([few] * -(-rows // len(few)), ignore_index=True).iloc[:rows]
    return scaled(many, np.random.default_rng(1).uniform(0.5, 1.5, rows))


def main(rows: int = 50_000) -> None:
    """Print seconds of processor time for each load case, and the greatest memory."""
    sections, material, service = table(rows), library()["aluminium-6060-T66"], Service()
    total = 0.0
    for case in CASES:
        start = time.process_time()
        resistance(sections, case, material, service)
        middle = time.process_time()
        merit(sections, sections.iloc[0], case, material, service)
        end = time.process_time()
        total += end - start
        print(f"{case.name:12} resistance {middle - start:6.2f} s   merit and mass {end - middle:6.2f} s")
    print(f"{rows} rows x {len(CASES)} load cases: {total:.2f} s of one core")
    start = time.process_time()
    samples(sections.iloc[:100], CASES[0], material, service, Uncertainty(2000))
    print(f"2000 samples of 100 beams: {time.process_time() - start:.2f} s")
    _bent()
    print(f"greatest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


def _bent() -> None:
    """Hardening, and softening with unequal branches, which takes the most turns."""
    hardening = [(e, 24 * (1 - np.exp(-1050 * e / 24))) for e in np.linspace(0.002, 0.05, 25)]
    compressed = [(-0.05, -12.0), (-0.03, -14.0), (-0.01, -7.0)]
    softening = [*compressed, (0.0, 0.0), (0.01, 6.0), (0.02, 8.0), (0.03, 3.0)]
    print("moment-curvature and load-deflection, fibres included, over A-Z of six typefaces:")
    for law, pairs in (("hardening", hardening), ("softening", softening)):
        for held in (True, False):
            times = []
            for shape in letters().values():
                start = time.process_time()
                bent = mc.moment_curvature(mc.fibres(shape), pairs, held)
                mc.load_deflection(bent, CASES[0])
                times.append(1e3 * (time.process_time() - start))
            way = "held" if held else "free"
            print(f"  {law}, {way}: median {np.median(times):.1f} ms, longest {max(times):.1f} ms")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
