"""Shear centre, warping constant, monosymmetry and shear areas, from the functions torsion.py solves for."""

from __future__ import annotations

import numpy as np

from kit.sections.area import AreaMoments
from kit.sections.torsion import Torsion, at_rule, gradient_at, load_of, mass_times
from kit.sources import carries


@carries("pilkey-2002")
def shear_centre(solved: Torsion, moments: AreaMoments) -> tuple[float, float]:
    """Shear centre after Trefftz: the centre of twist about which the warping does no bending, mm from
    the centroid.

    ω about (xs, ys) is ω − ys x + xs y: its moments ∫ωx dA and ∫ωy dA vanish there.
    """
    x, y = solved.mesh.points.T
    weight = mass_times(solved.mesh, solved.warping)
    over_x, over_y = weight @ x, weight @ y
    determinant = moments.Ix * moments.Iy - moments.Ixy**2
    return (
        float((moments.Ixy * over_x - moments.Iy * over_y) / determinant),
        float((moments.Ix * over_x - moments.Ixy * over_y) / determinant),
    )


@carries("pilkey-2002", "vlasov-1961")
def warping_constant(solved: Torsion, centre: tuple[float, float]) -> float:
    """Iw = ∫ω² dA of the warping about the shear centre, with no mean, mm6."""
    mesh, (xs, ys) = solved.mesh, centre
    x, y = mesh.points.T
    omega = solved.warping - ys * x + xs * y
    omega = omega - mass_times(mesh, omega).sum() / mesh.area
    return float(omega @ mass_times(mesh, omega))


@carries("trahair-1993", "kitipornchai-trahair-1980", "anderson-trahair-1972")
def monosymmetry(moments: AreaMoments, centre: tuple[float, float]) -> tuple[float, float]:
    """Monosymmetry (Wagner) constants βx = 2 ys − ∫y(x² + y²)dA / Ix and βy = 2 xs − ∫x(x² + y²)dA / Iy, mm.

    βx is positive when the larger flange lies above, where loads along −y compress it. About the axes x
    and y, whether principal or not.
    """
    xs, ys = centre
    return 2.0 * ys - moments.yr2 / moments.Ix, 2.0 * xs - moments.xr2 / moments.Iy


def _tensor(moments: AreaMoments) -> np.ndarray:
    """[[Iy, Ixy], [Ixy, Ix]]: ∫r rᵀ dA, and, by the weak form, ∫∇ψi dA."""
    return np.array([[moments.Iy, moments.Ixy], [moments.Ixy, moments.Ix]])


@carries("pilkey-2002")
def shear_flexibility(moments: AreaMoments, energy: np.ndarray) -> np.ndarray:
    """The tensor κ with ∫τ² dA = V·κV (1/mm2): 1/κxx and 1/κyy are the shear areas.

    With τ = ∇(a·ψ), equilibrium asks V = T a, T = ∫r rᵀ dA, so κ = T⁻¹ (∫∇ψ·∇ψᵀ dA) T⁻¹.
    """
    inverse = np.linalg.inv(_tensor(moments))
    return inverse @ energy @ inverse


@carries("pilkey-2002")
def shear_stress(solved: Torsion, moments: AreaMoments, force, nu: float = 0.0) -> np.ndarray:
    """Shear stress of a transverse force (Vx, Vy) through the shear centre at the rule's points, (m, 3,
    2), N/mm2.

    Its peak at a sharp re-entrant corner grows without end as the mesh is refined: no property of the
    section.
    """
    per_x, per_y = _stresses(solved, nu)
    a, b = np.linalg.solve(_tensor(moments), np.asarray(force, dtype=float))
    return a * per_x + b * per_y


@carries("pilkey-2002")
def shear_areas(solved: Torsion, moments: AreaMoments, nu: float) -> tuple[float, float]:
    """Shear areas for forces along x and y and any Poisson's ratio, mm2 (one more solve for ν ≠ 0)."""
    stress = np.stack(_stresses(solved, nu))
    energy = np.einsum("impk,jmpk,m->ij", stress, stress, solved.mesh.areas / 3.0)
    flexibility = shear_flexibility(moments, energy)
    return float(1.0 / flexibility[0, 0]), float(1.0 / flexibility[1, 1])


@carries("pilkey-2002")
def shear_centre_elastic(solved: Torsion, moments: AreaMoments, nu: float) -> tuple[float, float]:
    """Shear centre as the line of the shear stress's resultant, which depends on Poisson's ratio, mm.

    The moment ∫(x τy − y τx) dA of the stress of a unit force along y is xs, along x it is −ys. For ν = 0
    it is Trefftz's.
    """
    x, y = (at_rule(solved.mesh, solved.mesh.points[:, i]) for i in (0, 1))
    moment = []
    for force in ((0.0, 1.0), (1.0, 0.0)):
        tau = shear_stress(solved, moments, force, nu)
        moment.append(float(solved.mesh.areas @ (x * tau[:, :, 1] - y * tau[:, :, 0]).mean(axis=1)))
    return moment[0], -moment[1]


def _stresses(solved: Torsion, nu: float) -> tuple[np.ndarray, np.ndarray]:
    """Shear stress that balances ∂σ/∂z = −x, and −y, (m, 3, 2) each.

    τ = (∇Ψ − ½ν d)/(2(1 + ν)) with ∇²Ψ = −2(1 + ν)x, dx = (x² − y², 2xy), or −2(1 + ν)y, dy = (2xy, y² − x²):
    Ψ = 2(1 + ν)ψ + ν ψ₁.
    """
    mesh, slopes = solved.mesh, solved.slopes
    stresses = [gradient_at(mesh, slopes, psi) for psi in solved.shear]
    if nu == 0.0:
        return tuple(stresses)
    x, y = (at_rule(mesh, mesh.points[:, i]) for i in (0, 1))
    half = [np.stack(d, axis=2) / 2.0 for d in ((x**2 - y**2, 2 * x * y), (2 * x * y, y**2 - x**2))]
    loads = np.stack([load_of(mesh, slopes, d) for d in half])
    extra = solved.laplace.solve(loads)
    share = nu / (2.0 * (1.0 + nu))
    return tuple(
        stress + share * (gradient_at(mesh, slopes, psi) - d)
        for stress, psi, d in zip(stresses, extra, half, strict=True)
    )
