"""Local and distortional strength, the elastic limit of beams, and the names of modes."""

from types import SimpleNamespace

import numpy as np
import pytest
from shapely import LineString, affinity, box, unary_union

from kit.errors import InputError
from kit.sections.area import area_moments
from kit.sections.halfwave import half_wavelength_curve, section_under
from kit.sections.halfwave_assembly import centred
from kit.sections.halfwave_beam import elastic_bending_limit, rigid_bending_limits
from kit.sections.halfwave_modes import MOTIONS, participation, projector
from kit.sections.halfwave_strength import (
    NO_MINIMUM,
    distortional_reduction,
    limit_loads,
    moment_arm_mm,
    shape_limits,
    stress_of_case,
    winter_reduction,
)
from kit.sections.halfwave_stress import LinearStress, isotropic
from kit.sections.mesh import mesh_polygon

E, NU, STRENGTH = 210000.0, 0.3, 690.0
SOLID = box(0, 0, 50, 100)
TUBE = box(-50, -50, 50, 50) - box(-48, -48, 48, 48)
L_SECTION = unary_union([box(0, 0, 8, 100), box(0, 0, 60, 8)])
LIPPED = LineString([(50, 20), (50, 0), (0, 0), (0, 100), (50, 100), (50, 80)]).buffer(
    0.75, cap_style="flat", join_style="mitre"
)


def case(kind="compression", **others):
    """A load case in plain numbers."""
    plain = {"kind": kind, "length_mm": 2000.0, "ends": "pinned-pinned"}
    if kind == "bending":
        plain |= {"span_mm": 2000.0, "loading": "three-point", "load_spacing_mm": None, "restraint": "none"}
    return SimpleNamespace(**{**plain, **others})


def steel(**others):
    """A material in plain numbers."""
    plain = {
        "youngs_modulus_MPa": SimpleNamespace(mean=E),
        "poissons_ratio": NU,
        "yield_compression_MPa": SimpleNamespace(mean=STRENGTH),
        "ductile": True,
        "isotropic": True,
    }
    return SimpleNamespace(**{**plain, **others})


# Rules -----------------------------------------------------------------------------------------------------


def test_winters_curve_starts_at_one_without_a_step():
    assert winter_reduction(0.0) == pytest.approx(1)
    assert winter_reduction(0.673) == pytest.approx(1, abs=1e-3)
    assert np.all(np.diff(winter_reduction(np.linspace(0.6, 5, 200))) <= 0)


def test_winters_curve_approaches_von_karmans():
    """(λ − 0.22)/λ² → 1/λ, von Kármán's effective width of a very slender plate."""
    assert winter_reduction(50.0) * 50 == pytest.approx(1, rel=5e-3)


@pytest.mark.parametrize("slenderness, expected", [(0.5, 1.0), (1.0, 0.747), (2.0, 0.33), (3.0, 0.22)])
def test_distortional_curve(slenderness, expected):
    """EN 1993-1-3, 5.5.3.1(7), by hand."""
    assert distortional_reduction(slenderness) == pytest.approx(expected)


def test_distortional_curve_has_no_great_steps():
    """The rounded coefficients of the standard leave steps of 0.006 at most."""
    at = np.array([0.65, 1.38])
    assert distortional_reduction(at - 1e-9) == pytest.approx(distortional_reduction(at + 1e-9), abs=0.0065)


def test_a_distorting_section_keeps_less_than_a_locally_buckled_wall():
    slenderness = np.linspace(1.0, 5, 50)
    assert np.all(distortional_reduction(slenderness) < winter_reduction(slenderness))


# Limit loads -----------------------------------------------------------------------------------------------


def test_stocky_outline_says_that_the_limit_states_do_not_apply():
    limits = limit_loads(SOLID, case(), steel())
    assert limits.loads == {}
    assert NO_MINIMUM in limits.notes


def test_thin_tube_loses_strength_by_winters_rule():
    """By hand: λ from plate theory (k = 4), starting from the squash load."""
    limits = limit_loads(TUBE, case(), steel(), global_strength_N=STRENGTH * TUBE.area)
    plate = 4 * np.pi**2 * E / 12 / (1 - NU**2) * (2 / 98) ** 2
    slenderness = np.sqrt(STRENGTH / plate)
    expected = (slenderness - 0.22) / slenderness**2 * STRENGTH * TUBE.area
    assert limits.loads["local"] == pytest.approx(expected, rel=0.01)
    assert limits.critical["local"] == pytest.approx(plate * TUBE.area, rel=0.01)
    assert limits.loads["local"] < limits.global_strength


def test_local_and_global_buckling_weaken_each_other():
    short, long = (limit_loads(TUBE, case(length_mm=length), steel()) for length in (300.0, 3000.0))
    assert long.global_strength < short.global_strength
    assert long.loads["local"] < short.loads["local"]
    assert long.loads["local"] < long.global_strength


