"""Transverse shear that a ductile section can carry, from the cuts through its material.

Bending makes the longitudinal stress change along the member by F = y / Ix (held) per unit of shear force.
Where a cut parts a piece S from the rest, the shear stress on the cut has to bring ∫_S F dA to it. So no
shear force can exceed k · length of the cut ÷ |∫_S F dA|; and the least of this over all cuts can be
reached by a field of shear stress that is nowhere above k (the theorem of the greatest flow and the least
cut, in a plane region). That field is in equilibrium, so by the static theorem of plasticity the least cut
is a safe load. On a straight cut it is the handbooks' V Q / (I b), the mean stress on the cut.

Cuts are made of chords: from points of the boundary straight across the material; a broad one may turn off
to the boundary at both ends. Their lengths and the integrals are exact on the polygon; what is sought is only
where they lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.sections.area import AreaMoments, edges_of
from kit.sources import carries

ALONG = 16  # places along the greater dimension at which chords begin
SHARP_DEG, FAN_DEG = 15.0, 10.0
MOST_RAYS, MOST_CORNERS = 300, 10
PLACES, WAYS = 12, 12
BROAD = 0.35
MOST_PAIRS = 2_000_000
TURNS = 30


class _Flux:
    """∫x dA and ∫y dA as flows through ways: of fields with these divergences and none through any ring.

    The field (½x², 0) for x, (0, ½y²) for y; and a source in each hole, so that no flow passes its ring and
    it does not matter on which side of it a way goes on.
    """

    def __init__(self, rings: tuple[np.ndarray, ...]):
        self.a, self.b = edges_of(rings)
        sizes = [len(ring) for ring in rings]
        self.ring = np.repeat(np.arange(len(rings)), sizes)
        self.sources = np.empty((0, 2))
        self.strength = np.empty((0, 2))
        plain = self.through(self.a, self.b)
        if len(rings) > 1:
            self.strength = np.stack([plain[self.ring == i].sum(axis=0) for i in range(1, len(rings))])
            self.strength = self.strength / (2.0 * np.pi)
            self.sources = np.stack([_inside(ring) for ring in rings[1:]])
        flows = self.through(self.a, self.b)
        run = np.cumsum(flows, axis=0) - flows
        self.area = 0.5 * float(np.sum(self.a[:, 0] * self.b[:, 1] - self.a[:, 1] * self.b[:, 0]))
        starts = np.cumsum([0, *sizes[:-1]])
        self.at_start = run - run[starts][self.ring]

    def through(self, p: np.ndarray, q: np.ndarray) -> np.ndarray:
        """Flow from left to right of the straight ways p → q, (n, 2)."""
        d = q - p
        square = (p * p + p * q + q * q) / 6.0
        flow = np.column_stack([d[:, 1] * square[:, 0], -d[:, 0] * square[:, 1]])
        for source, strength in zip(self.sources, self.strength, strict=True):
            u, v = p - source, q - source
            angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], np.einsum("ij,ij->i", u, v))
            flow += angle[:, None] * strength
        return flow

    def to(self, edge: np.ndarray, point: np.ndarray) -> np.ndarray:
        """Flow through the boundary from the start of its ring to points on edges."""
        return self.at_start[edge] + self.through(self.a[edge], point)


@dataclass(frozen=True)
class Chords:
    """Chords from p to r through the material, (n,) arrays.

    Attributes
    ----------
    length_mm : lengths
    first, last : numbers of the rings they begin and end on
    flux : (n, 2), mm3
        ∫x dA and ∫y dA of what lies right of a closed way p → r → along the boundary → p. A way over several
        chords adds theirs.
    begin, end : (n, 2), mm
        p and r.
    through : _Flux
        Of the section they belong to.
    """

    length_mm: np.ndarray
    first: np.ndarray
    last: np.ndarray
    flux: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    through: _Flux


def _inside(ring: np.ndarray) -> np.ndarray:
    """A point inside a hole: the middle of the widest piece of a level half way up one of its edges."""
    low, high = ring[:, 1].min(), ring[:, 1].max()
    ends = np.sort(np.unique(ring[:, 1]))
    gap = int(np.argmax(np.diff(ends)))
    level = 0.5 * (ends[gap] + ends[gap + 1]) if len(ends) > 1 else 0.5 * (low + high)
    a, b = ring, np.roll(ring, -1, axis=0)
    crossing = (a[:, 1] > level) != (b[:, 1] > level)
    p, q = a[crossing], b[crossing]
    x = np.sort(p[:, 0] + (level - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]))
    pieces = x[1::2] - x[::2]
    widest = int(np.argmax(pieces))
    return np.array([x[2 * widest] + 0.5 * pieces[widest], level])


def _along(a: np.ndarray, b: np.ndarray, step: float):
    """Edges and points on them, evenly along the boundary; the inward normals there."""
    length = np.hypot(*(b - a).T)
    ends = np.cumsum(length)
    count = max(int(np.ceil(ends[-1] / step)), 8)
    places = (np.arange(count) + 0.5) * (ends[-1] / count)
    edge = np.minimum(np.searchsorted(ends, places), len(a) - 1)
    share = 1.0 - (ends[edge] - places) / length[edge]
    return edge, a[edge] + share[:, None] * (b - a)[edge]


def _normals(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    d = b - a
    return np.column_stack([-d[:, 1], d[:, 0]]) / np.hypot(*d.T)[:, None]


def _turns(rings: tuple[np.ndarray, ...], normal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The edge before each vertex, and by how many degrees the boundary turns inwards there."""
    before = np.arange(len(normal)) - 1
    starts = np.cumsum([0, *(len(ring) for ring in rings[:-1])])
    before[starts] = starts + [len(ring) - 1 for ring in rings]
    of, to = normal[before], normal
    turn = np.arctan2(of[:, 1] * to[:, 0] - of[:, 0] * to[:, 1], np.einsum("ij,ij->i", of, to))
    return before, np.degrees(turn)


