"""All that a workshop's sessions teach, and how the next plan uses it. Nothing of it is kept but the sessions.

A plan takes `lessons.calibration(sheet)` and `lessons.plan(plan)` by default; `NOTHING_LEARNT` switches that off.
No datasheet file is ever written. A trial cup says what it taught: its own point beside the datasheet's, how sure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from math import exp, sqrt
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from layup.chemistry.calibration import LOSS, Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.life_band import predict_band
from layup.chemistry.looks import LOOKS, PAST, LookWord
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.prediction import SEMENOV_RUNAWAY, Vessel
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.errors import LayupError, Problem
from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop
from layup.planning.plan import PRESS_DAYS, Losses, Plan, day_pace
from layup.review.as_built import as_built
from layup.review.pace import (
    WETTING,
    CrewLesson,
    DryRun,
    Worked,
    crew_lessons,
    dry_run_in,
    runs_of,
    spread_words,
    with_dry_runs,
    worked_in,
)
from layup.review.resin_lessons import (
    USUAL_SHOP_K,
    LossLesson,
    LossSample,
    ResinLesson,
    Sighting,
    loss_lesson,
    lost_in,
    resin_lesson,
    seen_in,
    usual_life,
)
from layup.session.archive import StoredSession, stored_session
from layup.session.fields import SessionKind
from layup.units import in_minutes, mass, temperature

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
        before = self._counted()
        if plan is not None and "pace" in teaches and (worked := worked_in(kept.state, plan)):
            self.worked.append(worked)
        if plan is not None and "minutes" in teaches and (run := dry_run_in(kept.state, plan)):
            self.dry_runs.append(run)
        built = as_built(kept) if "losses" in teaches else None
        if plan is not None and built is not None and built.resin is not None:
            self.losses.append(lost_in(built.resin, sum(batch.stays for batch in kept.state.batches), plan))
        self.sessions += told or self._counted() > before

    def _counted(self) -> int:
        return len(self.worked) + len(self.dry_runs) + len(self.losses)

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
            try:
                kept = stored_session(folder)
            except LayupError as error:
                problems.append(Problem(str(folder), 0, "", str(error)))
            else:
                if kept.state.closed_s is not None or kept.state.ended_s is not None:
                    yield kept  # a day that still runs teaches nothing yet
            if progress is not None:
                progress("reading sessions", number, len(folders))

    lessons = lessons_of(sessions(), workshop.resins() if sheets is None else sheets, progress=progress)
    return replace(lessons, problems=(*problems, *lessons.problems))


# -- a trial cup -------------------------------------------------------------------------------------------------------

SETTLED = 0.75
"""The heat loss counts as settled once its spread is this share of what it was, or less."""
TOLD_IN_PART = 0.85
"""And told in part at this one: what two masses of a slow resin come to."""


@dataclass(frozen=True, slots=True)
class TrialPoint:
    """One thing that was seen of a trial cup, beside what the datasheet foretells; a stringy mix has no time there."""

    word: LookWord
    observed_s: float
    foretold_s: float | None
    low_s: float | None
    high_s: float | None

    @property
    def words(self) -> str:
        """What was seen and what was foretold, in one line."""
        said = f"{self.word} at {in_minutes(self.observed_s)}"
        if self.foretold_s is None or self.low_s is None or self.high_s is None:
            return said
        band = f"{self.low_s / 60:.0f} to {self.high_s / 60:.0f}"
        return f"{said}, by the datasheet {in_minutes(self.foretold_s)} (80 %: {band})"


def trial_points(kept: StoredSession, stated: Calibration) -> tuple[TrialPoint, ...]:
    """Return what was seen of a trial cup beside the datasheet's band, in the order of time."""
    points = []
    for seen in () if kept.sheet is None else seen_in(kept.state, parts_by_mass(kept.sheet)):
        if seen.rise_K is not None:
            continue
        around = seen.stages[0].ambient
        band = predict_band(stated, Vessel.cup(), mass_g=seen.mass_g, start_K=seen.start_K, ambient=around)
        foretold: dict[LookWord, tuple[float, float, float]] = {
            "thickening": (band.life.working_s, band.working_s.low, band.working_s.high),
            "gelled": (band.life.gel_s, band.gel_s.low, band.gel_s.high),
        }
        points.append(TrialPoint(seen.word, seen.after_s, *foretold.get(seen.word, (None, None, None))))
    return tuple(points)


