"""Materials: values with their spread and source, and what duration and temperature do to them."""

from __future__ import annotations

import functools
import json
import math
from dataclasses import dataclass, fields

from kit.errors import InputError
from kit.members.measured_curve import checked_curve
from kit.places import DATA

FAMILIES = ("steel", "aluminium", "timber", "polymer", "unspecified")
POSITIVE = (
    "youngs_modulus_MPa", "yield_tension_MPa", "yield_compression_MPa", "ultimate_tension_MPa",
    "shear_modulus_MPa", "shear_strength_MPa", "bearing_strength_MPa", "bending_strength_MPa",
    "modulus_5_percent_MPa", "thickness_up_to_mm",
)  # fmt: skip
TABLES = ("modulus_by_duration", "strength_by_duration", "modulus_by_temperature", "strength_by_temperature")


@dataclass(frozen=True)
class Spread:
    """A value and how far it scatters: mean and coefficient of variation (a ratio, not per cent)."""

    mean: float
    cov: float = 0.0

    def __post_init__(self):
        if not (math.isfinite(self.mean) and math.isfinite(self.cov) and self.cov >= 0):
            raise InputError(
                f"mean {self.mean}, cov {self.cov} is no spread", "", "finite numbers, cov zero or more"
            )


@dataclass(frozen=True)
class Material:
    """A material as a study uses it (MPa, kg/m3).

    Attributes
    ----------
    key, name : str
        As the parameter file names it, and as the write-up prints it.
    family : str
        ``steel``, ``aluminium``, ``timber``, ``polymer`` or ``unspecified``: decides which column curves
        are inside their scope and whether duration matters.
    density_kg_m3 : float
    youngs_modulus_MPa : Spread
        Along the member, short-term.
    poissons_ratio : float
        For timber no isotropic value is meant; the shear modulus is given instead.
    yield_tension_MPa, yield_compression_MPa : Spread
        Yield strengths, or for a brittle material the strengths themselves. The tensile one may be None,
        not known, where the bending strength is given: a flexural test tells no tensile strength.
    ultimate_tension_MPa : Spread, optional
        Tensile strength, for fracture at the net section.
    ductile : bool
        Whether stress may redistribute (full plasticity). Not said (None), it may, but for timber and where
        the tensile strength is not known, which are never ductile.
    stress_strain : tuple of (strain, stress), optional
        Measured curve from the origin, tension positive; pairs with negative strain are compression. It
        must agree with Young's modulus and the yield strengths (:mod:`kit.members.measured_curve`).
    conditions, source : str
    caveats : tuple of str
        Keys into ``data/caveats.json``.
    shear_modulus_MPa : float, optional
        Where it does not follow from E and ν.
    shear_strength_MPa : Spread, optional
        Where it is not yield / √3.
    bearing_strength_MPa : float, optional
        Across the member, where it is not the compressive yield strength (timber across the grain).
    bending_strength_MPa : Spread, optional
        Extreme fibre strength in bending where it was measured so (timber, cast sheet).
    modulus_5_percent_MPa : float, optional
        5 % fractile of the modulus along the grain (timber columns).
    thickness_up_to_mm : float, optional
        Greatest thickness for which the strengths hold.
    modulus_by_duration, strength_by_duration : tuple of (hours, factor)
        Ratio to the short-term value; empty: duration does not matter or is not known.
    modulus_by_temperature, strength_by_temperature : tuple of (degC, factor)
        Ratio to the value at the stated conditions.
    class_values : bool
        True where the strengths are characteristic or nominal (a fractile, not a mean).
    """

    key: str
    name: str
    family: str
    density_kg_m3: float
    youngs_modulus_MPa: Spread
    poissons_ratio: float
    yield_tension_MPa: Spread | None
    yield_compression_MPa: Spread
    ultimate_tension_MPa: Spread | None = None
    ductile: bool | None = None
    stress_strain: tuple[tuple[float, float], ...] | None = None
    conditions: str = ""
    source: str = ""
    caveats: tuple[str, ...] = ()
    shear_modulus_MPa: float | None = None
    shear_strength_MPa: Spread | None = None
    bearing_strength_MPa: float | None = None
    bending_strength_MPa: Spread | None = None
    modulus_5_percent_MPa: float | None = None
    thickness_up_to_mm: float | None = None
    modulus_by_duration: tuple[tuple[float, float], ...] = ()
    strength_by_duration: tuple[tuple[float, float], ...] = ()
    modulus_by_temperature: tuple[tuple[float, float], ...] = ()
    strength_by_temperature: tuple[tuple[float, float], ...] = ()
    class_values: bool = False

    def __post_init__(self):
        where = f"materials.{self.key}"
        if self.family not in FAMILIES:
            raise InputError(f"family '{self.family}'", f"{where}.family", f"one of: {', '.join(FAMILIES)}")
        if not (math.isfinite(self.density_kg_m3) and self.density_kg_m3 > 0):
            raise InputError(f"density {self.density_kg_m3}", f"{where}.density", "above zero")
        if not -1.0 < self.poissons_ratio <= 0.5:
            raise InputError(
                f"Poisson's ratio {self.poissons_ratio}", f"{where}.poissons_ratio", "between -1 and 0.5"
            )
        for key in POSITIVE:
            _above_zero(getattr(self, key), f"{where}.{key.removesuffix('_MPa').removesuffix('_mm')}")
        for key in TABLES:
            for place, share in getattr(self, key):
                _above_zero(share, f"{where}.{key}")
                # A temperature may lie below zero, a duration may not.
                _above_zero(place if key.endswith("duration") else 1.0, f"{where}.{key}")
        self._tension_known_or_bending(where)
        object.__setattr__(self, "ductile", self._redistributes(where))
        if self.stress_strain is not None:
            object.__setattr__(self, "stress_strain", checked_curve(self, f"{where}.stress_strain"))

    def _tension_known_or_bending(self, where: str) -> None:
        if self.yield_tension_MPa is None and self.bending_strength_MPa is None:
            raise InputError(
                "neither a strength in tension nor one in bending is given",
                f"{where}.yield_tension",
                "yield_tension, or bending_strength where only a flexural test was made",
            )

    def _redistributes(self, where: str) -> bool:
        """Whether the material is ductile, as said or by what is known of it."""
        brittle = ""
        if self.family == "timber":
            brittle = "timber breaks in tension and bending before it yields"
        elif self.yield_tension_MPa is None:
            brittle = "without a yield strength in tension there is no plastic moment"
        if self.ductile and brittle:
            raise InputError(
                f"ductile: true, but {brittle}", f"{where}.ductile", "ductile: false, or leave it out"
            )
        return not brittle if self.ductile is None else bool(self.ductile)

    @property
    def isotropic(self) -> bool:
        """False for timber: its shear modulus does not follow from E and Poisson's ratio."""
        return self.family != "timber"

    @property
    def shear_modulus(self) -> float:
        """Shear modulus G, MPa: as given, or E / (2 (1 + ν)); NaN, not known, for timber without its own."""
        if self.shear_modulus_MPa is not None:
            return self.shear_modulus_MPa
        if not self.isotropic:
            return math.nan
        return self.youngs_modulus_MPa.mean / (2.0 * (1.0 + self.poissons_ratio))


