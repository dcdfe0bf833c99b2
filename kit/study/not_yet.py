"""Keys of the parameter file whose capability is not there yet.

A row here refuses the key as "not available yet", so that it is never silently ignored. Whoever adds the
capability takes the row out.
"""

import re
from typing import Any

from kit.study.yaml_reader import dotted

# Key path (* stands for any one part; key=value for that value only, key!=value for any other): what to do.
NOT_YET: dict[str, str] = {}


def not_yet(values: Any, table: dict[str, str] | None = None) -> list[tuple[tuple, str, str]]:
    """Every key in the file that is not available yet.

    Parameters
    ----------
    values : nested dicts and lists
        The file as it was read.
    table : dict, optional
        `NOT_YET` without it.

    Returns
    -------
    list of (path, what, todo)
    """
    found = []
    for pattern, todo in (NOT_YET if table is None else table).items():
        for path, value in _matches(values, tuple(pattern.split("."))):
            if value is not None:
                shown = f"{path[-1]}: {value}" if "=" in pattern else dotted(path)
                found.append((path, f"{shown} is not available yet", todo))
    return found


def _matches(values: Any, parts: tuple[str, ...], path: tuple = ()):
    if not parts:
        yield path, values
        return
    key, sign, wanted = re.fullmatch(r"(.*?)(?:(!?=)(.*))?", parts[0]).groups()
    if key == "*":
        items = enumerate(values) if isinstance(values, list) else getattr(values, "items", tuple)()
        for name, value in items:
            yield from _matches(value, parts[1:], (*path, name))
    elif isinstance(values, dict) and key in values:
        same = sign and _same(values[key], wanted)
        if not sign or same == (sign == "="):
            yield from _matches(values[key], parts[1:], (*path, key))


def _same(value: Any, wanted: str) -> bool:
    """Equal as text, or as numbers: 1.0 is 1."""
    try:
        return value == wanted or float(value) == float(wanted)
    except (TypeError, ValueError):
        return False
