"""What members carry beside their own weight, by hand, by eigenvalues found here, and by what must hold."""

import numpy as np
import pytest
from scipy.linalg import eigh

from kit.members import ownweight
from kit.members.cases import BendingCase, ColumnAlone, CompressionCase, TensionCase, TorsionCase
from kit.members.columns import critical_loads
from kit.members.critical import OWN_WEIGHT
from kit.members.materials import Spread
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.members.service import at_service
from kit.members.sizing import Factors, design_load, size
from kit.members.stability import critical_load, twist_terms
from kit.members.state import columns_of
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

pytestmark = pytest.mark.usefixtures("gravity")
g = 9.80665
HELD = {"restraint": "sideways-and-twist", "supports": "forked"}
# Loading: own moment G L k, moment of the load W L m, own deflection and the load's, over their W L³/EI.
BY_HAND = {
    "three-point": (1 / 8, 1 / 4, 5 / 384, 1 / 48),
    "four-point": (1 / 8, 1 / 6, 5 / 384, 23 / 1296),
    "uniform": (1 / 8, 1 / 8, 5 / 384, 5 / 384),
    "cantilever": (1 / 2, 1, 1 / 8, 1 / 3),
}


@pytest.fixture
def bar():
    return by_hand.table(bar=by_hand.rectangle(30.0, 30.0))


@pytest.fixture
def soft():
    """A polymer-like material: 900 mm² of it weigh 8.43 N a metre."""
    return plain(E=1000.0, f=25.0, density_kg_m3=955.0)


def carried(bar, case, material, short):
    return resistance(bar, case, material, short).iloc[0]


@pytest.mark.parametrize("loading", BY_HAND)
@pytest.mark.parametrize("span", [3000.0, 6000.0])
def test_the_moment_of_the_own_weight_is_taken_off(loading, span, bar, soft, short):
    """W m L + G k L = M of the square, f a³/4."""
    k, m, _, _ = BY_HAND[loading]
    found = carried(bar, BendingCase("b", span, loading, **HELD), soft, short)
    weight, moment = 900e-9 * span * 955 * g, 25 * 30**3 / 4
    assert found["resistance_N"] == pytest.approx((moment / span - k * weight) / m, rel=1e-9)
    assert found["limit_state"] == "full plasticity"


@pytest.mark.parametrize("loading", BY_HAND)
def test_a_beam_that_cannot_carry_itself_carries_nothing(loading, bar, soft, short):
    """G k L > M from L = √(M / (k ρ g A)): 12.6 m on two supports, 6.3 m as a cantilever."""
    k = BY_HAND[loading][0]
    limit = np.sqrt(25 * 30**3 / 4 / (k * 900e-9 * 955 * g))
    just, over = (
        carried(bar, BendingCase("b", share * limit, loading, **HELD), soft, short) for share in (0.99, 1.01)
    )
    assert just["resistance_N"] > 0 and just["limit_state"] == "full plasticity"
    assert over["resistance_N"] == 0 and over["limit_state"] == "own weight"
    assert "own-weight-taken-off" in over["caveats"].split()


@pytest.mark.parametrize("loading", BY_HAND)
def test_the_own_sag_counts_in_the_limit_of_deflection(loading, bar, short):
    """δ = (b W + d G) L³/EI = L/200, but for shear, which is a part in a thousand here."""
    _, _, d, b = BY_HAND[loading]
    stiff = plain(E=1000.0, f=1e4, density_kg_m3=955.0)
    span = 450.0 if loading == "cantilever" else 1200.0
    found = carried(bar, BendingCase("b", span, loading, deflection_limit=1 / 200, **HELD), stiff, short)
    weight, ei = 900e-9 * span * 955 * g, 1000 * 30**4 / 12
    assert found["limit_state"] == "deflection"
    assert b * found["resistance_N"] + d * weight == pytest.approx(ei / span**2 / 200, rel=4e-3)


