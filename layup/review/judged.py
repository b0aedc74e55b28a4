"""Each session judged once, and what is found or told by it: a search, and in eight lines what the sessions teach.

What was judged holds for the same bytes judged by the same program; it can be deleted at any time. A search has plain
words, which occur in what was said, and `resin:`, `outcome:`, `cause:`, all of them together; what is quick to know is
asked first. The numbers of what is taught, with their spread, are `lessons`; here is what somebody acts on.
"""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from math import exp
from pathlib import Path
from statistics import median
from typing import Literal, get_args

from pydantic import TypeAdapter

from layup.chemistry.datasheet import Datasheet
from layup.errors import InputError, LayupError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY
from layup.files.toml import nearest
from layup.files.workshop import Workshop
from layup.review.evidence import GOOD, Cause
from layup.review.lessons import TEACHES, Lessons
from layup.review.resin_lessons import ResinLesson
from layup.review.review import Review, review
from layup.review.timeline import signed_minutes
from layup.session.archive import FileStamp, KeptIndex, Sessions, Summary, stamp_of, stored_session
from layup.session.fields import SessionKind
from layup.units import mass, minutes

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
    """The causes that its findings name, in the order of harm."""
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
        causes=tuple(finding.cause for finding in found.findings),
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
    unsaved = 0

    def write() -> None:
        if keep and unsaved:
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
                    unsaved += 1
                    if unsaved == KEPT_EACH:
                        write()
                        unsaved = 0
                found[name] = stamp, one
            if progress is not None:
                progress(number, len(names))
    finally:
        write()
    return {name: one for name, (_, one) in found.items()}


def in_order(found: Iterable[Judged]) -> list[Judged]:
    """Return sessions in the order in which they began."""
    return sorted(found, key=lambda one: (one.started_at, one.name))


# -- search ------------------------------------------------------------------------------------------------------------

KEYS = ("resin", "outcome", "cause")
FAILED, NONE = "failed", "none"
"""An outcome that names anything but a good part, or a day given up; and that there is none, of outcomes or causes."""
HINT = "words, resin:slow outcome:failed cause:cup; nothing shows all"


@dataclass(frozen=True, slots=True)
class Query:
    """What is searched for, all of it together."""

    words: tuple[str, ...] = ()
    resin: tuple[str, ...] = ()
    outcome: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()


def query(text: str) -> Query:
    """Read a query; quotes hold several words together. Raises InputError for a key or a cause that nobody knows."""
    typed = shlex.shlex(text.casefold(), posix=True)
    typed.quotes, typed.escape, typed.commenters, typed.whitespace_split = '"', "", "", True
    try:
        parts = list(typed)
    except ValueError:
        raise InputError(
            "search", "has a quote that does not end", value=text, todo='close it: outcome:"dry spot"'
        ) from None
    found: dict[str, list[str]] = {key: [] for key in ("words", *KEYS)}
    for part in parts:
        key, colon, value = part.partition(":")
        if not colon or not key.isalpha():
            found["words"].append(part)
        elif key not in KEYS:
            raise InputError("search", "has no such key", value=f"{key}:", allowed=", ".join(f"{k}:" for k in KEYS))
        elif value:
            found[key].append(value)
    for cause in found["cause"]:
        if cause != NONE and not any(cause in known for known in get_args(Cause)):
            raise InputError("cause", "is not known", value=cause, todo=nearest(cause, list(get_args(Cause))))
    return Query(**{key: tuple(values) for key, values in found.items()})


def find_sessions(
    workshop: Workshop, text: str, *, keep: bool = True, progress: Callable[[str, int, int], None] | None = None
) -> list[Summary]:
    """Return the sessions that a query finds, the newest last; `keep` is whether indices may be written."""
    asked = query(text)

    def told(what: str) -> Callable[[int, int], None]:
        return lambda done, of: None if progress is None else progress(what, done, of)

    sessions = Sessions(workshop, keep=keep)
    found = sessions.all(progress=told("reading sessions"))
    found = [one for one in found if _known(one, asked) and sessions.has_words(one, asked.words)]
    if not asked.cause:
        return found
    judged = judge(workshop, [one.name for one in found], keep=keep, progress=told("judging sessions"))
    return [one for one in found if one.name in judged and _says(judged[one.name].causes, asked.cause)]


