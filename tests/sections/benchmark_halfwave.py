"""Figures of the half-wavelength analysis: python -m tests.sections.benchmark_halfwave

Prints milliseconds of processor time on one core per half-wavelength and per curve, best of three, for
outlines from a bar to a tube. Not a test: times belong to a machine.
"""

from __future__ import annotations

import os
import time

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

from shapely import LineString, Polygon, box, unary_union  # noqa: E402

from kit.sections.halfwave import half_wavelength_curve, section_under  # noqa: E402
from kit.sections.halfwave_beam import elastic_bending_limit  # noqa: E402
from kit.sections.halfwave_solve import buckling_modes  # noqa: E402
from kit.sections.halfwave_stress import LinearStress, isotropic  # noqa: E402

ELASTIC = isotropic(210000.0, 0.3)


def folded(points, thickness: float) -> Polygon:
    """A strip of even thickness bent along a mid-line."""
    return LineString(points).buffer(thickness / 2, cap_style="flat", join_style="mitre")


OUTLINES = {
    "bar 50 x 100": box(0, 0, 50, 100),
    "I 100 x 100 x 6": unary_union([box(0, 0, 100, 6), box(0, 94, 100, 100), box(47, 0, 53, 100)]),
    "angle 60 x 60 x 3": folded([(0, 60), (0, 0), (60, 0)], 3),
    "lipped channel 100 x 50 x 2": folded([(50, 20), (50, 0), (0, 0), (0, 100), (50, 100), (50, 80)], 2),
    "square tube 100 x 4": box(0, 0, 100, 100) - box(4, 4, 96, 96),
    "ring of 96 sides": Polygon(box(0, 0, 1, 1).centroid.buffer(50, 24).exterior.coords)
    - box(0, 0, 1, 1).centroid.buffer(42, 24),
}


def best_ms(compute, times: int = 3) -> tuple[float, object]:
    """Shortest of some runs, ms, and the last result."""
    found = []
    for _ in range(times):
        start = time.process_time()
        result = compute()
        found.append((time.process_time() - start) * 1e3)
    return min(found), result


def measured(polygon: Polygon, elements: int | None) -> tuple:
    """Triangles; ms to set up, per half-wavelength (3 modes), per curve; points of the curve."""
    setting_up, section = best_ms(lambda: section_under(polygon, ELASTIC, LinearStress(-1.0), elements))
    size = section.size_mm
    one = [best_ms(lambda a=a: buckling_modes(section.assembly, a))[0] for a in (size / 4, size, 8 * size)]
    curve_ms, curve = best_ms(lambda: half_wavelength_curve(section))
    triangles = len(section.assembly.mesh.triangles)
    return triangles, setting_up, sum(one) / len(one), curve_ms, len(curve.points)


if __name__ == "__main__":
    print(f"{'outline':30s} triangles  set-up ms  ms/half-wavelength  curve ms  points")
    for elements in (None, 250):
        for name, polygon in OUTLINES.items():
            triangles, up, each, whole, points = measured(polygon, elements)
            print(f"{name:30s} {triangles:9d} {up:10.1f} {each:19.1f} {whole:9.0f} {points:7d}")
    beam_ms, _ = best_ms(lambda: elastic_bending_limit(OUTLINES["angle 60 x 60 x 3"], 2000.0, 210000.0, 0.3))
    print(f"elastic_bending_limit of the angle, 2 m: {beam_ms:.0f} ms")
