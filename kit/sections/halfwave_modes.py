"""What kind of buckling a mode is: the share of each motion in it.

Bending of the rigid section is recognised by the strains that belong to it, not by the mean movement alone,
which a locally buckled wall also has: movement along x is what bends the member (∫ W x dA) and what shears it
(∫ γxz dA). Rotation is the projection of what remains on a rotation about the shear centre. What they leave
of the movement in the section's plane is the change of the section's shape. Shares are of the squared
movement over the area.

A change of shape is *distortional* as far as the walls stretch along the member, and *local* as far as they
only bend. A wall that only bends has W = −ζ ∂(…)/∂z through its thickness t, so that ∫W² = ∫ |∇W|² t²/12;
stretching adds to ∫W² and hardly to the right side. t is the outline's mean wall, 2 A / perimeter. This
division is the kit's own (common practice has none for any outline); it names modes and enters no load.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from kit.sections.area import AreaMoments
from kit.sections.halfwave_assembly import element_fields
from kit.sections.mesh import Mesh
from kit.sections.shear import shear_centre
from kit.sections.torsion import torsion

MOTIONS = ("flexural_x", "flexural_y", "torsional", "distortional", "local")


@dataclass(frozen=True)
class Projector:
    """Everything about a section that the shares need, computed once.

    Attributes
    ----------
    points : (nodes, 2) float array, mm
        From the centroid.
    mass, gradient : (nodes, nodes) sparse arrays
        ∫ N N dA and ∫ ∇N·∇N dA.
    mean_slope : (2, nodes) float array
        ∫ ∂N/∂x dA and ∫ ∂N/∂y dA, mm.
    area : AreaMoments
    shear_centre_mm : (2,) float array
    warping_mm2 : (nodes,) float array
        Saint-Venant's warping function about the shear centre, mean zero.
    torsion_constant_mm4 : float
    """

    points: np.ndarray
    mass: sp.csr_array
    gradient: sp.csr_array
    mean_slope: np.ndarray
    area: AreaMoments
    shear_centre_mm: np.ndarray
    warping_mm2: np.ndarray
    torsion_constant_mm4: float

    @property
    def polar_mm4(self) -> float:
        """Polar second moment about the shear centre."""
        area = self.area
        return float(area.Ix + area.Iy + area.area_mm2 * (self.shear_centre_mm @ self.shear_centre_mm))

    @property
    def warping_constant_mm6(self) -> float:
        """Iw = ∫ ω² dA about the shear centre."""
        return float(self.warping_mm2 @ (self.mass @ self.warping_mm2))


def projector(mesh: Mesh, area: AreaMoments) -> Projector:
    """Prepare the split of modes of a section.

    Parameters
    ----------
    mesh : Mesh
        Measured from the centroid.
    area : AreaMoments
        Of its outline.
    """
    values, gradients, weights, _ = element_fields(mesh)
    rows, columns = np.repeat(mesh.triangles, 6, axis=1), np.tile(mesh.triangles, (1, 6))
    nodes = len(mesh.points)

    def summed(elements):
        return sp.csr_array((elements.ravel(), (rows.ravel(), columns.ravel())), shape=(nodes, nodes))

    mass = summed(np.einsum("mq,qi,qj->mij", weights, values, values))
    gradient = summed(np.einsum("mq,mqix,mqjx->mij", weights, gradients, gradients))
    mean_slope = np.zeros((2, nodes))
    for slope, direction in zip(mean_slope, (0, 1), strict=True):
        np.add.at(slope, mesh.triangles, np.einsum("mq,mqi->mi", weights, gradients[..., direction]))
    solved = torsion(mesh)
    xs, ys = shear_centre(solved, area)
    warping = solved.warping - ys * mesh.points[:, 0] + xs * mesh.points[:, 1]
    warping = warping - (mass @ warping).sum() / area.area_mm2
    return Projector(
        mesh.points, mass, gradient, mean_slope, area, np.array([xs, ys]), warping, solved.J_high
    )


def rigid_parts(section: Projector, shape: np.ndarray, k: float) -> np.ndarray:
    """Movement along x and y of the shear centre, and rotation, that the strains of a mode amount to.

    Parameters
    ----------
    section : Projector
    shape : (nodes, 3) float array
        U, V, W.
    k : float
        π / half-wavelength, 1/mm.
    """
    x, y = section.points.T
    area, xs, ys = section.area, *section.shear_centre_mm
    in_x, in_y, along = (section.mass @ shape[:, i] for i in range(3))
    bent = np.linalg.solve([[area.Iy, area.Ixy], [area.Ixy, area.Ix]], -np.array([x @ along, y @ along])) / k
    slopes = section.mean_slope @ shape[:, 2]
    sheared = (slopes / k + np.array([in_x.sum(), in_y.sum()])) / area.area_mm2
    parts = bent + sheared
    # Bending moves the shear centre as it moves the centroid; only what remains can be rotation.
    turning = (x - xs) @ (in_y - parts[1] * section.mass.sum(axis=0)) - (y - ys) @ (
        in_x - parts[0] * section.mass.sum(axis=0)
    )
    return np.array([*parts, turning / section.polar_mm4])


def participation(section: Projector, shape: np.ndarray, k: float) -> np.ndarray:
    """Shares of the motions in one mode, in the order of MOTIONS; they add to 1.

    Parameters
    ----------
    section : Projector
    shape : (nodes, 3) float array
        U, V, W.
    k : float
        π / half-wavelength, 1/mm.
    """
    x, y = section.points.T
    xs, ys = section.shear_centre_mm
    area = section.area.area_mm2
    parts = rigid_parts(section, shape, k)
    rest = shape[:, :2] - parts[:2] - parts[2] * np.column_stack([ys - y, x - xs])
    changed = float(np.sum(rest * (section.mass @ rest)))
    squares = np.array([parts[1] ** 2 * area, parts[0] ** 2 * area, parts[2] ** 2 * section.polar_mm4])
    local = _bending_share(section, shape[:, 2])
    shares = np.array([*squares, changed * (1 - local), changed * local])
    return shares / shares.sum()


def _bending_share(section: Projector, along: np.ndarray) -> float:
    """Share of wall bending in the longitudinal movement, less that of plane sections and of warping."""
    plane = np.column_stack([np.ones(len(along)), section.points, section.warping_mm2])
    plane /= np.maximum(abs(plane).max(axis=0), 1e-300)
    carried = section.mass @ plane
    rest = along - plane @ np.linalg.lstsq(plane.T @ carried, carried.T @ along, rcond=1e-12)[0]
    wall = 2 * section.area.area_mm2 / section.area.perimeter_mm
    bent = rest @ (section.gradient @ rest) * wall**2 / 12
    return min(1.0, bent / max(rest @ (section.mass @ rest), 1e-300))
