"""Whether to begin: go, wait or no, with the reasons, before the first batch is mixed; and the heat that turns a no."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, isfinite
from typing import Literal, NamedTuple

from layup.chemistry.climate import blush_risk
from layup.chemistry.demould import setting_of
from layup.planning.case import Case, Settled, settle
from layup.planning.overnight import FALL_S, Night, Outlook, overnight
from layup.planning.remedies import shop_at
from layup.planning.window import Window, too_cold

Answer = Literal["go", "wait", "no"]
Kind = Literal["thick", "minimum", "dew", "batches", "blush", "wood", "night", "demould"]
ANSWERS: tuple[Answer, ...] = ("go", "wait", "no")
"""From best to worst."""

WOOD_USUAL = (0.06, 0.12)
"""Moisture of wood that is bonded (common practice, no source)."""
WOOD_WET = 0.18
"""No bond above this (common practice, no source)."""
ABOVE_COLD_K = 0.5
"""How far above what is too cold a heated shop is aimed at, so that a thermostat may swing."""
MOST_WARMER_K = 25
HEAT_HELPS: frozenset[Kind] = frozenset({"thick", "minimum", "dew", "blush", "night", "demould"})


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that was judged: how it answers, why, and what to do about it."""

    kind: Kind
    answer: Answer
    words: str
    todo: str = ""


@dataclass(frozen=True, slots=True)
class Heating:
    """Heat with which the day can go on: the shop before the first batch, the mould after closing."""

    shop_K: float | None
    """Shop, mould, core and cans before the first batch; None where the shop is warm enough."""
    night: Night
    """The night after that; its plans are the heatings of the mould, none where it needs none."""


@dataclass(frozen=True, slots=True)
class Readiness:
    """The answer is the worst of its reasons, which come worst first. `unknown` says what was not judged."""

    answer: Answer
    reasons: tuple[Reason, ...]
    unknown: tuple[str, ...]
    night: Night
    heating: Heating | None
    """None where no heat is needed, or none helps."""
    assumptions: tuple[str, ...]


def readiness(case: Case, settled: Settled, window: Window, outlook: Outlook) -> Readiness:
    """Say whether to begin a press day.

    Parameters
    ----------
    case : Case
        Part, resin and today's shop [-]
    settled : Settled
        Its batches [-]
    window : Window
        Its temperature window [-]
    outlook : Outlook
        The night's temperature, when the part is wanted, the moisture of the wood [-]

    Returns
    -------
    Readiness
        Go, wait or no, with reasons and the heating that passes [-]

    Raises
    ------
    RangeError
        A number out of range.

    Notes
    -----
    No: too cold for the resin, air too damp, wood too wet, batches that do not fit, or a night after which the part
    does not come out in time and no heating makes it. Wait: what a person can still put right or has to arrange.
    """
    setting, words = setting_of(case.datasheet, case.calibration.kinetics)

    def night_of(shop_K: float, known: Outlook) -> Night:
        return overnight(setting, case.calibration, shop_K, known, minimum_K=case.datasheet.minimum_temperature_K)

    night = night_of(case.shop.part_K or case.shop.temperature_K, outlook)
    reasons = tuple(_reasons(_Day(case, settled, outlook, night)))
    answer = max((reason.answer for reason in reasons), key=ANSWERS.index)
    heating = None
    if answer != "go" and any(reason.answer != "go" and reason.kind in HEAT_HELPS for reason in reasons):
        heating = _heating(case, window, outlook, night, night_of)
    return Readiness(
        answer=answer,
        reasons=tuple(sorted(reasons, key=lambda reason: -ANSWERS.index(reason.answer))),
        unknown=tuple(_unknown(case, outlook)),
        night=night,
        heating=heating,
        assumptions=(*words, *_assumed(outlook)),
    )


class _Day(NamedTuple):
    case: Case
    settled: Settled
    outlook: Outlook
    night: Night


def _reasons(day: _Day) -> Iterator[Reason]:
    for judge in (_cold, _batches, _blush, _wood, _night):
        yield from judge(day)


def _cold(day: _Day) -> Iterator[Reason]:
    shop = day.case.shop
    where = f"The shop is at {_celsius(shop.temperature_K)}"
    if shop.part_K is not None and shop.part_K != shop.temperature_K:
        where += f", the part at {_celsius(shop.part_K)}"
    for limit in too_cold(day.case):
        todo = f"{where}. Warm shop, mould, core and cans, and wait until the core is warm too."
        yield Reason(limit.kind, "no", limit.words, todo)


def _batches(day: _Day) -> Iterator[Reason]:
    split = day.settled.split
    words = split.limit.words if split.limit else "There is nothing to mix."
    if split.fits and split.batches:
        yield Reason("batches", "go", words)
    else:
        yield Reason("batches", "no", words, "Change people, cups, resin or temperature until it fits.")


