"""What water does to a urethane, and what an isocyanate may do to you."""

from __future__ import annotations

from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K
from layup.chemistry.ranges import require_between

WATER_g_mol = 18.015
AIR_Pa = 101_325.0

DRY_WOOD, DAMP_AIR = 0.10, 0.65
"""Wood moisture and humidity from which on a urethane is likely to foam (common practice, no source)."""

ISOCYANATE_CAUTIONS = (
    "The safety data sheet comes first.",
    "Isocyanates can make you allergic for life, by skin or breath: gloves, goggles, long sleeves, moving fresh air.",
    "Never heat, spray or sand it uncured without the breathing protection that its safety data sheet names.",
    "Once you are allergic, stop for good: the next breath may be an emergency.",
    "Keep water out of the cans: a closed wet can of isocyanate builds pressure.",
    "A thick pour heats itself: pour in steps, and never leave a full cup standing.",
)


def foam_volume_m3(water_g: float, temperature_K: float) -> float:
    """Find how much gas water makes in a urethane.

    Parameters
    ----------
    water_g : float
        Water that gets into the mix, 0 or more [g]
    temperature_K : float
        Temperature of the mix, 250 to 400 [K]

    Returns
    -------
    volume_m3 : float
        Carbon dioxide at the pressure of the air [m^3]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    R-NCO + H2O -> R-NH2 + CO2: one mole of gas for each mole of water, V = n R T/p.

    Examples
    --------
    >>> round(foam_volume_m3(0.1, 298.15) * 1e6)
    136
    """
    require_between("water", water_g, 0.0, float("inf"), unit="g", open_high=True)
    require_between("temperature of the mix", temperature_K, 250.0, 400.0, unit="K")
    return water_g / WATER_g_mol * GAS_CONSTANT_J_MOL_K * temperature_K / AIR_Pa


def moisture_warnings(wood_moisture: float | None, relative_humidity: float | None) -> tuple[str, ...]:
    """Say what in the shop may foam a urethane.

    Parameters
    ----------
    wood_moisture : float or None
        Water in the wood over its dry mass, 0 to 1; None where it was not measured [-]
    relative_humidity : float or None
        Relative humidity of the air, 0 to 1; None where it was not measured [-]

    Returns
    -------
    warnings : tuple of str
        One sentence for each thing to mind [-]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Wood above 10 % and air above 65 % are likely to foam a urethane (common practice, no source).

    Examples
    --------
    >>> moisture_warnings(0.08, 0.5)
    ()
    """
    warnings = []
    if wood_moisture is None:
        warnings.append("Measure the wood: water in it foams a urethane. Dry it to 10 % or less, and seal the channel.")
    elif require_between("wood moisture", wood_moisture, 0.0, 1.0, todo="a share, 0.08 for 8 %") > DRY_WOOD:
        warnings.append(
            f"The wood holds {100 * wood_moisture:.0f} % water: dry it to 10 % or less, or seal the channel first."
        )
    if relative_humidity is not None:
        humidity = require_between("relative humidity", relative_humidity, 0.0, 1.0, todo="a share, 0.5 for 50 %")
        if humidity > DAMP_AIR:
            warnings.append(
                f"The air is damp ({100 * humidity:.0f} %): open cans and pigments briefly, and pour at once."
            )
    return tuple(warnings)