def test_no_credit_for_uplift(bar, soft, short):
    """Weight counts against the load in the other sense too, and never for it."""
    found = carried(bar, BendingCase("b", 6000.0, "uniform", **HELD), soft, short)
    assert found["resistance_upwards_N"] == pytest.approx(found["resistance_N"], rel=1e-9)


def test_a_crooked_beam_keeps_off_the_sum_of_shares_in_its_buckling_loads(short):
    """Dunkerley: W/W_cr + G/G_cr ≤ 1 with the elastic loads, whatever the strength."""
    slab, case = by_hand.table(slab=by_hand.rectangle(20.0, 200.0)), BendingCase("b", 6000.0, "three-point")
    heavy = plain(E=3000.0, f=1e5, density_kg_m3=1200.0)
    state, columns = at_service(heavy, short), columns_of(slab)
    load = resistance(slab, case, heavy, short)["resistance_N"].iloc[0]
    own = ownweight.alone(case)
    elastic = [
        critical_load(twist_terms(columns, one, state, 3000.0 * columns["Iy_mm4"]), one)[0][0]
        for one in (case, own)
    ]
    weight = ownweight.weight_N(columns, case, state)[0]
    assert 0.1 < weight / elastic[1] < 0.9
    assert 0 < load / elastic[0] + weight / elastic[1] < 1


def test_a_cantilever_buckles_sideways_under_its_own_weight_by_the_handbook(short):
    """(q L)_cr = 12.85 √(E Iy G J) / L² at the centroid of a narrow rectangle (Timoshenko & Gere)."""
    slab, tip = by_hand.table(slab=by_hand.rectangle(2.0, 60.0)), BendingCase("b", 3000.0, "cantilever")
    state, columns = at_service(plain(E=3000.0), short), columns_of(slab)
    own = ownweight.alone(tip)
    found = critical_load(twist_terms(columns, own, state, 3000.0 * columns["Iy_mm4"]), own)[0][0]
    gj = state.shear_modulus * columns["J_mm4"][0]
    assert found == pytest.approx(12.85 * np.sqrt(3000.0 * columns["Iy_mm4"][0] * gj) / 3000.0**2, rel=5e-3)


