"""Uniform torsion: exact solutions inside the bounds, rates of convergence, an independent assembly."""

import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import rotate, scale, translate

from kit.sections.area import area_moments
from kit.sections.mesh import mesh_polygon
from kit.sections.solving import solve
from kit.sections.torsion import Torsion, torsion
from tests.sections.shapes import ALL, ANGLE, LOPSIDED, RECTANGLE, disc, tube

names = pytest.mark.parametrize("name", ALL)


def centred(polygon: Polygon) -> Polygon:
    m = area_moments(polygon)
    return translate(polygon, -m.x_mm, -m.y_mm)


def on_uniform_mesh(polygon: Polygon, elements: int) -> Torsion:
    polygon = centred(polygon)
    holes = tuple(Polygon(ring).area for ring in polygon.interiors)
    return torsion(mesh_polygon(polygon, elements), holes)


def of_rectangle(long: float, short: float) -> float:
    """J of a rectangle, Saint-Venant's series."""
    n = np.arange(1, 200, 2)
    series = np.sum(np.tanh(n * np.pi * long / (2.0 * short)) / n**5)
    return long * short**3 * (1 / 3 - 64.0 / np.pi**5 * short / long * series)


def of_eccentric_tube(R: float, r: float, e: float) -> float:
    """J of a disc R with a round hole r whose centre lies e off.

    z = R(ζ + a)/(1 + aζ) maps the ring ρ < |ζ| < 1 on the tube. The conjugate of the warping function is
    h = φ + |z|²/2: R²/2 on |ζ| = 1 and, on |ζ| = ρ, a constant plus e Re z, without a logarithm, for ω is
    one-valued. With Re z in a Fourier series there, ∫|∇h|² dA = ∫|∇ω|² dA is a sum, and J is the polar
    moment about the disc's centre less that. (Derived here.)
    """
    # Hole's ends on the axis are the images of ±ρ.
    low, high = (e - r) / R, (e + r) / R
    a = (1 + low * high - np.sqrt((1 - low**2) * (1 - high**2))) / (low + high)
    rho = (high - a) / (1 - a * high)
    assert (-rho + a) / (1 - a * rho) == pytest.approx(low, abs=1e-12)
    n = np.arange(1, 400)
    series = np.sum(n * a ** (2 * n - 2) * rho ** (2 * n) * (1 + rho ** (2 * n)) / (1 - rho ** (2 * n)))
    energy = np.pi * e**2 * R**2 * (1 - a**2) ** 2 * series
    return np.pi * (R**4 - r**4) / 2 - np.pi * r**2 * e**2 - energy


@pytest.mark.parametrize("ratio", [1.0, 1.5, 3.0, 10.0])
@pytest.mark.parametrize("elements", [20, 200, 2000])
def test_bounds_contain_the_rectangle(ratio, elements):
    solved = on_uniform_mesh(Polygon([(0, 0), (10 * ratio, 0), (10 * ratio, 10), (0, 10)]), elements)
    assert solved.J_low <= of_rectangle(10 * ratio, 10) * (1 + 1e-10)
    assert solved.J_high >= of_rectangle(10 * ratio, 10) * (1 - 1e-10)


@pytest.mark.parametrize("elements", [10, 100, 1000])
def test_bounds_contain_the_equilateral_triangle(elements):
    """J = √3 a⁴ / 80; φ and ω are cubics, which quadratics do not hold: the bounds stay apart."""
    solved = on_uniform_mesh(Polygon([(0, 0), (100, 0), (50, 50 * np.sqrt(3))]), elements)
    exact = np.sqrt(3) * 100.0**4 / 80
    assert solved.J_low < exact < solved.J_high


def of_right_isosceles(leg: float) -> float:
    """J of a right isosceles triangle: half of a square loaded by +2 and −2 either side of its diagonal.

    φ of the square then vanishes on the diagonal; its double sine series with f = ∬ sgn(y − x) sin mx sin ny,
    4n/(m(m² − n²)) for odd m and even n, gives J = 8a⁴/π⁶ Σ f²/(m² + n²) over both orders. (Derived here.)
    """
    m, n = np.meshgrid(np.arange(1, 2000, 2), np.arange(2, 2001, 2))
    f = 4.0 * n / (m * (m**2.0 - n**2))
    return 16.0 * leg**4 / np.pi**6 * float(np.sum(f**2 / (m**2.0 + n**2)))


@pytest.mark.parametrize("elements", [10, 100, 1000])
def test_bounds_contain_the_right_isosceles_triangle(elements):
    solved = on_uniform_mesh(Polygon([(0, 0), (100, 0), (0, 100)]), elements)
    assert solved.J_low < of_right_isosceles(100.0) < solved.J_high
    if elements == 1000:
        assert pytest.approx(of_right_isosceles(100.0), rel=2e-5) == solved.J


@pytest.mark.parametrize("count", [32, 64, 256])
def test_bounds_contain_the_ellipse_within_its_flattening(count):
    """J = π a³ b³ / (a² + b²): above the inscribed polygon, below the circumscribed one."""
    exact = np.pi * 50.0**3 * 30.0**3 / (50.0**2 + 30.0**2)
    angle = 2 * np.pi * np.arange(count) / count
    inscribed = Polygon(np.column_stack([50 * np.cos(angle), 30 * np.sin(angle)]))
    outside = 1.0 / np.cos(np.pi / count)
    assert on_uniform_mesh(inscribed, 400).J_low < exact
    assert on_uniform_mesh(scale(inscribed, outside, outside), 400).J_high > exact
    assert pytest.approx(exact, rel=20 / count**2) == on_uniform_mesh(inscribed, 400).J


