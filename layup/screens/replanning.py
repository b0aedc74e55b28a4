"""Plan what is left of a running day: what is laid, what is in hand, what the cans still hold."""

from __future__ import annotations

from dataclasses import replace

from layup.chemistry.mixing import split_mass
from layup.errors import InputError, LayupError
from layup.planning.budget import budget
from layup.planning.case import Case
from layup.planning.replan import DayState, InCup, OnPart, Replan, replan, rescue_of
from layup.planning.rescue import SCRAPE, Rescue
from layup.planning.schedule import Split
from layup.planning.stack import Shop
from layup.records.event_fields import BatchPlan
from layup.records.facts import BatchState
from layup.records.lifetimes import Lifetime
from layup.records.mass_balance import ALL_OF_IT, wants_mix
from layup.screens.day import PressDay


def case_now(day: PressDay, air_K: float | None = None) -> Case:
    """Return the plan with the resin as known today and the shop as last measured, or at `air_K`."""
    state = day.state
    crew = replace(day.plan.crew, people=max(state.people, 1))
    shop = Shop(
        day.air_K if air_K is None else air_K,
        relative_humidity=state.humidity[-1][1] if state.humidity else None,
        resin_K=state.resin[-1][1] if state.resin else None,
        part_K=state.mould[-1][1] if state.mould else None,
    )
    return Case(replace(day.plan, crew=crew), day.sheet, day.calibration_now, shop)


def day_state(day: PressDay) -> DayState:
    """Return how far the day is. The stock is what the plan said to have ready, less what was poured."""
    now_s = day.now_s()
    state = day.state
    grams = budget(day.plan, day.sheet, batches=max(len(state.start.batches) if state.start else 1, 1))
    used = [split_mass(batch.mass_g, day.parts) for batch in state.batches if batch.resin_g is not None]
    left = [
        max(bought - sum(masses[at] for masses in used), 0.0)
        for at, bought in enumerate((grams.buy_resin_g, grams.buy_hardener_g))
    ]
    for number, why in day.unknown.items():
        raise InputError(f"batch {number}", "cannot be planned with", value=why, todo="go by how it looks")
    cups = sorted(day.in_cup(), key=lambda batch: batch.number)
    return DayState(
        now_s=now_s,
        people=max(state.people, 1),
        done=_done(day),
        resin_g=left[0],
        hardener_g=left[1],
        in_cup=tuple(_in_cup(day, batch, day.alive[batch.number], now_s) for batch in cups),
        on_part=_on_part(day, now_s),
        first_batch=first_free(day),
    )


def _on_part(day: PressDay, now_s: float) -> tuple[OnPart, ...]:
    lives = [life for life in day.alive.values() if life.where == "on the part"]
    return tuple(OnPart(life.batch, max(life.low_s - now_s, 0.0), max(life.high_s - now_s, 0.0)) for life in lives)


def rescue_now(day: PressDay) -> Rescue:
    """Return what saves most of the part if it cannot be closed in time; without a plan that is for people to see."""
    try:
        plan = day.plan
    except LayupError:
        return Rescue("close if wet", f"with the core in close the press; without it {SCRAPE}", "close if core is in")
    return rescue_of(plan, max(day.state.people, 1), _done(day), day.in_cup(), _on_part(day, day.now_s()))


def _in_cup(day: PressDay, batch: BatchState, life: Lifetime, now_s: float) -> InCup:
    left_s = max(life.empty_by_s - now_s, 0.0)
    stays = max(1.0 - day.plan.losses.per_batch_g / batch.mass_g, 0.0)  # the rest is left in cup and brush
    open_s = day.open_if_poured_s(batch, now_s + left_s) - now_s  # laid at the last moment
    left_g = day.balance.of_batch(batch.number).left_g * stays
    return InCup(batch.number, left_g, left_s, max(open_s, left_s))


def _done(day: PressDay) -> dict[int, float]:
    """Return the share of each step (by its place in the plan) that is laid; one that takes no mix is done or not."""
    done = {}
    for step in day.state.steps:
        share = day.balance.of_step(step.number).laid_share
        if step.number not in wants_mix(day.state):
            share = 0.0 if step.done_s is None else 1.0
        done[step.number - 1] = 1.0 if share >= ALL_OF_IT else share
    return done


def replanned(day: PressDay) -> Replan:
    """Return the rest of the day planned anew."""
    return replan(case_now(day), day_state(day))


def batch_plans(split: Split) -> tuple[BatchPlan, ...]:
    """Return the batches of a split as the journal keeps them."""
    return tuple(
        BatchPlan(
            batch=batch.number,
            mass_g=batch.mass_g,
            resin_g=batch.parts_g[0],
            hardener_g=batch.parts_g[1],
            steps=tuple(share.step + 1 for share in batch.shares),
            shares=tuple(min(share.end - share.begin, 1.0) for share in batch.shares),
        )
        for batch in split.batches
    )


def first_free(day: PressDay) -> int:
    """Return the number of the first batch of a new plan: after all that were touched."""
    touched = [batch.number for batch in day.state.batches if batch.status != "to mix"]
    return max(touched, default=0) + 1
