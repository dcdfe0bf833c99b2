"""Bad input: each problem names its key path and line, what was found and what would be accepted."""

from pathlib import Path

import pytest

from kit.errors import InputError
from kit.study.not_yet import NOT_YET, not_yet
from kit.study.parameters import checked
from kit.study.yaml_reader import dotted, parse_yaml, read_yaml
from tests.study.files import SMALL, changed


def refusal(text: str) -> str:
    with pytest.raises(InputError) as caught:
        checked(parse_yaml(text))
    assert "parameters: " in caught.value.where
    return str(caught.value)


def one_line(message: str) -> str:
    return " ".join(message.split())


SHAPE = "{from: shape, name: rod, shape: circle, dimensions: {diameter: 40 mm}}"


@pytest.mark.parametrize(
    ("old", "new", "place", "found", "accepted"),
    [
        # keys
        ("title: A small", "titel: A small", "titel (line 2)", "did you mean 'title'?", ""),
        ("title: A small study\n", "", "title", "the key is missing", "Title of the write-up"),
        ("title: A small study\n", "", "1 problem", "the key is missing", ""),
        ("title: A small", "titel: A small", "1 problem", "did you mean 'title'?", ""),
        ("span: 900 mm", "spam: 900 mm", "load_cases.bending.spam (line 10)", "did you mean 'span'?", ""),
        ("torsion: {length", "torsion: {span", "load_cases.torsion.span (line 11)",
         "'span' is a key of bending, not of torsion", "one of: kind, length, ends, twist_limit"),
        ("bending: {span", "beam: {span", "load_cases.beam.kind", "the key is missing",
         "one of: bending, compression, tension, torsion, or a name of the load case that says it"),
        ("bending: {span", "bending-or-torsion: {span", "load_cases.bending-or-torsion.kind", "missing", "one of"),
        ("bending: {span", "bending: {kind: bendng, span", "load_cases.bending.kind (line 10)",
         "'bendng' is not known here; did you mean 'bending'?", "one of: bending, compression"),
        ("from: shape, name: rod", "from: sahpe, name: rod", "outlines[1].from (line 5)",
         "did you mean 'shape'?", "one of: fonts, svg, dxf, points, shape"),
        ("from: shape, name: rod", "name: rod", "outlines[1].from", "the key is missing", "one of: fonts"),
        # quantities
        ("span: 900 mm", "span: 900", "load_cases.bending.span (line 10)", "the unit is missing", "'900 mm'"),
        ("span: 900 mm", "span: 1 000 mm", "load_cases.bending.span", "without grouping", "one number and one unit"),
        ("span: 900 mm", "span: '1,5 m'", "load_cases.bending.span", "decimal comma", "one number and one unit"),
        ("span: 900 mm", "span: 1,5 m", "load_cases.bending.5 m", "stands alone after a comma", "a point"),
        ("span: 900 mm", "span: nan mm", "load_cases.bending.span", "not finite", "one number and one unit"),
        ("span: 900 mm", "span: 900 kN", "load_cases.bending.span", "unit of force", "units: mm"),
        ("span: 900 mm", "span: -900 mm", "load_cases.bending.span", "out of range", "length above 0 mm"),
        ("span: 900 mm", "span: 0 mm", "load_cases.bending.span", "out of range", "length above 0 mm"),
        ("span: 900 mm", "span: [900 mm]", "load_cases.bending.span", "a list where one value", "'900 mm'"),
        ("span: 900 mm", "span: {mm: 900}", "load_cases.bending.span", "a mapping where one value", "'900 mm'"),
        ("span: 900 mm", "span: ~", "load_cases.bending.span", "nothing is given", "'900 mm'"),
        ("diameter: 40 mm", "diameter: -40 mm", "outlines[1].dimensions.diameter", "out of range", "at least 0 mm"),
        # ranking
        ("title: A small study", "title: A small study\nranking: {weights: {bending: 0}}", "ranking.weights",
         "no load case weighs anything", "a weight above 0"),
        ("title: A small study", "title: A small study\nranking: {weights: {}}", "ranking.weights",
         "nothing is given", "a weight above 0"),
        ("title: A small study", "title: A small study\nranking: {group_by: [family, family]}",
         "ranking.group_by[1]", "'family' is given twice", "each column once"),
        # words
        ("loading: four-point", "loading: fourpoint", "load_cases.bending.loading",
         "did you mean 'four-point'?", "one of: three-point"),
        ("material: steel-S235", "material: steel-S23", "material (line 8)", "did you mean 'steel-S235'?", "one of"),
        ("shape: circle", "shape: cirle", "outlines[1]", "'cirle' is not a standard shape", "circle"),
        ("diameter: 40 mm", "diametre: 40 mm", "outlines[1]", "'diametre' is not a dimension", "diameter"),
        # what has to fit together
        ("load_spacing: 300 mm", "load_spacing: 900 mm", "load_cases.bending",
         "900 mm apart on a span of 900 mm", "less than the span"),
        ("loading: four-point", "loading: three-point", "load_cases.bending", "the loading is three-point", "four-point"),
        ("{outline: bar}", "{outline: bat}", "reference.outline (line 6)",
         "'bat' is not among the outlines; did you mean 'bar'?", "one of: bar, rod"),
        ("{outline: bar}", "{outline: bar, orientation: 45 deg}", "reference.orientation",
         "45 deg is not among preparation.orientations", "one of: 0 deg, 90 deg"),
        ("[0 deg, 90 deg]", "[0 deg, 360 deg]", "preparation.orientations", "given twice", "each orientation once"),
        ("[0 deg, 90 deg]", "[]", "preparation.orientations", "too short", "at least 1"),
        ("name: rod", "name: bar", "outlines[1].name", "'bar' is given to two shapes", "each name once"),
        ("preparation: {", "preparation: {fit: {scale: 1, area: 3 mm2}, ", "preparation.fit",
         "area and scale are given", "exactly one of: envelope"),
        ("preparation: {", "preparation: {stock: [99 mm, 99 mm], ", "preparation",
         "a member that is extruded is not cut from any", "process milled-lengthwise or cut-from-plate or wire-cut"),
        ("preparation: {", "preparation: {fit: {}, ", "preparation.fit", "nothing is given", "exactly one of"),
        ("preparation: {", "preparation: {fit: {cap_height: 9 mm}, ", "preparation.fit.cap_height",
         "no outline comes from a typeface", "another fit"),
        (SHAPE, "{from: fonts, files: a.ttf}", "preparation.fit", "no size of their own", "envelope, cap_height"),
        # names and numbers
        ("study: small", "study: ../escape", "study (line 1)", "cannot be used as a name", "letters a-z"),
        ("study: small", "study: con", "study (line 1)", "cannot be used as a name", "letters a-z"),
        ("bending: {span", "bending.1: {span", "load_cases.bending.1", "cannot be used as a name", "letters, digits"),
        ("material: steel", "limits: {points: 1_000}\nmaterial: steel", "limits.points", "not a whole number", "100"),
        ("material: steel", "limits: {points: 1e4}\nmaterial: steel", "limits.points", "not a whole number", "100"),
        ("material: steel", "partial_factors: {load: 0.9}\nmaterial: steel", "partial_factors.load",
         "out of range", "at least 1"),
        ("material: steel", "service: {duration: forever}\nmaterial: steel", "service.duration",
         "not a duration", "'short-term test'"),
        ("material: steel", "ranking: {weights: {bend: 1}}\nmaterial: steel", "ranking.weights.bend",
         "no load case of this study", "bending, torsion"),
        ("material: steel", "ranking: {group_by: charakter}\nmaterial: steel", "ranking.group_by",
         "'charakter' is no column; did you mean 'character'?", "one of: character, family"),
        ("material: steel", "report: {shortlist: {by: bend}}\nmaterial: steel", "report.shortlist.by",
         "did you mean 'bending'?", "bending, torsion"),
        ("material: steel", "authors: [{name: A, orcid: 12}]\nmaterial: steel", "authors[0].orcid", "'12'", "form"),
        ("material: steel", "authors: A\nmaterial: steel", "authors", "'A'", "a list"),
    ],
)  # fmt: skip
def test_a_problem_names_place_found_and_accepted(old, new, place, found, accepted):
    message = one_line(refusal(changed((old, new))))
    assert place in message
    assert found in message
    assert accepted in message


