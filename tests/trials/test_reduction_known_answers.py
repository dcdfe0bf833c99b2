"""Records with known modulus, toe, peak and noise: what is put in comes out again, and intervals cover it."""

import numpy as np
import pytest

from kit.members.cases import CompressionCase, TensionCase, TorsionCase
from kit.trials import synthetic
from kit.trials.coupons import Coupon, coupon_setup
from kit.trials.detection import examine
from kit.trials.reduction import Choices, reduce
from kit.trials.setups import Rig, setup_of
from tests.trials.pieces import beam, i_polygon, plastic, record, section

SECTION = section()
RIG = Rig(2e-5, 3e-5)
SETUPS = {
    "bending, short span": setup_of(SECTION, beam(600.0), plastic(), RIG),
    "bending, long span": setup_of(SECTION, beam(1500.0), plastic(), RIG),
    "four-point": setup_of(SECTION, beam(900.0, loading="four-point"), plastic(), RIG),
    "cantilever": setup_of(SECTION, beam(400.0, loading="cantilever"), plastic(), RIG),
    "compression": setup_of(SECTION, CompressionCase("c", 300.0), plastic(), RIG),
    "tension": setup_of(SECTION, TensionCase("t", 500.0), plastic(), RIG),
    "torsion": setup_of(SECTION, TorsionCase("s", 800.0), plastic(), Rig(1e-9)),
    "coupon": coupon_setup(Coupon("iso-178", 10.0, 4.0, 64.0)),
}
MODULUS = 1050.0


def peak_of(setup):
    """A peak for which the window of the strains lies on the rise."""
    strain = 0.012
    scale = setup.strain_per_travel if np.isfinite(setup.strain_per_travel) else 0.01
    return strain / scale * MODULUS / setup.unit_compliance


def made(setup, toe_share=0.05, noise=0.0, seed=0, **more):
    peak = peak_of(setup)
    toe = toe_share * peak * setup.unit_compliance / MODULUS
    truth = synthetic.Truth(MODULUS, peak, toe, **more)
    travel, load = synthetic.clean(truth, setup)
    load = synthetic.noisy(load, peak, seed, noise) if noise else load
    return truth, examine(record(travel, load))


@pytest.mark.parametrize("name", SETUPS)
@pytest.mark.parametrize("brittle", [False, True])
def test_modulus_peak_and_toe_come_out_of_a_clean_record(name, brittle):
    truth, sound = made(SETUPS[name], brittle=brittle)
    found = reduce(sound, SETUPS[name])
    assert found.modulus_MPa == pytest.approx(truth.modulus_MPa, rel=0.005)
    assert found.peak_load == pytest.approx(truth.peak_load, rel=0.001)
    assert found.toe == pytest.approx(truth.toe, rel=0.01)


def test_the_window_is_the_one_that_was_asked_for():
    _, sound = made(SETUPS["bending, long span"])
    found = reduce(sound, SETUPS["bending, long span"], Choices(window=(0.001, 0.004)))
    assert found.window_strain == pytest.approx((0.001, 0.004), rel=0.02)


def test_without_toe_compensation_the_window_begins_at_the_record():
    _, sound = made(SETUPS["bending, long span"], toe_share=0.0)
    with_toe, without = (
        reduce(sound, SETUPS["bending, long span"], Choices(toe=toe)) for toe in (True, False)
    )
    assert with_toe.window_strain == pytest.approx(without.window_strain, rel=0.02)


