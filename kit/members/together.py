"""Load cases that act on one member at once: data, and what may act together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kit.errors import InputError
from kit.members.cases import LoadCase

EXPRESSIONS = ("linear", "AISC 360 H1")


@dataclass(frozen=True)
class Together:
    """Load cases that act on one member at once, by name, with the load of each (N, or N mm for torsion).

    Raises
    ------
    InputError
        Fewer than two loads, one that is not above zero, or an unknown expression.
    """

    name: str
    loads: tuple[tuple[str, float], ...]
    expression: str = "linear"

    def __post_init__(self):
        where = f"interactions.{self.name}"
        checked_loads(self.loads, f"{where}.loads")
        if self.expression not in EXPRESSIONS:
            raise InputError(
                f"'{self.expression}' is no interaction expression",
                f"{where}.expression",
                f"one of: {', '.join(EXPRESSIONS)}",
            )


def checked_loads(loads: Sequence[tuple[str, float]], where: str) -> None:
    """Refuse fewer than two loads, and one that is not above zero."""
    if len(dict(loads)) < 2:
        raise InputError(f"{len(loads)} load cases", where, "two or more that act at once")
    for name, load in loads:
        if not (math.isfinite(load) and load > 0):
            raise InputError(f"a load of {load:g}", f"{where}.{name}", "above zero")


def misfit(cases: Sequence[LoadCase], expression: str) -> tuple[str, str] | None:
    """Why load cases cannot act on one member at once by an expression, and what to do; None where they can."""
    kinds = [case.kind for case in cases]
    if len({case.length_mm for case in cases}) > 1:
        told = ", ".join(f"{case.name} {case.length_mm:g} mm" for case in cases)
        return f"a member has one length, not {told}", "load cases of one span or length"
    if {"compression", "tension"} <= set(kinds):
        return "compression and tension at once", "one of them"
    if expression == "AISC 360 H1" and set(kinds) not in ({"compression", "bending"}, {"tension", "bending"}):
        return "AISC 360, H1 is for an axial force and bending", "such load cases, or expression: linear"
    return None
