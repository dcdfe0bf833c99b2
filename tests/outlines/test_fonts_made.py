"""Font files made here, in every container, against areas counted in boxes."""

import os
import struct
import sys

import pytest
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.scaleUpem import scale_upem
from typefaces import AREA, CAP, cff2_font, collection, font

from kit.errors import InputError, Unusable
from kit.outlines.fonts import faces_of, outlines_of
from kit.outlines.letterforms import expand
from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import prepare
from kit.outlines.specs import FontFiles
from kit.outlines.worker import Progress

AS_UNITS = Making(fit=("cap_height", (float(CAP),)))


def read(path, *characters, **spec):
    spec = FontFiles((path.name,), characters or ("H", "O", "I"), **spec)
    return list(outlines_of(path, spec, Progress(lambda *_: None)))


def area(outline):
    return prepare(outline, AS_UNITS).polygon.area


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return font(tmp_path_factory.mktemp("faces") / "plain.ttf")


@pytest.mark.parametrize("kind", ["ttf", "otf", "woff", "woff2", "ttc", "otc"])
def test_every_container_gives_the_same_letters(kind, plain, tmp_path):
    path = tmp_path / f"made.{kind}"
    if kind == "otf":
        font(path, cff=True)
    elif kind in ("ttc", "otc"):
        collection(path, font(tmp_path / "c.otf", cff=True) if kind == "otc" else plain)
    else:
        face = TTFont(plain)
        face.flavor = kind if kind.startswith("woff") else None
        face.save(path)
    found = read(path)
    assert [o.character for o in found] == ["H", "O", "I"]
    assert [area(o) for o in found] == pytest.approx([AREA[c] for c in "HOI"])
    assert len(prepare(found[1], AS_UNITS).polygon.interiors) == 1


def test_the_same_glyph_in_two_faces_has_the_same_content_and_at_another_size_of_the_em_another(
    plain, tmp_path
):
    """The hash is of coordinates as drawn: what differs in scale alone is another outline of equal section."""
    again = font(tmp_path / "again.ttf", names={"familyName": "Another Name"})
    with TTFont(plain) as face:
        scale_upem(face, 2000)
        face.save(tmp_path / "twice.ttf")
    one, same, twice = (read(p, "O")[0] for p in (plain, again, tmp_path / "twice.ttf"))
    assert one.content == same.content and one.name != same.name
    assert twice.content != one.content
    fitted = [prepare(o, Making(fit=("cap_height", (100.0,)))).polygon for o in (one, twice)]
    assert fitted[0].equals_exact(fitted[1], 1e-9)


def test_composites_are_drawn_with_their_transforms(plain):
    (stroke,) = read(plain, "Ħ")
    # The bar of the I turned across runs from x = −50 to 650, y 550 to 650; the stems take 2 × 100 of it.
    assert area(stroke) == pytest.approx(AREA["H"] + 100 * (700 - 200))


def test_unencoded_glyphs_by_name_and_missing_ones_left_out(plain):
    by_name, missing, empty = read(plain, "glyph:Hstroke", "Ж", "glyph:space")
    assert isinstance(by_name, Outline) and by_name.character == "Hstroke"
    assert isinstance(missing, LeftOut) and "Ж" in missing.reason
    assert isinstance(empty, LeftOut) and "empty" in empty.reason


def test_faces_of_a_collection_are_told_apart(plain, tmp_path):
    bold = font(tmp_path / "b.ttf", names={"styleName": "Bold"})
    found = read(collection(tmp_path / "two.ttc", plain, bold), "I")
    assert [o.name for o in found] == ["Made Here Regular/I", "Made Here Bold/I"]
    alike = without_h(font(tmp_path / "alike.ttf", cap_height=650))
    found = read(collection(tmp_path / "alike.ttc", plain, bold, alike), "I")
    assert [o.style for o in found] == ["Regular", "Bold", "Regular (face 3)"]
    assert [o.cap_height for o in found] == [CAP, CAP, 650]


