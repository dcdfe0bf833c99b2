"""Critical loads of beams that twist against beam elements of the twist, and against closed forms."""

import itertools

import numpy as np
import pytest

from kit.members.cases import LOADINGS, BendingCase
from kit.members.lateral import TwistTerms
from kit.members.loading import load_points, moment_shape
from kit.members.resistance import resistance
from kit.members.stability import critical_load
from tests.members import sections_by_hand as by_hand

ELEMENTS = 16
SPAN = 1000.0


def hermite(x, long):
    """Cubic shapes of an element, their slopes and curvatures, for values and slopes at its ends."""
    unit = np.array([1.0, long, 1.0, long])
    values = np.array([1 - 3 * x**2 + 2 * x**3, x - 2 * x**2 + x**3, 3 * x**2 - 2 * x**3, x**3 - x**2])
    slopes = np.array([6 * x**2 - 6 * x, 1 - 4 * x + 3 * x**2, 6 * x - 6 * x**2, 3 * x**2 - 2 * x])
    bends = np.array([12 * x - 6, 6 * x - 4, 6 - 12 * x, 6 * x - 2])
    return values * unit, slopes * unit / long, bends * unit / long**2


def by_elements(case, gj, eiw, height, wagner, sideways) -> float:
    """Least W > 0 at which K − W (y_Q C − β D) − W² E is singular, from its linear companion."""
    spacing = case.spacing_mm / SPAN if case.loading == "four-point" else 0.0
    places, shares = load_points(case.loading, spacing)
    even = case.loading == "uniform"
    nodes = np.unique(np.concatenate([np.linspace(0, 1, ELEMENTS + 1), [] if even else places]))
    size = 2 * len(nodes)
    K, C, D, E = np.zeros((4, size, size))
    for first, (a, b) in enumerate(itertools.pairwise(nodes)):
        at = np.ix_(range(2 * first, 2 * first + 4), range(2 * first, 2 * first + 4))
        for x, weight in zip(*np.polynomial.legendre.leggauss(6), strict=True):
            x, weight = 0.5 * (x + 1), 0.5 * weight * (b - a)
            f, slope, bend = hermite(x, b - a)
            m = float(moment_shape(case.loading, spacing, a + x * (b - a)))
            K[at] += weight * (gj / SPAN * np.outer(slope, slope) + eiw / SPAN**3 * np.outer(bend, bend))
            D[at] += weight * m * np.outer(slope, slope)
            E[at] += weight * m**2 * np.outer(f, f) * SPAN**3 / sideways
            C[at] += weight * even * np.outer(f, f)
    for place, share in zip(places, shares, strict=True) if not even else ():
        node = 2 * int(np.abs(nodes - place).argmin())
        C[node, node] += share
    free = np.delete(np.arange(size), [0, 1] if case.loading == "cantilever" else [0, size - 2])
    K, G, E = (part[np.ix_(free, free)] for part in (K, height * C - wagner * D, E))
    inverse = np.linalg.inv(K)
    found = np.linalg.eigvals(np.block([[inverse @ G, inverse @ E], [np.eye(len(K)), np.zeros_like(K)]]))
    greatest = found[np.abs(found.imag) < 1e-7 * np.abs(found).max()].real.max()
    return 1.0 / greatest if greatest > 1e-9 * np.abs(found).max() else np.inf


@pytest.mark.parametrize("held", [True, False], ids=["held sideways", "free"])
@pytest.mark.parametrize("loading", LOADINGS)
def test_critical_loads_by_beam_elements(loading, held):
    """Heights and Wagner coefficients of either sign, from uniform torsion to warping alone."""
    case = BendingCase("beam", SPAN, loading, restraint="sideways" if held else "none")
    rng = np.random.default_rng(11)
    for _ in range(24):
        k = 10.0 ** rng.uniform(-1.3, 0.5)
        height, wagner = rng.uniform(-60, 60), rng.uniform(-80, 80)
        # Wide apart from sideways buckling (GJ/EI2 of a plate is about 1.5) to near it.
        beam = (1e9, (k * SPAN / np.pi) ** 2 * 1e9, height, wagner, np.inf if held else rng.uniform(3e8, 3e9))
        terms = TwistTerms(SPAN, *(np.array([value]) for value in beam))
        found, exact = float(critical_load(terms, case)[0][0]), by_elements(case, *beam)
        if exact > 100.0 * beam[0] / (60.0 * SPAN):
            continue  # no strength reaches so high
        assert found <= 1.08 * exact, beam
        # A cantilever's root may warp below k = 0.5.
        assert found >= (0.97 if k > 0.5 or loading != "cantilever" else 0.6) * exact, beam


@pytest.mark.parametrize("loading", ["cantilever", "three-point"])
def test_a_load_on_top_of_a_strip_held_sideways(loading, steel, short):
    """Without warping G J φ' = W h φ of the tip: W = G J / (h L); of midspan, each half by half the load: 4 times."""
    sections = by_hand.table(strip=by_hand.rectangle(2.0, 100.0))
    case = BendingCase("beam", SPAN, loading, restraint="sideways", supports="forked")
    found = resistance(sections, case, steel, short).iloc[0]
    gj = 210000.0 / 2.6 * sections["J_mm4"].iloc[0]
    exact = gj / (50.0 * SPAN) * (1.0 if loading == "cantilever" else 4.0)
    assert found["limit_state"] == "torsional buckling under the load"
    assert 0.9 * exact / 2 <= found["resistance_N"] <= 1.05 * exact / 2


def test_a_load_far_below_does_not_save_the_beam_from_twisting_in_halves():
    """The Wagner effect alone twists both halves apart: the load at midspan does no work."""
    case = BendingCase("beam", SPAN, restraint="sideways")
    gj, eiw, wagner = 1e9, (0.8 * SPAN / np.pi) ** 2 * 1e9, -50.0
    loads = [
        float(
            critical_load(TwistTerms(SPAN, *(np.array([v]) for v in (gj, eiw, h, wagner, np.inf))), case)[0][
                0
            ]
        )
        for h in (-50.0, -500.0)
    ]
    exact = by_elements(case, gj, eiw, -500.0, wagner, np.inf)
    np.testing.assert_allclose(loads, exact, rtol=0.01)
