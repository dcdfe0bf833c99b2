"""What is kept of a half-wavelength curve: plain numbers that a file can hold and a chart can draw."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
from shapely import LinearRing, Polygon

from kit.sections.halfwave import Curve, half_wavelength_curve, section_under, wall_thickness
from kit.sections.halfwave_modes import MOTIONS
from kit.sections.halfwave_stress import LinearStress, isotropic

KINDS = ("local", "distortional")
# Chords this much of the mean wall apart from the outline move critical loads by 0.1 to 0.5 %.
PLAIN = 0.01
MODES, FEWEST = 1, 9
MOVE = 0.22  # greatest movement drawn ÷ half size of the section
DRAWN = 0.002  # half sizes; a tenth of a pixel

Rings = tuple[tuple[tuple[float, float], ...], ...]


@dataclass(frozen=True)
class Shape:
    """A section moved by a buckling mode.

    Attributes
    ----------
    title : str
        "local", "distortional", or one of MOTIONS for the long end.
    half_wavelength_mm, stress_MPa : float
        Where, and the greatest compressive stress at which, it buckles so.
    rings : rings of (x, y)
        In half sizes of the section from the middle of its box, movements enlarged.
    """

    title: str
    half_wavelength_mm: float
    stress_MPa: float
    rings: Rings


@dataclass(frozen=True)
class CurveRecord:
    """A half-wavelength curve in plain numbers.

    Attributes
    ----------
    depth_mm : float
    half_wavelengths_mm : n numbers
    stresses_MPa : n × m numbers
        Greatest compressive stress when buckling begins, lowest mode first; infinite where there is none.
    shares : n × 5 numbers
        Of MOTIONS in the lowest mode.
    shapes : tuple of Shape
        Those at the interior minima, then that of the long end.
    rest : rings of (x, y)
        The section at rest.
    """

    depth_mm: float
    half_wavelengths_mm: tuple[float, ...]
    stresses_MPa: tuple[tuple[float, ...], ...]
    shares: tuple[tuple[float, ...], ...]
    shapes: tuple[Shape, ...]
    rest: Rings

    @property
    def minima(self) -> tuple[Shape, ...]:
        """Shapes at the interior minima; empty for many outlines."""
        return self.shapes[:-1]

    def lowest(self, kind: str) -> float:
        """Critical stress of a kind's lowest interior minimum, MPa; infinite where it does not apply."""
        return min((one.stress_MPa for one in self.minima if one.title == kind), default=np.inf)

    @property
    def lowest_mode(self) -> tuple[float, ...]:
        """Critical stress of the lowest mode at each half-wavelength, MPa."""
        return tuple(row[0] for row in self.stresses_MPa)

    def times(self, factor: float) -> CurveRecord:
        """The record with all stresses times a factor: of a material that is so much stiffer."""
        shapes = tuple(
            Shape(s.title, s.half_wavelength_mm, s.stress_MPa * factor, s.rings) for s in self.shapes
        )
        stresses = tuple(tuple(value * factor for value in row) for row in self.stresses_MPa)
        return CurveRecord(self.depth_mm, self.half_wavelengths_mm, stresses, self.shares, shapes, self.rest)

    def plain(self) -> dict:
        """Lists and numbers for JSON."""
        return asdict(self)


def from_plain(record: dict) -> CurveRecord:
    """The record that :meth:`CurveRecord.plain` wrote."""
    rows = {name: tuple(map(tuple, record[name])) for name in ("stresses_MPa", "shares")}
    shapes = tuple(Shape(**one | {"rings": _rings(one["rings"])}) for one in record["shapes"])
    return CurveRecord(
        **record
        | rows
        | {
            "half_wavelengths_mm": tuple(record["half_wavelengths_mm"]),
            "shapes": shapes,
            "rest": _rings(record["rest"]),
        }
    )


def _rings(rings) -> Rings:
    return tuple(tuple((x, y) for x, y in ring) for ring in rings)


def moved_rings(curve: Curve, shape: np.ndarray, move: float = MOVE) -> Rings:
    """Rings of a section moved by a mode's shape, in half sizes from the middle of its box.

    Parameters
    ----------
    curve : Curve
    shape : (nodes, 3) float array
        Greatest movement in plane 1, as :class:`~kit.sections.halfwave_solve.Modes` has it.
    move : float
        Greatest movement ÷ half size of the section; 0 for the section at rest.
    """
    mesh = curve.section.assembly.mesh
    half = curve.section.size_mm / 2
    middle = (mesh.points.min(axis=0) + mesh.points.max(axis=0)) / 2
    moved = (mesh.points - middle) / half + move * shape[:, :2]
    return tuple(_drawn(moved[loop[:, [0, 2]].ravel()]) for loop in mesh.loops)


def _drawn(ring: np.ndarray) -> tuple[tuple[float, float], ...]:
    """A ring without the points that no drawing shows."""
    kept = np.asarray(LinearRing(ring).simplify(DRAWN).coords)[:-1]
    return tuple(map(tuple, np.round(kept, 4).tolist()))


def record_of(curve: Curve) -> CurveRecord:
    """A curve in plain numbers, with the shapes at its minima and at its long end."""
    peak = curve.section.peak_MPa
    shapes = [
        Shape(m.kind, float(m.half_wavelength_mm), float(m.factor * peak), moved_rings(curve, m.shape))
        for m in curve.minima
    ]
    last = curve.points[-1]
    motion = MOTIONS[int(np.argmax(curve.participation[-1]))]
    end = float(last.half_wavelength_mm), float(last.factors[0] * peak)
    shapes.append(Shape(motion, *end, moved_rings(curve, last.shapes[0])))
    return CurveRecord(
        float(curve.section.depth_mm),
        tuple(curve.half_wavelengths_mm.tolist()),
        tuple(tuple((point.factors * peak).tolist()) for point in curve.points),
        tuple(map(tuple, np.round(curve.participation, 9).tolist())),
        tuple(shapes),
        moved_rings(curve, last.shapes[0], 0.0),
    )


def strain_record(polygon: Polygon, poissons_ratio: float, stress: LinearStress) -> CurveRecord:
    """The curve of an outline for Young's modulus 1: its stresses are critical strains.

    They belong to the outline, Poisson's ratio and the distribution of the stress alone, not to its size.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As it stands.
    poissons_ratio : float
        From 0 to 0.49.
    stress : LinearStress
        Of any magnitude.

    Raises
    ------
    InputError
        If nothing is compressed, or for another Poisson's ratio.
    Unusable
        If the outline cannot be meshed or the iteration does not converge.
    """
    plain = polygon.simplify(PLAIN * wall_thickness(polygon))
    section = section_under(plain, isotropic(1.0, poissons_ratio), stress * (1.0 / stress.extremes(plain)[0]))
    return record_of(half_wavelength_curve(section, modes=MODES, fewest=FEWEST))