def test_known_strength_of_the_whole_member_is_used():
    limits = limit_loads(TUBE, case(), steel(), global_strength_N=10_000.0)
    assert limits.global_strength == pytest.approx(10_000.0)
    assert limits.loads["local"] == pytest.approx(10_000.0)


def test_without_ductility_nothing_is_counted_above_the_elastic_load():
    ductile, brittle = (
        limit_loads(TUBE, case(length_mm=300.0), steel(ductile=which)) for which in (True, False)
    )
    assert ductile.loads["local"] > ductile.critical["local"]
    assert brittle.loads["local"] == brittle.critical["local"]


def test_lipped_channel_has_both_limit_states():
    limits = limit_loads(LIPPED, case(), steel())
    assert set(limits.loads) == {"local", "distortional"}
    assert limits.half_wavelengths_mm["local"] < limits.half_wavelengths_mm["distortional"]


def test_member_shorter_than_the_half_wave_has_a_higher_load():
    section = section_under(LIPPED, isotropic(E, NU), LinearStress(-1.0))
    curve = half_wavelength_curve(section)
    minimum = curve.lowest("distortional")
    short = shape_limits(curve, 0.7 * minimum.half_wavelength_mm, 355.0, global_strength=355.0)
    assert short.half_wavelengths_mm["distortional"] == pytest.approx(0.7 * minimum.half_wavelength_mm)
    lowest_local = curve.lowest("local").factor
    assert short.critical["distortional"] >= min(minimum.factor, lowest_local) * (1 - 1e-3)


def test_modulus_of_the_service_is_used():
    now, later = (limit_loads(TUBE, case(), steel(), modulus_MPa=E * share) for share in (1.0, 0.4))
    assert later.critical["local"] == pytest.approx(0.4 * now.critical["local"], rel=1e-3)


def test_timber_is_not_available_and_rubber_not_assessed():
    assert "not available" in limit_loads(TUBE, case(), steel(isotropic=False)).notes[0]
    assert "not assessed" in limit_loads(TUBE, case(), steel(poissons_ratio=0.5)).notes[0]


def test_torsion_is_refused():
    with pytest.raises(InputError, match="torsion"):
        limit_loads(TUBE, case("torsion"), steel())


@pytest.mark.parametrize(
    "loading, spacing, arm",
    [
        ("three-point", None, 500),
        ("four-point", 800, 300),
        ("uniform", None, 250),
        ("cantilever", None, 2000),
    ],
)
def test_greatest_moment_of_a_total_load(loading, spacing, arm):
    """Statics of a 2 m beam: F L/4, F (L − s)/4, F L/8, F L."""
    assert moment_arm_mm(case("bending", loading=loading, load_spacing_mm=spacing)) == pytest.approx(arm)


def test_sagging_compresses_the_top_and_a_cantilever_the_bottom():
    sagging = stress_of_case(SOLID, case("bending"))
    cantilever = stress_of_case(SOLID, case("bending", loading="cantilever"))
    assert sagging.per_y_MPa < 0 < cantilever.per_y_MPa
    # 1 N at the middle of 2 m on 50 × 100: M c / I = 500 · 50 / 4.1667e6.
    assert sagging.extremes(SOLID)[0] == pytest.approx(500 * 50 / (50 * 100**3 / 12))


def test_beam_that_is_held_bends_about_its_own_axis():
    free = stress_of_case(L_SECTION, case("bending"))
    held = stress_of_case(L_SECTION, case("bending", restraint="sideways"))
    assert held.per_x_MPa == 0 != free.per_x_MPa


def test_tube_in_bending_buckles_locally():
    limits = limit_loads(TUBE, case("bending", restraint="sideways-and-twist"), steel())
    assert limits.half_wavelengths_mm["local"] < 110
    assert 0 < limits.loads["local"] < limits.global_strength


# Beams in free bending -------------------------------------------------------------------------------------


def columns(polygon):
    """Section properties that the closed form needs, from area integrals and a fine warping function."""
    area = area_moments(polygon)
    mesh = centred(mesh_polygon(polygon, 1500), (area.x_mm, area.y_mm))
    torsion = projector(mesh, area)
    xs, ys = torsion.shear_centre_mm
    return {
        "Ix_mm4": area.Ix, "Iy_mm4": area.Iy, "Ixy_mm4": area.Ixy,
        "J_mm4": torsion.torsion_constant_mm4, "Iw_mm6": torsion.warping_constant_mm6,
        "xs_mm": xs, "ys_mm": ys,
        "beta_x_mm": 2 * ys - area.yr2 / area.Ix, "beta_y_mm": 2 * xs - area.xr2 / area.Iy,
    }  # fmt: skip


