"""What the Bench shows, as plain data: cards, the step on the bench, the forecast, and the line on top.

Every state is a word and a shape; colour adds nothing that they do not say.
"""

from __future__ import annotations

from dataclasses import dataclass

from layup.bench.day import PressDay
from layup.bench.forecast import pace, ready_s, unserved
from layup.bench.opening import rescue_now
from layup.errors import LayupError
from layup.planning.clocks import STAGES, LifeStage
from layup.session.lifetimes import Lifetime, Where
from layup.session.mass_balance import doubt
from layup.session.state_parts import BatchState
from layup.units import countdown, in_minutes, mass

SHAPES: dict[LifeStage, str] = {"fresh": "●", "soon": "◆", "now": "▲", "may be over": "▲", "past": "■"}
"""A shape for each stage, always beside its word: calm, soon, act now, over."""


@dataclass(frozen=True, slots=True)
class Card:
    """One batch that lives: where it is, how long it lasts, in words for two metres away."""

    batch: int
    title: str
    digits: str
    word: str
    stage: LifeStage
    foot: str

    @property
    def urgency(self) -> int:
        """The place of the stage among all, 0 the calm one."""
        return STAGES.index(self.stage)

    @property
    def shape(self) -> str:
        """The shape that goes with the stage."""
        return SHAPES[self.stage]


@dataclass(frozen=True, slots=True)
class BenchView:
    """Everything on the Bench at one moment."""

    top: str
    urgent: bool
    cards: tuple[Card, ...]
    now: str
    after: str
    forecast: str
    waiting: tuple[str, ...]


def bench_view(day: PressDay) -> BenchView:
    """Return what the Bench shows now."""
    now_s = day.now_s()
    top, urgent = top_line(day, now_s)
    return BenchView(
        top=top,
        urgent=urgent,
        cards=_cards(day, now_s),
        now=_step_now(day, now_s),
        after=_step_after(day),
        forecast=_forecast(day, now_s),
        waiting=_waiting(day, now_s),
    )


def top_line(day: PressDay, now_s: float) -> tuple[str, bool]:
    """Return the line that always stands on top, and whether it is urgent; what is not saved only goes before it."""
    words, urgent = _worst_first(day, now_s)
    head, _, _ = day.fault.partition(":")
    doubt = "CLOCK UNSURE  " if day.state.clock_unsure else ""
    return (f"{head}  {doubt}{words}", True) if head else (doubt + words, urgent or bool(doubt))


def _worst_first(day: PressDay, now_s: float) -> tuple[str, bool]:
    """Return a cup that has to be emptied where no part is worse off, and by when the press must be closed."""
    state = day.state
    if state.ended_s is not None:
        return "SESSION ENDED: it is in the logbook (l); s for the next plan", False
    if state.closed_s is not None:
        return (
            f"PRESS CLOSED {day.clock_time(state.closed_s)}, {day.at_least}{countdown(now_s - state.closed_s)} ago",
            False,
        )
    if lost := [number for number in day.unknown if _where(day, number) == "on the part"]:
        return f"PRESS BY not known: batch {lost[0]} is on the part - close as soon as you can", True
    cup = max(_lives(day, "in the cup"), key=lambda life: _urgency(day, life, now_s), default=None)
    part = max(_lives(day, "on the part"), key=lambda life: _urgency(day, life, now_s), default=None)
    level = 0 if cup is None else _urgency(day, cup, now_s)[0]
    if cup is None or level < STAGES.index("now") or (part is not None and _urgency(day, part, now_s)[0] > level):
        return _press_by_line(day, part, now_s)
    stage = cup.stage(now_s, day.closing_s)
    over = f" {countdown(cup.empty_by_s - now_s)}" if now_s >= cup.empty_by_s else ""
    words = f"{SHAPES[stage]} CUP {cup.batch} {cup.word(now_s, day.closing_s).upper()}{over}"
    return words + (f"   PRESS BY {day.clock_time(part.over_s.low)}" if part is not None else ""), True


def _lives(day: PressDay, where: Where) -> list[Lifetime]:
    return [life for life in day.alive.values() if life.where == where]


def _urgency(day: PressDay, life: Lifetime, now_s: float) -> tuple[int, float]:
    """Return what batches are ranked by: the stage, then the deadline."""
    return STAGES.index(life.stage(now_s, day.closing_s)), -life.empty_by_s


def _press_by_line(day: PressDay, part: Lifetime | None, now_s: float) -> tuple[str, bool]:
    """Return by when the press must be closed, or what there is to say instead."""
    if part is None:
        poured_s = day.press_by_if_poured_s()
        if poured_s is None:
            return "PRESS BY: starts with batch 1", False
        return (
            f"PRESS BY {day.clock_time(poured_s)}  {day.at_most}{countdown(poured_s - now_s)} left if poured out now "
            "(estimate)",
            False,
        )
    stage, left_s = part.stage(now_s, day.closing_s), part.over_s.low - now_s
    by = f"PRESS BY {day.clock_time(part.over_s.low)}"
    if stage in ("fresh", "soon"):
        hurry = f"  {SHAPES[stage]} {part.word(now_s, day.closing_s).upper()}" if stage == "soon" else ""
        return f"{by}  {day.at_most}{countdown(left_s)} left (an estimate){hurry}", False
    act = rescue_now(day).short if day.state.step_now is not None else "close now"
    if stage == "now":
        return f"{by}  {day.at_most}{countdown(left_s)} left (an estimate)  {SHAPES[stage]} {act.upper()}", True
    late = f"LATE by {day.at_least}{countdown(left_s).lstrip('+')} - {part.word(now_s, day.closing_s)}"
    return f"{by}  {SHAPES[stage]} {late}, {act}", True


