"""The demo's inputs: every drawing is one sound section and names its licence, and both studies validate.

The drawings are meant as they are: nothing in them may need mending, and no neck may be so thin that the
figure would break there. The independent reading of the SVG is written here.
"""

import functools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import shapely

from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.specs import SvgFiles
from kit.places import carried
from kit.study import parameters, yaml_reader

SVG = "{http://www.w3.org/2000/svg}"
PARAMS = carried("params")
DRAWINGS = sorted((PARAMS / "drawings").glob("*.svg"))
STUDIES = ("saltmere.yml", "class.yml")
HOLLOW = {"anchor": 1, "lighthouse": 1, "owl": 2, "perch": 1, "snail": 1, "storm-lantern": 1}


def one_path(file):
    """The attributes of the only painted element."""
    painted = [e for e in ET.parse(file).iter() if e.tag not in (SVG + "svg", SVG + "title", SVG + "desc")]
    assert [e.tag for e in painted] == [SVG + "path"]
    return painted[0].attrib


def rings_of(file, pieces=64):
    """Rings of the drawing, straight from its path: absolute M, L, C and Z only."""
    rings, ring = [], []
    for letter, numbers in re.findall(r"([MLCZ])([^MLCZ]*)", one_path(file)["d"]):
        p = np.array(re.findall(r"-?[0-9.]+", numbers), float).reshape(-1, 2)
        if letter == "C":
            t = np.linspace(0, 1, pieces + 1)[1:, None]
            a, (b, c, d) = ring[-1], p
            ring.extend((1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d)
        elif letter == "Z":
            rings.append(np.array(ring))
            ring = []
        else:
            ring.extend(p)
    assert not ring, "the last contour is open"
    return rings


def polygon_of(file):
    outer, *holes = rings_of(file)
    return shapely.Polygon(outer, holes)


@functools.cache
def outlines():
    found, left_out = read([SvgFiles(files=("drawings/*.svg",))], PARAMS)
    assert left_out == []
    return {outline.name: outline for outline in found}


by_name = pytest.mark.parametrize("file", DRAWINGS, ids=lambda file: file.stem)


def test_there_are_at_least_twelve_drawings():
    assert len(DRAWINGS) >= 12


@by_name
def test_drawing_says_its_title_and_licence(file):
    root = ET.parse(file).getroot()
    assert root.findtext(SVG + "title").strip()
    assert "CC0-1.0" in root.findtext(SVG + "desc") and "invented" in root.findtext(SVG + "desc")


@by_name
def test_drawing_is_one_filled_path_without_strokes_in_millimetres(file):
    path, root = one_path(file), ET.parse(file).getroot()
    assert path["fill"] != "none" and "stroke" not in path and "style" not in path
    assert set(re.sub(r"[-0-9.,\s]", "", path["d"])) <= set("MLCZ")
    size = [float(root.get(key).removesuffix("mm")) for key in ("width", "height")]
    assert root.get("viewBox").split() == ["0", "0", *(f"{v:g}" for v in size)]
    assert max(size) == 100.0


@by_name
def test_drawing_fills_its_page_exactly(file):
    root = ET.parse(file).getroot()
    wide, high = (float(root.get(key).removesuffix("mm")) for key in ("width", "height"))
    assert polygon_of(file).bounds == pytest.approx((0, 0, wide, high), abs=0.02)


@by_name
def test_drawing_is_valid_and_has_the_counters_it_should(file):
    polygon = polygon_of(file)
    assert polygon.is_valid, shapely.is_valid_reason(polygon)
    assert len(polygon.interiors) == HOLLOW.get(file.stem, 0)


@by_name
def test_no_neck_is_thinner_than_four_millimetres(file):
    """Shaved by 2 mm all round the figure is still in one piece, but for crumbs at ears and beaks."""
    shaved = polygon_of(file).buffer(-2.0)
    parts = sorted(part.area for part in getattr(shaved, "geoms", [shaved]))
    assert sum(parts[:-1]) < 0.002 * parts[-1]


@by_name
def test_drawing_reads_as_one_sound_section(file):
    """The same area but for its chords, nothing mended, no wall below 4 mm, little changed by a 2 mm die."""
    prepared = prepare(outlines()[file.stem], Making(cutter_radius_mm=2.0, least_wall_mm=4.0))
    assert prepared.polygon.geom_type == "Polygon" and prepared.polygon.is_valid
    assert prepared.repaired_area_share < 1e-9
    assert prepared.drawn.area == pytest.approx(polygon_of(file).area, rel=5e-4)
    assert prepared.cut_area_share < 0.03
    assert len(prepared.polygon.interiors) == HOLLOW.get(file.stem, 0)


@pytest.mark.parametrize("name", STUDIES)
def test_study_file_validates(name):
    study = parameters.checked(yaml_reader.read_yaml(PARAMS / name))
    assert study.study == name.removesuffix(".yml")


@pytest.mark.parametrize("name", STUDIES)
def test_study_says_what_is_invented(name):
    assert "invented" in (PARAMS / name).read_text(encoding="utf-8").split("study:")[0]
    study = parameters.checked(yaml_reader.read_yaml(PARAMS / name))
    assert "invented" in study.purpose
    assert all("invented" in material.source for material in study.materials.values())


def test_the_demo_leads_with_the_drawings_and_compares_three_typefaces_and_five_shapes():
    study = parameters.checked(yaml_reader.read_yaml(PARAMS / "saltmere.yml"))
    kinds = [entry.from_ for entry in study.outlines]
    assert kinds[0] == "svg"
    assert kinds.count("fonts") >= 3 and kinds.count("shape") >= 5
