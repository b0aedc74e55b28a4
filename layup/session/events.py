"""What can happen in a session, one class an event.

Names carry their units. Every class is frozen and refuses unknown keys, so that a journal says what it means.
Text must already be plain (`text.clean_text`); a line that holds control codes is reported, not shown.

What events hold: values within their range, plain text, and a step or a batch as it was planned.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from layup.session.clock import FIRST_TIME, LAST_TIME
from layup.session.text import PLAIN_PATTERN

# -- event fields ----------------------------------------------------------------------------------------------------

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


# -- events ----------------------------------------------------------------------------------------------------------


class Event(BaseModel):
    """Something that happened, named by `event`."""

    model_config = STRICT
    event: str


class SessionStarted(Event):
    """The press day begins: what is built, of what, by whom, in which batches."""

    event: Literal["session-started"] = "session-started"
    title: Name
    plan: Name
    resin: Name
    people: Number
    pieces: Number
    largest_cup_g: Mass | None = None
    fibre_fraction: Fraction | None = None
    """Cup and target as set on the desk, where they differ from the plan file."""
    lessons_used: bool = False
    """Whether pace, losses and pot life were those that earlier sessions taught."""
    steps: tuple[StepPlan, ...] = ()
    batches: tuple[BatchPlan, ...] = ()
    hazards_acknowledged: bool = False


class JournalOpened(Event):
    """A process took the journal to write in it; `monotonic_s` is the raw clock of the boot `boot_id`."""

    event: Literal["journal-opened"] = "journal-opened"
    boot_id: Name
    monotonic_s: RawSeconds
    process_id: int
    program: Name
    reason: Literal["created", "resumed"]


class ClockJumped(Event):
    """Wall clock and monotonic clock disagree since the line before; `taken_s` is the time counted as passed."""

    event: Literal["clock-jumped"] = "clock-jumped"
    wall_s: RawSeconds
    monotonic_s: RawSeconds
    taken_s: Seconds


class MachineRestarted(Event):
    """The machine was off since the line before, or is another one: how long only its wall clock knows, if it does.

    `wall_s` is counted from the last line whose time is sure; `taken_s` is the time counted as passed.
    """

    event: Literal["machine-restarted"] = "machine-restarted"
    wall_s: RawSeconds
    taken_s: Seconds


class ClockTold(Event):
    """Somebody said what time it is after the machine was off; `taken_s` is counted on top for it."""

    event: Literal["clock-told"] = "clock-told"
    utc: At
    taken_s: Seconds


class LotRecorded(Event):
    """The lot number on a can."""

    event: Literal["lot-recorded"] = "lot-recorded"
    component: Component
    lot: Name


class PourRead(Event):
    """What the scale really showed for a batch."""

    event: Literal["pour-read"] = "pour-read"
    batch: Number
    resin_g: Mass
    hardener_g: Mass


class BatchMixed(Event):
    """Hardener met resin: the batch's clock starts here, at first contact."""

    event: Literal["batch-mixed"] = "batch-mixed"
    batch: Number
    resin_g: Mass
    hardener_g: Mass
    start_K: Temperature
    vessel: VesselKind = "cup"
    depth_m: Annotated[float, Field(gt=0, le=1)] | None = None

    @model_validator(mode="after")
    def _depth_goes_with_tray(self) -> BatchMixed:
        if (self.vessel == "tray") != (self.depth_m is not None):
            raise PydanticCustomError("tray_depth", "depth_m is stated for a tray and only for a tray")
        return self


class BatchPouredOut(Event):
    """The batch went from the cup onto the part."""

    event: Literal["batch-poured-out"] = "batch-poured-out"
    batch: Number
    despite: Doubt | None = None
    """What stood against it, where somebody was asked and laid it all the same."""


class BatchLost(Event):
    """The batch cannot be used: gelled, spilt, wrongly mixed."""

    event: Literal["batch-lost"] = "batch-lost"
    batch: Number
    why: Text = ""
    laid_g: Mass | None = None
    """What of it was on the part by then; where nobody said, what the steps took that were done since it was mixed."""


class StepDone(Event):
    """A step of the bench order is finished."""

    event: Literal["step-done"] = "step-done"
    step: Number
    despite: Doubt | None = None
    """The same of the mix that it was laid with."""


class TemperatureRead(Event):
    """A temperature of the shop, of the resin's cans or of the mould."""

    event: Literal["temperature-read"] = "temperature-read"
    place: Place
    temperature_K: Temperature
    source: Literal["typed", "thermometer"] = "typed"


class HumidityRead(Event):
    """The relative humidity of the shop's air, 0..1."""

    event: Literal["humidity-read"] = "humidity-read"
    relative_humidity: Fraction


