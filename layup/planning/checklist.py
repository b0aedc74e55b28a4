"""The list "before you start", built from the plan: what is done, at hand and in order before the first batch.

What is left in the cans beside what a plan needs: what to buy, and which can is old.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import groupby, takewhile
from typing import Literal, get_args

from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.errors import LayupError
from layup.planning.castings import as_poured, pourings
from layup.planning.cuts import Cut, casts_of, cut_list
from layup.planning.fit import doubts_of_cold, works
from layup.planning.mix_sheet import COMPONENTS, Component, mix_sheet
from layup.planning.plan import BondStep, Plan
from layup.planning.planner import PlanResult, Sample, cast_sheets, too_cold
from layup.planning.pressing import pressed_out_words, pressing
from layup.planning.readiness import ANSWERS, WOOD_USUAL, Readiness, Reason, warm_enough_K
from layup.units import in_hours, length, mass, pressure, temperature

Group = Literal["from last time", "the days before", "the shop", "the bench", "people", "closing"]
GROUPS: tuple[Group, ...] = get_args(Group)
"""In the order in which they are gone through; the first is what earlier sessions carried forward."""

CLOSING_ITEMS: dict[str, str] = {
    "clamps": "{clamps}open to size, caul and pads at hand; closed once dry, and the caul pressed everywhere",
    "bolts": "{clamps}run free, wrench and washers at hand; closed once dry, and the caul pressed everywhere",
    "bladder": "Bladder held {pressure} with the dry press bolted shut; regulator and relief valve set, gauge at zero",
    "bag": "Bag, tape, breather and trap at hand; a dry bag held its vacuum for ten minutes",
}
"""For each way of closing (common practice, no source)."""
WASH: dict[Chemistry, str] = {
    "epoxy-amine": "soap and water, never solvent on skin",
    "urethane": "dry wipes first, then soap and water",
    "other": "what the safety data sheet names",
}
LOOK_AT_HARDENER = "hardener cloudy, skinned or lumpy: use another can"
"""Amines draw carbon dioxide, isocyanates water (common practice, no source); said where a can is opened."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to tick; `key` stays the same when its numbers change."""

    key: str
    group: Group
    words: str
    stops: str = ""
    """In three words what it is, where a press day stops or hurts somebody without it; else empty."""
    brief: str = ""
    """What it is in a few words, where `stops` does not say it."""

    @property
    def short(self) -> str:
        """What it is in a few words, for a list of which the item in hand stands in full."""
        return self.brief or f"{self.stops[:1].upper()}{self.stops[1:]}" or self.words


HOT_CUP = Item(
    "hot-cup", "the bench", "A place outdoors, away from anything that burns, for a cup that smokes", "place outdoors"
)


def checklist(result: PlanResult, ready: Readiness | None = None, stock: Stock | None = None) -> tuple[Item, ...]:
    """List what has to be ready before the first batch is mixed.

    Raises InputError for an outline without a length where cloth is cut. Common practice, no source; the safety data
    sheets of resin and hardener come first. A plan that only casts asks for its pours' resins and cups, and for no
    press.
    """
    if not result.plan.lays and result.budget.castings:
        items = (*_shop(result, ready), *_pouring(result, stock), *_people(result, cast_sheets(result)))
    else:
        items = (
            *_days_before(result.plan),
            *_shop(result, ready),
            *_bench(result, stock),
            *_people(result, (result.datasheet,)),
            *closing_items(result.plan),
        )
    return tuple(sorted(items, key=lambda item: GROUPS.index(item.group)))


def with_list(ready: Readiness, items: Sequence[Item], ticked: Collection[str]) -> Readiness:
    """Return an answer that counts the list: never GO while something on it is open that stops a press day.

    The same, or one that waits for the list and names what is open.

    Parameters
    ----------
    ticked : Keys of what is ticked [-]
    """
    left = [item for item in items if item.key not in ticked]
    stopping = dict.fromkeys(item.stops for item in left if item.stops)
    if not stopping:
        return ready
    opened = f"{len(left)} left, open: {', '.join(stopping)}"
    unopened = f"0/{len(items)} ticked"
    words = f"Checklist: {unopened if len(left) == len(items) else opened}."
    return with_reason(ready, Reason("list", "wait", words))


def with_reason(ready: Readiness, reason: Reason) -> Readiness:
    """Return an answer with one more reason, which may make it worse; its worst reasons come first."""
    found = (*ready.reasons, reason)
    return replace(
        ready,
        answer=max((each.answer for each in found), key=ANSWERS.index),
        reasons=tuple(sorted(found, key=lambda each: -ANSWERS.index(each.answer))),
    )


