"""Beams that are twisted by a torque of their own: what the load then bends the other way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kit.members import bending, ownweight, stability
from kit.members.cases import BendingCase, LoadCase
from kit.members.columns import principal_load_axis
from kit.members.loading import load_effects
from kit.members.shafts import twist
from kit.members.state import Columns, State
from kit.sources import carries


@dataclass(frozen=True)
class TwistedBeam:
    """Shares of the strength, (n,) arrays, that grow while all loads grow by a factor λ.

    Attributes
    ----------
    torque : of the torque alone, λ = 1.
    sideways, sideways_own : of the moments of the loads, and of the own weight, turned by the twist at λ = 1.
    unstable, unstable_own : the loads', and the own weight's, share of the load that twists the beam away.
    ductile : whether the shaft yields, and twists the more, before its torque is reached.
    """

    torque: np.ndarray
    sideways: np.ndarray
    sideways_own: np.ndarray
    unstable: np.ndarray
    unstable_own: np.ndarray
    ductile: bool

    def share(self, factor) -> np.ndarray:
        """All of it at a factor λ on the loads, with its growth; inf where the beam twists away."""
        left = 1.0 - factor * self.unstable - self.unstable_own
        with np.errstate(divide="ignore", invalid="ignore"):
            more = twist_beyond_yield(factor * self.torque) if self.ductile else 1.0
            turned = self.torque + more * (factor * self.sideways + self.sideways_own)
            return np.where(
                left > 0.0,
                factor * turned / np.maximum(left, 0.0),
                np.where(np.isnan(turned), np.nan, np.inf),
            )


def twist_beyond_yield(share):
    """Twist of a shaft that yields in part ÷ elastic twist, by the share of the full plastic torque, from above.

    1 / (1 − t³); a round bar has (3/4t) (4 − 4t)^(−1/3) above t = 3/4, a thin strip (2/3t) (3 − 3t)^(−1/2) above 2/3
    (Nádai 1950).
    """
    with np.errstate(divide="ignore"):
        return 1.0 / (1.0 - np.minimum(share, 1.0) ** 3)


@carries("timoshenko-gere-1961", "nadai-1950", caveats=("twisted-beam-bends-sideways",))
def twisted_beam(
    columns: Columns, loads: Sequence[tuple[LoadCase, float]], uses: Sequence[np.ndarray], state: State
) -> TwistedBeam | None:
    """What torsion and bending at once add to their shares; None without both.

    Parameters
    ----------
    columns : mapping of (n,) arrays
    loads : sequence of (load case, load), N, or N mm for torsion
    uses : sequence of (n,) arrays
        Load ÷ resistance of each load alone.
    state : State

    Notes
    -----
    A vertical moment M on a section turned by φ has the part M sin φ ≤ M φ about its other axis: it uses M φ / (W f)
    of the strength, W the elastic modulus about the minor axis (about both where the load is off the principal
    axes), φ = T L / (G J) all along, from above. A beam held sideways is held against it. Torque and twist
    grow by 1 / (1 − Σ W / W_cr), as those of a load beside the shear centre do.
    """
    bent = [(case, load) for case, load in loads if case.kind == "bending"]
    turned = [
        (case, load, use) for (case, load), use in zip(loads, uses, strict=True) if case.kind == "torsion"
    ]
    if not bent or not turned:
        return None
    angle = sum(
        twist(load, case.length_mm, state.shear_modulus * columns["J_mm4"], 0.0) for case, load, _ in turned
    )
    own = ownweight.alone(bent[0][0])
    weight = ownweight.weight_N(columns, own, state)
    moment = sum((_sideways_moment(case, load) for case, load in bent), np.zeros_like(angle))
    per_moment = angle * _per_sideways_moment(columns, state)
    return TwistedBeam(
        sum(use for *_, use in turned),
        moment * per_moment,
        _sideways_moment(own, weight) * per_moment,
        sum(load / _critical(columns, case, state) for case, load in bent),
        weight / _critical(columns, own, state),
        state.ductile,
    )


def _sideways_moment(case: BendingCase, load):
    """Greatest moment, N mm, of a beam that may move sideways; none of one that is held."""
    return load * load_effects(case).moment * case.span_mm * (case.restraint == "none")


def _per_sideways_moment(columns: Columns, state: State) -> np.ndarray:
    """Share of the strength that a moment about the other axis uses, 1/(N mm)."""
    strength = state.lesser if state.bending is None else state.bending
    both = np.where(principal_load_axis(columns), 0.0, 1.0 / columns["Wel_1_mm3"])
    return (1.0 / columns["Wel_2_mm3"] + both) / strength


def _critical(columns: Columns, case: BendingCase, state: State) -> np.ndarray:
    return stability.assess(columns, case, state, bending.twisting_arm(columns, case)).critical
