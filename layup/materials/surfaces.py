"""Faces that drink resin when they are bonded, and the woods that cores are made of, each number with its source."""

from __future__ import annotations

from dataclasses import dataclass, replace

_PRACTICE = "common practice, no source"
_FPL = "Wood Handbook, FPL-GTR-282, table 5-3a"
_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Surface:
    """What a face takes up of resin, with the band of it; `presealed_g_m2` after a sealing coat the day before."""

    name: str
    uptake_g_m2: float
    low_g_m2: float
    high_g_m2: float
    presealed_g_m2: float | None = None
    source: str = _PRACTICE

    def sealed(self) -> Surface:
        """Return the same face once it has its sealing coat: the band shrinks with the uptake."""
        share = 1.0 if self.presealed_g_m2 is None else self.presealed_g_m2 / self.uptake_g_m2
        low, usual, high = (share * each for each in (self.low_g_m2, self.uptake_g_m2, self.high_g_m2))
        return replace(self, uptake_g_m2=usual, low_g_m2=low, high_g_m2=high, presealed_g_m2=None)


@dataclass(frozen=True, slots=True)
class Wood:
    """A core wood at 12 % moisture. Specific gravity is oven-dry mass over the volume at 12 %."""

    name: str
    specific_gravity: float
    modulus_Pa: float
    source: str

    @property
    def density_g_cm3(self) -> float:
        """Return the density at 12 % moisture: specific gravity times 1.12."""
        return self.specific_gravity * 1.12


SURFACES = {
    surface.name: surface
    for surface in (
        Surface("base sheet", 60.0, 40.0, 90.0),
        Surface("topsheet", 60.0, 40.0, 90.0),
        Surface("steel edge", 100.0, 60.0, 150.0),
        Surface("rubber", 80.0, 50.0, 120.0),
        Surface("ash core face", 100.0, 80.0, 130.0, 50.0),
        Surface("poplar core face", 120.0, 90.0, 160.0, 50.0),
        Surface("paulownia core face", 180.0, 150.0, 250.0, 60.0),
        Surface("balsa core face", 200.0, 150.0, 250.0, 70.0),
        Surface("end grain", 200.0, 150.0, 250.0, 70.0),
        Surface("foam core face", 200.0, 120.0, 350.0),
        Surface("veneer", 100.0, 80.0, 150.0, 50.0),
        Surface("cured laminate", 60.0, 40.0, 90.0),
    )
}

WOODS = {
    wood.name: wood
    for wood in (
        Wood("white ash", 0.60, 12.0e9, _FPL),
        Wood("sugar maple", 0.63, 12.6e9, _MEMORY),
        Wood("yellow-poplar", 0.42, 10.9e9, _MEMORY),
        Wood("paulownia", 0.25, 4.4e9, _MEMORY),
        Wood("balsa", 0.16, 3.4e9, _MEMORY),
    )
}
