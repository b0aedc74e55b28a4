"""A session as it stood at any moment: only what was written by then counts, with what was known of it by then.

What was told afterwards counts from when it happened: so a day entered from paper is shown as it was.

No file is written and no lock is taken. Made to be asked in a row: what one moment needed the next one uses.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from layup.bench.cure import out_of, outlook_of, part_under_press, work_out
from layup.bench.day import PressDay
from layup.bench.opening import as_kept, meet, window_of
from layup.bench.view import BenchView, bench_view
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.review.carried import carriers
from layup.review.lessons import lessons_of
from layup.session.archive import StoredSession, stored_session
from layup.session.clock import Clock, ManualClock, told_s
from layup.session.reader import Follower
from layup.session.records import as_told, extend, fold
from layup.session.state import Record, SessionState

DAY_S = 86_399.0
"""All but a second of a day: within it the wall clock shows no time twice."""
OUT_OFTEN_S = 300.0
"""How often it is worked out anew when a part may come out, while nothing is logged."""


class _Kept(Follower):
    """A journal that was read, up to a moment."""

    def __init__(self, folder: Path, records: tuple[Record, ...]) -> None:
        super().__init__(folder, ManualClock())
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
            return
        count = bisect_right(self._elapsed_s, at_s)
        if count < self._count:
            self.state, self._count = fold(self._records[:count]), count
        elif count > self._count:
            self.state = extend(self.state, self._records[self._count : count])
            self._count = count

    def poll(self) -> bool:
        """Return no: nothing is added to what was read."""
        return False

    def now_s(self) -> float:
        """Return the moment that is shown."""
        return self._at_s

    @property
    def utc(self) -> datetime:
        """What time it was, as the last entry before tells."""
        record = self.state.records[-1] if self.state.records else self._records[0]
        return record.at + timedelta(seconds=self._at_s - record.elapsed_s)


def _earlier(workshop: Workshop, whole: SessionState) -> Iterator[StoredSession]:
    """Yield the sessions that a day could learn from when it began."""
    for folder in workshop.sessions():
        with suppress(LayupError):  # what cannot be read teaches nothing
            kept = stored_session(folder)
            began, over = kept.state.started_at, kept.state.closed_s is not None or kept.state.ended_s is not None
            if over and began is not None and whole.started_at is not None and began < whole.started_at:
                yield kept


class _WallOf(ManualClock):
    """The wall clock at the moment that is shown."""

    def __init__(self, kept: _Kept) -> None:
        super().__init__()
        self._kept = kept

    def utc(self) -> datetime:
        """Return what time it was."""
        return self._kept.utc


class Replay:
    """One session at any of its moments."""

    def __init__(self, folder: Path, workshop: Workshop, clock: Clock) -> None:
        """Read a session; raises StorageError where it has no journal or that cannot be read."""
        kept = stored_session(folder)
        live = Follower(folder, clock)
        live.poll()
        self.whole: SessionState = kept.state
        """All that was ever written."""
        self.last_s = self.whole.last_s if self.whole.ended_s is not None else max(live.now_s(), self.whole.last_s)
        """The latest moment that can be shown: now, or the last entry of a session that ended."""
        self._source = _Kept(folder, self.whole.records)
        plan, sheet, self.told = as_kept(kept, workshop)
        self.day = PressDay(self._source, folder, plan, sheet, _WallOf(self._source))
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
        return told_s(text, until_s, self.day.moment(until_s))

    def view_at(self, at_s: float) -> BenchView:
        """Return the bench as it stood at a moment.

        Parameters
        ----------
        at_s : float
            Since the session started [s]

        Returns
        -------
        BenchView
            What a surface showed then [-]
        """
        self._source.go_to(at_s)
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
