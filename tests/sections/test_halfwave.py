"""The half-wavelength analysis: exact limits, invariances, derivatives, convergence, and refusals."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, affinity, box, unary_union

from kit.errors import InputError
from kit.sections.area import area_moments
from kit.sections.halfwave import (
    half_wavelength_curve,
    member_factor,
    section_under,
    wall_thickness,
)
from kit.sections.halfwave_assembly import assemble, centred
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_stress import (
    LinearStress,
    bending_stress,
    compression_stress,
    eccentric_stress,
    held_bending_stress,
    isotropic,
    transversely_isotropic,
)
from kit.sections.mesh import mesh_polygon

E, NU = 210000.0, 0.3
STEEL = isotropic(E, NU)
COMPRESSED = LinearStress(-1.0)
RECTANGLE = box(-25, -50, 25, 50)
TUBE = box(-50, -50, 50, 50) - box(-48, -48, 48, 48)
I_SECTION = unary_union([box(-50, -50, 50, -44), box(-50, 44, 50, 50), box(-3, -50, 3, 50)])


def folded(points, thickness):
    """A strip of even thickness bent along a mid-line, sharp corners."""
    return LineString(points).buffer(thickness / 2, cap_style="flat", join_style="mitre")


LIPPED = folded([(50, 20), (50, 0), (0, 0), (0, 100), (50, 100), (50, 80)], 2)
L_SECTION = folded([(0, 80), (0, 0), (50, 0)], 6)


@cache
def curve_of(polygon):
    """Curve in compression."""
    return half_wavelength_curve(section_under(polygon, STEEL, COMPRESSED))


def lowest(polygon, half_wavelength, stress=COMPRESSED, elastic=STEEL, elements=None):
    """Lowest factor at one half-wavelength."""
    section = section_under(polygon, elastic, stress, elements)
    return buckling_modes(section.assembly, half_wavelength, 1).factors[0]


# Exact limits ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("slenderness", [1e2, 1e3, 1e4, 1e5])
def test_long_struts_reach_eulers_load_at_any_length(slenderness):
    """No digits are lost to the rigid motions, however long the member."""
    length = slenderness * 100
    euler = np.pi**2 * E * (50**2 / 12) / length**2
    # Shear and the plane sections' own rotation lower Euler's load by terms of (r k)².
    assert lowest(RECTANGLE, length) == pytest.approx(euler, rel=5 / slenderness**2 + 2e-8)


def test_stubby_strut_has_engessers_load():
    """Shear-flexible strut: P = Pe / (1 + Pe / G As), As = 5/6 A for ν = 0, and the rotation of the sections.

    Engesser (1891); Cowper (1966) for As.
    """
    length, soft = 1000.0, isotropic(1000.0, 0.0)
    k2r2 = np.pi**2 / length**2 * 50**2 / 12
    euler = 1000.0 * k2r2
    engesser = euler / (1 + euler / (500.0 * 5 / 6))
    assert lowest(RECTANGLE, length, elastic=soft) == pytest.approx(engesser / (1 + k2r2), rel=2e-4)


def test_a_cruciform_twists_before_it_bends():
    """Torsional buckling at (G J + E Iw k²) / Ip (Wagner 1929), J and Iw of the solid."""
    cross = unary_union([box(-60, -1, 60, 1), box(-1, -60, 1, 60)])
    section = section_under(cross, STEEL, COMPRESSED, 1000)
    area = area_moments(cross)
    warping = E * section.projector.warping_constant_mm6 * (np.pi / 1500) ** 2
    expected = (E / 2.6 * section.projector.torsion_constant_mm4 + warping) / (area.Ix + area.Iy)
    assert section.global_factor(1500.0) == pytest.approx(expected, rel=1e-3)


def test_a_member_all_in_tension_never_buckles():
    modes = buckling_modes(section_under(RECTANGLE, STEEL, LinearStress(1.0)).assembly, 500.0)
    assert np.isinf(modes.factors).all()


# Invariances -----------------------------------------------------------------------------------------------


def test_where_the_outline_lies_does_not_matter():
    moved = affinity.translate(L_SECTION, 1234.5, -987.6)
    assert lowest(moved, 400.0) == pytest.approx(lowest(L_SECTION, 400.0), rel=1e-6)


@pytest.mark.parametrize("angle", [30, 90, 200])
def test_turning_the_outline_does_not_change_compression(angle):
    turned = affinity.rotate(L_SECTION, angle)
    assert lowest(turned, 400.0) == pytest.approx(lowest(L_SECTION, 400.0), rel=2e-3)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.01, 100))
def test_critical_stress_is_the_same_for_similar_members(scale):
    small = lowest(L_SECTION, 300.0, elements=120)
    large = lowest(affinity.scale(L_SECTION, scale, scale, origin=(0, 0)), 300.0 * scale, elements=120)
    assert large == pytest.approx(small, rel=5e-3)


def test_reversed_bending_is_bending_of_the_mirrored_outline():
    area = area_moments(L_SECTION)
    stress = held_bending_stress(1e6, area.Ix)
    mirrored = affinity.scale(L_SECTION, 1, -1, origin=(0, 0))
    hogging = lowest(L_SECTION, 900.0, stress * -1.0)
    assert hogging == pytest.approx(lowest(mirrored, 900.0, stress), rel=2e-3)
    assert hogging != pytest.approx(lowest(L_SECTION, 900.0, stress), rel=0.05)


def test_the_smallest_of_three_modes_is_the_smallest():
    section = section_under(LIPPED, STEEL, COMPRESSED)
    one, three = (buckling_modes(section.assembly, 150.0, modes) for modes in (1, 3))
    assert np.all(np.diff(three.factors) >= 0)
    assert one.factors[0] == pytest.approx(three.factors[0], rel=1e-7)


# Stress ----------------------------------------------------------------------------------------------------


def test_stress_of_free_bending_has_the_moment_and_no_other():
    area = area_moments(L_SECTION)
    stress = bending_stress(2.0e6, 0.0, area.Ix, area.Iy, area.Ixy)
    about_x = stress.per_x_MPa * area.Ixy + stress.per_y_MPa * area.Ix
    about_y = stress.per_x_MPa * area.Iy + stress.per_y_MPa * area.Ixy
    assert about_x == pytest.approx(-2.0e6)
    assert about_y == pytest.approx(0, abs=1e-6 * 2e6)


def test_stress_of_an_eccentric_force_is_force_and_moments():
    area = area_moments(L_SECTION)
    section = (area.area_mm2, area.Ix, area.Iy, area.Ixy)
    stress = eccentric_stress(1000.0, 3.0, -4.0, section)
    assert stress.axial_MPa == pytest.approx(-1000 / area.area_mm2)
    assert stress.per_x_MPa * area.Ixy + stress.per_y_MPa * area.Ix == pytest.approx(-1000 * -4.0)
    assert stress.per_x_MPa * area.Iy + stress.per_y_MPa * area.Ixy == pytest.approx(-1000 * 3.0)
    assert stress + stress * -1.0 == LinearStress(0.0)


def test_load_factors_are_inverse_to_the_load():
    once, twice = (lowest(L_SECTION, 500.0, compression_stress(load, 1.0)) for load in (1.0, 2.0))
    assert once == pytest.approx(2 * twice, rel=1e-9)


# Material --------------------------------------------------------------------------------------------------


def test_axial_and_shear_moduli_govern_what_they_should():
    """Euler's load follows E along the member, torsional buckling follows G."""
    wood = transversely_isotropic(12000.0, 400.0, 0.4, 0.4, 700.0)
    euler = np.pi**2 * 12000 * (50**2 / 12) / 20000**2
    assert lowest(RECTANGLE, 20000.0, elastic=wood) == pytest.approx(euler, rel=1e-3)
    cross = unary_union([box(-60, -3, 60, 3), box(-3, -60, 3, 60)])
    isotropic_twin = transversely_isotropic(12000.0, 12000.0, 0.3, 0.3, 700.0)
    assert lowest(cross, 3000.0, elastic=wood) == pytest.approx(
        lowest(cross, 3000.0, elastic=isotropic_twin), rel=5e-3
    )