@pytest.mark.parametrize("angle", [0, 30, 75, 160])
def test_rigid_section_theory_agrees_with_the_elements_for_any_axis(angle):
    """Vlasov's theory knows nothing of the elements: both senses, principal axes or not.

    The solid also changes its shape, by a per cent or two where the limit is a stress of 1 % of E.
    """
    polygon = affinity.rotate(L_SECTION, angle)
    theory = rigid_bending_limits(columns(polygon), 2500.0, E, E / 2.6)
    elements = [elastic_bending_limit(polygon, 2500.0, E, NU, sense) for sense in ("sagging", "hogging")]
    assert elements == pytest.approx(theory, rel=0.02)


def test_on_a_principal_axis_it_is_the_closed_form_of_monosymmetric_beams():
    """Trahair (1993): M = P (β/2 ± √(β²/4 + (G J + E Iw k²)/P)), P Euler's load about the minor axis."""
    tee = unary_union([box(-50, 90, 50, 100), box(-4, 0, 4, 100)])
    p, length = columns(tee), 2000.0
    k = np.pi / length
    euler = E * p["Iy_mm4"] * k**2
    root = np.sqrt(p["beta_x_mm"] ** 2 / 4 + (E / 2.6 * p["J_mm4"] + E * p["Iw_mm6"] * k**2) / euler)
    expected = euler * (p["beta_x_mm"] / 2 + root), euler * (root - p["beta_x_mm"] / 2)
    assert rigid_bending_limits(p, length, E, E / 2.6) == pytest.approx(expected, rel=1e-6)


def test_many_sections_at_once():
    rows = [columns(L_SECTION), columns(SOLID)]
    arrays = {key: np.array([row[key] for row in rows]) for key in rows[0]}
    sagging, _ = rigid_bending_limits(arrays, 2500.0, E, E / 2.6)
    one, _ = rigid_bending_limits(rows[0], 2500.0, E, E / 2.6)
    assert sagging[0] == pytest.approx(one, rel=1e-12)


def test_senses_change_places_when_the_outline_is_turned_over():
    over = affinity.rotate(L_SECTION, 180)
    sagging = elastic_bending_limit(L_SECTION, 2500.0, E, NU, "sagging")
    assert elastic_bending_limit(over, 2500.0, E, NU, "hogging") == pytest.approx(sagging, rel=2e-3)
    assert elastic_bending_limit(L_SECTION, 2500.0, E, NU, "hogging") != pytest.approx(sagging, rel=0.2)


def test_thin_walls_limit_the_elastic_moment_locally():
    """A short beam of thin tube buckles locally long before it could buckle sideways."""
    area = area_moments(TUBE)
    rigid, _ = rigid_bending_limits(columns(TUBE), 1000.0, E, E / 2.6)
    found = elastic_bending_limit(TUBE, 1000.0, E, NU)
    # A flange of the tube as a plate between simple supports; the webs hold it a little.
    plate = 4 * np.pi**2 * E / 12 / (1 - NU**2) * (2 / 98) ** 2 * area.Ix / 50
    assert plate < found < 1.6 * plate < rigid


@pytest.mark.parametrize("length, sense", [(0, "sagging"), (-5, "hogging"), (100, "upwards")])
def test_bad_beams_are_refused(length, sense):
    with pytest.raises(InputError):
        elastic_bending_limit(SOLID, length, E, NU, sense)


# Names of modes --------------------------------------------------------------------------------------------


def pure(section, move_x=0.0, move_y=0.0, turn=0.0, k=0.001):
    """Movement of a rigid section by beam theory (plane sections, free warping)."""
    x, y = section.points.T
    xs, ys = section.shear_centre_mm
    along = k * (section.warping_mm2 * turn - x * move_x - y * move_y)
    return np.column_stack([move_x - turn * (y - ys), move_y + turn * (x - xs), along])


@pytest.mark.parametrize(
    "movement, name",
    [({"move_y": 1.0}, "flexural_x"), ({"move_x": 1.0}, "flexural_y"), ({"turn": 0.01}, "torsional")],
)
@pytest.mark.parametrize("polygon", [L_SECTION, LIPPED, SOLID], ids=["L", "lipped", "bar"])
def test_movement_of_a_rigid_section_has_its_own_name_alone(polygon, movement, name):
    area = area_moments(polygon)
    mesh = centred(mesh_polygon(polygon, 300), (area.x_mm, area.y_mm))
    section = projector(mesh, area)
    shares = participation(section, pure(section, **movement), 0.001)
    assert shares.sum() == pytest.approx(1)
    assert shares[MOTIONS.index(name)] > 0.999


def test_wall_that_only_bends_is_local():
    """A plate's own buckle, W = −ζ k w: no share of stretching."""
    mesh = centred(mesh_polygon(box(-50, -1, 50, 1), 400), (0, 0))
    section, k = projector(mesh, area_moments(box(-50, -1, 50, 1))), np.pi / 50
    x, y = mesh.points.T
    waves = np.cos(2 * np.pi * x / 50)
    shape = np.column_stack([y * np.sin(2 * np.pi * x / 50) * 2 * np.pi / 50, waves, -k * y * waves])
    assert participation(section, shape, k)[MOTIONS.index("local")] > 0.95
