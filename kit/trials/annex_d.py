"""Statistics of EN 1990, Annex D: resistances from tests, and a model's correction from tests beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from kit.sources import carries

LEAST_TESTS = 4
CHARACTERISTIC, DESIGN = 0.05, 0.001
# Table D1 as printed (5 % fractile). It is truncated: the exact quantiles differ by up to 0.8 %.
TABLE_D1 = {
    "known": {1: 2.31, 2: 2.01, 3: 1.89, 4: 1.83, 5: 1.80, 6: 1.77, 8: 1.74, 10: 1.72, 20: 1.68, 30: 1.67},
    "unknown": {3: 3.37, 4: 2.63, 5: 2.33, 6: 2.18, 8: 2.00, 10: 1.92, 20: 1.76, 30: 1.73},
}


@carries("en-1990", caveats=("few-tests",))
def fractile_factor(tests: int, fractile: float = CHARACTERISTIC, known: bool = False) -> float:
    """k_n: standard deviations below the mean at which a fractile of the next value is put.

    Parameters
    ----------
    tests : int
        n.
    fractile : float
        0.05 characteristic (Table D1), 0.001 design (Table D2).
    known : bool
        Whether the coefficient of variation is known from elsewhere.

    Notes
    -----
    Known: u √(1 + 1/n); unknown: t(n−1) √(1 + 1/n). The printed tables follow these, truncated. Table D2
    prints 3.04 for infinitely many tests; its other entries belong to u = 3.09.

    Raises
    ------
    ValueError
        For unknown variation from fewer than two tests.
    """
    if tests < (1 if known else 2):
        raise ValueError(f"{tests} tests say nothing of their spread")
    quantile = -ndtri(fractile) if known else -stdtrit(tests - 1, fractile)
    return float(quantile * np.sqrt(1.0 + 1.0 / tests))


@carries("en-1990", caveats=("few-tests",))
def characteristic_normal(values, factor: float) -> float:
    """X_k = m (1 − k_n V) with the sample's own mean and coefficient of variation (D7.2)."""
    values = np.asarray(values, dtype=float)
    return float(values.mean() - factor * values.std(ddof=1))


@carries("en-1990", caveats=("few-tests",))
def characteristic_lognormal(values, factor: float) -> float:
    """X_k = exp(m_y − k_n s_y), y = ln x (D7.2)."""
    logs = np.log(np.asarray(values, dtype=float))
    return float(np.exp(logs.mean() - factor * logs.std(ddof=1)))


@dataclass(frozen=True)
class Correction:
    """A model against tests: mean correction b, the error terms Δ and their coefficient of variation.

    Attributes
    ----------
    tests : int
    b : float
        Slope of measured on predicted through the origin.
    mean_delta, spread_delta : float
        Mean and standard deviation of Δ = ln(r_e / (b r_t)).
    v_delta : float
        Coefficient of variation of the errors.
    """

    tests: int
    b: float
    mean_delta: float
    spread_delta: float

    @property
    def v_delta(self) -> float:
        """V_δ = √(exp(s_Δ²) − 1)."""
        return float(np.sqrt(np.expm1(self.spread_delta**2)))

    def interval(self) -> tuple[float, float]:
        """95 % interval of b, the errors taken as log-normal and independent."""
        if self.tests < 2:
            return np.nan, np.nan
        reach = stdtrit(self.tests - 1, 0.975) * self.spread_delta / np.sqrt(self.tests)
        return float(self.b * np.exp(-reach)), float(self.b * np.exp(reach))


@carries("en-1990", caveats=("few-tests",))
def correction(measured, predicted) -> Correction:
    """Mean correction and scatter of a resistance model (D8.2.2.2 to D8.2.2.4).

    b = Σ r_e r_t / Σ r_t²; δ_i = r_e / (b r_t); Δ_i = ln δ_i; s_Δ with n − 1.
    """
    measured, predicted = np.asarray(measured, float), np.asarray(predicted, float)
    b = float(measured @ predicted / (predicted @ predicted))
    delta = np.log(measured / (b * predicted))
    spread = float(delta.std(ddof=1)) if len(delta) > 1 else np.nan
    return Correction(len(delta), b, float(delta.mean()), spread)


@dataclass(frozen=True)
class Factors:
    """Characteristic and design resistance ÷ (b × prediction with mean values), and their ratio γ_M."""

    characteristic: float
    design: float
    v_r: float

    @property
    def gamma_m(self) -> float:
        """γ_M = r_k / r_d."""
        return self.characteristic / self.design


@carries("en-1990", caveats=("few-tests",))
def total_variation(v_delta: float, v_model: float) -> float:
    """V_r = √((V_δ² + 1)(V_rt² + 1) − 1)."""
    return float(np.sqrt((v_delta**2 + 1.0) * (v_model**2 + 1.0) - 1.0))


@carries("en-1990", caveats=("few-tests",))
def resistance_factors(
    v_delta: float, v_model: float, k_n: tuple[float, float], k_inf=(1.64, 3.04)
) -> Factors:
    """r_k and r_d as shares of b g_rt(X_m) (D8.2.2.5, D8.3).

    Parameters
    ----------
    v_delta : float
        Scatter of the model.
    v_model : float
        V_rt: scatter of the prediction from its basic variables.
    k_n, k_inf : (characteristic, design)

    Notes
    -----
    r = b g exp(−k_∞ α_rt Q_rt − k_n α_δ Q_δ − 0.5 Q²), Q² = ln(V² + 1), α = Q_part / Q.
    """
    q_rt, q_delta = (np.sqrt(np.log1p(v**2)) for v in (v_model, v_delta))
    v_r = total_variation(v_delta, v_model)
    q = np.sqrt(np.log1p(v_r**2))
    if q == 0:
        return Factors(1.0, 1.0, 0.0)
    values = [
        np.exp(-inf * q_rt**2 / q - n * q_delta**2 / q - 0.5 * q**2)
        for n, inf in zip(k_n, k_inf, strict=True)
    ]
    return Factors(float(values[0]), float(values[1]), v_r)
