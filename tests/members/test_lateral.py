"""Lateral–torsional buckling and second-order bending: convergence, limits and other derivations."""

import itertools

import numpy as np
import pytest

from kit.checks.lateral import gradient_factor
from kit.members import lateral, stability
from kit.members.cases import BendingCase
from kit.members.columns import principal_load_axis
from kit.members.loading import integrals_of, mode_integrals, sine_shapes
from kit.members.materials import Service
from kit.members.resistance import resistance
from kit.members.service import at_service
from kit.members.state import columns_of
from kit.sections.halfwave_beam import rigid_bending_limits
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def uniform_diagram(terms=1):
    z, weight = np.polynomial.legendre.leggauss(40)
    z, weight = 0.5 * (z + 1), 0.5 * weight
    return integrals_of(
        (z, weight),
        np.ones(40),
        (np.array([0.5]), np.zeros(1)),
        lambda at: sine_shapes(at, np.arange(1, terms + 1)),
    )


def beams(n=50, seed=3, **changes):
    rng = np.random.default_rng(seed)
    draw = lambda low, high: rng.uniform(low, high, n)  # noqa: E731 - one line says it
    values = {
        "length_mm": 2000.0, "gj": draw(1e9, 1e11), "eiw": draw(0, 1e16),
        "height": draw(-80, 80), "wagner": draw(-100, 100), "sideways": draw(1e10, 1e12),
    }  # fmt: skip
    return lateral.TwistTerms(**(values | changes))


def test_one_sine_is_exact_for_a_uniform_moment():
    terms = beams(height=np.zeros(50))
    found = lateral.critical_load(terms, uniform_diagram()) * terms.length_mm
    exact = lateral.uniform_moment(terms.length_mm, terms.sideways, terms.gj, terms.eiw, terms.wagner)
    np.testing.assert_allclose(found, exact, rtol=1e-9)


def test_the_two_derivations_of_free_bending_agree():
    """Uniform moment on unsymmetric sections: Ritz here, equilibrium of the half-wave in kit.sections."""
    rng = np.random.default_rng(8)
    n = 40
    Ix, Iy = rng.uniform(1e6, 9e6, (2, n))
    sections = {
        "Ix_mm4": Ix, "Iy_mm4": Iy, "Ixy_mm4": rng.uniform(-0.5, 0.5, n) * np.sqrt(Ix * Iy),
        "J_mm4": rng.uniform(1e4, 1e6, n), "Iw_mm6": rng.uniform(0, 1e9, n),
        "xs_mm": rng.uniform(-30, 30, n), "ys_mm": rng.uniform(-30, 30, n),
        "beta_x_mm": rng.uniform(-60, 60, n), "beta_y_mm": rng.uniform(-60, 60, n),
    }  # fmt: skip
    E, G, length = 70000.0, 27000.0, 1500.0
    terms = lateral.TwistTerms(
        length, G * sections["J_mm4"], E * sections["Iw_mm6"], np.zeros(n),
        lateral.plane_wagner(sections), E * stability.sideways_second_moment(sections),
    )  # fmt: skip
    found = lateral.critical_load(terms, uniform_diagram()) * length
    sagging, _ = rigid_bending_limits(sections, length, E, G)
    np.testing.assert_allclose(found, sagging, rtol=1e-9)


def test_more_terms_only_lower_the_load_and_converge():
    terms = beams(height=np.full(50, 20.0), wagner=np.zeros(50))
    loads = [lateral.critical_load(terms, mode_integrals("three-point", 0.0, m)) for m in (1, 2, 3, 6)]
    for coarse, fine in itertools.pairwise(loads):
        assert (fine <= coarse * (1 + 1e-7)).all()
    np.testing.assert_allclose(loads[2], loads[3], rtol=2e-3)


@pytest.mark.parametrize("loading", ["three-point", "uniform", "cantilever"])
def test_the_load_is_the_least_eigenvalue_of_the_quadratic_problem(loading):
    """Linearised to twice the size and solved by LAPACK, row by row."""
    from scipy.linalg import eig

    terms, shapes = beams(20), mode_integrals(loading, 0.0, 4)
    stiffness, linear, square = lateral.matrices(terms, shapes)
    found = lateral.critical_load(terms, shapes)
    for row in range(20):
        K, G, S = (m[:, :, row] for m in (stiffness, linear, square))
        zero, one = np.zeros((4, 4)), np.eye(4)
        values = eig(np.block([[zero, one], [K, -G]]), np.block([[one, zero], [zero, S]]))[0]
        real = values.real[(abs(values.imag) < 1e-6 * abs(values.real)) & (values.real > 0)]
        assert found[row] == pytest.approx(real.min(), rel=1e-3)