def test_nearly_incompressible_material_does_not_lock_inside_the_limits():
    """A coarse mesh stays within 0.5 % of a fine one up to the greatest Poisson's ratio that is taken."""
    rubber = isotropic(10.0, 0.49)
    coarse, fine = (lowest(RECTANGLE, 600.0, elastic=rubber, elements=n) for n in (30, 1000))
    assert coarse == pytest.approx(fine, rel=5e-3)


@pytest.mark.parametrize("ratio", [-0.2, 0.495, 0.5, 0.7])
def test_poissons_ratio_outside_the_limits_is_refused(ratio):
    with pytest.raises(InputError, match=str(ratio)):
        isotropic(E, ratio)


def test_contradicting_constants_are_refused():
    with pytest.raises(InputError, match="contradict"):
        transversely_isotropic(400.0, 12000.0, 0.45, 0.45, 700.0)
    with pytest.raises(InputError, match="moduli"):
        isotropic(-1.0, 0.3)


# Derivative and convergence --------------------------------------------------------------------------------


@pytest.mark.parametrize("half_wavelength", [30.0, 120.0, 500.0, 4000.0])
@pytest.mark.parametrize("polygon", [RECTANGLE, L_SECTION, LIPPED], ids=["rectangle", "L", "lipped"])
def test_slope_is_the_derivative_of_the_curve(polygon, half_wavelength):
    section = section_under(polygon, STEEL, LinearStress(-1.0, 0.005, -0.004))
    at = buckling_modes(section.assembly, half_wavelength).slopes[0]
    step = 1e-3
    ends = [buckling_modes(section.assembly, half_wavelength * f, 1).factors[0] for f in (1 - step, 1 + step)]
    by_difference = np.log(ends[1] / ends[0]) / np.log((1 + step) / (1 - step))
    assert at == pytest.approx(by_difference, abs=2e-4)


