"""Every session in a few words, to list and to search, without reading two thousand journals each time.

What was read is kept in `sessions/.index.json`, beside the journals and never in them. A kept line counts only while
its journal has the size and the time of change that it was read with, and was not changed just before the index was
written, when two changes may bear one time. The index may be deleted at any time; where it cannot be written, journals
are read.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from layup.errors import StorageError
from layup.materials.names import JOURNAL
from layup.materials.workshop import Workshop
from layup.records.lines import read_journal, read_through
from layup.records.state import SessionState, fold

INDEX_NAME = ".index.json"
INDEX_VERSION = 1
TEXT_LIMIT = 2_000
"""Characters of a session's words that the index keeps; longer ones are searched in the journal itself."""
SAME_TIME_NS = 2_000_000_000
"""The coarsest time stamps of a file system that people use: two seconds."""


@dataclass(frozen=True, slots=True)
class Summary:
    """One session in a list."""

    name: str
    title: str
    started_at: str
    """UTC, ISO 8601; empty where the session never began."""
    resin: str
    people: int
    batches: int
    lost: int
    closed_s: float | None
    over: bool
    tags: tuple[str, ...]
    damaged: int
    """Lines of the journal that cannot be read."""
    text: str
    """Everything said in words, to be searched, without upper case."""
    whole: bool
    """Whether `text` holds all of it."""

    @property
    def state(self) -> str:
        """How the session stands, in a few words."""
        lost = f", {self.lost} lost" if self.lost else ""
        damaged = f", {self.damaged} damaged lines" if self.damaged else ""
        if self.tags:
            return ", ".join(self.tags) + lost + damaged
        if self.closed_s is not None:
            return f"press closed after {self.closed_s / 60:.0f} min{lost}{damaged}"
        return ("ended, press not closed" if self.over else "running") + lost + damaged


@dataclass(frozen=True, slots=True)
class _Line:
    """A summary with the size and time of change of the journal it was made from."""

    mtime_ns: int
    size: int
    summary: Summary


@dataclass(frozen=True, slots=True)
class _Index:
    v: int
    sessions: dict[str, _Line]


_FILE: TypeAdapter[_Index] = TypeAdapter(_Index)


def summary_of(name: str, state: SessionState, *, damaged: int = 0) -> Summary:
    """Return a session in a few words."""
    start, outcome = state.start, state.outcome
    text = _words_of(name, state)
    return Summary(
        name=name,
        title=start.title if start else name,
        started_at=state.started_at.isoformat() if state.started_at else "",
        resin=start.resin if start else "",
        people=state.people,
        batches=len(state.batches),
        lost=sum(batch.lost_s is not None for batch in state.batches),
        closed_s=state.closed_s,
        over=state.ended_s is not None,
        tags=outcome.tags if outcome else (),
        damaged=damaged,
        text=text[:TEXT_LIMIT],
        whole=len(text) <= TEXT_LIMIT,
    )


def _words_of(name: str, state: SessionState) -> str:
    """Return all that is said in words, one thing a line."""
    said = [name]
    if state.start:
        said += [state.start.title, state.start.plan, state.start.resin]
    if state.outcome:
        said += [*state.outcome.tags, state.outcome.notes]
    said += [lot.lot for lot in state.lots]
    said += [batch.lost_why for batch in state.batches if batch.lost_why]
    said += [note.text for note in state.notes]
    return "\n".join(said).casefold()


class Sessions:
    """The sessions of a workshop, listed and searched."""

    def __init__(self, workshop: Workshop, *, keep: bool = True) -> None:
        self.workshop = workshop
        self.keep = keep
        """Whether the index may be written."""
        self.read = 0
        """How many journals were read, for want of a line in the index."""

    @property
    def index_path(self) -> Path:
        """Where the index is kept."""
        return self.workshop.sessions_folder / INDEX_NAME

    def all(self, *, progress: Callable[[int, int], None] | None = None) -> list[Summary]:
        """Return every session that was begun, the newest last. A journal that cannot be read says so in its title."""
        known, sure_before_ns = self._load()
        folders = [folder for folder in self.workshop.sessions() if (folder / JOURNAL).is_file()]
        lines: dict[str, _Line] = {}
        found = []
        for number, folder in enumerate(folders, 1):
            line = self._line(folder, known.get(folder.name), sure_before_ns)
            if isinstance(line, _Line):
                lines[folder.name] = line
                found.append(line.summary)
            else:
                found.append(line)
            if progress is not None:
                progress(number, len(folders))
        if self.keep and (self.read or lines.keys() != known.keys()):
            self._keep(lines)
        return found

    def search(self, words: str, *, progress: Callable[[int, int], None] | None = None) -> list[Summary]:
        """Return the sessions in which every one of the words occurs: names, tags, lots, notes."""
        wanted = words.casefold().split()
        return [summary for summary in self.all(progress=progress) if self._matches(summary, wanted)]

    def _matches(self, summary: Summary, wanted: list[str]) -> bool:
        if all(word in summary.text for word in wanted):
            return True
        if summary.whole:
            return False
        try:
            records, _ = read_journal(self.workshop.sessions_folder / summary.name)
        except StorageError:
            return False  # it went since it was listed
        text = _words_of(summary.name, fold(records))
        return all(word in text for word in wanted)

    def _line(self, folder: Path, known: _Line | None, sure_before_ns: int) -> _Line | Summary:
        """Return what is known of a session, from the index where that still holds, else from its journal."""
        path = folder / JOURNAL
        try:
            stat = path.stat()
            same = known is not None and (known.mtime_ns, known.size) == (stat.st_mtime_ns, stat.st_size)
            if known is not None and same and stat.st_mtime_ns < sure_before_ns:
                return known
            self.read += 1
            records, reader = read_through(folder)
        except (OSError, StorageError) as error:
            return Summary(folder.name, str(error), "", "", 0, 0, 0, None, True, (), 0, folder.name.casefold(), True)
        summary = summary_of(folder.name, fold(records), damaged=reader.wrong)
        return _Line(stat.st_mtime_ns, stat.st_size, summary)

    def _load(self) -> tuple[dict[str, _Line], int]:
        """Return the index, and the time of change before which its lines can be trusted; nothing if it is damaged."""
        try:
            saved_ns = self.index_path.stat().st_mtime_ns
            index = _FILE.validate_json(self.index_path.read_bytes())
        except (OSError, ValidationError):
            return {}, 0
        return (index.sessions, saved_ns - SAME_TIME_NS) if index.v == INDEX_VERSION else ({}, 0)

    def _keep(self, lines: dict[str, _Line]) -> None:
        """Write the index at one go; a workshop that cannot be written is read anew each time."""
        temporary = self.index_path.with_name(f"{INDEX_NAME}.{os.getpid()}")
        kept = {name: line for name, line in lines.items() if _is_text(name)}
        try:
            temporary.write_bytes(_FILE.dump_json(_Index(INDEX_VERSION, kept)))
            temporary.replace(self.index_path)
        except OSError:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)


def _is_text(name: str) -> bool:
    """Return whether a folder's name can be written: a system without rules for names lets any bytes be one."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True