def test_a_load_on_top_is_worse_and_below_better():
    loads = [
        lateral.critical_load(beams(height=np.full(50, h)), mode_integrals("three-point"))
        for h in (-50.0, 0.0, 50.0)
    ]
    assert (loads[0] > loads[1]).all() and (loads[1] > loads[2]).all()


def test_larger_flange_in_compression_is_better():
    up, down = (
        lateral.critical_load(beams(wagner=np.full(50, b)), mode_integrals("uniform")) for b in (60.0, -60.0)
    )
    assert (up > down).all()


def test_a_held_cantilever_root_is_never_worse_than_a_free_one():
    terms = beams(eiw=np.full(50, 1e15))
    plane = lateral.critical_load(terms, mode_integrals("cantilever", 0.0, 12))
    warping = lateral.critical_load(terms, mode_integrals("cantilever", 0.0, 4, True))
    assert (plane >= warping * 0.999).all()


def test_gradient_factor_beyond_the_published_cap():
    """A published example of an IPE 400 (ψ = −0.82) takes C1 = 2.60, its formula's cap.

    The exact factor rises with warping stiffness to 2.88: the published 1778 kN m is 10 % low, and the
    disagreement is the cap's, not the theory's.
    """
    warping = np.pi / 3000 * np.sqrt(210000 * 490e9 / (81000 * 51.08e4))
    assert gradient_factor(-0.82, warping) == pytest.approx(1.10 * 2.60, rel=0.01)
    assert gradient_factor(-0.82, 0.0) == pytest.approx(2.616, rel=1e-3)


def _limit_states(section, material, service=None, **case):
    values = {"load_height": "shear-centre", "supports": "forked"} | case
    return resistance(section, BendingCase("b", **values), material, service or Service()).iloc[0]


def test_the_closed_form_is_used_on_principal_axes_only(short, steel):
    upright = by_hand.rectangle(20.0, 60.0)
    for slant, named in ((0.0, "lateral-torsional"), (0.009, "lateral-torsional"), (0.02, "second-order")):
        Ixy = slant * (360000 - 40000)
        section = by_hand.table(a=upright | {"Ixy_mm4": Ixy, "principal_angle_deg": -np.rad2deg(slant)})
        found = _limit_states(section, steel, span_mm=4000.0)
        assert named in found["limit_state"], slant
        assert ("no-bifurcation-off-axis" in found["caveats"]) == (named == "second-order")


def test_crossing_the_tolerance_moves_the_load_little(steel):
    upright = by_hand.rectangle(20.0, 60.0)
    loads = []
    for slant in (0.0099, 0.0101):
        section = by_hand.table(
            a=upright | {"Ixy_mm4": slant * 320000, "principal_angle_deg": -np.rad2deg(slant)}
        )
        loads.append(_limit_states(section, steel, span_mm=4000.0)["resistance_N"])
    assert loads[1] == pytest.approx(loads[0], rel=0.05)
    assert loads[1] <= loads[0]


def test_there_is_no_sideways_buckling_about_the_minor_axis(sections, steel, short):
    found = resistance(sections, BendingCase("b", 6000.0, load_height="centroid"), steel, short)
    by_name = dict(zip(sections["outline"], found["limit_states_checked"], strict=True))
    assert "lateral-torsional" in by_name["upright"] and "lateral-torsional" not in by_name["flat"]
    assert "lateral-torsional" not in by_name["pipe"] + by_name["aside"]
    assert found["limit_state"][1] == "full plasticity"


def test_buckling_falls_to_the_elastic_critical_load_of_a_straight_beam(steel, sections, short):
    """Hardly any bow: the strength of a long beam comes up to its critical load, from below."""
    case = BendingCase("b", 12000.0, load_height="centroid", supports="forked", bow=1e-7)
    found = resistance(sections, case, steel, short)["resistance_N"][0]
    state, table = at_service(steel, short), columns_of(sections)
    terms = stability.twist_terms(table, case, state, state.column_modulus * table["I2_mm4"])
    critical = stability.critical_load(terms, case)[0][0]
    assert 0.99 * critical < found < critical
    ei, gj = 210000 * 40000, 210000 / 2.6 * table["J_mm4"][0]
    assert critical == pytest.approx(16.94 * np.sqrt(ei * gj) / 12000**2, rel=1e-3)


