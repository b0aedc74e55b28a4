"""Back over a day: the bench as it stood minute by minute, what was done and missed, and when its outcome was decided.

Of a session as it stood only what was written by then counts, and what was told afterwards from when it happened: so a
day entered from paper is shown as it was. No file is written and no lock is taken. Made to be asked in a row: what one
moment needed the next one uses.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import timedelta
from math import ceil, floor
from pathlib import Path
from typing import Literal

from layup.bench.day import PressDay
from layup.bench.forecast import out_of, outlook_of, part_under_press, work_out
from layup.bench.opening import as_kept, day_state, meet, plan_now, window_of
from layup.bench.view import BenchView, bench_view
from layup.chemistry.mixing import parts_by_mass
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.planning.replan import Replan, replan, rescue_of
from layup.review.carried import carriers
from layup.review.evidence import Entry, effective_records
from layup.review.lessons import lessons_of
from layup.review.review import Review
from layup.review.timeline import BatchTrack, Track
from layup.session.archive import StoredSession, stored_session
from layup.session.clock import Clock, ManualClock, told_s
from layup.session.day_events import Note
from layup.session.mass_balance import doubt
from layup.session.reader import Follower
from layup.session.records import as_told, extend, fold
from layup.session.state import Event, Record, SessionState
from layup.units import mass

DAY_S = 86_399.0
"""All but a second of a day: within it the wall clock shows no time twice."""
OUT_OFTEN_S = 300.0
"""How often it is worked out anew when a part may come out, while nothing is logged."""


class _Kept(Follower):
    """A journal that was read, up to a moment."""

    def __init__(self, folder: Path, records: tuple[Record, ...]) -> None:
        self.clock = ManualClock()
        """Its wall clock shows the moment."""
        super().__init__(folder, self.clock)
        self._late = any(record.happened_s is not None for record in records)
        self._records = as_told(records) if self._late else records
        self._elapsed_s = [record.elapsed_s for record in records]
        self._count = 0
        self._at_s = 0.0

    def go_to(self, at_s: float) -> None:
        """Let count what was written by a moment, or told to have happened by then."""
        self._at_s = at_s
        if self._late:
            happened = tuple(record for record in self._records if record.when_s <= at_s)
            if happened != self.state.records:
                self.state = fold(happened)
        elif (count := bisect_right(self._elapsed_s, at_s)) < self._count:
            self.state, self._count = fold(self._records[:count]), count
        elif count > self._count:
            self.state = extend(self.state, self._records[self._count : count])
            self._count = count
        for record in self.state.records[-1:] or self._records[:1]:
            utc = record.at + timedelta(seconds=at_s - record.elapsed_s)
            self.clock.set_wall((utc - self.clock.utc()).total_seconds())

    def poll(self) -> bool:
        """Return no: nothing is added to what was read."""
        return False

    def now_s(self) -> float:
        return self._at_s


def _earlier(workshop: Workshop, whole: SessionState) -> Iterator[StoredSession]:
    """Yield the sessions that a day could learn from when it began."""
    for folder in workshop.sessions():
        with suppress(LayupError):  # what cannot be read teaches nothing
            stored = stored_session(folder)
            began, over = stored.state.started_at, stored.state.closed_s is not None or stored.state.ended_s is not None
            if over and began is not None and whole.started_at is not None and began < whole.started_at:
                yield stored


class Replay:
    """One session at any of its moments."""

    def __init__(self, folder: Path, workshop: Workshop, clock: Clock) -> None:
        """Read a session; raises StorageError where it has no journal or that cannot be read."""
        stored = stored_session(folder)
        live = Follower(folder, clock)
        live.poll()
        self.whole: SessionState = stored.state
        """All that was ever written."""
        self.last_s = self.whole.last_s if self.whole.ended_s is not None else max(live.now_s(), self.whole.last_s)
        """The latest moment that can be shown: now, or the last entry of a session that ended."""
        self._source = _Kept(folder, self.whole.records)
        plan, sheet, self.told = as_kept(stored, workshop)
        self.day = PressDay(self._source, folder, plan, sheet, self._source.clock)
        self._source.go_to(self.last_s)
        start = self.whole.start
        if start is not None and start.lessons_used:
            self.day.use(lessons_of(_earlier(workshop, self.whole), workshop.resins()))
        meet(self.day, carriers(workshop), until=self.whole.started_at.isoformat() if self.whole.started_at else "")
        self._windowed = False
        self._out_of: tuple[int, int] | None = None

    def when_s(self, text: str) -> float:
        """Return a moment from what somebody says: "25 min" from the start, "08:41", "6 min ago".

        Raises InputError for words that say no time, and for a time outside the session.
        """
        first_day_s = DAY_S if ":" in text and self.whole.ended_s is not None else self.last_s
        until_s = min(first_day_s, self.last_s)  # a clock time of a session that is over is that of its own day
        self._source.go_to(until_s)
        at_s = told_s(text, until_s, self.day.moment(until_s))
        self._source.go_to(at_s)  # the wall clock and the session's age drift apart: that of the moment itself counts
        return told_s(text, until_s, self.day.moment(until_s))

    def go_to(self, at_s: float) -> PressDay:
        """Return the day as it stood so long after the session started."""
        self._source.go_to(at_s)
        return self.day

    def view_at(self, at_s: float) -> BenchView:
        """Return the bench as a surface showed it so long after the session started."""
        self.go_to(at_s)
        if not self._windowed and self.day.state.air and self.day.state.closed_s is None:
            self.day.window_K, self._windowed = window_of(self.day), True
        self._look_at_cure(at_s)
        return bench_view(self.day)

    def _look_at_cure(self, at_s: float) -> None:
        """Work out when the part may come out, where it is in the press and that is not known yet."""
        day, state = self.day, self.day.state
        if state.closed_s is None or state.demoulded_s is not None:
            day.out_s, self._out_of = None, None
            return
        of = state.seq, 0 if state.ended_s is not None else int((at_s - state.closed_s) / OUT_OFTEN_S)
        if of == self._out_of:
            return
        self._out_of, day.out_s = of, None
        with suppress(LayupError):  # a resin whose cure is not known: the press stays closed
            part = part_under_press(day)
            if part is not None:
                day.out_s = out_of(work_out(part, outlook_of(day)), state.closed_s)


MINUTE_S = 60.0
LATE_CAUSES = frozenset({"past thickening", "closed late"})
"""The causes that say that something was too late."""
STILL_CLOSES = ("close", "close if wet", "core first")
"""What saves most, where that closes a press over what is laid."""
GO_ON = "go on"
NO_WAY = "no way on was left in time"


@dataclass(frozen=True, slots=True)
class Decided:
    """When nothing that was in hand could turn the day any more, why, and what would have turned it a minute before."""

    at_s: float
    """The first whole minute at which no way on was left, or when mix that was over went on the part."""
    why: str
    way: str
    """What would still have helped; empty where nothing did from first contact on."""
    way_s: float
    """At what minute that was asked."""


def ways_left(day: PressDay) -> Iterator[str]:
    """Yield each way on that still closes the press in time by the day's own planner, the least effort first."""
    state = day_state(day)
    result = plan_now(day)
    plan = replan(result, state)
    if plan.in_time:
        on = GO_ON if day.state.step_now is not None else "close the press"
        yield f"{on}, {mixing}" if (mixing := _mixing(plan)) else on
    for saver in plan.savers:
        tried = replan(saver.result, replace(state, people=saver.result.plan.crew.people))
        if tried.in_time:
            yield saver.words.rstrip(".").lower()
    if state.in_cup:
        fresh = replan(result, replace(state, in_cup=()))
        if fresh.in_time:
            cups = _and([str(cup.batch) for cup in state.in_cup])
            anew = f"{mixing} anew" if (mixing := _mixing(fresh)) else GO_ON
            yield f"carry cup{'s' if len(state.in_cup) > 1 else ''} {cups} outside, {anew}"
    if any(batch.open_within_s > 0.0 for batch in state.on_part):
        rescue = rescue_of(result.plan, state.people, state.done, state.in_cup, state.on_part)
        if rescue.kind in STILL_CLOSES and not rescue.urgent:
            yield rescue.words


