"""DXF drawings: closed loops of lines, arcs and splines, and hatches, as one outline."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import ezdxf
import numpy as np
from ezdxf.lldxf.const import DXFError
from ezdxf.xclip import XClip

from kit.errors import Unusable
from kit.outlines.arcs import arc, ellipse_arc, line
from kit.outlines.chains import joined, loops_once, refuse_filled_holes, shallow
from kit.outlines.dxfcurves import Chain, bulged, hatch_chains, spline_pieces, xy
from kit.outlines.outline import Outline, clean
from kit.outlines.specs import DxfFiles
from kit.outlines.worker import Progress

# $INSUNITS of the DXF reference, in mm; 0 says nothing. The US survey foot is 1200/3937 m.
MM = {
    1: 25.4, 2: 304.8, 3: 1_609_344.0, 4: 1.0, 5: 10.0, 6: 1e3, 7: 1e6, 8: 2.54e-5, 9: 0.0254, 10: 914.4,
    11: 1e-7, 12: 1e-6, 13: 1e-3, 14: 100.0, 15: 1e4, 16: 1e5, 17: 1e12, 18: 149_597_870_700e3,
    19: 9.4607304725808e18, 20: 3.0856775814913673e19, 21: 1.2e6 / 3937, 22: 1e5 / 3937, 23: 3.6e6 / 3937,
    24: 5280 * 1.2e6 / 3937,
}  # fmt: skip
FRAME = 16  # flag of a polyline's vertex: it steers a spline, and is not on it
DEEPEST_FILLED = {1: 1, 2: 0}  # styles of a hatch, outermost and ignore: loops nested deeper do not count
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


@dataclass
class Sheet:
    """A drawing while its entities are gone through."""

    layers: frozenset[str]
    hidden: frozenset[str]
    frozen: frozenset[str]
    chains: list[Chain] = field(default_factory=list)
    hatches: list[tuple[list[Chain], int | None]] = field(default_factory=list)  # and the deepest loop
    count: int = 0

    def shows(self, layer: str) -> bool:
        """Whether a layer is read."""
        name = layer.casefold()
        return name in self.layers if self.layers else name not in self.hidden


class Place(NamedTuple):
    """Where a block puts what it holds.

    Attributes
    ----------
    layer : str
        That it is inserted on.
    matrix : (4, 4) float array
        From the block's space to the drawing's; points are rows.
    depth : int
        Blocks around it.
    """

    layer: str
    matrix: np.ndarray
    depth: int


def outlines_of(path: Path, spec: DxfFiles, progress: Progress) -> Iterator[Outline]:
    """The outline of one DXF file."""
    progress.opened(clean(path.name))
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
    unit = _unit(document, spec)
    hidden = frozenset(x.dxf.name.casefold() for x in document.layers if x.is_off() or x.is_frozen())
    frozen = frozenset(x.dxf.name.casefold() for x in document.layers if x.is_frozen())
    sheet = Sheet(frozenset(x.casefold() for x in spec.layers), hidden, frozen)
    for entity in document.modelspace():
        _take(entity, sheet, Place("0", np.eye(4), 0))
    gap = spec.gap_mm / (unit or 1.0)
    drawn = [(joined(chains, gap), deepest) for chains, deepest in ((sheet.chains, None), *sheet.hatches)]
    drawn = [(shape, deepest) for shape, deepest in drawn if shape]
    if not drawn:
        where = f" on layers {', '.join(spec.layers)}" if spec.layers else ""
        raise Unusable(f"it has no closed outline{where}; draw one, or name its layer")
    shapes = [shallow(loops_once(shape), deepest) for shape, deepest in drawn]
    if sheet.chains:
        refuse_filled_holes(shapes[0], shapes[1:])
    return Outline(
        name=name,
        source=source,
        contours=tuple(contour for shape in shapes for contour in shape),
        fill_rule="evenodd",
        unit_mm=unit,
        groups=tuple((len(shape), "evenodd") for shape in shapes) if len(shapes) > 1 else (),
    )


def _unit(document, spec: DxfFiles) -> float | None:
    """Millimetres in a drawn unit: as the drawing says, or, where it says nothing, as the study does."""
    code = document.header.get("$INSUNITS", 0)
    if code and code not in MM:
        raise Unusable(f"its unit ($INSUNITS {clean(str(code), 20)}) is none of DXF; set the drawing's unit")
    return MM[code] if code else spec.unit_mm


def _take(entity, sheet: Sheet, place: Place) -> None:
    """Add what an entity draws; what a block holds on layer 0 belongs to the layer it is inserted on."""
    sheet.count += 1
    if place.depth > DEEPEST or sheet.count > MOST_ENTITIES:
        raise Unusable("its blocks insert themselves, or it has too many entities; explode and simplify it")
    kind, own = entity.dxftype(), entity.dxf.layer
    layer = place.layer if own == "0" else own
    if entity.dxf.get("invisible", 0):
        return
    if kind == "INSERT":  # one that is frozen hides all it holds, one that is off only what is on its layer
        if layer.casefold() not in sheet.frozen:
            _insert(entity, sheet, place._replace(layer=layer))
    elif kind in NOTES or not sheet.shows(layer):
        return
    elif kind == "HATCH":
        chains = [_placed(_in_plane(chain, entity), place) for chain in hatch_chains(entity)]
        sheet.hatches.append((chains, DEEPEST_FILLED.get(entity.dxf.get("hatch_style", 0))))
    elif kind in CHAINS:
        chain = CHAINS[kind](entity)
        flat = chain if kind in ("LINE", "SPLINE", "ELLIPSE") else _in_plane(chain, entity)
        sheet.chains.append(_placed(flat, place))
    else:
        raise Unusable(f"it holds a {clean(kind, 30)}, which is no outline; delete it, or read another layer")


def _insert(entity, sheet: Sheet, place: Place) -> None:
    """Add what a block holds. Its curves are moved here, control point by control point: a turned block in a
    stretched one is sheared, which no block of a DXF drawing can be."""
    block, name = entity.block(), clean(entity.dxf.name, 40)
    if block is None or block.block.is_xref:
        raise Unusable(f"block {name!r} is not in the file itself; bind it into the drawing")
    if XClip(entity).is_clipping_enabled:
        raise Unusable(f"a clip hides part of block {name!r}; explode and trim it in the drawing program")
    for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
        matrix = np.array(list(one.matrix44().rows())) @ place.matrix
        if (
            max(np.abs(matrix[2, :2]).max(), np.abs(matrix[:2, 2]).max())
            > 1e-9 * np.abs(matrix[:3, :3]).max()
        ):
            raise Unusable(f"block {name!r} is placed out of the plane; flatten the drawing")
        for part in block:
            _take(part, sheet, Place(place.layer, matrix, place.depth + 1))


def _placed(chain: Chain, place: Place) -> Chain:
    """Pieces of a block where the drawing has them."""
    return [piece @ place.matrix[:2, :2] + place.matrix[3, :2] for piece in chain] if place.depth else chain


def _in_plane(chain: Chain, entity) -> Chain:
    """Points of an entity's own plane in the drawing's: the same, or mirrored."""
    x, y, z = entity.dxf.extrusion if entity.dxf.hasattr("extrusion") else (0.0, 0.0, 1.0)
    if math.hypot(x, y) > 1e-9 * abs(z):
        raise Unusable("part of it is drawn out of the plane; flatten the drawing")
    return chain if z > 0 else [piece * (-1.0, 1.0) for piece in chain]


def _flat(heights) -> None:
    """Refuse what rises out of the plane: its plan is not its outline."""
    if np.ptp(np.fromiter(heights, float)) > 1e-6:
        raise Unusable("part of it rises out of the plane; flatten the drawing")


def _line(entity) -> Chain:
    _flat((entity.dxf.start[2], entity.dxf.end[2]))
    return [line(xy(entity.dxf.start), xy(entity.dxf.end))]


def _arc(entity) -> Chain:
    start, end = entity.dxf.start_angle, entity.dxf.end_angle
    sweep = (end - start) % 360.0 or 360.0
    return arc(xy(entity.dxf.center), entity.dxf.radius, math.radians(start), math.radians(sweep))


def _circle(entity) -> Chain:
    return arc(xy(entity.dxf.center), entity.dxf.radius, 0.0, 2 * math.pi)


def _ellipse(entity) -> Chain:
    x, y, z = entity.dxf.extrusion
    if math.hypot(x, y) > 1e-9 * abs(z):
        raise Unusable("an ellipse is drawn out of the plane; flatten the drawing")
    axes = np.array([xy(entity.dxf.major_axis), xy(entity.minor_axis)])
    start, end = entity.dxf.start_param, entity.dxf.end_param
    sweep = (end - start) % (2 * math.pi)
    if sweep < 1e-9 or 2 * math.pi - sweep < 1e-9:
        sweep = 2 * math.pi
    return ellipse_arc(axes, xy(entity.dxf.center), start, sweep)


def _spline(entity) -> Chain:
    _flat(point[2] for point in (*entity.control_points, *entity.fit_points))
    return spline_pieces(entity.construction_tool())


def _polyline(entity) -> Chain:
    if entity.dxftype() == "POLYLINE":
        if not entity.is_2d_polyline:
            raise Unusable("it holds a polyline in space or a mesh; draw a flat polyline")
        vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & FRAME]
        points = [(*xy(v.dxf.location), v.dxf.get("bulge", 0.0)) for v in vertices]
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


CHAINS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
}
