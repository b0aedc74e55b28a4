"""After a flush that failed nothing is believed that only the system's memory holds.

The disk here does what Linux does since 2018 (PostgreSQL's findings on fsync, "fsyncgate"; R. Rebello et al., "Can
Applications Recover from fsync Failures?", USENIX ATC 2020): a flush that fails marks what it could not write as
clean, so that the file still reads as written, the next flush succeeds, and the bytes are on no disk.
"""

import errno
import os
from pathlib import Path

import pytest
from session_examples import NOON, start

from layup.files.durable import JOURNAL
from layup.session.batch_events import StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import read_journal

PAGE = 4096


class ForgetfulDisk:
    """A disk on which only what a flush took outlasts the power; `failing` flushes forget what they should write."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.failing = 0
        self.durable: dict[int, bytearray] = {}
        self._dirty: dict[int, set[int]] = {}
        self._write, self._fsync = os.write, os.fsync
        monkeypatch.setattr(os, "write", self.write)
        monkeypatch.setattr(os, "fsync", self.fsync)
        monkeypatch.setattr("layup.session.journal.write_new", self.write_new)

    def write_new(self, path: Path, data: bytes) -> None:
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
        self.durable[os.fstat(fd).st_ino] = bytearray()
        try:
            self.write(fd, data)
            self.fsync(fd)
        except OSError:
            path.unlink()
            raise
        finally:
            os.close(fd)

    def write(self, fd: int, data: bytes) -> int:
        written = self._write(fd, data)
        end = os.lseek(fd, 0, os.SEEK_CUR)
        pages = range((end - written) // PAGE, (end - 1) // PAGE + 1)
        self._dirty.setdefault(os.fstat(fd).st_ino, set()).update(pages)
        return written

    def fsync(self, fd: int) -> None:
        now = os.fstat(fd)
        image = self.durable.setdefault(now.st_ino, bytearray())
        dirty, self._dirty[now.st_ino] = self._dirty.get(now.st_ino, set()), set()
        if self.failing:
            self.failing -= 1
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        if Path(f"/proc/self/fd/{fd}").is_file():
            seen = Path(f"/proc/self/fd/{fd}").read_bytes()
            image.extend(bytes(max(0, len(seen) - len(image))))
            del image[len(seen) :]
            for page in dirty:
                image[page * PAGE : (page + 1) * PAGE] = seen[page * PAGE : (page + 1) * PAGE]

    def power_cut(self, path: Path) -> None:
        """Leave what is really on the disk."""
        path.write_bytes(self.durable[path.stat().st_ino])


pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="looks at open files as Linux shows them")


def long_note(n: int) -> Note:
    return Note(text=f"note {n} " + "." * 1900 * n)


def test_what_is_said_to_be_saved_after_a_failed_flush_is_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = ForgetfulDisk(monkeypatch)
    journal = Journal.create(tmp_path, ManualClock(NOON), start())
    for n in range(10):
        disk.failing = n % 4
        journal.append(long_note(n))
        while journal.fault:
            journal.flush_pending()
        assert bytes(disk.durable[journal.path.stat().st_ino]) == journal.path.read_bytes()
    records = list(journal.state.records)
    journal.close()
    disk.power_cut(tmp_path / JOURNAL)
    assert read_journal(tmp_path) == (records, [])


def test_the_journal_goes_into_a_fresh_file_after_a_failed_flush(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = ForgetfulDisk(monkeypatch)
    with Journal.create(tmp_path, ManualClock(NOON), start()) as journal:
        old = journal.path.stat().st_ino
        keep_open = journal.path.open("rb")  # its number is not given to another file meanwhile
        disk.failing = 1
        journal.append(StepDone(step=1))
        assert journal.fault
        assert journal.flush_pending()
        assert journal.path.stat().st_ino != old, "the blocks that failed are not trusted again"
        assert journal.mended == "", "nobody else did anything to it"
        keep_open.close()
    assert [path.name for path in tmp_path.iterdir()] == [JOURNAL]


def test_a_name_that_was_not_flushed_is_given_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Journal.create(tmp_path, ManualClock(NOON), start()) as journal:
        failures = [OSError(errno.EIO, os.strerror(errno.EIO))]
        asked = []

        def sync_folder(folder: Path) -> None:
            asked.append((folder / JOURNAL).stat().st_ino)
            if failures:
                raise failures.pop()

        monkeypatch.setattr("layup.session.journal.sync_folder", sync_folder)
        journal.path.unlink()
        journal.append(StepDone(step=1))
        assert journal.flush_pending()
        assert not failures
        assert len(set(asked)) == 2, "a second flush of the same name would have said yes to nothing"


def test_what_a_program_that_died_could_not_flush_is_written_again_before_anything_builds_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = ForgetfulDisk(monkeypatch)
    clock = ManualClock(NOON)
    first = Journal.create(tmp_path, clock, start())
    for n in range(6):
        first.append(long_note(n))
    disk.failing = 1
    first.append(long_note(6))
    assert first.fault
    os.close(first._fd)
    os.close(first._lock._fd)  # it dies: what it could not flush still reads as written
    assert len(read_journal(tmp_path)[0]) == 9
    with Journal.open(tmp_path, clock) as second:
        assert second.fault == ""
        records = list(second.state.records)
    disk.power_cut(tmp_path / JOURNAL)
    assert read_journal(tmp_path) == (records, [])
