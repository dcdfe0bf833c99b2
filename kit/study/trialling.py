"""The trials of a study: predictions first, then the records, then comparison and calibration."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from kit import sources
from kit.errors import InputError
from kit.study import walls
from kit.study.inputs import pieces_file
from kit.study.planning import curves_for, rig_of, spread_of, test_of
from kit.study.resolving import Study, Variant
from kit.study.results import LEDGER, PLAN, PREDICTIONS, TRIAL_TABLES, Folder, write_csv, write_whole
from kit.study.sectioning import Sections
from kit.study.stages import reference_row, sections_of, variant_named
from kit.trials import calibration, comparison
from kit.trials.layout import RecordFormat
from kit.trials.pieces import Piece, read_pieces, record_file
from kit.trials.prediction import as_row, digest, predict
from kit.trials.reduction import Choices, binned
from kit.trials.setups import Rig

CURVE_POINTS = 120


@dataclass(frozen=True)
class Trials:
    """What the trials gave.

    Attributes
    ----------
    table : DataFrame
        ``trials.csv``.
    factors : DataFrame
        ``calibration.csv``.
    ranks : DataFrame
        Raw and corrected ranks of every section.
    values : DataFrame
        Material values estimated again.
    curves : DataFrame
        Measured and predicted curves with the lines of the reduction: piece, what, travel, load.
    order : str
        Whether predictions came first.
    verdicts : tuple of str
        What calibration does to the ranking, a sentence a load case.
    invented : bool
    used : frozenset of str
    """

    table: pd.DataFrame
    factors: pd.DataFrame
    ranks: pd.DataFrame
    values: pd.DataFrame
    curves: pd.DataFrame
    order: str
    verdicts: tuple[str, ...]
    invented: bool
    used: frozenset[str]


def predicted(study: Study, sections: Sections, where: walls.Where | None = None) -> list[comparison.Trial]:
    """A trial without its record for each piece: who is tested, and what is predicted."""
    known: dict[tuple, tuple] = {}
    return [_predicted(study, sections, piece, (known, where)) for piece in read_pieces(pieces_file(study))]


def _predicted(study: Study, sections: Sections, piece: Piece, kept: tuple) -> comparison.Trial:
    known, where = kept
    if piece.test != "member":
        return comparison.Trial(piece, None, None)
    variant = variant_of(study, piece)
    cases = {case.name: case for case in variant.cases}
    if piece.load_case not in cases:
        raise InputError(
            f"{piece.load_case!r} is no load case",
            f"{pieces_file(study)}, piece {piece.name}",
            ", ".join(cases),
        )
    case = comparison.with_length(cases[piece.load_case], piece)
    table = sections_of(study, variant, sections)
    turned = (table["orientation_deg"] - piece.orientation_deg) % 360 == 0
    rows = table[(table["outline"] == piece.outline) & turned]
    if rows.empty:
        reason = f"the study has no section {piece.outline!r} at {piece.orientation_deg:g}°"
        return comparison.Trial(piece, None, None, reason=reason)
    key = (variant.name, case, piece.outline, piece.orientation_deg, piece.compliance_mm_per_N)
    if key not in known:
        test = test_of(study, variant, case, rows.iloc[0], sections, where)
        if piece.compliance_mm_per_N is not None:
            test = replace(test, rig=Rig(piece.compliance_mm_per_N, rig_of(study, case).indentation))
        known[key] = (test, predict(test, spread_of(variant, case.kind)))
    return comparison.Trial(piece, *known[key])


def variant_of(study: Study, piece: Piece) -> Variant:
    """The variant a piece was made for: the first one unless its row says otherwise."""
    return variant_named(study, piece.variant) if piece.variant else study.variants[0]


def run_trials(study: Study, folder: Folder, sections: Sections) -> Trials:
    """Predict, write the predictions down, and only then read and reduce the records.

    Parameters
    ----------
    study : Study
    folder : Folder
    sections : Sections
    """
    keys = study.model.trials
    given = RecordFormat(
        keys.record_format.delimiter,
        keys.record_format.decimal,
        dict(keys.record_format.columns or {}),
        dict(keys.record_format.units or {}),
    )
    choices = Choices(keys.reduction.toe, tuple(keys.reduction.modulus_window))
    base = pieces_file(study).parent
    with sources.recording() as used:
        trials = predicted(study, sections, curves_for(study, folder))
        order = _write_predictions(study, folder, trials)
        trials = [
            trial if trial.reason else comparison.read_trial(trial, base, given, choices) for trial in trials
        ]
        _note_read(folder, trials)
        _keep_records(folder, trials, base)
        table = comparison.table(trials, [variant_of(study, trial.piece).material.key for trial in trials])
        table = _with_family(table, sections)
        factors = calibration.factors(table)
        ranks, verdicts = _ranks(study, sections, table, factors)
        values = calibration.material_values(table)
    curves = pd.concat([curves_of(trial) for trial in trials], ignore_index=True)
    invented = bool(table["invented"].any())
    return Trials(table, factors, ranks, values, curves, order, verdicts, invented, frozenset(used))


def _with_family(table: pd.DataFrame, sections: Sections) -> pd.DataFrame:
    families = sections.table.drop_duplicates("outline").set_index("outline")["family"]
    return table.assign(family=table["outline"].map(families).fillna(""))


def _write_predictions(study: Study, folder: Folder, trials) -> str:
    """Predictions written and hashed, before any record is opened; whether that came first, in words."""
    rows = [
        {"piece": trial.piece.name} | as_row(trial.prediction, trial.test) for trial in trials if trial.test
    ]
    table = pd.DataFrame(rows)
    write_csv(table, folder.path / PREDICTIONS)
    now = digest(table)
    read_before = folder.notes(LEDGER)
    earlier = folder.notes("predictions")
    folder.write_notes("predictions", {"sha256": now} | {k: v for k, v in earlier.items() if k == "first"})
    words = [f"The predictions have the SHA-256 {now}."]
    words += _against_plan(study, folder, table, [trial.piece for trial in trials])
    if read_before and read_before.get("predictions") != now:
        words.append(
            "They were changed after records had been read: the order was not kept for this version."
        )
    elif read_before:
        words.append("They are the ones that were written before the first record was read.")
    else:
        words.append("They were written and hashed before the first record was read in this results folder.")
    return " ".join(words)


def _against_plan(study: Study, folder: Folder, table: pd.DataFrame, pieces) -> list[str]:
    """What a plan made before the tests says about the order."""
    stated = study.model.trials.predictions
    file = (study.base / stated).resolve() if stated else folder.path / PLAN / PREDICTIONS
    if not file.is_file():
        return ["No plan was made before the tests, so that nothing shows what was predicted before them."]
    planned = pd.read_csv(file)
    stamp = file.with_suffix(".json")
    facts = json.loads(stamp.read_text(encoding="utf-8")) if stamp.is_file() else {}
    if facts.get("sha256") != digest(planned):
        return ["A plan was made, but its predictions do not have the hash that was written with them."]
    day = str(facts.get("written", ""))[:10]
    tested = sorted(piece.date for piece in pieces if piece.date)
    words = [f"The plan's predictions (SHA-256 {facts['sha256']}) were written on {day or 'an unknown day'}"]
    if day and tested and tested[0] < day:
        return [words[0] + f", after the first test on {tested[0]}: the order was not kept."]
    words[0] += f", not after the first test on {tested[0]}." if tested else "; the tests are not dated."
    return [*words, _changes(planned, table)]


def _changes(planned: pd.DataFrame, table: pd.DataFrame) -> str:
    """How the predictions of today differ from the plan's."""
    keys = ["outline", "orientation_deg", "load_case", "length_mm"]
    once = table.drop_duplicates(keys)
    both = once.merge(planned.drop_duplicates(keys), on=keys, suffixes=("", "_planned"))
    change = (both["predicted_load"] / both["predicted_load_planned"] - 1.0).abs()
    moved = int((change > 1e-6).sum())
    missing = len(once) - len(both)
    told = f"Of {len(once)} different tests {len(both)} were planned; "
    told += (
        f"{moved} predictions have changed since, by up to {change.max():.1%}."
        if moved
        else "none has changed since."
    )
    return told + (f" {missing} were not planned." if missing else "")