def _fans(normal: np.ndarray, before: np.ndarray, turn: np.ndarray):
    """Rays where the boundary turns inwards, a step of the turn apart, between the normals of its sides.

    In any other direction a shorter chord begins beside the corner.
    """
    inward = np.flatnonzero(turn > 1e-6)
    ends = np.cumsum(turn[inward])
    if not inward.size:
        return inward, np.empty((0, 2))
    step = max(FAN_DEG, ends[-1] / MOST_RAYS)
    places = np.arange(0.5 * step, ends[-1], step)
    which = np.searchsorted(ends, places)
    part = 1.0 - (ends[which] - places) / turn[inward[which]]
    sharp = np.flatnonzero(turn > SHARP_DEG)[:MOST_RAYS]
    corner = np.concatenate([inward[which], sharp, sharp])
    share = np.concatenate([part, np.zeros(len(sharp)), np.ones(len(sharp))])
    angle = -np.radians(turn[corner]) * share
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = normal[before[corner]].T
    return corner, np.column_stack([x * cos - y * sin, x * sin + y * cos])


def _between_corners(a: np.ndarray, b: np.ndarray, normal: np.ndarray, before: np.ndarray, turn: np.ndarray):
    """Rays from sharp internal corners to each other, and to the nearest boundary ahead of each."""
    corner = np.flatnonzero(turn > SHARP_DEG)
    corner = corner[np.argsort(-turn[corner], kind="stable")[:MOST_CORNERS]]
    if not corner.size:
        return corner, np.empty((0, 2))
    v, d = a[corner], b - a
    share = np.clip(((v[:, None] - a) * d).sum(axis=2) / (d * d).sum(axis=1), 0.0, 1.0)
    way = a + share[:, :, None] * d - v[:, None]
    ahead = np.maximum(
        (way * normal[corner][:, None]).sum(axis=2), (way * normal[before[corner]][:, None]).sum(axis=2)
    )
    far = np.where(ahead > 0, (way**2).sum(axis=2), np.inf)
    rows = np.arange(len(corner))
    far[rows, corner] = far[rows, before[corner]] = np.inf
    nearest = way[rows, np.argmin(far, axis=1)]
    one, other = np.triu_indices(len(corner), 1)
    edge, to = np.concatenate([corner, corner[one]]), np.vstack([nearest, v[other] - v[one]])
    size = np.hypot(*to.T)
    # Clearly into the material: a ray along a side of its own corner would meet rounding.
    into = np.maximum((to * normal[edge]).sum(axis=1), (to * normal[before[edge]]).sum(axis=1))
    inside = into > 1e-6 * size
    return edge[inside], to[inside] / size[inside][:, None]


