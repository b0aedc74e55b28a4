"""The night after closing: what the mould goes through, when the part may leave it, and the heating that gets it there.

Times count from closing the press.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

from layup.chemistry.calibration import Calibration
from layup.chemistry.cure_band import Demould, Verdict, demould
from layup.chemistry.demould import GLASS_LEAD_K, HORIZON_S
from layup.chemistry.film_course import Setting
from layup.chemistry.heating import HeatingPlan, heating_plans
from layup.chemistry.history import History, ramps, temperature_at_K
from layup.chemistry.ranges import require_between
from layup.chemistry.setting import set_on_part

FALL_S = 8 * 3600.0
"""A shop whose heater is off comes down to the night's temperature in 8 h (common practice, no source)."""
OUT_BY_S = 48 * 3600.0
"""When a part is wanted out of its mould where nobody says: after two nights (common practice, no source)."""
SOONEST_S = 3600.0
SLOWER = (1.0, 1.15, 1.3)
"""Shares by which to aim earlier than the band asks, where a plan's own band turns out wider than the unheated one."""
USUAL_BAND = 1.2
"""High end of the demoulding band over its middle, where the unheated part never comes out."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a person knows of the night and of the wood: the coldest shop, when the part is wanted, the moisture."""

    night_K: float | None = None
    """None leaves the shop as warm as it is."""
    out_by_s: float = OUT_BY_S
    wood_moisture: float | None = None
    """Water over dry mass, 0..1; None where it was not measured."""

    def __post_init__(self) -> None:
        if self.night_K is not None:
            require_between("tonight's temperature", self.night_K, 233.15, 333.15, unit="K", todo="-40 to 60 degC")
        require_between("time to demould", self.out_by_s, SOONEST_S, HORIZON_S, unit="s", todo="1 h to 14 d")
        if self.wood_moisture is not None:
            require_between("moisture of the wood", self.wood_moisture, 0.0, 1.0, todo="a share, 0.08 for 8 %")


@dataclass(frozen=True, slots=True)
class Night:
    """A part under press: the mould as logged and forecast, when the part may leave it, and whether that is in time."""

    mould: History
    ready: Demould
    out_by_s: float
    stalls_s: float | None
    """From when on the mould is too cold for a resin that is not a glass yet; None where that does not happen."""
    plans: tuple[HeatingPlan, ...]
    """Heatings that each make it within the whole band, gentlest first; none where none is needed or none does."""

    @property
    def verdict(self) -> Verdict:
        """Return whether the part may leave the mould in time."""
        return self.ready.verdict(self.out_by_s)

    @property
    def makes_it(self) -> bool:
        """Return whether it does within the whole band, and does not get too cold on the way."""
        return self.verdict == "makes it" and self.stalls_s is None


def forecast(so_far: float | History, *, now_s: float = 0.0, night_K: float | None = None) -> History:
    """Carry a mould's temperature on into the night.

    Parameters
    ----------
    so_far : float or History
        The mould until now: one temperature, or (time_s, temperature_K) points [K]
    now_s : float
        Until when it is known, 0 or more [s]
    night_K : float or None
        Coldest temperature of the night; None keeps the last one [K]

    Returns
    -------
    mould : History
        What is known, then straight down to the night's temperature in 8 h, and held there [s, K]

    Raises
    ------
    RangeError
        For a time below zero.

    Examples
    --------
    >>> forecast(294.15, night_K=279.15)
    ((0.0, 294.15), (28800.0, 279.15))
    """
    require_between("time since closing", now_s, 0.0, float("inf"), unit="s", open_high=True)
    known = ((0.0, float(so_far)),) if isinstance(so_far, float | int) else so_far
    if night_K is None:
        return known
    before = tuple(point for point in known if point[0] < now_s)
    return (*before, (now_s, temperature_at_K(known, now_s)), (now_s + FALL_S, night_K))


def overnight(
    setting: Setting,
    calibration: Calibration,
    so_far: float | History,
    outlook: Outlook,
    *,
    now_s: float = 0.0,
    conversion_start: float = 0.0,
    minimum_K: float | None = None,
) -> Night:
    """Say when a part may leave its mould, whether that is in time, and what heating makes it where it is not.

    Parameters
    ----------
    setting : Setting
        The resin, with its maker's clock [-]
    calibration : Calibration
        The calibration behind it, for what is unsure [-]
    so_far : float or History
        The mould since closing: one temperature, or (time_s, temperature_K) points as logged [K]
    outlook : Outlook
        The night's temperature, and when the part is wanted out [-]
    now_s : float
        Time since closing: from here on the mould is forecast and can be heated [s]
    conversion_start : float
        Conversion the resin had at closing, 0 to below 0.999 [-]
    minimum_K : float or None
        The least that the maker asks for; None where nothing is stated [K]

    Returns
    -------
    night : Night
        Mould, earliest demoulding with its 80 % band, verdict, and heatings [s, K]

    Raises
    ------
    RangeError
        For a value outside its range, or a history that is empty or runs backwards.

    Notes
    -----
    A heating counts where the late end of the demoulding band is in time, and the mould is not below the maker's
    minimum for good before the glass transition is 10 K above it.
    """
    mould = forecast(so_far, now_s=now_s, night_K=outlook.night_K)
    ready = demould(setting, calibration, mould, conversion_start=conversion_start)

    def stalls_s(mould: History) -> float | None:
        cold_s = _cold_for_good_s(mould, minimum_K)
        if cold_s is None:
            return None
        course = set_on_part(setting, mould, until_s=max(cold_s, 1.0), conversion_start=conversion_start)
        return None if course.glass_s(GLASS_LEAD_K) <= cold_s else cold_s

    night = Night(mould, ready, outlook.out_by_s, stalls_s(mould), ())
    if night.makes_it or now_s + SOONEST_S > outlook.out_by_s:
        return night
    band = ready.high_s / ready.time_s if isfinite(ready.high_s) and ready.time_s > 0.0 else USUAL_BAND
    for slower in SLOWER:
        aim_s = outlook.out_by_s / (max(band, 1.0) * slower)
        if aim_s < max(now_s, SOONEST_S):
            break
        found = heating_plans(
            setting,
            mould,
            by_s=aim_s,
            from_s=now_s,
            conversion_start=conversion_start,
            also=lambda heated: stalls_s(heated) is None,
        )
        sure = tuple(
            plan
            for plan in found
            if demould(setting, calibration, plan.mould, conversion_start=conversion_start).high_s <= outlook.out_by_s
        )
        if sure:
            return Night(mould, ready, outlook.out_by_s, night.stalls_s, sure)
    return night


def _cold_for_good_s(mould: History, minimum_K: float | None) -> float | None:
    """Return from when on the mould stays below a temperature; None where it ends above it."""
    if minimum_K is None or mould[-1][1] >= minimum_K:
        return None
    return max(_falls_below_s(mould, minimum_K), default=0.0)


def _falls_below_s(mould: History, minimum_K: float) -> Iterator[float]:
    """Yield each time at which the mould falls below a temperature."""
    for ramp in ramps(mould):
        if ramp.slope_K_s < 0.0 and ramp.at(ramp.start_s) >= minimum_K > ramp.at(ramp.end_s):
            yield (minimum_K - ramp.base_K) / ramp.slope_K_s
