"""The watch over a press day: the alarms that stand, and the thermometer that is followed."""

from __future__ import annotations

from dataclasses import dataclass, field

from layup.bench.alarm_causes import AlarmContext
from layup.bench.alarms import Board, acknowledgement, look
from layup.bench.day import PressDay, Said
from layup.bench.opening import rescue_now
from layup.bench.scale_readings import STIR_S
from layup.bench.view import ready_s
from layup.session.thermometer import Poll, Source, Thermometer


@dataclass(slots=True)
class AlarmMonitor:
    """Looks at one press day about once a second; pure but for what it remembers."""

    day: PressDay
    source: Source | None = None
    board: Board = field(default_factory=Board)
    thermometer: Thermometer = field(init=False)
    clock_asked: bool = False
    """Whether the question about the clock was put by itself."""

    def __post_init__(self) -> None:
        self.thermometer = Thermometer(since_s=self.day.now_s())

    def look(self) -> Board:
        """Return the alarms that stand now."""
        day = self.day
        now_s = day.now_s()
        self.board = look(
            day.state,
            day.alive,
            AlarmContext(
                now_s=now_s,
                parts=day.parts,
                closing_s=day.closing_s,
                stir_s=STIR_S,
                rescue=rescue_now(day),
                cup_g=day.cup_g,
                ready_s=ready_s(day, now_s) if day.state.steps and day.state.closed_s is None else None,
                window_K=day.window_K,
                unknown=day.unknown,
                fault="" if day.watching else day.fault,
                mended=day.mended,
                thermometer_silent_s=self.thermometer.silent_s(now_s) if self.source else None,
            ),
            self.board,
        )
        return self.board

    def asks_clock(self) -> bool:
        """Return, once, whether it is time to ask what time it is."""
        asks = self.day.state.clock_unsure and not self.day.watching and not self.clock_asked
        self.clock_asked = self.clock_asked or asks
        return asks

    def seen(self) -> Said:
        """Acknowledge the loudest alarm: it is quiet until it gets worse."""
        alarm = self.board.loudest
        if alarm is None:
            return Said("not now: no alarm stands that nobody has seen", False)
        said = self.day.log(acknowledgement(alarm), f"seen: {alarm.words}")
        self.look()
        return said

    def take(self, poll: Poll) -> bool:
        """Take one look at the thermometer; return whether it was worth an entry in the journal."""
        self.thermometer, event = self.thermometer.take(poll, self.day.now_s())
        return event is not None and self.day.log(event, "").done