def _on_line(a: np.ndarray, b: np.ndarray, weights: np.ndarray):
    """Where the boundary crosses the neutral axis F = 0; rays along it and square to the boundary."""
    of_a, of_b = a @ weights, b @ weights
    edge = np.flatnonzero((of_a > 0) != (of_b > 0))
    share = of_a[edge] / (of_a[edge] - of_b[edge])
    point = a[edge] + share[:, None] * (b - a)[edge]
    normal = _normals(a[edge], b[edge])
    along = np.array([-weights[1], weights[0]]) / np.hypot(*weights)
    along = along * np.where(normal @ along >= 0, 1.0, -1.0)[:, None]
    return np.tile(edge, 2), np.tile(point, (2, 1)), np.vstack([along, normal])


def _levels(flux: _Flux, weights: np.ndarray) -> Chords:
    """Chords along levels of F, from places along the boundary that are not themselves level."""
    edge, start = _along(flux.a, flux.b, float(np.ptp(flux.a, axis=0).max()) / ALONG)
    along = np.array([-weights[1], weights[0]]) / np.hypot(*weights)
    into = _normals(flux.a[edge], flux.b[edge]) @ along
    steep = np.abs(into) > 0.05
    return _cast(flux, edge[steep], start[steep], np.where(into[steep, None] > 0, along, -along))


def _ratios(chords: Chords, weights: np.ndarray) -> np.ndarray:
    """Length ÷ |∫_S F dA| of each chord that is a cut by itself; inf for the others."""
    with np.errstate(divide="ignore"):
        ratio = chords.length_mm / np.abs(chords.flux @ weights)
    return np.where(chords.first == chords.last, ratio, np.inf)


