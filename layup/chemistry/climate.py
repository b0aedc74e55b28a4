"""The shop's air: dew point, how far a surface is above it, and the risk of blush on an amine-cured epoxy."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi
from typing import Literal

from layup.chemistry.ranges import require_between
from layup.units import temperature

ZERO_CELSIUS_K = 273.15
MAGNUS_RANGE_K = (228.15, 333.15)
"""-45 to 60 degC, where WMO No. 8 gives the Magnus formula over water."""

WOOD_RANGE_K = (253.15, 343.15)
"""Where the equation for wood in air holds."""
WOOD_DIFFUSIVITY_m2_s = (3e-11, 1e-10)
"""Of water across the grain at 20 degC and about 10 %, dense and light wood (order of magnitude, from memory)."""
DRY_MARGIN_K = 3.0
"""A surface this far above the dew point is taken as dry (painting practice; ISO 8502-4 says no simple rule holds)."""
DAMP_AIR = 0.85
"""No coating above this relative humidity (painting practice)."""
MUGGY_AIR = 0.70
"""From here on watch the surface (common practice, no source)."""
COLD_SHOP_K = 288.15
"""15 degC, the least for a standard amine hardener (common practice, no source)."""

BlushRisk = Literal["low", "raised", "high"]


@dataclass(frozen=True, slots=True)
class Blush:
    """How likely an amine blush is, and why: one sentence a reason, none where the risk is low."""

    risk: BlushRisk
    reasons: tuple[str, ...]


def saturation_pressure_Pa(air_K: float) -> float:
    """Find the pressure of water vapour over a water surface.

    Parameters
    ----------
    air_K : float
        Temperature, 228.15 to 333.15 [K]

    Returns
    -------
    pressure_Pa : float
        Saturation vapour pressure [Pa]

    Raises
    ------
    RangeError
        For a temperature outside the formula's range.

    Notes
    -----
    e = 6.112 exp(17.62 t / (243.12 + t)) hPa, t in degC; over water, also below freezing.

    References
    ----------
    WMO No. 8, Guide to Instruments and Methods of Observation, annex 4.B (Magnus formula).

    Examples
    --------
    >>> round(saturation_pressure_Pa(293.15))
    2333
    """
    require_between("air temperature", air_K, *MAGNUS_RANGE_K, unit="K", source="WMO No. 8")
    return 611.2 * exp(_exponent(air_K))


def dew_point_K(air_K: float, relative_humidity: float) -> float:
    """Find the temperature at which the shop's air starts to wet a surface.

    Parameters
    ----------
    air_K : float
        Air temperature, 228.15 to 333.15 [K]
    relative_humidity : float
        Relative humidity, 0.01 to 1 [-]

    Returns
    -------
    dew_point_K : float
        Dew point over water, at most the air temperature [K]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    The Magnus formula solved for temperature: with g = ln(RH) + 17.62 t/(243.12 + t),
    t_d = 243.12 g / (17.62 - g), in degC. Below freezing frost forms first, at a slightly higher temperature.

    References
    ----------
    WMO No. 8, Guide to Instruments and Methods of Observation, annex 4.B (Magnus formula).

    Examples
    --------
    >>> round(dew_point_K(293.15, 0.50) - 273.15, 3)
    9.255
    """
    require_between("air temperature", air_K, *MAGNUS_RANGE_K, unit="K", source="WMO No. 8")
    require_between("relative humidity", relative_humidity, 0.01, 1.0, todo="give a share, 0.5 for 50 %")
    if relative_humidity == 1.0:
        return air_K
    exponent = log(relative_humidity) + _exponent(air_K)
    return ZERO_CELSIUS_K + 243.12 * exponent / (17.62 - exponent)


def surface_margin_K(surface_K: float, air_K: float, relative_humidity: float) -> float:
    """Find how far a surface is above the dew point of the air over it.

    Parameters
    ----------
    surface_K : float
        Temperature of the mould, core or resin, 228.15 to 333.15 [K]
    air_K : float
        Air temperature, 228.15 to 333.15 [K]
    relative_humidity : float
        Relative humidity, 0.01 to 1 [-]

    Returns
    -------
    margin_K : float
        Above 0 dry; at or below 0 water settles on it [K]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Painting practice asks for 3 K; ISO 8502-4 itself says that no simple rule applies everywhere.

    References
    ----------
    ISO 8502-4, Guidance on the estimation of the probability of condensation prior to paint application.

    Examples
    --------
    >>> round(surface_margin_K(283.15, 293.15, 0.50), 2)
    0.74
    """
    require_between("surface temperature", surface_K, *MAGNUS_RANGE_K, unit="K")
    return surface_K - dew_point_K(air_K, relative_humidity)


def blush_risk(air_K: float, relative_humidity: float, surface_K: float | None = None) -> Blush:
    """Judge the risk that an amine-cured epoxy blushes: a waxy, sticky skin that nothing bonds to.

    Parameters
    ----------
    air_K : float
        Air temperature, 228.15 to 333.15 [K]
    relative_humidity : float
        Relative humidity, 0.01 to 1 [-]
    surface_K : float or None
        Temperature of the coldest surface to be coated; None takes the air's [K]

    Returns
    -------
    blush : Blush
        "low", "raised" or "high", with the reasons [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Amine at the surface takes up water and carbon dioxide from the air before it has found epoxide: damp and cold
    make it worse, and an unvented flame heater adds both gases. High: a surface less than 3 K above the dew point, or
    air above 85 %. Raised: air above 70 %, or air or surface below 15 degC. A class, not a number: hardeners differ.

    References
    ----------
    ISO 8502-4 for the margin; the other limits are common practice, no source.

    Examples
    --------
    >>> blush_risk(293.15, 0.50).risk
    'low'
    """
    surface_K = air_K if surface_K is None else surface_K
    margin_K = surface_margin_K(surface_K, air_K, relative_humidity)
    coldest_K = min(surface_K, air_K)
    findings: tuple[tuple[BlushRisk, bool, str], ...] = (
        (
            "high",
            margin_K <= 0.0,
            f"The surface is at or below the dew point ({margin_K:+.1f} K): water settles on it.",
        ),
        (
            "high",
            0.0 < margin_K < DRY_MARGIN_K,
            f"The surface is less than 3 K above the dew point ({margin_K:.1f} K).",
        ),
        ("high", relative_humidity > DAMP_AIR, f"The air is damper than 85 % ({100 * relative_humidity:.0f} %)."),
        ("raised", MUGGY_AIR < relative_humidity <= DAMP_AIR, f"The air is damp ({100 * relative_humidity:.0f} %)."),
        (
            "raised",
            coldest_K < COLD_SHOP_K,
            f"It is cold ({temperature(coldest_K)}): the surface stays open to the air for longer.",
        ),
    )
    found = [(risk, words) for risk, applies, words in findings if applies]
    return Blush(found[0][0] if found else "low", tuple(words for _, words in found))


def wood_moisture(air_K: float, relative_humidity: float) -> float:
    """Find the moisture that wood comes to in the shop's air.

    Parameters
    ----------
    air_K : float
        Air temperature, 253.15 to 343.15 [K]
    relative_humidity : float
        Relative humidity, 0 to 0.98 [-]

    Returns
    -------
    moisture : float
        Water over dry wood, within about 0.01; months of one air for a plank, days for a thin core [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    1800/W (K h/(1 - K h) + (K1 K h + 2 K1 K2 K^2 h^2)/(1 + K1 K h + K1 K2 K^2 h^2)) per cent, with t in degC:
    W = 349 + 1.29 t + 0.0135 t^2, K = 0.805 + 0.000736 t - 0.00000273 t^2, K1 = 6.27 - 0.00938 t - 0.000303 t^2,
    K2 = 1.91 + 0.0407 t - 0.000293 t^2

    References
    ----------
    Wood Handbook, FPL-GTR-282, equation (4-5).

    Examples
    --------
    >>> round(wood_moisture(294.15, 0.60), 4)
    0.1097
    """
    require_between("air temperature", air_K, *WOOD_RANGE_K, unit="K", source="Wood Handbook")
    require_between("relative humidity", relative_humidity, 0.0, 0.98, todo="give a share, 0.5 for 50 %")
    celsius, h = air_K - ZERO_CELSIUS_K, relative_humidity
    per_W = 1800.0 / (349.0 + 1.29 * celsius + 0.0135 * celsius**2)
    k = 0.805 + 0.000736 * celsius - 0.00000273 * celsius**2
    k1 = 6.27 - 0.00938 * celsius - 0.000303 * celsius**2
    k2 = 1.91 + 0.0407 * celsius - 0.000293 * celsius**2
    bound = k1 * k * h
    both = bound + k1 * k2 * (k * h) ** 2
    return 0.01 * per_W * (k * h / (1.0 - k * h) + (2.0 * both - bound) / (1.0 + both))


def wood_follows_s(thickness_m: float) -> tuple[float, float]:
    """Find how long a board with both faces in the air needs for nine tenths of a change of its moisture.

    Parameters
    ----------
    thickness_m : float
        Of the board, across its grain, above 0 to 0.5 [m]

    Returns
    -------
    time_s : tuple of float
        The shortest and the longest, for light and for dense wood [s]

    Raises
    ------
    RangeError
        For a thickness outside its range.

    Notes
    -----
    A slab whose faces follow at once: its mean keeps a tenth at D t/L^2 = (4/pi^2) ln(80/pi^2) = 0.848, L half of it.

    References
    ----------
    J. Crank, The Mathematics of Diffusion, 2nd ed., 1975, section 4.3.
    """
    require_between("thickness of the wood", thickness_m, 0.0, 0.5, unit="m", open_low=True)
    slow, quick = WOOD_DIFFUSIVITY_m2_s
    settles = 4.0 / pi**2 * log(80.0 / pi**2) * (0.5 * thickness_m) ** 2
    return settles / quick, settles / slow


def _exponent(air_K: float) -> float:
    """Return the exponent of the Magnus formula."""
    celsius = air_K - ZERO_CELSIUS_K
    return 17.62 * celsius / (243.12 + celsius)
