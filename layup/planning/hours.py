"""A day whose temperature changes: at which hour a press day begins best, and by when the evening is too cold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import ceil, floor, inf

from layup.chemistry.demould import demould, least_warmth, setting_of
from layup.chemistry.ranges import require_between
from layup.chemistry.temperature import AHEAD_S, DAY_S, History, course_K, stretch
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import RangeError
from layup.planning.fit import Word, fit_of
from layup.planning.night import OUT_BY_S
from layup.planning.planner import PlanResult

HOUR_S = 3600.0
STEP_K = 0.5
"""Temperatures are rounded away from each other to this, so that hours that are alike are worked out once."""
ENOUGH_S = 1200.0
"""Time to spare beyond which more of it is no better (our own judgement)."""
ORDER: tuple[Word, ...] = ("fits", "tight", "does not fit")
"""From best to worst."""


@dataclass(frozen=True, slots=True)
class Hour:
    """A press day that begins at one hour."""

    begin_s: float
    """From midnight."""
    low_K: float
    high_K: float
    """The shop from the first batch to the closing."""
    verdict: Word
    """The worse of what it is at the coldest and at the warmest of that."""
    slack_s: float | None
    """The less of both."""
    why: str
    """What forbids it, or makes it tight; empty where it fits."""
    out_s: float
    """From closing, when the part may come out on a mould as warm as the shop; inf for not in four days, or no plan."""
    too_cold: bool
    """Whether the shop gets colder than the resin cures in, before the press is closed."""


def hours_of(
    work_out: Callable[[float], PlanResult],
    course: History,
    *,
    from_s: float,
    to_s: float,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Hour, ...]:
    """Judge a press day at each full hour.

    Parameters
    ----------
    work_out : Callable[[float], PlanResult]
        What the plan comes to in a shop of one temperature [K]
    course : History
        The shop's day [s, K]
    from_s : float
        First hour, from midnight, 0 to a day [s]
    to_s : float
        Last hour, `from_s` to a day [s]
    progress : Callable[[int, int], None] or None
        Told how many hours are judged, of how many [-]

    Returns
    -------
    tuple[Hour, ...]
        One for each full hour, ends included [-]

    Raises
    ------
    InputError
        For a course without points.
    RangeError
        For hours outside the day.

    Notes
    -----
    From the first batch to the closing the plan must work at the warmest, which shortens every life, and at the
    coldest, which thickens the mix; the cure follows the course, day by day.
    """
    require_between("first hour", from_s, 0.0, DAY_S, unit="s")
    require_between("last hour", to_s, from_s, DAY_S, unit="s")
    at = cache(work_out)
    first, last = ceil(from_s / HOUR_S), floor(to_s / HOUR_S)
    found: list[Hour] = []
    for hour in range(first, last + 1):
        if progress is not None:
            progress(len(found), last + 1 - first)
        found.append(_hour(at, course, hour * HOUR_S))
    return tuple(found)


def best_hour(hours: tuple[Hour, ...], *, out_by_s: float = OUT_BY_S) -> Hour | None:
    """Find the hour to begin at: by its verdict, then a part that is out by when it is wanted, then the time to spare.

    Parameters
    ----------
    hours : tuple[Hour, ...]
        As `hours_of` judges them [-]
    out_by_s : float
        When the part is wanted, from closing [s]

    Returns
    -------
    Hour or None
        None where it fits at none [-]

    Notes
    -----
    More than 20 min to spare count as 20: of two such hours the one whose part is out first is taken.
    """
    fit = [hour for hour in hours if hour.verdict != "does not fit"]

    def rank(hour: Hour) -> tuple[float, ...]:
        late = hour.too_cold or hour.out_s > out_by_s
        return ORDER.index(hour.verdict), late, -min(hour.slack_s or 0.0, ENOUGH_S), hour.out_s

    return min(fit, key=rank, default=None)


def _hour(at: Callable[[float], PlanResult], course: History, begin_s: float) -> Hour:
    """Return the judgement of one hour."""
    middle = at(_rounded(course_K(course, begin_s), up=True))
    closed_s = middle.timeline.closed_s if middle.timeline is not None else HOUR_S
    shop_K = [kelvin for _, kelvin in stretch(course, begin_s, begin_s + closed_s)]
    low_K, high_K = min(shop_K), max(shop_K)
    ends = (at(_rounded(high_K, up=True)), at(_rounded(low_K, up=False)))
    fits = [fit_of(end) for end in ends]
    verdict = max((fit.word for fit in fits), key=ORDER.index)
    slacks = [end.split.slack_s for end in ends if end.split.slack_s is not None]
    reasons = [words for fit in fits if fit.word == verdict for words in (*fit.against, *fit.tight, *fit.beside)]
    return Hour(
        begin_s=begin_s,
        low_K=low_K,
        high_K=high_K,
        verdict=verdict,
        slack_s=min(slacks, default=None),
        why=reasons[0] if reasons and verdict != "fits" else "",
        out_s=inf if verdict == "does not fit" else _out_s(middle, course, begin_s + closed_s),
        too_cold=low_K < least_warmth(middle.datasheet)[0],
    )


def _out_s(result: PlanResult, course: History, closed_s: float) -> float:
    """Return when the part may come out of a mould as warm as the shop, from closing; inf for not in four days."""
    setting, _ = setting_of(result.datasheet, result.calibration.kinetics)
    mould = stretch(course, closed_s, closed_s + AHEAD_S)
    try:
        out_s = demould(setting, result.calibration, mould).out_s.likely
    except RangeError:  # a shop beyond what the cure is known in
        return inf
    return out_s if out_s <= AHEAD_S else inf


def _rounded(kelvin: float, *, up: bool) -> float:
    """Return a temperature rounded away from the other end, in whole or half degrees Celsius."""
    steps = (kelvin - ZERO_CELSIUS_K) / STEP_K
    return ZERO_CELSIUS_K + STEP_K * (ceil(steps - 1e-9) if up else floor(steps + 1e-9))
