"""What heat does for a part that sets: the heating that gets it out in time, a post-cure; and a mix off ratio.

Glass and course are in `cure_course`, the band of when a part may leave its mould in `demould`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, inf, isfinite

from layup.chemistry.cure_course import GLASS_LEAD_K, Glass, Setting, glass_of, set_on_part
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import HORIZON_S
from layup.chemistry.kinetics import gel_conversion
from layup.chemistry.mixing import stated_network
from layup.chemistry.numerics import require_between
from layup.chemistry.temperature import History, corners, ramps, temperature_at_K
from layup.errors import RangeError
from layup.units import in_hours, temperature


def glass_transition_K(conversion: float, uncured_K: float, cured_K: float, shape: float = 0.4) -> float:
    """Find the temperature below which a part-cured resin is a glass [K].

    Raises RangeError for a value outside its range, or a cured resin that softens below the fresh mix.

    Tg = Tg0 + (Tg1 - Tg0) lambda a / (1 - (1 - lambda) a). Source: A. T. DiBenedetto, J. Polym. Sci. B 25 (1987) 1949,
    in the form of J. P. Pascault and R. J. J. Williams, J. Polym. Sci. B 28 (1990) 85.

    >>> round(glass_transition_K(0.5, 253.15, 363.15, 0.4) - 273.15, 3)
    11.429

    Parameters
    ----------
    conversion : Conversion, 0 to 1 [-]
    uncured_K : Glass transition of the fresh mix, 150 to 350 [K]
    cured_K : Glass transition of the fully cured resin, above `uncured_K`, to 600 [K]
    shape : DiBenedetto's lambda, above 0 to 1: the cured resin's step of heat capacity over the fresh mix's [-]
    """
    require_between("conversion", conversion, 0.0, 1.0)
    return Glass(cured_K, uncured_K, shape).transition_K(conversion)


def demould_time_s(
    setting: Setting,
    mould: float | History,
    *,
    conversion_start: float = 0.0,
    lead_K: float = GLASS_LEAD_K,
    until_s: float = HORIZON_S,
    rough: bool = False,
) -> float:
    """Find the earliest time at which a part may leave the mould [s].

    On the same clock as `mould`; inf where it does not come by `until_s`. Raises RangeError for a value outside its
    range, or a history that is empty or runs backwards.

    All must hold: the maker's demould time is up, where one is stated, as the integral of dt/t(T); the conversion is
    0.03 past the gel, for a resin may turn to glass before it is a network; and the glass transition is `lead_K` above
    the mould, for a part that is not a glass bends, creeps and springs back.

    >>> from layup.chemistry.datasheet import CurePoint, MakersClock
    >>> from layup.chemistry.kinetics import Kinetics
    >>> setting = Setting(Kinetics(3e-4), Glass(355.15), MakersClock((CurePoint(86400.0, 296.15),)))
    >>> round(demould_time_s(setting, 296.15) / 3600.0, 3)
    24.0

    Parameters
    ----------
    mould : One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    conversion_start : Conversion the resin has at the start, 0 to below 0.999 [-]
    lead_K : How far the glass transition must be above the mould [K]
    until_s : How far to look [s]
    rough : Whether five digits do [-]
    """
    enough = setting.ready(lead_K)
    course = set_on_part(setting, mould, until_s=until_s, conversion_start=conversion_start, enough=enough, rough=rough)
    return course.ready_s(lead_K)


# -- heating ---------------------------------------------------------------------------------------------------------

MOULDS_K = tuple(273.15 + celsius for celsius in range(20, 55, 5))
"""Mould temperatures to try, 20 to 50 degC: what blankets and heaters in a shed reach and cores stand."""
HOURLY_K = 20.0
"""What a mould warms or cools in an hour, and the usual ramp of a post-cure (common practice, no source)."""
RATE_K_s = HOURLY_K / 3600.0
HOLD_STEP_S = 900.0
POST_CURE_STEP_K = 5.0
POST_CURE_AHEAD_K = 5.0
"""A post-cure stays this far below the glass transition reached, so that the part keeps its shape (common practice)."""
LONGEST_HOLD_S = 172_800.0

HEATING_CAUTIONS = (
    "Never leave a heater alone: thermostat, second cut-out, no cloth near.",
    "No flame heater in the shop: fumes, fire, and water and carbon dioxide that make an amine blush.",
    "Measure at the mould, not at the heater; the far end is the cold one.",
    "These times are estimates: try the flash with a nail or a knife before you open the press.",
)


@dataclass(frozen=True, slots=True)
class HeatingPlan:
    """Heat the mould to `mould_K`, hold it for `hold_s`, let it cool: the part may leave it at `demould_s`.

    That is never before the heater is off. No hold at all: the shop makes it unheated.
    """

    mould_K: float
    hold_s: float
    heater_s: float
    """How long the heater runs in all, warming up included."""
    demould_s: float
    mould: History

    @property
    def words(self) -> str:
        """It in a line."""
        return (
            f"mould {temperature(self.mould_K)} held {in_hours(self.hold_s, '.1f')}, heater on "
            f"{in_hours(self.heater_s, '.1f')}, out after {in_hours(self.demould_s)}"
        )


def heating_plans(
    setting: Setting,
    shop: float | History,
    *,
    by_s: float,
    from_s: float = 0.0,
    moulds_K: Sequence[float] = MOULDS_K,
    conversion_start: float = 0.0,
    also: Callable[[History], bool] | None = None,
    unheated: bool = True,
) -> tuple[HeatingPlan, ...]:
    """Find, for each mould temperature, the shortest heating after which the part may leave the mould in time.

    One for each mould temperature that makes it, gentlest first; a single one without a hold where the shop makes it
    unheated; none where nothing tried does. The mould warms from the shop's temperature by 20 K an hour, holds, and
    cools as fast until it meets the shop again; holds are tried in quarter hours.

    Parameters
    ----------
    shop : The shop, and with it the unheated mould, from closing the press on: one temperature, or (time_s,
        temperature_K) points, logged and forecast [K]
    by_s : When the part has to leave the mould, counted from closing [s]
    from_s : When the heater can be switched on, counted from closing, 0 or more [s]
    moulds_K : Mould temperatures to try; those below the shop's warmest are passed over [K]
    conversion_start : Conversion the resin has when the press closes, 0 to below 0.999 [-]
    also : What else must hold of the mould's temperatures; None for nothing else [-]
    unheated : Whether to try it without heat first [-]
    """
    require_between("demoulding time", by_s, 3600.0, 14 * 86_400.0, unit="s", todo="at least an hour from closing")
    require_between("start of the heating", from_s, 0.0, by_s, unit="s", open_high=True)

    @cache
    def tried(mould_K: float, hold_s: float) -> HeatingPlan | None:
        mould = heated_mould(shop, mould_K, hold_s, from_s=from_s)
        time_s = demould_time_s(setting, mould, until_s=by_s, conversion_start=conversion_start, rough=True)
        if not isfinite(time_s) or (also is not None and not also(mould)):
            return None
        held_until_s = (
            max((time_s for time_s, kelvin in mould if kelvin == mould_K), default=from_s) if hold_s else from_s
        )
        heater_s = held_until_s - from_s
        return HeatingPlan(mould_K, hold_s, heater_s, max(time_s, from_s + heater_s), mould)

    without = tried(temperature_at_K(shop, from_s), 0.0) if unheated else None
    if without is not None:
        return (without,)

    def shortest(mould_K: float) -> HeatingPlan | None:
        longest_s = longest_hold_s(shop, mould_K, by_s=by_s, from_s=from_s)
        holds_s = [HOLD_STEP_S * step for step in range(1, int(longest_s / HOLD_STEP_S) + 1)]
        # by halving: a longer hold is never later
        found = bisect_left(holds_s, True, key=lambda hold_s: tried(mould_K, hold_s) is not None)
        return tried(mould_K, holds_s[found]) if found < len(holds_s) else None

    return tuple(plan for plan in map(shortest, sorted(moulds_K)) if plan is not None)


def longest_hold_s(shop: float | History, mould_K: float, *, by_s: float, from_s: float = 0.0) -> float:
    """Return the longest hold, in whole quarter hours, after which the heater is off in time [s].

    0 where there is none: the mould is warm too late, or no warmer than the shop gets.

    >>> longest_hold_s(283.15, 323.15, by_s=8.1 * 3600.0) / 3600.0
    6.0

    Parameters
    ----------
    shop : The shop from closing on: one temperature, or (time_s, temperature_K) points [K]
    mould_K : Temperature held [K]
    by_s : When the heater has to be off, counted from closing [s]
    from_s : When it is switched on, before that [s]
    """
    if mould_K <= max(kelvin for _, kelvin in corners(shop, from_s=from_s, until_s=by_s)):
        return 0.0
    left_s = by_s - from_s - (mould_K - temperature_at_K(shop, from_s)) / RATE_K_s
    return HOLD_STEP_S * max(int(left_s / HOLD_STEP_S), 0)


def heated_mould(shop: float | History, mould_K: float, hold_s: float, *, from_s: float = 0.0) -> History:
    """Make the mould's temperature from a heating: as the shop, warm up, hold, cool down to the shop.

    (time_s, temperature_K) points.

    >>> [(round(time_s / 3600), round(temperature_K)) for time_s, temperature_K in heated_mould(280.0, 320.0, 7200.0)]
    [(0, 280), (2, 320), (4, 320), (6, 280)]

    Parameters
    ----------
    shop : The shop from closing on: one temperature, or (time_s, temperature_K) points [K]
    mould_K : Temperature held, above the shop's; of no account without a hold [K]
    hold_s : Time at that temperature, 0 or more; 0 leaves the heater off [s]
    from_s : When the heater is switched on, 0 or more; until then the mould is as warm as the shop [s]
    """
    known = ((0.0, float(shop)),) if isinstance(shop, float | int) else shop
    if hold_s == 0.0:
        return known
    start_K = temperature_at_K(shop, from_s)
    warm_s = from_s + (mould_K - start_K) / RATE_K_s
    off_s = warm_s + hold_s
    back_s = _meets_shop_s(shop, mould_K, off_s)
    before = tuple(point for point in known if point[0] < from_s)
    rest = tuple(point for point in known if point[0] > back_s)
    heated = ((from_s, start_K), (warm_s, mould_K), (off_s, mould_K), (back_s, temperature_at_K(shop, back_s)))
    return (*before, *heated, *rest)


def post_cure_ramp(
    setting: Setting, *, conversion_start: float, start_K: float, target_K: float, hold_s: float
) -> History:
    """Find the quickest stepped post-cure in which the part never gets warmer than its glass transition allows.

    (time_s, temperature_K) points: warm 5 K at 20 K an hour, wait for the glass transition, and so on. Raises
    RangeError for a step at which the resin waits longer than two days. Each step starts once Tg is 5 K above the
    step's end, so Tg - T never falls below that on the way. Staying below the glass transition reached so far, at 10 to
    20 K an hour: common practice, no source.

    Parameters
    ----------
    conversion_start : Conversion at its start, 0 to below 0.999 [-]
    start_K : Temperature of the part at its start [K]
    target_K : Temperature to end at, above `start_K` and at least 5 K below the cured resin's glass transition [K]
    hold_s : Time to hold at the end, above 0 [s]
    """
    require_between("start of the post-cure", start_K, 233.15, 523.15, unit="K")
    require_between("end of the post-cure", target_K, start_K, 523.15, unit="K", open_low=True)
    require_between("hold", hold_s, 0.0, LONGEST_HOLD_S, unit="s", open_low=True)
    most_K = setting.glass.cured_K - 1.0 - POST_CURE_AHEAD_K
    if target_K > most_K:
        raise RangeError(
            "end of the post-cure",
            "is too close to the best glass transition the resin can have",
            value=temperature(target_K),
            allowed=f"at most {temperature(most_K)}",
            todo="a post-cure above it needs the part held in its mould",
        )
    steps = ceil((target_K - start_K) / POST_CURE_STEP_K - 1e-9)
    points = [(0.0, start_K)]
    conversion = conversion_start
    for step in range(1, steps + 1):
        next_K = start_K + (target_K - start_K) * step / steps
        (time_s, here_K) = points[-1]
        waited_s = _wait_s(setting, conversion, here_K, next_K + POST_CURE_AHEAD_K)
        rise_s = (next_K - here_K) / RATE_K_s
        piece = ((0.0, here_K), (waited_s, here_K), (waited_s + rise_s, next_K))[0 if waited_s > 0.0 else 1 :]
        conversion = set_on_part(setting, piece, until_s=waited_s + rise_s, conversion_start=conversion).end.conversion
        points += [(time_s + after_s, temperature_K) for after_s, temperature_K in piece[1:]]
    return (*points, (points[-1][0] + hold_s, target_K))


def _meets_shop_s(shop: float | History, mould_K: float, off_s: float) -> float:
    """Return when a mould that cools from `off_s` on has the shop's temperature."""
    for ramp in ramps(shop, from_s=off_s):
        closing_K_s = RATE_K_s + ramp.slope_K_s
        above_K = mould_K - RATE_K_s * (ramp.start_s - off_s) - ramp.at(ramp.start_s)
        if closing_K_s > 0.0 and ramp.start_s + above_K / closing_K_s <= ramp.end_s:
            return ramp.start_s + above_K / closing_K_s
    raise AssertionError("the last piece of a history never ends")


