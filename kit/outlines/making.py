"""How a member is made, in plain numbers, and what each way of making does to an outline."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kit.errors import Unusable

STOCKLESS = ("extruded", "printed")  # nothing is cut away
PROCESSES = ("extruded", "milled-lengthwise", "cut-from-plate", "wire-cut", "printed")
SEPARATE_PARTS = ("leave-out", "keep-largest", "join")
FITS = {"envelope": 2, "cap_height": 1, "area": 1, "mass_per_length": 2, "scale": 1}


@dataclass(frozen=True)
class Making:
    """The preparation of an outline. Lengths in mm.

    Attributes
    ----------
    process : str
        One of `PROCESSES`.
    fit : (name, numbers)
        ``("envelope", (width, depth))``, ``("cap_height", (height,))``, ``("area", (mm2,))``,
        ``("mass_per_length", (kg/m, kg/m3))`` or ``("scale", (factor,))``. Proportions are kept.
    flatten_mm : float or None
        Greatest distance between a curve and its polygon; None: 1/10 000 of the envelope, or less
        where chords would cost too much of a thin outline.
    cutter_radius_mm : float
        Radius left in every internal corner (cutter, die or wire); 0: as drawn.
    least_wall_mm : float
        Outlines with thinner walls are left out; 0: not looked at.
    separate_parts : str
        One of `SEPARATE_PARTS`.
    keep_area : bool
        Flatten so that every contour keeps its area; False: chords with their ends on the curves.
    web_mm : float
        Width of the webs that join separate parts; 0: 1/20 of the envelope, or the least wall if greater.
    stock_mm : (width, depth) or None
        Rectangle it is cut from; outlines that fit into it at no angle are left out. None: any.
    most_points : int
        Outlines with more points on their polygon are left out.
    most_repair_share : float
        Outlines of whose area repairs change more are left out.
    cut_flag_share : float
        A flag is set where cutting changes more of the area than this.
    """

    process: str = "extruded"
    fit: tuple[str, tuple[float, ...]] = ("scale", (1.0,))
    flatten_mm: float | None = None
    cutter_radius_mm: float = 0.0
    least_wall_mm: float = 0.0
    separate_parts: str = "leave-out"
    keep_area: bool = True
    web_mm: float = 0.0
    stock_mm: tuple[float, float] | None = None
    most_points: int = 20_000
    most_repair_share: float = 0.02
    cut_flag_share: float = 0.02

    def __post_init__(self):
        name, numbers = self.fit
        if self.process not in PROCESSES:
            raise ValueError(f"process {self.process!r}: use one of {', '.join(PROCESSES)}")
        if self.separate_parts not in SEPARATE_PARTS:
            raise ValueError(
                f"separate_parts {self.separate_parts!r}: use one of {', '.join(SEPARATE_PARTS)}"
            )
        if FITS.get(name) != len(numbers):
            raise ValueError(f"fit {name!r} with {len(numbers)} numbers: use {FITS}")
        if self.stock_mm and self.process in STOCKLESS:
            raise ValueError(f"process {self.process!r} cuts no stock: leave stock_mm out")
        if not all(math.isfinite(n) and n > 0 for n in numbers):
            raise ValueError(f"fit {name}: {numbers} must be above zero")
        lengths = (self.cutter_radius_mm, self.least_wall_mm, self.web_mm, *(self.stock_mm or ()))
        if not all(math.isfinite(n) and n >= 0 for n in lengths):
            raise ValueError(f"a length of the preparation is negative or no number: {lengths}")
        if self.flatten_mm is not None and not (math.isfinite(self.flatten_mm) and self.flatten_mm > 0):
            raise ValueError(f"flatten {self.flatten_mm} mm must be above zero")


def target_area(making: Making) -> float | None:
    """Area the section as cut must have, mm2; None where the fit asks for none."""
    name, numbers = making.fit
    if name == "area":
        return numbers[0]
    if name == "mass_per_length":  # kg/m over kg/m3 is m2
        return numbers[0] / numbers[1] * 1e6
    return None


def scale_of(making: Making, size: tuple[float, float], area: float, unit_mm, cap_height) -> float:
    """Millimetres in a drawn unit, before cutting.

    Parameters
    ----------
    making : Making
    size : (width, depth), drawn units
        Of the drawn outline at 0 degrees.
    area : float, drawn units squared
    unit_mm, cap_height : float or None
        What the outline says of its own size.

    Raises
    ------
    Unusable
        If the fit needs a size the outline does not have.
    """
    name, numbers = making.fit
    if name == "envelope":
        return min(numbers[0] / size[0], numbers[1] / size[1])
    if name == "cap_height":
        if cap_height:
            return numbers[0] / cap_height
        if unit_mm:  # a shape or a drawing beside the letters: as drawn
            return unit_mm
        raise Unusable("it has no cap height; fit it to an envelope or an area instead")
    if name == "scale":
        if not unit_mm:
            raise Unusable(
                "it has no size of its own to scale; give its unit, or fit it to an envelope or an area"
            )
        return numbers[0] * unit_mm
    return math.sqrt(target_area(making) / area)
