"""The JSON Schema and the reference table of the parameter file, made from its model."""

import json
import re
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic_core import PydanticUndefined

from kit import quantities
from kit.study.fields import Keys, Unit, Words
from kit.study.keys_members import KINDS
from kit.study.keys_outlines import SOURCES
from kit.study.not_yet import NOT_YET
from kit.study.parameters import StudyFile

SCHEMA = "A JSON Schema for editors: `python -m kit.study.reference schema.json`."
FOLD = "<details><summary>Every key: meaning, unit, default, required</summary>"
START, END = "<!-- keys:start -->", "<!-- keys:end -->"


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a parameter file, for editors."""
    schema = StudyFile.model_json_schema(by_alias=True)
    # The kind of a load case may be left out where its name says it, so that more than one may fit.
    cases = schema["properties"]["load_cases"]["additionalProperties"]
    cases["anyOf"] = cases.pop("oneOf")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def reference_table() -> str:
    """Markdown table of every key: meaning, unit, default, required."""
    rows = [
        "| key | meaning | unit | default | required |",
        "| --- | --- | --- | --- | --- |",
    ]
    rows += [f"| {' | '.join(row)} |" for row in table_rows(StudyFile)]
    return "\n".join(rows)


def table_rows(model: type, path: str = "") -> list[tuple[str, str, str, str, str]]:
    """Key path, meaning, unit, default and required of each key of a model, depth first."""
    rows = []
    for name, field in model.model_fields.items():
        key = f"{path}{field.alias or name}"
        meaning = f"{field.description or ''}{_words(field)}{_refused(key)}".replace("|", "\\|")
        required = "yes" if field.is_required() else ""
        rows.append((f"`{key}`", meaning, _unit(field), _default(field), required))
        rows += _nested_rows(key, field.annotation)
    return rows


def _nested_rows(key: str, annotation: Any) -> list[tuple[str, str, str, str, str]]:
    if key == "outlines":
        return [row for name, model in SOURCES.items() for row in table_rows(model, f"outlines[{name}].")]
    if key == "load_cases":
        return [row for name, model in KINDS.items() for row in table_rows(model, f"load_cases.<{name}>.")]
    model, many = _model_in(annotation)
    return table_rows(model, f"{key}{many}.") if model else []


def _model_in(annotation: Any) -> tuple[type | None, str]:
    """The model inside a type, and how its place is written: ``.<name>`` in a mapping, ``[]`` in a list."""
    if hasattr(annotation, "model_fields"):
        return annotation, ""
    many = {dict: ".<name>", tuple: "[]", list: "[]"}.get(get_origin(annotation), "")
    for part in get_args(annotation):
        model, inner = _model_in(part)
        if model:
            return model, many + inner
    return None, ""


def _refused(key: str) -> str:
    """A remark at keys that are not available yet."""
    plain = key.replace("[", ".").replace("]", "")
    for pattern in NOT_YET:
        head, sign, value = re.fullmatch(r"(.*?)(?:(!?=)(.*))?", pattern).groups()
        parts, wanted = plain.split("."), head.split(".")
        same = len(parts) == len(wanted) and all(w in ("*", p) for w, p in zip(wanted, parts, strict=True))
        if same and parts[-1] == "from" and value != parts[1]:
            continue
        if same:
            only = (
                "" if not sign or parts[-1] == "from" else f"only {value}: " if sign == "!=" else f"{value}: "
            )
            return f" ({only}others not available yet)" if sign == "!=" else f" ({only}not available yet)"
    return ""


def _words(field: Any) -> str:
    """The words a key accepts, where its meaning does not say them already."""
    mark = _mark(field, Words)
    words = [word for word in mark.accepted if word not in (field.description or "")] if mark else []
    if len(words) < 2:
        return ""
    return f": {' · '.join(f'`{word}`' for word in mark.accepted)}"


def _unit(field: Any) -> str:
    mark = _mark(field, Unit)
    if mark is None:
        return ""
    units = list(quantities.DIMENSIONS[mark.dimension][1])
    return f"{mark.dimension}: {', '.join(units[:3])}{' …' if len(units) > 3 else ''}"


def _mark(field: Any, kind: type) -> Any:
    """The first mark of a kind on a field's type or on the items of it."""
    return _mark_in([*field.metadata, field.annotation], kind)


def _mark_in(parts: list, kind: type) -> Any:
    for part in parts:
        if isinstance(part, kind):
            return part
        if not hasattr(part, "model_fields"):
            found = _mark_in([*getattr(part, "__metadata__", ()), *get_args(part)], kind)
            if found:
                return found
    return None


def _default(field: Any) -> str:
    if field.is_required() or field.default in (None, PydanticUndefined):
        return ""
    value, mark = field.default, _mark(field, Unit)
    if isinstance(value, Keys):
        return ""
    items = value if isinstance(value, (tuple, list)) else [value]
    shown = [quantities.text_of(v, mark.dimension) if mark else _plain(v) for v in items]
    return ", ".join(shown) if value not in ({}, (), "") else ""


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else str(value)


def with_table(text: str) -> str:
    """A page with the reference table between its markers brought up to date.

    Raises
    ------
    ValueError
        If the page does not hold the two markers once each, in order.
    """
    if text.count(START) != 1 or text.count(END) != 1 or text.index(START) > text.index(END):
        raise ValueError(f"the page needs {START} and {END} once each, in this order")
    head, tail = text.split(START)[0], text.split(END)[1]
    return f"{head}{START}\n\n{SCHEMA}\n\n{FOLD}\n\n{reference_table()}\n\n</details>\n\n{END}{tail}"


def write(file: Path) -> None:
    """Bring the table of a page up to date, or write the JSON Schema where the name ends in ``.json``."""
    if file.suffix == ".json":
        text = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    else:
        text = with_table(file.read_text(encoding="utf-8"))
    file.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    import sys

    for name in sys.argv[1:]:
        write(Path(name))
