"""What there is to say for and against beginning: of the shop, the mix, the batches, their heat, the air, the wood."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Literal

from layup.chemistry.climate import blush_risk
from layup.chemistry.vessel import HeatClass
from layup.chemistry.viscosity import WET_OUT_LIMIT_PA_S
from layup.planning.fit import fit_of
from layup.planning.planner import Case, Settled
from layup.planning.schedule import minutes
from layup.planning.window import NEAR_K, cast_sheets, thicker_below_K, too_cold

Answer = Literal["go", "wait", "no"]
Kind = Literal["thick", "minimum", "dew", "batches", "heat", "blush", "wood", "night", "demould", "list"]
ANSWERS: tuple[Answer, ...] = ("go", "wait", "no")
"""From best to worst."""

COOL_K = 291.15
"""18 degC: in a cooler shop what a datasheet leaves out of cold may matter (our own judgement, no source)."""
WOOD_USUAL = (0.06, 0.12)
"""Moisture of wood that is bonded (common practice, no source)."""
WOOD_WET = 0.18
"""No bond above this (common practice, no source)."""
LEFT_STANDING: dict[HeatClass, str] = {"hot": "gets too hot to hold", "runaway": "smokes and can burn"}
"""Heat class -> what a cup does that is left standing."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that was judged: how it answers, why, and what to do about it."""

    kind: Kind
    answer: Answer
    words: str
    todo: str = ""


def reasons(
    case: Case, settled: Settled, wood_moisture: float | None, *, chance: float | None = None
) -> Iterator[Reason]:
    """Yield what there is to say of shop, mix, batches, air and wood."""
    yield from cold(case)
    yield from _not_stated(case)
    yield from slow_to_wet(case)
    yield from batches(case, settled, chance=chance)
    yield from _heat(settled)
    yield from blush(case)
    yield from _wood(wood_moisture)


def cold(case: Case) -> Iterator[Reason]:
    """Yield what the shop is too cold for."""
    shop = case.shop
    where = f"The shop is at {celsius(shop.temperature_K)}"
    if shop.part_K is not None and shop.part_K != shop.temperature_K:
        where += f", the part at {celsius(shop.part_K)}"
    limits = too_cold(case)
    for limit in limits:
        todo = f"{where}. Warm shop, mould, core and cans, and wait until the core is warm too."
        yield Reason(limit.kind, "no", limit.words, todo if limit is limits[-1] else "")


def slow_to_wet(case: Case) -> Iterator[Reason]:
    """Yield a mix that still flows and is slow to wet out cloth."""
    cans_K = case.shop.resin_K or case.shop.temperature_K
    warm_K = thicker_below_K(case.datasheet.viscosities, WET_OUT_LIMIT_PA_S) if case.plan.lays else None
    if warm_K is None or cans_K >= warm_K or any(limit.kind == "thick" for limit in too_cold(case)):
        return
    words = (
        f"The mix is thicker than {1000.0 * WET_OUT_LIMIT_PA_S:.0f} mPa·s at {celsius(cans_K)}: "
        "slow to wet out cloth by hand (common practice, no source)."
    )
    enough_C = ceil(warm_K - 273.15 - NEAR_K)
    yield Reason("thick", "wait", words, f"Warm shop and cans to {enough_C} °C, or allow more time.")


def _heat(settled: Settled) -> Iterator[Reason]:
    """Yield the cup that is soonest dangerous if it is left standing; a plan that fits empties each before."""
    hot = [batch for batch in settled.split.batches if batch.cup.heat_class in LEFT_STANDING]
    if not settled.split.fits or not hot:
        return
    cup = min(hot, key=lambda batch: (batch.cup.heat_class != "runaway", batch.cup.low_s))
    words = (
        f"Batch {cup.number}, {cup.mass_g:.0f} g, left standing past {minutes(cup.cup.low_s)} (an estimate) "
        f"{LEFT_STANDING[cup.cup.heat_class]}; the plan empties it after {minutes(cup.held_s)}."
    )
    yield Reason("heat", "go", words, "Have the place outdoors ready.")


def batches(case: Case, settled: Settled, *, chance: float | None = None) -> Iterator[Reason]:
    """Yield whether the batches and the pours fit, or are tight."""
    fit, limit = fit_of(case, settled, chance=chance), settled.split.limit
    shop = {one.words for one in too_cold(case)}
    forbids = [words for words in fit.against if words not in shop]
    if forbids:
        yield Reason("batches", "no", " ".join(forbids), "Change people, cups, resin or temperature until it fits.")
    elif fit.tight:
        todo = "Make room: smaller cups, a helper, another temperature; or begin knowing it."
        yield Reason("batches", "wait", " ".join(fit.tight), todo)
    elif limit is not None:
        yield Reason("batches", "go", limit.words)


def _not_stated(case: Case) -> Iterator[Reason]:
    """Yield what a datasheet does not say and a cool shop asks for."""
    shop = case.shop
    coldest_K = min(shop.temperature_K, shop.part_K or shop.temperature_K, shop.resin_K or shop.temperature_K)
    if coldest_K >= COOL_K:
        return
    laying = (case.datasheet,) if case.plan.lays else ()
    todo = f"Ask its maker, or warm shop, mould and cans to {celsius(COOL_K)}."
    for sheet in laying:
        if not sheet.viscosities:
            words = (
                f"The viscosity of {sheet.title} is not known: at {celsius(coldest_K)} it may be too thick to wet out."
            )
            yield Reason("thick", "wait", words, todo)
    for sheet in (*laying, *cast_sheets(case)):
        if sheet.minimum_temperature_K is None:
            words = (
                f"The least temperature at which {sheet.title} cures is not known: it may not at {celsius(coldest_K)}."
            )
            yield Reason("minimum", "wait", words, todo)


def blush(case: Case) -> Iterator[Reason]:
    """Yield how damp the air is, where that is known and the shop warm enough."""
    humidity = case.shop.relative_humidity
    if case.datasheet.chemistry != "epoxy-amine" or humidity is None or too_cold(case):
        return
    found = blush_risk(case.shop.temperature_K, humidity, case.shop.part_K)
    if found.risk == "low":
        yield Reason("blush", "go", f"The air is dry enough at {100 * humidity:.0f} %: little risk of blush.")
    else:
        answer: Answer = "no" if found.risk == "high" else "wait"
        todo = "Dry or warm the air; wash the blush off and sand before anything is bonded to it."
        yield Reason("blush", answer, f"Blush risk {found.risk}: {' '.join(found.reasons)}", todo)


def _wood(moisture: float | None) -> Iterator[Reason]:
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


def celsius(temperature_K: float) -> str:
    """Return a temperature as people say it."""
    return f"{temperature_K - 273.15:.0f} °C"
