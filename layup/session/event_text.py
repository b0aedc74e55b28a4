"""Each event of the journal in a few words."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

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
    Replanned,
    SessionStarted,
    StepDone,
    TemperatureRead,
    ThicknessMeasured,
    Undone,
    WoodMoistureRead,
)
from layup.session.state import SessionState


def describe(event: Event) -> str:
    """Return what happened, in words."""
    for kind, words in WORDS.items():
        if isinstance(event, kind):
            return words(event)
    return event.event.replace("-", " ")


def event_text(state: SessionState, event: Event) -> str:
    """Return what happened in a session, in words: a step by its name, and of an undo what it took back."""
    if isinstance(event, StepDone) and (step := state.step(event.step)) is not None:
        return f"done: {step.plan.name}{_despite(event)}"
    back, of, before = True, event, state.seq + 1
    while isinstance(of, Undone):
        target = state.record(of.undone_seq)
        if target is None or target.seq >= before:
            return describe(event)
        back, of, before = not back, target, target.seq
    if of is event:
        return describe(event)
    return f"{'brought back' if back else 'taken back'}: {event_text(state, of)}"


def _celsius(kelvin: float) -> str:
    return f"{kelvin - 273.15:.1f} °C"


def _words(*table: tuple[type[Event], Callable[..., str]]) -> dict[type[Event], Callable[[Event], str]]:
    return {kind: cast(Callable[[Event], str], words) for kind, words in table}


def _started(event: SessionStarted) -> str:
    return (
        f"press day begins: {event.title}, {event.people} at the bench, {len(event.batches)} batches of {event.resin}"
    )


def _poured(event: PourRead) -> str:
    hardener = f", hardener {event.hardener_g:g} g" if event.hardener_g else ""
    return f"batch {event.batch} on the scale: resin {event.resin_g:g} g{hardener}"


def _mixed(event: BatchMixed) -> str:
    where = f"tray {1000 * event.depth_m:g} mm deep" if event.depth_m else "cup"
    return (
        f"batch {event.batch} hardener in: {event.resin_g + event.hardener_g:.0f} g, {_celsius(event.start_K)}, {where}"
    )


def _despite(event: BatchPouredOut | StepDone) -> str:
    """Return the mark of mix that was laid although something stood against it."""
    return f", {event.despite.upper()}, laid all the same" if event.despite else ""


def _lost(event: BatchLost) -> str:
    laid = f", {event.laid_g:.0f} g of it on the part" if event.laid_g else ""
    return f"batch {event.batch} lost" + (f": {event.why}" if event.why else "") + laid


def _night(event: NightExpected) -> str:
    wanted = "" if event.out_by_s is None else f", part wanted out {event.out_by_s / 3600:.0f} h after closing"
    return f"tonight down to {_celsius(event.coldest_K)}{wanted}"


def _outcome(event: Outcome) -> str:
    return "outcome: " + (", ".join(event.tags) or "noted") + (f" - {event.notes}" if event.notes else "")


def _weighed(event: PartWeighed) -> str:
    offcut = f" with {event.offcut_g:g} g of offcuts" if event.offcut_g else ""
    left = "" if event.left_g is None else f", {event.left_g:g} g left in cups and brushes"
    return f"part {event.part_g:g} g{offcut}, its dry pieces {event.dry_g:g} g{left}"


def _burnt(event: CouponBurnt) -> str:
    water = "" if event.in_water_g is None else f" ({event.in_water_g:g} g in water)"
    return f"coupon of {event.coupon_g:g} g{water} burnt off to {event.residue_g:g} g"


WORDS = _words(
    (SessionStarted, _started),
    (JournalOpened, lambda event: "journal opened" if event.reason == "created" else "journal opened again"),
    (ClockJumped, lambda event: f"the computer's clock jumped; {event.taken_s:.0f} s counted"),
    (MachineRestarted, lambda event: f"the machine was off, or is another one; {event.taken_s:.0f} s counted"),
    (ClockTold, lambda event: f"the time is {event.utc:%Y-%m-%d %H:%M} UTC; {event.taken_s:.0f} s counted"),
    (LotRecorded, lambda event: f"{event.component} lot {event.lot}"),
    (PourRead, _poured),
    (BatchMixed, _mixed),
    (BatchPouredOut, lambda event: f"batch {event.batch} on the part{_despite(event)}"),
    (BatchLost, _lost),
    (StepDone, lambda event: f"step {event.step} done{_despite(event)}"),
    (TemperatureRead, lambda event: f"{event.place} {_celsius(event.temperature_K)}"),
    (HumidityRead, lambda event: f"humidity {100 * event.relative_humidity:.0f} %"),
    (WoodMoistureRead, lambda event: f"wood at {100 * event.moisture_fraction:.0f} % moisture"),
    (NightExpected, _night),
    (Checked, lambda event: f"{'ready' if event.done else 'not ready after all'}: {event.words or event.item}"),
    (Observation, lambda event: f"batch {event.batch} looks {event.word}"),
    (CupTemperatureRead, lambda event: f"batch {event.batch} measured at {_celsius(event.temperature_K)}"),
    (Note, lambda event: f"note: {event.text}"),
    (PeopleChanged, lambda event: f"{event.people} at the bench"),
    (
        Replanned,
        lambda event: f"planned anew: {len(event.batches)} batch{'' if len(event.batches) == 1 else 'es'} still to mix",
    ),
    (Outcome, _outcome),
    (PartWeighed, _weighed),
    (CouponBurnt, _burnt),
    (ThicknessMeasured, lambda event: f"plies {1000 * event.thickness_m:.2f} mm thick"),
    (AlarmAcknowledged, lambda event: f"seen: alarm {event.alarm} ({event.rank})"),
    (Undone, lambda event: f"undo of entry {event.undone_seq}"),
)
