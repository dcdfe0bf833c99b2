"""Circular and elliptical arcs as cubic Bézier pieces."""

from __future__ import annotations

import math

import numpy as np

# At 30 degrees a cubic leaves the circle by less than 4e-7 of its radius (the error falls with the
# sixth power of the angle); at 90 degrees it would be 2.7e-4, more than the flattening itself.
LARGEST_STEP = math.radians(30.0)


def arc(centre, radius: float, start: float, sweep: float) -> list[np.ndarray]:
    """Circular arc.

    Parameters
    ----------
    centre : (2,) array_like
    radius : float
    start, sweep : float, rad
        Angle of the first point and the angle turned through, counter-clockwise positive.

    Returns
    -------
    list of (4, 2) float arrays
    """
    return ellipse_arc(np.array([[radius, 0.0], [0.0, radius]]), centre, start, sweep)


def ellipse_arc(axes: np.ndarray, centre, start: float, sweep: float) -> list[np.ndarray]:
    """Arc of the ellipse centre + cos t · axes[0] + sin t · axes[1], for t from start to start + sweep.

    Parameters
    ----------
    axes : (2, 2) float array
        Two conjugate half-diameters, as rows.
    centre : (2,) array_like
    start, sweep : float, rad

    Returns
    -------
    list of (4, 2) float arrays
    """
    count = max(1, math.ceil(abs(sweep) / LARGEST_STEP - 1e-9))
    step = sweep / count
    handle = 4.0 / 3.0 * math.tan(step / 4.0)
    t = start + step * np.arange(count + 1)
    on = np.column_stack([np.cos(t), np.sin(t)])
    along = np.column_stack([-np.sin(t), np.cos(t)]) * handle
    unit = np.stack([on[:-1], on[:-1] + along[:-1], on[1:] - along[1:], on[1:]], axis=1)
    return list(unit @ np.asarray(axes, float) + np.asarray(centre, float))


def line(a, b) -> np.ndarray:
    """Straight piece from a to b, (2, 2)."""
    return np.array([a, b], float)


def closed(pieces: list[np.ndarray]) -> tuple[np.ndarray, ...]:
    """A contour whose pieces meet: each piece begins exactly where the one before it ends.

    Pieces of no length are dropped; a straight piece closes the contour where its ends do not meet.
    """
    kept = [piece for piece in pieces if np.ptp(piece, axis=0).any()]
    if not kept:
        return ()
    size = np.ptp(np.concatenate(kept), axis=0).max()
    if np.abs(kept[0][0] - kept[-1][-1]).max() > 1e-9 * size:
        kept.append(line(kept[-1][-1], kept[0][0]))
    joined = [piece.copy() for piece in kept]
    for before, after in zip(joined, joined[1:] + joined[:1], strict=True):
        before[-1] = after[0]
    return tuple(joined)


def rounded(corners: np.ndarray, radii) -> tuple[np.ndarray, ...]:
    """A polygon whose corners carry radii, as a contour.

    Parameters
    ----------
    corners : (n, 2) array_like
    radii : (n,) array_like
        Radius at each corner; 0 leaves it sharp.

    Returns
    -------
    tuple of pieces
    """
    corners, radii = np.asarray(corners, float), np.asarray(radii, float)
    pieces: list[np.ndarray] = []
    ends: list[np.ndarray] = []
    for before, at, after, radius in zip(
        np.roll(corners, 1, axis=0), corners, np.roll(corners, -1, axis=0), radii, strict=True
    ):
        fillet = _fillet(before, at, after, radius) if radius > 0 else [line(at, at)]
        if ends:
            pieces.append(line(ends[-1], fillet[0][0]))
        pieces.extend(fillet)
        ends.append(fillet[-1][-1])
    return closed(pieces)


def _fillet(before, at, after, radius: float) -> list[np.ndarray]:
    """The arc of the given radius that touches both sides of a corner."""
    u, v = (before - at) / math.dist(before, at), (after - at) / math.dist(after, at)
    half = 0.5 * math.acos(np.clip(u @ v, -1.0, 1.0))
    centre = at + (u + v) / np.linalg.norm(u + v) * radius / math.sin(half)
    first = at + u * radius / math.tan(half) - centre
    turn = math.copysign(math.pi - 2.0 * half, v[0] * u[1] - v[1] * u[0])
    return arc(centre, radius, math.atan2(first[1], first[0]), turn)