def test_restraint_never_hurts(steel, short):
    sections = by_hand.table(deep=by_hand.rectangle(10.0, 100.0), beam=by_hand.i_section(100, 50, 8, 6))
    loads = {
        r: resistance(sections, BendingCase("b", 3000.0, restraint=r), steel, short)["resistance_N"]
        for r in ("none", "sideways-and-twist")
    }
    assert (loads["none"] <= loads["sideways-and-twist"] * (1 + 1e-9)).all()
    assert loads["none"][0] < 0.5 * loads["sideways-and-twist"][0]


def test_axes_are_principal_within_a_hundredth(sections):
    assert principal_load_axis(columns_of(sections)).all()


def test_a_stocky_beam_does_not_buckle(steel, sections, short):
    case = BendingCase("b", 300.0, load_height="centroid")
    assert (resistance(sections, case, steel, short)["limit_state"] != "lateral-torsional buckling").all()


def test_a_soft_material_buckles_earlier():
    section = by_hand.table(a=by_hand.rectangle(20.0, 60.0))
    stiff, soft = (_limit_states(section, plain(E=e), span_mm=12000.0)["resistance_N"] for e in (2e5, 2e4))
    assert soft < 0.3 * stiff


@pytest.mark.parametrize("share", [0.2, 0.6, 0.9])
def test_growth_of_a_crooked_beam_against_the_two_equations_of_equilibrium(share, steel, short):
    """Uniform moment: P2 u = M (φ0 + φ), (GJ + EIw k²) φ = M (u0 + u), started in the buckled shape."""
    section = columns_of(by_hand.table(a=by_hand.i_section(200, 100, 10, 7)))
    state, length, bow = at_service(steel, short), 4000.0, 1 / 400
    k2 = (np.pi / length) ** 2
    p2 = k2 * 210000 * section["I2_mm4"][0]
    twisting = 210000 / 2.6 * section["J_mm4"][0] + 210000 * section["Iw_mm6"][0] * k2
    critical = np.sqrt(p2 * twisting)
    u0 = bow * length
    phi0 = u0 * p2 / critical
    moment = share * critical
    _, phi = np.linalg.solve([[p2, -moment], [-moment, twisting]], [moment * phi0, moment * u0])
    case = BendingCase("b", length, load_height="shear-centre", supports="forked", bow=bow)
    terms = stability.twist_terms(section, case, state, 210000 * section["I2_mm4"])
    growth = stability._Growth(
        terms, uniform_diagram(), np.array([critical / length]), np.zeros(1), np.zeros(1)
    )
    added, whole, _ = stability._twist(growth, case, state, section)(np.array([moment / length]))
    assert added[0] == pytest.approx(phi, rel=1e-9)
    assert whole[0] == pytest.approx(phi + phi0, rel=1e-9)


def test_the_strength_found_is_first_yield_of_the_crooked_beam(short):
    """Bending, sideways bending of the twisted section and the warping of its flanges add up to f."""
    brittle = plain(ductile=False)
    beam = by_hand.i_section(200, 100, 10, 7)
    section = by_hand.table(a=beam)
    case = BendingCase("b", 5000.0, load_height="shear-centre", supports="forked")
    load = resistance(section, case, brittle, short)["resistance_N"][0]
    table, state = columns_of(section), at_service(brittle, short)
    terms = stability.twist_terms(table, case, state, 210000 * table["I2_mm4"])
    critical = stability.critical_load(terms, case)[0][0]
    average = 2 * np.trapezoid(
        (np.minimum(z := np.linspace(0, 1, 20001), 1 - z) / 2) * np.sin(np.pi * z) ** 2, z
    )
    phi0 = case.bow * np.pi**2 * 210000 * beam["I2_mm4"] / 5000**2 / (critical * average)
    added = phi0 * (load / critical) / (1 - load / critical)
    moment = load * 5000 / 4
    stress = moment / beam["Wel_x_top_mm3"] + moment * (phi0 + added) / beam["Wel_2_mm3"]
    stress += 210000 * added * (np.pi / 5000) ** 2 * (190 / 2) * (100 / 2)
    # The estimate √(Iw/I2) leaves out nothing but the web's share of I2.
    assert stress == pytest.approx(235.0, rel=5e-4)
    assert load < critical