def test_an_empty_list_of_outlines_is_refused():
    head, tail = SMALL.split("outlines:")[0], SMALL.split("reference:")[1]
    message = one_line(refusal(f"{head}outlines: []\nreference:{tail}"))
    assert "outlines (line 3)" in message and "at least 1" in message


def test_a_study_without_load_cases_is_refused():
    assert "load_cases found: a study without load cases" in one_line(refusal(SMALL.split("load_cases:")[0]))


def test_a_missing_quantity_is_described_with_an_example():
    message = one_line(refusal(changed(("torsion: {length: 900 mm}", "torsion: {ends: free-to-warp}"))))
    assert "load_cases.torsion.length" in message and "Between the ends, such as 900 mm" in message


def test_a_material_of_your_own_must_be_complete():
    own = "materials:\n  board:\n    density: 955 kg/m3\n    poissons_ratio: 0.6\n    cov: 5\nmaterial: steel"
    message = one_line(refusal(changed(("material: steel", own))))
    for part in (
        "materials.board.youngs_modulus",
        "materials.board.yield_compression",
        "materials.board.cov",
    ):
        assert part in message
    assert "0.6 is out of range" in message


def test_all_problems_show_at_once_in_the_order_of_the_file_on_one_screen():
    text = changed(
        ("title: A small", "titel: A small"),
        ("span: 900 mm", "span: 900"),
        ("torsion: {length: 900 mm}", "torsion: {length: -1 mm}"),
        ("material: steel-S235", "materiel: steel-S235"),
        ("diameter: 40 mm", "diameter: 40"),
        ("orientations: [0 deg, 90 deg]", "orientations: [0, 90 mm]"),
    )
    message = refusal(text)
    assert message.startswith("parameters: 7 problems:")
    order = [
        message.index(part) for part in ("titel", "diameter", "orientations", "materiel", "span", "torsion")
    ]
    assert order == sorted(order)
    assert len(message.splitlines()) <= 24


