"""What a heater has to give so that a shop, a tent or a box gets warm and stays so."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log

from layup.chemistry.ranges import require_between, require_positive
from layup.chemistry.soak import STILL_AIR_W_m2_K
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K

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

        Notes
        -----
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
    """Find what a heater has to give on the average to hold a temperature.

    Parameters
    ----------
    room : Room
        What is heated [-]
    inside_K : float
        The temperature to hold, 233.15 to 373.15 [K]
    outside_K : float
        The coldest it gets around it, 233.15 to 373.15 [K]

    Returns
    -------
    power_W : float
        0 where it is no colder outside [W]

    Raises
    ------
    RangeError
        For a value outside its range.
    """
    for where, value in (("temperature inside", inside_K), ("temperature outside", outside_K)):
        require_between(where, value, COLDEST_K, HOTTEST_K, unit="K")
    return max(room.loss_W_K * (inside_K - outside_K), 0.0)


def held_K(room: Room, *, power_W: float, outside_K: float) -> float:
    """Find the warmest that a heater keeps a room once all in it is warm.

    Parameters
    ----------
    room : Room
        What is heated [-]
    power_W : float
        What the heater gives, 0 to 1e6 [W]
    outside_K : float
        Around the room [K]

    Returns
    -------
    held_K : float
        The temperature inside [K]

    Raises
    ------
    RangeError
        For a power outside its range.
    """
    require_between("power of the heater", power_W, 0.0, 1e6, unit="W")
    return outside_K + power_W / room.loss_W_K


def warms_in_s(room: Room, *, power_W: float, from_K: float, to_K: float, outside_K: float, stored_J_K: float) -> float:
    """Find how long a heater takes to bring a room and what stands in it to a temperature.

    Parameters
    ----------
    room : Room
        What is heated [-]
    power_W : float
        What the heater gives, above 0 [W]
    from_K : float
        What all of it has at first [K]
    to_K : float
        What is wanted [K]
    outside_K : float
        Around the room [K]
    stored_J_K : float
        Heat that air and what stands in it take up for a kelvin, above 0 [J/K]

    Returns
    -------
    time_s : float
        inf where the heater never gets there [s]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    C dT/dt = P - H (T - T_out): T nears T_out + P/H with C/H; everything in the room taken as one lump.
    """
    require_positive("power of the heater", power_W, unit="W")
    require_positive("heat stored", stored_J_K, unit="J/K")
    if to_K <= from_K:
        return 0.0
    end_K = held_K(room, power_W=power_W, outside_K=outside_K)
    if end_K <= to_K:
        return inf
    return stored_J_K / room.loss_W_K * log((end_K - from_K) / (end_K - to_K))
