"""What an SVG element is painted with: presentation attributes, ``style``, and simple style sheets."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kit.errors import Unusable
from kit.outlines.svgseen import SIZES

INHERITED = ("fill", "fill-rule", "stroke", "stroke-width", "visibility", "stroke-linejoin", "stroke-linecap")
INHERITED += ("fill-opacity", "stroke-opacity", "stroke-dasharray", "stroke-miterlimit")
INHERITED += ("marker", "marker-start", "marker-mid", "marker-end")
OWN = ("display", "opacity", "clip-path", "mask", "filter", "transform", "transform-origin", "overflow")
KNOWN = (*INHERITED, *OWN)
INITIAL = {
    "fill": "black",
    "fill-rule": "nonzero",
    "stroke": "none",
    "stroke-width": "1",
    "visibility": "visible",
}
NAMED = {"black": "#000000", "rgb(0,0,0)": "#000000", "white": "#ffffff", "rgb(255,255,255)": "#ffffff"}
SELECTOR = re.compile(r"(\*|[A-Za-z][\w-]*)?(?:([.#])([\w-]+))?")


@dataclass(frozen=True)
class Rule:
    """One simple selector and what it declares; later and more specific rules win."""

    tag: str
    mark: str
    name: str
    declared: tuple[tuple[str, str], ...]

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


def style_sheet(text: str) -> list[Rule]:
    """Rules of a ``style`` element.

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
            declared = tuple(declarations(body).items())
            rules.append(Rule(found[1] or "", found[2] or "", found[3] or "", declared))
    if re.sub(r"[^{}]*\{[^{}]*\}", "", text).strip():
        raise Unusable("its style sheet holds more than simple rules; write fills as attributes instead")
    return sorted(rules, key=lambda rule: rule.weight)


def declarations(text: str) -> dict[str, str]:
    """``name: value`` pairs of a style, without ``!important``."""
    pairs = (part.split(":", 1) for part in text.split(";") if ":" in part)
    return {k.strip().lower(): v.replace("!important", "").strip() for k, v in pairs}


def computed(
    tag: str, attributes: dict[str, str], parent: dict[str, str], rules: list[Rule]
) -> dict[str, str]:
    """The properties of an element that decide what is seen of it."""
    own = {key: attributes[key].strip() for key in KNOWN if key in attributes and key != "transform"}
    for rule in rules:
        if rule.fits(tag, attributes):
            own.update((k, v) for k, v in rule.declared if k in KNOWN)
    inline = declarations(attributes.get("style", ""))
    own.update((k, v) for k, v in inline.items() if k in KNOWN)
    sized = {k for k in inline if k in SIZES}
    sized |= {k for rule in rules if rule.fits(tag, attributes) for k, _ in rule.declared if k in SIZES}
    own.update((f"styled {key}", "yes") for key in sized)
    style = {key: parent[key] for key in INHERITED if key in parent}
    style.update((k, v) for k, v in own.items() if v and v != "inherit")
    return style


def paint(style: dict[str, str], which: str) -> str:
    """Colour of the fill or the stroke; empty where none is painted."""
    colour = style.get(which, "none").strip().lower()
    clear = any(is_zero(style.get(key, "1")) for key in ("opacity", f"{which}-opacity"))
    return "" if colour in ("none", "transparent") or clear else _spelled("".join(colour.split()))


def _spelled(colour: str) -> str:
    """One spelling for the colours that drawing programs spell in several ways.

    >>> _spelled("#fff"), _spelled("black"), _spelled("rgb(0,0,0)")
    ('#ffffff', '#000000', '#000000')
    """
    if re.fullmatch("#[0-9a-f]{3}", colour):
        return "#" + "".join(2 * digit for digit in colour[1:])
    return NAMED.get(colour, colour)


def is_zero(text: str) -> bool:
    """Whether an opacity is none at all."""
    try:
        return float(text.rstrip("%")) == 0.0
    except ValueError:
        return False
