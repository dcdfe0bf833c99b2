"""The demo's outlines and materials for worked examples: the (invented) workshop's drawings, letters, shapes."""

from __future__ import annotations

from functools import cache

import pandas as pd
from shapely import Polygon, box, unary_union
from shapely.affinity import translate

from kit.errors import InputError, Unusable
from kit.members.materials import Material, Spread, library
from kit.outlines.making import Making
from kit.outlines.outline import Outline
from kit.outlines.preparing import Prepared, prepare
from kit.outlines.reading import read
from kit.outlines.shapes import outline_of
from kit.outlines.specs import FontFiles, Shape, SvgFiles
from kit.places import carried
from kit.sections.section import SectionProperties, properties

TYPEFACES = {
    "DejaVu Serif": "DejaVuSerif.ttf",
    "DejaVu Sans": "DejaVuSans.ttf",
    "DejaVu Sans Bold": "DejaVuSans-Bold.ttf",
    "STIX": "STIXGeneral.ttf",
}
# Invented, as in params/saltmere.yml (a test compares the two).
LUMBER = Material(
    key="saltmere-lumber",
    name="Saltmere recycled polyethylene (invented)",
    family="polymer",
    density_kg_m3=940.0,
    youngs_modulus_MPa=Spread(1100.0, 0.08),
    poissons_ratio=0.42,
    yield_tension_MPa=Spread(15.0, 0.07),
    yield_compression_MPa=Spread(17.0, 0.07),
    conditions="23 degC, 1 mm/min",
    source="invented",
)


def drawings() -> list[str]:
    """Names of the demo's drawings."""
    return sorted(path.stem for path in (carried("params") / "drawings").glob("*.svg"))


@cache
def _drawn() -> dict[str, Outline]:
    """All drawings by name, read together: a reader is a process of its own, and starting it takes longest."""
    found, _ = read([SvgFiles(("drawings/*.svg",))], carried("params"))
    return {outline.name: outline for outline in found}


@cache
def _letters(typeface: str, characters: str) -> dict[str, Outline]:
    """Characters of a typeface by themselves, read together."""
    spec = FontFiles((f"installed:matplotlib/{TYPEFACES[typeface]}",), (characters,))
    return {outline.character: outline for outline in read([spec], carried("params"))[0]}


def drawing(name: str) -> Outline:
    """A drawing of the demo by its name, such as ``"heron"``."""
    if name not in _drawn():
        known = ", ".join(sorted(_drawn()))
        raise InputError(f"there is no drawing {name!r}", "params/drawings", f"use one of {known}")
    return _drawn()[name]


def letter(character: str, typeface: str = "DejaVu Serif") -> Outline:
    """A character of a typeface that travels with matplotlib."""
    if typeface not in TYPEFACES:
        known = ", ".join(TYPEFACES)
        raise InputError(f"{typeface!r} is not among the demo's typefaces", "letter", f"use one of {known}")
    capital = len(character) == 1 and "A" <= character <= "Z"
    found = _letters(typeface, "A-Z" if capital else character)
    if character not in found:
        raise InputError(f"it has no usable {character!r}", typeface, "use one character, such as 'A'")
    return found[character]


def read_all() -> None:
    """Read every drawing and the capitals of every typeface now, so that choosing one takes no time later."""
    for typeface in TYPEFACES:
        _letters(typeface, "A-Z")
    _drawn()


def ready(
    outline: Outline, size_mm: float = 100.0, cutter_radius_mm: float = 2.0, flatten_mm: float | None = None
) -> Prepared:
    """An outline fitted into a square envelope and cut as the demo's die leaves it, mm."""
    fit = ("envelope", (size_mm, size_mm))
    making = Making(fit=fit, cutter_radius_mm=cutter_radius_mm, flatten_mm=flatten_mm)
    return prepare(outline, making)


def shape(kind: str, **dimensions_mm: float) -> Polygon:
    """A standard shape by its dimensions in mm, centroid at the origin: ``shape("tube", diameter=60, wall=5)``."""
    outline = outline_of(Shape(kind, kind, tuple(dimensions_mm.items())))
    return prepare(outline, Making()).polygon


def plates(*rectangles: tuple[float, float, float, float]) -> Polygon:
    """Rectangles (left, bottom, right, top; mm) joined to one outline, its centroid moved to the origin."""
    joined = unary_union([box(*sides) for sides in rectangles])
    if not isinstance(joined, Polygon):
        raise Unusable("the rectangles do not touch along an edge")
    return translate(joined, -joined.centroid.x, -joined.centroid.y)


def materials() -> dict[str, Material]:
    """The demo's plastic (invented) and the materials of the library, by key."""
    return {LUMBER.key: LUMBER, **library()}


def row(found: SectionProperties, **more) -> pd.Series:
    """Section properties as a row of a table of sections."""
    return pd.Series(found.row() | more)


def sections(polygons: dict[str, Polygon], internal_radius_mm: float = 2.0, **options) -> pd.DataFrame:
    """A table of sections, a row for each polygon (mm), as the members stage reads it."""
    rows = []
    for name, polygon in polygons.items():
        found = properties(polygon, internal_radius_mm=internal_radius_mm, **options)
        rows.append(row(found, section_id=name, outline=name, character="", orientation_deg=0.0))
    return pd.DataFrame(rows).infer_objects()
