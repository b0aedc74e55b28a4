"""The bell of a press day, and the thermometer that is followed: which acts ring, how often, and when again.

After alarm-management practice, in our own words: EEMUA 191, few, each asks for an action, ranked; IEC 60601-1-8, three
priorities, an acknowledged alarm is quiet. What is due, and what was seen, is told by the acts; here is only the pace.
Pure: `look` takes what rang before; `Thermometer.take` decides what a reading means: whether it is nonsense, whether it
is worth a line of the journal, and since when nothing new was heard.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Timer

from layup.bench.acts import Act, ranked
from layup.bench.day import PressDay, Said
from layup.bench.doing import seen
from layup.bench.view import BenchView, bench_view
from layup.errors import InputError, LayupError
from layup.session.clock import Clock
from layup.session.day_events import TemperatureRead
from layup.session.fields import AlarmRank, Place
from layup.session.text import clean
from layup.units import in_minutes, parse, temperature

PACE_S = 60.0
"""At most one alarm rings for the first time, or for more urgency, in this time; only danger does not wait."""
REPEAT_S = 60.0
"""What must be done now rings again after this time, until somebody has seen it."""
FLAP_S = 120.0
"""What went away and is back within this time is no news."""
STROKES: dict[AlarmRank, int] = {"when free": 0, "soon": 1, "now": 3}
"""How often the bell is struck for each rank."""


@dataclass(frozen=True, slots=True)
class Heard:
    """How urgent a matter was when it was heard, and when it was last as urgent as that."""

    level: int
    danger: bool
    last_s: float


@dataclass(frozen=True, slots=True)
class AlarmBoard:
    """The alarms that stand, the loudest first, those seen last; and what the pace has to remember."""

    alarms: tuple[Act, ...] = ()
    strokes: int = 0
    """How often to strike the bell now."""
    news: tuple[Act, ...] = ()
    """What rings for the first time, or for more urgency."""
    looked: bool = False
    """Whether anything was looked at before: what stands when a day is opened again rings once, all together."""
    came_s: float = float("-inf")
    rang_s: float = float("-inf")
    heard: Mapping[str, Heard] = field(default_factory=dict)

    @property
    def loudest(self) -> Act | None:
        """The first alarm that nobody has seen."""
        return next((act for act in self.alarms if not act.seen), None)


def look(acts: Iterable[Act], now_s: float, before: AlarmBoard) -> AlarmBoard:
    """Return which alarms stand now and how to ring, after what rang `before`. To be called about once a second."""
    found = ranked(act for act in acts if act.alarm)
    heard = {key: each for key, each in before.heard.items() if now_s - each.last_s <= FLAP_S}
    risen = [act for act in found if _rises(act, heard.get(act.key))]
    news = _in_turn(risen, now_s - max(before.came_s, before.rang_s)) if before.looked else risen
    for act in found:
        heard_of = _heard(act, heard.get(act.key), now_s, news=act in news)
        if heard_of is not None:
            heard[act.key] = heard_of
    loud = tuple(act for act in news if not act.seen)
    strokes = _strokes(loud, found, now_s - before.rang_s)
    return AlarmBoard(
        alarms=tuple(found),
        strokes=strokes,
        news=loud,
        looked=True,
        came_s=now_s if loud else before.came_s,
        rang_s=now_s if strokes else before.rang_s,
        heard=heard,
    )


def _rises(act: Act, heard: Heard | None) -> bool:
    """Return whether an alarm is new, or more urgent than was heard, or becomes a danger."""
    return heard is None or act.level > heard.level or (act.danger and not heard.danger)


def _heard(act: Act, heard: Heard | None, now_s: float, *, news: bool) -> Heard | None:
    """Return what was heard of an alarm after this look; None where it waits its turn to be heard at all."""
    if news or heard is None:
        return Heard(act.level, act.danger, now_s) if news else None
    if act.level >= heard.level:
        return replace(heard, last_s=now_s)
    return Heard(act.level, act.danger, now_s) if now_s - heard.last_s >= FLAP_S else heard


def _in_turn(risen: Iterable[Act], since_last_s: float) -> list[Act]:
    """Return which of the risen alarms come up now: dangers and those seen all, of the others one at a time."""
    news: list[Act] = []
    free = since_last_s >= PACE_S
    for act in risen:
        if act.danger or act.seen or free:
            news.append(act)
            free = free and act.seen
    return news


def _strokes(news: tuple[Act, ...], found: list[Act], since_rung_s: float) -> int:
    """Return how often to strike the bell: for the loudest news, or again for what must be done now."""
    strokes = max((STROKES[act.rank] for act in news), default=0)
    again = any(act.rank == "now" and not act.seen for act in found)
    return STROKES["now"] if again and since_rung_s >= REPEAT_S else strokes


# -- alarm monitor ---------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class AlarmMonitor:
    """Looks at one press day about once a second; pure but for what it remembers."""

    day: PressDay
    source: ReadingSource | None = None
    board: AlarmBoard = field(default_factory=AlarmBoard)
    thermometer: Thermometer = field(init=False)
    clock_asked: bool = False
    """Whether the question about the clock was put by itself."""

    def __post_init__(self) -> None:
        self.thermometer = Thermometer(since_s=self.day.now_s())

    def look(self, view: BenchView | None = None) -> AlarmBoard:
        """Return the alarms that stand now: those of a view that was just drawn, else of one of its own."""
        now_s = self.day.now_s()
        self.day.thermometer_silent_s = self.thermometer.silent_s(now_s) if self.source else None
        self.board = look((view or bench_view(self.day)).alarms, now_s, self.board)
        return self.board

    def asks_clock(self) -> bool:
        """Return, once, whether it is time to ask what time it is."""
        asks = self.day.state.clock_unsure and not self.day.watching and not self.clock_asked
        self.clock_asked = self.clock_asked or asks
        return asks

    def seen(self) -> Said:
        """Log that somebody has seen the act on top, or the loudest alarm: it is quiet until it gets worse."""
        said = seen(self.day)
        self.look()
        return said

    def take(self, poll: Poll) -> bool:
        """Take one look at the thermometer; return whether it was worth an entry in the journal."""
        self.thermometer, event = self.thermometer.take(poll, self.day.now_s())
        return event is not None and self.day.log(event, "").done


# -- thermometer -------------------------------------------------------------------------------------------------------

POLL_S = 10.0
"""How often to read."""
COMMAND_LIMIT_S = 5.0
"""How long a command may take."""
STALE_S = 300.0
"""How old the last good reading may be."""
STEP_K = 0.2
"""A change that is worth a line of the journal."""
KEEP_S = 300.0
"""After this time a reading is logged even if nothing changed."""
JUMP_K = 5.0
"""A change between two readings that counts only once the next one confirms it."""
PLAUSIBLE_K: dict[str, tuple[float, float]] = {
    "air": (243.15, 333.15),
    "resin": (278.15, 333.15),
    "mould": (243.15, 423.15),
}
"""What each place can have; a broken sensor often says 85 or -127 degC (from memory)."""
LONGEST = 4096
"""How much of what a file or command says is read."""

_READING = re.compile(
    r"(?<![\w.,])(?<!\d[:/-])([-+\u2212]?\d+(?:[.,]\d+)?)(?![.,]?\d|[:/-]\d)"  # a number, but not one of a date or time
    r"(?:\s*(?:°|deg\w*)?\s*([CFK]|celsius|fahrenheit|kelvin))?(?!\w)",
    re.ASCII | re.IGNORECASE,
)
_UNITS = {"C": "degC", "F": "degF", "K": "K", "": "degC"}


@dataclass(frozen=True, slots=True)
class Poll:
    """What one look at the thermometer brought: a text and its age, or why there is none."""

    text: str = ""
    age_s: float = 0.0
    trouble: str = ""


class FileSource:
    """A file that another program keeps writing the temperature to."""

    def __init__(self, path: Path, clock: Clock) -> None:
        self.path = path
        self._clock = clock
        self._stamp: tuple[int, int] | None = None
        self._changed_s = 0.0

    def read(self) -> Poll:
        """Return what the file holds. Its age counts from when it was seen to change; at first, by its date."""
        try:
            with self.path.open("rb") as file:
                text = file.read(LONGEST).decode("utf-8", "replace")
            stat = self.path.stat()
        except OSError as error:
            return Poll(trouble=f"{self.path.name} cannot be read ({error.strerror or error})")
        now_s, stamp = self._clock.monotonic_s(), (stat.st_mtime_ns, stat.st_size)
        if self._stamp is None:
            self._changed_s = now_s - max(self._clock.utc().timestamp() - stat.st_mtime, 0.0)
        elif stamp != self._stamp:
            self._changed_s = now_s
        self._stamp = stamp
        return Poll(text, age_s=now_s - self._changed_s)


class CommandSource:
    """A command that prints the temperature and ends. It gets no shell, no keyboard and little time."""

    def __init__(self, words: list[str], limit_s: float = COMMAND_LIMIT_S) -> None:
        self.words = words
        self.limit_s = limit_s

    def read(self) -> Poll:
        try:
            with subprocess.Popen(
                self.words,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            ) as process:
                return self._said(process)
        except OSError as error:
            return Poll(trouble=f"{self.words[0]} cannot be run ({error.strerror or error})")

    def _said(self, process: subprocess.Popen[bytes]) -> Poll:
        """Read the start of what a running command prints, and end it at its limit of time or length."""
        late = Timer(self.limit_s, _end, (process,))
        late.start()
        try:
            assert process.stdout is not None
            said = process.stdout.read(LONGEST)
        finally:
            in_time = late.is_alive()
            late.cancel()
        with suppress(subprocess.TimeoutExpired):
            process.wait(timeout=self.limit_s if len(said) < LONGEST else 0.0)
        _end(process)
        if not in_time:
            return Poll(trouble=f"{self.words[0]} took longer than {self.limit_s:g} s")
        if process.wait() > 0:
            return Poll(trouble=f"{self.words[0]} failed with exit code {process.returncode}")
        return Poll(said.decode("utf-8", "replace"))


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a command and whatever it started: a child that holds the pipe would keep the reader waiting."""
    if os.name == "posix":
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()


