"""Local and distortional buckling in the table of members: hand-worked rules, scale laws, what is left alone."""

import numpy as np
import pandas as pd
import pytest

from kit.members.cases import BendingCase, CompressionCase
from kit.members.lateral import plane_wagner
from kit.members.materials import Service, library
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.members.stability import sideways_second_moment
from kit.members.walls import wall_limit
from kit.sections.halfwave_beam import rigid_bending_limits
from kit.sections.section import scaled
from tests.members.sections_by_hand import i_section, tube

SHORT_TERM = Service("short-term test", 23.0)
STEEL = library()["steel-S355"]
STUB = CompressionCase("stub", length_mm=600.0, column_curve="EN 1993-1-1 a")
BEAM = BendingCase("beam", span_mm=2000.0, loading="uniform", restraint="sideways-and-twist")


def table(local=np.inf, distortional=np.inf, rows=None):
    rows = rows if rows is not None else [i_section(200.0, 100.0, 3.0, 3.0)]
    return pd.DataFrame(rows).assign(local_critical_strain=local, distortional_critical_strain=distortional)


def load(sections, case=STUB, material=STEEL):
    return resistance(sections, case, material, SHORT_TERM).iloc[0]


def test_winters_strength_of_a_stub_by_hand():
    # λ = √(355 / 200) = 1.3323: (λ − 0.22) / λ² = 0.6266 of the squash load.
    assert wall_limit("local", 355.0, 200.0, 355.0, True) == pytest.approx(0.6266 * 355, rel=1e-4)


def test_distortional_strength_by_hand():
    # EN 1993-1-3, 5.5.3.1(7): λ = 1 gives 1.47 − 0.723 = 0.747; λ = 2 gives 0.66 / 2.
    assert wall_limit("distortional", 100.0, 100.0, 100.0, True) == pytest.approx(74.7)
    assert wall_limit("distortional", 100.0, 25.0, 100.0, True) == pytest.approx(33.0)


def test_class_3_plate_does_not_pass_first_yield_in_bending():
    # Between the ends of classes 2 and 3 the start goes from the plastic to the elastic moment.
    assert wall_limit("local", 120.0, 100.0 / 0.673**2, 100.0, True) == pytest.approx(100.0)
    assert wall_limit("local", 120.0, 100.0 / 0.6015**2, 100.0, True) == pytest.approx(110.0)
    assert np.isinf(wall_limit("local", 120.0, 100.0 / 0.52**2, 100.0, True))


def test_brittle_material_is_given_no_strength_after_buckling():
    assert wall_limit("local", 100.0, 30.0, 100.0, True) > 30.0
    assert wall_limit("local", 100.0, 30.0, 100.0, False) == 30.0


def test_stub_falls_to_its_walls_and_says_so():
    before, after = load(table()), load(table(local=0.0005))
    squash = before["resistance_N"]
    critical = 0.0005 * STEEL.youngs_modulus_MPa.mean * table()["area_mm2"].iloc[0]
    slenderness = np.sqrt(squash / critical)
    assert after["resistance_N"] == pytest.approx(squash * (slenderness - 0.22) / slenderness**2)
    assert after["limit_state"] == "local"
    assert after["limit_states_checked"].endswith("local; distortional; own weight")
    assert "local-buckling-not-checked" not in after["caveats"]


def test_where_no_minimum_exists_nothing_changes_but_what_was_checked():
    plain = load(pd.DataFrame([i_section(200.0, 100.0, 3.0, 3.0)]))
    after = load(table())
    assert after["resistance_N"] == plain["resistance_N"]
    assert after["limit_state"] == plain["limit_state"]
    assert "local-buckling-not-checked" in plain["caveats"]


def test_unknown_strain_is_not_checked_and_keeps_its_caveat():
    row = load(table(local=np.nan, distortional=np.nan))
    assert "local" not in row["limit_states_checked"].split("; ")
    assert "local-buckling-not-checked" in row["caveats"]


