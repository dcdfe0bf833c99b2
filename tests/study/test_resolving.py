"""From the parameter file to the objects of the other stages; no key is lost on the way."""

from dataclasses import fields
from pathlib import Path

import pytest

from kit.errors import InputError
from kit.members import cases
from kit.members.materials import Material, library
from kit.outlines import specs
from kit.outlines.making import Making
from kit.study import keys_members, keys_outlines
from kit.study.own_materials import stress_strain, without_unit
from kit.study.parameters import validate
from kit.study.resolving import case_of, check_reference, load_study, making_of, service_of, spec_of
from kit.study.yaml_reader import read_yaml
from tests.study.files import SMALL, changed, written

EVERY_KEY = Path(__file__).with_name("every_key.yml")


@pytest.fixture(scope="module")
def full():
    return validate(read_yaml(EVERY_KEY).values)


def test_a_study_carries_its_file_name_title_and_folder(tmp_path):
    study = load_study(written(tmp_path))
    assert study.file == (tmp_path / "small.yml").resolve()
    assert (study.name, study.title) == ("small", "A small study")
    assert study.results_folder("there") == Path("there/small")
    assert study.reference == ("bar", 0.0)
    assert study.base == tmp_path.resolve()


@pytest.mark.parametrize("kind", cases.KINDS)
def test_every_value_of_a_load_case_has_a_key_and_every_key_a_value(kind):
    values = {without_unit(field.name) for field in fields(cases.KINDS[kind])} - {"name"}
    keys = set(keys_members.KINDS[kind].model_fields) - {"kind"}
    assert keys == values


@pytest.mark.parametrize("kind", cases.KINDS)
def test_a_key_left_out_has_the_default_of_the_load_case(kind):
    length = {"span" if kind == "bending" else "length": "900 mm"}
    case = case_of("a", keys_members.KINDS[kind].model_validate({"kind": kind, **length}))
    assert case == cases.KINDS[kind]("a", 900.0)


def test_load_cases_arrive_in_numbers(full):
    beam = case_of("b", full.load_cases["bending"])
    assert beam == cases.BendingCase(
        "b", 1500.0, "four-point", 500.0, "sideways", "centroid", 40.0, 0.005, -2.0, "forked", 0.0025
    )
    shaft = case_of("s", full.load_cases["shaft"])
    assert shaft == cases.TorsionCase("s", 900.0, "warping-held", 5.0)


def test_outline_entries_arrive_in_plain_values(full):
    fonts, svg, dxf, points, shape, rolled = (spec_of(entry) for entry in full.outlines)
    assert fonts == specs.FontFiles(
        ("faces/**/*.ttf", "installed:matplotlib/DejaVuSerif.ttf"),
        ("A-Z", "glyph:ampersand"),
        (("wght", (400.0, 700.0)),),
        ("Bold",),
        specs.Choose(("Regular",), 50, 1),
        "labels.csv",
    )
    assert svg == specs.SvgFiles(("drawings/*.svg",), 1.0, "ignore", "labels.csv")
    assert dxf == specs.DxfFiles(("drawings/*.dxf",), ("outline",), 0.01, 25.4, "labels.csv")
    assert points == specs.PointFiles(("drawings/*.csv",), 1.0, "labels.csv")
    assert dict(shape.dimensions)["root_radius"] == 3.0 and shape.labels == (("maker", "workshop"),)
    assert rolled.designation == "IPE 200"


@pytest.mark.parametrize("source", ["fonts", "svg", "dxf", "points", "shape"])
def test_every_value_of_an_outline_entry_has_a_key(source):
    kinds = {"fonts": specs.FontFiles, "svg": specs.SvgFiles, "dxf": specs.DxfFiles,
             "points": specs.PointFiles, "shape": specs.Shape}  # fmt: skip
    values = {without_unit(field.name) for field in fields(kinds[source])}
    assert set(keys_outlines.SOURCES[source].model_fields) - {"from_"} == values


def test_every_part_of_the_preparation_arrives(full):
    making = making_of(full, library()["steel-S235"])
    assert making == Making(
        process="milled-lengthwise",
        fit=("envelope", (100.0, 100.0)),
        flatten_mm=0.01,
        cutter_radius_mm=3.0,
        least_wall_mm=2.0,
        separate_parts="join",
        keep_area=True,
        web_mm=6.0,
        stock_mm=(120.0, 120.0),
        most_points=20_000,
    )


def test_a_key_left_out_of_the_preparation_has_the_default_of_the_stage(tmp_path):
    assert load_study(written(tmp_path)).variants[0].making == Making()


def test_a_mass_per_length_takes_the_density_of_the_variants_material(full):
    fit = keys_outlines.Fit.model_validate({"mass_per_length": "2.3 kg/m"})
    model = full.model_copy(update={"preparation": full.preparation.model_copy(update={"fit": fit})})
    steel = library()["steel-S235"]
    assert making_of(model, steel).fit == ("mass_per_length", (2.3, steel.density_kg_m3))


