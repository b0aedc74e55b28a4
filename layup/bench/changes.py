"""What is put right or changed on a press day: entries told afterwards."""

from __future__ import annotations

from layup.bench.day import PressDay, Said
from layup.session.batch_events import BatchMixed, PourRead
from layup.session.clock import told_s
from layup.session.reader import Follower
from layup.session.records import retelling
from layup.session.state import Event
from layup.units import minutes

# -- told afterwards -------------------------------------------------------------------------------------------------


def when_s(day: PressDay, text: str) -> float:
    """Return when something happened, as an age of the session, from "6 min ago", "08:41" or "25 min"."""
    now_s = day.now_s()
    return told_s(text, now_s, day.moment(now_s))


def last_told(day: PressDay) -> int | None:
    """Return the number of the entry that "that was ... ago" means: the last one by hand and, where its reading alone
    started a batch's clock, that start."""
    state = day.state
    last = None if state.undoable is None else state.record(state.undoable)
    if last is None:
        return None
    reading, start = (_event(state.record(seq)) for seq in (last.seq, last.seq - 1))
    if isinstance(reading, PourRead) and isinstance(start, BatchMixed) and start.batch == reading.batch:
        return last.seq - 1
    return last.seq


def _event(record: Event | None) -> Event | None:
    """Return a record as the event that it is."""
    return record


def that_was(day: PressDay, at_s: float, seq: int | None = None) -> Said:
    """Give the last entry, or the one of a number, the time at which it really happened; both stay in the log."""
    seq = last_told(day) if seq is None else seq
    if seq is None:
        return Said("not now: there is no entry yet", False)
    if at_s > day.now_s():
        return Said("not then: that time has not come yet", False)
    again = retelling(day.state, seq, at_s)
    if isinstance(again, str):
        return Said(f"not then: {again}", False)
    undo, event = again
    if isinstance(day.source, Follower):
        return day.log(undo, "")
    words = f"{minutes(day.now_s() - at_s)} ago, {day.clock_time(at_s)}: {event.describe_in(day.state)}"
    day.source.append(undo)
    day.source.append(event, at_s)
    return Said(f"NOT SAVED yet: {words}" if day.source.fault else words, True)
