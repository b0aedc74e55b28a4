"""A workshop of the demo's files to run commands in."""

from contextlib import chdir

import pytest
from command_line import Answer

from layup.cli import main
from layup.files.workshop import new_workshop


@pytest.fixture
def workshop(tmp_path, monkeypatch):
    """Make a workshop, and a console of the usual width."""
    folder = tmp_path / "workshop"
    new_workshop(folder)
    monkeypatch.setenv("COLUMNS", "80")
    return folder


@pytest.fixture
def say(workshop, capsys):
    """Return a function that runs one command in the workshop."""

    def run(*words):
        with chdir(workshop):
            try:
                code = main(list(words))
            except SystemExit as stop:
                code = stop.code
        said = capsys.readouterr()
        return Answer(code, said.out, said.err)

    return run


@pytest.fixture
def edit(workshop):
    """Return a function that replaces a piece of a file, once, and gives the line on which it stood."""

    def change(name, old, new):
        path = workshop / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return text[: text.index(old)].count("\n") + 1

    return change
