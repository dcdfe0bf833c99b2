"""Records made from known answers: for checking the reduction, and for a demo that says it is invented."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.trials.setups import Setup

STRAIGHT_SHARE = 0.7


@dataclass(frozen=True)
class Truth:
    """What a made record holds.

    Attributes
    ----------
    modulus_MPa : float
    peak_load : float
        N (torsion: N mm).
    toe : float
        Travel lost to seating, mm (rad).
    seating_share : float
        Share of the peak load at which seating is 63 % done.
    brittle : bool
        Break off at the peak, straight up to it; else a rounded peak.
    """

    modulus_MPa: float
    peak_load: float
    toe: float = 0.0
    seating_share: float = 0.01
    brittle: bool = False


def clean(
    truth: Truth, setup: Setup, points: int = 2000, past: float = 0.25
) -> tuple[np.ndarray, np.ndarray]:
    """Travel and load without noise, evenly spaced in travel.

    Notes
    -----
    The piece: straight with stiffness k = E/u up to 70 % of the peak, then F = P − a (d − d_P)² with the same
    slope there, so d_P = P/k × 1.3. The record adds C F for the rig and t (1 − exp(−F/F_0)) for seating.
    """
    stiff = truth.modulus_MPa / setup.unit_compliance
    piece, load = _piece(truth, stiff, past)
    seated = truth.toe * -np.expm1(-np.maximum(load, 0.0) / (truth.seating_share * truth.peak_load))
    travel = piece + setup.other_compliance * load + seated
    # Broken, it carries nothing more; when the load falls off, the rig springs back into the piece.
    travel, load = np.append(travel, travel[-1] * np.array([1.0, 1.05])), np.append(load, [0.0, 0.0])
    even = np.linspace(0.0, travel[-1], points)
    broken = len(load) - 2
    return even, np.where(even <= travel[broken], np.interp(even, travel[:broken], load[:broken]), 0.0)


def _piece(truth: Truth, stiff: float, past: float) -> tuple[np.ndarray, np.ndarray]:
    """Travel and load of the piece alone, up to where it breaks."""
    peak, straight = truth.peak_load, 1.0 if truth.brittle else STRAIGHT_SHARE
    first = np.linspace(0.0, straight * peak / stiff, 4001)
    if truth.brittle:
        return first, stiff * first
    bend = 2.0 * (1.0 - straight) * peak / stiff
    top = first[-1] + bend
    more = np.concatenate(
        [np.linspace(first[-1], top, 4001)[1:], np.linspace(top, (1.0 + past) * top, 2001)[1:]]
    )
    curve = peak - (1.0 - straight) * peak * ((more - top) / bend) ** 2
    return np.append(first, more), np.append(stiff * first, np.maximum(curve, 0.02 * peak))


def noisy(load: np.ndarray, peak: float, seed: int, share: float = 0.002) -> np.ndarray:
    """The load with white noise of standard deviation ``share`` of the peak."""
    return load + np.random.default_rng(seed).normal(0.0, share * peak, len(load))


def as_text(travel: np.ndarray, load: np.ndarray, head: str, rate: float = 0.1) -> str:
    """A record as a machine writes it: header, units in the titles, time, travel in mm and load in N."""
    rows = [f"{t:.2f};{x:.4f};{f:.2f}" for t, x, f in zip(travel / rate, travel, load, strict=True)]
    return "\n".join([head, "Time [s];Travel [mm];Load [N]", *rows]) + "\n"
