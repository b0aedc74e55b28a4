"""Write the demo's two sessions through the program itself, on a clock moved by hand.

`python tests/demo_sessions.py` writes them into sessions/ anew; a test holds the files there against this script. The
people, the shop and the days are invented.
"""

import os
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from layup.records.clock import ManualClock
from layup.records.events import (
    BatchLost,
    Demoulded,
    HumidityRead,
    Note,
    Outcome,
    PeopleChanged,
    PressClosed,
    SessionEnded,
    TemperatureRead,
)
from layup.screens.day import PressDay, Said
from layup.screens.desk import Desk, Settings
from layup.screens.opening import begin

ROOT = Path(__file__).resolve().parent.parent
PROCESS_ID = 4242
Entry = tuple[float, Callable[[PressDay], Said]]


def air(celsius: float) -> Callable[[PressDay], Said]:
    return lambda day: day.log(TemperatureRead(place="air", temperature_K=celsius + 273.15), "")


def mould(celsius: float) -> Callable[[PressDay], Said]:
    return lambda day: day.log(TemperatureRead(place="mould", temperature_K=celsius + 273.15), "")


def note(text: str) -> Callable[[PressDay], Said]:
    return lambda day: day.log(Note(text=text), "")


def reads(batch: int, text: str = "") -> Callable[[PressDay], Said]:
    return lambda day: day.read_scale(batch, text)


def mixed(batch: int) -> Callable[[PressDay], Said]:
    return lambda day: day.hardener_in(batch)


def poured(batch: int) -> Callable[[PressDay], Said]:
    return lambda day: day.poured_out(batch)


def looks(batch: int, word: str) -> Callable[[PressDay], Said]:
    return lambda day: day.observed(batch, word)


def step(day: PressDay) -> Said:
    return day.step_done()


GOOD: list[Entry] = [
    (0.2, note("dry run done, cloth cut and numbered, heater off before solvent came out")),
    (0.5, lambda day: day.log(HumidityRead(relative_humidity=0.52), "")),
    (1.0, reads(1)),
    (2.4, mixed(1)),
    (3.2, reads(1)),
    (7.4, step),
    (10.6, step),
    (13.9, air(20.5)),
    (14.2, looks(1, "runny")),
    (20.9, step),
    (22.7, step),
    (23.7, reads(2)),
    (24.7, mixed(2)),
    (25.4, reads(2)),
    (25.9, step),
    (27.1, poured(1)),
    (28.8, step),
    (30.6, step),
    (33.4, step),
    (36.5, step),
    (38.3, air(21.0)),
    (42.3, looks(2, "runny")),
    (45.7, step),
    (48.8, step),
    (49.2, poured(2)),
    (51.4, step),
    (57.4, lambda day: day.log(PressClosed(pressure_Pa=100_000.0), "")),
    (63.8, mould(21.0)),
    (240.0, mould(27.0)),
    (600.0, mould(24.0)),
    (1380.0, mould(20.0)),
    (1440.0, lambda day: day.log(Demoulded(), "")),
    (1450.0, lambda day: day.log(Outcome(tags=("good",), notes="flat, well bonded, a little flash"), "")),
    (1451.0, lambda day: day.log(SessionEnded(), "")),
]
"""Two people, a shop at 20 C, two batches: what a good day looks like. Minutes from the start."""

FAILED: list[Entry] = [
    (0.3, lambda day: day.log(PeopleChanged(people=1), "")),
    (0.6, note("helper did not come; all the resin in one bucket to save time")),
    (1.5, reads(1, "602")),
    (3.0, mixed(1)),
    (4.0, reads(1, "783")),
    (10.5, step),
    (15.8, step),
    (18.0, air(28.0)),
    (26.9, looks(1, "runny")),
    (29.5, step),
    (31.9, step),
    (35.5, step),
    (36.2, looks(1, "thickening")),
    (37.9, note("bucket is hot, drags badly")),
    (38.6, looks(1, "gelled")),
    (39.2, lambda day: day.log(BatchLost(batch=1, why="gelled in the cup"), "")),
    (40.0, note("bucket carried outside, it smoked")),
    (1490.0, lambda day: day.log(Outcome(tags=("starved", "delamination"), notes="upper glass not wetted"), "")),
    (1491.0, lambda day: day.log(SessionEnded(), "")),
]
"""One person alone, a shop at 27 C, everything in one bucket: it goes off before the upper glass is on."""


def write(root: Path, day_utc: datetime, changes: Callable[[Settings], Settings], entries: list[Entry]) -> Path:
    """Play one day in the workshop `root`; every entry must be taken."""
    clock = ManualClock(day_utc, boot_id="demo-boot")
    desk = Desk(root, plan="touring-skis")
    desk.load()
    assert desk.settings is not None, desk.problem
    day = begin(desk, desk.work_out(changes(desk.settings)), clock)
    passed_s = 0.0
    for minute, act in entries:
        clock.advance(minute * 60 - passed_s)
        passed_s = minute * 60
        said = act(day)
        assert said.done, f"minute {minute}: {said.words}"
    day.close()
    return day.folder


def write_both(root: Path) -> list[Path]:
    """Write the failed day, then the good one that came after it."""
    failed = write(
        root,
        datetime(2026, 2, 21, 9, 0, tzinfo=UTC),
        lambda now: replace(now, temperature_K=300.15, people=1, cup_g=1000.0),
        FAILED,
    )
    good = write(
        root, datetime(2026, 3, 7, 9, 0, tzinfo=UTC), lambda now: replace(now, temperature_K=293.15, people=2), GOOD
    )
    return [failed, good]


def steady() -> None:
    """Make what is written the same on every machine."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    os.getpid = lambda: PROCESS_ID


if __name__ == "__main__":
    steady()
    for kept in (ROOT / "sessions").glob("20*"):
        shutil.rmtree(kept)
    for folder in write_both(ROOT):
        print(folder.relative_to(ROOT), file=sys.stderr)
