"""Fully plastic torque by the sand-heap analogy, with holes.

At full plasticity the slope of the stress function is k everywhere: the function is the surface of a heap
of sand on the section. A hole carries a level plateau; its height is the shortest way from it to the
outside, holes being crossed free of charge.
"""

from __future__ import annotations

import numpy as np
import shapely
from scipy.sparse.csgraph import shortest_path

from kit.sections.area import edges_of
from kit.sections.mesh import Mesh
from kit.sources import carries


def plateaus(rings: tuple[np.ndarray, ...]) -> np.ndarray:
    """Height of the heap at each ring, (rings,), mm: the shortest way from it to the outer one."""
    if len(rings) == 1:
        return np.zeros(1)
    lines = np.array([shapely.LinearRing(ring) for ring in rings])
    apart = shapely.distance(lines[:, None], lines[None, :])
    return shortest_path(apart, directed=False, indices=0)


class Slopes:
    """The planes and cones whose lower envelope is the heap: one for each edge of the boundary.

    Over the foot of an edge rises a plane, round its ends a cone: plateau of its ring plus distance to it.
    """

    def __init__(self, rings: tuple[np.ndarray, ...], level: np.ndarray):
        self.start, end = edges_of(rings)
        self.length = np.hypot(*(end - self.start).T)
        self.along = (end - self.start) / self.length[:, None]
        self.level = np.repeat(level, [len(ring) for ring in rings])

    def lowest(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Height of the heap at points (n, 2), and the edge it rises from, (n,) each."""
        height, edge = np.empty(len(points)), np.empty(len(points), dtype=np.int64)
        normal = np.column_stack([-self.along[:, 1], self.along[:, 0]])
        foot, off = np.einsum("ei,ei->e", self.along, self.start), np.einsum("ei,ei->e", normal, self.start)
        chunk = max(1, _AT_ONCE // len(self.start))
        for first in range(0, len(points), chunk):
            part = slice(first, first + chunk)
            beside, rise = points[part] @ self.along.T, points[part] @ normal.T
            beside -= foot
            inside = np.minimum(beside, self.length)
            beside -= np.maximum(inside, 0.0, out=inside)
            rise -= off
            rise *= rise
            rise += np.square(beside, out=beside)
            np.sqrt(rise, out=rise)
            rise += self.level
            edge[part] = rise.argmin(axis=1)
            height[part] = np.take_along_axis(rise, edge[part, None], axis=1)[:, 0]
        return height, edge

    def of(self, points: np.ndarray, edges: np.ndarray) -> np.ndarray:
        """Lower envelope of a few edges (m, k) at points (m, p, 2), (m, p)."""
        lowest = np.full(points.shape[:2], np.inf)
        x, y = points[..., 0], points[..., 1]
        for edge in edges.T[:, :, None]:
            ux, uy = self.along[edge, 0], self.along[edge, 1]
            dx, dy = x - self.start[edge, 0], y - self.start[edge, 1]
            beside, above = dx * ux + dy * uy, dy * ux - dx * uy
            beside -= np.clip(beside, 0.0, self.length[edge])
            np.minimum(lowest, np.sqrt(beside * beside + above * above) + self.level[edge], out=lowest)
        return lowest


@carries("nadai-1950", "chakrabarty-2006", caveats=("sand-heap-ductile",))
def plastic_torque(mesh: Mesh, rings: tuple[np.ndarray, ...], hole_areas: tuple[float, ...] = ()) -> float:
    """Plastic torsion modulus T_pl / k = 2 (∫ min (hᵢ + dᵢ) dA + Σ hᵢ Aᵢ), mm3, k the shear yield stress.

    dᵢ is the distance to ring i, hᵢ its plateau. Over a triangle whose six nodes lie on one plane the volume
    is exact. Where a ridge or a cone crosses a triangle, the slopes that its nodes lie on are followed on a
    fine grid in it.

    Parameters
    ----------
    mesh : Mesh
    rings : tuple of (n, 2) arrays, mm
        Outer ring first.
    hole_areas : tuple of float, mm2
    """
    level = plateaus(rings)
    slopes = Slopes(rings, level)
    height, edge = slopes.lowest(mesh.points)
    six = height[mesh.triangles]
    flat, mean = six[:, :3].mean(axis=1), six[:, 3:].mean(axis=1)
    crossed = np.abs(mean - flat) > 1e-4 * height.max()
    corner = mesh.points[mesh.triangles[crossed, :3]]
    mean[crossed] = _means(slopes, corner, edge[mesh.triangles[crossed]])
    return 2.0 * float(mesh.areas @ mean + level[1:] @ np.asarray(hole_areas))


def _means(slopes: Slopes, corner: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Mean height over triangles (m, 3, 2) whose nodes lie on the slopes of six edges (m, 6), (m,)."""
    edges = np.sort(edges, axis=1)
    first = np.column_stack([np.full(len(edges), True), edges[:, 1:] != edges[:, :-1]])
    number = first.sum(axis=1)
    mean = np.empty(len(edges))
    for different in np.unique(number):
        rows = number == different
        points = _GRID @ corner[rows]
        mean[rows] = slopes.of(points, edges[rows][first[rows]].reshape(-1, different)) @ _WEIGHTS
    return mean


def _grid(parts: int) -> tuple[np.ndarray, np.ndarray]:
    """Mid-side points of the parts² equal triangles of a triangle, (p, 3) barycentric, and their weights."""
    at = [(i, j) for i in range(2 * parts + 1) for j in range(2 * parts + 1 - i)]
    middles = [(i, j, 2 * parts - i - j) for i, j in at if i % 2 or j % 2]
    on_sides = np.array([1.0 if 0 in point else 2.0 for point in middles])
    return np.array(middles) / (2.0 * parts), on_sides / on_sides.sum()


_GRID, _WEIGHTS = _grid(4)
_AT_ONCE = 60_000  # pairs of a point and an edge: what a processor's own memory holds
