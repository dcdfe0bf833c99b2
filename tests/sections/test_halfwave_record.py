"""Half-wavelength curves in plain numbers: they travel through JSON, and strains belong to the outline."""

import json
from functools import cache

import numpy as np
import pytest
from shapely import LineString, affinity, box

from kit.errors import InputError
from kit.sections.halfwave import half_wavelength_curve, section_under
from kit.sections.halfwave_record import from_plain, record_of, strain_record
from kit.sections.halfwave_stress import LinearStress, isotropic

COMPRESSED = LinearStress(-1.0)
CHANNEL = LineString([(50, 0), (0, 0), (0, 100), (50, 100)]).buffer(2, cap_style="flat", join_style="mitre")
TUBE = box(0, 0, 60, 60) - box(4, 4, 56, 56)


@cache
def record(polygon):
    return strain_record(polygon, 0.3, COMPRESSED)


def test_record_comes_back_from_json_as_it_was():
    kept = record(CHANNEL)
    assert from_plain(json.loads(json.dumps(kept.plain()))) == kept


def test_record_says_what_the_curve_says():
    curve = half_wavelength_curve(section_under(TUBE, isotropic(70000.0, 0.3), COMPRESSED, 120))
    kept = record_of(curve)
    assert kept.half_wavelengths_mm == tuple(curve.half_wavelengths_mm)
    assert [row[0] for row in kept.stresses_MPa] == pytest.approx(curve.stresses_MPa)
    assert [one.title for one in kept.minima] == [one.kind for one in curve.minima]
    assert len(kept.rest) == 2


def test_square_tube_buckles_at_the_plate_coefficient_of_four():
    # Timoshenko & Gere (1961), ch. 9: σ = 4 π² E / 12 (1 − ν²) · (t/b)², b between the walls' middles.
    thin = box(0, 0, 60, 60) - box(1, 1, 59, 59)
    expected = 4 * np.pi**2 / (12 * 0.91) * (1 / 59) ** 2
    assert record(thin).lowest("local") == pytest.approx(expected, rel=0.01)
    assert np.isinf(record(CHANNEL).lowest("none such"))


def test_solid_rectangle_has_no_walls_to_buckle():
    assert record(box(0, 0, 50, 100)).minima == ()


@pytest.mark.parametrize("factor", [0.1, 7.0])
def test_critical_strain_does_not_know_the_size(factor):
    larger = strain_record(affinity.scale(CHANNEL, factor, factor), 0.3, COMPRESSED)
    assert larger.lowest("local") == pytest.approx(record(CHANNEL).lowest("local"), rel=2e-3)


def test_stresses_of_a_stiffer_material():
    steel = record(CHANNEL).times(210000.0)
    assert steel.lowest("local") == pytest.approx(210000.0 * record(CHANNEL).lowest("local"))
    assert steel.shapes[0].rings == record(CHANNEL).shapes[0].rings


def test_simplified_outline_of_a_round_tube_keeps_its_critical_strain():
    ring = LineString([(0, 0), (1e-9, 0)])
    round_tube = ring.buffer(50, quad_segs=60) - ring.buffer(46, quad_segs=60)
    coarse = strain_record(round_tube, 0.3, COMPRESSED)
    section = section_under(round_tube, isotropic(1.0, 0.3), COMPRESSED)
    fine = record_of(half_wavelength_curve(section, modes=1))
    kind = fine.minima[0].title
    assert coarse.lowest(kind) == pytest.approx(fine.lowest(kind), rel=5e-3)


def test_nearly_incompressible_material_is_refused():
    with pytest.raises(InputError, match="Poisson"):
        strain_record(TUBE, 0.495, COMPRESSED)
