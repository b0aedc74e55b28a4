"""The bench without a press day: a dry run of a plan, and a day at speed for play, with mishaps on request."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from layup.bench.day import PressDay
from layup.bench.opening import begin, new_journal, started
from layup.bench.planner import Planner
from layup.planning.planner import PlanResult
from layup.session.batch_events import Observation
from layup.session.clock import Clock
from layup.session.day_events import PeopleChanged, TemperatureRead
from layup.session.fields import StepPlan
from layup.session.mass_balance import step_plans
from layup.session.state import Event

# -- dry run ---------------------------------------------------------------------------------------------------------


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


# -- at speed --------------------------------------------------------------------------------------------------------


class FastClock:
    """Another clock, from now on so many times faster."""

    def __init__(self, clock: Clock, times: float) -> None:
        self._clock = clock
        self._times = times
        self._utc, self._monotonic_s = clock.utc(), clock.monotonic_s()

    @property
    def counts_sleep(self) -> bool:
        """Whether `monotonic_s` goes on while the machine sleeps."""
        return self._clock.counts_sleep

    def utc(self) -> datetime:
        """Return the wall clock as far on as the steady one."""
        return self._utc + timedelta(seconds=self.monotonic_s() - self._monotonic_s)

    def monotonic_s(self) -> float:
        """Return the steady clock, faster."""
        return self._monotonic_s + self._times * (self._clock.monotonic_s() - self._monotonic_s)

    def boot_id(self) -> str:
        """Return the present boot, in whose seconds all is counted."""
        return self._clock.boot_id()


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that goes wrong on a day for play: what is said, and what is logged once its time has come."""

    words: str
    event: Callable[[PressDay], Event | None]


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


MISHAPS: dict[str, Mishap] = {
    "batch goes off early": Mishap("you look: the cup is thickening already", _goes_off),
    "helper leaves": Mishap("your helper has to leave", _leaves),
    "cold": Mishap("the door stood open: the shop is colder", _cold),
}
"""Name -> what it does; each comes once."""


@dataclass(slots=True)
class Play:
    """A day for play that is begun in a workshop to be thrown away, and the mishaps still to come."""

    times: float
    mishaps: list[str] = field(default_factory=list)

    def begin(self, planner: Planner, figures: PlanResult, clock: Clock) -> PressDay:
        """Begin the day."""
        day = begin(planner, figures, clock)
        day.greeting = f"PLAY at {self.times:g} times speed: nothing of it is kept"
        return day

    def look(self, day: PressDay) -> str:
        """Let happen what is due, and return what is told of it; empty where nothing is."""
        if day.state.closed_s is not None:
            return ""
        for name in self.mishaps:
            event = MISHAPS[name].event(day)
            if event is not None and day.log(event, "").done:
                self.mishaps.remove(name)
                return f"PLAY: {MISHAPS[name].words}"
        return ""
