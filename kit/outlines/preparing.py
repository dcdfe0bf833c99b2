"""An outline made ready: united, repaired, fitted, flattened, cut and turned - in this order."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import shapely
from shapely import Polygon, affinity
from shapely.geometry.polygon import orient

from kit.errors import Unusable
from kit.outlines.cutting import (
    added_by_cutter,
    filled_slots,
    slit_open,
    webbed,
    with_added,
)
from kit.outlines.flattening import DEFAULT_SHARE
from kit.outlines.leastwall import least_wall
from kit.outlines.making import STOCKLESS, Making, target_area
from kit.outlines.outline import Outline
from kit.outlines.soundness import Sound, envelope, open_contacts
from kit.outlines.stock import check_stock, least_stock
from kit.outlines.undercuts import undercut_area
from kit.outlines.uniting import size_of, united

WEB_SHARE = 1 / 20
SURELY = 1.02  # a web's width over the least wall, for the chords of the curves it starts from
OVER_REPAIRED = "repairs would change"
CLOSE = 1e-6


@dataclass(frozen=True)
class Prepared:
    """An outline made ready, at 0 degrees, its centroid at the origin.

    Attributes
    ----------
    outline : Outline
    polygon : shapely.Polygon, mm
        As cut: valid, one part.
    drawn : shapely.Polygon, mm
        Before cutting, in the same place.
    internal_radius_mm : float
        Least radius in internal corners (cutter, or as drawn); 0 sharp, inf where there are none.
    flags : tuple of str
    repaired_area_share, cut_area_share : float
        Area changed by repairs, and by cutting, over the drawn area.
    flatten_mm : float
        Greatest distance between a curve and its polygon.
    least_wall_found_mm : float or None
        None where no least wall was asked for.
    flattening_area_share : float
        Area lost or won by flattening, over the drawn area, from the curves' exact areas.
    flattening_moments_share : float
        Greatest relative change of a principal second moment by flattening, from the curves' exact ones.
    stock_mm : (width, depth) or None
        The stock as given, else the rectangle of least area around the section; None where nothing is cut.
    chips_area_mm2 : float or None
        Area of the stock that is cut away; None where nothing is.
    mm_per_unit : float
        Scale from drawn units.
    origin : (x, y), mm
        The centroid as cut, before it was moved to the origin: mm = mm_per_unit · drawn − origin.
    """

    outline: Outline
    polygon: Polygon
    drawn: Polygon
    internal_radius_mm: float
    flags: tuple[str, ...]
    repaired_area_share: float
    cut_area_share: float
    flatten_mm: float
    least_wall_found_mm: float | None
    flattening_area_share: float = 0.0
    flattening_moments_share: float = 0.0
    stock_mm: tuple[float, float] | None = None
    chips_area_mm2: float | None = None
    mm_per_unit: float = 1.0
    origin: tuple[float, float] = (0.0, 0.0)


def prepare(outline: Outline, making: Making) -> Prepared:
    """Make an outline ready.

    Parameters
    ----------
    outline : Outline
    making : Making

    Returns
    -------
    Prepared

    Raises
    ------
    Unusable
        With the reason, if no sound section can be made of it in this way.
    """
    try:
        return _prepare(outline, making)
    except (shapely.GEOSException, ValueError, FloatingPointError, ZeroDivisionError) as error:
        first = str(error).splitlines()[0][:100] if str(error) else type(error).__name__
        raise Unusable(f"its geometry cannot be worked with ({first}); draw it again, simpler") from error


def _prepare(outline: Outline, making: Making) -> Prepared:
    flat = united(outline, making)
    drawn = flat.sound
    share = drawn.changed_area / sum(part.area for part in drawn.parts)
    if share > making.most_repair_share:
        raise Unusable(f"{OVER_REPAIRED} {share:.1%} of its area; mend the drawing")
    parts, flags = _one(drawn, making)
    scale, flatten_mm = size_of(parts, outline, making, flat.tolerance_share)
    cut = functools.partial(_cut, making=making, flatten_mm=flatten_mm)
    scale, (before, after, made) = _met_as_cut(parts, scale, target_area(making), cut)
    flags = (*drawn.repairs, *flags, *made)
    return _result(outline, making, scale, (before, after, flags), (share, flatten_mm, flat))


def turn(polygon: Polygon, angle_deg: float) -> Polygon:
    """The polygon turned counter-clockwise about the origin; quarter turns are exact."""
    if angle_deg % 360.0 == 0.0:
        return polygon
    quarter = {90.0: (0, 1), 180.0: (-1, 0), 270.0: (0, -1)}.get(angle_deg % 360.0)
    angle = math.radians(angle_deg)
    cos, sin = quarter or (math.cos(angle), math.sin(angle))
    return affinity.affine_transform(polygon, [cos, -sin, sin, cos, 0.0, 0.0])


def _one(drawn: Sound, making: Making) -> tuple[tuple[Polygon, ...], tuple[str, ...]]:
    """The parts that are kept: one, or those to be joined by webs."""
    parts = drawn.parts
    if len(parts) == 1 or making.separate_parts == "join":
        return parts, ()
    if making.separate_parts == "keep-largest":
        return parts[:1], ("largest-part-kept",)
    touching = "contacts-opened" in drawn.repairs or shapely.distance(parts[0], list(parts[1:])).min() == 0.0
    how = ", some meeting in a point only" if touching else ""
    raise Unusable(
        f"it is in {len(parts)} separate parts{how}; choose separate_parts: keep-largest or join, "
        "or join them in the drawing"
    )


def _scaled(parts: tuple[Polygon, ...], scale: float) -> list[Polygon]:
    return [shapely.transform(part, lambda points: points * scale) for part in parts]


def _met_as_cut(parts, scale: float, wanted: float | None, cut):
    """Scale and cut outline whose area as cut is the wanted one: closed corners add up to a few per cent."""
    made = cut(_scaled(parts, scale))
    if wanted is None:
        return scale, made
    for _ in range(12):
        step = math.sqrt(wanted / made[1].area)
        if abs(step - 1.0) < CLOSE:
            # What is left is rounding: the tool's radius is off by no more than this share.
            before, after = _scaled(made[:2], step)
            return scale * step, (before, before if made[0] is made[1] else after, made[2])
        scale *= step
        made = cut(_scaled(parts, scale))
    raise Unusable(
        "no size has the wanted area as cut: the cutter fills a counter or slot near it; change the fit"
    )


def _cut(parts: list[Polygon], making: Making, flatten_mm: float) -> tuple[Polygon, Polygon, tuple[str, ...]]:
    """What the process makes of the drawn parts: before cutting, after it, and flags."""
    flags: list[str] = []
    drawn = parts[0]
    if len(parts) > 1:
        x0, y0, x1, y1 = envelope(parts)
        width = making.web_mm or max(SURELY * making.least_wall_mm, WEB_SHARE * max(x1 - x0, y1 - y0))
        drawn = webbed(parts, width)
        flags.append("joined-by-webs")
    if making.process == "milled-lengthwise" and drawn.interiors:
        raise Unusable(
            "milling lengthwise cannot make its closed counter; choose extruded, or open the counter"
        )
    added = added_by_cutter(drawn, making.cutter_radius_mm, flatten_mm)
    cut = with_added(drawn, added, flatten_mm)
    if len(cut.interiors) != len(drawn.interiors):
        flags.append("counters-changed-by-cutter")
    if filled_slots(added, making.cutter_radius_mm):
        flags.append("slots-filled-by-cutter")
    if making.process == "wire-cut" and cut.interiors:
        cut = _wired(cut, making)
        flags.append("counters-slit-open")
    return drawn, cut, (*flags, *_meant(cut, making))


def _wired(cut: Polygon, making: Making) -> Polygon:
    if making.cutter_radius_mm <= 0:
        raise Unusable("wire-cutting opens its counter by a slit; give cutter_radius, half the slit's width")
    return slit_open(cut, 2.0 * making.cutter_radius_mm)


def _meant(cut: Polygon, making: Making) -> tuple[str, ...]:
    """Flags for what the process means for the member."""
    flags = []
    if making.process == "cut-from-plate":
        flags.append("length-is-plate-thickness")
    if making.process == "milled-lengthwise" and undercut_area(cut, making.cutter_radius_mm) > 0.0:
        flags.append("undercut")
    if making.process == "printed":
        flags.append("strength-differs-across-layers")
    return tuple(flags)


def _cut_share(drawn: Polygon, cut: Polygon, only_added: bool) -> float:
    """Area that cutting changed, over the drawn area; where it only adds, no overlay is needed."""
    if cut is drawn:
        return 0.0
    changed = cut.area - drawn.area if only_added else shapely.symmetric_difference(drawn, cut).area
    return float(max(changed, 0.0) / drawn.area)


def _result(outline: Outline, making: Making, scale: float, made, measured) -> Prepared:
    before, after, flags = made
    repaired, flatten_mm, flat = measured
    joined = after if after is before else _joined_soundly(after)
    share = _cut_share(before, joined, only_added=joined is after and making.process != "wire-cut")
    after = joined
    if share > making.cut_flag_share:
        flags = (*flags, "differs-as-cut")
    wall = _wall(after, making, flatten_mm)
    stock = _stock(after, making)
    x, y = after.centroid.coords[0]
    cut = orient(shapely.transform(after, lambda points: points - (x, y)))
    drawn = cut if after is before else orient(shapely.transform(before, lambda points: points - (x, y)))
    if "restricted" in outline.embedding.split():
        flags = (*flags, "font-restricted")
    return Prepared(
        outline=outline,
        polygon=cut,
        drawn=drawn,
        internal_radius_mm=_internal_radius(outline, making, scale, flags),
        flags=flags,
        repaired_area_share=repaired,
        cut_area_share=share,
        flatten_mm=flatten_mm,
        least_wall_found_mm=wall,
        flattening_area_share=flat.area_share,
        flattening_moments_share=flat.moments_share,
        stock_mm=stock,
        chips_area_mm2=stock and stock[0] * stock[1] - after.area,
        mm_per_unit=scale,
        origin=(x, y),
    )


def _joined_soundly(cut: Polygon) -> Polygon:
    """The outline as cut, refused where cutting left it in parts that meet in a point."""
    box = cut.bounds
    opened = open_contacts(cut, DEFAULT_SHARE * max(box[2] - box[0], box[3] - box[1]))
    if len(opened) != 1:
        raise Unusable("as cut, its parts hold together in a point only; draw that neck wider")
    return opened[0]


def _wall(cut: Polygon, making: Making, flatten_mm: float) -> float | None:
    """Thinnest wall found, mm, where a least wall is asked for; refused where it is thinner.

    Chords on both sides of a wall as thick as asked for may make it thinner by twice their tolerance: that is
    not counted.
    """
    if making.least_wall_mm <= 0:
        return None
    found = least_wall(cut)
    if found < making.least_wall_mm - 2 * flatten_mm:
        raise Unusable(
            f"a wall of about {found:.3g} mm is thinner than the least wall of {making.least_wall_mm:g} mm; "
            "make the member larger, or choose a stouter outline"
        )
    return max(found, making.least_wall_mm)


def _stock(cut: Polygon, making: Making) -> tuple[float, float] | None:
    """What it is cut from, mm; refused where the outline does not fit into the stock that is given."""
    if making.process in STOCKLESS:
        return None
    if making.stock_mm is None:
        return least_stock(cut)
    check_stock(cut, *making.stock_mm)
    return making.stock_mm


def _internal_radius(outline: Outline, making: Making, scale: float, flags: tuple[str, ...]) -> float:
    drawn = 0.0
    if outline.internal_radius_mm and outline.unit_mm and "joined-by-webs" not in flags:
        drawn = outline.internal_radius_mm * scale / outline.unit_mm
    return max(drawn, making.cutter_radius_mm)
