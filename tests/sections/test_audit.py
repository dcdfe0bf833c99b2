"""The audit: its own routes against closed forms, what it accepts, and what it must not accept."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import rotate

from kit.sections.area import area_moments
from kit.sections.audit import (
    COLUMNS,
    finer_outline,
    second_implementation,
    third_route,
    torsion_by_grid,
    warping_constant_exactly,
)
from kit.sections.mesh import Mesh
from kit.sections.section import properties
from kit.sections.shear import shear_centre, warping_constant
from kit.sections.torsion import torsion
from tests.sections.benchmark import their_mesh, their_section
from tests.sections.letters import letters
from tests.sections.shapes import ALL, ANGLE, LOPSIDED, TWO_HOLES, disc, tube
from tests.sections.test_torsion import of_eccentric_tube, of_rectangle


def test_grid_on_a_rectangle():
    polygon = Polygon([(0, 0), (60, 0), (60, 20), (0, 20)])
    assert torsion_by_grid(polygon, 0.2) == pytest.approx(of_rectangle(60, 20), rel=1e-3)


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0])
def test_grid_does_not_mind_the_direction(angle):
    polygon = rotate(Polygon([(0, 0), (60, 0), (60, 20), (0, 20)]), angle)
    assert torsion_by_grid(polygon, 0.2) == pytest.approx(of_rectangle(60, 20), rel=5e-3)


def test_grid_on_tubes():
    """A hole is one unknown, set by the circulation round it."""
    assert torsion_by_grid(tube(30, 20, 720), 0.2) == pytest.approx(np.pi * (30**4 - 20**4) / 2, rel=5e-3)
    assert torsion_by_grid(tube(30, 20, 720, 9.0), 0.2) == pytest.approx(
        of_eccentric_tube(30, 20, 9.0), rel=5e-3
    )


def test_grid_converges_on_a_disc():
    exact = np.pi * 20**4 / 2
    errors = [abs(torsion_by_grid(disc(20, 1024), step) / exact - 1) for step in (2.0, 0.25)]
    assert errors[1] < errors[0] / 8


@pytest.mark.parametrize("name", ALL)
def test_third_route_agrees(name):
    (row,) = third_route(name, ALL[name], properties(ALL[name], bounds=1e-3))
    assert tuple(row) == COLUMNS
    assert row["passed"], row
    assert abs(row["difference"]) < 0.01


@pytest.mark.parametrize("polygon", [ANGLE, TWO_HOLES, LOPSIDED], ids=["angle", "two holes", "lopsided"])
def test_second_implementation_agrees(polygon):
    rows = second_implementation("x", polygon, properties(polygon))
    assert [row["quantity"] for row in rows if not row["passed"]] == []
    (J,) = (row for row in rows if row["quantity"] == "J_mm4")
    assert J["low"] <= J["value"] <= J["high"]


def test_second_implementation_on_a_letterform():
    polygon = letters(("DejaVuSerif",), "B")["DejaVu Serif Book/B"]
    assert all(row["passed"] for row in second_implementation("B", polygon, properties(polygon)))


def test_the_warping_constants_differ_by_the_rule_of_integration_alone():
    """On one coarse mesh of a closed letter: the other program's own ω, integrated exactly, gives ours to rounding.

    As it gives it, by four points a triangle for a square of degree 4, Iw is off by more than 1e-4.
    """
    polygon = letters(("DejaVuSans-Bold",), "D")["DejaVu Sans Bold/D"]
    section = their_section(polygon, 300)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    m = area_moments(polygon)
    mesh = their_mesh(section)
    solved = torsion(Mesh(mesh.points - (m.x_mm, m.y_mm), mesh.triangles))
    ours = warping_constant(solved, shear_centre(solved, m))
    assert warping_constant_exactly(section) == pytest.approx(ours, rel=1e-8)
    assert abs(section.get_gamma() / ours - 1.0) > 1e-4


@pytest.mark.parametrize(
    ("field", "factor"), [("J_high_mm4", 0.99), ("J_low_mm4", 1.01), ("Iw_mm6", 1.05), ("Ix_mm4", 1.0001)]
)
def test_a_wrong_value_is_caught(field, factor):
    p = properties(ANGLE)
    wrong = replace(p, **{field: getattr(p, field) * factor})
    assert not all(row["passed"] for row in second_implementation("x", ANGLE, wrong))


def test_a_wrong_torsion_constant_is_caught_by_the_grid():
    p = properties(ANGLE)
    assert not third_route("x", ANGLE, replace(p, J_mm4=p.J_mm4 * 1.05))[0]["passed"]


def test_a_coarse_outline_is_caught():
    fine = disc(50.0, 4096)
    assert all(row["passed"] for row in finer_outline("x", disc(50.0, 256), fine))
    assert not all(row["passed"] for row in finer_outline("x", disc(50.0, 24), fine))
