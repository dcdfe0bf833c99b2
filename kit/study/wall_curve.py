"""One half-wavelength curve as a task of its own; apart, so that a worker process starts with little to load."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from kit import sources
from kit.errors import InputError, Unusable
from kit.sections.halfwave_record import strain_record
from kit.sections.halfwave_stress import LinearStress


@dataclass(frozen=True)
class WallTask:
    """All that the critical strains of an outline depend on: its polygon (WKB), Poisson's ratio, the stress."""

    polygon: bytes
    poissons_ratio: float
    stress: LinearStress


def solve(task: WallTask) -> dict:
    """One curve as a record that JSON can hold, or ``{"reason": …}``; runs in a worker process."""
    with sources.recording() as used:
        try:
            curve = strain_record(shapely.from_wkb(task.polygon), task.poissons_ratio, task.stress)
        except (InputError, Unusable, np.linalg.LinAlgError) as error:
            return {"reason": f"not assessed: {getattr(error, 'what', error)}"}
    return {"curve": curve.plain(), "used": sorted(used)}
