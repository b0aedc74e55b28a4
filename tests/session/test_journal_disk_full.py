"""A full or failing disk loses nothing; a folder that cannot be written says so."""

import errno
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from session_examples import NOON, mixed, start

from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.session.batch_events import StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.lines import line_of
from layup.session.reader import read_journal


class SmallDisk:
    """A disk with `room` bytes: a write that does not fit goes as far as it fits, the next one fails."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, room: int) -> None:
        self.room = room
        self._write, self._truncate = os.write, os.ftruncate
        monkeypatch.setattr(os, "write", self.write)
        monkeypatch.setattr(os, "ftruncate", self.truncate)

    def write(self, fd: int, data: bytes) -> int:
        if data and self.room == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        written = self._write(fd, data[: self.room])
        self.room -= written
        return written

    def truncate(self, fd: int, length: int) -> None:
        self.room += max(0, os.fstat(fd).st_size - length)
        self._truncate(fd, length)


def test_events_on_a_full_disk_are_kept_in_memory_and_said_to_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = Journal.create(tmp_path, ManualClock(NOON), start())
    assert (len(journal.pending), journal.fault) == (0, "")
    before = (tmp_path / JOURNAL).read_bytes()
    disk = SmallDisk(monkeypatch, room=0)
    journal.append(mixed(1))
    assert len(journal.pending) == 1
    assert journal.fault.startswith("NOT SAVED: 1 event is in memory only (No space left on device)")
    journal.append(StepDone(step=1))
    assert journal.fault.startswith("NOT SAVED: 2 events are in memory only")
    batch = journal.state.batch(1)
    assert batch is not None
    assert batch.status == "in the cup", "the day goes on"
    assert (tmp_path / JOURNAL).read_bytes() == before
    assert not journal.flush_pending()
    disk.room = 10_000
    assert journal.flush_pending()
    assert (len(journal.pending), journal.fault) == (0, "")
    assert read_journal(tmp_path) == (list(journal.state.records), [])
    journal.close()


@pytest.mark.parametrize("room", range(0, 260, 7))
def test_a_line_written_in_part_is_cut_off_and_written_again_in_its_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, room: int
) -> None:
    journal = Journal.create(tmp_path, ManualClock(NOON), start())
    disk = SmallDisk(monkeypatch, room)
    for step in (1, 2, 3):
        journal.append(StepDone(step=step))
    saved = 3 - len(journal.pending)
    assert len(journal.pending) >= 1
    but_for_its_end = journal.path.read_bytes().endswith(b'"}')
    assert [record.seq for record in read_journal(tmp_path)[0]] == list(range(1, 3 + saved + but_for_its_end))
    disk.room = 10_000
    journal.append(Note(text="room again"))
    assert len(journal.pending) == 0
    journal.close()
    assert read_journal(tmp_path) == (list(journal.state.records), [])


def test_a_flush_that_fails_confirms_nothing_and_is_done_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal.create(tmp_path, ManualClock(NOON), start())

    def broken(_fd: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", broken)
        journal.append(StepDone(step=1))
        assert "Input/output error" in journal.fault
        journal.append(StepDone(step=2))
        assert len(journal.pending) == 2
        assert not journal.flush_pending()
    journal.append(StepDone(step=3))
    assert journal.fault == ""
    journal.close()
    assert read_journal(tmp_path) == (list(journal.state.records), [])


def test_closing_with_unsaved_events_hands_them_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal.create(tmp_path, ManualClock(NOON), start())
    with monkeypatch.context() as patch:
        SmallDisk(patch, room=0)
        record = journal.append(Note(text="only here"))
        assert journal.unsaved_text() == line_of(record).decode()
        with pytest.raises(StorageError, match=r"NOT SAVED: 1 event is[\s\S]*keep the lines[\s\S]*only here"):
            journal.close()
    Journal.open(tmp_path, ManualClock(NOON)).close()


def test_a_torn_line_on_a_full_disk_is_kept_until_it_can_be_set_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = ManualClock(NOON)
    Journal.create(tmp_path, clock, start()).close()
    with (tmp_path / JOURNAL).open("ab") as file:
        file.write(b'{"v":1,"torn')
    before = (tmp_path / JOURNAL).read_bytes()
    aside = tmp_path / "journal.torn-1.txt"
    with monkeypatch.context() as patch:

        def broken(_fd: int) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        patch.setattr(os, "fsync", broken)
        patch.setattr("layup.session.journal.sync_folder", lambda _folder: None)
        journal = Journal.open(tmp_path, clock)
        journal.append(StepDone(step=1))
        assert len(journal.pending) == 2
        assert (tmp_path / JOURNAL).read_bytes() == before, "not cut before it is safe elsewhere"
        assert not aside.exists()
    assert journal.flush_pending()
    assert aside.read_bytes() == b'{"v":1,"torn'
    journal.close()
    assert read_journal(tmp_path) == (list(journal.state.records), [])


def test_a_last_line_without_its_end_outlasts_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = ManualClock(NOON)
    Journal.create(tmp_path, clock, start()).close()
    before = (tmp_path / JOURNAL).read_bytes()[:-1]
    (tmp_path / JOURNAL).write_bytes(before)
    disk = SmallDisk(monkeypatch, room=0)
    journal = Journal.open(tmp_path, clock)
    assert not journal.flush_pending()
    assert (tmp_path / JOURNAL).read_bytes() == before
    disk.room = 10_000
    journal.close()
    assert (tmp_path / JOURNAL).read_bytes().startswith(before + b"\n")
    assert read_journal(tmp_path) == (list(journal.state.records), [])


REAL_LIMIT = """
import resource, sys
from pathlib import Path
from layup.session.clock import SystemClock
from layup.session.day_events import Note
from layup.session.journal import Journal
journal = Journal.open(Path(sys.argv[1]), SystemClock())
soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
resource.setrlimit(resource.RLIMIT_FSIZE, (journal.path.stat().st_size + 400, hard))
for n in range(5):
    journal.append(Note(text=f"note {n} " + "." * 100))
