"""Published section properties, recomputed."""

from __future__ import annotations

from functools import cache, partial

import numpy as np
from shapely import Polygon

from kit.checks import checks_by
from kit.checks import geometries as shape
from kit.sections import area, shear, stress
from kit.sections.section import SectionProperties, area_columns, properties
from kit.sections.solving import solve, sound_rings
from kit.sections.torsion import RULE, Torsion

_BOUNDS = 0.001


class Section:
    """A polygon with what the checks ask of it, each computed once."""

    def __init__(self, polygon: Polygon, bounds: float = _BOUNDS):
        self.polygon, self.bounds = polygon, bounds

    @cache  # noqa: B019 - the sections of this module live as long as it does
    def properties(self) -> SectionProperties:
        return properties(self.polygon, bounds=self.bounds, internal_radius_mm=1e-9)

    @cache  # noqa: B019
    def moments(self) -> area.AreaMoments:
        return area.area_moments(self.polygon)

    @cache  # noqa: B019
    def exact(self) -> dict[str, float]:
        m = self.moments()
        return area_columns(tuple(r - (m.x_mm, m.y_mm) for r in sound_rings(self.polygon)), m, ())

    @cache  # noqa: B019
    def torsion(self) -> Torsion:
        m = self.moments()
        rings = [ring - (m.x_mm, m.y_mm) for ring in sound_rings(self.polygon)]
        return solve(Polygon(rings[0], rings[1:]), self.bounds)

    def __getattr__(self, column: str):
        """A column of ``sections.csv``, or a centroid co-ordinate where the polygon was drawn."""
        if column in ("x_mm", "y_mm"):
            return getattr(self.moments(), column)
        if column.startswith("_"):
            raise AttributeError(column)
        exact = self.exact()
        return exact[column] if column in exact else getattr(self.properties(), column)

    @property
    def shear_x(self) -> float:
        """Shear centre where the polygon was drawn, mm."""
        return self.x_mm + self.xs_mm

    @property
    def shear_y(self) -> float:
        return self.y_mm + self.ys_mm

    def shear_coefficients(self, nu: float) -> tuple[float, float]:
        """Pilkey's αx = A/Asx and αy."""
        areas = shear.shear_areas(self.torsion(), self.moments(), nu)
        return self.area_mm2 / areas[0], self.area_mm2 / areas[1]

    def boundary_stress_at(self, x: float, y: float) -> float:
        """Torsional shear stress per unit torque at a point of a straight side, 1/mm3.

        By a parabola through the six pieces of boundary next to it.
        """
        places, along, _ = stress.boundary_stress(self.torsion())
        distance = places - (x, y)
        near = np.hypot(*distance.T).argsort()[:6]
        along_side = distance[near][:, np.ptp(distance[near], axis=0).argmax()]
        return float(abs(np.polyfit(along_side, along[near], 2)[-1]))


def _register(build, rows: dict) -> None:
    """Checks of one section: id → column name, or function of the section. It is built when first asked."""

    @cache
    def section() -> Section:
        made = build()
        return made if isinstance(made, Section) else Section(made)

    def value(ask) -> float:
        return getattr(section(), ask) if isinstance(ask, str) else ask(section())

    checks_by({identifier: partial(value, ask) for identifier, ask in rows.items()})


# 1 Rectangles in torsion: J = k1 a b³, τ = k G θ b = T / (k2 a b²)
_K = {"1": "", "1.2": "k", "1.5": "k", "2": "k", "2.5": "k k2", "3": "k2"}
_K |= dict.fromkeys(("4", "5", "10"), "k k2")
_OF_RECTANGLE = {
    "k1": lambda s: s.J_mm4 / (s.depth_mm * s.width_mm**3),
    "k": lambda s: s.tau_per_torque_1_per_mm3 * s.J_mm4 / s.width_mm,
    "k2": lambda s: 1.0 / (s.tau_per_torque_1_per_mm3 * s.depth_mm * s.width_mm**2),
}
for _ratio, _also in _K.items():
    _register(
        partial(shape.rectangle, 100.0, 100.0 * float(_ratio)),
        {f"TOR-RECT-{k}-{_ratio}": _OF_RECTANGLE[k] for k in ["k1", *_also.split()]},
    )
