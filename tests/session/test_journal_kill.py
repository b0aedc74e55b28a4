"""Every event that was confirmed survives kill -9."""

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from session_examples import start

from layup.session.clock import SystemClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import read_journal
from layup.session.records import JournalOpened

KILLS = 200
WRITER = Path(__file__).with_name("kill_me.py")


@pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
def test_every_confirmed_event_survives_two_hundred_kills_at_random_moments(tmp_path: Path) -> None:
    dice = random.Random(20260307)
    folder = tmp_path / "s"
    Journal.create(folder, SystemClock(), start()).close()
    confirmed: list[int] = []
    with subprocess.Popen(
        [sys.executable, str(WRITER), str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as writers:
        assert writers.stdin is not None
        assert writers.stdout is not None
        for _ in range(KILLS):
            writers.stdin.write("next\n")
            writers.stdin.flush()
            child = int(writers.stdout.readline())
            for _ in range(dice.randint(0, 6)):
                confirmed.append(int(writers.stdout.readline()))
            for _ in range(dice.randint(0, 20_000)):  # somewhere within the next events, or the opening
                pass
            os.kill(child, signal.SIGKILL)
            while not (line := writers.stdout.readline()).startswith("dead"):
                confirmed.append(int(line))
            assert line == f"dead {int(signal.SIGKILL)}\n", "the writer died of the kill and of nothing else"
        writers.stdin.close()
    with Journal.open(folder, SystemClock()) as journal:
        state = journal.state
    assert not read_journal(folder)[1]
    notes = {record.seq: record.text for record in state.records if isinstance(record, Note)}
    assert len(confirmed) > KILLS
    assert [number for number in confirmed if number not in notes] == []
    assert all(text.startswith(f"note {number} ") for number, text in notes.items())
    assert [record.seq for record in state.records] == list(range(1, state.seq + 1))
    assert sum(isinstance(record, JournalOpened) for record in state.records) > KILLS // 2
