"""Numbers for sections, figures, tables and equations, and references to them that are links."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass

from bs4 import BeautifulSoup, Tag

from kit.writeup.citations import short

WORDS = {"fig": "Figure", "tab": "Table", "eq": "Equation", "sec": "Section"}
UNNUMBERED = ("summary", "references", "abstract")


class UnresolvedReference(ValueError):
    """A cross-reference whose target is not in the page; the message lists each and what there is."""


@dataclass(frozen=True)
class Numbered:
    """The article with numbers and links, its contents list, and targets that are not there."""

    article: str
    contents: str
    missing: tuple[str, ...] = ()


def number_all(article: str, *, strict: bool = True) -> Numbered:
    """Number everything in the order it stands, then resolve every ``#…`` link.

    Parameters
    ----------
    article : str
        HTML of the article; figures, tables and equations carry ids ``fig:…``, ``tab:…``, ``eq:…``.
    strict : bool
        Whether a reference to what is not there is an error; else it becomes plain words.

    Raises
    ------
    UnresolvedReference
        If ``strict`` and a link points at nothing in the page.
    """
    soup = BeautifulSoup(article, "html.parser")
    names = {f"{target['id']}": "" for target in soup.find_all(id=True)}
    entries = _sections(soup, names)
    _floats(soup, names)
    missing = _resolve(soup, names, strict)
    return Numbered(str(soup), _contents(entries), tuple(missing))


def _sections(soup: BeautifulSoup, names: dict[str, str]) -> list[tuple[int, str, str, str]]:
    """Give headings ids and numbers: (level, id, number, text) of each of the two upper levels."""
    first = soup.find(["h1", "h2", "h3", "h4"])
    if first is not None and first.name == "h1":
        first.decompose()  # the notebook's own title: the page has set it already
    counts, entries = [0, 0, 0], []
    for heading in soup.find_all(["h1", "h2", "h3", "h4", "h5", "h6"]):
        level = min(max(int(heading.name[1]), 2), 4)
        heading.name = f"h{level}"
        text = heading.get_text(" ", strip=True)
        identifier = _unique(f"sec:{_slug(text)}", names)
        heading["id"] = identifier
        number = _count(counts, level) if text.lower() not in UNNUMBERED else ""
        names[identifier] = f"Section {number}" if number else text
        if number:
            heading.insert(0, _tag(soup, "span", number, "no"))
        if level < 4:
            entries.append((level, identifier, number, text))
    return entries


def _count(counts: list[int], level: int) -> str:
    place = level - 2
    counts[place] += 1
    counts[place + 1 :] = [0] * (len(counts) - place - 1)
    return ".".join(str(max(c, 1)) for c in counts[: place + 1])


def _floats(soup: BeautifulSoup, names: dict[str, str]) -> None:
    """Number figures, tables and equations, each in its own series."""
    counts = dict.fromkeys(WORDS, 0)
    for element in soup.find_all(["figure", "div"], id=re.compile(r"^(fig|tab|eq):")):
        kind = element["id"].split(":")[0]
        counts[kind] += 1
        number = counts[kind]
        names[element["id"]] = f"Equation ({number})" if kind == "eq" else f"{WORDS[kind]} {number}"
        if kind == "tab":
            element.find("caption").insert(0, _tag(soup, "b", f"Table {number}. "))
        else:
            text = f"({number})" if kind == "eq" else f"Figure {number}."
            element.find(class_="no").string = text


def _resolve(soup: BeautifulSoup, names: dict[str, str], strict: bool) -> list[str]:
    missing = []
    for link in soup.find_all("a", href=re.compile("^#")):
        target = link["href"][1:]
        if target not in names:
            missing.append(target)
            if not strict:
                link.replace_with(f"{link.get_text()} (not shown)")
        elif target.startswith("ref:"):
            link.string = short(target[4:])
        elif names[target] and link.get_text() in ("", *WORDS.values()):
            link.string = names[target]
    if missing and strict:
        wanted = ", ".join(sorted(set(missing)))
        there = ", ".join(sorted(name for name in names if ":" in name)) or "none"
        raise UnresolvedReference(
            f"the text refers to {wanted}, which the page does not hold; it holds {there}"
        )
    return sorted(set(missing))


def _contents(entries: list[tuple[int, str, str, str]]) -> str:
    """Nested list of links to the sections."""
    made, depth = [], 1
    for level, identifier, number, text in entries:
        target = level - 1
        if target > depth:
            made.append("<ol>")
        elif made:
            made.append("</li>" + "</ol></li>" * (depth - target))
        depth = target
        shown = f'<span class="no">{number}</span>' if number else ""
        made.append(f'<li><a href="#{html.escape(identifier)}">{shown}{html.escape(text)}</a>')
    closing = "</li>" + "</ol></li>" * (depth - 1) if made else ""
    return f"<ol>{''.join(made)}{closing}</ol>"


def _tag(soup: BeautifulSoup, name: str, text: str, classes: str = "") -> Tag:
    tag = soup.new_tag(name)
    if classes:
        tag["class"] = classes
    tag.string = text
    return tag


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "section"


def _unique(name: str, names: dict[str, str]) -> str:
    again, unique = 2, name
    while unique in names:
        unique, again = f"{name}-{again}", again + 1
    return unique
