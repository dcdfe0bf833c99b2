"""Uniform torsion by quadratic triangles: warping function, Prandtl's function, and the bounds they prove
on J.

Both are solutions of Poisson's equation on the section. For unit twist and unit shear modulus

* the warping function ω: ∇²ω = 0 inside, ∂ω/∂n = y nx − x ny on the boundary, stress τ = (ω,x − y, ω,y + x);
* Prandtl's function φ: ∇²φ = −2 inside, 0 on the outer boundary, an unknown constant cᵢ on hole i, over which
  ∮∂φ/∂n ds = 2Aᵢ (n out of the hole), stress τ = (φ,y, −φ,x).

Any ω gives a compatible strain, so J ≤ ∫|τ|² dA = Ip − ∫(y ω,x − x ω,y) dA; any φ gives a stress in
equilibrium, so J ≥ 2∫φ dA + 2Σ cᵢAᵢ. The two stresses differ by exactly the gap: ∫|τω − τφ|² dA = J_high
− J_low, so the triangles where they differ most are the ones to refine.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from kit.errors import Unusable
from kit.sections.mesh import Mesh
from kit.sources import carries

# Derivatives of the six shape functions λᵢ(2λᵢ − 1) and 4λᵢλⱼ by the barycentric coordinates, (point,
# node, i).


def _derivatives(lam: np.ndarray) -> np.ndarray:
    zero = np.zeros(len(lam))
    l0, l1, l2 = lam.T
    rows = [
        [4 * l0 - 1, zero, zero], [zero, 4 * l1 - 1, zero], [zero, zero, 4 * l2 - 1],
        [4 * l1, 4 * l0, zero], [zero, 4 * l2, 4 * l1], [4 * l2, zero, 4 * l0],
    ]  # fmt: skip
    return np.moveaxis(np.array(rows), 2, 0)


def _shapes(lam: np.ndarray) -> np.ndarray:
    l0, l1, l2 = lam.T
    return np.column_stack(
        [l0 * (2 * l0 - 1), l1 * (2 * l1 - 1), l2 * (2 * l2 - 1), 4 * l0 * l1, 4 * l1 * l2, 4 * l2 * l0]
    )


CORNERS = np.eye(3)
# The three-point rule of degree 2 (exact for the products of two stresses, which are linear).
RULE = np.full((3, 3), 1 / 6) + 0.5 * np.eye(3)
_D3 = _derivatives(RULE)
_STIFF = np.einsum("pai,pbj->ijab", _D3, _D3) / 3.0
# ∫∇Na·∇Nb dA is a sum over the three angles: cot(θ)/2 times a fixed matrix of the opposite side.
_COT = (
    np.stack(
        [_STIFF[i, i] + _STIFF[j, j] - _STIFF[i, j] - _STIFF[j, i] for i, j in ((1, 2), (2, 0), (0, 1))]
    ).reshape(3, 36)
    / 2.0
)


def _mass_matrix() -> np.ndarray:
    """∫Na Nb dA over a triangle of unit area, from a rule of degree 4 (Gauss × Gauss, collapsed)."""
    x, w = np.polynomial.legendre.leggauss(4)
    x, w = (x + 1) / 2, w / 2
    u, v = (g.ravel() for g in np.meshgrid(x, x, indexing="ij"))
    weight = np.outer(w, w).ravel() * (1 - u) * 2.0
    shapes = _shapes(np.column_stack([u, v * (1 - u), 1 - u - v * (1 - u)]))
    return np.einsum("p,pa,pb->ab", weight, shapes, shapes)


_MASS = _mass_matrix()
_MEAN = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0]) / 3.0


def scatter(mesh: Mesh, values: np.ndarray) -> np.ndarray:
    """Sum of the triangles' contributions (m, 6) at each node, (n,)."""
    return np.bincount(mesh.triangles.ravel(), values.ravel(), minlength=len(mesh.points))


def gradients(mesh: Mesh) -> np.ndarray:
    """Gradients of the barycentric coordinates, (m, 3, 2), 1/mm."""
    corner = mesh.points[mesh.triangles[:, :3]]
    side = corner[:, [2, 0, 1]] - corner[:, [1, 2, 0]]
    return np.stack([-side[:, :, 1], side[:, :, 0]], axis=2) / (2.0 * mesh.areas)[:, None, None]


def at_rule(mesh: Mesh, nodal: np.ndarray) -> np.ndarray:
    """Values of a linear function, given at the nodes, at the three points of the rule, (m, 3)."""
    return nodal[mesh.triangles[:, :3]] @ RULE


def gradient_at(mesh: Mesh, slopes: np.ndarray, nodal: np.ndarray, lam: np.ndarray = RULE) -> np.ndarray:
    """Gradient of a finite-element function at barycentric points ``lam`` of each triangle, (m, p, 2)."""
    inner = np.tensordot(nodal[mesh.triangles], _derivatives(lam), axes=(1, 1))
    return inner @ slopes


