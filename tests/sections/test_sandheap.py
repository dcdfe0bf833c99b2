"""Plastic torque: closed forms, plateaus over holes, and a count of grains on a fine grid."""

import numpy as np
import pytest
import shapely
from shapely import Polygon

from kit.sections.area import rings_of
from kit.sections.mesh import mesh_polygon
from kit.sections.sandheap import plastic_torque, plateaus
from tests.sections.shapes import ALL, LOPSIDED, TWO_HOLES, disc, tube


def torque(polygon: Polygon, elements: int = 600) -> float:
    holes = tuple(Polygon(ring).area for ring in polygon.interiors)
    return plastic_torque(mesh_polygon(polygon, elements, 0.03), rings_of(polygon), holes)


@pytest.mark.parametrize("elements", [30, 600])
@pytest.mark.parametrize(("a", "b"), [(50.0, 50.0), (80.0, 20.0), (1000.0, 2.0)])
def test_rectangle(a, b, elements):
    """T_pl / k = b² (3a − b) / 6, Nadai: a roof. One triangle across the strip is enough."""
    polygon = Polygon([(0, 0), (a, 0), (a, b), (0, b)])
    assert torque(polygon, elements) == pytest.approx(b**2 * (3 * a - b) / 6, rel=2e-3)


@pytest.mark.parametrize("sides", [3, 4, 6, 12])
def test_regular_polygon_is_a_pyramid(sides):
    """T_pl / k = ⅔ A ρ, ρ the inscribed radius."""
    angle = 2 * np.pi * np.arange(sides) / sides
    polygon = Polygon(50 * np.column_stack([np.cos(angle), np.sin(angle)]))
    assert torque(polygon) == pytest.approx(2 / 3 * polygon.area * 50 * np.cos(np.pi / sides), rel=1e-3)


def test_disc_is_a_cone_and_a_tube_its_frustum():
    assert torque(disc(30.0)) == pytest.approx(2 * np.pi * 30**3 / 3, rel=1e-3)
    assert torque(tube(30.0, 20.0)) == pytest.approx(2 * np.pi * (30**3 - 20**3) / 3, rel=1e-3)


def test_an_eccentric_hole_holds_its_plateau_at_the_thinnest_wall():
    """Sand spills where the wall is thinnest."""
    rings = rings_of(tube(30.0, 20.0, 720, 4.0))
    assert plateaus(rings)[1] == pytest.approx(6.0, rel=1e-4)


def test_a_way_through_another_hole_is_free():
    """Holes 10 from the edge and 4 from each other: 10 and 10 + 4, not the straight 35."""
    assert plateaus(rings_of(TWO_HOLES)) == pytest.approx([0.0, 10.0, 14.0])


def test_a_box_of_two_cells():
    """Plateaus of 10 and 14 mm carry 3.03e5 mm3 (by counting grains); at their straight distances, 3.67e5: unsafe."""
    assert torque(TWO_HOLES) == pytest.approx(3.03e5, rel=2e-3)


@pytest.mark.parametrize("name", ALL)
def test_against_counting_on_a_grid(name):
    """The heap's volume from the distances of grid points, with plateaus from the rings' own distances."""
    polygon = ALL[name]
    step = np.sqrt(polygon.area / 40_000)
    x0, y0, x1, y1 = polygon.bounds
    x, y = np.meshgrid(np.arange(x0 + step / 2, x1, step), np.arange(y0 + step / 2, y1, step))
    points = shapely.points(x.ravel(), y.ravel())
    points = points[shapely.contains(polygon, points)]
    level = plateaus(rings_of(polygon))
    lines = map(shapely.LinearRing, rings_of(polygon))
    height = np.min(
        [h + shapely.distance(line, points) for h, line in zip(level, lines, strict=True)], axis=0
    )
    holes = np.array([Polygon(ring).area for ring in polygon.interiors])
    counted = 2 * (height.sum() * step**2 + level[1:] @ holes)
    assert torque(polygon) == pytest.approx(counted, rel=4e-3)


def test_the_mesh_hardly_matters():
    assert torque(LOPSIDED, 100) == pytest.approx(torque(LOPSIDED, 10_000), rel=2e-3)


def test_plastic_is_above_elastic_torque():
    """A square: T_pl / T_el = (1/3) / 0.208 = 1.60."""
    square = Polygon([(0, 0), (50, 0), (50, 50), (0, 50)])
    assert torque(square) / (0.2082 * 50**3) == pytest.approx(1.601, rel=2e-3)
