"""The bench without a press day: a dry run of a plan, and days for play, at speed with mishaps on request."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import accumulate

from layup.bench.casting_day import COLOUR, core_wanted_K, pigments_of, tick_of, weighing_s
from layup.bench.day import PressDay, Said
from layup.bench.opening import begin, new_journal, resume, started
from layup.bench.planner import Planner
from layup.errors import InputError
from layup.files.workshop import Workshop
from layup.planning.planner import PlanResult
from layup.session.batch_events import Observation
from layup.session.clock import Clock, EarlierClock
from layup.session.day_events import Checked, Note, PeopleChanged, TemperatureRead, WoodMoistureRead
from layup.session.fields import StepPlan
from layup.session.mass_balance import step_plans
from layup.session.state import Event
from layup.session.state_parts import PLAYED


def dry_run(planner: Planner, figures: PlanResult, clock: Clock) -> PressDay:
    """Begin a dry run of the plan on the desk: its steps without resin, and cups that are only fetched.

    Alone each cup is fetched while the bench waits; with two only the first, for the others are mixed beside the work.
    """
    plan, steps = figures.plan, list[StepPlan]()
    cups = figures.split.batches[: 1 if plan.crew.people > 1 else None]
    for step in step_plans(plan, figures.job.pace):
        steps += [
            StepPlan(
                step=len(plan.steps) + batch.number,
                name=f"Fetch cup {batch.number}",
                kind="place",
                planned_s=plan.crew.mixing_s,
            )
            for batch in cups
            if batch.shares and batch.shares[0].step + 1 == step.step
        ]
        steps.append(step)
    start = started(planner, figures, cautions_shown=False).model_copy(
        update={"kind": "dry run", "steps": tuple(steps), "batches": (), "lessons_used": False}
    )
    journal, folder = new_journal(planner, figures, clock, start)
    day = PressDay(journal, folder, plan, figures.datasheet, clock)
    day.greeting = f"dry run, no resin: {folder.name}"
    return day


# -- some minutes in -------------------------------------------------------------------------------------------------

PLAYED_S = 660.0
"""How far a press day for play has gone when it is opened."""
MIXED_AGO_S = 30.0
"""How long ago the first cup of a casting day for play was mixed as it is opened."""
WOOD_MOISTURE = 0.08
"""Of the core on a casting day for play: dry enough."""
Actions = list[tuple[float, Callable[[], Said]]]
"""What was done, each with its time from the beginning."""


def play_day(planner: Planner, figures: PlanResult, clock: Clock) -> PressDay:
    """Begin a press day for play some minutes ago, let all go as planned until now, and go on with it."""
    first, rows = figures.split.batches[0], figures.timeline.steps if figures.timeline else ()

    def actions(day: PressDay) -> Actions:
        steps: Actions = [(max(row.spans[-1].end_s, 0.0), day.step_done) for row in rows]
        return [*_mixed(day, first.contact_s), *steps]

    return _played(planner, figures, clock, actions, PLAYED_S, "an invented day, some minutes in")


def play_casting(planner: Planner, clock: Clock) -> PressDay:
    """Begin the casting day of the plan on the desk some minutes ago, the core ready and the first cup just mixed."""
    casting = Planner(planner.workshop.root, plan=planner.plan_name, casting=True)
    casting.load()
    if casting.figures is None:
        raise InputError("casting day", "cannot be begun", todo=casting.problem)
    plan = casting.figures.plan
    ready = [step.planned_s for step in step_plans(plan, casting.figures.job.pace) if step.kind == "place"]
    mixed_s = sum(ready) + plan.crew.mixing_s

    def actions(day: PressDay) -> Actions:
        core_K = core_wanted_K(day)
        return [
            (60.0, lambda: day.log(TemperatureRead(place="mould", temperature_K=core_K), "")),
            (90.0, lambda: day.log(WoodMoistureRead(moisture_fraction=WOOD_MOISTURE), "")),
            *((max(done_s, 100.0), day.step_done) for done_s in accumulate(ready)),
            (mixed_s - weighing_s(day) / 2.0, lambda: _coloured(day)),
            *_mixed(day, mixed_s),
        ]

    casting.lessons = planner.lessons
    return _played(casting, casting.figures, clock, actions, mixed_s + MIXED_AGO_S, "an invented casting day")


def _mixed(day: PressDay, contact_s: float) -> Actions:
    """Return how the first batch is weighed and mixed."""
    return [
        (contact_s - 20.0, lambda: day.read_scale(1, "")),
        (contact_s, lambda: day.hardener_in(1)),
        (contact_s + 20.0, lambda: day.read_scale(1, "")),
    ]


def _coloured(day: PressDay) -> Said:
    """Put the colours into the first cup."""
    said = Said("no colour", True)
    for at, (name, _) in enumerate(pigments_of(day, day.state.batches[0]), 1):
        said = day.log(Checked(item=tick_of(COLOUR, 1, at), words=name), "")
    return said


def _played(
    planner: Planner,
    figures: PlanResult,
    clock: Clock,
    actions: Callable[[PressDay], Actions],
    played_s: float,
    what: str,
) -> PressDay:
    """Begin a day for play some time ago, let its actions be done, and go on with it by the real clock."""
    then, at_s = EarlierClock(clock, played_s), 0.0
    day = begin(planner, figures, then)
    day.log(Note(text=f"{PLAYED}{what}"), "")
    for due_s, action in sorted(actions(day), key=lambda one: one[0]):
        if due_s < played_s:
            then.advance(due_s - at_s)
            action()
            at_s = max(due_s, at_s)
    then.advance(played_s - at_s)
    day.close()
    day = resume(day.folder, clock, workshop=planner.workshop)
    day.use(planner.lessons)
    day.greeting = f"PLAY: {what}; nothing of it is kept"
    return day


# -- at speed --------------------------------------------------------------------------------------------------------


class FastClock(EarlierClock):
    """Another clock, from now on so many times faster."""

    def __init__(self, clock: Clock, times: float) -> None:
        super().__init__(clock, 0.0)
        self._times = times
        self._utc, self._monotonic_s = clock.utc(), clock.monotonic_s()

    def utc(self) -> datetime:
        """Return the wall clock as far on as the steady one."""
        return self._utc + timedelta(seconds=self.monotonic_s() - self._monotonic_s)

    def monotonic_s(self) -> float:
        return self._monotonic_s + self._times * (self._clock.monotonic_s() - self._monotonic_s)


OFF_EARLY, LEAVES_S, COLD_S, COLDER_K = 0.5, 1200.0, 900.0, 5.0
"""Into what share of its time in the cup a batch goes off; when the helper leaves; when the shop is how much colder."""


def _goes_off(day: PressDay) -> Event | None:
    now_s = day.now_s()
    for batch in day.in_cup():
        life = day.alive.get(batch.number)
        if life is not None and now_s >= life.mixed_s + OFF_EARLY * (life.empty_by_s - life.mixed_s):
            return Observation(batch=batch.number, word="thickening")
    return None


def _leaves(day: PressDay) -> Event | None:
    leaves = day.now_s() >= LEAVES_S and day.state.people > 1
    return PeopleChanged(people=day.state.people - 1) if leaves else None


def _cold(day: PressDay) -> Event | None:
    return TemperatureRead(place="air", temperature_K=day.air_K - COLDER_K) if day.now_s() >= COLD_S else None


MISHAPS: dict[str, tuple[str, Callable[[PressDay], Event | None]]] = {
    "batch goes off early": ("you look: the cup is thickening already", _goes_off),
    "helper leaves": ("your helper has to leave", _leaves),
    "cold": ("the door stood open: the shop is colder", _cold),
}
"""What goes wrong on a day for play: what is said, and what is logged once its time has come; each comes once."""


@dataclass(slots=True)
class Play:
    """A day for play that is begun in a workshop to be thrown away, and the mishaps still to come."""

    times: float
    mishaps: list[str] = field(default_factory=list)
    workshop: Workshop | None = None
    """Whose sessions teach it; None for that of the day itself."""

    def begin(self, planner: Planner, figures: PlanResult, clock: Clock) -> PressDay:
        day = begin(planner, figures, clock)
        day.log(Note(text=f"{PLAYED}at {self.times:g} times speed"), "")
        day.greeting = f"PLAY at {self.times:g} times speed: nothing of it is kept"
        return day

    def look(self, day: PressDay) -> str:
        """Let happen what is due, and return what is told of it; empty where nothing is."""
        if day.state.closed_s is not None:
            return ""
        for name in self.mishaps:
            words, event_of = MISHAPS[name]
            event = event_of(day)
            if event is not None and day.log(event, "").done:
                self.mishaps.remove(name)
                return f"PLAY: {words}"
        return ""
