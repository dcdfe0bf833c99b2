"""The filled region of rings that may overlap, nest, cross or be drawn backwards."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kit.errors import Unusable
from kit.outlines.flattening import ring_area

MOST_FACES = 20_000
GRIDS = (0.0, 1e-10, 1e-9, 1e-8)  # of the size of all rings
LOST = 1e-9  # of the square of that size


def filled(rings: list[np.ndarray], rule: str = "nonzero") -> list[Polygon]:
    """The region a fill rule paints, as polygons that overlap nowhere.

    Where no ring meets itself or another, each ring is a boundary or it is not, by the winding number
    on its two sides. Otherwise the rings cut the plane into faces, and each face is in or out by the
    winding number of a point inside it. (Uniting rings by their sense of turn instead goes wrong where
    a contour overlaps one drawn backwards.)

    Parameters
    ----------
    rings : list of (n, 2) float arrays
        Open rings without repeated points.
    rule : {"nonzero", "evenodd"}

    Returns
    -------
    list of shapely.Polygon
        Valid; two of them may meet in points.

    Raises
    ------
    Unusable
        If a point is not finite, or the rings cross one another more than 20 000 times.
    """
    rings = [ring for ring in rings if len(ring) >= 3]
    if not rings:
        return []
    points = np.concatenate([ring[_closing(len(ring))] for ring in rings])
    if not np.isfinite(points).all():
        raise Unusable("a point of it is not finite; draw it again")
    owner = np.repeat(np.arange(len(rings)), [len(ring) + 1 for ring in rings])
    lines = shapely.multilinestrings(shapely.linestrings(points, indices=owner))
    return _nested(rings, rule) if shapely.is_simple(lines) else _faces(rings, lines, rule)


def winding_numbers(points: np.ndarray, rings: list[np.ndarray]) -> np.ndarray:
    """How often the rings go round each point, counter-clockwise positive.

    Signed crossings of the ray to the right of each point (Sunday's rule: no angles).

    Parameters
    ----------
    points : (p, 2) float array
    rings : list of (n, 2) float arrays

    Returns
    -------
    (p,) int array
    """
    total = np.zeros(len(points), int)
    for ring in rings:
        start, end = ring, np.roll(ring, -1, axis=0)
        for part in _chunks(len(points), len(ring)):
            x, y = points[part, 0, None], points[part, 1, None]
            up, down = (start[:, 1] <= y) & (end[:, 1] > y), (start[:, 1] > y) & (end[:, 1] <= y)
            side = (end[:, 0] - start[:, 0]) * (y - start[:, 1]) - (x - start[:, 0]) * (
                end[:, 1] - start[:, 1]
            )
            total[part] += np.sum(up & (side > 0), axis=1) - np.sum(down & (side < 0), axis=1)
    return total


def _chunks(points: int, sides: int, most: int = 2_000_000):
    step = max(1, most // max(sides, 1))
    return (slice(i, i + step) for i in range(0, points, step))


def _closing(count: int) -> np.ndarray:
    return np.append(np.arange(count), 0)


def _inside(rule: str, winding: np.ndarray) -> np.ndarray:
    return winding % 2 != 0 if rule == "evenodd" else winding != 0


def _nested(rings: list[np.ndarray], rule: str) -> list[Polygon]:
    """Polygons of rings that meet nowhere: sorted by size, each ring lies in whole or not in a larger one."""
    areas = np.array([ring_area(ring) for ring in rings])
    order = np.argsort(-np.abs(areas), kind="stable")
    rings, turns = [rings[i] for i in order], np.sign(areas[order]).astype(int)
    around = np.zeros(len(rings), int)
    owner = np.full(len(rings), -1)  # the smallest ring each one lies in
    for i, ring in enumerate(rings[:-1]):
        within = np.flatnonzero(_starts_inside(rings[i + 1 :], ring)) + i + 1
        around[within] += turns[i]
        owner[within] = i
    outer, inner = _inside(rule, around), _inside(rule, around + turns)
    return _assemble(rings, owner, outer, inner)


def _starts_inside(rings: list[np.ndarray], ring: np.ndarray) -> np.ndarray:
    return winding_numbers(np.array([r[0] for r in rings]), [ring]) != 0


def _assemble(rings, owner, outer, inner) -> list[Polygon]:
    holes: dict[int, list[np.ndarray]] = {i: [] for i in range(len(rings)) if inner[i] and not outer[i]}
    for i in np.flatnonzero(outer & ~inner):
        shell = owner[i]
        while shell not in holes:  # rings that bound nothing lie between
            shell = owner[shell]
        holes[shell].append(rings[i])
    return [Polygon(rings[shell], inside) for shell, inside in holes.items()]


def _faces(rings: list[np.ndarray], lines, rule: str) -> list[Polygon]:
    """Faces in which the winding number says filled, united.

    Where lines run along one another but for rounding, an arrangement can lose a face. The areas tell: those of
    the faces, each as often as it is gone round, add up to those of the rings. Then points are moved onto a grid.
    """
    points = np.concatenate(rings)
    size, rounding = float(np.ptp(points, axis=0).max()), 4 * np.finfo(float).eps * np.abs(points).max()
    wanted, length = sum(map(ring_area, rings)), shapely.length(lines)
    for grid in GRIDS:
        faces, winding = _arrangement(rings, lines, grid * size)
        areas, inside = shapely.area(faces), _inside(rule, winding)
        found = shapely.union_all(faces[inside])
        moved = LOST * size * size + (grid * size + rounding) * length
        if abs(winding @ areas - wanted) <= moved and abs(found.area - areas[inside].sum()) <= moved:
            return parts_of(found)
    raise Unusable(
        "its contours run too close along one another to tell what they fill; unite them in the drawing"
    )


def _arrangement(rings: list[np.ndarray], lines, grid: float) -> tuple[np.ndarray, np.ndarray]:
    """Faces that the rings cut the plane into, and the winding number in each."""
    noded = shapely.union_all(lines, grid_size=grid or None)
    if shapely.get_num_geometries(noded) > MOST_FACES:
        raise Unusable("the contours cross one another too often; unite them in a drawing program")
    faces = np.asarray(shapely.get_parts(shapely.polygonize([noded])), object)
    points = shapely.get_coordinates(shapely.point_on_surface(faces))
    return faces, winding_numbers(points, rings)


def parts_of(geometry) -> list[Polygon]:
    """The polygons of any geometry, without lines and points."""
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    parts = geometry.geoms if isinstance(geometry, MultiPolygon) else getattr(geometry, "geoms", ())
    return [polygon for part in parts for polygon in parts_of(part)]
