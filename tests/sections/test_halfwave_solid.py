"""Against three-dimensional buckling of the extruded solid (quadratic hexahedra of scikit-fem)."""

import numpy as np
import pytest
from shapely import box, unary_union

from kit.checks.solid import extruded, grid_lines, solid_buckling_factor
from kit.sections.area import area_moments
from kit.sections.halfwave import section_under
from kit.sections.halfwave_beam import elastic_bending_limit
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_stress import LinearStress, bending_stress, isotropic

E, NU = 70000.0, 0.33
COMPRESSED = LinearStress(-1.0)
L_SECTION = unary_union([box(0, 0, 6, 60), box(0, 0, 40, 6)])
TUBE = box(0, 0, 60, 60) - box(3, 3, 57, 57)
CHANNEL = unary_union([box(0, 0, 4, 60), box(0, 0, 30, 4), box(0, 56, 30, 60)])

L_LINES = grid_lines((0, 6, 2), (6, 40, 5)), grid_lines((0, 6, 2), (6, 60, 8))
TUBE_LINES = (grid_lines((0, 3, 1), (3, 57, 10), (57, 60, 1)),) * 2
CHANNEL_LINES = grid_lines((0, 4, 1), (4, 30, 5)), grid_lines((0, 4, 1), (4, 56, 9), (56, 60, 1))


def solid(polygon, lines, length, slices, stress):
    """Lowest factor of the solid."""
    return solid_buckling_factor(extruded(polygon, *lines, length / 2, slices), polygon, stress, E, NU)


def by_half_waves(polygon, length, stress):
    """Lowest factor by half-wavelengths that the plane of symmetry allows."""
    assembly = section_under(polygon, isotropic(E, NU), stress).assembly
    return min(buckling_modes(assembly, length / n, 1).factors[0] for n in (1, 3, 5, 7))


@pytest.mark.slow
@pytest.mark.parametrize("length", [60.0, 240.0, 900.0])
def test_angle_in_compression(length):
    expected = solid(L_SECTION, L_LINES, length, 8, COMPRESSED)
    assert by_half_waves(L_SECTION, length, COMPRESSED) == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
def test_tube_local_buckling():
    expected = solid(TUBE, TUBE_LINES, 57.0, 5, COMPRESSED)
    assert by_half_waves(TUBE, 57.0, COMPRESSED) == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
@pytest.mark.parametrize("sense, sign", [("sagging", 1.0), ("hogging", -1.0)])
def test_angle_in_free_bending(sense, sign):
    area = area_moments(L_SECTION)
    expected = solid(L_SECTION, L_LINES, 1200.0, 10, bending_stress(sign, 0.0, area.Ix, area.Iy, area.Ixy))
    assert elastic_bending_limit(L_SECTION, 1200.0, E, NU, sense) == pytest.approx(expected, rel=0.004)


@pytest.mark.slow
def test_channel_under_an_eccentric_load():
    stress = LinearStress(-1.0, 0.03, -0.02)
    expected = solid(CHANNEL, CHANNEL_LINES, 500.0, 8, stress)
    assert by_half_waves(CHANNEL, 500.0, stress) == pytest.approx(expected, rel=0.004)


def test_solid_of_a_bar_is_eulers_strut():
    """The second opinion itself, coarse as it is here: a few hexahedra against Euler's load."""
    bar, length = box(0, 0, 5, 10), 150.0
    found = solid(bar, (grid_lines((0, 5, 2)), grid_lines((0, 10, 2))), length, 4, COMPRESSED)
    euler = np.pi**2 * E * 5**2 / 12 / length**2
    assert found == pytest.approx(euler, rel=6e-3)


def test_outlines_off_the_grid_are_refused():
    with pytest.raises(ValueError, match="grid"):
        extruded(box(0, 0, 5, 10), grid_lines((0, 4, 2)), grid_lines((0, 10, 2)), 10.0, 2)
