"""Published values recomputed by the kit: a value of the world outside beside ours.

The values and their sources stand in ``tests/published/checks.csv``; the functions that recompute
them register here by the value's id. Tests run all of them; a write-up runs those of its study.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable

import pandas as pd

from kit.places import carried

COMPUTE: dict[str, Callable[[], float]] = {}


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
    COMPUTE.update(table)


def published() -> pd.DataFrame:
    """The published values, indexed by ``id``: topic, quantity, input, expected, units, rel_tol, source …"""
    return pd.read_csv(carried("tests/published/checks.csv"), index_col="id", keep_default_na=False)


def registered() -> dict[str, Callable[[], float]]:
    """Every computation there is, by the id of the value (imports all modules of this package)."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return dict(COMPUTE)


def recompute(identifiers: list[str] | None = None) -> pd.DataFrame:
    """Recompute published values now.

    Parameters
    ----------
    identifiers : list of str, optional
        Which; all that are registered by default.

    Returns
    -------
    DataFrame
        The rows of :func:`published` with ``computed``, ``difference`` (relative) and ``passed``.
    """
    compute = registered()
    rows = published().loc[identifiers if identifiers is not None else sorted(compute)].copy()
    rows["expected"] = rows["expected"].astype(float)
    rows["rel_tol"] = rows["rel_tol"].astype(float)
    rows["computed"] = [float(compute[identifier]()) for identifier in rows.index]
    scale = rows["expected"].abs().where(rows["expected"] != 0, 1.0)
    rows["difference"] = (rows["computed"] - rows["expected"]) / scale
    rows["passed"] = rows["difference"].abs() <= rows["rel_tol"]
    return rows