def load_of(mesh: Mesh, slopes: np.ndarray, field: np.ndarray) -> np.ndarray:
    """∫∇N·q dA for a field q, given at the points of the rule, (m, 3, 2)."""
    along = field @ slopes.transpose(0, 2, 1)
    each = along.reshape(-1, 9) @ _D3.transpose(0, 2, 1).reshape(9, 6)
    return scatter(mesh, each * (mesh.areas / 3.0)[:, None])


def mass_times(mesh: Mesh, nodal: np.ndarray) -> np.ndarray:
    """∫N f dA of a function f given at the nodes, (n,)."""
    return scatter(mesh, (nodal[mesh.triangles] @ _MASS) * mesh.areas[:, None])


@dataclass(frozen=True)
class Laplace:
    """The Laplace operator on a mesh, factorised once for any number of loads.

    With free boundaries (warping and shear functions) the unknowns are the nodes. With fixed boundaries
    (Prandtl's function) they are the nodes inside and then one for each hole. The two share their element
    matrices; each has its own factors: with the boundary nodes eliminated last, one set would do for both,
    but their dense remainder costs far more than the second, smaller set.

    Attributes
    ----------
    unknown : (n,) int array
        The unknown of each node; −1: fixed at zero.
    """

    factor: SuperLU
    matrix: csc_matrix
    unknown: np.ndarray

    @classmethod
    def of(cls, mesh: Mesh, stiffness: np.ndarray, unknown: np.ndarray, in_order: bool = False) -> Laplace:
        """Assemble the triangles' matrices (m, 36) and factorise.

        ``in_order`` says that the unknowns are numbered in a good order of elimination already.
        """
        local = unknown[mesh.triangles]
        row, column = np.repeat(local, 6, axis=1).ravel(), np.tile(local, 6).ravel()
        value, size = stiffness.ravel(), int(unknown.max()) + 1
        fixed = unknown.min() < 0
        if fixed:
            kept = (row >= 0) & (column >= 0)
            row, column, value = row[kept], column[kept], value[kept]
        matrix = _summed(row, column, value, size)
        if not fixed:
            # Free boundaries leave the level open. A spring to the ground at one node sets it; the loads
            # are in equilibrium, so it carries nothing.
            matrix[0, 0] *= 2.0
        # Single columns and no relaxed supernodes: these matrices fill so little that panels only cost time.
        factor = splu(
            matrix,
            permc_spec="NATURAL" if in_order else "MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=1,
            options={"SymmetricMode": True},
        )
        return cls(factor, matrix, unknown)

    def solve(self, loads: np.ndarray) -> np.ndarray:
        """Solutions by node (k, n) for loads by unknown (k, unknowns)."""
        found = self.factor.solve(np.ascontiguousarray(loads.T))
        # Normwise backward error: what is left over against what the products are made of.
        left = np.abs(self.matrix @ found - loads.T).max(axis=0)
        made = self.matrix.data.max() * np.abs(found).max(axis=0) + np.abs(loads).max(axis=1)
        if not np.all(left <= 1e-11 * made):
            raise Unusable("the equations of torsion could not be solved; the outline may have a needle")
        # −1, fixed at zero, takes the last row.
        return np.vstack([found, np.zeros(len(loads))])[self.unknown].T


def _summed(row: np.ndarray, column: np.ndarray, value: np.ndarray, size: int) -> csc_matrix:
    """A symmetric matrix from entries to be added up."""
    entries = coo_matrix((value, (row, column)), shape=(size, size))
    # Compressed by columns unsorted, then by rows, each row comes out in the order of its columns: two
    # counting passes instead of a sort. Symmetry lets the rows stand for the columns.
    entries.has_canonical_format = True
    rows = entries.tocsc().tocsr()
    rows.has_sorted_indices, rows.has_canonical_format = True, False
    rows.sum_duplicates()
    return csc_matrix((rows.data, rows.indices, rows.indptr), shape=(size, size))


def _fixed_unknowns(mesh: Mesh, order: np.ndarray) -> np.ndarray:
    """Unknown of each node in Prandtl's problem: −1 on the outer ring, one common one for each hole.

    The nodes inside keep the order (n,) in which the larger problem eliminates them: it fills no more here.
    """
    unknown = np.zeros(len(mesh.points), dtype=np.int32)
    for number, loop in enumerate(mesh.loops):
        unknown[loop[:, [0, 2]]] = -1 - number
    inside = order[unknown[order] == 0]
    for number in range(1, len(mesh.loops)):
        unknown[unknown == -1 - number] = len(inside) + number - 1
    unknown[inside] = np.arange(len(inside))
    return unknown


def _stiffness(mesh: Mesh) -> np.ndarray:
    """∫∇Na·∇Nb dA of each triangle, (m, 36), from the cotangents of its angles."""
    corner = mesh.points[mesh.triangles[:, :3]]
    side = corner[:, [2, 0, 1]] - corner[:, [1, 2, 0]]
    dot = -np.einsum("mij,mij->mi", side[:, [1, 2, 0]], side[:, [2, 0, 1]])
    return (dot / (2.0 * mesh.areas)[:, None]) @ _COT


