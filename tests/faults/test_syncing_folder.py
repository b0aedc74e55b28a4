"""A syncing folder, a cleaning tool or a second writer meddles with a session's files while it is open.

Whatever it does, every confirmed entry is in journal.jsonl afterwards, what was put in its place is kept beside it,
and the person at the bench is told.
"""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from session_examples import NOON, mixed, start

from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.session import journal as journal_module
from layup.session.batch_events import StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.folder import LOCK_NAME
from layup.session.journal import Journal
from layup.session.reader import Follower, read_journal, strays

Meddle = Callable[[Path], None]
FOREIGN = b"this is not ours\n"


def moved_away(path: Path) -> None:
    path.rename(path.with_name("journal (conflicted copy).jsonl"))


def replaced(path: Path) -> None:
    new = path.with_name("incoming")
    new.write_bytes(FOREIGN)
    new.replace(path)


def older_state(path: Path) -> None:
    """Put the file back as it was some lines ago, in a new file."""
    new = path.with_name("incoming")
    new.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    new.replace(path)


def cut(path: Path) -> None:
    os.truncate(path, 100)


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def overwritten(path: Path) -> None:
    """Write others bytes of the same number into the same file."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.write(b"x" * size)
    os.utime(path, ns=(1, 1))


def written_by_another(path: Path) -> None:
    with path.open("ab") as file:
        file.write(FOREIGN)


def made_a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()
    (path / "x").write_bytes(FOREIGN)


def made_a_pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def folder_deleted(path: Path) -> None:
    shutil.rmtree(path.parent)


def folder_moved(path: Path) -> None:
    path.parent.rename(path.parent.with_name("elsewhere"))


MEDDLING: tuple[tuple[Meddle, str], ...] = (
    (Path.unlink, "deleted"),
    (moved_away, "deleted"),
    (replaced, "replaced"),
    (older_state, "replaced"),
    (cut, "changed"),
    (emptied, "changed"),
    (overwritten, "changed"),
    (written_by_another, "changed"),
    (made_a_folder, "replaced"),
    (made_a_pipe, "replaced"),
    (folder_deleted, "deleted"),
    (folder_moved, "deleted"),
)
pytestmark = pytest.mark.skipif(os.name != "posix", reason="an open file cannot be replaced elsewhere")


def begun(folder: Path) -> Journal:
    """Begin a session with its copies of plan and resin."""
    files = {"plan.toml": b"title = 1\n", "resin.toml": b"id = 1\n"}
    journal = Journal.create(folder, ManualClock(NOON), start(), files=files)
    journal.append(mixed(1))
    return journal


@pytest.mark.parametrize(("meddle", "word"), MEDDLING, ids=lambda value: getattr(value, "__name__", value))
def test_nothing_that_was_confirmed_is_lost_and_it_is_told(tmp_path: Path, meddle: Meddle, word: str) -> None:
    journal = begun(tmp_path / "s")
    meddle(journal.path)
    journal.tick()
    assert f"journal.jsonl was {word} by another program" in journal.mended or "was deleted" in journal.mended
    assert journal.fault == ""
    journal.append(StepDone(step=1))
    journal.close()
    records, problems = read_journal(tmp_path / "s")
    assert records == list(journal.state.records)
    assert problems == []
    assert sorted(path.name for path in (tmp_path / "s").glob("*.toml")) == ["plan.toml", "resin.toml"]
    assert list((tmp_path / "s").glob("*.tmp")) == []


@pytest.mark.parametrize("meddle", [replaced, overwritten, written_by_another, moved_away, made_a_folder])
def test_what_was_put_in_its_place_is_kept_and_told_of_ever_after(tmp_path: Path, meddle: Meddle) -> None:
    with begun(tmp_path) as journal:
        meddle(journal.path)
        found = journal.path if journal.path.exists() else tmp_path / "journal (conflicted copy).jsonl"
        foreign = found.read_bytes() if found.is_file() else FOREIGN
        journal.append(StepDone(step=1))
    (stray,) = strays(tmp_path)
    kept = Path(stray.file)
    assert (kept if kept.is_file() else kept / "x").read_bytes() == foreign
    assert stray.warning
    assert "nothing in it counts" in stray.message


@pytest.mark.parametrize("meddle", [Path.unlink, older_state, cut, emptied])
def test_an_older_state_of_the_journal_is_not_kept_twice(tmp_path: Path, meddle: Meddle) -> None:
    with begun(tmp_path) as journal:
        meddle(journal.path)
        journal.append(StepDone(step=1))
    assert strays(tmp_path) == []


def test_a_folder_that_meddles_each_second_loses_nothing(tmp_path: Path) -> None:
    journal = begun(tmp_path)
    for n in range(40):
        MEDDLING[n % 10][0](journal.path)
        journal.append(Note(text=f"note {n}"))
        assert journal.fault == ""
    journal.close()
    assert read_journal(tmp_path) == (list(journal.state.records), [])


@pytest.mark.parametrize("call", ["write_new", "sync_folder", "os.fsync", "os.open", "Path.replace"])
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
def test_where_it_cannot_be_written_anew_the_day_goes_on_in_memory_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, code: int
) -> None:
    journal = begun(tmp_path)
    journal.path.unlink()

    def refuse(*_: object, **__: object) -> int:
        raise OSError(code, os.strerror(code))

    targets = {"os.fsync": (os, "fsync"), "os.open": (os, "open"), "Path.replace": (Path, "replace")}
    with monkeypatch.context() as patch:
        patch.setattr(*targets.get(call, (journal_module, call)), refuse)
        journal.append(StepDone(step=1))
        assert journal.fault.startswith("NOT SAVED: 1 event is in memory only")
        assert os.strerror(code) in journal.fault
        assert '"step-done"' in journal.unsaved_text()
        if call != "sync_folder":  # there it is in its place already, and only its name may not last
            assert journal.unsaved_text().count("\n") == len(journal.state.records), "all of it, the file being gone"
    journal.tick()
    assert journal.fault == ""
    journal.close()
    assert read_journal(tmp_path) == (list(journal.state.records), [])


@pytest.mark.parametrize("meddle", [cut, emptied, overwritten, written_by_another])
def test_where_an_open_file_cannot_be_replaced_the_journal_is_written_over_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, meddle: Meddle
) -> None:
    """As on Windows, where another program can write an open file, and nobody can rename or replace one."""
    journal = begun(tmp_path)

    def refuse(self: Path, target: Path) -> Path:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", refuse)
    inode = journal.path.stat().st_ino
    meddle(journal.path)
    journal.append(StepDone(step=1))
    assert journal.fault == ""
    assert "changed by another program: it is written anew, whole" in journal.mended
    journal.close()
    assert journal.path.stat().st_ino == inode
    assert read_journal(tmp_path) == (list(journal.state.records), [])
    assert list(tmp_path.glob("*.tmp")) == []


@pytest.mark.parametrize("refused", [None, errno.ENOTSUP, errno.EIO])
def test_where_fsync_stops_at_the_drive_the_flush_goes_through_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refused: int | None
) -> None:
    """As on macOS; played here, since its call is not known to other systems."""
    import fcntl

    flushed: list[int] = []
    real = fcntl.fcntl

    def full(fd: int, command: int, *rest: int) -> int:
        if command != 51:
            return real(fd, command, *rest)
        flushed.append(fd)
        if refused is not None:
            raise OSError(refused, os.strerror(refused))
        return 0

    journal = begun(tmp_path)
    monkeypatch.setattr("layup.files.durable.sys.platform", "darwin")
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", full)
    synced: list[int] = []
    fsync = os.fsync
    monkeypatch.setattr(os, "fsync", lambda fd: synced.append(fd) or fsync(fd))
    journal.append(StepDone(step=1))
    assert flushed
    assert bool(synced) == (refused == errno.ENOTSUP)
    assert bool(journal.fault) == (refused == errno.EIO)
    monkeypatch.undo()
    journal.close()


def test_a_time_that_changes_without_the_bytes_is_no_meddling(tmp_path: Path) -> None:
    with begun(tmp_path) as journal:
        os.utime(journal.path, ns=(1, 1))
        journal.tick()
        assert journal.mended == ""
        assert [path.name for path in tmp_path.glob("journal.o*")] == []


def test_a_session_without_its_copies_gets_them_back(tmp_path: Path) -> None:
    with begun(tmp_path) as journal:
        (tmp_path / "plan.toml").unlink()
        journal.tick()
        assert "plan.toml was deleted by another program" in journal.mended
    assert (tmp_path / "plan.toml").read_bytes() == b"title = 1\n"


def test_two_writers_of_one_process_or_of_two_are_not_let_in(tmp_path: Path) -> None:
    with begun(tmp_path):
        with pytest.raises(StorageError, match=f"another process writes in this session .process {os.getpid()}"):
            Journal.open(tmp_path, ManualClock(NOON))
        script = (
            "import sys\nfrom pathlib import Path\nfrom layup.session.clock import SystemClock\n"
            "from layup.session.journal import Journal\nJournal.open(Path(sys.argv[1]), SystemClock())\n"
        )
        run = subprocess.run(
            [sys.executable, "-c", script, str(tmp_path)], capture_output=True, text=True, check=False
        )  # fmt: skip
        assert "another process writes in this session" in run.stderr


def test_where_the_lock_was_deleted_and_another_writes_both_keep_all_of_their_entries(tmp_path: Path) -> None:
    first = begun(tmp_path)
    (tmp_path / LOCK_NAME).unlink()
    with Journal.open(tmp_path, ManualClock(NOON)) as second:
        second.append(Note(text="of the second"))
        first.append(Note(text="of the first"))
        assert "another process writes in this session" in first.fault
        assert "of the first" in first.unsaved_text()
        second.append(Note(text="of the second, too"))
        assert second.fault == second.mended == ""
    first.tick()
    assert first.fault == ""
    assert "changed by another program" in first.mended
    first.close()
    texts = [record.text for record in read_journal(tmp_path)[0] if isinstance(record, Note)]
    assert texts == ["of the first"]
    (stray,) = strays(tmp_path)
    assert Path(stray.file).read_text(encoding="utf-8").count("of the second") == 2


@pytest.mark.parametrize(("meddle", "word"), MEDDLING[:8], ids=lambda value: getattr(value, "__name__", value))
def test_a_viewer_sees_the_journal_as_it_is_written_anew(tmp_path: Path, meddle: Meddle, word: str) -> None:
    del word
    with begun(tmp_path) as journal:
        viewer = Follower(tmp_path, ManualClock(NOON))
        viewer.poll()
        meddle(journal.path)
        journal.append(StepDone(step=1))
        viewer.poll()
        assert viewer.state == journal.state
        assert viewer.problems == []


def test_a_mark_that_an_editor_puts_before_the_first_line_does_no_harm(tmp_path: Path) -> None:
    begun(tmp_path).close()
    records, _ = read_journal(tmp_path)
    path = tmp_path / JOURNAL
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_journal(tmp_path) == (records, [])
    with Journal.open(tmp_path, ManualClock(NOON)) as journal:
        journal.append(StepDone(step=1))
    assert read_journal(tmp_path) == (list(journal.state.records), [])
