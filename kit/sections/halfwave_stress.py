"""What the half-wavelength analysis is given: elastic constants, and the longitudinal stress at load 1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from kit.errors import InputError

LARGEST_POISSONS_RATIO = 0.49


@dataclass(frozen=True)
class Elastic:
    """Elastic constants of a material that is isotropic, or isotropic across the member's axis.

    Attributes
    ----------
    stiffness_MPa : tuple of 6 tuples of 6 floats
        Stress over strain, in the order xx, yy, zz, xy, xz, yz (shear strains as angles).
    along_MPa : float
        Young's modulus along the member.
    shear_MPa : float
        Shear modulus of planes that contain the member's axis (torsion, bending shear).
    """

    stiffness_MPa: tuple[tuple[float, ...], ...]
    along_MPa: float
    shear_MPa: float

    @property
    def matrix(self) -> np.ndarray:
        """(6, 6) float array, MPa."""
        return np.array(self.stiffness_MPa)


def isotropic(youngs_modulus_MPa: float, poissons_ratio: float) -> Elastic:
    """Elastic constants of an isotropic material.

    Parameters
    ----------
    youngs_modulus_MPa : float
        Greater than 0.
    poissons_ratio : float
        From 0 to 0.49. Above, displacements alone cannot describe a nearly incompressible material
        (volumetric locking), and results would be too stiff, which is unsafe.

    Raises
    ------
    InputError
        Outside these ranges.
    """
    shear = youngs_modulus_MPa / 2 / (1 + poissons_ratio)
    return transversely_isotropic(
        youngs_modulus_MPa, youngs_modulus_MPa, poissons_ratio, poissons_ratio, shear
    )


def transversely_isotropic(
    along_MPa: float, across_MPa: float, poisson_along: float, poisson_across: float, shear_MPa: float
) -> Elastic:
    """Elastic constants of a material with one axis of symmetry, the member's own.

    Parameters
    ----------
    along_MPa, across_MPa : float
        Young's moduli along the member and across it.
    poisson_along : float
        Strain across ÷ strain along, of a pull along the member.
    poisson_across : float
        Poisson's ratio in the plane of the section.
    shear_MPa : float
        Shear modulus of planes that contain the axis.

    Raises
    ------
    InputError
        If a modulus is not positive, a Poisson's ratio lies outside 0 … 0.49, or the constants
        contradict each other (strain energy not positive).
    """
    if not min(along_MPa, across_MPa, shear_MPa) > 0 or not np.isfinite([along_MPa, across_MPa]).all():
        raise InputError(
            f"elastic moduli {along_MPa} / {across_MPa} / {shear_MPa} MPa",
            todo="Moduli are finite numbers greater than 0.",
        )
    for ratio in (poisson_along, poisson_across):
        if not 0 <= ratio <= LARGEST_POISSONS_RATIO:
            raise InputError(
                f"Poisson's ratio {ratio} in the half-wavelength analysis",
                todo=f"It is computed for ratios from 0 to {LARGEST_POISSONS_RATIO}; nearer to 0.5 it locks.",
            )
    compliance = np.diag([1 / across_MPa, 1 / across_MPa, 1 / along_MPa])
    compliance[0, 1] = compliance[1, 0] = -poisson_across / across_MPa
    compliance[2, :2] = compliance[:2, 2] = -poisson_along / along_MPa
    if np.linalg.eigvalsh(compliance).min() <= 0:
        raise InputError(
            f"elastic constants E {along_MPa} / {across_MPa} MPa, Poisson's ratios {poisson_along} / "
            f"{poisson_across} contradict each other",
            todo="Strain energy must be positive: lower the Poisson's ratio along the member.",
        )
    stiffness = np.diag([0, 0, 0, across_MPa / 2 / (1 + poisson_across), shear_MPa, shear_MPa])
    stiffness[:3, :3] = np.linalg.inv(compliance)
    return Elastic(tuple(map(tuple, stiffness.tolist())), float(along_MPa), float(shear_MPa))


@dataclass(frozen=True)
class LinearStress:
    """Longitudinal stress that varies linearly over the section: tension positive.

    Attributes
    ----------
    axial_MPa : float
        At the centroid.
    per_x_MPa, per_y_MPa : float
        Change per mm to the right and per mm upwards.
    """

    axial_MPa: float
    per_x_MPa: float = 0.0
    per_y_MPa: float = 0.0

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Stress (MPa) at points (mm from the centroid), of their shape."""
        return self.axial_MPa + self.per_x_MPa * np.asarray(x) + self.per_y_MPa * np.asarray(y)

    def extremes(self, polygon: Polygon) -> tuple[float, float]:
        """Greatest compression and greatest tension (MPa, both ≥ 0) in the polygon, wherever it lies."""
        corners = np.asarray(polygon.exterior.coords) - np.asarray(polygon.centroid.coords)[0]
        stress = self.at(*corners.T)
        return max(0.0, float(-stress.min())), max(0.0, float(stress.max()))

    def __add__(self, other: LinearStress) -> LinearStress:
        return LinearStress(
            self.axial_MPa + other.axial_MPa,
            self.per_x_MPa + other.per_x_MPa,
            self.per_y_MPa + other.per_y_MPa,
        )

    def __mul__(self, factor: float) -> LinearStress:
        return LinearStress(self.axial_MPa * factor, self.per_x_MPa * factor, self.per_y_MPa * factor)


def compression_stress(force_N: float, area_mm2: float) -> LinearStress:
    """Stress of a central compressive force: −N / A."""
    return LinearStress(-force_N / area_mm2)


def bending_stress(
    moment_x_Nmm: float, moment_y_Nmm: float, Ix_mm4: float, Iy_mm4: float, Ixy_mm4: float
) -> LinearStress:
    """Stress of bending moments in free (unsymmetric) bending.

    Parameters
    ----------
    moment_x_Nmm : float
        Positive compresses the top (sagging: loads act along −y).
    moment_y_Nmm : float
        Positive compresses the right side.
    Ix_mm4, Iy_mm4, Ixy_mm4 : float
        About centroidal axes.

    Notes
    -----
    σ = −[(Mx Iy − My Ixy) y + (My Ix − Mx Ixy) x] / (Ix Iy − Ixy²), e.g. Pilkey (2002), ch. 1.
    """
    determinant = Ix_mm4 * Iy_mm4 - Ixy_mm4**2
    return LinearStress(
        0.0,
        -(moment_y_Nmm * Ix_mm4 - moment_x_Nmm * Ixy_mm4) / determinant,
        -(moment_x_Nmm * Iy_mm4 - moment_y_Nmm * Ixy_mm4) / determinant,
    )


def held_bending_stress(moment_x_Nmm: float, Ix_mm4: float) -> LinearStress:
    """Stress of a sagging moment where the neutral axis is held horizontal: −M y / Ix."""
    return LinearStress(0.0, 0.0, -moment_x_Nmm / Ix_mm4)


def eccentric_stress(force_N: float, x_mm: float, y_mm: float, section: tuple[float, ...]) -> LinearStress:
    """Stress of a compressive force at a point of the section.

    Parameters
    ----------
    force_N : float
        Compression positive.
    x_mm, y_mm : float
        Where it acts, from the centroid.
    section : tuple of 4 floats
        area_mm2, Ix_mm4, Iy_mm4, Ixy_mm4.
    """
    area, Ix, Iy, Ixy = section
    return compression_stress(force_N, area) + bending_stress(force_N * y_mm, force_N * x_mm, Ix, Iy, Ixy)
