"""What cauls are made of: the modulus of wood, plywood, board and metal along a caul."""

from __future__ import annotations

from dataclasses import dataclass

from layup.chemistry.ranges import require_between, require_positive
from layup.errors import RangeError

PLY_ACROSS = 0.05
"""Modulus of a veneer across its grain over that along it (Wood Handbook, elastic ratios; from memory)."""


@dataclass(frozen=True, slots=True)
class Caul:
    """What a caul is made of, with its modulus along its length."""

    name: str
    modulus_Pa: float
    source: str


def plywood_modulus_Pa(veneer_Pa: float, plies: int, across: float = PLY_ACROSS) -> float:
    """Find the bending modulus of plywood along the grain of its faces.

    Parameters
    ----------
    veneer_Pa : float
        Modulus of the wood along its grain, above 0 [Pa]
    plies : int
        Number of plies of equal thickness, odd, 1 to 51 [-]
    across : float
        Modulus across the grain over that along it, 0 to 1 [-]

    Returns
    -------
    modulus_Pa : float
        Bending modulus, flat [Pa]

    Raises
    ------
    RangeError
        For a value outside its range, or an even number of plies.

    Notes
    -----
    E = E_L (s + (1 - s) across), s the share of the section's second moment in the plies that run along:
    s = (n^3 - (n-2)^3 + (n-4)^3 - ...)/n^3

    Examples
    --------
    >>> round(plywood_modulus_Pa(13.9e9, 13) / 1e9, 2)
    8.82
    """
    require_positive("modulus of the veneer", veneer_Pa, unit="Pa")
    require_between("plies", plies, 1, 51)
    require_between("stiffness across the grain", across, 0.0, 1.0)
    if plies % 2 == 0:
        raise RangeError("plies", "are an even number", value=plies, allowed="an odd number: 3, 5, 7 ...")
    cubes = [(plies - 2 * i) ** 3 for i in range((plies + 1) // 2)]
    along = (sum(cubes[0::2]) - sum(cubes[1::2])) / plies**3
    return veneer_Pa * (along + (1.0 - along) * across)


CAULS = {
    caul.name: caul
    for caul in (
        Caul(
            "birch plywood",
            plywood_modulus_Pa(13.9e9, 13),
            "computed for 13 plies of yellow birch, 13.9 GPa (Wood Handbook, FPL-GTR-282, table 5-3a)",
        ),
        Caul(
            "softwood plywood",
            plywood_modulus_Pa(13.4e9, 7),
            "computed for 7 plies of Douglas-fir, 13.4 GPa (Wood Handbook, FPL-GTR-282, table 5-3a)",
        ),
        Caul("white ash", 12.0e9, "Wood Handbook, FPL-GTR-282, table 5-3a, at 12 % moisture"),
        Caul("Douglas-fir", 13.4e9, "Wood Handbook, FPL-GTR-282, table 5-3a, at 12 % moisture"),
        Caul("MDF", 3.0e9, "from memory; 2.5 to 3.5 GPa"),
        Caul("aluminium", 69.0e9, "from memory"),
        Caul("steel", 200.0e9, "from memory"),
    )
}
"""Material -> modulus along the caul; wood clear, dry and with the grain along the part."""
