"""Loose pieces to closed contours: end points nearer than a stated gap are joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from kit.errors import Unusable
from kit.outlines.arcs import closed
from kit.outlines.flattening import flatten, ring_area
from kit.outlines.outline import Contour
from kit.outlines.winding import filled

MOST_CHAINS = 20_000
SAME_LOOP = 1e-4  # of the drawing's size: loops nearer to one another than this are one, drawn twice


def joined(chains: list[list[np.ndarray]], gap: float) -> list[Contour]:
    """Closed contours from chains of pieces.

    Parameters
    ----------
    chains : list of lists of pieces, drawn units
        Each chain's pieces follow one another; chains may run either way and come in any order.
    gap : float, drawn units
        Greatest distance between ends that are meant to meet.

    Returns
    -------
    list of contours

    Raises
    ------
    Unusable
        If a chain stays open (with the place and the distance), or more than two ends meet.
    """
    if len(chains) > MOST_CHAINS:
        raise Unusable(f"it has more than {MOST_CHAINS} loose pieces; join them in the drawing")
    loops, loose = [], []
    for chain in _each_once(chains):
        is_loop = np.hypot(*(chain[-1][-1] - chain[0][0])) <= gap and _extent(chain) > gap
        (loops if is_loop else loose).append(chain)
    ends = np.array([[c[0][0], c[-1][-1]] for c in loose]).reshape(-1, 2)
    unused = np.ones(len(ends), bool)
    for start in range(len(loose)):
        if unused[2 * start]:
            loops.append(_follow(start, loose, ends, unused, gap))
    return [contour for contour in map(closed, loops) if contour]


def loops_once(contours: Sequence[Contour]) -> list[Contour]:
    """Loops without those drawn twice, wherever they begin, whichever way they run, however they are split.

    Raises
    ------
    Unusable
        If loops lie partly in one another: whether they unite or cut one another is anyone's guess.
    """
    size = float(np.ptp(np.concatenate([p for c in contours for p in c]), axis=0).max())
    if not 0.0 < size < np.inf:
        return list(contours)
    rings = flatten(tuple(contours), SAME_LOOP * size)
    places = [i for i, ring in enumerate(rings) if len(ring) > 2]
    areas = [shapely.make_valid(Polygon(rings[i])) for i in places]
    pairs = [(i, j) for i, j in shapely.STRtree(areas).query(areas, predicate="intersects").T if i < j]
    again = {j for i, j in pairs if _same_loop(areas[i], areas[j], 2.0 * SAME_LOOP * size)}
    _refuse_overlaps(areas, [pair for pair in pairs if not again & set(pair)])
    dropped = {places[j] for j in again}
    return [contour for i, contour in enumerate(contours) if i not in dropped]


def shallow(contours: Sequence[Contour], deepest: int | None) -> list[Contour]:
    """Loops that lie in no more than so many others; all where nothing is given.

    Parameters
    ----------
    contours : sequence of contours
        None lies partly in another.
    deepest : int or None
    """
    if deepest is None or len(contours) < 2:
        return list(contours)
    size = float(np.ptp(np.concatenate([p for c in contours for p in c]), axis=0).max())
    rings = flatten(tuple(contours), SAME_LOOP * size)
    areas = [shapely.make_valid(Polygon(ring)) if len(ring) > 2 else Polygon() for ring in rings]
    spots = [area.representative_point() for area in areas]
    inside, around = shapely.STRtree(areas).query(spots, predicate="within")
    own = np.array([area.area for area in areas])
    depth = np.bincount(inside[own[around] > own[inside]], minlength=len(areas))
    return [contour for contour, d in zip(contours, depth, strict=True) if d <= deepest]


def refuse_filled_holes(loops: Sequence[Contour], fills: Sequence[Sequence[Contour]]) -> None:
    """Refuse fills of what loops in other loops leave open: which of the two is meant is anyone's guess.

    Raises
    ------
    Unusable
    """
    size = float(np.ptp(np.concatenate([p for c in loops for p in c]), axis=0).max())
    near = SAME_LOOP * size
    rings = [ring for ring in flatten(tuple(loops), near) if len(ring) > 2]
    one_way = [ring if ring_area(ring) > 0 else ring[::-1] for ring in rings]
    hollow = shapely.union_all(filled(one_way)).difference(shapely.union_all(filled(rings, "evenodd")))
    for fill in fills:
        solid = shapely.union_all(filled(flatten(tuple(fill), near), "evenodd"))
        both = hollow.intersection(solid).buffer(-2.0 * near)
        if not both.is_empty:
            x, y = both.representative_point().coords[0]
            raise Unusable(
                f"a hatch fills a hole of the outline near {x:g}, {y:g}; delete the one or the other"
            )


def _same_loop(a: shapely.Geometry, b: shapely.Geometry, apart: float) -> bool:
    between = apart * min(a.length, b.length)
    return abs(a.area - b.area) <= between and a.symmetric_difference(b).area <= between


def _refuse_overlaps(areas: list, pairs: list[tuple[int, int]]) -> None:
    for i, j in pairs:
        if not areas[i].overlaps(areas[j]):
            continue
        if areas[i].intersection(areas[j]).area > 1e-5 * min(areas[i].area, areas[j].area):
            x, y = areas[i].intersection(areas[j]).representative_point().coords[0]
            raise Unusable(
                f"two of its loops overlap near {x:g}, {y:g}; unite them, or cut one out of the other"
            )


def _follow(
    start: int, loose: list[list[np.ndarray]], ends: np.ndarray, unused: np.ndarray, gap: float
) -> list:
    """The loop that begins with one chain; the ends it uses are struck off."""
    loop, tail = list(loose[start]), 2 * start + 1
    unused[[2 * start, tail]] = False
    while True:
        away = np.hypot(*(ends - ends[tail]).T)
        near = np.flatnonzero(unused & (away <= gap))
        home = np.hypot(*(ends[2 * start] - ends[tail])) <= gap
        if len(near) + home > 1:
            x, y = ends[tail]
            raise Unusable(f"more than two ends meet at {x:g}, {y:g}; delete what is drawn twice there")
        if home:
            return loop
        if not len(near):
            _refuse_open(ends, unused, tail, start)
        chain = loose[near[0] // 2]
        backwards = near[0] % 2 == 1
        loop += [piece[::-1] for piece in reversed(chain)] if backwards else chain
        tail = near[0] - 1 if backwards else near[0] + 1
        unused[[near[0], tail]] = False


def _refuse_open(ends: np.ndarray, unused: np.ndarray, tail: int, start: int) -> None:
    others = ends[unused | (np.arange(len(ends)) == 2 * start)]
    x, y = ends[tail]
    least = np.hypot(*(others - ends[tail]).T).min()
    raise Unusable(
        f"an end at {x:g}, {y:g} meets no other (the nearest is {least:.3g} away); close it, or allow a gap"
    )


def _extent(chain: list[np.ndarray]) -> float:
    return float(np.ptp(np.concatenate(chain), axis=0).max())


def _each_once(chains: list[list[np.ndarray]]) -> list[list[np.ndarray]]:
    """Without chains drawn twice, in either direction, and without those of no length."""
    kept: dict[tuple, list[np.ndarray]] = {}
    for chain in chains:
        points = np.concatenate(chain) if chain else np.empty((0, 2))
        if not len(points) or not np.ptp(points, axis=0).any():
            continue
        ways = (points.tobytes(), np.ascontiguousarray(points[::-1]).tobytes())
        kept.setdefault(min(ways), chain)
    return list(kept.values())
