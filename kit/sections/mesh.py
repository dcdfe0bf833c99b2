"""Quadratic triangles on a polygon with holes, finer towards its re-entrant corners."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from cytriangle import CyTriangle
from shapely import Polygon

from kit.errors import Unusable
from kit.sections.area import rings_of

LEAST_ANGLE_DEG = 25.0
# A corner that turns inwards by more than this is sharp; a lesser one may be a chord of a flattened curve.
SHARP_DEG = 25.0
MOST_ELEMENTS = 200_000
_STEP = 0.4  # each element towards a sharp corner is this much of the one before


@dataclass(frozen=True)
class Mesh:
    """Quadratic triangles on a polygon.

    Attributes
    ----------
    points : (n, 2) float array, mm
        Corner nodes (those of the polygon first, in the order of its rings) and mid-side nodes.
    triangles : (m, 6) int array
        Corners 0, 1, 2 counter-clockwise, then the mid-side nodes of sides 0-1, 1-2, 2-0.
    """

    points: np.ndarray
    triangles: np.ndarray

    @cached_property
    def areas(self) -> np.ndarray:
        """Area of each triangle, (m,), mm2."""
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        u, v = b - a, c - a
        return 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])

    @property
    def area(self) -> float:
        """Area of all triangles, mm2."""
        return float(self.areas.sum())

    @cached_property
    def boundary(self) -> np.ndarray:
        """Sides on the boundary, (k, 3): first end, second end, mid-side; material on the left."""
        tri = self.triangles
        alone = np.bincount(tri[:, 3:].ravel(), minlength=len(self.points))[tri[:, 3:]] == 1
        side, owner = np.nonzero(alone.T)
        return np.column_stack([tri[owner, side], tri[owner, (side + 1) % 3], tri[owner, 3 + side]])

    @cached_property
    def loops(self) -> tuple[np.ndarray, ...]:
        """The boundary sides of each ring, (k_i, 3) each, in the order of walking."""
        sides = self.boundary
        first, second = sides[:, 0].tolist(), sides[:, 1].tolist()
        after = dict(zip(first, range(len(first)), strict=True))
        if len(after) != len(sides):
            raise Unusable("the outline touches itself: a point of the boundary belongs to two rings")
        found = []
        for start in sorted(first):
            walk, node = [], start
            while node in after:
                side = after.pop(node)
                walk.append(side)
                node = second[side]
            if node != start:
                raise Unusable("the boundary of the mesh does not close; rings of the outline may touch")
            if walk:
                found.append(sides[walk])
        return tuple(found)


class _Mesher(CyTriangle):
    """The mesher without its check of the switches, which copies the whole input several times."""

    def validate_input_flags(self, opts):
        pass


def _run(outline: dict, switches: str, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Corner points and linear triangles of the mesher's answer, within a limit on the triangles."""
    # Each added point makes two triangles: so many points are far more than enough, and the mesher stops
    # there even where a needle would never let it end.
    out = _Mesher(outline).triangulate(f"{switches}S{most}")
    points, triangles = np.array(out.vertices, dtype=float), np.array(out.triangles, dtype=np.int32)
    if len(triangles) > most:
        raise Unusable(
            f"it needs more than {most} triangles; look for needles, near contacts or very thin walls"
        )
    return points, triangles


