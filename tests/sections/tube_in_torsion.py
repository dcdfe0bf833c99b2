"""A long tube of any shape and wall in torsion, by shell theory: the least shear flow at which it buckles."""

import numpy as np
from scipy.linalg import eigh

NU = 0.3


def _derivative(count, length):
    factor = 2j * np.pi / length * np.fft.fftfreq(count, 1.0 / count)
    return np.fft.ifft(factor[:, None] * np.fft.fft(np.eye(count), axis=0), axis=0).real


def critical_flow(length, curvature, thickness, waves):
    """Least flow N, over the modulus, of displacements u, v, w times e^{ikz}.

    Strains of Sanders' kind: ε_s = v' + κ w, rotation β = w' − κ v, changes of curvature w'' along z, β' and ∂β/∂z
    (Poisson's ratio 0.3); work of the flow N ∂w/∂z β. Trigonometric in the way s around; ends far away.

    Parameters
    ----------
    length : float
        The way around.
    curvature, thickness : (odd n,) arrays
        At even places along it.
    waves : array
        Numbers k to search.
    """
    count = len(curvature)
    none, one, along = np.zeros((count, count)), np.eye(count), _derivative(count, length)
    u, v, w = (np.hstack([one if i == j else none for j in range(3)]) for i in range(3))
    turn = along @ w - curvature[:, None] * v
    sheet, plate = thickness / (1 - NU**2), thickness**3 / 12 / (1 - NU**2)

    def pair(first, second, weight):
        return first.conj().T @ (weight[:, None] * second)

    flows = []
    for k in waves:
        energy = np.zeros((3 * count, 3 * count), dtype=complex)
        stretched = (1j * k * u, along @ v + curvature[:, None] * w, along @ u + 1j * k * v)
        bent = (-(k**2) * w, along @ turn, 2j * k * turn)
        for (z, s, shear), weight in ((stretched, sheet), (bent, plate)):
            energy += pair(z, z, weight) + pair(s, s, weight) + 0.5 * (1 - NU) * pair(shear, shear, weight)
            energy += NU * (pair(z, s, weight) + pair(s, z, weight))
        work = (1j * k * w).conj().T @ turn
        found = eigh(work + work.conj().T, 0.5 * (energy + energy.conj().T), eigvals_only=True)
        flows.append(1.0 / max(abs(found[0]), abs(found[-1])))
    return min(flows)
