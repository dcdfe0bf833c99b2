"""Whether a gradient fills all of a shape (SVG 2, "Paint servers")."""

from __future__ import annotations

import math

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import clean
from kit.outlines.svgcolour import colour_of, opacity, server
from kit.outlines.svgpath import transform_matrix
from kit.outlines.svgseen import link_of, tag_of
from kit.outlines.svgstyle import INITIAL, Rule, computed

GRADIENTS = ("linearGradient", "radialGradient")
LONGEST_CHAIN = 20


def refuse_clear(paint: str, by_id: dict, rules: list[Rule]) -> None:
    """Refuse a fill that leaves parts of the shape clear: a pattern, or a gradient that fades.

    Parameters
    ----------
    paint : str
        ``#rrggbb`` or ``url(#name)``.
    by_id : dict of name → element
    rules : list of Rule
    """
    if not paint.startswith("url("):
        return
    found = by_id.get(server(paint))
    if found is None or tag_of(found) not in GRADIENTS:
        kind = "a pattern" if found is not None else f"{clean(server(paint), 30)!r}, which is not in it,"
        raise Unusable(f"it is filled with {kind} where a plain colour is needed; fill it plainly")
    chain = _chain(found, by_id)
    stops = next(filter(None, ([s for s in one if tag_of(s) == "stop"] for one in chain)), [])
    if not stops or np.linalg.det(transform_matrix(_said(chain, "gradientTransform", ""))) == 0:
        raise Unusable("it is filled with a gradient that paints nothing; fill it plainly")
    if any(_fades(stop, rules) for stop in stops):
        raise Unusable("it is filled with a gradient that fades away; fill it plainly")
    if tag_of(found) == "radialGradient":
        _refuse_cone([one for one in chain if tag_of(one) == "radialGradient"])


def _chain(element, by_id: dict) -> list:
    """A gradient and those it takes what it does not say from."""
    chain = [element]
    while link_of(chain[-1]):
        target = by_id.get(link_of(chain[-1])[1:])
        if target is None or len(chain) > LONGEST_CHAIN or tag_of(target) not in GRADIENTS:
            raise Unusable("it is filled with a gradient made from what is not in it; fill it plainly")
        chain.append(target)
    return chain


def _said(chain: list, key: str, otherwise: str) -> str:
    return next((one.get(key) for one in chain if one.get(key) is not None), otherwise)


def _fades(stop, rules: list[Rule]) -> bool:
    style = computed("stop", stop.attrib, INITIAL, rules)
    shown = opacity(style.get("stop-opacity", "1"), "stop-opacity")
    return shown * colour_of(style.get("stop-color", "black"), "stop-color")[1] < 1.0


def _refuse_cone(chain: list) -> None:
    """Seen from outside its circle, a radial gradient is a cone, which leaves the rest clear."""
    texts = {key: _said(chain, key, "50%").strip() for key in ("cx", "cy", "r")}
    texts |= {f"f{axis}": _said(chain, f"f{axis}", texts[f"c{axis}"]).strip() for axis in "xy"}
    if float_or_nan(_said(chain, "fr", "0")) == 0.0 and all(texts[f"f{a}"] == texts[f"c{a}"] for a in "xy"):
        return
    cx, cy, r, fx, fy = (float_or_nan(texts[key]) for key in ("cx", "cy", "r", "fx", "fy"))
    if _said(chain, "fr", "0") != "0" or not math.hypot(fx - cx, fy - cy) < 0.999 * r:
        raise Unusable("it is filled with a gradient seen from outside its circle; fill it plainly")


def float_or_nan(text: str) -> float:
    """A number or a percentage as a number; NaN for any other text."""
    try:
        return float(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
    except ValueError:
        return math.nan
