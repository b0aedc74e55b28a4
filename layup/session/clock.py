"""Clocks, and how old a session is when clocks are set, machines sleep and power fails.

Within one boot the monotonic clock counts, whatever the wall clock is set to. Across boots, and from one machine to
another, only the wall clock knows. Where the monotonic clock stands still while the machine sleeps and the wall clock
ran on further, the longer time counts: a batch that looks too old costs a batch, one that looks too young costs the
part. No age ever falls.

A machine that was off may have lost the time: a wall clock that lies before the last entry counts as no time at all,
and one that was saved an hour before the power failed counts too little. So after each such start the session is "at
least" as old as it says until a person has said what time it is, and until then a wall clock that is put forward
counts. What is mixed before that gets older by it, too: too old costs a batch, too young the part.
"""

from __future__ import annotations

import re
import sys
import time
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from datetime import time as time_of_day
from pathlib import Path
from typing import Protocol
from uuid import uuid4

from layup.errors import InputError
from layup.units import clock_time, parse

FIRST_TIME, LAST_TIME = datetime(1970, 1, 1, tzinfo=UTC), datetime(2299, 12, 31, tzinfo=UTC)
"""Between them is what a wall clock may show: from one that forgot the time to one set by a slip of the finger."""

JUMP_S = 2.0
"""Disagreement between the clocks that is logged and shown; less is drift and slewing."""
ROUNDED = timedelta(seconds=120)
"""A time typed in whole minutes may lie before the last entry by this much."""
_ROUNDING_S = 1e-3
"""What rounding in a journal may make of no time at all."""
_BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")
PROCESS = "process-"
"""How a boot id begins where the system has none: it names the process only."""
_PROCESS_ID = f"{PROCESS}{uuid4()}"
FAR_S = 366 * 86_400.0
"""A wall clock that moved by more is not believed: no part is pressed for longer than a year."""


class Clock(Protocol):
    """Where time comes from. `monotonic_s` can be compared only within the boot that `boot_id` names."""

    @property
    def counts_sleep(self) -> bool:
        """Whether `monotonic_s` goes on while the machine sleeps."""
        ...

    def utc(self) -> datetime:
        """Return the wall clock, in UTC."""
        ...

    def monotonic_s(self) -> float:
        """Return the seconds since some fixed moment of this boot, which nobody can set."""
        ...

    def boot_id(self) -> str:
        """Return a word that is the same for as long as `monotonic_s` counts from the same moment."""
        ...


def _steady_clock() -> int | None:
    """Return the id of the system's clock that goes on during sleep, if it has one.

    Linux: CLOCK_BOOTTIME (clock_gettime(2)). macOS: CLOCK_MONOTONIC_RAW, which there goes on during sleep and
    which no setting of the time moves, unlike CLOCK_MONOTONIC (clock_gettime(3), from memory).
    """
    name = {"linux": "CLOCK_BOOTTIME", "darwin": "CLOCK_MONOTONIC_RAW"}.get(sys.platform, "")
    found = getattr(time, name, None)
    return found if isinstance(found, int) else None


class SystemClock:
    """The machine's own clocks."""

    def __init__(self) -> None:
        self._steady = _steady_clock()
        self._boot_id = _boot_id()

    @property
    def counts_sleep(self) -> bool:
        """Whether the system has a clock that goes on during sleep."""
        return self._steady is not None

    def utc(self) -> datetime:
        return datetime.now(UTC)

    def monotonic_s(self) -> float:
        return time.monotonic() if self._steady is None else time.clock_gettime(self._steady)

    def boot_id(self) -> str:
        """Return the kernel's boot id; where it has none, the process's own, so that the next goes by the wall."""
        return self._boot_id


def _boot_id() -> str:
    try:
        return _BOOT_ID_FILE.read_text(encoding="ascii").strip()
    except OSError:
        return _PROCESS_ID


class ManualClock:
    """A clock moved by hand, for replays and scripted days."""

    counts_sleep = True

    def __init__(self, utc: datetime = datetime(2026, 3, 7, 8, 0, tzinfo=UTC)) -> None:
        self._utc = utc
        self._monotonic_s = 1000.0

    def utc(self) -> datetime:
        return self._utc

    def monotonic_s(self) -> float:
        return self._monotonic_s

    def boot_id(self) -> str:
        return "boot-1"

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self._utc += timedelta(seconds=seconds)
        self._monotonic_s += seconds

    def set_wall(self, by_s: float) -> None:
        """Set the wall clock forward, or back for a negative number; no time passes."""
        self._utc += timedelta(seconds=by_s)


