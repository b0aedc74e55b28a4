"""A day that is looked on while another program writes it: once that one is gone, it can be gone on with here."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from app_driver import begin_day, press, running, said, settled, words, workshop

pytestmark = pytest.mark.skipif(os.name != "posix", reason="ends a program as POSIX does")

WRITE_UNTIL_KILLED = """
import sys
from pathlib import Path
from layup.session.clock import SystemClock
from layup.session.journal import Journal
journal = Journal.open(Path(sys.argv[1]), SystemClock())
print("open", flush=True)
sys.stdin.read()
"""


async def test_who_looks_on_is_asked_to_take_over_once_the_writer_is_gone(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    async with running(root) as (app, pilot):
        await begin_day(app, pilot)
        folder = app.day.folder
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITE_UNTIL_KILLED, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    try:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"open\n"
        async with running(root) as (app, pilot):
            assert app.day.watching
            app.look_for_the_writer()
            await settled(app, pilot)
            assert len(app.screen_stack) == 1, "it writes still"
            await press(app, pilot, "u")
            assert said(app).startswith(f"only looking on: process {writer.pid}")
            writer.kill()
            writer.wait()
            app.look_for_the_writer()
            await settled(app, pilot)
            assert "writes no more" in app.screen.title_text
            await press(app, pilot, "n")
            app.look_for_the_writer()
            await settled(app, pilot)
            assert len(app.screen_stack) == 1, "asked once"
            await press(app, pilot, "u")
            assert "writes no more" in app.screen.title_text, "asked again by who wants to log something"
            await press(app, pilot, "y")
            assert not app.day.watching
            assert "going on with" in said(app)
            app.tick()
            await settled(app, pilot)
            assert "may have lost the time" in app.screen.title_text, "the writer's clock is months ahead of this one"
            await press(app, pilot, "escape")
            assert not words(app, "#top").startswith("LOOKING ON")
            await press(app, pilot, "t", "a", *"21", "enter")
            assert app.day.state.air[-1][1] == pytest.approx(294.15)
    finally:
        writer.kill()
        writer.communicate()


async def test_who_only_wants_to_look_on_is_never_asked_to_write(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    async with running(root) as (app, pilot):
        await begin_day(app, pilot)
    async with running(root, watch=True) as (app, pilot):
        app.look_for_the_writer()
        await press(app, pilot, "u")
        assert len(app.screen_stack) == 1
        assert app.day.watching
