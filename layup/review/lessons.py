"""All that a workshop's sessions teach, and how the next plan uses it. Nothing of it is kept but the sessions.

A plan takes `lessons.calibration(sheet)` and `lessons.plan(plan)` by default; `NOTHING_LEARNT` switches that off.
No datasheet file is ever written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from math import exp
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.errors import LayupError, Problem
from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop
from layup.planning.pace import PRESS_DAYS, day_pace
from layup.planning.plan import Losses, Plan
from layup.review.as_built import as_built
from layup.review.dry_runs import WETTING, DryRun, dry_run_in, runs_of, spread_words, with_dry_runs
from layup.review.pace import (
    CrewLesson,
    LossLesson,
    LossSample,
    Worked,
    crew_lessons,
    loss_lesson,
    lost_in,
    worked_in,
)
from layup.review.resin_lessons import ResinLesson, Sighting, resin_lesson, seen_in
from layup.session.archive import StoredSession, stored_session
from layup.session.fields import SessionKind
from layup.units import mass

Taught = Literal["lives", "pace", "losses", "faults", "minutes"]
"""Of a resin how long it lives, of a crew how fast it works with resin, of a workshop what it loses of a mix, and what
goes wrong in it; of a plan how long its steps take without resin."""
TEACHES: Mapping[SessionKind, frozenset[Taught]] = MappingProxyType(
    {
        "press": frozenset({"lives", "pace", "losses", "faults"}),
        "casting": frozenset({"lives", "faults"}),
        "dry run": frozenset({"minutes"}),
        "trial": frozenset({"lives"}),
        "recalled": frozenset({"lives", "faults"}),
    }
)
"""What each kind of session teaches. Nothing else decides it."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how far it is, and of how many."""
MOST_SQUEEZED = 0.6


@dataclass(frozen=True, slots=True)
class Lessons:
    """What was learnt, by resin, by size of crew, and of the workshop; empty where no session tells."""

    resins: Mapping[str, ResinLesson] = field(default_factory=lambda: MappingProxyType({}))
    crews: Mapping[int, CrewLesson] = field(default_factory=lambda: MappingProxyType({}))
    losses: LossLesson | None = None
    dry_runs: tuple[DryRun, ...] = ()
    sessions: int = 0
    problems: tuple[Problem, ...] = ()

    def calibration(self, sheet: Datasheet) -> Calibration:
        """Return a resin as its datasheet and all sessions with it say."""
        lesson = self.resins.get(sheet.id)
        return lesson.calibration if lesson is not None and lesson.observations else calibrate(sheet)

    def plan(self, plan: Plan) -> Plan:
        """Return a plan with the times of the crew that will work, and with the workshop's losses."""
        crew = self.crews.get(plan.crew.people)
        if crew is not None:
            steps = tuple(replace(step, bench_s=step.bench_s * crew.factor(step.kind)) for step in plan.steps)
            closing = replace(plan.closing, bench_s=plan.closing.bench_s * crew.factor("closing"))
            plan = replace(plan, steps=steps, closing=closing)
            if crew.sessions:
                pressed = replace(plan.crew, minutes_from=PRESS_DAYS, day_pace=day_pace(crew.sessions))
                plan = replace(plan, crew=pressed)
        known = [kind for kind, one in crew.kinds.items() if one.sessions] if crew is not None else []
        plan = with_dry_runs(plan, self.dry_runs, known)
        return plan if self.losses is None else replace(plan, losses=_learnt_losses(plan.losses, self.losses))

    def words(self, plan: Plan) -> tuple[str, ...]:
        """Say what a plan takes over from earlier sessions; the resin's own words stand in its calibration."""
        said = []
        crew = self.crews.get(plan.crew.people)
        if crew is not None:
            known = [(kind, one) for kind, one in crew.kinds.items() if one.sessions]
            times = ", ".join(f"{kind} {exp(one.mean):.2f} times ({one.sessions})" for kind, one in known) or "nothing"
            left_out = f"; {crew.left_out_words}" if crew.left_out_words else ""
            said.append(
                f"learnt of {crew.people} at the bench, over the plan's own minutes (sessions): {times}{left_out}"
            )
        if runs_of(plan, self.dry_runs):
            told = self.plan(plan).crew.minutes_from
            said.append(f"minutes from {told}: {WETTING:g} times dry where resin is laid, unless a press day taught it")
        return (*said, *spread_words(plan, self.dry_runs), *self.loss_words(plan))

    def loss_words(self, plan: Plan) -> tuple[str, ...]:
        """Say what a plan takes over of losses: grams left in each cup, and, where it counts on any, squeeze-out."""
        if self.losses is None:
            return ()
        losses, counted = _learnt_losses(plan.losses, self.losses), self.losses
        said = []
        if counted.per_batch.sessions:
            sessions = f"({counted.per_batch.sessions} sessions)"
            said.append(f"{mass(losses.per_batch_g)} a batch stay in cup and brush {sessions}")
        if counted.squeeze.sessions and losses.squeeze_out is not None:
            said.append(f"the press drives out {100 * losses.squeeze_out:.0f} % ({counted.squeeze.sessions} sessions)")
        return (f"learnt of this workshop: {', '.join(said)}",) if said else ()


NOTHING_LEARNT = Lessons()


