"""A casting day in a real terminal, ended by kill -9: each act that the screen confirmed is kept."""

import os
import signal
from pathlib import Path

import pytest
from terminal import UNDISTURBED, Terminal, no_app_left  # noqa: F401  a fixture

from layup.bench.opening import begin, resume
from layup.bench.planner import Planner
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
    ((("o", "Lay it all the same?"), ("y", "batch 1 is in the channel")), "batch-poured-out"),
)
"""Keys with what they bring to the screen, and the event that must be in the journal once they did."""


def test_a_casting_day_killed_with_a_pour_in_its_channel_goes_on_and_nothing_confirmed_is_lost(tmp_path: Path) -> None:
    root = tmp_path / "w"
    new_workshop(root)
    planner = Planner(root, plan="touring-skis", casting=True)
    planner.load()
    assert planner.figures is not None, planner.problem
    day = begin(planner, planner.figures, SystemClock())
    day.close()
    terminal = Terminal(root, UNDISTURBED)
    terminal.wait_for(f"going on with {day.folder.name}")
    for steps, _ in DEEDS:
        for keys, answer in steps:
            terminal.press(keys)
            terminal.wait_for(answer)
    assert terminal.ended(signal.SIGKILL) == -signal.SIGKILL
    back = resume(day.folder, SystemClock(), workshop=planner.workshop)
    written = [record.event for record in back.state.records if record.by_hand][-len(DEEDS) :]
    assert written == [event for _, event in DEEDS]
    assert "nothing that was confirmed is lost" in back.greeting
    assert back.state.misfits == ()
    assert bench_view(back).act.words == "SCRAPE CUP 1"
    assert back.state.batches[0].status == "on the part"
    back.close()
