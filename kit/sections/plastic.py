"""Plastic moduli of a polygon, exact, by the upper-bound theorem of plasticity.

A section that bends with unit curvature about x about the neutral axis y = a x + c dissipates
Φ(a, c) = ∫ f |y − a x − c| dA, with the strength f of the fibres on either side. The plastic moment is the
least of it. Its conditions of minimum are those of equilibrium: no axial force (the area splits in the
ratio of the strengths), and, where the axis may turn, no moment about y. Φ is convex, the integrals are
exact sums over edges, so Newton's method finds the minimum to rounding: for several axes and ratios of
strengths at once.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kit.errors import Unusable
from kit.sources import carries

_MOST_STEPS = 400
Ends = tuple[np.ndarray, np.ndarray]


def _below(a: np.ndarray, b: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, ...]:
    """Integrals over the part below v = y − slope x − level = 0, and over its chord, for k sections at once.

    Parameters
    ----------
    a, b : (2, k, n) arrays
        x and y of the edges' ends.
    at : (2, k) array
        Slope and level.

    Returns
    -------
    six (k,) arrays
        ∫dA, ∫x dA, ∫v dA over v < 0, by Green's theorem on the edges' parts below: −∮v dx, −∮xv dx, −∮½v² dx;
        the chord itself adds nothing, for v = 0 on it. Then ∫dx, ∫x dx, ∫x² dx along the chord.
    """
    (xa, ya), (xb, yb) = a, b
    slope, level = at[:, :, None]
    va, vb = ya - slope * xa - level, yb - slope * xb - level
    crossing = np.flatnonzero((va < 0.0) != (vb < 0.0))
    away, near, far = va.ravel()[crossing], xa.ravel()[crossing], xb.ravel()[crossing]
    x = near + away / (away - vb.ravel()[crossing]) * (far - near)
    # The part of each edge below: from (p, vp) to (q, vq); above it, v = 0 leaves nothing of the integrals.
    first = away < 0.0
    p, q = xa.copy(), xb.copy()
    p.ravel()[crossing], q.ravel()[crossing] = np.where(first, near, x), np.where(first, x, far)
    vp, vq = np.minimum(va, 0.0), np.minimum(vb, 0.0)
    dx, both = q - p, vp + vq
    # Material lies left of an edge: where one rises through the chord, the chord ends.
    sign, where, count = np.where(first, 1.0, -1.0), crossing // xa.shape[1], len(xa)
    x2 = x * x
    return (
        np.einsum("kn,kn->k", dx, both) / -2.0,
        np.einsum("kn,kn->k", dx, p * (both + vp) + q * (both + vq)) / -6.0,
        np.einsum("kn,kn->k", dx, both * both - vp * vq) / -6.0,
        np.bincount(where, sign * x, minlength=count),
        np.bincount(where, sign * x2, minlength=count) / 2.0,
        np.bincount(where, sign * x2 * x, minlength=count) / 3.0,
    )


class _Dissipation:
    """Φ with its gradient and Hessian at (slope, level) of k sections; whole integrals are taken once."""

    def __init__(self, a: np.ndarray, b: np.ndarray, ratio: np.ndarray):
        self.a, self.b, self.ratio = a, b, ratio
        cross = a[0] * b[1] - a[1] * b[0]
        self.area = 0.5 * cross.sum(axis=1)
        self.first = (cross * (a + b)).sum(axis=2) / 6.0
        self.cross = cross

    def elastic(self, free: np.ndarray) -> np.ndarray:
        """Slope and level of the elastic neutral axis, (2, k): through the centroid, level where it is held."""
        x, y = self.first / self.area
        (xa, ya), (xb, yb) = self.a, self.b
        Iy = (self.cross * (xa * xa + xa * xb + xb * xb)).sum(axis=1) / 12.0 - x * x * self.area
        Ixy = (self.cross * (2.0 * (xa * ya + xb * yb) + xa * yb + xb * ya)).sum(axis=1) / 24.0
        slope = np.where(free, (Ixy - x * y * self.area) / Iy, 0.0)
        return np.array([slope, y - slope * x])

    def __call__(self, at: np.ndarray) -> np.ndarray:
        """Φ, ∂Φ/∂slope, ∂Φ/∂level, and the Hessian's three entries, (6, k)."""
        area, x, v, one, x1, x2 = _below(self.a, self.b, at)
        whole_v = self.first[1] - at[0] * self.first[0] - at[1] * self.area
        both = 1.0 + self.ratio
        return np.array(
            [
                whole_v - v - self.ratio * v,
                both * x - self.first[0],
                both * area - self.area,
                both * x2,
                both * x1,
                both * one,
            ]
        )


