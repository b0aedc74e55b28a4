"""Which events apply now. Each rule answers with the reason why not, in words for the person at the bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar, cast

from layup.session.events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CouponBurnt,
    CupTemperatureRead,
    Demoulded,
    Event,
    Observation,
    PartWeighed,
    PourRead,
    PressClosed,
    Replanned,
    SessionStarted,
    StepDone,
    ThicknessMeasured,
)
from layup.session.facts import BatchState, Facts
from layup.session.record import event_name

ANY_TIME = frozenset({"journal-opened", "clock-jumped", "machine-restarted", "clock-told", "undone"})
"""Events that are written whatever the state: what the clocks did and what was said of them, and undo."""
AFTER_THE_END = frozenset(
    {
        *("note", "outcome", "demoulded", "temperature-read", "humidity-read", "lot-recorded"),
        *("part-weighed", "coupon-burnt", "thickness-measured", "night-expected"),
    }
)
"""Events that still make sense when the press day is over: the cure goes on."""

E = TypeVar("E", bound=Event)
_Rule = Callable[[Facts, Event], str | None]
_RULES: dict[str, _Rule] = {}


def _rule(kind: type[E]) -> Callable[[Callable[[Facts, E], str | None]], Callable[[Facts, E], str | None]]:
    """Register the rule of one kind of event."""

    def register(rule: Callable[[Facts, E], str | None]) -> Callable[[Facts, E], str | None]:
        _RULES[event_name(kind)] = cast(_Rule, rule)  # called only with events of this name
        return rule

    return register


def why_not(facts: Facts, event: Event) -> str | None:
    """Return why `event` cannot apply now, or None if it can. Undo is judged in `state.refusal`."""
    name = event.event
    if name in ANY_TIME:
        return None
    if not facts.started and name != "session-started":
        return "the session has not started"
    if facts.ended_s is not None and name not in AFTER_THE_END:
        return "the session has ended - undo brings it back"
    rule = _RULES.get(name)
    return rule(facts, event) if rule else None


def _twice(numbers: Sequence[int]) -> bool:
    return len(set(numbers)) < len(numbers)


@_rule(SessionStarted)
def _started(facts: Facts, event: SessionStarted) -> str | None:
    if facts.started:
        return "the session has started already"
    if _twice([plan.batch for plan in event.batches]):
        return "two of the batches have the same number"
    return "two of the steps have the same number" if _twice([plan.step for plan in event.steps]) else None


def _batch(facts: Facts, number: int) -> BatchState | str:
    """Return the batch, or why it cannot be touched."""
    batch = facts.batch(number)
    if batch is None:
        return f"there is no batch {number} - a new plan of the batches adds one"
    if batch.lost_s is not None:
        return f"batch {number} is lost - plan the batches anew to replace it"
    return batch


def _unmixed(facts: Facts, number: int) -> str | None:
    batch = _batch(facts, number)
    if isinstance(batch, str):
        return batch
    if facts.closed_s is not None:
        return "the press is closed - nothing more can be mixed for this part"
    return f"batch {number} is mixed already - its clock runs" if batch.mixed_s is not None else None


@_rule(PourRead)
def _pour(facts: Facts, event: PourRead) -> str | None:
    """Refuse a reading once the cup is empty: on one tare the hardener is read, and put right, after first contact."""
    batch = _batch(facts, event.batch)
    if isinstance(batch, str):
        return batch
    if batch.poured_out_s is not None:
        return f"batch {event.batch} is on the part already - its scale readings stand"
    if batch.mixed_s is not None and event.hardener_g == 0:
        return f"batch {event.batch} is mixed - it has hardener in it"
    return "the press is closed - nothing more can be mixed for this part" if facts.closed_s is not None else None


@_rule(BatchMixed)
def _mixed(facts: Facts, event: BatchMixed) -> str | None:
    if event.resin_g == 0 or event.hardener_g == 0:
        return f"batch {event.batch} needs both resin and hardener to be mixed"
    return _unmixed(facts, event.batch)


@_rule(BatchPouredOut)
def _poured_out(facts: Facts, event: BatchPouredOut) -> str | None:
    batch = _batch(facts, event.batch)
    if isinstance(batch, str):
        return batch
    if batch.mixed_s is None:
        return f"batch {event.batch} is not mixed yet - hardener in comes first"
    if batch.poured_out_s is not None:
        return f"batch {event.batch} is on the part already"
    return "the press is closed - no more resin gets onto the part" if facts.closed_s is not None else None


@_rule(BatchLost)
def _lost(facts: Facts, event: BatchLost) -> str | None:
    batch = _batch(facts, event.batch)
    if isinstance(batch, str):
        return batch
    if batch.status == "under press":
        return f"batch {event.batch} is under the press - it cannot be lost any more"
    if batch.status == "to mix":
        return f"batch {event.batch} is neither weighed nor mixed - there is nothing to lose"
    most_g = batch.poured_g if batch.mixed_s is not None else 0.0
    if (event.laid_g or 0.0) > most_g:
        return f"of batch {event.batch} no more than {most_g:.0f} g can be on the part, not {event.laid_g:.0f} g"
    return None


@_rule(StepDone)
def _step_done(facts: Facts, event: StepDone) -> str | None:
    step = facts.step(event.step)
    if step is None:
        return f"there is no step {event.step} in the plan"
    return f"step {event.step} is done already" if step.done_s is not None else None


def _was_mixed(facts: Facts, number: int) -> str | None:
    """Return why a batch cannot be looked at; a lost one can, for what its cup teaches."""
    batch = facts.batch(number)
    if batch is None:
        return f"there is no batch {number}"
    return f"batch {number} is not mixed yet" if batch.mixed_s is None else None


@_rule(Observation)
def _observation(facts: Facts, event: Observation) -> str | None:
    return _was_mixed(facts, event.batch)


@_rule(CupTemperatureRead)
def _cup_temperature(facts: Facts, event: CupTemperatureRead) -> str | None:
    return _was_mixed(facts, event.batch)


@_rule(Replanned)
def _replanned(facts: Facts, event: Replanned) -> str | None:
    if facts.closed_s is not None:
        return "the press is closed - there is nothing left to plan"
    numbers = [plan.batch for plan in event.batches]
    if _twice(numbers):
        return "two of the new batches have the same number"
    for number in numbers:
        batch = facts.batch(number)
        if batch is not None and (batch.mixed_s is not None or batch.lost_s is not None):
            return f"batch {number} is {batch.status} already - a new plan starts with what is not mixed"
    return None


@_rule(PressClosed)
def _press_closed(facts: Facts, _event: PressClosed) -> str | None:
    return "the press is closed already" if facts.closed_s is not None else None


@_rule(Demoulded)
def _demoulded(facts: Facts, _event: Demoulded) -> str | None:
    if facts.closed_s is None:
        return "the press is not closed yet"
    return "the part is out already" if facts.demoulded_s is not None else None


def _measured(facts: Facts, _event: Event) -> str | None:
    return "the press is not closed yet - there is no part to measure" if facts.closed_s is None else None


for _kind in (PartWeighed, CouponBurnt, ThicknessMeasured):
    _rule(_kind)(_measured)