def _learnt_losses(losses: Losses, lesson: LossLesson) -> Losses:
    """Return losses with what was learnt; a squeeze-out that a plan does not give stays not given."""
    per_batch_g, squeeze = losses.per_batch_g, losses.squeeze_out
    if lesson.per_batch.sessions:
        per_batch_g *= exp(lesson.per_batch.mean)
    if lesson.squeeze.sessions and squeeze is not None:
        squeeze = min(max(squeeze + lesson.squeeze.mean, 0.0), MOST_SQUEEZED)
    return replace(losses, per_batch_g=per_batch_g, squeeze_out=squeeze)


class _Gathered:
    """What sessions tell, one after the other: only what is learnt from is kept of each."""

    def __init__(self) -> None:
        self.seen: dict[str, list[tuple[Sighting, ...]]] = {}
        self.sheets: dict[str, Datasheet] = {}
        self.trials: dict[str, date | None] = {}
        """Resin -> the day of its last session, where that was a trial."""
        self.worked: list[Worked] = []
        self.losses: list[LossSample] = []
        self.dry_runs: list[DryRun] = []
        self.sessions = 0

    def add(self, kept: StoredSession) -> None:
        """Take in one session; a draft, or one without its plan or resin, tells nothing."""
        start, plan, sheet = kept.state.start, kept.plan, kept.sheet
        if start is None or sheet is None or (plan is None and start.kind not in ("trial", "recalled")):
            return
        teaches = TEACHES[start.kind]
        told = "lives" in teaches and self._add_lives(kept, sheet)
        worked = worked_in(kept.state, plan) if plan is not None and "pace" in teaches else None
        if worked is not None:
            self.worked.append(worked)
        run = dry_run_in(kept.state, plan) if plan is not None and "minutes" in teaches else None
        if run is not None:
            self.dry_runs.append(run)
        built = as_built(kept) if "losses" in teaches else None
        if plan is not None and built is not None and built.resin is not None:
            used = sum(batch.stays for batch in kept.state.batches)
            self.losses.append(lost_in(built.resin, used, plan))
        measured = plan is not None and built is not None and built.resin is not None
        self.sessions += bool(told or worked or run or measured)

    def _add_lives(self, kept: StoredSession, sheet: Datasheet) -> bool:
        """Take in what was seen of the resin, if anything; trial cups of one day are one session."""
        seen = seen_in(kept.state, parts_by_mass(sheet))
        if not seen:
            return False
        told = self.seen.setdefault(sheet.id, [])
        trial = kept.state.start is not None and kept.state.start.kind == "trial"
        day = kept.state.started_at.date() if trial and kept.state.started_at else None
        if day and self.trials.get(sheet.id) == day:
            told[-1] += seen
        else:
            told.append(seen)
        self.trials[sheet.id] = day
        self.sheets[sheet.id] = sheet
        return True


def lessons_of(
    sessions: Iterable[StoredSession],
    sheets: Mapping[str, Datasheet] = MappingProxyType({}),
    *,
    progress: Progress | None = None,
) -> Lessons:
    """Return what sessions teach; `sheets` are the datasheets as they are now, else those of the last session count."""
    gathered = _Gathered()
    for kept in sessions:
        gathered.add(kept)
    resins, problems = {}, []
    for resin_id, seen in gathered.seen.items():
        sheet = sheets.get(resin_id, gathered.sheets[resin_id])

        def told(done: int, of: int, resin_id: str = resin_id) -> None:
            if progress is not None:
                progress(f"learning {resin_id}", done, of)

        try:
            lesson = resin_lesson(resin_id, calibrate(sheet), seen, progress=told)
        except LayupError as error:
            problems.append(Problem(resin_id, 0, "", f"cannot be learnt: {error}"))
            continue
        if lesson.looks:
            resins[resin_id] = lesson
    return Lessons(
        resins=resins,
        crews=crew_lessons(gathered.worked),
        losses=loss_lesson(gathered.losses) if gathered.losses else None,
        dry_runs=tuple(gathered.dry_runs),
        sessions=gathered.sessions,
        problems=tuple(problems),
    )


def workshop_lessons(
    workshop: Workshop,
    *,
    leave_out: Path | None = None,
    sheets: Mapping[str, Datasheet] | None = None,
    progress: Progress | None = None,
) -> Lessons:
    """Return what all sessions of a workshop teach but the one left out; what cannot be read is in `problems`.

    `sheets` are its datasheets, where somebody has read them already.
    """
    folders = [folder for folder in workshop.sessions() if (folder / JOURNAL).is_file() and folder != leave_out]
    problems: list[Problem] = []

    def sessions() -> Iterable[StoredSession]:
        for number, folder in enumerate(folders, 1):
            kept = _read(folder, problems)
            if kept is not None and (kept.state.closed_s is not None or kept.state.ended_s is not None):
                yield kept  # a day that still runs teaches nothing yet
            if progress is not None:
                progress("reading sessions", number, len(folders))

    lessons = lessons_of(sessions(), workshop.resins() if sheets is None else sheets, progress=progress)
    return replace(lessons, problems=(*problems, *lessons.problems))


def _read(folder: Path, problems: list[Problem]) -> StoredSession | None:
    """Return a session, or note why it cannot be learnt from."""
    try:
        return stored_session(folder)
    except LayupError as error:
        problems.append(Problem(str(folder), 0, "", str(error)))
        return None
