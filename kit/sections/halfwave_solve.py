"""Lowest buckling factors and shapes at one half-wavelength."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh, splu

from kit.errors import Unusable
from kit.sections.halfwave_assembly import RIGID_POWERS, Assembly

SOLVER_TOLERANCE = 1e-9
MOST_RESTARTS = 100
# Lanczos vectors. A thin tube has many buckles of almost one load, which few vectors do not tell apart.
FEW, MANY = 20, 60


@dataclass(frozen=True)
class Modes:
    """Buckling modes at one half-wavelength, lowest first.

    Attributes
    ----------
    half_wavelength_mm : float
    factors : (m,) float array
        Load factors; infinite where no more modes buckle under this sense of the load.
    slopes : (m,) float array
        d ln(factor) / d ln(half-wavelength): −2 for Euler's load.
    shapes : (m, nodes, 3) float array
        U, V, W; the greatest movement in the section's plane is 1.
    """

    half_wavelength_mm: float
    factors: np.ndarray
    slopes: np.ndarray
    shapes: np.ndarray


class _Bordered:
    """The stiffness at one k, bordered by the rigid motions: products, solutions, and derivative by k."""

    def __init__(self, assembly: Assembly, k: float):
        self.assembly, self.k = assembly, k
        powers, motions = RIGID_POWERS, assembly.motions
        sums = powers[:, None] + powers
        self.matrix = assembly.stiffness_at(k)
        constant, linear = assembly.borders
        self.border = (constant + k * linear) * k**powers @ motions
        self.border_slope = (
            powers * k ** (powers - 1.0) * constant + (powers + 1) * k**powers * linear
        ) @ motions
        self.core = motions.T @ (assembly.core * k**sums) @ motions
        self.core_slope = motions.T @ (assembly.core * sums * k ** (sums - 1.0)) @ motions
        # Symmetric and positive definite: no pivoting is needed, and the order is chosen for least fill.
        self.factor = splu(
            self.matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True, "Equil": False},
        )
        self.answer = self._inner(self.border)
        self.schur = np.linalg.inv(self.core - self.border.T @ self.answer)
        self.rigid = assembly.rigid(k)
        self.size = len(assembly.free) + motions.shape[1]

    def _inner(self, right: np.ndarray) -> np.ndarray:
        if right.size == 0:
            return right
        return self.factor.solve(right)

    def split(self, vector: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return vector[: len(self.assembly.free)], vector[len(self.assembly.free) :]

    def product(self, vector: np.ndarray) -> np.ndarray:
        inner, rigid = self.split(vector.ravel())
        return np.concatenate(
            [self.matrix @ inner + self.border @ rigid, self.border.T @ inner + self.core @ rigid]
        )

    def solution(self, vector: np.ndarray) -> np.ndarray:
        inner, rigid = self.split(vector.ravel())
        found = self._inner(inner)
        motion = self.schur @ (rigid - self.border.T @ found)
        return np.concatenate([found - self.answer @ motion, motion])

    def displacements(self, vector: np.ndarray) -> np.ndarray:
        """All displacements (3·nodes,) of coordinates."""
        inner, rigid = self.split(vector.ravel())
        moved = self.rigid @ rigid
        moved[self.assembly.free] += inner
        return moved

    def softening(self, vector: np.ndarray) -> np.ndarray:
        """−k² S in the coordinates: positive where compression lets the section go."""
        force = -(self.k**2) * (self.assembly.geometric @ self.displacements(vector))
        return np.concatenate([force[self.assembly.free], self.rigid.T @ force])

    def stiffness_slope(self, vector: np.ndarray) -> float:
        """vᵀ (dK/dk) v."""
        inner, rigid = self.split(vector)
        _, linear, square = self.assembly.stiffness
        return float(
            inner @ (linear @ inner + 2 * self.k * (square @ inner))
            + 2 * inner @ (self.border_slope @ rigid)
            + rigid @ self.core_slope @ rigid
        )

    def softening_slope(self, vector: np.ndarray) -> float:
        """vᵀ (d(−k² S)/dk) v, the plane-section part of W growing with k."""
        _, rigid = self.split(vector)
        moved = self.displacements(vector)
        tilt = ((self.rigid - self.assembly.rigid(0.0)) @ rigid) / self.k
        carried = self.assembly.geometric @ moved
        return float(-2 * self.k * (moved @ carried) - 2 * self.k**2 * (tilt @ carried))


def buckling_modes(assembly: Assembly, half_wavelength_mm: float, modes: int = 3) -> Modes:
    """Lowest load factors, their slopes and shapes at one half-wavelength.

    Solves K φ = −λ k² S φ for the smallest λ > 0, as 1/λ: the greatest values of (−k² S) against the positive
    definite K (Lanczos, one sparse factorisation).

    Parameters
    ----------
    assembly : Assembly
    half_wavelength_mm : float
    modes : int
        How many.

    Raises
    ------
    Unusable
        If the iteration does not converge.
    """
    k = np.pi / half_wavelength_mm
    if not assembly.compressed:
        nowhere = np.full(modes, np.inf)
        shapes = np.zeros((modes, len(assembly.mesh.points), 3))
        return Modes(float(half_wavelength_mm), nowhere, np.full(modes, np.nan), shapes)
    bordered = _Bordered(assembly, k)
    try:
        inverse, vectors = _greatest(bordered, modes, FEW)
    except ArpackNoConvergence:
        try:
            inverse, vectors = _greatest(bordered, modes, MANY)
        except ArpackNoConvergence as error:
            raise Unusable(
                f"buckling at half-wavelength {half_wavelength_mm:.4g} mm did not converge; "
                "the outline may have walls very much thinner than the rest"
            ) from error
    order = np.argsort(-inverse)
    inverse, vectors = inverse[order], vectors[:, order]
    buckles = inverse > 1e-12 * max(inverse.max(), 0)
    factors = np.where(buckles, 1 / np.where(buckles, inverse, 1), np.inf)
    slopes = [_slope(bordered, *pair) for pair in zip(factors, vectors.T, strict=True)]
    shapes = np.array([_normalised(bordered.displacements(vector)) for vector in vectors.T])
    return Modes(float(half_wavelength_mm), factors, np.array(slopes), shapes)


def _greatest(bordered: _Bordered, modes: int, basis: int) -> tuple[np.ndarray, np.ndarray]:
    """The greatest 1/λ and their vectors, by so many Lanczos vectors."""
    shape = (bordered.size, bordered.size)
    start = np.random.default_rng(0).standard_normal(bordered.size)
    return eigsh(
        LinearOperator(shape, matvec=bordered.softening, dtype=float),
        k=modes,
        M=LinearOperator(shape, matvec=bordered.product, dtype=float),
        Minv=LinearOperator(shape, matvec=bordered.solution, dtype=float),
        which="LA",
        v0=bordered.solution(start),
        ncv=min(basis, bordered.size),
        tol=SOLVER_TOLERANCE,
        maxiter=MOST_RESTARTS,
    )


def _slope(bordered: _Bordered, factor: float, vector: np.ndarray) -> float:
    """d ln λ / d ln a of one mode: the change of the shape does not enter at first order."""
    if not np.isfinite(factor):
        return np.nan
    work = vector @ bordered.softening(vector)
    change = (bordered.stiffness_slope(vector) - factor * bordered.softening_slope(vector)) / work
    return -change * bordered.k / factor


def _normalised(displacements: np.ndarray) -> np.ndarray:
    """Displacements (nodes, 3) with the greatest movement in plane 1, its larger part positive."""
    shape = displacements.reshape(-1, 3)
    most = shape[np.argmax(np.hypot(shape[:, 0], shape[:, 1])), :2]
    return shape / (np.hypot(*most) * np.sign(most[np.argmax(abs(most))]))
