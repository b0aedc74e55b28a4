"""A session as it is kept in its folder: its journal folded, and the plan and the resin as they were used.

Every session in a few words, to list and to search, without reading two thousand journals each time. What was worked
out of each is kept in `KeptIndex` files beside the sessions while their files stay the same. An index may be deleted at
any time; where it cannot be written, sessions are read anew. Then the sessions that were begun and not ended.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

from pydantic import TypeAdapter, ValidationError

from layup.chemistry.datasheet import Datasheet
from layup.errors import LayupError, Problem, StorageError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY, put
from layup.files.plan_file import load_plan
from layup.files.resin_file import load_resin
from layup.files.toml import read_plain
from layup.files.workshop import Workshop
from layup.planning.castings import casting_plan
from layup.planning.plan import Plan
from layup.planning.planner import plan_with
from layup.session.fields import Component
from layup.session.folder import not_readable
from layup.session.reader import read_journal, read_through, strays
from layup.session.records import fold
from layup.session.state import SessionStarted, SessionState
from layup.session.state_parts import Carried, Settled, Taken
from layup.session.text import plain
from layup.units import in_minutes

# -- kept ------------------------------------------------------------------------------------------------------------

T = TypeVar("T")
SAME_TIME_NS = 2_000_000_000
"""The coarsest time stamps of a file system that people use, two seconds: what was changed just before the index was
written may have changed again since."""


class FileStamp(NamedTuple):
    """What tells one state of a session's files from another, and when the newest was written."""

    words: str
    newest_ns: int


Stamped = dict[str, tuple[FileStamp, T]]
"""By the names of sessions: the stamp of its files, and what was worked out of them."""


def stamp_of(journal: Path, others: Iterable[Path] = ()) -> FileStamp:
    """Return the stamp of a session's files, those that there are beside its journal. Raises OSError without one."""
    stats = [journal.stat(), *(path.stat() for path in others if path.exists())]
    words = "/".join(f"{stat.st_mtime_ns}-{stat.st_size}" for stat in stats)
    return FileStamp(words, max(stat.st_mtime_ns for stat in stats))


class KeptIndex(Generic[T]):
    """One file of such things, by the names of the sessions, made by one `maker`, a version of what reads it."""

    def __init__(self, path: Path, maker: str, file: TypeAdapter[tuple[str, Stamped[T]]]) -> None:
        self.path, self.maker, self.file = path, maker, file
        self.lines: Stamped[T] = {}
        """What is kept; nothing of a file that is damaged, or of another maker."""
        self._sure_before_ns = 0
        with suppress(OSError, ValidationError):
            saved_ns = path.stat().st_mtime_ns
            maker_then, lines = file.validate_json(path.read_bytes())
            if maker_then == maker:
                self.lines, self._sure_before_ns = lines, saved_ns - SAME_TIME_NS

    def get(self, name: str, stamp: FileStamp) -> T | None:
        """Return what is kept of a session whose files have this stamp now; None where that may be of another state."""
        kept = self.lines.get(name)
        return kept[1] if kept is not None and kept[0] == stamp and stamp.newest_ns < self._sure_before_ns else None

    def keep(self, lines: Mapping[str, tuple[FileStamp, T]]) -> None:
        """Write these lines at one go, but for names that are no text; where that cannot be, nothing is kept."""
        kept = {name: line for name, line in lines.items() if _is_text(name)}
        with suppress(OSError):
            put(self.path, self.file.dump_json((self.maker, kept)))