def with_midsides(points: np.ndarray, triangles: np.ndarray) -> Mesh:
    """Quadratic mesh from corner points (n, 2) and linear triangles (m, 3), counter-clockwise."""
    first, second = triangles, triangles[:, [1, 2, 0]]
    low, high = np.minimum(first, second), np.maximum(first, second)
    key = (low.astype(np.int64) * len(points) + high).ravel()
    unique, number = np.unique(key, return_inverse=True)
    middles = 0.5 * (points[unique // len(points)] + points[unique % len(points)])
    six = np.column_stack([triangles, len(points) + number.reshape(-1, 3)])
    return Mesh(np.vstack([points, middles]), six.astype(np.int32))


def inward_turns(ring: np.ndarray) -> np.ndarray:
    """Angle by which each vertex turns the boundary towards the material, (n,), degrees; convex: negative."""
    into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return -np.degrees(np.arctan2(cross, np.einsum("ij,ij->i", into, out)))


def _steps(length: float, here: float, there: float, size: float) -> np.ndarray:
    """Places along a side (0 … 1, without the ends), in steps that grow from its ends to ``size``."""
    ends = []
    for least in (here, there):
        reach = min(0.45 * length, size)
        count = int(np.ceil(np.log(least / reach) / np.log(_STEP))) if 0.0 < least < reach else -1
        ends.append(reach * _STEP ** np.arange(count, -1, -1) / length)
    return np.concatenate([ends[0], 1.0 - ends[1][::-1]])


def grade(ring: np.ndarray, size: float, smallest: float) -> np.ndarray:
    """The ring with vertices added on the sides of its sharp re-entrant corners.

    The stress there grows as r^(π/α − 1), α the angle of the material: elements that shrink towards the
    corner in geometrical steps keep the error of each alike.

    Parameters
    ----------
    ring : (n, 2) float array, mm
    size : float, mm
        Where the steps begin.
    smallest : float, mm
        Where they end at a slit (α = 360°); at a blunter corner they end earlier, by
        size·(smallest/size)^(…).
    """
    turn = inward_turns(ring)
    exponent = np.pi / np.radians(180.0 + np.clip(turn, 0.0, 180.0))
    least = np.where(turn > SHARP_DEG, size * (smallest / size) ** (0.5 / exponent), 0.0)
    lengths = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    pieces = []
    for i, j in zip(range(len(ring)), np.roll(np.arange(len(ring)), -1), strict=True):
        pieces.append(ring[i : i + 1])
        if least[i] > 0.0 or least[j] > 0.0:
            at = _steps(lengths[i], least[i], least[j], size)
            pieces.append(ring[i] + at[:, None] * (ring[j] - ring[i]))
    return np.vstack(pieces)


def _outline(rings: tuple[np.ndarray, ...], scale: float) -> dict:
    """The mesher's input: vertices, segments, a point in each hole."""
    firsts = np.cumsum([0, *map(len, rings)])
    segments = []
    for ring, first in zip(rings, firsts, strict=False):
        n = np.arange(len(ring))
        segments.append(np.column_stack([n, np.roll(n, -1)]) + first)
    outline = {"vertices": np.vstack(rings) * scale, "segments": np.vstack(segments)}
    if len(rings) > 1:
        outline["holes"] = [
            np.multiply(Polygon(ring).representative_point().coords[0], scale) for ring in rings[1:]
        ]
    return outline


def _unit(points: np.ndarray) -> float:
    """A power of two that brings the size to about 1: the mesher reads fixed-point numbers."""
    return float(2.0 ** -np.round(np.log2(np.ptp(points, axis=0).max())))


def _checked(mesh: Mesh, area: float, rings: int) -> Mesh:
    if abs(mesh.area - area) > 1e-12 * area * max(1.0, len(mesh.points) / 1e4) or len(mesh.loops) != rings:
        raise Unusable("the mesher did not fill the outline; its rings may touch or cross")
    return mesh


def mesh_polygon(
    polygon: Polygon, elements: int = 500, smallest: float | None = None, most: int = MOST_ELEMENTS
) -> Mesh:
    """Mesh a sound polygon with about so many quadratic triangles of equal greatest area.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        Valid, with any number of holes.
    elements : int
        Triangles wanted; the mesher adds what shape and least angle need.
    smallest : float, optional
        Grade towards sharp re-entrant corners: size of the elements at a slit, as a share of the greatest.
    most : int
        Limit on the triangles.

    Raises
    ------
    Unusable
        If the limit is passed, the mesh does not cover the polygon, or its boundary loops are not the
        polygon's rings.
    """
    rings = rings_of(polygon)
    scale = _unit(rings[0])
    if smallest is not None:
        size = np.sqrt(2.3 * polygon.area * 2.0 / elements)
        rings = tuple(grade(ring, size, smallest * size) for ring in rings)
    largest = polygon.area * scale**2 / elements * 2.0
    points, triangles = _run(_outline(rings, scale), f"pq{LEAST_ANGLE_DEG:.1f}a{largest:.15f}", most)
    return _checked(with_midsides(points / scale, triangles), polygon.area, len(rings))


def refine(mesh: Mesh, largest: np.ndarray, most: int = MOST_ELEMENTS) -> Mesh:
    """Refine a mesh so that each triangle gives way to triangles no larger than asked.

    Parameters
    ----------
    mesh : Mesh
    largest : (m,) float array, mm2
        Greatest area allowed where each triangle is now; 0: no limit.
    most : int
        Limit on the triangles.
    """
    corners = int(mesh.triangles[:, :3].max()) + 1
    scale = _unit(mesh.points)
    outline = {
        "vertices": mesh.points[:corners] * scale,
        "triangles": mesh.triangles[:, :3],
        "segments": mesh.boundary[:, :2],
        "triangle_max_area": largest * scale**2,
    }
    points, triangles = _run(outline, f"rpq{LEAST_ANGLE_DEG:.1f}a", most)
    return _checked(with_midsides(points / scale, triangles), mesh.area, len(mesh.loops))
