"""Columns: from the critical load over a column curve to the axial load they carry."""

from __future__ import annotations

import numpy as np

from kit.members import critical, curves
from kit.members.cases import ColumnAlone, CompressionCase
from kit.members.crossing import first_crossing
from kit.members.state import Assessment, Columns, Limit, State
from kit.sources import carries

NEAR = 1e-6


@carries("timoshenko-gere-1961", "trahair-1993")
def critical_loads(columns: Columns, case: CompressionCase, state: State) -> dict[str, np.ndarray]:
    """Elastic critical loads, N: about principal axes 1 and 2, torsional, and the least of them coupled.

    The least is of the load where it acts, and never above that of a central load.

    Ends that differ between the axes are read per axis only where x and y are principal; elsewhere the
    longer effective length is taken for both. Of a column alone they are critical own weights, the
    torsional and coupled ones from below, as if the whole weight stood on its top.
    """
    length_t = _effective_lengths(columns, case)[2]
    e, g = state.column_modulus, state.column_shear_modulus
    p1, p2 = _flexural_loads(columns, case, e)
    radius = columns["polar_radius_s_mm"]
    pt = critical.torsional_load(g * columns["J_mm4"], e * columns["Iw_mm6"], radius, length_t)
    x0, y0 = critical.to_principal(columns["xs_mm"], columns["ys_mm"], _angle(columns))
    coupled = critical.lowest_coupled_load(p1, p2, pt, x0, y0, radius)
    if _eccentric(case):
        at = _load_at(columns, case)
        wagner = _stress_radius_2(columns, case)
        beside = critical.eccentric_coupled_load((p1, p2, pt), (x0, y0), at, radius, wagner)
        coupled = np.minimum(coupled, beside)
    return {"1": p1, "2": p2, "t": pt, "least": coupled}


def _eccentric(case: CompressionCase) -> bool:
    return bool(case.eccentricity_x_mm or case.eccentricity_y_mm)


def _load_at(columns: Columns, case: CompressionCase):
    """Point of the load in principal coordinates, mm."""
    return critical.to_principal(case.eccentricity_x_mm, case.eccentricity_y_mm, _angle(columns))


def _stress_radius_2(columns: Columns, case: CompressionCase) -> np.ndarray:
    """∫σ r_s² dA of the stress under a unit load, mm2, from ∫ y r² dA = Ix (2 y_s − β_x) and that of x."""
    ix, iy, ixy = columns["Ix_mm4"], columns["Iy_mm4"], columns["Ixy_mm4"]
    xs, ys, ex, ey = columns["xs_mm"], columns["ys_mm"], case.eccentricity_x_mm, case.eccentricity_y_mm
    third_x, third_y = iy * (2.0 * xs - columns["beta_y_mm"]), ix * (2.0 * ys - columns["beta_x_mm"])
    # σ = N (1/A + a x + b y), with the moments N e_x about y and N e_y about x.
    a, b = (np.array([ex * ix - ey * ixy, ey * iy - ex * ixy])) / (ix * iy - ixy**2)
    moved = a * third_x + b * third_y - 2.0 * (xs * ex + ys * ey)
    return columns["polar_radius_s_mm"] ** 2 + moved


def principal_load_axis(columns: Columns) -> np.ndarray:
    """Whether x and y are principal axes: |Ixy| ≤ 0.01 (I1 − I2), or all axes are alike."""
    return (np.abs(columns["Ixy_mm4"]) <= 0.01 * (columns["I1_mm4"] - columns["I2_mm4"])) | _alike(columns)


def _alike(columns: Columns) -> np.ndarray:
    """Whether all axes are alike, as those of a tube: only rounding would name one of them the major axis."""
    return columns["I1_mm4"] - columns["I2_mm4"] <= 1e-6 * columns["I1_mm4"]


def _angle(columns: Columns) -> np.ndarray:
    """Angle of principal axis 1, degrees; x is taken for it where all axes are alike."""
    return np.where(_alike(columns), 0.0, columns["principal_angle_deg"])


def _flexural_loads(columns: Columns, case: CompressionCase, modulus):
    """Euler's loads about principal axes 1 and 2, or the own weights at which a column alone buckles, N."""
    ei1, ei2 = modulus * columns["I1_mm4"], modulus * columns["I2_mm4"]
    if isinstance(case, ColumnAlone):
        factor1, factor2, _ = _by_axis(columns, case, critical.OWN_WEIGHT, min)
        return factor1 * ei1 / case.length_mm**2, factor2 * ei2 / case.length_mm**2
    length1, length2, _ = _effective_lengths(columns, case)
    return critical.flexural_load(ei1, length1), critical.flexural_load(ei2, length2)


def _effective_lengths(columns: Columns, case: CompressionCase):
    return tuple(k * case.length_mm for k in _by_axis(columns, case, critical.EFFECTIVE_LENGTH, max))


