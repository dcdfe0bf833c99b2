"""What a write-up tells of trials: order, records, comparison, calibration, and what it does to the ranking."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.study.resolving import Study
from kit.study.results import Folder
from kit.study.stages import Assembled
from kit.study.trialling import Trials, kept_trials
from kit.trials import comparison
from kit.trials.detection import RULES
from kit.writeup import trial_charts
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

INVENTED = "**All records shown here are invented**: generated from the model with a stated bias and noise. "
ANNEX_D = (
    "EN 1990 Annex D presumes a random sample of one population. Pieces chosen to span the field are none, and few "
    "tests leave the scatter uncertain; the values judge the model for these pieces and are no basis for design. Its "
    "Table D1 is printed truncated (up to 0.8 % below the exact quantiles used here); in Table D2 the entry for "
    "infinitely many tests, 3.04, does not belong to the others, which follow 3.09."
)


def show(study: Study, folder: Folder, found: Assembled) -> None:
    """Display the whole section on trials; nothing where the study has none."""
    if study.model.trials is None:
        return
    from IPython.display import display

    trials = kept_trials(folder)
    for part in parts(trials, found):
        display(part)


def caveats(study: Study, folder: Folder) -> list[str]:
    """Caveats of the trials that no function carries."""
    return (
        ["invented-records"] if study.model.trials is not None and folder.notes("trials")["invented"] else []
    )


def parts(trials: Trials, found: Assembled) -> list:
    """Everything the section shows, in order."""
    invented = trials.invented
    shown = [
        Prose("## Trials" + (" (invented records)" if invented else "")),
        summary(trials),
        Prose(
            "### Records\n\nWhat is wrong with a record is found by the rules of [Table](#tab:trial-rules)."
        ),
        records(trials),
        rules(),
        trial_charts.records(trials.curves, trials.table, invented),
        Prose("### Measured and predicted"),
        trial_charts.parity(trials.table, invented),
        trial_charts.residuals(trials.table, invented),
        by_limit_state(trials),
        trial_charts.load_and_mass(trials.table, found.members, invented),
        Prose(f"### Calibration\n\n{ANNEX_D}"),
        calibration(trials),
        values(trials),
        ranking(trials),
    ]
    return [part for part in shown if part is not None]


def summary(trials: Trials) -> Prose:
    """How many, in which order, how far off."""
    table_ = trials.table
    used = table_[table_["status"] == "used"]
    ratio = pd.to_numeric(used["measured_over_predicted"], errors="coerce").dropna()
    inside = int((used["inside_interval"] == "yes").sum())
    words = prose(
        "{pieces} were tested; {left} left out. Measured loads are {mean} times the predicted ones on average, from "
        "{low} to {high}; {inside} of {known} lie inside the 95 % interval of their prediction.",
        pieces=count(len(table_), "piece"),
        left=count(int((table_["status"] != "used").sum()), "record was", "records were"),
        mean=number(float(ratio.mean())) if len(ratio) else "unknown",
        low=number(float(ratio.min())) if len(ratio) else "unknown",
        high=number(float(ratio.max())) if len(ratio) else "unknown",
        inside=inside,
        known=len(ratio),
    ).text
    order = prose("{order}", order=trials.order).text
    return Prose(f"{INVENTED if trials.invented else ''}{words}\n\n**Predictions first?** {order}")


def records(trials: Trials) -> Table:
    """Every piece: its record with its hash, how it was read, what was noticed."""
    rows = trials.table.assign(sha256=[str(value)[:12] for value in trials.table["sha256"]])
    rows["noticed"] = rows["reason"].astype(str).where(rows["reason"].astype(str) != "", rows["findings"])
    shown = rows[["piece", "outline", "load_case", "record", "sha256", "status", "layout", "noticed"]]
    return table(shown, "trial-pieces", _told(trials, "Pieces and records; SHA-256 in full in trials.csv."))


def rules() -> Table:
    """The rules by which records are judged."""
    return table(
        pd.DataFrame(RULES, columns=["what", "rule"]), "trial-rules", "What is done with unsound records."
    )


def by_limit_state(trials: Trials) -> Table | None:
    """Mean and scatter of measured ÷ predicted by limit state."""
    frame = comparison.residuals(trials.table, "limit_state")
    if frame.empty:
        return None
    frame["mean ratio"] = np.exp(frame.pop("mean_log"))
    frame["scatter"] = [share(value) if np.isfinite(value) else "" for value in frame.pop("deviation_log")]
    return table(frame, "trial-residuals", _told(trials, "Measured ÷ predicted by limit state."))


def calibration(trials: Trials) -> Table | None:
    """Corrections by limit state, with characteristic and design values where there are tests enough."""
    if trials.factors.empty:
        return None
    caption = (
        "Correction of the model by limit state (EN 1990 Annex D): b with its 95 % interval, V_δ, k_n for this number of "
        "tests with V unknown, characteristic and design resistance as shares of the prediction with mean values "
        "and drawn sizes. "
        "Judged on designs left out."
    )
    return table(trials.factors, "trial-calibration", _told(trials, caption), most=50)


def values(trials: Trials) -> Table | None:
    """Material values from coupons and members."""
    if trials.values.empty:
        return None
    caption = "Material values estimated again, with 95 % intervals of the means."
    return table(trials.values, "trial-material", _told(trials, caption))


def ranking(trials: Trials) -> Prose:
    """How the correction changed the ranking, or why it cannot."""
    lines = "\n".join(f"- {prose('{line}', line=line).text}" for line in trials.verdicts)
    return Prose(
        "### The ranking after calibration\n\nA limit state is corrected only where it has at least four tests and "
        "its correction foretells designs that were left out better than the raw model does.\n\n" + lines
    )


def _told(trials: Trials, caption: str) -> str:
    return f"{trial_charts.INVENTED}{caption}" if trials.invented else caption
