"""All kinds of events, the lines that they make, and the state that these amount to.

Pure: the same records give the same state. `fold` replays a whole journal; `extend` adds to a state. What
does not fit changes nothing and is kept in `misfits`. An undo replays the journal without the event it takes back; what
was told afterwards replays it in the order in which things happened, so that it counts as if told at its time. The
events that nobody takes back, of the clocks and of a day from memory, stand here too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from itertools import pairwise
from operator import attrgetter
from typing import Annotated, Literal, cast

from pydantic import Field, StringConstraints, create_model

from layup.errors import InputError
from layup.session import batch_events as batch
from layup.session import day_events as day
from layup.session import state as kept
from layup.session.clock import Instant, told_instant
from layup.session.day_events import Undone
from layup.session.fields import At, Name, Named, RawTime, Stamp, TakenTime, ToldDay, WallTime
from layup.session.state import Event, Record, SessionStarted, SessionState, add
from layup.session.state_parts import Misfit
from layup.units import clock_time, utc_stamp

# -- what stays --------------------------------------------------------------------------------------------------------


class ClockEvent(Event):
    """What the clocks did, or what was said of them."""

    any_time = True
    lasting = True


class JournalOpened(ClockEvent):
    """A process took the journal to write in it; `monotonic_s` is the raw clock of the boot `boot_id`."""

    event: Named[Literal["journal-opened"]] = "journal-opened"
    boot_id: Name = Field(description="names the run of the machine that monotonic_s counts in")
    monotonic_s: RawTime
    process_id: int = Field(description="of the program that writes")
    program: Name = Field(description="its name and version")
    reason: Literal["created", "resumed"] = Field(description="a new session, or one gone on with")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Count on by this boot's clock."""
        state.boot_id, state.raw_offset_s = self.boot_id, self.monotonic_s - stamp.elapsed_s

    def describe(self) -> str:
        return "journal opened" if self.reason == "created" else "journal opened again"


class ClockJumped(ClockEvent):
    """Wall clock and monotonic clock disagree since the line before; `taken_s` is the time counted as passed."""

    event: Named[Literal["clock-jumped"]] = "clock-jumped"
    wall_s: WallTime
    monotonic_s: RawTime
    taken_s: TakenTime

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        """Count on from it."""
        state.raw_offset_s += self.monotonic_s - self.taken_s

    def describe(self) -> str:
        return f"the computer's clock jumped; {self.taken_s:.0f} s counted"


class MachineRestarted(ClockEvent):
    """The machine was off since the line before, or is another one: how long only its wall clock knows, if it does.

    `wall_s` is counted from the last line whose time is sure; `taken_s` is the time counted as passed.
    """

    event: Named[Literal["machine-restarted"]] = "machine-restarted"
    wall_s: WallTime
    taken_s: TakenTime

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Keep the last instant whose age was sure."""
        if state.sure is None:
            state.sure = Instant(stamp.elapsed_s - self.taken_s, stamp.at - timedelta(seconds=self.wall_s))
        state.told = None

    def describe(self) -> str:
        return f"the machine was off, or is another one; {self.taken_s:.0f} s counted"


class ClockTold(ClockEvent):
    """Somebody said what time it is after the machine was off; `taken_s` is counted on top for it."""

    event: Named[Literal["clock-told"]] = "clock-told"
    utc: At = Field(description="what time it is")
    taken_s: TakenTime

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.sure, state.told = None, told_instant(stamp.elapsed_s, self.utc, stamp.at)
        state.raw_offset_s -= self.taken_s

    def describe(self) -> str:
        return f"the time is {utc_stamp(self.utc)}; {self.taken_s:.0f} s counted"


class Recalled(Event):
    """A day told from memory: the entries beside it stand at the likeliest times, and this says how wide they are."""

    lasting = True
    event: Named[Literal["recalled"]] = "recalled"
    told: ToldDay = Field(description="what is remembered")

    def why_not(self, state: SessionState) -> str | None:
        if state.kind != "recalled":
            return "this session was logged as it went"
        return "this day was told already" if state.recalled is not None else None

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.recalled = self.told

    def describe(self) -> str:
        return "told from memory" + (f": {self.told.when}" if self.told.when else "")


# -- all kinds -------------------------------------------------------------------------------------------------------

EVENTS: tuple[type[Event], ...] = (
    *(SessionStarted, JournalOpened, ClockJumped, MachineRestarted, ClockTold),
    *(day.LotRecorded, batch.PourRead, batch.ScaleZeroed, batch.BatchMixed, batch.BatchPouredOut, batch.BatchLost),
    *(batch.StepDone, day.TemperatureRead, day.HumidityRead, batch.Observation, batch.CupTemperatureRead),
    *(day.Note, day.PhotoAdded, day.PeopleChanged, batch.Replanned, day.WoodMoistureRead),
    *(kept.NightExpected, day.ShopForecast, day.Checked, Recalled),
    *(day.StepSkipped, day.StepMerged, day.StepAdded, batch.MixLeft),
    *(day.AlarmAcknowledged, batch.PressClosed, batch.Tightened, batch.Retightened, batch.Demoulded),
    *(kept.Outcome, kept.PartWeighed, kept.CouponBurnt, kept.ThicknessMeasured),
    *(day.CarriedForward, day.CarrySettled),
    *(Undone, day.SessionEnded),
)
"""In the order of the published schema."""
Sum = Annotated[
    str, StringConstraints(max_length=32), Field(description="proves the line; absent from lines of format 1")
]


def _record_class(kind: type[Event]) -> type[Record]:
    """Return the class of a whole line: `kind` with a stamp, stamp first and sum last."""
    bases = cast("tuple[type[Record], ...]", (kind, Record))  # kind is an Event, which the signature cannot say
    return create_model(f"{kind.__name__}Record", __base__=bases, __doc__=kind.__doc__, sum=(Sum, ""))


RECORDS: dict[str, type[Record]] = {str(kind.model_fields["event"].default): _record_class(kind) for kind in EVENTS}
"""The class of a whole line, by event name; each is both the event's class and a Record."""