print(len(journal.pending), journal.fault)
resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
journal.append(Note(text="note 5"))
print(len(journal.pending))
journal.close()
"""


@pytest.mark.skipif(os.name != "posix", reason="needs a limit on the size of files")
def test_a_limit_set_by_the_system_itself_loses_nothing(tmp_path: Path) -> None:
    Journal.create(tmp_path, ManualClock(NOON), start()).close()
    run = subprocess.run([sys.executable, "-c", REAL_LIMIT, str(tmp_path)], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    first, last = run.stdout.splitlines()
    assert first.startswith("4 NOT SAVED: 4 events are in memory only")
    assert last == "0"
    records, problems = read_journal(tmp_path)
    assert not problems
    assert [record.text[:6] for record in records if isinstance(record, Note)] == [f"note {n}" for n in range(6)]


@contextmanager
def unprivileged() -> Iterator[None]:
    """Let file permissions count, even if the tests run as the system's administrator."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name != "posix", reason="needs permissions of folders")
def test_a_read_only_folder_can_be_looked_at_but_not_written() -> None:
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        base.chmod(0o755)
        folder = base / "s"
        Journal.create(folder, ManualClock(NOON), start()).close()
        folder.chmod(0o555)
        base.chmod(0o555)
        with unprivileged():
            with pytest.raises(
                StorageError, match=r"cannot be written \(Permission denied\) .* look at it only"
            ) as seen:
                Journal.open(folder, ManualClock(NOON))
            with pytest.raises(StorageError, match="cannot be written"):
                Journal.create(base / "new", ManualClock(NOON), start())
            assert len(read_journal(folder)[0]) == 2
        assert seen.value.exit_code == 3
        base.chmod(0o755)
        folder.chmod(0o755)


@pytest.mark.parametrize("code", [errno.EROFS, errno.ENOSPC])
def test_a_disk_that_takes_no_new_file_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    def refuse(_path: object, _flags: int, _mode: int = 0) -> int:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(StorageError, match=rf"cannot be written \({os.strerror(code)}\)"):
        Journal.create(tmp_path, ManualClock(NOON), start())