def test_variable_fonts_at_values_and_instances(tmp_path):
    path = font(tmp_path / "v.ttf", axes=True)
    assert area(read(path, "I")[0]) == pytest.approx(70_000)
    found = read(path, "I", axes=(("wght", (400, 650, 900)),))
    assert [area(o) for o in found] == pytest.approx([70_000, 105_000, 140_000])
    assert [o.style for o in found] == ["wght=400", "wght=650", "wght=900"]
    named = read(path, "I", instances=("bold",))
    assert named[0].style == "Bold" and area(named[0]) == pytest.approx(70_000 * 1.6)
    assert len(read(path, "I", instances=("all",))) == 2


def test_cff2_outlines_vary_along_their_axis(tmp_path):
    path = cff2_font(tmp_path / "v.otf")
    found = read(path, "I", axes=(("wght", (400, 650, 900)),))
    assert [area(o) for o in found] == pytest.approx([70_000, 105_000, 140_000])


@pytest.mark.parametrize(
    ("spec", "word"),
    [
        ({"axes": (("wght", (1000,)),)}, "400 to 900"),
        ({"axes": (("wdth", (100,)),)}, "wght"),
        ({"instances": ("Heavy",)}, "Heavy"),
    ],
)
def test_axes_a_font_does_not_have(tmp_path, spec, word):
    (left,) = read(font(tmp_path / "v.ttf", axes=True), "I", **spec)
    assert isinstance(left, LeftOut) and word in left.reason


def without_h(path):
    """The font with no H among its characters."""
    with TTFont(path) as face:
        for table in face["cmap"].tables:
            table.cmap.pop(ord("H"), None)
        face.save(path)
    return path


@pytest.mark.parametrize("stated", [0, 1, 650, CAP, 1000])
def test_cap_height_is_that_of_the_H_whatever_the_font_states(tmp_path, stated):
    (found,) = read(font(tmp_path / "a.ttf", cap_height=stated), "H")
    _, low, _, high = prepare(found, Making(fit=("cap_height", (100.0,)))).polygon.bounds
    assert high - low == pytest.approx(100.0, rel=1e-9)


def test_cap_height_without_an_H_is_as_stated(tmp_path):
    assert read(without_h(font(tmp_path / "a.ttf", cap_height=650)), "I")[0].cap_height == 650
    assert read(without_h(font(tmp_path / "b.ttf", cap_height=0)), "I")[0].cap_height is None


def test_a_damaged_H_costs_no_other_letter(tmp_path):
    path = font(tmp_path / "a.ttf", cap_height=650)
    with TTFont(path) as face:
        for table in face["cmap"].tables:
            table.cmap[ord("H")] = "Hstroke"
        face.save(path)
    hold_itself(path, "Hstroke")
    bad, good = read(path, "H", "I")
    assert isinstance(bad, LeftOut) and good.cap_height == 650


def test_a_font_of_pictures_says_so(tmp_path):
    path = font(tmp_path / "pictures.ttf")
    with TTFont(path) as face:
        del face["glyf"], face["loca"]
        face.save(path)
    (left,) = read(path, "H")
    assert "pictures" in left.reason and "damaged" not in left.reason


def test_names_are_cleaned_and_licences_kept(tmp_path):
    names = {
        "familyName": "Bad\n<b>Name</b>\x07/..\\etc",
        "styleName": "Bo\u202eok",
        "licenseDescription": "Made for a\ntest",
    }
    (outline,) = read(font(tmp_path / "n.ttf", names=names), "I")
    assert outline.name == "Bad <b>Name<-b> -..-etc Bo ok/I"
    assert outline.licence == "Made for a test"


@pytest.mark.parametrize(
    ("bits", "word"),
    [
        (0, "installable"),
        (2, "restricted"),
        (4, "preview-and-print"),
        (8, "editable"),
        (0x108, "editable no-subsetting"),
    ],
)
def test_embedding_permission_is_read_and_a_restricted_font_flagged(tmp_path, bits, word):
    (outline,) = read(font(tmp_path / "e.ttf", fs_type=bits), "I")
    assert outline.embedding == word
    assert ("font-restricted" in prepare(outline, AS_UNITS).flags) == (bits == 2)
    assert faces_of(tmp_path / "e.ttf")[0].embedding == word


