"""The picture at the top of the README tells what the demo study finds, as closely as an eye can read it."""

import math
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from kit.members.resistance import resistance
from kit.places import carried
from kit.study import stages
from kit.study.resolving import load_study
from kit.study.sectioning import solve

PICTURE = carried("params/overview.svg")
STUDY = carried("params/saltmere.yml")
NAMESPACE = "{http://www.w3.org/2000/svg}"
EYE = 0.05  # on logarithmic axes this is about 5 px
PANELS = {("plastic short", "bending"), ("plastic long", "compression")}


@pytest.fixture(scope="module")
def marks():
    """Every mark of the picture: what it shows, its numbers, where it is."""
    uses = [use for use in ET.parse(PICTURE).iter(NAMESPACE + "use") if use.get("data-outline")]
    table = pd.DataFrame([use.attrib for use in uses])
    numbers = ["x", "y", "data-mass-kg", "data-load-N"]
    return table.astype(dict.fromkeys(numbers, float))


@pytest.fixture(scope="module")
def found():
    """Mass and load of the drawings and the standard shapes, from the study's own steps."""
    study = load_study(STUDY)
    outlines, _ = stages.read_outlines(study)
    chosen = [outline for outline in outlines if not outline.character]
    tasks = stages.section_tasks(study, chosen)[0]
    rows = [solve(task)["turned"][0] | {"outline": task.outline.name} for task in tasks]
    sections = pd.DataFrame(rows).assign(section_id="", character="", orientation_deg=0.0)
    members = {}
    for variant in study.variants:
        for case in variant.cases:
            if (variant.name, case.name) in PANELS:
                table = resistance(sections, case, variant.material, variant.service)
                members[variant.name, case.name] = table.set_index("outline")
    return members


def test_it_shows_every_drawing_in_both_panels(marks):
    drawings = {file.stem for file in STUDY.parent.glob("drawings/*.svg")}
    for variant, case in PANELS:
        shown = marks[(marks["data-variant"] == variant) & (marks["data-load-case"] == case)]
        assert drawings <= set(shown["data-outline"])
        assert not shown["data-outline"].duplicated().any()


def test_masses_and_loads_are_those_of_the_study(marks, found):
    for (variant, case), members in found.items():
        shown = marks[(marks["data-variant"] == variant) & (marks["data-load-case"] == case)]
        shown = shown.set_index("data-outline")
        shown = shown.loc[shown.index.intersection(members.index)]
        members = members.loc[shown.index]
        np.testing.assert_allclose(shown["data-mass-kg"], members["mass_kg"], rtol=0.002)
        np.testing.assert_allclose(shown["data-load-N"], members["resistance_N"], rtol=EYE)


def test_letters_stand_where_their_numbers_say(marks):
    """Axes are logarithmic: two marks that were not moved fix them, all other letters must lie on them."""
    letters = marks[marks["data-outline"].str.contains("/")]
    for _, panel in letters.groupby("data-variant"):
        for place, number in (("x", "data-mass-kg"), ("y", "data-load-N")):
            logs = panel[number].map(math.log)
            slope, start = np.polyfit(logs, panel[place], 1)
            assert (panel[place] - start - slope * logs).abs().max() < 1.0


def test_it_is_small_and_needs_nothing_from_elsewhere():
    text = PICTURE.read_text(encoding="utf-8")
    assert len(text) < 120_000
    for outside in ("<script", "<image", "url(", 'href="http', "<foreignObject"):
        assert outside not in text
