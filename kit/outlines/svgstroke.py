"""The outline of a painted stroke, where it is asked for (SVG 2, "Computing the shape of the stroke")."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from kit.errors import Unusable
from kit.outlines.arcs import closed, line
from kit.outlines.flattening import BEND
from kit.outlines.outline import Contour, clean
from kit.outlines.svglengths import LENGTH
from kit.outlines.svgpath import Subpath, numbers_of
from kit.outlines.svgseen import placed
from kit.outlines.winding import parts_of

CAPS, JOINS = ("butt", "round", "square"), ("miter", "round", "bevel")
FLATNESS = 5e-5  # of the size of what is stroked
GROWTH = 1e-7
SMOOTH = math.radians(20.0)  # chords of one curve turn by less, but at a cusp
FINEST_TURN, MOST_CHORDS = math.radians(2.0), 5_000  # along a curve


@dataclass(frozen=True)
class Nib:
    """What a line is drawn with: half its width, cap, join, and how long a mitre may be over the width."""

    half: float
    cap: str
    join: str
    longest: float


@dataclass(frozen=True)
class Run:
    """A piece to be drawn: points along it, and half the width across it at each, to its left."""

    points: np.ndarray
    sides: np.ndarray


def stroked(
    subpaths: list[Subpath], width: float, style: dict[str, str], matrix: np.ndarray
) -> list[Contour]:
    """Closed contours around strokes, united, in page units.

    Parameters
    ----------
    subpaths : list of Subpath, the shape's own units
    width : float, own units
    style : dict
        Computed properties (joins, caps, dashes).
    matrix : (3, 3) float array
        From the shape's own units to page units.

    Raises
    ------
    Unusable
        If the stroke is not of the plain kind.
    """
    nib = nib_of(width, style)
    sizes = [np.ptp(np.concatenate(subpath.pieces), axis=0).max() for subpath in subpaths]
    size = max(sizes) + width
    bodies = [body for subpath in subpaths for body in _bodies(subpath, nib, FLATNESS * size)]
    whole = shapely.union_all(_grown(bodies)).simplify(10.0 * GROWTH * size)
    parts = parts_of(whole)
    return [_contour(ring, matrix) for part in parts for ring in (part.exterior, *part.interiors)]


def _grown(bodies: list) -> np.ndarray:
    """Bodies a trifle larger about their middles, so that no hair's breadth stays open where they only touch."""
    shapes = shapely.get_parts(bodies)
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    middle = shapely.get_coordinates(shapely.centroid(shapes))[owner]
    return shapely.set_coordinates(shapes, middle + (1.0 + GROWTH) * (points - middle))


def nib_of(width: float, style: dict[str, str]) -> Nib:
    """The nib that the properties describe."""
    cap, join = style["stroke-linecap"].lower(), style["stroke-linejoin"].lower()
    longest = numbers_of(style["stroke-miterlimit"]) or [0.0]
    if cap not in CAPS or join not in JOINS or width < 0 or longest[0] < 1:
        shown = clean(f"{cap}, {join}, {style['stroke-miterlimit']}, {width:g}", 60)
        raise Unusable(f"its stroke has a cap, join, mitre limit or width of no known kind ({shown})")
    dashes = [LENGTH.fullmatch(dash) for dash in style["stroke-dasharray"].replace(",", " ").split()]
    if style["stroke-dasharray"].lower() != "none" and not all(d and float(d[1]) == 0 for d in dashes):
        raise Unusable("it is drawn in dashes; turn strokes into paths")
    if style.get("vector-effect", "none").lower() != "none":
        raise Unusable("its stroke keeps its width at any scale (vector-effect); turn strokes into paths")
    return Nib(width / 2.0, cap, join, longest[0])


def _bodies(subpath: Subpath, nib: Nib, tolerance: float) -> list:
    """What the nib sweeps over along each piece, what joins them, and the caps: together they are the stroke."""
    first, last = subpath.pieces[0][0], subpath.pieces[-1][-1]
    pieces = [*subpath.pieces, *([line(last, first)] if subpath.is_closed else [])]
    runs = [_run(piece, nib.half, tolerance) for piece in pieces if np.ptp(piece, axis=0).any()]
    if not runs:
        return _dot(first, nib)
    ends = [(run.points[-1], run.sides[-1], after.sides[0]) for run, after in itertools.pairwise(runs)]
    bodies = [body for run in runs for body in _swept(run, nib)]
    if subpath.is_closed:
        ends.append((first, runs[-1].sides[-1], runs[0].sides[0]))
    else:
        bodies += _cap(first, -_quarter(runs[0].sides[0]), nib) + _cap(
            last, _quarter(runs[-1].sides[-1]), nib
        )
    return bodies + [join for at, before, after in ends for join in _joined(at, before, after, nib)]


