"""Whether to begin: go, wait or no, with the reasons, before the first batch is mixed; and the heat that turns a no."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, isfinite
from typing import Literal

from layup.chemistry.climate import blush_risk
from layup.chemistry.demould import setting_of
from layup.chemistry.heating import HeatingPlan
from layup.planning.case import Case, Settled, settle
from layup.planning.overnight import FALL_S, Night, Outlook, UnderPress, heatings, overnight
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
    """The night after that, with the mould unheated."""
    moulds: tuple[HeatingPlan, ...]
    """Heatings of the mould that make it, to choose from; none where the mould needs none."""


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

    def under_press(shop_K: float) -> UnderPress:
        return UnderPress(setting, case.calibration, shop_K, minimum_K=case.datasheet.minimum_temperature_K)

    part = under_press(case.shop.part_K or case.shop.temperature_K)
    night = overnight(part, outlook)
    heating = _heating(case, window, outlook, under_press)
    reasons = tuple(_reasons(case, settled, outlook)) + tuple(_night_reasons(part, night, heating))
    return Readiness(
        answer=max((reason.answer for reason in reasons), key=ANSWERS.index),
        reasons=tuple(sorted(reasons, key=lambda reason: -ANSWERS.index(reason.answer))),
        unknown=tuple(_unknown(case, outlook)),
        night=night,
        heating=heating,
        assumptions=(*words, *_assumed(outlook)),
    )


def _reasons(case: Case, settled: Settled, outlook: Outlook) -> Iterator[Reason]:
    """Yield what there is to say of shop, air, wood and batches."""
    yield from _cold(case)
    yield from _batches(settled)
    yield from _blush(case)
    yield from _wood(outlook)


def _cold(case: Case) -> Iterator[Reason]:
    shop = case.shop
    where = f"The shop is at {_celsius(shop.temperature_K)}"
    if shop.part_K is not None and shop.part_K != shop.temperature_K:
        where += f", the part at {_celsius(shop.part_K)}"
    limits = too_cold(case)
    for limit in limits:
        todo = f"{where}. Warm shop, mould, core and cans, and wait until the core is warm too."
        yield Reason(limit.kind, "no", limit.words, todo if limit is limits[-1] else "")


def _batches(settled: Settled) -> Iterator[Reason]:
    split = settled.split
    words = split.limit.words if split.limit else "There is nothing to mix."
    if split.fits and split.batches:
        yield Reason("batches", "go", words)
    else:
        yield Reason("batches", "no", words, "Change people, cups, resin or temperature until it fits.")


def _blush(case: Case) -> Iterator[Reason]:
    humidity = case.shop.relative_humidity
    if case.datasheet.chemistry != "epoxy-amine" or humidity is None or too_cold(case):
        return
    blush = blush_risk(case.shop.temperature_K, humidity, case.shop.part_K)
    if blush.risk == "low":
        yield Reason("blush", "go", f"The air is dry enough at {100 * humidity:.0f} %: little risk of blush.")
    else:
        answer: Answer = "no" if blush.risk == "high" else "wait"
        todo = "Dry or warm the air; wash the blush off and sand before anything is bonded to it."
        yield Reason("blush", answer, f"Blush risk {blush.risk}: {' '.join(blush.reasons)}", todo)


def _wood(outlook: Outlook) -> Iterator[Reason]:
    moisture = outlook.wood_moisture
    if moisture is None:
        return
    low, high = WOOD_USUAL
    words = f"The wood holds {100 * moisture:.0f} % water; {100 * low:.0f} % to {100 * high:.0f} % is usual"
    if moisture > WOOD_WET:
        yield Reason("wood", "no", f"{words}: too wet to bond.", "Dry it slowly, and measure again.")
    elif moisture > high:
        yield Reason("wood", "wait", f"{words}: it shrinks later and bonds less well.", "Dry it, and measure again.")
    elif moisture < low:
        yield Reason("wood", "go", f"{words}: dry wood drinks more resin and grows later.")
    else:
        yield Reason("wood", "go", f"{words}.")


def _night_reasons(part: UnderPress, night: Night, heating: Heating | None) -> Iterator[Reason]:
    short: Answer = "wait" if heating is not None else "no"
    if night.stalls_s is not None and part.minimum_K is not None:
        when = "from the start" if night.stalls_s == 0.0 else f"{night.stalls_s / 3600.0:.0f} h after closing"
        words = (
            f"The mould gets below {_celsius(part.minimum_K)} {when}, before the resin is a glass: the cure may stop."
        )
        yield Reason("night", short, words, "Keep the mould warm.")
    words = f"{demould_words(night)}; wanted {night.out_by_s / 3600.0:.0f} h after closing: {night.verdict}."
    words = " ".join((words, *night.ready.cautions))
    if night.verdict == "makes it":
        yield Reason("demould", "go", words)
    else:
        yield Reason("demould", short, words, "Heat the mould, or leave it closed for longer.")


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


def _heating(
    case: Case, window: Window, outlook: Outlook, under_press: Callable[[float], UnderPress]
) -> Heating | None:
    """Return the least heat that passes; None where none is needed or none does."""
    today_K = case.shop.temperature_K
    if all(reason.answer == "go" for reason in (*_cold(case), *_blush(case))):
        found = _warm_night(under_press(case.shop.part_K or today_K), outlook, None)
        return found if found is None or found.moulds else None
    if window.high_K is None:
        return None
    coldest_K = max([today_K, *(limit.temperature_K + ABOVE_COLD_K for limit in window.cold_limits)])
    warmest_K = min(window.high_K, today_K + MOST_WARMER_K)
    after = outlook if outlook.night_K is not None else replace(outlook, night_K=today_K)
    for celsius in range(ceil(coldest_K - 273.15), floor(warmest_K - 273.15) + 1):
        shop_K = celsius + 273.15
        warmed = replace(case, shop=replace(shop_at(case.shop, shop_K), resin_K=None, part_K=None))
        judged = (*_cold(warmed), *_blush(warmed), *_batches(settle(warmed)))
        if all(reason.answer == "go" for reason in judged):
            return _warm_night(under_press(shop_K), after, shop_K)
    return None


def _warm_night(part: UnderPress, outlook: Outlook, shop_K: float | None) -> Heating | None:
    """Return a heating for the night after closing, without one of the mould where the night makes it as it is."""
    night = overnight(part, outlook)
    moulds = () if night.makes_it else heatings(part, outlook)
    return Heating(shop_K, night, moulds) if night.makes_it or moulds else None


def _unknown(case: Case, outlook: Outlook) -> Iterator[str]:
    if case.shop.relative_humidity is None:
        yield "The humidity is not known: dew point and blush are not judged."
    if outlook.wood_moisture is None:
        low, high = WOOD_USUAL
        yield f"The moisture of the wood is not known ({100 * low:.0f} % to {100 * high:.0f} % is usual)."
    if outlook.night_K is None:
        yield f"Tonight's temperature is not known: the shop is taken to stay at {_celsius(case.shop.temperature_K)}."


def _assumed(outlook: Outlook) -> Iterator[str]:
    yield "the cure is counted from closing the press, with no conversion before it"
    if outlook.night_K is not None:
        yield f"without heat the mould comes down to the night's temperature in {FALL_S / 3600.0:.0f} h and stays there"


def _celsius(temperature_K: float) -> str:
    return f"{temperature_K - 273.15:.0f} °C"


def heating_lines(heating: Heating) -> tuple[str, ...]:
    """Return a heating as instructions, one sentence each.

    Parameters
    ----------
    heating : Heating
        Heat that passes [-]

    Returns
    -------
    tuple[str, ...]
        The shop before the first batch, then one line for each way to heat the mould after closing [-]
    """
    lines = []
    if heating.shop_K is not None:
        shop = _celsius(heating.shop_K)
        lines.append(f"Before the first batch: shop, mould, core and cans at {shop}, held until the press is closed.")
    if not heating.moulds:
        lines.append(f"After closing no heat is needed. {demould_words(heating.night)}.")
    for plan in heating.moulds:
        head = "After closing" if plan is heating.moulds[0] else "or"
        lines.append(f"{head}: {heating_words(plan)}")
    return tuple(lines)


def heating_words(plan: HeatingPlan) -> str:
    """Return one heating of the mould in a line.

    Parameters
    ----------
    plan : HeatingPlan
        The heating [-]

    Returns
    -------
    str
        Temperature, hold, time the heater is on, and when the part is out [-]
    """
    hold_h, heater_h, out_h = (time_s / 3600.0 for time_s in (plan.hold_s, plan.heater_s, plan.demould_s))
    return f"mould {_celsius(plan.mould_K)} held {hold_h:.1f} h, heater on {heater_h:.1f} h, out after {out_h:.0f} h"