class EarlierClock:
    """Another clock as it was some time ago: a day that began before it is entered."""

    def __init__(self, clock: Clock, ago_s: float) -> None:
        self._clock = clock
        self._ago_s = ago_s

    def advance(self, seconds: float) -> None:
        """Let time pass there, up to now."""
        self._ago_s = max(self._ago_s - seconds, 0.0)

    @property
    def counts_sleep(self) -> bool:
        return self._clock.counts_sleep

    def utc(self) -> datetime:
        return self._clock.utc() - timedelta(seconds=self._ago_s)

    def monotonic_s(self) -> float:
        """Return what the steady clock showed then, below zero before the machine was on."""
        return self._clock.monotonic_s() - self._ago_s

    def boot_id(self) -> str:
        """Return the present boot, in whose seconds all is counted."""
        return self._clock.boot_id()


@dataclass(frozen=True, slots=True)
class Jump:
    """The clocks disagreed: how far each moved, and what was counted."""

    wall_s: float
    monotonic_s: float
    taken_s: float
    restarted: bool = False
    """Whether the machine was off meanwhile, or is another one: only the wall clock knows for how long."""


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment of the session and what time it was then."""

    elapsed_s: float
    utc: datetime

    def age_s(self, utc: datetime) -> float:
        """Return the session's age at another time."""
        return self.elapsed_s + (utc - self.utc).total_seconds()

    def time(self, elapsed_s: float) -> datetime:
        """Return what time it is at another age."""
        return self.utc + timedelta(seconds=elapsed_s - self.elapsed_s)


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant by every clock, with the session's age at it."""

    elapsed_s: float
    utc: datetime
    monotonic_s: float
    boot_id: str
    sure: Instant | None = None
    """The last one whose age is sure, where the machine was off since and nobody has said what time it is."""
    told: Instant | None = None
    """When somebody last said what time it is, where the wall clock shows another."""

    @property
    def least_utc(self) -> datetime:
        """What time it is at least, by all that is known."""
        known = self.sure or self.told
        return self.utc if known is None else known.time(self.elapsed_s)

    @classmethod
    def first(cls, clock: Clock) -> Moment:
        """Return the moment a session starts."""
        return cls(0.0, wall(clock), clock.monotonic_s(), clock.boot_id())


def wall(clock: Clock) -> datetime:
    """Return the wall clock as it is written: the nearest time that a journal takes, where it shows another."""
    return min(max(clock.utc(), FIRST_TIME), LAST_TIME)


def advance(last: Moment, clock: Clock) -> tuple[Moment, Jump | None]:
    """Return the present moment, counted on from `last`, and the jump if the clocks disagree on the way."""
    utc, monotonic_s, boot_id = wall(clock), clock.monotonic_s(), clock.boot_id()
    wall_s = (utc - last.utc).total_seconds()
    steady_s = monotonic_s - last.monotonic_s
    if not _same_run(last.boot_id, boot_id, wall_s, steady_s):
        return _after_a_start(last, utc, monotonic_s, boot_id)
    steady_s = max(0.0, steady_s)
    taken_s = wall_s if wall_s - steady_s > JUMP_S and wall_s <= FAR_S and not clock.counts_sleep else steady_s
    if last.sure is not None:
        more_s = last.sure.age_s(utc) - (last.elapsed_s + taken_s)
        taken_s += more_s if JUMP_S < more_s <= FAR_S else 0.0
    jumped = abs(wall_s - steady_s) > JUMP_S or taken_s != steady_s
    now = Moment(last.elapsed_s + taken_s, utc, monotonic_s, boot_id, last.sure, last.told)
    return now, Jump(wall_s, steady_s, taken_s) if jumped else None


def _same_run(before: str, boot_id: str, wall_s: float, steady_s: float) -> bool:
    """Return whether the monotonic clock counts on; where a boot has no name of its own, if the wall clock says so."""
    if before.startswith(PROCESS) and boot_id.startswith(PROCESS) and before != boot_id:
        return steady_s >= 0.0 and abs(wall_s - steady_s) <= JUMP_S
    return before == boot_id and steady_s >= -_ROUNDING_S


