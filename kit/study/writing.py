"""Write a study's parameters as they were resolved: a file that can itself be run again."""

import io
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ruamel.yaml import YAML
from ruamel.yaml.scalarstring import DoubleQuotedScalarString

from kit.study.not_yet import not_yet

if TYPE_CHECKING:
    from kit.study.resolving import Study

HEAD = """\
# The parameters of this study as they were resolved: every default is written out, quantities are in the
# units used inside the kit, paths lead to the same files. This file can be run again as it is.
"""
_GUESSED = re.compile(r"|y|n|yes|no|on|off|true|false|null|~|[-+.,:_eExXoO0-9]+", re.IGNORECASE)


def resolved_yaml(study: "Study", folder: Path | None = None) -> str:
    """The parameter file with every default written out.

    Parameters
    ----------
    study : Study
    folder : Path, optional
        Where the file will lie; paths are written relative to it. Absolute paths without it.

    Returns
    -------
    str
        YAML; read again, it gives the same study.
    """
    values = study.model.model_dump(by_alias=True, exclude_none=True, mode="json")
    # Defaults of keys that are not available yet are left out: read again, they would be refused.
    for path, *_ in not_yet(values):
        _dropped(values, path)
    values = _moved(values, study.base, folder)
    yaml = YAML()
    yaml.width = 110
    yaml.default_flow_style = False
    text = io.StringIO()
    yaml.dump(_styled(_without_empty(values)), text)
    return HEAD + text.getvalue()


def _dropped(values: Any, path: tuple) -> None:
    for part in path[:-1]:
        values = values[part]
    del values[path[-1]]


def moved(path: str, base: Path, folder: Path | None) -> str:
    """A path of a parameter file in ``base``, as it must be written in ``folder``."""
    if path.startswith("installed:") or Path(path).is_absolute():
        return path
    there = base / path
    if folder is None:
        return Path(os.path.normpath(there)).as_posix()
    try:
        return Path(os.path.relpath(there, folder.resolve())).as_posix()
    except ValueError:  # another drive
        return Path(os.path.normpath(there)).as_posix()


def _moved(values: dict, base: Path, folder: Path | None) -> dict:
    """The same values with every path led from another folder."""

    def at(holder: Any, *keys: str) -> None:
        for key in keys[:-1]:
            holder = holder.get(key) if isinstance(holder, dict) else None
        if isinstance(holder, dict) and isinstance(holder.get(keys[-1]), str) and holder[keys[-1]]:
            holder[keys[-1]] = moved(holder[keys[-1]], base, folder)

    for entry in values["outlines"]:
        if "files" in entry:
            entry["files"] = [moved(file, base, folder) for file in entry["files"]]
        at(entry, "labels")
    for material in values.get("materials", {}).values():
        at(material, "stress_strain")
    at(values, "exclude")
    at(values, "trials", "pieces")
    at(values, "trials", "predictions")
    at(values, "report", "compare_with")
    _move_varied(values.get("variants", {}), base, folder)
    return values


def _move_varied(variants: dict, base: Path, folder: Path | None) -> None:
    """Paths among the varied values: curves of materials."""
    for key, items in variants.get("vary", {}).items():
        if key.endswith(".stress_strain"):
            variants["vary"][key] = [moved(item, base, folder) for item in items]
    for named in variants.get("named", []):
        for key, value in named["set"].items():
            if key.endswith(".stress_strain"):
                named["set"][key] = moved(value, base, folder)


def _without_empty(value: Any) -> Any:
    """Without empty mappings, lists and texts: they say nothing."""
    if isinstance(value, dict):
        kept = {key: _without_empty(item) for key, item in value.items()}
        return {key: item for key, item in kept.items() if item not in ({}, [], "")}
    return [_without_empty(item) for item in value] if isinstance(value, list) else value


def _styled(value: Any) -> Any:
    """Text that another YAML reader would take for a number, a boolean or nothing is put in quotes."""
    if isinstance(value, dict):
        return {_styled(key): _styled(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_styled(item) for item in value]
    if isinstance(value, str) and _GUESSED.fullmatch(value):
        return DoubleQuotedScalarString(value)
    return value