def _by_axis(columns: Columns, case: CompressionCase, by_ends: dict[str, float], worse):
    """What the ends give for bending about axes 1 and 2, and the worse of both."""
    along_y, along_x = by_ends[case.ends], by_ends[case.ends_y or case.ends]
    worst = worse(along_x, along_y)
    principal = principal_load_axis(columns)
    x_is_major = (columns["Ix_mm4"] >= columns["Iy_mm4"]) | _alike(columns)
    about_1 = np.where(principal, np.where(x_is_major, along_y, along_x), worst)
    about_2 = np.where(principal, np.where(x_is_major, along_x, along_y), worst)
    return about_1, about_2, worst


@carries("engesser-1889", "ziemian-2010")
def tangent_modulus_stress(elastic_stress, modulus, curve):
    """Stress σ with σ = (E_t(σ)/E) σ_cr, by the stress–strain curve in compression, MPa.

    Parameters
    ----------
    elastic_stress : (n,) array, MPa
        Elastic critical stress with ``modulus``.
    modulus : float, MPa
        Of the curve's own conditions.
    curve : pairs of (strain, stress), both positive, from the origin

    Notes
    -----
    σ E / E_t(σ) rises with σ as far as E_t falls, so that its inverse is read from one table. Beyond the
    curve's peak no column stands: the peak bounds the answer. A curve stretched in stress by f and in
    strain by f/e (duration, temperature) gives f times the stress at σ_cr / f, with the modulus e E.
    """
    strain, stress = np.asarray(curve, dtype=float).T
    last = int(np.argmax(stress))
    middle = 0.5 * (stress[1 : last + 1] + stress[:last])
    tangent = np.diff(stress[: last + 1]) / np.diff(strain[: last + 1]) / modulus
    tangent = np.minimum.accumulate(np.clip(tangent, 1e-9, 1.0))
    reach = np.concatenate([[0.0], middle / tangent])
    return np.interp(elastic_stress, reach, np.concatenate([[0.0], middle]), right=stress[last])


def compression_curve(pairs) -> list[tuple[float, float]] | None:
    """The compressive side as positive pairs from the origin; the tensile side where no other is given."""
    if pairs is None:
        return None
    negative = [(-strain, -stress) for strain, stress in reversed(pairs) if strain < 0]
    side = negative if len(negative) >= 3 else [pair for pair in pairs if pair[0] > 0]
    return [(0.0, 0.0), *side]


def _imperfection(columns: Columns, case: CompressionCase, axis: str, length_mm):
    """η = e0 A / W with e0 = bow × effective length, W about a principal axis."""
    return case.bow * length_mm * columns["area_mm2"] / columns[f"Wel_{axis}_mm3"]


@carries("timoshenko-gere-1961", "robertson-1925")
def curve_load(columns: Columns, case: CompressionCase, state: State, loads: dict) -> np.ndarray:
    """Axial load by the column curve of the case, N, least over the axes and the coupled mode."""
    squash = columns["area_mm2"] * state.compression
    if case.column_curve != "perry-robertson":
        slender = np.sqrt(squash / loads["least"])
        found = curves.reduction(case.column_curve, slender)
        if case.column_curve.startswith("EN 1999"):
            # A curve of its own for buckling with twist; never more than the class allows.
            flexural, _ = mode_names(loads)
            found = np.where(flexural, found, np.minimum(found, curves.en_1999_torsional(slender)))
        return squash * found
    length1, length2, _ = _effective_lengths(columns, case)
    eta1, eta2 = _imperfection(columns, case, "1", length1), _imperfection(columns, case, "2", length2)
    about_1 = curves.perry_robertson(np.sqrt(squash / loads["1"]), eta1)
    # The coupled mode moves sideways too; the weaker axis' imperfection is taken for it.
    coupled = curves.perry_robertson(np.sqrt(squash / loads["least"]), np.maximum(eta1, eta2))
    about_2 = curves.perry_robertson(np.sqrt(squash / loads["2"]), eta2)
    one_mode = loads["least"] >= np.minimum(loads["1"], loads["2"]) * (1.0 - NEAR)
    return squash * np.minimum(np.minimum(about_1, about_2), np.where(one_mode, 1.0, coupled))


