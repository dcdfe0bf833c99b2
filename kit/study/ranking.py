"""Ranks by merit, said only where they can be said, with intervals that resample families.

Rows are ranked together only inside one variant and one load case, and only where the same limit states
were checked. Identical outlines count once. There is no rank over several load cases unless the study
gives weights.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

COLUMNS = [
    "variant", "load_case", "level", "item", "orientation_deg", "limit_states_checked",
    "rank", "rank_low", "rank_high", "of", "merit", "merit_low", "merit_high", "flip_probability", "families", "dropped",
]  # fmt: skip
LEAST_FAMILIES = 5
DIGITS = 7  # of a merit, beyond the first: what rounding decides does not make a rank
# Three routes to one question, "is it stable under the load?"; which one holds depends on the section's axes.
STABILITY = "stability in bending"
ROUTES = {
    "lateral-torsional buckling": STABILITY,
    "second-order bending and twist": STABILITY,
    "twisting under the load": STABILITY,
}

COMPLETE = ", complete faces"
"""Ends the level of ranks that were repeated on the faces complete in every character."""
WALLS = ("distortional", "local")


@dataclass(frozen=True)
class Resampling:
    """How intervals are made: bootstrap samples of the families, their seed and the level kept.

    Attributes
    ----------
    samples, seed : int
    level : float
        Share of the samples inside the interval.
    unit : str
        What is drawn again and again: ``family``, ``style`` or ``outline``; ``none``: no intervals.
    """

    samples: int = 1000
    seed: int = 1
    level: float = 0.95
    unit: str = "family"

    @property
    def columns(self) -> list[str]:
        """Columns that name one unit."""
        return {"family": ["family"], "style": ["family", "style"]}.get(self.unit, ["outline"])


def comparable(checked: str) -> str:
    """What a row was checked for, whichever route was taken to it: rows with equal answers compare."""
    states = [ROUTES.get(state, state) for state in checked.split("; ")] if checked else []
    return "; ".join(sorted(dict.fromkeys(states)))


def behind_merit(members: pd.DataFrame) -> pd.Series:
    """The limit states that each row's merit rests on, in one wording.

    Where only a shortlist's walls were looked at, merits leave them out for every row; what they do stands
    in ``merit_with_walls``.
    """
    checked = members["limit_states_checked"].map(comparable)
    if "merit_with_walls" not in members:
        return checked
    return checked.map(lambda text: "; ".join(one for one in text.split("; ") if one not in WALLS))


def checked_apart(members: pd.DataFrame) -> pd.Series:
    """What a row was checked for and others of its load case were not, or the reverse; "" where all are alike.

    Rows are ranked together only where this is equal: ``bearing checked`` and ``bearing not checked`` make two
    ranks. Variants are not told apart by it, unless one of them has both kinds.
    """
    states = behind_merit(members).map(lambda text: frozenset(filter(None, text.split("; "))))
    said = pd.Series("", index=members.index)
    known = np.isfinite(members["merit"].astype(float))
    for _, rows in states.groupby(members["load_case"], sort=False):
        varying: set[str] = set()
        ranked = rows[known[rows.index]]
        for _, here in ranked.groupby(members.loc[ranked.index, "variant"], sort=False):
            varying |= frozenset().union(*here) - frozenset.intersection(*here)
        if varying:
            said[rows.index] = [_checked(one & varying, varying) for one in rows]
    return said


def _checked(there: frozenset[str], varying: set[str]) -> str:
    return f"{' and '.join(sorted(there or varying))} {'checked' if there else 'not checked'}"


def once(members: pd.DataFrame) -> pd.DataFrame:
    """The members with identical outlines counted once, and what they were checked for in one wording."""
    key = ["variant", "load_case", "content", "orientation_deg"]
    alike = members.assign(limit_states_checked=behind_merit(members))
    return alike.drop_duplicates(key, ignore_index=True) if "content" in alike else alike


def by_outline(members: pd.DataFrame) -> pd.DataFrame:
    """Rank of every outline by its merit, 1 the best, within variant, load case and limit states checked.

    ``merit_low``, ``merit_high`` and ``flip_probability`` are those of the members, where the study states an
    uncertainty.

    Returns
    -------
    DataFrame
        A row per ranked member with the columns of ``ranks.csv``; members without a merit have no rank.
    """
    rows = once(members)
    rows = rows[np.isfinite(rows["merit"])]
    told_apart = rows.assign(merit=_told_apart(rows["merit"]))
    groups = told_apart.groupby(["variant", "load_case", "limit_states_checked"], sort=False)["merit"]
    ranks = rows[["variant", "load_case", "orientation_deg", "limit_states_checked", "merit"]].assign(
        level="outline",
        item=rows["outline"],
        rank=groups.rank(ascending=False, method="min").astype(int),
        of=groups.transform("size"),
        families=1,
        dropped=0,
    )
    for column in ("rank_low", "rank_high"):
        ranks[column] = np.nan
    for column in ("merit_low", "merit_high", "flip_probability"):
        ranks[column] = rows.get(column, np.nan)
    ranks = ranks.sort_values(["variant", "load_case", "limit_states_checked", "rank", "item"], kind="stable")
    return ranks[COLUMNS].reset_index(drop=True)


def by_group(members: pd.DataFrame, group: str, resampling: Resampling = Resampling()) -> pd.DataFrame:
    """Rank of every value of a column (``character``, a label) by the median merit over families.

    A family enters with the median of its styles, so that many styles do not outvote one. The interval is
    the bootstrap over families, not styles, unless the study says otherwise; with fewer than five there is
    none. Where families themselves are ranked, characters are resampled.

    Parameters
    ----------
    members : DataFrame
        With ``family``, ``merit``, ``outline`` and the column ``group``; rows where it is empty stay out.
    group : str
        The column to group by.
    resampling : Resampling
        Samples, seed and level of the intervals.

    Returns
    -------
    DataFrame
        Columns of ``ranks.csv``; ``dropped`` counts the members of the item that have no merit.
    """
    rows = once(members)
    rows = rows[rows[group].astype(str) != ""]
    case = ["variant", "load_case"]
    lost = rows[~np.isfinite(rows["merit"])].groupby([*case, group, "orientation_deg"]).size()
    parts = [
        _one_group(part, group, resampling, lost).assign(
            variant=variant, load_case=load_case, level=group, limit_states_checked=checked
        )
        for (variant, load_case, checked), part in rows.groupby(
            ["variant", "load_case", "limit_states_checked"], sort=False
        )
        if np.isfinite(part["merit"]).any()
    ]
    if not parts:
        return pd.DataFrame(columns=COLUMNS)
    return pd.concat(parts, ignore_index=True).reindex(columns=COLUMNS)


def complete(members: pd.DataFrame) -> pd.DataFrame:
    """The members of the faces that have a merit for every character, in every variant, load case and orientation.

    What drops out of a group is not drawn at random: a rank that rests on other faces for each character may differ
    from one among faces that have them all.
    """
    case = [members["variant"], members["load_case"]]
    assessed = np.isfinite(members["merit"].astype(float)).groupby(case).transform("any")
    named = (members["family"].astype(str) != "") & (members["character"].astype(str) != "")
    letters = members[named & assessed]  # a load case that none was assessed in tells no face from another
    face = [letters["family"], letters["style"]]
    known = letters["character"].where(np.isfinite(letters["merit"].astype(float)))
    asked = [letters["variant"], letters["load_case"], letters["orientation_deg"]]
    there = known.groupby([*face, *asked]).nunique()
    least = there.groupby(level=[0, 1]).min()
    whole = set(least.index[least == letters["character"].nunique()])
    return letters[[one in whole for one in zip(*face, strict=True)]]


def by_complete_faces(
    members: pd.DataFrame, group: str, resampling: Resampling = Resampling()
) -> pd.DataFrame:
    """The ranks of :func:`by_group` again among complete faces; no row where all are complete, or none is."""
    few = complete(members)
    faces = [
        len(one.drop_duplicates(["family", "style"]))
        for one in (few, members[members["family"].astype(str) != ""])
    ]
    if faces[0] in (0, faces[1]):
        return pd.DataFrame(columns=COLUMNS)
    ranks = by_group(few, group, resampling)
    return ranks.assign(level=ranks["level"] + COMPLETE)


def _one_group(part: pd.DataFrame, group: str, resampling: Resampling, lost: pd.Series) -> pd.DataFrame:
    items = [group, "orientation_deg"]
    # Where families themselves are ranked, their characters are what can be drawn again.
    units = ["character"] if group == "family" else resampling.columns
    table = part.pivot_table(index=units, columns=items, values="merit", aggfunc="median", observed=True)
    values = table.to_numpy()
    middle = np.nanmedian(values, axis=0)
    low, high = _intervals(values, resampling)
    first = part.iloc[0]
    dropped = [int(lost.get((first["variant"], first["load_case"], *item), 0)) for item in table.columns]
    ranks = pd.DataFrame(
        {
            "item": [str(item) for item, _ in table.columns],
            "orientation_deg": [angle for _, angle in table.columns],
            "rank": _ranks(middle[None, :])[0],
            "rank_low": low[0],
            "rank_high": high[0],
            "of": len(table.columns),
            "merit": middle,
            "merit_low": low[1],
            "merit_high": high[1],
            "families": np.isfinite(values).sum(axis=0),
            "dropped": dropped,
        }
    )
    return ranks.sort_values(["rank", "item"], kind="stable")


def _told_apart(merits: pd.Series) -> np.ndarray:
    """Merits without the digits that only rounding decides: in tension all merits are equal, and so are ranks."""
    values = merits.to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = 10.0 ** (np.floor(np.log10(np.abs(values))) - DIGITS)
        return np.where(values == 0, 0.0, np.round(values / unit) * unit)


def _ranks(merits: np.ndarray) -> np.ndarray:
    """Rank of each column in each row, 1 for the greatest, equal ones the better rank; NaN ranks last."""
    rounded = np.round(np.nan_to_num(merits, nan=-np.inf), DIGITS)
    return pd.DataFrame(rounded).rank(axis=1, method="min", ascending=False).to_numpy().astype(int)


def _intervals(values: np.ndarray, resampling: Resampling) -> tuple[np.ndarray, np.ndarray]:
    """Bootstrap percentiles of rank and merit (2 × items each), NaN with too few families."""
    families, items = values.shape
    if families < LEAST_FAMILIES or resampling.unit == "none":
        nothing = np.full((2, items), np.nan)
        return nothing, nothing
    generator = np.random.default_rng(resampling.seed)
    merits = np.empty((resampling.samples, items))
    with np.errstate(all="ignore"):
        for sample in range(resampling.samples):
            chosen = values[generator.integers(families, size=families)]
            merits[sample] = _nanmedian(chosen)
    tail = 100.0 * (1.0 - resampling.level) / 2.0
    both = [
        np.vstack(
            [
                np.percentile(_ranks(merits), edge, axis=0),
                np.nanpercentile(np.where(np.isfinite(merits), merits, np.nan), edge, axis=0),
            ]
        )
        for edge in (tail, 100.0 - tail)
    ]
    return both[0], both[1]


def _nanmedian(values: np.ndarray) -> np.ndarray:
    """Median of each column over what is finite; NaN where nothing is."""
    ordered = np.sort(values, axis=0)  # NaN last
    known = np.isfinite(values).sum(axis=0)
    columns = np.arange(values.shape[1])
    lower = ordered[np.maximum((known - 1) // 2, 0), columns]
    upper = ordered[np.minimum(known // 2, len(values) - 1), columns]
    return np.where(known > 0, 0.5 * (lower + upper), np.nan)


def overall(members: pd.DataFrame, weights: dict[str, float]) -> pd.DataFrame:
    """Rank over several load cases by the weighted geometric mean of the merits, for the weights given.

    Parameters
    ----------
    weights : dict
        Load case → weight, as the study states them. Outlines without a merit in one of them are left out.

    Returns
    -------
    DataFrame
        Columns of ``ranks.csv``; the load case is ``weighted``. Outlines are ranked together only where the same
        was checked in every load case.
    """
    rows = once(members)
    rows = rows[rows["load_case"].isin(weights)]
    key = ["variant", "outline", "orientation_deg"]
    table = rows.pivot_table(index=key, columns="load_case", values="merit").reindex(columns=list(weights))
    table = table.dropna()
    checked = rows.drop_duplicates([*key, "load_case"]).set_index([*key, "load_case"])["limit_states_checked"]
    checked = checked.unstack().reindex(index=table.index, columns=list(weights))
    share = np.array([weights[case] for case in table.columns]) / sum(weights.values())
    with np.errstate(
        divide="ignore", invalid="ignore"
    ):  # one that carries nothing in one of them has no merit
        logs = np.log(table.to_numpy())
        merit = np.exp(np.where(share > 0, share * logs, 0.0).sum(axis=1))
    ranks = table.index.to_frame(index=False).rename(columns={"outline": "item"})
    ranks = ranks.assign(merit=merit, limit_states_checked=[_in_each(row) for _, row in checked.iterrows()])
    groups = ranks.assign(merit=_told_apart(ranks["merit"])).groupby(["variant", "limit_states_checked"])[
        "merit"
    ]
    ranks["rank"] = groups.rank(ascending=False, method="min").astype(int)
    ranks["of"] = groups.transform("size")
    ranks = ranks.assign(load_case="weighted", level="overall", families=1, dropped=0)
    order = ["variant", "limit_states_checked", "rank", "item"]
    ranks = ranks.sort_values(order, kind="stable", ignore_index=True)
    return ranks.reindex(columns=COLUMNS)


def _in_each(checked: pd.Series) -> str:
    """What was checked, load case by load case."""
    return " | ".join(f"{case}: {states}" for case, states in checked.items())
