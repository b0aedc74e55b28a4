"""A film on the part: it has the part's temperature, so its age is a dose and its life a closed form; how much sooner
thick wet cloth closes, which makes heat of its own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, exp, inf, pi, sqrt

from layup.chemistry.datasheet import FilmPoint
from layup.chemistry.kinetics import (
    GAS_CONSTANT_J_MOL_K,
    Kinetics,
    conversion_after,
    reduced_time,
    speed_up,
    stretch,
    unstretch,
)
from layup.chemistry.numerics import require_between
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K, History, time_of_dose_s

# -- film ------------------------------------------------------------------------------------------------------------

GEL_MARGIN = 0.03
"""Conversion from the gel to either side: a film has closed so far before it, and a part holds from so far past
it, for a network that has only begun tears (our own judgement, no source)."""


def film_life_s(
    kinetics: Kinetics, temperature_K: float, *, conversion_start: float = 0.0, conversion_end: float | None = None
) -> float:
    """Return how long a film at one temperature takes from one conversion to another.

    Time, 0 if it is past the end already.

    t = (G(a_end) - G(a_start))/k(T).

    >>> round(film_life_s(Kinetics(4.80015e-4), 298.15) / 60)
    136

    Parameters
    ----------
    temperature_K : Temperature of the part, 233 to 523 [K]
    conversion_start : Conversion now, 0 to below 1 [-]
    conversion_end : Conversion at the end; None takes the film's own limit [-]
    """
    require_between("temperature", temperature_K, COLDEST_K, HOTTEST_K, unit="K")
    end = kinetics.conversion_film if conversion_end is None else conversion_end
    ahead = reduced_time(kinetics, end) - reduced_time(kinetics, conversion_start)
    return max(0.0, ahead) / kinetics.rate_constant_per_s(temperature_K)


def last_open_conversion(kinetics: Kinetics) -> float:
    """Return the conversion by which any film has closed: a little before it gels.

    >>> round(last_open_conversion(Kinetics(1.0)), 3)
    0.547
    """
    return max(kinetics.conversion_gel - GEL_MARGIN, 0.5 * kinetics.conversion_gel)


def open_conversion(kinetics: Kinetics, film: FilmPoint) -> float:
    """Return the conversion that a resin has at the end of a stated film time.

    >>> round(open_conversion(Kinetics(4.8e-4), FilmPoint(5400.0, 298.15)), 3)
    0.316
    """
    return conversion_after(kinetics, kinetics.rate_constant_per_s(film.temperature_K) * film.time_s)


def remaining_s(
    kinetics: Kinetics,
    dose_s: float,
    temperature_K: float,
    *,
    conversion_start: float = 0.0,
    conversion_end: float | None = None,
) -> float:
    """Return how long a film that has aged by a dose still has at one temperature [s].

    0 if it is past the end already.

    t = (G(a_end) - G(a_start) - k_ref t_e)/k(T). Source: ASTM C1074, equivalent age.

    >>> round(remaining_s(Kinetics(4.80015e-4), 1800.0, 298.15) / 60)
    106

    Parameters
    ----------
    dose_s : Equivalent age since `conversion_start`, at 25 C, 0 or more [s]
    temperature_K : Temperature of the part from now on, 233 to 523 [K]
    conversion_start : Conversion when the dose began, 0 to below 1 [-]
    conversion_end : Conversion at the end; None takes the film's own limit [-]
    """
    require_between("dose", dose_s, 0.0, inf, unit="s")
    whole_s = film_life_s(kinetics, temperature_K, conversion_start=conversion_start, conversion_end=conversion_end)
    return max(0.0, whole_s - dose_s / speed_up(temperature_K, kinetics.activation_energy_J_mol))


def film_time_s(
    kinetics: Kinetics,
    ambient: float | History,
    conversion_end: float,
    *,
    conversion_start: float = 0.0,
    from_s: float = 0.0,
) -> float:
    """Return when a film reaches a conversion, at the part's temperature as logged or forecast.

    The dose that G(a_end) - G(a_start) = k_ref t_e asks for, looked up in the history.
    """
    ahead = reduced_time(kinetics, conversion_end) - reduced_time(kinetics, conversion_start)
    if ahead <= 0.0:
        return from_s
    return time_of_dose_s(ambient, kinetics.activation_energy_J_mol, ahead / kinetics.k_ref_per_s, from_s=from_s)


# -- skin that warms itself ------------------------------------------------------------------------------------------

FIBRE_HEAT_J_G_K = 0.80
"""Glass; carbon 0.7, flax 1.3 (from memory)."""
FEWEST_STEPS = 8
"""For 0.0005 of a share."""
GRID_K = 5.0
GRIDS = round((HOTTEST_K - COLDEST_K) / GRID_K)
SETTLES = 3
"""Rounds in which a skin's temperature and the growth of its heat agree."""
HALF_SPACE = 4.0 / pi - 1.0
"""A deep bed fed as t^(p-1) stores x e sqrt(t) Gamma(p + 1/2)/Gamma(p + 1), within 0.5 % x e sqrt(t/(p + 0.273))."""
DEEPEST = 0.49
"""Share of a bed from which on its far face counts: as both laws say at alpha t = 0.3 L^2, p = 1."""
STABLE = 2.0
"""Most of a skin's own cooling time in one step of the integration."""


