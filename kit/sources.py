"""Which source and which caveats a function of mechanics carries, and which of them a run used."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from kit.places import DATA


@dataclass(frozen=True)
class Carried:
    """What a function carries: keys into the bibliography and into the caveats."""

    function: str
    sources: tuple[str, ...]
    caveats: tuple[str, ...]


REGISTRY: dict[str, Carried] = {}
_used: ContextVar[set[str] | None] = ContextVar("used", default=None)


def carries(*sources: str, caveats: tuple[str, ...] = ()) -> Callable:
    """Decorator: name the sources and caveats of a function, and note when it is used.

    Parameters
    ----------
    *sources : str
        Keys into ``data/bibliography.json``.
    caveats : tuple of str
        Keys into ``data/caveats.json``: conditions under which the function is wrong.
    """

    def decorate(function: Callable) -> Callable:
        name = f"{function.__module__}.{function.__qualname__}"
        REGISTRY[name] = Carried(name, sources, caveats)

        @functools.wraps(function)
        def noted(*args, **kwargs):
            used = _used.get()
            if used is not None:
                used.add(name)
            return function(*args, **kwargs)

        return noted

    return decorate


@contextmanager
def recording() -> Iterator[set[str]]:
    """Collect the names of the functions of mechanics used inside the ``with`` block."""
    used: set[str] = set()
    token = _used.set(used)
    try:
        yield used
    finally:
        _used.reset(token)


@functools.cache
def bibliography() -> dict[str, dict]:
    """The bibliography (CSL-JSON entries by key)."""
    entries = json.loads((DATA / "bibliography.json").read_text(encoding="utf-8"))
    return {entry["id"]: entry for entry in entries}


@functools.cache
def caveats() -> dict[str, dict]:
    """The caveats by key: ``strength`` (1 strongest … 3) and ``text``."""
    return json.loads((DATA / "caveats.json").read_text(encoding="utf-8"))
