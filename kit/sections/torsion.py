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

from kit.errors import Unusable
from kit.sections.laplace import Laplace, stiffness
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


# The three-point rule of degree 2 (exact for the products of two stresses, which are linear).
RULE = np.full((3, 3), 1 / 6) + 0.5 * np.eye(3)
_D3 = _derivatives(RULE)


def _mass_matrix() -> np.ndarray:
    """∫Na Nb dA over a triangle of unit area, from a rule of degree 4 (Gauss × Gauss, collapsed)."""
    x, w = np.polynomial.legendre.leggauss(4)
    x, w = (x + 1) / 2, w / 2
    u, v = (g.ravel() for g in np.meshgrid(x, x, indexing="ij"))
    weight = np.outer(w, w).ravel() * (1 - u) * 2.0
    shapes = _shapes(np.column_stack([u, v * (1 - u), 1 - u - v * (1 - u)]))
    return np.einsum("p,pa,pb->ab", weight, shapes, shapes)


_MASS = _mass_matrix()
MEAN = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0]) / 3.0


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
class Torsion:
    """Torsion and shear functions on a mesh whose origin is the centroid.

    Attributes
    ----------
    mesh : Mesh
    laplace : Laplace
        With free boundaries.
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
    def slopes(self) -> np.ndarray:
        """Gradients of the barycentric coordinates, (m, 3, 2), 1/mm."""
        return gradients(self.mesh)

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


def _twist(mesh: Mesh) -> np.ndarray:
    """The warping function's load ∮N ∂ω/∂n ds by node, (n,), mm2.

    Along a side, ∂ω/∂n ds = y nx ds − x ny ds = r·dr, linear, and N is quadratic: Simpson's rule is exact.
    """
    ends = mesh.points[mesh.boundary]
    along = ends[:, 1] - ends[:, 0]
    weights = np.einsum("kij,kj->ki", ends, along) * (1 / 6, 1 / 6, 2 / 3)
    return np.bincount(mesh.boundary.ravel(), weights.ravel(), minlength=len(mesh.points))


def _inside(ring: np.ndarray) -> float:
    """Area inside the ring of a hole, walked clockwise, mm2."""
    x, y = (ring - ring[0]).T
    return 0.5 * float(np.roll(x, -1) @ y - x @ np.roll(y, -1))


@carries("timoshenko-goodier-1970", "diaz-weinstein-1948")
def torsion(mesh: Mesh, hole_areas: tuple[float, ...] | None = None) -> Torsion:
    """Solve uniform torsion and transverse shear on a mesh.

    Parameters
    ----------
    mesh : Mesh
        With the centroid at the origin, mm.
    hole_areas : tuple of float, mm2, optional
        Area of each hole, in the order of the rings; by default that of the mesh's own loops.

    Raises
    ------
    Unusable
        If the solution's residual is too large, or the bounds cross.
    """
    entries = stiffness(mesh)
    x, y = mesh.points.T
    twist, by_x, by_y = _twist(mesh), mass_times(mesh, x), mass_times(mesh, y)
    free = Laplace.free(entries)
    omega, *psi = free.solve(np.stack([twist, by_x, by_y]))
    load = scatter(mesh, 2.0 * mesh.areas[:, None] * MEAN)
    if hole_areas is None:
        hole_areas = [_inside(mesh.points[loop[:, 0]]) for loop in mesh.loops[1:]]
    for loop, hole in zip(mesh.loops[1:], hole_areas, strict=True):
        load[loop[0, 0]] += 2.0 * hole  # at any node of the hole: they share one unknown
    phi = Laplace.fixed(entries, mesh.loops).solve(load[None])[0]
    high, low = float(x @ by_x + y @ by_y - twist @ omega), float(load @ phi)
    if not 0.0 < low <= high * (1.0 + 1e-9):
        raise Unusable(f"the bounds on J crossed ({low:.6g} and {high:.6g} mm4)")
    energy = np.array(psi) @ np.stack([by_x, by_y], axis=1)
    energy = 0.5 * (energy + energy.T)
    return Torsion(mesh, free, omega, phi, np.array(psi), energy, low, max(high, low))