def _waiting(day: PressDay, now_s: float) -> tuple[str, ...]:
    """Return the batches still to be mixed, each with what it has to spare in its cup at today's pace."""
    rate = pace(day, now_s) or 1.0
    lines = []
    for batch in day.state.batches:
        if batch.status in ("to mix", "weighed"):
            lines.append(f"{batch.number}  {mass(batch.plan.mass_g)}  {batch.status}, {_spare(day, batch, rate)}")
    if names := unserved(day):
        lines.append(f"▲ NO MIX for {', '.join(names)}: press a")
    return tuple(lines)


def _spare(day: PressDay, batch: BatchState, rate: float) -> str:
    """Return what a batch to be mixed has to spare in its cup, in words."""
    try:
        spare_min = day.cup_spare_s(batch, rate) / 60
    except LayupError as error:
        return f"time in its cup {error.not_known}"
    if spare_min >= 0:
        return f"{spare_min:.0f} min to spare"
    return f"▲ {-spare_min:.0f} min TOO LONG IN ITS CUP: press a"


def _cards(day: PressDay, now_s: float) -> tuple[Card, ...]:
    shown = [life for life in day.alive.values() if _where(day, life.batch)]
    cards = [_card(day, life, now_s) for life in sorted(shown, key=lambda life: life.over_s.low)]
    lost = [_card_not_known(day, number, why, now_s) for number, why in day.unknown.items() if _where(day, number)]
    return tuple(sorted([*lost, *cards], key=lambda card: "cup" not in card.title))


def _where(day: PressDay, number: int) -> str:
    """Return where a batch stands whose clock matters; empty for others."""
    batch = day.state.batch(number)
    if batch is None or (batch.stays and day.state.closed_s is not None):
        return ""
    return "on the part" if batch.stays else batch.status if batch.status == "in the cup" else ""


def _card_not_known(day: PressDay, number: int, why: str, now_s: float) -> Card:
    """Return the card of a batch of which only the age is known."""
    batch = day.state.batch(number)
    mixed_s = batch.mixed_s or 0.0 if batch else 0.0
    return Card(
        batch=number,
        title=f"{number}  {_where(day, number)}  {mass(batch.mass_g)}" if batch else f"{number}",
        digits=countdown(mixed_s - now_s),
        word="mixed so long ago, life not known",
        stage="may be over",
        foot=why,
    )


def _card(day: PressDay, life: Lifetime, now_s: float) -> Card:
    batch = day.state.batch(life.batch)
    seen = batch.observations[-1][1] if batch and batch.observations else ""
    shown = mass(day.balance.of_batch(life.batch).laid_g if batch.stays else batch.mass_g) if batch else ""
    stands = doubt(batch, day.parts) if batch else None
    where = {"in the cup": "in cup", "on the part": "part"}[life.where] if stands else life.where
    band = f"{day.clock_time(life.over_s.low)}-{day.clock_time(life.over_s.high)}"
    until = f"empty by {day.clock_time(life.empty_by_s)}, thickens {band}"
    foot = until if life.where == "in the cup" else f"open until {band}"
    return Card(
        batch=life.batch,
        title=f"{life.batch}  {where}  " + (f"! {stands.upper()}" if stands else shown),
        digits=countdown(life.empty_by_s - now_s),
        word=life.word(now_s, day.closing_s) + (f", {seen}" if seen else ""),
        stage=life.stage(now_s, day.closing_s),
        foot=f"{day.at_least}{in_minutes(now_s - life.mixed_s)} old" if day.at_least else foot,
    )


def _step_now(day: PressDay, now_s: float) -> str:
    state = day.state
    step = state.step_now
    if step is None:
        return "NOW   every step is done: CLOSE THE PRESS" if state.steps and state.closed_s is None else ""
    spent_s = now_s - day.state.bench_free_s
    over_min = (spent_s - day.planned_s(step)) / 60
    late = f"   ▲ {over_min:.0f} min over" if over_min >= 1 else ""
    minutes = f"{day.at_least}{countdown(spent_s)} of {in_minutes(day.planned_s(step))}{late}"
    return f"NOW   {step.number}/{state.steps[-1].number}  {step.plan.name}   {minutes}"


def _step_after(day: PressDay) -> str:
    step = day.step_next
    return f"NEXT  {step.plan.name} ({in_minutes(day.planned_s(step))})" if step else ""


def _forecast(day: PressDay, now_s: float) -> str:
    state = day.state
    if state.closed_s is not None or not state.steps:
        return ""
    at_s = ready_s(day, now_s)
    rate = pace(day, now_s)
    said = f"closed about {day.clock_time(at_s)}"
    if rate is not None:
        said += f" at today's pace ({100 * rate:.0f} %)"
    limit_s = day.press_by_s
    if limit_s is None:
        return said
    margin_min = (limit_s - at_s) / 60.0
    spare = f"{margin_min:.0f} min to spare" if margin_min >= 0 else f"▲ {-margin_min:.0f} min TOO LATE"
    return f"{said}: {spare}"
