"""Matrices of the half-wavelength analysis: a section's mesh times sine and cosine along the member.

Displacements are u = U(x, y) sin kz, v = V(x, y) sin kz, w = W(x, y) cos kz with k = π/a: simple supports
at distance a, free to warp. All integrals along z are a/2, so that only the section remains:
elastic stiffness K(k) = K₀ + k K₁ + k² K₂ and geometric stiffness k² S, S = ∫ σ (U² + V² + W²) dA.

Why W² stands in S. It is the second-order part of Green's strain, ½(u,z² + v,z² + w,z²), whole: the same
as three-dimensional linear buckling of the solid. Leaving it out changes critical stresses by their own
ratio to E (for a strut: Euler's load ÷ (1 + k²r²)), which is nothing where the material still is elastic,
and on the safe side.

Long half-wavelengths. For small k the energy of bending is k⁴ E I, but a moving section makes terms of
the size of E cancel. So the three motions of the rigid section are coordinates of their own, with the
longitudinal displacement of plane sections (W = −k x, −k y), and their strains are written exactly:
k² x and k² y along the member, k (−y, x) in shear. Nothing cancels, and Euler's load comes out at any length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.linalg import null_space, qr
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from kit.sections.halfwave_stress import Elastic, LinearStress
from kit.sections.mesh import Mesh

# Strains of the rigid motions grow with these powers of k: two translations (bending) and rotation.
RIGID_POWERS = np.array([2, 2, 1])


@dataclass(frozen=True)
class Assembly:
    """Matrices of one section under one stress, in the free coordinates.

    Attributes
    ----------
    mesh : Mesh
        Its points are measured from the centroid.
    stiffness : tuple of three (n, n) sparse arrays
        K₀, K₁, K₂ with the same entries, zeros included.
    geometric : (3·nodes, 3·nodes) sparse array
        S, over all displacements node by node (u, v, w).
    borders : (2, n, 3) float array
        Coupling with the rigid motions: b₀ + k b₁, times k to RIGID_POWERS.
    core : (3, 3) float array
        Stiffness of the rigid motions alone, times k to the sums of RIGID_POWERS.
    motions : (3, r) float array
        The rigid motions that held nodes leave free, as combinations: all three without held nodes.
    free : (n,) int array
        Which displacements are coordinates.
    """

    mesh: Mesh
    elastic: Elastic
    stress: LinearStress
    stiffness: tuple[sp.csc_array, ...]
    geometric: sp.csr_array
    borders: np.ndarray
    core: np.ndarray
    motions: np.ndarray
    free: np.ndarray

    @property
    def compressed(self) -> bool:
        """Whether any part of the section is compressed at a positive load."""
        stress = self.stress.at(*self.mesh.points.T)
        return bool(stress.min() < -1e-12 * abs(stress).max())

    def stiffness_at(self, k: float) -> sp.csc_array:
        """K₀ + k K₁ + k² K₂."""
        constant, linear, square = self.stiffness
        values = constant.data + k * linear.data + k**2 * square.data
        return sp.csc_array((values, constant.indices, constant.indptr), shape=constant.shape)

    def rigid(self, k: float) -> np.ndarray:
        """Displacements of the rigid motions that are free, (3·nodes, r)."""
        return rigid_motions(self.mesh.points, k) @ self.motions


def rigid_motions(points: np.ndarray, k: float) -> np.ndarray:
    """Displacements of the rigid motions, (3·nodes, 3): along x, along y, about the centroid."""
    x, y = points.T
    motions = np.zeros((len(x), 3, 3))
    motions[:, 0, 0] = motions[:, 1, 1] = 1
    motions[:, 2, 0], motions[:, 2, 1] = -k * x, -k * y
    motions[:, 0, 2], motions[:, 1, 2] = -y, x
    return motions.reshape(-1, 3)


def shape_functions(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Quadratic shape functions of a triangle and their derivatives.

    Parameters
    ----------
    points : (2, q) float array
        In the reference triangle (0, 0), (1, 0), (0, 1).

    Returns
    -------
    values : (6, q) float array
        In the node order of :class:`~kit.sections.mesh.Mesh`.
    slopes : (6, 2, q) float array
    """
    share = np.array([1 - points[0] - points[1], points[0], points[1]])
    slope = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
    sides = [(0, 1), (1, 2), (2, 0)]
    values = [s * (2 * s - 1) for s in share] + [4 * share[i] * share[j] for i, j in sides]
    slopes = [np.outer(slope[i], 4 * share[i] - 1) for i in range(3)]
    slopes += [4 * (np.outer(slope[i], share[j]) + np.outer(slope[j], share[i])) for i, j in sides]
    return np.array(values), np.array(slopes)


