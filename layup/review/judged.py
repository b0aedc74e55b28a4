"""Each session judged once: its causes, its spare time, its steps, kept beside the sessions while nothing changes.

A review takes a tenth of a second, so that thousands of sessions could not be asked for their causes each time. What
is kept holds for the same bytes judged by the same program; it can be deleted at any time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter

from layup.errors import LayupError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY
from layup.files.workshop import Workshop
from layup.review.evidence import GOOD
from layup.review.review import Review, review
from layup.session.archive import stored_session
from layup.session.fields import SessionKind
from layup.session.kept_index import FileStamp, KeptIndex, stamp_of

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


_FILE: TypeAdapter[tuple[str, dict[str, tuple[FileStamp, Judged]]]] = TypeAdapter(
    tuple[str, dict[str, tuple[FileStamp, Judged]]]
)
KEPT_EACH = 50
"""After so many sessions what was judged is written: whoever breaks off a long search goes on from there."""


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
    index = KeptIndex(workshop.sessions_folder / JUDGED_NAME, _program(), _FILE)
    found: dict[str, tuple[FileStamp, Judged]] = {}
    fresh = 0

    def write() -> None:
        if keep and fresh:
            there = {path.name for path in workshop.begun()}
            index.keep({name: line for name, line in (index.lines | found).items() if name in there})

    try:
        for number, name in enumerate(names, 1):
            with suppress(OSError, LayupError):
                folder = workshop.sessions_folder / name
                stamp = stamp_of(folder / JOURNAL, (folder / PLAN, folder / RESIN_COPY))
                one = index.get(name, stamp)
                if one is None:
                    one = judged_of(review(stored_session(folder)))
                    fresh += 1
                    if fresh % KEPT_EACH == 0:
                        write()
                found[name] = stamp, one
            if progress is not None:
                progress(number, len(names))
    finally:
        write()
    return {name: one for name, (_, one) in found.items()}


def in_order(found: Iterable[Judged]) -> list[Judged]:
    """Return sessions in the order in which they began."""
    return sorted(found, key=lambda one: (one.started_at, one.name))
