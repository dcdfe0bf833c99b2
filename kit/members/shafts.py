"""Torsion members: yield and full plastic torque, twist, and ends held against warping."""

from __future__ import annotations

import numpy as np

from kit.members.cases import TorsionCase
from kit.members.serviceability import beyond_yield
from kit.members.state import Assessment, Columns, Limit, State
from kit.sources import carries

# Share of the critical torque at which a bow has doubled: it grows with 1 / (1 − (T/T_cr)²).
STRAIGHT = 0.5**0.5


@carries("nadai-1950", "chakrabarty-2006")
def plastic_torque(plastic_modulus_mm3, shear_strength):
    """Full plastic torque, N mm: T_pl = Wpl_t τ_y (sand-heap analogy; ductile material)."""
    return plastic_modulus_mm3 * shear_strength


@carries("timoshenko-goodier-1970")
def yield_torque(tau_per_torque_1_per_mm3, shear_strength):
    """Torque at first yield, N mm: T_y = τ_y / (τ_max / T); NaN where the stress is infinite."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return shear_strength / np.asarray(tau_per_torque_1_per_mm3, dtype=float)


@carries("vlasov-1961")
def warping_parameter(length_mm, gj, eiw):
    """Dimensionless k = L √(GJ / E Iw): small, warping carries the torque; large, uniform torsion does."""
    with np.errstate(divide="ignore"):
        return length_mm * np.sqrt(np.asarray(gj, dtype=float) / np.asarray(eiw, dtype=float))


def _tanh_deficit(u):
    """1 − tanh(u)/u without cancellation for small u; 1 for infinite u."""
    u = np.asarray(u, dtype=float)
    small = u < 0.05
    near, far = np.where(small, u, 0.0), np.where(small, 1.0, u)
    series = near**2 / 3.0 - 2.0 * near**4 / 15.0 + 17.0 * near**6 / 315.0
    return np.where(small, series, 1.0 - np.tanh(far) / far)


@carries("vlasov-1961", "timoshenko-gere-1961")
def twist(torque, length_mm, gj, eiw, ends="free-to-warp"):
    """Angle of twist between the ends, rad.

    Parameters
    ----------
    torque, length_mm, gj, eiw : float or (n,) arrays
        N mm, mm, N mm2, N mm4.
    ends : str
        ``free-to-warp``: θ = T L / GJ. ``warping-held``, both ends plane:
        θ = (T L / GJ) (1 − tanh(k/2) / (k/2)), k = L √(GJ / E Iw).
    """
    free = torque * length_mm / gj
    if ends == "free-to-warp":
        return free
    return free * _tanh_deficit(warping_parameter(length_mm, gj, eiw) / 2.0)


@carries("vlasov-1961")
def end_bimoment(torque, length_mm, gj, eiw):
    """Greatest bimoment of a shaft with both ends kept plane, N mm2, at its ends: B = T (L/k) tanh(k/2)."""
    k = np.asarray(warping_parameter(length_mm, gj, eiw), dtype=float)
    safe = np.where((k > 0) & np.isfinite(k), k, 1.0)
    value = torque * length_mm / safe * np.tanh(safe / 2.0)
    return np.where(np.isinf(k), 0.0, np.where(k > 0, value, torque * length_mm / 2.0))


@carries("vlasov-1961")
def uniform_share(position, length_mm, gj, eiw):
    """Share of the torque carried by uniform torsion at ``position`` (0 … L) of a shaft with plane ends.

    T_sv / T = 1 − cosh(k(1/2 − z/L)) / cosh(k/2): nothing at the ends, most in the middle.
    """
    k = np.asarray(warping_parameter(length_mm, gj, eiw), dtype=float)
    inner = k * np.abs(0.5 - np.asarray(position, dtype=float) / length_mm)
    # cosh a / cosh b written with decaying exponentials only: no overflow however long the shaft is.
    ratio = np.exp(inner - k / 2.0) * (1.0 + np.exp(-2.0 * inner)) / (1.0 + np.exp(-k))
    return 1.0 - ratio


@carries("timoshenko-gere-1961")
def buckling_torque(length_mm, ei1, ei2):
    """Torque at which a long shaft buckles sideways, N mm: T = (2π/L) · 2 EI1 EI2 / (EI1 + EI2).

    Between ends that may turn and not move (Greenhill: 2πEI/L where all axes are alike). Of unlike axes the
    untwisted shaft has the geometric mean; the more it is twisted the nearer it comes to the harmonic one, which
    is never above it.
    """
    return 2.0 * np.pi / length_mm * 2.0 * ei1 * ei2 / (ei1 + ei2)


def warping_normal_stress(bimoment, sectorial_mm2, iw_mm6):
    """Normal stress of restrained warping, MPa: σ = B ω / Iw."""
    return bimoment * sectorial_mm2 / iw_mm6


@carries("nadai-1950", "timoshenko-goodier-1970", "vlasov-1961", caveats=("uniform-torsion-lower-bound",))
def assess(columns: Columns, case: TorsionCase, state: State) -> Assessment:
    """Assess shafts, row by row; torques in N mm.

    Ductile: the full plastic torque, which equilibrates the ends whether they warp or not (a lower
    bound where warping is held). Brittle: first fracture, by the greatest tensile stress, only where the
    elastic stress is finite and the ends are free to warp; elsewhere not assessed. Long shafts: ``STRAIGHT``
    times the torque that buckles them, so that no bow grows to more than double.
    """
    gj, eiw = state.shear_modulus * columns["J_mm4"], state.modulus * columns["Iw_mm6"]
    held = case.ends == "warping-held"
    everywhere = np.ones(len(gj), dtype=bool)
    blocked, caveats = [], []
    if state.ductile:
        limits = [Limit("full plastic torque", plastic_torque(columns["Wpl_t_mm3"], state.shear))]
        caveats += [("large-strain-torque", everywhere)]
        caveats += [("uniform-torsion-lower-bound", everywhere)] if held else []
    else:
        strength = state.shear if not state.material.isotropic else state.lesser
        tau = columns["tau_per_torque_1_per_mm3"]
        limits = [Limit("fracture", yield_torque(tau, strength))]
        blocked += [("brittle-sharp-corner", ~np.isfinite(tau))]
        blocked += [("brittle-warping-held", everywhere & held)]
        blocked += [("orthotropic-torsion", everywhere & (not state.material.isotropic))]
    e = state.column_modulus
    critical = buckling_torque(case.length_mm, e * columns["I1_mm4"], e * columns["I2_mm4"])
    caveats += [("shaft-buckling", STRAIGHT * critical < limits[0].load)]
    limits.append(Limit("buckling under the torque", STRAIGHT * critical))
    if case.twist_limit_deg is not None:
        angle = twist(1.0, case.length_mm, gj, eiw, case.ends)
        within = np.deg2rad(case.twist_limit_deg) / angle
        first = yield_torque(columns["tau_per_torque_1_per_mm3"], state.shear)
        if state.ductile:
            caveats += [("twist-beyond-yield", ~(within <= first))]
            followed = beyond_yield(within, first, plastic_torque(columns["Wpl_t_mm3"], state.shear))
            within = np.where(np.isfinite(first), followed, within)
        limits.append(Limit("twist", within))
    return Assessment(tuple(limits), tuple(caveats), tuple(blocked))
