"""The cheapest change that makes a plan fit: each one is planned anew, and they are listed by the effort they take."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.climate import DRY_MARGIN_K, dew_point_K, saturation_pressure_Pa
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.planning.fit import Word, fit_of
from layup.planning.plan import BondStep, Shop
from layup.planning.planner import Case, settle
from layup.planning.window import Window, too_cold

RemedyKind = Literal["tare", "cans", "cups", "scale", "helper", "shop", "sealed core", "resin"]
"""In order of effort, the least first (common practice, no source)."""
ON_THE_DAY: frozenset[RemedyKind] = frozenset({"tare", "cans", "cups", "scale", "helper"})
"""What can still be done with mix on the part."""

COOLEST_CANS_K, WARMEST_CANS_K = 283.15, 308.15
"""10 to 35 degC: colder resin does not wet out, warmer goes off in the cup (common practice, no source)."""
CAN_STEP_K, CAN_STEPS = 2.0, 6
CUP_FACTORS = (0.5, 0.75, 1.5, 2.0)
FINE_SCALE_G = 0.1
INSIDE_K = 0.5
"""How far inside the window to aim."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change, in words, with the case it makes and what that comes to."""

    kind: RemedyKind
    words: str
    verdict: Word
    fits: bool
    """Whether it is enough: it makes a plan that does not fit fit or tight, and a tight one fit."""
    slack_s: float | None
    case: Case


def remedies(
    case: Case,
    window: Window,
    *,
    other_resins: Mapping[str, tuple[Datasheet, Calibration]] | None = None,
) -> tuple[Remedy, ...]:
    """Find the changes that make a plan fit, or a tight one not tight, the least effort first.

    Parameters
    ----------
    case : Case
        Part, resin and today's shop [-]
    window : Window
        Its temperature window [-]
    other_resins : Mapping[str, tuple[Datasheet, Calibration]] | None
        Laminating resins to try instead, by id [-]

    Returns
    -------
    tuple[Remedy, ...]
        Those that fit, by effort; if none does, those that gain something, the most first [-]
    """

    def judge(changed: Case) -> tuple[Word, float | None]:
        settled = settle(changed)
        return fit_of(changed, settled).word, settled.split.slack_s

    return best_remedies(case, judge, proposals(case, window, other_resins or {}))


def best_remedies(
    case: Case,
    judge: Callable[[Case], tuple[Word, float | None]],
    proposed: Iterator[tuple[RemedyKind, list[tuple[str, Case]]]],
) -> tuple[Remedy, ...]:
    """Try proposals and keep the best of each kind."""
    now, before = judge(case)
    good: tuple[Word, ...] = ("fits", "tight") if now == "does not fit" else ("fits",)
    found: list[Remedy] = []
    for kind, changes in proposed:
        tried: list[Remedy] = []
        for words, changed in changes:
            verdict, slack = judge(changed)
            tried.append(Remedy(kind, words, verdict, verdict in good, slack, changed))
            if verdict in good:
                break
        if tried:
            found.append(max(tried, key=lambda one: (one.fits, _slack(one.slack_s))))
    fitting = tuple(remedy for remedy in found if remedy.fits)
    if fitting:
        return fitting
    gaining = [remedy for remedy in found if _slack(remedy.slack_s) > _slack(before)]
    return tuple(sorted(gaining, key=lambda remedy: -_slack(remedy.slack_s)))


def _slack(slack_s: float | None) -> float:
    return -float("inf") if slack_s is None else slack_s


def proposals(
    case: Case, window: Window | None, other_resins: Mapping[str, tuple[Datasheet, Calibration]]
) -> Iterator[tuple[RemedyKind, list[tuple[str, Case]]]]:
    """Propose changes to a case, kind by kind in order of effort."""
    if not case.plan.scale.tare_each:
        yield "tare", [_tared_again(case)]
    yield "cans", list(_other_cans(case))
    yield "cups", list(_other_cups(case))
    if case.plan.scale.readability_g > FINE_SCALE_G:
        finer = replace(case.plan, scale=replace(case.plan.scale, readability_g=FINE_SCALE_G))
        yield "scale", [(f"Weigh on a scale that reads {FINE_SCALE_G:g} g.", replace(case, plan=finer))]
    crew = case.plan.crew
    yield (
        "helper",
        [
            (
                f"{'One helper' if more == 1 else 'Two helpers'} more, {crew.people + more} people in all.",
                replace(case, plan=replace(case.plan, crew=replace(crew, people=crew.people + more))),
            )
            for more in (1, 2)
        ],
    )
    if window is not None:
        yield "shop", list(_other_shop(case, window))
    sealed = _sealed(case)
    if sealed is not None:
        yield "sealed core", [("Seal the core the day before and let it cure.", sealed)]
    yield (
        "resin",
        [
            (f"Use {datasheet.title} instead.", replace(case, datasheet=datasheet, calibration=calibration))
            for datasheet, calibration in other_resins.values()
            if datasheet.id != case.datasheet.id
        ],
    )


