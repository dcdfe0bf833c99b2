"""Records for the demo of test pieces, generated from the model with a stated bias and noise: invented, and marked so.

``python -m kit.study.demo_records FILE`` plans the study's tests and writes predictions, pieces and records
into the folder of its ``trials.pieces``. The same file gives the same records.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from kit.study import inputs, planning, stages
from kit.study.resolving import load_study
from kit.study.results import PREDICTIONS, write_text
from kit.trials import coupons, sheet, synthetic
from kit.trials.setups import Setup, setup_of

SEED = 20
POINTS = 260
# The bias that the evaluation must find again: measured ÷ predicted, and its scatter from design to design.
BIAS = {"bending": (1.08, 0.05), "compression": (0.90, 0.06), "tension": (1.0, 0.04), "torsion": (1.0, 0.05)}
STIFFER, NOISE, TOE_SHARE = 0.95, 0.002, 0.06
COUPON = coupons.Coupon("iso-178", 10.0, 4.0, 64.0)
PLANNED, TESTED = "2026-03-02T09:00:00+00:00", "2026-03-{:02d}"
HEAD = "# invented: generated from the model of {study}, bias {bias:.2f}, noise {noise:.1%} of the peak, seed {seed}"


@dataclass(frozen=True)
class Made:
    """One generated record and its row of the pieces' table."""

    row: dict
    text: str


def write_demo(file: Path) -> Path:
    """Write the demo's records beside its parameter file.

    Returns
    -------
    Path
        The folder that was written.
    """
    study = load_study(file)
    folder = inputs.pieces_file(study).parent
    with tempfile.TemporaryDirectory() as results:
        plan = planning.make_plan(study, Path(results))
        outlines, left_out = stages.read_outlines(study)
        sections = stages.make_sections(study, outlines, left_out, results=results)
        planned = planning.planned_pieces(study, sections)
        predictions = (plan / PREDICTIONS).read_text(encoding="utf-8")
        stamp = json.loads((plan / "predictions.json").read_text(encoding="utf-8"))
    made = list(_records(study.name, planned))
    write_text(folder / "predictions.csv", predictions)
    stamp |= {"written": PLANNED, "invented": "the day is invented, as the records are"}
    write_text(folder / "predictions.json", json.dumps(stamp, indent=1) + "\n")
    for one in made:
        write_text(folder / one.row["record"], one.text)
    table = pd.DataFrame([one.row for one in made])
    write_text(folder / "pieces.csv", table.to_csv(index=False, float_format="%.6g", lineterminator="\n"))
    return folder


def _records(study: str, planned: list[sheet.Planned]) -> Iterator[Made]:
    generator = np.random.default_rng(SEED)
    for number, one in enumerate(planned):
        mean, scatter = BIAS[one.test.case.kind]
        design = mean * np.exp(scatter * generator.standard_normal())
        for repeat in range(one.repeats):
            bias = design * np.exp(0.02 * generator.standard_normal())
            seed = 100 * number + repeat
            yield _member(study, one, (f"{one.name}-{'abcdefgh'[repeat % 8]}", bias, seed), generator)
    for repeat in range(3):
        yield _coupon(study, planned[0], repeat, generator)
    yield from _faulty(study, planned[0], generator)


def _member(study: str, one: sheet.Planned, what: tuple[str, float, int], generator) -> Made:
    name, bias, seed = what
    setup = setup_of(one.test.section, one.test.case, one.test.material, one.test.rig)
    modulus = STIFFER * one.test.material.youngs_modulus_MPa.mean * np.exp(0.02 * generator.standard_normal())
    load = bias * one.predicted.load
    toe = TOE_SHARE * load * setup.unit_compliance / modulus
    text = _text(study, setup, synthetic.Truth(modulus, load, toe), (bias, seed))
    mass = one.predicted.mass_kg * (1.0 + 0.004 * generator.standard_normal())
    row = _row(name, seed) | {
        "outline": one.test.section["outline"],
        "orientation_deg": one.test.section["orientation_deg"],
        "load_case": one.test.case.name,
        "mass_kg": mass,
        "width_mm": one.test.section["width_mm"] * (1.0 + 0.001 * generator.standard_normal()),
        "depth_mm": one.test.section["depth_mm"] * (1.0 + 0.001 * generator.standard_normal()),
    }
    return Made(row, text)


