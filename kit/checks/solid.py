"""Three-dimensional buckling of an extruded solid: hexahedra all along, no sine, no rigid motions.

It shares nothing with the half-wavelength analysis but the theory of elasticity, and takes seconds where that
takes milliseconds: a second opinion for tests and notebooks.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from shapely import Polygon, contains_xy
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, MeshHex, asm
from skfem.helpers import ddot, eye, grad, sym_grad, trace

from kit.sections.area import area_moments
from kit.sections.halfwave_stress import LinearStress


def grid_lines(*runs: tuple[float, float, int]) -> np.ndarray:
    """Grid lines through runs of (first, last, pieces), mm."""
    return np.unique(np.concatenate([np.linspace(a, b, n + 1) for a, b, n in runs]).round(9))


def extruded(polygon: Polygon, x: np.ndarray, y: np.ndarray, half_length: float, slices: int) -> MeshHex:
    """Hexahedra of an outline whose sides lie on the grid lines x, y, from z = 0 to mid-length.

    Raises
    ------
    ValueError
        If the outline's sides do not lie on the grid lines.
    """
    mesh = MeshHex.init_tensor(x, y, np.linspace(0, half_length, slices + 1))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.restrict(np.flatnonzero(contains_xy(polygon, middle[0], middle[1])))
    low, high = mesh.p[:, mesh.t].min(axis=1), mesh.p[:, mesh.t].max(axis=1)
    if abs(np.prod(high - low, axis=0).sum() / half_length / polygon.area - 1) > 1e-9:
        raise ValueError("the outline's sides do not lie on the grid lines")
    return mesh


def solid_buckling_factor(
    mesh: MeshHex, polygon: Polygon, stress: LinearStress, youngs_modulus_MPa: float, poissons_ratio: float
) -> float:
    """Lowest factor of three-dimensional linear buckling.

    Simple support, free to warp, at z = 0; plane of symmetry at the other end, so that odd numbers of
    half-waves are found. The whole of Green's strain enters: ∫ σ (u,z² + v,z² + w,z²).

    Parameters
    ----------
    mesh : MeshHex
        See :func:`extruded`.
    polygon : shapely.Polygon, mm
        For its centroid, from which the stress is measured.
    stress : LinearStress
        At factor 1.
    youngs_modulus_MPa, poissons_ratio : float
        Isotropic.
    """
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    shear = youngs_modulus_MPa / 2 / (1 + poissons_ratio)
    lame = 2 * shear * poissons_ratio / (1 - 2 * poissons_ratio)
    area = area_moments(polygon)

    @BilinearForm
    def stiffness(u, v, _):
        strain = sym_grad(u)
        return ddot(lame * eye(trace(strain), 3) + 2 * shear * strain, sym_grad(v))

    @BilinearForm
    def geometric(u, v, w):
        sigma = stress.at(w.x[0] - area.x_mm, w.x[1] - area.y_mm)
        return sigma * sum(grad(u)[i, 2] * grad(v)[i, 2] for i in range(3))

    end = mesh.p[2].max()
    support = basis.get_dofs(lambda x: np.isclose(x[2], 0)).all(["u^1", "u^2"])
    symmetry = basis.get_dofs(lambda x: np.isclose(x[2], end)).all(["u^3"])
    free = np.setdiff1d(np.arange(basis.N), np.concatenate([support, symmetry]))
    K, S = (asm(form, basis)[free][:, free].tocsc() for form in (stiffness, geometric))
    factor = splu(K, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    inverse = LinearOperator(K.shape, matvec=factor.solve, dtype=float)
    start = np.random.default_rng(0).standard_normal(len(free))
    greatest = eigsh(-S, k=1, M=K, Minv=inverse, which="LA", v0=start, return_eigenvectors=False)
    return float(1 / greatest[0])
