"""When a part may leave the mould: the maker's time is up, and the resin is a glass."""

from __future__ import annotations

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.film_course import Setting
from layup.chemistry.glass import glass_of
from layup.chemistry.history import History
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.maker import MakersClock
from layup.chemistry.setting import set_on_part

GLASS_LEAD_K = 10.0
"""How far the glass transition must be above the mould at demoulding (common practice, no source).

Strength and stiffness grow from vitrification on: O. Moussa et al., Int. J. Adhesion & Adhesives 35 (2012) 9.
"""
WARM_ROOM_K = 303.15
"""A part with its glass transition below 30 degC goes soft in use (common practice, no source)."""
HORIZON_S = 14 * 86_400.0
"""How far ahead demoulding is looked for: two weeks."""


def setting_of(datasheet: Datasheet, kinetics: Kinetics) -> tuple[Setting, tuple[str, ...]]:
    """Gather what a datasheet says of setting on the part, and say in words what was assumed.

    Parameters
    ----------
    datasheet : Datasheet
        The resin system [-]
    kinetics : Kinetics
        Its calibrated rate law, with what a witness cup has taught where there was one [-]

    Returns
    -------
    setting : tuple of Setting and of str
        The resin as it sets, and the assumptions as sentences [-]

    Raises
    ------
    RangeError
        For stated demould times or a glass transition that cannot be.
    """
    glass, words = glass_of(datasheet)
    setting = Setting(kinetics, glass, MakersClock(datasheet.demould, kinetics.activation_energy_J_mol))
    stated = (
        f"the maker's demould times count as one clock over {len(datasheet.demould)} stated temperature(s), and a part "
        "waits for it"
        if datasheet.demould
        else "the datasheet states no demould time: only the glass transition says when"
    )
    return setting, (
        stated,
        f"a part may leave the mould once its glass transition is {GLASS_LEAD_K:.0f} K above the mould's temperature "
        "(common practice, no source)",
        *words,
        "the laminate has the mould's temperature: its own warmth is left out",
    )


def demould_time_s(
    setting: Setting,
    mould: float | History,
    *,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    lead_K: float = GLASS_LEAD_K,
    until_s: float = HORIZON_S,
) -> float:
    """Find the earliest time at which a part may leave the mould.

    Parameters
    ----------
    setting : Setting
        The resin, with its maker's clock [-]
    mould : float or History
        One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    from_s : float
        Start of the course [s]
    conversion_start : float
        Conversion the resin has at the start, 0 to below 0.999 [-]
    lead_K : float
        How far the glass transition must be above the mould [K]
    until_s : float
        How far to look, after `from_s` [s]

    Returns
    -------
    time_s : float
        Earliest demoulding, on the same clock as `mould`; inf where it does not come by `until_s` [s]

    Raises
    ------
    RangeError
        For a value outside its range, or a history that is empty or runs backwards.

    Notes
    -----
    Both must hold: the maker's demould time is up, where one is stated, as the integral of dt/t(T); and the glass
    transition is `lead_K` above the mould, for a part that is not a glass bends, creeps and springs back.

    Examples
    --------
    >>> from layup.chemistry.datasheet import CurePoint
    >>> from layup.chemistry.glass import Glass
    >>> setting = Setting(Kinetics(3e-4), Glass(355.15), MakersClock((CurePoint(86400.0, 296.15),)))
    >>> round(demould_time_s(setting, 296.15) / 3600.0, 3)
    24.0
    """
    course = set_on_part(
        setting,
        mould,
        until_s=until_s,
        from_s=from_s,
        conversion_start=conversion_start,
        enough=setting.ready(lead_K),
    )
    return course.ready_s(lead_K)
