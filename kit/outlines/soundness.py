"""From rings to sound parts: united by the fill rule, healed, contacts in a point opened."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kit.errors import Unusable
from kit.outlines.winding import filled, parts_of

# Shares of the envelope (lengths) or of the whole area. Common practice, no source: far below what can
# be cut, far above rounding.
CONTACT = 1e-4  # a neck this half-width is a contact in a point, not a joint
SAME_POINT = 1e-6  # points nearer than this are one point
SLIVER = 1e-4  # parts smaller than this are dropped
PINHOLE = 1e-6  # holes smaller than this are filled
ASKEW = np.array([math.cos(1.0), math.sin(1.0)])
SPIKE = 50.0  # offsets; a corner of 2.3 degrees draws back by as much


@dataclass(frozen=True)
class Sound:
    """Sound parts of an outline.

    Attributes
    ----------
    parts : tuple of shapely.Polygon
        Valid, the largest first; they neither overlap nor meet.
    changed_area : float
        Area added and taken away by the repairs, in the outline's own units squared.
    repairs : tuple of str
        What was repaired, as flags.
    """

    parts: tuple[Polygon, ...]
    changed_area: float
    repairs: tuple[str, ...]


def sound(groups: list[tuple[list[np.ndarray], str]]) -> Sound:
    """Unite rings by their fill rules and heal what comes of it.

    Parameters
    ----------
    groups : list of (rings, fill rule)
        Shapes painted over one another, each with its own rings.

    Raises
    ------
    Unusable
        If nothing is filled.
    """
    cleaned = [([_distinct(ring) for ring in rings], rule) for rings, rule in groups]
    drawn = _painted(cleaned)
    if not drawn:
        raise Unusable("the outline encloses no area; close its contours and fill it")
    x0, y0, x1, y1 = envelope(drawn)
    size, area = max(x1 - x0, y1 - y0), sum(part.area for part in drawn)
    if not (area > 1e-9 * size * size):
        raise Unusable("the outline encloses almost no area; it is a line drawn as a shape")
    parts, repairs = _mended(drawn, size, area)
    if not parts:
        raise Unusable("nothing is left of the outline after dropping slivers; draw it thicker")
    changed = _changed(drawn, parts) if repairs else 0.0
    return Sound(tuple(sorted(parts, key=lambda p: -p.area)), changed, repairs)


def _painted(groups) -> list[Polygon]:
    shapes = [part for rings, rule in groups for part in filled(rings, rule)]
    return shapes if len(groups) <= 1 else parts_of(shapely.union_all(shapes))


def _distinct(ring: np.ndarray) -> np.ndarray:
    """Without points that repeat the one before."""
    same = (ring == np.concatenate((ring[-1:], ring[:-1]))).all(axis=1)
    return ring[~same] if same.any() else ring


def envelope(parts) -> tuple[float, float, float, float]:
    """Box around all parts: least x, least y, greatest x, greatest y."""
    if len(parts) == 1:
        return parts[0].bounds
    boxes = np.array([part.bounds for part in parts])
    return (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())


def _mended(drawn: list[Polygon], size: float, area: float) -> tuple[list[Polygon], tuple[str, ...]]:
    """Parts without slivers, pinholes, points on one another and contacts in a point."""
    repairs: list[str] = []
    parts = [part for part in drawn if part.area > SLIVER * area]
    if len(parts) < len(drawn):
        repairs.append("slivers-dropped")
    parts, pinholes = _without_pinholes(parts, PINHOLE * area)
    merged = [_merged(part, SAME_POINT * size) for part in parts]
    opened = [p for part in merged for p in open_contacts(part, CONTACT * size)]
    if pinholes:
        repairs.append("pinholes-filled")
    if any(a is not b for a, b in zip(parts, merged, strict=True)):
        repairs.append("points-merged")
    if len(opened) != len(merged) or any(a is not b for a, b in zip(merged, opened, strict=True)):
        repairs.append("contacts-opened")
    return [part for part in opened if part.area > SLIVER * area], tuple(repairs)


def _without_pinholes(parts: list[Polygon], least: float) -> tuple[list[Polygon], bool]:
    if not any(Polygon(hole).area <= least for part in parts for hole in part.interiors):
        return parts, False
    kept = [Polygon(p.exterior, [h for h in p.interiors if Polygon(h).area > least]) for p in parts]
    return kept, True


def _merged(part: Polygon, nearest: float) -> Polygon:
    """Points nearer to one another than this become one; the part itself where there are none."""
    if part.is_valid and not crowded(_points(part), nearest):
        return part
    found = parts_of(shapely.set_precision(shapely.make_valid(part), nearest))
    if not found:
        raise Unusable("the outline is thinner than its own points can tell apart; draw it thicker")
    return max(found, key=lambda p: p.area) if len(found) == 1 else MultiPolygon(found)


def _points(part: Polygon) -> np.ndarray:
    """Points of all rings, each once."""
    return np.concatenate([np.asarray(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)])


def crowded(points: np.ndarray, nearest: float) -> bool:
    """Whether two points may be nearer than this (never missed; found up to three times as far).

    Such points lie as near along any direction; one askew to what letters are drawn along tells most outlines
    at once. Else they share a cell of twice the size in one of four grids, each shifted by half a cell.
    """
    along = np.sort(points @ ASKEW)
    if (along[1:] - along[:-1] > nearest).all():
        return False
    cells = (points - points.min(axis=0)) / (2.0 * nearest)
    columns = cells[:, 0].max() + 2.0
    if columns * (cells[:, 1].max() + 2.0) > 2.0**52:  # more cells than whole numbers can be told apart
        return True
    for shift in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        across, up = np.floor(cells + shift).T
        number = np.sort(up * np.floor(columns) + across)
        if (number[1:] == number[:-1]).any():
            return True
    return False


def open_contacts(part: Polygon | MultiPolygon, half_width: float) -> list[Polygon]:
    """Part where parts of it meet in a point, or a hole meets its edge in one: such a contact is no joint.

    Spikes at the envelope, which have no strength to be an extreme fibre, are cut off.

    The part itself is returned where an inward offset leaves it in one piece with as many holes
    and as far-reaching.
    """
    inner = parts_of(shapely.buffer(part, -half_width, join_style="mitre", mitre_limit=5.0))
    holes = sum(len(p.interiors) for p in parts_of(part))
    whole = len(inner) == 1 and len(inner[0].interiors) == holes and isinstance(part, Polygon)
    if whole and _reach_lost(part, inner[0]) < SPIKE * half_width:
        return [part]
    if not inner:
        return []
    # Grown back by a little less, so that what was parted stays parted.
    grown = shapely.buffer(inner, 0.98 * half_width, join_style="mitre", mitre_limit=5.0)
    found = [p for g in grown for p in parts_of(shapely.intersection(g, shapely.make_valid(part)))]
    # Where an offset corner grazes the drawn one, points fall all but together.
    same = half_width * SAME_POINT / CONTACT
    return [p for one in found for p in parts_of(_merged(one, same))]


def _reach_lost(part: Polygon, inner: Polygon) -> float:
    """How far an inward offset drew back the envelope: far only at a spike."""
    a, b = part.bounds, inner.bounds
    return max(b[0] - a[0], b[1] - a[1], a[2] - b[2], a[3] - b[3])


def _changed(drawn: list[Polygon], parts: list[Polygon]) -> float:
    before, after = (shapely.make_valid(shapely.union_all(list(g))) for g in (drawn, parts))
    return float(shapely.symmetric_difference(before, after).area)
