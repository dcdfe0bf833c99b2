"""What a tool leaves of an outline: radii in internal corners, slots filled, slits, webs."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Polygon, affinity

from kit.errors import Unusable
from kit.outlines.leastwall import least_neck
from kit.outlines.sides import sides_of
from kit.outlines.winding import parts_of

CRACK = 1e-3  # cutter radii
HAIR = 0.01  # cutter radii, at most
NARROW = 0.1  # cutter radii; what is narrower counts as a corner
SLOT = 4.0  # cutter radii; in a corner of 30 degrees the cutter touches 3.7 radii from the tip
SAME = 1e-9
THINNED = 3
STEP = 0.1  # of the tolerance; smaller steps are left over from joining arcs to chords
SHARP_DEG = 25.0
NEAR = 1e-3  # of the least distance: what is no further is as near


def closed_by_cutter(polygon: Polygon, radius: float, tolerance: float) -> Polygon:
    """The outline as a round cutter leaves it (morphological closing by a disc).

    The cutter leaves its radius in every internal corner, and does not enter slots narrower than
    itself; convex corners stay as sharp as drawn.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    radius : float, mm
    tolerance : float, mm
        Greatest distance between an arc and its chords.

    Returns
    -------
    shapely.Polygon
    """
    return with_added(polygon, added_by_cutter(polygon, radius, tolerance), tolerance)


def added_by_cutter(polygon: Polygon, radius: float, tolerance: float) -> list[Polygon]:
    """What a round cutter leaves standing beside the outline: fillets of corners, slots, counters."""
    if radius <= 0.0:
        return []
    # Arcs nine times finer than asked, so that what closing adds along chords can be told from fillets;
    # three in a row then become one, within the tolerance.
    arcs = _arc_segments(radius, tolerance / THINNED**2)
    # Less a hair: into a slot as wide as itself the cutter goes, whatever chords and rounding take of it.
    radius -= min(0.5 * tolerance, HAIR * radius)
    closed = polygon.buffer(radius, quad_segs=arcs).buffer(-radius, quad_segs=arcs)
    # Closing only ever adds. What it adds along chords of a curve wider than the cutter is an artefact
    # of the chords, thinner than the tolerance; dropping it keeps the drawn points as they are.
    return _fillets(closed.difference(polygon), tolerance, 10 * SAME * _size(polygon))


def _size(polygon: Polygon) -> float:
    return max(np.ptp(np.asarray(polygon.exterior.coords), axis=0))


def with_added(polygon: Polygon, added: list[Polygon], tolerance: float) -> Polygon:
    """The outline with what the cutter leaves standing; the outline itself where that is nothing."""
    if not added:
        return polygon
    size = _size(polygon)
    # A hair of overlap, then snapping, so that no gap of rounding stays between a fillet and its corner.
    hair = shapely.buffer(added, SAME * size * 10, join_style="mitre")
    joined = shapely.union_all([polygon, *hair])
    whole = max(parts_of(joined), key=lambda p: p.area)
    return _without_steps(_thinned(_tidy(whole, tolerance, size), polygon), STEP * tolerance)


def _fillets(added, tolerance: float, hair: float) -> list[Polygon]:
    """What closing adds by more than half the tolerance, freed of cracks of rounding.

    Cracks along straight sides hang fillets together and make them look thin.
    """
    parts = parts_of(added)
    thick = [2.0 * part.area > 0.5 * tolerance * part.length for part in parts]
    hung = [p for p, enough in zip(parts, thick, strict=True) if not enough and p.area > tolerance**2]
    opened = shapely.buffer(shapely.buffer(hung, -hair, join_style="mitre"), hair, join_style="mitre")
    freed = [piece for part in opened for piece in parts_of(part)]
    found = [part for part, enough in zip(parts, thick, strict=True) if enough]
    return found + [p for p in freed if 2.0 * p.area > 0.5 * tolerance * p.length]


def _without_steps(polygon: Polygon, step: float) -> Polygon:
    """Without internal corners at a step smaller than given, left where an arc meets chords of a curve.

    Such a step is no corner of the cutter's, but would be taken for a sharp one. Filling it adds less than
    1e-8 of the area.
    """
    oriented = shapely.geometry.polygon.orient(polygon)  # material on the left of every ring
    rings = [
        _ring_without_steps(np.asarray(ring.coords)[:-1], step, 1e-8 * polygon.area)
        for ring in (oriented.exterior, *oriented.interiors)
    ]
    found = Polygon(rings[0], rings[1:])
    return found if found.is_valid else polygon


def _ring_without_steps(points: np.ndarray, step: float, area: float) -> np.ndarray:
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    inward = -np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))
    least = np.minimum(np.hypot(*before.T), np.hypot(*after.T))
    keep = (inward < SHARP_DEG) | (least > step) | (abs(cross) / 2 > area)
    return points[keep] if keep.sum() >= 3 else points


def _arc_segments(radius: float, tolerance: float) -> int:
    """Chords in a quarter circle for the tolerance (gap r (1 − cos(angle/2)))."""
    half = math.acos(max(0.0, 1.0 - min(tolerance / radius, 1.0)))
    return int(np.clip(math.ceil(math.pi / 4.0 / max(half, 1e-6)), 4, 400))


def _tidy(polygon: Polygon, tolerance: float, size: float) -> Polygon:
    """Without points that lie on a straight side, and without cracks of rounding."""
    simple = polygon.simplify(min(0.02 * tolerance, 1e-6 * size))
    holes = [h for h in simple.interiors if Polygon(h).area > (100 * SAME * size) * h.length]
    return Polygon(simple.exterior, holes)


def _thinned(cut: Polygon, drawn: Polygon) -> Polygon:
    """With every third point of the new arcs; drawn points and the ends of arcs stay."""
    known = {tuple(p) for p in shapely.get_coordinates(drawn).tolist()}
    rings = [_thinned_ring(np.asarray(ring.coords)[:-1], known) for ring in (cut.exterior, *cut.interiors)]
    found = Polygon(rings[0], rings[1:])
    return found if found.is_valid else cut


def _thinned_ring(ring: np.ndarray, known: set) -> np.ndarray:
    new = np.array([tuple(p) not in known for p in ring.tolist()])
    after = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    alike = np.maximum(after, np.roll(after, 1)) < 2.0 * np.minimum(after, np.roll(after, 1))
    # Not the first or the last point of an arc, where a straight side or a drawn point follows.
    inside = new & np.roll(new, 1) & np.roll(new, -1) & alike
    if inside.all():  # what is left of a round counter
        return ring[::THINNED] if len(ring) > 4 * THINNED else ring
    start = int(np.flatnonzero(~inside)[0])
    ring, inside = np.roll(ring, -start, axis=0), np.roll(inside, -start)
    since = np.arange(len(ring)) - np.maximum.accumulate(np.where(inside, 0, np.arange(len(ring))))
    return ring[~inside | (since % THINNED == 0)]


def _length(part: Polygon) -> float:
    box = shapely.minimum_rotated_rectangle(part)
    corners = np.asarray(box.exterior.coords) if isinstance(box, Polygon) else np.zeros((3, 2))
    return float(max(np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[1]))))


def filled_slots(added: list[Polygon], radius: float) -> bool:
    """Whether the cutter left a slot standing: more than it leaves in any corner of 30 degrees or more, or
    what has two sides opposite one another, however short."""
    long = [part for part in added if part.length > 2 * SLOT * radius]
    # Cracks of rounding along a straight side hang the fillets of its corners together.
    apart = shapely.buffer(long, -CRACK * radius, join_style="mitre")
    if any(_length(piece) > SLOT * radius for part in apart for piece in parts_of(part)):
        return True
    # Between an arc and the side it ends on, chords lie opposite one another too: far nearer than a slot's.
    return any(NARROW * radius < least_neck(sides_of(part), 2 * radius) < 2 * radius for part in added)


def webbed(parts: list[Polygon], width: float) -> Polygon:
    """Join separate parts by straight webs along the shortest lines between them.

    Raises
    ------
    Unusable
        If the webs do not make one part of them.
    """
    webs = [line.buffer(width / 2, quad_segs=8) for line in _shortest_links(_in_order(parts))]
    inside = shapely.MultiPolygon(parts).convex_hull
    joined = parts_of(shapely.union_all([*parts, *(web.intersection(inside) for web in webs)]))
    if len(joined) != 1:
        raise Unusable("its separate parts could not be joined by webs; join them in the drawing")
    return joined[0]


def _in_order(parts: list[Polygon]) -> list[Polygon]:
    """The largest first; of those as large as one another, the lowest, whatever order they were drawn in."""
    total = sum(part.area for part in parts)
    middles = np.round([part.centroid.coords[0] for part in parts] / np.sqrt(total), 6)
    size = np.round([part.area / total for part in parts], 6)
    return [parts[i] for i in np.lexsort((middles[:, 0], middles[:, 1], -size))]


def slit_open(polygon: Polygon, width: float) -> Polygon:
    """Open every counter to the outside by the slit a wire leaves, along the shortest way.

    Raises
    ------
    Unusable
        If a slit would cut the outline in two.
    """
    rings = [LineString(ring) for ring in (polygon.exterior, *polygon.interiors)]
    cut = polygon
    for slit in _shortest_links(rings):
        longer = 1.0 + 2.0 * width / slit.length
        long = affinity.scale(slit, longer, longer)
        cut = cut.difference(long.buffer(width / 2, cap_style="flat"))
    parts = [p for p in parts_of(cut) if p.area > 1e-6 * polygon.area]
    if len(parts) != 1 or parts[0].interiors:
        raise Unusable("a lead-in slit would cut it in two; choose a process that makes closed counters")
    return parts[0]


def _shortest_links(shapes: list) -> list[LineString]:
    """Shortest lines that connect all shapes to the first one (Prim's tree): none crosses another shape."""
    linked, rest, lines = [shapes[0]], list(shapes[1:]), []
    while rest:
        pairs = [(a.distance(b), j, a) for a in linked for j, b in enumerate(rest)]
        _, j, near = min(pairs, key=lambda pair: pair[0])
        lines.append(_link(near, rest[j]))
        linked.append(rest.pop(j))
    return lines


def _link(a, b) -> LineString:
    """The shortest line from a to b; between parallel sides the one in the middle, wherever a ring begins."""
    least = a.distance(b)
    edge = b.exterior if isinstance(b, Polygon) else b
    near = edge.intersection(a.buffer(least * (1 + NEAR), quad_segs=64))
    pieces = shapely.get_parts(shapely.line_merge(near) if near.geom_type == "MultiLineString" else near)
    lengths = shapely.length(pieces)
    if not len(pieces) or not lengths.max() > 0:
        return shapely.shortest_line(a, b)
    middles = shapely.line_interpolate_point(pieces[lengths > 0.99 * lengths.max()], 0.5, normalized=True)
    spots = np.round(shapely.get_coordinates(middles) / least, 3)
    return shapely.shortest_line(a, middles[np.lexsort(spots.T)[0]])