def _days_before(plan: Plan) -> Iterator[Item]:
    for number, step in casts_of(plan).items():
        if step.before_press_day:
            yield Item(
                f"cast-{number + 1}", "the days before", f"{step.name}: cast, cured and planed flush", "castings cured",
                brief=step.name,
            )  # fmt: skip
    for task in plan.before:
        yield Item(f"before-{task.name}", "the days before", f"{task.name}: {'done' if task.hands else 'over'}")
    first = 1
    for (name, size), alike in groupby(cut_list(plan), key=_cut_words):  # in a row they are one thing to tick
        cuts = [*alike]
        count = sum(cut.count for cut in cuts)
        numbers = f"no. {first}" if count == 1 else f"no. {first} to {first + count - 1}"
        words = f"{name}: {count} cut {size}, marked {numbers}, rolled up in the order of laying"
        yield Item(f"cut-{cuts[0].step + 1}", "the days before", words, "cloth cut", f"{name}  {count} × {size}")
        first += count
    faces = dict.fromkeys(step.surface for step in plan.steps if isinstance(step, BondStep))
    if faces:
        words = f"Faces sanded, free of dust and grease, and not touched since: {', '.join(faces)}"
        yield Item("faces", "the days before", words, "faces sanded")
    words = "Dry run: every piece laid in order without resin, the press closed and opened again"
    yield Item("dry-run", "the days before", words, brief="Dry run")


def _cut_words(cut: Cut) -> tuple[str, str]:
    return cut.name, f"{cut.length_m * 1000.0:.0f} x {length(cut.width_m)}"


def _shop_asked(result: PlanResult, ready: Readiness | None) -> str:
    """Return the shop that the list asks for; today's is one of it where the plan works there, in no damp air."""
    heated_K = ready.heating.shop_K if ready and ready.heating else None
    warm_K = max((each for each in (warm_enough_K(result), heated_K) if each is not None), default=None)
    if warm_K is None:
        return ""
    today_K, reasons = result.shop.temperature_K, ready.reasons if ready else ()
    damp = any(one.kind == "blush" and one.answer == "no" for one in reasons)
    low_K = warm_K if damp or too_cold(result) or doubts_of_cold(result) else min(warm_K, today_K)
    from_K = max(low_K, today_K) if works(result) else low_K
    samples: tuple[Sample, ...] = ()
    with suppress(LayupError):
        samples = tuple(sample for sample in result.window.samples if sample.temperature_K > from_K)
    spared_K = [one.temperature_K for one in takewhile(lambda one: one.works and not one.tight, samples)]
    if len(spared_K) == len(samples):
        return f"≥ {temperature(low_K)}"
    top = temperature(max(spared_K, default=from_K))
    return f"{top}, no warmer" if top == temperature(low_K) else f"{temperature.digits(low_K)} to {top}"


def _shop(result: PlanResult, ready: Readiness | None) -> Iterator[Item]:
    if asked := _shop_asked(result, ready):
        cans_K = result.shop.resin_K
        what = "Shop, mould, core and cans" if cans_K is None else f"Cans at {temperature(cans_K)}; shop, mould, core"
        yield Item("warm", "the shop", f"{what} at {asked}, measured at the mould", "shop warm", f"Shop {asked}")
    yield Item("heater", "the shop", _heater_words(ready), brief="Heater safe")
    low, high = WOOD_USUAL
    if any(isinstance(step, BondStep) for step in result.plan.steps) or (not result.plan.lays and cast_sheets(result)):
        yield Item(
            "wood",
            "the shop",
            f"Moisture of the wood measured: {100 * low:.0f} % to {100 * high:.0f} % is usual",
            brief="Wood measured",
        )
    yield Item("humidity", "the shop", "Humidity of the air measured", brief="Humidity measured")
    words = "Fresh air moves through the shop; no flame, no sparks, solvent cans closed"
    yield Item("air", "the shop", words, "fresh air")


def _heater_words(ready: Readiness | None) -> str:
    words = "Heater on a thermostat, clear of cloth and solvent, its cable sound"
    moulds = ready.heating.moulds if ready and ready.heating else ()
    if not moulds:
        return words
    plan = moulds[0]
    return (
        f"{words}; ready to keep the mould at {temperature(plan.mould_K)} for {in_hours(plan.heater_s)} after closing"
    )


