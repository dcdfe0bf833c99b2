"""Beams that move sideways and twist: lateral–torsional buckling, and second-order bending off the axes.

The twist is a sum of shapes that meet the ends, φ = Σ a_i f_i(z), and the sideways movement is eliminated
through E I2 u'' = −M φ. What is left is a small problem, quadratic in the load W:

    [K − W (y_Q C − β D) − W² E] a = 0

K = G J/L ∫f'f' + E Iw/L³ ∫f''f'', C from the height y_Q of the load above the shear centre, D from the
Wagner effect (β positive where the larger flange is the upper one, which sagging compresses), and E from
M²/(E I2). One term is the textbook's sine; a few reach the exact load.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from kit.members.loading import ModeIntegrals
from kit.sources import carries

ITERATIONS = 3
BISECTIONS = 40


@dataclass(frozen=True)
class TwistTerms:
    """Coefficients of one beam a row: rigidities (N mm2, N mm4), and what the load does (mm, N mm2).

    Attributes
    ----------
    length_mm : float
    gj, eiw : (n,) arrays
    height : (n,) array, load above the shear centre
    wagner : (n,) array, β in the plane of the load
    sideways : (n,) array, E (Ix Iy − Ixy²) / Ix, which is E I2 for the major axis; inf where held sideways
    """

    length_mm: float
    gj: np.ndarray
    eiw: np.ndarray
    height: np.ndarray
    wagner: np.ndarray
    sideways: np.ndarray


def matrices(terms: TwistTerms, shapes: ModeIntegrals, count: int | None = None):
    """The (m, m, n) matrices of stiffness, of the load, and of its square, of the first ``count`` shapes."""
    length, few = terms.length_mm, (slice(count), slice(count))
    stiffness = _spread(shapes.slope[few], terms.gj / length)
    stiffness += _spread(shapes.curvature[few], terms.eiw / length**3)
    linear = _spread(shapes.load[few], terms.height) - _spread(shapes.wagner[few], terms.wagner)
    square = _spread(shapes.moment[few], length**3 / terms.sideways)
    return stiffness, linear, square


def _spread(matrix: np.ndarray, rows) -> np.ndarray:
    return matrix[:, :, None] * np.atleast_1d(rows)[None, None, :]


def positive_root(k, g, e):
    """Least W > 0 with k − g W − e W² = 0 for k > 0, e ≥ 0; inf where there is none."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        below = g + np.sqrt(g**2 + 4.0 * e * k)
        return np.where(below > 0, 2.0 * k / below, np.inf)


@carries(
    "timoshenko-gere-1961", "trahair-1993", "anderson-trahair-1972", caveats=("ltb-elastic-beam-theory",)
)
def critical_load(terms: TwistTerms, shapes: ModeIntegrals, moving: int | None = None) -> np.ndarray:
    """Total load at elastic lateral–torsional buckling, (n,) array, N; inf where there is none.

    Parameters
    ----------
    terms : TwistTerms
    shapes : ModeIntegrals
    moving : int, optional
        How many of the shapes to take for beams that move sideways too; all where not given. Beams held
        sideways may twist where the moment is greatest alone, which takes more of them.
    """
    names = [field.name for field in fields(terms) if field.name != "length_mm"]
    every = np.broadcast_arrays(*(np.asarray(getattr(terms, name), dtype=float) for name in names))
    held = np.isinf(every[names.index("sideways")])
    known = ~np.isnan(sum(every))
    load = np.where(known, np.inf, np.nan)
    for mask, found, count in ((known & held, _twisting, None), (known & ~held, _moving, moving)):
        if mask.any():
            some = TwistTerms(terms.length_mm, *(values[mask] for values in every))
            load[mask] = found(*matrices(some, shapes, count))
    return load


def _twisting(stiffness, linear, _) -> np.ndarray:
    """Least load of beams held sideways: 1 ÷ the greatest eigenvalue of K⁻¹ (y_Q C − β D)."""
    size = 1.0 / np.sqrt(np.einsum("iin->in", stiffness))
    k, g = (np.moveaxis(part * size[:, None] * size[None, :], 2, 0) for part in (stiffness, linear))
    inner = np.linalg.inv(np.linalg.cholesky(k))
    greatest = np.linalg.eigvalsh(inner @ g @ inner.transpose(0, 2, 1))[:, -1]
    return np.where(greatest > 0.0, 1.0 / np.where(greatest > 0.0, greatest, 1.0), np.inf)


