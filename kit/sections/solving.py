"""From any polygon to a solution of the asked accuracy: soundness, refinement, the resolved peak."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from kit.errors import Unusable
from kit.sections import area, stress
from kit.sections.mesh import Mesh, inward_turns, mesh_polygon, refine
from kit.sections.torsion import Torsion, torsion

# How far the two functions may differ at the peak: half of the 2 % it is resolved to. Chords of an inward curve
# that turn further than this cost 1 % themselves, and leave the mesh less.
PEAK_DOUBT, PEAK_TURN_DEG = 0.01, 17.0


def sound_rings(polygon: Polygon) -> tuple[np.ndarray, ...]:
    """Rings of a polygon with coincident neighbours merged; refuses what cannot be meshed.

    Raises
    ------
    Unusable
        Not one valid polygon, not finite, no area, or a ring that touches itself or another.
    """
    if not isinstance(polygon, Polygon) or polygon.is_empty:
        raise Unusable(
            f"the section must be one closed outline, not {getattr(polygon, 'geom_type', polygon)!s}"
        )
    if not np.isfinite(shapely.get_coordinates(polygon)).all():
        raise Unusable("a coordinate is not a finite number")
    size = max(np.ptp(shapely.get_coordinates(polygon), axis=0))
    rings = tuple(_merged(ring, 1e-9 * size) for ring in area.rings_of(polygon))
    if min(map(len, rings)) < 3:
        raise Unusable("a ring of the outline has fewer than three distinct points")
    merged = Polygon(rings[0], rings[1:])
    if not merged.is_valid:
        raise Unusable(f"the outline is not sound: {shapely.is_valid_reason(merged)}")
    if not merged.area > 1e-9 * size**2:
        raise Unusable("the outline has no area")
    rings = area.rings_of(merged)
    near = np.round(np.vstack(rings) / (1e-9 * size)).astype(np.int64)
    places, times = np.unique(near, axis=0, return_counts=True)
    if (times > 1).any():
        x, y = places[times.argmax()] * 1e-9 * size
        raise Unusable(f"the outline touches itself at ({x:.6g}, {y:.6g}) mm")
    return rings


def _merged(ring: np.ndarray, least: float) -> np.ndarray:
    """A ring without the vertices that lie closer than ``least`` to the one before."""
    return ring[np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > least]


def solve(polygon: Polygon, bounds: float = 0.005, most_elements: int = 60000) -> Torsion:
    """Torsion of a polygon, centroid at the origin, refined until the bounds on J are as close as asked.

    Raises
    ------
    Unusable
        If that needs more than ``most_elements`` triangles.
    """
    holes = tuple(Polygon(ring).area for ring in polygon.interiors)
    solved = torsion(_first_mesh(polygon, bounds, most_elements), holes)
    while solved.gap > bounds:
        allowed = 0.5 * bounds * solved.J / len(solved.mesh.triangles)
        # The gap of a triangle falls as its area cubed where the stress is smooth, more slowly at a corner.
        share = np.sqrt(allowed / np.maximum(solved.gap_of_triangles, allowed))
        solved = torsion(_refined(solved.mesh, np.maximum(share, 0.05), most_elements), holes)
    return solved


def _first_mesh(polygon: Polygon, bounds: float, most_elements: int) -> Mesh:
    """Finer, and finer towards the corners, the closer the bounds are to be."""
    closeness = np.sqrt(0.005 / bounds)
    elements = int(min(600 * max(closeness, 0.5), most_elements / 4))
    return mesh_polygon(polygon, elements, smallest=0.03 / closeness**2, most=most_elements)


def _refined(mesh: Mesh, share: np.ndarray, most_elements: int) -> Mesh:
    finer = refine(mesh, np.where(share < 1.0, share * mesh.areas, 0.0), most_elements)
    if len(finer.triangles) <= len(mesh.triangles):
        raise Unusable("refining the mesh came to a stop before the bounds on J were close enough")
    return finer


def resolve_peak(
    solved: Torsion, rings, internal_radius_mm: float, most_elements: int
) -> tuple[Torsion, float, str]:
    """The torsional stress peak where there is one, resolved to 2 %, on a finer mesh if need be."""
    if stress.has_sharp_corner(rings):
        return solved, np.nan, "peak-not-resolved" if internal_radius_mm > 0.0 else "sharp-corner"
    holes = tuple(Polygon(ring).area for ring in rings[1:])
    for finer in range(4):
        value, place, doubt = stress.peak_stress(solved)
        if doubt <= PEAK_DOUBT and (finer or _turn_near(rings, place) <= PEAK_TURN_DEG):
            return solved, value, ""
        middle = solved.mesh.points[solved.mesh.triangles[:, :3]].mean(axis=1)
        near = np.hypot(*(middle - place).T) < 3.0 * np.sqrt(solved.mesh.areas)
        solved = torsion(_refined(solved.mesh, np.where(near, 0.2, 1.0), most_elements), holes)
    return solved, np.nan, "peak-not-resolved"


def _turn_near(rings, place) -> float:
    """The greater inward turn of the two vertices nearest to a place, degrees."""
    away = np.hypot(*(np.vstack(rings) - place).T)
    turns = np.concatenate([inward_turns(ring) for ring in rings])
    return float(turns[np.argpartition(away, 1)[:2]].max())