def test_a_file_of_nothing_but_problems_still_fits_a_screen():
    text = "study: s\n" + "".join(f"key{i}: {i}\n" for i in range(500))
    message = refusal(text)
    assert len(message.splitlines()) <= 40
    assert "more; they show once these are mended" in message
    assert max(map(len, message.splitlines())) < 300


@pytest.mark.parametrize("pattern", NOT_YET)
def test_a_key_without_its_capability_is_refused_not_ignored(pattern):
    every_key = read_yaml(Path(__file__).with_name("every_key.yml"))
    paths = [path for path, *_ in not_yet(every_key.values, {pattern: NOT_YET[pattern]})]
    with pytest.raises(InputError) as caught:
        checked(every_key)
    message = one_line(str(caught.value))
    assert paths
    assert all(f"{dotted(path)} (line {every_key.lines[path]})" in message for path in paths)
    assert "not available yet" in message


def test_the_table_of_keys_not_available_reaches_into_lists_names_and_values():
    values = {
        "outlines": [{"from": "svg"}, {"from": "dxf"}],
        "materials": {"a": {"x": "1"}, "b": {"x": "1.0"}, "c": {"x": "2"}},
        "trials": None,
    }

    def found(pattern):
        return [path for path, *_ in not_yet(values, {pattern: "wait"})]

    assert found("outlines.*.from=dxf") == [("outlines", 1, "from")]
    assert found("materials.*.x") == [("materials", name, "x") for name in "abc"]
    assert found("materials.*.x!=1") == [("materials", "c", "x")]
    assert found("materials.*.x=1") == [("materials", name, "x") for name in "ab"]
    assert found("trials") == []


def test_what_is_refused_as_not_available_says_what_to_do_meanwhile():
    assert all(todo.strip() for todo in NOT_YET.values())