for _ratio in (1.5, 2, 3, 4, 6):
    _register(
        lambda ratio=_ratio: Section(shape.rectangle(100.0, 100.0 * ratio), bounds=2e-4),
        {
            f"TOR-RECT-short-{_ratio}": lambda s: (
                s.boundary_stress_at(0.0, s.y_top_mm) / s.boundary_stress_at(s.x_right_mm, 0.0)
            )
        },
    )


def _long_strip() -> float:
    """J of a length b³ in the middle of an endless strip: what the ends do cancels in a difference."""
    return (Section(shape.rectangle(1.0, 40.0)).J_mm4 - Section(shape.rectangle(1.0, 20.0)).J_mm4) / 20.0


def _place_of_peak() -> float:
    s = Section(shape.rectangle(100.0, 200.0), bounds=1e-5)
    return (stress.peak_stress(s.torsion())[1][1] + 100.0) / 200.0


checks_by({"TOR-RECT-k1-inf": _long_strip, "TOR-RECT-loc": _place_of_peak})
_register(partial(shape.rectangle, 1.0, 20.0), {"TOR-RECT-k-inf": _OF_RECTANGLE["k"]})

# 2 Other shapes in torsion
_W = lambda s: 1.0 / s.tau_per_torque_1_per_mm3  # noqa: E731
_J = "J_mm4"
_TRIANGLE = partial(shape.regular, 3, 100.0 / np.sqrt(3.0), 90.0)
_RIGHT = partial(Polygon, [(0, 0), (100, 0), (0, 100)])
_register(
    partial(shape.ellipse, 50.0, 30.0),
    {
        "TOR-ELL-J": _J,
        "TOR-ELL-W": _W,
        "TOR-ELL-loc": lambda s: float(np.hypot(*stress.peak_stress(s.torsion())[1])),
    },
)
_register(_TRIANGLE, {"TOR-TRI-J": _J, "TOR-TRI-W": _W})
_register(partial(shape.circle, 60.0), {"TOR-CIRC-J": _J})
_register(
    partial(shape.tube, 60.0, 50.0),
    {
        "TOR-TUBE-J": _J,
        "TOR-TUBE-thin": _J,
        "BEN-TUBE": "Wpl_x_mm3",
    },
)
_register(partial(shape.box, 100.0, 5.0), {"TOR-SHS-bredt": _J})
_register(
    _RIGHT,
    {
        "TOR-RIT-J": lambda s: s.J_mm4 / 100.0**4,
        "TOR-RIT-J6": _J,
        "TOR-RIT-tau": lambda s: s.tau_per_torque_1_per_mm3 * 100.0**3,
        "PLT-RIT": "Wpl_t_mm3",
    },
)
_register(partial(shape.regular, 6, 1.0), {"TOR-HEX-J": _J})
_register(partial(shape.regular, 8, 0.5 / np.cos(np.pi / 8)), {"TOR-OCT-W": _W})
_register(partial(shape.sector, 1.0, 180.0), {"TOR-SEMI-J": _J, "TOR-SEMI-Jpub": _J})
_register(partial(shape.sector, 1.0, 90.0), {"TOR-QUAD-J": _J})
_register(partial(shape.sector, 1.0, 120.0), {"TOR-SEC120-J": _J})
_register(partial(shape.sector, 1.0, 359.99), {"TOR-SLITC-J": _J})
_register(
    partial(shape.slit_tube, 50.0, 1.0),
    {"TOR-SLIT-J": _J, "THW-SLIT-e": lambda s: s.shear_y, "THW-SLIT-Iw": "Iw_mm6"},
)
_register(partial(shape.tee, 100.0, 100.0, 10.0, 10.0, 10.0), {"TOR-TEE-EDJ": _J})
_register(
    partial(shape.tee, 100.0, 100.0, 10.0, 10.0),
    {
        "TOR-TEE-FE0": _J,
        "BEN-TEE-A": "area_mm2",
        "BEN-TEE-yc": "y_top_mm",
        "BEN-TEE-Wmin": lambda s: min(s.Wel_x_top_mm3, s.Wel_x_bottom_mm3),
        "BEN-TEE-Wpl": "Wpl_x_mm3",
    },
)
_register(
    partial(shape.angle_section, 100.0, 100.0, 10.0),
    {"TOR-ANG-0": _J, "BEN-L-I11": "I1_mm4", "BEN-L-I22": "I2_mm4"},
)
_register(partial(shape.cruciform, 100.0, 10.0), {"TOR-CRUC-0": _J})

