"""The elastic limit of beams off their principal axes, from the half-wavelength curve of the outline."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
from shapely import box

from kit.members import free_limit
from kit.members.cases import BendingCase
from kit.members.free_limit import curve_columns, shape_share
from kit.members.materials import Service
from kit.members.resistance import resistance
from kit.members.senses import upside_down
from kit.members.service import at_service
from kit.members.state import columns_of
from kit.sections.halfwave import section_under
from kit.sections.halfwave_beam import elastic_bending_limit, rigid_bending_limits
from kit.sections.halfwave_record import strain_record
from kit.sections.halfwave_solve import buckling_modes
from kit.sections.halfwave_strength import stress_of_case
from kit.sections.halfwave_stress import isotropic
from kit.sections.section import properties, scaled
from tests.members.conftest import plain

STOUT = box(0, 0, 60, 8).union(box(0, 0, 8, 100))
# A lip on a tall thin web lets the section change its shape long before it moves as one.
THIN = box(0, 0, 60, 1.5).union(box(0, 0, 1.5, 120)).union(box(-40, 118.5, 0, 120))


def beam(span, **changes):
    values = {"load_height": "shear-centre", "supports": "forked", "loading": "four-point"}
    return BendingCase("b", span, **(values | changes))


@cache
def known(polygon, hogging=False):
    """The outline's row of the table with its curve."""
    case = beam(1000.0, loading="cantilever") if hogging else beam(1000.0)
    curve = strain_record(polygon, 0.3, stress_of_case(polygon, case))
    columns = curve_columns(curve.depth_mm, curve.half_wavelengths_mm, curve.lowest_mode)
    return pd.DataFrame([{"section_id": "a", "outline": "a", **properties(polygon).row(), **columns}])


SHORT = Service("short-term test", 23.0)


def share(table, case, material):
    found, sure = shape_share(columns_of(table), case, at_service(material, SHORT))
    return float(found[0]), bool(sure[0])


@pytest.mark.parametrize("span", [800.0, 2500.0, 6000.0])
def test_a_stout_angle_keeps_its_shape(span, steel):
    found, sure = share(known(STOUT), beam(span), steel)
    assert sure and 0.97 < found <= 1.0


@pytest.mark.parametrize("span", [250.0, 500.0, 900.0])
def test_a_thin_outline_by_the_elements_themselves(span, steel):
    """The share read from the columns against one half-wave of that very length, by finite elements."""
    stress = stress_of_case(THIN, beam(span))
    section = section_under(THIN, isotropic(210000.0, 0.3), stress)
    moment = float(buckling_modes(section.assembly, span, 1).factors[0]) * span / 6
    row = columns_of(known(THIN))
    rigid = rigid_bending_limits(
        {name: values[0] for name, values in row.items()}, span, 210000.0, 210000 / 2.6
    )
    found, _ = share(known(THIN), beam(span), steel)
    assert found < 0.98
    assert found == pytest.approx(moment / float(rigid[0]), rel=0.06)


def test_it_lowers_the_resistance_and_says_where_it_is_not_known(steel):
    case, table = beam(500.0), known(THIN)
    plainly = table.drop(columns=list(free_limit.NAMES))
    found, without = (resistance(one, case, steel, SHORT).iloc[0] for one in (table, plainly))
    assert found["limit_state"] == without["limit_state"] == "second-order bending and twist"
    assert found["resistance_N"] < 0.95 * without["resistance_N"]
    assert "shape-kept-off-axis" in without["caveats"].split()
    assert "shape-kept-off-axis" not in found["caveats"].split()


def test_no_more_than_the_elastic_limit_of_the_elements():
    """Strong and hardly crooked, the beam comes up to its elastic limit: never above it."""
    strong = plain(f=5000.0)
    case = beam(700.0, load_spacing_mm=699.0, bow=1e-6)
    load = resistance(known(THIN), case, strong, SHORT)["resistance_N"].iloc[0]
    section = section_under(THIN, isotropic(210000.0, 0.3), stress_of_case(THIN, case))
    assert load <= 1.03 * float(buckling_modes(section.assembly, 700.0, 1).factors[0])


def test_similar_sections_read_the_same_curve(steel):
    here, _ = share(known(THIN), beam(500.0), steel)
    larger, _ = share(scaled(known(THIN), np.array([3.0])), beam(1500.0), steel)
    assert larger == pytest.approx(here, rel=1e-9)


def test_the_other_sense_is_not_told_what_was_computed_for_this_one(steel):
    assert not set(free_limit.NAMES) & set(upside_down(known(THIN)).columns)


def test_a_cantilever_is_read_at_twice_its_length_and_hogs(steel):
    table = known(THIN, True)
    found, sure = share(table, beam(400.0, loading="cantilever"), steel)
    rigid = rigid_bending_limits(table.iloc[0], 800.0, 210000.0, 210000.0 / 2.6)[1]
    section = section_under(
        THIN, isotropic(210000.0, 0.3), stress_of_case(THIN, beam(1.0, loading="cantilever"))
    )
    assert sure
    moment = float(buckling_modes(section.assembly, 800.0, 1).factors[0])
    assert found == pytest.approx(min(1.0, moment / float(rigid)), rel=0.04)


def test_senses_of_an_angle_lie_on_both_sides_of_the_form_for_principal_axes(steel):
    """The form for principal axes, with Iy for I2 and no Wagner term, is wrong for both senses."""
    row = known(STOUT).iloc[0]
    length = 2500.0
    euler = np.pi**2 * 210000 * row["Iy_mm4"] / length**2
    wrong = np.sqrt(euler * (210000 / 2.6 * row["J_mm4"] + np.pi**2 * 210000 * row["Iw_mm6"] / length**2))
    elements = [elastic_bending_limit(STOUT, length, 210000.0, 0.3, s) for s in ("sagging", "hogging")]
    assert 1.4 * elements[0] < wrong < elements[1]
    down, up = resistance(
        known(STOUT), beam(length, load_spacing_mm=2499.0, bow=1e-6), plain(f=5000.0), SHORT
    ).iloc[0][["resistance_N", "resistance_upwards_N"]]
    assert down < up
    # (L − s) / 4 is the moment, almost all along the beam.
    assert down / 4 <= 1.02 * min(elements)
