"""A press day in the app while its files are meddled with, or the disk is full: the clocks go on, and it is told."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

import pytest
from app_driver import begin_day, bench, press, running, said, words, workshop

from layup.session.batch_events import BatchMixed
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.reader import read_journal

pytestmark = pytest.mark.skipif(os.name != "posix", reason="an open file cannot be deleted elsewhere")


async def test_a_journal_deleted_on_press_day_is_written_anew_and_told_until_somebody_has_seen_it(
    tmp_path: Path,
) -> None:
    async with running(workshop(tmp_path)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b")
        day = app.day
        day.source.path.unlink()
        app.tick()
        await pilot.pause()
        told = " ".join(bench(app).split())
        assert "STOP WHAT SYNCS THIS FOLDER" in told
        assert "journal.jsonl was deleted by another program: it is written anew, whole" in told
        assert words(app, "#top").startswith("PRESS BY")
        assert any(isinstance(record, BatchMixed) for record in read_journal(day.folder)[0])
        while "SYNCS" in bench(app):
            await press(app, pilot, "space")
        assert day.fault == ""
    assert read_journal(day.folder) == (list(day.state.records), [])


async def test_who_only_looks_on_is_told_that_the_session_is_gone_and_keeps_the_clocks(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    async with running(root) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h")
        folder = app.day.folder
    async with running(root, watch=True) as (viewer, watching):
        assert viewer.day.watching
        shutil.move(folder, tmp_path / "away")
        viewer.tick()
        await watching.pause()
        assert words(viewer, "#top").startswith("LOOKING ON  NOT UP TO DATE  PRESS BY")
        assert "does not exist" in said(viewer)
        assert "the clocks go by what was read" in said(viewer)
        shutil.move(tmp_path / "away", folder)
        viewer.tick()
        await watching.pause()
        assert words(viewer, "#top").startswith("LOOKING ON  PRESS BY")
        assert said(viewer) == "up to date again"
        await press(viewer, watching, "q")
    assert viewer.return_code in (0, None)


async def test_told_to_end_on_a_full_disk_the_app_hands_over_what_is_in_memory_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with running(workshop(tmp_path)) as (app, pilot):
        await begin_day(app, pilot)

        def full(_fd: int, _data: bytes) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        monkeypatch.setattr("layup.session.journal.os.write", full)
        app.day.log(Note(text="only here"), "")
        app.tick()
        await pilot.pause()
        assert words(app, "#top").startswith("NOT SAVED  PRESS BY")
        await press(app, pilot, "q")
        assert "NOT SAVED: 1 event is in memory only (No space left on device)" in said(app)
        app.exit()
        await pilot.pause()
    assert "keep the lines that follow" in app.farewell
    assert "only here" in app.farewell
    assert app.return_code == 3


async def test_what_is_not_saved_is_an_alarm_until_it_is_and_then_it_is_said_to_be_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        clock.advance(90.0)
        app.tick()

        def full(_fd: int, _data: bytes) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with monkeypatch.context() as patch:
            patch.setattr("layup.session.journal.os.write", full)
            await press(app, pilot, "enter", "h", "b")
            assert said(app).startswith("NOT SAVED yet: batch 1: clock started")
            assert "MEND THE DISK NOW" in bench(app)
            assert "NOT SAVED: 2 events are in memory only (No space left on device)" in bench(app)
            assert words(app, "#top").startswith("NOT SAVED  PRESS BY")
        app.tick()
        await pilot.pause()
        assert "saved now" in said(app)
        assert "NOT SAVED" not in bench(app) + words(app, "#top")
        with monkeypatch.context() as patch:
            patch.setattr("layup.session.journal.os.write", full)
            app.day.log(Note(text="waits"), "")
        assert app.day.poured_out(1).words == "batch 1 is on the part   saved now: every entry is on the disk"