# 3 Rolled sections: the standard calls the strong axis y, the weak one z
_EUROPEAN = {
    "A": "area_mm2", "Iy": "Ix_mm4", "Wel,y": "Wel_x_top_mm3", "Wpl,y": "Wpl_x_mm3",
    "iy": lambda s: np.sqrt(s.Ix_mm4 / s.area_mm2), "Iz": "Iy_mm4", "It": _J, "Iw": "Iw_mm6",
    "It-EN": _J, "Iw-EN": "Iw_mm6",
}  # fmt: skip
_I_SECTIONS = {
    "IPE100": ((100, 55, 4.1, 5.7, 7), "Wel,y Wpl,y iy Iz It Iw-EN"),
    "IPE200": ((200, 100, 5.6, 8.5, 12), "A Wel,y Wpl,y iy Iz It Iw It-EN Iw-EN"),
    "IPE300": ((300, 150, 7.1, 10.7, 15), "A Iy Wpl,y iy Iz It Iw It-EN Iw-EN"),
    "HEA100": ((96, 100, 5, 8, 12), "A Iy Wel,y Wpl,y Iz It It-EN Iw-EN"),
    "HEA200": ((190, 200, 6.5, 10, 18), "A Iy Wel,y Wpl,y iy Iz It Iw Iw-EN"),
}
for _name, (_size, _rows) in _I_SECTIONS.items():
    _register(partial(shape.i_section, *_size), {f"SEC-{_name}-{k}": _EUROPEAN[k] for k in _rows.split()})
_CHANNEL = {"A": "area_mm2", "Ix": "Ix_mm4", "Iy": "Iy_mm4", "xM": lambda s: -s.xs_mm}
for _name, _size in {"UPE100": (100, 55, 4.5, 7.5, 10), "UPE200": (200, 80, 6, 11, 13)}.items():
    _register(partial(shape.channel, *_size), {f"SEC-{_name}-{k}": ask for k, ask in _CHANNEL.items()})
_register(
    partial(shape.tapered_channel, 200, 75, 8.5, 11.5, 11.5, 6, 0.08),
    {
        "SEC-UPN200-Iy": "Ix_mm4",
        "SEC-UPN200-Iz": "Iy_mm4",
        "SEC-UPN200-It": _J,
        "SEC-UPN200-Iw": "Iw_mm6",
        "SEC-UPN200-ys": lambda s: -s.x_left_mm,
    },
)
_AMERICAN = {
    "A": "area_mm2", "Ix": "Ix_mm4", "Sx": "Wel_x_top_mm3", "Zx": "Wpl_x_mm3", "Iy": "Iy_mm4", "J": _J,
    "Cw": "Iw_mm6",
}  # fmt: skip
_W_SECTIONS = {  # d, bf, tw, tf, kdes, inches
    "W12x26": ((12.2, 6.49, 0.230, 0.380, 0.680), "A Ix Sx Zx Iy J Cw"),
    "W8x31": ((8.00, 8.00, 0.285, 0.435, 0.829), "A Sx Zx J Cw"),
    "W14x90": ((14.0, 14.5, 0.440, 0.710, 1.31), "A Ix Sx J Cw"),
}
for _name, ((_d, _bf, _tw, _tf, _k), _rows) in _W_SECTIONS.items():
    _size = 25.4 * np.array([_d, _bf, _tw, _tf, _k - _tf])
    _register(partial(shape.i_section, *_size), {f"SEC-{_name}-{k}": _AMERICAN[k] for k in _rows.split()})