def trial_words(kept: StoredSession, stated: Calibration, lesson: ResinLesson | None) -> tuple[str, ...]:
    """Say what a trial saw beside its datasheet, what it did not note, and what it and all before it teach."""
    points = trial_points(kept, stated)
    read = any(batch.temperatures for batch in kept.state.batches)
    missing = [LOOKS[word].noted for word in PAST if word not in {point.word for point in points}]
    missing += [] if read else ["temperature in the cup"]
    said = [point.words for point in points]
    said += [f"not noted: {', '.join(missing)}"] if missing else []
    if lesson is None or not lesson.observations:
        return (*said, "it teaches nothing yet")
    return (*said, lesson.words, change_words(stated, lesson), _loss_words(stated, lesson, read=read))


def change_words(stated: Calibration, lesson: ResinLesson) -> str:
    """Say what a usual cup lives by the datasheet and by what was learnt."""

    def lives(law: Calibration) -> str:
        band = usual_life(law, stated)
        ends = f"{band.working_s.low / 60:.0f} to {band.working_s.high / 60:.0f}"
        return f"{in_minutes(band.life.working_s)} (80 %: {ends})"

    cup = f"{mass(stated.masses_g[0])} in a cup at {temperature(USUAL_SHOP_K)}"
    return f"{cup} thickens after {lives(stated)} by the datasheet, {lives(lesson.calibration)} in the next plan"


def alone(kept: StoredSession) -> tuple[Calibration, ResinLesson | None] | None:
    """Return what a trial teaches by itself, and the resin as its datasheet has it; None without a datasheet."""
    if kept.sheet is None:
        return None
    return calibrate(kept.sheet), lessons_of([kept]).resins.get(kept.sheet.id)


def _loss_words(stated: Calibration, lesson: ResinLesson, *, read: bool) -> str:
    """Say whether it is settled how much heat a cup loses, and what would settle it."""
    share, left = loss_share(stated, lesson), f"{100 * loss_within(stated, lesson):.0f} %"
    cups = {round(seen.mass_g): seen for seen, counts in lesson.looks if counts}
    if share <= SETTLED:
        return f"heat lost by a cup: settled to within {left}"
    todo = "read it twice as it cools" if read else "put a thermometer in the cup, to read as it cools"
    if len(cups) < 2:
        return f"heat lost by a cup: not told yet (within {left}); {todo}"
    if share <= TOLD_IN_PART:
        return f"heat lost by a cup: told in part by two masses (within {left}); {todo}"
    light_g = min(cups)
    start_K = cups[light_g].start_K
    psi = predict_band(stated, Vessel.cup(), mass_g=light_g, start_K=start_K, ambient=start_K).psi_high
    what = "the resin is too fast for that" if psi > SEMENOV_RUNAWAY else "it hardly warms itself"
    return f"heat lost by a cup: these masses cannot tell it, {what} (within {left}); {todo}"


def loss_within(stated: Calibration, lesson: ResinLesson) -> float:
    """Return how far off the heat loss may still be, at the high edge of its 80 % band, as a share."""
    return exp(EIGHTY_PERCENT * stated.uncertainty.film_coefficient_log * loss_share(stated, lesson)) - 1.0


def loss_share(stated: Calibration, lesson: ResinLesson) -> float:
    """Return what is left of the heat loss's spread, as a share of what the datasheet leaves."""
    return sqrt(lesson.calibration.covariance[LOSS][LOSS] / stated.covariance[LOSS][LOSS])
