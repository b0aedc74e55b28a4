"""The state of a session, and the base of the events that it is folded from (see `records.py`).

The events that the state keeps whole stand here too: how the day began, the night to come, and the finished part.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, TypeVar, cast

from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from layup.chemistry.temperature import History
from layup.session.clock import Instant, Moment
from layup.session.fields import (
    KIND,
    STEPS,
    STRICT,
    AlarmRank,
    Batches,
    Depth,
    Fraction,
    Mass,
    MassAboveZero,
    Name,
    Named,
    Number,
    People,
    Place,
    SessionKind,
    Stamp,
    StepPlan,
    Temperature,
    Text,
    ToldDay,
)
from layup.session.state_parts import (
    BatchState,
    Carried,
    Forecast,
    LotSeen,
    Misfit,
    NoteTaken,
    PhotoKept,
    Settled,
    StepState,
)
from layup.units import in_hours, length, mass, minutes, temperature

T = TypeVar("T")


class Event(BaseModel):
    """Something that happened, named by `event`: when it cannot apply, what it changes, and its words."""

    model_config = STRICT
    event: str

    any_time: ClassVar[bool] = False
    """Whether it is written whatever the state: what the clocks did and what was said of them, and undo."""
    after_the_end: ClassVar[bool] = False
    """Whether it still makes sense when the press day is over: the cure goes on."""
    lasting: ClassVar[bool] = False
    """Whether it stays: nobody can take back that the session started or what the clocks did."""

    @property
    def by_hand(self) -> bool:
        """Whether a person logged it, so that the undo key takes it back."""
        return not self.lasting

    def why_not(self, _state: SessionState) -> str | None:
        """Return why it cannot apply to a session that has begun, in words for the bench, or None if it can."""
        return None

    def apply(self, _state: SessionState, _stamp: Stamp) -> None:
        """Change a state that is being folded."""

    def describe(self) -> str:
        """Return what happened, in words."""
        return self.event.replace("-", " ")

    def describe_in(self, _state: SessionState) -> str:
        """Return what happened in a session, in words."""
        return self.describe()


class Record(Event, Stamp):
    """One line of the journal: an event with its stamp. `isinstance(record, BatchMixed)` tells which."""

    model_config = ConfigDict(json_schema_serialization_defaults_required=True)

    @property
    def late_words(self) -> str:
        """What marks an entry that was told afterwards; empty for others."""
        return "" if self.happened_s is None else f" (told {minutes(self.elapsed_s - self.when_s)} afterwards)"

    if TYPE_CHECKING:  # the last key of each line, which `records.py` adds behind those of its event
        sum: str
        """What proves the line (see `lines.py`); empty in format 1, and until it is written."""


@dataclass(slots=True)
class SessionState:
    """Everything known of a session after some record. Times ending in `_s` are seconds since it started.

    Nothing changes a state that was handed out: a fold works on a copy of its own, in which rows are lists.
    """

    start: SessionStarted | None = None
    """Title, plan, resin, pieces and the first batches, as logged at the start."""
    started_at: datetime | None = None
    people: int = 0
    hands: tuple[tuple[float, int], ...] = ()
    """(session time in s, how many work from then on), from the start on."""
    batch_by_number: dict[int, BatchState] = field(default_factory=dict)
    """In the order of their numbers; those that a new plan dropped unmixed are gone."""
    step_by_number: dict[int, StepState] = field(default_factory=dict)
    bench_free_s: float = 0.0
    """Since when the step on the bench is there: the one before was done, or left out when it stood there."""
    air: History = ()
    """(session time in s, temperature in K), as `chemistry.potlife` integrates it."""
    resin: History = ()
    mould: History = ()
    humidity: History = ()
    """(session time in s, relative humidity 0..1)."""
    wood_moisture: float | None = None
    """Water over dry mass of the wood, as last read."""
    night: NightExpected | None = None
    forecast: Forecast | None = None
    ticks: dict[str, float] = field(default_factory=dict)
    """The items of the list "before you start" that are ticked, each with when, in the order of ticking."""
    lots: tuple[LotSeen, ...] = ()
    notes: tuple[NoteTaken, ...] = ()
    photos: tuple[PhotoKept, ...] = ()
    carried: tuple[Carried, ...] = ()
    """The notes for next time."""
    settled: tuple[Settled, ...] = ()
    """What became of notes for next time, its own and those of other sessions; of one the last counts."""
    recalled: ToldDay | None = None
    """What was told from memory, of a day that was not logged."""
    acknowledged: dict[str, tuple[float, AlarmRank]] = field(default_factory=dict)
    """When each alarm was last acknowledged, and at which rank."""
    closed_s: float | None = None
    """When the press was closed."""
    pressure_Pa: float | None = None
    tightened: tuple[float, ...] = ()
    """When each round of tightening was done, once it was closed."""
    retightened: tuple[float, ...] = ()
    """When somebody went round again."""
    demoulded_s: float | None = None
    outcome: Outcome | None = None
    weighed: PartWeighed | None = None
    coupons: tuple[CouponBurnt, ...] = ()
    thicknesses: tuple[ThicknessMeasured, ...] = ()
    ended_s: float | None = None
    boot_id: str = ""
    """The boot of the machine that wrote last."""
    raw_offset_s: float = 0.0
    """That boot's monotonic clock less the session time."""
    sure: Instant | None = None
    """The last instant whose age is sure, where the machine was off since and nobody has said what time it is."""
    told: Instant | None = None
    """When somebody said what time it is, where the machine's clock shows another."""
    undoable: int | None = None
    """The number of the event that the undo key takes back, if there is one."""
    redoable: int | None = None
    """The number of the undo that the redo key takes back, if nothing was logged by hand since."""
    misfits: tuple[Misfit, ...] = ()
    """Events that stand in the journal but did not apply."""
    records: tuple[Record, ...] = ()
    cancelled: frozenset[int] = frozenset()
    """The numbers of the records that are undone."""

    @property
    def kind(self) -> SessionKind:
        """What kind of session it is; a press day unless it says otherwise."""
        return "press" if self.start is None else self.start.kind

    @property
    def is_casting(self) -> bool:
        """Whether it is a casting day: its batches are pours, and what is left to set is no press."""
        return self.kind == "casting"

    @property
    def resin_id(self) -> str:
        """The id of the laminating resin; empty where nobody said it."""
        return self.start.resin if self.start else ""

    @property
    def begun_with(self) -> Batches:
        """The batches that were planned as it began."""
        return self.start.batches if self.start else ()

    @property
    def seq(self) -> int:
        """The number of the last record; 0 before the first."""
        return self.records[-1].seq if self.records else 0

    @property
    def last_s(self) -> float:
        """The session time of the last record; 0 before the first."""
        return self.records[-1].elapsed_s if self.records else 0.0

    @property
    def moment(self) -> Moment | None:
        """The last record's instant by every clock: the session's age now is counted on from it."""
        if not self.records:
            return None
        monotonic_s = self.last_s + self.raw_offset_s
        return Moment(self.last_s, self.records[-1].at, monotonic_s, self.boot_id, self.sure, self.told)

    @property
    def contact_s(self) -> float | None:
        """When hardener first met resin; None before that."""
        return min((batch.mixed_s for batch in self.batches if batch.mixed_s is not None), default=None)

    @property
    def clock_unsure(self) -> bool:
        """Whether the session is only known to be "at least" as old as it says, and that matters."""
        return self.sure is not None and self.demoulded_s is None and self.ended_s is None

    @property
    def batches(self) -> tuple[BatchState, ...]:
        """All batches in the order of their numbers."""
        return tuple(self.batch_by_number.values())

    @property
    def steps(self) -> tuple[StepState, ...]:
        """All steps in the order of the bench: the plan's, with those added today in their places."""
        return tuple(self.step_by_number.values())

    @property
    def step_now(self) -> StepState | None:
        """The first step that is still to do."""
        return next((step for step in self.step_by_number.values() if step.left), None)

    def batch(self, number: int | None) -> BatchState | None:
        return self.batch_by_number.get(number or 0)

    def step(self, number: int) -> StepState | None:
        return self.step_by_number.get(number)

    def history(self, place: Place) -> History:
        return self.air if place == "air" else self.mould if place == "mould" else self.resin

    def record(self, seq: int | None) -> Record | None:
        place = bisect_left(self.records, seq or 0, key=lambda record: record.seq)
        return next((record for record in self.records[place : place + 1] if record.seq == seq), None)

    def put(self, batch: BatchState) -> None:
        """Take a batch as it is from now on, in a state that is being folded."""
        self.batch_by_number[batch.number] = batch

    def opened(self) -> SessionState:
        """Return a copy to fold records into: its tables are its own, and its rows are lists, which `add` fills."""
        state = copy(self)
        for name in _ROWS:
            setattr(state, name, list(getattr(self, name)))
        for name in _TABLES:
            setattr(state, name, dict(getattr(self, name)))
        return state

    def closed(self) -> SessionState:
        """Return this state after a fold, fit to be handed out."""
        for name in _ROWS:
            setattr(self, name, tuple(getattr(self, name)))
        return self