def _after_a_start(last: Moment, utc: datetime, monotonic_s: float, boot_id: str) -> tuple[Moment, Jump]:
    """Return the present moment where the machine was off since `last`, as far as the wall clock tells it."""
    sure = last.sure or Instant(last.elapsed_s, last.least_utc)
    gone_s = sure.age_s(utc) - last.elapsed_s
    taken_s = gone_s if 0.0 < gone_s <= FAR_S else 0.0
    jump = Jump((utc - sure.utc).total_seconds(), 0.0, taken_s, restarted=True)
    return Moment(last.elapsed_s + taken_s, utc, monotonic_s, boot_id, sure), jump


def told(moment: Moment, utc: datetime) -> tuple[Moment, float]:
    """Return a moment as it is where somebody says what time it is, and the time that is counted on top for it."""
    late_s = 0.0 if moment.sure is None else moment.sure.age_s(utc) - moment.elapsed_s
    taken_s = late_s if 0.0 < late_s <= FAR_S else 0.0
    elapsed_s = moment.elapsed_s + taken_s
    return replace(moment, elapsed_s=elapsed_s, sure=None, told=told_instant(elapsed_s, utc, moment.utc)), taken_s


def told_instant(elapsed_s: float, utc: datetime, wall_utc: datetime) -> Instant | None:
    """Return what was said of the time; None where the wall clock shows it, too."""
    return None if abs((utc - wall_utc).total_seconds()) <= JUMP_S else Instant(elapsed_s, utc)


# -- told afterwards -------------------------------------------------------------------------------------------------

TOLD = '"6 min ago", "08:41", or "25 min" from the start'
"""What people may say of when something happened."""
_TIME_OF_DAY = re.compile(r"(?:(\d{4}-\d{2}-\d{2}) )?(\d{1,2}):(\d{2})(?::(\d{2}))? ?([ap]m)?")
DAY_S = 86_400.0


def told_s(text: str, now_s: float, now: datetime, *, first: bool = False) -> float:
    """Return when something happened, as an age of the session up to now, from what somebody says of it.

    "6 min ago", a time of day in this place ("08:41", "8:41 pm", "2026-03-07 08:41"), an age ("25 min"), or "now". Of a
    time of day that came several times `first` takes the first, not the last. Raises InputError for words that say no
    time, and for a time before the session began or that has not come yet.
    """
    plain = " ".join(text.casefold().removeprefix("at ").split())
    if plain == "now":
        return now_s
    found = _TIME_OF_DAY.fullmatch(plain)
    if found is not None:
        ages = [now_s - (now - moment).total_seconds() for moment in _moments(found, text, now_s, now)]
        at_s = next((age_s for age_s in (reversed(ages) if first else ages) if 0.0 <= age_s <= now_s), ages[0])
    elif plain.endswith(" ago"):
        at_s = now_s - parse(plain.removesuffix(" ago"), "time", where="time")
    else:
        at_s = parse(plain, "time", where="time")
    if at_s > now_s:
        raise InputError("time", "has not come yet", value=text, allowed=f"it is {clock_time(now)}")
    if at_s < 0.0:
        began = clock_time(now - timedelta(seconds=now_s))
        raise InputError("time", "is before the session began", value=text, allowed=f"it began at {began}")
    return at_s


def _moments(found: re.Match[str], text: str, now_s: float, now: datetime) -> list[datetime]:
    """Return when the clock shows a time of day: on the day that is named, or today and on the days before."""
    named, half = found[1], found[5]
    hour, minute, second = (int(each or 0) for each in found.groups()[1:4])
    try:
        if half and not 1 <= hour <= 12:
            raise ValueError(half)
        of_day = time_of_day(hour % 12 + (12 if half == "pm" else 0) if half else hour, minute, second)
        days = (
            [date.fromisoformat(named)] if named else [now.date() - timedelta(n) for n in range(int(now_s / DAY_S) + 2)]
        )
    except ValueError:
        raise InputError("time", "is no time of day", value=text, allowed=TOLD) from None
    return [datetime.combine(day, of_day).astimezone() for day in days]
