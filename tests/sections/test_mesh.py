"""Meshes: they cover the polygon, keep its rings, and shrink towards its corners."""

import numpy as np
import pytest
from shapely import Polygon

from kit.errors import Unusable
from kit.sections.area import rings_of
from kit.sections.mesh import grade, inward_turns, mesh_polygon, refine
from tests.sections.shapes import ALL, ANGLE, LOPSIDED

names = pytest.mark.parametrize("name", ALL)


@names
@pytest.mark.parametrize("smallest", [None, 0.03])
def test_triangles_cover_the_polygon(name, smallest):
    mesh = mesh_polygon(ALL[name], 300, smallest)
    assert mesh.area == pytest.approx(ALL[name].area, rel=1e-12)
    assert (mesh.areas > 0).all()


@names
def test_boundary_loops_are_the_rings(name):
    polygon = ALL[name]
    mesh = mesh_polygon(polygon, 300, 0.03)
    rings = rings_of(polygon)
    assert len(mesh.loops) == len(rings)
    for loop, ring in zip(mesh.loops, rings, strict=True):
        area = Polygon(mesh.points[loop[:, 0]]).area
        assert area == pytest.approx(Polygon(ring).area, rel=1e-12)
        assert (loop[:, 1] == np.roll(loop[:, 0], -1)).all()


@names
def test_mid_side_nodes_lie_in_the_middle(name):
    mesh = mesh_polygon(ALL[name], 200)
    for i in range(3):
        a, b, middle = (mesh.points[mesh.triangles[:, k]] for k in (i, (i + 1) % 3, 3 + i))
        assert middle == pytest.approx((a + b) / 2, abs=1e-12)


def test_elements_shrink_towards_a_sharp_corner():
    mesh = mesh_polygon(ANGLE, 300, 0.01)
    at_corner = (mesh.points[mesh.triangles[:, :3]] == (10.0, 10.0)).all(axis=2).any(axis=1)
    assert mesh.areas[at_corner].max() < 0.05 * np.median(mesh.areas)


def test_grading_keeps_the_outline():
    (ring,) = rings_of(ANGLE)
    finer = grade(ring, 5.0, 0.1)
    assert len(finer) > len(ring)
    assert Polygon(finer).symmetric_difference(ANGLE).area < 1e-12


def test_inward_turns():
    turn = inward_turns(rings_of(ANGLE)[0])
    assert sorted(np.round(turn)) == [-90.0] * 5 + [90.0]
    hole = inward_turns(rings_of(LOPSIDED)[1])
    assert (hole > 0).all(), "every corner of a quadrilateral hole turns towards the material"


def test_refining_obeys_the_areas():
    mesh = mesh_polygon(LOPSIDED, 200)
    finer = refine(mesh, np.full(len(mesh.triangles), 2.0))
    assert finer.areas.max() <= 2.0 * (1 + 1e-9)
    assert finer.area == pytest.approx(LOPSIDED.area, rel=1e-12)


def test_a_limit_on_the_triangles():
    with pytest.raises(Unusable, match="more than 500 triangles"):
        mesh_polygon(LOPSIDED, 5000, most=500)
