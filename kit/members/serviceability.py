"""Deflection of beams: elastic, with shear and with the twist of a load beside the shear centre."""

from __future__ import annotations

import numpy as np

from kit.members.cases import BendingCase
from kit.members.loading import load_effects
from kit.members.moments import first_yield_moment, section_moment
from kit.members.state import Columns, State
from kit.sources import carries

# Deflections ÷ deflection at first yield between which an elastic–plastic beam is followed by a straight line.
YIELDING, YIELDED = 1.0, 5.0


@carries("timoshenko-1955", caveats=("shear-area-without-poisson",))
def stiffness(columns: Columns, case: BendingCase, state: State) -> np.ndarray:
    """Load per deflection of an untwisted beam, N/mm: bending about the free or the held axis, and shear.

    Free, the deflection along the load has I = Ix − Ixy²/Iy.
    """
    effects = load_effects(case)
    second_moment = columns["Ix_mm4"]
    if case.restraint == "none":
        second_moment = second_moment - columns["Ixy_mm4"] ** 2 / columns["Iy_mm4"]
    flexure = effects.flexure * case.span_mm**3 / (state.modulus * second_moment)
    shear = effects.shear_flexure * case.span_mm / (state.shear_modulus * columns["shear_area_y_nu0_mm2"])
    return 1.0 / (flexure + shear)


@carries("vlasov-1961", "trahair-1993")
def twist_per_torque(columns: Columns, case: BendingCase, state: State) -> np.ndarray:
    """Twist under the load, per unit of load × arm, 1/(N mm): from above.

    Without warping G J φ' is the torque as G A w' is the shear force, so that φ has the coefficient of shear
    deflection. Restrained warping stiffens the n-th half-wave by 1 + n² π² E Iw / (G J L²); taking the
    first's for all bounds φ from above.
    """
    wave = case.span_mm * (2.0 if case.loading == "cantilever" else 1.0)
    gj, eiw = state.shear_modulus * columns["J_mm4"], state.modulus * columns["Iw_mm6"]
    return load_effects(case).shear_flexure * case.span_mm / (gj + (np.pi / wave) ** 2 * eiw)


def deflection(columns: Columns, case: BendingCase, state: State, arm_mm, critical, load) -> np.ndarray:
    """Elastic deflection along the load at the load line, mm: W/k + W e² θ / (1 − W/W_cr)."""
    twisting = np.square(arm_mm) * twist_per_torque(columns, case, state)
    share = np.minimum(load / critical, 1.0 - 1e-9)
    return load / stiffness(columns, case, state) + load * twisting / (1.0 - share)


@carries("timoshenko-1955", caveats=("deflection-beyond-yield",))
def deflection_load(columns: Columns, case: BendingCase, state: State, arm_mm, critical) -> np.ndarray:
    """Load at the deflection limit of the case, N.

    Elastic: the lesser root of W/k + W a / (1 − W/W_cr) = d. Where the section yields before it, by
    :func:`beyond_yield`, which lies below the curve of an elastic–plastic rectangle (Timoshenko, part II).
    """
    d = case.deflection_limit * case.span_mm
    p = 1.0 / stiffness(columns, case, state)
    b = p + np.square(arm_mm) * twist_per_torque(columns, case, state) + d / critical
    elastic = 2.0 * d / (b + np.sqrt(np.maximum(b**2 - 4.0 * d * p / critical, 0.0)))
    return beyond_yield(elastic, *yield_loads(columns, case, state)) if state.ductile else elastic


def beyond_yield(elastic, first, full) -> np.ndarray:
    """Load at a limit of deflection or twist that an elastic member would reach at ``elastic``.

    Up to ``first`` yield that load itself; from there a straight line to ``full`` plasticity at five times the
    deflection at first yield; beyond, the elastic load, which no longer governs.
    """
    share = (elastic / first - YIELDING) / (YIELDED - YIELDING)
    followed = first + np.clip(share, 0.0, 1.0) * (np.minimum(elastic, full) - first)
    return np.where((share > 0.0) & (share < 1.0), followed, elastic)


def yield_loads(columns: Columns, case: BendingCase, state: State) -> tuple[np.ndarray, np.ndarray]:
    """Loads at first yield and at the section's own full moment, N."""
    effects, held = load_effects(case), case.restraint != "none"
    per_moment = effects.moment * case.span_mm
    first = first_yield_moment(columns, state, held, effects.hogging) / per_moment
    return first, np.maximum(section_moment(columns, state, held, effects.hogging) / per_moment, first)


def yields_before(columns: Columns, case: BendingCase, state: State, load) -> np.ndarray:
    """Rows of a ductile material that yield in part before ``load``."""
    return np.asarray(state.ductile) & (load > yield_loads(columns, case, state)[0])