_ROWS = tuple(each.name for each in fields(SessionState) if each.default == () and each.name != "records")
_TABLES = tuple(each.name for each in fields(SessionState) if each.default_factory is dict)


def add(row: Sequence[T], value: T) -> None:
    """Add to a row of a state that is being folded; one that was handed out has no such rows."""
    cast("list[T]", row).append(value)


# -- the day ---------------------------------------------------------------------------------------------------------


class SessionStarted(Event):
    """The press day begins: what is built, of what, by whom, in which batches."""

    lasting = True
    event: Named[Literal["session-started"]] = "session-started"
    title: Name = Field(description="of the part")
    kind: SessionKind = Field(default="press", description=KIND)
    plan: Name = Field(description="folder of the plan")
    resin: Name = Field(description="id of the laminating resin")
    people: People
    pieces: Number = Field(description="pressed in one go")
    largest_cup_g: Mass | None = Field(default=None, description="the most mix in one cup, as set on Stack")
    fibre_fraction: Fraction | None = Field(default=None, description="target as set on Stack")
    """Cup and target where they differ from the plan file."""
    lessons_used: bool = Field(
        default=False, description="whether pace, losses and pot life were those that earlier sessions taught"
    )
    steps: tuple[StepPlan, ...] = Field(default=(), description=STEPS)
    batches: Batches = ()
    hazards_acknowledged: bool = Field(
        default=False, description="whether the cautions were on the screen before the day began"
    )

    def why_not(self, state: SessionState) -> str | None:
        if state.start is not None:
            return "the session has started already"
        if twice([plan.batch for plan in self.batches]):
            return "two of the batches have the same number"
        return "two of the steps have the same number" if twice([plan.step for plan in self.steps]) else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.start, state.started_at, state.people = self, stamp.at, self.people
        add(state.hands, (stamp.elapsed_s, self.people))
        state.step_by_number = {plan.step: StepState(plan) for plan in self.steps}
        numbered = sorted(self.batches, key=lambda plan: plan.batch)
        state.batch_by_number = {plan.batch: BatchState(plan) for plan in numbered}

    def describe(self) -> str:
        what = f"{self.title}, {self.people} at the bench"
        day, of = ("casting", "pours") if self.kind == "casting" else ("press", "batches")
        return f"{day} day begins: {what}, {len(self.batches)} {of} of {self.resin}"