# 4 Thin walls
_register(
    partial(shape.channel, 101.0, 50.5, 1.0, 1.0),
    {"THW-CH-e": lambda s: 0.5 - s.shear_x, "THW-CH-Iw": "Iw_mm6"},
)
_register(partial(shape.i_section, 101.0, 50.0, 1.0, 1.0), {"THW-I-Iw": "Iw_mm6"})
_register(partial(shape.arc_strip, 50.0, 1.0, 180.0), {"THW-ARC-e": lambda s: s.shear_y})
_register(
    partial(shape.angle_section, 100.5, 100.5, 1.0),
    {"THW-L-e": lambda s: np.hypot(s.shear_x - 0.5, s.shear_y - 0.5)},
)

# 5 Monosymmetric I-section
_register(
    partial(shape.i_section, 300.0, 200.0, 10.0, 10.0, 0.0, 120.0),
    {
        "MON-A": "area_mm2", "MON-yc": "y_mm", "MON-Ix": "Ix_mm4", "MON-Iy": "Iy_mm4", "MON-ys": "ys_mm",
        "MON-Iw": "Iw_mm6", "MON-J": _J, "MON-beta_x": "beta_x_mm",
    },
)  # fmt: skip


# 6 Unsymmetrical sections of the textbooks
def _alphas(nu: float) -> dict:
    return {
        "alpha_x": lambda s: s.shear_coefficients(nu)[0],
        "alpha_y": lambda s: s.shear_coefficients(nu)[1],
    }


_PILKEY = {
    "A": "area_mm2", "cx": "x_mm", "cy": "y_mm", "Ix": "Ix_mm4", "Iy": "Iy_mm4", "Ixy": "Ixy_mm4",
    "I11": "I1_mm4", "I22": "I2_mm4", "J": _J, "J-closed": _J, "J-slit": _J, "Iw": "Iw_mm6",
    "phi": "principal_angle_deg", "xs": lambda s: s.shear_x, "xs-Trefftz": lambda s: s.shear_x,
    "ys": lambda s: s.shear_y, "xs-cx": "xs_mm", "ys-cy": "ys_mm",
    "tau-closed": "tau_per_torque_1_per_mm3", "tau-slit": "tau_per_torque_1_per_mm3",
}  # fmt: skip


def _angle_about_mid_lines(b: float, h: float, t: float, mirror: float = 1.0) -> Polygon:
    """Angle whose mid-lines, b and h long, meet at the origin; ``mirror`` −1 turns the vertical leg down."""
    polygon = shape.angle_section(b + t / 2, h + t / 2, t)
    return Polygon((np.asarray(polygon.exterior.coords) - t / 2) * (1.0, mirror))


def _channel_about_mid_lines(width: float, depth: float, t: float) -> Polygon:
    """Channel whose web mid-line, ``depth`` between flange mid-lines, lies at x = 0; tips at x = width."""
    polygon = shape.channel(depth + t, width + t / 2, t, t)
    return Polygon(np.asarray(polygon.exterior.coords) - (t / 2, 0.0))


def _pilkey(prefix: str, build, names: str, nu: float = 0.3, **other) -> None:
    table = _PILKEY | _alphas(nu) | other
    _register(build, {f"PIL-{prefix}-{name}": table[name] for name in names.split()})


