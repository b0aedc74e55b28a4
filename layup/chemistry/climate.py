"""The shop's air: dew point, blush on amine-cured epoxy, moisture of wood, foaming urethane; what heats a shop."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log, pi
from typing import Literal

from layup.chemistry.numerics import require_between, require_positive
from layup.chemistry.soak import STILL_AIR_W_m2_K
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.dimensions import ZERO_CELSIUS_K
from layup.units import temperature, temperature_change

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
DRY_WOOD, FOAMING_AIR = 0.10, 0.65
"""Wood moisture and humidity from which on a urethane is likely to foam (common practice, no source)."""
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

    e = 6.112 exp(17.62 t / (243.12 + t)) hPa, t in degC; over water, also below freezing. Source: WMO No. 8, Guide to
    Instruments and Methods of Observation, annex 4.B (Magnus formula).

    >>> round(saturation_pressure_Pa(293.15))
    2333

    Parameters
    ----------
    air_K : Temperature, 228.15 to 333.15 [K]
    """
    require_between("air temperature", air_K, *MAGNUS_RANGE_K, unit="K", source="WMO No. 8")
    return 611.2 * exp(_exponent(air_K))


def dew_point_K(air_K: float, relative_humidity: float) -> float:
    """Find the dew point over water [K], at most the air's temperature: a surface that cold starts to get wet.

    The Magnus formula solved for temperature: with g = ln(RH) + 17.62 t/(243.12 + t),
    t_d = 243.12 g / (17.62 - g), in degC. Below freezing frost forms first, at a slightly higher temperature. Source:
    WMO No. 8, Guide to Instruments and Methods of Observation, annex 4.B (Magnus formula).

    >>> round(dew_point_K(293.15, 0.50) - 273.15, 3)
    9.255

    Parameters
    ----------
    air_K : Air temperature, 228.15 to 333.15 [K]
    relative_humidity : Relative humidity, 0.01 to 1 [-]
    """
    require_between("air temperature", air_K, *MAGNUS_RANGE_K, unit="K", source="WMO No. 8")
    require_between("relative humidity", relative_humidity, 0.01, 1.0, todo="give a share, 0.5 for 50 %")
    if relative_humidity == 1.0:
        return air_K
    exponent = log(relative_humidity) + _exponent(air_K)
    return ZERO_CELSIUS_K + 243.12 * exponent / (17.62 - exponent)


def surface_margin_K(surface_K: float, air_K: float, relative_humidity: float) -> float:
    """Find how far a surface is above the dew point of the air over it.

    Above 0 dry; at or below 0 water settles on it [K]. Painting practice asks for 3 K; ISO 8502-4 itself says that no
    simple rule applies everywhere. Source: ISO 8502-4, Guidance on the estimation of the probability of condensation
    prior to paint application.

    >>> round(surface_margin_K(283.15, 293.15, 0.50), 2)
    0.74

    Parameters
    ----------
    surface_K : Temperature of the mould, core or resin, 228.15 to 333.15 [K]
    air_K : Air temperature, 228.15 to 333.15 [K]
    relative_humidity : Relative humidity, 0.01 to 1 [-]
    """
    require_between("surface temperature", surface_K, *MAGNUS_RANGE_K, unit="K")
    return surface_K - dew_point_K(air_K, relative_humidity)