def _wait_s(setting: Setting, conversion: float, here_K: float, wanted_K: float) -> float:
    """Return how long the part waits at one temperature for its glass transition to come up."""
    course = set_on_part(setting, here_K, until_s=LONGEST_HOLD_S, conversion_start=conversion)
    waited_s = course.first_s(lambda moment: moment.glass_transition_K - wanted_K)
    if waited_s == inf:
        raise RangeError(
            "post-cure",
            f"waits longer than two days at {temperature(here_K)} for its glass transition to reach "
            f"{temperature(wanted_K)}",
            todo="let the part stay nearer to its glass transition, or support it in the mould and go on",
        )
    return waited_s


# -- imbalance -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OffRatioCure:
    """What a mix that is off ratio can become at best, its scarcer groups all used up."""

    balance: float
    """Groups of the scarcer kind over those of the other, 0 to 1."""
    gel_conversion: float | None
    """Of the scarcer groups; None where the mix never gels."""
    on_ratio_gel_conversion: float
    glass_transition_K: float
    on_ratio_glass_transition_K: float
    assumptions: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say what a mix that is left off ratio becomes, however long it cures."""
        softer, asked = (temperature(kelvin) for kelvin in (self.glass_transition_K, self.on_ratio_glass_transition_K))
        softens = f"softens near {softer}, not {asked}, however long it cures"
        if self.gel_conversion is None:
            return "Left like this it will not gel: it stays sticky for good."
        gels, stated = 100 * self.gel_conversion, 100 * self.on_ratio_gel_conversion
        later = f"gels at {gels:.0f} % reacted, not {stated:.0f} %, and " if round(gels) > round(stated) else ""
        return f"Left like this it {later}{softens}."


def off_ratio_cure(datasheet: Datasheet, off: float) -> OffRatioCure:
    """Find how far off ratio a mix still gels, and where it softens however long it cures.

    s = (h/E_h)/(w/E_w), r = min(s, 1/s), with the stated ratio taken as balanced where equivalents are missing. Gel as
    `gel_conversion` with r. The group in excess ends at conversion r; DiBenedetto takes it over the one that the stated
    ratio reaches, at which the stated glass transition was measured. Source: P. J. Flory, Principles of Polymer
    Chemistry, 1953, chapter 9; W. H. Stockmayer, J. Polym. Sci. 9 (1952) 69.

    Parameters
    ----------
    off : Deviation from the stated ratio, -1 (no hardener) or more, 0.1 for 10 % too much hardener [-]
    """
    require_between("deviation from the ratio", off, -1.0, inf)
    stated, f, g, said = stated_network(datasheet)
    balance, at_best = (min(ratio, 1.0 / ratio) if ratio > 0.0 else 0.0 for ratio in (stated * (1.0 + off), stated))
    glass, glass_said = glass_of(datasheet)
    return OffRatioCure(
        balance=balance,
        gel_conversion=_gel(f, g, balance),
        on_ratio_gel_conversion=gel_conversion(f, g, at_best),
        glass_transition_K=glass.transition_K(min(1.0, balance / at_best)),
        on_ratio_glass_transition_K=glass.cured_K,
        assumptions=(*said, glass_said[0]),
    )


def _gel(f: float, g: float, balance: float) -> float | None:
    if balance <= 0.0:
        return None
    try:
        return gel_conversion(f, g, balance)
    except RangeError:
        return None