_ANGLE_1 = partial(_angle_about_mid_lines, 1.0, 2.0, 0.1, -1.0)
_pilkey("1.1", _ANGLE_1, "A cx cy Iy phi I11 I22")
_pilkey("5.14", _ANGLE_1, "J")
_pilkey("5.7", partial(shape.tube, 8.0, 7.5), "J-closed tau-closed")
# The book's J of the slit tube, 0.13, is thin-wall and rounded: 3.2 % above the outline's, more than the
# row allows.
_pilkey("5.7", partial(shape.slit_tube, 3.875, 0.25), "tau-slit")
_pilkey("6.2", partial(_channel_about_mid_lines, 1.0, 2.0, 0.1), "cx xs-cx alpha_x J")
for _nu, _names in ((0.0, "alpha_x"), (0.3, "alpha_x alpha_y"), (0.5, "alpha_x alpha_y")):
    _pilkey(f"6.5-nu{_nu:g}", partial(shape.rectangle, 2.0, 1.0), _names, _nu)
_QUADRILATERAL = partial(Polygon, [(-0.5, -1), (0.5, -1), (0.5, 2), (-0.5, 1)])
_WITH_NU = {  # the book's shear centre is the elastic one, which depends on Poisson's ratio
    "xs-cx": lambda s: shear.shear_centre_elastic(s.torsion(), s.moments(), 0.3)[0],
    "ys-cy": lambda s: shear.shear_centre_elastic(s.torsion(), s.moments(), 0.3)[1],
}
_pilkey("6.6", _QUADRILATERAL, "alpha_x alpha_y xs-cx ys-cy", **_WITH_NU)
_pilkey("6.7a", partial(shape.angle_section, 10.5, 10.5, 1.0), "J alpha_x xs-cx")
_pilkey(
    "6.7b",
    partial(shape.angle_section, 10.5, 15.5, 1.0),
    "alpha_x alpha_y xs-cx phi",
    phi=lambda s: np.radians(s.principal_angle_deg),
)
_pilkey("B.1", partial(shape.elliptical_tube, 8.0, 5.0, 1.0), "A alpha_x alpha_y J", 1 / 3)
_B2 = partial(_channel_about_mid_lines, 8.0, 18.0, 1.0)
_pilkey("B.2", _B2, "A cx Ix Iy xs xs-Trefftz alpha_x alpha_y J Iw", 1 / 3)
_pilkey("B.3", partial(_angle_about_mid_lines, 5.625, 7.625, 0.75), "cx cy Ix Iy Ixy I11 ys", 1 / 3)
_FROM_BOTTOM = {"ys": lambda s: s.shear_y + 8.0}
_pilkey("B.4", partial(shape.slit_tube, 8.0, 1.25), "A Ix ys alpha_x Iw", 1 / 3, **_FROM_BOTTOM)
_pilkey("B.7", partial(shape.arc_strip, 16.0, 0.5, 120.0), "A ys Iy alpha_x alpha_y J Iw", 1 / 3)

_Z = [(-5, 6), (-5, 4), (-1, 4), (-1, -6), (5, -6), (5, -4), (1, -4), (1, 6)]


def _peery_stress(x: float, y: float):
    """The book's Myy has the other sign: it compresses the side x > 0."""
    return lambda s: float(area.bending_stress(np.array([[x, y]]), s.moments(), -100000.0, -10000.0)[0])


_register(
    partial(Polygon, _Z),
    {
        "PEE-7.2-Ixx": "Ix_mm4", "PEE-7.2-Ixy": "Ixy_mm4", "PEE-7.2-I11": "I1_mm4", "PEE-7.2-I22": "I2_mm4",
        "PEE-7.2-sigma-B": _peery_stress(-5.0, 6.0), "PEE-7.2-sigma-C": _peery_stress(1.0, 6.0),
    },
)  # fmt: skip
_register(partial(shape.i_section, 6.0, 3.0, 1.0, 1.0), {"PEE-6.2-Ix": "Ix_mm4"})

