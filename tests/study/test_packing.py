"""Packed polygons are the same within the grid, valid, and small."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.specs import FontFiles
from kit.study.packing import EXACT, PICTURE, pack, unpack

SHAPES = {
    "disc with two holes": Point(3, 4)
    .buffer(50, 64)
    .difference(Point(0, 9).buffer(5))
    .difference(box(20, 0, 30, 9)),
    "far from the origin": box(1e6, -1e6, 1e6 + 30, -1e6 + 20),
    "tiny": Polygon([(0, 0), (1e-9, 0), (0, 2e-9)]),
    "huge": Polygon([(0, 0), (1e9, 0), (3e8, 2e9)]),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("bits", [EXACT, PICTURE])
def test_a_polygon_comes_back_within_the_grid(name, bits):
    polygon = SHAPES[name]
    again = unpack(pack(polygon, bits))
    reach = np.abs(shapely.get_coordinates(polygon)).max()
    difference = np.abs(shapely.get_coordinates(again) - shapely.get_coordinates(polygon)).max()
    assert again.is_valid and len(again.interiors) == len(polygon.interiors)
    assert difference <= reach * 2.0**-bits


def test_packing_what_was_packed_changes_nothing():
    once = unpack(pack(SHAPES["disc with two holes"]))
    assert shapely.get_coordinates(unpack(pack(once))).tolist() == shapely.get_coordinates(once).tolist()


def test_a_neck_thinner_than_the_grid_stays_open():
    thin = 1e-4
    neck = Polygon([(0, 0), (90, 0), (90, 40), (50, 40), (50, 20), (50 - thin, 20), (50 - thin, 40), (0, 40)])
    again = unpack(pack(neck, PICTURE))
    assert again.is_valid and again.area == pytest.approx(neck.area, rel=1e-3)


def test_letters_take_less_than_a_third_of_their_room():
    spec = FontFiles(files=("installed:matplotlib/DejaVuSerif.ttf",), characters=("A-Z",))
    outlines, _ = read([spec], Path())
    polygons = [prepare(one, Making(fit=("envelope", (100.0, 100.0)))).polygon for one in outlines]
    packed = sum(len(pack(one)) for one in polygons)
    assert packed < sum(len(one.wkb) for one in polygons) / 3