def _tared_again(case: Case) -> tuple[str, Case]:
    """Propose to tare between resin and hardener, so that the scale can weigh a smaller batch."""
    scale = replace(case.plan.scale, tare_each=True)
    least_g = scale.smallest_batch_g(parts_by_mass(case.datasheet))
    words = f"Tare again before the hardener: the scale then weighs batches from {least_g:.0f} g on within 2 %."
    return words, replace(case, plan=replace(case.plan, scale=scale))


def _other_cans(case: Case) -> Iterator[tuple[str, Case]]:
    """Propose warmer cans where the mix is too thick; else cooler ones, but not so cool that they get damp."""
    shop = case.shop
    now = shop.resin_K or shop.temperature_K
    if any(limit.kind == "thick" for limit in too_cold(case)):
        verb, step, room = "Warm", CAN_STEP_K, WARMEST_CANS_K - now
    else:
        coolest = COOLEST_CANS_K
        if shop.relative_humidity is not None:
            coolest = max(coolest, dew_point_K(shop.temperature_K, shop.relative_humidity) + DRY_MARGIN_K)
        verb, step, room = "Cool", -CAN_STEP_K, now - coolest
    for i in range(1, CAN_STEPS + 1):
        if i * CAN_STEP_K <= room:
            cans = now + i * step
            words = f"{verb} resin and hardener to {cans - 273.15:.0f} °C before you weigh."
            yield words, replace(case, shop=replace(shop, resin_K=cans))


def _other_cups(case: Case) -> Iterator[tuple[str, Case]]:
    """Propose smaller and larger cups."""
    largest = case.plan.largest_cup_g
    if largest is None:
        return
    for factor in CUP_FACTORS:
        holds = largest * factor
        words = f"Mix in smaller cups, up to {holds:.0f} g."
        if factor > 1.0:
            words = f"Mix in larger cups, up to {holds:.0f} g; each sets sooner and gets hotter than a small one."
        yield words, replace(case, plan=replace(case.plan, largest_cup_g=holds))


def _other_shop(case: Case, window: Window) -> Iterator[tuple[str, Case]]:
    """Propose the nearest shop temperature inside the window."""
    if window.low_K is None or window.high_K is None:
        return
    inside = min(INSIDE_K, (window.high_K - window.low_K) / 2.0)
    today = case.shop.temperature_K
    nearest = min(max(today, window.low_K + inside), window.high_K - inside)
    if nearest != today:
        verb = "Cool" if nearest < today else "Warm"
        words = f"{verb} the shop to {nearest - 273.15:.0f} °C, and wait until core and mould follow."
        yield words, replace(case, shop=shop_at(case.shop, nearest))


def shop_at(shop: Shop, temperature_K: float) -> Shop:
    """Return a shop warmed or cooled to another temperature."""
    humidity = shop.relative_humidity
    if humidity is not None:
        dried = saturation_pressure_Pa(shop.temperature_K) / saturation_pressure_Pa(temperature_K)
        humidity = min(humidity * dried, 1.0)
    return replace(shop, temperature_K=temperature_K, relative_humidity=humidity)


def _sealed(case: Case) -> Case | None:
    """Return the case with every face sealed the day before that gains from it; None if none does."""
    steps = tuple(
        replace(step, uptake_g_m2=step.presealed_uptake_g_m2, uptake_low_g_m2=None, uptake_high_g_m2=None)
        if isinstance(step, BondStep) and step.presealed_uptake_g_m2 else step
        for step in case.plan.steps
    )  # fmt: skip
    return None if steps == case.plan.steps else replace(case, plan=replace(case.plan, steps=steps))