def _moving(stiffness, linear, square) -> np.ndarray:
    """Least load of beams that move sideways too.

    Rayleigh's quotient of the shape, then the shape at that load with its first term 1, and so on: the
    error squares with every turn. A row that came to a higher load than its least (the system just below
    it is not positive definite), or to none, is done again by bisection below the least of each shape alone.
    """
    parts = (stiffness, linear, square)
    count, rows = stiffness.shape[0], stiffness.shape[2]
    shape = np.zeros((count, rows))
    shape[0] = 1.0
    for _ in range(ITERATIONS):
        load = positive_root(*(_form(part, shape) for part in parts))
        if count == 1:
            return load
        below = _system(*(part[1:] for part in parts), load)
        shape[1:] = _solve(below[:, 1:], -below[:, 0])
    load = positive_root(*(_form(part, shape) for part in parts))
    again = ~np.isfinite(load) | ~_stable(_system(*parts, load * (1.0 - 1e-4)))
    if again.any():
        some = [part[:, :, again] for part in parts]
        alone = positive_root(*(np.einsum("iin->in", part) for part in some)).min(axis=0)
        load[again] = _bisected(*some, (1.0 + 1e-6) * alone)
    return load


def _system(stiffness, linear, square, load):
    finite = np.where(np.isfinite(load), load, 0.0)
    system = square * finite
    system += linear
    system *= -finite
    system += stiffness
    return system


def _stable(system) -> np.ndarray:
    """Whether each (m, m) matrix is positive definite: all pivots of Gauss elimination above zero."""
    a = system.copy()
    stable = a[0, 0] > 0
    for i in range(len(a) - 1):
        pivot = np.where(a[i, i] != 0, a[i, i], np.nan)
        for j in range(i + 1, len(a)):
            a[j, i + 1 :] -= a[j, i] / pivot * a[i, i + 1 :]
        stable = stable & (a[i + 1, i + 1] > 0)
    return stable


def _bisected(stiffness, linear, square, high):
    low, high = np.zeros_like(high), np.where(np.isfinite(high), high, 0.0)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        stable = _stable(_system(stiffness, linear, square, middle))
        low, high = np.where(stable, middle, low), np.where(stable, high, middle)
    return 0.5 * (low + high)


def _form(matrix, shape):
    return np.einsum("in,ijn,jn->n", shape, matrix, shape)


def _solve(matrix, right):
    """Gauss elimination of small systems, (m, m, n) and (m, n), all rows at once; definite matrices."""
    a, b = matrix.copy(), right.copy()
    m = len(b)
    for i in range(m):
        for j in range(i + 1, m):
            factor = a[j, i] / a[i, i]
            a[j, i:] -= factor * a[i, i:]
            b[j] -= factor * b[i]
    for i in reversed(range(m)):
        b[i] = (b[i] - np.sum(a[i, i + 1 :] * b[i + 1 :], axis=0)) / a[i, i]
    return b


@carries("timoshenko-gere-1961")
def uniform_moment(length_mm, ei2, gj, eiw, beta=0.0):
    """Critical uniform moment between forked ends, N mm.

    M = P2 (β/2 + √((β/2)² + (E Iw + G J L²/π²) / (E I2))), P2 = π² E I2/L², β positive where the larger
    flange is in compression.
    """
    p2 = np.pi**2 * ei2 / length_mm**2
    half = np.asarray(beta) / 2.0
    return p2 * (half + np.sqrt(half**2 + eiw / ei2 + gj * length_mm**2 / (np.pi**2 * ei2)))


def plane_wagner(columns) -> np.ndarray:
    """Wagner coefficient of free bending by loads along −y, mm: β_x where x and y are principal axes.

    From the stress of free bending σ = −M (y − x Ixy/Iy) / (Ix − Ixy²/Iy) and the third moments
    ∫ y r² dA = Ix (2 y_s − β_x), ∫ x r² dA = Iy (2 x_s − β_y).
    """
    third_y = columns["Ix_mm4"] * (2.0 * columns["ys_mm"] - columns["beta_x_mm"])
    third_x = columns["Iy_mm4"] * (2.0 * columns["xs_mm"] - columns["beta_y_mm"])
    lean = columns["Ixy_mm4"] / columns["Iy_mm4"]
    free = columns["Ix_mm4"] - lean * columns["Ixy_mm4"]
    return 2.0 * columns["ys_mm"] - (third_y - lean * third_x) / free


def held_wagner(columns) -> np.ndarray:
    """Wagner coefficient where the section is held to bend in the plane of the load, mm: β_x + 2 x_s Ixy/Ix.

    From the stress of held bending σ = −M y / Ix and distances from the shear centre; β_x where Ixy is zero.
    """
    return columns["beta_x_mm"] + 2.0 * columns["xs_mm"] * columns["Ixy_mm4"] / columns["Ix_mm4"]
