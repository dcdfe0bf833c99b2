"""One visual language for every chart of a write-up: ink, paper, and a few colours that differ in lightness.

The colours of limit states are told apart by people with any of the three colour-vision deficiencies and
in grey print (``tests/writeup/test_charts.py`` measures both); a letter code stands beside colour wherever
a chart is read by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

INK = "#1c2430"
QUIET = "#4d5866"
HAIR = "#c9ced6"
PAPER = "#ffffff"
ACCENT = "#b03a12"
MARK = "#2f4a63"
BAND = "#d8dee6"
LABEL_FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class StateLook:
    """How one group of limit states is drawn: its colour, its letter code, words found in its names."""

    group: str
    colour: str
    code: str
    words: tuple[str, ...]


# The order decides: the first whose word is found in the limit state's name.
STATES = (
    StateLook("not assessed", "#aab2bb", "–", ("not assessed", "not applicable", "none")),
    StateLook("lateral-torsional buckling", "#96307a", "LT", ("lateral-torsional", "lateral torsional")),
    StateLook("flexural-torsional buckling", "#de8ab8", "FT", ("flexural-torsional", "flexural torsional")),
    StateLook("twist with bending", "#a08bd0", "W", ("second-order",)),
    StateLook("twisting under the load", "#5a35a8", "TW", ("twisting",)),
    StateLook("local buckling", "#e2a11a", "L", ("local", "shear buckling")),
    StateLook("distortional buckling", "#4b1e00", "DB", ("distortional",)),
    StateLook("torsional buckling", "#efc3da", "T", ("torsional buckling",)),
    StateLook("flexural buckling", "#2568a0", "F", ("flexural", "buckling", "column", "instability")),
    StateLook("fracture", "#b03a12", "R", ("fracture", "rupture", "ultimate")),
    StateLook("deflection", "#7fbd9d", "D", ("deflection", "stiffness", "twist")),
    StateLook("overturning", "#59652a", "O", ("overturn",)),
    StateLook("own weight", "#8a8f5c", "G", ("own weight",)),
    StateLook("bearing", "#b3a56a", "B", ("bearing", "crush", "grip")),
    StateLook("shear", "#ded2b4", "S", ("shear",)),
    StateLook("full plasticity", "#132f45", "P", ("plastic", "peak of moment")),
    StateLook("first yield", "#7db4e6", "Y", ("yield", "elastic", "squash")),
)
OTHER = StateLook("other", "#6c7683", "?", ())


def state_look(limit_state: object) -> StateLook:
    """Colour and code of a limit state, by the words in its name."""
    name = str(limit_state or "").lower().replace("_", " ")
    if not name or name == "nan":
        return STATES[0]
    return next((look for look in STATES if any(word in name for word in look.words)), OTHER)


def legend_words(limit_states: Iterable[str]) -> dict[str, str]:
    """What a key calls each limit state: states that share a colour share one entry, which names them all."""
    alike: dict[StateLook, list[str]] = {}
    for name in sorted(set(limit_states)):
        alike.setdefault(state_look(name), []).append(name)
    return {name: " or ".join(names) for names in alike.values() for name in names}


def state_scale(limit_states: list[str]) -> tuple[list[str], list[str]]:
    """Domain and range of a colour scale for the limit states that occur, in a fixed order."""
    order = {look.group: rank for rank, look in enumerate((*STATES, OTHER))}
    domain = sorted(set(limit_states), key=lambda name: (order[state_look(name).group], name))
    return domain, [state_look(name).colour for name in domain]


def config() -> dict:
    """Vega-Lite configuration shared by all charts."""
    text = {"labelFont": LABEL_FONT, "titleFont": LABEL_FONT, "labelColor": INK, "titleColor": INK}
    return {
        "background": PAPER,
        "font": LABEL_FONT,
        "view": {"stroke": None, "cursor": "default"},
        "axis": text
        | {
            "labelFontSize": 11,
            "titleFontSize": 11,
            "titleFontWeight": "normal",
            "titlePadding": 6,
            "domainColor": INK,
            "domainWidth": 0.8,
            "tickColor": INK,
            "tickSize": 4,
            "tickWidth": 0.8,
            "gridColor": "#e9ecf0",
            "gridWidth": 0.8,
            "labelOverlap": True,
            "labelPadding": 4,
        },
        "legend": text | {"labelFontSize": 11, "titleFontSize": 11, "titleFontWeight": "normal"},
        "title": {
            "font": LABEL_FONT,
            "fontSize": 12.5,
            "fontWeight": 650,
            "color": INK,
            "subtitleFont": LABEL_FONT,
            "subtitleFontSize": 11,
            "subtitleColor": QUIET,
            "anchor": "start",
            "frame": "group",
            "offset": 8,
        },
        "header": text,
        "text": {"font": LABEL_FONT, "fontSize": 10.5, "fill": INK},
        "concat": {"spacing": 26},
    }
