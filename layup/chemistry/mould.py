"""What a mould of foam or board bears: the press through a night, and heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from layup.chemistry.ranges import require_positive

STRENGTH_Pa_m3_kg = 7000.0
"""Compressive strength at 10 % strain for each kg/m3: polystyrene board 5 to 10 kPa (ASTM D1621 kind; from memory)."""
STIFF = 40.0
"""Modulus over strength at 10 % strain, of closed-cell foams (12 MPa of a 300 kPa board; from memory)."""
LONG_LOAD = 0.3
"""Share of that strength that a foam carries through a night without creeping on: about 1 % of strain with the creep
(EN 13164 tells 2 % after 50 years at about that; from memory)."""
FOAM_WARM_K = 313.15
"""40 degC: no foam under load is warmed beyond it unless its maker says so (common practice, no source)."""
BOARD_WARM_K = 333.15
"""60 degC, beyond which plywood and board dry out and warp (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class FoamLoad:
    """A mould's foam under the press."""

    pressure_Pa: float
    strength_Pa: float
    """At 10 % strain, stated or by its density."""
    strain: float
    """At once; the night's creep adds about as much again."""
    squeezed_m: float

    @property
    def word(self) -> Literal["carries it", "creeps", "crushes"]:
        """Return what the foam does through a night: at twice what it carries it crushes (our own judgement)."""
        if self.pressure_Pa > 2.0 * LONG_LOAD * self.strength_Pa:
            return "crushes"
        return "creeps" if self.pressure_Pa > LONG_LOAD * self.strength_Pa else "carries it"


def foam_load(thickness_m: float, density_g_cm3: float, pressure_Pa: float, strength_Pa: float | None) -> FoamLoad:
    """Find what a foam does under the pressure of the press.

    Parameters
    ----------
    thickness_m : float
        How thick it is, above 0 [m]
    density_g_cm3 : float
        Its density, above 0 [g/cm3]
    pressure_Pa : float
        Mean pressure on it, above 0 [Pa]
    strength_Pa : float or None
        Its compressive strength at 10 % strain, above 0; None takes one by its density [Pa]

    Returns
    -------
    load : FoamLoad
        Strength, strain, and by how much it gives way [Pa, m]

    Raises
    ------
    RangeError
        For a value outside its range.

    References
    ----------
    The strength is that of ASTM D1621 or EN 826; that by density, and what a night allows of it, are from memory.
    """
    require_positive("thickness of the foam", thickness_m, unit="m")
    require_positive("density of the foam", density_g_cm3, unit="g/cm3")
    require_positive("pressure", pressure_Pa, unit="Pa")
    strength_Pa = STRENGTH_Pa_m3_kg * 1000.0 * density_g_cm3 if strength_Pa is None else strength_Pa
    require_positive("strength of the foam", strength_Pa, unit="Pa")
    strain = pressure_Pa / (STIFF * strength_Pa)
    return FoamLoad(pressure_Pa, strength_Pa, strain, strain * thickness_m)