def record_of(event: Event, stamp: Mapping[str, object]) -> Record:
    """Return the line that an event makes with a stamp."""
    return RECORDS[event.event].model_validate({**stamp, **dict(event)})


def fold(records: Iterable[Record]) -> SessionState:
    """Return the state after all `records`, which are in the order of the journal."""
    return extend(SessionState(), tuple(records))


def extend(state: SessionState, records: Sequence[Record]) -> SessionState:
    """Return the state after some more records, itself unchanged."""
    whole = (*state.records, *records)
    cancelled, void = state.cancelled, dict[int, str]()
    if any(isinstance(record, Undone) for record in records) or set(map(_TOLD, records)) - {None}:
        cancelled, void = _undone(whole)
        state, records = SessionState(), whole
    draft = state.opened()
    draft.records, draft.cancelled = whole, cancelled
    told = set(map(_TOLD, records)) - {None}
    for record in sorted(records, key=_WHEN) if told else records:
        if record.seq in void:
            add(draft.misfits, Misfit(record.seq, record.event, void[record.seq]))
        elif record.seq not in cancelled:
            _take(draft, record)
    _keep_keys(draft, records, void)
    return draft.closed()


_TOLD, _WHEN = attrgetter("happened_s"), attrgetter("when_s", "seq")


def _take(draft: SessionState, record: Record) -> None:
    """Let one record count, or keep it as a misfit."""
    why = _why_not(draft, record) if record.happened_s is None else _why_not_then(draft, record)
    if why is None:
        record.apply(draft, record)
    else:
        add(draft.misfits, Misfit(record.seq, record.event, why))


def _keep_keys(draft: SessionState, records: Sequence[Record], void: Mapping[int, str]) -> None:
    """Keep what the undo and the redo key take back: that goes by the journal, and not by when things happened."""
    redo_known = False
    for record in reversed(records):
        counts = record.seq not in draft.cancelled
        if record.by_hand:
            draft.redoable, redo_known = draft.redoable if redo_known else None, True
            if counts:
                draft.undoable = record.seq
                return
        elif isinstance(record, Undone) and counts and not redo_known and record.seq not in void:
            redo_known = not isinstance(draft.record(record.undone_seq), Undone)
            draft.redoable = record.seq if redo_known else draft.redoable


def _why_not_then(state: SessionState, record: Record) -> str | None:
    if record.any_time or record.lasting:
        return "this cannot be told afterwards"
    if record.when_s != record.happened_s:
        return "it was written before it happened"
    return _why_not(state, record)


def _why_not(state: SessionState, event: Event) -> str | None:
    """Return why `event` cannot apply now, or None if it can. Undo is judged in `refusal`."""
    if event.any_time:
        return None
    if state.start is None and not isinstance(event, SessionStarted):
        return "the session has not started"
    if state.ended_s is not None and not event.after_the_end:
        return "the session has ended - undo brings it back"
    return event.why_not(state)


def refusal(state: SessionState, event: Event, happened_s: float | None = None) -> str | None:
    """Return why `event` cannot be logged now, in words for the person who pressed its key, or None if it can.

    One told afterwards is judged as what it would have been at its time, and by what was logged since.
    """
    if happened_s is None and not isinstance(event, Undone):
        return _why_not(state, event)
    if isinstance(event, Undone):
        if event.undone_seq == state.undoable:
            return None  # nothing logged by hand since, so nothing builds on it
        if event.undone_seq in state.cancelled:
            return f"event {event.undone_seq} is undone already"
    return _refused(state, ((event, happened_s),))


