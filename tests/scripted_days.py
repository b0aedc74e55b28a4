"""Press days played by a crew that does what the bench says: each act when it has been theirs for as long as it takes.

What goes wrong is scripted by the minute. Nothing sleeps: the clock is moved by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import cast

from simulate.shop import Day, desk_for, workshop

from layup.bench.acts import Act
from layup.bench.casting_day import core_wanted_K
from layup.bench.day import PressDay, Said
from layup.bench.doing import Answer, Question, do
from layup.bench.opening import begin, new_batches, replanned
from layup.bench.planner import Planner
from layup.bench.rest import left_to_pour
from layup.bench.view import BenchView, bench_view
from layup.session.batch_events import BatchLost, CupTemperatureRead
from layup.session.clock import ManualClock
from layup.session.day_events import PeopleChanged, TemperatureRead
from layup.session.journal import Journal
from layup.session.records import RECORDS, extend
from layup.session.state import Event, SessionState

STEP_S = 10.0
TAKES_S = {
    "weigh": 60.0, "pour resin": 60.0, "pour hardener": 60.0, "start clock": 10.0, "read scale": 60.0, "add": 60.0,
    "empty cup": 30.0, "look": 20.0, "spread outside": 60.0, "replan": 60.0, "answer clock": 20.0, "rescue": 60.0,
    "temperature": 30.0, "cool shop": 10.0, "warm shop": 10.0, "save": 5.0, "mend files": 5.0, "retighten": 60.0,
    "colour": 20.0, "scrape": 20.0, "core": 30.0, "moisture": 30.0,
}  # fmt: skip
"""How long an act takes this crew; a step as long as planned, the closing as long as the plan says."""
OF_A_POUR_S = {"pour hardener": 20.0, "read scale": 10.0}
"""What goes quicker with a pour, which lives for minutes."""


class Memory:
    """A journal that is kept in memory only."""

    def __init__(self, state: SessionState, clock: ManualClock, now_s: float) -> None:
        self.state = state
        self.fault = self.mended = ""
        self._clock = clock
        self._zero_s = now_s - clock.monotonic_s()

    def now_s(self) -> float:
        """Return the session's age."""
        return self._zero_s + self._clock.monotonic_s()

    def close(self) -> None:
        """Do nothing: it was nowhere else."""

    def tick(self) -> None:
        """Do nothing: the clocks agree."""

    def tell_clock(self, _utc: datetime | None = None) -> float:
        """Be sure of the time."""
        told = RECORDS["clock-told"].model_validate({**self._stamp(), "utc": self._clock.utc(), "taken_s": 0.0})
        self.state = extend(self.state, (told,))
        return 0.0

    def restart(self, taken_s: float) -> None:
        """Let the machine come back after a while."""
        self._zero_s += taken_s
        off = {"wall_s": taken_s, "taken_s": taken_s}
        self.state = extend(self.state, (RECORDS["machine-restarted"].model_validate({**self._stamp(), **off}),))

    def append(self, event: Event, at_s: float | None = None) -> None:
        """Let an event count."""
        given = {name: getattr(event, name) for name in type(event).model_fields if name not in ("seq", "at", "sum")}
        record = RECORDS[event.event].model_validate({**given, **self._stamp(), "happened_s": at_s})
        self.state = extend(self.state, (record,))

    def _stamp(self) -> dict[str, object]:
        elapsed_s = max(self.now_s(), self.state.last_s)
        return {"seq": self.state.seq + 1, "at": self._clock.utc(), "elapsed_s": elapsed_s, "v": 2}


def beside(day: PressDay) -> PressDay:
    """Return the same day in memory: what is done there leaves no trace."""
    other = copy(day)
    other.clock = ManualClock(day.clock.utc())
    other.source = cast("Journal", Memory(day.state, other.clock, day.now_s()))
    return other


@cache
def _desk(people: int, celsius: float) -> Planner:
    return desk_for(workshop(Path(mkdtemp())), Day(people=people, temperature_K=celsius + 273.15))


def day_of(people: int = 2, celsius: float = 20.0) -> PressDay:
    """Return a day in memory that begins now."""
    planner = _desk(people, celsius)
    assert planner.figures is not None
    clock = ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC))
    return beside(begin(planner, planner.figures, clock))