def _step(found: np.ndarray, free: np.ndarray, size: float) -> np.ndarray:
    """Newton's step in slope and level, (2, k); where the axis is held, in level alone."""
    _, of_slope, of_level, ss, sl, ll = found
    # A little of the size keeps the Hessian regular where the chord is very short.
    ll, ss = ll + 1e-12 * size, ss + 1e-12 * size**3
    level_alone = -of_level / ll
    slope = np.where(free, (of_level * sl - of_slope * ll) / (ss * ll - sl * sl), 0.0)
    return np.array([slope, level_alone - slope * sl / ll])


def _least(phi: _Dissipation, free: np.ndarray, size: float) -> np.ndarray:
    """Least dissipation over level, and slope where the axis is free, by damped Newton's method, (k,)."""
    at = phi.elastic(free)
    found, length = phi(at), np.ones(len(free))
    for _ in range(_MOST_STEPS):
        step = _step(found, free, size)
        # What the step could still save: half the squared Newton decrement.
        decrement = -(found[1] * step[0] + found[2] * step[1])
        going = (decrement > 1e-13 * found[0]) & (length > 1e-12)
        if not going.any():
            return found[0]
        # Where a step goes too far, the next ends where Φ's slope along it would vanish, were it linear.
        trial = at + np.where(going, length, 0.0) * step
        new = phi(trial)
        # A line that misses the section has no chord: from there no step leads back.
        better = (new[0] <= found[0] - 1e-4 * length * decrement) & (new[5] > 0.0)
        rise = np.maximum(new[1] * step[0] + new[2] * step[1], decrement)
        shorter = length * np.maximum(decrement / np.maximum(decrement + rise, 1e-300), 0.2)
        length = np.where(better, 1.0, np.where(going, shorter, length))
        at, found = np.where(better, trial, at), np.where(better, new, found)
    raise Unusable("the plastic neutral axis was not found")


@carries("chakrabarty-2006", "peery-1950")
def plastic_moduli_of(about: Sequence[Ends], ratios: Sequence[float]) -> np.ndarray:
    """Plastic moduli about x under sagging, with the neutral axis held horizontal and free to turn.

    M_pl = f_above · W_pl, f_above the strength (in compression) of the fibres above the neutral axis. Free is
    never above held: turning the axis is one more way to fail.

    Parameters
    ----------
    about : sequence of pairs of (n, 2) arrays, mm
        Ends of the edges, material on the left; the same section in several directions.
    ratios : sequence of float
        Strength of the fibres below (in tension) over strength of those above.

    Returns
    -------
    (directions, ratios, 2) array, mm3
        Held and free.

    Raises
    ------
    ValueError
        For a ratio that is not positive.
    """
    ratios = np.asarray(ratios, dtype=float)
    if not (ratios > 0.0).all():
        raise ValueError(f"the ratio of strengths must be positive, not {ratios.min()}")
    a, b = (np.array([ends[i] for ends in about], dtype=float).transpose(2, 0, 1) for i in (0, 1))
    middle = 0.5 * (a.min(axis=2, keepdims=True) + a.max(axis=2, keepdims=True))
    each = 2 * len(ratios)  # problems of a direction: held and free for each ratio
    a, b = (np.ascontiguousarray(np.repeat(v - middle, each, axis=1)) for v in (a, b))
    phi = _Dissipation(a, b, np.tile(np.repeat(ratios, 2), len(about)))
    free = np.tile([False, True], len(about) * len(ratios))
    return _least(phi, free, float(np.ptp(a, axis=2).max())).reshape(len(about), len(ratios), 2)


def plastic_moduli(edges: Ends, ratio: float = 1.0) -> tuple[float, float]:
    """Plastic moduli about x, held and free, mm3, of one section and one ratio of strengths.

    As :func:`plastic_moduli_of`.
    """
    held, free = plastic_moduli_of([edges], [ratio])[0, 0]
    return float(held), float(free)


def across(edges: Ends) -> Ends:
    """The same edges turned by +90°, so that what lies right comes above: moduli about y."""
    return tuple(np.column_stack([-e[:, 1], e[:, 0]]) for e in edges)
