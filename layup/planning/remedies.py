"""What would make a plan fit: changes planned anew, judged by the verdict that is shown, the least effort first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Literal, get_args

from layup.chemistry.calibration import Calibration
from layup.chemistry.climate import DRY_MARGIN_K, dew_point_K
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.dimensions import ZERO_CELSIUS_K
from layup.planning.choosing import judged, measured
from layup.planning.crew import MOST_PEOPLE
from layup.planning.fit import Fit, FitWord, fit_of
from layup.planning.night import NightOutlook
from layup.planning.plan import BondStep, Scale
from layup.planning.planner import NEAR_K, PlanResult, thick_in_the_cup, too_cold
from layup.planning.pressing import press_limits, pressing
from layup.planning.warming import shop_at
from layup.units import mass, spare_of, temperature

RemedyKind = Literal["press", "tare", "cans", "cups", "scale", "helper", "shop", "sealed core", "resin"]
EFFORT: tuple[RemedyKind, ...] = get_args(RemedyKind)
"""In order of effort, the least first (common practice, no source)."""
PAIRED: tuple[tuple[RemedyKind, ...], tuple[RemedyKind, ...]] = (("cans", "helper", "shop"), ("tare", "cups", "scale"))
"""Where no change alone is enough: one of the first with one of the second."""

COOLEST_CANS_K, WARMEST_CANS_K = 283.15, 308.15
"""10 to 35 degC: colder resin does not wet out, warmer goes off in the cup (common practice, no source)."""
CAN_STEP_K, CAN_STEPS = 2.0, 6
SHOP_STEP_K, SHOP_STEPS = 1.0, 6
CUP_STEP_G = 50.0
CUP_FACTORS = (0.5, 0.75, 1.5, 2.0)
SMALLER = CUP_FACTORS[:2]
FINE_SCALE_G = 0.1
INSIDE_K = 0.5
"""How far inside the window to aim."""
GAIN_S, GAIN_CHANCE = 60.0, 0.01
"""Less than this nobody sees."""


@dataclass(frozen=True, slots=True)
class Upshot:
    """What a plan comes to: the verdict that is shown, the odds where nothing forbids it, and what is spare."""

    fit: Fit
    slack_s: float | None
    chance: float | None = None

    @property
    def spare_s(self) -> float:
        """Return what is spare, below everything where no batch has an allowed mass [s]."""
        return -1e9 if self.slack_s is None else self.slack_s

    def keeps(self, before: Upshot) -> bool:
        """Return whether it has no fewer odds and no less to spare than one before it."""
        return self.spare_s >= before.spare_s and (self.chance or 0.0) >= (before.chance or 0.0)

    def helps(self, before: Upshot) -> bool:
        """Return whether it gains something that is seen, costs nothing, and adds no trouble."""
        troubles, then = (len((*one.fit.against, *one.fit.tight)) for one in (self, before))
        seen = self.spare_s >= before.spare_s + GAIN_S or (self.chance or 0.0) >= (before.chance or 0.0) + GAIN_CHANCE
        return seen and self.keeps(before) and troubles <= then and (self.fit.works or not before.fit.works)


Judge = Callable[[PlanResult], Upshot]
Proposal = tuple[RemedyKind, Iterable[tuple[str, PlanResult]]]


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change, or two together, in words, with the plan it makes and what that comes to."""

    kind: RemedyKind
    words: str
    fits: bool
    """Whether it is enough: it makes a plan that does not fit fit or tight, and a tight one fit."""
    outcome: Upshot
    result: PlanResult
    costs: str = ""
    """What is left of spare and odds, in brackets, where it is less than before."""

    @property
    def verdict(self) -> FitWord:
        return self.outcome.fit.word

    @property
    def slack_s(self) -> float | None:
        """Return what is spare with it; None where no batch has an allowed mass [s]."""
        return self.outcome.slack_s

    @property
    def told(self) -> str:
        return f"{self.words.rstrip('.')}{self.costs}."


