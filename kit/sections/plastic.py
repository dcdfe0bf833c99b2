"""Plastic moduli of a polygon, exact, by the upper-bound theorem of plasticity.

A section that bends with unit curvature about x about the neutral axis y = a x + c dissipates
Φ(a, c) = ∫ f |y − a x − c| dA, with the strength f of the fibres on either side. The plastic moment is the
least of it. Its conditions of minimum are those of equilibrium: no axial force (the area splits in the
ratio of the strengths), and, where the axis may turn, no moment about y. Φ is convex, the integrals are
exact sums over edges, so Newton's method finds the minimum to rounding.
"""

from __future__ import annotations

import numpy as np

from kit.errors import Unusable
from kit.sources import carries

_MOST_STEPS = 200


def _below(a: np.ndarray, b: np.ndarray, slope: float, level: float):
    """Integrals over the part below v = y − slope x − level = 0, and over its chord.

    Returns
    -------
    part : three floats
        ∫dA, ∫x dA, ∫v dA over v < 0, by Green's theorem on the edges' parts below: −∮v dx, −∮xv dx, −∮½v² dx;
        the chord itself adds nothing, for v = 0 on it.
    chord : three floats
        ∫dx, ∫x dx, ∫x² dx along the chord.
    """
    xa, xb = a[:, 0], b[:, 0]
    va, vb = a[:, 1] - slope * xa - level, b[:, 1] - slope * xb - level
    rises = va < 0.0
    crossing = np.flatnonzero(rises != (vb < 0.0))
    rises = rises[crossing]
    x = xa[crossing] - va[crossing] * (xb - xa)[crossing] / (vb - va)[crossing]
    # The part of each edge below: from (p, vp) to (q, vq); above it, v = 0 leaves nothing of the integrals.
    p, q = xa.copy(), xb.copy()
    p[crossing[~rises]], q[crossing[rises]] = x[~rises], x[rises]
    vp, vq = np.minimum(va, 0.0), np.minimum(vb, 0.0)
    dx, both = q - p, vp + vq
    part = (
        -(dx @ both) / 2.0,
        -((dx * p) @ (both + vp) + (dx * q) @ (both + vq)) / 6.0,
        -(dx @ (both * both - vp * vq)) / 6.0,
    )
    # Material lies left of an edge: where one rises through the chord, the chord ends.
    sign = np.where(rises, 1.0, -1.0)
    return part, (sign @ x, sign @ x**2 / 2.0, sign @ x**3 / 3.0)


class _Dissipation:
    """Φ with its gradient and Hessian at (slope, level); the whole polygon's integrals are taken once."""

    def __init__(self, a: np.ndarray, b: np.ndarray, ratio: float):
        self.a, self.b, self.ratio = a, b, ratio
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        self.area = 0.5 * cross.sum()
        self.first = cross @ (a + b) / 6.0

    def __call__(self, slope: float, level: float):
        (area, x, v), (one, x1, x2) = _below(self.a, self.b, slope, level)
        whole_v = self.first[1] - slope * self.first[0] - level * self.area
        value = (whole_v - v) - self.ratio * v
        both = 1.0 + self.ratio
        gradient = np.array([both * x - self.first[0], both * area - self.area])
        return value, gradient, both * np.array([[x2, x1], [x1, one]])


def _held(phi: _Dissipation, low: float, high: float) -> float:
    """Level of the horizontal neutral axis, by Newton's method kept between two levels."""
    level = 0.5 * (low + high)
    for _ in range(_MOST_STEPS):
        _, gradient, hessian = phi(0.0, level)
        low, high = (low, level) if gradient[1] > 0.0 else (level, high)
        if abs(gradient[1]) <= 1e-14 * phi.area or high - low <= 1e-15 * (abs(low) + abs(high)):
            break
        step = gradient[1] / hessian[1, 1] if hessian[1, 1] > 0.0 else np.inf
        level = level - step if low < level - step < high else 0.5 * (low + high)
    return level


def _free(phi: _Dissipation, level: float, size: float) -> float:
    """Least dissipation over slope and level, by damped Newton from the held axis."""
    at = np.array([0.0, level])
    value, gradient, hessian = phi(*at)
    for _ in range(_MOST_STEPS):
        # A little of the size keeps the Hessian regular where the chord is very short.
        ridge = 1e-12 * size * np.diag([size**2, 1.0])
        step = np.linalg.solve(hessian + ridge, -gradient)
        # What the step could still save: half the squared Newton decrement.
        if -gradient @ step <= 1e-13 * value:
            return value
        length = 1.0
        while True:
            new = phi(*(at + length * step))
            if new[0] <= value + 1e-4 * length * (gradient @ step):
                break
            length *= 0.5
            if length < 1e-12:
                return value
        at = at + length * step
        value, gradient, hessian = new
    raise Unusable("the free plastic neutral axis was not found")


@carries("chakrabarty-2006", "peery-1950")
def plastic_moduli(edges: tuple[np.ndarray, np.ndarray], ratio: float = 1.0) -> tuple[float, float]:
    """Plastic moduli about x under sagging, with the neutral axis held horizontal and free to turn.

    M_pl = f_above · W_pl, f_above the strength (in compression) of the fibres above the neutral axis. Free is
    never above held: turning the axis is one more way to fail.

    Parameters
    ----------
    edges : pair of (n, 2) arrays, mm
        Ends of the edges, material on the left.
    ratio : float
        Strength of the fibres below (in tension) over strength of those above.

    Returns
    -------
    held_mm3, free_mm3 : float
    """
    if not ratio > 0.0:
        raise ValueError(f"the ratio of strengths must be positive, not {ratio}")
    a, b = edges
    middle = 0.5 * (a.min(axis=0) + a.max(axis=0))
    a, b = a - middle, b - middle
    phi = _Dissipation(a, b, ratio)
    level = _held(phi, a[:, 1].min(), a[:, 1].max())
    held = phi(0.0, level)[0]
    return float(held), float(_free(phi, level, float(np.ptp(a, axis=0).max())))


def across(edges: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """The same edges turned by +90°, so that what lies right comes above: moduli about y."""
    return tuple(np.column_stack([-e[:, 1], e[:, 0]]) for e in edges)
