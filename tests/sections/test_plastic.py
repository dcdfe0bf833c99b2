"""Plastic moduli: closed forms, splitting by brute force, and what the theorems of plasticity demand."""

import numpy as np
import pytest
from scipy.optimize import brentq
from shapely import Polygon, box
from shapely.affinity import rotate

from kit.sections.area import area_moments, edges_of, rings_of
from kit.sections.plastic import across, plastic_moduli
from tests.sections.shapes import ALL, ANGLE, RECTANGLE, TEE, disc, tube

names = pytest.mark.parametrize("name", ALL)
ratios = pytest.mark.parametrize("ratio", [0.4, 1.0, 2.5])


def moduli(polygon: Polygon, ratio: float = 1.0) -> tuple[float, float]:
    return plastic_moduli(edges_of(rings_of(polygon)), ratio)


def split(polygon: Polygon, level: float) -> tuple[Polygon, Polygon]:
    low = polygon.intersection(box(-1e4, -1e4, 1e4, level))
    return polygon.difference(box(-1e4, -1e4, 1e4, level)), low


def by_splitting(polygon: Polygon, ratio: float) -> tuple[float, float, float]:
    """Mx of the horizontal split in the ratio of the strengths, My of it, and the level."""

    def force(level):
        above, below = split(polygon, level)
        return above.area - ratio * below.area

    _, bottom, _, top = polygon.bounds
    level = brentq(force, bottom, top, xtol=1e-12)
    above, below = split(polygon, level)
    Mx = above.area * above.centroid.y - ratio * below.area * below.centroid.y
    My = above.area * above.centroid.x - ratio * below.area * below.centroid.x
    return Mx, My, level


@names
@ratios
def test_held_equals_brute_force_splitting(name, ratio):
    assert moduli(ALL[name], ratio)[0] == pytest.approx(by_splitting(ALL[name], ratio)[0], rel=1e-9)


@names
@pytest.mark.parametrize("ratio", [0.4, 1.0])
def test_free_equals_the_turned_axis_with_no_moment_about_the_other(name, ratio):
    """Turn the section until the plastic moment of the horizontal axis is about the drawn x axis alone."""
    polygon = ALL[name]
    held, free = moduli(polygon, ratio)
    angles = np.radians(np.linspace(-85.0, 85.0, 41))

    def off_axis(angle):
        Mx, My, _ = by_splitting(rotate(polygon, -np.degrees(angle), origin=(0, 0)), ratio)
        return Mx * np.sin(angle) * -1.0 + My * np.cos(angle), Mx * np.cos(angle) + My * np.sin(angle)

    values = np.array([off_axis(a) for a in angles])
    crossing = np.flatnonzero(np.diff(np.sign(values[:, 0])) != 0)
    found = []
    for k in crossing:
        a = brentq(lambda t: off_axis(t)[0], angles[k], angles[k + 1], xtol=1e-13)
        found.append(off_axis(a)[1])
    assert min(abs(f / free - 1.0) for f in found) < 1e-7
    assert free <= held * (1 + 1e-12)


def test_rectangle_closed_form_for_unequal_strengths():
    """Depth above the axis h ρ/(1 + ρ), lever h/2: W = b h² ρ / (2 (1 + ρ))."""
    for ratio in (0.3, 1.0, 4.0):
        assert moduli(RECTANGLE, ratio) == pytest.approx(
            (60 * 20**2 * ratio / (2 * (1 + ratio)),) * 2, rel=1e-12
        )


def test_disc_and_tube_closed_forms():
    count = 2048
    assert moduli(disc(30.0, count))[0] == pytest.approx(60**3 / 6, rel=1e-5)
    assert moduli(tube(30.0, 25.0, count))[0] == pytest.approx((60**3 - 50**3) / 6, rel=1e-5)


def test_axis_in_the_gap_between_web_and_flange():
    """A tee whose area splits exactly at the flange's underside."""
    tee = Polygon([(-5, 0), (5, 0), (5, 100), (50, 100), (50, 110), (-50, 110), (-50, 100), (-5, 100)])
    assert moduli(tee)[0] == pytest.approx(1000 * 50 + 1000 * 5, rel=1e-12)


def test_symmetry_makes_free_equal_held():
    held, free = moduli(TEE)
    assert free == pytest.approx(held, rel=1e-12)
    assert moduli(ANGLE)[1] < 0.95 * moduli(ANGLE)[0]


@names
def test_upside_down_swaps_the_strengths(name):
    flipped = rotate(ALL[name], 180.0, origin=(0, 0))
    assert moduli(flipped, 2.0) == pytest.approx([2.0 * w for w in moduli(ALL[name], 0.5)], rel=1e-9)


@names
def test_plastic_is_above_elastic(name):
    polygon = ALL[name]
    m = area_moments(polygon)
    _, bottom, _, top = polygon.bounds
    assert moduli(polygon)[0] > m.Ix / max(top - m.y_mm, m.y_mm - bottom)


def test_about_y_is_the_section_laid_on_its_side():
    edges = edges_of(rings_of(TEE))
    assert plastic_moduli(across(edges)) == pytest.approx(moduli(rotate(TEE, 90.0, origin=(0, 0))), rel=1e-12)


def test_a_ratio_of_zero_is_refused():
    with pytest.raises(ValueError, match="positive"):
        moduli(TEE, 0.0)
