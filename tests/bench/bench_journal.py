"""The journal: replay beside plain `json.loads`, one confirmed event beside a bare write and fsync."""

import json
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from busy_day import busy_workshop
from results import Row
from stopwatch import Took, Trial, best, once

from layup.session.clock import SystemClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import collector_paused, read_journal
from layup.session.records import fold

CLOCKS = 20


def rows(*, smallest: bool = False) -> Iterator[Row]:
    """Measure both."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        yield replay(folder / "long", events=1000 if smallest else 100_000, rounds=1 if smallest else 4)
        for events in (100,) if smallest else (100, 10_000):
            yield from append(folder / f"day-{events}", events=events, rounds=3 if smallest else 150)


def replay(root: Path, *, events: int, rounds: int) -> Row:
    """Read, validate and fold a whole journal; the rival turns the same lines into dictionaries and no more."""
    folder = busy_workshop(root, clocks=CLOCKS, events=events)

    def ours() -> None:
        with collector_paused():
            records, problems = read_journal(folder)
            assert len(records) == events, problems
            assert not fold(records).misfits

    def rival() -> None:
        with collector_paused(), (folder / "journal.jsonl").open("rb") as lines:
            assert len([json.loads(line) for line in lines]) == events

    took, rivals = best(Trial(ours), Trial(rival), rounds=rounds)
    what = f"replay {events:,d} events: read, validate, fold"
    return Row(what, took.processor_s, rivals.processor_s, "json.loads over the lines", "CPU", most=1.0)


def append(root: Path, *, events: int, rounds: int) -> Iterator[Row]:
    """Log one event so that it is on the disk; the rival writes and syncs the same bytes in the same folder."""
    folder = busy_workshop(root, clocks=CLOCKS, events=events)
    ours: list[Took] = []
    rivals: list[Took] = []
    line = (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)[-1]
    bare = os.open(folder / "bare.txt", os.O_WRONLY | os.O_APPEND | os.O_CREAT)

    def write_and_sync() -> None:
        os.write(bare, line)
        os.fsync(bare)

    with Journal.open(folder, SystemClock()) as journal:
        for number in range(rounds):
            ours.append(once(Trial(lambda number=number: journal.append(Note(text=f"note {number}")))))
            rivals.append(once(Trial(write_and_sync)))
    os.close(bare)
    what, against = f"append one event to {events:,d}, on the disk", "bare write and fsync"
    yield Row(what, median(t.wall_s for t in ours), median(t.wall_s for t in rivals), against, "wall")
    yield Row(what, median(t.processor_s for t in ours), median(t.processor_s for t in rivals), against, "CPU")
