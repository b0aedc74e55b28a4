"""An invented press day for the tests of alarms: a script of events by the minute, looked at every few seconds."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from layup.bench.alarm_causes import Alarm, AlarmContext
from layup.bench.alarms import Board, look
from layup.chemistry.calibration import Calibration, calibrate
from layup.files.resin_file import load_resin
from layup.planning.replan import Rescue
from layup.session.clock import ManualClock
from layup.session.fields import BatchPlan, StepPlan
from layup.session.journal import Journal
from layup.session.lifetimes import Lifetime, lifetimes, press_by_s
from layup.session.records import refusal
from layup.session.state import Event, SessionStarted

RESINS = Path(__file__).parents[1] / "resins"
PARTS = (100.0, 30.0)
LOOK_S = 5
CLOSING_S = 360.0
STIR_S = 180.0
CLOSE_NOW = Rescue("close", "close the press now, with what is on it", "close now", urgent=True)
WINDOW_K = (289.15, 297.15)


@cache
def resin(name: str = "slow-laminating") -> Calibration:
    """Return a demo resin."""
    sheet, problems = load_resin(RESINS / f"{name}.toml")
    assert sheet is not None, problems
    return calibrate(sheet)


def begin(batches: int = 4, steps: int = 8, step_s: float = 420.0) -> SessionStarted:
    """Return the start of a day in batches of 260 g."""
    return SessionStarted(
        title="Pair of skis",
        plan="touring-skis",
        resin="slow-laminating",
        people=2,
        pieces=2,
        steps=tuple(StepPlan(step=n, name=f"step {n}", kind="fabric", planned_s=step_s) for n in range(1, steps + 1)),
        batches=tuple(BatchPlan(batch=n, mass_g=260.0, resin_g=200.0, hardener_g=60.0) for n in range(1, batches + 1)),
    )


def quiet_outlook(now_s: float = 0.0) -> AlarmContext:
    """Return an outlook in which nothing is wrong."""
    return AlarmContext(
        now_s=now_s, parts=PARTS, closing_s=CLOSING_S, stir_s=STIR_S, rescue=CLOSE_NOW, window_K=WINDOW_K
    )


@dataclass
class Bench:
    """A press day under a hand-moved clock, with its alarms."""

    journal: Journal
    clock: ManualClock
    outlook: AlarmContext = field(default_factory=quiet_outlook)
    board: Board = field(default_factory=Board)
    news: list[tuple[float, Alarm]] = field(default_factory=list)
    boards: list[tuple[float, Board]] = field(default_factory=list)
    strokes: list[tuple[float, int]] = field(default_factory=list)
    rate: float = 1.0
    """Today's pace: real over planned time."""
    _alive: dict[int, Lifetime] = field(default_factory=dict)
    _alive_of: int = -1

    @property
    def alive(self) -> dict[int, Lifetime]:
        """The batches that live, worked out once for each new record."""
        if self._alive_of != self.journal.state.seq:
            self._alive, self._alive_of = lifetimes(self.journal.state, resin()), self.journal.state.seq
        return self._alive

    def log(self, event: Event) -> None:
        """Log an event that must apply."""
        assert refusal(self.journal.state, event) is None, event
        self.journal.append(event)

    def look(self) -> Board:
        """Look at the alarms once."""
        now_s, state = self.journal.now_s(), self.journal.state
        left_s = sum(step.plan.planned_s for step in state.steps if step.done_s is None) * self.rate
        ready_s = now_s + left_s + CLOSING_S if press_by_s(self.alive) is not None else None
        self.board = look(state, self.alive, replace(self.outlook, now_s=now_s, ready_s=ready_s), self.board)
        self.boards.append((now_s, self.board))
        self.news += [(now_s, alarm) for alarm in self.board.news]
        if self.board.strokes:
            self.strokes.append((now_s, self.board.strokes))
        return self.board

    def run_until(self, minute: float) -> None:
        """Let time pass, looking at the alarms every few seconds."""
        while self.journal.now_s() < minute * 60.0:
            self.clock.advance(LOOK_S)
            self.look()

    def run_while(self, waiting: Callable[[], bool], *, minutes: float = 240.0) -> None:
        """Let time pass until what is waited for has come, which must not take longer than `minutes`."""
        last_s = self.journal.now_s() + 60.0 * minutes
        while waiting():
            assert self.journal.now_s() < last_s, "what is waited for does not come"
            self.clock.advance(LOOK_S)
            self.look()

    def play(self, script: Iterable[tuple[float, Event | Callable[[], None]]]) -> None:
        """Log events, or do things, at their minutes."""
        for minute, what in script:
            self.run_until(minute)
            if isinstance(what, Event):
                self.log(what)
            else:
                what()

    def first(self, key: str) -> float:
        """Return when a problem was first said."""
        return next(at_s for at_s, alarm in self.news if alarm.key == key)


def bench(folder: Path, start: SessionStarted | None = None) -> Bench:
    """Return a day that begins now."""
    clock = ManualClock()
    day = Bench(Journal.create(folder, clock, start or begin()), clock)
    day.look()
    return day
