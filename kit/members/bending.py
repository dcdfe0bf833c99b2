"""Beams: yield and plasticity in unsymmetric bending, shear, torsion off the shear centre, bearing and
overturning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.members import curve_moments, serviceability, stability
from kit.members.cases import BendingCase
from kit.members.crossing import first_crossing
from kit.members.loading import load_effects
from kit.members.moments import first_yield_moment, section_moment
from kit.members.state import Assessment, Columns, Limit, State
from kit.sources import carries

SLENDER = 5.0
# Share of a timber's width that drying cracks leave for shear: k_cr of EN 1995-1-1, 6.1.7(2).
CRACKED = 0.67
# Least share of a flexural strength that its material withstands in tension: by the weakest link it is 0.4 at
# a Weibull modulus of 5, rising to 1, and 2/3 where a rectangle yields in full. Common practice, no source.
LEAST_PULL = 1.0 / 3.0


@dataclass(frozen=True)
class LoadLine:
    """Where the load line lies, (n,) arrays: its x, its arm about the shear centre, whether the beam tips."""

    x_mm: np.ndarray
    arm_mm: np.ndarray
    tips: np.ndarray


def load_line(columns: Columns, case: BendingCase) -> LoadLine:
    """The load line of every section.

    A load on the head touches material: the point of the head nearest to where it was asked. An arm below
    1e-4 of the width is rounding. Resting, the reaction must lie under the load, inside the base.
    """
    asked = 0.0 if case.load_line_mm is None else case.load_line_mm
    x = np.full(len(columns["area_mm2"]), asked)
    if case.load_height == "top":
        x = np.clip(x, columns["head_left_mm"], columns["head_right_mm"])
    arm = x - columns["xs_mm"]
    arm = np.where(np.abs(arm) < 1e-4 * columns["width_mm"], 0.0, arm)
    resting = case.supports == "resting" and case.loading != "cantilever"
    tips = (to_edge(columns, "base", x) < 0) & resting & (case.restraint != "sideways-and-twist")
    return LoadLine(x, arm, tips)


def twisting_arm(columns: Columns, case: BendingCase) -> np.ndarray:
    """Distance of the load line from the shear centre, mm; none where the beam is held against twist."""
    arm = np.abs(load_line(columns, case).arm_mm)
    return np.zeros_like(arm) if case.restraint == "sideways-and-twist" else arm


def to_edge(columns: Columns, end: str, x_mm) -> np.ndarray:
    """Distance of x from the nearer edge of the base or head, mm; negative outside."""
    found = np.minimum(x_mm - columns[f"{end}_left_mm"], columns[f"{end}_right_mm"] - x_mm)
    return np.where(np.abs(found) < 1e-6 * columns["width_mm"], 0.0, found)


def pressed_width(columns: Columns, end: str, x_mm) -> np.ndarray:
    """Width that can press evenly with its resultant at x, mm; NaN where the table does not tell.

    Two outer legs, of the lesser's width ``leg`` each, share a load by the lever rule: leg ÷ the greater
    share. Within the outer half of a leg, and on a base of one piece, twice the distance from the edge. The
    load goes on through what is behind: no more than its least width.
    """
    names = [f"{end}_{part}_mm" for part in ("contact", "leg", "web")]
    if any(name not in columns for name in names):
        return np.full(len(columns["area_mm2"]), np.nan)
    contact, leg, web = (columns[name] for name in names)
    left, right = columns[f"{end}_left_mm"], columns[f"{end}_right_mm"]
    half = np.maximum(0.5 * (right - left - leg), 1e-9 * columns["width_mm"])
    share = 0.5 + 0.5 * np.abs(x_mm - 0.5 * (left + right)) / half
    one_leg = np.minimum(leg, 2.0 * np.maximum(to_edge(columns, end, x_mm), 0.0))
    return np.minimum(np.minimum(np.where(share <= 1.0, leg / share, one_leg), contact), web)


@carries("chakrabarty-2006", caveats=("bearing-even-pressure",))
def bearing_load(columns: Columns, case: BendingCase, state: State, line: LoadLine) -> np.ndarray:
    """Total load at which the material in contact, or the web behind it, crushes, N; NaN where not known.

    Strength × pressed width × bearing length, at the supports and, for point loads on the head, there: even
    pressure straight through the section is in equilibrium, a lower bound. Forked supports and those of a
    beam held against twist press the whole base. A head touched only at its edge: not known.
    """
    effects = load_effects(case)
    held = case.restraint == "sideways-and-twist"
    at = {end: 0.5 * (columns[f"{end}_left_mm"] + columns[f"{end}_right_mm"]) for end in ("base", "head")}
    base_x = line.x_mm if case.supports == "resting" and not held else at["base"]
    head_x = at["head"] if held else line.x_mm
    found = pressed_width(columns, "base", base_x) / effects.reaction
    if case.load_height == "top" and effects.press:
        at_edge = to_edge(columns, "head", head_x) <= 0.0
        over = np.where(at_edge, np.nan, pressed_width(columns, "head", head_x))
        found = np.minimum(found, over / effects.press)
    return state.bearing * case.bearing_length_mm * found


@carries("strang-1983", "en-1993-1-1", "en-1995-1-1", caveats=("shear-mean-on-cut",))
def shear_area(columns: Columns, held: bool) -> np.ndarray:
    """Transverse force per unit of shear strength at which a cut through the material is used up, mm2.

    I b / Q of the worst cut, EN 1993-1-1, eq. (6.20): 2 A / 3 of a rectangle. Up to it a field of shear
    stress exists that is in equilibrium and nowhere above the strength.
    """
    return columns["shear_cut_area_y_mm2" if held else "shear_cut_area_y_free_mm2"]


@carries("en-1993-1-1", "hill-siebel-1953", caveats=("shear-mean-on-cut",))
def plastic_interaction(moment, shear, torque, critical=np.inf) -> np.ndarray:
    """Load at which bending, shear and torsion together use up a ductile section, N.

    Parameters
    ----------
    moment, shear, torque : (n,) arrays, 1/N
        Use of the full plastic moment, shear and torque for a unit load.
    critical : (n,) array, N
        Load at which the member twists or buckles away: the torque grows with 1 / (1 − W/critical).

    Notes
    -----
    W m ≤ √(1 − t²) (1 − (2(v + t) − 1)²): the circle of Hill and Siebel for torsion, and EN 1993-1-1,
    6.2.8 for shear above half its resistance (there on the whole moment); v + t ≤ 1.
    """

    def excess(load):
        twisting = load * torque / (1.0 - load / critical)
        return load * moment - _left_for_moment(load * shear, twisting)

    return first_crossing(
        excess, np.minimum(1.0 / np.maximum(moment, shear + torque), (1.0 - 1e-9) * critical)
    )


def _left_for_moment(v, t):
    reduction = np.maximum(2.0 * (v + t) - 1.0, 0.0)
    return np.sqrt(np.maximum(1.0 - t**2, 0.0)) * np.maximum(1.0 - reduction**2, 0.0)


@carries("timoshenko-goodier-1970")
def brittle_interaction(moment, torque, critical=np.inf) -> np.ndarray:
    """Load at which the greatest tensile stress breaks a brittle section, N.

    σ/2 + √(σ²/4 + τ²) = f with both stresses at one point (on the safe side): m W + (t W)² = 1, the torque
    growing with 1 / (1 − W/critical).
    """

    def excess(load):
        return moment * load + (torque * load / (1.0 - load / critical)) ** 2 - 1.0

    return first_crossing(excess, np.minimum(1.0 / moment, (1.0 - 1e-9) * critical))


def _strength_limits(
    columns: Columns, case: BendingCase, state: State, torque, critical
) -> tuple[list, list]:
    """Limits of the section itself, and the rows that have none."""
    effects = load_effects(case)
    held = case.restraint != "none"
    per_moment = effects.moment * case.span_mm
    cut = shear_area(columns, held)
    full = section_moment(columns, state, held, effects.hogging)
    by_curve = None
    if curve_moments.name(held, effects.hogging) in columns:
        by_curve = full >= curve_moments.curve_moment(columns, state, held, effects.hogging)
    moment = per_moment / full
    if state.ductile:
        shear = effects.shear / (cut * state.shear)
        twisted = torque / (columns["Wpl_t_mm3"] * state.shear)
        together = plastic_interaction(moment, shear, twisted, critical)
        bends = moment >= shear + twisted
        bent = np.where(bends, together, np.inf)
        beside = Limit("shear and torsion", np.where(bends, np.inf, together))
        if state.bending is None:
            return [*_told_by_curve("full plasticity", bent, by_curve), beside], []
        fibre = full >= (1.0 - 1e-9) * first_yield_moment(columns, state, held, effects.hogging)
        limits = [
            *_told_by_curve("full plasticity", np.where(fibre, np.inf, bent), by_curve),
            Limit("yield of the extreme fibre", np.where(fibre, bent, np.inf)),
        ]
        return [*limits, beside], []
    tau = columns["tau_per_torque_1_per_mm3"]
    with np.errstate(invalid="ignore"):
        twisted = np.where(torque == 0, 0.0, torque * tau / state.tension)
    broken = brittle_interaction(moment, twisted, critical)
    sheared = cut * _brittle_shear(state) / effects.shear
    limits = [*_told_by_curve("fracture", broken, by_curve), Limit("shear", sheared)]
    if not state.material.isotropic:
        return limits, [("orthotropic-torsion", torque != 0)]
    blocked = [("brittle-sharp-corner", (torque != 0) & ~np.isfinite(tau))]
    if state.material.yield_tension_MPa is None:
        blocked += [("tensile-strength-missing", (torque != 0) | (sheared < broken))]
    return limits, blocked


def _brittle_shear(state: State):
    """Shear strength of a brittle material, MPa: pure shear pulls as hard, at 45°, as it shears.

    Timber has one of its own. With a flexural strength alone, a least share of it: enough to say that bending
    governs, never to govern.
    """
    if not state.material.isotropic:
        return CRACKED * state.shear
    if state.material.yield_tension_MPa is None:
        return np.minimum(LEAST_PULL * state.bending, state.compression)
    return state.lesser


def _told_by_curve(name: str, load: np.ndarray, by_curve: np.ndarray | None) -> list[Limit]:
    """A limit state of the moment, named by the measured curve in the rows where that is what it comes from."""
    if by_curve is None:
        return [Limit(name, load)]
    peak = Limit("peak of moment-curvature", np.where(by_curve, load, np.inf))
    return [Limit(name, np.where(by_curve, np.inf, load)), peak]


def assess(columns: Columns, case: BendingCase, state: State) -> Assessment:
    """Assess beams, row by row; total loads in N, beside which nothing acts."""
    effects = load_effects(case)
    line = load_line(columns, case)
    rows = len(line.x_mm)
    arm = twisting_arm(columns, case)
    movement = stability.assess(columns, case, state, line.arm_mm)
    strength, blocked = _strength_limits(columns, case, state, effects.torque * arm, movement.critical)
    limits = [*strength, *movement.limits]
    yielding = np.zeros(rows, dtype=bool)
    if case.deflection_limit is not None:
        within = serviceability.deflection_load(columns, case, state, arm, movement.critical)
        limits.append(Limit("deflection", within))
        yielding = serviceability.yields_before(columns, case, state, within)
    unpressed = np.ones(rows, dtype=bool)
    if case.bearing_length_mm is not None:
        crushing = bearing_load(columns, case, state, line)
        known = ~np.isnan(crushing)
        limits.append(Limit("bearing", crushing, known))
        unpressed = ~known
    if case.supports == "resting" and case.loading != "cantilever":
        limits.append(Limit("overturning", np.where(line.tips, 0.0, np.inf)))
    caveats = (
        *_caveats(columns, case, state),
        ("bearing-not-checked", unpressed),
        ("deflection-beyond-yield", yielding),
    )
    blocked = [*blocked, ("span-shorter-than-depth", case.span_mm < columns["depth_mm"])]
    return Assessment(tuple(limits), (*caveats, *movement.caveats), (*blocked, *movement.blocked))


def _caveats(columns: Columns, case: BendingCase, state: State) -> tuple:
    everywhere = np.ones(len(columns["area_mm2"]), dtype=bool)
    short = case.span_mm < SLENDER * columns["depth_mm"]
    return (
        ("local-buckling-not-checked", everywhere),
        ("short-beam", short),
        ("shear-peak-not-checked", everywhere & (not state.ductile and state.material.isotropic)),
        ("gradual-yield-not-considered", everywhere & _gradual(state)),
        ("measured-curve-not-used", everywhere & curve_moments.not_used(columns, case, state)),
        ("held-at-shear-centre", everywhere & (case.restraint == "sideways")),
    )


def _gradual(state: State) -> bool:
    return state.material.family in ("polymer", "unspecified") and state.material.stress_strain is None
