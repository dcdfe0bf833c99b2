"""An invented study for the tests of the write-up: letterforms, and numbers from rough formulas.

The numbers have the size and spread of a real study's; nothing here is a result.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

FACES = {"DejaVu Serif": "DejaVu Serif", "DejaVu Sans": "DejaVu Sans", "STIX": "STIXGeneral"}
LETTERS = "ABEHILOTUX"
VARIANTS = {
    "sheet-7, 900 mm": (955.0, 1050.0, 24.0, 900.0),
    "aluminium, 900 mm": (2700.0, 70000.0, 160.0, 900.0),
}
HOSTILE = '<img src=x onerror="alert(1)">$x$ [a](javascript:alert(2)) </script>'


def polygons() -> dict[str, shapely.Polygon]:
    """Section id → outline [mm], about 100 mm high."""
    shapes = {f"{face}/{letter}": _letter(FACES[face], letter) for face in FACES for letter in LETTERS}
    shapes |= {
        "plain-i": _i_shape(100, 100, 12, 12),
        "square": shapely.box(-25, -25, 25, 25),
        "tube": shapely.Point(0, 0).buffer(50).difference(shapely.Point(0, 0).buffer(44)),
        "heron": _heron(),
    }
    return {name: shapely.affinity.translate(s, -s.centroid.x, -s.centroid.y) for name, s in shapes.items()}


def _letter(face: str, letter: str) -> shapely.Polygon:
    path = TextPath((0, 0), letter, size=137, prop=FontProperties(family=face))
    rings = [shapely.Polygon(ring) for ring in path.to_polygons() if len(ring) > 3]
    shape = shapely.Polygon()
    for ring in sorted(rings, key=lambda r: -r.area):
        shape = shape.difference(ring) if shape.contains(ring) else shape.union(ring)
    return max(shape.geoms, key=lambda g: g.area) if shape.geom_type == "MultiPolygon" else shape


def _i_shape(depth: float, width: float, flange: float, web: float) -> shapely.Polygon:
    bars = [
        shapely.box(-width / 2, -depth / 2, width / 2, -depth / 2 + flange),
        shapely.box(-width / 2, depth / 2 - flange, width / 2, depth / 2),
        shapely.box(-web / 2, -depth / 2, web / 2, depth / 2),
    ]
    return shapely.union_all(bars)


def _heron() -> shapely.Polygon:
    points = [(10, 0), (14, 0), (15, 38), (40, 48), (55, 40), (34, 66), (20, 70), (16, 92), (24, 100),
              (44, 98), (24, 106), (12, 104), (8, 94), (12, 72), (2, 60), (8, 40)]  # fmt: skip
    return shapely.Polygon(points)


def sections(shapes: dict[str, shapely.Polygon]) -> pd.DataFrame:
    """A row a section with the columns charts and tables read."""
    generator = np.random.default_rng(1)
    rows = []
    for name, shape in shapes.items():
        _, bottom, _, top = shape.bounds
        second = shape.area * (top - bottom) ** 2 / 12 * 1.3
        torsion = shape.area**2 / 40
        half = torsion * generator.uniform(0.0002, 0.002)
        rows.append(
            {
                "section_id": name,
                "outline": name,
                "source": "letters.ttf" if "/" in name else "shape",
                "family": name.split("/")[0] if "/" in name else "",
                "character": name.split("/")[1] if "/" in name else "",
                "orientation_deg": 0.0,
                "area_mm2": shape.area,
                "Ix_mm4": second,
                "J_mm4": torsion,
                "J_low_mm4": torsion - half,
                "J_high_mm4": torsion + half,
                "Wel_x_free_mm3": second / max(top, -bottom),
            }
        )
    return pd.DataFrame(rows)


def members(table: pd.DataFrame, reference: str = "plain-i") -> pd.DataFrame:
    """A row a section, variant and load case."""
    parts = [_bending(table, v, *VARIANTS[v], reference) for v in VARIANTS]
    parts += [_compression(table, v, *VARIANTS[v], reference) for v in VARIANTS]
    return pd.concat(parts, ignore_index=True)


def _bending(table, variant, density, modulus, strength, span, reference):
    load = 4 * table["Wel_x_free_mm3"] * strength / span
    slender = table["J_mm4"] < table["J_mm4"].median() * 0.6
    state = np.where(
        slender,
        "lateral-torsional buckling",
        np.where(table.index % 3 == 0, "first yield", "full plasticity"),
    )
    return _rows(
        table, variant, "bending", density, span, load * np.where(slender, 0.7, 1.0), state, reference
    )


def _compression(table, variant, density, modulus, strength, length, reference):
    critical = np.pi**2 * modulus * table["Ix_mm4"] * 0.3 / length**2
    squash = table["area_mm2"] * strength
    state = np.where(critical < squash, "flexural buckling", "first yield").astype(object)
    state[5] = "flexural-torsional buckling"
    load = critical * squash / (critical + squash)
    load.iloc[7] = np.nan
    return _rows(table, variant, "compression", density, length, load, state, reference)


def _rows(table, variant, case, density, length, load, state, reference):
    mass = table["area_mm2"] * length * density * 1e-9
    at = int(table.index[table["outline"] == reference][0])
    merit = load * (mass.iloc[at] / mass) ** 1.5 / load.iloc[at]
    return pd.DataFrame(
        {
            "variant": variant,
            "load_case": case,
            "kind": case,
            "section_id": table["section_id"],
            "outline": table["outline"],
            "family": table["family"],
            "character": table["character"],
            "orientation_deg": table["orientation_deg"],
            "material": variant.split(",")[0],
            "length_mm": length,
            "resistance_N": load,
            "resistance_Nmm": np.nan,
            "limit_state": state,
            "limit_states_checked": "first yield; full plasticity; buckling",
            "mass_kg": mass,
            "merit": merit,
            "caveats": np.where(table.index % 2 == 0, "not-a-design", ""),
        }
    )


def lines(table: pd.DataFrame, reference: str = "plain-i") -> pd.DataFrame:
    """The reference at other masses (a rough power, for the drawing only)."""
    start = table[table["outline"] == reference]
    scale = np.linspace(0.5, 1.6, 23)
    parts = [
        start.assign(mass_kg=start["mass_kg"] * s**2, resistance_N=start["resistance_N"] * s**3)
        for s in scale
    ]
    return pd.concat(parts)[["variant", "load_case", "kind", "mass_kg", "resistance_N", "resistance_Nmm"]]


def ranks(table: pd.DataFrame) -> pd.DataFrame:
    """Ranks of characters with invented intervals, in the columns of ranks.csv."""
    letters = table[table["character"] != ""]
    merit = letters.groupby(["variant", "load_case", "character"], sort=False)["merit"].median().reset_index()
    rank = merit.groupby(["variant", "load_case"], sort=False)["merit"].rank(ascending=False, method="first")
    return merit.rename(columns={"character": "item"}).assign(
        level="character",
        orientation_deg=0.0,
        rank=rank,
        rank_low=(rank - 1.5).clip(lower=1),
        rank_high=rank + 1.7,
    )


def checks() -> pd.DataFrame:
    """Rows as a recomputation of published values gives them."""
    generator = np.random.default_rng(2)
    rows = []
    for i, topic in enumerate(
        ["Rectangle torsion", "Plastic moduli", "Shear centre", "Columns", "Lateral buckling"]
    ):
        for j in range(6 + 3 * i):
            difference = float(10 ** generator.uniform(-7, -3.2))
            rows.append(
                {
                    "id": f"C{i}-{j}", "topic": f"{i + 1} {topic}", "quantity": "value",
                    "input": "as printed", "expected": 1.0, "computed": 1 + difference, "rel_tol": 2e-3,
                    "difference": difference, "passed": True, "source": "invented",
                    "confidence": "from memory" if j == 3 else "published",
                }
            )  # fmt: skip
    return pd.DataFrame(rows).set_index("id")
