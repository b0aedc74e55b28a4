"""What the sessions teach in eight lines at most, for people: the resin, the pace, what goes wrong, what changed since.

The numbers with their spread are `lessons`; here is only what somebody acts on, each with what it rests on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import exp
from statistics import median
from typing import Literal

from layup.chemistry.datasheet import Datasheet
from layup.review.judged import Judged, in_order
from layup.review.lessons import TEACHES, Lessons
from layup.review.resin_lessons import ResinLesson
from layup.review.timeline import signed_minutes
from layup.session.archive import Summary
from layup.units import mass, minutes

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
