"""What a mould of foam or board bears: the press through a night, and heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from layup.chemistry.numerics import monotone_curve, require_positive

WEAKEST_kg_m3, WEAKEST_kPa_m3_kg = (11.2, 24.0, 38.4), (3.57, 4.58, 6.0)
"""Density, and the least compressive strength at 10 % strain over it."""
STIFF = 37.0
"""Modulus over strength at 10 % strain: 0.36 to 0.375 of that at 1 % strain in every type of ASTM D6817, table 1."""
LONG_LOAD = 0.3
"""Share of that strength that a foam carries through a night without creeping on: within its strength at 1 % strain,
which blocks under a lasting load are kept to (ASTM D6817)."""
FOAM_WARM_K = 313.15
"""40 degC: no foam under load is warmed beyond it unless its maker says so (common practice, no source)."""
BOARD_WARM_K = 333.15
"""60 degC, beyond which plywood and board dry out and warp (common practice, no source)."""


def strength_by_density_Pa(density_g_cm3: float) -> float:
    """Return the least compressive strength at 10 % strain that a foam of a density is sold with.

    Notes
    -----
    Over its density it rises from moulded polystyrene of 11 kg/m3 over rigid urethane of 24 to that of 38 kg/m3:
    the weakest kind of each density (ASTM D6817, table 1; HH-I-530). Others bear more.

    Examples
    --------
    >>> [round(strength_by_density_Pa(density) / 1000.0) for density in (0.0112, 0.024, 0.048)]
    [40, 110, 288]
    """
    density_kg_m3 = 1000.0 * density_g_cm3
    known = min(max(density_kg_m3, WEAKEST_kg_m3[0]), WEAKEST_kg_m3[-1])
    return 1000.0 * density_kg_m3 * monotone_curve(WEAKEST_kg_m3, WEAKEST_kPa_m3_kg)(known)


@dataclass(frozen=True, slots=True)
class FoamLoad:
    """A mould's foam under the press."""

    pressure_Pa: float
    strength_Pa: float
    """At 10 % strain, stated or by its density."""
    strain: float
    """At once; the night's creep adds about as much again (from memory)."""
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

    References
    ----------
    The strength is that of ASTM D1621 or EN 826.
    """
    require_positive("thickness of the foam", thickness_m, unit="m")
    require_positive("density of the foam", density_g_cm3, unit="g/cm3")
    require_positive("pressure", pressure_Pa, unit="Pa")
    strength_Pa = strength_by_density_Pa(density_g_cm3) if strength_Pa is None else strength_Pa
    require_positive("strength of the foam", strength_Pa, unit="Pa")
    strain = pressure_Pa / (STIFF * strength_Pa)
    return FoamLoad(pressure_Pa, strength_Pa, strain, strain * thickness_m)
