"""What twist and yielding do to deflections, and restrained warping to stresses: against equations solved apart."""

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from shapely import Polygon, box, unary_union

from kit.members import lateral, serviceability, stability
from kit.members.cases import BendingCase, TorsionCase
from kit.members.materials import Spread
from kit.members.resistance import resistance
from kit.members.service import at_service
from kit.members.state import columns_of
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

CHANNEL = unary_union([box(0, 0, 8, 100), box(0, 0, 50, 10), box(0, 90, 50, 100)])
LOPSIDED = Polygon([(0, 0), (70, 0), (70, 9), (12, 12), (18, 80), (45, 80), (45, 92), (4, 92)])


def bimoment(k, loading):
    """Greatest |φ''| E Iw ÷ (W e L) by solving φ'''' − k² φ'' = torque per length, ends upright, on 0 … 1.

    Point loads are spread over a short length, which flattens their peaks a little.
    """
    width = 0.004
    places = {"three-point": ((0.5, 1.0),), "four-point": ((1 / 3, 0.5), (2 / 3, 0.5))}.get(loading, ())

    def torque(z):
        if loading == "uniform":
            return np.ones_like(z)
        return sum(
            share * np.exp(-(((z - at) / width) ** 2)) / (width * np.sqrt(np.pi)) for at, share in places
        )

    def slopes(z, y):
        return np.vstack([y[1], k**2 * y[0] - torque(z)])

    z = np.linspace(0.0, 1.0, 4001)
    found = solve_bvp(
        slopes, lambda a, b: np.array([a[0], b[0]]), z, np.zeros((2, z.size)), tol=1e-6, max_nodes=60000
    )
    return np.abs(found.y[0]).max()


@pytest.mark.parametrize("loading", ["three-point", "four-point", "uniform"])
@pytest.mark.parametrize("k", [0.3, 2.0, 7.0, 25.0])
def test_bimoment_of_a_load_off_the_shear_centre(loading, k):
    found = stability.bimoment_ratio(BendingCase("b", 900.0, loading), k)
    expected = bimoment(k, loading)
    assert 0.999 * expected <= found <= expected * (1.006 + 0.005 * k)


def test_bimoment_of_a_cantilever_and_limits():
    """A plane root: T L tanh(k)/k (Vlasov); without torsional rigidity all is the bending analogue."""
    tip = BendingCase("b", 900.0, "cantilever")
    assert stability.bimoment_ratio(tip, 3.0) == pytest.approx(np.tanh(3.0) / 3.0)
    for loading, moment in (
        ("three-point", 0.25),
        ("four-point", 1 / 6),
        ("uniform", 0.125),
        ("cantilever", 1.0),
    ):
        assert stability.bimoment_ratio(BendingCase("b", 900.0, loading), 1e-9) == pytest.approx(
            moment, rel=1e-3
        )
        assert stability.bimoment_ratio(BendingCase("b", 900.0, loading), np.inf) < 1e-5


def test_twist_adds_to_the_deflection_at_the_load_line(steel, short):
    """Free to warp and no warping rigidity: the load goes down by W/k + W e² L/(4 G J), by statics."""
    row = by_hand.rectangle(20.0, 60.0)
    case = BendingCase("b", 2000.0, restraint="sideways", load_height="centroid", supports="forked",
                       load_line_mm=9.0, deflection_limit=1e-4)  # fmt: skip
    found = resistance(by_hand.table(a=row), case, steel, short)
    shear_modulus = 210000 / 2.6
    down = 2000**3 / (48 * 210000 * row["Ix_mm4"]) + 2000 / (4 * shear_modulus * 20 * 60 / 1.2)
    down += 9.0**2 * 2000 / (4 * shear_modulus * row["J_mm4"])
    assert found["limit_state"][0] == "deflection"
    assert found["resistance_N"][0] == pytest.approx(0.2 / down, rel=1e-9)


def test_twist_of_a_channel_is_bounded_from_above(steel, short):
    """Against the closed form of a point torque between forked ends: (T L / 4GJ)(1 − tanh(k/2)/(k/2))."""
    section = columns_of(by_hand.table(a=properties(CHANNEL).row()))
    state, case = at_service(steel, short), BendingCase("b", 1500.0)
    gj, eiw = state.shear_modulus * section["J_mm4"][0], state.modulus * section["Iw_mm6"][0]
    u = 1500.0 * np.sqrt(gj / eiw) / 2.0
    exact = 1500.0 / (4.0 * gj) * (1.0 - np.tanh(u) / u)
    assert exact <= serviceability.twist_per_torque(section, case, state)[0] <= 1.3 * exact


