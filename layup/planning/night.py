"""The night after closing: what the mould goes through, when the part may leave it, and the heating that gets it there.

Times count from closing the press.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import ceil, isfinite

from layup.chemistry.calibration import Calibration
from layup.chemistry.cure import (
    HOLD_STEP_S,
    HOURLY_K,
    HeatingPlan,
    demould_time_s,
    heated_mould,
    heating_plans,
    longest_hold_s,
)
from layup.chemistry.cure_course import Setting, set_on_part
from layup.chemistry.demould import HORIZON_S, Demould, Verdict, demould
from layup.chemistry.numerics import require_between, require_stated
from layup.chemistry.temperature import History, ramps, temperature_at_K

FALL_S = 8 * 3600.0
"""A shop whose heater is off comes down to the night's temperature in 8 h (common practice, no source)."""
OUT_BY_S = 48 * 3600.0
"""When a part is wanted out of its mould where nobody says: after two nights (common practice, no source)."""
SOONEST_S = 3600.0
MINUTE_S = 60.0
GAP_S = 3600.0
"""Readings further apart than this do not say what was between them (common practice, no source)."""
MOULDS_K = (293.15, 303.15, 313.15, 323.15)
"""Mould temperatures to choose from, 20 to 50 degC."""
USUAL_BAND = 1.2
"""How much later than its middle the late end of the demoulding band usually is."""
LONGER, LONGER_TIMES = 1.25, 5
"""A heating whose own band is late is held longer by this share, at most so many times; then for as long as can be."""


@dataclass(frozen=True, slots=True)
class NightOutlook:
    """What a person knows of the night and of the wood: the coldest shop, when the part is wanted, the moisture."""

    night_K: float | None = None
    """None leaves the shop as warm as it is."""
    out_by_s: float = OUT_BY_S
    wood_moisture: float | None = None
    """Water over dry mass, 0..1; None where it was not measured."""
    humidity: float | None = None
    """Of the shop's air, measured; None goes by what the shop is planned with."""

    def __post_init__(self) -> None:
        require_stated("tonight's temperature", self.night_K, 233.15, 333.15, unit="K")
        require_between("time to demould", self.out_by_s, SOONEST_S, HORIZON_S, unit="s", todo="1 h to 14 d")
        require_stated("moisture of the wood", self.wood_moisture, 0.0, 1.0, todo="a share, 0.08 for 8 %")
        require_stated("relative humidity", self.humidity, 0.01, 1.0, todo="0.6 for 60 %")

    def after(self, forecast: History) -> NightOutlook:
        """Return it with the coldest of a day's forecast, where there is one and nobody says how cold it gets."""
        if self.night_K is not None or not forecast:
            return self
        return replace(self, night_K=min(kelvin for _, kelvin in forecast))


@dataclass(frozen=True, slots=True)
class PartUnderPress:
    """A part since closing: how its resin sets, what its mould went through until `now_s`, what its maker asks for."""

    setting: Setting
    calibration: Calibration
    so_far: float | History
    """The mould until now: one temperature, or (time_s, temperature_K) points."""
    now_s: float = 0.0
    conversion_start: float = 0.0
    minimum_K: float | None = None
    """The least that the resin cures at; None where that is not asked."""
    bears_K: float = MOULDS_K[-1]
    """The warmest that the mould bears under load."""

    @property
    def moulds_K(self) -> tuple[float, ...]:
        """Return the temperatures to heat it to, of those there are, that the mould bears."""
        return tuple(mould_K for mould_K in MOULDS_K if mould_K <= self.bears_K)


@dataclass(frozen=True, slots=True)
class Night:
    """The mould as logged and forecast, when the part may leave it, and whether that is in time."""

    mould: History
    ready: Demould
    out_by_s: float
    stalls_s: float | None
    """From when on the mould is too cold for a resin that is not a glass yet; None where that does not happen."""

    @property
    def verdict(self) -> Verdict:
        return self.ready.verdict(self.out_by_s)

    def coldest_K(self, from_s: float) -> float:
        """Return the coldest that the mould gets from a time until the part is wanted [K]."""
        until_s = max(self.out_by_s, from_s)
        inside = (kelvin for time_s, kelvin in self.mould if from_s < time_s < until_s)
        return min(*(temperature_at_K(self.mould, end_s) for end_s in (from_s, until_s)), *inside)

    @property
    def makes_it(self) -> bool:
        """Return whether it does within the whole band, and does not get too cold on the way."""
        return self.verdict == "makes it" and self.stalls_s is None


