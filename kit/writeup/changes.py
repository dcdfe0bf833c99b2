"""What changed against the results of an earlier study: sections, members and ranks, joined by what they are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from kit.study.differences import (
    ABSENT,
    COMPARED,
    DIFFERS,
    Difference,
    compare,
    earlier_folder,
    read_table,
    tables,
)
from kit.study.resolving import Study
from kit.study.results import Folder, as_written
from kit.study.stages import Assembled
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

MOST = 12
NAMED = 6


def show(study: Study, folder: Folder, found: Assembled) -> None:
    """Display the section on changes; nothing where the study names no earlier results."""
    earlier = earlier_folder(study, folder)
    if earlier is None:
        return
    from IPython.display import display

    for part in parts(earlier, folder.path, found):
        display(part)


def parts(earlier: Path, now: Path, found: Assembled) -> list:
    """Everything the section shows, in order."""
    compared = compare(earlier, now, COMPARED)
    moved = ranks_moved(*(read_table(as_written(folder / "ranks.csv")) for folder in (earlier, now)))
    opening = prose("Against the earlier results in “{name}”.", name=earlier.name).text
    shown = [Prose(f"## What changed\n\n{opening} Rows are joined by what they are about; a number counts as changed from "
                   f"one part in a million on."), overview(compared)]  # fmt: skip
    members = next((one for one in compared if one.table == "members"), None)
    if members is not None and members.verdict == DIFFERS:
        shown.append(greatest(members))
    shown.append(moved)
    return [part for part in shown if part is not None]


def overview(compared: list[Difference]) -> Table:
    """Each table: its verdict, rows that came and went, values that changed."""
    rows = [
        (
            f"{one.table}.csv",
            one.verdict,
            _some(one.added),
            _some(one.removed),
            _some(one.columns),
            len(one.changed),
            "–" if one.verdict == ABSENT else f"{one.greatest:.1e}",
        )
        for one in compared
    ]
    columns = [
        "table",
        "verdict",
        "added",
        "removed",
        "columns of one only",
        "values changed",
        "greatest difference",
    ]
    return table(
        pd.DataFrame(rows, columns=columns), "changes", "This study’s tables against the earlier ones."
    )


def _some(names: tuple[str, ...]) -> str:
    if not names:
        return "0"
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return f"{len(names)}: {'; '.join(names[:NAMED])}{more}"


def greatest(members: Difference) -> Table | None:
    """The members whose merit or resistance changed most."""
    telling = members.changed[
        members.changed["column"].isin(["merit", "resistance_N", "resistance_Nmm", "limit_state"])
    ]
    if telling.empty:
        return None
    shown = telling.head(MOST).assign(
        before=[_short(value) for value in telling.head(MOST)["before"]],
        after=[_short(value) for value in telling.head(MOST)["after"]],
        change=[share(v) if np.isfinite(v) else "–" for v in telling.head(MOST)["relative"]],
    )
    caption = f"The greatest of {count(len(telling), 'change')} in resistance, merit and limit state."
    return table(shown[["row", "column", "before", "after", "change"]], "changed-members", caption)


def _short(value: object) -> str:
    try:
        return number(float(value), digits=4) if str(value) != "" else "not assessed"
    except ValueError:
        return str(value)


def ranks_moved(before: pd.DataFrame, after: pd.DataFrame) -> Table | Prose:
    """Outlines whose rank changed, the greatest moves first."""
    found = tables("ranks", before[before["level"] == "outline"], after[after["level"] == "outline"])
    moves = found.changed[found.changed["column"] == "rank"] if len(found.changed) else found.changed
    if moves.empty:
        return Prose("No outline that both studies ranked changed its rank.")
    places = moves.assign(before=pd.to_numeric(moves["before"]), after=pd.to_numeric(moves["after"]))
    places["places"] = (places["before"] - places["after"]).astype(int)
    places = places.reindex(places["places"].abs().sort_values(ascending=False, kind="stable").index)
    shown = places.head(MOST).assign(
        row=[row.replace(", outline, ", ", ") for row in places.head(MOST)["row"]]
    )
    shown = shown.assign(before=shown["before"].astype(int), after=shown["after"].astype(int))
    caption = f"The greatest moves of {len(places)} changed ranks (places up, or down where negative)."
    return table(shown[["row", "before", "after", "places"]], "moved-ranks", caption)
