"""Columns against closed forms written out here."""

import numpy as np
import pytest

from kit.members import columns, critical, curves
from kit.members.cases import CompressionCase
from kit.members.materials import Service, library
from kit.members.resistance import resistance
from kit.members.service import at_service
from kit.members.state import columns_of
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def carried(sections, case, material, service=None):
    return resistance(sections, case, material, service or Service())["resistance_N"].to_numpy()


def test_euler_load_of_a_slender_bar(sections, steel):
    load = carried(sections, CompressionCase("c", 6000.0, column_curve="euler"), steel)
    assert load[0] == pytest.approx(np.pi**2 * 210000 * (60 * 20**3 / 12) / 6000**2, rel=1e-12)


@pytest.mark.parametrize(("ends", "factor"), [("fixed-free", 0.25), ("fixed-fixed", 4.0)])
def test_ends_change_eulers_load_by_the_square_of_the_effective_length(sections, steel, ends, factor):
    pinned = carried(sections, CompressionCase("c", 9000.0, column_curve="euler"), steel)[0]
    other = carried(sections, CompressionCase("c", 9000.0, ends=ends, column_curve="euler"), steel)[0]
    assert other == pytest.approx(factor * pinned, rel=1e-9)


def test_no_curve_exceeds_the_squash_load_or_euler(sections, steel):
    squash = sections["area_mm2"].to_numpy() * 235.0
    for curve in ("euler", "johnson", "perry-robertson", "EN 1993-1-1 a0", "EN 1993-1-1 d", "AISC 360 E3"):
        for length in (100.0, 1000.0, 4000.0, 20000.0):
            load = carried(sections, CompressionCase("c", length, column_curve=curve), steel)
            elastic = carried(sections, CompressionCase("c", length, column_curve="euler"), steel)
            assert (load <= squash * (1 + 1e-12)).all()
            assert (load <= elastic * (1 + 1e-9)).all() or curve == "johnson", (curve, length)


def test_perry_robertson_is_first_yield_of_a_bowed_bar(sections, steel):
    """At the load found, axial stress and amplified bending stress add up to the yield strength."""
    length, bow = 2000.0, 1 / 300
    load = carried(sections, CompressionCase("c", length, bow=bow), steel)[0]
    euler = np.pi**2 * 210000 * (60 * 20**3 / 12) / length**2
    moment = load * bow * length / (1 - load / euler)
    assert load / 1200.0 + moment / (60 * 20**2 / 6) == pytest.approx(235.0, rel=1e-9)


def test_secant_formula_of_an_eccentric_load(sections):
    """No bow: σ = N/A (1 + e c/r² sec(π/2 √(N/P))), the classic."""
    material = plain(f=235.0)
    case = CompressionCase("c", 1500.0, column_curve="euler", bow=0.0, eccentricity_x_mm=4.0)
    stocky = by_hand.table(bar=by_hand.rectangle(20.0, 60.0))
    load = carried(stocky, case, material)[0]
    euler = np.pi**2 * 210000 * 40000 / 1500**2
    bending = load * 4.0 / np.cos(np.pi / 2 * np.sqrt(load / euler)) / 4000.0
    assert load / min(1200 * 235, euler) + bending / 235.0 == pytest.approx(1.0, rel=1e-6)


def test_a_material_weak_in_tension_breaks_on_the_far_side(sections):
    strong = plain(E=3000.0, f=100.0, ductile=False)
    weak = plain(E=3000.0, f=100.0, ductile=False, yield_tension_MPa=type(strong.yield_tension_MPa)(5.0))
    case = CompressionCase("c", 900.0, bow=1 / 50)
    assert (carried(sections, case, weak) <= carried(sections, case, strong) * (1 + 1e-9)).all()
    assert carried(sections, case, weak)[0] < 0.9 * carried(sections, case, strong)[0]


def test_doubly_symmetric_sections_buckle_in_uncoupled_modes(sections, steel):
    loads = columns.critical_loads(
        columns_of(sections), CompressionCase("c", 2000.0), at_service(steel, Service())
    )
    least = np.minimum(np.minimum(loads["1"], loads["2"]), loads["t"])
    np.testing.assert_allclose(loads["least"], least, rtol=1e-7)


def test_the_cubic_vanishes_at_the_coupled_load():
    rng = np.random.default_rng(5)
    p1, p2, pt = rng.uniform(1, 10, (3, 200)) * 1e5
    x0, y0 = rng.uniform(-40, 40, (2, 200))
    r = np.sqrt(x0**2 + y0**2 + rng.uniform(100, 2000, 200))
    p = critical.lowest_coupled_load(p1, p2, pt, x0, y0, r)
    cubic = (p - p1) * (p - p2) * (p - pt) * r**2 - p**2 * (p - p2) * x0**2 - p**2 * (p - p1) * y0**2
    assert np.abs(cubic / (p1 * p2 * pt * r**2)).max() < 1e-9
    assert (p <= np.minimum(np.minimum(p1, p2), pt) * (1 + 1e-12)).all()