@dataclass(frozen=True)
class Torsion:
    """Torsion and shear functions on a mesh whose origin is the centroid.

    Attributes
    ----------
    mesh : Mesh
    laplace : Laplace
        With free boundaries.
    slopes : (m, 3, 2) float array, 1/mm
        Gradients of the barycentric coordinates.
    warping : (n,) float array, mm2
        ω for twist about the centroid; its level is arbitrary.
    prandtl : (n,) float array, mm2
        φ.
    shear : (2, n) float array, mm3
        ψx, ψy with ∇²ψ = −x, −y and free boundaries: shear stress without Poisson's ratio.
    shear_energy : (2, 2) float array, mm6
        ∫∇ψi·∇ψj dA.
    J_low, J_high : float, mm4
        Proven bounds, rounding apart.
    """

    mesh: Mesh
    laplace: Laplace
    slopes: np.ndarray
    warping: np.ndarray
    prandtl: np.ndarray
    shear: np.ndarray
    shear_energy: np.ndarray
    J_low: float
    J_high: float

    @property
    def J(self) -> float:
        """The middle of the bounds, mm4."""
        return 0.5 * (self.J_low + self.J_high)

    @property
    def gap(self) -> float:
        """Distance between the bounds relative to their middle."""
        return (self.J_high - self.J_low) / self.J

    @cached_property
    def warping_stress(self) -> np.ndarray:
        """(ω,x − y, ω,y + x) at the points of the rule, (m, 3, 2), mm."""
        x, y = (at_rule(self.mesh, self.mesh.points[:, i]) for i in (0, 1))
        return gradient_at(self.mesh, self.slopes, self.warping) + np.stack([-y, x], axis=2)

    @cached_property
    def prandtl_stress(self) -> np.ndarray:
        """(φ,y, −φ,x) at the points of the rule, (m, 3, 2), mm."""
        slope = gradient_at(self.mesh, self.slopes, self.prandtl)
        return np.stack([slope[:, :, 1], -slope[:, :, 0]], axis=2)

    @property
    def gap_of_triangles(self) -> np.ndarray:
        """∫|τω − τφ|² dA over each triangle, (m,), mm4; their sum is J_high − J_low."""
        return ((self.warping_stress - self.prandtl_stress) ** 2).sum(axis=(1, 2)) * self.mesh.areas / 3.0


def _prandtl(mesh, stiffness, hole_areas: tuple[float, ...], order) -> tuple[np.ndarray, float]:
    """φ by node, mm2, and the lower bound on J, mm4: the load 2∫N dA, and 2Aᵢ for hole i, times φ."""
    unknown = _fixed_unknowns(mesh, order)
    if unknown.max() < 0:
        raise Unusable("the mesh has no node inside the section")
    nodal = scatter(mesh, 2.0 * mesh.areas[:, None] * _MEAN)
    inside = unknown >= 0
    load = np.bincount(unknown[inside], nodal[inside])
    if hole_areas:
        load[-len(hole_areas) :] += 2.0 * np.asarray(hole_areas)
    phi = Laplace.of(mesh, stiffness, unknown, in_order=True).solve(load[None])[0]
    value = np.zeros(len(load))
    value[unknown[inside]] = phi[inside]
    return phi, float(load @ value)


@carries("timoshenko-goodier-1970", "diaz-weinstein-1948")
def torsion(mesh: Mesh, hole_areas: tuple[float, ...] = ()) -> Torsion:
    """Solve uniform torsion and transverse shear on a mesh.

    Parameters
    ----------
    mesh : Mesh
        With the centroid at the origin, mm.
    hole_areas : tuple of float, mm2
        Area of each hole, in the order of the rings.

    Raises
    ------
    Unusable
        If the solution's residual is too large, or the bounds cross.
    """
    slopes, stiffness = gradients(mesh), _stiffness(mesh)
    x, y = mesh.points.T
    twist = load_of(mesh, slopes, np.stack([at_rule(mesh, y), -at_rule(mesh, x)], axis=2))
    by_x, by_y = mass_times(mesh, x), mass_times(mesh, y)
    free = Laplace.of(mesh, stiffness, np.arange(len(x), dtype=np.int32))
    omega, *psi = free.solve(np.stack([twist, by_x, by_y]))
    phi, low = _prandtl(mesh, stiffness, hole_areas, np.argsort(free.factor.perm_c))
    high = float(x @ by_x + y @ by_y - twist @ omega)
    if not 0.0 < low <= high * (1.0 + 1e-9):
        raise Unusable(f"the bounds on J crossed ({low:.6g} and {high:.6g} mm4)")
    energy = np.array(psi) @ np.stack([by_x, by_y], axis=1)
    energy = 0.5 * (energy + energy.T)
    return Torsion(mesh, free, slopes, omega, phi, np.array(psi), energy, low, max(high, low))