ReadingSource = FileSource | CommandSource
"""Where readings come from; `read` may take up to a few seconds, and belongs off the screen's thread."""


def source_of(said: str, clock: Clock) -> ReadingSource:
    """Return the source that `--thermometer` names: a file that is there, else a command that can be found."""
    path = Path(said).expanduser()
    if path.is_file():
        return FileSource(path, clock)
    try:
        words = shlex.split(said)
    except ValueError as error:
        words, why = [], f"{said!r}: {error}"
    else:
        why = said
    if words and shutil.which(words[0]):
        return CommandSource(words)
    raise InputError(
        "thermometer",
        "is neither a file nor a command that can be found",
        value=clean(why),
        allowed="a file that holds a number, or a command that prints one, in °C unless it says F or K",
        todo="try the command in a terminal first",
    )


def kelvin_of(text: str) -> float:
    """Return the first number of a text as a temperature in K; it is in °C unless F or K follows.

    Raises InputError if the text holds no number.
    """
    found = _READING.search(text)
    if found is None:
        shown = clean(text.strip(), 40).replace("\n", " ")
        raise InputError("thermometer", "says no number", value=shown or "nothing", allowed="a number such as 21.4")
    unit = _UNITS[(found[2] or "")[:1].upper()]
    return parse(f"{found[1]} {unit}", "temperature", where="thermometer")


