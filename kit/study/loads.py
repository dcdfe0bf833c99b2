"""Loads of the parameter file that act at once: read and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kit import quantities
from kit.errors import InputError
from kit.members.together import misfit
from kit.study.fields import suggestion


def load_of(text: str, kind: str) -> float:
    """A load with its unit: N, or N mm for torsion.

    Raises
    ------
    InputError
        If it is not one, or not above zero.
    """
    dimension = "moment" if kind == "torsion" else "force"
    value = quantities.parse(text, dimension)
    if not value > 0:
        raise InputError(f"{text!r} is out of range", "", f"a {dimension} above 0")
    return value


@dataclass(frozen=True)
class _Named:
    """What decides whether load cases fit together, of a load case of the parameter file."""

    name: str
    kind: str
    length_mm: float


def problem_of(keys: Any, load_cases: Mapping[str, Any]) -> tuple[tuple, str, str] | None:
    """What is wrong with one entry under ``interactions``: path below it, what was found, what would do."""
    for case, text in keys.loads.items():
        if case not in load_cases:
            near = suggestion(case, load_cases)
            return (
                ("loads", case),
                f"{case!r} is no load case of this study{near}",
                f"one of: {', '.join(load_cases)}",
            )
        try:
            load_of(text, load_cases[case].kind)
        except InputError as error:
            return ("loads", case), error.what, error.todo
    found = [_Named(case, load_cases[case].kind, _length(load_cases[case])) for case in keys.loads]
    wrong = misfit(found, keys.expression)
    return None if wrong is None else (("loads",), *wrong)


def _length(keys: Any) -> float:
    return keys.span if keys.kind == "bending" else keys.length
