"""The Laplace operator on quadratic triangles: its matrix from cotangents, an order to eliminate in, factors.

With θᵢ the angle of a triangle at corner i and c = cot θᵢ, the side opposite couples

* its two ends by c/6, each end with its mid-side node by −2c/3, and adds c/2 to the ends' own;
* and the two mid-side nodes of the other sides by −4c/3, with 4c/3 added to all three mid-side nodes' own.

A corner and the mid-side node opposite it do not couple. So the matrix is a sum over sides and triangles
with each pair of nodes met once, and nothing is left to be added up but the cotangents of each side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from kit.errors import Unusable
from kit.sections.mesh import Mesh

# Columns of a triangle's nodes: the mid-side node opposite each corner, and those of the corner's own sides.
_OPPOSITE, _BEFORE, _AFTER = [4, 5, 3], [5, 3, 4], [3, 4, 5]
# Single columns and no relaxed supernodes: these matrices fill so little that panels only cost time.
_SYMMETRIC = {"diag_pivot_thresh": 0.0, "relax": 1, "panel_size": 1, "options": {"SymmetricMode": True}}


@dataclass(frozen=True)
class Stiffness:
    """∫∇Na·∇Nb dA on a mesh, as pairs of nodes, and an order in which to eliminate them.

    Attributes
    ----------
    first, second : (p,) int arrays
        Nodes of each pair that couples, every pair once.
    value : (p,) float array
        What couples them.
    own : (n,) float array
        The diagonal.
    order : (n,) int array
        Nodes in an order of elimination that fills little.
    """

    first: np.ndarray
    second: np.ndarray
    value: np.ndarray
    own: np.ndarray
    order: np.ndarray


def cotangents(mesh: Mesh) -> np.ndarray:
    """Cotangents of the angles at the three corners of each triangle, (m, 3)."""
    corner = mesh.points[mesh.triangles[:, :3]]
    side = corner[:, [2, 0, 1]] - corner[:, [1, 2, 0]]
    square = np.einsum("mij,mij->mi", side, side)
    # The law of cosines: 2bc cos α = b² + c² − a², 4A = 2bc sin α.
    return (0.5 * square.sum(axis=1)[:, None] - square) / (2.0 * mesh.areas)[:, None]


def stiffness(mesh: Mesh) -> Stiffness:
    """The matrix of the Laplace operator on a mesh."""
    tri, count = mesh.triangles, len(mesh.points)
    cot = cotangents(mesh)
    a, b = np.zeros((2, count), dtype=np.int32)
    a[tri[:, 3:]], b[tri[:, 3:]] = tri[:, :3], tri[:, [1, 2, 0]]
    middle = np.flatnonzero(a != b).astype(np.int32)
    a, b = a[middle], b[middle]
    of_side = np.bincount(tri[:, _OPPOSITE].ravel(), cot.ravel(), minlength=count)[middle]
    ends = np.bincount(np.concatenate([a, b]), np.tile(0.5 * of_side, 2), minlength=count)
    inner = np.bincount(tri[:, 3:].ravel(), np.repeat(cot.sum(axis=1), 3), minlength=count)
    return Stiffness(
        np.concatenate([a, a, b, tri[:, _BEFORE].ravel()]),
        np.concatenate([b, middle, middle, tri[:, _AFTER].ravel()]),
        np.concatenate([of_side / 6.0, np.tile(of_side * (-2.0 / 3.0), 2), cot.ravel() * (-4.0 / 3.0)]),
        ends + inner * (4.0 / 3.0),
        elimination_order(a, b, middle, count),
    )


def elimination_order(a: np.ndarray, b: np.ndarray, middle: np.ndarray, count: int) -> np.ndarray:
    """Nodes in an order of elimination that fills little, (n,).

    Minimum degree on the corners alone, a quarter of the nodes; each mid-side node goes just before the first
    of its side's ends. That fills some 7 % less than minimum degree on all nodes, and costs a quarter.

    Parameters
    ----------
    a, b, middle : (s,) int arrays
        Ends and mid-side node of each side.
    count : int
        Number of nodes.
    """
    corners = int(max(a.max(), b.max())) + 1
    every = np.arange(corners, dtype=np.int32)
    degree = np.bincount(np.concatenate([a, b]), minlength=corners)
    # Only the pattern matters; these values are dominated by their diagonal.
    pattern = _matrix(a, b, np.full(len(a), -1.0), degree + 1.0, every)
    rank = np.zeros(count, dtype=np.int64)
    place = splu(pattern, permc_spec="MMD_AT_PLUS_A", **_SYMMETRIC).perm_c.astype(np.int64)
    rank[:corners] = 2 * place + 1
    rank[middle] = 2 * np.minimum(place[a], place[b])
    return np.argsort(rank, kind="stable")


def factorised(matrix: csc_matrix) -> SuperLU:
    """Factors of a symmetric matrix whose unknowns are numbered in a good order of elimination."""
    return splu(matrix, permc_spec="NATURAL", **_SYMMETRIC)


def _matrix(first, second, value, own, unknown) -> csc_matrix:
    """Symmetric matrix from pairs by node, those that are fixed (−1) left out, those that share added up."""
    size = int(unknown.max()) + 1
    i, j = unknown[first], unknown[second]
    if size < len(unknown):
        kept = (i >= 0) & (j >= 0)
        i, j, value = i[kept], j[kept], value[kept]
        same = i == j
        own = np.bincount(unknown + 1, own, minlength=size + 1)[1:]
        if same.any():  # a pair within one unknown stands for two entries of the diagonal
            own += np.bincount(i[same], 2.0 * value[same], minlength=size)
            i, j, value = _added(i[~same], j[~same], value[~same], i[same].min(), size)
    else:
        own = own[np.argsort(unknown)]
    every = np.arange(size, dtype=np.int32)
    rows, columns = np.concatenate([i, j, every]), np.concatenate([j, i, every])
    entries = coo_matrix((np.concatenate([value, value, own]), (rows, columns)), shape=(size, size))
    entries.has_canonical_format = True  # no entry comes twice: spares a sort
    matrix = entries.tocsc()
    # Nothing here needs the rows of a column in order, and to sort them costs more than to use them.
    matrix.has_canonical_format = True
    return matrix


def _added(i, j, value, shared: int, size: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pairs with those that come more than once, at the unknowns of many nodes from ``shared`` on, added up."""
    several = (i >= shared) | (j >= shared)
    low, high = np.minimum(i[several], j[several]), np.maximum(i[several], j[several])
    key, number = np.unique(low.astype(np.int64) * size + high, return_inverse=True)
    low, high = np.divmod(key, size)
    return (
        np.append(i[~several], low.astype(np.int32)),
        np.append(j[~several], high.astype(np.int32)),
        np.append(value[~several], np.bincount(number, value[several])),
    )