def test_beam_whose_deflection_decides_owes_nothing_to_its_walls():
    soft = BendingCase("soft", span_mm=6000.0, loading="uniform", deflection_limit=1 / 2000,
                       restraint="sideways-and-twist")  # fmt: skip
    with_walls, without = load(table(local=0.0006), soft), load(table(), soft)
    assert without["limit_state"] == "deflection"
    assert with_walls["resistance_N"] == without["resistance_N"]


def test_load_upwards_is_left_without_the_walls():
    assert (
        load(table(local=1e-4), BEAM)["resistance_upwards_N"] == load(table(), BEAM)["resistance_upwards_N"]
    )
    assert load(table(local=1e-4), BEAM)["resistance_N"] < load(table(), BEAM)["resistance_N"]


def test_eccentric_load_changes_the_stress_and_is_not_checked():
    off = CompressionCase("off", length_mm=600.0, column_curve="perry-robertson", eccentricity_y_mm=10.0)
    assert "local" not in load(table(local=1e-4), off)["limit_states_checked"].split("; ")


def test_strength_of_walls_grows_as_the_section_does():
    # A stocky stub: squash and local critical load both grow with the square of the scale.
    short = CompressionCase("short", length_mm=50.0, column_curve="EN 1993-1-1 a")
    one, two = (load(scaled(table(local=0.0004), s), short)["resistance_N"] for s in (1.0, 2.0))
    assert two == pytest.approx(4 * one, rel=1e-9)


def test_merit_counts_walls_at_the_reference_mass():
    pair = table(local=[np.inf, 0.0004], rows=[i_section(200.0, 100.0, 3.0, 3.0)] * 2)
    found = merit(pair, pair.iloc[0], STUB, STEEL, SHORT_TERM)["merit"]
    lowered = resistance(pair, STUB, STEEL, SHORT_TERM)["resistance_N"]
    assert found.iloc[0] == pytest.approx(1.0)
    assert found.iloc[1] == pytest.approx(lowered.iloc[1] / lowered.iloc[0])


def test_round_tube_in_bending_by_hand():
    # Greatest stress M / W: critical load 8 ε E W / L of a uniform load.
    row = table(local=0.0005, rows=[tube(100.0, 98.0)])
    critical = 8 * 0.0005 * STEEL.youngs_modulus_MPa.mean * row["Wel_x_top_mm3"].iloc[0] / 2000
    first = 8 * STEEL.yield_tension_MPa.mean * row["Wel_x_top_mm3"].iloc[0] / 2000
    slenderness = np.sqrt(first / critical)
    found = load(row, BEAM)["resistance_N"]
    assert found == pytest.approx(first * (slenderness - 0.22) / slenderness**2, rel=1e-3)


@pytest.mark.parametrize("sense", [0, 1], ids=["sagging", "hogging"])
def test_second_order_growth_off_the_axes_ends_at_the_limit_of_free_bending(sense):
    """The critical load with which twist grows has the sideways stiffness and the Wagner coefficient of
    the stress of free bending, in either sense of the load; the angle is from EN 10056 (L 100 × 65 × 9),
    warping, shear centre and third moments roughly as its thin legs have them."""
    angle = {
        "Ix_mm4": 1.41e6, "Iy_mm4": 4.68e5, "Ixy_mm4": -4.7e5, "J_mm4": 3.9e4, "Iw_mm6": 2.0e7,
        "xs_mm": -11.3, "ys_mm": -28.6, "beta_x_mm": 71.0, "beta_y_mm": 33.0,
    }  # fmt: skip
    columns = {name: np.array([value]) for name, value in angle.items()}
    E, G, length = 210000.0, 81000.0, 3000.0
    k = np.pi / length
    sign = 1.0 - 2.0 * sense
    euler = E * k**2 * sideways_second_moment(columns)[0]
    wagner = sign * plane_wagner(columns)[0]
    torsion = G * angle["J_mm4"] + E * k**2 * angle["Iw_mm6"]
    moment = euler * wagner / 2 + np.sqrt((euler * wagner / 2) ** 2 + euler * torsion)
    assert rigid_bending_limits(columns, length, E, G)[sense][0] == pytest.approx(moment, rel=1e-12)