def test_the_coupled_load_is_the_least_root():
    p1, p2, pt, x0, y0, r = 3e5, 2e5, 4e5, 20.0, 15.0, 60.0
    roots = np.roots(
        np.polyadd(
            np.polyadd(r**2 * np.poly([p1, p2, pt]), -(x0**2) * np.poly([0, 0, p2])),
            -(y0**2) * np.poly([0, 0, p1]),
        )
    )
    found = critical.lowest_coupled_load(p1, p2, pt, x0, y0, r)
    assert found == pytest.approx(min(roots.real), rel=1e-10)


def test_two_equal_loads_do_not_spoil_the_closed_form():
    found = critical.lowest_coupled_load(2e5, 2e5, 9e5, 0.0, 0.0, 50.0)
    assert found == pytest.approx(2e5, rel=1e-9)


def test_tangent_modulus_load_of_a_two_line_material():
    """Up to the knee the elastic stress; beyond it σ = σ_cr E_t/E, and the knee's stress between."""
    curve = [(0.0, 0.0), (0.01, 100.0), (0.06, 150.0)]
    stress = columns.tangent_modulus_stress(np.array([20.0, 1e9]), 10000.0, curve)
    assert stress[0] == pytest.approx(20.0, rel=1e-9)
    assert stress[1] == pytest.approx(150.0, rel=1e-9)
    between = columns.tangent_modulus_stress(np.array([400.0, 800.0]), 10000.0, curve)
    assert (between >= 50.0).all() and (between <= 125.0).all()


def test_tangent_modulus_of_a_smooth_curve_against_its_own_equation():
    """Ramberg–Osgood-like σ(ε) = s (1 − exp(−E ε/s)): E_t = E (1 − σ/s), so σ = σ_cr/(1 + σ_cr/s)."""
    s, E = 30.0, 1000.0
    strain = np.linspace(0, 0.3, 3000)
    curve = np.column_stack([strain, s * (1 - np.exp(-E * strain / s))])
    elastic = np.array([5.0, 20.0, 60.0])
    found = columns.tangent_modulus_stress(elastic, E, curve)
    np.testing.assert_allclose(found, elastic / (1 + elastic / s), rtol=3e-3)


def test_a_measured_curve_lowers_a_stocky_polymer_column(sections):
    pairs = tuple((e, 24 * (1 - np.exp(-1050 * e / 24))) for e in np.linspace(0.002, 0.15, 60))
    values = {"E": 1050.0, "f": 24.0, "family": "polymer"}
    without, with_curve = plain(**values), plain(**values, stress_strain=pairs)
    case = CompressionCase("c", 300.0)
    row = resistance(sections, case, with_curve, Service()).iloc[2]
    assert row["limit_state"] == "tangent-modulus buckling"
    assert row["resistance_N"] < resistance(sections, case, without, Service())["resistance_N"].iloc[2]


def test_the_timber_curve_uses_the_fractile_of_the_modulus():
    """EN 1995-1-1, 6.3.2 by hand for a 100 × 100 post, 3 m, C24: λ_rel = λ/π √(21/7400)."""
    post = by_hand.table(post=by_hand.rectangle(100.0, 100.0))
    case = CompressionCase("c", 3000.0, column_curve="EN 1995-1-1 solid")
    rel = 3000.0 / (100.0 / np.sqrt(12)) / np.pi * np.sqrt(21.0 / 7400.0)
    k = 0.5 * (1 + 0.2 * (rel - 0.3) + rel**2)
    expected = 1e4 * 21.0 / (k + np.sqrt(k**2 - rel**2))
    assert carried(post, case, library()["timber-C24"])[0] == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    "curve", ["EN 1993-1-1 a", "EN 1999-1-1 B", "EN 1995-1-1 solid", "AISC 360 E3", "johnson"]
)
def test_curves_fall_steadily_from_one(curve):
    slenderness = np.linspace(0.0, 5.0, 501)
    chi = curves.reduction(curve, slenderness)
    assert chi[0] == 1.0
    assert (np.diff(chi) <= 1e-12).all() and (chi > 0).all()


def test_ends_per_axis_move_only_their_own_axis(steel):
    upright = by_hand.table(a=by_hand.rectangle(20.0, 60.0))
    both = columns.critical_loads(
        columns_of(upright), CompressionCase("c", 2e3), at_service(steel, Service())
    )
    held = CompressionCase("c", 2e3, ends_y="fixed-fixed")
    other = columns.critical_loads(columns_of(upright), held, at_service(steel, Service()))
    assert other["1"][0] == pytest.approx(both["1"][0], rel=1e-12)
    assert other["2"][0] == pytest.approx(4 * both["2"][0], rel=1e-12)
    assert "coupling-approximate" in resistance(upright, held, steel, Service())["caveats"][0]