@pytest.mark.parametrize("polygon", [RECTANGLE, L_SECTION, I_SECTION], ids=["rectangle", "L", "I"])
@pytest.mark.parametrize("relative", [0.5, 1.5, 5.0, 30.0])
def test_default_mesh_is_within_one_per_cent_of_a_fine_one(polygon, relative):
    size = section_under(polygon, STEEL, COMPRESSED).size_mm
    assert lowest(polygon, relative * size) == pytest.approx(
        lowest(polygon, relative * size, elements=2500), rel=0.01
    )


def test_finer_meshes_only_lower_the_load():
    """Displacement elements are too stiff, never too soft: the load comes down to its limit from above."""
    meshes = [centred(mesh_polygon(RECTANGLE, n), (0, 0)) for n in (20, 80, 320, 1280)]
    found = [buckling_modes(assemble(m, STEEL, COMPRESSED), 60.0, 1).factors[0] for m in meshes]
    assert np.all(np.diff(found) < 0)
    assert found[2] - found[3] < (found[0] - found[1]) / 4


def test_held_nodes_move_as_little_as_they_are_told():
    mesh = centred(mesh_polygon(RECTANGLE, 60), (0, 0))
    held = np.zeros((len(mesh.points), 3), dtype=bool)
    held[np.isclose(mesh.points[:, 0], -25), 0] = True
    free, braced = (
        buckling_modes(assemble(mesh, STEEL, COMPRESSED, which), 2000.0, 1) for which in (None, held)
    )
    assert np.all(braced.shapes[0][held] == 0)
    # Held sideways along one face, the strut must buckle about its other axis.
    assert braced.factors[0] / free.factors[0] == pytest.approx(4, rel=0.05)


