"""Every known fault of a record is found, said, and handled by its rule: never a silent number.

The fault is made in a clean record whose modulus and peak are known.
"""

import numpy as np
import pytest

from kit.errors import Unusable
from kit.trials import synthetic
from kit.trials.detection import RULES, examine
from kit.trials.reduction import implausible, reduce
from kit.trials.setups import Rig, setup_of
from tests.trials.pieces import beam, plastic, record, section

MODULUS, PEAK = 1050.0, 4000.0
SETUP = setup_of(section(), beam(), plastic(), Rig(2e-5, 1e-5))
TRUTH = synthetic.Truth(MODULUS, PEAK, 0.8)


def clean(noise=0.001, brittle=False, points=1500):
    travel, load = synthetic.clean(synthetic.Truth(MODULUS, PEAK, 0.8, 0.01, brittle), SETUP, points)
    return travel, synthetic.noisy(load, PEAK, 1, noise) if noise else load


def found(travel, load, broke=False, **more):
    return reduce(examine(record(travel, load, **more), broke), SETUP)


def keys(reduced) -> set[str]:
    return {finding.key for finding in reduced.findings}


def sound_values(reduced, modulus=0.02, peak=0.004):
    assert reduced.modulus_MPa == pytest.approx(MODULUS, rel=modulus)
    assert reduced.peak_load == pytest.approx(PEAK, rel=peak)


def test_nothing_is_found_in_a_clean_record():
    reduced = found(*clean())
    sound_values(reduced)
    assert keys(reduced) == set()


def test_rows_without_numbers_are_left_out_and_counted():
    travel, load = clean()
    load[[100, 400, 401]] = np.nan
    reduced = found(travel, load)
    sound_values(reduced)
    assert any("3 rows" in str(finding) for finding in reduced.findings)


def test_a_gap_in_travel_leaves_the_record_out():
    travel, load = clean()
    keep = (travel < 0.3 * travel[-1]) | (travel > 0.45 * travel[-1])
    with pytest.raises(Unusable, match="gap of"):
        found(travel[keep], load[keep])


@pytest.mark.parametrize("height", [0.3, -0.4, 3.0])
@pytest.mark.parametrize("width", [1, 2, 3])
def test_spikes_are_left_out_wherever_they_stand(height, width):
    travel, load = clean()
    top = int(np.argmax(load))
    for at in (200, 500, top - 40, top + 60):
        load[at : at + width] += height * PEAK
    reduced = found(travel, load)
    sound_values(reduced)
    assert "spikes" in keys(reduced)


def test_a_spike_of_the_displacement_is_no_unloading():
    travel, load = clean()
    travel[[300, 900]] += (3.0, -8.0)
    reduced = found(travel, load)
    sound_values(reduced)
    assert "spikes" in keys(reduced)


def test_too_many_spikes_leave_the_record_out():
    travel, load = clean()
    load[100:1200:20] += 0.5 * PEAK
    with pytest.raises(Unusable, match="spikes"):
        found(travel, load)


def test_a_break_is_no_spike():
    reduced = found(*clean(brittle=True))
    sound_values(reduced, peak=0.008)
    assert "spikes" not in keys(reduced)


def test_saturation_withholds_the_peak_and_keeps_the_modulus():
    travel, load = clean()
    reduced = found(travel, np.minimum(load, 0.6 * PEAK))
    assert "saturation" in keys(reduced)
    assert np.isnan(reduced.peak_load) and np.isnan(reduced.energy)
    assert reduced.modulus_MPa == pytest.approx(MODULUS, rel=0.02)


def test_a_preload_that_is_held_is_read_from_its_end():
    travel, load = clean()
    at = int(np.argmax(load > 0.08 * PEAK))
    held = np.full(120, travel[at]), np.linspace(load[at], 0.95 * load[at], 120)
    reduced = found(*(np.concatenate([a[:at], h, a[at:]]) for a, h in zip((travel, load), held, strict=True)))
    sound_values(reduced)
    assert "preload" in keys(reduced)


def test_a_preload_that_is_taken_off_is_read_from_its_end():
    travel, load = clean(noise=0.0)
    at = int(np.argmax(load > 0.12 * PEAK))
    low = int(np.argmax(load > 0.02 * PEAK))
    there = np.r_[0:at, at:low:-1, low : len(load)]
    reduced = found(travel[there], synthetic.noisy(load[there], PEAK, 2, 0.001))
    sound_values(reduced)
    assert "preload" in keys(reduced)


def test_unloading_on_the_way_leaves_the_record_out():
    travel, load = clean()
    at, low = int(np.argmax(load > 0.5 * PEAK)), int(np.argmax(load > 0.2 * PEAK))
    there = np.r_[0:at, at:low:-1, low : len(load)]
    with pytest.raises(Unusable, match="unloaded at 4"):
        found(travel[there], load[there])