def forecast(so_far: float | History, *, now_s: float = 0.0, night_K: float | None = None) -> History:
    """Carry a mould's temperature on into the night.

    What is known, then straight down to the night's temperature in 8 h, and held there.

    >>> forecast(294.15, night_K=279.15)
    ((0.0, 294.15), (28800.0, 279.15))

    Parameters
    ----------
    so_far : The mould until now: one temperature, or (time_s, temperature_K) points [K]
    now_s : Until when it is known, 0 or more [s]
    night_K : Coldest temperature of the night; None keeps the last one [K]
    """
    known = ((0.0, float(so_far)),) if isinstance(so_far, float | int) else so_far
    if night_K is None:
        return known
    before = tuple(point for point in known if point[0] < now_s)
    return (*before, (now_s, temperature_at_K(known, now_s)), (now_s + FALL_S, night_K))


def no_warmer(readings: History) -> History:
    """Take a mould as cold as it can have been between readings that are far apart.

    The readings, with one corner more in each longer gap that a slow line would make too warm.

    Readings at most an hour apart count as joined by a straight line. In a longer gap the mould cools at once, or warms
    as late as it can: a heater that was switched on shortly before the later reading must not count for the whole gap.
    It errs on the side of a later demoulding.

    >>> no_warmer(((0.0, 290.0), (36000.0, 300.0)))
    ((0.0, 290.0), (34200.0, 290.0), (36000.0, 300.0))
    """
    points = list(readings[:1])
    for (early_s, early_K), (late_s, late_K) in pairwise(readings):
        change_s = abs(late_K - early_K) / HOURLY_K * 3600.0
        if late_s - early_s > max(GAP_S, change_s) and change_s > 0.0:
            points.append((late_s - change_s, early_K) if late_K > early_K else (early_s + change_s, late_K))
        points.append((late_s, late_K))
    return tuple(points)


@lru_cache(maxsize=64)
def overnight(part: PartUnderPress, outlook: NightOutlook) -> Night:
    """Say when a part may leave its mould if the night comes as expected, and whether that is in time.

    Raises RangeError for a history that is empty or runs backwards.
    """
    return _night(part, outlook, forecast(part.so_far, now_s=part.now_s, night_K=outlook.night_K))


def heatings(part: PartUnderPress, outlook: NightOutlook) -> tuple[HeatingPlan, ...]:
    """Find heatings of the mould, from now on, after which the part may surely leave it in time.

    The gentlest first; none where nothing that the mould bears makes it. Raises RangeError for a history that is empty
    or runs backwards.

    A heating counts where the late end of the demoulding band is in time, and the mould is not below the resin's
    minimum for good before it is gelled and its glass transition 10 K above the mould. A hotter one is held until the
    part is out no later than by the gentler ones, and passed over where it then heats as long as they do.
    """
    return tuple(_heatings(part, outlook, part.moulds_K))


@lru_cache(maxsize=64)
def heat_makes_it(part: PartUnderPress, outlook: NightOutlook) -> bool:
    """Say whether a part is out in time by one of its `heatings`, or as it is.

    A longer hold is hardly ever later, so that the longest in the hottest mould is asked first.
    """
    unheated, aim_s = forecast(part.so_far, now_s=part.now_s, night_K=outlook.night_K), outlook.out_by_s / USUAL_BAND
    for mould_K in reversed(part.moulds_K):
        if hold_s := longest_hold_s(unheated, mould_K, by_s=outlook.out_by_s, from_s=part.now_s):
            held = _night(part, outlook, heated_mould(unheated, mould_K, hold_s, from_s=part.now_s))
            if held.makes_it and held.ready.out_s.likely <= aim_s and aim_s >= part.now_s + SOONEST_S:
                return True
        if next(_heatings(part, outlook, (mould_K,)), None) is not None:
            return True
    likely_s = demould_time_s(part.setting, unheated, conversion_start=part.conversion_start)
    return likely_s <= outlook.out_by_s and _night(part, outlook, unheated).makes_it


