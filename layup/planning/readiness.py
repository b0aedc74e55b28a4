"""Whether to begin: go, wait or no, with the reasons, before the first batch is mixed; and the heat that turns a no."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, isfinite
from typing import Literal, get_args

from layup.chemistry.calibration import calibrate
from layup.chemistry.climate import WOOD_RANGE_K, blush_risk, moisture_warnings, wood_moisture
from layup.chemistry.cure import HeatingPlan
from layup.chemistry.datasheet import least_warmth
from layup.chemistry.demould import setting_of
from layup.chemistry.life_band import left_words
from layup.chemistry.prediction import predict
from layup.chemistry.viscosity import WET_OUT_LIMIT_PA_S
from layup.dimensions import ZERO_CELSIUS_K
from layup.planning.castings import LAST_POUR
from layup.planning.clocks import CUP
from layup.planning.cuts import casts_of
from layup.planning.fit import COOL_K, Fit, cost_of_warming, doubts_of_cold, fit_of, works
from layup.planning.night import (
    FALL_S,
    Night,
    NightOutlook,
    PartUnderPress,
    demould_words,
    heat_makes_it,
    heatings,
    overnight,
)
from layup.planning.planner import (
    HOTTEST_K,
    NEAR_K,
    PlanResult,
    cast_sheets,
    cold_limits,
    thick_in_the_cup,
    thicker_below_K,
    too_cold,
)
from layup.planning.pressing import press_limits
from layup.planning.warming import USUAL_BATH_K, Warming, following, shop_at
from layup.units import in_hours, mass, minutes, temperature

# -- reasons ---------------------------------------------------------------------------------------------------------

Answer = Literal["go", "wait", "no"]
Kind = Literal[
    "press", "thick", "minimum", "dew", "batches", "heat", "blush", "wood", "night", "demould", "stock", "list"
]
ANSWERS: tuple[Answer, ...] = get_args(Answer)
"""From best to worst."""

WOOD_USUAL = (0.06, 0.12)
"""Moisture of wood that is bonded (common practice, no source)."""
WOOD_WET = 0.18
"""No bond above this (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that was judged: how it answers, why, and what to do about it."""

    kind: Kind
    answer: Answer
    words: str
    todo: str = ""


def reasons(result: PlanResult, wood_moisture: float | None, *, chance: float | None = None) -> Iterator[Reason]:
    """Yield what there is to say of press, shop, mix, batches, air and wood."""
    yield from (Reason("press", limit.answer, limit.words) for limit in press_limits(result.plan))
    yield from cold(result)
    yield from _not_stated(result)
    yield from slow_to_wet(result)
    yield from batches(result, chance=chance)
    yield from _heat(result)
    yield from blush(result)
    yield from wood(wood_moisture)
    yield from _foam(result, wood_moisture)


def cold(result: PlanResult) -> Iterator[Reason]:
    """Yield what the shop is too cold for."""
    shop = result.shop
    where = f"Shop {temperature(shop.temperature_K)}"
    if shop.part_K is not None and shop.part_K != shop.temperature_K:
        where += f", part {temperature(shop.part_K)}"
    limits = too_cold(result)
    for limit in limits:
        todo = f"{where}: warm shop, mould, core and cans through."
        yield Reason(limit.kind, "no", limit.words, todo if limit is limits[-1] else "")


def slow_to_wet(result: PlanResult) -> Iterator[Reason]:
    """Yield a mix that still flows and is slow to wet out cloth."""
    found = thick_in_the_cup(result)
    if found is not None:
        enough_K = warm_enough_K(result) or found[1]
        todo = f"Warm shop and cans to {temperature(enough_K)}{cost_of_warming(result, enough_K)}, or allow more time."
        yield Reason("thick", "wait", found[0], todo)


def _heat(result: PlanResult) -> Iterator[Reason]:
    """Yield the cup that is soonest dangerous if it is left standing; a plan that fits empties each before."""
    hot = [batch for batch in result.split.batches if batch.cup.heat_class != "warm"]
    if not result.split.fits or not hot:
        return
    cup = min(hot, key=lambda batch: (batch.cup.heat_class != "runaway", batch.cup.life_s.low))
    shop_K, law = result.shop.temperature_K, result.calibration.kinetics
    peak_K = predict(law, CUP, mass_g=cup.mass_g, start_K=result.shop.cans_K, ambient=shop_K).peak_K
    words = (
        f"Batch {cup.number}, {mass(cup.mass_g)}: left past {minutes(cup.cup.life_s.low)} it "
        f"{left_words(peak_K, cup.cup.heat_class)}; emptied after {minutes(cup.held_s)}."
    )
    yield Reason("heat", "go", words, "Have the place outdoors ready.")


def batches(result: PlanResult, *, chance: float | None = None) -> Iterator[Reason]:
    """Yield whether the batches and the pours fit, or are tight."""
    fit, limit = fit_of(result, chance=chance), result.split.limit
    thick = thick_in_the_cup(result)
    told = {one.words for one in too_cold(result)} | {one.words for one in press_limits(result.plan)}
    told |= {thick[0]} if thick else set()
    forbids = [words for words in fit.against if words not in told]
    tight = [words for words in fit.tight if words not in told]
    if forbids:
        yield Reason("batches", "no", " ".join(forbids), "Change people, cups, resin or temperature.")
    elif tight:
        todo = "Smaller cups, a helper or another temperature."
        yield Reason("batches", "wait", " ".join(tight), todo)
    elif limit is not None:
        yield Reason("batches", "go", limit.words)


def _not_stated(result: PlanResult) -> Iterator[Reason]:
    """Yield what a datasheet does not say and a cool shop asks for."""
    todo = f"Ask its maker, or warm shop, mould and cans to {temperature(warm_enough_K(result) or COOL_K)}."
    for doubt in doubts_of_cold(result):
        yield Reason(doubt.kind, "wait", doubt.words, todo)


def blush(result: PlanResult) -> Iterator[Reason]:
    """Yield how damp the air is, where that is known and the shop warm enough."""
    humidity = result.shop.relative_humidity
    if result.datasheet.chemistry != "epoxy-amine" or humidity is None or too_cold(result):
        return
    found = blush_risk(result.shop.temperature_K, humidity, result.shop.part_K)
    if found.risk == "low":
        yield Reason("blush", "go", f"The air is dry enough at {100 * humidity:.0f} %: little risk of blush.")
    else:
        answer: Answer = "no" if found.risk == "high" else "wait"
        todo = "Dry or warm the air; wash the blush off and sand before anything is bonded to it."
        yield Reason("blush", answer, f"Blush risk {found.risk}: {' '.join(found.reasons)}", todo)


def wood(moisture: float | None) -> Iterator[Reason]:
    """Yield what the wood's moisture, where it was measured, says against bonding it."""
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


def _foam(result: PlanResult, wood_moisture: float | None) -> Iterator[Reason]:
    """Yield what was measured of wood and air that foams a urethane poured today."""
    plan, sheets = result.plan, result.casting_resins
    today = (step for number, step in casts_of(plan).items() if plan.pours_today(number))
    if any(sheets[step.resin_id].chemistry == "urethane" for step in today if step.resin_id in sheets):
        dry = 0.0 if wood_moisture is None else wood_moisture
        for words in moisture_warnings(dry, result.shop.relative_humidity):
            yield Reason("wood", "wait", words, "Water foams a urethane: pour a test into a scrap of the same wood.")


def warm_enough_K(result: PlanResult) -> float | None:
    """Find how warm shop, mould, core and cans have to be: the one temperature that page and list ask for.

    In whole degC: above each cold limit, above what is slow to wet out cloth, and 18 degC where a datasheet does not
    say; None where there is no resin.
    """
    thick_K = thicker_below_K(result.datasheet.viscosities, WET_OUT_LIMIT_PA_S) if result.plan.lays else None
    limits = (*cold_limits(result), *doubts_of_cold(result, at_K=ZERO_CELSIUS_K))
    found_K = [limit.temperature_K for limit in limits] + ([] if thick_K is None else [thick_K])
    return ZERO_CELSIUS_K + ceil(max(found_K) - ZERO_CELSIUS_K - NEAR_K) if found_K else None


# -- answer ----------------------------------------------------------------------------------------------------------

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
    follow: tuple[Warming, ...] = ()
    """How long cans, core, mould and cloth take to follow the warmed shop, the slowest first."""
    casts: bool = False
    """Whether it is of a plan that presses nothing."""
    cost: str = ""
    """What the warmer shop costs of spare, in brackets."""


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


def readiness(result: PlanResult, outlook: NightOutlook, *, chance: float | None = None) -> Readiness:
    """Say whether to begin a press day.

    No: too cold for the resin, air too damp, wood too wet, batches that do not fit, or a night after which the part
    does not come out in time and no heating makes it. Wait: a plan that is tight, and what a person can still put right
    or has to arrange. The night of a casting plan is that of its casting, which nothing presses.

    Parameters
    ----------
    chance : Odds of closing in time, 0 to 1; None where they are not drawn [-]
    """
    (part, words), outlook = in_press(result), outlook.after(result.plan.forecast)
    night, heating = overnight(part, outlook), _heating(result, outlook)
    found = [*reasons(result, outlook.wood_moisture, chance=chance)]
    found += night_reasons(part, night, heating is not None) if result.plan.lays else _casting_reasons(result, night)
    return Readiness(
        answer=max((reason.answer for reason in found), key=ANSWERS.index, default="go"),
        fit=fit_of(result, chance=chance, against=forbidden(found)),
        reasons=tuple(sorted(found, key=lambda reason: -ANSWERS.index(reason.answer))),
        unknown=tuple(_unknown(result, outlook)),
        night=night,
        heating=heating,
        assumptions=(*words, *_assumed(outlook)),
    )


def in_press(result: PlanResult, shop_K: float | None = None) -> tuple[PartUnderPress, tuple[str, ...]]:
    """Return a plan's part in its press, in its shop or one of another warmth [K], and what that assumes in words."""
    sheets = cast_sheets(result)
    sheet = result.datasheet if result.plan.lays or not sheets else sheets[0]
    calibration = result.calibration if sheet is result.datasheet else calibrate(sheet)
    setting, words = setting_of(sheet, calibration.kinetics)
    mould_K, bears_K = shop_K or result.shop.surface_K, result.plan.closing.hottest_K
    return PartUnderPress(setting, calibration, mould_K, minimum_K=least_warmth(sheet)[0], bears_K=bears_K), words


def forbidden(found: Iterable[Reason]) -> tuple[str, ...]:
    """Return what forbids a plan beyond its batches and the cold."""
    return tuple(reason.words for reason in found if reason.answer == "no" and reason.kind in JUDGED_HERE)


def _casting_reasons(result: PlanResult, night: Night) -> Iterator[Reason]:
    """Yield what there is to say of a casting plan that pours in time."""
    if result.budget.castings and works(result):
        after = night.ready.after(LAST_POUR, ".1f")
        hard = f"; hard enough to plane {after}" if isfinite(night.ready.out_s.likely) else ""
        yield Reason("demould", "go", f"Each pour leaves its cup in time{hard}.")


def night_reasons(part: PartUnderPress, night: Night, heated: bool) -> Iterator[Reason]:
    """Yield what the night does to a part, which is no reason against it where heat brings it out in time."""
    short: Answer = "wait" if heated else "no"
    if night.stalls_s is not None and part.minimum_K is not None:
        when = "from the start" if night.stalls_s == 0.0 else f"{in_hours(night.stalls_s)} after closing"
        words = f"Mould below {temperature(part.minimum_K)} {when}, the resin no glass yet: the cure may stop."
        yield Reason("night", short, words, "Keep the mould warm.")
    words = f"{demould_words(night)}; wanted after {in_hours(night.out_by_s)}: {night.verdict}."
    words = " ".join((words, *night.ready.cautions))
    if night.verdict == "makes it":
        yield Reason("demould", "go", words)
    else:
        yield Reason("demould", short, words, "Heat the mould, or leave it closed for longer.")


def _heating(result: PlanResult, outlook: NightOutlook) -> Heating | None:
    """Return the least heat that passes; None where none is needed or none does."""
    warmed = _warmed(result, outlook)
    if warmed is None:
        return None
    shop_K, after = warmed
    part, _ = in_press(result, shop_K)
    night = overnight(part, after)
    moulds = () if night.makes_it else heatings(part, after)
    if not moulds and (shop_K is None or not night.makes_it):
        return None
    cost = "" if shop_K is None else cost_of_warming(result, shop_K)
    follow = () if shop_K is None else following(result, shop_K)
    return Heating(shop_K, night, moulds, follow, not result.plan.lays, cost)


def heat_helps(result: PlanResult, outlook: NightOutlook) -> bool:
    """Say whether there is heat with which a part is out in time, as `readiness` finds it, and look no further."""
    if (warmed := _warmed(result, outlook)) is None:
        return False
    shop_K, after = warmed
    return heat_makes_it(in_press(result, shop_K)[0], after)


def _warmed(result: PlanResult, outlook: NightOutlook) -> tuple[float | None, NightOutlook] | None:
    """Return how warm the shop has to be before the first batch, None for as it is, and the night after; or None."""
    today_K = result.shop.temperature_K
    if _goes(result) and thick_in_the_cup(result) is None:
        return None, outlook
    follow = result.shop.resin_K is result.shop.part_K is None  # then the window ends where these shops stop to fit
    high_K = (HOTTEST_K if follow else result.window.high_K) or 0.0
    coldest_K = max([today_K, *(limit.temperature_K + ABOVE_COLD_K for limit in cold_limits(result))])
    whole_C = range(ceil(coldest_K - ZERO_CELSIUS_K), floor(min(high_K, today_K + MOST_WARMER_K) - ZERO_CELSIUS_K) + 1)
    shops = [replace(shop_at(result.shop, each + ZERO_CELSIUS_K), resin_K=None, part_K=None) for each in whole_C]
    asked = (replace(result, shop=shop) for shop in shops)
    best = next((one.shop for one in asked if thick_in_the_cup(one) is None and _goes(one)), None)
    # what fits lies between two temperatures, so where the first shop without any trouble fits no colder one counts
    enough_K = None if best is None or not works(*result.in_shops([best])) else best.temperature_K
    begun = works(result)
    for warmed in result.in_shops(shops) if enough_K is None else ():
        fits, wets = works(warmed), thick_in_the_cup(warmed) is None
        if follow and begun and not fits:
            break
        begun |= fits
        if fits and _goes(warmed):
            enough_K = warmed.shop.temperature_K if wets or enough_K is None else enough_K
            if wets:
                break
    after = outlook if outlook.night_K is not None else replace(outlook, night_K=today_K)
    return None if enough_K is None else (enough_K, after)


def _goes(result: PlanResult) -> bool:
    return all(reason.answer == "go" for reason in (*cold(result), *blush(result)))


def _unknown(result: PlanResult, outlook: NightOutlook) -> Iterator[str]:
    if result.shop.relative_humidity is None:
        yield "Humidity: dew point and blush not judged."
    if outlook.wood_moisture is None:
        yield _wood_unmeasured(result)
    if outlook.night_K is None:
        yield f"Tonight: taken as {temperature(result.shop.temperature_K)}, like the shop now."


def _wood_unmeasured(result: PlanResult) -> str:
    """Return what wood comes to that has lain in this air, where the air is known."""
    shop, (low, high) = result.shop, WOOD_USUAL
    if shop.relative_humidity is None or not WOOD_RANGE_K[0] <= shop.temperature_K <= WOOD_RANGE_K[1]:
        return f"Wood moisture: {100 * low:.0f} % to {100 * high:.0f} % is usual."
    comes_to = wood_moisture(shop.temperature_K, min(shop.relative_humidity, 0.98))
    return f"Wood moisture: {100 * comes_to:.0f} % if it lay in this air; {100 * high:.0f} % at most is usual."


def _assumed(outlook: NightOutlook) -> Iterator[str]:
    yield "the cure is counted from closing the press, with no conversion before it"
    if outlook.night_K is not None:
        yield f"without heat the mould comes down to the night's temperature in {in_hours(FALL_S)} and stays there"


HELD = "batch: shop, mould, core and cans at {}, held until the press is closed."
HELD_CASTING = "pour: shop, core and cans at {}, held until the last pour is hard."


def heating_lines(heating: Heating) -> tuple[str, ...]:
    """Return a heating as instructions, one sentence each.

    The shop before the first batch, then one line for each way to heat the mould after closing.
    """
    lines = []
    if heating.shop_K is not None:
        shop = f"{temperature(heating.shop_K)}{heating.cost}"
        lines.append(f"Before the first {HELD_CASTING if heating.casts else HELD}".format(shop))
    if lag := [row for row in heating.follow if row.time_s > 0.0]:
        each = (f"{row.body.name} {minutes(row.time_s)}{_bath(row)}" for row in lag)
        lines.append(f"They follow the shop after: {', '.join(each)}.")
    if not heating.moulds and not heating.casts:
        lines.append("After closing no heat is needed: out in time.")
    closed = "After closing, to be sure" if heating.night.verdict == "may make it" else "After closing"
    for plan in () if heating.casts else heating.moulds:
        head = closed if plan is heating.moulds[0] else "or"
        lines.append(f"{head}: {plan.words}")
    return tuple(lines)


def _bath(row: Warming) -> str:
    return "" if row.bath_s is None else f" ({minutes(row.bath_s)} in {temperature(USUAL_BATH_K)} water)"


SUMMARY = {"go": "No known problem", "wait": "Settle first", "no": "Change first"}


def summary(ready: Readiness) -> str:
    """Return the answer in a sentence, with how much of it nobody knows."""
    unknown = f", {len(ready.unknown)} unknown" if ready.unknown else ""
    return f"{SUMMARY[ready.answer]}{unknown}."


def ready_rows(ready: Readiness) -> list[tuple[str, str]]:
    """Return (head, words) rows: what weighs most, the heat that takes it away, the rest, what is not known."""
    rows = [(reason.answer.upper(), f"{reason.words} {reason.todo}".strip()) for reason in ready.reasons]
    worst = [row for row in rows if row[0] == ready.answer.upper()]
    heat = [("HEAT", words) for words in heating_lines(ready.heating)] if ready.heating else []
    return [*worst, *heat, *rows[len(worst) :], *(("?", words) for words in ready.unknown)]
