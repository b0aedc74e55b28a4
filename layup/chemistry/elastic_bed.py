"""A beam with free ends on an elastic bed under point forces, in closed form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import cos, exp, sin


def pressure_under_forces(length: float, forces_at: Sequence[float]) -> Callable[[float], float]:
    """Find the pressure along a beam on an elastic bed under unit forces that stand symmetrically on it.

    Parameters
    ----------
    length : float
        Length of the beam in units of 1/lambda, lambda = (k/(4 E I))^(1/4) [-]
    forces_at : sequence of float
        Places of the forces from one end, the same seen from the other [-]

    Returns
    -------
    pressure : callable
        Place in the same units -> force on the bed for each unit of length [-]

    Notes
    -----
    The endless beam under the forces, with a force and a moment just beyond each end that take the bending moment
    and the shear force there away. A = e^-x (cos x + sin x), B = e^-x sin x, C = e^-x (cos x - sin x),
    D = e^-x cos x.

    References
    ----------
    M. Hetenyi, Beams on Elastic Foundation, 1946.

    Examples
    --------
    >>> pressure = pressure_under_forces(2.0, [0.5, 1.5])
    >>> round(pressure(0.0), 4), round(pressure(1.0), 4)
    (0.9454, 1.0195)
    """
    bending = sum(_c(at) for at in forces_at) / 4.0
    shear = sum(_d(at) for at in forces_at) / 2.0
    # force P and moment M at each end: P (1+C)/4 + M (1+D)/2 = -bending ; P (1-D)/2 + M (1-A)/2 = shear
    a11, a12 = (1.0 + _c(length)) / 4.0, (1.0 + _d(length)) / 2.0
    a21, a22 = (1.0 - _d(length)) / 2.0, (1.0 - _a(length)) / 2.0
    determinant = a11 * a22 - a12 * a21
    force = (-bending * a22 - shear * a12) / determinant
    moment = (a11 * shear + a21 * bending) / determinant

    def pressure(at: float) -> float:
        ends = force / 2.0 * (_a(at) + _a(length - at)) + moment * (_b(at) + _b(length - at))
        return ends + sum(_a(abs(at - other)) for other in forces_at) / 2.0

    return pressure


def _a(x: float) -> float:
    return exp(-x) * (cos(x) + sin(x))


def _b(x: float) -> float:
    return exp(-x) * sin(x)


def _c(x: float) -> float:
    return exp(-x) * (cos(x) - sin(x))


def _d(x: float) -> float:
    return exp(-x) * cos(x)
