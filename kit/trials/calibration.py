"""Correct the model by its tests: factors per limit state, their judgement, and what they do to the ranking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.resistance import assess
from kit.members.service import at_service
from kit.members.state import Assessment, columns_of, governing, mass_kg
from kit.sections.section import scaled
from kit.sources import carries
from kit.trials import annex_d

COLUMNS = ("limit_state", "tests", "designs", "b", "b_low", "b_high", "v_delta", "k_n", "k_d_n", "characteristic_factor",
           "design_factor", "gamma_m", "verdict")  # fmt: skip


def usable(trials: pd.DataFrame) -> pd.DataFrame:
    """Tests of whole members with a measured peak and a prediction."""
    known = np.isfinite(trials["measured_load"].astype(float)) & np.isfinite(
        trials["predicted_load"].astype(float)
    )
    return trials[known & (trials["test"] == "member") & (trials["status"] == "used")]


@carries("en-1990", caveats=("few-tests", "chosen-not-random"))
def factors(trials: pd.DataFrame) -> pd.DataFrame:
    """Correction of the model for each limit state, by EN 1990 Annex D.

    Parameters
    ----------
    trials : DataFrame
        A row per piece with ``limit_state``, ``measured_load``, ``predicted_load``, ``predicted_v_rt``,
        ``outline``, ``orientation_deg``.

    Returns
    -------
    DataFrame
        `COLUMNS`; a limit state with fewer than four tests gets no characteristic and no design value,
        because the scatter is not known from elsewhere.
    """
    rows = [_factor(state, part) for state, part in usable(trials).groupby("limit_state", sort=True)]
    return pd.DataFrame(rows, columns=COLUMNS)


def _factor(state: str, part: pd.DataFrame) -> dict:
    found = annex_d.correction(part["measured_load"], part["predicted_load"])
    low, high = found.interval()
    row = dict.fromkeys(COLUMNS, np.nan) | {"limit_state": state, "tests": found.tests, "b": found.b,
                                            "designs": len(part.groupby(["outline", "orientation_deg"]))}  # fmt: skip
    if found.tests < annex_d.LEAST_TESTS:
        why = f"{found.tests} of at least {annex_d.LEAST_TESTS} tests: no scatter, no characteristic or design value"
        return row | {"verdict": why}
    k = annex_d.fractile_factor(found.tests), annex_d.fractile_factor(found.tests, annex_d.DESIGN)
    shares = annex_d.resistance_factors(found.v_delta, model_variation(part), k)
    return row | {
        "b_low": low, "b_high": high, "v_delta": found.v_delta, "k_n": k[0], "k_d_n": k[1],
        "characteristic_factor": found.b * shares.characteristic, "design_factor": found.b * shares.design,
        "gamma_m": shares.gamma_m, "verdict": judged(part),
    }  # fmt: skip


def model_variation(part: pd.DataFrame) -> float:
    """V_rt: scatter of the predictions from their basic variables (material, dimensions), their mean."""
    return float(part["predicted_v_rt"].astype(float).mean())


def left_one_out(part: pd.DataFrame) -> pd.DataFrame:
    """Errors ln(measured ÷ predicted) of each test, raw and corrected by the tests of the other designs only.

    Returns
    -------
    DataFrame
        ``raw`` and ``corrected``, with the index of ``part``; NaN where there is no other design.
    """
    design = part["outline"].astype(str) + "@" + part["orientation_deg"].astype(str)
    measured, predicted = part["measured_load"].astype(float), part["predicted_load"].astype(float)
    errors = pd.DataFrame({"raw": np.log(measured / predicted), "corrected": np.nan}, index=part.index)
    for name in design.unique():
        others = design != name
        if others.any():
            b = annex_d.correction(measured[others], predicted[others]).b
            errors.loc[~others, "corrected"] = errors.loc[~others, "raw"] - np.log(b)
    return errors


def judged(part: pd.DataFrame) -> str:
    """Whether the correction foretells designs it has not seen better than the raw model does."""
    errors = left_one_out(part)
    if errors["corrected"].isna().any():
        return "one design only: the correction cannot be judged on another"
    raw, corrected = (float(np.sqrt(np.mean(errors[name] ** 2))) for name in ("raw", "corrected"))
    better = "better" if corrected < raw else "no better"
    return f"{better} than raw on designs left out: error {corrected:.1%} against {raw:.1%}"


def applied(table: pd.DataFrame) -> dict[str, float]:
    """Factors that may be applied: limit states with at least four tests, whose correction was judged better."""
    good = table[(table["tests"] >= annex_d.LEAST_TESTS) & table["verdict"].str.startswith("better")]
    return dict(zip(good["limit_state"], good["b"].astype(float), strict=True))


def corrected_load(
    sections: pd.DataFrame, case: LoadCase, setting: tuple[Material, Service], by_state: Mapping[str, float]
) -> tuple[np.ndarray, np.ndarray]:
    """Resistance with each limit state's own factor, and which limit state then governs.

    Returns
    -------
    load : (n,) array, N or N mm; limit_state : (n,) array of str
    """
    state = at_service(*setting)
    table = columns_of(sections)
    found = assess(table, case, state)
    limits = tuple(replace(limit, load=limit.load * by_state.get(limit.name, 1.0)) for limit in found.limits)
    load, index = governing(Assessment(limits, found.caveats, found.blocked), len(sections))
    names = np.array([*(limit.name for limit in limits), "not assessed"], dtype=object)
    return load, names[index]


@carries("en-1990", caveats=("chosen-not-random",))
def ranking(
    sections: pd.DataFrame, reference: pd.Series, case: LoadCase, setting: tuple[Material, Service],
    by_state: Mapping[str, float],
) -> pd.DataFrame:  # fmt: skip
    """Merit and rank, raw and corrected, of every section: scaled to the reference's mass and evaluated again there.

    Returns
    -------
    DataFrame
        ``outline``, ``orientation_deg``, ``load_case``, ``merit``, ``merit_corrected``, ``rank``, ``rank_corrected``.
    """
    state = at_service(*setting)
    whole = pd.concat([sections, pd.DataFrame([reference])], ignore_index=True).infer_objects()
    mass = mass_kg(columns_of(whole), case.length_mm, state)
    numbers = whole.select_dtypes("number")
    alike = scaled(numbers, np.sqrt(mass[-1] / mass))
    table = sections[["outline", "orientation_deg"]].reset_index(drop=True)
    table["load_case"] = case.name
    for name, chosen in (("", {}), ("_corrected", by_state)):
        load, _ = corrected_load(alike, case, setting, chosen)
        table[f"merit{name}"] = (load / load[-1])[:-1]
        table[f"rank{name}"] = table[f"merit{name}"].rank(ascending=False, method="min")
    return table


def ranking_verdict(ranks: pd.DataFrame, by_state: Mapping[str, float]) -> str:
    """In words, how the correction changed the ranking of a load case, or why it cannot."""
    case = ranks["load_case"].iloc[0]
    if not by_state:
        return f"{case}: no correction could be applied; the ranking stands as predicted."
    known = ranks[np.isfinite(ranks["rank"]) & np.isfinite(ranks["rank_corrected"])]
    moved = known[known["rank"] != known["rank_corrected"]]
    ratio = (known["merit_corrected"] / known["merit"]).round(9)
    if ratio.nunique() <= 1:
        return (
            f"{case}: one common factor acts on every prediction here; it cancels in the comparison, and calibration "
            "cannot change the ranking."
        )
    if moved.empty:
        return f"{case}: the corrections differ between limit states, and yet no outline changes its rank."
    most = moved.loc[(moved["rank"] - moved["rank_corrected"]).abs().idxmax()]
    return (
        f"{case}: {len(moved)} of {len(known)} outlines change their rank; most of all {most['outline']}, from "
        f"{most['rank']:.0f} to {most['rank_corrected']:.0f}. Limit states without a correction of their own stand "
        "as predicted."
    )


@carries("nist-handbook", caveats=("few-tests",))
def material_values(trials: pd.DataFrame) -> pd.DataFrame:
    """Modulus and strength of the material estimated again from the tests, with 95 % intervals of the means.

    Coupons and members stand apart: they measure different things. The strength from members is the
    assumed one times measured ÷ predicted, where full plasticity, yield or fracture governs.
    """
    used = trials[trials["status"] == "used"]
    rows = []
    for (material, test), part in used.groupby(["material", "test"], sort=True):
        moduli = part[part["modulus_kind"] == "E"]["modulus_MPa"].astype(float)
        rows.append(_estimate(material, test, "modulus", moduli, part["assumed_modulus_MPa"].iloc[0]))
        if test == "member":
            strong = part[part["limit_state"].isin(("full plasticity", "yield", "fracture", "first yield"))]
            values = strong["assumed_strength_MPa"] * strong["measured_load"] / strong["predicted_load"]
            rows.append(
                _estimate(material, test, "yield strength", values, part["assumed_strength_MPa"].iloc[0])
            )
        else:
            rows.append(
                _estimate(material, test, "flexural strength", part["strength_MPa"].astype(float), np.nan)
            )
    return pd.DataFrame([row for row in rows if row])


def _estimate(material: str, test: str, name: str, values: pd.Series, assumed: float) -> dict | None:
    values = values[np.isfinite(values)]
    n = len(values)
    if not n:
        return None
    mean, deviation = float(values.mean()), float(values.std(ddof=1)) if n > 1 else np.nan
    reach = stdtrit(n - 1, 0.975) * deviation / np.sqrt(n) if n > 1 else np.nan
    return {"material": material, "from": test, "value": name, "tests": n, "assumed_MPa": assumed, "mean_MPa": mean,
            "low_MPa": mean - reach, "high_MPa": mean + reach, "cov": deviation / mean}  # fmt: skip