def test_curves_without_points_on_them_are_closed(tmp_path):
    """TrueType allows a contour of control points only: four on a square make a rounded shape."""
    pen = TTGlyphPen(None)
    pen.qCurveTo((0, 0), (0, 600), (600, 600), (600, 0), None)
    pen.closePath()
    path = font(tmp_path / "q.ttf", extra={"round": pen.glyph()})
    (outline,) = read(path, "glyph:round")
    # A quarter between mid-sides of the square loses 1/6 of its corner square to the parabola.
    assert prepare(
        outline, Making(AS_UNITS.process, AS_UNITS.fit, keep_area=True)
    ).polygon.area == pytest.approx(600**2 * (1 - 1 / 6), rel=1e-9)


@pytest.mark.parametrize("cut", [0, 3, 20, 300, 0.5, 0.9])
def test_truncated_fonts_are_left_out_with_a_reason(plain, tmp_path, cut):
    data = plain.read_bytes()
    path = tmp_path / "cut.ttf"
    path.write_bytes(data[: int(cut * len(data)) if 0 < cut < 1 else cut])
    found = read(path)
    assert found and all(isinstance(item, (LeftOut, Outline)) for item in found)
    assert any(isinstance(item, LeftOut) and item.reason for item in found)


def hold_itself(path, name):
    """A composite glyph's first component becomes the glyph itself."""
    with TTFont(path) as face:
        own = face.getGlyphID(name)
        place = face.reader.tables["glyf"].offset + face["loca"].locations[own]
    data = bytearray(path.read_bytes())
    struct.pack_into(">H", data, place + 12, own)  # after the glyph's header and the component's flags
    path.write_bytes(data)


def test_a_composite_that_holds_itself_costs_that_glyph(tmp_path):
    path = font(tmp_path / "loop.ttf")
    hold_itself(path, "Hstroke")
    good, bad = read(path, "H", "Ħ")
    assert isinstance(good, Outline) and isinstance(bad, LeftOut)


@pytest.mark.parametrize("count", [0, 257, 2**31])
def test_a_collection_with_a_lying_count_is_left_out(tmp_path, count):
    path = tmp_path / "lie.ttc"
    path.write_bytes(struct.pack(">4sLL", b"ttcf", 0x10000, count) + b"\0" * 64)
    with pytest.raises(Unusable, match=f"{count} faces"):
        read(path)


def test_characters_expand():
    assert expand(("A-D",)) == tuple("ABCD")
    assert expand(("A, B", "a-c", "glyph:one", "-", "A")) == ("A", "B", "a", "b", "c", "glyph:one", "-")
    assert expand(("α-γ", "文")) == ("α", "β", "γ", "文")
    assert expand(("A-C, 0-2",)) == expand(("A-C 0-2",)) == expand(("A-C0-2",)) == tuple("ABC012")
    assert expand(("A-Cx&", "-", "a,-", ",")) == tuple("ABCx&-a,")
    assert expand(("glyph:one, A-B",)) == ("glyph:one", "A", "B")
    for wrong in (("Z-A",), (), (" ",), ("glyph:",), ("A-CZ-X",), ("A–C",)):
        with pytest.raises(InputError):
            expand(wrong)


def test_a_glyph_of_too_many_curves_is_refused():
    from kit.outlines.letterforms import MOST_PIECES, ContourPen

    pen = ContourPen({})
    pen.moveTo((0, 0))
    with pytest.raises(Unusable, match="curves"):
        for i in range(MOST_PIECES + 1):
            pen.lineTo((i, i % 7))


def test_a_font_that_unpacks_to_far_more_than_it_says_ends_within_its_limits(plain, tmp_path):
    """A WOFF2 whose compressed part holds hundreds of megabytes of zeros."""
    brotli = pytest.importorskip("brotli")
    from kit.outlines.isolation import read_isolated

    face = TTFont(plain)
    face.flavor = "woff2"
    face.save(tmp_path / "w.woff2")
    data = bytearray((tmp_path / "w.woff2").read_bytes())
    packed = brotli.compress(bytes(400_000_000), quality=1)
    start = len(data) - struct.unpack_from(">L", data, 20)[0]
    data[start:] = packed
    struct.pack_into(">L", data, 8, len(data))
    struct.pack_into(">L", data, 20, len(packed))
    (tmp_path / "bomb.woff2").write_bytes(data)
    (items,) = read_isolated([(tmp_path / "bomb.woff2", FontFiles((), ("I",)))], seconds=20.0)
    assert items and all(isinstance(item, LeftOut) for item in items)


