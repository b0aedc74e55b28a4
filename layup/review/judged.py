"""Each session judged once: its causes, its spare time, its steps, kept beside the sessions while nothing changes.

A review takes a tenth of a second, so that thousands of sessions could not be asked for their causes each time. What
is kept holds for the same bytes judged by the same program; it can be deleted at any time.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from layup.errors import LayupError
from layup.files.names import JOURNAL, PLAN, RESIN_COPY
from layup.files.workshop import Workshop
from layup.review.evidence import GOOD
from layup.review.review import Review, review
from layup.session.archive import SAME_TIME_NS, stored_session
from layup.session.fields import SessionKind

JUDGED_NAME = ".judged.json"


@dataclass(frozen=True, slots=True)
class StepTook:
    """One step of a day: what was planned for it and what it took."""

    name: str
    planned_s: float
    took_s: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What a review says of one session, in short."""

    name: str
    title: str
    kind: SessionKind
    started_at: str
    """UTC, ISO 8601."""
    resin: str
    people: int
    largest_cup_g: float | None
    tags: tuple[str, ...]
    causes: tuple[str, ...]
    """The kinds of its findings, in the order of harm."""
    spare_s: float | None
    """What its tightest cup or part had to spare; None where nothing was laid, or nobody can say."""
    steps: tuple[StepTook, ...]

    @property
    def failed(self) -> bool:
        """Whether its outcome names anything but a good part."""
        return bool(self.tags) and GOOD not in self.tags


@dataclass(frozen=True, slots=True)
class _Line:
    """A session judged, with what its files were then."""

    stamp: str
    newest_ns: int
    judged: Judged


@dataclass(frozen=True, slots=True)
class _Index:
    program: str
    sessions: dict[str, _Line]


_FILE: TypeAdapter[_Index] = TypeAdapter(_Index)


@cache
def _program() -> str:
    """Return what tells one state of the program from another: nothing that an earlier one judged is taken over."""
    package = Path(__file__).resolve().parent.parent
    changed = [(path.stat().st_mtime_ns, path.stat().st_size) for path in package.rglob("*.py")]
    return f"{len(changed)}-{max(at for at, _ in changed)}-{sum(size for _, size in changed)}"


def judged_of(found: Review) -> Judged:
    """Return a review in short."""
    state, track = found.kept.state, found.track
    start, outcome = state.start, state.outcome
    tight = track.tightest if track else None
    steps = track.steps if track else ()
    return Judged(
        name=found.kept.name,
        title=start.title if start else found.kept.name,
        kind=start.kind if start else "press",
        started_at=state.started_at.isoformat() if state.started_at else "",
        resin=start.resin if start else "",
        people=start.people if start else 0,
        largest_cup_g=start.largest_cup_g if start else None,
        tags=outcome.tags if outcome else (),
        causes=tuple(finding.kind for finding in found.findings),
        spare_s=tight[0] if tight else None,
        steps=tuple(StepTook(s.name, s.planned.took_s, s.real.took_s) for s in steps if s.real is not None),
    )


def judge(
    workshop: Workshop,
    names: Sequence[str],
    *,
    keep: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Judged]:
    """Return sessions judged, by name; one that cannot be read is left out. `keep` is whether that may be written."""
    path = workshop.sessions_folder / JUDGED_NAME
    known, sure_before_ns = _load(path)
    found: dict[str, _Line] = {}
    fresh = 0
    for number, name in enumerate(names, 1):
        with suppress(OSError, LayupError):
            folder = workshop.sessions_folder / name
            stamp, newest_ns = _stamp(folder)
            line = known.get(name)
            if line is None or line.stamp != stamp or newest_ns >= sure_before_ns:
                line = _Line(stamp, newest_ns, judged_of(review(stored_session(folder))))
                fresh += 1
            found[name] = line
        if progress is not None:
            progress(number, len(names))
    if keep and fresh:
        there = {path.name for path in workshop.begun()}
        _keep(path, {name: line for name, line in (known | found).items() if name in there})
    return {name: line.judged for name, line in found.items()}


def _stamp(folder: Path) -> tuple[str, int]:
    """Return what tells one state of a session's files from another, and when the newest was written."""
    parts, newest_ns = [], 0
    for name in (JOURNAL, PLAN, RESIN_COPY):
        path = folder / name
        if name == JOURNAL or path.exists():
            stat = path.stat()
            parts.append(f"{stat.st_mtime_ns}-{stat.st_size}")
            newest_ns = max(newest_ns, stat.st_mtime_ns)
    return "/".join(parts), newest_ns


def _load(path: Path) -> tuple[dict[str, _Line], int]:
    """Return what is kept, and the time of change before which it can be trusted; nothing if it is of no use."""
    try:
        saved_ns = path.stat().st_mtime_ns
        index = _FILE.validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return {}, 0
    return (index.sessions, saved_ns - SAME_TIME_NS) if index.program == _program() else ({}, 0)


def _keep(path: Path, lines: dict[str, _Line]) -> None:
    """Write what was judged at one go; a workshop that cannot be written is judged anew each time."""
    temporary = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        temporary.write_bytes(_FILE.dump_json(_Index(_program(), lines)))
        temporary.replace(path)
    except (OSError, UnicodeEncodeError):
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def in_order(found: Iterable[Judged]) -> list[Judged]:
    """Return sessions in the order in which they began."""
    return sorted(found, key=lambda one: (one.started_at, one.name))
