"""The values that a journal's events hold, each within its range, and what the keys that stand in several mean.

Names carry their units. Every class is frozen and refuses unknown keys, so that a journal says what it means.
Text must already be plain (`text.clean_text`); a line that holds control codes is reported, not shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, Literal, TypeVar

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from layup.chemistry.looks import ToldWord
from layup.session.clock import FIRST_TIME, LAST_TIME
from layup.session.text import NAME_LIMIT, NOTE_LIMIT, PLAIN_PATTERN

SEQ_LIMIT = 10**9
"""More lines than any journal has."""
AGE_LIMIT_S = 1e9
"""Thirty years."""

Name = Annotated[str, StringConstraints(max_length=NAME_LIMIT, pattern=PLAIN_PATTERN)]
Text = Annotated[str, StringConstraints(max_length=NOTE_LIMIT, pattern=PLAIN_PATTERN)]
PhotoName = Annotated[str, StringConstraints(max_length=80, pattern=r"^[a-z0-9][a-z0-9-]*\.(png|jpg)$")]
"""A name that is safe on every system, and leads nowhere else."""
Digest = Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]
"""SHA-256 in hex."""
Number = Annotated[int, Field(ge=1, le=1_000_000)]
Seq = Annotated[int, Field(ge=1, le=SEQ_LIMIT)]
At = Annotated[AwareDatetime, Field(ge=FIRST_TIME, le=LAST_TIME)]
Mass = Annotated[float, Field(ge=0, le=1e6)]
MassAboveZero = Annotated[float, Field(gt=0, le=1e6)]
Seconds = Annotated[float, Field(ge=0, le=AGE_LIMIT_S)]
RawSeconds = Annotated[float, Field(ge=-1e12, le=1e12)]
"""What a raw clock or a wall clock may have moved by."""
Temperature = Annotated[float, Field(ge=200, le=600)]


def _in_order(course: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    if any(after[0] <= before[0] for before, after in pairwise(course)):
        raise PydanticCustomError("course", "times of a course increase")
    return course


Course = Annotated[
    tuple[tuple[Annotated[float, Field(ge=0, le=86_400)], Temperature], ...],
    Field(min_length=1, max_length=1500),
    AfterValidator(_in_order),
]
"""A day, from midnight on."""
Fraction = Annotated[float, Field(ge=0, le=1)]
Depth = Annotated[float, Field(gt=0, le=1)]
Pressure = Annotated[float, Field(ge=0, le=1e9)]
Place = Literal["air", "resin", "mould"]
Component = Literal["resin", "hardener"]
AlarmRank = Literal["when free", "soon", "now"]
VesselKind = Literal["cup", "tray"]
KIND = "of a step: fabric, bond, place or cast; of a session: press, or what else it was"
SessionKind = Literal["press", "casting", "dry run", "trial", "recalled"]
Doubt = Literal["off ratio", "unread", "hot"]

# -- keys of several events: each means the same in all --------------------------------------------------------------

T = TypeVar("T")
Named = Annotated[T, Field(description="what happened")]
BatchNumber = Annotated[Number, Field(description="number of the batch")]
StepNumber = Annotated[Number, Field(description="number of the step in the plan")]
ResinMass = Annotated[Mass, Field(description="resin in the batch")]
HardenerMass = Annotated[Mass, Field(description="hardener in the batch")]
ShownTemperature = Annotated[Temperature, Field(description="what it showed")]
People = Annotated[Number, Field(description="hands on the job")]
WallTime = Annotated[RawSeconds, Field(description="time passed by the wall clock")]
RawTime = Annotated[RawSeconds, Field(description="raw clock that no one can set")]
TakenTime = Annotated[Seconds, Field(description="the time that is counted as passed")]
Despite = Annotated[
    Doubt | None,
    Field(description="what stood against laying the mix, where somebody was asked and laid it all the same"),
]
STEPS = "steps of the plan: all of them, or those that the batch serves"

STRICT = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class StepPlan(BaseModel):
    """One step of the bench order as planned."""

    model_config = STRICT
    step: StepNumber
    name: Name = Field(description="as the plan names it")
    kind: Literal["fabric", "bond", "place", "cast"] = Field(description=KIND)
    planned_s: Seconds = Field(description="time that the step was planned to take")


class BatchPlan(BaseModel):
    """One batch as planned: what to weigh and the steps it serves."""

    model_config = STRICT
    batch: BatchNumber
    mass_g: Mass = Field(description="resin and hardener together")
    resin_g: ResinMass
    hardener_g: HardenerMass
    steps: tuple[Number, ...] = Field(default=(), description=STEPS)
    shares: tuple[Fraction, ...] = Field(
        default=(), description="how much of each of its steps the batch lays, in the same order"
    )
    """Empty where that was not planned."""


def batch_plan(
    number: int, mass_g: float, parts_g: Sequence[float], steps: tuple[int, ...] = (), shares: tuple[float, ...] = ()
) -> BatchPlan:
    """Return a batch as planned, of so much resin and hardener."""
    resin_g, hardener_g = parts_g
    return BatchPlan(batch=number, mass_g=mass_g, resin_g=resin_g, hardener_g=hardener_g, steps=steps, shares=shares)


Batches = Annotated[tuple[BatchPlan, ...], Field(description="the batches to mix")]


class Stamp(BaseModel):
    """What the writer adds to an event: its number, the wall clock, and the session's age."""

    model_config = STRICT
    v: Literal[1, 2] = Field(default=2, description="version of the format")
    seq: Seq = Field(description="number of the line, from 1")
    at: At = Field(description="wall clock, UTC")
    elapsed_s: Seconds = Field(description="age of the session by the best of the clocks; never falls")
    """Seconds since the session started (see `clock.py`)."""
    happened_s: Seconds | None = Field(
        default=None, description="age of the session when it happened, where that was told afterwards; else absent"
    )

    @property
    def when_s(self) -> float:
        """When it happened: as it was told, or as it was written."""
        return self.elapsed_s if self.happened_s is None else min(self.happened_s, self.elapsed_s)


