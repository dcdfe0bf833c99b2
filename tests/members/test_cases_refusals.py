"""Load cases, materials and service conditions refuse what cannot be meant, and say where."""

import pytest

from kit.errors import InputError
from kit.members import cases
from kit.members.cases import KINDS, BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.materials import Material, Service, Spread, from_record, library
from tests.members.conftest import plain

NUMBERS = [
    (BendingCase, "load_line_mm", "load_line"),
    (BendingCase, "bearing_length_mm", "bearing_length"),
    (BendingCase, "deflection_limit", "deflection_limit"),
    (BendingCase, "bow", "bow"),
    (BendingCase, "load_spacing_mm", "load_spacing"),
    (CompressionCase, "bow", "bow"),
    (CompressionCase, "eccentricity_x_mm", "eccentricity_x"),
    (CompressionCase, "eccentricity_y_mm", "eccentricity_y"),
    (TensionCase, "holes_area_mm2", "holes_area"),
    (TorsionCase, "twist_limit_deg", "twist_limit"),
]


@pytest.mark.parametrize(
    ("make", "where"),
    [
        (lambda: BendingCase("b", 0.0), "load_cases.b.span"),
        (lambda: BendingCase("b", -1.0), "load_cases.b.span"),
        (lambda: BendingCase("b", float("nan")), "load_cases.b.span"),
        (lambda: BendingCase("b", 900.0, loading="five-point"), "load_cases.b.loading"),
        (lambda: BendingCase("b", 900.0, restraint="sidewise"), "load_cases.b.restraint"),
        (lambda: BendingCase("b", 900.0, load_height="above"), "load_cases.b.load_height"),
        (lambda: BendingCase("b", 900.0, load_spacing_mm=100.0), "load_cases.b.load_spacing"),
        (lambda: BendingCase("b", 900.0, "four-point", load_spacing_mm=900.0), "load_cases.b.load_spacing"),
        (lambda: BendingCase("b", 900.0, deflection_limit=0.0), "load_cases.b.deflection_limit"),
        *(
            (
                lambda kind=kind, field=field, value=value: kind("x", 900.0, **{field: value}),
                f"load_cases.x.{key}",
            )
            for kind, field, key in NUMBERS
            for value in (float("nan"), float("inf"), -float("inf"))
        ),
        (lambda: CompressionCase("c", 0.0), "load_cases.c.length"),
        (lambda: CompressionCase("c", 900.0, ends="pinned"), "load_cases.c.ends"),
        (lambda: CompressionCase("c", 900.0, column_curve="EN 1993-1-1 e"), "load_cases.c.column_curve"),
        (lambda: CompressionCase("c", 900.0, bow=-0.001), "load_cases.c.bow"),
        (lambda: TensionCase("t", 900.0, holes_area_mm2=-1.0), "load_cases.t.holes_area"),
        (lambda: TorsionCase("q", 900.0, ends="held"), "load_cases.q.ends"),
        (lambda: Service("10 fortnights"), "service.duration"),
        (lambda: Service("-1 years"), "service.duration"),
        (lambda: Service("short-term test", 900.0), "service.temperature"),
        (lambda: plain(poissons_ratio=0.6), "materials.plain.poissons_ratio"),
        (lambda: plain(f=-5.0), "materials.plain.yield_tension"),
        (lambda: plain(family="cheese"), "materials.plain.family"),
        (lambda: plain(stress_strain=((0.0, 0.0), (0.1, 5.0))), "materials.plain.stress_strain"),
        (lambda: plain(stress_strain=((0.0, 0.0), (0.2, 5.0), (0.1, 9.0))), "materials.plain.stress_strain"),
    ],
)
def test_says_where(make, where):
    with pytest.raises(InputError) as refused:
        make()
    assert refused.value.where == where
    assert refused.value.todo


def test_a_spread_is_never_negative():
    with pytest.raises(InputError):
        Spread(1.0, -0.1)


def test_every_kind_has_a_length_and_a_name():
    cases = [BendingCase("a", 5.0), CompressionCase("b", 5.0), TensionCase("c", 5.0), TorsionCase("d", 5.0)]
    assert [KINDS[case.kind] for case in cases] == [type(case) for case in cases]
    assert {case.length_mm for case in cases} == {5.0}
    assert len({hash(case) for case in cases}) == 4


@pytest.mark.parametrize(
    ("text", "hours"), [("1 hour", 1.0), ("10 years", 87660.0), ("6 months", 4383.0), ("2 weeks", 336.0)]
)
def test_durations_are_read_as_calendars_count(text, hours):
    assert Service(text).hours == pytest.approx(hours, rel=1e-12)


def test_every_value_of_the_library_names_a_source_and_how_sure_it_is():
    import json

    from kit.places import DATA

    records = json.loads((DATA / "materials.json").read_text(encoding="utf-8"))
    for record in records:
        assert record["source"]
        for value in record["values"]:
            assert value["confidence"] in ("published", "from memory", "common practice, no source")
        sourced = " ".join(value["value"] for value in record["values"])
        for field in ("density_kg_m3", "youngs_modulus_MPa", "yield_tension_MPa"):
            assert field in sourced, (record["key"], field)
        for field in record:
            if field.endswith(("_by_duration", "_by_temperature")):
                assert field in sourced, (record["key"], field)


def test_the_library_covers_the_families():
    assert {"steel", "aluminium", "timber", "polymer"} == {m.family for m in library().values()}
    assert all(isinstance(m, Material) and m.key == key for key, m in library().items())


def test_a_material_record_with_an_unknown_field_is_refused():
    with pytest.raises(InputError, match="colour"):
        from_record({"key": "x", "colour": "red"})


def test_every_caveat_that_is_named_exists():
    import re
    from pathlib import Path

    import kit.members
    from kit.sources import bibliography, caveats

    text = "".join(p.read_text(encoding="utf-8") for p in Path(kit.members.__file__).parent.glob("*.py"))
    named = set(re.findall(r'\(\(?"([a-z0-9]+(?:-[a-z0-9]+)+)", ', text))
    named |= set(re.findall(r'caveats=\("([^)]*)"', text))
    keys = {key for name in named for key in re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)+", name)}
    known = set(caveats()) | set(bibliography())
    assert len(keys) > 20
    words = {*cases.LOADINGS, *cases.RESTRAINTS, *cases.ENDS, *cases.TORSION_ENDS, *cases.COLUMN_CURVES}
    assert keys - known - words == set()