def _known(one: Summary, asked: Query) -> bool:
    """Return whether what its summary knows fits."""
    if not all(resin in one.resin.casefold() for resin in asked.resin):
        return False
    failed = (bool(one.tags) and GOOD not in one.tags) or (one.over and one.closed_s is None and one.started_at != "")
    tags = (*(tag.casefold() for tag in one.tags), *((FAILED,) if failed else ()))
    return _says(one.tags, asked.outcome) if asked.outcome == (NONE,) else _says(tags, asked.outcome)


def _says(known: Sequence[str], wanted: Sequence[str]) -> bool:
    """Return whether each of the wanted words occurs in what is known; "none" where nothing is."""
    return all((not known) if word == NONE else any(word in each for each in known) for word in wanted)


# -- in short ----------------------------------------------------------------------------------------------------------

Topic = Literal["resin", "pace", "step", "wrong", "since"]
MOST: dict[Topic, int] = {"resin": 2, "pace": 1, "step": 2, "wrong": 2, "since": 1}
"""So many lines of each at most: eight in all."""
ABOUT = 0.03
"""A resin or a crew within this of what was stated is as stated."""
STEP_OVER, STEP_OVER_S = 1.2, 120.0
"""From when on a step is said to be slow: so many times its plan, and by so much (common practice, no source)."""
LATEST = 5
"""So many days on each side of a change are compared, the nearest ones."""


@dataclass(frozen=True, slots=True)
class ShortLesson:
    """One line: what it is about, its words, and what its bar shows, on how many days it rests."""

    topic: Topic
    words: str
    days: int
    ratio: float | None = None
    """Real over stated; None where nothing was stated."""
    share: float | None = None
    """Of all days; None where nothing is counted."""


def in_short(
    lessons: Lessons,
    judged: Iterable[Judged],
    sheets: Mapping[str, Datasheet],
    sessions: Iterable[Summary] = (),
) -> tuple[ShortLesson, ...]:
    """Return the lessons of a workshop in short; `sessions` are asked for the notes that were done."""
    days = in_order(one for one in judged if "faults" in TEACHES[one.kind])
    found = [*_resins(lessons, sheets), *_pace(lessons), *_steps(days), *_wrong(days), *_since(days, _done(sessions))]
    counts: Counter[Topic] = Counter()
    kept = []
    for each in found:
        counts[each.topic] += 1
        if counts[each.topic] <= MOST[each.topic]:
            kept.append(each)
    return tuple(kept)


def counted_days(count: int) -> str:
    """Return a number of days in words."""
    return f"{count} day{'' if count == 1 else 's'}"


def _resins(lessons: Lessons, sheets: Mapping[str, Datasheet]) -> Iterator[ShortLesson]:
    """Yield what each can does beside its sheet, the one that was seen most first."""
    for one in sorted(lessons.resins.values(), key=lambda one: -one.observations):
        if one.observations:
            title = sheets[one.resin_id].title if one.resin_id in sheets else one.resin_id
            yield ShortLesson("resin", f"{title}: {_resin_words(one)}", one.sessions, ratio=one.life_factor)


def _resin_words(one: ResinLesson) -> str:
    off = one.life_factor - 1.0
    if abs(off) < ABOUT:
        return "as its sheet says"
    perhaps = "perhaps " if one.low < 1.0 < one.high else ""
    return f"{perhaps}{100 * abs(off):.0f} % {'later' if off > 0.0 else 'sooner'} than its sheet"


def _pace(lessons: Lessons) -> Iterator[ShortLesson]:
    """Yield how fast each crew is, the one that worked most first."""
    for crew in sorted(lessons.crews.values(), key=lambda crew: -crew.sessions):
        known = [one.mean for one in crew.kinds.values() if one.sessions]
        if known:
            ratio = exp(sum(known) / len(known))
            off = ratio - 1.0
            words = "as planned" if abs(off) < ABOUT else f"{100 * abs(off):.0f} % {'slower' if off > 0 else 'faster'}"
            yield ShortLesson("pace", f"{crew.people} at the bench: {words}", crew.sessions, ratio=ratio)