def require_all(state: SessionState, events: Iterable[Event]) -> None:
    """Raise InputError for the first of some events that cannot be logged now."""
    for event in events:
        why = refusal(state, event)
        if why is not None:
            raise InputError(event.event.replace("-", " "), "cannot be recorded", value=why)


def retelling(state: SessionState, seq: int, happened_s: float) -> tuple[Undone, Event] | str:
    """Return what gives an entry another time: it is taken back, and told for then; or why it cannot be."""
    record = state.record(seq)
    if record is None or seq in state.cancelled:
        return f"there is no entry {seq} to give another time"
    event = _event_of(record)
    undo = Undone(undone_seq=seq, told_s=happened_s)
    return _refused(state, ((undo, None), (event, happened_s))) or (undo, event)


def half_told(state: SessionState) -> tuple[Event, float] | None:
    """Return the entry that was taken back to be told for another time, and that time, where the power then failed."""
    undo: Event | None = next(reversed(state.records), None)
    if not isinstance(undo, Undone) or undo.told_s is None:
        return None
    record = state.record(undo.undone_seq)
    return None if record is None else (_event_of(record), undo.told_s)


def as_logged(state: SessionState, event: Event, happened_s: float | None) -> Record:
    """Return the record that an event would be as the next one, no later than it has to be."""
    elapsed_s = max(state.last_s, happened_s or 0.0)
    at = state.records[-1].at
    return record_of(event, {"seq": state.seq + 1, "at": at, "elapsed_s": elapsed_s, "happened_s": happened_s})


def as_told(records: Sequence[Record]) -> tuple[Record, ...]:
    """Return the records without those that were given another time, nor what took these back for it."""
    gone: set[int] = set()
    known = {record.seq: record for record in records}
    for undo, told in pairwise(records):
        if isinstance(undo, Undone) and told.happened_s is not None:
            first = known.get(undo.undone_seq)
            gone |= {undo.seq, undo.undone_seq} if first is not None and first.event == told.event else set()
    return tuple(record for record in records if record.seq not in gone)


def _event_of(record: Record) -> Event:
    """Return what a record says, without its stamp."""
    kind = next(kind for kind in EVENTS if isinstance(record, kind))
    return kind.model_validate({name: getattr(record, name) for name in kind.model_fields})


def _refused(state: SessionState, events: Sequence[tuple[Event, float | None]]) -> str | None:
    """Return why some events, each with the time it is told for, cannot be logged together; None if they can."""
    if state.moment is None:
        return "nothing has been logged yet"
    after = state
    for event, told_s in events:
        after = extend(after, (as_logged(after, event, told_s),))
    known = {misfit.seq for misfit in state.misfits}
    first = next((misfit for misfit in after.misfits if misfit.seq not in known), None)
    if first is None:
        told = (event.step for event, told_s in events if isinstance(event, batch.StepDone) and told_s is not None)
        return next(filter(None, (_against_bench_order(state, after, number) for number in told)), None)
    if first.seq > state.seq:
        return first.why
    event = events[-1][0]
    if isinstance(event, Undone):
        return f"event {first.seq} ({first.event}) builds on event {event.undone_seq} - undo that first"
    return f"then event {first.seq} ({first.event}) could not have been: {first.why}"


def _against_bench_order(state: SessionState, after: SessionState, number: int) -> str | None:
    """Return what stands against a time told for a step: one before it was done later, or one behind it that was done
    after it would come first; None if nothing does."""
    at_s, place = after.step_by_number[number].done_s or 0.0, list(after.step_by_number).index(number)
    sooner, later = after.steps[:place], after.steps[place:] if state.step_by_number[number].done_s is not None else ()
    against = [step for step in sooner if step.done_s is not None and step.done_s > at_s][-1:]
    against += [step for step in later if step.done_s is not None and step.done_s < at_s][:1]
    if not against:
        return None
    step, known = against[0], state.told or Instant(state.last_s, state.records[-1].at)
    done = clock_time(known.time(step.done_s or 0.0).astimezone())
    return f"{step.plan.name} comes {'first' if step in sooner else 'after it'}, and was done at {done}"


def _undone(records: Sequence[Record]) -> tuple[frozenset[int], dict[int, str]]:
    """Return the numbers of the undone records, and the undos that can take nothing back with the reason.

    The last undo always counts; so read backwards, where each undo that still counts takes back its target.
    """
    known = {record.seq: record for record in records}
    cancelled: set[int] = set()
    void = {}
    for undo in [record for record in reversed(records) if isinstance(record, Undone)]:
        target = known.get(undo.undone_seq)
        if undo.seq in cancelled:
            continue
        if target is None or target.seq >= undo.seq:
            void[undo.seq] = f"there is no event {undo.undone_seq} to undo"
        elif target.lasting:
            void[undo.seq] = f"event {target.seq} ({target.event}) cannot be undone"
        else:
            cancelled.add(target.seq)
    return frozenset(cancelled), void
