"""Measured beside predicted: one row a piece, the curves of both, and the reasons where there is no number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from kit.errors import Unusable
from kit.members.cases import LoadCase
from kit.members.service import at_service
from kit.trials import coupons
from kit.trials.detection import Sound, examine
from kit.trials.findings import LEFT_OUT, Finding
from kit.trials.layout import RecordFormat
from kit.trials.pieces import Piece, record_file
from kit.trials.prediction import Prediction, Test
from kit.trials.records import Record, read_record
from kit.trials.reduction import Choices, Reduced, implausible, reduce
from kit.trials.setups import Rig, Setup, as_measured, setup_of


@dataclass(frozen=True)
class Trial:
    """A piece with its record, reduced, beside its prediction.

    Attributes
    ----------
    piece : Piece
    test : Test or None
        None for coupons.
    prediction : Prediction or None
    record : Record or None
    sound : Sound or None
    reduced : Reduced or None
    setup : Setup or None
    reason : str
        Why it is left out; empty where it is used.
    """

    piece: Piece
    test: Test | None
    prediction: Prediction | None
    record: Record | None = None
    sound: Sound | None = None
    reduced: Reduced | None = None
    setup: Setup | None = None
    reason: str = ""

    @property
    def invented(self) -> bool:
        """Whether the record was generated and not measured."""
        return self.piece.invented or bool(self.record and self.record.invented)


def with_length(case: LoadCase, piece: Piece) -> LoadCase:
    """The load case at the piece's own span or length."""
    if case.kind == "bending":
        return replace(case, span_mm=piece.span_mm) if piece.span_mm else case
    return replace(case, length_mm=piece.length_mm) if piece.length_mm else case


def read_trial(
    trial: Trial, folder: Path, given: RecordFormat = RecordFormat(), choices: Choices = Choices()
) -> Trial:
    """Read and reduce the record of a piece; a record that cannot be used leaves a reason and stops nothing.

    Parameters
    ----------
    trial : Trial
        With its prediction made already.
    folder : Path
        Of the pieces' table.
    given : RecordFormat
    choices : Choices
    """
    kind = trial.test.case.kind if trial.test else "bending"
    try:
        setup = _setup(trial)
        trial = replace(trial, setup=setup)
        record = read_record(record_file(trial.piece, folder), given, kind)
        trial = replace(trial, record=record)
        sound = examine(record, trial.piece.broke)
        reduced = reduce(sound, setup, choices)
    except Unusable as reason:
        return replace(trial, reason=str(reason))
    trial = replace(trial, sound=sound, reduced=reduced)
    why = implausible(reduced.stiffness / trial.prediction.stiffness) if trial.prediction else ""
    if why:
        finding = Finding("units", why, LEFT_OUT)
        return replace(trial, reason=why, reduced=replace(reduced, findings=(*reduced.findings, finding)))
    return trial


def _setup(trial: Trial) -> Setup:
    piece = trial.piece
    if trial.test is None:
        if not (piece.width_mm and piece.depth_mm and piece.span_mm):
            raise Unusable("a coupon needs its measured width, depth and span")
        rig = Rig(piece.compliance_mm_per_N or 0.0)
        return coupons.coupon_setup(
            coupons.Coupon(piece.test, piece.width_mm, piece.depth_mm, piece.span_mm), rig
        )
    try:
        section = as_measured(trial.test.section, piece.width_mm, piece.depth_mm)
    except ValueError as error:
        raise Unusable(f"{error}; is it the right piece?") from None
    return setup_of(section, trial.test.case, trial.test.material, trial.test.rig)


def row(trial: Trial, material: str = "") -> dict:
    """A row of ``trials.csv``."""
    piece, found = trial.piece, trial.reduced or Reduced()
    ready = found if not trial.reason else Reduced(findings=found.findings)
    predicted = trial.prediction
    load = predicted.load if predicted else np.nan
    torque = bool(trial.setup and trial.setup.kind == "torsion")
    return {
        "piece": piece.name, "record": piece.record, "sha256": trial.record.sha256 if trial.record else "",
        "outline": piece.outline, "orientation_deg": piece.orientation_deg, "variant": piece.variant,
        "load_case": piece.load_case, "test": piece.test, "material": material, "batch": piece.batch,
        "date": piece.date, "invented": trial.invented, "status": "left out" if trial.reason else "used",
        "reason": trial.reason, "findings": "; ".join(str(finding) for finding in ready.findings),
        "layout": trial.record.layout.words() if trial.record and trial.record.layout else "",
        "limit_state": predicted.limit_state if predicted else "",
        "predicted_load": load, "predicted_low": predicted.low if predicted else np.nan,
        "predicted_v_rt": predicted.v_rt if predicted else np.nan,
        "predicted_high": predicted.high if predicted else np.nan,
        "measured_load": ready.peak_load, "measured_low": ready.peak_low, "measured_high": ready.peak_high,
        "load_unit": "N mm" if torque else "N", "measured_over_predicted": ready.peak_load / load,
        "inside_interval": _inside(ready.peak_load, predicted), "mass_kg": piece.mass_kg or np.nan,
        "predicted_mass_kg": predicted.mass_kg if predicted else np.nan,
        "predicted_stiffness": predicted.stiffness if predicted else np.nan, "measured_stiffness": ready.stiffness,
        "stiffness_unit": "N mm/rad" if torque else "N/mm", "modulus_kind": trial.setup.modulus if trial.setup else "",
        "modulus_MPa": ready.modulus_MPa, "modulus_low_MPa": ready.modulus_low_MPa,
        "modulus_high_MPa": ready.modulus_high_MPa, "window_strain_low": ready.window_strain[0],
        "window_strain_high": ready.window_strain[1], "window_points": ready.window_points, "toe_travel": ready.toe,
        "travel_unit": "rad" if torque else "mm", "stroke": ready.stroke, "yield_load": ready.yield_load,
        "energy_J": ready.energy / 1000.0, "strength_MPa": ready.strength_MPa,
        "assumed_modulus_MPa": _assumed(trial, "modulus"), "assumed_strength_MPa": _assumed(trial, "tension"),
    }  # fmt: skip


def _inside(load: float, predicted: Prediction | None) -> str:
    if predicted is None or not np.isfinite(load) or not np.isfinite(predicted.low):
        return ""
    return "yes" if predicted.low <= load <= predicted.high else "no"


def _assumed(trial: Trial, name: str) -> float:
    if trial.test is None:
        return np.nan
    state = at_service(trial.test.material, trial.test.service)
    modulus = "shear_modulus" if trial.setup and trial.setup.modulus == "G" else "modulus"
    return float(getattr(state, modulus if name == "modulus" else name))


def table(trials: list[Trial], materials: list[str]) -> pd.DataFrame:
    """``trials.csv``: a row for each piece."""
    return pd.DataFrame([row(trial, name) for trial, name in zip(trials, materials, strict=True)])


def residuals(trials: pd.DataFrame, by: str) -> pd.DataFrame:
    """ln(measured ÷ predicted) by a column: tests, mean and standard deviation, in per cent of the load."""
    known = trials[
        np.isfinite(trials["measured_over_predicted"].astype(float)) & (trials["status"] == "used")
    ]
    logs = np.log(known["measured_over_predicted"].astype(float))
    groups = logs.groupby(known[by].astype(str), sort=True)
    return groups.agg(tests="size", mean_log="mean", deviation_log="std").rename_axis(by).reset_index()
