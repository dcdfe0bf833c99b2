"""All properties of one section, and those of turned and scaled copies."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd
from shapely import Polygon

from kit.errors import InputError, Unusable
from kit.sections import area, cellwalls, plastic, sandheap, shear, shearcut, stress
from kit.sections.solving import resolve_peak, solve, sound_rings
from kit.sections.torsion import Torsion
from kit.sources import carries

WEB_LEVELS = 64
MOST_APART = 0.2


@dataclass(frozen=True)
class SectionProperties:
    """Properties of a section, axes at its centroid; the names are the columns of ``sections.csv``.

    ``plastic_ratios`` holds the plastic moduli for unequal strengths as (column, value) pairs; NaN stands for
    what does not exist, with the reason in ``flags``.
    """

    area_mm2: float
    perimeter_mm: float
    width_mm: float
    depth_mm: float
    x_left_mm: float
    x_right_mm: float
    y_bottom_mm: float
    y_top_mm: float
    base_left_mm: float
    base_right_mm: float
    head_left_mm: float
    head_right_mm: float
    base_contact_mm: float
    base_leg_mm: float
    base_web_mm: float
    head_contact_mm: float
    head_leg_mm: float
    head_web_mm: float
    Ix_mm4: float
    Iy_mm4: float
    Ixy_mm4: float
    I1_mm4: float
    I2_mm4: float
    principal_angle_deg: float
    r1_mm: float
    r2_mm: float
    Wel_x_top_mm3: float
    Wel_x_bottom_mm3: float
    Wel_x_free_mm3: float
    Wel_x_free_tension_mm3: float
    Wel_x_free_compression_mm3: float
    Wel_y_left_mm3: float
    Wel_y_right_mm3: float
    Wel_1_mm3: float
    Wel_2_mm3: float
    Wpl_x_mm3: float
    Wpl_x_free_mm3: float
    Wpl_y_mm3: float
    Wpl_y_free_mm3: float
    J_mm4: float
    J_low_mm4: float
    J_high_mm4: float
    Iw_mm6: float
    xs_mm: float
    ys_mm: float
    polar_radius_s_mm: float
    beta_x_mm: float
    beta_y_mm: float
    shear_area_x_nu0_mm2: float
    shear_area_y_nu0_mm2: float
    shear_flexibility_xy_nu0_1_per_mm2: float
    shear_cut_area_y_mm2: float
    shear_cut_area_y_free_mm2: float
    shear_cut_wall_mm: float
    tau_per_torque_1_per_mm3: float
    tau_area_per_torque_1_per_mm3: float
    Wpl_t_mm3: float
    cell_wall_b_over_t: float
    cell_wall_D_over_t: float
    wall_b_over_t: float
    thickest_mm: float
    phi_B_el: float
    phi_B_pl: float
    phi_T_el: float
    phi_T_pl: float
    elements: int
    flags: str
    plastic_ratios: tuple[tuple[str, float], ...] = ()

    def row(self) -> dict[str, float | str]:
        """The columns of ``sections.csv`` that belong to the section alone."""
        plain = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "plastic_ratios"}
        return plain | dict(self.plastic_ratios)


def properties(
    polygon: Polygon,
    *,
    bounds: float = 0.005,
    internal_radius_mm: float = 0.0,
    strength_ratios: tuple[float, ...] = (),
    most_elements: int = 60000,
) -> SectionProperties:
    """All properties of a section.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        A sound outline of one part; it may lie anywhere.
    bounds : float
        How far apart the proven bounds on J may be, relative to their middle: above 0, up to 0.2.
    internal_radius_mm : float
        Least radius in internal corners; 0: sharp (the elastic peak of torsional stress is then infinite).
    strength_ratios : tuple of float
        Strength of the fibres below over that of those above, for more plastic moduli (for y: left over
        right).
    most_elements : int
        Limit on the triangles.

    Raises
    ------
    InputError
        If ``bounds`` is out of its range.
    Unusable
        With the reason, if the outline is unsound or a limit is passed.
    """
    if not 0.0 < bounds <= MOST_APART:
        raise InputError(
            f"{bounds:g} is no distance of bounds on J", "bounds", f"above 0, up to {MOST_APART:g}"
        )
    try:
        rings = sound_rings(polygon)
        moments = area.area_moments(Polygon(rings[0], rings[1:]))
        centroid = (moments.x_mm, moments.y_mm)
        rings = tuple(ring - centroid for ring in rings)
        solved = solve(Polygon(rings[0], rings[1:]), bounds, most_elements)
        solved, peak, flags = resolve_peak(solved, rings, internal_radius_mm, most_elements)
    except Unusable:
        raise
    except (
        ValueError,
        RuntimeError,
        ArithmeticError,
        IndexError,
        KeyError,
        np.linalg.LinAlgError,
        MemoryError,
    ) as reason:
        raise Unusable(f"its properties could not be computed ({reason})") from reason
    return _with_shape_factors(
        SectionProperties(
            **area_columns(rings, moments, strength_ratios),
            **_torsion_part(solved, rings, moments),
            **cellwalls.wall_columns(rings),
            thickest_mm=area.greatest_circle(rings),
            tau_per_torque_1_per_mm3=peak,
            flags=flags,
        )
    )


def _extremes(points: np.ndarray) -> dict[str, float]:
    (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
    return {
        "width_mm": right - left, "depth_mm": top - bottom, "x_left_mm": left, "x_right_mm": right,
        "y_bottom_mm": bottom, "y_top_mm": top,
    }  # fmt: skip


def area_columns(rings, m: area.AreaMoments, ratios: tuple[float, ...]) -> dict:
    """The columns that depend on the polygon alone, exact; rings from the centroid."""
    points = rings[0]
    box = _extremes(points)
    band = 0.005 * box["depth_mm"]
    base = area.extent_within(rings, box["y_bottom_mm"], box["y_bottom_mm"] + band)
    head = area.extent_within(rings, box["y_top_mm"] - band, box["y_top_mm"])
    found = {
        "area_mm2": m.area_mm2, "perimeter_mm": m.perimeter_mm, **box,
        "base_left_mm": base[0], "base_right_mm": base[1], "head_left_mm": head[0], "head_right_mm": head[1],
        **_contact(rings, box["y_bottom_mm"] + band, "base"), **_contact(rings, box["y_top_mm"] - band, "head"),
        "Ix_mm4": m.Ix, "Iy_mm4": m.Iy, "Ixy_mm4": m.Ixy,
    }  # fmt: skip
    found |= _elastic_moduli(points, m, box) | _plastic_part(rings, ratios) | shearcut.shear_columns(rings, m)
    return {key: value if key == "plastic_ratios" else float(value) for key, value in found.items()}


def _contact(rings, level: float, end: str) -> dict[str, float]:
    """What presses at one end of the depth, mm: the width in contact, of its lesser outer leg, of what is behind.

    The contact is the material at ``level``, once the end has been flattened so far. Behind it the load goes
    on through every level up to the centroid, where shear has taken about half of it over.
    """
    behind = level * (1.0 - (np.arange(WEB_LEVELS) + 0.5) / WEB_LEVELS)
    return {
        f"{end}_contact_mm": area.widths_at(rings, np.array([level]))[0],
        f"{end}_leg_mm": min(area.outer_parts_at(rings, level)),
        f"{end}_web_mm": area.widths_at(rings, behind).min(),
    }


def _elastic_moduli(points: np.ndarray, m: area.AreaMoments, box: dict[str, float]) -> dict[str, float]:
    I1, I2, angle = area.principal(m.Ix, m.Iy, m.Ixy)
    cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    u, v = points @ (cos, sin), points @ (-sin, cos)
    bending = area.bending_stress(points, m, -1.0)
    tension, compression = 1.0 / bending.max(), -1.0 / bending.min()
    return {
        "I1_mm4": I1, "I2_mm4": I2, "principal_angle_deg": angle,
        "r1_mm": np.sqrt(I1 / m.area_mm2), "r2_mm": np.sqrt(I2 / m.area_mm2),
        "Wel_x_top_mm3": m.Ix / box["y_top_mm"], "Wel_x_bottom_mm3": -m.Ix / box["y_bottom_mm"],
        "Wel_x_free_mm3": min(tension, compression),
        "Wel_x_free_tension_mm3": tension, "Wel_x_free_compression_mm3": compression,
        "Wel_y_left_mm3": -m.Iy / box["x_left_mm"], "Wel_y_right_mm3": m.Iy / box["x_right_mm"],
        "Wel_1_mm3": I1 / np.abs(v).max(), "Wel_2_mm3": I2 / np.abs(u).max(),
    }  # fmt: skip


def _plastic_part(rings, ratios: tuple[float, ...]) -> dict:
    edges = area.edges_of(rings)
    every = dict.fromkeys((1.0, *ratios))
    moduli = plastic.plastic_moduli_of((edges, plastic.across(edges)), tuple(every))
    by_ratio = dict(zip(every, moduli.transpose(1, 0, 2).reshape(len(every), 4).tolist(), strict=True))
    names = ("Wpl_x_mm3", "Wpl_x_free_mm3", "Wpl_y_mm3", "Wpl_y_free_mm3")
    unequal = [
        (f"{name}@{ratio:.4f}", value)
        for ratio in ratios
        for name, value in zip(names, by_ratio[ratio], strict=True)
    ]
    return dict(zip(names, by_ratio[1.0], strict=True)) | {"plastic_ratios": tuple(unequal)}


def _torsion_part(solved: Torsion, rings, m: area.AreaMoments) -> dict:
    """What the finite elements give."""
    centre = shear.shear_centre(solved, m)
    flexibility = shear.shear_flexibility(m, solved.shear_energy)
    beta = shear.monosymmetry(m, centre)
    holes = tuple(Polygon(ring).area for ring in rings[1:])
    return {
        "J_mm4": solved.J, "J_low_mm4": solved.J_low, "J_high_mm4": solved.J_high,
        "Iw_mm6": shear.warping_constant(solved, centre), "xs_mm": centre[0], "ys_mm": centre[1],
        "polar_radius_s_mm": float(np.sqrt((m.Ix + m.Iy) / m.area_mm2 + centre[0] ** 2 + centre[1] ** 2)),
        "beta_x_mm": beta[0], "beta_y_mm": beta[1],
        "shear_area_x_nu0_mm2": float(1.0 / flexibility[0, 0]),
        "shear_area_y_nu0_mm2": float(1.0 / flexibility[1, 1]),
        "shear_flexibility_xy_nu0_1_per_mm2": float(flexibility[0, 1]),
        "tau_area_per_torque_1_per_mm3": stress.stress_exceeded_by(solved),
        "Wpl_t_mm3": sandheap.plastic_torque(solved.mesh, rings, holes),
        "elements": len(solved.mesh.triangles),
        "phi_B_el": np.nan, "phi_B_pl": np.nan, "phi_T_el": np.nan, "phi_T_pl": np.nan,
    }  # fmt: skip


@carries("ashby-2011")
def shape_factors(
    area_mm2: float, Ix: float, Wel_x: float, J: float, tau_per_torque: float
) -> dict[str, float]:
    """Ashby's shape factors against a solid square of the same area.

    Stiffness in bending 12 Ix / A² and torsion 7.14 J / A² (``_el``); strength, at first yield, in bending
    6 Wel / A^1.5 and torsion 4.8 T/(τ A^1.5) (``_pl``: Ashby's index for the onset of failure).
    """
    return {
        "phi_B_el": 12.0 * Ix / area_mm2**2,
        "phi_B_pl": 6.0 * Wel_x / area_mm2**1.5,
        "phi_T_el": 7.14 * J / area_mm2**2,
        "phi_T_pl": 4.8 / (tau_per_torque * area_mm2**1.5),
    }


def _with_shape_factors(p: SectionProperties) -> SectionProperties:
    Wel = min(p.Wel_x_top_mm3, p.Wel_x_bottom_mm3)
    return replace(p, **shape_factors(p.area_mm2, p.Ix_mm4, Wel, p.J_mm4, p.tau_per_torque_1_per_mm3))


def turned(props: SectionProperties, polygon: Polygon, angle_deg: float) -> SectionProperties:
    """Properties of the section turned counter-clockwise, from the tensor laws: no second solve.

    Parameters
    ----------
    props : SectionProperties
    polygon : shapely.Polygon, mm
        The polygon they belong to, not turned.
    angle_deg : float
    """
    if angle_deg == 0.0:
        return props
    turn = np.radians(angle_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    # Quarter turns are exact, so that a section turned four times is the same section.
    cos, sin = (round(v) if abs(v - round(v)) < 1e-15 else v for v in (cos, sin))
    return _moved(props, polygon, np.array([[cos, -sin], [sin, cos]]))


def mirrored(props: SectionProperties, polygon: Polygon) -> SectionProperties:
    """Properties of the section mirrored about the y axis, left for right: no second solve.

    Parameters
    ----------
    props : SectionProperties
    polygon : shapely.Polygon, mm
        The polygon they belong to, not mirrored.
    """
    return _moved(props, polygon, np.diag([-1.0, 1.0]))


def _moved(props: SectionProperties, polygon: Polygon, matrix: np.ndarray) -> SectionProperties:
    """Properties under an orthogonal map of the plane about the centroid."""
    rings = sound_rings(polygon)
    before = area.area_moments(Polygon(rings[0], rings[1:]))
    rings = tuple((ring - (before.x_mm, before.y_mm)) @ matrix.T for ring in rings)
    if np.linalg.det(matrix) < 0.0:
        rings = tuple(ring[::-1] for ring in rings)  # material stays on the left
    m = area.area_moments(Polygon(rings[0], rings[1:]))
    ratios = tuple(dict.fromkeys(float(name.split("@")[1]) for name, _ in props.plastic_ratios))
    centre = matrix @ (props.xs_mm, props.ys_mm)
    beta = shear.monosymmetry(m, tuple(centre))
    cross = props.shear_flexibility_xy_nu0_1_per_mm2
    flexibility = matrix @ [
        [1.0 / props.shear_area_x_nu0_mm2, cross], [cross, 1.0 / props.shear_area_y_nu0_mm2]
    ] @ matrix.T  # fmt: skip
    return _with_shape_factors(
        replace(
            props,
            **area_columns(rings, m, ratios),
            xs_mm=float(centre[0]), ys_mm=float(centre[1]), beta_x_mm=float(beta[0]),
            beta_y_mm=float(beta[1]), shear_area_x_nu0_mm2=float(1.0 / flexibility[0, 0]),
            shear_area_y_nu0_mm2=float(1.0 / flexibility[1, 1]),
            shear_flexibility_xy_nu0_1_per_mm2=float(flexibility[0, 1]),
        )
    )  # fmt: skip


_UNIT = re.compile(r"_(1_per_)?mm(\d?)(@[\d.]+)?$")


def scaled(table: pd.DataFrame, s: np.ndarray) -> pd.DataFrame:
    """The table of geometrically similar sections, s times as large: each column by the power in its unit.

    Parameters
    ----------
    table : DataFrame
        With the columns of ``sections.csv``; those without a length in their unit stay.
    s : (n,) array or float
        Ratio of lengths for each row.
    """
    s = np.asarray(s, dtype=float)
    changed = {}
    for column in table.columns:
        unit = _UNIT.search(str(column))
        if unit:
            power = int(unit[2] or 1) * (-1 if unit[1] else 1)
            changed[column] = table[column].to_numpy(dtype=float) * s**power
    return table.assign(**changed)
