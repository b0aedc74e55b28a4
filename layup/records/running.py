"""The sessions of a workshop that were begun and not ended, whatever happened to their files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from layup.errors import StorageError
from layup.materials.names import JOURNAL
from layup.materials.plain_file import read_plain
from layup.materials.workshop import Workshop
from layup.records.event_words import told
from layup.records.lines import read_journal
from layup.records.state import SessionState, fold

_ENDED, _UNDONE = b'"event":"session-ended"', b'"event":"undone"'
NEVER_BEGUN = "nothing in its journal says how the day began"
NOTHING_LEFT = "its journal is empty, or nothing in it can be read"
SHOWN = 200
"""So many problems and entries of a journal are listed."""


@dataclass(frozen=True, slots=True)
class Running:
    """A session that was not ended, as far as its journal tells."""

    folder: Path
    state: SessionState
    trouble: str
    """Why it cannot be gone on with; empty where it can."""
    problems: tuple[str, ...] = ()

    @property
    def last_at(self) -> float:
        """When something was last logged, by the clock of then; what cannot tell it comes last."""
        return self.state.records[-1].at.timestamp() if self.state.records else float("-inf")

    @property
    def words(self) -> str:
        """The session in a line, to choose it from others."""
        state, name = self.state, self.folder.name
        if self.trouble:
            return f"▲ {name}: cannot be opened, {self.trouble}"
        if state.closed_s is not None:
            return f"{name}: press closed"
        mixed = sum(batch.mixed_s is not None for batch in state.batches)
        return f"{name}: {mixed} of {len(state.batches)} batches mixed"


def look_at(folder: Path) -> Running:
    """Return what can be read of a session, whether it runs or not; never raises for what is in its folder."""
    try:
        records, problems = read_journal(folder)
    except StorageError as error:
        return Running(folder, SessionState(), error.words)
    state, said = fold(records), tuple(str(problem) for problem in problems[:SHOWN])
    if state.started:
        return Running(folder, state, "", said)
    return Running(folder, state, NEVER_BEGUN if records else NOTHING_LEFT, said)


def running_days(workshop: Workshop) -> list[Running]:
    """Return the sessions that were begun and not ended, the last one logged in first, damaged ones at the end.

    Raises StorageError if the workshop cannot be read.
    """
    found = [look_at(folder) for folder in workshop.begun() if not _clearly_over(folder / JOURNAL)]
    running = [day for day in found if day.state.ended_s is None]
    return sorted(running, key=lambda day: (bool(day.trouble), -day.last_at))


def _clearly_over(path: Path) -> bool:
    """Return whether the bytes of a journal alone tell that its session ended: most did, and are not read further."""
    try:
        now = path.stat()
        return _ends(path, now.st_mtime_ns, now.st_size)
    except OSError:
        return False


@lru_cache(maxsize=10_000)
def _ends(path: Path, _mtime_ns: int, _size: int) -> bool:
    data = read_plain(path)
    ended = data.rfind(_ENDED)
    return ended >= 0 and data.find(_UNDONE, ended) < 0


def what_can_be_read(day: Running) -> list[str]:
    """Return what is wrong with a session and everything in it that can be read, as lines."""
    state = day.state
    lines = [f"▲ {day.trouble}", *day.problems[:SHOWN], ""]
    lines.append(f"{len(state.records)} entries can be read, in minutes from the start:")
    lines += [f"{record.elapsed_s / 60:7.1f}  {told(state, record)}" for record in state.records[-SHOWN:]]
    return [*lines, "", "Nothing here is changed or deleted. To be asked no more, move the folder out of sessions."]
