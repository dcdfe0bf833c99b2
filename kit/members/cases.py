"""Load cases: what a member is asked to carry, in plain numbers (N, mm, MPa).

A load case is data only. Each class refuses what cannot be meant (a negative span, an unknown word)
with a message that says what, where and what would be accepted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kit.errors import InputError

LOADINGS = ("three-point", "four-point", "uniform", "cantilever")
RESTRAINTS = ("none", "sideways", "sideways-and-twist")
LOAD_HEIGHTS = ("top", "shear-centre", "centroid", "bottom")
SUPPORTS = ("resting", "forked")
ENDS = ("pinned-pinned", "fixed-pinned", "fixed-fixed", "fixed-free")
TORSION_ENDS = ("free-to-warp", "warping-held")
COLUMN_CURVES = (
    "perry-robertson",
    "euler",
    "johnson",
    "EN 1993-1-1 a0",
    "EN 1993-1-1 a",
    "EN 1993-1-1 b",
    "EN 1993-1-1 c",
    "EN 1993-1-1 d",
    "EN 1999-1-1 A",
    "EN 1999-1-1 B",
    "EN 1995-1-1 solid",
    "EN 1995-1-1 glued",
    "AISC 360 E3",
)


def _one_of(value: str, accepted: Sequence[str], where: str) -> None:
    if value not in accepted:
        raise InputError(f"'{value}' is not known here", where, f"one of: {', '.join(accepted)}")


def _positive(value: float | None, where: str) -> None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise InputError(f"{value:g} is not a positive length or ratio", where, "a number above zero")


def _not_negative(value: float, where: str) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise InputError(f"{value:g} is below zero or not a number", where, "zero or more")


def _finite(value: float | None, where: str) -> None:
    if value is not None and not math.isfinite(value):
        raise InputError(f"{value} is not a length", where, "a length")


@dataclass(frozen=True)
class BendingCase:
    """A beam under transverse load along −y; its resistance is the total load in N.

    Attributes
    ----------
    name : str
    span_mm : float
        Distance between supports, or length of the cantilever.
    loading : str
        ``three-point`` (one load at midspan), ``four-point`` (two equal loads, ``load_spacing_mm``
        apart, symmetric), ``uniform`` or ``cantilever`` (one load at the free end).
    load_spacing_mm : float, optional
        Four-point only; a third of the span where not given.
    restraint : str
        ``none``: free to move sideways and to twist between its supports; ``sideways``: held so that it
        bends in its own plane only, but may twist; ``sideways-and-twist``: neither.
    load_height : str
        Where the load acts: ``top`` of the section, ``shear-centre``, ``centroid`` or ``bottom``.
    bearing_length_mm : float, optional
        Length along the member over which loads and supports press; without it bearing is not checked.
    deflection_limit : float, optional
        Deflection ÷ span at which the member counts as failed in service (1/200 is 0.005).
    load_line_mm : float, optional
        x of the load from the centroid; without it through the centroid, or, where the load rests on the
        head of the section, through the point of the head nearest to it.
    supports : str
        ``resting`` on the base of the section (it can overturn), or ``forked``: held upright there.
    bow : float
        Initial sideways bow ÷ span, for stability (1/500 is 0.002).
    """

    name: str
    span_mm: float
    loading: str = "three-point"
    load_spacing_mm: float | None = None
    restraint: str = "none"
    load_height: str = "top"
    bearing_length_mm: float | None = None
    deflection_limit: float | None = None
    load_line_mm: float | None = None
    supports: str = "resting"
    bow: float = 1.0 / 500.0

    kind = "bending"

    def __post_init__(self):
        where = f"load_cases.{self.name}"
        _positive(self.span_mm, f"{where}.span")
        _one_of(self.loading, LOADINGS, f"{where}.loading")
        _one_of(self.restraint, RESTRAINTS, f"{where}.restraint")
        _one_of(self.load_height, LOAD_HEIGHTS, f"{where}.load_height")
        _one_of(self.supports, SUPPORTS, f"{where}.supports")
        _positive(self.bearing_length_mm, f"{where}.bearing_length")
        _positive(self.deflection_limit, f"{where}.deflection_limit")
        _not_negative(self.bow, f"{where}.bow")
        _finite(self.load_line_mm, f"{where}.load_line")
        _positive(self.load_spacing_mm, f"{where}.load_spacing")
        if self.load_spacing_mm is not None and self.loading != "four-point":
            raise InputError(
                f"load_spacing is given, but the loading is {self.loading}",
                f"{where}.load_spacing",
                "leave it out, or choose loading: four-point",
            )
        if self.load_spacing_mm is not None and self.load_spacing_mm >= self.span_mm:
            raise InputError(
                f"the loads are {self.load_spacing_mm:g} mm apart on a span of {self.span_mm:g} mm",
                f"{where}.load_spacing",
                "less than the span",
            )

    @property
    def length_mm(self) -> float:
        """Length of the member, mm: the span (overhangs carry nothing and are left out)."""
        return self.span_mm

    @property
    def pattern(self) -> str:
        """How the load lies along the beam: its ``loading``, or for a member alone how its own weight does."""
        return self.loading

    @property
    def spacing_mm(self) -> float:
        """Distance between the two loads of a four-point loading, mm."""
        return self.span_mm / 3.0 if self.load_spacing_mm is None else self.load_spacing_mm


@dataclass(frozen=True)
class CompressionCase:
    """A column under axial load; its resistance is that load in N.

    Attributes
    ----------
    name : str
    length_mm : float
        Between the ends.
    ends : str
        ``pinned-pinned``, ``fixed-pinned``, ``fixed-fixed`` or ``fixed-free``. A pinned end may warp and
        cannot twist, a fixed end can do neither.
    column_curve : str
        Name of the strength–slenderness curve; see ``COLUMN_CURVES``.
    bow : float
        Initial bow ÷ length for ``perry-robertson`` (1/500 is 0.002).
    eccentricity_x_mm, eccentricity_y_mm : float
        Where the load acts, from the centroid.
    ends_y : str, optional
        Other ends for movement in the x direction (bending about y); ``ends`` for both where not given.
    """

    name: str
    length_mm: float
    ends: str = "pinned-pinned"
    column_curve: str = "perry-robertson"
    bow: float = 1.0 / 500.0
    eccentricity_x_mm: float = 0.0
    eccentricity_y_mm: float = 0.0
    ends_y: str | None = None

    kind = "compression"

    def __post_init__(self):
        where = f"load_cases.{self.name}"
        _positive(self.length_mm, f"{where}.length")
        _one_of(self.ends, ENDS, f"{where}.ends")
        _one_of(self.ends_y or self.ends, ENDS, f"{where}.ends_y")
        _one_of(self.column_curve, COLUMN_CURVES, f"{where}.column_curve")
        _not_negative(self.bow, f"{where}.bow")
        for axis in "xy":
            _finite(getattr(self, f"eccentricity_{axis}_mm"), f"{where}.eccentricity_{axis}")


@dataclass(frozen=True)
class TensionCase:
    """A tie under axial load; its resistance is that load in N.

    Attributes
    ----------
    name : str
    length_mm : float
    holes_area_mm2 : float
        Area that holes take out of the section at the weakest place (net = gross − holes).
    """

    name: str
    length_mm: float
    holes_area_mm2: float = 0.0

    kind = "tension"

    def __post_init__(self):
        _positive(self.length_mm, f"load_cases.{self.name}.length")
        _not_negative(self.holes_area_mm2, f"load_cases.{self.name}.holes_area")


@dataclass(frozen=True)
class TorsionCase:
    """A shaft twisted by equal and opposite end torques; its resistance is the torque in N mm.

    Attributes
    ----------
    name : str
    length_mm : float
    ends : str
        ``free-to-warp``, or ``warping-held``: both ends are kept plane.
    twist_limit_deg : float, optional
        Angle of twist between the ends at which the member counts as failed in service.
    """

    name: str
    length_mm: float
    ends: str = "free-to-warp"
    twist_limit_deg: float | None = None

    kind = "torsion"

    def __post_init__(self):
        _positive(self.length_mm, f"load_cases.{self.name}.length")
        _one_of(self.ends, TORSION_ENDS, f"load_cases.{self.name}.ends")
        _positive(self.twist_limit_deg, f"load_cases.{self.name}.twist_limit")


class BeamAlone(BendingCase):
    """A beam that carries nothing but itself: its resistance is a weight spread evenly along it, N.

    ``loading`` tells how it is held, ``uniform`` at both ends or ``cantilever``.
    """

    @property
    def pattern(self) -> str:
        """``uniform`` or ``uniform cantilever``."""
        return "uniform cantilever" if self.loading == "cantilever" else "uniform"


class ColumnAlone(CompressionCase):
    """A column that carries nothing but itself: its resistance is a weight spread evenly along it, N."""


LoadCase = BendingCase | CompressionCase | TensionCase | TorsionCase
KINDS = {case.kind: case for case in (BendingCase, CompressionCase, TensionCase, TorsionCase)}
