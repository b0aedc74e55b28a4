"""What is heard of an alarm: bell patterns by urgency, off by one key, and a command without a shell."""

import itertools
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.app.sound import COMMAND_LIMIT_S, Sound, command_of, strokes_at_s, words_of
from layup.bench.acts import Act
from layup.bench.alarms import STROKES, AlarmBoard
from layup.errors import InputError
from layup.session.clock import ManualClock

ALARM = Act(kind="empty cup", words="EMPTY CUP 1", key="cup 1", urgency="now", why="it thickens", alarm=True)


def board(strokes: int, *news: Act) -> AlarmBoard:
    return AlarmBoard(alarms=news, strokes=strokes, news=news)


def heard(sound: Sound, what: AlarmBoard) -> list[float]:
    struck: list[float] = []
    sound.hear(what, struck.append)
    return struck


def ended(sound: Sound) -> None:
    """Wait for the command that was started."""
    assert sound._running is not None
    sound._running.wait(timeout=30)


def test_the_more_urgent_the_more_strokes_and_none_runs_into_another():
    patterns = [strokes_at_s(STROKES[rank]) for rank in ("when free", "soon", "now")]
    assert [len(pattern) for pattern in patterns] == sorted({len(pattern) for pattern in patterns})
    assert patterns[0] == ()
    for pattern in (*patterns, strokes_at_s(7)):
        assert all(after - before >= 0.25 for before, after in itertools.pairwise(pattern))


def test_off_it_neither_rings_nor_speaks():
    sound = Sound(ManualClock(), command=(sys.executable, "-c", "raise SystemExit"), on=False)
    assert heard(sound, board(3, ALARM)) == []
    assert sound._running is None
    sound.on = True
    assert len(heard(sound, board(3, ALARM))) == 3
    ended(sound)


def test_a_command_gets_the_alarm_as_its_last_argument_and_no_shell(tmp_path):
    out = tmp_path / "said"
    write = f"import sys, pathlib; pathlib.Path({str(out)!r}).write_text(repr(sys.argv[1:]))"
    sound = Sound(ManualClock(), command=(sys.executable, "-c", write, "--loud"))
    hostile = Act(kind="step", words="$(touch x); `rm -rf /` | cat", key="step", urgency="now", alarm=True)
    heard(sound, board(3, hostile))
    ended(sound)
    assert out.read_text() == repr(["--loud", "$(touch x); `rm -rf /` | cat"])
    assert sorted(path.name for path in Path(tmp_path).iterdir()) == ["said"]


def test_one_speaks_at_a_time_the_newest_waits_and_one_that_hangs_is_ended():
    clock = ManualClock()
    sound = Sound(clock, command=(sys.executable, "-c", "import time; time.sleep(600)"))
    heard(sound, board(1, ALARM))
    first = sound._running
    second = Act(kind="close", words="CLOSE THE PRESS", key="close", urgency="now", alarm=True)
    heard(sound, board(1, second))
    assert sound._running is first
    clock.advance(COMMAND_LIMIT_S + 1.0)
    heard(sound, board(0))
    assert sound._running is not first
    assert first is not None
    assert first.returncode is not None
    sound.end()
    assert sound._running is not None
    assert sound._running.returncode is not None


def test_a_command_that_cannot_be_run_any_more_is_told_and_the_bell_still_rings():
    sound = Sound(ManualClock(), command=("no-such-command-anywhere",))
    assert len(heard(sound, board(3, ALARM))) == 3
    assert "cannot be run" in sound.trouble


@pytest.mark.parametrize("said", ["", "no-such-command-anywhere --x", "'open quote"])
def test_a_command_that_cannot_be_found_is_refused_at_once(said):
    with pytest.raises(InputError, match="is no command that can be found"):
        command_of(said)


def test_a_command_keeps_its_options():
    assert command_of(f"{sys.executable} -c 'a b'") == (sys.executable, "-c", "a b")


@given(st.text(max_size=300), st.text(max_size=300))
def test_what_is_spoken_is_one_line_and_never_an_option(words, why):
    said = words_of(Act(kind="step", words=words, key="k", why=why))
    assert not said.startswith("-")
    assert "\n" not in said
    assert len(said) <= 210
