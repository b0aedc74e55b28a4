"""The state of a session, folded from its records. Pure: the same records give the same state.

`fold` replays a whole journal; `apply` adds one record. What does not fit (see `rules.py`) changes nothing and is
kept in `misfits`. An undo replays the journal without the event it takes back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from layup.chemistry.temperature import History
from layup.session.changes import LASTING, apply_record
from layup.session.clock import Instant, Jump, Moment
from layup.session.draft import Draft
from layup.session.events import (
    CouponBurnt,
    Event,
    NightExpected,
    Outcome,
    PartWeighed,
    Place,
    SessionStarted,
    ThicknessMeasured,
    Undone,
)
from layup.session.facts import AlarmSeen, BatchState, LotSeen, Misfit, NoteTaken, StepState, Tick
from layup.session.record import RECORDS, Record
from layup.session.rules import why_not


@dataclass(frozen=True, slots=True)
class SessionState:
    """Everything known of a session after some record. Times ending in `_s` are seconds since it started."""

    start: SessionStarted | None = None
    """Title, plan, resin, pieces and the first batches, as logged at the start."""
    started_at: datetime | None = None
    people: int = 0
    batches: tuple[BatchState, ...] = ()
    """In the order of their numbers; those that a new plan dropped unmixed are gone."""
    steps: tuple[StepState, ...] = ()
    air: History = ()
    """(session time in s, temperature in K), as `chemistry.potlife` integrates it."""
    resin: History = ()
    mould: History = ()
    humidity: History = ()
    """(session time in s, relative humidity 0..1)."""
    wood_moisture: float | None = None
    """Water over dry mass of the wood, as last read."""
    night: NightExpected | None = None
    ticks: tuple[Tick, ...] = ()
    """The items of the list "before you start" that are ticked, in the order of ticking."""
    lots: tuple[LotSeen, ...] = ()
    notes: tuple[NoteTaken, ...] = ()
    acknowledged: tuple[AlarmSeen, ...] = ()
    """The last acknowledgement of each alarm."""
    closed_s: float | None = None
    """When the press was closed."""
    pressure_Pa: float | None = None
    demoulded_s: float | None = None
    outcome: Outcome | None = None
    weighed: PartWeighed | None = None
    coupons: tuple[CouponBurnt, ...] = ()
    thicknesses: tuple[ThicknessMeasured, ...] = ()
    ended_s: float | None = None
    jumps: tuple[tuple[float, Jump], ...] = ()
    """(session time in s, what the clocks did), to be shown."""
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
    def started(self) -> bool:
        """Whether session-started was seen."""
        return self.start is not None

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
    def clock_unsure(self) -> bool:
        """Whether the session is only known to be "at least" as old as it says, and that matters."""
        return self.sure is not None and self.demoulded_s is None and self.ended_s is None

    @property
    def step_now(self) -> StepState | None:
        """The first step that is not done."""
        return next((step for step in self.steps if step.done_s is None), None)

    def batch(self, number: int) -> BatchState | None:
        """Return a batch by its number."""
        return next((batch for batch in self.batches if batch.number == number), None)

    def step(self, number: int) -> StepState | None:
        """Return a step by its number."""
        return next((step for step in self.steps if step.number == number), None)

    def history(self, place: Place) -> History:
        """Return the temperatures read at one place."""
        return {"air": self.air, "resin": self.resin, "mould": self.mould}[place]

    def record(self, seq: int) -> Record | None:
        """Return a record by its number."""
        return next((record for record in reversed(self.records) if record.seq == seq), None)


def fold(records: Iterable[Record]) -> SessionState:
    """Return the state after all `records`, in the order of the journal."""
    kept = tuple(records)
    cancelled, void = _undone(kept)
    draft = Draft()
    for record in kept:
        if record.seq in void:
            draft.misfits.append(Misfit(record.seq, record.event, void[record.seq]))
        else:
            apply_record(draft, record, counts=record.seq not in cancelled)
    return _freeze(draft, kept, cancelled)


def apply(state: SessionState, record: Record) -> SessionState:
    """Return the state after one more record; the same as folding all of them."""
    records = (*state.records, record)
    if isinstance(record, Undone):
        return fold(records)
    draft = _thaw(state)
    apply_record(draft, record, counts=True)
    return _freeze(draft, records, state.cancelled)


def extend(state: SessionState, records: Sequence[Record]) -> SessionState:
    """Return the state after some more records."""
    if len(records) > 20:
        return fold((*state.records, *records))
    for record in records:
        state = apply(state, record)
    return state


def refusal(state: SessionState, event: Event) -> str | None:
    """Return why `event` cannot be logged now, in words for the person who pressed its key, or None if it can."""
    if not isinstance(event, Undone):
        return why_not(state, event)
    if (moment := state.moment) is None:
        return "nothing has been logged yet"
    if event.undone_seq == state.undoable:
        return None  # nothing logged by hand since, so nothing builds on it
    if event.undone_seq in state.cancelled:
        return f"event {event.undone_seq} is undone already"
    record = RECORDS["undone"].model_validate(
        {"seq": state.seq + 1, "at": moment.utc, "elapsed_s": moment.elapsed_s, "undone_seq": event.undone_seq}
    )
    without = apply(state, record)
    news = [misfit for misfit in without.misfits if misfit not in state.misfits]
    if not news:
        return None
    first = news[0]
    if first.seq == record.seq:
        return first.why
    return f"event {first.seq} ({first.event}) builds on event {event.undone_seq} - undo that first"


def _undone(records: Sequence[Record]) -> tuple[frozenset[int], dict[int, str]]:
    """Return the numbers of the undone records, and the undos that can take nothing back with the reason.

    The last undo always counts; so read backwards, where each undo that still counts takes back its target.
    """
    undos = [record for record in records if isinstance(record, Undone)]
    if not undos:
        return frozenset(), {}
    names = {record.seq: record.event for record in records}
    cancelled: set[int] = set()
    void = {}
    for undo in reversed(undos):
        target = undo.undone_seq
        if undo.seq in cancelled:
            continue
        if target not in names or target >= undo.seq:
            void[undo.seq] = f"there is no event {target} to undo"
        elif names[target] in LASTING:
            void[undo.seq] = f"event {target} ({names[target]}) cannot be undone"
        else:
            cancelled.add(target)
    return frozenset(cancelled), void


def _thaw(state: SessionState) -> Draft:
    return Draft(
        start=state.start,
        started_at=state.started_at,
        people=state.people,
        batches={batch.number: batch for batch in state.batches},
        steps={step.number: step for step in state.steps},
        temperatures={"air": list(state.air), "resin": list(state.resin), "mould": list(state.mould)},
        humidity=list(state.humidity),
        wood_moisture=state.wood_moisture,
        night=state.night,
        ticks={tick.item: tick for tick in state.ticks},
        lots=list(state.lots),
        notes=list(state.notes),
        acknowledged={seen.alarm: seen for seen in state.acknowledged},
        closed_s=state.closed_s,
        pressure_Pa=state.pressure_Pa,
        demoulded_s=state.demoulded_s,
        outcome=state.outcome,
        weighed=state.weighed,
        coupons=list(state.coupons),
        thicknesses=list(state.thicknesses),
        ended_s=state.ended_s,
        jumps=list(state.jumps),
        boot_id=state.boot_id,
        raw_offset_s=state.raw_offset_s,
        sure=state.sure,
        told=state.told,
        undoable=state.undoable,
        redoable=state.redoable,
        misfits=list(state.misfits),
    )


def _freeze(draft: Draft, records: tuple[Record, ...], cancelled: frozenset[int]) -> SessionState:
    return SessionState(
        start=draft.start,
        started_at=draft.started_at,
        people=draft.people,
        batches=tuple(draft.batches.values()),
        steps=tuple(draft.steps.values()),
        air=tuple(draft.temperatures["air"]),
        resin=tuple(draft.temperatures["resin"]),
        mould=tuple(draft.temperatures["mould"]),
        humidity=tuple(draft.humidity),
        wood_moisture=draft.wood_moisture,
        night=draft.night,
        ticks=tuple(draft.ticks.values()),
        lots=tuple(draft.lots),
        notes=tuple(draft.notes),
        acknowledged=tuple(draft.acknowledged.values()),
        closed_s=draft.closed_s,
        pressure_Pa=draft.pressure_Pa,
        demoulded_s=draft.demoulded_s,
        outcome=draft.outcome,
        weighed=draft.weighed,
        coupons=tuple(draft.coupons),
        thicknesses=tuple(draft.thicknesses),
        ended_s=draft.ended_s,
        jumps=tuple(draft.jumps),
        boot_id=draft.boot_id,
        raw_offset_s=draft.raw_offset_s,
        sure=draft.sure,
        told=draft.told,
        undoable=draft.undoable,
        redoable=draft.redoable,
        misfits=tuple(draft.misfits),
        records=records,
        cancelled=cancelled,
    )
