"""Loose pieces to closed contours: end points nearer than a stated gap are joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from kit.errors import Unusable
from kit.outlines.arcs import closed
from kit.outlines.flattening import flatten
from kit.outlines.outline import Contour

MOST_CHAINS = 20_000


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


def refuse_overlaps(contours: Sequence[Contour]) -> None:
    """Refuse loops that lie partly in one another: whether they unite or cut one another is anyone's guess.

    Raises
    ------
    Unusable
    """
    size = float(np.ptp(np.concatenate([p for c in contours for p in c]), axis=0).max())
    areas = [
        shapely.make_valid(Polygon(ring)) for ring in flatten(tuple(contours), 1e-3 * size) if len(ring) > 2
    ]
    for i, j in shapely.STRtree(areas).query(areas, predicate="overlaps").T:
        if i < j and areas[i].intersection(areas[j]).area > 1e-5 * min(areas[i].area, areas[j].area):
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
