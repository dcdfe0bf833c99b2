"""Say every problem of a parameter file on one screen: key path, line, found, accepted."""

import re
import textwrap
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from kit.errors import InputError
from kit.quantities import EXAMPLES
from kit.study.fields import Unit, suggestion
from kit.study.keys_members import KINDS, kind_in
from kit.study.keys_outlines import SOURCES
from kit.study.yaml_reader import Document, dotted

IN_FULL = 6
MOST_SHOWN = 30
WIDTH = 100
MISSING = "the key is missing"
TOO_SHORT = "the list is empty or too short"


@dataclass(frozen=True)
class Problem:
    """One thing to mend: where (key path), what was found, what would be accepted."""

    path: tuple
    what: str
    todo: str


def problems_of(error: ValidationError, values: Any, model: type) -> list[Problem]:
    """Pydantic's errors in the words and key paths of the file."""
    found = list(dict.fromkeys(_problem(item, values, model) for item in error.errors()))
    return [problem for problem in found if not _follows(problem, found)]


def _follows(problem: Problem, others: list[Problem]) -> bool:
    """Whether a problem only follows from another: a misspelt key, a list short of its refused items."""
    path = problem.path
    if problem.what == MISSING:
        near = f"did you mean {path[-1]!r}?"
        return any(near in p.what and p.path[:-1] == path[:-1] for p in others)
    within = any(len(p.path) > len(path) and p.path[: len(path)] == path for p in others)
    return problem.what == TOO_SHORT and within


def raise_all(problems: list[Problem], document: Document) -> None:
    """Raise one InputError that shows the problems; nothing to raise without any."""
    if not problems:
        return
    problems = sorted(problems, key=lambda p: (_line(p, document) or 0, dotted(p.path)))
    show = _in_full if len(problems) <= IN_FULL else _in_short
    shown = [show(problem, document) for problem in problems[:MOST_SHOWN]]
    count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
    if len(problems) > MOST_SHOWN:
        shown.append(f"  … and {len(problems) - MOST_SHOWN} more; they show once these are mended")
    raise InputError("\n".join(shown), f"{document.file}: {count}")


def _line(problem: Problem, document: Document) -> int | None:
    path = problem.path
    return next(
        (document.lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in document.lines), None
    )


def _head(problem: Problem, document: Document) -> str:
    line = _line(problem, document)
    return f"  {dotted(problem.path) or 'the file'}" + (f" (line {line})" if line else "")


def _in_full(problem: Problem, document: Document) -> str:
    rows = [f"found: {problem.what}", f"accepted: {problem.todo}" if problem.todo else ""]
    body = [
        textwrap.fill(
            textwrap.shorten(row, 420, placeholder=" …"),
            WIDTH,
            initial_indent="    ",
            subsequent_indent="      ",
        )
        for row in rows
        if row
    ]
    return "\n".join([_head(problem, document), *body])


def _in_short(problem: Problem, document: Document) -> str:
    """One line, so that many problems still fit on one screen."""
    todo = f"; accepted: {problem.todo}" if problem.todo else ""
    text = f"{_head(problem, document).strip()}: {problem.what}{todo}"
    return "  " + textwrap.shorten(text, 2 * WIDTH - 4, placeholder=" …")


def _problem(item: dict, values: Any, model: type) -> Problem:
    context = item.get("ctx") or {}
    path = tuple(context["path"]) if "path" in context else _key_path(item["loc"], values)
    kind = item["type"]
    if kind == "kit":
        return Problem(path, context["found"], context["accepted"])
    if kind == "extra_forbidden":
        return _unknown_key(path, item, values, model)
    if kind == "missing":
        return Problem(path, MISSING, _meaning(path, values, model) or "this key is required")
    if kind in ("union_tag_not_found", "union_tag_invalid"):
        return _no_tag(path, values)
    what, todo = _WORDS.get(kind, (item["msg"], ""))
    given = _value_at(values, path)
    what = what or f"{_short(given)} does not belong here"
    todo = todo.format(**{k: v for k, v in context.items() if isinstance(v, (int, str))}) if todo else ""
    return Problem(path, "nothing is given" if given is None else what, todo or item["msg"])


_WORDS = {
    "model_type": ("", "keys, each with its value"),
    "model_attributes_type": ("", "keys, each with its value"),
    "dict_type": ("", "names, each with its value"),
    "tuple_type": ("", "a list, such as [a, b]"),
    "list_type": ("", "a list, such as [a, b]"),
    "too_short": (TOO_SHORT, "at least {min_length}"),
    "too_long": ("the list is too long", "at most {max_length}"),
    "string_pattern_mismatch": ("", "text of the form {pattern}"),
    "string_type": ("", "text"),
    "literal_error": ("", "one of: {expected}"),
}


