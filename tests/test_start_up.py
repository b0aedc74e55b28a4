"""Starting is quick because little is loaded: what is in `sys.modules` of a fresh interpreter, and no stopwatch."""

import gc
import subprocess
import sys
from argparse import Namespace
from pathlib import Path

import pytest
from textual._compositor import Compositor

from layup.app import app
from layup.app.app import LayupApp
from layup.commands import app as command

SCIENCE = {"numpy", "scipy", "pint", "pydantic", "pydantic_core", "tomllib"}
TO_THE_FIRST_FRAME = """
import sys
from pathlib import Path
from layup.app import app

class UntilTheFirstFrame(app.LayupApp):
    CSS_PATH = str(Path(app.__file__).with_name("layup.tcss"))
    def _open_workshop(self):  # called once the first frame is drawn
        self.exit()

UntilTheFirstFrame(Path(".")).run(headless=True)
print(*sys.modules)
"""
ANSWERED = """
import sys
from layup.cli import main
try:
    main([{word!r}])
except SystemExit as end:
    assert end.code == 0
print(*sys.modules)
"""


def loaded_by(code):
    """Return the names of the modules that are loaded once `code` has run."""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(ran.stdout.splitlines()[-1].split())


def test_nothing_scientific_is_loaded_before_the_first_frame():
    loaded = loaded_by(TO_THE_FIRST_FRAME)
    assert {"textual", "layup.app.shell"} <= loaded
    assert not SCIENCE & loaded
    assert {
        name for name in loaded if name.startswith(("layup.chemistry", "layup.planning", "layup.materials"))
    } == set()


def test_the_first_frame_has_the_keys(tmp_path, monkeypatch):
    class OfNoWorkshop(LayupApp):
        CSS_PATH = str(Path(app.__file__).with_name("layup.tcss"))

        def _open_workshop(self):
            self.exit()

    frames, render = [], Compositor.render_update

    def rendered(compositor, *args, **options):
        frames.append("\n".join(strip.text for strip in compositor.render_strips()))
        return render(compositor, *args, **options)

    monkeypatch.setattr(Compositor, "render_update", rendered)
    OfNoWorkshop(tmp_path).run(headless=True, size=(80, 24))
    assert "B  Bench   P  Press   L  Logbook" in frames[0]
    assert "V compare   Q quit   ?" in frames[0]


def test_nothing_looks_for_garbage_until_the_workshop_is_open(tmp_path, monkeypatch):
    seen, usual, run = [], gc.get_threshold(), LayupApp.run

    def run_until_open(self):
        def open_now():
            collect()
            seen.append(gc.get_threshold())
            self.exit()

        collect, self.once_open = self.once_open, open_now
        seen.append(gc.get_threshold()[0])
        run(self, headless=True)

    for folder in ("resins", "sessions/one"):
        (tmp_path / folder).mkdir(parents=True)
    monkeypatch.setattr(LayupApp, "run", run_until_open)
    monkeypatch.setattr(command, "require_terminal", lambda: None)
    asked = Namespace(watch=True, port=8737, thermometer=None, aloud=None, page=False, lan=False)
    try:
        assert command.open_app(str(tmp_path), asked) == 0
    finally:
        gc.set_threshold(*usual)
    assert seen == [command.NOT_YET, command.COLLECTOR]


@pytest.mark.parametrize("word", ["--version", "--help"])
def test_version_and_help_load_no_screen_and_nothing_that_only_other_answers_need(word):
    loaded = loaded_by(ANSWERED.format(word=word))
    assert "layup.cli" in loaded
    assert not SCIENCE & loaded
    parsers_own = loaded_by("import argparse, json, shutil, sys; print(*sys.modules)")
    assert not {"textual", "rich", "asyncio", "inspect", "pathlib"} & (loaded - parsers_own)