def _mixing(plan: Replan) -> str:
    masses = [mass(batch.mass_g) for batch in plan.split.batches]
    return f"mix {_and(masses)}" if masses else ""


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


_LAST: deque[tuple[object, Decided | None]] = deque(maxlen=4)


def decided(replay: Replay, found: Review) -> Decided | None:
    """Return when a day was decided, by bisection over its minutes; None where nothing was too late or wrong for good.

    That is the first minute at which neither the plan of the day, nor a planner's change, nor fresh mix for what stands
    in the cups, nor closing over what is laid was still in time; or, if that came first, the moment at which mix past
    thickening or off ratio went on the part. A day told from memory has none. A way that is lost stays lost while the
    clocks run on, so that halving the minutes finds the last one that had one. The last few are kept: list and opened
    day of the Logbook ask for the same one in turn.
    """
    day = replay.day
    if not day.is_known:
        return _decided(replay, found)
    asked = replay.whole, day.plan, day.sheet, day.calibration, found.track, found.findings
    for known, turned in tuple(_LAST):
        if known == asked:
            return turned
    _LAST.append((asked, turned := _decided(replay, found)))
    return turned


def _decided(replay: Replay, found: Review) -> Decided | None:
    track = found.track
    if track is None or track.contact_s is None or found.stored.state.recalled is not None:
        return None  # of a day from memory nobody told a minute so exactly
    harm = min(_harms(found, track), default=None)
    if harm is None and not LATE_CAUSES & {finding.cause for finding in found.findings}:
        return None
    end_s = track.end_s if harm is None else harm[0]
    first, last = floor(track.contact_s / MINUTE_S) + 1, ceil(end_s / MINUTE_S) - 1
    known: dict[int, str] = {}

    def way(minute: int) -> str:
        if minute not in known:
            try:
                known[minute] = next(ways_left(replay.go_to(MINUTE_S * minute)), "")
            except LayupError:  # a batch beyond the model: nobody could plan on
                known[minute] = ""
        return known[minute]

    lost = _first_without(way, first, last)
    if lost is not None:
        return Decided(MINUTE_S * lost, NO_WAY, way(lost - 1) if lost > first else "", MINUTE_S * (lost - 1))
    if harm is None:
        return None
    return Decided(harm[0], harm[1], way(max(last, first)), MINUTE_S * max(last, first))


