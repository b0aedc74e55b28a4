"""One line of the journal: an event with the stamp that its writer adds, and the table of all kinds of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

from pydantic import BaseModel, ConfigDict, create_model

from layup.session.events import (
    STRICT,
    AlarmAcknowledged,
    At,
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    Checked,
    ClockJumped,
    ClockTold,
    CouponBurnt,
    CupTemperatureRead,
    Demoulded,
    Event,
    HumidityRead,
    JournalOpened,
    LotRecorded,
    MachineRestarted,
    NightExpected,
    Note,
    Observation,
    Outcome,
    PartWeighed,
    PeopleChanged,
    PourRead,
    PressClosed,
    Replanned,
    Seconds,
    Seq,
    SessionEnded,
    SessionStarted,
    StepDone,
    Sum,
    TemperatureRead,
    ThicknessMeasured,
    Undone,
    WoodMoistureRead,
)

EVENTS: tuple[type[Event], ...] = (
    *(SessionStarted, JournalOpened, ClockJumped, MachineRestarted, ClockTold),
    *(LotRecorded, PourRead, BatchMixed, BatchPouredOut, BatchLost),
    *(StepDone, TemperatureRead, HumidityRead, Observation, CupTemperatureRead, Note, PeopleChanged, Replanned),
    *(WoodMoistureRead, NightExpected, Checked),
    *(AlarmAcknowledged, PressClosed, Demoulded, Outcome, PartWeighed, CouponBurnt, ThicknessMeasured),
    *(Undone, SessionEnded),
)


class Stamp(BaseModel):
    """What the writer adds to an event: its number, the wall clock, and the session's age."""

    model_config = STRICT
    v: Literal[1, 2] = 2
    seq: Seq
    at: At
    elapsed_s: Seconds
    """Seconds since the session started, by the best of the clocks (see `clock.py`); never falls."""


class Record(Event, Stamp):
    """One line of the journal: an event with its stamp. `isinstance(record, BatchMixed)` tells which."""

    model_config = ConfigDict(json_schema_serialization_defaults_required=True)
    if TYPE_CHECKING:  # the last key of each line: see `_record_class`
        sum: str
        """What proves the line (see `sums.py`); empty in format 1, and until it is written."""


def event_name(kind: type[Event]) -> str:
    """Return the word that names this kind of event in the file."""
    return str(kind.model_fields["event"].default)


def _record_class(kind: type[Event]) -> type[Record]:
    """Return the class of a whole line: `kind` with a stamp, stamp first and sum last."""
    bases = cast("tuple[type[Record], ...]", (kind, Record))  # kind is an Event, which the signature cannot say
    return create_model(f"{kind.__name__}Record", __base__=bases, __doc__=kind.__doc__, sum=(Sum, ""))


RECORDS: dict[str, type[Record]] = {event_name(kind): _record_class(kind) for kind in EVENTS}
"""The class of a whole line, by event name; each is both the event's class and a Record."""