def _note_read(folder: Folder, trials) -> None:
    """The ledger of records that were read: when first, and under which predictions."""
    seen = folder.notes(LEDGER)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    records = dict(seen.get("records", {}))
    for trial in trials:
        if trial.record:
            records.setdefault(trial.record.sha256, now)
    first = seen.get("predictions") or folder.notes("predictions")["sha256"]
    folder.write_notes(LEDGER, {"predictions": first, "records": records})


def _keep_records(folder: Folder, trials, base: Path) -> None:
    """The raw records, byte for byte, beside the results."""
    for trial in trials:
        if trial.record:
            content = record_file(trial.piece, base).read_bytes()
            target = folder.path / "records" / trial.piece.record
            write_whole(target, lambda part, content=content: part.write_bytes(content))


def _ranks(study: Study, sections: Sections, table: pd.DataFrame, factors: pd.DataFrame):
    """Ranks of every section in the tested load cases, raw and corrected, and what is to be said of them."""
    variant = study.variants[0]
    rows = sections_of(study, variant, sections)
    reference = reference_row(study, rows)
    by_state = calibration.applied(factors)
    tested = set(table.loc[table["test"] == "member", "load_case"])
    parts = [
        calibration.ranking(rows, reference, case, (variant.material, variant.service), by_state)
        for case in variant.cases
        if case.name in tested
    ]
    if not parts:
        return pd.DataFrame(), ()
    return pd.concat(parts, ignore_index=True), tuple(
        calibration.ranking_verdict(part, by_state) for part in parts
    )


