"""The demo of trials, run for real: predictions first, invented records marked, faults left out with a reason."""

import json
import re
import shutil

import numpy as np
import pandas as pd
import pytest

from kit.cli import main
from kit.errors import InputError
from kit.places import carried
from kit.study import demo_records, inputs, planning, results, stages, trialling
from kit.writeup import trial_telling

DEMO = carried("params/saltmere-trials.yml")


@pytest.fixture(scope="module")
def ready(tmp_path_factory):
    results = tmp_path_factory.mktemp("results")
    study = stages.open_study(DEMO)
    outlines, left_out = stages.read_outlines(study, 1)
    sections = stages.make_sections(study, outlines, left_out, results=results, workers=1)
    return study, stages.folder_of(study, results), sections


@pytest.fixture(scope="module")
def found(ready):
    study, folder, sections = ready
    trials = trialling.run_trials(study, folder, sections)
    trialling.keep_trials(folder, trials)
    return trials


def test_the_stated_bias_of_the_demo_is_found_again(found):
    """The demo's records were made with a mean bias of 0.90 in compression; the evaluation must say so."""
    b = found.factors.set_index("limit_state")["b"]
    assert b["flexural buckling"] == pytest.approx(demo_records.BIAS["compression"][0], abs=0.06)
    moduli = found.values.set_index(["from", "value"])["mean_MPa"]
    assert moduli["member", "modulus"] == pytest.approx(demo_records.STIFFER * 1100.0, rel=0.02)


def test_each_record_gives_back_the_peak_that_its_header_states(found):
    """The header of a generated record names its bias: measured ÷ planned must be that."""
    folder = inputs.pieces_file(stages.open_study(DEMO)).parent
    used = found.table[(found.table["status"] == "used") & (found.table["test"] == "member")]
    used = used[~used["piece"].str.startswith("X")]
    keys = ["outline", "orientation_deg", "load_case"]
    planned = pd.read_csv(folder / "predictions.csv").set_index(keys)["predicted_load"]
    for _, row in used.iterrows():
        stated = float(re.search(r"bias ([\d.]+)", (folder / row["record"]).read_text(encoding="utf-8"))[1])
        ratio = row["measured_load"] / planned[tuple(row[keys])]
        assert ratio == pytest.approx(stated, abs=0.012)


def test_faulty_records_are_left_out_with_their_reason_and_stop_nothing(found):
    rows = found.table.set_index("piece")
    assert "kN and N" in rows.loc["X1", "reason"]
    assert "exchanged" in rows.loc["X2", "reason"]
    assert rows.loc[["X1", "X2"], "measured_load"].isna().all()
    assert "slipped" in rows.loc["X3", "findings"]
    assert np.isnan(rows.loc["X3", "energy_J"])


def test_records_are_kept_as_they_came(found, ready):
    _, folder, _ = ready
    for _, row in found.table.iterrows():
        original = carried(f"params/trials/{row['record']}").read_bytes()
        if row["sha256"]:
            assert (folder.path / "records" / row["record"]).read_bytes() == original


def test_invented_records_are_marked_wherever_they_appear(found, ready):
    study, folder, sections = ready
    assert found.invented and found.table["invented"].all()
    assert "invented-records" in trial_telling.caveats(study, folder)
    members = stages.make_members(study, study.variants[0], sections).table
    shown = trial_telling.parts(trialling.kept_trials(folder), type("Found", (), {"members": members}))
    assert "invented" in shown[0].text and "invented" in shown[1].text
    captions = [part.caption for part in shown if hasattr(part, "caption") and part.key != "trial-rules"]
    assert len(captions) >= 6
    assert all("nvented" in caption for caption in captions)


def test_the_order_is_said_predictions_before_records(found):
    assert "not after the first test" in found.order
    assert "10 were planned" in found.order
    assert "before the first record was read" in found.order


def test_a_second_run_knows_that_records_were_read_under_these_predictions(found, ready):
    study, folder, sections = ready
    again = trialling.run_trials(study, folder, sections)
    assert "written before the first record was read" in again.order
    pd.testing.assert_frame_equal(again.table, found.table)