def first_hits(start: np.ndarray, way: np.ndarray, a: np.ndarray, b: np.ndarray, near: float):
    """The edge each ray meets first, −1 for none, and how far away."""
    d = b - a
    across = np.stack([d[:, 1], -d[:, 0]])
    parallel = 1e-9 * np.hypot(*d.T)
    beyond = np.einsum("ij,ji->i", a, across)
    left = np.column_stack([-way[:, 1], way[:, 0]])
    offset = np.einsum("ij,ij->i", start, left)
    block = max(1, MOST_PAIRS // len(a))
    edges, distances = [np.empty(0, dtype=int)], [np.empty(0)]
    for at in range(0, len(start), block):
        some = slice(at, at + block)
        with np.errstate(divide="ignore", invalid="ignore"):
            turn = way[some] @ across
            # Parallel but for rounding: a ray that goes on straight from a side meets that side nowhere.
            turn[np.abs(turn) <= parallel] = 0.0
            turn = 1.0 / turn
            t = (beyond - start[some] @ across) * turn
            s = (offset[some, None] - left[some] @ a.T) * turn
            t[~((t > near) & (np.abs(s - 0.5) <= 0.5 + 1e-9))] = np.inf
        edge = np.argmin(t, axis=1)
        distance = t[np.arange(len(edge)), edge]
        edges.append(np.where(np.isfinite(distance), edge, -1))
        distances.append(distance)
    return np.concatenate(edges), np.concatenate(distances)


def chords_of(rings: tuple[np.ndarray, ...], neutral_axes: tuple[np.ndarray, ...]) -> Chords:
    """Chords that cuts may be made of.

    Parameters
    ----------
    rings : tuple of (n, 2) arrays, mm
        From the centroid, material on the left.
    neutral_axes : tuple of (2,) arrays
        Weights w of lines w · (x, y) = 0 on which cuts are likely to be worst.
    """
    a, b = edges_of(rings)
    normal = _normals(a, b)
    size = float(np.ptp(rings[0], axis=0).max())
    before, turn = _turns(rings, normal)
    edge, start = _along(a, b, size / ALONG)
    fans, fan = _fans(normal, before, turn)
    corners, to = _between_corners(a, b, normal, before, turn)
    crossed = [_on_line(a, b, weights) for weights in neutral_axes]
    way = np.vstack([normal[edge], fan, to, *(one[2] for one in crossed)])
    start = np.vstack([start, a[fans], a[corners], *(one[1] for one in crossed)])
    edge = np.concatenate([edge, fans, corners, *(one[0] for one in crossed)])
    return _cast(_Flux(rings), edge, start, way)


def _cast(flux: _Flux, edge: np.ndarray, start: np.ndarray, way: np.ndarray) -> Chords:
    """The chords that rays from points on edges make."""
    near = 1e-9 * float(np.ptp(flux.a, axis=0).max())
    hit, distance = first_hits(start, way, flux.a, flux.b, near)
    there = hit >= 0
    edge, start, hit, distance = edge[there], start[there], hit[there], distance[there]
    end = start + distance[:, None] * way[there]
    around = flux.through(start, end) + flux.to(edge, start) - flux.to(hit, end)
    return Chords(distance, flux.ring[edge], flux.ring[hit], around, start, end, flux)


@carries("strang-1983", "timoshenko-1955", caveats=("shear-mean-on-cut",))
def least_cut(chords: Chords, weights: np.ndarray) -> tuple[float, float]:
    """Least length ÷ |∫_S F dA| over the cuts, F = weights · (x, y), and the shortest chord of that cut.

    One chord from a ring to itself is a cut. So is a closed way over several rings: with the ratio λ known
    so far, a way of negative length − λ ∫F dA is a better cut (Dinkelbach), found by Bellman and Ford's rule.
    """
    of, ratio = chords.flux @ weights, _ratios(chords, weights)
    least = float(ratio.min())
    # Of cuts that are equal but for rounding, the one with the shortest chord.
    found = least, float(chords.length_mm[ratio <= least * (1.0 + 1e-6)].min())
    worst = int(np.argmin(ratio))
    if np.isfinite(least) and chords.length_mm[worst] > BROAD * np.sqrt(chords.through.area):
        found = min(found, _of_broad(chords, weights, worst), key=lambda one: one[0])
    if not np.isfinite(least):
        # Any ratio above the least will do to start from.
        found = 1e6 * float(chords.length_mm.max() / np.abs(of).max()), found[1]
    return found if (chords.first == chords.last).all() else _over_rings(chords, of, found)


def _of_broad(chords: Chords, weights: np.ndarray, worst: int) -> tuple[float, float]:
    """The worst cut of a solid: along a level, or bent off the worst chord or the longest on the neutral axis."""
    off = np.maximum(np.abs(chords.begin @ weights), np.abs(chords.end @ weights))
    on_axis = off <= 1e-9 * np.abs(chords.through.a @ weights).max()
    longest = int(np.argmax(np.where(on_axis, chords.length_mm, 0.0)))
    found = [_bent(chords, weights, chord) for chord in sorted({worst, longest})]
    level = _levels(chords.through, weights)
    if len(level.length_mm):
        ratio = _ratios(level, weights)
        lowest = int(np.argmin(ratio))
        found += [(float(ratio[lowest]), float(level.length_mm[lowest])), _bent(level, weights, lowest)]
    return min(found, key=lambda one: one[0])


def _bent(chords: Chords, weights: np.ndarray, chord: int) -> tuple[float, float]:
    """The worst cut that follows a chord for a part and leaves it by rays to the boundary at both ends.

    Where the depth of a solid varies along the chord, the shear stress does: the middle of a flat rhombus is
    pushed out between cuts to both sides of it.
    """
    p, r = chords.begin[chord], chords.end[chord]
    share = (np.arange(PLACES) + 0.5) / PLACES
    angle = (np.arange(WAYS) + 0.5) * (2.0 * np.pi / WAYS)
    along = (r - p) / chords.length_mm[chord]
    aside = np.array([-along[1], along[0]])
    ways = np.cos(angle)[:, None] * along + np.sin(angle)[:, None] * aside
    start = np.repeat(p + share[:, None] * (r - p), WAYS, axis=0)
    flux = chords.through
    edge, length = first_hits(start, np.tile(ways, (PLACES, 1)), flux.a, flux.b, 0.0)
    there = edge >= 0
    edge, length, start = edge[there], length[there], start[there]
    end = start + length[:, None] * np.tile(ways, (PLACES, 1))[there]
    place = np.repeat(share, WAYS)[there] * chords.length_mm[chord]
    run = flux.through(np.broadcast_to(p, start.shape), start)
    flow = (run + flux.through(start, end) - flux.to(edge, end)) @ weights
    whole = length[:, None] + length + np.abs(place[:, None] - place)
    apart = np.abs(flow[:, None] - flow)
    apart = np.where(flux.ring[edge][:, None] == flux.ring[edge], apart, 0.0)
    with np.errstate(divide="ignore"):
        ratio = whole / apart
    best = int(np.argmin(ratio))
    return float(ratio.flat[best]), float(whole.flat[best])


def _over_rings(chords: Chords, of: np.ndarray, found: tuple[float, float]) -> tuple[float, float]:
    apart = np.flatnonzero(chords.first != chords.last)
    length = np.tile(chords.length_mm[apart], 2)
    flow = np.concatenate([of[apart], -of[apart]])
    start = np.concatenate([chords.first[apart], chords.last[apart]])
    stop = np.concatenate([chords.last[apart], chords.first[apart]])
    for _ in range(TURNS):
        way = _negative_way(start, stop, length - found[0] * flow)
        if way is None:
            break
        ratio = length[way].sum() / flow[way].sum()
        if not 0.0 < ratio < found[0] * (1.0 - 1e-12):
            break
        found = float(ratio), float(length[way].min())
    return found


def _negative_way(start: np.ndarray, stop: np.ndarray, cost: np.ndarray) -> np.ndarray | None:
    """Chords of a closed way of negative cost, or None."""
    rings = int(max(start.max(), stop.max())) + 1
    order = np.argsort(cost, kind="stable")
    pair = (start * rings + stop)[order]
    _, first = np.unique(pair, return_index=True)
    least = order[first]
    reached = np.zeros(rings)
    came = np.full(rings, -1)
    last = -1
    for _ in range(rings):
        last = -1
        for chord in least:
            at = reached[start[chord]] + cost[chord]
            if at < reached[stop[chord]] - 1e-12 * abs(cost[chord]):
                reached[stop[chord]], came[stop[chord]] = at, chord
                last = int(stop[chord])
        if last < 0:
            return None
    for _ in range(rings):
        last = int(start[came[last]])
    way, at = [], last
    while not way or at != last:
        way.append(came[at])
        at = int(start[came[at]])
    return np.array(way)


def shear_columns(rings: tuple[np.ndarray, ...], m: AreaMoments) -> dict[str, float]:
    """Columns of the least cuts under a force along y: bending held in its plane, and free.

    Free, F = (Iy y − Ixy x) / (Ix Iy − Ixy²), the stress of unsymmetric bending.
    """
    held = np.array([0.0, 1.0 / m.Ix])
    free = np.array([-m.Ixy, m.Iy]) / (m.Ix * m.Iy - m.Ixy**2)
    alike = abs(m.Ixy) <= 1e-9 * m.Iy
    chords = chords_of(rings, (held,) if alike else (held, free))
    area, wall = least_cut(chords, held)
    area_free, wall_free = (area, wall) if alike else least_cut(chords, free)
    return {
        "shear_cut_area_y_mm2": area,
        "shear_cut_area_y_free_mm2": area_free,
        "shear_cut_wall_mm": min(wall, wall_free),
    }
