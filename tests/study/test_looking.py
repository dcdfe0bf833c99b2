"""Looking at a study: what will run, what is left out, how long it may take."""

import pytest

from kit.errors import InputError
from kit.study.looking import Work, estimate, look, summary, work_of
from kit.study.resolving import load_study
from tests.outlines.typefaces import font
from tests.study.files import SMALL, changed, written

FONTS = '  - {from: fonts, files: "installed:matplotlib/DejaVuSans.ttf", characters: [A, i, "4"]}\nreference'
FITTED = (("reference", FONTS), ("preparation: {", "preparation: {fit: {envelope: [60 mm, 60 mm]}, "))


def looked(tmp_path, text):
    return look(load_study(written(tmp_path, text)), tmp_path / "results")


def test_sections_are_counted_once_for_each_distinct_preparation(tmp_path):
    more = """
variants:
  vary: {material: [steel-S235, aluminium-6060-T66], preparation.fit: [{scale: 1}, {scale: 2}]}
"""
    found = looked(tmp_path, SMALL + more)
    assert len(found.study.variants) == 4
    assert found.sections == 2 * 2


def test_what_cannot_be_made_is_listed_with_its_reason(tmp_path):
    found = looked(tmp_path, changed(*FITTED))
    assert [out.outline for out in found.left_out] == ["DejaVu Sans Book/i"]
    rows = summary(found).splitlines()
    assert "outlines: 4 used, 1 left out" in rows
    assert "  DejaVuSans.ttf: 2: A 4" in rows
    assert any(row.startswith("  left out: DejaVu Sans Book/i: ") for row in rows)


def test_a_variable_font_at_the_places_on_its_axes_that_the_file_names(tmp_path):
    font(tmp_path / "made.ttf", axes=True)  # its I is 100 units wide, 200 at the end of its weight axis
    entry = "  - {from: fonts, files: made.ttf, characters: [I], axes: {wght: [400, 650, 900]}}\nreference"
    found = looked(tmp_path, changed(("reference", entry), FITTED[1]))
    letters = [one for one in found.prepared if one.outline.family]
    assert [one.outline.name for one in letters] == [f"Made Here wght={n}/I" for n in (400, 650, 900)]
    widths = [one.polygon.bounds[2] - one.polygon.bounds[0] for one in letters]
    assert widths == pytest.approx([60 * 100 / 700, 60 * 150 / 700, 60 * 200 / 700])


def test_what_the_study_excludes_is_left_out(tmp_path):
    (tmp_path / "exclude.csv").write_text("outline,reason\nrod,not wanted\n")
    found = looked(tmp_path, changed(("reference", "exclude: exclude.csv\nreference")))
    assert [outline.name for outline in found.outlines] == ["bar"]
    assert [(out.outline, out.reason) for out in found.left_out] == [("rod", "not wanted")]


def test_a_reference_that_is_left_out_is_refused_with_the_reason(tmp_path):
    text = changed(*FITTED, ("{outline: bar}", "{outline: DejaVu Sans Book/i}"))
    with pytest.raises(InputError, match="is left out: ") as caught:
        looked(tmp_path, text)
    assert "reference.outline" in caught.value.where


def test_a_reference_among_fonts_is_checked_after_they_are_read(tmp_path):
    with pytest.raises(InputError, match="'DejaVu Sans Book/A'"):
        looked(tmp_path, changed(*FITTED, ("{outline: bar}", "{outline: dejavu sans/A}")))


def test_results_of_an_earlier_run_stay_as_they_are(tmp_path):
    folder = tmp_path / "results" / "small"
    folder.mkdir(parents=True)
    for name in ("sections.csv", "outlines.svg"):
        (folder / name).write_text("earlier")
    assert looked(tmp_path, SMALL).sheet == folder / "look" / "outlines.html"
    assert (folder / "outlines.svg").read_text() == "earlier"


def test_all_that_is_said_fits_a_screen(tmp_path):
    shape = (
        "  - {{from: shape, name: bar-{0}, shape: rectangle, dimensions: {{depth: {0} mm, width: 20 mm}}}}\n"
    )
    shapes = "".join(shape.format(depth) for depth in range(10, 210))
    cutters = ", ".join(f"{i} mm" for i in range(1, 60))
    more = f"variants: {{vary: {{preparation.cutter_radius: [{cutters}]}}}}\n"
    rows = summary(looked(tmp_path, changed(("reference", shapes + "reference")) + more)).splitlines()
    assert len(rows) <= 40
    assert max(map(len, rows)) <= 160
    assert "  … and 47 more variants" in rows


def test_the_estimate_grows_with_sections_and_variants_and_shrinks_with_workers():
    base = estimate(Work(1000, 4), 1)
    assert estimate(Work(2000, 4), 1) > base
    assert estimate(Work(1000, 8), 1) > base
    assert estimate(Work(1000, 4), 2) < base


@pytest.mark.parametrize(
    ("work", "measured"),
    [
        (Work(10, 1, audited=1, published=80), 9.5),  # params/class.yml
        (Work(107, 4, audited=4, published=387, curves=24), 29.5),  # params/saltmere.yml
        (Work(26_000, 1, audited=4, published=387, curves=12), 483.0),  # a thousand typefaces
    ],
)
def test_the_estimate_is_near_what_was_measured_on_two_quiet_cores(work, measured):
    """First runs of the shipped studies, by the clock."""
    assert estimate(work, 2) == pytest.approx(measured, rel=0.15)


@pytest.mark.parametrize(
    ("keys", "audited", "published", "curves"),
    [
        ("", 1, None, 2),
        ("verification: {published: 80, audit: 2}\n", 2, 80, 2),
        ("report: {local_buckling: none}\n", 1, None, 0),
        ("report: {local_buckling: all}\n", 1, None, 4),
    ],
)
def test_what_is_computed_again_and_looked_at_closely_counts(tmp_path, keys, audited, published, curves):
    """Two outlines, two orientations, one load case of two whose walls may buckle."""
    work = work_of(load_study(written(tmp_path, SMALL + keys)), 2, 2)
    assert (work.audited, work.curves) == (audited, curves)
    assert work.published == published if published else work.published > 150