# 7 Plastic torque
_PLT = "Wpl_t_mm3"
_register(partial(shape.circle, 60.0), {"PLT-CIRC": _PLT})
_register(partial(shape.rectangle, 50.0, 50.0), {"PLT-SQ": _PLT})
_register(partial(shape.tube, 60.0, 40.0), {"PLT-TUBE": _PLT})
_register(partial(shape.regular, 6, 30.0), {"PLT-HEX": _PLT})
_register(partial(shape.rectangle, 1000.0, 2.0), {"PLT-THIN": _PLT})

# 8 Bending moduli
_FACTOR = lambda s: s.Wpl_x_mm3 / min(s.Wel_x_top_mm3, s.Wel_x_bottom_mm3)  # noqa: E731
_register(partial(shape.circle, 60.0), {"BEN-CIRC": _FACTOR})
_register(partial(shape.tube, 1000.0, 999.5, 1440), {"BEN-TUBE0": _FACTOR})
_register(partial(shape.regular, 4, 50.0), {"BEN-DIA": _FACTOR})
_register(partial(shape.sector, 50.0, 180.0), {"BEN-SEMI-Ix": "Ix_mm4", "BEN-SEMI-yc": "y_mm"})
_register(partial(shape.regular, 6, 50.0), {"BEN-HEX-I": "Ix_mm4"})
_register(
    partial(shape.rectangle, 60.0, 20.0),
    {"KERN-RECT": lambda s: float(area.kern(s.polygon)[:, 1].max())},
)
_register(
    partial(shape.circle, 60.0),
    {"KERN-CIRC": lambda s: float(np.hypot(*area.kern(s.polygon).T).max())},
)


# 18 Transverse shear stress
def _shear_at_centre(s: Section, nu: float) -> float:
    """Shear stress along y at the point of the mesh nearest to the centroid, over V/A."""
    solved = s.torsion()
    along = shear.shear_stress(solved, s.moments(), (0.0, s.area_mm2), nu)[:, :, 1]
    places = RULE @ solved.mesh.points[solved.mesh.triangles[:, :3]]
    return float(along.ravel()[np.hypot(places[..., 0], places[..., 1]).argmin()])


_register(partial(shape.circle, 60.0), {"SHR-CIRC-0.3": lambda s: _shear_at_centre(s, 0.3)})
for _ratio in ("2", "1", "0.5", "0.25"):
    _register(
        partial(shape.rectangle, 100.0, 100.0 * float(_ratio)),
        {f"SHR-RECT-{_ratio}": lambda s: _shear_at_centre(s, 0.25) / 1.5},
    )

# 12 Shape factors
_CIRCLE_B = lambda s: 4.0 * np.pi * s.Ix_mm4 / s.area_mm2**2  # noqa: E731
_CIRCLE_T = lambda s: 2.0 * np.pi * s.J_mm4 / s.area_mm2**2  # noqa: E731
_register(
    _TRIANGLE,
    {"ASH-B-tri": "phi_B_el", "ASH-T-tri": "phi_T_el", "ASH-Bf-tri": "phi_B_pl", "PLT-TRI": _PLT},
)
_register(partial(shape.rectangle, 20.0, 60.0), {"ASH-B-rect": "phi_B_el"})
_register(partial(shape.rectangle, 20.0, 40.0), {"ASH-T-rect": "phi_T_el"})
_register(partial(shape.tube, 210.0, 190.0), {"ASH-B-tube": "phi_B_el"})
_register(partial(shape.circle, 60.0), {"ASH-T-circ": "phi_T_el", "ASH93-T-circ": _CIRCLE_T})
_register(partial(shape.circle, 60.0), {"ASH93-B-circ": _CIRCLE_B})
_register(partial(shape.rectangle, 50.0, 50.0), {"ASH93-B-sq": _CIRCLE_B, "ASH93-T-sq": _CIRCLE_T})
