"""Facts of the trade, under stated conditions. Common practice, no source."""

import numpy as np
import pytest
from shapely import Point
from shapely.affinity import rotate
from shapely.ops import unary_union

from kit.members.cases import BendingCase, CompressionCase, TorsionCase
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand


def _box(x0, y0, x1, y1):
    from shapely import box

    return box(x0, y0, x1, y1)


@pytest.fixture(scope="module")
def outlines():
    i = unary_union([_box(-50, -50, 50, -38), _box(-50, 38, 50, 50), _box(-6, -50, 6, 50)])
    shapes = {
        "plain-i": i,
        "h": rotate(i, 90, origin=(0, 0)),
        "stroke": _box(-6, -50, 6, 50),
        "cross": unary_union([_box(-50, -6, 50, 6), _box(-6, -50, 6, 50)]),
        "angle": unary_union([_box(0, 0, 100, 12), _box(0, 0, 12, 100)]),
        "tee": unary_union([_box(-50, 38, 50, 50), _box(-6, -50, 6, 50)]),
        "round-tube": Point(0, 0).buffer(50, 64) - Point(0, 0).buffer(38, 64),
        "slab": _box(-50, -15, 50, 15),
    }
    return by_hand.table(**{name: properties(shape).row() for name, shape in shapes.items()})


def ranked(outlines, case, steel, short):
    values = merit(outlines, outlines.iloc[0], case, steel, short)["merit"]
    return dict(zip(outlines["outline"], values, strict=True))


def test_two_flanges_lead_in_bending_when_held_and_strength_governs(outlines, steel, short):
    """Among outlines that fill the same square: a lone stroke of equal mass is simply taller."""
    square = outlines[(outlines["width_mm"] > 99) & (outlines["depth_mm"] > 99)]
    values = ranked(square, BendingCase("b", 2000.0, restraint="sideways-and-twist"), steel, short)
    assert max(values, key=values.get) == "plain-i"


def test_a_lone_stroke_fails_sideways_in_compression(outlines, steel, short):
    found = resistance(outlines, CompressionCase("c", 2000.0), steel, short)
    stroke = dict(zip(outlines["outline"], found["limit_state"], strict=True))["stroke"]
    values = ranked(outlines, CompressionCase("c", 2000.0), steel, short)
    assert stroke == "flexural buckling"
    assert values["stroke"] < 0.2 and values["stroke"] == min(values.values())


def test_closed_round_outlines_lead_in_torsion(outlines, steel, short):
    for case in (TorsionCase("t", 2000.0), TorsionCase("t", 2000.0, twist_limit_deg=0.5)):
        values = ranked(outlines, case, steel, short)
        assert max(values, key=values.get) == "round-tube"
        assert values["round-tube"] > 3.0


def test_an_h_laid_on_its_side_behaves_like_an_i(outlines, steel, short):
    aside = outlines[outlines["outline"] == "h"].assign(outline="h")
    from shapely import affinity

    i = unary_union([_box(-50, -50, 50, -38), _box(-50, 38, 50, 50), _box(-6, -50, 6, 50)])
    turned = by_hand.table(h=properties(affinity.rotate(affinity.rotate(i, 90), 90)).row())
    for case in (BendingCase("b", 2000.0), BendingCase("b", 500.0), TorsionCase("t", 900.0)):
        name = "resistance_Nmm" if case.kind == "torsion" else "resistance_N"
        upright = resistance(outlines.iloc[[0]], case, steel, short)[name].iloc[0]
        assert resistance(turned, case, steel, short)[name].iloc[0] == pytest.approx(upright, rel=2e-3)
    assert (
        resistance(aside, BendingCase("b", 500.0), steel, short)["resistance_N"].iloc[0]
        < 0.7
        * (resistance(outlines.iloc[[0]], BendingCase("b", 500.0), steel, short)["resistance_N"].iloc[0])
    )


def test_an_angle_loses_much_of_its_modulus_when_it_bends_freely(outlines, steel, short):
    angle = outlines[outlines["outline"] == "angle"]
    free, held = (
        resistance(angle, BendingCase("b", 600.0, restraint=r, supports="forked"), steel, short)[
            "resistance_N"
        ].iloc[0]
        for r in ("none", "sideways-and-twist")
    )
    assert free < 0.85 * held


def test_a_tee_prefers_its_flange_compressed(outlines, steel, short):
    """Free to buckle, flange up (compressed by loads down) carries more than flange down."""
    from kit.members.senses import upside_down

    tee = outlines[outlines["outline"] == "tee"]
    case = BendingCase("b", 4000.0, load_height="shear-centre", supports="forked")
    up = resistance(tee, case, steel, short)["resistance_N"].iloc[0]
    down = resistance(upside_down(tee), case, steel, short)["resistance_N"].iloc[0]
    assert np.isfinite(down) and up > down
