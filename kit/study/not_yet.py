"""Keys of the parameter file whose capability is not there yet.

A row here refuses the key as "not available yet", so that it is never silently ignored. Whoever adds the
capability takes the row out.
"""

from typing import Any

from kit.study.yaml_reader import dotted

# Key path (* stands for any one part; "key=value" for that value): what to do meanwhile.
NOT_YET: dict[str, str] = {
    "outlines.*.from=dxf": "save the drawing as SVG",
    "outlines.*.from=points": "write the rings as the path of an SVG",
    "outlines.*.axes": "leave it out: the default instance is used",
    "outlines.*.choose": "name the files themselves",
    "outlines.*.labels": "leave it out",
    "outlines.*.designation": "give shape and dimensions",
    "exclude": "leave the outlines out of `outlines`",
    "uncertainty": "leave it out: results are for mean values",
    "test_plan": "leave it out",
    "trials": "leave it out",
    "report.compare_with": "leave it out",
}


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
    key, _, wanted = parts[0].partition("=")
    if key == "*":
        items = enumerate(values) if isinstance(values, list) else getattr(values, "items", tuple)()
        for name, value in items:
            yield from _matches(value, parts[1:], (*path, name))
    elif isinstance(values, dict) and key in values and (not wanted or values[key] == wanted):
        yield from _matches(values[key], parts[1:], (*path, key))
