"""Pieces and set-ups for the tests of the trials, with sections known by hand."""

import pandas as pd
from shapely import Polygon
from shapely.affinity import translate

from kit.members.cases import BendingCase
from kit.members.materials import Material, Spread
from kit.sections.section import properties
from kit.trials.records import Record
from kit.trials.setups import row_of


def i_polygon(depth=100.0, width=100.0, flange=12.0, web=12.0) -> Polygon:
    a, b, h, t = width / 2, web / 2, depth / 2, depth / 2 - flange
    right = [(a, -h), (a, -t), (b, -t), (b, t), (a, t), (a, h)]
    return Polygon(right + [(-x, y) for x, y in reversed(right)])


def section(polygon: Polygon | None = None, name: str = "plain-i") -> pd.Series:
    polygon = polygon or i_polygon()
    centred = translate(polygon, -polygon.centroid.x, -polygon.centroid.y)
    row = row_of(properties(centred, bounds=0.02))
    about = {"section_id": name, "outline": name, "orientation_deg": 0.0, "character": ""}
    return pd.concat([pd.Series(about), row])


def plastic(**more) -> Material:
    """An invented polymer."""
    values = {
        "key": "invented", "name": "invented polymer", "family": "polymer", "density_kg_m3": 950.0,
        "youngs_modulus_MPa": Spread(1100.0, 0.08), "poissons_ratio": 0.4, "yield_tension_MPa": Spread(15.0, 0.07),
        "yield_compression_MPa": Spread(15.0, 0.07),
    }  # fmt: skip
    return Material(**values | more)


def beam(span: float = 600.0, **more) -> BendingCase:
    return BendingCase("bending", span, supports="forked", **more)


def record(travel, load, **more) -> Record:
    return Record("made.csv", "0" * 64, None, travel, load, **more)
