"""Sources and caveats of this study only: those of the functions that ran."""

from __future__ import annotations

import functools
import html
import warnings
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from kit.places import DATA
from kit.sources import REGISTRY, bibliography, caveats
from kit.writeup.figures import PART
from kit.writeup.tables import Table, table

STYLE = DATA / "references.csl"


def keys(used: Iterable[str], extra: Iterable[str] = ()) -> list[str]:
    """Keys of the sources of the functions used, and any others, each once, in order of the alphabet.

    Raises
    ------
    KeyError
        If a function names a source that the bibliography lacks.
    """
    wanted = {key for name in used for key in _sources(name)} | set(extra)
    missing = sorted(wanted - set(bibliography()))
    if missing:
        raise KeyError(f"not in kit/data/bibliography.json: {', '.join(missing)}")
    return sorted(wanted)


def _sources(name: str) -> tuple[str, ...]:
    """The sources of a function by its name; a key of the bibliography stands for itself."""
    return REGISTRY[name].sources if name in REGISTRY else (name,) if name in bibliography() else ()


@functools.lru_cache(maxsize=64)
def rendered(wanted: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """(key, HTML) of each entry, sorted by the style (authors, then year)."""
    from citeproc import Citation, CitationItem, CitationStylesBibliography, CitationStylesStyle, formatter
    from citeproc.source.json import CiteProcJSON

    if not wanted:
        return ()
    entries = [bibliography()[key] for key in wanted]
    with warnings.catch_warnings():
        # citeproc-py says once for each entry which CSL variables its source reader does not use.
        warnings.simplefilter("ignore")
        style = CitationStylesStyle(str(STYLE), validate=False)
        made = CitationStylesBibliography(style, CiteProcJSON(entries), formatter.html)
        for key in wanted:
            made.register(Citation([CitationItem(key)]))
        made.sort()
        texts = [str(entry) for entry in made.bibliography()]
    return tuple((key, _linked(key, text)) for key, text in zip(made.keys, texts, strict=True))


def _linked(key: str, text: str) -> str:
    """The entry, with its DOI as a link."""
    doi = bibliography()[key].get("DOI")
    tidy = text.replace("..", ".").strip()
    if not doi:
        return tidy
    address = html.escape(f"https://doi.org/{doi}")
    return f'{tidy} <a href="{address}">doi:{html.escape(doi)}</a>'


def short(key: str) -> str:
    """Authors and year as they stand in running text: ``Timoshenko & Goodier 1970``."""
    entry = bibliography()[key]
    people = entry.get("author") or entry.get("editor") or []
    names = [p.get("family") or p.get("literal", "") for p in people]
    who = (
        names[0]
        if len(names) == 1
        else " & ".join(names)
        if len(names) == 2
        else f"{names[0]} et al."
        if names
        else ""
    )
    who = who or entry.get("number") or entry.get("title", key)
    year = str(entry.get("issued", {}).get("date-parts", [[""]])[0][0])
    return who if year and year in who else f"{who} {year}".strip()


@dataclass(frozen=True)
class References:
    """The list of references: Markdown for JupyterLab, keys for the page."""

    wanted: tuple[str, ...]

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        entries = rendered(self.wanted)
        shown = "".join(f"<li>{text}</li>" for _, text in entries)
        part = {"kind": "references", "entries": [{"key": key, "html": text} for key, text in entries]}
        return {
            "text/html": f"<ul>{shown}</ul>",
            PART: part,
            "text/plain": "\n".join(key for key, _ in entries),
        }


def references(used: Iterable[str], extra: Iterable[str] = ()) -> References:
    """The references of this study: of the functions used, and any others by key.

    ``[cite](#ref:key)`` in the prose becomes authors and year, linked; an entry that the prose cites
    but nothing used must be given as ``extra``, or the page does not build.
    """
    return References(tuple(keys(used, extra)))


def caveats_table(
    used: Iterable[str], members: pd.DataFrame | None = None, extra: Iterable[str] = (), key: str = "caveats"
) -> Table:
    """The caveats of this study only, strongest first, each with how many members it touches.

    Parameters
    ----------
    used : iterable of str
        Names of the functions of mechanics that ran.
    members : DataFrame, optional
        Its column ``caveats`` holds keys separated by spaces, commas or semicolons.
    extra : iterable of str
        Keys that hold for the whole study (such as those of a material).
    """
    counts = touched(members) if members is not None else {}
    named = {k for name in used if name in REGISTRY for k in REGISTRY[name].caveats} | set(extra)
    known = caveats()
    wanted = sorted(
        named | set(counts), key=lambda k: (known.get(k, {}).get("strength", 1), -counts.get(k, 0), k)
    )
    rows = [
        {
            "caveat": known.get(k, {}).get("text", f"{k} (no text: kit/data/caveats.json lacks it)"),
            "strength": _strength(known.get(k, {}).get("strength", 1)),
            "members": str(counts[k]) if k in counts else "whole study" if k in named and k in extra else "–",
        }
        for k in wanted
    ]
    frame = pd.DataFrame(rows, columns=["caveat", "strength", "members"])
    return table(frame, key, "Caveats of this study, strongest first, and how many members each touches.")


def touched(members: pd.DataFrame) -> dict[str, int]:
    """How many members each caveat touches."""
    if "caveats" not in members:
        return {}
    split = members["caveats"].astype("string").fillna("").str.split(r"[\s,;]+", regex=True)
    found = split.explode()
    return {str(k): int(n) for k, n in found[found.notna() & (found != "")].value_counts().items()}


def _strength(level: int) -> str:
    return {1: "strong", 2: "middling", 3: "slight"}.get(level, str(level))