def _bench(result: PlanResult, stock: Stock | None) -> Iterator[Item]:
    plan, grams, batches = result.plan, result.budget, result.split.batches
    words = _at_hand(grams.buy_resin_g, grams.buy_hardener_g, _lots(stock, result, plan.resin_id))
    brief = f"Resin {mass(grams.buy_resin_g)}, hardener {mass(grams.buy_hardener_g)}"
    yield Item("cans", "the bench", words, "resin at hand", brief)
    heaviest_g = max((batch.mass_g for batch in batches), default=0.0)
    if heaviest_g > 0.0:
        size = mix_sheet(result.datasheet, heaviest_g, plan.scale).cup_words
        size = f" of {size}" if size else ""
        words = f"{len(batches) + 1} clean dry cups{size} and as many sticks: one spare"
        yield Item("cups", "the bench", words, "cups and sticks", f"{len(batches) + 1} cups, sticks")
        yield Item(
            "mix-sheets", "the bench", f"{len(batches)} mix sheets hang where the scale stands", brief="Mix sheets"
        )
    yield _scale_item(plan)
    yield Item(
        "tools", "the bench", "Brushes, rollers, squeegee, scissors, spare rags laid out in reach", "brushes in reach"
    )
    words = "Mould, caul and everything resin may run onto has release agent or film"
    yield Item("release", "the bench", words, "release agent")
    yield HOT_CUP


def _at_hand(resin_g: float, hardener_g: float, lots: str) -> str:
    noted = lots or "lot numbers written down"
    return f"Resin {mass(resin_g)} and hardener {mass(hardener_g)} at hand, {noted}; {LOOK_AT_HARDENER}"


def _lots(stock: Stock | None, result: PlanResult, resin_id: str) -> str:
    """Return the lots that an account of the cans has left of a resin, the ones to read on them."""
    lots = [lot for row in stock_rows(stock, result) if row.resin == resin_id for lot in row.lots]
    return f"lot {', '.join(lots)} read on the cans" if lots else ""


def _pouring(result: PlanResult, stock: Stock | None) -> Iterator[Item]:
    """Yield what has to be at hand for a plan that only casts."""
    for casting in as_poured(result).castings:
        sheet = result.casting_resins.get(casting.resin_id)
        if sheet is not None and casting.parts_g is not None:
            words = (
                f"{sheet.title}, {casting.name}: {_at_hand(*casting.parts_g, _lots(stock, result, casting.resin_id))}"
            )
            yield Item(f"cans-{casting.step + 1}", "the bench", words, "resin at hand")
    pours = [pour for pouring in pourings(result, None) for pour in pouring.pours]
    if pours:
        words = f"{len(pours) + 1} clean dry cups and as many sticks: one spare"
        yield Item("cups", "the bench", words, "cups and sticks")
        yield Item(
            "mix-sheets", "the bench", f"{len(pours)} pour sheets hang where the scale stands", brief="Pour sheets"
        )
    yield _scale_item(result.plan)
    words = "Bench and everything resin may run onto is under film or tape, the channel free of wax and release agent"
    yield Item("release", "the bench", words, "film on the bench")
    yield HOT_CUP


def _scale_item(plan: Plan) -> Item:
    reads = mass(plan.scale.readability_g, "g")
    reads += ", to be tared again before the hardener" if plan.scale.tare_each else ""
    words = f"Scale level, reads to {reads}, fresh battery, checked with a known weight"
    return Item("scale", "the bench", words, "scale checked")


def _people(result: PlanResult, sheets: Sequence[Datasheet]) -> Iterator[Item]:
    """Yield what people need who work with the resins of `sheets`."""
    people = result.plan.crew.people
    titles = " and ".join(sheet.title for sheet in sheets) or "the resin"
    yield Item("sheets", "people", f"Safety data sheets of {titles} read, and in reach", "safety sheets read")
    pairs = 3 * people
    yield Item(
        "gloves", "people", f"{pairs} pairs of nitrile gloves, goggles, long sleeves; skin washes off with "
        f"{' and '.join(dict.fromkeys(WASH[sheet.chemistry] for sheet in sheets)) or WASH['other']}",
        "gloves and goggles",
    )  # fmt: skip
    if people > 1:
        who = "who mixes, who lays and who closes" if result.plan.lays else "who mixes and who pours"
        yield Item("roles", "people", f"{people} at the bench, and each knows {who}", brief="Roles clear")
    words = "Someone who is not here knows that you work, with what, and when you will be done"
    yield Item("told", "people", words, brief="Someone knows")
    words = "Phone charged and out of the way of resin; water to rinse eyes in reach"
    yield Item("phone", "people", words, brief="Phone, eye rinse")