def element_fields(mesh: Mesh) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Shape functions at the integration points of every element (exact to degree 5).

    Returns
    -------
    values : (q, 6), gradients : (m, q, 6, 2), weights : (m, q) mm2, places : (m, q, 2) mm
    """
    points, weights = get_quadrature(RefTri, 5)
    values, slopes = shape_functions(points)
    corners = mesh.points[mesh.triangles[:, :3]]
    jacobian = np.stack([corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]], axis=2)
    gradients = np.einsum("mrx,irq->mqix", np.linalg.inv(jacobian), slopes)
    places = np.einsum("iq,mix->mqx", values, mesh.points[mesh.triangles])
    return values.T, gradients, np.linalg.det(jacobian)[:, None] * weights, places


def strain_operators(values: np.ndarray, gradients: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Strains (xx, yy, zz, xy, xz, yz) of the 18 element displacements: B₀ + k B₁, each (m, q, 6, 18)."""
    shape = (*gradients.shape[:2], 6, 18)
    constant, linear = np.zeros(shape), np.zeros(shape)
    in_x, in_y = gradients[..., 0], gradients[..., 1]
    constant[:, :, 0, 0::3] = constant[:, :, 3, 1::3] = constant[:, :, 4, 2::3] = in_x
    constant[:, :, 1, 1::3] = constant[:, :, 3, 0::3] = constant[:, :, 5, 2::3] = in_y
    linear[:, :, 2, 2::3] = -values
    linear[:, :, 4, 0::3] = linear[:, :, 5, 1::3] = values
    return constant, linear


def rigid_strains(places: np.ndarray) -> np.ndarray:
    """Strains of the rigid motions without their powers of k, (m, q, 6, 3)."""
    strains = np.zeros((*places.shape[:2], 6, 3))
    strains[:, :, 2, 0], strains[:, :, 2, 1] = places[..., 0], places[..., 1]
    strains[:, :, 4, 2], strains[:, :, 5, 2] = -places[..., 1], places[..., 0]
    return strains


