"""Open a press day: a new one from what is on the desk, or one that is kept in its folder."""

from __future__ import annotations

from pathlib import Path

from layup.errors import FileError, InputError, LayupError, StorageError
from layup.materials.names import JOURNAL, PLAN, RESIN_COPY
from layup.planning.case import settle
from layup.planning.window import temperature_window
from layup.records.clock import Clock
from layup.records.event_fields import StepPlan
from layup.records.events import HumidityRead, SessionStarted, TemperatureRead
from layup.records.folder import session_folder
from layup.records.follow import Follower
from layup.records.journal import Journal
from layup.records.kept import kept_session
from layup.records.lines import read_journal
from layup.records.lock import read_holder
from layup.records.state import fold
from layup.records.text import clean_text
from layup.screens.beginning import Beginning
from layup.screens.day import PressDay
from layup.screens.desk import Desk, Figures
from layup.screens.replanning import batch_plans, case_now


def open_day(desk: Desk, wanted: Path | None, clock: Clock, *, watch: bool = False) -> PressDay | None:
    """Return the session asked for, else one that was left while it ran, else None; `watch` only looks on."""
    folder = wanted or _left_running(desk)
    if folder is None:
        return None
    try:
        return resume(folder, clock, watch=watch)
    except LayupError:
        if wanted is not None:
            raise
        return None


def _left_running(desk: Desk) -> Path | None:
    """Return the newest session, if it was not ended: a press day, or a part under press."""
    for folder in reversed(desk.workshop.sessions()):
        if not (folder / JOURNAL).is_file():
            continue
        state = fold(read_journal(folder)[0])
        return folder if state.started and state.ended_s is None else None
    return None


def resume(folder: Path, clock: Clock, *, watch: bool = False) -> PressDay:
    """Go on with a session, or look on if that is wanted or another program writes it."""
    kept = kept_session(folder)
    plan, sheet = kept.plan, kept.sheet
    if plan is None or sheet is None:
        raise FileError(list(kept.problems))
    holder = read_holder(folder)
    source, greeting = (_look_on(folder, clock), f"looking on: {folder.name}") if watch else _take(folder, clock)
    day = PressDay(source, folder, plan, sheet, clock, holder=str(holder) if holder else "")
    day.greeting = greeting
    if day.state.closed_s is None:
        case = case_now(day)
        window = temperature_window(case, settle(case).job)
        day.window_K = window.low_K, window.high_K
    return day


def _take(folder: Path, clock: Clock) -> tuple[Journal | Follower, str]:
    """Open a journal for writing, or to look on where it cannot be written; say which."""
    try:
        journal = Journal.open(folder, clock)
    except StorageError as error:
        return _look_on(folder, clock), f"looking on only: {error}"
    if journal.problems:
        return journal, str(journal.problems[-1])
    return journal, f"going on with {folder.name}: nothing that was confirmed is lost"


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
    day.calibration = day.calibration_now = figures.what.case.calibration
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
