"""Letterforms of the typefaces inside an installed package, as polygons 100 mm large."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from shapely import Polygon

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.specs import FontFiles

TYPEFACES = ("DejaVuSans", "DejaVuSerif", "DejaVuSans-Bold", "DejaVuSerif-Bold", "STIXGeneral", "cmr10")


@cache
def letters(typefaces: tuple[str, ...] = TYPEFACES, characters: str = "A-Z") -> dict[str, Polygon]:
    """Polygons by name, centroid at the origin."""
    files = tuple(f"installed:matplotlib/mpl-data/fonts/ttf/{name}.ttf" for name in typefaces)
    outlines, _ = read([FontFiles(files=files, characters=(characters,))], Path())
    making = Making(fit=("envelope", (100.0, 100.0)))
    found = {}
    for outline in outlines:
        try:
            found[outline.name] = prepare(outline, making).polygon
        except Unusable:
            continue
    return found


def as_cut(character: str, radius_mm: float = 1.0) -> tuple[Polygon, float]:
    """A letterform 100 mm large with the radius a cutter leaves in its internal corners, and that radius."""
    specs = [
        FontFiles(files=("installed:matplotlib/mpl-data/fonts/ttf/DejaVuSans.ttf",), characters=(character,))
    ]
    (outline,), _ = read(specs, Path())
    prepared = prepare(outline, Making(fit=("envelope", (100.0, 100.0)), cutter_radius_mm=radius_mm))
    return prepared.polygon, prepared.internal_radius_mm
