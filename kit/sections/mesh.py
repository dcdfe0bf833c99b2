"""Quadratic triangles on a polygon with holes."""

from __future__ import annotations

from dataclasses import dataclass

import cytriangle
import numpy as np
from shapely import Polygon
from shapely.geometry.polygon import orient

from kit.errors import Unusable

LEAST_ANGLE_DEG = 25.0


@dataclass(frozen=True)
class Mesh:
    """Quadratic triangles on a polygon.

    Attributes
    ----------
    points : (n, 2) float array, mm
        Corner and mid-side nodes.
    triangles : (m, 6) int array
        Corners 0, 1, 2 counter-clockwise, then the mid-side nodes of sides 0-1, 1-2, 2-0.
    """

    points: np.ndarray
    triangles: np.ndarray

    @property
    def area(self) -> float:
        """Area of all triangles, mm2."""
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        u, v = b - a, c - a
        return float(0.5 * np.sum(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def mesh_polygon(polygon: Polygon, elements: int = 500) -> Mesh:
    """Mesh a sound polygon with about so many quadratic triangles of equal greatest area.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        Valid, with any number of holes.
    elements : int
        Triangles wanted; the mesher adds what shape and least angle need.

    Raises
    ------
    Unusable
        If the mesh does not cover the polygon's area to 1e-9.
    """
    polygon = orient(polygon)
    rings = [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    firsts = np.cumsum([0, *map(len, rings)])
    segments = [
        np.column_stack([np.arange(n), np.roll(np.arange(n), -1)]) + first
        for n, first in zip(map(len, rings), firsts, strict=False)
    ]
    outline = {"vertices": np.vstack(rings).tolist(), "segments": np.vstack(segments).tolist()}
    if polygon.interiors:
        outline["holes"] = [
            list(Polygon(ring).representative_point().coords[0]) for ring in polygon.interiors
        ]
    # The mesher takes fixed-point numbers only, so it is given the largest area in plain digits.
    largest = polygon.area / elements * 2.0
    found = cytriangle.triangulate(outline, f"pq{LEAST_ANGLE_DEG:.1f}a{largest:.12f}o2")
    triangles = np.asarray(found["triangles"])[:, [0, 1, 2, 5, 3, 4]]
    mesh = Mesh(np.asarray(found["vertices"], dtype=float), triangles)
    if abs(mesh.area - polygon.area) > 1e-9 * polygon.area:
        raise Unusable("the mesher did not fill the outline; it may touch or cross itself")
    return mesh
