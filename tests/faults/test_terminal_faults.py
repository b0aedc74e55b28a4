"""Odd terminals, closed streams and signals: never a traceback, never a lost entry."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_line import ask_in
from terminal import UNDISTURBED, Terminal, no_app_left  # noqa: F401  a fixture
from test_press_day_pty import begun, temperature

import layup
from layup.files.workshop import demo_root
from layup.session.day_events import TemperatureRead
from layup.session.folder import LOCK_NAME
from layup.session.reader import read_journal

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal, a shell and signals"),
    pytest.mark.usefixtures("no_app_left"),
]

Monkey = pytest.MonkeyPatch
LAYUP = f"{sys.executable} -m layup"
SESSION = "2026-02-21-touring-skis-168"
ANSWERS = (
    ("plan", "touring-skis"),
    ("review", SESSION),
    ("mix", "slow-laminating", "250 g"),
    ("check",),
    ("--help",),
    ("plan", "--help"),
)
TABLE, DATA = "fabric '6 oz/yd^2'", "fabric '6 oz/yd^2' --json"
"""Every answer in words goes to the same paper as the one, and every answer in data as the other."""
PLAIN = {"PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii", "LC_ALL": "C", "LANG": "C", "PYTHONCOERCECLOCALE": "0"}
INTERRUPTS = "\x03\x03\x1a\x1c"
"""Control and C, twice; Z; backslash."""


def shell(words: str, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[bytes]:
    """Run a line of shell in the demo workshop."""
    return subprocess.run(
        ["/bin/sh", "-c", words],
        cwd=demo_root(),
        env=os.environ | {"PYTHONPATH": str(Path(layup.__file__).parent.parent)} | (env or {}),
        capture_output=True,
        check=False,
    )


@pytest.mark.parametrize("words", ANSWERS)
def test_without_utf8_or_colour_every_answer_still_comes(words: tuple[str, ...], monkeypatch: Monkey) -> None:
    for name, value in {"NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "20"}.items():
        monkeypatch.setenv(name, value)
    answer = ask_in(demo_root(), *words, encoding="ascii")
    assert answer.code in (0, 1)
    assert answer.err == ""
    assert answer.out.isascii()
    assert "\x1b" not in answer.out


def test_a_process_in_such_a_terminal_answers_too() -> None:
    run = shell(f"{LAYUP} {TABLE}", PLAIN | {"NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "20"})
    assert (run.returncode, run.stderr) == (0, b"")
    assert run.stdout.isascii()
    assert b"\x1b" not in run.stdout


def test_an_error_that_quotes_what_the_terminal_lacks_is_still_shown() -> None:
    run = shell(f"{LAYUP} fabric 'größe\u202e🎿'", PLAIN)
    assert run.returncode == 2
    assert run.stdout == b""
    assert b"areal weight: " in run.stderr
    assert b"Traceback" not in run.stderr


@pytest.mark.parametrize("words", ["mix slow-laminating '250 g'", DATA, "--help"])
def test_a_reader_that_has_seen_enough_makes_no_complaint(words: str) -> None:
    run = shell(f"{LAYUP} {words} | head -1; {LAYUP} {words} | true")
    assert run.stderr == b""


@pytest.mark.parametrize("streams", [">&-", "2>&-", ">&- 2>&-", "<&-", "<&- >&- 2>&-"])
@pytest.mark.parametrize("words", [TABLE, DATA, "fabric nonsense", ""])
def test_closed_streams_make_no_traceback(words: str, streams: str) -> None:
    run = shell(f"{LAYUP} {words} {streams}; echo $? >&2" if "2>" not in streams else f"{LAYUP} {words} {streams}")
    assert b"Traceback" not in run.stdout + run.stderr
    assert b"Exception" not in run.stdout + run.stderr
    code = run.returncode if "2>" in streams else int(run.stderr.split()[-1])
    assert code in (0, 1, 2, 3)


def test_an_answer_that_finds_no_room_says_so() -> None:
    run = shell(f"{LAYUP} {TABLE} > /dev/full")
    assert run.returncode == 3
    assert b"cannot print its answer" in run.stderr
    assert b"Traceback" not in run.stderr


@pytest.fixture
def day(tmp_path: Path) -> Iterator[Path]:
    """Begin a press day in a workshop; return its folder."""
    folder, _, _ = begun(tmp_path / "w")
    yield folder
    assert read_journal(folder)[1] == []
    assert not (folder / LOCK_NAME).exists(), "whoever opens it next need not wonder who writes"


def opened(folder: Path, **options: object) -> Terminal:
    """Open the app on a press day, in a terminal of its own."""
    return Terminal(folder.parent.parent, UNDISTURBED, **options)  # type: ignore[arg-type]  # passed on as given


def logged(folder: Path) -> list[float]:
    """Return the temperatures that the journal holds, in degrees Celsius, but for the first."""
    records, _ = read_journal(folder)
    return [round(r.temperature_K - 273.15, 1) for r in records if isinstance(r, TemperatureRead)][1:]


@pytest.mark.parametrize("told", [signal.SIGTERM, signal.SIGHUP])
def test_told_to_end_the_app_leaves_the_terminal_and_the_journal_in_order(day: Path, told: int) -> None:
    terminal = opened(day)
    terminal.wait_for("going on with")
    for keys, answer in temperature(63).steps:
        terminal.press(keys)
        terminal.wait_for(answer)
    assert terminal.ended(told) == 0
    assert b"\x1b[?1049l" in terminal.seen, "the terminal shows its own page again"
    assert "Traceback" not in terminal.text
    assert logged(day) == [21.3]


def test_a_terminal_that_is_closed_ends_the_app_and_loses_nothing(day: Path) -> None:
    terminal = opened(day)
    terminal.wait_for("going on with")
    for keys, answer in temperature(63).steps:
        terminal.press(keys)
        terminal.wait_for(answer)
    terminal.hang_up()
    assert logged(day) == [21.3]


@pytest.mark.parametrize("env", [{"TERM": "dumb"}, PLAIN | {"NO_COLOR": "1"}], ids=["dumb", "no UTF-8, no colour"])
def test_the_app_keeps_the_day_in_a_poor_terminal_and_no_key_of_a_shell_ends_it(day: Path, env: dict[str, str]) -> None:
    terminal = opened(day, env=env)
    terminal.wait_for("PRESS BY")
    terminal.wait_for("going on with")
    terminal.press(INTERRUPTS)
    for keys, answer in temperature(63).steps:
        terminal.press(keys)
        terminal.wait_for(answer.removesuffix(" °C"))
    terminal.press("q")
    terminal.wait_for("Leave it?")
    assert terminal.left() == 0
    assert "Traceback" not in terminal.text
    assert logged(day) == [21.3]


@pytest.mark.parametrize(("size", "shown"), [((20, 5), "PRESS BY"), ((1, 1), " ")])
def test_a_tiny_terminal_takes_keys_and_shows_what_it_has_room_for(
    day: Path, size: tuple[int, int], shown: str
) -> None:
    terminal = opened(day, size=size)
    terminal.wait_for(shown)
    terminal.press("d")
    assert terminal.left() == 0
    assert "Traceback" not in terminal.text
