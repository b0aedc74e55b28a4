"""What each kind of event changes in the state of a session that is being folded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import TypeVar, cast

from layup.session.clock import Instant, Jump, told_instant
from layup.session.draft import Draft, Reading
from layup.session.events import (
    AlarmAcknowledged,
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
    SessionEnded,
    SessionStarted,
    StepDone,
    TemperatureRead,
    ThicknessMeasured,
    Undone,
    WoodMoistureRead,
)
from layup.session.facts import AlarmSeen, BatchState, LotSeen, Misfit, NoteTaken, StepState, Tick, done_with
from layup.session.record import Record, Stamp, event_name
from layup.session.rules import ANY_TIME, why_not

LASTING = (ANY_TIME - {"undone"}) | {"session-started"}
"""Events that stay: nobody can take back that the session started or what the clocks did."""


def apply_record(draft: Draft, record: Record, *, counts: bool) -> None:
    """Let one record count, or keep it as a misfit; one that does not count is undone, and only noticed."""
    if _by_hand(record):
        draft.redoable = None
        if counts:
            draft.undoable = record.seq
    elif record.event == "undone":
        draft.undos.add(record.seq)
    if not counts:
        return
    why = why_not(draft, record)
    if why is not None:
        draft.misfits.append(Misfit(record.seq, record.event, why))
    elif record.event in _HANDLERS:
        _HANDLERS[record.event](draft, record, record)


def _by_hand(record: Record) -> bool:
    """Return whether a person logged this, so that the undo key takes it back."""
    name = record.event
    if name in ANY_TIME or name == "session-started":
        return False
    return name != "temperature-read" or not isinstance(record, TemperatureRead) or record.source == "typed"


E = TypeVar("E", bound=Event)
_Handler = Callable[[Draft, Stamp, Event], None]
_HANDLERS: dict[str, _Handler] = {}


def _on(kind: type[E]) -> Callable[[Callable[[Draft, Stamp, E], None]], Callable[[Draft, Stamp, E], None]]:
    """Register what one kind of event does to a draft. A record is both arguments: its stamp and its event."""

    def register(handler: Callable[[Draft, Stamp, E], None]) -> Callable[[Draft, Stamp, E], None]:
        _HANDLERS[event_name(kind)] = cast(_Handler, handler)  # called only with events of this name
        return handler

    return register


@_on(SessionStarted)
def _session_started(draft: Draft, stamp: Stamp, event: SessionStarted) -> None:
    draft.start = event
    draft.started_at = stamp.at
    draft.people = event.people
    draft.steps = {plan.step: StepState(plan) for plan in event.steps}
    draft.batches = {plan.batch: BatchState(plan) for plan in sorted(event.batches, key=lambda plan: plan.batch)}


@_on(JournalOpened)
def _journal_opened(draft: Draft, stamp: Stamp, event: JournalOpened) -> None:
    draft.boot_id = event.boot_id
    draft.raw_offset_s = event.monotonic_s - stamp.elapsed_s


@_on(ClockJumped)
def _clock_jumped(draft: Draft, stamp: Stamp, event: ClockJumped) -> None:
    draft.jumps.append((stamp.elapsed_s, Jump(event.wall_s, event.monotonic_s, event.taken_s)))
    draft.raw_offset_s += event.monotonic_s - event.taken_s


@_on(MachineRestarted)
def _machine_restarted(draft: Draft, stamp: Stamp, event: MachineRestarted) -> None:
    draft.jumps.append((stamp.elapsed_s, Jump(event.wall_s, 0.0, event.taken_s, restarted=True)))
    if draft.sure is None:
        draft.sure = Instant(stamp.elapsed_s - event.taken_s, stamp.at - timedelta(seconds=event.wall_s))
    draft.told = None


@_on(ClockTold)
def _clock_told(draft: Draft, stamp: Stamp, event: ClockTold) -> None:
    draft.sure, draft.told = None, told_instant(stamp.elapsed_s, event.utc, stamp.at)
    draft.raw_offset_s -= event.taken_s


@_on(LotRecorded)
def _lot_recorded(draft: Draft, stamp: Stamp, event: LotRecorded) -> None:
    draft.lots.append(LotSeen(stamp.elapsed_s, event.component, event.lot))


@_on(PourRead)
def _pour_read(draft: Draft, stamp: Stamp, event: PourRead) -> None:
    """Take a reading. Hardener in before the resin was read: the resin stands as planned, and stays unread."""
    batch = draft.batches[event.batch]
    draft.batches[event.batch] = replace(
        batch,
        resin_g=event.resin_g,
        hardener_g=event.hardener_g,
        weighed_s=stamp.elapsed_s,
        resin_read=batch.resin_read or batch.mixed_s is None,
        hardener_read=event.hardener_g > 0.0,
        doubt_accepted=False,
    )


@_on(BatchMixed)
def _batch_mixed(draft: Draft, stamp: Stamp, event: BatchMixed) -> None:
    draft.batches[event.batch] = replace(
        draft.batches[event.batch],
        resin_g=event.resin_g,
        hardener_g=event.hardener_g,
        mixed_s=stamp.elapsed_s,
        start_K=event.start_K,
        vessel=event.vessel,
        depth_m=event.depth_m,
    )


@_on(BatchPouredOut)
def _batch_poured_out(draft: Draft, stamp: Stamp, event: BatchPouredOut) -> None:
    draft.batches[event.batch] = replace(
        draft.batches[event.batch], poured_out_s=stamp.elapsed_s, doubt_accepted=event.despite is not None
    )


@_on(BatchLost)
def _batch_lost(draft: Draft, stamp: Stamp, event: BatchLost) -> None:
    batch = draft.batches[event.batch]
    draft.batches[event.batch] = replace(
        batch,
        lost_s=stamp.elapsed_s,
        lost_why=event.why,
        lost_laid_g=event.laid_g,
        done_when_lost=done_with(batch, draft.steps.values()),
    )


@_on(StepDone)
def _step_done(draft: Draft, stamp: Stamp, event: StepDone) -> None:
    before_s = max((step.done_s for step in draft.steps.values() if step.done_s is not None), default=0.0)
    draft.steps[event.step] = replace(
        draft.steps[event.step], done_s=stamp.elapsed_s, took_s=stamp.elapsed_s - before_s
    )
    if event.despite is not None:
        for number, batch in draft.batches.items():
            if event.step in batch.plan.steps and batch.status == "in the cup":
                draft.batches[number] = replace(batch, doubt_accepted=True)


def _add(history: list[Reading], at_s: float, value: float) -> None:
    """Add a reading; of two at the same instant the later counts, so that times always increase."""
    if history and history[-1][0] == at_s:
        history.pop()
    history.append((at_s, value))


@_on(TemperatureRead)
def _temperature_read(draft: Draft, stamp: Stamp, event: TemperatureRead) -> None:
    _add(draft.temperatures[event.place], stamp.elapsed_s, event.temperature_K)


@_on(HumidityRead)
def _humidity_read(draft: Draft, stamp: Stamp, event: HumidityRead) -> None:
    _add(draft.humidity, stamp.elapsed_s, event.relative_humidity)


@_on(WoodMoistureRead)
def _wood_moisture_read(draft: Draft, _stamp: Stamp, event: WoodMoistureRead) -> None:
    draft.wood_moisture = event.moisture_fraction


@_on(NightExpected)
def _night_expected(draft: Draft, _stamp: Stamp, event: NightExpected) -> None:
    draft.night = event


@_on(Checked)
def _checked(draft: Draft, stamp: Stamp, event: Checked) -> None:
    draft.ticks.pop(event.item, None)
    if event.done:
        draft.ticks[event.item] = Tick(stamp.elapsed_s, event.item, event.words)


@_on(Observation)
def _observation(draft: Draft, stamp: Stamp, event: Observation) -> None:
    batch = draft.batches[event.batch]
    draft.batches[event.batch] = replace(batch, observations=(*batch.observations, (stamp.elapsed_s, event.word)))


@_on(CupTemperatureRead)
def _cup_temperature_read(draft: Draft, stamp: Stamp, event: CupTemperatureRead) -> None:
    batch = draft.batches[event.batch]
    draft.batches[event.batch] = replace(
        batch, temperatures=(*batch.temperatures, (stamp.elapsed_s, event.temperature_K))
    )


@_on(PeopleChanged)
def _people_changed(draft: Draft, _stamp: Stamp, event: PeopleChanged) -> None:
    draft.people = event.people


@_on(Replanned)
def _replanned(draft: Draft, _stamp: Stamp, event: Replanned) -> None:
    known = draft.batches
    fixed = {n: batch for n, batch in known.items() if batch.mixed_s is not None or batch.lost_s is not None}
    new = {
        plan.batch: replace(known[plan.batch], plan=plan) if plan.batch in known else BatchState(plan)
        for plan in event.batches
    }
    draft.batches = dict(sorted((fixed | new).items()))


@_on(PressClosed)
def _press_closed(draft: Draft, stamp: Stamp, event: PressClosed) -> None:
    draft.closed_s, draft.pressure_Pa = stamp.elapsed_s, event.pressure_Pa
    for number, batch in draft.batches.items():
        if batch.status == "on the part":
            draft.batches[number] = replace(batch, pressed_s=stamp.elapsed_s)


@_on(Demoulded)
def _demoulded(draft: Draft, stamp: Stamp, _event: Demoulded) -> None:
    draft.demoulded_s = stamp.elapsed_s


@_on(Outcome)
def _outcome(draft: Draft, _stamp: Stamp, event: Outcome) -> None:
    draft.outcome = event


@_on(PartWeighed)
def _part_weighed(draft: Draft, _stamp: Stamp, event: PartWeighed) -> None:
    draft.weighed = event


@_on(CouponBurnt)
def _coupon_burnt(draft: Draft, _stamp: Stamp, event: CouponBurnt) -> None:
    draft.coupons.append(event)


@_on(ThicknessMeasured)
def _thickness_measured(draft: Draft, _stamp: Stamp, event: ThicknessMeasured) -> None:
    draft.thicknesses.append(event)


@_on(SessionEnded)
def _session_ended(draft: Draft, stamp: Stamp, _event: SessionEnded) -> None:
    draft.ended_s = stamp.elapsed_s


@_on(Note)
def _note(draft: Draft, stamp: Stamp, event: Note) -> None:
    draft.notes.append(NoteTaken(stamp.elapsed_s, stamp.seq, event.text))


@_on(AlarmAcknowledged)
def _alarm_acknowledged(draft: Draft, stamp: Stamp, event: AlarmAcknowledged) -> None:
    draft.acknowledged[event.alarm] = AlarmSeen(stamp.elapsed_s, event.alarm, event.rank)


@_on(Undone)
def _undone(draft: Draft, stamp: Stamp, event: Undone) -> None:
    if event.undone_seq not in draft.undos:
        draft.redoable = stamp.seq