def _run(piece: np.ndarray, half: float, tolerance: float) -> Run:
    """Points along a piece, and the normals of the curve itself there, not of its chords."""
    count = _chords(piece, tolerance)
    t = np.linspace(0.0, 1.0, count + 1)
    points = _bezier(piece, t)
    points[0], points[-1] = piece[0], piece[-1]
    # A hair inside the ends: where control points coincide, there is no direction at the end itself.
    along = _bezier(np.diff(piece, axis=0), np.clip(t, 1e-6, 1.0 - 1e-6))
    length = np.hypot(*along.T)[:, None]
    along = np.divide(along, length, out=np.tile([1.0, 0.0], (len(t), 1)), where=length > 0)
    return Run(points, half * np.column_stack([-along[:, 1], along[:, 0]]))


def _chords(piece: np.ndarray, tolerance: float) -> int:
    """How many chords a piece needs, for itself and for what turns about it."""
    if len(piece) == 2:
        return 1
    gap = BEND[len(piece)] * np.hypot(*np.diff(piece, 2, axis=0).T).max()
    legs = np.diff(piece, axis=0)
    legs = legs[legs.any(axis=1)]
    cross = legs[:-1, 0] * legs[1:, 1] - legs[:-1, 1] * legs[1:, 0]
    turn = np.abs(np.arctan2(cross, np.einsum("ij,ij->i", legs[:-1], legs[1:]))).sum()
    return min(max(1, math.ceil(math.sqrt(gap / tolerance)), math.ceil(turn / FINEST_TURN)), MOST_CHORDS)


def _bezier(piece: np.ndarray, t: np.ndarray) -> np.ndarray:
    n, t = len(piece) - 1, t[:, None]
    return sum(math.comb(n, i) * t**i * (1.0 - t) ** (n - i) * piece[i] for i in range(n + 1))


def _swept(run: Run, nib: Nib) -> list:
    """What the nib, held across the piece, sweeps over; round a cusp it turns about its middle, both ends of it."""
    here, there = run.points[:-1], run.points[1:]
    before, after = run.sides[:-1], run.sides[1:]
    turns = np.einsum("ij,ij->i", before, after) < math.cos(SMOOTH) * nib.half**2
    chords = there[turns] - here[turns]
    across = nib.half * np.column_stack([-chords[:, 1], chords[:, 0]])
    across /= np.maximum(np.hypot(*chords.T)[:, None], 1e-300)
    ends = [
        *zip(here[turns], before[turns], across, strict=True),
        *zip(there[turns], across, after[turns], strict=True),
    ]
    fans = [_fan(at, end * first, _turn(first, then)) for at, first, then in ends for end in (1.0, -1.0)]
    before, after = before.copy(), after.copy()
    before[turns] = after[turns] = across
    quads = shapely.polygons(np.stack([here + before, there + after, there - after, here - before], axis=1))
    return [*shapely.make_valid(quads), *(fan for fan in fans if fan.is_valid)]


def _joined(at, before, after, nib: Nib) -> list[Polygon]:
    """What fills the outer side of a corner."""
    turn = _turn(before, after)
    if abs(turn) < 1e-9:
        return []
    out = -math.copysign(1.0, turn)
    if nib.join == "round":
        return [_fan(at, out * before, turn)]
    corner, middle = [at, at + out * before, at + out * after], before + after
    reach = 1.0 / max(math.cos(turn / 2.0), 1e-12)  # of a mitre, over the width
    if nib.join == "miter" and reach <= nib.longest:
        corner.insert(2, at + out * middle * (2.0 * nib.half**2 / (middle @ middle)))
    shape = Polygon(corner)
    return [shape] if shape.is_valid else []


def _quarter(side: np.ndarray) -> np.ndarray:
    """The direction that has this to its left."""
    return np.array([side[1], -side[0]])


def _cap(at, along, nib: Nib) -> list[Polygon]:
    side = np.array([-along[1], along[0]])
    if nib.cap == "round":
        return [_fan(at, -side, math.pi)]
    box = [at + side, at + side + along, at - side + along, at - side]
    return [Polygon(box)] if nib.cap == "square" else []


def _dot(at, nib: Nib) -> list[Polygon]:
    """A line without length: what its caps make of it."""
    half = nib.half
    if nib.cap == "square":
        return [shapely.box(at[0] - half, at[1] - half, at[0] + half, at[1] + half)]
    return [shapely.Point(at).buffer(half, quad_segs=48)] if nib.cap == "round" else []


def _turn(before, after) -> float:
    """The angle from one direction to another, rad, counter-clockwise positive."""
    return math.atan2(before[0] * after[1] - before[1] * after[0], before @ after)


def _fan(at, first: np.ndarray, turn: float) -> Polygon:
    """The sector that a radius sweeps over as it turns."""
    angle = np.linspace(0.0, turn, max(1, math.ceil(abs(turn) / FINEST_TURN)) + 1)
    cos, sin = np.cos(angle), np.sin(angle)
    rim = np.column_stack([cos * first[0] - sin * first[1], sin * first[0] + cos * first[1]])
    return Polygon(np.vstack([at, at + rim]))


def _contour(ring, matrix: np.ndarray) -> Contour:
    points = placed(np.asarray(ring.coords), matrix)
    return closed([line(a, b) for a, b in itertools.pairwise(points)])
