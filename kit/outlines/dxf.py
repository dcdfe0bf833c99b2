"""DXF drawings: closed loops of lines, arcs and splines, and hatches, as one outline."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.lldxf.const import DXFError

from kit.errors import Unusable
from kit.outlines.arcs import arc, ellipse_arc, line
from kit.outlines.chains import joined, loops_once
from kit.outlines.outline import Outline, clean
from kit.outlines.specs import DxfFiles
from kit.outlines.worker import Progress

# $INSUNITS of the DXF reference, in mm; 0 says nothing.
MM = {
    1: 25.4,
    2: 304.8,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    8: 2.54e-5,
    9: 0.0254,
    10: 914.4,
    12: 1e-6,
    13: 1e-3,
    14: 100.0,
}
NOTES = (
    "TEXT",
    "MTEXT",
    "DIMENSION",
    "LEADER",
    "MULTILEADER",
    "POINT",
    "ATTDEF",
    "ATTRIB",
    "VIEWPORT",
    "TOLERANCE",
)
DEEPEST, MOST_ENTITIES = 8, 50_000
STEPS, MOST_KNOTS = 16, 5_000

Chain = list[np.ndarray]


@dataclass
class Sheet:
    """A drawing while its entities are gone through."""

    layers: frozenset[str]
    hidden: frozenset[str]
    frozen: frozenset[str]
    chains: list[Chain] = field(default_factory=list)
    hatches: list[list[Chain]] = field(default_factory=list)
    count: int = 0

    def shows(self, layer: str) -> bool:
        """Whether a layer is read."""
        name = layer.casefold()
        return name in self.layers if self.layers else name not in self.hidden


def outlines_of(path: Path, spec: DxfFiles, progress: Progress) -> Iterator[Outline]:
    """The outline of one DXF file."""
    progress.opened(path.name)
    try:
        document = ezdxf.readfile(path)
    except OSError as error:
        if error.errno is not None:
            raise
        # Its own message holds the whole path, which differs from one machine to the next.
        raise Unusable("it is no DXF file; save it again as DXF") from error
    except DXFError as error:
        raise Unusable(f"it is no sound DXF file ({clean(str(error), 80)}); save it again") from error
    if progress.started(clean(path.stem)):
        yield drawing(document, clean(path.stem), clean(path.name), spec)


def drawing(document, name: str, source: str, spec: DxfFiles) -> Outline:
    """The outline of a DXF document; even-odd: a loop in a loop is a hole.

    Raises
    ------
    Unusable
        If loops stay open, or the drawing holds what is no outline, with the reason.
    """
    unit = MM.get(document.header.get("$INSUNITS", 0)) or spec.unit_mm
    hidden = frozenset(x.dxf.name.casefold() for x in document.layers if x.is_off() or x.is_frozen())
    frozen = frozenset(x.dxf.name.casefold() for x in document.layers if x.is_frozen())
    sheet = Sheet(frozenset(x.casefold() for x in spec.layers), hidden, frozen)
    for entity in document.modelspace():
        _take(entity, sheet, entity.dxf.layer, 0)
    gap = spec.gap_mm / (unit or 1.0)
    shapes = [joined(chains, gap) for chains in (sheet.chains, *sheet.hatches) if chains]
    shapes = [shape for shape in shapes if shape]
    if not shapes:
        where = f" on layers {', '.join(spec.layers)}" if spec.layers else ""
        raise Unusable(f"it has no closed outline{where}; draw one, or name its layer")
    shapes = [loops_once(shape) for shape in shapes]
    return Outline(
        name=name,
        source=source,
        contours=tuple(contour for shape in shapes for contour in shape),
        fill_rule="evenodd",
        unit_mm=unit,
        groups=tuple((len(shape), "evenodd") for shape in shapes) if len(shapes) > 1 else (),
    )


def _take(entity, sheet: Sheet, layer: str, depth: int) -> None:
    """Add what an entity draws; what a block holds on layer 0 belongs to the layer it is inserted on."""
    sheet.count += 1
    if depth > DEEPEST or sheet.count > MOST_ENTITIES:
        raise Unusable("its blocks insert themselves, or it has too many entities; explode and simplify it")
    kind = entity.dxftype()
    if entity.dxf.get("invisible", 0):
        return
    if kind == "INSERT":  # one that is frozen hides all it holds, one that is off only what is on its layer
        if layer.casefold() not in sheet.frozen:
            _insert(entity, sheet, layer, depth)
    elif kind in NOTES or not sheet.shows(layer):
        return
    elif kind == "HATCH":
        sheet.hatches.append([_in_plane(chain, entity) for chain in _hatch(entity)])
    elif kind in CHAINS:
        chain = CHAINS[kind](entity)
        sheet.chains.append(chain if kind in ("LINE", "SPLINE", "ELLIPSE") else _in_plane(chain, entity))
    else:
        raise Unusable(f"it holds a {clean(kind, 30)}, which is no outline; delete it, or read another layer")


def _insert(entity, sheet: Sheet, layer: str, depth: int) -> None:
    block = entity.block()
    if block is None or block.block.is_xref:
        raise Unusable(
            f"block {clean(entity.dxf.name, 40)!r} is not in the file itself; bind it into the drawing"
        )
    inserts = entity.multi_insert() if entity.mcount > 1 else (entity,)
    for one in inserts:
        for part in one.virtual_entities():
            own = part.dxf.layer
            _take(part, sheet, layer if own == "0" else own, depth + 1)


def _in_plane(chain: Chain, entity) -> Chain:
    """Points of an entity's own plane in the drawing's: the same, or mirrored."""
    x, y, z = entity.dxf.extrusion if entity.dxf.hasattr("extrusion") else (0.0, 0.0, 1.0)
    if math.hypot(x, y) > 1e-9 * abs(z):
        raise Unusable("part of it is drawn out of the plane; flatten the drawing")
    return chain if z > 0 else [piece * (-1.0, 1.0) for piece in chain]


def _xy(vector) -> tuple[float, float]:
    return float(vector[0]), float(vector[1])


def _flat(heights) -> None:
    """Refuse what rises out of the plane: its plan is not its outline."""
    if np.ptp(np.fromiter(heights, float)) > 1e-6:
        raise Unusable("part of it rises out of the plane; flatten the drawing")


def _line(entity) -> Chain:
    _flat((entity.dxf.start[2], entity.dxf.end[2]))
    return [line(_xy(entity.dxf.start), _xy(entity.dxf.end))]


def _arc(entity) -> Chain:
    start, end = entity.dxf.start_angle, entity.dxf.end_angle
    sweep = (end - start) % 360.0 or 360.0
    return arc(_xy(entity.dxf.center), entity.dxf.radius, math.radians(start), math.radians(sweep))


def _circle(entity) -> Chain:
    return arc(_xy(entity.dxf.center), entity.dxf.radius, 0.0, 2 * math.pi)


def _ellipse(entity) -> Chain:
    x, y, z = entity.dxf.extrusion
    if math.hypot(x, y) > 1e-9 * abs(z):
        raise Unusable("an ellipse is drawn out of the plane; flatten the drawing")
    axes = np.array([_xy(entity.dxf.major_axis), _xy(entity.minor_axis)])
    start, end = entity.dxf.start_param, entity.dxf.end_param
    sweep = (end - start) % (2 * math.pi)
    if sweep < 1e-9 or 2 * math.pi - sweep < 1e-9:
        sweep = 2 * math.pi
    return ellipse_arc(axes, _xy(entity.dxf.center), start, sweep)


def _spline(entity) -> Chain:
    _flat(point[2] for point in (*entity.control_points, *entity.fit_points))
    return spline_pieces(entity.construction_tool())


def spline_pieces(spline) -> Chain:
    """Bézier pieces of a B-spline: exact up to the third degree, else `STEPS` cubics between two knots.

    Such cubics share ends and tangents with the curve (Hermite); what lies between is off by the fourth
    power of the step: under a millionth of the radius for a quarter circle between two knots.
    """
    if spline.degree <= 3 and not spline.is_rational and spline.is_clamped:
        return [np.array([_xy(p) for p in points]) for points in spline.bezier_decomposition()]
    knots = np.array(spline.knots(), float)
    knots = np.unique(knots[spline.degree : len(knots) - spline.degree])
    if len(knots) > MOST_KNOTS:
        raise Unusable(f"a spline has more than {MOST_KNOTS} knots; simplify it")
    return [piece for a, b in itertools.pairwise(knots) for piece in _span(spline, a, b)]


def _span(spline, start: float, end: float) -> Chain:
    """Cubics between two knots; slopes are taken just inside, as they may jump at a knot."""
    t = np.linspace(start, end, STEPS + 1)
    inside = np.clip(t, start + 1e-9 * (end - start), end - 1e-9 * (end - start))
    points = np.array([_xy(p) for p in spline.points(t)])
    slopes = np.array([_xy(found[1]) for found in spline.derivatives(inside, n=1)])
    reach = slopes * (t[1] - t[0]) / 3.0
    ends = zip(points[:-1], points[:-1] + reach[:-1], points[1:] - reach[1:], points[1:], strict=True)
    return [np.array(four) for four in ends]


def _polyline(entity) -> Chain:
    if entity.dxftype() == "POLYLINE":
        if not entity.is_2d_polyline:
            raise Unusable("it holds a polyline in space or a mesh; draw a flat polyline")
        points = [(*_xy(v.dxf.location), v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        closed, wide = (
            entity.is_closed,
            entity.dxf.get("default_start_width", 0.0)
            or any(v.dxf.get("start_width", 0.0) or v.dxf.get("end_width", 0.0) for v in entity.vertices),
        )
    else:
        points = [tuple(p) for p in entity.get_points("xyb")]
        closed, wide = entity.closed, entity.dxf.get("const_width", 0.0) or entity.has_width
    if wide:
        raise Unusable("it holds a polyline with a width; draw its two edges")
    return bulged(points, closed)


def bulged(points: list[tuple[float, float, float]], closed: bool) -> Chain:
    """Straight and circular pieces of a polyline: a bulge is tan(¼ of the angle of its arc)."""
    pieces: Chain = []
    ends = points[1:] + points[:1] if closed else points[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(points, ends, strict=False):
        if (x0, y0) == (x1, y1):
            continue
        pieces += [line((x0, y0), (x1, y1))] if abs(bulge) < 1e-12 else _bulge((x0, y0), (x1, y1), bulge)
    return pieces


def _bulge(start, end, bulge: float) -> Chain:
    a, b = complex(*start), complex(*end)
    centre = (a + b) / 2 + (b - a) * 1j * (1 - bulge * bulge) / (4 * bulge)
    first = a - centre
    angle = 4 * math.atan(bulge)
    return arc((centre.real, centre.imag), abs(first), math.atan2(first.imag, first.real), angle)


def _hatch(entity) -> list[Chain]:
    chains: list[Chain] = []
    for boundary in entity.paths:
        if hasattr(boundary, "vertices"):
            chains.append(bulged([tuple(v) for v in boundary.vertices], True))
        else:
            chains += [piece for edge in boundary.edges if (piece := _edge(edge))]
    return chains


def _edge(edge) -> Chain:
    kind = edge.EDGE_TYPE.removesuffix("Edge").upper()
    if kind == "LINE":
        return [line(_xy(edge.start), _xy(edge.end))]
    if kind == "ARC":
        sweep = (edge.end_angle - edge.start_angle) % 360.0 or 360.0
        return arc(_xy(edge.center), edge.radius, math.radians(edge.start_angle), math.radians(sweep))
    if kind == "ELLIPSE":
        major = np.array(_xy(edge.major_axis))
        axes = np.array([major, np.array([-major[1], major[0]]) * edge.ratio])
        sweep = (edge.end_param - edge.start_param) % (2 * math.pi) or 2 * math.pi
        return ellipse_arc(axes, _xy(edge.center), edge.start_param, sweep)
    return spline_pieces(edge.construction_tool())


CHAINS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
}
