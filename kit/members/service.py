"""What duration and temperature do to a material."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kit.members.materials import Material, Service
from kit.members.state import State

ROOT_3 = np.sqrt(3.0)
# Without a table of its own a polymer's value is taken as it stands this near the usual test temperature.
TEST_TEMPERATURE_degC, NEAR_degC = 23.0, 5.0
SHORT_TERM_h = 0.1
METALS = ("steel", "aluminium")
METAL_RANGE_degC = {"steel": (-20.0, 100.0), "aluminium": (-40.0, 80.0)}


def at_service(material: Material, service: Service) -> State:
    """The values of a material at a duration and temperature.

    Parameters
    ----------
    material : Material
    service : Service

    Returns
    -------
    State
        ``blocked`` holds the caveat's key where no value can be given: a duration or a temperature that
        the material's tables do not reach.

    Notes
    -----
    Factors are interpolated linearly in the logarithm of time, and in temperature. Shear strength is
    yield / √3 (von Mises) where none is given and the material is ductile, else it is unknown (NaN).
    """
    e_time, f_time, blocked_time, notes_time = _by_duration(material, service)
    e_warm, f_warm, blocked_warm, notes_warm = _by_temperature(material, service)
    e, f = e_time * e_warm, f_time * f_warm
    tension, compression = material.yield_tension_MPa.mean * f, material.yield_compression_MPa.mean * f
    modulus = material.youngs_modulus_MPa.mean * e
    least_modulus = (material.modulus_5_percent_MPa or material.youngs_modulus_MPa.mean) * e
    bending, ultimate = material.bending_strength_MPa, material.ultimate_tension_MPa
    bearing = material.bearing_strength_MPa
    state = State(
        material=material,
        service=service,
        modulus=modulus,
        shear_modulus=material.shear_modulus * e,
        column_modulus=least_modulus,
        tension=tension,
        compression=compression,
        shear=_shear_strength(material, min(tension, compression), f),
        bending=None if bending is None else bending.mean * f,
        ultimate=None if ultimate is None else ultimate.mean * f,
        bearing=compression if bearing is None else bearing * f,
        caveats=material.caveats + _values_notes(material) + notes_time + notes_warm,
        blocked=blocked_time or blocked_warm,
    )
    if material.ductile and state.curve_ends_early:
        return replace(state, caveats=(*state.caveats, "curve-ends-early"))
    return state


def _values_notes(material: Material) -> tuple[str, ...]:
    """Caveats of how the material's values are stated."""
    notes = ("class-values",) if material.class_values and "class-values" not in material.caveats else ()
    lacks = material.family == "timber" and material.modulus_5_percent_MPa is None
    return (*notes, "mean-modulus-for-buckling") if lacks else notes


def _shear_strength(material: Material, weaker: float, factor: float) -> float:
    if material.shear_strength_MPa is not None:
        return material.shear_strength_MPa.mean * factor
    return weaker / ROOT_3 if material.ductile and material.isotropic else np.nan


def _from_one(table, at: float):
    """The table with the factor 1 at the conditions of the test, where it says nothing nearer to them.

    For durations that is a tenth of an hour; a table that begins later starts there.
    """
    if not table:
        return ()
    spoken = any(place <= at for place, _ in table) and any(place >= at for place, _ in table)
    return tuple(sorted(table)) if spoken else tuple(sorted((*table, (at, 1.0))))


def _by_duration(material: Material, service: Service):
    """Factors on modulus and strength for the duration, the key that blocks, and the caveats."""
    if service.short_term or material.family in METALS:
        return 1.0, 1.0, "", (() if material.family in METALS else ("short-term-only",))
    tables = [
        _from_one(t, SHORT_TERM_h) for t in (material.modulus_by_duration, material.strength_by_duration)
    ]
    reach = all(table and service.hours <= max(table)[0] * (1 + 1e-9) for table in tables)
    if not reach:
        return 1.0, 1.0, "no-long-term-data", ()
    hours = np.log(service.hours)
    factors = [np.interp(hours, np.log([h for h, _ in t]), [v for _, v in t]) for t in tables]
    return float(factors[0]), float(factors[1]), "", ("long-term-factors",)


def _by_temperature(material: Material, service: Service):
    """Factors on modulus and strength for the temperature, the key that blocks, and the caveats."""
    warm = service.temperature_degC
    tables = [
        _from_one(t, TEST_TEMPERATURE_degC)
        for t in (material.modulus_by_temperature, material.strength_by_temperature)
    ]
    if all(tables):
        inside = all(min(t)[0] <= warm <= max(t)[0] for t in tables)
        if not inside:
            return 1.0, 1.0, "temperature-outside-data", ()
        factors = [np.interp(warm, [d for d, _ in t], [v for _, v in t]) for t in tables]
        return float(factors[0]), float(factors[1]), "", ()
    if material.family in METALS:
        low, high = METAL_RANGE_degC[material.family]
        return 1.0, 1.0, "" if low <= warm <= high else "temperature-outside-data", ()
    if warm > TEST_TEMPERATURE_degC + NEAR_degC and material.family != "timber":
        return 1.0, 1.0, "temperature-outside-data", ()
    far = abs(warm - TEST_TEMPERATURE_degC) > NEAR_degC
    return 1.0, 1.0, "", (("temperature-not-considered",) if far else ())
