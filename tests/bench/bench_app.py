"""The app beside the smallest textual app, both under a pseudo-terminal: from key to screen, and work while idle."""

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from busy_day import busy_workshop
from first_frame import Terminal, let_run
from results import Row
from smallest_app import smallest_app

BUSY_CLOCKS, BUSY_EVENTS = 20, 10_000
IDLE_CLOCKS, IDLE_EVENTS = 8, 100


def rows(*, smallest: bool = False) -> Iterator[Row]:
    """Measure both."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if smallest:
            yield from key_to_screen(folder, keys=1, clocks=2, events=IDLE_EVENTS)
            yield idle(folder, seconds=0.5, clocks=2)
        else:
            yield from key_to_screen(folder, keys=25, clocks=BUSY_CLOCKS, events=BUSY_EVENTS)
            yield idle(folder, seconds=15.0, clocks=IDLE_CLOCKS)


def app(root: Path) -> list[str]:
    """Return the command that opens the app in a workshop."""
    return [sys.executable, "-m", "layup", "--workshop", str(root)]


def clock_told(ours: Terminal) -> None:
    """Answer what is asked of a day that another machine seems to have begun: a question would take every key."""
    ours.wait_for(b"The clock reads")
    ours.press(b"y")
    ours.wait_for(b"PRESS BY")


def key_to_screen(folder: Path, *, keys: int, clocks: int, events: int) -> Iterator[Row]:
    """Press d in both: a step is done, logged and on the disk before the screen says so; the rival only says so."""
    busy_workshop(folder / "busy", clocks=clocks, events=events)
    waited_s: dict[str, list[float]] = {"ours": [], "rival": []}
    worked_s: dict[str, list[float]] = {"ours": [], "rival": []}
    with (
        Terminal(app(folder / "busy"), columns=160, rows=50) as ours,
        Terminal(smallest_app(folder), columns=160, rows=50) as rival,
    ):
        clock_told(ours)
        rival.wait_for(b"Stack")
        for _ in range(keys):
            for who, terminal in (("ours", ours), ("rival", rival)):
                let_run([ours, rival], 0.3)
                before_s = terminal.processor_s()
                terminal.press(b"d")
                waited_s[who].append(terminal.wait_for(b"done: "))
                worked_s[who].append(terminal.processor_s() - before_s)
    what = f"key to screen, {clocks} clocks, {events:,d} events"
    against = "a key of the smallest textual app"
    yield Row(what, median(waited_s["ours"]), median(waited_s["rival"]), against, "wall", most=0.050)
    yield Row(what, median(worked_s["ours"]), median(worked_s["rival"]), against, "CPU", most=0.050)
    slowest = f"the same, the slowest of {keys} keys"
    yield Row(slowest, max(worked_s["ours"]), max(worked_s["rival"]), against, "CPU", most=0.050)


def idle(folder: Path, *, seconds: float, clocks: int) -> Row:
    """Measure both at the same time while nobody presses a key."""
    busy_workshop(folder / "calm", clocks=clocks, events=IDLE_EVENTS)
    with (
        Terminal(app(folder / "calm"), columns=160, rows=50) as ours,
        Terminal(smallest_app(folder, ticks=True), columns=160, rows=50) as rival,
    ):
        clock_told(ours)
        rival.wait_for(b"Stack")
        let_run([ours, rival], min(seconds, 2.0))
        before_s = ours.processor_s(), rival.processor_s()
        let_run([ours, rival], seconds)
        shares = [
            (terminal.processor_s() - spent_s) / seconds
            for terminal, spent_s in zip((ours, rival), before_s, strict=True)
        ]
    against = "the smallest textual app with one timer a second"
    return Row(f"idle, {clocks} clocks", *shares, against, "CPU", unit="of a core", most=0.015)
