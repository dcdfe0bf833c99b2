"""What is told of uncertainty: every input, and nothing where nothing is stated."""

from kit.study.resolving import load_study
from kit.writeup import chance_telling
from tests.study.files import SMALL, written
from tests.study.test_chances import STUDY


def test_every_input_that_scatters_is_named_with_its_spread(tmp_path):
    text = chance_telling.inputs(load_study(written(tmp_path, STUDY))).body
    for word in (
        "Young",
        "210 000",
        "300.0 MPa",
        "5.0 %",
        "7.0 %",
        "6.0 %",
        "true ÷ predicted, bending",
        "none stated",
    ):
        assert word.replace("210 ", "210\u202f") in text, word


def test_draws_are_counted_in_whole_numbers(tmp_path):
    study = load_study(written(tmp_path, STUDY))
    assert study.model.uncertainty.samples == 20_000
    assert "drawn 20\u202f000 times with the seed 3" in chance_telling.heading(study).text


def test_nothing_is_shown_where_nothing_is_stated(tmp_path, capsys):
    chance_telling.show(load_study(written(tmp_path, SMALL)))
    assert capsys.readouterr().out == ""