@pytest.mark.parametrize("times", [0.7, 1.3, 2.0, 2.2, 4.0])
def test_beyond_yield_the_load_stays_below_the_exact_one(times, short):
    """Three-point bending of an elastic–plastic rectangle (Timoshenko, part II), shear stiff.

    δ/δ_y = (W_y/W)² (5 − (3 + W/W_y) √(3 − 2 W/W_y)) up to full plasticity at 1.5 W_y, 20/9 δ_y.
    """
    material = plain(E=1000.0, f=10.0, shear_modulus_MPa=1e9)
    first = 10.0 * 20 * 60**2 / 6 * 4 / 900.0
    yield_deflection = first * 900.0**3 / (48 * 1000.0 * 20 * 60**3 / 12)
    case = BendingCase(
        "b", 900.0, restraint="sideways-and-twist", deflection_limit=times * yield_deflection / 900.0
    )
    found = resistance(by_hand.table(a=by_hand.rectangle(20.0, 60.0)), case, material, short).iloc[0]
    m = np.linspace(1.0, 1.5, 4001)
    exact = np.interp(times, (5 - (3 + m) * np.sqrt(3 - 2 * m)) / m**2, m) if times > 1 else times
    assert found["resistance_N"] <= first * exact * (1 + 1e-3)
    assert found["resistance_N"] >= first * min(times, 1.0) * (1 - 1e-6)
    assert ("deflection-beyond-yield" in found["caveats"]) == (times > 1)


def test_a_round_bar_twisted_beyond_yield_stays_below_the_exact_torque(steel, short):
    """T/T_y = (4/3)(1 − (θ_y/θ)³/4) for an elastic–plastic round bar (Nadai)."""
    row = by_hand.tube(40.0)
    tau = 235.0 / np.sqrt(3.0)
    first = tau * np.pi * 20.0**3 / 2
    at_yield = np.rad2deg(first * 900.0 / (210000 / 2.6 * row["J_mm4"]))
    for times in (1.5, 3.0, 4.9):
        case = TorsionCase("t", 900.0, twist_limit_deg=times * at_yield)
        found = resistance(by_hand.table(a=row), case, steel, short).iloc[0]
        assert first <= found["resistance_Nmm"] <= first * 4 / 3 * (1 - times**-3 / 4)
        assert found["limit_state"] == "twist" and "twist-beyond-yield" in found["caveats"]


def test_wagner_coefficient_of_a_held_section_is_an_integral_over_it(steel, short):
    """−∫ y r² dA / Ix with distances r from the shear centre, by a fine grid of points."""
    p = properties(LOPSIDED)
    section = columns_of(by_hand.table(a=p.row()))
    step = 0.25
    x, y = np.meshgrid(np.arange(0, 70, step) + step / 2, np.arange(0, 92, step) + step / 2)
    import shapely

    inside = shapely.contains_xy(LOPSIDED, x, y)
    x, y = x[inside] - LOPSIDED.centroid.x, y[inside] - LOPSIDED.centroid.y
    squared = (x - p.xs_mm) ** 2 + (y - p.ys_mm) ** 2
    expected = -np.sum(y * squared) * step**2 / p.Ix_mm4
    assert lateral.held_wagner(section)[0] == pytest.approx(expected, rel=5e-3)
    assert abs(lateral.held_wagner(section)[0] - lateral.plane_wagner(section)[0]) > 0.02 * abs(expected)


def test_a_brittle_channel_held_sideways_feels_its_warping(short):
    """Loaded beside its shear centre it breaks below the load of bending and uniform torsion alone."""
    glassy = plain(E=3000.0, f=60.0, yield_compression_MPa=Spread(90.0), ductile=False)
    section = by_hand.table(a=properties(CHANNEL.buffer(-1).buffer(1), internal_radius_mm=3.0).row())
    case = BendingCase("b", 600.0, restraint="sideways", load_height="centroid", supports="forked")
    section["tau_per_torque_1_per_mm3"] = 1e-9
    found = resistance(section, case, glassy, short).iloc[0]
    through_shear_centre = BendingCase("b", 600.0, restraint="sideways", load_height="centroid", supports="forked",
                                       load_line_mm=float(section["xs_mm"][0]))  # fmt: skip
    straight = resistance(section, through_shear_centre, glassy, short).iloc[0]
    assert found["limit_state"] == "fracture with warping"
    assert found["resistance_N"] < 0.9 * straight["resistance_N"]