def test_a_material_of_your_own_arrives_in_full(tmp_path):
    own = "materials:" + EVERY_KEY.read_text().split("materials:")[1].split("service:")[0]
    (tmp_path / "coupons").mkdir()
    (tmp_path / "coupons" / "board-7.csv").write_text("strain,stress in MPa\n0,0\n0.01,10\n0.05,24\n")
    text = changed(("material: steel-S235\n", own))
    (variant,) = load_study(written(tmp_path, text)).variants
    material = variant.material
    assert (material.key, material.name, material.family) == ("board-7", "Invented board", "polymer")
    assert material.youngs_modulus_MPa.mean == 1050.0 and material.youngs_modulus_MPa.cov == 0.06
    assert material.stress_strain == ((0.0, 0.0), (0.01, 10.0), (0.05, 24.0))
    assert material.modulus_by_duration == ((1.0, 0.8), (pytest.approx(87660.0), 0.3))
    assert material.modulus_by_temperature == ((23.0, 1.0), (40.0, 0.7))


def test_every_value_of_a_material_has_a_key():
    own = set(keys_members.Material.model_fields)
    values = {without_unit(field.name) for field in fields(Material)}
    assert values - own == {"key", "caveats"}
    assert own <= values


@pytest.mark.parametrize(
    ("text", "duration", "hours"),
    [
        ("10 years", "10 years", 87660.0),
        ("6 months", "6 months", 4383.0),
        ("90 min", "1.5 hours", 1.5),
        ("30 s", "0.5 minutes", 0.5 / 60),
        ("short-term test", "short-term test", 0.1),
    ],
)
def test_durations_arrive_in_the_words_of_the_members(text, duration, hours):
    service = service_of(keys_members.Service.model_validate({"duration": text}))
    assert service.duration == duration
    assert service.hours == pytest.approx(hours)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "cannot be read"),
        ("0,0\n0.01,ten\n", "in row 2 are not two numbers"),
        ("0,0\n0.01,nan\n0.02,3", "in row 2 are not two numbers"),
        ("0,0\n0.01\n", "in row 2 are not two numbers"),
    ],
)
def test_a_damaged_stress_strain_curve_is_refused_by_row(tmp_path, content, said):
    file = tmp_path / "curve.csv"
    if content is not None:
        file.write_text(content)
    with pytest.raises(InputError, match=said) as caught:
        stress_strain(file, "board")
    assert "materials.board.stress_strain" in caught.value.where


def test_what_the_members_refuse_names_the_file(tmp_path):
    own = "materials:\n  board: {density: 1 g/cm3, youngs_modulus: 1 GPa, poissons_ratio: 0.3,"
    own += " yield_tension: 9 MPa, yield_compression: 9 MPa, stress_strain: c.csv}\nmaterial: board\n"
    (tmp_path / "c.csv").write_text("0,0\n0.01,1\n")
    with pytest.raises(InputError, match=r"2 pairs") as caught:
        load_study(written(tmp_path, changed(("material: steel-S235\n", own))))
    assert "small.yml, materials.board.stress_strain" in caught.value.where


BOARD = "materials:\n  board: {density: 1 g/cm3, youngs_modulus: 1 GPa, poissons_ratio: 0.3, yield_compression: 9 MPa"


def test_a_flexural_strength_alone_is_a_material_without_a_tensile_one(tmp_path):
    own = f"{BOARD}, bending_strength: 12 MPa, thickness_up_to: 4 cm}}\nmaterial: board\n"
    material = load_study(written(tmp_path, changed(("material: steel-S235\n", own)))).variants[0].material
    assert material.yield_tension_MPa is None and material.ductile is False
    assert (material.bending_strength_MPa.mean, material.thickness_up_to_mm) == (12.0, 40.0)


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ("", "yield_tension"),
        (", bending_strength: 12 MPa, ductile: true", "ductile"),
        (", yield_tension: 9 MPa, family: timber, ductile: true", "ductile"),
    ],
)
def test_what_contradicts_itself_is_refused_with_the_file_and_the_key(tmp_path, more, where):
    own = f"{BOARD}{more}}}\nmaterial: board\n"
    with pytest.raises(InputError) as caught:
        load_study(written(tmp_path, changed(("material: steel-S235\n", own))))
    assert f"small.yml, materials.board.{where}" in caught.value.where


def test_a_curve_in_per_cent_is_refused_with_a_hint(tmp_path):
    own = f"{BOARD}, yield_tension: 9 MPa, stress_strain: c.csv}}\nmaterial: board\n"
    (tmp_path / "c.csv").write_text("strain,stress\n0,0\n0.5,5\n2,9\n")
    with pytest.raises(InputError, match="slope of 10 MPa") as caught:
        load_study(written(tmp_path, changed(("material: steel-S235\n", own))))
    assert "fraction" in caught.value.todo


def test_a_reference_among_the_outlines_passes(tmp_path):
    check_reference(load_study(written(tmp_path)), ["rod", "bar"])


@pytest.mark.parametrize(
    ("outlines", "said"),
    [
        (["Bar", "rod"], "'Bar'"),
        (["a", "b", "c", "d", "e", "f"], r"\(of 6\)"),
        ([], "no outline could be read"),
    ],
)
def test_a_reference_that_is_not_among_them_is_refused_with_close_names(tmp_path, outlines, said):
    study = load_study(written(tmp_path))
    with pytest.raises(InputError, match=said) as caught:
        check_reference(study, outlines)
    assert "small.yml, line" in caught.value.where


def test_a_missing_file_is_refused_by_name(tmp_path):
    with pytest.raises(InputError, match="missing"):
        load_study(tmp_path / "none.yml")


def test_the_same_file_gives_the_same_study(tmp_path):
    file = written(tmp_path, SMALL)
    assert load_study(file).variants == load_study(file).variants
