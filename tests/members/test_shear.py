"""Transverse shear of beams: by the worst cut, by the code of each material, and how it scatters."""

import numpy as np
import pytest
from shapely import box

from kit.checks import geometries as shape
from kit.members.bending import plastic_interaction
from kit.members.cases import BendingCase, CompressionCase
from kit.members.curves import en_1999, en_1999_torsional
from kit.members.materials import Service, Spread, library
from kit.members.resistance import resistance
from kit.members.uncertainty import Uncertainty, resistance_interval
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

HELD = {"restraint": "sideways-and-twist", "load_height": "centroid", "supports": "forked"}
NECK = 2.0
DUMBBELL = box(-30, 10, 30, 40).union(box(-30, -40, 30, -10)).union(box(-NECK / 2, -10, NECK / 2, 10))


def load(section, case, material, service=Service()):
    return resistance(by_hand.table(a=section), case, material, service).iloc[0]


@pytest.fixture(scope="module")
def dumbbell():
    return properties(DUMBBELL).row()


def neck_cut():
    """I b / Q of the neck by hand."""
    second = 2 * (60 * 30**3 / 12 + 1800 * 25**2) + NECK * 20**3 / 12
    return second * NECK / (1800 * 25 + NECK * 10 * 5)


def test_two_blocks_on_a_neck_shear_apart_long_before_they_bend(dumbbell, steel):
    found = load(dumbbell, BendingCase("b", 900.0, **HELD), steel)
    assert found["limit_state"] == "shear and torsion"
    shear = 0.5 / (neck_cut() * 235 / np.sqrt(3))
    bent = 225 / (235 * dumbbell["Wpl_x_mm3"])
    expected = plastic_interaction(np.array([bent]), np.array([shear]), np.zeros(1))[0]
    assert found["resistance_N"] == pytest.approx(expected, rel=1e-6)
    assert 0.9 / shear < expected <= 1.0 / shear


def test_the_area_of_shear_stiffness_would_be_unsafe_there(dumbbell):
    assert dumbbell["shear_area_y_nu0_mm2"] > 1.5 * dumbbell["shear_cut_area_y_mm2"]


def test_a_rolled_beam_stays_below_the_resistance_of_the_code(steel):
    """EN 1993-1-1, 6.2.6(2): V = Av f / √3 with Av = A − 2 b tf + (tw + 2 r) tf."""
    section = properties(shape.i_section(300, 150, 7.1, 10.7, 15), internal_radius_mm=15.0).row()
    case = BendingCase("b", 350.0, **HELD)
    found = load(section, case, steel)
    allowed = 2 * 2568 * 235 / np.sqrt(3)
    assert found["limit_state"] == "shear and torsion"
    assert 0.65 * allowed < found["resistance_N"] < allowed


def test_timber_by_the_code_with_its_cracks():
    """EN 1995-1-1, 6.1.7: τ = 1.5 V / (k_cr b h) ≤ f_v, k_cr = 0.67."""
    timber = library()["timber-C24"]
    found = load(by_hand.rectangle(60.0, 300.0), BendingCase("b", 700.0, **HELD), timber)
    assert found["limit_state"] == "shear"
    assert found["resistance_N"] == pytest.approx(2 * 0.67 * 60 * 300 / 1.5 * 4.0, rel=1e-9)


def test_a_brittle_neck_breaks_by_the_pull_of_pure_shear(dumbbell):
    glassy = plain(E=3000.0, f=60.0, yield_compression_MPa=Spread(100.0), ductile=False, family="polymer")
    found = load(dumbbell, BendingCase("b", 900.0, **HELD), glassy)
    assert found["limit_state"] == "shear"
    assert found["resistance_N"] == pytest.approx(2 * neck_cut() * 60, rel=1e-6)
    assert "shear-peak-not-checked" in found["caveats"]


def test_a_narrow_neck_scatters_as_its_width_does(dumbbell, steel):
    """Edges ± 0.1 mm move a neck of 2 mm by ± 0.2 mm, a tenth: four of its deviations wide."""
    spread = Uncertainty(samples=4000, seed=2, dimensions_mm=0.1)
    case = BendingCase("b", 900.0, **HELD)
    table = by_hand.table(a=dumbbell)
    interval = resistance_interval(table, case, steel, Service(), spread).iloc[0]
    middle = load(dumbbell, case, steel)["resistance_N"]
    assert (interval["resistance_high"] - interval["resistance_low"]) / middle == pytest.approx(0.39, rel=0.1)


def test_free_bending_takes_the_cut_of_free_bending(steel):
    angle = properties(box(0, 0, 60, 8).union(box(0, 0, 8, 100))).row()
    changed = dict(angle) | {"shear_cut_area_y_free_mm2": 1e-3}
    case = BendingCase("b", 900.0, load_height="shear-centre", supports="forked")
    assert load(changed, case, steel)["resistance_N"] < 1.0
    held = BendingCase("b", 900.0, **HELD)
    assert load(changed, held, steel)["resistance_N"] == load(angle, held, steel)["resistance_N"]


def test_aluminium_that_twists_as_it_buckles_has_its_own_curve():
    """α = 0.35, λ0 = 0.4: φ = ½ (1 + 0.35 · 0.6 + 1) = 1.105 at λ = 1, χ = 1/(1.105 + √(1.105² − 1))."""
    assert en_1999_torsional(1.0) == pytest.approx(1 / (1.105 + np.sqrt(1.105**2 - 1)))
    cross = box(-50, -2, 50, 2).union(box(-2, -50, 2, 50))
    section = properties(cross).row()
    material = library()["aluminium-6082-T6"]
    found = load(section, CompressionCase("c", 900.0, column_curve="EN 1999-1-1 A"), material)
    assert found["limit_state"] == "torsional buckling"
    squash = section["area_mm2"] * 250.0
    radius = (section["Ix_mm4"] + section["Iy_mm4"]) / section["area_mm2"]
    torsional = (27000.0 * section["J_mm4"] + np.pi**2 * 70000 * section["Iw_mm6"] / 900**2) / radius
    slender = np.sqrt(squash / torsional)
    expected = squash * min(float(en_1999(slender, "A")), float(en_1999_torsional(slender)))
    assert found["resistance_N"] == pytest.approx(expected, rel=0.01)


def test_timber_without_a_fractile_of_its_modulus_is_no_column():
    bare = plain(E=11000.0, f=20.0, family="timber", ductile=False, shear_modulus_MPa=690.0,
                 shear_strength_MPa=Spread(4.0))  # fmt: skip
    case = CompressionCase("c", 2000.0, column_curve="EN 1995-1-1 solid")
    row = by_hand.rectangle(60.0, 100.0)
    found = load(row, case, bare)
    assert np.isnan(found["resistance_N"]) and "modulus-5-percent-missing" in found["caveats"].split()
    assert "modulus-5-percent-missing" not in load(row, case, library()["timber-C24"])["caveats"]
    assert "class-values" in load(row, case, plain(class_values=True))["caveats"].split()
