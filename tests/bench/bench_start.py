"""Start-up: `--version` and `--help` beside a bare interpreter, the first frame beside the smallest textual app."""

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from first_frame import WANTED, Terminal
from results import Row
from smallest_app import smallest_app
from stopwatch import interpreter_s

from layup.files.workshop import new_workshop


def rows(*, smallest: bool = False) -> Iterator[Row]:
    """Measure them."""
    yield from answers(rounds=1 if smallest else 20)
    yield from first_frames(rounds=1 if smallest else 15)


def answers(rounds: int) -> Iterator[Row]:
    """Measure the answers that need nothing but the command line."""
    bare, version, help_ = ("-c", "pass"), ("-m", "layup", "--version"), ("-m", "layup", "--help")
    found = {words: [] for words in (bare, version, help_)}
    for _ in range(rounds):
        for words, times_s in found.items():
            times_s.append(interpreter_s(*words))
    best_s = {words: min(times_s) for words, times_s in found.items()}
    for words in (version, help_):
        yield Row(f"layup {words[-1]}", best_s[words], best_s[bare], "python -c pass", "CPU", most_ratio=5.0)


def first_frames(rounds: int) -> Iterator[Row]:
    """Measure the time from starting the program to the first frame on a pseudo-terminal."""
    with tempfile.TemporaryDirectory() as folder:
        rival = smallest_app(Path(folder))
        new_workshop(Path(folder) / "workshop")
        ours = [sys.executable, "-m", "layup", "--workshop", str(Path(folder) / "workshop")]
        ours_s, rival_s = [], []
        for _ in range(rounds):
            for command, times_s in ((rival, rival_s), (ours, ours_s)):
                with Terminal(command, columns=160, rows=50) as terminal:
                    times_s.append((terminal.wait_for(WANTED), terminal.processor_s()))
    for at, clock in enumerate(("wall", "CPU")):
        best_s, rival_best_s = (min(times_s[at] for times_s in found) for found in (ours_s, rival_s))
        yield Row("first frame", best_s, rival_best_s, "the smallest textual app", clock, most_ratio=1.2)