def _coupon(study: str, one: sheet.Planned, repeat: int, generator) -> Made:
    material = one.test.material
    seed = 9000 + repeat
    # Both standards leave shear out, so a coupon looks softer by its share.
    modulus = 0.98 * STIFFER * material.youngs_modulus_MPa.mean * np.exp(0.02 * generator.standard_normal())
    setup = coupons.coupon_setup(COUPON)
    load = 1.35 * material.yield_tension_MPa.mean / setup.stress_per_load
    text = _text(study, setup, synthetic.Truth(modulus, load, 0.05), (1.0, seed))
    row = _row(f"C{repeat + 1:02d}", seed) | {
        "outline": "coupon", "load_case": "flexure", "test": COUPON.standard, "width_mm": COUPON.width_mm,
        "depth_mm": COUPON.depth_mm, "span_mm": COUPON.span_mm,
    }  # fmt: skip
    return Made(row, text)


def _faulty(study: str, one: sheet.Planned, generator) -> Iterator[Made]:
    """Records as they should not be: load in newtons titled kN, columns exchanged, a piece that slipped."""
    sound = _member(study, one, ("X1", 1.0, 301), generator)
    yield Made(sound.row, sound.text.replace("Load [N]", "Load [kN]"))
    sound = _member(study, one, ("X2", 1.0, 304), generator)
    yield Made(sound.row, sound.text.replace("Load [N]\tDisplacement [mm]", "Displacement [mm]\tLoad [N]"))
    sound = _member(study, one, ("X3", 1.0, 307), generator)
    head, title, *lines = sound.text.splitlines()
    at = int(0.45 * len(lines))
    # It slides by a little: from there on the load lags behind the travel.
    loads = [line.split("\t")[0] for line in lines]
    behind = loads[:at] + loads[at - 9 : -9]
    rows = [f"{load}\t{line.split(chr(9))[1]}" for load, line in zip(behind, lines, strict=True)]
    yield Made(sound.row, "\n".join([head, title, *rows]) + "\n")


def _row(name: str, seed: int) -> dict:
    day = TESTED.format(9 + seed % 20)
    return {
        "piece": name, "record": f"{name}.csv", "outline": "", "orientation_deg": 0.0, "load_case": "",
        "test": "member", "mass_kg": np.nan, "width_mm": np.nan, "depth_mm": np.nan, "span_mm": np.nan,
        "batch": "invented-1", "date": day, "temperature_degC": 23.0, "rate": "5 mm/min", "machine": "invented",
        "invented": "yes",
    }  # fmt: skip


def _text(study: str, setup: Setup, truth: synthetic.Truth, told: tuple[float, int]) -> str:
    """The record, written in one of three manners, as different machines would."""
    bias, seed = told
    travel, load = synthetic.clean(truth, setup, POINTS)
    load = synthetic.noisy(load, truth.peak_load, seed, NOISE)
    head = HEAD.format(study=study, bias=bias, noise=NOISE, seed=seed)
    seconds = travel * 12.0
    if seed % 3 == 0:
        rows = [
            f"{t:.1f};{x:.4f};{f / 1000:.5f}".replace(".", ",")
            for t, x, f in zip(seconds, travel, load, strict=True)
        ]
        return "\n".join([head, "Time;Travel;Force", "s;mm;kN", *rows]) + "\n"
    if seed % 3 == 1:
        rows = [f"{-f:.2f}\t{-x:.4f}" for x, f in zip(travel, load, strict=True)]
        return "\n".join([head, "Load [N]\tDisplacement [mm]", *rows]) + "\n"
    rows = [f"{n},{x:.4f},{f:.2f}" for n, (x, f) in enumerate(zip(travel, load, strict=True))]
    return "\n".join([head, "Row,Deflection (mm),Load (N)", *rows]) + "\n"


if __name__ == "__main__":
    print(write_demo(Path(sys.argv[1])))
