"""Tables of sections by closed forms of the handbooks, so that members are tested without the solver."""

import numpy as np
import pandas as pd


def _symmetric(area, width, depth, Ix, Iy, J, Iw, Wpl, Wpl_y, Wpl_t, tau, shear_y, shear_x, contact, cut):
    """A row of a doubly symmetric section; ``tau`` per unit torque, NaN at a sharp internal corner.

    ``cut``: I b / Q of the worst cut, and its width.
    """
    major, minor = max(Ix, Iy), min(Ix, Iy)
    Wx, Wy = 2 * Ix / depth, 2 * Iy / width
    return {
        "area_mm2": area, "width_mm": width, "depth_mm": depth,
        "x_left_mm": -width / 2, "x_right_mm": width / 2, "y_bottom_mm": -depth / 2, "y_top_mm": depth / 2,
        "base_left_mm": -contact / 2, "base_right_mm": contact / 2,
        "head_left_mm": -contact / 2, "head_right_mm": contact / 2,
        "base_contact_mm": contact, "head_contact_mm": contact, "base_leg_mm": contact, "head_leg_mm": contact,
        "base_web_mm": contact, "head_web_mm": contact,
        "Ix_mm4": Ix, "Iy_mm4": Iy, "Ixy_mm4": 0.0, "I1_mm4": major, "I2_mm4": minor,
        "principal_angle_deg": 0.0 if Ix >= Iy else 90.0,
        "Wel_x_top_mm3": Wx, "Wel_x_bottom_mm3": Wx, "Wel_x_free_mm3": Wx,
        "Wel_x_free_tension_mm3": Wx, "Wel_x_free_compression_mm3": Wx,
        "Wel_y_left_mm3": Wy, "Wel_y_right_mm3": Wy,
        "Wel_1_mm3": Wx if Ix >= Iy else Wy, "Wel_2_mm3": Wy if Ix >= Iy else Wx,
        "Wpl_x_mm3": Wpl, "Wpl_x_free_mm3": Wpl, "Wpl_y_mm3": Wpl_y,
        "J_mm4": J, "Iw_mm6": Iw, "xs_mm": 0.0, "ys_mm": 0.0,
        "polar_radius_s_mm": np.sqrt((Ix + Iy) / area), "beta_x_mm": 0.0, "beta_y_mm": 0.0,
        "shear_area_x_nu0_mm2": shear_x, "shear_area_y_nu0_mm2": shear_y,
        "shear_cut_area_y_mm2": cut[0], "shear_cut_area_y_free_mm2": cut[0], "shear_cut_wall_mm": cut[1],
        "tau_per_torque_1_per_mm3": tau, "Wpl_t_mm3": Wpl_t, "perimeter_mm": 2 * (width + depth),
        "cell_wall_b_over_t": 0.0, "cell_wall_D_over_t": 0.0, "wall_b_over_t": max(width, depth) / cut[1],
        "thickest_mm": min(width, depth),
    }  # fmt: skip


def rectangle(b, h):
    """Solid rectangle; torsion by Timoshenko & Goodier's table for 1, 2 and narrow, strip formula else."""
    long, short = max(b, h), min(b, h)
    k1 = {1.0: 0.1406, 2.0: 0.229, 10.0: 0.312}.get(long / short, (1 - 0.63 * short / long) / 3)
    k2 = {1.0: 0.208, 2.0: 0.246, 10.0: 0.312}.get(long / short, 1 / 3)
    return _symmetric(
        b * h, b, h, b * h**3 / 12, h * b**3 / 12, k1 * long * short**3, 0.0, b * h**2 / 4, h * b**2 / 4,
        short**2 * (3 * long - short) / 6, 1 / (k2 * long * short**2), b * h / 1.2, b * h / 1.2, b, (b * h / 1.5, b),
    )  # fmt: skip


def tube(outer, inner=0.0):
    """Round bar or tube, diameters in mm."""
    area, second = np.pi / 4 * (outer**2 - inner**2), np.pi / 64 * (outer**4 - inner**4)
    plastic, r, q = (outer**3 - inner**3) / 6, outer / 2, inner / 2
    shear = 0.9 * area if inner == 0 else 0.5 * area
    cut = second * 2 * (r - q) / (2 / 3 * (r**3 - q**3))
    row = _symmetric(
        area, outer, outer, second, second, 2 * second, 0.0, plastic, plastic,
        2 * np.pi * (r**3 - q**3) / 3, r / (2 * second), shear, shear, 0.1 * outer, (cut, r - q),
    )  # fmt: skip
    # 80° of the bore as a flat strip, the whole as a tube.
    cell = (
        {"cell_wall_b_over_t": np.radians(80) * q / (r - q), "cell_wall_D_over_t": r / (r - q) * 2}
        if q
        else {}
    )
    return row | {"perimeter_mm": np.pi * (outer + inner), "thickest_mm": r - q if q else outer} | cell


def i_section(h, b, tf, tw, on_side=False):
    """Sharp I by plate formulas; ``on_side`` turns it a quarter. Its internal corners are sharp."""
    web = h - 2 * tf
    area = 2 * b * tf + web * tw
    Ix = (b * h**3 - (b - tw) * web**3) / 12
    Iy = (2 * tf * b**3 + web * tw**3) / 12
    J, Iw = (2 * b * tf**3 + web * tw**3) / 3, tf * b**3 * (h - tf) ** 2 / 24
    Wpl, Wpl_y = b * tf * (h - tf) + tw * web**2 / 4, tf * b**2 / 2 + web * tw**2 / 4
    Wpl_t = b * tf**2 + web * tw**2 / 2
    # The circle that touches the face of a flange and both corners behind it.
    around = {"perimeter_mm": 4 * b + 2 * h - 2 * tw, "thickest_mm": max(tf + tw**2 / (4 * tf), tw)}
    if on_side:
        return _symmetric(
            area, h, b, Iy, Ix, J, Iw, Wpl_y, Wpl, Wpl_t, np.nan, b * tf * 5 / 3, h * tw, 2 * tf,
            (8 * Iy / (b**2 - tw**2), tf),
        ) | around  # fmt: skip
    cut = (Ix * tw / (Wpl / 2), tw)
    row = _symmetric(area, b, h, Ix, Iy, J, Iw, Wpl, Wpl_y, Wpl_t, np.nan, h * tw, b * tf * 5 / 3, b, cut)
    return row | around


def table(**rows):
    """A table of sections from rows by name."""
    frame = pd.DataFrame(list(rows.values()))
    frame.insert(0, "section_id", list(rows))
    frame.insert(1, "outline", list(rows))
    return frame


def similar(frame, s):
    """Geometrically similar sections: every column by the power of the length in its unit (own rule)."""
    powers = {"_mm": 1, "_mm2": 2, "_mm3": 3, "_mm4": 4, "_mm6": 6, "_1_per_mm3": -3}
    out = frame.copy()
    for name in frame.columns:
        unit = "_" + name.split("_", 1)[1] if "_1_per" in name else "_" + name.rsplit("_", 1)[-1]
        unit = "_1_per_mm3" if "_1_per_mm3" in name else unit
        if unit in powers:
            out[name] = frame[name] * float(s) ** powers[unit]
    return out
