"""Follow a thermometer: a file that holds a number, or a command that prints one.

`Source.read` does the slow part and belongs off the screen's thread; `Thermometer.take` decides, purely, what a reading
means: whether it is nonsense, whether it is worth a line of the journal, and since when nothing new was heard.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Timer
from typing import Protocol

from layup.errors import InputError, LayupError
from layup.session.clock import Clock
from layup.session.day_events import TemperatureRead
from layup.session.fields import Place
from layup.session.text import clean_text
from layup.units import in_minutes, parse, temperature

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


class ReadingSource(Protocol):
    """Where readings come from. `read` may take up to a few seconds."""

    def read(self) -> Poll:
        """Return what the thermometer says."""
        ...


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
        value=clean_text(why, limit=200).text,
        allowed="a file that holds a number, or a command that prints one, in °C unless it says F or K",
        todo="try the command in a terminal first",
    )


def kelvin_of(text: str) -> float:
    """Return the first number of a text as a temperature in K; it is in °C unless F or K follows.

    Raises InputError if the text holds no number.
    """
    found = _READING.search(text)
    if found is None:
        shown = clean_text(text.strip(), limit=40).text.replace("\n", " ")
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
            return replace(self, trouble=clean_text(str(error), limit=300).text, doubt_K=None), None
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
