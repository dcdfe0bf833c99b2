"""The equations of the methods, from LaTeX to MathML when the page is built.

KaTeX (vendored in ``kit/data/katex`` with its licence) runs in an embedded JavaScript engine: an
unknown command is an error here, never a wrong formula in the page.
"""

from __future__ import annotations

import atexit
import functools
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass

from py_mini_racer import MiniRacer

from kit.places import DATA
from kit.writeup.figures import PART


class EquationError(ValueError):
    """LaTeX that cannot be set; the message holds the formula and what KaTeX said."""


@dataclass(frozen=True)
class Equation:
    """A numbered equation: its key, LaTeX, the words that explain it, the keys of its sources.

    ``functions`` names the functions of mechanics that compute by it; none: it belongs to every study.
    """

    key: str
    latex: str
    words: str
    sources: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()


@functools.cache
def _engine() -> MiniRacer:
    engine = MiniRacer()
    # Left to the interpreter's own end, the engine waits for threads that have stopped already.
    atexit.register(engine.close)
    engine.eval((DATA / "katex" / "katex.min.js").read_text(encoding="utf-8"))
    engine.eval(
        "function set(latex, display) { try { return {mathml: katex.renderToString(latex, {output: 'mathml', "
        "displayMode: display, throwOnError: true, strict: 'error', trust: false, maxExpand: 200})}; }"
        " catch (error) { return {error: String(error.message || error)}; } }"
    )
    return engine


@functools.lru_cache(maxsize=2048)
def mathml(latex: str, display: bool = False) -> str:
    """MathML of a formula.

    Parameters
    ----------
    latex : str
        Without dollar signs.
    display : bool
        Set on a line of its own.

    Raises
    ------
    EquationError
        If KaTeX does not know a command or the braces do not match.
    """
    answer = json.loads(_engine().eval(f"JSON.stringify(set({json.dumps(latex)}, {json.dumps(display)}))"))
    if "error" in answer:
        raise EquationError(f"cannot set the formula {latex!r}: {answer['error']}")
    found = re.search(r"<math.*</math>", answer["mathml"], re.DOTALL)
    # The LaTeX itself travels along in an annotation; screen readers and copying make use of it.
    return found.group(0)


@functools.cache
def registry() -> dict[str, Equation]:
    """Every equation of the methods, by key, in the order they are introduced."""
    entries = json.loads((DATA / "equations.json").read_text(encoding="utf-8"))
    lists = ("sources", "functions")
    made = [Equation(**{k: tuple(v) if k in lists else v for k, v in entry.items()}) for entry in entries]
    return {equation.key: equation for equation in made}


def of(used: Iterable[str]) -> list[str]:
    """Keys of the equations by which these functions compute, in the order they are introduced."""
    ran = set(used)
    return [key for key, e in registry().items() if not e.functions or ran.intersection(e.functions)]


def sources(*keys: str) -> list[str]:
    """Keys of the sources of these equations (of all of them by default), for the list of references."""
    return sorted({source for key in (keys or registry()) for source in registry()[key].sources})


@dataclass(frozen=True)
class Shown:
    """Equations as a notebook shows them: Markdown for JupyterLab, keys for the page."""

    equations: tuple[Equation, ...]

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        text = "\n\n".join(f"$${e.latex}$$\n\n{e.words}" for e in self.equations)
        part = {
            "kind": "equations",
            "equations": [
                {"key": e.key, "latex": e.latex, "words": e.words, "sources": list(e.sources)}
                for e in self.equations
            ],
        }
        return {"text/markdown": text, PART: part, "text/plain": text}


def show(*keys: str) -> Shown:
    """The equations with these keys, numbered in the page; refer to one by ``[Equation](#eq:key)``.

    Raises
    ------
    KeyError
        For a key that is not in ``kit/data/equations.json``.
    """
    known = registry()
    missing = [key for key in keys if key not in known]
    if missing:
        raise KeyError(f"no such equation: {', '.join(missing)}; known are {', '.join(known)}")
    return Shown(tuple(known[key] for key in keys))