def _is_text(name: str) -> bool:
    """Return whether a folder's name can be written: a system without rules for names lets any bytes be one."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


@dataclass(frozen=True, slots=True)
class StoredSession:
    """One session: its journal folded, its plan and resin where their copies can be read, and what is wrong.

    The plan is as it was begun with: crew, cup and fibre fraction as they were set on the day.
    """

    folder: Path
    state: SessionState
    plan: Plan | None
    sheet: Datasheet | None
    problems: tuple[Problem, ...]

    @property
    def name(self) -> str:
        """The name of its folder, as it can be shown."""
        return plain(self.folder.name)


MOST_COPIES = 32
"""So many different contents are kept; of more the one that was read first goes."""


class _Copies(Generic[T]):
    """Read files that are mostly copies of each other: each content is understood once, and the last few are kept."""

    def __init__(self, load: Callable[[Path], tuple[T | None, list[Problem]]]) -> None:
        self._load = load
        self._known: dict[bytes, T] = {}

    def read(self, path: Path) -> tuple[T | None, list[Problem]]:
        """Return what the file says, or what is wrong with it."""
        try:
            data = read_plain(path)
        except OSError as error:
            return None, [Problem(str(path), 1, "", not_readable(path, error).words)]
        if data in self._known:
            return self._known[data], []
        try:
            value, problems = self._load(path)
        except StorageError as error:  # it went while it was read
            return None, [Problem(str(path), 1, "", error.words)]
        if value is not None and not problems:
            self._known[data] = value
            if len(self._known) > MOST_COPIES:
                del self._known[next(iter(self._known))]
        return value, problems


_plans = _Copies[Plan](load_plan)
_resins = _Copies[Datasheet](load_resin)


def stored_session(folder: Path) -> StoredSession:
    """Return the session in `folder`. Raises StorageError if it has no journal or that cannot be read."""
    records, problems = read_journal(folder)
    state, plan, sheet = fold(records), None, None
    plan_problems, sheet_problems = list[Problem](), list[Problem]()
    told = state.recalled  # of a day from memory nobody may know the resin, and there may be no plan
    if told is None or told.resin_known:
        sheet, sheet_problems = _resins.read(folder / RESIN_COPY)
    if state.kind != "trial" and (told is None or (folder / PLAN).is_file()):
        plan, plan_problems = _plans.read(folder / PLAN)  # a trial cup is of none
    if plan is not None and sheet is not None and state.start is not None:
        plan = as_begun(plan, sheet, state.start)
    return StoredSession(folder, state, plan, sheet, (*problems, *strays(folder), *plan_problems, *sheet_problems))


def as_begun(plan: Plan, sheet: Datasheet, start: SessionStarted) -> Plan:
    """Return the plan as it was set on the day; as its file states it, where that is out of range."""
    try:
        return plan_with(
            casting_plan(plan, start.resin) if start.kind == "casting" else plan,
            sheet,
            people=start.people,
            largest_cup_g=start.largest_cup_g or plan.largest_cup_g,
            fibre_fraction=start.fibre_fraction or plan.target.value,
        )
    except LayupError:
        return plan


# -- summary ---------------------------------------------------------------------------------------------------------

INDEX_NAME = ".index.json"
INDEX_VERSION = "4"
TEXT_LIMIT = 2_000
"""Characters of a session's words that the index keeps; longer ones are searched in the journal itself."""


@dataclass(frozen=True, slots=True)
class Summary:
    """One session in a list."""

    name: str
    title: str
    started_at: str
    """UTC, ISO 8601; empty where the session never began."""
    resin: str
    people: int = 0
    batches: int = 0
    lost: int = 0
    closed_s: float | None = None
    over: bool = True
    tags: tuple[str, ...] = ()
    damaged: int = 0
    """Lines of the journal that cannot be read."""
    text: str = ""
    """Everything said in words, to be searched, without upper case."""
    whole: bool = True
    """Whether `text` holds all of it."""
    carried: tuple[Carried, ...] = ()
    """Its notes for next time."""
    settled: tuple[Settled, ...] = ()
    """What it says became of such notes, its own or others'."""
    poured: tuple[Taken, ...] = ()
    """What was poured from each can."""

    @property
    def state(self) -> str:
        """How the session stands, in a few words."""
        lost = f", {self.lost} lost" if self.lost else ""
        damaged = f", {self.damaged} damaged line{'s' * (self.damaged > 1)}" if self.damaged else ""
        if self.tags:
            return ", ".join(self.tags) + lost + damaged
        if self.closed_s is not None:
            return f"press closed after {in_minutes(self.closed_s)}{lost}{damaged}"
        return ("ended, press not closed" if self.over else "running") + lost + damaged


_FILE: TypeAdapter[tuple[str, Stamped[Summary]]] = TypeAdapter(tuple[str, Stamped[Summary]])


