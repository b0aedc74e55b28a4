"""All that a workshop's sessions teach, and how the next plan uses it; each of them judged once, and a search.

A plan takes `lessons.calibration(sheet)` and `lessons.plan(plan)` by default; `NOTHING_LEARNT` switches that off. No
datasheet file is ever written, and nothing of the lessons is kept but the sessions. What was judged holds for the same
bytes judged by the same program; it can be deleted at any time. A search has plain words, which occur in what was said,
and `resin:`, `outcome:`, `cause:`, all of them together; what is quick to know is asked first.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from math import exp
from pathlib import Path
from types import MappingProxyType
from typing import Literal, get_args

from pydantic import TypeAdapter

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.errors import InputError, LayupError, Problem
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY
from layup.files.toml import nearest
from layup.files.workshop import Workshop
from layup.planning.plan import PRESS_DAYS, Losses, Plan, day_pace
from layup.review.as_built import as_built
from layup.review.evidence import GOOD, Cause
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
    LossLesson,
    LossSample,
    ResinLesson,
    Sighting,
    loss_lesson,
    lost_in,
    resin_lesson,
    seen_in,
)
from layup.review.review import Review, review
from layup.session.archive import KeptIndex, Sessions, Stamped, StoredSession, Summary, stamp_of, stored_session
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


def lessons_of(
    sessions: Iterable[StoredSession],
    sheets: Mapping[str, Datasheet] = MappingProxyType({}),
    *,
    progress: Progress | None = None,
) -> Lessons:
    """Return what sessions teach; `sheets` are the datasheets as they are now, else those of the last session count."""
    seen: dict[str, list[tuple[Sighting, ...]]] = {}
    last: dict[str, tuple[Datasheet, date | None]] = {}  # of each resin, and its day where that was a trial
    worked: list[Worked] = []
    losses: list[LossSample] = []
    dry_runs: list[DryRun] = []
    count = 0
    for stored in sessions:
        state, plan, sheet = stored.state, stored.plan, stored.sheet
        if state.start is None or sheet is None or (plan is None and state.kind not in ("trial", "recalled")):
            continue  # a draft, or one without its plan or resin, tells nothing
        teaches, before = TEACHES[state.kind], len(worked) + len(losses) + len(dry_runs)
        looks = seen_in(state, parts_by_mass(sheet)) if "lives" in teaches else ()
        if looks:
            day = state.started_at.date() if state.started_at and state.kind == "trial" else None
            told = seen.setdefault(sheet.id, [])
            if day and told and last[sheet.id][1] == day:  # trial cups of one day are one session
                told[-1] += looks
            else:
                told.append(looks)
            last[sheet.id] = sheet, day
        if plan is not None and "pace" in teaches and (pace := worked_in(state, plan)):
            worked.append(pace)
        if plan is not None and "minutes" in teaches and (run := dry_run_in(state, plan)):
            dry_runs.append(run)
        built = as_built(stored) if "losses" in teaches else None
        if plan is not None and built is not None and built.resin is not None:
            losses.append(lost_in(built.resin, sum(batch.stays for batch in state.batches), plan))
        count += bool(looks) or len(worked) + len(losses) + len(dry_runs) > before
    known = {resin_id: sheets.get(resin_id, sheet) for resin_id, (sheet, _) in last.items()}
    resins, problems = _resins_of(seen, known, progress)
    lost = loss_lesson(losses) if losses else None
    return Lessons(resins, crew_lessons(worked), lost, tuple(dry_runs), count, problems)


def _resins_of(
    seen: Mapping[str, Sequence[Sequence[Sighting]]], sheets: Mapping[str, Datasheet], progress: Progress | None
) -> tuple[dict[str, ResinLesson], tuple[Problem, ...]]:
    """Return what was learnt of each resin of which something was seen, and why of some nothing can be."""
    resins, problems = {}, []
    for resin_id, looks in seen.items():

        def told(done: int, of: int, resin_id: str = resin_id) -> None:
            if progress is not None:
                progress(f"learning {resin_id}", done, of)

        try:
            lesson = resin_lesson(resin_id, calibrate(sheets[resin_id]), looks, progress=told)
        except LayupError as error:
            problems.append(Problem(resin_id, 0, "", f"cannot be learnt: {error}"))
            continue
        if lesson.looks:
            resins[resin_id] = lesson
    return resins, tuple(problems)


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
                stored = stored_session(folder)
            except LayupError as error:
                problems.append(Problem(str(folder), 0, "", str(error)))
            else:
                if stored.state.closed_s is not None or stored.state.ended_s is not None:
                    yield stored  # a day that still runs teaches nothing yet
            if progress is not None:
                progress("reading sessions", number, len(folders))

    lessons = lessons_of(sessions(), workshop.resins() if sheets is None else sheets, progress=progress)
    return replace(lessons, problems=(*problems, *lessons.problems))


# -- each session judged ---------------------------------------------------------------------------------------------

JUDGED_NAME = ".judged.json"


@dataclass(frozen=True, slots=True)
class StepTook:
    """One step of a day: what was planned for it and what it took."""

    name: str
    planned_s: float
    took_s: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What a review says of one session, in short."""

    name: str
    title: str
    kind: SessionKind
    started_at: str
    """UTC, ISO 8601."""
    resin: str
    people: int
    largest_cup_g: float | None
    tags: tuple[str, ...]
    causes: tuple[str, ...]
    """The causes that its findings name, in the order of harm."""
    spare_s: float | None
    """What its tightest cup or part had to spare; None where nothing was laid, or nobody can say."""
    steps: tuple[StepTook, ...]

    @property
    def failed(self) -> bool:
        """Whether its outcome names anything but a good part."""
        return bool(self.tags) and GOOD not in self.tags


