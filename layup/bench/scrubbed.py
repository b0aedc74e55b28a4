"""A session minute by minute: the bench as it stood, what was done in it and what was missed, and where to jump."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from layup.bench.acts import Act
from layup.bench.decided import MINUTE_S, Decided
from layup.bench.view import BenchView
from layup.review.review import Review
from layup.session.day_events import Note
from layup.session.state import Record, SessionState

AFTER_S = 5.0 * MINUTE_S
"""How far the axis goes on behind the closed press, or the last thing done at the bench."""
MarkKind = Literal["entry", "note", "finding", "decided"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment to jump to, with its words; `number` is that of a finding."""

    at_s: float
    kind: MarkKind
    words: str
    number: int = 0


@dataclass(frozen=True, slots=True)
class Minute:
    """One minute of a day: the bench at its end, what was done in it, and what was overdue by then."""

    view: BenchView
    done: tuple[str, ...]
    missed: tuple[str, ...]


def axis_end_s(found: Review) -> float:
    """Return where the axis of a session ends, in whole minutes: a little behind its bench hours, or its last entry."""
    track, last_s = found.track, found.kept.state.last_s
    end_s = last_s if track is None else min(track.end_s + AFTER_S, max(last_s, track.end_s))
    if (told := found.kept.state.recalled) is not None:  # as late as it may have been
        end_s = max(end_s, *(width.high for width in (told.thick_s, told.closed_s) if width is not None), MINUTE_S)
    return MINUTE_S * max(ceil(end_s / MINUTE_S), 1)


def counting(state: SessionState) -> list[Record]:
    """Return the entries that count, in the order in which things happened."""
    void = state.cancelled | {misfit.seq for misfit in state.misfits}
    return sorted((r for r in state.records if r.seq not in void and not r.lasting), key=lambda r: (r.when_s, r.seq))


def marks_of(found: Review, turned: Decided | None) -> tuple[Mark, ...]:
    """Return all that can be jumped to, in the order of time."""
    state = found.kept.state
    marks = []
    for record in counting(state):
        marks.append(Mark(record.when_s, "note" if isinstance(record, Note) else "entry", record.describe_in(state)))
    for number, finding in enumerate(found.findings, 1):
        if finding.evidence:
            last = max(finding.evidence, key=lambda one: one.at_s)
            marks.append(Mark(last.at_s, "finding", f"{number} {finding.kind}", number))
    if turned is not None:
        marks.append(Mark(turned.at_s, "decided", turned.why))
    return tuple(sorted(marks, key=lambda mark: mark.at_s))


def minute_of(state: SessionState, view: BenchView) -> Minute:
    """Return a minute from the whole state and the bench as it stood at its end."""
    now_s = view.now_s
    done = [r for r in counting(state) if now_s - MINUTE_S < r.when_s <= now_s]
    words = tuple(dict.fromkeys(record.describe_in(state) for record in done))
    acts = (view.act, *view.others, *view.then, *view.alarms)
    late = {
        act.key: act for act in acts if act.kind != "step" and act.deadline_s is not None and act.deadline_s < now_s
    }
    return Minute(view, words, tuple(_missed(act) for act in late.values()))


def _missed(act: Act) -> str:
    return f"{act.words.lower()}{f' {act.number}' if act.number else ''}"


def next_mark(marks: Sequence[Mark], at_s: float, step: int, kinds: frozenset[MarkKind] = frozenset()) -> Mark | None:
    """Return the mark after a moment, or with `step` below zero before it, of some kinds or of any."""
    wanted = [mark for mark in marks if not kinds or mark.kind in kinds]
    times = [mark.at_s for mark in wanted]
    place = bisect_right(times, at_s) if step > 0 else bisect_left(times, at_s) - 1
    return wanted[place] if 0 <= place < len(wanted) else None