def _blush(day: _Day) -> Iterator[Reason]:
    case, humidity = day.case, day.case.shop.relative_humidity
    if case.datasheet.chemistry != "epoxy-amine" or humidity is None or too_cold(case):
        return
    blush = blush_risk(case.shop.temperature_K, humidity, case.shop.part_K)
    if blush.risk == "low":
        yield Reason("blush", "go", f"The air is dry enough at {humidity:.0%}: little risk of blush.")
    else:
        answer: Answer = "no" if blush.risk == "high" else "wait"
        todo = "Dry or warm the air; wash the blush off and sand before anything is bonded to it."
        yield Reason("blush", answer, f"Blush risk {blush.risk}: {' '.join(blush.reasons)}", todo)


def _wood(day: _Day) -> Iterator[Reason]:
    moisture = day.outlook.wood_moisture
    if moisture is None:
        return
    low, high = WOOD_USUAL
    usual = f"{low:.0%} to {high:.0%} is usual"
    words = f"The wood holds {moisture:.0%} water; {usual}"
    if moisture > WOOD_WET:
        yield Reason("wood", "no", f"{words}: too wet to bond.", "Dry it slowly, and measure again.")
    elif moisture > high:
        yield Reason("wood", "wait", f"{words}: it shrinks later and bonds less well.", "Dry it, and measure again.")
    elif moisture < low:
        yield Reason("wood", "go", f"{words}: dry wood drinks more resin and grows later.")
    else:
        yield Reason("wood", "go", f"{words}.")


def _night(day: _Day) -> Iterator[Reason]:
    night, minimum_K = day.night, day.case.datasheet.minimum_temperature_K
    if night.stalls_s is not None and minimum_K is not None:
        words = (
            f"The mould gets below {_celsius(minimum_K)} {_when(night.stalls_s)}, before the resin is a glass: "
            "the cure may stop short."
        )
        yield Reason("night", "wait" if night.plans else "no", words, "Keep the mould warm.")
    words = f"{demould_words(night)}; wanted {night.out_by_s / 3600.0:.0f} h after closing: {night.verdict}."
    if night.verdict == "makes it":
        yield Reason("demould", "go", words)
    else:
        yield Reason(
            "demould", "wait" if night.plans else "no", words, "Heat the mould, or leave it closed for longer."
        )


def demould_words(night: Night) -> str:
    """Return when a part may leave its mould, in hours from closing with the 80 % band.

    Parameters
    ----------
    night : Night
        The part under press [-]

    Returns
    -------
    str
        A clause without its full stop [-]
    """
    ready = night.ready
    if not isfinite(ready.time_s):
        return "The part does not come out within two weeks"
    high = f"{ready.high_s / 3600.0:.0f}" if isfinite(ready.high_s) else "never"
    return f"Out of the mould {ready.time_s / 3600.0:.0f} h after closing (80 %: {ready.low_s / 3600.0:.0f} to {high})"


def _when(stalls_s: float) -> str:
    return "from the start" if stalls_s == 0.0 else f"{stalls_s / 3600.0:.0f} h after closing"


def _heating(
    case: Case, window: Window, outlook: Outlook, night: Night, night_of: Callable[[float, Outlook], Night]
) -> Heating | None:
    """Return the least heat that passes: a shop in which nothing says no or wait, then a night that makes it."""
    if not tuple(_cold_or_damp(case, outlook, night)):
        return Heating(None, night) if night.plans else None
    if window.high_K is None:
        return None
    today = case.shop.temperature_K
    coldest = max([today, *(limit.temperature_K + ABOVE_COLD_K for limit in window.cold_limits)])
    warmest = min(window.high_K, today + MOST_WARMER_K)
    left = replace(outlook, night_K=today if outlook.night_K is None else outlook.night_K)
    for celsius in range(ceil(coldest - 273.15), floor(warmest - 273.15) + 1):
        shop_K = celsius + 273.15
        warmed = replace(case, shop=replace(shop_at(case.shop, shop_K), resin_K=None, part_K=None))
        settled = settle(warmed)
        after = night_of(shop_K, left)
        day = _Day(warmed, settled, outlook, after)
        if all(reason.answer == "go" for reason in _reasons(day) if reason.kind not in ("night", "demould", "wood")):
            return Heating(shop_K, after) if after.makes_it or after.plans else None
    return None


def _cold_or_damp(case: Case, outlook: Outlook, night: Night) -> Iterator[Reason]:
    """Yield the reasons against beginning that a warmer shop takes away."""
    day = _Day(case, settle(case), outlook, night)
    yield from (reason for judge in (_cold, _blush) for reason in judge(day) if reason.answer != "go")


def _unknown(case: Case, outlook: Outlook) -> Iterator[str]:
    if case.shop.relative_humidity is None:
        yield "The humidity is not known: dew point and blush are not judged."
    if outlook.wood_moisture is None:
        low, high = WOOD_USUAL
        yield f"The moisture of the wood is not known ({low:.0%} to {high:.0%} is usual)."
    if outlook.night_K is None:
        yield f"Tonight's temperature is not known: the shop is taken to stay at {_celsius(case.shop.temperature_K)}."


def _assumed(outlook: Outlook) -> Iterator[str]:
    yield "the cure is counted from closing the press, with no conversion before it"
    if outlook.night_K is not None:
        yield f"without heat the mould comes down to the night's temperature in {FALL_S / 3600.0:.0f} h and stays there"


def _celsius(temperature_K: float) -> str:
    return f"{temperature_K - 273.15:.0f} °C"
