"""How long cans, cores, moulds and rolls of cloth take to follow the shop: their coldest point, by exact series.

A wall, a half slab and a cylinder by their eigenvalues, a can as the product of cylinder and wall, layers as a row of
cells whose modes are exact in time. What lies in still air takes heat from all its warmed faces at one coefficient.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, cos, exp, inf, pi, sin
from typing import Literal

from layup.chemistry.film import SolidLayer
from layup.chemistry.numerics import first_at_or_above, require_between, require_positive
from layup.errors import RangeError
from layup.units import temperature

Shape = Literal["slab", "half slab", "cylinder", "can", "layers"]
STILL_AIR_W_m2_K = 1.0 / 0.13
"""Convection and radiation to an upright face indoors: resistance 0.13 m2 K/W (EN ISO 6946, from memory)."""
BLOWN_AIR_W_m2_K = 20.0
"""In front of a fan (handbook range 10 to 50, from memory)."""
WATER_W_m2_K = 300.0
"""A tin in a water bath that is moved now and then (handbook range 100 to 1000, from memory)."""
FOLLOWED_K = 2.0
"""What counts as warm: the coldest point is within this of its surroundings (our own judgement)."""
MODES = 20
NOT_YET = 0.005
"""Fourier number before which the middle has not felt the change (erfc(7) of it); the modes are enough after it."""
BESSEL_PANELS = 64
CELLS = 60
"""Cells of a layered wall; halving them moves a time by less than half a percent (tested)."""
WITHIN = 1e-6
"""How exactly a time is found, as a share of the longest it can be."""


MATERIALS: dict[str, tuple[float, float, float]] = {
    "birch plywood": (0.17, 0.70, 1.6),
    "softwood plywood": (0.13, 0.50, 1.6),
    "white ash": (0.18, 0.70, 1.6),
    "Douglas-fir": (0.13, 0.50, 1.6),
    "MDF": (0.18, 0.80, 1.7),
    "aluminium": (160.0, 2.80, 0.88),
    "steel": (50.0, 7.80, 0.45),
}
"""Material -> conductivity [W/(m K)], density [g/cm3], specific heat [J/(g K)] (EN ISO 10456, table 3; from memory)."""
FOAM_W_m_K, FOAM_J_g_K = 0.035, 1.45
"""Closed-cell polystyrene board (EN ISO 10456, table 3; from memory); urethane foam is 0.025 to 0.030."""
EPOXY_W_m_K = 0.20
"""Resin or hardener at rest; it moves a little in its can, so the times are upper ones (as the library `ht` gives it).
"""
CLOTH_W_m_K, CLOTH_J_g_K, CLOTH_PACKED = 0.05, 0.80, 0.35
"""Dry cloth on its roll, a third of it fibre (our own estimate between air and glass wool, no source)."""
WOOD_J_g_K = 1.6
"""Of timber and plywood alike (EN ISO 10456, table 3; from memory)."""


def wood_conductivity_W_m_K(specific_gravity: float, moisture: float) -> float:
    """Find how wood conducts heat across its grain.

    Within a fifth; the source asks for a specific gravity above 0.3.

    k = G (0.1941 + 0.004064 M) + 0.01864, M in per cent. Source: Wood Handbook, FPL-GTR-282, equation (4-15) (from
    memory).

    >>> round(wood_conductivity_W_m_K(0.60, 0.12), 3)
    0.164

    Parameters
    ----------
    specific_gravity : Oven-dry mass over volume at that moisture, 0.1 to 1.1 [-]
    moisture : Water over dry wood, 0 to 0.25 [-]
    """
    require_between("specific gravity", specific_gravity, 0.1, 1.1)
    require_between("wood moisture", moisture, 0.0, 0.25, todo="a share, 0.08 for 8 %")
    return specific_gravity * (0.1941 + 0.4064 * moisture) + 0.01864


@dataclass(frozen=True, slots=True)
class Body:
    """One thing that has to follow the shop.

    "slab" is warmed from both faces, "half slab" from one, "cylinder" is long, "can" is a cylinder with its two lids,
    "layers" a wall of several materials, the first of them in the air; `both_faces` says whether the last is, too.
    """

    name: str
    shape: Shape
    layers: tuple[SolidLayer, ...]
    """One for a body of one material; its thickness is the whole one of a slab or half slab, and is not asked else."""
    h_W_m2_K: float = STILL_AIR_W_m2_K
    radius_m: float | None = None
    height_m: float | None = None
    both_faces: bool = False

    @property
    def half_thickness_m(self) -> float | None:
        """Return the way the heat goes in a wall: half a slab, all of a half slab [m]."""
        thickness_m = sum(layer.thickness_m for layer in self.layers)
        if self.shape in ("cylinder", "can"):
            return None
        return 0.5 * thickness_m if self.shape == "slab" or self.both_faces else thickness_m

    @property
    def conductivity_W_m_K(self) -> float:
        """Return its conductivity; of layers that of one material with the same resistance [W/(m K)]."""
        thickness_m = sum(layer.thickness_m for layer in self.layers)
        return thickness_m / sum(layer.thickness_m / layer.conductivity_W_m_K for layer in self.layers)

    @property
    def diffusivity_m2_s(self) -> float:
        """Return its diffusivity; of layers that of one material with the same resistance and heat [m2/s]."""
        thickness_m = sum(layer.thickness_m for layer in self.layers)
        return self.conductivity_W_m_K * thickness_m / sum(layer.warms[1] for layer in self.layers)

    @property
    def biot(self) -> float:
        """Return h L/k, with L the half thickness or the radius [-]."""
        way_m = self.half_thickness_m or self.radius_m or 0.0
        return self.h_W_m2_K * way_m / self.conductivity_W_m_K


def left_at_the_slowest(body: Body, time_s: float) -> float:
    """Find which share of the first difference to the surroundings the slowest point of a body still has [-].

    1 at first, 0 in the end.

    Wall: sum of C exp(-z^2 Fo), z tan z = Bi, C = 4 sin z/(2 z + sin 2z). Long cylinder: z J1(z)/J0(z) = Bi,
    C = 2 J1/(z (J0^2 + J1^2)). A can is the product of the two. Layers: the eigenvectors of a row of cells. Source: H.
    S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, sections 3.11 and 7.7; F. P. Incropera and
    D. P. DeWitt, Fundamentals of Heat and Mass Transfer, table 5.1 (first terms).

    Parameters
    ----------
    time_s : Time in the new surroundings, 0 or more [s]
    """
    require_between("time", time_s, 0.0, inf, unit="s", open_high=True)
    return min(_course(body)(time_s), 1.0)


def follow_time_s(body: Body, *, from_K: float, to_K: float, within_K: float = FOLLOWED_K) -> float:
    """Find after how long the slowest point of a body is within some kelvin of its new surroundings.

    0 where it is near enough at once.

    Parameters
    ----------
    from_K : Its temperature, even throughout, 233.15 to 373.15 [K]
    to_K : Temperature of the surroundings, which stays, 233.15 to 373.15 [K]
    within_K : What is near enough, above 0 [K]
    """
    for where, value in (("temperature before", from_K), ("temperature of the surroundings", to_K)):
        require_between(where, value, 233.15, 373.15, unit="K")
    require_positive("nearness", within_K, unit="ΔK")
    apart_K = abs(to_K - from_K)
    if apart_K <= within_K:
        return 0.0
    return _falls_to(_course(body), within_K / apart_K)


def bath_time_s(body: Body, *, from_K: float, bath_K: float, to_K: float) -> float:
    """Find how long a can stands in a bath warmer than is wanted, until all of it, stirred, has the temperature.

    From then on it is stirred, or turned over and shaken. Raises RangeError for a bath that never gets it there, or
    another shape. The mean of the same series: a mode of the wall weighs C sin z/z, one of the cylinder 2 C J1(z)/z.

    Parameters
    ----------
    from_K : Its temperature, 233.15 to 373.15 [K]
    bath_K : Of the bath, beyond `to_K` as seen from `from_K` [K]
    to_K : What is wanted [K]
    """
    if body.shape not in ("cylinder", "can") or (bath_K - to_K) * (to_K - from_K) <= 0.0:
        todo = "a bath beyond what is wanted, for a can or a cylinder"
        raise RangeError("bath", "cannot do that", value=temperature(bath_K), todo=todo)
    radius_m, per_s = body.radius_m or 0.0, body.diffusivity_m2_s
    means = tuple((z, weight * 2.0 * _bessel(1, z) / z) for z, weight in _cylinder_modes(body.biot))
    mean = _series(means, per_s / radius_m**2)
    if body.shape == "can":
        half_m = 0.5 * (body.height_m or 0.0)
        lids = tuple((z, w * sin(z) / z) for z, w in _wall_modes(body.h_W_m2_K * half_m / body.conductivity_W_m_K))
        of_lids = _series(lids, per_s / half_m**2)
        return _falls_to(lambda time_s: mean(time_s) * of_lids(time_s), (bath_K - to_K) / (bath_K - from_K))
    return _falls_to(mean, (bath_K - to_K) / (bath_K - from_K))


def _falls_to(course: Callable[[float], float], share: float) -> float:
    """Return when something that falls from one reaches a share."""
    longest_s = 60.0
    while course(longest_s) > share:
        longest_s *= 2.0
    return first_at_or_above(lambda time_s: share - course(time_s), 0.0, longest_s, WITHIN * longest_s)


@lru_cache(maxsize=256)
def _course(body: Body) -> Callable[[float], float]:
    """Return the share left at the slowest point as a function of time."""
    if body.shape == "layers":
        return _layered(body)
    diffusivity = body.diffusivity_m2_s
    if body.shape in ("slab", "half slab"):
        return _middle(_wall_modes(body.biot), diffusivity / (body.half_thickness_m or 1.0) ** 2)
    radius_m = body.radius_m or 0.0
    around = _middle(_cylinder_modes(body.biot), diffusivity / radius_m**2)
    if body.shape == "cylinder":
        return around
    half_m = 0.5 * (body.height_m or 0.0)
    lids = _middle(_wall_modes(body.h_W_m2_K * half_m / body.conductivity_W_m_K), diffusivity / half_m**2)
    return lambda time_s: around(time_s) * lids(time_s)


def _middle(modes: tuple[tuple[float, float], ...], per_s: float) -> Callable[[float], float]:
    """Return the sum of modes over time at the middle: all of the difference is left before it feels anything."""
    later = _series(modes, per_s)
    return lambda time_s: 1.0 if per_s * time_s < NOT_YET else later(time_s)


def _series(modes: tuple[tuple[float, float], ...], per_s: float) -> Callable[[float], float]:
    """Return the sum of (eigenvalue, weight) modes over time."""

    def share(time_s: float) -> float:
        fourier = per_s * time_s
        return min(sum(weight * exp(-min(root * root * fourier, 700.0)) for root, weight in modes), 1.0)

    return share


@lru_cache(maxsize=256)
def _wall_modes(biot: float) -> tuple[tuple[float, float], ...]:
    """Return the eigenvalues of a wall, z tan z = Bi, with the weights of its middle."""
    roots = (_root(lambda z: z * sin(z) - biot * cos(z), n * pi, (n + 0.5) * pi) for n in range(MODES))
    return tuple((z, 4.0 * sin(z) / (2.0 * z + sin(2.0 * z))) for z in roots)


@lru_cache(maxsize=256)
def _cylinder_modes(biot: float) -> tuple[tuple[float, float], ...]:
    """Return the eigenvalues of a long cylinder, z J1(z) = Bi J0(z), with the weights of its axis."""
    found = []
    for low, high in _bessel_brackets():
        z = _root(lambda z: z * _bessel(1, z) - biot * _bessel(0, z), low, high)
        j0, j1 = _bessel(0, z), _bessel(1, z)
        found.append((z, 2.0 * j1 / (z * (j0 * j0 + j1 * j1))))
    return tuple(found)


@lru_cache(maxsize=1)
def _bessel_brackets() -> tuple[tuple[float, float], ...]:
    """Return between which zeros of J1 and J0 each eigenvalue of a cylinder lies."""
    ends = [_root(lambda z: _bessel(0, z), (n + 0.5) * pi, (n + 1.0) * pi) for n in range(MODES)]
    starts = [0.0, *(_root(lambda z: _bessel(1, z), n * pi, (n + 0.5) * pi) for n in range(1, MODES))]
    return tuple(zip(starts, ends, strict=True))


def _root(zero: Callable[[float], float], low: float, high: float) -> float:
    """Return the place between two others where something that has one sign on either side changes it."""
    sign = 1.0 if zero(high) > 0.0 else -1.0
    return first_at_or_above(lambda z: sign * zero(z), low, high, 1e-13 * high)


def _bessel(order: int, x: float) -> float:
    """Return J_n(x) by Bessel's integral, whose trapezoidal sum is exact to rounding for x below the panels."""
    panels = BESSEL_PANELS + ceil(x)
    ends = 0.5 * (1.0 + cos(order * pi))
    return (ends + sum(cos(order * t - x * sine) for t, sine in _angles(panels))) / panels