def _heatings(part: PartUnderPress, outlook: NightOutlook, moulds_K: Sequence[float]) -> Iterator[HeatingPlan]:
    aim_s = outlook.out_by_s / USUAL_BAND
    if aim_s < max(part.now_s + SOONEST_S, SOONEST_S):
        return
    unheated = forecast(part.so_far, now_s=part.now_s, night_K=outlook.night_K)
    plans: list[HeatingPlan] = []
    for mould_K in moulds_K:
        found = heating_plans(
            part.setting,
            unheated,
            by_s=max(min(aim_s, *(plan.demould_s for plan in plans)), SOONEST_S) if plans else aim_s,
            from_s=part.now_s,
            moulds_K=(mould_K,),
            conversion_start=part.conversion_start,
            also=lambda mould: _stalls_s(part, mould) is None,
            unheated=False,
        )
        sure = (_sure(part, outlook, unheated, plan) for plan in found)
        for plan in sure:
            # a hotter mould is of use where it is heated for less time than gentler ones, and the part out no later
            if plan and all(
                plan.heater_s < gentler.heater_s and plan.demould_s <= gentler.demould_s + MINUTE_S for gentler in plans
            ):
                plans.append(plan)
                yield plan


def _sure(part: PartUnderPress, outlook: NightOutlook, unheated: History, plan: HeatingPlan) -> HeatingPlan | None:
    """Return a plan held for so long that the late end of its band is in time; None where that takes too long."""
    longest_s = longest_hold_s(unheated, plan.mould_K, by_s=outlook.out_by_s, from_s=part.now_s)
    for longer in range(LONGER_TIMES + 1):
        night = _night(part, outlook, plan.mould)
        if night.makes_it:
            return replace(plan, demould_s=max(night.ready.out_s.likely, part.now_s + plan.heater_s))
        if plan.hold_s >= longest_s:
            break
        more_s = HOLD_STEP_S * ceil(plan.hold_s * (LONGER - 1.0) / HOLD_STEP_S)
        hold_s = longest_s if longer == LONGER_TIMES - 1 else min(plan.hold_s + more_s, longest_s)
        mould = heated_mould(unheated, plan.mould_K, hold_s, from_s=part.now_s)
        plan = replace(plan, hold_s=hold_s, heater_s=plan.heater_s + hold_s - plan.hold_s, mould=mould)
    return None


def _night(part: PartUnderPress, outlook: NightOutlook, mould: History) -> Night:
    ready = demould(part.setting, part.calibration, mould, conversion_start=part.conversion_start)
    return Night(mould, ready, outlook.out_by_s, _stalls_s(part, mould))


def _stalls_s(part: PartUnderPress, mould: History) -> float | None:
    """Return from when on a mould is too cold for a resin that is not a glass yet; None where that is never."""
    minimum_K = part.minimum_K
    if minimum_K is None or mould[-1][1] >= minimum_K:
        return None
    falling = [ramp for ramp in ramps(mould) if ramp.at(ramp.start_s) >= minimum_K > ramp.at(ramp.end_s)]
    cold_s = max(((minimum_K - ramp.base_K) / ramp.slope_K_s for ramp in falling), default=0.0)  # and stays so
    course = set_on_part(part.setting, mould, until_s=max(cold_s, 1.0), conversion_start=part.conversion_start)
    return None if course.firm_s() <= cold_s else cold_s


def demould_words(night: Night) -> str:
    """Return when a part may leave its mould, in hours from closing with the 80 % band."""
    out = f"Out ≈ {night.ready.after('closing')}"
    return out if isfinite(night.ready.out_s.likely) else "The part does not come out within two weeks"