@dataclass(frozen=True)
class Service:
    """How long the load acts and how warm it is.

    Attributes
    ----------
    duration : str
        ``short-term test``, or a number and a unit of time: ``10 years``, ``6 months``, ``1 hour``.
    temperature_degC : float
    """

    duration: str = "short-term test"
    temperature_degC: float = 23.0

    def __post_init__(self):
        _ = self.hours
        if not -60.0 <= self.temperature_degC <= 200.0:
            raise InputError(
                f"{self.temperature_degC:g} degC", "service.temperature", "between -60 and 200 degC"
            )

    @property
    def short_term(self) -> bool:
        """Whether the load lasts no longer than a test (minutes)."""
        return self.duration == "short-term test"

    @property
    def hours(self) -> float:
        """Duration in hours; a short-term test counts as a tenth of an hour."""
        if self.short_term:
            return 0.1
        return _hours(self.duration)


HOURS = {"minute": 1 / 60, "hour": 1.0, "day": 24.0, "week": 168.0, "month": 730.5, "year": 8766.0}


def _hours(text: str) -> float:
    todo = "'short-term test', or a number and a unit, such as '10 years', '6 months', '1 hour'"
    number, _, unit = text.strip().partition(" ")
    try:
        value = float(number) * HOURS[unit.strip().removesuffix("s")]
    except (KeyError, ValueError):
        raise InputError(f"'{text}' is no duration", "service.duration", todo) from None
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"'{text}' is no duration", "service.duration", todo)
    return value


def _above_zero(value: Spread | float | None, where: str) -> None:
    """Refuse a value that is given and not a finite number above zero."""
    number = value.mean if isinstance(value, Spread) else value
    if number is not None and not (math.isfinite(number) and number > 0):
        raise InputError(f"{number:g} is out of range", where, "a number above zero")


def from_record(record: dict) -> Material:
    """A material from plain JSON values: numbers, ``{"mean": …, "cov": …}``, lists of pairs."""
    known = {field.name: field for field in fields(Material)}
    unknown = sorted(set(record) - set(known) - {"values"})
    if unknown:
        raise InputError(f"unknown: {', '.join(unknown)}", f"materials.{record.get('key')}", "see Material")
    values = {name: _plain(value) for name, value in record.items() if name in known}
    return Material(**values)


def _plain(value):
    if isinstance(value, dict):
        return Spread(value["mean"], value.get("cov", 0.0))
    if isinstance(value, list):
        return tuple(tuple(item) if isinstance(item, list) else item for item in value)
    return value


@functools.cache
def library() -> dict[str, Material]:
    """The materials that travel with the kit, by key; each value's source is in ``data/materials.json``."""
    records = json.loads((DATA / "materials.json").read_text(encoding="utf-8"))
    return {record["key"]: from_record(record) for record in records}