def remedies(
    result: PlanResult,
    *,
    other_resins: Mapping[str, tuple[Datasheet, Calibration]] | None = None,
    outlook: NightOutlook | None = None,
    with_people: Callable[[int], PlanResult] | None = None,
) -> tuple[Remedy, ...]:
    """Find the changes that make a plan fit, or a tight one not tight, the least effort first.

    Those that fit, by effort, then those that leave it tight, with under a minute to spare last; if none does, those
    that gain something and cost nothing, the most first. Every one is judged as `readiness` judges a plan, odds and
    night included. Two together are tried only where no one alone makes it fit.

    Parameters
    ----------
    other_resins : Laminating resins to try instead, by id [-]
    outlook : The night and the wood; None for a night as warm as the shop [-]
    with_people : The same plan with so many people; None takes the pace of those there are [-]
    """
    given = outlook or NightOutlook()

    def judge(changed: PlanResult) -> Upshot:
        fit = judged(changed, given.after(changed.plan.forecast))
        return Upshot(fit, changed.split.slack_s, changed.chance if fit.works else None)

    result = measured(result, given)
    now = judge(result)
    tried = _tried(judge, now, proposals(result, other_resins or {}, with_people=with_people))
    if not any(one.verdict == "fits" for one in tried):
        tried += _paired(judge, now, tried)
    return _listed(now, tried)


def best_remedies(result: PlanResult, judge: Judge, proposed: Iterable[Proposal]) -> tuple[Remedy, ...]:
    """Try proposals and keep the best of each kind."""
    now = judge(result)
    return _listed(now, _tried(judge, now, proposed))


def _tried(judge: Judge, now: Upshot, proposed: Iterable[Proposal]) -> list[Remedy]:
    """Try the changes of each kind until one fits."""
    tried = []
    for kind, changes in proposed:
        for words, changed in changes:
            tried.append(_remedy(kind, words, judge(changed), now, changed))
            if tried[-1].verdict == "fits":
                break
    return tried


def _remedy(kind: RemedyKind, words: str, outcome: Upshot, now: Upshot, changed: PlanResult) -> Remedy:
    enough = outcome.fit.word == "fits" or (outcome.fit.works and not now.fit.works)
    costs = ""
    if now.fit.works and outcome.fit.works and not outcome.keeps(now) and changed.odds is not None:
        costs = f" (leaves {spare_of(max(outcome.spare_s, 0.0))}, {changed.odds.words} in time)"
    return Remedy(kind, words, enough, outcome, changed, costs)


def _paired(judge: Judge, now: Upshot, tried: Iterable[Remedy]) -> list[Remedy]:
    """Return the first two changes that make it fit together; none where no two do."""
    for one in (each for kind in PAIRED[0] for each in tried if each.kind == kind):
        for other, changes in proposals(one.result, {}, kinds=PAIRED[1]):
            harder = max(one.kind, other, key=EFFORT.index)
            for words, changed in changes:
                if fit_of(changed).word == "fits" and (outcome := judge(changed)).fit.word == "fits":
                    return [_remedy(harder, _both(one.words, words), outcome, now, changed)]
    return []


def _both(first: str, second: str) -> str:
    """Join two changes, without why."""
    one, other = (words.partition(";")[0].partition(": ")[0].rstrip(".") for words in (first, second))
    return f"{one}, and {other[0].lower()}{other[1:]}."


def _listed(now: Upshot, tried: Iterable[Remedy]) -> tuple[Remedy, ...]:
    """Keep the best of each kind: those that fit, then those that leave it tight; else those that only help."""
    by_kind: dict[RemedyKind, list[Remedy]] = {}
    for one in tried:
        by_kind.setdefault(one.kind, []).append(one)
    best = [
        max(kind, key=lambda one: (one.verdict == "fits", one.fits, one.outcome.spare_s)) for kind in by_kind.values()
    ]
    if enough := [one for one in best if one.fits]:
        enough.sort(key=lambda one: (one.verdict != "fits", one.outcome.spare_s < GAIN_S, EFFORT.index(one.kind)))
        return tuple(enough)
    helping = [[one for one in kind if one.outcome.helps(now)] for kind in by_kind.values()]
    gaining = [max(kind, key=lambda one: one.outcome.spare_s) for kind in helping if kind]
    return tuple(sorted(gaining, key=lambda one: -one.outcome.spare_s))