@pytest.mark.parametrize(("sign_x", "sign_f"), [(-1, -1), (1, -1), (-1, 1)])
def test_signs_are_turned_and_said(sign_x, sign_f):
    travel, load = clean()
    reduced = found(sign_x * travel, sign_f * load)
    sound_values(reduced)
    assert "signs" in keys(reduced)


def test_exchanged_columns_leave_the_record_out():
    travel, load = clean()
    with pytest.raises(Unusable, match="exchanged"):
        found(load, travel)


def test_a_first_peak_counts_whatever_follows():
    travel, load = clean(noise=0.0)
    top = int(np.argmax(load))
    end = int(np.argmax(load[top:] < 0.95 * PEAK)) + top
    second = np.linspace(0.6 * PEAK, 1.3 * PEAK, 500)
    more = travel[end] + np.linspace(0, travel[end] / 2, 501)[1:]
    reduced = found(
        np.append(travel[:end], more), synthetic.noisy(np.append(load[:end], second), PEAK, 1, 0.001)
    )
    sound_values(reduced)
    assert "more than one peak" in keys(reduced)


def slipped(at_share, by=0.4):
    travel, load = clean(noise=0.0, points=3000)
    at = int(np.argmax(load > at_share * PEAK))
    behind = np.interp(travel - by, travel, load)
    return travel, synthetic.noisy(np.where(travel > travel[at], behind, load), PEAK, 1, 0.0005)


def test_a_slip_keeps_the_peak_and_withholds_stroke_energy_and_offset():
    reduced = found(*slipped(0.8, by=0.6))
    assert "slip" in keys(reduced)
    assert reduced.peak_load == pytest.approx(PEAK, rel=0.004)
    assert reduced.modulus_MPa == pytest.approx(MODULUS, rel=0.02)
    assert np.isnan([reduced.energy, reduced.stroke, reduced.yield_load]).all()


def test_a_slip_low_down_is_kept_out_of_the_modulus():
    reduced = found(*slipped(0.45, by=0.4))
    assert "slip" in keys(reduced)
    assert np.isnan(reduced.modulus_MPa) or reduced.modulus_MPa == pytest.approx(MODULUS, rel=0.03)


def test_a_record_that_begins_under_load_has_no_elastic_part():
    travel, load = clean()
    late = load > 0.4 * PEAK
    late[int(np.argmax(load)) :] = True
    reduced = found(travel[late], load[late])
    assert "no elastic part" in keys(reduced)
    assert np.isnan(reduced.modulus_MPa)
    assert reduced.peak_load == pytest.approx(PEAK, rel=0.004)


def test_a_rise_that_is_nowhere_straight_gives_no_modulus():
    travel = np.linspace(0, 30, 1500)
    load = PEAK * np.where(travel < 25, (travel / 25) ** 3, 0.05)
    reduced = found(travel, synthetic.noisy(load, PEAK, 1, 0.0005))
    assert "no elastic part" in keys(reduced)
    assert np.isnan(reduced.modulus_MPa)


def test_a_record_that_stops_on_the_way_up_has_no_peak():
    travel, load = clean()
    up = slice(0, int(np.argmax(load > 0.7 * PEAK)))
    reduced = found(travel[up], load[up])
    assert "no peak" in keys(reduced)
    assert np.isnan(reduced.peak_load)
    broken = found(travel[up], load[up], broke=True)
    assert broken.peak_load == pytest.approx(0.7 * PEAK, rel=0.01)


def test_a_load_cell_that_was_not_zeroed_is_zeroed_before_contact():
    travel, load = clean(noise=0.0)
    free = np.linspace(-2.0, 0.0, 100)
    load = synthetic.noisy(np.append(np.zeros(100), load), PEAK, 3, 0.0005) + 0.02 * PEAK
    reduced = found(np.append(free, travel), load)
    sound_values(reduced)
    assert "contact" in keys(reduced)


@pytest.mark.parametrize(
    ("factor", "words"),
    [(1000.0, "kN and N"), (1 / 1000.0, "kN and N"), (25.4, "inches"), (1 / 4.448, "pounds")],
)
def test_wrong_units_are_seen_by_the_stiffness(factor, words):
    assert words in implausible(1.05 * factor)


def test_a_stiffness_near_the_predicted_one_is_plausible():
    assert not any(implausible(ratio) for ratio in (0.3, 0.7, 1.0, 1.5, 3.5))


def test_a_handful_of_rows_is_refused():
    with pytest.raises(Unusable, match="rows"):
        found(np.linspace(0, 1, 12), np.linspace(0, 1, 12))


@pytest.mark.parametrize("value", [0.0, 5.0])
def test_a_load_that_never_changes_is_refused(value):
    with pytest.raises(Unusable):
        found(np.linspace(0, 10, 200), np.full(200, value))


def test_every_rule_is_stated():
    assert {"gaps", "spikes", "saturation", "preload", "signs", "exchanged columns", "more than one peak", "slip",
            "no elastic part", "no peak"} <= {name for name, _ in RULES}  # fmt: skip
