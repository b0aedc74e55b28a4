"""The state of a session while it is being folded: the only mutable form of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from layup.session.clock import Instant, Jump
from layup.session.events import (
    CouponBurnt,
    NightExpected,
    Outcome,
    PartWeighed,
    Place,
    SessionStarted,
    ThicknessMeasured,
)
from layup.session.facts import AlarmSeen, BatchState, LotSeen, Misfit, NoteTaken, StepState, Tick

Reading = tuple[float, float]


@dataclass(slots=True)
class Draft:
    """The fields of SessionState, in containers that can grow."""

    start: SessionStarted | None = None
    started_at: datetime | None = None
    people: int = 0
    batches: dict[int, BatchState] = field(default_factory=dict)
    steps: dict[int, StepState] = field(default_factory=dict)
    temperatures: dict[Place, list[Reading]] = field(default_factory=lambda: {"air": [], "resin": [], "mould": []})
    humidity: list[Reading] = field(default_factory=list)
    wood_moisture: float | None = None
    night: NightExpected | None = None
    ticks: dict[str, Tick] = field(default_factory=dict)
    lots: list[LotSeen] = field(default_factory=list)
    notes: list[NoteTaken] = field(default_factory=list)
    acknowledged: dict[str, AlarmSeen] = field(default_factory=dict)
    closed_s: float | None = None
    pressure_Pa: float | None = None
    demoulded_s: float | None = None
    outcome: Outcome | None = None
    weighed: PartWeighed | None = None
    coupons: list[CouponBurnt] = field(default_factory=list)
    thicknesses: list[ThicknessMeasured] = field(default_factory=list)
    ended_s: float | None = None
    jumps: list[tuple[float, Jump]] = field(default_factory=list)
    boot_id: str = ""
    raw_offset_s: float = 0.0
    sure: Instant | None = None
    told: Instant | None = None
    undoable: int | None = None
    redoable: int | None = None
    misfits: list[Misfit] = field(default_factory=list)
    undos: set[int] = field(default_factory=set)
    """The numbers of the undos seen in this fold; an undo of one of them is a redo."""

    @property
    def started(self) -> bool:
        """Whether session-started was seen."""
        return self.start is not None

    def batch(self, number: int) -> BatchState | None:
        """Return a batch by its number."""
        return self.batches.get(number)

    def step(self, number: int) -> StepState | None:
        """Return a step by its number."""
        return self.steps.get(number)
