"""A press day with as many clocks and events as wanted, in a workshop of its own."""

import datetime
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.files.workshop import new_workshop
from layup.session.batch_events import BatchMixed
from layup.session.clock import SystemClock
from layup.session.day_events import Note, TemperatureRead
from layup.session.fields import BatchPlan, StepPlan
from layup.session.lines import DIGITS, digits, line_of, summed
from layup.session.records import RECORDS
from layup.session.state import Event, SessionStarted

STEPS = 40
"""More than most parts have, and one for each key that the benchmark presses."""
AGE_S = 600.0
"""How long ago the day began: the clocks still run."""


def busy_workshop(root: Path, *, clocks: int, events: int) -> Path:
    """Make a workshop whose press day has so many cups mixed and so many events; return the day's folder."""
    new_workshop(root)
    planner = Planner(root)
    planner.load()
    assert planner.figures is not None
    day = begin(planner, planner.figures, SystemClock())
    start = day.state.start
    day.close()
    assert start is not None
    plain = SessionStarted.model_validate(start.model_dump(include=set(SessionStarted.model_fields)))
    with (day.folder / "journal.jsonl").open("wb") as file:
        file.writelines(journal_lines(plain, clocks=clocks, events=events))
        os.fsync(file.fileno())
    return day.folder


def journal_lines(start: SessionStarted, *, clocks: int, events: int) -> Iterator[bytes]:
    """Yield the lines of a journal of `events` events: a followed thermometer, a note now and then."""
    batches = tuple(BatchPlan(batch=n, mass_g=260.0, resin_g=200.0, hardener_g=60.0) for n in range(1, clocks + 1))
    steps = tuple(StepPlan(step=n, name=f"step {n}", kind="place", planned_s=60.0) for n in range(1, STEPS + 1))
    begun: list[Event] = [start.model_copy(update={"batches": batches, "steps": steps})]
    begun += [BatchMixed(batch=n, resin_g=200.0, hardener_g=60.0, start_K=293.15) for n in range(1, clocks + 1)]
    yield from _lines([*begun, *_readings(events - len(begun))], every_s=AGE_S / events)


def _readings(count: int) -> Iterator[Event]:
    for number in range(count):
        if number % 2:
            yield Note(text=f"note {number}")
        else:
            yield TemperatureRead(place="air", temperature_K=293.15 + number % 3, source="thermometer")


def _lines(events: Iterable[Event], *, every_s: float) -> Iterator[bytes]:
    now, before = datetime.datetime.now(datetime.UTC), digits(b"")
    for number, event in enumerate(events, 1):
        stamp = {"seq": number, "at": now, "elapsed_s": number * every_s}
        record = RECORDS[event.event].model_validate(stamp | dict(event))
        record = summed(record, before)
        before = record.sum[DIGITS:]
        yield line_of(record)
