"""What an SVG element is painted with: presentation attributes, ``style``, and simple style sheets."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from kit.errors import Unusable
from kit.outlines.outline import clean

INITIAL = {
    "fill": "black",
    "fill-rule": "nonzero",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-width": "1",
    "stroke-opacity": "1",
    "stroke-linejoin": "miter",
    "stroke-linecap": "butt",
    "stroke-miterlimit": "4",
    "stroke-dasharray": "none",
    "visibility": "visible",
    "color": "black",
    **dict.fromkeys(("marker", "marker-start", "marker-mid", "marker-end"), "none"),
}  # inherited
OWN = ("display", "opacity", "overflow", "vector-effect", "stop-color", "stop-opacity")
EFFECTS = ("clip-path", "mask", "filter", "marker", "marker-start", "marker-mid", "marker-end")
# Of style alone: an attribute of such a name is nothing to a viewer.
STYLED_EFFECTS = (
    "mask-image",
    "mask-border",
    "mask-border-source",
    "mask-box-image",
    "mask-box-image-source",
    "content-visibility",
    "overflow-x",
    "overflow-y",
)
MOVES = ("transform", "scale", "rotate", "translate", "offset", "offset-path")
ORIGINS = ("transform-origin", "transform-box")
SIZES = ("x", "y", "cx", "cy", "r", "rx", "ry", "width", "height", "d")
ATTRIBUTES = (*INITIAL, *OWN, *EFFECTS, *ORIGINS)
STYLES = (*ATTRIBUTES, *STYLED_EFFECTS, *MOVES, "all")
SELECTOR = re.compile(r"(\*|[A-Za-z][\w-]*)?(?:([.#])([\w-]+))?")
COMPUTED = re.compile(r"\b(?:var|env|attr|calc|min|max|clamp|if)\(", re.IGNORECASE)

Declared = tuple[str, str, bool]  # name, value, whether !important


@dataclass(frozen=True)
class Rule:
    """One simple selector and what it declares; later and more specific rules win."""

    tag: str
    mark: str
    name: str
    declared: tuple[Declared, ...]

    @property
    def weight(self) -> int:
        """Specificity: an id above a class above an element's name."""
        return {"#": 100, ".": 10, "": 0}[self.mark] + (self.tag not in ("", "*"))

    def fits(self, tag: str, attributes: dict[str, str]) -> bool:
        """Whether the rule speaks of this element."""
        marked = {
            "": True,
            "#": attributes.get("id") == self.name,
            ".": self.name in attributes.get("class", "").split(),
        }[self.mark]
        return marked and self.tag in ("", "*", tag)


def sheet_of(element) -> list[Rule]:
    """Rules of a ``style`` element, as they are seen on a screen.

    Raises
    ------
    Unusable
        If it depends on the viewer whether they count.
    """
    media, kind = (element.get(key, "").strip().lower() for key in ("media", "type"))
    if media == "print" or kind not in ("", "text/css"):
        return []
    if media not in ("", "all", "screen") or element.get("title") is not None:
        raise Unusable("one of its style sheets is for some viewers only; write fills as attributes instead")
    return style_sheet("".join(element.itertext()))


def style_sheet(text: str) -> list[Rule]:
    """Rules of a style sheet.

    Raises
    ------
    Unusable
        For selectors other than element, .class and #id, and for @ rules.
    """
    text = re.sub(r"/\*.*?\*/|<!--|-->", "", text, flags=re.DOTALL)
    rules = []
    for selectors, body in re.findall(r"([^{}]*)\{([^{}]*)\}", text):
        for selector in selectors.split(","):
            found = SELECTOR.fullmatch(selector.strip())
            if not found or not selector.strip():
                raise Unusable(
                    f"its style sheet uses {selector.strip()[:30]!r}; write fills as attributes instead"
                )
            declared = tuple(declarations(body))
            rules.append(Rule(found[1] or "", found[2] or "", found[3] or "", declared))
    if re.sub(r"[^{}]*\{[^{}]*\}", "", text).strip():
        raise Unusable("its style sheet holds more than simple rules; write fills as attributes instead")
    return sorted(rules, key=lambda rule: rule.weight)


def declarations(text: str) -> list[Declared]:
    """What a style declares, in order; prefixes of browsers are dropped.

    >>> declarations("-webkit-mask: none; fill: red !important")
    [('mask', 'none', False), ('fill', 'red', True)]
    """
    if "\\" in text:
        raise Unusable("its style is written with escapes (\\); write fills as attributes instead")
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    found = []
    for name, _, value in (part.partition(":") for part in text.split(";")):
        if value.count("(") != value.count(")") or value.count("'") % 2 or value.count('"') % 2:
            raise Unusable("its style holds a ; in brackets or quotes; write fills as attributes instead")
        plain = re.sub(r"!\s*important\s*\Z", "", value.strip(), flags=re.IGNORECASE)
        if plain.strip():  # without a value nothing is declared
            key = name.strip().lower().removeprefix("-webkit-")
            found.append((key, plain.strip(), plain != value.strip()))
    return found


def computed(
    tag: str, attributes: dict[str, str], parent: dict[str, str], rules: list[Rule]
) -> dict[str, str]:
    """The properties of an element that decide what is seen of it.

    A size that a style gives stands under ``styled width`` and the like.

    Raises
    ------
    Unusable
        If a value is computed from others.
    """
    own = {key: attributes[key].strip() for key in ATTRIBUTES if attributes.get(key, "").strip()}
    declared = [one for rule in rules if rule.fits(tag, attributes) for one in rule.declared]
    declared += declarations(attributes.get("style", ""))
    own.update(_winning(declared))
    style = {key: value for key, value in parent.items() if key in INITIAL}
    for key, value in own.items():
        _take(style, key, value)
    return style


def _winning(declared: list[Declared]) -> Iterable[tuple[str, str]]:
    """Declarations in the order in which the later win, important ones last."""
    for key, value, _ in sorted(declared, key=lambda one: one[2]):
        if key in STYLES:
            yield key, value
        elif key in SIZES:
            yield f"styled {key}", value


def _take(style: dict[str, str], key: str, value: str) -> None:
    word = value.lower()
    if key == "all" or word.startswith("revert") or COMPUTED.search(word):
        raise Unusable(
            f"its style sets {key} to {clean(value, 30)!r}; write plain values as attributes instead"
        )
    if word == "initial" and key in INITIAL:
        style[key] = INITIAL[key]
    elif word in ("initial", "unset") or (
        word == "inherit" and key in (*INITIAL, "display", "opacity", "overflow")
    ):
        return  # what holds it is seen, so that it inherits being seen
    elif key != "color" or word != "currentcolor":
        style[key] = value