def _key_path(loc: tuple, values: Any) -> tuple:
    """Pydantic's location without the names of union members and without keys nobody wrote."""
    if loc and loc[0] in ("outlines", "load_cases"):
        loc = (*loc[:2], *loc[3:])  # the third part names the member of the union
    path: list = []
    here = values
    for part in loc:
        if part == "[key]":
            continue
        if path and (here is None or isinstance(here, str)):
            break
        path.append(part)
        here = _value_at(here, (part,))
    return tuple(path)


def _value_at(values: Any, path: tuple) -> Any:
    for part in path:
        if isinstance(values, dict):
            values = values.get(part)
        elif isinstance(values, list) and isinstance(part, int) and part < len(values):
            values = values[part]
        elif isinstance(values, list) or values is None:
            return None
        else:
            return values
    return values


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _model_at(path: tuple, values: Any, model: type) -> type | None:
    """The model whose keys stand at a path; None where there is none."""
    here: Any = model
    for depth, part in enumerate(path):
        owner = here if hasattr(here, "model_fields") else None
        fields = (
            {field.alias or name: field.annotation for name, field in owner.model_fields.items()}
            if owner
            else {}
        )
        here = fields.get(part) if owner else _item(here)
        if depth == 1 and path[0] in ("outlines", "load_cases"):
            here = _chosen(path[:2], values)
        if get_origin(here) not in (dict, tuple, list):
            here = _first_model(here)
    return here if hasattr(here, "model_fields") else None


def _item(annotation: Any) -> Any:
    arguments = get_args(annotation)
    return arguments[-1 if get_origin(annotation) is dict else 0] if arguments else None


def _chosen(path: tuple, values: Any) -> type | None:
    """Which of the models of an outline entry or a load case this one is."""
    entry = _value_at(values, path)
    if not isinstance(entry, dict):
        return None
    if path[0] == "outlines":
        return SOURCES.get(entry.get("from"))
    return KINDS.get(entry.get("kind") or kind_in(str(path[1])))


def _first_model(annotation: Any) -> Any:
    """The model inside an optional or annotated type; the type itself where it holds none."""
    if hasattr(annotation, "model_fields") or get_origin(annotation) in (dict, tuple, list):
        return annotation
    for part in get_args(annotation):
        found = _first_model(part)
        if hasattr(found, "model_fields") or get_origin(found) in (dict, tuple, list):
            return found
    return None


def keys_of(model: type) -> list[str]:
    """The keys a mapping of this model may hold, as they are written."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _meaning(path: tuple, values: Any, model: type) -> str:
    owner = _model_at(path[:-1], values, model)
    if owner is None:
        return ""
    for name, field in owner.model_fields.items():
        if (field.alias or name) == path[-1]:
            unit = next((mark for mark in field.metadata if isinstance(mark, Unit)), None)
            example = f", such as {EXAMPLES[unit.dimension]}" if unit else ""
            return f"{field.description or ''}{example}"
    return ""


def _unknown_key(path: tuple, item: dict, values: Any, model: type) -> Problem:
    owner = _model_at(path[:-1], values, model)
    known = keys_of(owner) if owner else []
    key = str(path[-1])
    if item["input"] is None and re.match(r"[0-9]", key):
        return Problem(path, f"{key!r} stands alone after a comma", "a point as decimal sign, as in 1.5 m")
    what = f"the key {key!r} is not known{' here' if len(path) > 1 else ''}{suggestion(key, known)}"
    others = [name for name, kind in KINDS.items() if path[0] == "load_cases" and key in keys_of(kind)]
    if others and owner in KINDS.values():
        what = f"{key!r} is a key of {' and '.join(others)}, not of {owner.__name__.lower()}"
    return Problem(path, what, "" if "did you mean" in what else f"one of: {', '.join(known)}")


def _no_tag(path: tuple, values: Any) -> Problem:
    given = _value_at(values, path)
    if not isinstance(given, dict):
        return Problem(path, f"{_short(given)} where keys belong", "keys, each with its value")
    key, known = ("from", SOURCES) if path[0] == "outlines" else ("kind", KINDS)
    word = given.get(key)
    accepted = f"one of: {', '.join(known)}"
    if word is None:
        extra = ", or a name of the load case that says it" if key == "kind" else ""
        return Problem((*path, key), "the key is missing", accepted + extra)
    return Problem((*path, key), f"{word!r} is not known here{suggestion(str(word), known)}", accepted)
