"""Published values recomputed by the kit: a value of the world outside beside ours.

The values and their sources stand in ``tests/published/checks.csv``; the functions that recompute
them register here by the value's id. Tests run all of them; a write-up runs those of its study.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterable

import pandas as pd

from kit.places import carried

COMPUTE: dict[str, tuple[str, Callable[[], float]]] = {}


def check(identifier: str) -> Callable:
    """Decorator: the function without arguments recomputes the published value ``identifier``.

    It returns the value in the published unit. One function may carry several such decorators only if
    the values are equal; use :func:`checks_by` for tables.
    """

    def decorate(compute: Callable[[], float]) -> Callable:
        checks_by({identifier: compute})
        return compute

    return decorate


def checks_by(table: dict[str, Callable[[], float]]) -> None:
    """Register many computations at once, by the id of the value."""
    twice = sorted(set(table) & set(COMPUTE))
    if twice:
        raise ValueError(f"registered twice: {', '.join(twice)}")
    COMPUTE.update({identifier: (_caller(), compute) for identifier, compute in table.items()})


def _caller() -> str:
    """The module of this package that is registering: the nearest one up the stack."""
    frame = inspect.currentframe()
    while frame is not None:
        name = frame.f_globals.get("__name__", "")
        if name.startswith(f"{__name__}."):
            return name
        frame = frame.f_back
    return __name__


def published() -> pd.DataFrame:
    """The published values, indexed by ``id``: topic, quantity, input, expected, units, rel_tol, source …"""
    return pd.read_csv(carried("tests/published/checks.csv"), index_col="id", keep_default_na=False)


def registered(areas: Iterable[str] | None = None) -> dict[str, Callable[[], float]]:
    """The computations there are, by the id of the value.

    Parameters
    ----------
    areas : iterable of str, optional
        Modules of this package (``sections``, ``members`` …); all of them by default.
    """
    there = [module.name for module in pkgutil.iter_modules(__path__)]
    for name in there:
        importlib.import_module(f"{__name__}.{name}")
    wanted = {f"{__name__}.{name}" for name in (there if areas is None else areas)}
    return {identifier: compute for identifier, (area, compute) in COMPUTE.items() if area in wanted}


def recompute(areas: Iterable[str] | None = None, most: int | None = None, seed: int = 1) -> pd.DataFrame:
    """Recompute published values now.

    Parameters
    ----------
    areas : iterable of str, optional
        Modules of this package; all of them by default.
    most : int, optional
        How many values, a sample of every topic in its share; all of them by default.
    seed : int
        Of that sample.

    Returns
    -------
    DataFrame
        The rows of :func:`published` with ``computed``, ``difference`` (relative) and ``passed``.
    """
    compute = registered(areas)
    rows = _sample(published().loc[sorted(compute)], most, seed)
    rows["expected"] = rows["expected"].astype(float)
    rows["rel_tol"] = rows["rel_tol"].astype(float)
    rows["computed"] = [float(compute[identifier]()) for identifier in rows.index]
    scale = rows["expected"].abs().where(rows["expected"] != 0, 1.0)
    rows["difference"] = (rows["computed"] - rows["expected"]) / scale
    # A tolerance of zero means the printed value itself, which floating point meets to its last digits.
    rows["passed"] = rows["difference"].abs() <= rows["rel_tol"].clip(lower=1e-12)
    return rows


def _sample(rows: pd.DataFrame, most: int | None, seed: int) -> pd.DataFrame:
    """At most so many rows, every topic in its share and none left out, in their order."""
    if most is None or most >= len(rows):
        return rows.copy()
    shuffled = rows.sample(frac=1.0, random_state=seed)
    place = (shuffled.groupby("topic").cumcount() + 0.5) / shuffled.groupby("topic")["topic"].transform(
        "size"
    )
    first = place.groupby(shuffled["topic"]).transform("min")
    chosen = place.where(place > first, 0.0).sort_values(kind="stable").index[:most]
    return rows.loc[sorted(chosen)].copy()