_FILE: TypeAdapter[tuple[str, Stamped[Judged]]] = TypeAdapter(tuple[str, Stamped[Judged]])
KEPT_EACH = 50
"""After so many sessions what was judged is written: whoever breaks off a long search goes on from there."""


@cache
def _program() -> str:
    """Return what tells one state of the program from another: nothing that an earlier one judged is taken over."""
    package = Path(__file__).resolve().parent.parent
    changed = [(path.stat().st_mtime_ns, path.stat().st_size) for path in package.rglob("*.py")]
    return f"{len(changed)}-{max(at for at, _ in changed)}-{sum(size for _, size in changed)}"


def judged_of(found: Review) -> Judged:
    state, track = found.stored.state, found.track
    start, outcome = state.start, state.outcome
    tight = track.tightest if track else None
    steps = track.steps if track else ()
    return Judged(
        name=found.stored.name,
        title=start.title if start else found.stored.name,
        kind=state.kind,
        started_at=state.started_at.isoformat() if state.started_at else "",
        resin=state.resin_id,
        people=start.people if start else 0,
        largest_cup_g=start.largest_cup_g if start else None,
        tags=outcome.tags if outcome else (),
        causes=tuple(finding.cause for finding in found.findings),
        spare_s=tight[0] if tight else None,
        steps=tuple(StepTook(s.name, s.planned.took_s, s.real.took_s) for s in steps if s.real is not None),
    )


def judge(
    workshop: Workshop,
    names: Sequence[str],
    *,
    keep: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Judged]:
    """Return sessions judged, by name; one that cannot be read is left out. `keep` is whether that may be written."""
    index = KeptIndex(workshop.sessions_folder / JUDGED_NAME, _program(), _FILE)
    found: Stamped[Judged] = {}
    unsaved = 0

    def write() -> None:
        if keep and unsaved:
            there = {path.name for path in workshop.begun()}
            index.keep({name: line for name, line in (index.lines | found).items() if name in there})

    try:
        for number, name in enumerate(names, 1):
            with suppress(OSError, LayupError):
                folder = workshop.sessions_folder / name
                stamp = stamp_of(folder / JOURNAL, (folder / PLAN, folder / RESIN_COPY))
                one = index.get(name, stamp)
                if one is None:
                    one = judged_of(review(stored_session(folder)))
                    unsaved += 1
                    if unsaved == KEPT_EACH:
                        write()
                        unsaved = 0
                found[name] = stamp, one
            if progress is not None:
                progress(number, len(names))
    finally:
        write()
    return {name: one for name, (_, one) in found.items()}


# -- search ------------------------------------------------------------------------------------------------------------

KEYS = ("resin", "outcome", "cause")
FAILED, NONE = "failed", "none"
"""An outcome that names anything but a good part, or a day given up; and that there is none, of outcomes or causes."""
HINT = "words, resin:slow outcome:failed cause:cup; nothing shows all"


@dataclass(frozen=True, slots=True)
class Query:
    """What is searched for, all of it together."""

    words: tuple[str, ...] = ()
    resin: tuple[str, ...] = ()
    outcome: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()


def query(text: str) -> Query:
    """Read a query; quotes hold several words together. Raises InputError for a key or a cause that nobody knows."""
    typed = shlex.shlex(text.casefold(), posix=True)
    typed.quotes, typed.escape, typed.commenters, typed.whitespace_split = '"', "", "", True
    try:
        parts = list(typed)
    except ValueError:
        raise InputError(
            "search", "has a quote that does not end", value=text, todo='close it: outcome:"dry spot"'
        ) from None
    found: dict[str, list[str]] = {key: [] for key in ("words", *KEYS)}
    for part in parts:
        key, colon, value = part.partition(":")
        if not colon or not key.isalpha():
            found["words"].append(part)
        elif key not in KEYS:
            raise InputError("search", "has no such key", value=f"{key}:", allowed=", ".join(f"{k}:" for k in KEYS))
        elif value:
            found[key].append(value)
    for cause in found["cause"]:
        if cause != NONE and not any(cause in known for known in get_args(Cause)):
            raise InputError("cause", "is not known", value=cause, todo=nearest(cause, list(get_args(Cause))))
    return Query(**{key: tuple(values) for key, values in found.items()})


def find_sessions(
    workshop: Workshop, text: str, *, keep: bool = True, progress: Callable[[str, int, int], None] | None = None
) -> list[Summary]:
    """Return the sessions that a query finds, the newest last; `keep` is whether indices may be written."""
    asked = query(text)

    def told(what: str) -> Callable[[int, int], None]:
        return lambda done, of: None if progress is None else progress(what, done, of)

    sessions = Sessions(workshop, keep=keep)
    found = sessions.all(progress=told("reading sessions"))
    found = [one for one in found if _known(one, asked) and sessions.has_words(one, asked.words)]
    if not asked.cause:
        return found
    judged = judge(workshop, [one.name for one in found], keep=keep, progress=told("judging sessions"))
    return [one for one in found if one.name in judged and _says(judged[one.name].causes, asked.cause)]


def _known(one: Summary, asked: Query) -> bool:
    """Return whether what its summary knows fits."""
    if not all(resin in one.resin.casefold() for resin in asked.resin):
        return False
    failed = (bool(one.tags) and GOOD not in one.tags) or (one.over and one.closed_s is None and one.started_at != "")
    tags = (*(tag.casefold() for tag in one.tags), *((FAILED,) if failed else ()))
    return _says(one.tags, asked.outcome) if asked.outcome == (NONE,) else _says(tags, asked.outcome)


def _says(known: Sequence[str], wanted: Sequence[str]) -> bool:
    """Return whether each of the wanted words occurs in what is known; "none" where nothing is."""
    return all((not known) if word == NONE else any(word in each for each in known) for word in wanted)
