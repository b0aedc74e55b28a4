"""A lock file that is not what the program left: nothing else is written, nothing hangs."""

from __future__ import annotations

import errno
import os
import shutil
import signal
from pathlib import Path

import pytest
from session_examples import NOON, start

from layup.errors import StorageError
from layup.session import folder as lock_module
from layup.session.clock import ManualClock
from layup.session.folder import LOCK_NAME, HeldError, Lock, is_free, read_holder
from layup.session.journal import Journal

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links, pipes and signals as POSIX has them")


@pytest.fixture
def session(tmp_path: Path) -> Path:
    folder = tmp_path / "s"
    Journal.create(folder, ManualClock(NOON), start()).close()
    return folder


@pytest.mark.parametrize("link", [os.symlink, os.link])
def test_a_lock_that_is_a_link_to_a_file_leaves_that_file_as_it_was(tmp_path: Path, session: Path, link) -> None:
    precious = tmp_path / "precious"
    precious.write_text("gold")
    link(precious, session / LOCK_NAME)
    with pytest.raises(StorageError, match=r"journal.lock: is no file of its own \(a link to another\) .* delete it"):
        Journal.open(session, ManualClock(NOON))
    assert precious.read_text() == "gold"


def test_a_lock_that_is_a_link_to_nothing_makes_no_file(tmp_path: Path, session: Path) -> None:
    (session / LOCK_NAME).symlink_to(tmp_path / "new")
    with pytest.raises(StorageError, match="a link to another"):
        Journal.open(session, ManualClock(NOON))
    assert not (tmp_path / "new").exists()


def test_a_lock_that_is_a_pipe_holds_nobody_up(session: Path) -> None:
    os.mkfifo(session / LOCK_NAME)
    signal.signal(signal.SIGALRM, lambda *_: pytest.fail("it waits for somebody to write into the pipe"))
    signal.alarm(5)
    try:
        assert read_holder(session) is None
        with pytest.raises(StorageError, match=r"is no file of its own \(a pipe or a device\)"):
            Journal.open(session, ManualClock(NOON))
    finally:
        signal.alarm(0)


@pytest.mark.parametrize(
    "text",
    [
        '{"process_id": 1e999, "host": "h", "since": "s"}',
        '{"process_id": ' + "9" * 900 + ', "host": "h", "since": "s"}',
        '{"process_id": -1, "host": "h", "since": "s"}',
        "[" * 990,
        "[" * 500_000,
        '{"process_id": {}, "host": "h", "since": "s"}',
        "\x00\xff",
        '{"process_id": 1, "host": "h", "since": "s"}' + " " * 2000 + "x",
    ],
)
def test_a_holder_that_says_something_strange_is_nobody(session: Path, text: str) -> None:
    (session / LOCK_NAME).write_bytes(text.encode("latin-1"))
    if "x" not in text:
        assert read_holder(session) is None
    Journal.open(session, ManualClock(NOON)).close()


@pytest.mark.parametrize("code", [errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EIO])
def test_a_share_that_cannot_lock_is_told_as_that(session: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    def cannot(_fd: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(lock_module, "_try_lock", cannot)
    with pytest.raises(
        StorageError, match=rf"cannot be locked \({os.strerror(code)}\) .* disk of this machine"
    ) as seen:
        Journal.open(session, ManualClock(NOON))
    assert not isinstance(seen.value, HeldError)


def test_a_lock_tells_whether_its_writer_is_gone_and_stays_as_it_is(session: Path) -> None:
    assert is_free(session)
    assert not (session / LOCK_NAME).exists()
    held = Lock.take(session, NOON)
    assert not is_free(session)
    os.close(held._fd)  # as its death does
    assert is_free(session)
    assert (session / LOCK_NAME).exists()
    shutil.rmtree(session)
    assert not is_free(session)