@dataclass(frozen=True)
class Laplace:
    """The Laplace operator with its boundary conditions, factorised once for any number of loads.

    With free boundaries (warping and shear functions) every node is an unknown. With fixed boundaries
    (Prandtl's function) they are the nodes inside and then one for each hole. The two share the entries of
    the matrix and the order of elimination; each has its own factors: with the boundary nodes eliminated
    last, one set would do for both, but their dense remainder costs far more than the second, smaller set.

    Attributes
    ----------
    unknown : (n,) int array
        The unknown of each node; −1: fixed at zero.
    """

    factor: SuperLU
    matrix: csc_matrix
    unknown: np.ndarray

    @classmethod
    def free(cls, entries: Stiffness) -> Laplace:
        """With free boundaries."""
        unknown = np.empty(len(entries.order), dtype=np.int32)
        unknown[entries.order] = np.arange(len(unknown))
        # Free boundaries leave the level open. A spring to the ground at one node sets it; the loads are in
        # equilibrium, so it carries nothing.
        own = entries.own.copy()
        own[entries.order[0]] *= 2.0
        return cls._of(entries, own, unknown)

    @classmethod
    def fixed(cls, entries: Stiffness, loops: tuple[np.ndarray, ...]) -> Laplace:
        """Zero on the outer ring, an unknown constant on each hole.

        Raises
        ------
        Unusable
            If no node is left.
        """
        unknown = np.zeros(len(entries.order), dtype=np.int32)
        for number, loop in enumerate(loops):
            unknown[loop[:, [0, 2]]] = -1 - number
        inside = entries.order[unknown[entries.order] == 0]
        for number in range(1, len(loops)):
            unknown[unknown == -1 - number] = len(inside) + number - 1
        unknown[inside] = np.arange(len(inside))
        if unknown.max() < 0:
            raise Unusable("the mesh has no node inside the section")
        return cls._of(entries, entries.own, unknown)

    @classmethod
    def _of(cls, entries: Stiffness, own: np.ndarray, unknown: np.ndarray) -> Laplace:
        matrix = _matrix(entries.first, entries.second, entries.value, own, unknown)
        return cls(factorised(matrix), matrix, unknown)

    def solve(self, loads: np.ndarray) -> np.ndarray:
        """Solutions by node (k, n) for loads by node (k, n); the loads on nodes of one unknown add up.

        Raises
        ------
        Unusable
            If what is left over is too large.
        """
        size, slot = self.matrix.shape[0], self.unknown + 1
        wanted = np.stack([np.bincount(slot, load, minlength=size + 1)[1:] for load in loads], axis=1)
        found = self.factor.solve(wanted)
        # Normwise backward error: what is left over against what the products are made of.
        left = np.abs(self.matrix @ found - wanted).max(axis=0)
        made = self.matrix.data.max() * np.abs(found).max(axis=0) + np.abs(wanted).max(axis=0)
        if not np.all(left <= 1e-11 * made):
            raise Unusable("the equations of torsion could not be solved; the outline may have a needle")
        # −1, fixed at zero, takes the last row.
        return np.vstack([found, np.zeros(found.shape[1])])[self.unknown].T