class WoodMoistureRead(Event):
    """The moisture of the wood in the part: water over dry mass, 0..1."""

    event: Literal["wood-moisture-read"] = "wood-moisture-read"
    moisture_fraction: Fraction


class NightExpected(Event):
    """The coldest that the shop is expected to get tonight, and how long after closing the part is wanted out."""

    event: Literal["night-expected"] = "night-expected"
    coldest_K: Temperature
    out_by_s: Annotated[float, Field(ge=3600, le=14 * 86_400)] | None = None


class Checked(Event):
    """An item of the list "before you start" is ticked, or its tick is taken away."""

    event: Literal["checked"] = "checked"
    item: Name
    words: Name = ""
    done: bool = True


class Observation(Event):
    """How a batch looks on the stick or under the brush."""

    event: Literal["observation"] = "observation"
    batch: Number
    word: Word


class CupTemperatureRead(Event):
    """A temperature measured in a batch."""

    event: Literal["cup-temperature-read"] = "cup-temperature-read"
    batch: Number
    temperature_K: Temperature


class Note(Event):
    """Free words."""

    event: Literal["note"] = "note"
    text: Text


class AlarmAcknowledged(Event):
    """Somebody has seen an alarm: it is quiet from now on, unless its rank rises."""

    event: Literal["alarm-acknowledged"] = "alarm-acknowledged"
    alarm: Name
    rank: AlarmRank


class PeopleChanged(Event):
    """How many people work from now on."""

    event: Literal["people-changed"] = "people-changed"
    people: Number


class Replanned(Event):
    """The batches still to be mixed, instead of those planned before; mixed and lost ones stay as they are."""

    event: Literal["replanned"] = "replanned"
    batches: tuple[BatchPlan, ...]


class PressClosed(Event):
    """The press, clamps or bag hold the part."""

    event: Literal["press-closed"] = "press-closed"
    pressure_Pa: Annotated[float, Field(ge=0, le=1e9)] | None = None


class Demoulded(Event):
    """The part came out."""

    event: Literal["demoulded"] = "demoulded"


class Outcome(Event):
    """How the part turned out, in tags and words; a later one replaces it."""

    event: Literal["outcome"] = "outcome"
    tags: tuple[Name, ...] = ()
    notes: Text = ""


class PartWeighed(Event):
    """The finished part on the scale, and its pieces dry before the layup; a later weighing replaces it."""

    event: Literal["part-weighed"] = "part-weighed"
    part_g: Annotated[float, Field(gt=0, le=1e6)]
    dry_g: Mass
    """All that is in the part but resin: cloth as laid, core, sheets, edges."""
    offcut_g: Mass = 0.0
    """What was trimmed off before the part was weighed."""
    cloth_g: Mass | None = None
    """Of the dry pieces the cloth, where that was weighed on its own."""
    left_g: Mass | None = None
    """Mix left in all cups, brushes and rollers."""

    @model_validator(mode="after")
    def _resin_adds_weight(self) -> PartWeighed:
        if self.part_g + self.offcut_g < self.dry_g:
            raise PydanticCustomError("part_lighter", "the part with its offcuts weighs no less than its dry pieces")
        if self.cloth_g is not None and self.cloth_g > self.dry_g:
            raise PydanticCustomError("cloth_heavier", "the cloth weighs no more than all dry pieces")
        return self


class CouponBurnt(Event):
    """A coupon of the laminate, its resin burnt off (ISO 1172); `in_water_g` is what it weighed hanging in water."""

    event: Literal["coupon-burnt"] = "coupon-burnt"
    coupon_g: Annotated[float, Field(gt=0, le=1e6)]
    residue_g: Mass
    in_water_g: Mass | None = None
    readability_g: Annotated[float, Field(gt=0, le=1)] = 0.001
    """The last digit of the scale."""

    @model_validator(mode="after")
    def _burning_takes_weight(self) -> CouponBurnt:
        if self.residue_g >= self.coupon_g:
            raise PydanticCustomError("residue_heavier", "what is left of a coupon weighs less than the coupon")
        if self.in_water_g is not None and self.in_water_g >= self.coupon_g:
            raise PydanticCustomError("no_buoyancy", "a coupon weighs less in water than in air")
        return self


class ThicknessMeasured(Event):
    """The thickness of all full-width plies of one piece together, without core, sheets and strips."""

    event: Literal["thickness-measured"] = "thickness-measured"
    thickness_m: Annotated[float, Field(gt=0, le=1)]
    readability_m: Annotated[float, Field(gt=0, le=0.01)] = 5e-5
    """What the caliper may be off by, either way."""


class Undone(Event):
    """The event numbered `undone_seq` is taken back; undoing an undo brings its event back. Both stay in the file."""

    event: Literal["undone"] = "undone"
    undone_seq: Seq


class SessionEnded(Event):
    """The press day is over."""

    event: Literal["session-ended"] = "session-ended"