def own_weight_eigenvalue(below, above, elements=120):
    """Least q L · L²/(E I) of E I w'''' + q ((L − z) w')' = 0, by beam elements of cubic shape."""
    h, size_ = 1.0 / elements, 2 * elements + 2
    stiff, load = np.zeros((size_, size_)), np.zeros((size_, size_))
    k = np.array([[12, 6 * h, -12, 6 * h], [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                  [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h * h, -6 * h, 4 * h * h]]) / h**3  # fmt: skip
    s, w = np.polynomial.legendre.leggauss(5)
    s, w = 0.5 * (s + 1), 0.5 * w
    slope = np.array([6 * (s * s - s) / h, 1 - 4 * s + 3 * s * s, 6 * (s - s * s) / h, 3 * s * s - 2 * s])
    for e in range(elements):
        at = slice(2 * e, 2 * e + 4)
        stiff[at, at] += k
        load[at, at] += np.einsum("ig,jg,g->ij", slope, slope, (1 - (e + s) * h) * w * h)
    held = {"free": 0, "pinned": 1, "fixed": 2}
    gone = [*range(held[below]), *range(2 * elements, 2 * elements + held[above])]
    keep = np.setdiff1d(np.arange(size_), gone)
    return 1 / eigh(load[np.ix_(keep, keep)], stiff[np.ix_(keep, keep)], eigvals_only=True)[-1]


@pytest.mark.parametrize(
    ("ends", "below", "above"),
    [("fixed-free", "fixed", "free"), ("pinned-pinned", "pinned", "pinned"),
     ("fixed-fixed", "fixed", "fixed"), ("fixed-pinned", "pinned", "fixed")],
)  # fmt: skip
def test_the_weights_at_which_columns_buckle_by_themselves(ends, below, above):
    assert OWN_WEIGHT[ends] == pytest.approx(own_weight_eigenvalue(below, above), rel=1e-6)


def test_which_end_is_fixed_is_not_told_and_the_worse_is_taken():
    assert OWN_WEIGHT["fixed-pinned"] < own_weight_eigenvalue("fixed", "pinned")


@pytest.mark.parametrize("ends", OWN_WEIGHT)
def test_a_slender_post_by_the_sum_of_shares(ends, bar, soft, short):
    """P/P_cr + G/G_cr = 1 with Euler's loads."""
    case = CompressionCase("c", 3000.0, ends, column_curve="euler")
    found = carried(bar, case, soft, short)
    ei, weight = 1000 * 30**4 / 12 / 3000**2, 900e-9 * 3000 * 955 * g
    k = {"fixed-free": 2, "pinned-pinned": 1, "fixed-fixed": 0.5, "fixed-pinned": 0.699156}[ends]
    shares = found["resistance_N"] / (np.pi**2 * ei / k**2) + weight / (OWN_WEIGHT[ends] * ei)
    assert shares == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("curve", ["euler", "perry-robertson", "EN 1993-1-1 c"])
def test_a_mast_taller_than_greenhills_height_does_not_stand(curve, bar, soft, short):
    """L_cr = (7.837 E I / ρ g A)^(1/3), 3.98 m here."""
    height = (7.83735 * 1000 * 30**4 / 12 / (900e-9 * 955 * g)) ** (1 / 3)
    assert height == pytest.approx(3976, rel=1e-3)
    found = carried(bar, CompressionCase("c", 1.001 * height, "fixed-free", curve), soft, short)
    assert found["resistance_N"] == 0 and found["limit_state"] == "own weight"


def test_a_stocky_post_is_crushed_at_its_foot_by_load_and_weight(bar, soft, short):
    """P + G = f A: here a metal as heavy as it takes."""
    lead = plain(E=1e9, f=25.0, density_kg_m3=1e6)
    found = carried(bar, CompressionCase("c", 1000.0, "fixed-fixed", "euler"), lead, short)
    assert found["resistance_N"] == pytest.approx(900 * 25 - 900e-9 * 1000 * 1e6 * g, rel=1e-9)


def test_twist_under_the_own_weight_is_taken_as_if_all_stood_on_top(short):
    """No credit where the handbooks give none: the torsional load is that of an end load."""
    state, columns = (
        at_service(plain(), short),
        columns_of(by_hand.table(i=by_hand.i_section(100, 100, 2, 2))),
    )
    case = CompressionCase("c", 2000.0)
    whole = critical_loads(columns, case, state)
    alone = critical_loads(columns, ownweight.alone(case), state)
    assert isinstance(ownweight.alone(case), ColumnAlone)
    assert alone["t"] == pytest.approx(whole["t"])
    assert alone["1"] / whole["1"] == pytest.approx(18.568725 / np.pi**2)
    assert (alone["least"] <= np.min([alone["1"], alone["2"], alone["t"]], axis=0) * (1 + 1e-9)).all()


def test_ends_of_each_axis_have_their_own_weight(short):
    slab = columns_of(by_hand.table(slab=by_hand.rectangle(20.0, 60.0)))
    case = CompressionCase("c", 2000.0, "fixed-fixed", ends_y="fixed-free")
    found = critical_loads(slab, ownweight.alone(case), at_service(plain(), short))
    assert found["1"] == pytest.approx(74.628569 * 210000 * 20 * 60**3 / 12 / 2000**2)
    assert found["2"] == pytest.approx(7.837347 * 210000 * 60 * 20**3 / 12 / 2000**2)


def test_a_tie_hangs_from_its_end(bar, soft, short):
    """P = A (f − ρ g L): nothing beyond L = f / ρ g, 2.67 km."""
    for length in (1e6, 2e6):
        left = 900 * (25 - 955e-9 * g * length)
        assert carried(bar, TensionCase("t", length), soft, short)["resistance_N"] == pytest.approx(left)
    torn = carried(bar, TensionCase("t", 2.7e6), soft, short)
    assert torn["resistance_N"] == 0 and torn["limit_state"] == "own weight"


def test_a_shaft_keeps_its_torque(bar, soft, short):
    found = carried(bar, TorsionCase("q", 2e3), soft, short)
    assert found["resistance_Nmm"] == pytest.approx(
        carried(bar, TorsionCase("q", 1e3), soft, short)["resistance_Nmm"]
    )
    assert "own weight" not in found["limit_states_checked"]


def test_partial_factors_multiply_the_own_weight_too(bar, soft, short):
    """γ_M γ_F (W/4 + G/8) L = M."""
    case, factors = BendingCase("b", 6000.0, **HELD), Factors(1.1, 1.35)
    weight, moment = 900e-9 * 6000 * 955 * g, 25 * 30**3 / 4
    by_hand_ = 4 * (moment / 6000 / (1.1 * 1.35) - weight / 8)
    assert design_load(bar, case, soft, short, factors)[0] == pytest.approx(by_hand_, rel=1e-9)
    found = size(bar.iloc[0], by_hand_, case, soft, short, factors)
    assert found.scale == pytest.approx(1.0, rel=1e-6)


def test_merit_takes_it_off_both(bar, soft, short):
    """Two squares of one mass are one square, whatever size they came in."""
    other = by_hand.table(small=by_hand.rectangle(20.0, 20.0), large=by_hand.rectangle(50.0, 50.0))
    found = merit(other, bar.iloc[0], BendingCase("b", 9000.0, **HELD), soft, short)
    assert found["merit"].to_numpy() == pytest.approx(1.0)
    mass = 900e-9 * 9000 * 955
    assert found["mass_for_reference_load_kg"].to_numpy() == pytest.approx(mass, rel=1e-6)


def test_a_reference_that_cannot_carry_itself_ranks_nobody(bar, soft, short):
    found = merit(bar, bar.iloc[0], BendingCase("b", 20000.0, **HELD), soft, short)
    assert found.isna().all().all()


def test_what_is_not_known_for_the_weight_is_not_given_for_the_load(short):
    """A brittle I with sharp corners is assessed without twist; here its weight twists it, though its load does not."""
    beam = by_hand.table(beam=by_hand.i_section(100.0, 100.0, 12.0, 12.0))
    aside = beam.assign(xs_mm=10.0)
    glassy = plain(f=60.0, yield_compression_MPa=Spread(100.0), ductile=False)
    case = BendingCase("b", 900.0, load_height="centroid", load_line_mm=10.0, supports="forked")
    straight = BendingCase("b", 900.0, load_height="centroid", supports="forked")
    assert resistance(beam, straight, glassy, short)["limit_state"].iloc[0] != "not assessed"
    found = resistance(aside, case, glassy, short).iloc[0]
    assert found["limit_state"] == "not assessed" and "brittle-sharp-corner" in found["caveats"]


def test_a_beam_whose_centroid_is_beside_its_base_is_told_to_tip_before_it_is_loaded(bar, short):
    """On a base from 1 to 5 mm right of the centroid, loaded at 3 mm: with W of load and G of weight the
    resultant is at 3 W/(W + G), on the base from W = G/2."""
    aside = bar.assign(base_left_mm=1.0, base_right_mm=5.0)
    case = BendingCase("b", 1000.0, "uniform", load_height="centroid", load_line_mm=3.0)
    light, heavy = (plain(E=1000.0, f=25.0, density_kg_m3=rho) for rho in (955.0, 1.5e5))
    found = resistance(aside, case, light, short).iloc[0]
    weight = 9.80665 * found["mass_kg"]
    assert found["resistance_N"] > weight / 2 and "tips-unloaded" in found["caveats"].split()
    over = resistance(aside, case, heavy, short).iloc[0]
    assert over["resistance_N"] == 0 and over["limit_state"] == "overturning"
    held = resistance(
        aside, BendingCase("b", 1000.0, "uniform", load_line_mm=3.0, **HELD), heavy, short
    ).iloc[0]
    assert 0 < held["resistance_N"] < 9.80665 * held["mass_kg"] / 2
    centred = resistance(bar, case, light, short).iloc[0]
    assert "tips-unloaded" not in centred["caveats"]
