"""Whether to begin: go, wait or no, with the reasons, before the first batch is mixed; and the heat that turns a no."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, isfinite

from layup.chemistry.calibration import calibrate
from layup.chemistry.demould import setting_of
from layup.chemistry.heating import HeatingPlan
from layup.planning.fit import Fit, fit_of
from layup.planning.night import FALL_S, Night, NightOutlook, UnderPress, heatings, overnight
from layup.planning.planner import Case, Settled, settle
from layup.planning.reasons import ANSWERS, WOOD_USUAL, Answer, Kind, Reason, blush, celsius, cold, reasons, slow_to_wet
from layup.planning.remedies import shop_at
from layup.planning.window import Window, cast_sheets

JUDGED_HERE: frozenset[Kind] = frozenset({"blush", "wood", "night", "demould"})
"""What forbids a plan beyond its batches and the cold."""
ABOVE_COLD_K = 0.5
"""How far above what is too cold a heated shop is aimed at, so that a thermostat may swing."""
MOST_WARMER_K = 25


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
    fit: Fit
    """The plan's verdict, with the odds and the night: it never fits beside a NO."""
    reasons: tuple[Reason, ...]
    unknown: tuple[str, ...]
    night: Night
    heating: Heating | None
    """None where no heat is needed, or none helps."""
    assumptions: tuple[str, ...]