@dataclass
class Player:
    """A crew at a bench."""

    day: PressDay
    pace: float = 1.0
    """How much longer than planned its steps take."""
    deaf_s: tuple[float, float] = (-1.0, -1.0)
    """From when to when nobody does anything."""
    grams_off: float = 0.0
    """How much more hardener than wanted goes into the first cup."""
    views: list[BenchView] = field(default_factory=list)
    seen: Callable[[PressDay, BenchView], None] | None = None
    """Is called for each look."""
    _worked_s: dict[tuple[object, ...], float] = field(default_factory=dict)

    def play(self, script: Iterable[tuple[float, Callable[[PressDay], object]]], *, until_min: float) -> None:
        """Work until a minute, or the press is closed, with what happens at its minutes."""
        events = sorted(script, key=lambda timed: timed[0])
        while self.day.now_s() < 60.0 * until_min:
            while events and self.day.now_s() >= 60.0 * events[0][0]:
                events.pop(0)[1](self.day)
            view = bench_view(self.day)
            self.views.append(view)
            if self.seen is not None:
                self.seen(self.day, view)
            if view.act.kind in ("over", "leave closed"):
                return
            deaf = self.deaf_s[0] <= view.now_s < self.deaf_s[1]
            if not deaf:
                self._work(view)
            self.day.clock.advance(3.0 * STEP_S if deaf else STEP_S)

    def _work(self, view: BenchView) -> None:
        for act in (view.act, *view.others):
            key = act.kind, act.batch, act.step
            self._worked_s[key] = self._worked_s.get(key, 0.0) + STEP_S
            if self._worked_s[key] > self._takes_s(act):
                self._worked_s.pop(key)
                done(self.day, act, self._reading)
                return

    def _takes_s(self, act: Act) -> float:
        if act.kind == "step":
            step = self.day.state.step(act.step or 0)
            return 0.0 if step is None else self.pace * step.plan.planned_s
        if act.kind == "close":
            return self.day.closing_s
        if self.day.state.is_casting and act.kind in OF_A_POUR_S:
            return OF_A_POUR_S[act.kind]
        return TAKES_S.get(act.kind, float("inf"))

    def _reading(self, act: Act) -> str:
        """Return what the scale shows: what it should, but for the first hardener."""
        if act.kind == "read scale" and act.batch == 1 and self.grams_off:
            return f"{self.day.readings(1).next_g + self.grams_off:.0f}"
        return ""


def done(day: PressDay, act: Act, reading: Callable[[Act], str] | None = None) -> Said:
    """Do an act with the answers of somebody who goes on; nothing may be refused."""
    asked: Answer = None
    for _ in range(3):
        said = do(day, act, asked)
        if isinstance(said, Said):
            assert said.done, (act, said.words)
            return said
        asked = answer(day, said, reading)
    raise AssertionError(f"{act} is never done")


def answer(day: PressDay, question: Question, reading: Callable[[Act], str] | None = None) -> Answer:
    """Return what somebody answers who goes on."""
    if question.kind == "scale":
        return "" if reading is None else reading(question.act)
    if question.kind == "laid":
        return question.usual_g
    if question.kind == "looks":
        return "runny"
    if question.kind in ("temperature", "core"):
        return 293.15 if question.kind == "temperature" else core_wanted_K(day)
    if question.kind == "moisture":
        return 0.08
    if question.kind == "replan":
        return take_replan(day)
    return True


def take_replan(day: PressDay) -> bool:
    """Take the rest planned anew, where there is something to mix; say whether anything was."""
    if day.state.is_casting:
        assert day.log(left_to_pour(day), "").done
        return False
    plan = replanned(day)
    if plan.split.batches:
        assert day.log(new_batches(day, plan), "").done
    return False


def loses(number: int, why: str = "spilt") -> Callable[[PressDay], object]:
    """Return the loss of a batch."""
    return lambda day: day.log(BatchLost(batch=number, why=why, laid_g=0.0), "")


def left_with(people: int) -> Callable[[PressDay], object]:
    """Return a change of hands."""
    return lambda day: day.log(PeopleChanged(people=people), "")


def air(celsius: float) -> Callable[[PressDay], object]:
    """Return a reading of the shop."""
    return lambda day: day.log(TemperatureRead(place="air", temperature_K=celsius + 273.15), "")


def measures(number: int, celsius: float) -> Callable[[PressDay], object]:
    """Return a temperature measured in a cup."""
    return lambda day: day.log(CupTemperatureRead(batch=number, temperature_K=celsius + 273.15), "")


def mixes(number: int) -> Callable[[PressDay], object]:
    """Return a batch mixed before its time."""

    def mix(day: PressDay) -> None:
        day.read_scale(number, "")
        day.hardener_in(number)
        day.read_scale(number, "")

    return mix


def machine_off(day: PressDay) -> None:
    """Let the machine be off: how long it was nobody knows until somebody says what time it is."""
    cast("Memory", day.source).restart(taken_s=40.0)


def with_window(day: PressDay, low_C: float | None, high_C: float | None) -> PressDay:
    """Return a day whose plan works between two shop temperatures."""
    day.window_K = tuple(None if limit is None else limit + 273.15 for limit in (low_C, high_C))
    return day