def blush_risk(air_K: float, relative_humidity: float, surface_K: float | None = None) -> Blush:
    """Judge the risk that an amine-cured epoxy blushes: a waxy, sticky skin that nothing bonds to.

    Amine at the surface takes up water and carbon dioxide from the air before it has found epoxide: damp and cold
    make it worse, and an unvented flame heater adds both gases. High: a surface less than 3 K above the dew point, or
    air above 85 %. Raised: air above 70 %, or air or surface below 15 degC. A class, not a number: hardeners differ.
    Source: ISO 8502-4 for the margin; the other limits are common practice, no source.

    >>> blush_risk(293.15, 0.50).risk
    'low'

    Parameters
    ----------
    air_K : Air temperature, 228.15 to 333.15 [K]
    relative_humidity : Relative humidity, 0.01 to 1 [-]
    surface_K : Temperature of the coldest surface to be coated; None takes the air's [K]
    """
    surface_K = air_K if surface_K is None else surface_K
    margin_K = surface_margin_K(surface_K, air_K, relative_humidity)
    apart, dry = temperature_change(margin_K, ".1f"), temperature_change(DRY_MARGIN_K)
    coldest_K = min(surface_K, air_K)
    findings: tuple[tuple[BlushRisk, bool, str], ...] = (
        ("high", margin_K <= 0.0, f"The surface is at or below the dew point ({apart}): water settles on it."),
        ("high", 0.0 < margin_K < DRY_MARGIN_K, f"The surface is less than {dry} above the dew point ({apart})."),
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

    Water over dry wood [-], within about 0.01; months of one air for a plank, days for a thin core.

    1800/W (K h/(1 - K h) + (K1 K h + 2 K1 K2 K^2 h^2)/(1 + K1 K h + K1 K2 K^2 h^2)) per cent, with t in degC:
    W = 349 + 1.29 t + 0.0135 t^2, K = 0.805 + 0.000736 t - 0.00000273 t^2, K1 = 6.27 - 0.00938 t - 0.000303 t^2,
    K2 = 1.91 + 0.0407 t - 0.000293 t^2. Source: Wood Handbook, FPL-GTR-282, equation (4-5).

    >>> round(wood_moisture(294.15, 0.60), 4)
    0.1097

    Parameters
    ----------
    air_K : Air temperature, 253.15 to 343.15 [K]
    relative_humidity : Relative humidity, 0 to 0.98 [-]
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

    The shortest and the longest, for light and for dense wood. A slab whose faces follow at once: its mean keeps a
    tenth at D t/L^2 = (4/pi^2) ln(80/pi^2) = 0.848, L half of it. Source: J. Crank, The Mathematics of Diffusion, 2nd
    ed., 1975, section 4.3.

    Parameters
    ----------
    thickness_m : Of the board, across its grain, above 0 to 0.5 [m]
    """
    require_between("thickness of the wood", thickness_m, 0.0, 0.5, unit="m", open_low=True)
    slow, quick = WOOD_DIFFUSIVITY_m2_s
    settles = 4.0 / pi**2 * log(80.0 / pi**2) * (0.5 * thickness_m) ** 2
    return settles / quick, settles / slow


def moisture_warnings(wood_moisture: float | None, relative_humidity: float | None) -> tuple[str, ...]:
    """Say what in the shop may foam a urethane.

    Wood above 10 % and air above 65 % are likely to foam a urethane (common practice, no source).

    >>> moisture_warnings(0.08, 0.5)
    ()

    Parameters
    ----------
    wood_moisture : Water in the wood over its dry mass, 0 to 1; None where it was not measured [-]
    relative_humidity : Relative humidity of the air, 0 to 1; None where it was not measured [-]
    """
    warnings = []
    if wood_moisture is None:
        warnings.append("Measure the wood: water in it foams a urethane. Dry it to 10 % or less, and seal the channel.")
    elif wood_moisture > DRY_WOOD:
        warnings.append(
            f"The wood holds {100 * wood_moisture:.0f} % water: dry it to 10 % or less, or seal the channel first."
        )
    if relative_humidity is not None and relative_humidity > FOAMING_AIR:
        damp = f"{100 * relative_humidity:.0f} %"
        warnings.append(f"The air is damp ({damp}): open cans and pigments briefly, and pour at once.")
    return tuple(warnings)


def _exponent(air_K: float) -> float:
    """Return the exponent of the Magnus formula."""
    celsius = air_K - ZERO_CELSIUS_K
    return 17.62 * celsius / (243.12 + celsius)


INSIDE_m2_K_W = {"wall": 1.0 / STILL_AIR_W_m2_K, "roof": 0.10, "floor": 0.17}
"""Surface resistance indoors by the way the heat goes: sideways, up, down (EN ISO 6946, from memory)."""
OUTSIDE_m2_K_W = 0.04
"""Surface resistance in the wind (EN ISO 6946, from memory)."""
AIR_J_m3_K = 1.2 * 1006.0
"""Heat in a cubic metre of air at 20 degC: 1.2 kg/m3 times 1006 J/(kg K) (handbook values, from memory)."""
WALLS = {
    "sheet": 0.0,
    "single boards": 0.18,
    "brick": 0.30,
    "insulated": 2.0,
}
"""Resistance of a wall without its surfaces [m2 K/W]: foil or metal, 24 mm of wood, a brick of 230 mm, about 80 mm of
mineral wool (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Room:
    """A shop, a tent or a box: its inside measures, and the resistance of what it is made of."""

    length_m: float
    width_m: float
    height_m: float
    resistance_m2_K_W: float
    """Of walls, roof and floor, without their surfaces; 0 for a foil."""
    air_changes_per_h: float
    indoors: bool = False
    """Whether it stands in a shop, out of the wind."""

    def __post_init__(self) -> None:
        for where, value in (("length", self.length_m), ("width", self.width_m), ("height", self.height_m)):
            require_between(f"room: {where}", value, 0.1, 100.0, unit="m")
        require_between("room: resistance of its walls", self.resistance_m2_K_W, 0.0, 50.0, unit="m2 K/W")
        require_between("room: air changes", self.air_changes_per_h, 0.0, 50.0, unit="1/h")

    @property
    def loss_W_K(self) -> float:
        """Return what it loses for each kelvin, through its faces and by air [W/K].

        The sum of A/(Rsi + R + Rse) over walls, roof and floor, and rho cp n V.
        """
        floor_m2 = self.length_m * self.width_m
        walls_m2 = 2.0 * (self.length_m + self.width_m) * self.height_m
        faces = {"wall": walls_m2, "roof": floor_m2, "floor": floor_m2}
        through = sum(area_m2 / self._resistance(face) for face, area_m2 in faces.items())
        return through + AIR_J_m3_K * self.air_changes_per_h * floor_m2 * self.height_m / 3600.0

    def _resistance(self, face: str) -> float:
        """Return the resistance of a face with its surfaces: indoors, the far one is as sheltered."""
        inside = INSIDE_m2_K_W[face]
        return inside + self.resistance_m2_K_W + (inside if self.indoors else OUTSIDE_m2_K_W)


def heater_W(room: Room, *, inside_K: float, outside_K: float) -> float:
    """Find what a heater has to give on the average to hold a temperature. 0 where it is no colder outside.

    Parameters
    ----------
    inside_K : The temperature to hold, 233.15 to 373.15 [K]
    outside_K : The coldest it gets around it, 233.15 to 373.15 [K]
    """
    for where, value in (("temperature inside", inside_K), ("temperature outside", outside_K)):
        require_between(where, value, COLDEST_K, HOTTEST_K, unit="K")
    return max(room.loss_W_K * (inside_K - outside_K), 0.0)


def held_K(room: Room, *, power_W: float, outside_K: float) -> float:
    """Find the warmest that a heater keeps a room once all in it is warm.

    Parameters
    ----------
    power_W : What the heater gives, 0 to 1e6 [W]
    outside_K : Around the room [K]
    """
    require_between("power of the heater", power_W, 0.0, 1e6, unit="W")
    return outside_K + power_W / room.loss_W_K


def warms_in_s(room: Room, *, power_W: float, from_K: float, to_K: float, outside_K: float, stored_J_K: float) -> float:
    """Find how long a heater takes to bring a room and what stands in it to a temperature.

    inf where the heater never gets there.

    C dT/dt = P - H (T - T_out): T nears T_out + P/H with C/H; everything in the room taken as one lump.

    Parameters
    ----------
    power_W : What the heater gives, above 0 [W]
    from_K : What all of it has at first [K]
    to_K : What is wanted [K]
    outside_K : Around the room [K]
    stored_J_K : Heat that air and what stands in it take up for a kelvin, above 0 [J/K]
    """
    require_positive("power of the heater", power_W, unit="W")
    require_positive("heat stored", stored_J_K, unit="J/K")
    if to_K <= from_K:
        return 0.0
    end_K = held_K(room, power_W=power_W, outside_K=outside_K)
    if end_K <= to_K:
        return inf
    return stored_J_K / room.loss_W_K * log((end_K - from_K) / (end_K - to_K))