def test_a_braced_flange_no_longer_moves_sideways():
    """Held along its compressed edge, a deep bar in bending cannot buckle sideways as a free one does."""
    bar, stress = box(0, 0, 10, 100), held_bending_stress(1e6, 10 * 100**3 / 12)

    def top_held(points):
        at_top = np.isclose(points[:, 1], 50)
        return np.column_stack([at_top, np.zeros((len(points), 2), dtype=bool)])

    free, braced = (
        section_under(bar, STEEL, stress, 100, held).global_factor(2000.0) for held in (None, top_held)
    )
    assert braced > 2 * free


# The curve -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("polygon", [RECTANGLE, L_SECTION], ids=["rectangle", "L"])
def test_stocky_outlines_have_no_interior_minimum(polygon):
    curve = curve_of(polygon)
    assert curve.minima == ()
    assert curve.lowest("local") is None
    assert np.all(np.diff(curve.factors) < 0)


def test_curve_of_a_lipped_channel_has_a_local_and_a_distortional_minimum():
    curve = curve_of(LIPPED)
    assert [minimum.kind for minimum in curve.minima] == ["local", "distortional"]
    # The web, 98 mm wide and elastically held, buckles in half-waves a little shorter than its width.
    assert 70 < curve.lowest("local").half_wavelength_mm < 98
    assert curve.lowest("local").participation[4] > 0.9
    assert curve.lowest("distortional").participation[3] > 0.9


@pytest.mark.parametrize("polygon", [TUBE, LIPPED, I_SECTION], ids=["tube", "lipped", "I"])
def test_minima_are_found_where_a_dense_scan_finds_them(polygon):
    curve = curve_of(polygon)
    section = curve.section
    lowest_minimum = min(curve.minima, key=lambda minimum: minimum.factor)
    near = lowest_minimum.half_wavelength_mm * np.geomspace(0.8, 1.25, 11)
    scanned = min(buckling_modes(section.assembly, a, 1).factors[0] for a in near)
    assert lowest_minimum.factor == pytest.approx(scanned, rel=5e-4)


@pytest.mark.parametrize("polygon", [RECTANGLE, TUBE, LIPPED, L_SECTION], ids=["bar", "tube", "lipped", "L"])
def test_curve_takes_twelve_to_twenty_points_and_both_ends(polygon):
    curve = half_wavelength_curve(section_under(polygon, STEEL, COMPRESSED), strength_MPa=355.0)
    assert 12 <= len(curve.points) <= 20
    assert curve.stresses_MPa[0] > 355.0
    assert curve.participation[-1, :3].sum() > 0.97
    assert curve.points[-1].slopes[0] < 0


def test_long_end_reaches_the_member():
    curve = half_wavelength_curve(section_under(RECTANGLE, STEEL, COMPRESSED), length_mm=7777.0)
    assert curve.half_wavelengths_mm[-1] >= 7777.0


def test_tension_everywhere_is_refused():
    with pytest.raises(InputError, match="compressed"):
        half_wavelength_curve(section_under(RECTANGLE, STEEL, LinearStress(1.0)))


def test_member_takes_the_number_of_half_waves_that_is_lowest():
    curve = curve_of(TUBE)
    section, local = curve.section, curve.lowest("local")
    factor, modes = member_factor(curve, 1000.0)
    assert round(1000.0 / modes.half_wavelength_mm) in (10, 11)
    assert factor == pytest.approx(local.factor, rel=5e-3)
    every = [buckling_modes(section.assembly, 1000.0 / n, 1).factors[0] for n in range(1, 16)]
    assert factor <= min(every) * (1 + 1e-9)
    long, modes = member_factor(curve, 20000.0)
    assert modes.half_wavelength_mm == 20000.0
    assert long == pytest.approx(section.global_factor(20000.0), rel=1e-6)


def test_mean_wall_of_a_thin_strip_is_its_thickness():
    assert wall_thickness(box(0, 0, 1000, 2)) == pytest.approx(2, rel=3e-3)
