"""Contours turned so that what lies inside is filled: their areas then add up to the area they bound."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from kit.outlines.flattening import DEFAULT_SHARE, bounds, curves_of, flatten, ring_area
from kit.outlines.outline import Contour, Outline
from kit.outlines.winding import winding_numbers


def turned_by_fill(outline: Outline) -> Outline:
    """The outline with its outer contours counter-clockwise and its holes clockwise.

    Even-odd drawings may have a hole run the same way as what it is in; contours inside filled ones that bound
    nothing are left away. An outline whose contours already count with the right sign, or cross one another,
    stays as it is.

    Parameters
    ----------
    outline : Outline

    Returns
    -------
    Outline
    """
    if len(outline.contours) < 2:
        return outline
    curves = curves_of(outline.contours)
    if outline.fill_rule == "nonzero" and not outline.groups and curves.areas.min() * curves.areas.max() < 0:
        return outline  # a hole of such a one runs against what it is in, or it is none
    box = bounds(curves)
    rings = flatten(curves, DEFAULT_SHARE * float(max(box[2:] - box[:2])))
    groups = outline.groups or ((len(rings), outline.fill_rule),)
    ends = np.cumsum([count for count, _ in groups])
    signs = [_signs(rings[end - n : end], rule) for end, (n, rule) in zip(ends, groups, strict=True)]
    turns = np.sign([ring_area(ring) if len(ring) > 2 else 0.0 for ring in rings])
    wanted = np.concatenate(signs)
    if (wanted == turns).all() or (wanted == -turns).all():
        return outline
    # A contour that crosses itself may have no area by sign, and bound some all the same: it stays.
    return _turned(outline, np.where(turns == 0, 1, wanted * turns), groups)


def _signs(rings: list[np.ndarray], rule: str) -> np.ndarray:
    """1 where a ring's inside is filled and its outside not, -1 the other way, 0 where it bounds nothing.

    The rings' own turns where they meet one another.
    """
    turns = np.sign([ring_area(ring) if len(ring) > 2 else 0.0 for ring in rings]).astype(int)
    whole = [ring for ring in rings if len(ring) > 2]
    lines = [shapely.linestrings(np.vstack([ring, ring[:1]])) for ring in whole]
    if not whole or not shapely.is_simple(shapely.multilinestrings(lines)):
        return turns
    around = _around(rings)
    odd = (lambda winding: winding % 2 != 0) if rule == "evenodd" else (lambda winding: winding != 0)
    return odd(around + turns).astype(int) - odd(around)


def _around(rings: list[np.ndarray]) -> np.ndarray:
    """How often the other rings go round each of them, none of which meets another."""
    places = [i for i, ring in enumerate(rings) if len(ring)]
    firsts, total = np.array([rings[i][0] for i in places]), np.zeros(len(rings), int)
    for i in places:
        winding = winding_numbers(firsts, [rings[i]])
        winding[places.index(i)] = 0
        total[places] += winding
    return total


def _turned(outline: Outline, factors: np.ndarray, groups) -> Outline:
    """Contours kept (1), run backwards (-1) or left away (0)."""
    kept = [_backwards(c) if f < 0 else c for c, f in zip(outline.contours, factors, strict=True) if f]
    ends = np.cumsum([count for count, _ in groups])
    counts = [int(np.count_nonzero(factors[end - n : end])) for end, (n, _) in zip(ends, groups, strict=True)]
    groups = tuple((count, rule) for count, (_, rule) in zip(counts, groups, strict=True) if count)
    return replace(outline, contours=tuple(kept), groups=groups if outline.groups else ())


def _backwards(contour: Contour) -> Contour:
    return tuple(piece[::-1] for piece in reversed(contour))