@pytest.mark.parametrize("eccentricity", [0.0, 4.0, 9.0])
def test_tubes(eccentricity):
    """Concentric: the polar moment. Eccentric: a series by conformal mapping."""
    count = 720
    exact = of_eccentric_tube(30, 20, eccentricity) if eccentricity else np.pi * (30**4 - 20**4) / 2
    solved = on_uniform_mesh(tube(30, 20, count, eccentricity), 2000)
    flattening = 8 * (np.pi / count) ** 2
    assert solved.J_low * (1 - flattening) < exact < solved.J_high * (1 + flattening)
    assert pytest.approx(exact, rel=1e-4) == solved.J


def test_the_eccentric_series_tends_to_the_concentric_tube():
    assert of_eccentric_tube(30, 20, 0.01) == pytest.approx(np.pi * (30**4 - 20**4) / 2, rel=1e-5)


def test_semicircle():
    """J / r⁴ = π/2 − 4/π."""
    angle = np.linspace(0, np.pi, 721)
    solved = on_uniform_mesh(Polygon(50 * np.column_stack([np.cos(angle), np.sin(angle)])), 1000)
    assert pytest.approx((np.pi / 2 - 4 / np.pi) * 50**4, rel=5e-5) == solved.J


@names
def test_an_independent_assembly_gives_the_same_upper_bound(name):
    """The weak form of ω on the same mesh, assembled by scikit-fem."""
    import skfem
    from skfem.helpers import dot, grad

    solved = on_uniform_mesh(ALL[name], 150)
    corners = solved.mesh.points[: solved.mesh.triangles[:, :3].max() + 1]
    basis = skfem.Basis(
        skfem.MeshTri(corners.T, solved.mesh.triangles[:, :3].T.astype(np.int64)), skfem.ElementTriP2()
    )
    laplace = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v))).assemble(basis)
    twist = skfem.LinearForm(lambda v, w: w.x[1] * grad(v)[0] - w.x[0] * grad(v)[1]).assemble(basis)
    polar = skfem.Functional(lambda w: w.x[0] ** 2 + w.x[1] ** 2).assemble(basis)
    omega = skfem.solve(*skfem.condense(laplace, twist, D=np.array([0])))
    assert solved.J_high == pytest.approx(polar - twist @ omega, rel=1e-9)


@names
def test_the_gap_is_the_distance_of_the_two_stresses(name):
    solved = on_uniform_mesh(ALL[name], 150)
    assert solved.gap_of_triangles.sum() == pytest.approx(solved.J_high - solved.J_low, rel=1e-6)


@names
def test_bounds_of_coarse_meshes_contain_the_value_of_a_fine_one(name):
    fine = solve(centred(ALL[name]), 1e-4)
    for elements in (30, 100, 400):
        coarse = on_uniform_mesh(ALL[name], elements)
        assert coarse.J_low < fine.J < coarse.J_high


def test_rate_where_the_stress_is_smooth():
    """Quadratic elements: each bound nears the exact value as h⁴, the area of a triangle squared."""
    exact = np.sqrt(3) * 100.0**4 / 80
    triangle = Polygon([(0, 0), (100, 0), (50, 50 * np.sqrt(3))])
    solutions = [on_uniform_mesh(triangle, n) for n in (60, 240, 960, 3840)]
    count = [len(s.mesh.triangles) for s in solutions]
    for errors in ([s.J_high - exact for s in solutions], [exact - s.J_low for s in solutions]):
        assert -np.polyfit(np.log(count), np.log(errors), 1)[0] == pytest.approx(2.0, abs=0.25)


def test_rate_at_a_sharp_corner():
    """At 270° the stress grows as r^(−1/3): the gap closes as h^(4/3), the number of triangles^(−2/3)."""
    solutions = [on_uniform_mesh(ANGLE, n) for n in (1000, 4000, 16000)]
    count, gap = [len(s.mesh.triangles) for s in solutions], [s.gap for s in solutions]
    assert -np.polyfit(np.log(count), np.log(gap), 1)[0] == pytest.approx(2 / 3, abs=0.15)


def test_refining_by_the_gap_restores_the_rate():
    """Triangles placed where the stresses differ: the gap closes about as the number of triangles squared."""
    solutions = [solve(centred(ANGLE), b) for b in (1e-2, 1e-3, 1e-4)]
    assert all(s.gap <= b for s, b in zip(solutions, (1e-2, 1e-3, 1e-4), strict=True))
    assert len(solutions[-1].mesh.triangles) < 12 * len(solutions[0].mesh.triangles)


def test_turning_and_moving_change_nothing():
    J = solve(centred(LOPSIDED), 1e-4).J
    turned = solve(centred(rotate(translate(LOPSIDED, 500, 300), 37)), 1e-4)
    assert turned.J_low <= J * (1 + 1e-4) and turned.J_high >= J * (1 - 1e-4)


@pytest.mark.parametrize("factor", [1e-3, 1e4])
def test_any_size_in_any_unit(factor):
    """J grows as the fourth power, for sections of microns and of metres."""
    J = solve(centred(RECTANGLE), 1e-3).J
    large = solve(centred(scale(RECTANGLE, factor, factor)), 1e-3).J
    assert large == pytest.approx(J * factor**4, rel=1e-3)


def test_a_disc_does_not_warp():
    solved = on_uniform_mesh(disc(20.0, 180), 200)
    spread = np.ptp(solved.warping)
    assert spread < 1e-3 * 20.0**2
