"""What is left in the cans beside what a plan needs: what to buy, and which can is old."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from layup.planning.checklist import with_reason
from layup.planning.planner import PlanResult
from layup.planning.readiness import Readiness, Reason
from layup.units import mass

Component = Literal["resin", "hardener"]
COMPONENTS: tuple[Component, ...] = ("resin", "hardener")


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

    Parameters
    ----------
    ready : Readiness
        The answer without them [-]
    stock : Stock or None
        The cans; None where nobody keeps account of them [-]
    result : PlanResult
        What it is the answer for [-]

    Returns
    -------
    Readiness
        The same, with one reason more where there is an account [-]
    """
    if stock is None:
        return ready
    words, enough = (stock.trouble, False) if stock.trouble else stock_words(stock_rows(stock, result))
    return with_reason(ready, Reason("stock", "go" if enough else "wait", words)) if words else ready


def stock_rows(stock: Stock | None, result: PlanResult) -> tuple[StockRow, ...]:
    """Return what a plan needs of each component, with its margin, beside what is left; expired cans do not count.

    Parameters
    ----------
    stock : Stock or None
        The cans; None where nobody keeps account of them [-]
    result : PlanResult
        The part and what it comes to: of its castings those count that are poured on the day [-]

    Returns
    -------
    tuple[StockRow, ...]
        Resin and hardener of each system; none without an account [g]
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
    """Return what to buy and what is old in one line, or that there is enough, and whether that is so.

    Parameters
    ----------
    rows : Sequence[StockRow]
        Of a plan [-]

    Returns
    -------
    words : str
        Sentences [-]
    enough : bool
        Whether there is nothing to buy and nothing old [-]
    """
    several = len({row.resin for row in rows}) > 1
    named = [(row, f"{row.component} of {row.resin}" if several else row.component) for row in rows]
    short = ", ".join(f"{mass(row.short_g)} {name} ({mass(row.left_g)} left)" for row, name in named if row.short_g)
    said = [f"Buy {short}"] if short else []
    said += [caution for row in rows for caution in row.cautions]
    if said or not rows:
        return ". ".join(said) + "." * bool(said), not rows
    return f"Enough in stock: {', '.join(f'{mass(row.left_g)} {name}' for row, name in named)}.", True