@dataclass(frozen=True, slots=True)
class Thermometer:
    """What is known of one thermometer; each reading makes the next. Times ending in `_s` are the session's."""

    place: Place = "air"
    read_K: float | None = None
    """The last good reading."""
    heard_s: float | None = None
    """When it was true."""
    logged_K: float | None = None
    logged_s: float = 0.0
    doubt_K: float | None = None
    """A reading that jumped and waits to be confirmed."""
    since_s: float = 0.0
    """When following began."""
    trouble: str = ""
    """Why the last look brought nothing."""

    def take(self, poll: Poll, now_s: float) -> tuple[Thermometer, TemperatureRead | None]:
        """Return the thermometer after one look, and the event to log if it is worth one."""
        try:
            kelvin = self._sound(poll)
        except LayupError as error:
            return replace(self, trouble=clean(str(error), 300), doubt_K=None), None
        if poll.age_s > STALE_S:
            return replace(self, trouble="the reading has not been renewed"), None
        jumps = self.read_K is not None and abs(kelvin - self.read_K) >= JUMP_K
        if jumps and (self.doubt_K is None or abs(kelvin - self.doubt_K) >= JUMP_K):
            return replace(self, doubt_K=kelvin, trouble="the reading jumped: waiting for the next"), None
        heard = replace(self, read_K=kelvin, heard_s=now_s - poll.age_s, doubt_K=None, trouble="")
        moved_K = None if self.logged_K is None else round(abs(kelvin - self.logged_K), 6)
        if moved_K is not None and moved_K < STEP_K and now_s - self.logged_s < KEEP_S:
            return heard, None
        event = TemperatureRead(place=self.place, temperature_K=round(kelvin, 3), source="thermometer")
        return replace(heard, logged_K=kelvin, logged_s=now_s), event

    def _sound(self, poll: Poll) -> float:
        """Return the temperature that a look brought, or raise InputError with what is wrong with it."""
        if poll.trouble:
            raise InputError("thermometer", poll.trouble)
        kelvin = kelvin_of(poll.text)
        low_K, high_K = PLAUSIBLE_K[self.place]
        if not low_K <= kelvin <= high_K:
            raise InputError(
                "thermometer",
                f"says what the {self.place} cannot have",
                value=f"{temperature(kelvin, '.1f')}",
                allowed=f"{temperature.digits(low_K)} to {temperature(high_K)}",
                todo="look at the sensor",
            )
        return kelvin

    def silent_s(self, now_s: float) -> float | None:
        """Return for how long nothing good was heard, where that is too long; None while the reading is fresh."""
        silent_s = now_s - (self.since_s if self.heard_s is None else self.heard_s)
        return silent_s if silent_s > STALE_S else None

    def words(self, now_s: float) -> str:
        """Return how the thermometer stands, in a few words; what is stale says so and since when."""
        silent_s = self.silent_s(now_s)
        if self.read_K is None:
            return f"{self.place}: no reading yet" + (f" ({self.trouble})" if self.trouble else "")
        shown = f"{self.place} {temperature(self.read_K, '.1f')}"
        return shown if silent_s is None else f"{shown} STALE for {in_minutes(silent_s)} ({self.trouble or 'silent'})"
