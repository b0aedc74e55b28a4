"""Open a press day: a new one from what is on the planner, or one that is kept in its folder.

Plan what is left of a running day: what is laid, what is in hand, what the cans still hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from layup.bench.day import PressDay, Said
from layup.bench.planner import USUAL_SHOP_K, Beginning, Planner, note_items, ticked
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import split_mass
from layup.chemistry.temperature import History
from layup.errors import FileError, InputError, LayupError, Problem, StorageError
from layup.files.durable import PLAN, RESIN_COPY
from layup.files.plan_file import named_files
from layup.files.workshop import Workshop
from layup.planning.budget import budget
from layup.planning.castings import casting_window_K, numbered, pourings
from layup.planning.checklist import Item, checklist
from layup.planning.plan import Plan, Shop
from layup.planning.planner import PlanResult
from layup.planning.replan import SCRAPE, DayState, InCup, OnPart, Replan, Rescue, replan, rescue_of
from layup.review.carried import met_by
from layup.session.archive import Running, StoredSession, Summary, as_begun, look_at, running_days, stored_session
from layup.session.batch_events import Replanned
from layup.session.clock import Clock
from layup.session.day_events import HumidityRead, ShopForecast, TemperatureRead, WoodMoistureRead
from layup.session.fields import BatchPlan, batch_plan
from layup.session.folder import copied, session_folder
from layup.session.journal import Journal
from layup.session.lifetimes import Lifetime
from layup.session.mass_balance import ALL_OF_IT, batch_plans, plan_today, step_plans, wants_mix
from layup.session.reader import Follower
from layup.session.state import SessionStarted
from layup.session.state_parts import BatchState, last_read
from layup.session.text import clean


def plan_now(day: PressDay, air_K: float | None = None) -> PlanResult:
    """Return the plan as the day has changed it, with the resin as known today and the shop as last measured, or at
    `air_K`."""
    state = day.state
    plan, _ = plan_today(day.plan, state)
    crew = replace(plan.crew, people=day.people)
    shop = Shop(
        day.air_K if air_K is None else air_K,
        relative_humidity=last_read(state.humidity),
        resin_K=last_read(state.resin),
        part_K=last_read(state.mould),
    )
    cast = {day.sheet.id: day.sheet} if day.state.is_casting else {}
    return PlanResult(replace(plan, crew=crew), day.sheet, day.calibration_now, shop, cast)


def day_state(day: PressDay) -> DayState:
    """Return how far the day is. The stock is what the plan said to have ready, less what was poured."""
    now_s = day.now_s()
    state = day.state
    grams = budget(day.plan, day.sheet, batches=max(len(state.begun_with), 1))
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
        people=day.people,
        done=_done(day),
        resin_g=left[0],
        hardener_g=left[1],
        in_cup=tuple(_in_cup(day, batch, day.alive[batch.number], now_s) for batch in cups),
        on_part=_on_part(day, now_s),
        first_batch=first_free(day),
    )


def _on_part(day: PressDay, now_s: float) -> tuple[OnPart, ...]:
    return tuple(
        OnPart(life.batch, max(life.over_s.low - now_s, 0.0), max(life.over_s.high - now_s, 0.0))
        for life in day.on_part
    )


def rescue_now(day: PressDay) -> Rescue:
    """Return what saves most of the part if it cannot be closed in time; without a plan that is for people to see."""
    try:
        plan, _ = plan_today(day.plan, day.state)
    except LayupError:
        return Rescue("close if wet", f"with the core in close the press; without it {SCRAPE}", "close if core is in")
    return rescue_of(plan, day.people, _done(day), day.in_cup(), _on_part(day, day.now_s()))


def _in_cup(day: PressDay, batch: BatchState, life: Lifetime, now_s: float) -> InCup:
    left_s = max(life.empty_by_s - now_s, 0.0)
    open_s = day.open_if_poured_s(batch, now_s + left_s) - now_s  # laid at the last moment
    return InCup(batch.number, usable_g(day, batch), left_s, max(open_s, left_s))


def usable_g(day: PressDay, batch: BatchState) -> float:
    """Return what of the mix in a cup gets onto the part; the rest is left in cup and brush."""
    left_g, loss_g = day.balance.of_batch(batch.number).left_g, day.plan.losses.per_batch_g
    if batch.left_g is not None:
        return max(left_g - loss_g, 0.0)
    return left_g * max(1.0 - loss_g / batch.mass_g, 0.0)


def _done(day: PressDay) -> dict[int, float]:
    """Return the share of each step (by its place in today's plan) that is laid; one without mix is done or not."""
    done, wet = {}, wants_mix(day.state)
    for place, number in enumerate(plan_today(day.plan, day.state)[1]):
        step = day.state.step(number)
        if step is not None:
            share = day.balance.of_step(number).laid_share if number in wet else 0.0 if step.done_s is None else 1.0
            done[place] = 1.0 if share >= ALL_OF_IT else share
    return done


MEASURED = {"wood": "Moisture of the wood", "humidity": "Humidity of the air"}
"""Items of the list "before you start" that are a number, by their keys: what is asked before they are ticked."""


def items_of_day(day: PressDay) -> tuple[Item, ...]:
    """Return the list "before you start" of a day, what earlier days carried forward first."""
    return (*note_items(day.notes), *checklist(plan_now(day)))


def tick_item(day: PressDay, item: Item, share: float | None = None, *, done: bool = True) -> Said:
    """Log what was measured of an item (`share`, 0..1) and that it is ticked, or not any more."""
    if share is not None and item.key == "wood":
        day.log(WoodMoistureRead(moisture_fraction=share), "")
    elif share is not None:
        day.log(HumidityRead(relative_humidity=share), "")
    said = Said("", False)
    for event in ticked(item.key, item.words, day.notes, done=done):
        said = day.log(event, item.short)
    return said


def replanned(day: PressDay) -> Replan:
    """Return the rest of the day planned anew."""
    return replan(plan_now(day), day_state(day))


def new_batches(day: PressDay, plan: Replan) -> Replanned:
    """Return the batches of a new plan of the rest, to be logged."""
    return Replanned(batches=batch_plans(plan.split, plan_today(day.plan, day.state)[1]))


def pour_plans(figures: PlanResult) -> tuple[BatchPlan, ...]:
    """Return the pours of a casting plan as the journal keeps them, numbered through."""
    return tuple(
        batch_plan(number, pour.mass_g, pour.parts_g, (casting.step + 1,), (1.0 / len(casting.pours),))
        for number, casting, pour in numbered(pourings(figures, None))
    )


def first_free(day: PressDay) -> int:
    """Return the number of the first batch of a new plan: after all that were touched."""
    touched = [batch.number for batch in day.state.batches if batch.status != "to mix"]
    return max(touched, default=0) + 1


# -- opening ---------------------------------------------------------------------------------------------------------

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Opened:
    """The press day to show; else those to choose from, or that cannot be opened."""

    day: PressDay | None = None
    others: tuple[Running, ...] = ()
    wanted: bool = False
    """Whether a session was asked for by name."""


def open_day(planner: Planner, wanted: Path | None, clock: Clock, *, watch: bool = False, dry: bool = False) -> Opened:
    """Open the session asked for, else the one that runs, else none; `watch` only looks on, `dry` sees dry runs alone.

    Raises StorageError where the workshop cannot be read.
    """
    found = [look_at(wanted)] if wanted is not None else running_days(planner.workshop)
    if dry:
        found = [day for day in found if day.is_dry and day.runs(planner.plan_name_shown)]
    good = [day for day in found if not day.trouble]
    bad = [day for day in found if day.trouble]
    if len(good) > 1 and not watch:
        return Opened(others=tuple(found))
    if not good:
        return Opened(others=tuple(found), wanted=wanted is not None)
    try:
        day = resume(good[0].folder, clock, workshop=planner.workshop, watch=watch)
    except LayupError as error:
        return Opened(others=(replace(good[0], trouble=error.words), *bad), wanted=wanted is not None)
    day.greeting = "   ".join([day.greeting, *(words.words for words in bad)])
    return Opened(day)


def resume(folder: Path, clock: Clock, *, workshop: Workshop, watch: bool = False) -> PressDay:
    """Go on with a session, or look on if that is wanted or it cannot be written. What cannot be worked out, or read
    of its plan and resin, keeps nobody from its clocks."""
    stored = stored_session(folder)
    source, why = (_look_on(folder, clock), None) if watch else _take(folder, clock)
    plan, sheet, told = as_kept(stored, workshop)
    day = PressDay(source, folder, plan, sheet, clock, looks_on=why)
    day.greeting = "   ".join([*told, _greeting(day)])
    if day.state.closed_s is None and not day.is_dry:
        day.window_K = window_of(day)
    return day


def as_kept(stored: StoredSession, workshop: Workshop) -> tuple[Plan | LayupError, Datasheet | LayupError, list[str]]:
    """Return plan and resin as they were used; where the copies cannot be read the workshop's own, which is told."""
    start, told = stored.state.start, []
    plan: Plan | LayupError | None = stored.plan
    sheet: Datasheet | LayupError | None = stored.sheet
    if sheet is None:
        sheet = _instead(stored, RESIN_COPY, lambda: workshop.resin(stored.state.resin_id))
        where = "not in resins/" if isinstance(sheet, LayupError) else f"resins/{sheet.id}.toml is taken, as it is now"
        told.append(f"▲ {RESIN_COPY} cannot be read: {where}")
    if plan is None:
        plan = _instead(stored, PLAN, lambda: workshop.plan(start.plan if start else ""))
        where = "nor where it came from" if isinstance(plan, LayupError) else "it is taken from where it came from"
        told.append(f"▲ {PLAN} cannot be read: {where}")
        if start is not None and not isinstance(plan, LayupError) and not isinstance(sheet, LayupError):
            plan = as_begun(plan, sheet, start)
    return plan, sheet, told


def _instead(stored: StoredSession, name: str, other: Callable[[], T]) -> T | LayupError:
    """Return what is taken for a copy that cannot be read, else what is wrong with the copy."""
    try:
        return other()
    except LayupError:
        path = str(stored.folder / name)
        return FileError(
            [problem for problem in stored.problems if problem.file == path] or [Problem(path, 1, "", "?")]
        )


def window_of(day: PressDay) -> tuple[float | None, float | None]:
    """Return the shop temperatures between which the plan works: of the shop as it is, or as is usual where that is
    beyond the model; not known where the plan's figures cannot be worked out."""
    for air_K in (day.air_K, USUAL_SHOP_K):
        with suppress(LayupError):
            if day.state.is_casting:
                return casting_window_K(plan_now(day, air_K))
            window = plan_now(day, air_K).window
            return window.low_K, window.high_K
    return None, None


def _take(folder: Path, clock: Clock) -> tuple[Journal | Follower, LayupError | None]:
    """Open a journal for writing, or to look on where it cannot be written, and why."""
    try:
        return Journal.open(folder, clock), None
    except StorageError as error:
        return _look_on(folder, clock), error


def _greeting(day: PressDay) -> str:
    """Say what was opened, and what was wrong with it."""
    if day.looks_on is not None:
        return f"looking on only: {day.looks_on}"
    if isinstance(day.source, Follower):
        return f"looking on: {day.folder.name}"
    problems = day.source.problems
    return str(problems[-1]) if problems else f"going on with {day.folder.name}: nothing that was confirmed is lost"


def _look_on(folder: Path, clock: Clock) -> Follower:
    follower = Follower(folder, clock)
    follower.poll()
    return follower


def begin(planner: Planner, figures: PlanResult, clock: Clock, *, cautions_shown: bool = True) -> PressDay:
    """Begin a press day with the plan as it stands on the desk."""
    plan, sheet = figures.plan, figures.datasheet
    journal, folder = new_journal(planner, figures, clock, started(planner, figures, cautions_shown))
    journal.append(TemperatureRead(place="air", temperature_K=figures.shop.temperature_K))
    if figures.shop.resin_K is not None:
        journal.append(TemperatureRead(place="resin", temperature_K=figures.shop.resin_K))
    if figures.shop.relative_humidity is not None:
        journal.append(HumidityRead(relative_humidity=figures.shop.relative_humidity))
    if figures.plan.forecast:
        journal.append(forecast_of(figures.plan.forecast, clock))
    for event in planner.beginning.first_events():
        journal.append(event)
    planner.beginning = Beginning(planner.notes, planner.beginning.stock)
    day = PressDay(journal, folder, plan, sheet, clock)
    meet(day, planner.carriers)
    day.go_by(figures.calibration)
    day.window_K = window_of(day) if day.state.is_casting else (figures.window.low_K, figures.window.high_K)
    day.greeting = f"begun: {folder.name}"
    return day


def forecast_of(course: History, clock: Clock) -> ShopForecast:
    """Return the day of a shop as it is logged now."""
    now = clock.utc().astimezone()
    return ShopForecast(course=course, of_day_s=3600.0 * now.hour + 60.0 * now.minute + now.second)


def new_journal(planner: Planner, figures: PlanResult, clock: Clock, start: SessionStarted) -> tuple[Journal, Path]:
    """Make the folder of a new session, with its plan and resin, and return its journal and the folder."""
    if planner.plan_path is None:
        raise InputError("plan", "is not read", todo=planner.problem)
    folder = session_folder(planner.workshop.root, clock.utc().astimezone().date(), figures.plan.title)
    files = {
        **named_files(planner.plan_path),
        PLAN: copied(planner.plan_path),
        RESIN_COPY: copied(planner.workshop.resin_path(figures.datasheet.id)),
    }
    return Journal.create(folder, clock, start, files=files), folder


def meet(day: PressDay, sessions: Iterable[Summary], *, until: str = "") -> None:
    """Let a day meet what other sessions carried forward, by `until` (UTC, ISO 8601) where that is given."""
    day.notes = met_by(sessions, day.folder.name, day.state.resin_id, until=until)


def started(planner: Planner, figures: PlanResult, cautions_shown: bool) -> SessionStarted:
    """Return the first event of a session: the steps and batches as planned."""
    plan, split = figures.plan, figures.split
    batches = batch_plans(split, range(1, len(plan.steps) + 1)) if plan.lays else pour_plans(figures)
    return SessionStarted(
        kind="press" if plan.lays else "casting",
        title=clean(plan.title),
        plan=planner.plan_name_shown,
        resin=figures.datasheet.id,
        people=plan.crew.people,
        pieces=plan.pieces,
        largest_cup_g=plan.largest_cup_g,
        fibre_fraction=plan.target.value,
        lessons_used=figures.lessons_used,
        steps=step_plans(plan, figures.job.pace),
        batches=batches,
        hazards_acknowledged=cautions_shown,
    )
