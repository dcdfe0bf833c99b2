"""The half-wavelength curve of any outline: critical load factor against half-wavelength.

A member on simple supports that are free to warp can buckle in any whole number of half-waves, so one
curve serves all lengths. On its left the walls buckle locally, further right the section distorts, and at
the right end it bends and twists as a rigid section (Euler, Wagner, lateral-torsional). Many outlines have
no minimum in between: then local and distortional buckling do not apply to them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from kit.errors import InputError
from kit.sections.area import area_moments
from kit.sections.halfwave_assembly import Assembly, assemble, centred
from kit.sections.halfwave_modes import MOTIONS, Projector, participation, projector
from kit.sections.halfwave_solve import Modes, buckling_modes
from kit.sections.halfwave_stress import Elastic, LinearStress
from kit.sections.mesh import mesh_polygon
from kit.sources import carries

FEWEST_POINTS, MOST_POINTS = 12, 20
GLOBAL_MODES = 6
FLAT = 0.02  # |d ln factor / d ln a| below which a point is taken as the minimum (error < 1e-4)


@dataclass(frozen=True)
class Section:
    """An outline made ready for the half-wavelength analysis under one stress."""

    polygon: Polygon
    assembly: Assembly
    projector: Projector

    @property
    def size_mm(self) -> float:
        """Greater of width and depth."""
        left, bottom, right, top = self.polygon.bounds
        return max(right - left, top - bottom)

    @property
    def depth_mm(self) -> float:
        """Depth, along y."""
        return self.polygon.bounds[3] - self.polygon.bounds[1]

    @property
    def peak_MPa(self) -> float:
        """Greatest compressive stress at load factor 1."""
        return self.assembly.stress.extremes(self.polygon)[0]

    def global_factor(self, length_mm: float) -> float:
        """Factor at which the member buckles as a rigid section in one half-wave over its length.

        The lowest mode that bends and twists more than it changes the section's shape; where several changes
        of shape come before it, the last of them (less than the true one, so on the safe side).
        """
        modes = buckling_modes(self.assembly, length_mm, GLOBAL_MODES)
        for factor, shape in zip(modes.factors, modes.shapes, strict=True):
            if participation(self.projector, shape, np.pi / length_mm)[:3].sum() > 0.5:
                return float(factor)
        return float(modes.factors[-1])


@dataclass(frozen=True)
class Minimum:
    """An interior minimum of the curve.

    Attributes
    ----------
    kind : str
        "local" or "distortional": which has the larger share. (A rigid section's load only falls with
        length, so an interior minimum is always a change of the section's shape.)
    """

    half_wavelength_mm: float
    factor: float
    kind: str
    participation: np.ndarray
    shape: np.ndarray


@dataclass(frozen=True)
class Curve:
    """Critical load factor against half-wavelength.

    Attributes
    ----------
    points : tuple of Modes
        By increasing half-wavelength.
    participation : (n, 5) float array
        Shares of MOTIONS in the lowest mode.
    minima : tuple of Minimum
        Interior minima of the lowest factor; empty for many outlines.
    """

    section: Section
    points: tuple[Modes, ...]
    participation: np.ndarray
    minima: tuple[Minimum, ...]

    @property
    def half_wavelengths_mm(self) -> np.ndarray:
        """(n,) float array."""
        return np.array([point.half_wavelength_mm for point in self.points])

    @property
    def factors(self) -> np.ndarray:
        """Lowest factor at each half-wavelength, (n,)."""
        return np.array([point.factors[0] for point in self.points])

    @property
    def stresses_MPa(self) -> np.ndarray:
        """Greatest compressive stress when buckling begins, (n,)."""
        return self.factors * self.section.peak_MPa

    def lowest(self, kind: str) -> Minimum | None:
        """The lowest interior minimum of a kind, or None where that limit state does not apply."""
        found = [minimum for minimum in self.minima if minimum.kind == kind]
        return min(found, key=lambda minimum: minimum.factor, default=None)


def wall_thickness(polygon: Polygon) -> float:
    """Mean wall of an outline: 2 A / perimeter, mm (the wall itself where it is thin and even)."""
    return 2 * polygon.area / polygon.length


def default_elements(polygon: Polygon) -> int:
    """Triangles that resolve the bending of walls: areas below ~0.3 wall², from 300 to 1200."""
    return int(np.clip(polygon.area / (0.3 * wall_thickness(polygon) ** 2), 300, 1200))


def section_under(
    polygon: Polygon,
    elastic: Elastic,
    stress: LinearStress,
    elements: int | None = None,
    held: Callable[[np.ndarray], np.ndarray] | None = None,
) -> Section:
    """Mesh and assemble an outline, once for all half-wavelengths.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    elastic : Elastic
    stress : LinearStress
        At load factor 1, about the centroid.
    elements : int, optional
        Triangles wanted; :func:`default_elements` otherwise.
    held : callable, optional
        From the nodes' places (n, 2), mm from the centroid, to what is held there along the whole member:
        (n, 3) bool, for movement along x, y and z. Nothing by default.
    """
    mesh = mesh_polygon(polygon, elements or default_elements(polygon))
    area = area_moments(polygon)
    mesh = centred(mesh, (area.x_mm, area.y_mm))
    return Section(
        polygon, assemble(mesh, elastic, stress, held and held(mesh.points)), projector(mesh, area)
    )


@carries("timoshenko-gere-1961", caveats=("halfwave-cannot-see", "halfwave-mode-names"))
def half_wavelength_curve(
    section: Section,
    strength_MPa: float | None = None,
    length_mm: float | None = None,
    modes: int = 3,
    fewest: int = FEWEST_POINTS,
) -> Curve:
    """Critical load factors over half-wavelengths that it chooses itself (12–20 of them by default).

    Starts from an even ladder on a logarithmic scale, closes in on minima with the exact slope of the curve,
    and puts the remaining points where the curve is least known.

    Parameters
    ----------
    section : Section
    strength_MPa : float, optional
        Crushing strength of the material: the short end reaches it. E / 20 otherwise.
    length_mm : float, optional
        A member's length that the long end must reach.
    modes : int
        How many modes at each half-wavelength.
    fewest : int
        Half-wavelengths it looks at even where the curve is well known.
    """
    if not section.peak_MPa > 0:
        raise InputError("no part of the section is compressed", todo="Give a stress that can buckle it.")

    def solve(half_wavelength):
        return buckling_modes(section.assembly, half_wavelength, modes)

    elastic = section.assembly.elastic
    short = _short_end(section, solve, strength_MPa or elastic.along_MPa / 20)
    long = _long_end(section, solve, length_mm)
    points = {point.half_wavelength_mm: point for point in (*short, *long)}
    lo, hi = short[-1].half_wavelength_mm, long[-1].half_wavelength_mm
    for half_wavelength in np.geomspace(lo, hi, 8)[1:-1]:
        if min(abs(np.log(half_wavelength / known)) for known in points) > 0.15:
            points[half_wavelength] = solve(half_wavelength)
    while len(points) < MOST_POINTS:
        chosen = _next_half_wavelength(sorted(points.values(), key=_half_wavelength), len(points) >= fewest)
        if chosen is None:
            break
        points[chosen] = solve(chosen)
    return _described(section, tuple(sorted(points.values(), key=_half_wavelength)))


def _half_wavelength(point: Modes) -> float:
    return point.half_wavelength_mm


def _short_end(section: Section, solve, strength_MPa: float) -> list[Modes]:
    """From four walls down until the material would crush first (at least half a wall)."""
    found = [solve(min(4 * wall_thickness(section.polygon), section.size_mm))]
    while found[-1].factors[0] * section.peak_MPa < strength_MPa and len(found) < 4:
        found.append(solve(found[-1].half_wavelength_mm / 2))
    return found


def _long_end(section: Section, solve, length_mm: float | None) -> list[Modes]:
    """From ten sizes (or the member's length) up until the section moves as a rigid one."""
    found = [solve(max(10 * section.size_mm, length_mm or 0))]
    while _shares(section, found[-1])[:3].sum() < 0.98 and len(found) < 4:
        found.append(solve(found[-1].half_wavelength_mm * 3))
    return found


def _shares(section: Section, point: Modes, mode: int = 0) -> np.ndarray:
    return participation(section.projector, point.shapes[mode], np.pi / point.half_wavelength_mm)


def _next_half_wavelength(points: list[Modes], enough: bool) -> float | None:
    """Where to look next: into a minimum not yet met, else into the least known interval."""
    place = np.log([point.half_wavelength_mm for point in points])
    height = np.log([point.factors[0] for point in points])
    slope = np.array([point.slopes[0] for point in points])
    step, rise = np.diff(place), np.diff(height)
    falls_then_rises = (slope[:-1] < -FLAT) & (slope[1:] > FLAT) & (step > 1e-3)
    for i in np.flatnonzero(falls_then_rises):
        return float(np.exp(place[i] + step[i] * _lowest_of_cubic(step[i], rise[i], slope[i], slope[i + 1])))
    doubt = abs(rise - step * (slope[:-1] + slope[1:]) / 2) + 0.1 * step * abs(np.diff(slope))
    worst = int(np.argmax(doubt))
    if enough and doubt[worst] < 0.05:
        return None
    return float(np.exp(place[worst] + step[worst] / 2))


def _lowest_of_cubic(step: float, rise: float, first: float, last: float) -> float:
    """Where in 0 … 1 the cubic through two points with slopes first < 0 < last is lowest."""
    a, b = first * step, last * step
    # d/dt of the Hermite cubic: quadratic with root between 0 and 1.
    square, linear = 3 * (a + b - 2 * rise), 2 * (3 * rise - 2 * a - b)
    roots = np.roots([square, linear, a]) if abs(square) > 1e-12 else np.array([-a / linear])
    inside = [float(root.real) for root in roots if abs(root.imag) < 1e-9 and 0 < root.real < 1]
    return float(np.clip(inside[0] if inside else 0.5, 0.05, 0.95))


def _described(section: Section, points: tuple[Modes, ...]) -> Curve:
    shares = np.array([_shares(section, point) for point in points])
    slopes = np.array([point.slopes[0] for point in points])
    minima = []
    for i in np.flatnonzero((slopes[:-1] < 0) & (slopes[1:] >= 0)):
        lowest = i if points[i].factors[0] < points[i + 1].factors[0] else i + 1
        if 0 < lowest < len(points) - 1:
            kind = MOTIONS[3 + int(np.argmax(shares[lowest, 3:]))]
            point = points[lowest]
            minima.append(
                Minimum(
                    point.half_wavelength_mm, float(point.factors[0]), kind, shares[lowest], point.shapes[0]
                )
            )
    return Curve(section, points, shares, tuple(minima))


@carries("timoshenko-gere-1961", caveats=("halfwave-cannot-see",))
def member_factor(curve: Curve, length_mm: float) -> tuple[float, Modes]:
    """Lowest load factor of a member of a given length, over half-wavelengths length / n.

    Parameters
    ----------
    curve : Curve
    length_mm : float
        Between simple supports that are free to warp.

    Returns
    -------
    factor : float
    modes : Modes
        At the governing half-wavelength.
    """
    numbers = {1}
    for minimum in curve.minima:
        waves = length_mm / minimum.half_wavelength_mm
        numbers |= {max(1, int(waves)), int(waves) + 1}
    found = [buckling_modes(curve.section.assembly, length_mm / n, 1) for n in sorted(numbers)]
    best = min(found, key=lambda modes: modes.factors[0])
    return float(best.factors[0]), best