def summary_of(name: str, state: SessionState, *, damaged: int = 0) -> Summary:
    """Return a session in a few words."""
    start, outcome = state.start, state.outcome
    text = _words_of(name, state)
    return Summary(
        name=name,
        title=start.title if start else name,
        started_at=state.started_at.isoformat() if state.started_at else "",
        resin=state.resin_id,
        people=state.people,
        batches=len(state.batches),
        lost=sum(batch.lost_s is not None for batch in state.batches),
        closed_s=state.closed_s,
        over=state.ended_s is not None,
        tags=outcome.tags if outcome else (),
        damaged=damaged,
        text=text[:TEXT_LIMIT],
        whole=len(text) <= TEXT_LIMIT,
        carried=state.carried,
        settled=state.settled,
        poured=tuple(_taken(state)),
    )


def _taken(state: SessionState) -> Iterator[Taken]:
    """Yield what was poured of each lot: of the last one named before a batch was mixed, or the first one after."""
    if state.kind == "dry run":
        return
    taken: dict[tuple[Component, str], float] = {}
    for batch in state.batches:
        at_s = batch.mixed_s or batch.weighed_s or 0.0
        poured: tuple[tuple[Component, float | None], ...] = ("resin", batch.resin_g), ("hardener", batch.hardener_g)
        for component, mass_g in poured:
            lots = [lot for lot in state.lots if lot.component == component]
            known = [lot for lot in lots if lot.at_s <= at_s][-1:] or lots[:1]
            key = component, known[0].lot if known else ""
            taken[key] = taken.get(key, 0.0) + (mass_g or 0.0)
    yield from (Taken(*key, mass_g) for key, mass_g in taken.items() if mass_g > 0.0)


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
    said += [photo.caption for photo in state.photos if photo.caption]
    said += [note.text for note in state.carried]
    return "\n".join(said).casefold()


class Sessions:
    """The sessions of a workshop, listed and searched."""

    def __init__(self, workshop: Workshop, *, keep: bool = True) -> None:
        self.workshop = workshop
        self.keep = keep
        """Whether the index may be written."""
        self.read = 0
        """How many journals were read, for want of a line in the index."""

    def all(self, *, progress: Callable[[int, int], None] | None = None) -> list[Summary]:
        """Return every session that was begun, the newest last. A journal that cannot be read says so in its title."""
        index = KeptIndex(self.workshop.sessions_folder / INDEX_NAME, INDEX_VERSION, _FILE)
        folders = [folder for folder in self.workshop.sessions() if (folder / JOURNAL).is_file()]
        lines: Stamped[Summary] = {}
        found = []
        for number, folder in enumerate(folders, 1):
            stamp, summary = self._summary(folder, index)
            if stamp is not None:
                lines[folder.name] = stamp, summary
            found.append(summary)
            if progress is not None:
                progress(number, len(folders))
        if self.keep and (self.read or lines.keys() != index.lines.keys()):
            index.keep(lines)
        return found

    def has_words(self, summary: Summary, wanted: Sequence[str]) -> bool:
        """Return whether each of some words, without upper case, occurs in a session: names, tags, lots, notes."""
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

    def _summary(self, folder: Path, index: KeptIndex[Summary]) -> tuple[FileStamp | None, Summary]:
        """Return what is known of a session, from the index where that still holds, else from its journal."""
        try:
            stamp = stamp_of(folder / JOURNAL)
            if (known := index.get(folder.name, stamp)) is not None:
                return stamp, known
            self.read += 1
            records, reader = read_through(folder)
        except (OSError, StorageError) as error:
            return None, Summary(folder.name, str(error), "", "", text=folder.name.casefold())
        return stamp, summary_of(folder.name, fold(records), damaged=reader.wrong)


# -- running ---------------------------------------------------------------------------------------------------------

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
    def is_dry(self) -> bool:
        return self.state.kind == "dry run"

    def runs(self, plan: str) -> bool:
        """Return whether it was begun with a plan of that name."""
        return self.state.start is not None and self.state.start.plan == plan

    @property
    def words(self) -> str:
        """The session in a line, to choose it from others."""
        state, name = self.state, self.folder.name
        if self.trouble:
            return f"▲ {name}: cannot be opened, {self.trouble}"
        if self.is_dry:
            return f"{name}: a dry run"
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
    if state.start is not None:
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
    lines += [
        f"{record.when_s / 60:7.1f}  {record.describe_in(state)}{record.late_words}"
        for record in state.records[-SHOWN:]
    ]
    return [*lines, "", "Nothing here is changed or deleted. To be asked no more, move the folder out of sessions."]