def proposals(
    result: PlanResult,
    other_resins: Mapping[str, tuple[Datasheet, Calibration]],
    *,
    on_the_day: bool = False,
    with_people: Callable[[int], PlanResult] | None = None,
    kinds: Iterable[RemedyKind] = (),
) -> Iterator[Proposal]:
    """Propose changes to a plan, kind by kind in order of effort; `on_the_day` those that mix on the part allows."""
    if not on_the_day and any(limit.answer == "no" for limit in press_limits(result.plan)):
        yield "press", _more_clamps(result)
        return  # nothing else helps as long as the press does not hold
    proposed: dict[RemedyKind, Iterator[tuple[str, PlanResult]]] = {
        "tare": _tared_again(result),
        "cans": _other_cans(result),
        "cups": _other_cups(result),
        "scale": _finer_scale(result),
        "helper": _helpers(result, with_people),
    }
    if not on_the_day:
        resins = (each for each in other_resins.values() if each[0].id != result.datasheet.id)
        proposed |= {
            "shop": _other_shop(result),
            "sealed core": _sealed(result),
            "resin": (
                (f"Use {sheet.title} instead.", replace(result, datasheet=sheet, calibration=calibration))
                for sheet, calibration in resins
            ),
        }
    yield from ((kind, changes) for kind, changes in proposed.items() if not kinds or kind in kinds)


