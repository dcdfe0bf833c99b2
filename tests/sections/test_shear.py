"""Shear centre, warping constant, monosymmetry, shear areas: closed forms, reciprocity, invariants."""

import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import rotate, translate

from kit.sections.area import area_moments
from kit.sections.section import properties
from kit.sections.shear import (
    monosymmetry,
    shear_areas,
    shear_centre,
    shear_centre_elastic,
    shear_flexibility,
    shear_stress,
    warping_constant,
)
from kit.sections.solving import solve
from tests.sections.shapes import ALL, LOPSIDED, TEE, Z_SECTION, disc

names = pytest.mark.parametrize("name", ALL)


def solved_with_moments(polygon: Polygon, bounds: float = 2e-3):
    m = area_moments(polygon)
    return solve(translate(polygon, -m.x_mm, -m.y_mm), bounds), m


@names
@pytest.mark.parametrize("nu", [0.0, 0.3])
def test_shear_stress_is_in_equilibrium_with_its_force(name, nu):
    solved, m = solved_with_moments(ALL[name])
    stress = shear_stress(solved, m, (3.0, -5.0), nu)
    force = np.einsum("mpk,m->k", stress, solved.mesh.areas / 3.0)
    assert force == pytest.approx((3.0, -5.0), rel=1e-8)


@names
def test_reciprocity_of_twist_and_shear(name):
    """Without Poisson's ratio the resultant of the shear stress passes through the centre of twist."""
    solved, m = solved_with_moments(ALL[name])
    size = np.sqrt(m.area_mm2)
    assert shear_centre_elastic(solved, m, 0.0) == pytest.approx(shear_centre(solved, m), abs=1e-8 * size)


@names
def test_energy_of_the_shear_stress_is_the_tensor(name):
    solved, m = solved_with_moments(ALL[name])
    flexibility = shear_flexibility(m, solved.shear_energy)
    assert shear_areas(solved, m, 0.0) == pytest.approx(
        (1 / flexibility[0, 0], 1 / flexibility[1, 1]), rel=1e-9
    )
    force = np.array([2.0, 1.0])
    stress = shear_stress(solved, m, force)
    energy = np.einsum("mpk,mpk,m->", stress, stress, solved.mesh.areas / 3.0)
    assert energy == pytest.approx(force @ flexibility @ force, rel=1e-9)


@pytest.mark.parametrize("nu", [0.0, 0.25, 0.5])
def test_shear_area_of_a_disc(nu):
    """Love's solution: A/As = (7 + 14ν + 8ν²) / (6 (1 + ν)²) from the energy of the shear stress.

    For ν = 0.5 Timoshenko & Goodier (Art. 121) give the same stress, τ_max = 1.38 V/A for ν = 0.3.
    """
    solved, m = solved_with_moments(disc(10.0, 360))
    ratio = m.area_mm2 / shear_areas(solved, m, nu)[1]
    assert ratio == pytest.approx((7 + 14 * nu + 8 * nu**2) / (6 * (1 + nu) ** 2), rel=1e-3)


def test_peak_shear_of_a_disc():
    """τ at the centre = V/A (3 + 2ν)/(2 (1 + ν)): 1.38 for ν = 0.3, Timoshenko & Goodier, Art. 121."""
    solved, m = solved_with_moments(disc(10.0, 180), 1e-4)
    stress = np.abs(shear_stress(solved, m, (0.0, m.area_mm2), 0.3)[:, :, 1])
    assert stress.max() == pytest.approx((3 + 0.6) / (2 * 1.3), rel=2e-3)


def test_symmetry_puts_the_centre_on_the_axis():
    solved, m = solved_with_moments(TEE, 1e-4)
    xs, ys = shear_centre(solved, m)
    assert xs == pytest.approx(0.0, abs=1e-3)
    assert 90.0 < m.y_mm + ys < 100.0, "a tee's shear centre lies in its flange"
    xs, ys = shear_centre(*solved_with_moments(Z_SECTION, 1e-4))
    assert (xs, ys) == pytest.approx((0.0, 0.0), abs=2e-3), "point symmetry"


def test_warping_constant_is_least_about_the_shear_centre():
    solved, m = solved_with_moments(LOPSIDED)
    centre = shear_centre(solved, m)
    least = warping_constant(solved, centre)
    for step in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        assert warping_constant(solved, (centre[0] + step[0], centre[1] + step[1])) > least


def test_double_symmetry_has_no_monosymmetry():
    m = area_moments(Polygon([(0, 0), (60, 0), (60, 20), (0, 20)]))
    assert monosymmetry(m, (0.0, 0.0)) == pytest.approx((0.0, 0.0), abs=1e-10)


def test_monosymmetry_changes_sign_upside_down():
    upright, upside_down = properties(TEE), properties(rotate(TEE, 180))
    assert upright.beta_x_mm > 0, "the flange above is compressed by loads down"
    assert upside_down.beta_x_mm == pytest.approx(-upright.beta_x_mm, rel=1e-4)


def test_poissons_ratio_moves_the_elastic_centre_only_a_little():
    solved, m = solved_with_moments(LOPSIDED)
    a, b = shear_centre_elastic(solved, m, 0.0), shear_centre_elastic(solved, m, 0.3)
    assert 0.0 < np.hypot(a[0] - b[0], a[1] - b[1]) < 0.05 * np.sqrt(m.area_mm2)


@names
def test_an_independent_assembly_gives_the_same_centre_and_warping(name):
    """ω on the same mesh by scikit-fem, its integrals by a rule exact for quartics."""
    import skfem
    from skfem.helpers import dot, grad

    solved, m = solved_with_moments(ALL[name], 1e-2)
    mesh = solved.mesh
    corners = mesh.triangles[:, :3].max() + 1
    basis = skfem.Basis(
        skfem.MeshTri(mesh.points[:corners].T, mesh.triangles[:, :3].T.astype(np.int64)),
        skfem.ElementTriP2(),
        intorder=4,
    )
    laplace = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    twist = skfem.LinearForm(lambda v, w: w.x[1] * grad(v)[0] - w.x[0] * grad(v)[1]).assemble(basis)
    omega = skfem.solve(*skfem.condense(laplace, twist, D=np.array([0])))

    def integral(f):
        return skfem.Functional(lambda w: f(w.x[0], w.x[1], w["omega"])).assemble(basis, omega=omega)

    over_x, over_y = integral(lambda x, y, o: o * x), integral(lambda x, y, o: o * y)
    xs, ys = np.linalg.solve([[-m.Ixy, m.Iy], [-m.Ix, m.Ixy]], [over_x, over_y])
    size = np.sqrt(m.area_mm2)
    assert shear_centre(solved, m) == pytest.approx((xs, ys), abs=1e-8 * size)
    mean = integral(lambda x, y, o: o) / m.area_mm2
    Iw = integral(lambda x, y, o: (o - mean - ys * x + xs * y) ** 2)
    assert warping_constant(solved, (xs, ys)) == pytest.approx(Iw, rel=1e-8, abs=1e-12 * size**6)