def readiness(
    case: Case, settled: Settled, window: Window, outlook: NightOutlook, *, chance: float | None = None
) -> Readiness:
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
    chance : float | None
        Odds of closing in time, 0 to 1; None where they are not drawn [-]

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
    does not come out in time and no heating makes it. Wait: a plan that is tight, and what a person can still put right
    or has to arrange. The night of a casting plan is that of its casting, which nothing presses.
    """
    sheets = cast_sheets(case)
    sheet = case.datasheet if case.plan.lays or not sheets else sheets[0]
    calibration = case.calibration if sheet is case.datasheet else calibrate(sheet)
    setting, words = setting_of(sheet, calibration.kinetics)

    def under_press(shop_K: float) -> UnderPress:
        return UnderPress(setting, calibration, shop_K, minimum_K=sheet.minimum_temperature_K)

    part = under_press(case.shop.part_K or case.shop.temperature_K)
    night = overnight(part, outlook)
    heating = _heating(case, window, outlook, under_press)
    found = [*reasons(case, settled, outlook.wood_moisture, chance=chance)]
    found += _night_reasons(part, night, heating) if case.plan.lays else _casting_reasons(case, settled, night)
    against = [reason.words for reason in found if reason.answer == "no" and reason.kind in JUDGED_HERE]
    return Readiness(
        answer=max((reason.answer for reason in found), key=ANSWERS.index, default="go"),
        fit=fit_of(case, settled, chance=chance, against=against),
        reasons=tuple(sorted(found, key=lambda reason: -ANSWERS.index(reason.answer))),
        unknown=tuple(_unknown(case, outlook)),
        night=night,
        heating=heating,
        assumptions=(*words, *_assumed(outlook)),
    )


def with_list(ready: Readiness, *, ticked: int, of: int) -> Readiness:
    """Return an answer that counts the list "before you start": unopened, it is never GO.

    Parameters
    ----------
    ready : Readiness
        The answer without the list [-]
    ticked : int
        Items that are ticked, 0 or more [-]
    of : int
        Items in all [-]

    Returns
    -------
    Readiness
        The same, or one that waits for the list [-]
    """
    if ticked or not of:
        return ready
    reason = Reason(
        "list", "wait", f'The list "before you start" is not opened: 0/{of} ticked.', "Go through it first."
    )
    found = (*ready.reasons, reason)
    return replace(
        ready,
        answer=max((each.answer for each in found), key=ANSWERS.index),
        reasons=tuple(sorted(found, key=lambda each: -ANSWERS.index(each.answer))),
    )


def _casting_reasons(case: Case, settled: Settled, night: Night) -> Iterator[Reason]:
    """Yield what there is to say of a casting plan that pours in time."""
    if settled.budget.castings and fit_of(case, settled).works:
        ready = night.ready
        high = f"{ready.high_s / 3600.0:.1f}" if isfinite(ready.high_s) else "never"
        when = f"{ready.time_s / 3600.0:.1f} h after the last pour (80 %: {ready.low_s / 3600.0:.1f} to {high})"
        words = "Each pour leaves its cup in time"
        yield Reason(
            "demould", "go", f"{words}; hard enough to plane {when}." if isfinite(ready.time_s) else f"{words}."
        )


def _night_reasons(part: UnderPress, night: Night, heating: Heating | None) -> Iterator[Reason]:
    short: Answer = "wait" if heating is not None else "no"
    if night.stalls_s is not None and part.minimum_K is not None:
        when = "from the start" if night.stalls_s == 0.0 else f"{night.stalls_s / 3600.0:.0f} h after closing"
        words = (
            f"The mould gets below {celsius(part.minimum_K)} {when}, before the resin is a glass: the cure may stop."
        )
        yield Reason("night", short, words, "Keep the mould warm.")
    words = f"{demould_words(night)}; wanted {night.out_by_s / 3600.0:.0f} h after closing: {night.verdict}."
    words = " ".join((words, *night.ready.cautions))
    if night.verdict == "makes it":
        yield Reason("demould", "go", words)
    else:
        yield Reason("demould", short, words, "Heat the mould, or leave it closed for longer.")


def demould_words(night: Night) -> str:
    """Return when a part may leave its mould, in hours from closing with the 80 % band."""
    ready = night.ready
    if not isfinite(ready.time_s):
        return "The part does not come out within two weeks"
    high = f"{ready.high_s / 3600.0:.0f}" if isfinite(ready.high_s) else "never"
    return f"Out of the mould {ready.time_s / 3600.0:.0f} h after closing (80 %: {ready.low_s / 3600.0:.0f} to {high})"


def _heating(
    case: Case, window: Window, outlook: NightOutlook, under_press: Callable[[float], UnderPress]
) -> Heating | None:
    """Return the least heat that passes; None where none is needed or none does."""
    today_K = case.shop.temperature_K
    if all(reason.answer == "go" for reason in (*cold(case), *slow_to_wet(case), *blush(case))):
        found = _warm_night(under_press(case.shop.part_K or today_K), outlook, None)
        return found if found is None or found.moulds else None
    if window.high_K is None:
        return None
    coldest_K = max([today_K, *(limit.temperature_K + ABOVE_COLD_K for limit in window.cold_limits)])
    warmest_K = min(window.high_K, today_K + MOST_WARMER_K)
    after = outlook if outlook.night_K is not None else replace(outlook, night_K=today_K)
    enough_K = None
    for whole_C in range(ceil(coldest_K - 273.15), floor(warmest_K - 273.15) + 1):
        shop_K = whole_C + 273.15
        warmed = replace(case, shop=replace(shop_at(case.shop, shop_K), resin_K=None, part_K=None))
        judged = (*cold(warmed), *blush(warmed))
        if all(reason.answer == "go" for reason in judged) and fit_of(warmed, settle(warmed)).works:
            enough_K = enough_K or shop_K
            if not any(slow_to_wet(warmed)):
                enough_K = shop_K
                break
    return None if enough_K is None else _warm_night(under_press(enough_K), after, enough_K)


def _warm_night(part: UnderPress, outlook: NightOutlook, shop_K: float | None) -> Heating | None:
    """Return a heating for the night after closing, without one of the mould where the night makes it as it is."""
    night = overnight(part, outlook)
    moulds = () if night.makes_it else heatings(part, outlook)
    return Heating(shop_K, night, moulds) if night.makes_it or moulds else None


def _unknown(case: Case, outlook: NightOutlook) -> Iterator[str]:
    if case.shop.relative_humidity is None:
        yield "The humidity is not known: dew point and blush are not judged."
    if outlook.wood_moisture is None:
        low, high = WOOD_USUAL
        yield f"The moisture of the wood is not known ({100 * low:.0f} % to {100 * high:.0f} % is usual)."
    if outlook.night_K is None:
        yield f"Tonight's temperature is not known: the shop is taken to stay at {celsius(case.shop.temperature_K)}."


def _assumed(outlook: NightOutlook) -> Iterator[str]:
    yield "the cure is counted from closing the press, with no conversion before it"
    if outlook.night_K is not None:
        yield f"without heat the mould comes down to the night's temperature in {FALL_S / 3600.0:.0f} h and stays there"


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
        shop = celsius(heating.shop_K)
        lines.append(f"Before the first batch: shop, mould, core and cans at {shop}, held until the press is closed.")
    if not heating.moulds:
        lines.append(f"After closing no heat is needed. {demould_words(heating.night)}.")
    for plan in heating.moulds:
        head = "After closing" if plan is heating.moulds[0] else "or"
        lines.append(f"{head}: {heating_words(plan)}")
    return tuple(lines)


def heating_words(plan: HeatingPlan) -> str:
    """Return one heating of the mould in a line."""
    hold_h, heater_h, out_h = (time_s / 3600.0 for time_s in (plan.hold_s, plan.heater_s, plan.demould_s))
    return f"mould {celsius(plan.mould_K)} held {hold_h:.1f} h, heater on {heater_h:.1f} h, out after {out_h:.0f} h"
