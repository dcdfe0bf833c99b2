"""Area properties of a polygon, exact: Green's theorem turns each integral into a sum over its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.polygon import orient

from kit.sources import carries


def rings_of(polygon: Polygon) -> tuple[np.ndarray, ...]:
    """Vertices of each ring, not repeated: the outer one counter-clockwise, the holes clockwise.

    Returns
    -------
    tuple of (n, 2) float arrays, mm
    """
    polygon = orient(polygon)
    return tuple(np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors))


def edges_of(rings: tuple[np.ndarray, ...]) -> tuple[np.ndarray, np.ndarray]:
    """First and second ends of all edges, material on the left, each (n, 2), mm."""
    return np.vstack(rings), np.vstack([np.roll(ring, -1, axis=0) for ring in rings])


@dataclass(frozen=True)
class AreaMoments:
    """Integrals over a polygon; the moments are about its centroid.

    Attributes
    ----------
    area_mm2, perimeter_mm : float
        The perimeter includes the rings of holes.
    x_mm, y_mm : float
        The centroid.
    Ix, Iy, Ixy : float, mm4
        ∫y² dA, ∫x² dA, ∫xy dA.
    xr2, yr2 : float, mm5
        ∫x(x² + y²) dA and ∫y(x² + y²) dA, the third-order integrals of monosymmetry.
    """

    area_mm2: float
    perimeter_mm: float
    x_mm: float
    y_mm: float
    Ix: float
    Iy: float
    Ixy: float
    xr2: float
    yr2: float


def _first_order(a: np.ndarray, b: np.ndarray) -> tuple[float, np.ndarray]:
    """Area and centroid from edges a → b, as signed triangles with the origin."""
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    area = 0.5 * cross.sum()
    return area, (cross @ (a + b)) / (6.0 * area)


@carries("pilkey-2002")
def area_moments(polygon: Polygon) -> AreaMoments:
    """Exact integrals of order 0 to 3 over a polygon with holes.

    Each edge a → b and the origin make a triangle of signed area c/2, c = a × b, over which a monomial
    in the barycentric coordinates integrates to ∫λ₁ⁱλ₂ʲ dA = c i! j! / (i + j + 2)!.

    Parameters
    ----------
    polygon : shapely.Polygon, mm

    Returns
    -------
    AreaMoments
    """
    a, b = edges_of(rings_of(polygon))
    perimeter = float(np.hypot(*(b - a).T).sum())
    # About a vertex first, then about the centroid: far from the origin the sums would cancel.
    far = a[0]
    area, centroid = _first_order(a - far, b - far)
    a, b = a - far - centroid, b - far - centroid
    c = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    (ax, ay), (bx, by) = a.T, b.T
    Iy = c @ (ax * ax + ax * bx + bx * bx) / 12.0
    Ix = c @ (ay * ay + ay * by + by * by) / 12.0
    Ixy = c @ (2.0 * ax * ay + ax * by + bx * ay + 2.0 * bx * by) / 24.0
    return AreaMoments(
        float(area), perimeter, *(float(v) for v in far + centroid), float(Ix), float(Iy), float(Ixy),
        *_third_order(c, (ax, ay), (bx, by)),
    )  # fmt: skip


def _third_order(c, a, b) -> tuple[float, float]:
    """∫x(x² + y²) dA and ∫y(x² + y²) dA over the triangles (0, a, b), mm5."""

    def cubed(p, q):  # ∫p³
        return c @ (p**3 + p * p * q + p * q * q + q**3) / 20.0

    def squared_times(p, q, r, s):  # ∫u²v, u from p to q, v from r to s
        return c @ (r * (3 * p * p + 2 * p * q + q * q) + s * (p * p + 2 * p * q + 3 * q * q)) / 60.0

    (ax, ay), (bx, by) = a, b
    xr2 = cubed(ax, bx) + squared_times(ay, by, ax, bx)
    yr2 = cubed(ay, by) + squared_times(ax, bx, ay, by)
    return float(xr2), float(yr2)


@carries("pilkey-2002")
def principal(Ix: float, Iy: float, Ixy: float) -> tuple[float, float, float]:
    """Principal second moments and the angle of the major axis from x.

    Returns
    -------
    I1, I2 : float, mm4
        The greater and the lesser.
    angle_deg : float
        In (−90, 90], counter-clockwise; 0 where I1 = I2.
    """
    mean, half = 0.5 * (Ix + Iy), float(np.hypot(0.5 * (Ix - Iy), Ixy))
    if half <= 1e-12 * mean:
        return mean, mean, 0.0
    angle = float(np.degrees(0.5 * np.arctan2(-Ixy, 0.5 * (Ix - Iy))))
    return mean + half, mean - half, angle if angle > -90.0 else 90.0


@carries("pilkey-2002")
def bending_stress(points: np.ndarray, moments: AreaMoments, mx: float, my: float = 0.0) -> np.ndarray:
    """Bending stress, free to deflect both ways, at points (n, 2) from the centroid, N/mm2.

    σ = ((Iy mx − Ixy my) y + (Ix my − Ixy mx) x) / (Ix Iy − Ixy²), tension positive, with the moments
    mx = ∫σy dA and my = ∫σx dA in N mm. Sagging under loads along −y is mx < 0: the fibres above are
    compressed.
    """
    Ix, Iy, Ixy = moments.Ix, moments.Iy, moments.Ixy
    of_y, of_x = Iy * mx - Ixy * my, Ix * my - Ixy * mx
    return (of_y * points[:, 1] + of_x * points[:, 0]) / (Ix * Iy - Ixy**2)


@carries("timoshenko-1955")
def kern(polygon: Polygon) -> np.ndarray:
    """Corners of the kern (core): a force inside it puts the whole section under one sign of stress.

    Each side of the convex hull, taken as neutral axis, gives one corner, as the pole of its line:
    p = −I n / (A d), I = [[∫x², ∫xy], [∫xy, ∫y²]], for the line n·r = d.

    Returns
    -------
    (n, 2) float array, mm, from the centroid
    """
    m = area_moments(polygon)
    hull = np.asarray(orient(polygon.convex_hull).exterior.coords) - (m.x_mm, m.y_mm)
    along = np.diff(hull, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    distance = np.einsum("ij,ij->i", normal, hull[:-1])
    tensor = np.array([[m.Iy, m.Ixy], [m.Ixy, m.Ix]])
    return -(normal @ tensor) / (m.area_mm2 * distance)[:, None]


def extent_within(rings: tuple[np.ndarray, ...], low: float, high: float) -> tuple[float, float]:
    """Least and greatest x of the material between the levels y = low and y = high, mm."""
    a, b = edges_of(rings)
    inside = (a[:, 1] >= low) & (a[:, 1] <= high)
    found = [a[inside, 0]]
    for level in (low, high):
        crossing = (a[:, 1] - level) * (b[:, 1] - level) < 0.0
        p, q = a[crossing], b[crossing]
        found.append(p[:, 0] + (level - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]))
    x = np.concatenate(found)
    return float(x.min()), float(x.max())


def widths_at(rings: tuple[np.ndarray, ...], levels: np.ndarray) -> np.ndarray:
    """Total width of the material at each level y, (k,) array, mm; gaps do not count."""
    a, b = edges_of(rings)
    height = np.asarray(levels, dtype=float)[:, None]
    rising = (b[:, 1] > height).astype(int) - (a[:, 1] > height)
    level, edge = np.nonzero(rising)
    p, q = a[edge], b[edge]
    x = p[:, 0] + (height[level, 0] - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0])
    # Material lies left of its edges: a rising edge ends a piece of the level, a falling one begins it.
    return np.bincount(level, rising[level, edge] * x, minlength=len(height))


def outer_parts_at(rings: tuple[np.ndarray, ...], level: float) -> tuple[float, float]:
    """Widths of the leftmost and the rightmost piece of material at the level y, mm."""
    a, b = edges_of(rings)
    crossing = (a[:, 1] > level) != (b[:, 1] > level)
    p, q = a[crossing], b[crossing]
    x = np.sort(p[:, 0] + (level - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]))
    return (float(x[1] - x[0]), float(x[-1] - x[-2])) if len(x) else (0.0, 0.0)


CIRCLE_TO = 5e-4


def greatest_circle(rings: tuple[np.ndarray, ...]) -> float:
    """Diameter of the greatest circle that fits into the section, mm: how thick its thickest part is.

    No more than the true one, and less by at most a thousandth of the section's extent.
    """
    size = float(np.ptp(rings[0], axis=0).max())
    circle = shapely.maximum_inscribed_circle(Polygon(rings[0], rings[1:]), tolerance=CIRCLE_TO * size)
    return 2.0 * float(shapely.length(circle))