@carries("timoshenko-gere-1961")
def eccentric_load(columns: Columns, case: CompressionCase, state: State, loads: dict, central):
    """Axial load with the load off the centroid, N: N/N_central + Σ N e_i sec(π/2 √(N/P_i)) / (W_i f) = 1.

    The secant formula about each principal axis, added linearly to the buckling of the load where it acts; the
    tension side of a material weaker in tension is checked by Σ N e_i sec(…)/W_i − N/A ≤ f_t, with the bow
    added to the eccentricity.
    """
    e1, e2 = _load_at(columns, case)
    length1, length2, _ = _effective_lengths(columns, case)
    bow1, bow2 = case.bow * length1, case.bow * length2
    arms = ((np.abs(e2), bow1, "1", loads["1"]), (np.abs(e1), bow2, "2", loads["2"]))

    def bending_stress(n, bowed):
        total = 0.0
        for arm, bow, axis, p in arms:
            share = np.minimum(n / p, 1.0 - 1e-12)
            moment = n * (arm / np.cos(np.pi / 2.0 * np.sqrt(share)) + bowed * bow / (1.0 - share))
            total = total + moment / columns[f"Wel_{axis}_mm3"]
        return total

    def use(n):
        crushing = n / central + bending_stress(n, 0.0) / state.compression
        tearing = (bending_stress(n, 1.0) - n / columns["area_mm2"]) / state.fibre_tension
        return np.maximum(crushing, tearing)

    return first_crossing(lambda n: use(n) - 1.0, np.minimum(central, np.minimum(loads["1"], loads["2"])))


def mode_names(loads: dict) -> tuple[np.ndarray, np.ndarray]:
    """Masks of the rows whose least critical load is flexural, and torsional (else it is coupled)."""
    flexural = loads["least"] >= np.minimum(loads["1"], loads["2"]) * (1.0 - NEAR)
    torsional = ~flexural & (loads["least"] >= loads["t"] * (1.0 - NEAR))
    return flexural, torsional


def assess(columns: Columns, case: CompressionCase, state: State) -> Assessment:
    """Assess columns, row by row; loads in N. The limit state is named by the least critical load."""
    loads = critical_loads(columns, case, state)
    carried = curve_load(columns, case, state, loads)
    eccentric = _eccentric(case)
    if eccentric or _may_tear(case, state):
        carried = eccentric_load(columns, case, state, loads, carried)
    flexural, torsional = mode_names(loads)
    everywhere = np.ones(len(carried), dtype=bool)
    stocky = carried >= 0.999 * columns["area_mm2"] * state.compression
    names = (
        ("flexural buckling", flexural & ~stocky),
        ("torsional buckling", torsional & ~stocky),
        ("flexural-torsional buckling", ~flexural & ~torsional & ~stocky),
        ("squash load", stocky),
    )
    # Every mode is in the least critical load: all four names are checked, one of them can govern.
    limits = [Limit(name, np.where(mask, carried, np.inf)) for name, mask in names]
    limits += _tangent_limit(columns, state, loads)
    return Assessment(tuple(limits), *_notes(columns, case, state, everywhere, eccentric))


def _may_tear(case: CompressionCase, state: State) -> bool:
    """Whether a bowed column may yield or break on its tension side first.

    A code's curve has that in it for its own materials, which are as strong in tension, and for no others.
    """
    material = state.material
    pulled = material.yield_tension_MPa or material.bending_strength_MPa
    weak = pulled.mean < material.yield_compression_MPa.mean
    return weak and not curves.is_home(case.column_curve, material.family)


def _tangent_limit(columns: Columns, state: State, loads: dict) -> list[Limit]:
    curve = compression_curve(state.material.stress_strain)
    if curve is None:
        return []
    factor = state.compression / state.material.yield_compression_MPa.mean
    elastic = loads["least"] / columns["area_mm2"] / factor
    stress = factor * tangent_modulus_stress(elastic, state.material.youngs_modulus_MPa.mean, curve)
    return [Limit("tangent-modulus buckling", stress * columns["area_mm2"])]


def _notes(columns: Columns, case: CompressionCase, state: State, everywhere, eccentric: bool):
    key, forbidden = curves.outside_scope(case.column_curve, state.material.family)
    principal = principal_load_axis(columns)
    differing = critical.EFFECTIVE_LENGTH[case.ends] != critical.EFFECTIVE_LENGTH[case.ends_y or case.ends]
    stub = case.length_mm < 3.0 * np.sqrt(columns["area_mm2"])
    gradual = state.material.family in ("polymer", "unspecified") and state.material.stress_strain is None
    caveats = [("local-buckling-not-checked", everywhere)]
    caveats += [(key, everywhere)] if key and not forbidden else []
    caveats += [("coupling-approximate", principal)] if differing else []
    caveats += [("ends-taken-alike", ~principal)] if differing else []
    caveats += [("eccentricity-coupling", everywhere)] if eccentric else []
    caveats += [("no-imperfection", everywhere)] if case.column_curve in ("euler", "johnson") else []
    caveats += [("gradual-yield-not-considered", everywhere)] if gradual else []
    caveats += [("short-column", stub)]
    caveats += [("timber-shear-modulus", everywhere)] if not state.material.isotropic else []
    blocked = [(key, everywhere)] if forbidden else []
    return tuple(caveats), tuple(blocked)
