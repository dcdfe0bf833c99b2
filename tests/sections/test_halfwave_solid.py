"""Against three-dimensional buckling of the extruded solid: hexahedra all along, no sine, no rigid motions.

The solid shares nothing with the code under test but the theory of elasticity: quadratic hexahedra of
scikit-fem, half the length from a simple support to the plane of symmetry, the same linear stress field.
"""

import numpy as np
import pytest
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from shapely import box, contains_xy, unary_union
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, MeshHex, asm
from skfem.helpers import ddot, eye, grad, sym_grad, trace

from kit.sections.area import area_moments
from kit.sections.halfwave import section_under
from kit.sections.halfwave_beam import elastic_bending_limit
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_stress import LinearStress, bending_stress, isotropic

E, NU = 70000.0, 0.33

L_SECTION = unary_union([box(0, 0, 6, 60), box(0, 0, 40, 6)])
TUBE = box(0, 0, 60, 60) - box(3, 3, 57, 57)
CHANNEL = unary_union([box(0, 0, 4, 60), box(0, 0, 30, 4), box(0, 56, 30, 60)])


def solid(polygon, x, y, half_length, slices):
    """Hexahedra of the extruded polygon, on the grid lines x, y, from z = 0 to the plane of symmetry."""
    mesh = MeshHex.init_tensor(x, y, np.linspace(0, half_length, slices + 1))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    inside = contains_xy(polygon, middle[0], middle[1])
    return mesh.restrict(np.flatnonzero(inside))


def solid_factor(mesh, half_length, centroid, stress):
    """Lowest factor of three-dimensional linear buckling: simple support at z = 0, symmetry at the end."""
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    lame, shear = E * NU / (1 + NU) / (1 - 2 * NU), E / 2 / (1 + NU)

    @BilinearForm
    def stiffness(u, v, _):
        strain = sym_grad(u)
        return ddot(lame * eye(trace(strain), 3) + 2 * shear * strain, sym_grad(v))

    @BilinearForm
    def geometric(u, v, w):
        sigma = stress.at(w.x[0] - centroid[0], w.x[1] - centroid[1])
        return sigma * sum(grad(u)[i, 2] * grad(v)[i, 2] for i in range(3))

    support = basis.get_dofs(lambda x: np.isclose(x[2], 0)).all(["u^1", "u^2"])
    symmetry = basis.get_dofs(lambda x: np.isclose(x[2], half_length)).all(["u^3"])
    free = np.setdiff1d(np.arange(basis.N), np.concatenate([support, symmetry]))
    K, S = (asm(form, basis)[free][:, free].tocsc() for form in (stiffness, geometric))
    factor = splu(K, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    inverse = LinearOperator(K.shape, matvec=factor.solve, dtype=float)
    return 1 / eigsh(-S, k=1, M=K, Minv=inverse, which="LA", return_eigenvectors=False)[0]


def lines(*runs):
    """Grid lines through runs of (first, last, pieces)."""
    return np.unique(np.concatenate([np.linspace(a, b, n + 1) for a, b, n in runs]).round(9))


@pytest.mark.slow
@pytest.mark.parametrize("length", [60.0, 240.0, 900.0])
def test_angle_in_compression(length):
    mesh = solid(L_SECTION, lines((0, 6, 2), (6, 40, 5)), lines((0, 6, 2), (6, 60, 8)), length / 2, 8)
    area = area_moments(L_SECTION)
    expected = solid_factor(mesh, length / 2, (area.x_mm, area.y_mm), LinearStress(-1.0))
    section = section_under(L_SECTION, isotropic(E, NU), LinearStress(-1.0))
    ours = min(buckling_modes(section.assembly, length / n, 1).factors[0] for n in (1, 3, 5))
    assert ours == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
def test_tube_local_buckling():
    mesh = solid(
        TUBE, lines((0, 3, 1), (3, 57, 10), (57, 60, 1)), lines((0, 3, 1), (3, 57, 10), (57, 60, 1)), 28.5, 5
    )
    expected = solid_factor(mesh, 28.5, (30, 30), LinearStress(-1.0))
    section = section_under(TUBE, isotropic(E, NU), LinearStress(-1.0))
    ours = min(buckling_modes(section.assembly, 57.0 / n, 1).factors[0] for n in (1, 3))
    assert ours == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
@pytest.mark.parametrize("sense", ["sagging", "hogging"])
def test_angle_in_free_bending(sense):
    length = 1200.0
    mesh = solid(L_SECTION, lines((0, 6, 2), (6, 40, 5)), lines((0, 6, 2), (6, 60, 8)), length / 2, 10)
    area = area_moments(L_SECTION)
    stress = bending_stress(1.0 if sense == "sagging" else -1.0, 0.0, area.Ix, area.Iy, area.Ixy)
    expected = solid_factor(mesh, length / 2, (area.x_mm, area.y_mm), stress)
    assert elastic_bending_limit(L_SECTION, length, E, NU, sense) == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
def test_channel_under_an_eccentric_load():
    length = 500.0
    mesh = solid(
        CHANNEL, lines((0, 4, 1), (4, 30, 5)), lines((0, 4, 1), (4, 56, 9), (56, 60, 1)), length / 2, 8
    )
    area = area_moments(CHANNEL)
    stress = LinearStress(-1.0, 0.03, -0.02)
    expected = solid_factor(mesh, length / 2, (area.x_mm, area.y_mm), stress)
    section = section_under(CHANNEL, isotropic(E, NU), stress)
    ours = min(buckling_modes(section.assembly, length / n, 1).factors[0] for n in (1, 3, 5, 7))
    assert ours == pytest.approx(expected, rel=0.004)
