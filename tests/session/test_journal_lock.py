"""One process writes in a session; others are told who."""

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from session_examples import NOON, start

from layup.errors import StorageError
from layup.session import folder as lock_module
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.folder import LOCK_NAME, Holder, Lock, read_holder
from layup.session.journal import Journal
from layup.session.reader import Follower

OPEN_IT = """
import sys
from pathlib import Path
from layup.errors import StorageError
from layup.session.clock import SystemClock
from layup.session.journal import Journal
try:
    Journal.open(Path(sys.argv[1]), SystemClock())
except StorageError as error:
    print(error)
    raise SystemExit(error.exit_code)
"""


def test_a_second_process_is_refused_with_who_holds_the_session(tmp_path: Path) -> None:
    with Journal.create(tmp_path, ManualClock(NOON), start()):
        second = subprocess.run(
            [sys.executable, "-c", OPEN_IT, str(tmp_path)], capture_output=True, text=True, check=False
        )
    who = f"(process {os.getpid()} on {socket.gethostname()}, since 2026-03-07T12:00:00+00:00)"
    assert second.returncode == 3, second.stderr
    assert "another process writes in this session " + who in second.stdout
    assert "open the session to look at it only" in second.stdout


def test_the_refused_one_can_look_on_and_the_writer_goes_on(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path, clock, start()) as journal:
        with pytest.raises(StorageError, match="another process writes in this session"):
            Journal.open(tmp_path, clock)
        viewer = Follower(tmp_path, clock)
        journal.append(Note(text="still mine"))
        assert viewer.poll()
        assert viewer.state == journal.state


def test_the_lock_is_free_again_after_the_writer_closed(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    journal = Journal.create(tmp_path, clock, start())
    assert read_holder(tmp_path) == Holder(os.getpid(), socket.gethostname(), "2026-03-07T12:00:00+00:00")
    journal.close()
    assert read_holder(tmp_path) is None
    Journal.open(tmp_path, clock).close()


def test_a_lock_file_left_behind_by_a_dead_process_holds_nobody_up(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    Journal.create(tmp_path, clock, start()).close()
    (tmp_path / LOCK_NAME).write_text('{"process_id": 1, "host": "gone", "since": "yesterday"}')
    with Journal.open(tmp_path, clock):
        assert read_holder(tmp_path) == Holder(os.getpid(), socket.gethostname(), "2026-03-07T12:00:00+00:00")


def test_a_lock_let_go_while_another_takes_it_still_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / LOCK_NAME
    path.touch()  # another process has it ...
    take = lock_module._try_lock
    removed = []

    def let_go_first(fd: int) -> None:
        if not removed:
            removed.append(path)
            path.unlink()  # ... and lets go after this one opened the file and before it got the lock
        take(fd)

    monkeypatch.setattr(lock_module, "_try_lock", let_go_first)
    first = Lock.take(tmp_path, NOON)
    with pytest.raises(StorageError, match="another process writes in this session"):
        Lock.take(tmp_path, NOON)
    first.release()


@pytest.mark.parametrize("text", ["", "{}", "[]", "not json", '{"process_id": "x", "host": "h", "since": "s"}'])
def test_a_lock_file_that_says_nothing_is_still_a_lock(tmp_path: Path, text: str) -> None:
    with Journal.create(tmp_path, ManualClock(NOON), start()):
        (tmp_path / LOCK_NAME).write_text(text)
        assert read_holder(tmp_path) is None
        with pytest.raises(StorageError, match="it has not said who it is"):
            Journal.open(tmp_path, ManualClock(NOON))


def test_a_lock_file_cannot_send_control_codes(tmp_path: Path) -> None:
    (tmp_path / LOCK_NAME).write_text('{"process_id": 1, "host": "\\u001b[2J", "since": "s"}')
    assert read_holder(tmp_path) == Holder(1, "[2J", "s")