@dataclass(frozen=True, slots=True)
class SolidLayer:
    """What a skin lies against: it takes up heat to the depth that is warmed meanwhile."""

    conductivity_W_m_K: float
    density_g_cm3: float
    specific_heat_J_g_K: float
    thickness_m: float

    @property
    def warms(self) -> tuple[float, float]:
        """Return its effusivity, which is what is warmed over the square root of time, and all of it [J/(m2 K)]."""
        volumetric_J_m3_K = 1e6 * self.density_g_cm3 * self.specific_heat_J_g_K
        return sqrt(self.conductivity_W_m_K * volumetric_J_m3_K), volumetric_J_m3_K * self.thickness_m


LIGHT_CORE = SolidLayer(0.06, 0.15, 1.5, 0.012)
"""Balsa, light paulownia or foam, with the grain across the heat (handbook values, from memory)."""
MOULD_BOARD = SolidLayer(0.14, 0.65, 1.6, 0.018)
"""Wood-based board, as moulds and cauls are made of (handbook values, from memory)."""
CORE_WOOD = SolidLayer(0.12, 0.45, 1.6, 0.020)
"""Of a core around a channel: k = G (0.1941 + 0.0041 M) + 0.0186 W/(m K) at G = 0.45, M = 10 % (Wood Handbook; from
memory, as the specific heat)."""


@dataclass(frozen=True, slots=True)
class Skin:
    """Wet cloth on the part: its resin and fibre, what it lies on, and what lies on it (None: the open air)."""

    resin_g_m2: float
    fibre_g_m2: float
    below: SolidLayer = LIGHT_CORE
    above: SolidLayer | None = None
    open_faces: float = 1.0
    """Face to the open air over face on `below`, where nothing lies above."""

    @classmethod
    def channel(cls, section_m2: float, depth_m: float, bottom_m: float, top_m: float, density_g_cm3: float) -> Skin:
        """Return the mix in a channel as a skin on the wood of its sides and its bottom, open at the top [m, g/cm3]."""
        wood_m = 2.0 * depth_m + bottom_m
        return cls(1e6 * density_g_cm3 * section_m2 / wood_m, 0.0, CORE_WOOD, open_faces=top_m / wood_m)


