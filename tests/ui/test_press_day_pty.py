"""A press day in a real terminal, ended by kill -9 at random moments: what the screen confirmed is in the journal.

Six kills by default. All two hundred: `LAYUP_KILLS=200 pytest tests/ui/test_press_day_pty.py`, some minutes.
"""

import os
import random
import signal
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from terminal import UNDISTURBED, KilledError, Terminal, no_app_left  # noqa: F401  a fixture

from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.files.workshop import new_workshop
from layup.session.batch_events import BatchMixed, BatchPouredOut, StepDone
from layup.session.clock import SystemClock
from layup.session.day_events import CarriedForward, TemperatureRead
from layup.session.reader import read_journal
from layup.session.records import JournalOpened, fold
from layup.session.state import Record

KILLS = int(os.environ.get("LAYUP_KILLS", "6"))

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal and SIGKILL"),
    pytest.mark.usefixtures("no_app_left"),
]


@dataclass(frozen=True)
class Deed:
    """Something done at the bench: keys with what they bring to the screen, and the record that has to be there then.

    The last words on the screen after the last key are the confirmation; the screen may repeat old ones before that.
    """

    steps: tuple[tuple[str, str], ...]
    wrote: Callable[[Record], bool]

    @property
    def confirmation(self) -> str:
        """The words that say it is done."""
        return self.steps[-1][1]


def temperature(tenths: int) -> Deed:
    """Return a reading that no other deed has, and too near the one before to be asked about."""
    celsius = 15.0 + tenths / 10.0
    return Deed(
        (("t", "Log what?"), ("a", "Temperature: air"), (f"{celsius:.1f}\r", f"air at {celsius:.1f} °C")),
        lambda r: isinstance(r, TemperatureRead) and abs(r.temperature_K - 273.15 - celsius) < 0.01,
    )


def note(number: int) -> Deed:
    """Return a note that no other deed has, met again next time.

    Its confirmation is another's too: that counts only once its own last key is pressed, when "noted" has replaced it.
    """
    return Deed(
        (
            ("n", "for next time"),
            (f"note {number}\r", "Meet this note again next time?"),
            ("y", "next time: it comes back"),
        ),
        lambda r: isinstance(r, CarriedForward) and r.text == f"note {number}",
    )


def mixed(number: int) -> Deed:
    """Return hardener in of a batch that was not weighed."""
    return Deed(
        (("h", f"Batch {number} is not weighed"), ("y", f"batch {number}: clock started")),
        lambda r: isinstance(r, BatchMixed) and r.batch == number,
    )


def laid_unread(number: int) -> Deed:
    """Return a batch laid although its scale was not read."""
    return Deed(
        (("o", "Lay it anyway?"), ("y", f"batch {number} is on the part")),
        lambda r: isinstance(r, BatchPouredOut) and r.batch == number,
    )


def deeds(batches: list[int], steps: list[tuple[int, str]], dice: random.Random) -> Iterator[Deed]:
    """Yield a press day without end: batches and steps first, then readings and notes."""
    for batch in batches:
        yield mixed(batch)
        yield laid_unread(batch)
    for number, name in steps:
        yield Deed((("d", f"done: {name}"),), lambda r, number=number: isinstance(r, StepDone) and r.step == number)
        yield temperature(number)
    number = 20
    while True:
        number += 1
        yield temperature(number) if dice.random() < 0.7 else note(number)


def begun(root: Path) -> tuple[Path, list[int], list[tuple[int, str]]]:
    """Begin a press day in a new demo workshop; return its folder, its batches and its steps, but for the last."""
    new_workshop(root)
    planner = Planner(root)
    planner.load()
    assert planner.figures is not None, planner.problem
    day = begin(planner, planner.figures, SystemClock())
    day.close()
    batches = [batch.number for batch in day.state.batches]
    return day.folder, batches, [(step.number, step.plan.name) for step in day.state.steps[:-1]]


def test_what_the_screen_confirmed_is_there_after_every_kill(tmp_path: Path) -> None:
    dice = random.Random(20260307)  # for the kills alone: how many deeds come before each is the same in every run
    folder, batches, steps = begun(tmp_path / "w")
    day = deeds(batches, steps, random.Random(20260308))
    deed, confirmed, in_doubt = next(day), [], 0
    for _ in range(KILLS):
        opening, whole = dice.random() < 0.25, dice.randint(1, 4)
        last_pressed = False
        reads, within = dice.randint(0, 20), dice.randint(0, 20_000)
        terminal = Terminal(tmp_path / "w", reads if opening else UNDISTURBED)
        try:
            terminal.wait_for(f"going on with {folder.name}")
            while True:
                if whole == 0:  # the kill falls within what comes after so many deeds, however much a screen writes
                    terminal.reads = reads
                for number, (keys, answer) in enumerate(deed.steps, start=1):
                    terminal.press(keys)
                    last_pressed = number == len(deed.steps)
                    terminal.wait_for(answer)
                confirmed.append(deed)
                deed, whole, last_pressed = next(day), whole - 1, False
        except KilledError:
            for _ in range(within):  # somewhere within what the app does next
                pass
            assert terminal.ended(signal.SIGKILL) == -signal.SIGKILL, "the app died of the kill and of nothing else"
        if last_pressed and deed.confirmation in terminal.text:
            confirmed.append(deed)
        records, problems = read_journal(folder)
        assert problems == []
        missing = [deed.confirmation for deed in confirmed if not any(map(deed.wrote, records))]
        assert missing == []
        if any(map(deed.wrote, records)):  # it was kept, whether or not the screen still said so
            in_doubt += deed not in confirmed
            deed = next(day)
    state = fold(records)
    assert state.misfits == ()
    assert [record.seq for record in records] == list(range(1, state.seq + 1))
    assert len(confirmed) >= KILLS
    assert sum(isinstance(record, JournalOpened) for record in records) > KILLS // 3
    print(f"{KILLS} kills, {len(confirmed)} confirmed events, all there; {in_doubt} more kept before they were said")


def test_after_a_kill_the_day_goes_on_by_itself_and_knows_what_was_logged(tmp_path: Path) -> None:
    folder, _, _ = begun(tmp_path / "w")
    terminal = Terminal(tmp_path / "w", UNDISTURBED)
    terminal.wait_for(f"going on with {folder.name}")
    reading = temperature(63)
    for keys, answer in reading.steps:
        terminal.press(keys)
        terminal.wait_for(answer)
    terminal.ended(signal.SIGKILL)
    terminal = Terminal(tmp_path / "w", UNDISTURBED)
    terminal.wait_for("nothing that was confirmed is lost")
    terminal.press("u")
    terminal.wait_for("taken back: air 21.3 °C")
    terminal.press("q")
    terminal.wait_for("Leave it?")
    assert terminal.left() == 0
    assert f"Back to it: {sys.executable} -m layup --workshop {tmp_path}/w" in terminal.text