def twice(numbers: Sequence[int]) -> bool:
    """Return whether one of the numbers stands there twice."""
    return len(set(numbers)) < len(numbers)


class NightExpected(Event):
    """The coldest that the shop is expected to get tonight, and how long after closing the part is wanted out."""

    after_the_end = True
    event: Named[Literal["night-expected"]] = "night-expected"
    coldest_K: Temperature = Field(description="the coldest that the shop is expected to get")
    out_by_s: Annotated[float, Field(ge=3600, le=14 * 86_400)] | None = Field(
        default=None, description="how long after closing the part is wanted out"
    )

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.night = self

    def describe(self) -> str:
        wanted = "" if self.out_by_s is None else f", part wanted out {in_hours(self.out_by_s)} after closing"
        return f"tonight down to {temperature(self.coldest_K, '.1f')}{wanted}"


# -- the finished part -----------------------------------------------------------------------------------------------


class Outcome(Event):
    """How the part turned out, in tags and words; a later one replaces it."""

    after_the_end = True
    event: Named[Literal["outcome"]] = "outcome"
    tags: tuple[Name, ...] = Field(default=(), description="words of the outcome")
    notes: Text = Field(default="", description="free words")

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.outcome = self

    def describe(self) -> str:
        return "outcome: " + (", ".join(self.tags) or "noted") + (f" - {self.notes}" if self.notes else "")


