"""Which variants a study has: every combination of the varied values, and the named ones."""

import itertools
import re
import unicodedata
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from kit.study.fields import suggestion
from kit.study.parameters import StudyFile, validate
from kit.study.problems import Problem, problems_of, raise_all
from kit.study.yaml_reader import Document

MOST_VARIANTS = 500
VARIED = ("preparation", "material", "materials", "service", "partial_factors", "load_cases", "accuracy")


@dataclass(frozen=True)
class Choice:
    """One variant before it is resolved: its name and the values it sets.

    Attributes
    ----------
    name, slug : str
        As it is shown, and as a file name; each unique in the study.
    values : tuple of (key path, value)
        The value as it stands in the file.
    model : StudyFile
        The whole file with these values set.
    """

    name: str
    slug: str
    values: tuple[tuple[str, Any], ...]
    model: StudyFile


def choices(document: Document, model: StudyFile) -> tuple[Choice, ...]:
    """Every variant of a study, each checked again through the model.

    Raises
    ------
    InputError
        A key path that cannot be varied, a value it cannot take, two equal names, too many combinations.
    """
    problems = _vary_problems(document, model)
    raise_all(problems, document)
    named = [(named.name, tuple(named.set.items())) for named in model.variants.named]
    wanted = [*_combinations(model), *named] or [("as given", ())]
    names = [name for name, _ in wanted]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise_all(
            [Problem(("variants", "named"), f"two variants are called {twice!r}", "other names")], document
        )
    found = tuple(
        Choice(name, slug, values, _set(document, name, values))
        for (name, values), slug in zip(wanted, _slugs(names), strict=True)
    )
    _refuse_equal(found, document)
    return found


def _refuse_equal(found: tuple[Choice, ...], document: Document) -> None:
    """The same inputs under two names would count twice in every ranking."""
    seen: dict[str, str] = {}
    for choice in found:
        inputs = choice.model.model_dump_json(exclude={"variants"})
        if inputs in seen:
            what = f"{choice.name!r} sets the same values as {seen[inputs]!r}"
            raise_all([Problem(("variants",), what, "each combination of values once")], document)
        seen[inputs] = choice.name


def _vary_problems(document: Document, model: StudyFile) -> list[Problem]:
    problems, combinations = [], 1
    for key, values in model.variants.vary.items():
        path = ("variants", "vary", key)
        combinations *= max(1, len(values))
        if not values:
            problems.append(Problem(path, "the list is empty", "the values to try"))
        for i, value in enumerate(values):
            problems += _value_problems((*path, i), key, value, document)
    for i, named in enumerate(model.variants.named):
        for key, value in named.set.items():
            problems += _value_problems(("variants", "named", i, "set", key), key, value, document)
    if combinations > MOST_VARIANTS:
        what = f"{combinations} combinations"
        problems.append(Problem(("variants", "vary"), what, f"at most {MOST_VARIANTS}; shorten the lists"))
    return problems


def _value_problems(where: tuple, key: str, value: Any, document: Document) -> list[Problem]:
    """What is wrong with one value of one varied key, said at the place it stands."""
    path = tuple(key.split("."))
    if path[0] not in VARIED:
        near = suggestion(path[0], VARIED)
        return [Problem(where, f"{path[0]!r} cannot be varied{near}", f"a key under: {', '.join(VARIED)}")]
    if path[0] in ("load_cases", "materials"):
        known = document.values.get(path[0]) or {}
        if len(path) < 3 or path[1] not in known:
            near = suggestion(path[1], known) if len(path) > 1 else ""
            accepted = f"{path[0]}.<name>.<key>; names: {', '.join(known) or 'none'}"
            return [Problem(where, f"{key!r} leads to nothing{near}", accepted)]
    changed = _with(document.values, ((key, value),))
    try:
        validate(changed)
    except ValidationError as error:
        # Problems at other keys may vanish beside another varied value; the combinations are checked later.
        found = [p for p in problems_of(error, changed, StudyFile) if p.path[: len(path)] == path]
        return [Problem((*where, *p.path[len(path) :]), p.what, p.todo) for p in found]
    return []


def _set(document: Document, name: str, values: tuple) -> StudyFile:
    changed = _with(document.values, values)
    try:
        return validate(changed)
    except ValidationError as error:
        problems = [
            Problem(p.path, f"in variant {name!r}: {p.what}", p.todo)
            for p in problems_of(error, changed, StudyFile)
        ]
        raise_all(problems, document)
        raise


def _with(values: dict, changes: tuple) -> dict:
    """The file's values with others at some key paths."""
    changed = deepcopy(values)
    for key, value in changes:
        *above, last = key.split(".")
        here = changed
        for part in above:
            if not isinstance(here.get(part), dict):
                here[part] = {}
            here = here[part]
        here[last] = deepcopy(value)
    return changed


def _combinations(model: StudyFile) -> list[tuple[str, tuple]]:
    vary = model.variants.vary
    if not vary:
        return []
    labels = _labels(list(vary))
    combinations = []
    for values in itertools.product(*vary.values()):
        pairs = tuple(zip(vary, values, strict=True))
        shown = (f"{labels[key]} {_shown(value)}".strip() for key, value in pairs)
        combinations.append((", ".join(shown), pairs))
    return combinations


def _labels(keys: list[str]) -> dict[str, str]:
    """Short words for key paths: ``load_cases.bending.span`` is ``bending span``, ``material`` needs none."""

    def words(key: str) -> str:
        parts = key.split(".")
        return "" if key == "material" else " ".join(parts[1:] or parts).replace("_", " ")

    labels = {key: words(key) for key in keys}
    clear = len(set(labels.values())) == len(labels)
    return labels if clear else {key: key for key in keys}


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{str(key).replace('_', ' ')} {_shown(item)}" for key, item in value.items())
    if isinstance(value, list):
        return " × ".join(_shown(item) for item in value)
    return str(value)


def _slugs(names: list[str]) -> list[str]:
    """File names on every system: small letters, digits and -, at most 60, each once."""
    slugs: list[str] = []
    width = len(str(len(names)))
    for i, name in enumerate(names):
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
        slug = re.sub(r"[^a-z0-9]+", "-", plain.casefold()).strip("-")[:60].strip("-")
        slugs.append(slug if slug and slug not in slugs else f"{slug or 'variant'}-{i + 1:0{width}d}")
    return slugs
