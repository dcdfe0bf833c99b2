"""From curves to sound parts in drawn units: flattened as finely as the fitted outline needs, and united."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from kit.errors import Unusable
from kit.outlines.flatness import default_share, moments_of, moments_of_rings
from kit.outlines.flattening import DEFAULT_SHARE, Curves, bounds, curves_of, flatten, ring_area
from kit.outlines.making import Making, scale_of
from kit.outlines.outline import Outline
from kit.outlines.soundness import Sound, envelope, sound
from kit.outlines.turning import turned_by_fill

SMALLEST_SIZE, LARGEST_SIZE = 1e-3, 1e6  # mm
# Change of a second moment above which an outline is flattened finer, where points move to keep the area or not.
MOST_CHANGED = {False: 6e-4, True: 1e-4}
ROUNDS, FINEST_STEP = 3, 0.1


@dataclass(frozen=True)
class United:
    """Sound parts of an outline and what flattening its curves cost.

    Attributes
    ----------
    sound : Sound
        Drawn units.
    tolerance_share : float
        Chord tolerance over the envelope where none is given.
    area_share, moments_share : float
        Change of the area, and greatest one of a principal second moment, over the curves' own. Where contours
        overlap, each counts as often as it goes round.
    """

    sound: Sound
    tolerance_share: float
    area_share: float
    moments_share: float


def united(outline: Outline, making: Making) -> United:
    """Sound parts of an outline.

    Raises
    ------
    Unusable
        If nothing is filled, or it needs more points than are allowed.
    """
    if not outline.contours:
        raise Unusable("it has no contours; nothing is drawn")
    outline = turned_by_fill(outline)
    curves = curves_of(outline.contours)
    box = bounds(curves)
    size = float(max(box[2:] - box[:2]))
    share = DEFAULT_SHARE if making.flatten_mm else default_share(curves, size, making.keep_area)
    made = _fitted(outline, curves, (share, size), making)
    for _ in range(ROUNDS):
        much = made.moments_share / MOST_CHANGED[making.keep_area]
        if making.flatten_mm or not 1.0 < much < math.inf:
            break
        share *= max(0.9 / much, FINEST_STEP)
        try:
            made = _fitted(outline, curves, (share, size), making)
        except Unusable:  # too many points: better flattened a little coarsely than left out
            break
    return made


def _fitted(outline: Outline, curves: Curves, of: tuple[float, float], making: Making) -> United:
    """Sound parts, flattened to a share of the envelope (the two of them) where no tolerance is given."""
    share, size = of
    tolerance = share * size
    rings, found = _flat_and_sound(outline, curves, tolerance, making)
    wanted = _tolerance(found, outline, making, share)
    # Flattened again only where the fit needs it finer, or would be burdened by points it has no use for.
    if not 0.999 * wanted < tolerance < 1.05 * wanted:
        rings, found = _flat_and_sound(outline, curves, wanted, making)
    return United(found, share, *_changed(curves, rings, found))


def _flat_and_sound(
    outline: Outline, curves: Curves, tolerance: float, making: Making
) -> tuple[list[np.ndarray], Sound]:
    if not tolerance > 0:
        raise Unusable("the outline encloses no area; close its contours and fill it")
    rings = flatten(curves, tolerance, making.keep_area)
    if sum(map(len, rings)) > making.most_points:
        raise Unusable(
            f"it has {sum(map(len, rings))} points, more than {making.most_points}; simplify it, flatten it "
            "coarser, or raise the limit"
        )
    return rings, sound(_grouped(rings, outline))


def _grouped(rings: list[np.ndarray], outline: Outline) -> list[tuple[list[np.ndarray], str]]:
    if not outline.groups:
        return [(rings, outline.fill_rule)]
    ends = np.cumsum([count for count, _ in outline.groups])
    return [(rings[end - n : end], rule) for end, (n, rule) in zip(ends, outline.groups, strict=True)]


def _changed(curves: Curves, rings: list[np.ndarray], found: Sound) -> tuple[float, float]:
    """Relative change of the area and of the principal second moments by flattening."""
    if set(curves.pieces) == {2}:  # straight already
        return 0.0, 0.0
    area = sum(part.area for part in found.parts)
    won = abs(sum(map(ring_area, rings))) - abs(float(curves.areas.sum()))
    middle = found.parts[0].centroid.coords[0]
    exact = principal(moments_of(curves.moved(middle)))
    flat = principal(moments_of_rings([ring - middle for ring in rings]))
    return abs(won) / (area - won), float(np.abs(flat / exact - 1.0).max()) if (
        exact != 0.0
    ).all() else float("nan")


def principal(moments: np.ndarray) -> np.ndarray:
    """Principal second moments of (Ix, Iy, Ixy), whichever way round their contours run.

    >>> principal(np.array([-2.0, -5.0, 0.0])).tolist()
    [-5.0, -2.0]
    """
    ix, iy, ixy = moments
    half = np.hypot((ix - iy) / 2, ixy)
    return np.sort((ix + iy) / 2 + np.array([-half, half]))


def _tolerance(drawn: Sound, outline: Outline, making: Making, share: float) -> float:
    """Chord tolerance in drawn units that the fitted outline needs."""
    parts = drawn.parts[:1] if making.separate_parts == "keep-largest" else drawn.parts
    scale, flatten_mm = size_of(parts, outline, making, share)
    return flatten_mm / scale


def size_of(
    parts: tuple[Polygon, ...], outline: Outline, making: Making, share: float
) -> tuple[float, float]:
    """Millimetres in a drawn unit, and the chord tolerance in mm, `share` of the envelope where none is given.

    Raises
    ------
    Unusable
        If it would be too small or too large to work with.
    """
    box = envelope(parts)
    size = (float(box[2] - box[0]), float(box[3] - box[1]))
    area = sum(part.area for part in parts)
    scale = scale_of(making, size, area, outline.unit_mm, outline.cap_height)
    largest = scale * max(size)
    if not SMALLEST_SIZE <= largest <= LARGEST_SIZE:
        raise Unusable(
            f"it would be {largest:.3g} mm large; sizes from {SMALLEST_SIZE:g} to {LARGEST_SIZE:g} mm "
            "can be worked with: check its unit and the fit"
        )
    return scale, making.flatten_mm or share * largest
