"""What a piece is predicted to do, with intervals, and the hash that fixes it before the first record is read."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
import pandas as pd
from shapely import Polygon

from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.momentcurvature import fibres, load_deflection, moment_curvature
from kit.members.resistance import load_name, resistance
from kit.members.service import at_service
from kit.members.uncertainty import Uncertainty, interval, samples
from kit.sources import carries
from kit.trials.setups import Rig, Setup, setup_of

LAST_STRAIN = 0.04
# The full plastic moment is approached and never reached: travel is given where this share of it is.
NEARLY = 0.98
CURVE_POINTS = 61


@dataclass(frozen=True)
class Test:
    """What is tested: a section's row as tested, its polygon (mm, turned), load case, material, service, rig."""

    __test__ = False
    section: pd.Series
    polygon: Polygon
    case: LoadCase
    material: Material
    service: Service
    rig: Rig = Rig()


@dataclass(frozen=True)
class Prediction:
    """A predicted test. Loads in N (torsion: N mm), travel in mm (rad), energies in J.

    Attributes
    ----------
    load, low, high : float
        Resistance and its 95 % interval; NaN where not assessed.
    limit_state : str
    stiffness : float
        Slope of the record, rig included.
    stroke : float
        Travel of the crosshead at the peak, rig included, toe not.
    stored_J, stored_high_J : float
        Elastic energy of piece and rig at the peak, and at the upper end of its interval.
    travel, loads : (n,) arrays
        The curve up to the peak.
    idealised : bool
        Whether the curve stands on an elastic, perfectly plastic material.
    mass_kg : float
    caveats : str
    v_rt : float
        Coefficient of variation from the basic variables alone (material, dimensions), without the model's error.
    """

    load: float
    low: float
    high: float
    limit_state: str
    stiffness: float
    stroke: float
    stored_J: float
    stored_high_J: float
    travel: np.ndarray
    loads: np.ndarray
    idealised: bool
    mass_kg: float
    caveats: str
    v_rt: float = 0.0


def predict(test: Test, spread: Uncertainty) -> Prediction:
    """Predict a test.

    Parameters
    ----------
    test : Test
    spread : Uncertainty
        What the interval holds beside the material's own scatter.
    """
    row = pd.DataFrame([test.section]).infer_objects()
    found = resistance(row, test.case, test.material, test.service).iloc[0]
    sampled = samples(row, test.case, test.material, test.service, spread)
    drawn = interval(sampled).iloc[0]
    setup = setup_of(test.section, test.case, test.material, test.rig)
    load = float(found[load_name(test.case)])
    stiffness = _stiffness(setup, test)
    travel, loads, idealised = curve(test, load, stiffness)
    per_joule = 1000.0
    low, high = float(drawn["resistance_low"]), float(drawn["resistance_high"])
    return Prediction(
        load=load,
        low=low,
        high=high,
        limit_state=str(found["limit_state"]),
        stiffness=stiffness,
        stroke=float(travel[-1]) if len(travel) else np.nan,
        stored_J=load**2 / (2.0 * stiffness) / per_joule,
        stored_high_J=high**2 / (2.0 * stiffness) / per_joule,
        travel=travel,
        loads=loads,
        idealised=idealised,
        mass_kg=float(found["mass_kg"]),
        caveats=str(found["caveats"]),
        v_rt=basic_variation(sampled[:, 0], spread.model_cov),
    )


def basic_variation(sampled: np.ndarray, model_cov: float) -> float:
    """V_rt of samples that also hold an independent model error: 1 + V² = (1 + V_rt²)(1 + V_model²)."""
    whole = float(np.std(sampled) / np.mean(sampled))
    return float(np.sqrt(max((1.0 + whole**2) / (1.0 + model_cov**2) - 1.0, 0.0)))


def _stiffness(setup: Setup, test: Test) -> float:
    state = at_service(test.material, test.service)
    modulus = state.shear_modulus if setup.modulus == "G" else state.modulus
    return float(1.0 / (setup.unit_compliance / modulus + setup.other_compliance))


@carries("timoshenko-1955", caveats=("idealised-curve", "small-deflections"))
def curve(test: Test, load: float, stiffness: float) -> tuple[np.ndarray, np.ndarray, bool]:
    """Predicted travel and load up to the resistance, and whether its material is idealised.

    Beams of ductile material follow moment–curvature; all others a straight line.
    """
    if not np.isfinite(load) or load <= 0:
        return np.array([]), np.array([]), False
    bends = test.case.kind == "bending" and (test.material.ductile or test.material.stress_strain)
    if not bends:
        return np.array([0.0, load / stiffness]), np.array([0.0, load]), False
    pairs = test.material.stress_strain or _idealised(test)
    bent = moment_curvature(fibres(test.polygon), pairs, held=test.case.restraint != "none")
    state = at_service(test.material, test.service)
    rigidity = state.shear_modulus * float(test.section["shear_area_y_nu0_mm2"])
    travel, loads = load_deflection(bent, test.case, rigidity, steps=400)
    travel = travel + test.rig.compliance * loads
    end = min(load, NEARLY * float(loads[-1]))
    levels = np.linspace(0.0, end, CURVE_POINTS)
    return np.interp(levels, loads, travel), levels, test.material.stress_strain is None


def _idealised(test: Test) -> tuple[tuple[float, float], ...]:
    """Elastic, perfectly plastic: from the modulus and the two yield strengths."""
    state = at_service(test.material, test.service)
    tension, compression, modulus = float(state.tension), float(state.compression), float(state.modulus)
    return (
        (-max(LAST_STRAIN, 3 * compression / modulus), -compression),
        (-compression / modulus, -compression),
        (tension / modulus, tension),
        (max(LAST_STRAIN, 3 * tension / modulus), tension),
    )


def as_row(prediction: Prediction, test: Test) -> dict:
    """A row of ``predictions.csv``."""
    torque = test.case.kind == "torsion"
    return {
        "outline": test.section["outline"],
        "orientation_deg": float(test.section["orientation_deg"]),
        "load_case": test.case.name,
        "kind": test.case.kind,
        "material": test.material.key,
        "length_mm": test.case.length_mm,
        "predicted_load": prediction.load,
        "predicted_low": prediction.low,
        "predicted_high": prediction.high,
        "load_unit": "N mm" if torque else "N",
        "limit_state": prediction.limit_state,
        "predicted_stiffness": prediction.stiffness,
        "stiffness_unit": "N mm/rad" if torque else "N/mm",
        "predicted_stroke": prediction.stroke,
        "stored_energy_J": prediction.stored_J,
        "stored_energy_high_J": prediction.stored_high_J,
        "predicted_mass_kg": prediction.mass_kg,
    }


def digest(table: pd.DataFrame) -> str:
    """SHA-256 of predictions as written to CSV: nine digits, rows in order."""
    text = table.to_csv(index=False, float_format="%.9g", lineterminator="\n")
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
