"""Fully plastic torque by the sand-heap analogy, with holes.

At full plasticity the slope of the stress function is k everywhere: the function is the surface of a heap
of sand on the section. A hole carries a level plateau; its height is the shortest way from it to the
outside, holes being crossed free of charge.
"""

from __future__ import annotations

import numpy as np
import shapely
from scipy.sparse.csgraph import shortest_path

from kit.sections.mesh import Mesh
from kit.sources import carries

_TOLERANCE = (
    2e-2  # of the volume: summed difference of two estimates; the sum's own error is a fraction of it
)
_MOST_QUARTERINGS = 8


def plateaus(rings: tuple[np.ndarray, ...]) -> np.ndarray:
    """Height of the heap at each ring, (rings,), mm: the shortest way from it to the outer one."""
    if len(rings) == 1:
        return np.zeros(1)
    lines = np.array([shapely.LinearRing(ring) for ring in rings])
    apart = shapely.distance(lines[:, None], lines[None, :])
    return shortest_path(apart, directed=False, indices=0)


def heights(points: np.ndarray, rings: tuple[np.ndarray, ...], level: np.ndarray) -> np.ndarray:
    """Height of the heap at points of the section, (n,), mm: the least of plateau plus distance."""
    at = shapely.points(points)
    height = np.full(len(points), np.inf)
    for ring, start in zip(rings, level, strict=True):
        line = shapely.LinearRing(ring)
        shapely.prepare(line)
        height = np.minimum(height, start + shapely.distance(line, at))
    return height


@carries("nadai-1950", "chakrabarty-2006", caveats=("sand-heap-ductile",))
def plastic_torque(mesh: Mesh, rings: tuple[np.ndarray, ...], hole_areas: tuple[float, ...] = ()) -> float:
    """Plastic torsion modulus T_pl / k = 2 (∫ min (hᵢ + dᵢ) dA + Σ hᵢ Aᵢ), mm3, k the shear yield stress.

    dᵢ is the distance to ring i, hᵢ its plateau. Where the heap is a plane over a triangle the volume is
    exact; the triangles that a ridge or a cone crosses are quartered until they no longer matter.

    Parameters
    ----------
    mesh : Mesh
    rings : tuple of (n, 2) arrays, mm
        Outer ring first.
    hole_areas : tuple of float, mm2
    """
    level = plateaus(rings)
    volume = float(level[1:] @ np.asarray(hole_areas))
    corner, area = mesh.points[mesh.triangles[:, :3]], mesh.areas
    height = _nodal_heights(mesh, rings, level)[mesh.triangles]
    for _ in range(_MOST_QUARTERINGS):
        flat, curved = height[:, :3].mean(axis=1), height[:, 3:].mean(axis=1)
        unsure = np.abs(curved - flat) * area
        total = volume + float(area @ curved)
        kept = unsure > 0.3 * _TOLERANCE * total / len(mesh.triangles)
        if unsure[kept].sum() <= _TOLERANCE * total:
            break
        volume += float(area[~kept] @ curved[~kept])
        corner, height = _quarter(corner[kept], height[kept], rings, level)
        area = np.repeat(area[kept] / 4.0, 4)
    return 2.0 * total


def _nodal_heights(mesh: Mesh, rings: tuple[np.ndarray, ...], level: np.ndarray) -> np.ndarray:
    """Height at each node, (n,), mm; on the rings it is their plateau's."""
    height = np.full(len(mesh.points), np.nan)
    for loop, start in zip(mesh.loops, level, strict=True):
        height[loop[:, [0, 2]]] = start
    inside = np.isnan(height)
    height[inside] = heights(mesh.points[inside], rings, level)
    return height


# A triangle in four: corners of the parts among the parent's six nodes, and the mid-sides they need anew.
_PARTS = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
_NEW = np.array([[0, 3], [3, 1], [1, 4], [4, 2], [2, 5], [5, 0], [3, 4], [4, 5], [5, 3]])
_MIDS_OF_PARTS = np.array([[0, 8, 5], [1, 2, 6], [7, 3, 4], [6, 7, 8]])


def _quarter(corner: np.ndarray, height: np.ndarray, rings, level) -> tuple[np.ndarray, np.ndarray]:
    """Corners (4m, 3, 2) and heights (4m, 6) of the quarters of triangles (m, 3, 2), (m, 6)."""
    six = np.concatenate([corner, 0.5 * (corner + corner[:, [1, 2, 0]])], axis=1)
    new = six[:, _NEW].mean(axis=2)
    new_height = heights(new.reshape(-1, 2), rings, level).reshape(-1, 9)
    parts = np.concatenate([height[:, _PARTS], new_height[:, _MIDS_OF_PARTS]], axis=2)
    return six[:, _PARTS].reshape(-1, 3, 2), parts.reshape(-1, 6)
