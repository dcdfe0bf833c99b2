"""The greatest shear force of a section by another route: a linear programme over fields of shear stress."""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.optimize import linprog
from shapely import Polygon

from kit.sections.area import area_moments
from kit.sections.mesh import mesh_polygon

SIDES = 16


def greatest_shear_force(polygon: Polygon, elements: int) -> float:
    """Transverse force along y per unit shear strength, mm2, from below.

    A flux through each side between triangles (fields of the lowest order of Raviart and Thomas) balances
    y / Ix of every triangle; at its corners the stress stays inside a regular polygon in the unit circle.
    No cut is looked for.
    """
    m = area_moments(polygon)
    mesh = mesh_polygon(polygon, elements)
    corners, places = mesh.triangles[:, :3], mesh.points - (m.x_mm, m.y_mm)
    area = mesh.areas
    side, sign, count = _sides(corners)
    change = places[corners].mean(axis=1)[:, 1] * area / m.Ix
    change -= area * change.sum() / area.sum()
    triangle = np.repeat(np.arange(len(corners)), 3)
    there = side.ravel() >= 0
    flux = sparse.csr_matrix(
        (sign.ravel()[there], (triangle[there], side.ravel()[there])), (len(corners), count)
    )
    balance = sparse.hstack([flux, sparse.csr_matrix(-change[:, None])])
    stress = sparse.vstack(
        [
            _stress_along(direction, corner, (corners, places, area), side, sign, count)
            for corner in range(3)
            for direction in 2.0 * np.pi * np.arange(SIDES) / SIDES
        ]
    )
    found = linprog(
        np.append(np.zeros(count), -1.0), stress, np.full(stress.shape[0], np.cos(np.pi / SIDES)), balance,
        np.zeros(len(corners)), [(None, None)] * count + [(0.0, None)], method="highs-ipm",
    )  # fmt: skip
    return float(found.x[-1])


def _sides(corners: np.ndarray):
    """Number of the side opposite each corner (−1 on the boundary), its sign, and how many there are."""
    ends = np.stack([np.sort(corners[:, [(i + 1) % 3, (i + 2) % 3]], axis=1) for i in range(3)], axis=1)
    _, first, back, many = np.unique(
        ends.reshape(-1, 2), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    number = np.where(many == 2, np.cumsum(many == 2) - 1, -1)
    sign = np.where(first[back] == np.arange(len(back)), 1.0, -1.0)
    return number[back].reshape(-1, 3), sign.reshape(-1, 3), int((many == 2).sum())


def _stress_along(direction: float, corner: int, mesh, side: np.ndarray, sign: np.ndarray, count: int):
    """Rows: the stress at one corner of every triangle along a direction, from the fluxes and the force."""
    corners, places, area = mesh
    along = np.array([np.cos(direction), np.sin(direction)])
    rows, columns, values = [], [], []
    for opposite in range(3):
        there = (side[:, opposite] >= 0) & (opposite != corner)
        arm = (places[corners[:, corner]] - places[corners[:, opposite]]) @ along / (2.0 * area)
        rows.append(np.flatnonzero(there))
        columns.append(side[there, opposite])
        values.append((arm * sign[:, opposite])[there])
    parts = (np.concatenate(part) for part in (values, rows, columns))
    value, row, column = parts
    return sparse.csr_matrix((value, (row, column)), (len(corners), count + 1))