def varied(path, cpht=False, cap_height=CAP):
    """A variable font whose H and I are 100 units higher at 900; with or without what says so of capitals."""
    from fontTools.ttLib.tables._g_l_y_f import GlyphCoordinates
    from fontTools.ttLib.tables.TupleVariation import TupleVariation

    font(path, axes=True, cap_height=cap_height)
    with TTFont(path) as face:
        for name in "HI":
            count = len(face["glyf"][name].coordinates)
            up = [(0, 100 if y == CAP else 0) for _, y in face["glyf"][name].coordinates]
            deltas = GlyphCoordinates(up + [(0, 0)] * 4)
            assert len(deltas) == count + 4
            face["gvar"].variations[name] = [TupleVariation({"wght": (0, 1, 1)}, deltas)]
        if cpht:
            face["MVAR"] = capital_variations(face, cpht)
        face.save(path)
    return path


def capital_variations(face, delta):
    """A table MVAR: capitals higher by so much at the end of the axis."""
    from fontTools.ttLib import newTable
    from fontTools.ttLib.tables import otTables
    from fontTools.varLib.varStore import OnlineVarStoreBuilder

    builder = OnlineVarStoreBuilder(["wght"])
    builder.setSupports([{}, {"wght": (0, 1, 1)}])
    record = otTables.MetricsValueRecord()
    record.ValueTag, record.VarIdx = "cpht", builder.storeDeltas([delta], round=round)
    made = newTable("MVAR")
    made.table = otTables.MVAR()
    made.table.Version, made.table.Reserved = 0x00010000, 0
    made.table.ValueRecordSize, made.table.ValueRecord = 8, [record]
    made.table.ValueRecordCount, made.table.VarStore = 1, builder.finish()
    return made


@pytest.mark.parametrize("place", [400, 650, 900])
def test_cap_height_of_an_instance_is_that_of_its_own(tmp_path, place):
    """Against fontTools' own instancer; the capital is 100 mm high wherever on the axis."""
    from fontTools.varLib.instancer import instantiateVariableFont

    path = varied(tmp_path / "v.ttf", cpht=100)
    (found,) = read(path, "H", axes=(("wght", (place,)),))
    with TTFont(path) as face:
        instance = instantiateVariableFont(face, {"wght": place})
        assert found.cap_height == instance["OS/2"].sCapHeight == CAP + (place - 400) / 5
    _, low, _, high = prepare(found, Making(fit=("cap_height", (100.0,)))).polygon.bounds
    assert high - low == pytest.approx(100.0, rel=1e-9)


@pytest.mark.parametrize("stated", [CAP, 0])
def test_cap_height_of_an_instance_where_the_font_does_not_say(tmp_path, stated):
    (found,) = read(varied(tmp_path / "v.ttf", cap_height=stated), "H", axes=(("wght", (650,)),))
    assert found.cap_height == CAP + 50


def test_characters_of_a_symbol_font(plain, tmp_path):
    """Its only map is 3/0, from U+F000 up."""
    from fontTools.ttLib.tables._c_m_a_p import CmapSubtable

    with TTFont(plain) as face:
        names = {0xF000 + code: name for code, name in face.getBestCmap().items() if code < 0x100}
        symbols = CmapSubtable.newSubtable(4)
        symbols.platformID, symbols.platEncID, symbols.language, symbols.cmap = 3, 0, 0, names
        face["cmap"].tables = [symbols]
        face.save(tmp_path / "symbols.ttf")
    found = read(tmp_path / "symbols.ttf", "H", "O", chr(0xF049))
    assert [area(o) for o in found] == pytest.approx([AREA["H"], AREA["O"], AREA["I"]])


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="file names are text there")
def test_a_font_whose_file_name_is_no_text_is_read(tmp_path):
    place = tmp_path / os.fsdecode(b"Caf\xe9.ttf")
    font(place)
    found = read(place, "I")
    assert [outline.source.encode("utf-8") for outline in found] == [b"Caf .ttf"]