# -- a day told from memory ------------------------------------------------------------------------------------------


class Width(BaseModel):
    """A number as somebody remembers it: exact where all three are one, else from the low to the high edge."""

    model_config = STRICT
    low: float = Field(description="one in ten is below it")
    likely: float = Field(description="the likeliest")
    high: float = Field(description="one in ten is above it")
    about: bool = Field(default=False, description="told as about the likeliest, not as a range")

    @model_validator(mode="after")
    def _in_order(self) -> Width:
        if not self.low <= self.likely <= self.high:
            raise PydanticCustomError("width", "low, likely and high come in this order")
        return self

    @property
    def exact(self) -> bool:
        """Whether it was told without any width."""
        return self.low == self.high


class ToldDay(BaseModel):
    """What somebody remembers of a layup; what is null, or empty, is not known."""

    model_config = STRICT
    resin_known: bool = Field(description="whether it is known which resin it was")
    shop_K: Width | None = Field(default=None, description="how warm the shop was")
    cup_g: Width | None = Field(default=None, description="mix in each cup")
    cups: Number = Field(default=1, description="cups mixed at once")
    thick_s: Width | None = Field(default=None, description="when the mix was seen to be past use, from first contact")
    look: ToldWord | None = Field(default=None, description="how it looked then")
    steps_done: Width | None = Field(default=None, description="how many steps were on the part by then")
    closed: bool | None = Field(default=None, description="whether the press was closed on it")
    closed_s: Width | None = Field(default=None, description="when, from first contact")
    people: Number | None = Field(default=None, description="hands on the job")
    wrong: Text = Field(default="", description="what went wrong, in one's own words")
    when: Name = Field(default="", description="when that was, as it was told")