def _paired(left: np.ndarray, right: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Element integrals ∫ leftᵀ right dA."""
    m = len(left)
    weighted = (left * weights[:, :, None, None]).reshape(m, -1, left.shape[-1])
    return weighted.transpose(0, 2, 1) @ right.reshape(m, -1, right.shape[-1])


def free_motions(points: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Combinations (3, r) of the rigid motions that move no held displacement."""
    held = rigid_motions(points, 1 / np.ptp(points))[fixed]
    if not len(held):
        return np.eye(3)
    # Rotation is measured by the movement it makes at the section's edge, to weigh as the others do.
    scale = np.array([1, 1, 1 / np.ptp(points)])
    return scale[:, None] * null_space(held * scale, rcond=1e-9)


def _replaced(points: np.ndarray, fixed: np.ndarray, motions: np.ndarray) -> np.ndarray:
    """Displacements in the section's plane that the free rigid motions replace, one for each."""
    candidates = np.flatnonzero(~fixed & (np.arange(fixed.size) % 3 < 2))
    movement = rigid_motions(points, 0.0)[candidates] @ motions
    movement /= np.maximum(abs(movement).max(axis=0), 1e-300)
    return candidates[qr(movement.T, pivoting=True, mode="economic")[2][: motions.shape[1]]]


def centred(mesh: Mesh, centroid: tuple[float, float]) -> Mesh:
    """The mesh with its points measured from the centroid."""
    return Mesh(mesh.points - np.asarray(centroid), mesh.triangles)


def assemble(mesh: Mesh, elastic: Elastic, stress: LinearStress, held: np.ndarray | None = None) -> Assembly:
    """Assemble the matrices of a section once, for all half-wavelengths.

    Parameters
    ----------
    mesh : Mesh
        Measured from the centroid (see :func:`centred`).
    elastic : Elastic
    stress : LinearStress
        At load factor 1; tension positive.
    held : (nodes, 3) bool array, optional
        Displacements u, v, w that are held along the whole member; none by default.
    """
    values, gradients, weights, places = element_fields(mesh)
    operators = strain_operators(values, gradients)
    stresses = [elastic.matrix @ operator for operator in operators]
    mixed = _paired(operators[0], stresses[1], weights)
    elements = (
        _paired(operators[0], stresses[0], weights),
        mixed + mixed.transpose(0, 2, 1),
        _paired(operators[1], stresses[1], weights),
    )
    fixed = np.zeros(3 * len(mesh.points), dtype=bool) if held is None else np.array(held, bool).ravel()
    motions = free_motions(mesh.points, fixed)
    fixed[_replaced(mesh.points, fixed, motions)] = True
    free = np.flatnonzero(~fixed)
    number = np.full(fixed.size, -1)
    number[free] = np.arange(len(free))
    displacements = (3 * mesh.triangles[:, :, None] + np.arange(3)).reshape(len(mesh.triangles), 18)
    core, borders = _rigid_coupling(mesh, elastic, stresses, weights, places)
    return Assembly(
        mesh,
        elastic,
        stress,
        tuple(_summed(matrix, number[displacements], len(free)) for matrix in elements),
        _geometric(mesh, stress.at(places[..., 0], places[..., 1]) * weights, values),
        borders[:, free],
        core,
        motions,
        free,
    )


def _rigid_coupling(
    mesh: Mesh, elastic: Elastic, stresses: list[np.ndarray], weights: np.ndarray, places: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness of the rigid motions (3, 3), and their coupling with all displacements (2, 3·nodes, 3)."""
    strains = rigid_strains(places)
    displacements = (3 * mesh.triangles[:, :, None] + np.arange(3)).reshape(len(mesh.triangles), 18)
    borders = np.zeros((2, 3 * len(mesh.points), 3))
    for border, stressed in zip(borders, stresses, strict=True):
        np.add.at(border, displacements, _paired(stressed, strains, weights))
    return _paired(strains, elastic.matrix @ strains, weights).sum(axis=0), borders


def _summed(elements: np.ndarray, numbers: np.ndarray, n: int) -> sp.csc_array:
    """Sum element matrices (m, 18, 18) over coordinates; those numbered −1 are left out."""
    rows, columns = np.repeat(numbers, 18, axis=1).ravel(), np.tile(numbers, (1, 18)).ravel()
    kept = (rows >= 0) & (columns >= 0)
    return sp.csc_array((elements.ravel()[kept], (rows[kept], columns[kept])), shape=(n, n))


def _geometric(mesh: Mesh, weighted_stress: np.ndarray, values: np.ndarray) -> sp.csr_array:
    """S = ∫ σ (U² + V² + W²) dA over all displacements."""
    scalar = np.einsum("mq,qi,qj->mij", weighted_stress, values, values)
    rows, columns = np.repeat(mesh.triangles, 6, axis=1), np.tile(mesh.triangles, (1, 6))
    nodes = len(mesh.points)
    summed = sp.csr_array((scalar.ravel(), (rows.ravel(), columns.ravel())), shape=(nodes, nodes))
    return sp.csr_array(sp.kron(summed, sp.eye_array(3)))