class Measured(Event):
    """What is measured of a part, once the press has closed on it."""

    after_the_end = True

    def why_not(self, state: SessionState) -> str | None:
        return "the press is not closed yet - there is no part to measure" if state.closed_s is None else None


class PartWeighed(Measured):
    """The finished part on the scale, and its pieces dry before the layup; a later weighing replaces it."""

    event: Named[Literal["part-weighed"]] = "part-weighed"
    part_g: MassAboveZero = Field(description="the finished part")
    dry_g: Mass = Field(description="all that is in the part but resin: cloth as laid, core, sheets, edges")
    offcut_g: Mass = Field(default=0.0, description="trimmed off before the part was weighed")
    cloth_g: Mass | None = Field(
        default=None, description="of the dry pieces the cloth, where that was weighed on its own"
    )
    left_g: Mass | None = Field(default=None, description="mix left in all cups, brushes and rollers")

    @model_validator(mode="after")
    def _resin_adds_weight(self) -> PartWeighed:
        if self.part_g + self.offcut_g < self.dry_g:
            raise PydanticCustomError("part_lighter", "the part with its offcuts weighs no less than its dry pieces")
        if self.cloth_g is not None and self.cloth_g > self.dry_g:
            raise PydanticCustomError("cloth_heavier", "the cloth weighs no more than all dry pieces")
        return self

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.weighed = self

    def describe(self) -> str:
        offcut = f" with {mass(self.offcut_g, 'g')} of offcuts" if self.offcut_g else ""
        left = "" if self.left_g is None else f", {mass(self.left_g, 'g')} left in cups and brushes"
        return f"part {mass(self.part_g, 'g')}{offcut}, its dry pieces {mass(self.dry_g, 'g')}{left}"


class CouponBurnt(Measured):
    """A coupon of the laminate, its resin burnt off (ISO 1172); `in_water_g` is what it weighed hanging in water."""

    event: Named[Literal["coupon-burnt"]] = "coupon-burnt"
    coupon_g: MassAboveZero = Field(description="the coupon before it was burnt")
    residue_g: Mass = Field(description="what the burnt coupon left")
    in_water_g: Mass | None = Field(default=None, description="what the coupon weighed hanging in water")
    readability_g: Annotated[float, Field(gt=0, le=1)] = Field(default=0.001, description="last digit of the scale")

    @model_validator(mode="after")
    def _burning_takes_weight(self) -> CouponBurnt:
        if self.residue_g >= self.coupon_g:
            raise PydanticCustomError("residue_heavier", "what is left of a coupon weighs less than the coupon")
        if self.in_water_g is not None and self.in_water_g >= self.coupon_g:
            raise PydanticCustomError("no_buoyancy", "a coupon weighs less in water than in air")
        return self

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        add(state.coupons, self)

    def describe(self) -> str:
        water = "" if self.in_water_g is None else f" ({mass(self.in_water_g, 'g')} in water)"
        return f"coupon of {mass(self.coupon_g, 'g')}{water} burnt off to {mass(self.residue_g, 'g')}"


class ThicknessMeasured(Measured):
    """The thickness of all full-width plies of one piece together, without core, sheets and strips."""

    event: Named[Literal["thickness-measured"]] = "thickness-measured"
    thickness_m: Depth = Field(description="of all full-width plies together")
    readability_m: Annotated[float, Field(gt=0, le=0.01)] = Field(
        default=5e-5, description="what the caliper may be off by, either way"
    )

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        add(state.thicknesses, self)

    def describe(self) -> str:
        return f"plies {length(self.thickness_m, '.2f')} thick"