def closing_items(plan: Plan) -> tuple[Item, ...]:
    """List what has to be ready for closing the press."""
    closing = plan.closing
    clamps = f"{closing.clamps} {closing.method} " if closing.clamps else f"All {closing.method} "
    pressure_Pa = closing.target_pressure_Pa
    wanted = "its pressure" if pressure_Pa is None else pressure(pressure_Pa)
    excess = "Excess resin has a way out at both long edges, and something to run onto"
    return (
        Item("closing", "closing", CLOSING_ITEMS[closing.method].format(clamps=clamps, pressure=wanted), "press tried"),
        Item(
            "edges",
            "closing",
            ". ".join(filter(None, (excess, pressed_out_words(pressing(plan)).rstrip(".")))),
            brief="Resin way out",
        ),
    )


@dataclass(frozen=True, slots=True)
class CanLeft:
    """What is left in a can today, below zero where more was poured than it held; `caution` says why it is old."""

    resin: str
    component: Component
    lot: str
    left_g: float
    caution: str = ""
    expired: bool = False
    """An expired can is not counted on."""


@dataclass(frozen=True, slots=True)
class Stock:
    """The cans of a workshop today."""

    cans: tuple[CanLeft, ...] = ()
    trouble: str = ""
    """Why there is no account of them; empty where there is."""


@dataclass(frozen=True, slots=True)
class StockRow:
    """What a plan needs of one component and what is left of it; `cautions` are of its cans."""

    resin: str
    component: Component
    need_g: float
    left_g: float
    short_g: float
    lots: tuple[str, ...]
    cautions: tuple[str, ...]


def with_stock(ready: Readiness, stock: Stock | None, result: PlanResult) -> Readiness:
    """Return an answer that counts the cans: never GO while something is to buy, or old.

    The same, with one reason more where there is an account.
    """
    if stock is None:
        return ready
    words, enough = (stock.trouble, False) if stock.trouble else stock_words(stock_rows(stock, result))
    return with_reason(ready, Reason("stock", "go" if enough else "wait", words)) if words else ready


def stock_rows(stock: Stock | None, result: PlanResult) -> tuple[StockRow, ...]:
    """Return what a plan needs of each component, with its margin, beside what is left; expired cans do not count.

    Resin and hardener of each system; none without an account.

    Parameters
    ----------
    result : The part and what it comes to: of its castings those count that are poured on the day [-]
    """
    if stock is None or stock.trouble:
        return ()
    plan, grams = result.plan, result.budget
    needs: dict[str, tuple[float, float]] = {}
    if plan.lays:
        needs[plan.resin_id] = grams.buy_resin_g, grams.buy_hardener_g
    for casting in grams.castings:
        if casting.parts_g is not None and plan.pours_today(casting.step):
            resin_g, hardener_g = needs.get(casting.resin_id, (0.0, 0.0))
            needs[casting.resin_id] = resin_g + casting.parts_g[0], hardener_g + casting.parts_g[1]
    return tuple(
        _row(stock, resin_id, component, need_g)
        for resin_id, parts_g in needs.items()
        for component, need_g in zip(COMPONENTS, parts_g, strict=True)
    )


def _row(stock: Stock, resin_id: str, component: Component, need_g: float) -> StockRow:
    own = [can for can in stock.cans if (can.resin, can.component) == (resin_id, component) and can.left_g]
    left_g = sum(can.left_g for can in own if can.left_g > 0.0 and not can.expired)
    cautions = []
    for can in own:
        name = f"{component.capitalize()} lot {can.lot}"
        if can.left_g < 0.0:
            cautions.append(f"{name}: {mass(-can.left_g)} more was poured than it held, weigh it")
        elif can.caution:
            cautions.append(f"{name} {can.caution}: try a trial cup first")
    lots = tuple(dict.fromkeys(can.lot for can in own if can.left_g > 0.0))
    return StockRow(resin_id, component, need_g, left_g, max(need_g - left_g, 0.0), lots, tuple(cautions))


def stock_words(rows: Sequence[StockRow]) -> tuple[str, bool]:
    """Return what to buy and what is old in one line, or that there is enough, and whether that is so."""
    several = len({row.resin for row in rows}) > 1
    named = [(row, f"{row.component} of {row.resin}" if several else row.component) for row in rows]
    short = ", ".join(f"{mass(row.short_g)} {name} ({mass(row.left_g)} left)" for row, name in named if row.short_g)
    said = [f"Buy {short}"] if short else []
    said += [caution for row in rows for caution in row.cautions]
    if said or not rows:
        return ". ".join(said) + "." * bool(said), not rows
    return f"Enough in stock: {', '.join(f'{mass(row.left_g)} {name}' for row, name in named)}.", True
