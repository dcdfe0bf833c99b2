"""What flattening costs: how fine it must be by default, and how much it changes area and second moments."""

from __future__ import annotations

import numpy as np

from kit.outlines.flattening import DEFAULT_SHARE, Curves, areas_under, bernstein, steps_for

# Share of the area that chords may leave out. Inertias of a flat convex shape lose up to three times as much:
# 6e-4 for chords from curve to curve. Where points move until the area is kept, a tenth of that stays behind.
MOST_LOST = {False: 2e-4, True: 5e-4}
# Exact to degree 11: x y² dy and x³ dy of cubics. By number of control points: their weights in the curve's
# points and (transposed) in its slopes there.
AT, WEIGHT = ((np.polynomial.legendre.leggauss(6)[0] + 1) / 2, np.polynomial.legendre.leggauss(6)[1] / 2)
ON_CURVE = {size: bernstein(size - 1, AT).T for size in (2, 3, 4)}
SLOPE = {size: (size - 1) * bernstein(size - 2, AT).T for size in (2, 3, 4)}


def default_share(curves: Curves, size: float, keep_area: bool) -> float:
    """Chord tolerance over the envelope that an outline needs where none is given.

    1/10 000; less where curves bound little material, such as a flat lens, and chords would leave out
    more of the area than `MOST_LOST`. What chords leave out on one side of a wall and add on the other counts
    with its sign.

    Parameters
    ----------
    curves : Curves
    size : float, drawn units
        Of the envelope.
    keep_area : bool

    Returns
    -------
    float
    """
    share = DEFAULT_SHARE
    for _ in range(2):  # steps are whole numbers, so that once may not be enough
        lost = _chord_loss(curves, share * size, keep_area)
        if lost <= MOST_LOST[keep_area]:
            break
        share *= 0.95 * MOST_LOST[keep_area] / lost
    return share


def _chord_loss(curves: Curves, tolerance: float, keep_area: bool) -> float:
    """Share of the area left out by chords: the area between a curve and its chord, over n² for n steps."""
    steps = steps_for(curves, tolerance, keep_area)
    lost = 0.0
    for size in curves.gaps:
        at, pieces = curves.pieces[size]
        moved = pieces - pieces[:, :1]  # from its own start nothing lies under the chord
        lost += (areas_under(moved) / steps[at] ** 2).sum()
    return float(abs(lost) / max(abs(curves.areas.sum()), 1e-300))


def moments_of(curves: Curves) -> np.ndarray:
    """∮ of Ix, Iy, Ixy around all contours about the origin, drawn units to the fourth, exact for the curves.

    Green's theorem: Iy = ∮ x³/3 dy, Ix = ∮ x y² dy, Ixy = ∮ x² y / 2 dy.

    Returns
    -------
    (3,) float array
        Where contours overlap, each counts as often as it goes round.
    """
    total = np.zeros(3)
    for size, (_, pieces) in curves.pieces.items():
        x, y = pieces[..., 0] @ ON_CURVE[size], pieces[..., 1] @ ON_CURVE[size]
        rise = (np.diff(pieces[..., 1], axis=1) @ SLOPE[size]) * WEIGHT
        xy = x * y
        total += (rise * xy * y).sum(), (rise * x * x * x).sum() / 3, (rise * xy * x).sum() / 2
    return total


def moments_of_rings(rings: list[np.ndarray]) -> np.ndarray:
    """The same of rings of straight sides, closed form."""
    total = np.zeros(3)
    for ring in rings:
        (x, y), (u, v) = ring.T, np.concatenate((ring[1:], ring[:1])).T
        cross = x * v - u * y
        xx, yy = x * x + x * u + u * u, y * y + y * v + v * v
        xy = x * v + 2.0 * (x * y + u * v) + u * y
        total += cross @ yy / 12, cross @ xx / 12, cross @ xy / 24
    return total