@lru_cache(maxsize=64)
def _angles(panels: int) -> tuple[tuple[float, float], ...]:
    """Return the angles between the panels of a half turn, each with its sine."""
    return tuple((t, sin(t)) for t in (pi * i / panels for i in range(1, panels)))


def _layered(body: Body) -> Callable[[float], float]:
    """Return the share left at the slowest cell of a wall of several materials, exact in time."""
    import numpy as np

    sizes, heats, conducts = _cells(body.layers)
    size, heat = np.array(sizes), np.array(heats)
    inside = 0.5 * size / np.array(conducts)
    between = 1.0 / (inside[:-1] + inside[1:])
    out = np.zeros(len(size))
    out[0] = 1.0 / (1.0 / body.h_W_m2_K + inside[0])
    if body.both_faces:
        out[-1] += 1.0 / (1.0 / body.h_W_m2_K + inside[-1])
    main = out.copy()
    main[:-1] += between
    main[1:] += between
    root = np.sqrt(heat)
    symmetric = (np.diag(main) - np.diag(between, 1) - np.diag(between, -1)) / np.outer(root, root)
    rates, modes = np.linalg.eigh(symmetric)
    weights = modes / root[:, None] * (modes.T @ root)

    def share(time_s: float) -> float:
        return float(np.max(weights @ np.exp(-rates * time_s)))

    return share


def _cells(layers: Sequence[SolidLayer]) -> tuple[list[float], list[float], list[float]]:
    """Return thickness [m], heat capacity [J/(m2 K)] and conductivity [W/(m K)] of cells of about one thickness."""
    whole_m = sum(layer.thickness_m for layer in layers)
    sizes: list[float] = []
    heats: list[float] = []
    conducts: list[float] = []
    for layer in layers:
        count = max(ceil(CELLS * layer.thickness_m / whole_m), 8)
        sizes += [layer.thickness_m / count] * count
        heats += [layer.warms[1] / count] * count
        conducts += [layer.conductivity_W_m_K] * count
    return sizes, heats, conducts