@lru_cache(maxsize=1024)
def open_life_share(
    kinetics: Kinetics,
    skin: Skin,
    part_K: float,
    conversion_start: float = 0.0,
    conversion_end: float | None = None,
    excess_K: float = 0.0,
) -> float:
    """Return the share of a film's life that is left to a skin which warms itself: open or, as asked, to another end.

    It begins `excess_K` above the part.

    dE/dt = m_r dH da/dt - h x (1 + growth (x - 20)) if open, the skin x = E/(m_r cp + m_f cf + sum(e sqrt(t/(p + 4/pi -
    1)))) above the part, e = sqrt(k rho c) of a bed and p = t (dE/dt)/E. A deep bed whose heat grows as t^p is warmed
    by E Gamma(p + 1)/(Gamma(p + 1/2) e sqrt(t)) at its face: p = 1 is a steady flow, and the faster the flow grows the
    thinner the layer that takes part. Once a bed is warm through, x = E/(rho c L) (1 + p L^2/(3 alpha t)). Source: H.
    S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 2.9.
    """
    end = kinetics.conversion_film if conversion_end is None else conversion_end
    if conversion_start >= end:
        return 1.0
    law = kinetics
    own_J_m2_K = skin.resin_g_m2 * law.specific_heat_J_g_K + skin.fibre_g_m2 * FIBRE_HEAT_J_G_K
    beds = [bed for bed in (skin.below, skin.above) if bed is not None]
    k_part = law.rate_constant_per_s(part_K)
    cold_s = (reduced_time(law, end) - reduced_time(law, conversion_start)) / k_part
    loss_W_m2_K = 0.0 if skin.above is not None else law.film_coefficient_W_m2_K * skin.open_faces
    warms = [bed.warms for bed in beds]
    sharpness_K = law.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
    growth, made_J_m2 = law.film_growth_per_K, skin.resin_g_m2 * law.heat_J_g

    def slopes(place: tuple[float, float], time_s: float, heat_J_m2: float) -> tuple[float, float]:
        """Return dt/dy and dE/dy."""
        (per_y, cold_per_y), growing = place, 1.0
        slower = flow = 0.0
        for _ in range(SETTLES):
            stored_J_m2_K = own_J_m2_K
            for effusivity, whole in warms:
                deep = effusivity * sqrt(time_s / (growing + HALF_SPACE))
                through = DEEPEST * whole
                stored_J_m2_K += (
                    deep if deep < through else whole / (1.0 + growing * (whole / effusivity) ** 2 / (3.0 * time_s))
                )
            excess_K = heat_J_m2 / stored_J_m2_K
            slower = cold_per_y / exp(sharpness_K * excess_K / (part_K * (part_K + excess_K)))
            lost_W_m2 = loss_W_m2_K * excess_K * max(0.5, 1.0 + growth * (excess_K - 20.0))
            flow = made_J_m2 * per_y / slower - lost_W_m2
            growing = max(time_s * flow / heat_J_m2, 0.0) if heat_J_m2 > 0.0 else 1.0
        return slower, flow * slower

    begin, finish = stretch(conversion_start, law.a0), stretch(end, law.a0)
    steps = max(FEWEST_STEPS, ceil(cold_s / _longest_step_s(own_J_m2_K, warms, loss_W_m2_K)))
    h, time_s, heat = (finish - begin) / steps, 0.0, own_J_m2_K * max(excess_K, 0.0)
    here = _place(law, k_part, begin)
    for step in range(1, steps + 1):
        middle, then = (_place(law, k_part, begin + (step - back) * h) for back in (0.5, 0.0))
        t1, e1 = slopes(here, time_s, heat)
        t2, e2 = slopes(middle, time_s + h / 2 * t1, heat + h / 2 * e1)
        t3, e3 = slopes(middle, time_s + h / 2 * t2, heat + h / 2 * e2)
        t4, e4 = slopes(then, time_s + h * t3, heat + h * e3)
        here = then
        time_s += h / 6 * (t1 + 2 * t2 + 2 * t3 + t4)
        heat = max(0.0, heat + h / 6 * (e1 + 2 * e2 + 2 * e3 + e4))
    return min(1.0, time_s / cold_s)


def _place(law: Kinetics, k_part_per_s: float, y: float) -> tuple[float, float]:
    """Return da/dy, and dt/dy of a film that makes no heat."""
    a = unstretch(y, law.a0)
    per_y = (law.a0 + a) * (1.0 - a) / (1.0 + law.a0)
    return per_y, per_y / (k_part_per_s * law.shape(a))


def _longest_step_s(own_J_m2_K: float, warms: list[tuple[float, float]], loss_W_m2_K: float) -> float:
    """Return how long one step may be: what is warm of a bed by its end gives its heat back, too."""
    longest_s = 0.0 if loss_W_m2_K else inf
    for _ in range(SETTLES if loss_W_m2_K else 0):
        deep = sqrt(longest_s / (1.0 + HALF_SPACE))
        warm_J_m2_K = own_J_m2_K + sum(min(effusivity * deep, DEEPEST * whole) for effusivity, whole in warms)
        longest_s = STABLE * warm_J_m2_K / loss_W_m2_K
    return longest_s


def skin_share(kinetics: Kinetics, skin: Skin | None, part_K: float) -> float:
    """Return the share of a film's open life that is left on the part, by the worse of open and covered.

    Above 0, at most 1 [-]. A skin stands open first and is then shut in between the core and a mould or caul: which of
    them closes it sooner depends on the resin, and nobody knows beforehand when it is covered. Straight between
    temperatures 5 K apart, which changes it by less than 0.005.

    Parameters
    ----------
    skin : The thickest wet cloth of the part; None for a film that makes no heat [-]
    part_K : Temperature of the part, 233 to 523 [K]
    """
    if skin is None:
        return 1.0
    below_K = COLDEST_K + GRID_K * min(int((part_K - COLDEST_K) / GRID_K), GRIDS - 1)
    low, high = (_worse_share(kinetics, skin, kelvin) for kelvin in (below_K, min(below_K + GRID_K, HOTTEST_K)))
    return low + (high - low) * (part_K - below_K) / GRID_K


@lru_cache(maxsize=1024)
def _worse_share(kinetics: Kinetics, skin: Skin, part_K: float) -> float:
    """Return the share of open life left by the worse of open and covered."""
    covered = skin if skin.above is not None else replace(skin, above=MOULD_BOARD)
    return min(open_life_share(kinetics, side, part_K) for side in (replace(skin, above=None), covered))
