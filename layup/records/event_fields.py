"""What events hold: values within their range, plain text, and a step or a batch as it was planned."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

from layup.records.clock import FIRST_TIME, LAST_TIME
from layup.records.text import PLAIN_PATTERN

NAME_LIMIT = 200
NOTE_LIMIT = 20_000
SEQ_LIMIT = 10**9
"""More lines than any journal has."""
AGE_LIMIT_S = 1e9
"""Thirty years."""

Name = Annotated[str, StringConstraints(max_length=NAME_LIMIT, pattern=PLAIN_PATTERN)]
Text = Annotated[str, StringConstraints(max_length=NOTE_LIMIT, pattern=PLAIN_PATTERN)]
Number = Annotated[int, Field(ge=1, le=1_000_000)]
Seq = Annotated[int, Field(ge=1, le=SEQ_LIMIT)]
At = Annotated[AwareDatetime, Field(ge=FIRST_TIME, le=LAST_TIME)]
Sum = Annotated[str, StringConstraints(max_length=32)]
Mass = Annotated[float, Field(ge=0, le=1e6)]
Seconds = Annotated[float, Field(ge=0, le=AGE_LIMIT_S)]
RawSeconds = Annotated[float, Field(ge=-1e12, le=1e12)]
"""What a raw clock or a wall clock may have moved by."""
Temperature = Annotated[float, Field(ge=200, le=600)]
Fraction = Annotated[float, Field(ge=0, le=1)]
Place = Literal["air", "resin", "mould"]
Word = Literal["runny", "thickening", "stringy", "gelled"]
Component = Literal["resin", "hardener"]
AlarmRank = Literal["when free", "soon", "now"]
VesselKind = Literal["cup", "tray"]
Doubt = Literal["off ratio", "unread"]

STRICT = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class StepPlan(BaseModel):
    """One step of the bench order as planned."""

    model_config = STRICT
    step: Number
    name: Name
    kind: Literal["fabric", "bond", "place", "cast"]
    planned_s: Seconds


class BatchPlan(BaseModel):
    """One batch as planned: what to weigh and the steps it serves."""

    model_config = STRICT
    batch: Number
    mass_g: Mass
    resin_g: Mass
    hardener_g: Mass
    steps: tuple[Number, ...] = ()
    shares: tuple[Fraction, ...] = ()
    """How much of each of those steps it lays, in the same order; empty where that was not planned."""
