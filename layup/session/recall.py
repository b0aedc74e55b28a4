"""Sessions that are written whole, from what was told: a layup that failed, from memory; a trial cup that was watched.

What is recalled stands at the likeliest times and says no more than was told. `told_day` makes it from any point within
what is told, so that a review can try many of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.looks import FELT, LOOKS, PAST, LookWord, ToldWord
from layup.chemistry.mixing import resin_and_hardener_g
from layup.errors import InputError, LayupError, RangeError
from layup.files.durable import PLAN, RESIN_COPY
from layup.files.plan_file import named_files
from layup.files.workshop import Workshop
from layup.planning.budget import for_part
from layup.planning.crew import pace_of
from layup.planning.plan import Plan, Shop
from layup.planning.planner import PlanResult, plan_with
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Observation,
    PressClosed,
    StepDone,
)
from layup.session.clock import ManualClock
from layup.session.day_events import SessionEnded, TemperatureRead
from layup.session.fields import BatchPlan, ToldDay, Width, batch_plan
from layup.session.folder import copied, session_folder
from layup.session.journal import Journal
from layup.session.lifetimes import UNLOGGED_K
from layup.session.mass_balance import batch_plans, step_plans
from layup.session.records import Recalled
from layup.session.state import Event, Outcome, SessionStarted
from layup.session.text import clean
from layup.session.told import CUP, SHOP, TIME, Kind, Story

UNKNOWN = "not known"
"""What stands for a plan that nobody can name."""
AT_LEAST: dict[ToldWord, LookWord] = {
    **{word: word for word in LOOKS},
    **{word: cup.at_least for word, cup in FELT.items()},
}
"""What mix that looked so has become, at least."""


@dataclass(frozen=True, slots=True)
class Point:
    """One day within what was told: each number at one value; None is not known."""

    shop_K: float | None = None
    cup_g: float | None = None
    thick_s: float | None = None
    steps_done: int | None = None
    closed_s: float | None = None


def likeliest(told: ToldDay) -> Point:
    widths = told.shop_K, told.cup_g, told.thick_s, told.closed_s
    shop_K, cup_g, thick_s, closed_s = (None if width is None else width.likely for width in widths)
    done = None if told.steps_done is None else round(told.steps_done.likely)
    return Point(shop_K, cup_g, thick_s, done, closed_s)


def told_start(
    told: ToldDay, plan: Plan | None, plan_name: str | None, sheet: Datasheet, planned: tuple[BatchPlan, ...]
) -> SessionStarted:
    """Return how such a day began: beside `planned`, what this program would have mixed for it."""
    people = told.people or (plan.crew.people if plan else 1)
    more = range(len(planned) + 1, told.cups + 1)
    planned = (*planned, *(batch_plan(number, 0.0, (0.0, 0.0)) for number in more))
    return SessionStarted(
        title=clean(f"{plan.title if plan else 'A layup'}, recalled"),
        kind="recalled",
        plan=plan_name or UNKNOWN,
        resin=sheet.id,
        people=people,
        pieces=plan.pieces if plan else 1,
        largest_cup_g=plan.largest_cup_g if plan else None,
        fibre_fraction=plan.target.value if plan else None,
        steps=step_plans(plan, pace_of(replace(plan.crew, people=people))) if plan else (),
        batches=planned,
        hazards_acknowledged=False,
    )


def as_planned(result: PlanResult | None) -> tuple[BatchPlan, ...]:
    """Return the batches of a plan; none where it cannot be worked out."""
    with suppress(LayupError):
        if result is not None:
            return batch_plans(result.split, range(1, len(result.plan.steps) + 1))
    return ()


def needs_of(result: PlanResult | None) -> dict[int, float]:
    """Return the mix that each step of a plan lays, by its number; nothing where it cannot be worked out."""
    with suppress(LayupError):
        if result is not None:
            return {line.step + 1: line.mix_g for line in result.budget.lines}
    return {}


def told_day(
    told: ToldDay,
    start: SessionStarted,
    sheet: Datasheet,
    point: Point,
    needs_g: Mapping[int, float] = MappingProxyType({}),
    *,
    spread: bool = False,
) -> list[tuple[float, Event]]:
    """Return the entries of a day at one point within what was told, each with its time from first contact.

    Cups are laid one after the other in bench order, as far as each step `needs_g` mix. Steps stand where they were
    known to be done by, or are `spread` over the time before as their plan has it. Of several cups mixed at once the
    last one was seen, and those that the steps done by then had used up were empty. What was left of a part that was
    closed was laid by then; of one that was not, the cups that stood there thick were lost.
    """
    found: list[tuple[float, Event]] = []
    if point.shop_K is not None:
        found.append((0.0, TemperatureRead(place="air", temperature_K=point.shop_K)))
    found.append((0.0, Recalled(told=told)))
    done_s = _steps(start, point, spread=spread)
    found += [(at_s, StepDone(step=step)) for step, at_s in done_s.items()]
    if point.cup_g is not None:
        found += _cups(told, start, sheet, point, done_s, needs_g)
    if told.closed and point.closed_s is not None:
        found.append((point.closed_s, PressClosed()))
    return sorted(found, key=lambda one: (one[0], _ORDER.index(one[1].event) if one[1].event in _ORDER else -1))


def _steps(start: SessionStarted, point: Point, *, spread: bool) -> dict[int, float]:
    """Return by when each step was done: first those on the part by the look, the others by the closing."""
    thick_s, closed_s, steps = point.thick_s, point.closed_s, start.steps
    ends = [] if thick_s is None or point.steps_done is None else [(point.steps_done, thick_s)]
    if closed_s is not None:
        ends = [(done, min(at_s, closed_s)) for done, at_s in ends] + [(len(steps), closed_s)]
    by_s: dict[int, float] = {}
    before, begin_s = 0, 0.0
    for done, end_s in ends:
        row = steps[before:done]
        whole_s, gone_s = sum(step.planned_s for step in row), 0.0
        for step in row:
            gone_s += step.planned_s
            share = gone_s / whole_s if spread and whole_s > 0.0 else 1.0
            by_s[step.step] = begin_s + share * (end_s - begin_s)
        before, begin_s = max(before, done), end_s
    return by_s


def _cups(
    told: ToldDay,
    start: SessionStarted,
    sheet: Datasheet,
    point: Point,
    done_s: Mapping[int, float],
    needs_g: Mapping[int, float],
) -> Iterator[tuple[float, Event]]:
    """Yield what became of the cups that were mixed at once."""
    resin_g, hardener_g = resin_and_hardener_g(sheet, point.cup_g or 0.0)
    start_K = UNLOGGED_K if point.shop_K is None else point.shop_K
    look, thick_s, closed_s = told.look, point.thick_s, point.closed_s
    numbers = [plan.batch for plan in start.batches][: told.cups]
    for number in numbers:
        yield 0.0, BatchMixed(batch=number, resin_g=resin_g, hardener_g=hardener_g, start_K=start_K)
        empty_s = _used_up_s(number * (point.cup_g or 0.0), start, done_s, needs_g)
        if empty_s is None and closed_s is not None:
            empty_s = closed_s
        seen = number == numbers[-1] or empty_s is None
        if seen and thick_s is not None and look is not None:
            word = AT_LEAST[look]
            if word == look or empty_s is not None:
                yield thick_s, Observation(batch=number, word=word)
            if empty_s is None and look != "runny" and not told.closed:
                yield thick_s, BatchLost(batch=number, why=word if look == word else f"{word} ({look})")
        if empty_s is not None:
            yield empty_s, BatchPouredOut(batch=number)


def _used_up_s(
    mix_g: float, start: SessionStarted, done_s: Mapping[int, float], needs_g: Mapping[int, float]
) -> float | None:
    """Return when so much mix was on the part; None where it was not, or nobody knows."""
    laid_g = 0.0
    for step in start.steps:
        laid_g += needs_g.get(step.step, 0.0)
        if step.step not in done_s:
            return None
        if laid_g >= mix_g:
            return done_s[step.step]
    return done_s[start.steps[-1].step] if start.steps else None


_ORDER = ("step-done", "observation", "batch-poured-out", "batch-lost", "press-closed")
"""What stands behind what at the same time."""


def plan_beside(plan: Plan, sheet: Datasheet, law: Calibration, told: ToldDay, shop_K: float | None) -> PlanResult:
    """Return the plan that the day is set beside, in its shop and with its hands, as this program would work it out."""
    own = plan_with(
        plan,
        sheet,
        people=told.people or plan.crew.people,
        largest_cup_g=plan.largest_cup_g,
        fibre_fraction=plan.target.value,
    )
    return PlanResult(own, sheet, for_part(law, own), Shop(UNLOGGED_K if shop_K is None else shop_K))


def write_recalled(workshop: Workshop, story: Story, tags: Sequence[str] = ()) -> Path:
    """Write a day that was told, with words of its outcome, into a session folder of its own and return that.

    Raises InputError if nothing was told, StorageError if it cannot be written.
    """
    told, point, plan, sheet = story.told, likeliest(story.told), story.plan, story.sheet
    if told == ToldDay(resin_known=told.resin_known, when=told.when):
        raise InputError("recall", "tells nothing", allowed="one answer or more beside the resin")
    beside = None
    if plan is not None:
        beside = plan_beside(plan, sheet, workshop.calibration(sheet), told, point.shop_K)
    start = told_start(told, plan, story.plan_name, sheet, as_planned(beside))
    files = {RESIN_COPY: copied(workshop.resin_path(sheet.id))}
    if plan is not None and story.plan_name is not None:
        path = workshop.plan_path(story.plan_name)
        files |= {**named_files(path), PLAN: copied(path)}
    title = f"recalled {plan.title}" if plan else "recalled"
    folder = session_folder(workshop.root, story.day.astimezone().date(), title)
    how_it_was = [Outcome(tags=tuple(tags), notes=told.wrong)] if told.wrong or tags else []
    return _written(folder, story.day, start, files, told_day(told, start, sheet, point, needs_of(beside)), how_it_was)


def _written(
    folder: Path,
    begun: datetime,
    start: SessionStarted,
    files: Mapping[str, bytes],
    events: Iterable[tuple[float, Event]],
    after: Sequence[Event] = (),
) -> Path:
    """Write a session that is over: its timed entries in their order, its end, and what was said after it."""
    clock, now_s = ManualClock(begun), 0.0
    with Journal.create(folder, clock, start, files=files) as journal:
        for at_s, event in events:
            clock.advance(at_s - now_s)
            now_s = at_s
            journal.append(event)
        for event in (SessionEnded(), *after):
            journal.append(event)
    return folder


# -- said back -------------------------------------------------------------------------------------------------------


def said(width: Width | None, kind: Kind) -> str:
    """Say a remembered number no more exactly than it was told."""
    return _said(width, kind.shown)


def _said(width: Width | None, shown: Callable[[float], str]) -> str:
    if width is None:
        return "not known"
    if width.exact or width.about:
        return f"{'about ' if width.about else ''}{shown(width.likely)}"
    low, high = shown(width.low), shown(width.high)
    shared = low.rpartition(" ")
    return f"{shared[0] if high.endswith(f' {shared[2]}') else low} to {high}"


def minute_of(told: ToldDay | None, at_s: float) -> str:
    """Return the minute of an entry in a list: of a day told from memory no sharper than it was told."""
    vague = [] if told is None else [told.thick_s, told.closed_s]
    if any(width is not None and not width.exact and abs(width.likely - at_s) < 1.0 for width in vague):
        return f"≈ {at_s / 60.0:.0f}"
    if told is not None and at_s > TIME.high:
        return "later"  # added long after, which is no minute of that day
    return f"{at_s / 60.0:.1f}"


def told_rows(told: ToldDay, resin: str) -> list[tuple[str, str]]:
    """Return what was told, each as a question and its answer."""
    cups = f"{told.cups}, taken as mixed at once, " if told.cups > 1 else ""
    closed = {None: "not known", False: "no", True: "yes"}[told.closed]
    return [
        ("resin", resin if told.resin_known else "not known"),
        ("shop", said(told.shop_K, SHOP)),
        ("in a cup", f"{cups}{said(told.cup_g, CUP)}"),
        ("thick", "not known" if told.thick_s is None else f"{told.look} {said(told.thick_s, TIME)} after mixing"),
        ("on the part by then", _said(told.steps_done, lambda steps: f"{steps:.0f} steps")),
        ("closed", closed if told.closed_s is None else f"{said(told.closed_s, TIME)} after mixing"),
        ("people", str(told.people or "not known")),
        ("went wrong", told.wrong or "not known"),
        ("when", told.when or "not known"),
    ]


# -- a trial cup -------------------------------------------------------------------------------------------------------

LEAST_G, MOST_G = 50.0, 200.0
"""Less loses its heat like a film, more wastes resin and smokes (common practice; EN 14022 method 1 takes 200 g)."""
LONGEST_S = 2 * 86_400.0


@dataclass(frozen=True, slots=True)
class Trial:
    """One cup that was only watched: how much, how warm, and what was seen when, from first contact."""

    mass_g: float
    start_K: float
    shop_K: float
    seen: tuple[tuple[LookWord, float], ...]
    read: tuple[tuple[float, float], ...] = ()
    """(time [s], temperature [K]) of a thermometer in the cup."""

    def __post_init__(self) -> None:
        if not LEAST_G <= self.mass_g <= MOST_G:
            raise RangeError(
                "mass of the trial",
                "is out of range",
                value=f"{self.mass_g:g} g",
                allowed=f"must be between {LEAST_G:g} and {MOST_G:g} g",
                todo="pour what you usually mix, within that",
            )
        if not self.seen:
            raise InputError("trial", "nothing was seen", todo='say when it thickened or gelled: --gel "36 min"')
        for what, at_s in (*self.seen, *(("a temperature", at_s) for at_s, _ in self.read)):
            if not 0.0 < at_s <= LONGEST_S:
                raise RangeError(what, "is out of range", value=f"{at_s / 60:g} min", allowed="above 0 to 2 days")
        ordered = sorted(self.seen, key=lambda one: PAST.index(one[0]))
        for (word, at_s), (then, then_s) in pairwise(ordered):
            if then_s < at_s:
                raise InputError(
                    then, f"comes before {word}", value=f"{then_s / 60:g} min", allowed=f"{at_s / 60:g} min or later"
                )

    @property
    def ends_s(self) -> float:
        """When the last of it was seen."""
        return max(at_s for at_s in (*(at for _, at in self.seen), *(at for at, _ in self.read)))


def write_trial(workshop: Workshop, resin: str, trial: Trial, started: datetime) -> Path:
    """Write a trial, by its resin's id or path and when it was mixed, into a session folder of its own and return that.

    Raises StorageError if it cannot be written.
    """
    sheet, path = workshop.resin(resin), workshop.resin_path(resin)
    resin_g, hardener_g = resin_and_hardener_g(sheet, trial.mass_g)
    start = SessionStarted(
        title=clean(f"Trial cup, {sheet.title}"),
        kind="trial",
        plan="trial",
        resin=sheet.id,
        people=1,
        pieces=1,
        batches=(batch_plan(1, trial.mass_g, (resin_g, hardener_g)),),
        hazards_acknowledged=True,
    )
    events: list[tuple[float, Event]] = [
        (0.0, TemperatureRead(place="air", temperature_K=trial.shop_K)),
        (0.0, BatchMixed(batch=1, resin_g=resin_g, hardener_g=hardener_g, start_K=trial.start_K)),
        *((at_s, CupTemperatureRead(batch=1, temperature_K=kelvin)) for at_s, kelvin in trial.read),
        *((at_s, Observation(batch=1, word=word)) for word, at_s in trial.seen),
    ]
    copy = copied(path)
    folder = session_folder(workshop.root, started.astimezone().date(), f"trial {sheet.id}")
    return _written(folder, started, start, {RESIN_COPY: copy}, sorted(events, key=lambda one: one[0]))
