"""Bending and torsion at once: a beam that lies turned is bent about its other axis too."""

from dataclasses import replace

import numpy as np
import pytest

from kit.members.cases import BendingCase, CompressionCase, TorsionCase
from kit.members.interaction import combined
from kit.members.resistance import load_name, resistance
from kit.members.twistedbeam import twist_beyond_yield
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

LENGTH = 3000.0
BENT = BendingCase("b", LENGTH, load_height="centroid", supports="forked")
TWISTED = TorsionCase("t", LENGTH)
BAR = by_hand.table(bar=by_hand.rectangle(20.0, 40.0))
E, NU, F = 1000.0, 0.4, 25.0


def soft(**changes):
    return plain(E=E, f=F, poissons_ratio=NU, family="unspecified", density_kg_m3=955.0, **changes)


def uses(loads, material, service):
    return [load / resistance(BAR, case, material, service)[load_name(case)].iloc[0] for case, load in loads]


def test_the_moment_of_a_turned_beam_uses_the_other_axis_too(short):
    """A 20 × 40 bar: use = M/M_R + (T/T_R + M φ / (W_y f)) / (1 − W/W_cr), φ = T L/GJ, W_cr = 16.94 √(EI GJ)/L²."""
    loads = [(BENT, 12.0), (TWISTED, 3e3)]
    found = combined(BAR, loads, soft(), short).iloc[0]
    m, t = uses(loads, soft(), short)
    gj = E / (2 * (1 + NU)) * 0.229 * 40 * 20**3
    turned = 3e3 * LENGTH / gj / (1 - t**3)
    other = 12.0 * LENGTH / 4 * turned / (40 * 20**2 / 6 * F)
    critical = 16.94 * np.sqrt(E * 40 * 20**3 / 12 * gj) / LENGTH**2
    assert turned > 0.3
    assert found["use"] == pytest.approx(m + (t + other) / (1 - 12.0 / critical), rel=2e-3)
    assert "twisted-beam-bends-sideways" in found["caveats"]


def test_loads_at_the_factor_use_up_the_beam(short):
    loads = [(BENT, 12.0), (TWISTED, 3e3), (CompressionCase("c", LENGTH), 40.0)]
    factor = combined(BAR, loads, soft(), short)["load_factor"].iloc[0]
    raised = [(case, load * factor) for case, load in loads]
    assert combined(BAR, raised, soft(), short)["use"].iloc[0] == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize("bend", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("torque", [1e3, 1e4, 4e4])
def test_never_beyond_the_full_moment_about_the_other_axis(bend, torque, short):
    """At midspan the bar lies turned by at least half the elastic twist: M sin(φ/2) cannot exceed W_pl,y f."""
    loads = [(BENT, bend), (TWISTED, torque)]
    factor = combined(BAR, loads, soft(), short)["load_factor"].iloc[0]
    half = min(factor * torque * LENGTH / (E / (2 * (1 + NU)) * 0.229 * 40 * 20**3) / 2, np.pi / 2)
    assert factor * bend * LENGTH / 4 * np.sin(half) <= 40 * 20**2 / 4 * F


def test_own_weight_is_turned_too(gravity, short):
    """The load small, the torque large: the weight's W L/8 on the turned bar is what is added."""
    material = soft()
    loads = [(BENT, 1e-6), (TWISTED, 6e3)]
    use = combined(BAR, loads, material, short)["use"].iloc[0]
    (_, t), weight = uses(loads, material, short), 800e-9 * LENGTH * 955 * 9.80665
    gj = E / (2 * (1 + NU)) * 0.229 * 40 * 20**3
    other = weight * LENGTH / 8 * 6e3 * LENGTH / gj / (1 - t**3) / (40 * 20**2 / 6 * F)
    critical = 28.3 * np.sqrt(E * 40 * 20**3 / 12 * gj) / LENGTH**2
    assert use == pytest.approx((t + other) / (1 - weight / critical), rel=5e-3)


def test_a_beam_held_sideways_is_held_against_it(short):
    loads = [(replace(BENT, restraint="sideways"), 12.0), (TWISTED, 3e3)]
    assert combined(BAR, loads, soft(), short)["use"].iloc[0] == pytest.approx(
        sum(uses(loads, soft(), short)), rel=1e-9
    )


def test_what_is_not_assessed_alone_stays_so_when_twisted(short):
    glassy = soft(ductile=False)
    tee = by_hand.table(i=by_hand.i_section(100.0, 100.0, 12.0, 12.0))
    assert np.isnan(combined(tee, [(BENT, 1.0), (TWISTED, 1.0)], glassy, short)["use"].iloc[0])


def test_twist_beyond_yield_lies_above_a_round_bar_and_a_strip():
    """Nádai: T = T_p (1 − (φ_y/φ)³/4) for a round bar, T_p (1 − (φ_y/φ)²/3) for a thin strip."""
    turned = np.linspace(1.0, 50.0, 500)
    for share in (1 - turned**-3 / 4, 1 - turned**-2 / 3):
        elastic = share / share[0]
        assert (twist_beyond_yield(share) >= turned / elastic).all()
    assert twist_beyond_yield(np.array([0.0, 1.0, 1.2])).tolist() == [1.0, np.inf, np.inf]