def _first_without(way: Callable[[int], str], first: int, last: int) -> int | None:
    """Return the first minute without a way; None where the last one still has one."""
    if last < first or way(last):
        return None
    low, high = first - 1, last
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if way(middle) else (low, middle)
    return high


def _harms(found: Review, track: Track) -> Iterator[tuple[float, str]]:
    """Yield when mix went on the part that was over or off ratio, and which, where the review says so."""
    causes = {finding.cause for finding in found.findings}
    parts = parts_by_mass(found.stored.sheet) if found.stored.sheet is not None else ()
    for batch in track.batches:
        if batch.emptied_s is None or not batch.used:
            continue
        if "past thickening" in causes and _thick(batch):
            yield batch.emptied_s, f"cup {batch.number} went on the part thick"
        state = found.stored.state.batch(batch.number)
        if "off ratio" in causes and parts and state is not None and doubt(state, parts) == "off ratio":
            yield batch.emptied_s, f"batch {batch.number} went on the part off ratio"


def _thick(batch: BatchTrack) -> bool:
    """Return whether a cup was more likely past thickening than not when it was emptied."""
    assert batch.emptied_s is not None
    return batch.cup is not None and batch.emptied_s > batch.cup.likely


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
    track, last_s = found.track, found.stored.state.last_s
    end_s = last_s if track is None else min(track.end_s + AFTER_S, max(last_s, track.end_s))
    if (told := found.stored.state.recalled) is not None:  # as late as it may have been
        end_s = max(end_s, *(width.high for width in (told.thick_s, told.closed_s) if width is not None), MINUTE_S)
    return MINUTE_S * max(ceil(end_s / MINUTE_S), 1)


def _counting(state: SessionState) -> list[Entry[Event]]:
    """Return the entries that count and could be taken back, in the order in which things happened."""
    return [entry for entry in effective_records(state) if not entry.event.lasting]


def marks_of(found: Review, turned: Decided | None) -> tuple[Mark, ...]:
    """Return all that can be jumped to, in the order of time."""
    state = found.stored.state
    marks = []
    for _, at_s, event in _counting(state):
        marks.append(Mark(at_s, "note" if isinstance(event, Note) else "entry", event.describe_in(state)))
    for number, finding in enumerate(found.findings, 1):
        if finding.evidence:
            last = max(finding.evidence, key=lambda one: one.at_s)
            marks.append(Mark(last.at_s, "finding", f"{number} {finding.cause}", number))
    if turned is not None:
        marks.append(Mark(turned.at_s, "decided", turned.why))
    return tuple(sorted(marks, key=lambda mark: mark.at_s))


def minute_of(state: SessionState, view: BenchView) -> Minute:
    """Return a minute from the whole state and the bench as it stood at its end."""
    now_s = view.now_s
    done = [event for _, at_s, event in _counting(state) if now_s - MINUTE_S < at_s <= now_s]
    words = tuple(dict.fromkeys(event.describe_in(state) for event in done))
    acts = (view.act, *view.others, *view.then, *view.alarms)
    late = {
        act.key: act for act in acts if act.kind != "step" and act.deadline_s is not None and act.deadline_s < now_s
    }
    return Minute(view, words, tuple(f"{act.words.lower()} {act.told}".rstrip() for act in late.values()))


def next_mark(marks: Sequence[Mark], at_s: float, step: int, kinds: frozenset[MarkKind] = frozenset()) -> Mark | None:
    """Return the mark after a moment, or with `step` below zero before it, of some kinds or of any."""
    wanted = [mark for mark in marks if not kinds or mark.kind in kinds]
    times = [mark.at_s for mark in wanted]
    place = bisect_right(times, at_s) if step > 0 else bisect_left(times, at_s) - 1
    return wanted[place] if 0 <= place < len(wanted) else None