def _steps(days: Sequence[Judged]) -> Iterator[ShortLesson]:
    """Yield the steps that take longer than planned, those first that cost most."""
    times: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for day in (day for day in days if "pace" in TEACHES[day.kind]):
        for step in (step for step in day.steps if step.planned_s > 0.0):
            times.setdefault((step.name, day.people), []).append((step.planned_s, step.took_s))
    slow = []
    for (name, people), known in times.items():
        planned_s, took_s = (median(values) for values in zip(*known, strict=True))
        if took_s > STEP_OVER * planned_s and took_s - planned_s > STEP_OVER_S:
            words = f"{name}, {people} at it: {minutes(took_s)}, planned {minutes(planned_s)}"
            slow.append((took_s - planned_s, ShortLesson("step", words, len(known), ratio=took_s / planned_s)))
    yield from (lesson for _, lesson in sorted(slow, key=lambda each: -each[0]))


def _wrong(days: Sequence[Judged]) -> Iterator[ShortLesson]:
    """Yield what goes wrong most, counted over the days that could tell."""
    counts = Counter(cause for day in days for cause in day.causes)
    for cause, count in counts.most_common():
        yield ShortLesson("wrong", f"{cause}: {count} of {counted_days(len(days))}", count, share=count / len(days))


def _done(sessions: Iterable[Summary]) -> dict[str, list[str]]:
    """Return the notes for next time that were done, by the name of the session that met them."""
    known = list(sessions)
    notes = {note.line: (note.text, session.name) for session in known for note in session.carried}
    done = {session.name: [each.line for each in session.settled if each.how == "done"] for session in known}
    return {
        name: [notes[line][0] for line in lines if line in notes and notes[line][1] != name]
        for name, lines in done.items()
    }


def _since(days: Sequence[Judged], done: Mapping[str, list[str]]) -> Iterator[ShortLesson]:
    """Yield the last changes, each with what was to spare and what failed before it and since, of the same board."""
    changes = []
    for title in dict.fromkeys(day.title for day in days):
        same = [day for day in days if day.title == title]
        what = {n: _changed(same[n - 1], same[n], done.get(same[n].name, [])) for n in range(1, len(same))}
        runs = [0, *(place for place, words in what.items() if words), len(same)]
        for begin, place, end in zip(runs, runs[1:], runs[2:], strict=False):  # from one change to the next
            before, after = same[begin:place][-LATEST:], same[place:end][:LATEST]
            changes.append((same[place].started_at, what[place], before, after))
    for at, words, before, after in sorted(changes, key=lambda each: each[0], reverse=True):
        told = [*_spare_words(before, after), *_failed_words(before, after)]
        if told:
            yield ShortLesson("since", f"{words} ({at[:10]}): {', '.join(told)}", len(after))


def _changed(before: Judged, after: Judged, done: Sequence[str]) -> str:
    """Return what a day did differently from the one before it, as it was set; empty where nothing."""
    told = [f"'{text}'" for text in done[:1]]
    told += [after.resin] if after.resin != before.resin else []
    told += [f"{after.people} at the bench"] if after.people != before.people else []
    if after.largest_cup_g != before.largest_cup_g and after.largest_cup_g is not None:
        told.append(f"cups of {mass(after.largest_cup_g)}")
    return ", ".join(told)


def _spare_words(before: Sequence[Judged], after: Sequence[Judged]) -> Iterator[str]:
    sides = [[day.spare_s for day in days if day.spare_s is not None] for days in (before, after)]
    if all(sides):
        yield f"spare {' → '.join(_middle(side) for side in sides)}"


def _middle(values: Sequence[float]) -> str:
    """Return the middle of some days' times, with the least and the most where they differ."""
    least, most = signed_minutes(min(values)), signed_minutes(max(values))
    return signed_minutes(median(values)) + (f" ({least} to {most})" if least != most else "")


def _failed_words(before: Sequence[Judged], after: Sequence[Judged]) -> Iterator[str]:
    sides = [[day.failed for day in days if day.tags] for days in (before, after)]
    if all(sides):
        yield "failed " + " → ".join(f"{sum(side)} of {len(side)}" for side in sides)
