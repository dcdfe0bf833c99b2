"""The studies that ship: each is read, and its reference can be made in every variant."""

from pathlib import Path

import pytest

from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.study.resolving import load_study

STUDIES = sorted((Path(__file__).parents[1] / "params").glob("*.yml"))


def test_there_are_some():
    assert STUDIES


@pytest.mark.parametrize("file", STUDIES, ids=lambda file: file.stem)
def test_every_variant_of_a_shipped_study_can_make_its_reference(file):
    study = load_study(file)
    named = [spec for spec in study.specs if getattr(spec, "name", None) == study.reference[0]]
    (reference,), left_out = read(named, study.base)[:2]
    assert not left_out
    for variant in study.variants:
        assert prepare(reference, variant.making).polygon.area > 0, variant.name
