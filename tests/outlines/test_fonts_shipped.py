"""Letterforms of the typefaces that ship inside matplotlib, against winding numbers sampled on a grid."""

import subprocess
import sys
from pathlib import Path

import matplotlib
import numpy as np
import pytest
import shapely
from drawn import windings_by_angles
from fontTools.ttLib import TTFont

from kit.outlines.flattening import bounds, flatten
from kit.outlines.fonts import outlines_of
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.specs import FontFiles
from kit.outlines.winding import filled
from kit.outlines.worker import Progress

FACES = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
GRID = 24


def letters(name, *characters):
    return [
        item
        for item in outlines_of(FACES / name, FontFiles((), characters), Progress(lambda *_: None))
        if isinstance(item, Outline)
    ]


def wrong_points(outline) -> int:
    """Grid points whose side of the outline differs from their winding number by angles."""
    low, high = np.split(bounds(outline.contours), 2)
    rings = flatten(outline.contours, 1e-3 * max(high - low))
    region = shapely.union_all(filled(rings))
    x, y = np.meshgrid(
        *(np.linspace(a, b, GRID) + 0.37 * (b - a) / GRID for a, b in zip(low, high, strict=True))
    )
    points = np.column_stack([x.ravel(), y.ravel()])
    away = shapely.distance(region.boundary, shapely.points(points)) > 1e-6 * max(high - low)
    wound = sum(windings_by_angles(points, ring) for ring in rings) != 0
    return int(np.sum((shapely.contains_xy(region, points) != wound) & away))


@pytest.mark.parametrize(
    "name", ["DejaVuSans.ttf", "DejaVuSerif-BoldItalic.ttf", "STIXGeneral.ttf", "cmr10.ttf"]
)
def test_capitals_fill_as_their_winding_numbers_say(name):
    found = letters(name, "A-Z")
    assert len(found) == 26
    assert sum(map(wrong_points, found)) == 0


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(p.name for p in FACES.glob("*.ttf")))
def test_every_glyph_of_every_shipped_typeface_fills_as_its_winding_numbers_say(name):
    """Glyphs without a character too, by their names."""
    found = letters(name, *(f"glyph:{glyph}" for glyph in TTFont(FACES / name, lazy=True).getGlyphOrder()))
    assert len(found) >= 15
    assert sum(map(wrong_points, found)) == 0
    print(f"{name}: {len(found)} glyphs")


def test_letters_the_face_lacks_are_named():
    items = list(outlines_of(FACES / "cmex10.ttf", FontFiles((), ("A", "文")), Progress(lambda *_: None)))
    assert any(isinstance(i, LeftOut) and "文" in i.reason for i in items)


def test_known_topology_of_capitals():
    """Counters: A, D, O, P, Q, R have one, B two, the others none (with this serif face)."""
    counters = dict.fromkeys("ADOPQR", 1) | {"B": 2}
    for outline in letters("DejaVuSerif.ttf", "A-Z"):
        (part,) = filled(flatten(outline.contours, 1.0))
        assert len(part.interiors) == counters.get(outline.character, 0), outline.character


MESH_ALL = """
import sys
import subprocess
import sys
from pathlib import Path
from kit.errors import Unusable
from kit.outlines import FontFiles, Making, prepare, read
from kit.sections.mesh import mesh_polygon
found, _ = read([FontFiles(tuple(sys.argv[1:]), ("A-Z", "a-z", "&", "§", "@"))], Path("."))
meshed = 0
for outline in found:
    for making in (Making(fit=("envelope", (100.0, 100.0)), cutter_radius_mm=r) for r in (0.0, 2.0)):
        try:
            polygon = prepare(outline, making).polygon
        except Unusable:
            continue
        mesh_polygon(polygon, 500)
        meshed += 1
print(meshed)
"""


@pytest.mark.slow
def test_every_prepared_letter_can_be_meshed():
    """In a process of its own: the mesher may crash on an unsound outline."""
    files = [
        str(FACES / n) for n in ("DejaVuSans.ttf", "DejaVuSerif-Italic.ttf", "STIXGeneral.ttf", "cmti10.ttf")
    ]
    done = subprocess.run(
        [sys.executable, "-c", MESH_ALL, *files], capture_output=True, text=True, check=True
    )
    assert int(done.stdout) > 300
