"""Which way of moving sideways and twisting is open to a beam, and the load it sets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.members import free_limit, lateral
from kit.members.cases import BendingCase
from kit.members.columns import principal_load_axis
from kit.members.crossing import first_crossing
from kit.members.loading import ModeIntegrals, load_effects, mode_integrals
from kit.members.moments import section_moment
from kit.members.serviceability import twist_per_torque
from kit.members.shafts import warping_parameter
from kit.members.state import Columns, Limit, State
from kit.sources import carries

# Below this √(π² E Iw / G J L²) the shapes of a plane root converge too slowly for a cantilever.
LEAST_WARPING = 0.5
# Shapes of the twist: of beams held sideways, and of those that move sideways too.
SHAPES, SUPPORTED, CANTILEVERED = 6, 3, 4
PLATEAU = 0.2


@dataclass(frozen=True)
class Movement:
    """Limits of stability, the critical load with which twist grows, rows blocked and caveats."""

    limits: tuple[Limit, ...] = ()
    critical: np.ndarray | float = np.inf
    caveats: tuple = ()
    blocked: tuple = ()


def load_height(columns: Columns, case: BendingCase) -> np.ndarray:
    """Height of the load above the shear centre, mm."""
    level = {
        "top": columns["y_top_mm"],
        "bottom": columns["y_bottom_mm"],
        "centroid": 0.0,
        "shear-centre": columns["ys_mm"],
    }[case.load_height]
    return level - columns["ys_mm"]


def twist_terms(columns: Columns, case: BendingCase, state: State, sideways) -> lateral.TwistTerms:
    """The coefficients of the twist of every beam."""
    held = case.restraint == "sideways"
    return lateral.TwistTerms(
        case.span_mm,
        state.column_shear_modulus * columns["J_mm4"],
        state.column_modulus * columns["Iw_mm6"],
        load_height(columns, case),
        lateral.held_wagner(columns) if held else lateral.plane_wagner(columns),
        sideways,
    )


def critical_load(terms: lateral.TwistTerms, case: BendingCase) -> tuple[np.ndarray, ModeIntegrals]:
    """Elastic critical load, N, and the integrals of its first symmetric shape.

    A load far below the shear centre holds the symmetric shapes upright: the beam then twists one way in one
    half and the other way in the other, at a lower load.
    """
    spacing = case.spacing_mm / case.span_mm if case.loading == "four-point" else 0.0
    if case.loading != "cantilever":
        shapes = mode_integrals(case.pattern, spacing, SHAPES)
        halves = lateral.critical_load(
            terms, mode_integrals(case.pattern, spacing, SHAPES, even=True), SUPPORTED
        )
        return np.minimum(lateral.critical_load(terms, shapes, SUPPORTED), halves), shapes
    shapes = mode_integrals(case.pattern, 0.0, SHAPES, True)
    plane = lateral.critical_load(terms, mode_integrals(case.pattern, 0.0, SHAPES), CANTILEVERED)
    warping = lateral.critical_load(terms, shapes, CANTILEVERED)
    k = np.pi / case.span_mm * np.sqrt(terms.eiw / terms.gj)
    return np.where(k < LEAST_WARPING, warping, plane), shapes


def assess(columns: Columns, case: BendingCase, state: State, arm_mm) -> Movement:
    """Stability of beams, row by row.

    Free, with the load in a principal plane and bending about the major axis: lateral–torsional buckling.
    Free, about the minor axis of a principal plane: no sideways buckling, only twist under a high load.
    Free and off the principal axes: no bifurcation; second-order bending and twist, which grow towards the
    elastic limit under the stress of free bending, lowered where the outline is known to change its shape. Held sideways: twist
    under a load above the line of the support. Held against twist: nothing.
    """
    if case.restraint == "sideways-and-twist":
        return Movement()
    if case.restraint == "sideways":
        return _held(columns, case, state, arm_mm)
    return _free(columns, case, state, arm_mm)


def _held(columns: Columns, case: BendingCase, state: State, arm_mm) -> Movement:
    terms = twist_terms(columns, case, state, np.full(len(columns["area_mm2"]), np.inf))
    critical, _ = critical_load(terms, case)
    limits = [Limit("torsional buckling under the load", 0.5 * critical)]
    if not state.ductile:
        limits.append(Limit("fracture with warping", _warped_load(columns, case, state, arm_mm, critical)))
    # Stopping at half the critical load keeps the growth of any twist below two.
    return Movement(tuple(limits), critical, (("held-twist-halved", np.isfinite(critical)),))


def _warped_load(columns: Columns, case: BendingCase, state: State, arm_mm, critical) -> np.ndarray:
    """Load at which bending and restrained warping break a brittle beam held sideways, N.

    W k L / M_0 + W σ_w / (f (1 − W/W_cr)) = 1: both stresses taken at one point.
    """
    effects = load_effects(case)
    bent = effects.moment * case.span_mm / section_moment(columns, state, True, effects.hogging)
    strength = state.lesser if state.bending is None else state.bending
    warped = warping_stress(columns, case, state, arm_mm) / strength
    high = np.minimum(1.0 / bent, (1.0 - 1e-9) * critical)
    return first_crossing(lambda load: load * (bent + warped / (1.0 - load / critical)) - 1.0, high)


def major_share(columns: Columns) -> np.ndarray:
    """Square of the share of a moment about x that bends the section about its major axis."""
    return np.cos(np.deg2rad(columns["principal_angle_deg"])) ** 2


def sideways_second_moment(columns: Columns) -> np.ndarray:
    """(Ix Iy − Ixy²) / Ix, mm4: what resists sideways movement; I2 where x is the major axis."""
    return columns["Iy_mm4"] - columns["Ixy_mm4"] ** 2 / columns["Ix_mm4"]


def _free(columns: Columns, case: BendingCase, state: State, arm_mm) -> Movement:
    principal = principal_load_axis(columns)
    alike = columns["I1_mm4"] - columns["I2_mm4"] <= 1e-6 * columns["I1_mm4"]
    major = principal & (columns["Ix_mm4"] > columns["Iy_mm4"]) & ~alike
    share = major_share(columns)
    sideways = np.where(principal & ~major, np.inf, state.column_modulus * sideways_second_moment(columns))
    terms = twist_terms(columns, case, state, sideways)
    critical, shapes = critical_load(terms, case)
    share_of_shape, shape_known = free_limit.shape_share(columns, case, state)
    critical = critical * np.where(principal, 1.0, share_of_shape)
    biaxial = np.where(principal, 0.0, np.sqrt(share * (1.0 - share)))
    load = second_order_load(columns, case, state, _Growth(terms, shapes, critical, arm_mm, biaxial))
    load = np.where(_stocky(columns, case, state, critical, principal & (arm_mm == 0)), np.inf, load)
    limits = (
        Limit("lateral-torsional buckling", np.where(major, load, np.inf), major),
        Limit("twisting under the load", np.where(principal & ~major, load, np.inf), principal & ~major),
        Limit("second-order bending and twist", np.where(principal, np.inf, load), ~principal),
    )
    cantilever = np.full(len(load), case.loading == "cantilever")
    caveats = (
        ("no-bifurcation-off-axis", ~principal),
        ("shape-kept-off-axis", ~principal & ~shape_known),
        ("ends-cannot-twist", np.full(len(load), case.supports == "resting") & ~cantilever),
        ("warping-stress-estimated", columns["Iw_mm6"] > 1e-4 * columns["I2_mm4"] * columns["depth_mm"] ** 2),
        ("cantilever-root-warping", cantilever),
    )
    return Movement(limits, critical, caveats)


@carries("en-1993-1-1")
def _stocky(columns: Columns, case: BendingCase, state: State, critical, untwisted) -> np.ndarray:
    """Rows too stocky to buckle: slenderness √(M / M_cr) ≤ 0.2, the plateau of the column curves."""
    effects = load_effects(case)
    own = section_moment(columns, state, False, effects.hogging) / (effects.moment * case.span_mm)
    return untwisted & (own <= PLATEAU**2 * critical)


@dataclass(frozen=True)
class _Growth:
    """What the sideways movement grows from: the shapes, the critical load, and the disturbances."""

    terms: lateral.TwistTerms
    shapes: ModeIntegrals
    critical: np.ndarray
    arm_mm: np.ndarray
    biaxial: np.ndarray


def _twist(growth: _Growth, case: BendingCase, state: State, columns: Columns):
    """Function of the load: additional twist of the first shape and whole twist, rad, and the load as it grows.

    Bow: an initial shape like the buckled one, its sideways part ``bow`` × span. A load off the shear
    centre and bending about both axes twist from the first newton; all grow with 1 / (1 − W/W_cr).
    """
    t, s, length = growth.terms, growth.shapes, case.span_mm
    stiff = t.gj / length * s.slope[0, 0] + t.eiw / length**3 * s.curvature[0, 0]
    wave = length * (2.0 if case.loading == "cantilever" else 1.0)
    p2 = np.pi**2 * state.column_modulus * columns["I2_mm4"] / wave**2
    crooked = np.where(np.isfinite(growth.critical), case.bow * p2 / (growth.critical * s.bow), 0.0)
    eccentric = np.abs(growth.arm_mm) * twist_per_torque(columns, case, state)
    unlike = (1.0 / columns["I2_mm4"] - 1.0 / columns["I1_mm4"]) / state.column_modulus
    both = length**3 * abs(s.biaxial[0]) * growth.biaxial * unlike / stiff

    def at(load):
        share = np.minimum(load / growth.critical, 1.0 - 1e-9)
        added = (crooked * share + load**2 * both) / (1.0 - share)
        beside = load / (1.0 - share)
        return added, crooked + added + beside * eccentric, beside

    return at


@carries("timoshenko-gere-1961", "trahair-1993", caveats=("ltb-elastic-beam-theory", "ltb-first-yield"))
def second_order_load(columns: Columns, case: BendingCase, state: State, growth: _Growth) -> np.ndarray:
    """Load at which bending, the bending that twist adds, and restrained warping reach the strength, N.

    Notes
    -----
    W k L / M_0 + (W k L φ / W_2 + W k L φ / W_1 [off the axes] + E φ'' ω + σ_w) / f = 1, M_0 the moment of
    the section itself, φ the twist with its growth, σ_w the stress of the bimoment from a load off the shear
    centre, ω ≈ √(Iw/I2) · I2/W2 (exact for an equal-flanged I) where the table has no greatest ω.
    """
    effects = load_effects(case)
    arm = effects.moment * case.span_mm
    section = section_moment(columns, state, False, effects.hogging)
    strength = state.lesser if state.bending is None else state.bending
    about_both = 1.0 / columns["Wel_2_mm3"] + np.where(growth.biaxial > 0, 1.0 / columns["Wel_1_mm3"], 0.0)
    wave = case.span_mm * (2.0 if case.loading == "cantilever" else 1.0)
    warping = state.modulus * (np.pi / wave) ** 2 * greatest_sectorial(columns)
    beside_stress = warping_stress(columns, case, state, growth.arm_mm)
    twist = _twist(growth, case, state, columns)

    def excess(load):
        added, whole, beside = twist(load)
        warped = added * warping + beside * beside_stress
        return load * arm / section + (load * arm * whole * about_both + warped) / strength - 1.0

    return first_crossing(excess, np.minimum(section / arm, growth.critical))


@carries("vlasov-1961")
def bimoment_ratio(case: BendingCase, k) -> np.ndarray:
    """Greatest bimoment of a load W at an arm e off the shear centre ÷ (W e L), by k = L √(GJ / E Iw).

    Ends upright and free to warp, loads at a from the supports: sinh(ka) cosh(k/2 − ka) / (2k cosh(k/2));
    uniform: (1 − 1/cosh(k/2)) / k². Cantilever with a plane root, load at the tip: tanh(k) / k.
    """
    k = np.clip(np.asarray(k, dtype=float), 1e-4, 1e6)
    if case.loading == "cantilever":
        return np.tanh(k) / k
    if case.loading == "uniform":
        decay = np.exp(-k / 2.0)
        return np.where(k < 0.05, 0.125, (1.0 - 2.0 * decay / (1.0 + decay**2)) / k**2)
    a = 0.5 if case.loading == "three-point" else 0.5 * (1.0 - case.spacing_mm / case.span_mm)
    x, y = k * a, k * (0.5 - a)
    return -np.expm1(-2.0 * x) * (1.0 + np.exp(-2.0 * y)) / (4.0 * k * (1.0 + np.exp(-k)))


def warping_stress(columns: Columns, case: BendingCase, state: State, arm_mm) -> np.ndarray:
    """Greatest normal stress of restrained warping per unit of a load off the shear centre, 1/mm2: B ω / Iw.

    Where the bimoment dies away within the depth of the section, √(E Iw / G J) below it, its peak at a point
    load is a local stress that beam theory does not know: there the first half-wave alone, E (π/L)² φ ω.
    """
    gj, eiw = state.shear_modulus * columns["J_mm4"], state.modulus * columns["Iw_mm6"]
    bimoment = np.abs(arm_mm) * case.span_mm * bimoment_ratio(case, warping_parameter(case.span_mm, gj, eiw))
    wave = case.span_mm * (2.0 if case.loading == "cantilever" else 1.0)
    twist = np.abs(arm_mm) * twist_per_torque(columns, case, state)
    smooth = state.modulus * (np.pi / wave) ** 2 * twist
    long = eiw > gj * columns["depth_mm"] ** 2
    share = np.where(long, bimoment / np.where(long, columns["Iw_mm6"], 1.0), smooth)
    return share * greatest_sectorial(columns)


def greatest_sectorial(columns: Columns) -> np.ndarray:
    """Greatest sectorial coordinate |ω|, mm2: from the table, or √(Iw/I2) · I2/W2."""
    if "omega_max_mm2" in columns:
        return columns["omega_max_mm2"]
    return (
        np.sqrt(np.maximum(columns["Iw_mm6"], 0.0) / columns["I2_mm4"])
        * columns["I2_mm4"]
        / columns["Wel_2_mm3"]
    )
