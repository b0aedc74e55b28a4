"""A casting day and a dry run in a real terminal, ended by kill -9: each act that the screen confirmed is kept."""

import os
import signal
from pathlib import Path

import pytest
from terminal import UNDISTURBED, Terminal, no_app_left  # noqa: F401  a fixture

from layup.bench.day import PressDay
from layup.bench.opening import begin, resume
from layup.bench.planner import Planner
from layup.bench.rehearsal import dry_run
from layup.bench.view import bench_view
from layup.files.workshop import new_workshop
from layup.session.clock import SystemClock

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal and SIGKILL"),
    pytest.mark.usefixtures("no_app_left"),
]

DEEDS = (
    ((("t", "Log what?"), ("a", "Temperature: air"), ("18.4\r", "air at 18.4 °C")), "temperature-read"),
    ((("d", "done: Warm and dry the core"),), "step-done"),
    ((("d", "done: Seal the channel"),), "step-done"),
    ((("d", "done: Tape and level"),), "step-done"),
    ((("h", "is not weighed"), ("y", "batch 1: clock started")), "batch-mixed"),
    ((("o", "Lay it anyway?"), ("y", "batch 1 is in the channel")), "batch-poured-out"),
)
"""Keys with what they bring to the screen, and the event that must be in the journal once they did."""
STEPS = ("Base sheet, edges up", "Rubber along the edges")
TICKS = tuple(((("d", f"done: {name}"),), "step-done") for name in ("Fetch cup 1", *STEPS))
Deed = tuple[tuple[tuple[str, str], ...], str]


def test_a_casting_day_killed_with_a_pour_in_its_channel_goes_on_and_nothing_confirmed_is_lost(tmp_path: Path) -> None:
    root = tmp_path / "w"
    new_workshop(root)
    planner = Planner(root, plan="touring-skis", casting=True)
    planner.load()
    assert planner.figures is not None, planner.problem
    day = begin(planner, planner.figures, SystemClock())
    back = killed(root, day, planner, DEEDS)
    assert "nothing that was confirmed is lost" in back.greeting
    assert bench_view(back).act.words == "SCRAPE CUP 1"
    assert back.state.batches[0].status == "on the part"
    back.close()


def test_a_dry_run_killed_between_two_steps_goes_on_and_every_tick_is_kept(tmp_path: Path) -> None:
    root = tmp_path / "w"
    new_workshop(root)
    planner = Planner(root, plan="touring-skis")
    planner.load()
    assert planner.figures is not None, planner.problem
    day = dry_run(planner, planner.figures, SystemClock())
    back = killed(root, day, planner, TICKS)
    assert back.is_dry
    assert [step.plan.name for step in back.state.steps if step.done_s is not None] == ["Fetch cup 1", *STEPS]
    back.close()


def killed(root: Path, day: PressDay, planner: Planner, deeds: tuple[Deed, ...]) -> PressDay:
    """Go on with a day in a terminal, do the deeds, kill it, and return the day as it comes back."""
    day.close()
    terminal = Terminal(root, UNDISTURBED)
    terminal.wait_for(f"going on with {day.folder.name}")
    for steps, _ in deeds:
        for keys, answer in steps:
            terminal.press(keys)
            terminal.wait_for(answer)
    assert terminal.ended(signal.SIGKILL) == -signal.SIGKILL
    back = resume(day.folder, SystemClock(), workshop=planner.workshop)
    written = [record.event for record in back.state.records if record.by_hand][-len(deeds) :]
    assert written == [event for _, event in deeds]
    assert back.state.misfits == ()
    return back
