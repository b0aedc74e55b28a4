"""Open a press day: a new one from what is on the desk, or one that is kept in its folder."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from layup.chemistry.datasheet import Datasheet
from layup.errors import FileError, InputError, LayupError, Problem, StorageError
from layup.materials.names import PLAN, RESIN_COPY
from layup.materials.workshop import Workshop
from layup.planning.case import settle
from layup.planning.stack import Plan
from layup.planning.window import temperature_window
from layup.records.clock import Clock
from layup.records.event_fields import StepPlan
from layup.records.events import HumidityRead, SessionStarted, TemperatureRead
from layup.records.folder import session_folder
from layup.records.follow import Follower
from layup.records.journal import Journal
from layup.records.kept import Kept, as_begun, kept_session
from layup.records.running import Running, look_at, running_days
from layup.records.text import clean_text
from layup.screens.beginning import Beginning
from layup.screens.day import PressDay
from layup.screens.desk import USUAL_SHOP_K, Desk, Figures
from layup.screens.replanning import batch_plans, case_now

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Opened:
    """The press day to show; else those to choose from, or that cannot be opened."""

    day: PressDay | None = None
    others: tuple[Running, ...] = ()
    wanted: bool = False
    """Whether a session was asked for by name."""


def open_day(desk: Desk, wanted: Path | None, clock: Clock, *, watch: bool = False) -> Opened:
    """Open the session asked for, else the one that runs, else none; `watch` only looks on.

    Raises StorageError where the workshop cannot be read.
    """
    found = [look_at(wanted)] if wanted is not None else running_days(desk.workshop)
    good = [day for day in found if not day.trouble]
    bad = [day for day in found if day.trouble]
    if len(good) > 1 and not watch:
        return Opened(others=tuple(found))
    if not good:
        return Opened(others=tuple(found), wanted=wanted is not None)
    try:
        day = resume(good[0].folder, clock, workshop=desk.workshop, watch=watch)
    except LayupError as error:
        return Opened(others=(replace(good[0], trouble=error.words), *bad), wanted=wanted is not None)
    day.greeting = "   ".join([day.greeting, *(words.words for words in bad)])
    return Opened(day)


def resume(folder: Path, clock: Clock, *, workshop: Workshop, watch: bool = False) -> PressDay:
    """Go on with a session, or look on if that is wanted or it cannot be written. What cannot be worked out, or read
    of its plan and resin, keeps nobody from its clocks."""
    kept = kept_session(folder)
    source, why = (_look_on(folder, clock), None) if watch else _take(folder, clock)
    plan, sheet, told = _plan_and_sheet(kept, workshop)
    day = PressDay(source, folder, plan, sheet, clock, looks_on=why)
    day.greeting = "   ".join([*told, _greeting(day)])
    if day.state.closed_s is None:
        day.window_K = _window_K(day)
    return day


def _plan_and_sheet(kept: Kept, workshop: Workshop) -> tuple[Plan | LayupError, Datasheet | LayupError, list[str]]:
    """Return plan and resin as they were used; where the copies cannot be read the workshop's own, which is told."""
    start, told = kept.state.start, []
    plan: Plan | LayupError | None = kept.plan
    sheet: Datasheet | LayupError | None = kept.sheet
    if sheet is None:
        sheet = _instead(kept, RESIN_COPY, lambda: workshop.resin(start.resin if start else ""))
        where = "not in resins/" if isinstance(sheet, LayupError) else f"resins/{sheet.id}.toml is taken, as it is now"
        told.append(f"▲ {RESIN_COPY} cannot be read: {where}")
    if plan is None:
        plan = _instead(kept, PLAN, lambda: workshop.plan(start.plan if start else ""))
        where = "nor where it came from" if isinstance(plan, LayupError) else "it is taken from where it came from"
        told.append(f"▲ {PLAN} cannot be read: {where}")
        if start is not None and not isinstance(plan, LayupError) and not isinstance(sheet, LayupError):
            plan = as_begun(plan, sheet, start)
    return plan, sheet, told


def _instead(kept: Kept, name: str, other: Callable[[], T]) -> T | LayupError:
    """Return what is taken for a copy that cannot be read, else what is wrong with the copy."""
    try:
        return other()
    except LayupError:
        path = str(kept.folder / name)
        return FileError([problem for problem in kept.problems if problem.file == path] or [Problem(path, 1, "", "?")])


def _window_K(day: PressDay) -> tuple[float | None, float | None]:
    """Return the shop temperatures between which the plan works: of the shop as it is, or as is usual where that is
    beyond the model; not known where the plan's figures cannot be worked out."""
    for air_K in (day.air_K, USUAL_SHOP_K):
        with suppress(LayupError):
            case = case_now(day, air_K)
            window = temperature_window(case, settle(case).job)
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


def begin(desk: Desk, figures: Figures, clock: Clock) -> PressDay:
    """Begin a press day with the plan as it stands on the desk."""
    if desk.plan_path is None:
        raise InputError("plan", "is not read", todo=desk.problem)
    plan = figures.what.case.plan
    folder = session_folder(desk.workshop.root, clock.utc().astimezone().date(), plan.title)
    files = {
        PLAN: _bytes(desk.plan_path),
        RESIN_COPY: _bytes(desk.workshop.resin_path(figures.settings.resin_id)),
    }
    journal = Journal.create(folder, clock, _started(desk, figures), files=files)
    journal.append(TemperatureRead(place="air", temperature_K=figures.settings.temperature_K))
    if figures.settings.cans_K is not None:
        journal.append(TemperatureRead(place="resin", temperature_K=figures.settings.cans_K))
    if figures.settings.relative_humidity is not None:
        journal.append(HumidityRead(relative_humidity=figures.settings.relative_humidity))
    for event in desk.beginning.first_events():
        journal.append(event)
    desk.beginning = Beginning()
    day = PressDay(journal, folder, plan, figures.what.case.datasheet, clock)
    day.go_by(figures.what.case.calibration)
    day.window_K = figures.what.window.low_K, figures.what.window.high_K
    day.greeting = f"press day begun, kept in {folder.name}"
    return day


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="check the file") from error


def _started(desk: Desk, figures: Figures) -> SessionStarted:
    """Return the first event of a session: the steps and batches as planned."""
    plan, split = figures.what.case.plan, figures.what.settled.split
    pace = figures.what.settled.job.pace
    return SessionStarted(
        title=clean_text(plan.title, limit=200).text,
        plan=desk.plan_name_shown,
        resin=figures.settings.resin_id,
        people=plan.crew.people,
        pieces=plan.pieces,
        largest_cup_g=figures.settings.cup_g,
        fibre_fraction=figures.settings.fraction,
        lessons_used=figures.lessons.sessions > 0,
        steps=tuple(
            StepPlan(
                step=number,
                name=clean_text(step.name, limit=200).text,
                kind=step.kind,
                planned_s=step.bench_s / pace.full,
            )
            for number, step in enumerate(plan.steps, 1)
            if not (step.kind == "cast" and step.before_press_day)
        ),
        batches=batch_plans(split),
        hazards_acknowledged=True,
    )