def curves_of(trial: comparison.Trial) -> pd.DataFrame:
    """What is drawn of a trial: piece, what, travel, load."""
    parts: list[tuple[str, np.ndarray, np.ndarray]] = []
    found, setup, sound = trial.reduced, trial.setup, trial.sound
    if sound is not None:
        parts.append(("measured", *binned(sound.displacement, sound.load, CURVE_POINTS)))
    if found is not None and np.isfinite(found.stiffness):
        top = np.array([0.0, 0.75 * (found.peak_load if np.isfinite(found.peak_load) else sound.load.max())])
        parts.append(("line of the modulus", found.toe + top / found.stiffness, top))
        ends = np.asarray(found.window_travel)
        parts.append(("window", ends, found.stiffness * (ends - found.toe)))
        if np.isfinite(found.yield_load):
            offset = setup.offset_strain / setup.strain_per_travel
            at = np.array([0.0, found.yield_load])
            parts.append(("offset line", found.toe + offset + at / found.stiffness, at))
    if found is not None and np.isfinite(found.peak_load):
        parts.append(("peak", np.array([found.peak_travel]), np.array([found.peak_load])))
    if trial.prediction is not None and len(trial.prediction.travel):
        # Laid over the record at its toe, so that both begin to carry at one place.
        toe = found.toe if found is not None and np.isfinite(found.stiffness) else 0.0
        parts.append(("predicted", trial.prediction.travel + toe, trial.prediction.loads))
    frames = [
        pd.DataFrame({"piece": trial.piece.name, "what": what, "travel": x, "load": y})
        for what, x, y in parts
    ]
    columns = ["piece", "what", "travel", "load"]
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=columns)


def keep_trials(folder: Folder, found: Trials) -> None:
    """Write the tables of the trials and what the report says of them."""
    for name, table in zip(TRIAL_TABLES, tables_of(found), strict=True):
        write_csv(table, folder.path / f"{name}.csv")
    folder.write_notes("trials", {"order": found.order, "verdicts": list(found.verdicts),
                                  "invented": found.invented, "used": sorted(found.used)})  # fmt: skip


def tables_of(found: Trials) -> tuple[pd.DataFrame, ...]:
    """The tables in the order of `TRIAL_TABLES`."""
    return found.table, found.factors, found.ranks, found.values, found.curves


def kept_trials(folder: Folder) -> Trials:
    """Read the trials back."""
    tables = [_read(folder.path / f"{name}.csv") for name in TRIAL_TABLES]
    notes = folder.notes("trials")
    used = frozenset(notes["used"])
    return Trials(*tables, notes["order"], tuple(notes["verdicts"]), notes["invented"], used)


def _read(file: Path) -> pd.DataFrame:
    """A table with its texts as texts; empty where it has no columns."""
    if not file.read_text(encoding="utf-8").strip():
        return pd.DataFrame()
    table = pd.read_csv(file)
    texts = table.select_dtypes(exclude="number").columns
    return table.assign(**{name: table[name].fillna("") for name in texts})