def test_offset_yield_and_energy_of_a_record_known_in_closed_form():
    """Straight to 0.7 P, then a parabola: both follow by hand."""
    setup = SETUPS["bending, long span"]
    truth, sound = made(setup, toe_share=0.0)
    found = reduce(sound, setup)
    stiff, peak = truth.modulus_MPa / setup.unit_compliance, truth.peak_load
    bend = 0.6 * peak / stiff
    top = 0.7 * peak / stiff + bend
    work = 0.7 * peak * (0.7 * peak / stiff) / 2 + peak * bend - 0.3 * peak * bend / 3
    assert found.energy == pytest.approx(work, rel=0.005)
    assert found.stroke == pytest.approx(top, rel=0.01)
    # F = k (d − o) meets P − a (d − top)², d the travel of the piece; the rig adds C F to both alike.
    own = 1.0 - setup.other_compliance * found.stiffness
    offset = 0.002 / setup.strain_per_travel * own
    a = 0.3 * peak / bend**2
    total = np.roots([a, stiff - 2 * a * top, a * top**2 - peak - stiff * offset / own])
    met = max(d.real for d in total if d.real < top)
    assert found.yield_load == pytest.approx(peak - a * (met - top) ** 2, rel=0.01)


def test_shear_and_compliance_taken_off_make_a_short_beam_no_softer():
    """Without them a plain I on a short span looks softer by just what they add to the flexure."""
    setup = SETUPS["bending, short span"]
    truth, sound = made(setup)
    found = reduce(sound, setup)
    span, second = 600.0, SECTION["Ix_mm4"]
    naive = found.stiffness * span**3 / (48.0 * second)
    shear = (span / 4.0) / SECTION["shear_area_y_nu0_mm2"] * 2.0 * 1.4
    flexure = span**3 / (48.0 * second)
    softer = flexure / (flexure + shear + RIG.compliance * truth.modulus_MPa)
    assert naive / truth.modulus_MPa == pytest.approx(softer, rel=0.005)
    assert softer < 0.85


def test_units_of_length_change_nothing():
    """A piece twice as large everywhere has the same modulus from a record twice as long, four times as high."""
    small, large = section(), section(i_polygon(200, 200, 24, 24), "large")
    setups = [setup_of(row, beam(span), plastic()) for row, span in ((small, 900.0), (large, 1800.0))]
    truth = synthetic.Truth(MODULUS, peak_of(setups[0]), 0.5)
    travel, load = synthetic.clean(truth, setups[0])
    found = [
        reduce(examine(record(travel * s, load * s**2)), setup)
        for s, setup in zip((1, 2), setups, strict=True)
    ]
    assert found[1].modulus_MPa == pytest.approx(found[0].modulus_MPa, rel=2e-3)


def coverage(name, brittle, trials, seed=0):
    """Share of intervals that hold the truth. Seating is over where the window begins: the interval is one of
    readings, and holds no seating that reaches into the window."""
    setup = SETUPS[name]
    inside, widths = np.zeros(2), []
    for n in range(trials):
        truth, sound = made(setup, noise=0.003, seed=seed + n, brittle=brittle, seating_share=0.006)
        found = reduce(sound, setup)
        inside += [
            found.modulus_low_MPa <= truth.modulus_MPa <= found.modulus_high_MPa,
            found.peak_low <= truth.peak_load <= found.peak_high,
        ]
        widths.append((found.modulus_high_MPa - found.modulus_low_MPa, found.peak_high - found.peak_low))
    median = np.median(widths, axis=0) / (truth.modulus_MPa, truth.peak_load)
    return inside / trials, median


def test_intervals_cover_what_they_claim_in_a_short_run():
    """120 trials: 95 % ± three standard deviations of a proportion."""
    inside, _ = coverage("bending, long span", False, 120)
    assert (inside > 0.95 - 3 * np.sqrt(0.95 * 0.05 / 120)).all()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bending, long span", "bending, short span", "compression"])
@pytest.mark.parametrize("brittle", [False, True])
def test_intervals_cover_93_to_97_of_100(name, brittle):
    inside, median = coverage(name, brittle, 1000)
    print(f"\n{name}, {'brittle' if brittle else 'rounded'}: modulus {inside[0]:.1%} covered, median width "
          f"{median[0]:.2%}; peak {inside[1]:.1%}, {median[1]:.2%}")  # fmt: skip
    assert ((inside >= 0.93) & (inside <= 0.97)).all()
    assert (median < (0.06, 0.03)).all()