def _more_clamps(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose as many clamps or bolts as their rating asks for."""
    closing, press = result.plan.closing, pressing(result.plan)
    if press.in_a_row and closing.clamp_rating_N is not None:
        count = ceil(press.row_N / closing.clamp_rating_N)
        more = replace(result.plan, closing=replace(closing, clamps=count))
        each = " on each piece" if result.plan.pieces > 1 else ""
        yield f"Take {count} {press.method}{each}, or stronger ones.", replace(result, plan=more)


def _tared_again(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose to tare between resin and hardener, so that the scale can weigh a smaller batch."""
    if not result.plan.scale.tare_each:
        tared = replace(result.plan, scale=replace(result.plan.scale, tare_each=True))
        least_g = tared.scale.smallest_batch_g(parts_by_mass(result.datasheet))
        yield (
            f"Tare again before the hardener: batches from {mass(least_g)} can then be weighed.",
            replace(result, plan=tared),
        )


def _finer_scale(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose a scale that can weigh a smaller batch."""
    if result.plan.scale.readability_g > FINE_SCALE_G:
        finer = replace(result.plan, scale=replace(result.plan.scale, readability_g=FINE_SCALE_G))
        yield f"Weigh on a scale that reads {mass(FINE_SCALE_G, 'g')}.", replace(result, plan=finer)


def _helpers(result: PlanResult, with_people: Callable[[int], PlanResult] | None) -> Iterator[tuple[str, PlanResult]]:
    """Propose one more at the bench, then two."""
    for more, who in ((1, "One helper"), (2, "Two helpers")):
        people = result.plan.crew.people + more
        if people > MOST_PEOPLE:
            return
        changed = (with_people or result.with_people)(people)
        yield f"{who} more, {people} people in all.", changed


def _other_cans(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose warmer cans where the mix is too thick; else cooler ones, but not so cool that they get damp."""
    shop = result.shop
    now = shop.cans_K
    if thick_in_the_cup(result) is not None or any(limit.kind == "thick" for limit in too_cold(result)):
        verb, step, room = "Warm", CAN_STEP_K, WARMEST_CANS_K - now
    else:
        coolest = COOLEST_CANS_K
        if shop.relative_humidity is not None:
            coolest = max(coolest, dew_point_K(shop.temperature_K, shop.relative_humidity) + DRY_MARGIN_K)
        verb, step, room = "Cool", -CAN_STEP_K, now - coolest
    for i in range(1, CAN_STEPS + 1):
        if i * CAN_STEP_K <= room:
            cans = now + i * step
            words = f"{verb} resin and hardener to {temperature(cans)}."
            yield words, replace(result, shop=replace(shop, resin_K=cans))


def tared_for(scale: Scale, least_g: float, parts: Sequence[float]) -> Scale | None:
    """Return the scale, tared again before the hardener where a batch so small asks for it; None where neither does.

    Parameters
    ----------
    least_g : The smallest batch to weigh [g]
    parts : Parts by mass, resin first [-]
    """
    ways = scale, replace(scale, tare_each=True)
    return next((way for way in ways if way.smallest_batch_g(parts) <= least_g), None)


def _other_cups(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose smaller and larger cups, by steps of the dial; too small ones for the scale if it is tared again.

    Where the plan states no largest, the heaviest batch is it.
    """
    stated_g, scale = result.plan.largest_cup_g, result.plan.scale
    heaviest_g = max((batch.mass_g for batch in result.split.batches), default=0.0)
    largest = CUP_STEP_G * ceil(heaviest_g / CUP_STEP_G) if stated_g is None else stated_g
    for factor in CUP_FACTORS if stated_g is not None else SMALLER:
        holds = largest + CUP_STEP_G * round(largest * (factor - 1.0) / CUP_STEP_G)
        if not 0.0 < holds != largest:
            continue
        used = tared_for(scale, holds, parts_by_mass(result.datasheet))
        if used is None:
            continue
        words = f"Mix in smaller cups, up to {mass(holds)}."
        if holds > largest:
            words = f"Mix in larger cups, up to {mass(holds)}; each sets sooner and gets hotter than a small one."
        elif used != scale:
            words = f"Mix in smaller cups, up to {mass(holds)}, and tare again before the hardener."
        changed = replace(result.plan, largest_cup_g=holds, scale=used)
        yield words, replace(result, plan=changed)


def _other_shop(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose shops inside the window in which the mix wets out cloth, by steps of the dial, the nearest first."""
    window = result.window
    if window.low_K is None or window.high_K is None:
        return
    inside = min(INSIDE_K, (window.high_K - window.low_K) / 2.0)
    today = result.shop.temperature_K
    thick = thick_in_the_cup(result)
    wets_K = 0.0 if thick is None else ZERO_CELSIUS_K + ceil(thick[1] - ZERO_CELSIUS_K - NEAR_K)
    nearest = min(max(today, window.low_K + inside, wets_K), window.high_K - inside)
    verb, sign = ("Warm", 1) if nearest > today else ("Cool", -1)
    first = max(ceil(abs(nearest - today) / SHOP_STEP_K - NEAR_K), 1)
    for steps in range(first, first + SHOP_STEPS):
        shop_K = today + sign * steps * SHOP_STEP_K
        if window.low_K <= shop_K <= window.high_K:
            words = f"{verb} the shop to {temperature(shop_K)}, and wait until core and mould follow."
            yield words, replace(result, shop=shop_at(result.shop, shop_K))


def _sealed(result: PlanResult) -> Iterator[tuple[str, PlanResult]]:
    """Propose to seal every face the day before that gains from it."""
    steps = tuple(
        replace(step, uptake_g_m2=step.presealed_uptake_g_m2, uptake_low_g_m2=None, uptake_high_g_m2=None)
        if isinstance(step, BondStep) and step.presealed_uptake_g_m2 else step
        for step in result.plan.steps
    )  # fmt: skip
    if steps != result.plan.steps:
        sealed = replace(result, plan=replace(result.plan, steps=steps))
        yield "Seal the core the day before and let it cure.", sealed
