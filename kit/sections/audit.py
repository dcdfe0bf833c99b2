"""Sections computed again: by a second implementation, by a third route, and from a finer outline."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve
from shapely import Polygon

from kit.sections import area
from kit.sections.mesh import grade
from kit.sections.section import SectionProperties
from kit.sources import carries

COLUMNS = (
    "section_id", "quantity", "route", "value", "ours", "low", "high", "difference", "threshold", "passed",
)  # fmt: skip
SECOND = "second implementation: sectionproperties' own analysis, same geometry and mesher, ≥ 4 × finer"
EXACT_RULE = (
    "second implementation, its warping function integrated by a rule exact for it: its own rule of four points "
    "is of degree 3, the warping's square of degree 4"
)
THIRD = "third route: Prandtl's function by finite differences on a grid"
FINER = "outline flattened more finely"
# Thresholds: of the second implementation; of the grid, whose own error is a few tenths of a per cent.
# The flattening at 1/10 000 of the envelope takes a few times that from a slender outline's moments.
CLOSE, GRID, FLATTENED = 1e-2, 2e-2, 5e-3


def compared(section_id: str, quantity: str, route: str, value: float, ours: float, **limits) -> dict:
    """A row of ``audit.csv``; the difference is relative to ``ours``, or to ``scale`` where given."""
    low, high = limits.get("low", np.nan), limits.get("high", np.nan)
    scale, threshold = limits.get("scale") or ours, limits["threshold"]
    difference = (value - ours) / abs(scale) if scale else value - ours
    inside = not low > value and not high < value
    return dict(
        zip(
            COLUMNS,
            (section_id, quantity, route, value, ours, low, high, difference, threshold,
             bool(inside and abs(difference) <= threshold)),
            strict=True,
        )
    )  # fmt: skip


@carries("pilkey-2002")
def second_implementation(section_id: str, polygon: Polygon, props: SectionProperties) -> list[dict]:
    """Rows comparing with sectionproperties' own analysis on a mesh at least four times finer.

    Its J is an upper value too: it must lie within our bounds, with a margin of 1e-6 for rounding. Its warping
    constant stands twice: as it gives it, and as :func:`warping_constant_exactly`.
    """
    from sectionproperties.analysis import Section  # imported here: it takes seconds
    from sectionproperties.pre import Geometry

    section = Section(_finer_geometry(Geometry, polygon, 4 * props.elements))
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    (x, y), (xs, ys) = section.get_c(), section.get_sc_t()
    Ix, Iy, Ixy = section.get_ic()
    size = float(np.sqrt(props.area_mm2))
    J_limits = {"low": props.J_low_mm4 * (1 - 1e-6), "high": props.J_high_mm4 * (1 + 1e-6)}
    pairs = [
        ("area_mm2", section.get_area(), {"threshold": 1e-6}),
        ("Ix_mm4", Ix, {"threshold": 1e-6}),
        ("Iy_mm4", Iy, {"threshold": 1e-6}),
        ("Ixy_mm4", Ixy, {"threshold": 1e-6, "scale": props.I1_mm4}),
        ("J_mm4", section.get_j(), {"threshold": CLOSE, **J_limits}),
        ("Iw_mm6", section.get_gamma(), {"threshold": CLOSE, "scale": max(props.Iw_mm6, 1e-4 * size**6)}),
        ("xs_mm", xs - x, {"threshold": CLOSE, "scale": size}),
        ("ys_mm", ys - y, {"threshold": CLOSE, "scale": size}),
        ("shear_area_x_nu0_mm2", section.get_as()[0], {"threshold": CLOSE}),
        ("shear_area_y_nu0_mm2", section.get_as()[1], {"threshold": CLOSE}),
    ]
    rows = [
        compared(section_id, name, SECOND, float(v), getattr(props, name), **lim) for name, v, lim in pairs
    ]
    warping = {"threshold": CLOSE, "scale": max(props.Iw_mm6, 1e-4 * size**6)}
    exactly = warping_constant_exactly(section)
    return [*rows, compared(section_id, "Iw_mm6", EXACT_RULE, exactly, props.Iw_mm6, **warping)]


def warping_constant_exactly(section) -> float:
    """Iw of an analysed sectionproperties section, from its own ω, pole and shape functions, mm6.

    Its analysis integrates ω² by four points a triangle, exact to degree 3, but ω is quadratic: on coarse
    meshes of closed sections, where ω is small, that alone takes up to 1e-3 from Iw. Its own rule of six points
    is exact to degree 4.
    """
    from sectionproperties.analysis.fea import gauss_points, shape_function_only

    rule = gauss_points(n=6)
    shapes = np.array([shape_function_only(tuple(point)) for point in rule[:, 1:]])
    nodes = np.array([element.node_ids for element in section.elements])
    corner = np.asarray(section.mesh["vertices"])[nodes[:, :3]] - section.get_c()
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    weight = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])[:, None] * rule[:, 0]
    found = section.section_props
    omega = found.omega[nodes] @ shapes.T
    omega = omega - (weight * omega).sum() / weight.sum()
    x, y = (rule[:, 1:] @ corner).transpose(2, 0, 1)
    return float((weight * omega * (omega - found.y_st * x + found.x_st * y)).sum())


def _finer_geometry(make, polygon: Polygon, elements: int):
    """The same geometry with so many triangles or more, graded at the corners by vertices on its sides."""
    for wanted in elements * 2.0 ** np.arange(5):
        size = float(np.sqrt(polygon.area / wanted))
        rings = [grade(ring, 3.0 * size, 0.02 * size) for ring in area.rings_of(polygon)]
        geometry = make(Polygon(rings[0], rings[1:]))
        geometry.create_mesh(mesh_sizes=[1.5 * polygon.area / wanted])
        if len(geometry.mesh["triangles"]) >= elements:
            break
    return geometry


@carries("timoshenko-goodier-1970")
def third_route(
    section_id: str, polygon: Polygon, props: SectionProperties, cells: int = 40_000
) -> list[dict]:
    """Row comparing J with Prandtl's function by finite differences: no mesher, no finite elements.

    Parameters
    ----------
    cells : int
        Grid points inside the section, about.
    """
    step = float(np.sqrt(polygon.area / cells))
    value = torsion_by_grid(polygon, step)
    return [compared(section_id, "J_mm4", THIRD, value, props.J_mm4, threshold=GRID)]


def torsion_by_grid(polygon: Polygon, step: float) -> float:
    """J from ∇²φ = −2 on a square grid, mm4.

    Each grid point in the material balances the flow along its four arms, (φ − φ')/θ, with its load 2 step².
    An arm that meets the boundary ends there, at the share θ of a step, on the outer ring at φ = 0 or on a
    hole at that hole's unknown constant; a hole's load is 2A. J = 2Σφ step² + 2Σ cᵢAᵢ.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    step : float, mm
    """
    rings = area.rings_of(polygon)
    # No vertex on a grid line, whatever the polygon: the grid starts at an odd share of a step outside it.
    start = np.vstack(rings).min(axis=0) - np.array([0.5 + 0.1234567, 0.5 + 0.2345678]) * step
    along_x = _spans([ring[:, [0, 1]] - start for ring in rings], step)
    along_y = _spans([ring[:, [1, 0]] - start[::-1] for ring in rings], step)
    number = np.full(along_x[0].max(axis=0) + 2, -1)
    number[tuple(along_x[0].T)] = np.arange(len(along_x[0]))
    count, holes = len(along_x[0]), len(rings) - 1
    rows, columns, weights = [], [], []
    load = np.append(np.full(count, 2.0 * step**2), [2.0 * Polygon(ring).area for ring in rings[1:]])
    for (nodes, ends, ring), across in ((along_x, False), (along_y, True)):
        place = nodes[:, ::-1] if across else nodes
        here = number[tuple(place.T)]
        for side, move in ((0, -1), (1, 1)):
            neighbour = place + (np.array([0, move]) if across else np.array([move, 0]))
            cut = ends[:, side] < 1.0
            # The unknown at the other end: a neighbour, a hole, or none (−1) on the outer ring.
            other = np.where(cut, count - 1 + ring[:, side], number[tuple(neighbour.T)])
            other = np.where(cut & (ring[:, side] == 0), -1, other)
            flow = 1.0 / np.clip(np.where(cut, ends[:, side], 1.0), 1e-3, 1.0)
            inner = other >= 0
            of_hole = cut & inner  # a hole's own balance has the arm from its side too
            rows += [here, here[inner], other[of_hole], other[of_hole]]
            columns += [here, other[inner], other[of_hole], here[of_hole]]
            weights += [flow, -flow[inner], flow[of_hole], -flow[of_hole]]
    entries = np.concatenate(weights), (np.concatenate(rows), np.concatenate(columns))
    phi = spsolve(coo_matrix(entries, shape=(count + holes, count + holes)).tocsc(), load)
    return float(load @ phi)


def _spans(rings: list[np.ndarray], step: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Grid points of the material on the lines y = j·step, and how far the boundary is to either side.

    Returns
    -------
    nodes : (n, 2) int array
        Grid numbers along and across the lines.
    ends : (n, 2) float array
        Distance to the boundary to the left and right, in steps.
    ring : (n, 2) int array
        The ring met there.
    """
    a, b = area.edges_of(tuple(rings))
    which = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    low, high = np.sort(np.stack([a[:, 1], b[:, 1]]) / step, axis=0)
    edge, line = _counted(np.ceil(low).astype(int), np.floor(high).astype(int))
    share = (line * step - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
    x = (a[edge, 0] + share * (b[edge, 0] - a[edge, 0])) / step
    order = np.lexsort((x, line))
    x, line, which = x[order], line[order], which[edge][order]
    left, right = x[0::2], x[1::2]  # along a line the material begins and ends in turn
    span, i = _counted(np.ceil(left).astype(int), np.floor(right).astype(int))
    nodes = np.column_stack([i, line[0::2][span]])
    ends = np.column_stack([i - left[span], right[span] - i])
    return nodes, ends, np.column_stack([which[0::2][span], which[1::2][span]])


def _counted(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """All whole numbers from low to high of each pair, with the pair's number."""
    count = np.maximum(high - low + 1, 0)
    pair = np.repeat(np.arange(len(low)), count)
    first = np.repeat(low - np.cumsum(count) + count, count)
    return pair, np.arange(count.sum()) + first


@carries("pilkey-2002")
def finer_outline(section_id: str, used: Polygon, finer: Polygon) -> list[dict]:
    """Rows comparing the exact area properties of the outline as used and of a more finely flattened one."""
    ours, theirs = area.area_moments(used), area.area_moments(finer)
    table = (("area_mm2", "area_mm2"), ("perimeter_mm", "perimeter_mm"), ("Ix_mm4", "Ix"), ("Iy_mm4", "Iy"))
    return [
        compared(section_id, column, FINER, getattr(theirs, name), getattr(ours, name), threshold=FLATTENED)
        for column, name in table
    ]
