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
# Where a material without a table of its own keeps its values. Timber's belong to 20 °C and 65 % humidity
# (EN 1995-1-1, service class 1): warmer than 100 °F for long it is reduced (NDS, 2.3.3), colder it gains
# strength (Wood Handbook, chapter 5, down to −50 °C). All three from memory.
RANGE_degC = {"steel": (-20.0, 100.0), "aluminium": (-40.0, 80.0), "timber": (-50.0, 37.8)}


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
    Factors are interpolated linearly in the logarithm of time, and in temperature. A table that is given
    applies, whatever the family and whichever other tables are missing. Shear strength is yield / √3 (von
    Mises) where none is given and the material is ductile, else it is unknown (NaN). Unknown too are timber's
    shear modulus, bearing strength and 5 % modulus where they are not given, and a tensile strength that was
    not measured.
    """
    e_time, f_time, blocked_time, notes_time = _by_duration(material, service)
    e_warm, f_warm, blocked_warm, notes_warm = _by_temperature(material, service)
    e, f = e_time * e_warm, f_time * f_warm
    compression = material.yield_compression_MPa.mean * f
    tension = np.nan if material.yield_tension_MPa is None else material.yield_tension_MPa.mean * f
    modulus = material.youngs_modulus_MPa.mean * e
    least = _or_isotropic(material, material.modulus_5_percent_MPa, material.youngs_modulus_MPa.mean)
    bearing = _or_isotropic(material, material.bearing_strength_MPa, material.yield_compression_MPa.mean)
    bending, ultimate = material.bending_strength_MPa, material.ultimate_tension_MPa
    state = State(
        material=material,
        service=service,
        modulus=modulus,
        shear_modulus=material.shear_modulus * e,
        column_modulus=least * e,
        tension=tension,
        compression=compression,
        shear=_shear_strength(material, min(tension, compression), f),
        bending=None if bending is None else bending.mean * f,
        ultimate=None if ultimate is None else ultimate.mean * f,
        bearing=bearing * f,
        caveats=material.caveats + _values_notes(material) + notes_time + notes_warm,
        blocked=blocked_time or blocked_warm,
    )
    if material.ductile and state.curve_ends_early:
        return replace(state, caveats=(*state.caveats, "curve-ends-early"))
    return state


def _or_isotropic(material: Material, given: float | None, alike: float) -> float:
    """A value as given; else the one that an isotropic material has, and none (NaN) for timber."""
    if given is not None:
        return given
    return alike if material.isotropic else np.nan


def _values_notes(material: Material) -> tuple[str, ...]:
    """Caveats of how the material's values are stated."""
    return ("class-values",) if material.class_values and "class-values" not in material.caveats else ()


def _shear_strength(material: Material, weaker: float, factor: float) -> float:
    if material.shear_strength_MPa is not None:
        return material.shear_strength_MPa.mean * factor
    return weaker / ROOT_3 if material.ductile and material.isotropic else np.nan


def _from_one(table, at: float):
    """A table with the factor 1 at the conditions of the test, where it says nothing nearer to them.

    For durations that is a tenth of an hour; a table that begins later starts there.
    """
    if not table:
        return ()
    spoken = any(place <= at for place, _ in table) and any(place >= at for place, _ in table)
    return tuple(sorted(table)) if spoken else tuple(sorted((*table, (at, 1.0))))


def _by_duration(material: Material, service: Service):
    """Factors on modulus and strength for the duration, the key that blocks, and the caveats."""
    tables = (material.modulus_by_duration, material.strength_by_duration)
    lasts = material.family in METALS
    if service.short_term:
        return 1.0, 1.0, "", (() if lasts and not any(tables) else ("short-term-only",))
    # Without a table a metal keeps its value; of any other material nothing is known.
    if not all(service.hours <= max(t)[0] * (1 + 1e-9) if t else lasts for t in tables):
        return 1.0, 1.0, "no-long-term-data", ()
    hours = np.log(service.hours)
    factors = [
        np.interp(hours, np.log([h for h, _ in t]), [v for _, v in t]) if t else 1.0
        for t in (_from_one(t, SHORT_TERM_h) for t in tables)
    ]
    return float(factors[0]), float(factors[1]), "", (("long-term-factors",) if any(tables) else ())


def _by_temperature(material: Material, service: Service):
    """Factors on modulus and strength for the temperature, the key that blocks, and the caveats."""
    warm = service.temperature_degC
    found = [
        _share_at(_from_one(table, TEST_TEMPERATURE_degC), warm) if table else _without_table(material, warm)
        for table in (material.modulus_by_temperature, material.strength_by_temperature)
    ]
    if np.isnan(found).any():
        return 1.0, 1.0, "temperature-outside-data", ()
    tables = (material.modulus_by_temperature, material.strength_by_temperature)
    far = abs(warm - TEST_TEMPERATURE_degC) > NEAR_degC and material.family not in METALS
    return *found, "", (("temperature-not-considered",) if far and not all(tables) else ())


def _share_at(table, warm: float) -> float:
    """Factor of a table at a temperature; NaN where it does not reach."""
    degrees, shares = zip(*table, strict=True)
    return float(np.interp(warm, degrees, shares, left=np.nan, right=np.nan))


def _without_table(material: Material, warm: float) -> float:
    """1 at a temperature at which a material of the family keeps its values, else NaN."""
    low, high = RANGE_degC.get(material.family, (-np.inf, TEST_TEMPERATURE_degC + NEAR_degC))
    return 1.0 if low <= warm <= high else np.nan
