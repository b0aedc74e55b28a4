"""The app beside the smallest textual app, both under a pseudo-terminal: first frame, key to screen, idle work."""

import fcntl
import os
import pty
import select
import statistics
import struct
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from pathlib import Path

from layup.materials.demo import new_workshop
from layup.records.clock import SystemClock
from layup.records.events import BatchMixed, BatchPlan, Note, SessionStarted, StepPlan, TemperatureRead
from layup.records.journal import Journal
from layup.screens.desk import Desk
from layup.screens.opening import begin

SMALLEST = """
from textual.app import App
from textual.widgets import Static
class Smallest(App):
    BINDINGS = [("d", "say", "say"), ("q", "quit", "quit")]
    def compose(self):
        yield Static("Stack")
    def action_say(self):
        self.query_one(Static).update("done: it")
Smallest().run()
"""
EVENTS = 10_000
KEYS = 12
IDLE_S = 10.0


class Terminal:
    """A program under a pseudo-terminal, and what it wrote."""

    def __init__(self, command: list[str], *, columns: int = 160, rows: int = 50) -> None:
        self.began = time.monotonic()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ["TERM"] = "xterm-256color"
            os.execvp(command[0], command)
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def wait_for(self, wanted: bytes, limit_s: float = 60.0) -> float:
        """Return how long it took until `wanted` was written [s]."""
        began, seen = time.monotonic(), b""
        while wanted not in seen:
            if not select.select([self.fd], [], [], max(began + limit_s - time.monotonic(), 0.0))[0]:
                raise TimeoutError(f"{wanted!r} never came; the end was {seen[-500:]!r}")
            seen += os.read(self.fd, 65536)
        return time.monotonic() - began

    def drain(self, seconds: float) -> None:
        """Read whatever comes for a while."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left)[0]:
                os.read(self.fd, 65536)

    def press(self, key: bytes) -> None:
        os.write(self.fd, key)

    def cpu_s(self) -> float:
        """Return the processor time used so far [s]."""
        fields = Path(f"/proc/{self.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def end(self) -> None:
        os.kill(self.pid, 9)
        os.waitpid(self.pid, 0)
        os.close(self.fd)


def busy_workshop(root: Path, *, clocks: int, events: int) -> Path:
    """Make a workshop whose press day has so many cups mixed and so many events."""
    new_workshop(root)
    desk = Desk(root)
    desk.load()
    assert desk.figures is not None
    day = begin(desk, desk.figures, SystemClock())
    start = day.state.start
    day.close()
    assert start is not None
    folder = day.folder
    (folder / "journal.jsonl").unlink()
    batches = tuple(BatchPlan(batch=n, mass_g=260.0, resin_g=200.0, hardener_g=60.0) for n in range(1, clocks + 1))
    steps = tuple(StepPlan(step=n, name=f"step {n}", kind="place", planned_s=60.0) for n in range(1, 200))
    event = SessionStarted.model_validate(start.model_dump(include=set(SessionStarted.model_fields)))
    journal = Journal.create(folder, SystemClock(), event.model_copy(update={"batches": batches, "steps": steps}))
    durable, os.fsync = os.fsync, lambda _fd: None
    try:
        journal.append(TemperatureRead(place="air", temperature_K=293.15))
        for number in range(1, clocks + 1):
            journal.append(BatchMixed(batch=number, resin_g=200.0, hardener_g=60.0, start_K=293.15))
        for number in range(events - clocks - 3):
            reading = TemperatureRead(place="air", temperature_K=293.15 + number % 3)
            journal.append(reading if number % 40 == 0 else Note(text=f"note {number}"))
        journal.close()
    finally:
        os.fsync = durable
    return root


def key_to_screen_s(terminal: Terminal, *, key: bytes, wanted: bytes) -> float:
    """Return the median time from a key to what it puts on the screen [s]."""
    times = []
    for _ in range(KEYS):
        terminal.drain(0.3)
        terminal.press(key)
        times.append(terminal.wait_for(wanted))
    return statistics.median(times)


def idle_share(terminal: Terminal) -> float:
    """Return the share of one core used while nobody presses a key."""
    terminal.drain(2.0)
    before = terminal.cpu_s()
    terminal.drain(IDLE_S)
    return (terminal.cpu_s() - before) / IDLE_S


def _first_frame_s(command: list[str]) -> float:
    times = []
    for _ in range(5):
        terminal = Terminal(command)
        times.append(terminal.wait_for(b"Stack"))
        terminal.end()
    return min(times)


def lines() -> Iterator[str]:
    """Yield the measurements as lines of text."""
    with tempfile.TemporaryDirectory() as folder:
        smallest_file = Path(folder) / "smallest.py"
        smallest_file.write_text(SMALLEST, encoding="utf-8")
        smallest = [sys.executable, str(smallest_file)]
        app = [sys.executable, "-m", "layup", "--workshop"]
        quiet = Path(folder) / "quiet"
        new_workshop(quiet)
        rival_s, ours_s = _first_frame_s(smallest), _first_frame_s([*app, str(quiet)])
        yield f"first frame: {ours_s:.2f} s, {ours_s / rival_s:.2f} x the smallest textual app ({rival_s:.2f} s)"
        rival = Terminal(smallest)
        rival.wait_for(b"Stack")
        rival.drain(1.0)
        rival.press(b"d")
        rival_key_s = rival.wait_for(b"done")
        rival_idle = idle_share(rival)
        rival.end()
        busy = busy_workshop(Path(folder) / "busy", clocks=20, events=EVENTS)
        terminal = Terminal([*app, str(busy)])
        terminal.wait_for(b"going on")
        ours_key_s = key_to_screen_s(terminal, key=b"d", wanted=b"done:")
        terminal.end()
        yield (
            f"key to screen, 20 clocks and {EVENTS} events: {1000 * ours_key_s:.0f} ms, "
            f"{ours_key_s / rival_key_s:.1f} x the smallest textual app ({1000 * rival_key_s:.0f} ms)"
        )
        calm = busy_workshop(Path(folder) / "calm", clocks=8, events=100)
        terminal = Terminal([*app, str(calm)])
        terminal.wait_for(b"going on")
        idle = idle_share(terminal)
        terminal.end()
        yield f"idle with 8 clocks: {idle:.1%} of a core (the smallest textual app: {rival_idle:.1%})"