def test_changed_predictions_after_reading_break_the_order(found, ready, tmp_path):
    _, folder, sections = ready
    text = (
        DEMO.read_text(encoding="utf-8")
        .replace("mean: 15 MPa", "mean: 19 MPa")
        .replace("mean: 1100", "mean: 1300")
    )
    for name in ("trials", "drawings"):
        shutil.copytree(DEMO.parent / name, tmp_path / name)
    (tmp_path / "study.yml").write_text(text, encoding="utf-8")
    changed = stages.open_study(tmp_path / "study.yml")
    before = folder.notes(results.LEDGER)
    trials = trialling.run_trials(changed, folder, sections)
    assert "the order was not kept" in trials.order
    assert "have changed since" in trials.order
    folder.write_notes(results.LEDGER, before)


def test_a_plan_after_reading_is_refused(found, ready):
    study, folder, _ = ready
    there = folder.path / results.PLAN
    there.mkdir(exist_ok=True)
    (there / results.PREDICTIONS).write_text("piece\n")
    with pytest.raises(InputError, match="would not come first"):
        planning.make_plan(study, folder.path.parent, 1)
    shutil.rmtree(there)


def test_the_demo_records_are_made_again_the_same(tmp_path):
    """One file gives one set of records, byte for byte, and the carried ones have the same names."""
    made = []
    for number in "12":
        place = tmp_path / number
        for name in ("trials", "drawings"):
            shutil.copytree(DEMO.parent / name, place / name)
        shutil.copy(DEMO, place / DEMO.name)
        for file in (place / "trials").glob("*.csv"):
            file.unlink()
        folder = demo_records.write_demo(place / DEMO.name)
        made.append({file.name: file.read_bytes() for file in folder.glob("*.csv")})
    assert made[0] == made[1]
    assert set(made[0]) == {file.name for file in (DEMO.parent / "trials").glob("*.csv")}


def test_the_verb_plan_leaves_drawings_predictions_and_the_sheet(tmp_path, capsys):
    assert main(["plan", str(DEMO), "--results", str(tmp_path)]) == 0
    there = tmp_path / "saltmere-trials" / "plan"
    assert str(there / "test-sheet.html") in capsys.readouterr().out
    planned = pd.read_csv(there / "pieces.csv")
    assert len(planned) == 10
    assert len(list(there.glob("*.svg"))) == len(list(there.glob("*.dxf"))) == 10
    stamp = json.loads((there / "predictions.json").read_text())
    text = (there / "predictions.csv").read_bytes()
    import hashlib

    assert hashlib.sha256(text).hexdigest() == stamp["sha256"]


@pytest.mark.slow
def test_a_study_with_trials_runs_to_its_report(tmp_path):
    assert main(["run", str(DEMO), "--results", str(tmp_path), "--workers", "2"]) == 0
    folder = tmp_path / "saltmere-trials"
    report = (folder / "report.html").read_text(encoding="utf-8")
    for words in (
        "Trials (invented records)",
        "trial-parity",
        "EN 1990 Annex D",
        "The ranking after calibration",
    ):
        assert words in report
    assert {"trials.csv", "calibration.csv", "predictions.csv", "records"} <= {
        path.name for path in folder.iterdir()
    }


THIN = """
study: thin
title: A tube whose walls buckle first
outlines:
  - {from: shape, name: tube, shape: square-tube, dimensions: {depth: 100 mm, wall: 1 mm}}
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 30 mm, width: 30 mm}}
reference: {outline: bar}
material: steel-S235
load_cases: {compression: {length: 600 mm}}
report: {local_buckling: all}
test_plan: {pieces: 2, repeats: 1}
"""


def test_what_is_predicted_of_a_piece_is_what_the_study_says_of_it(tmp_path):
    """A square tube of b/t = 98: k = 4 puts its local critical stress below yield (Bryan, long simply supported plate)."""
    file = tmp_path / "thin.yml"
    file.write_text(THIN, encoding="utf-8")
    study = stages.open_study(file)
    sections = stages.make_sections(
        study, *stages.read_outlines(study, 1), results=tmp_path / "results", workers=1
    )
    folder = stages.folder_of(study, tmp_path / "results")
    critical = 4 * np.pi**2 * 210e3 / (12 * (1 - 0.3**2)) * (1 / 98) ** 2
    assert critical < 235
    members = stages.make_members(study, study.variants[0], sections, folder).table.set_index("outline")
    planned = planning.planned_pieces(study, sections, planning.curves_for(study, folder))
    said = {one.test.section["outline"]: one.predicted for one in planned}
    assert said["tube"].limit_state == members.loc["tube", "limit_state"] == "local"
    for name, prediction in said.items():
        assert prediction.load == pytest.approx(members.loc[name, "resistance_N"], rel=1e-9)
