"""Following a thermometer: what it says is read strictly, logged sparingly, and shown as stale when it falls silent."""

import os
import sys
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layup.bench.alarms import (
    JUMP_K,
    KEEP_S,
    LONGEST,
    POLL_S,
    STALE_S,
    STEP_K,
    CommandSource,
    FileSource,
    Poll,
    Thermometer,
    kelvin_of,
    source_of,
)
from layup.errors import InputError
from layup.session.clock import ManualClock
from layup.session.day_events import TemperatureRead
from layup.session.text import CleanText, clean_text


def heard(texts: list[str], *, every_s: float = POLL_S) -> tuple[Thermometer, list[tuple[float, float]]]:
    """Return the thermometer after some readings, and what was logged: (time in s, degC)."""
    thermometer, logged = Thermometer(), []
    for count, text in enumerate(texts):
        thermometer, event = thermometer.take(Poll(text), count * every_s)
        if event is not None:
            logged.append((count * every_s, round(event.temperature_K - 273.15, 3)))
    return thermometer, logged


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("21.4", 21.4),
        ("21,4\n", 21.4),
        ("-3.5 °C", -3.5),
        ("\u22123.5", -3.5),
        ("t=21.4", 21.4),
        ("temp: 21.4C ok", 21.4),
        ("70.7 F", 21.5),
        ("70.7°f", 21.5),
        ("70.7 degrees Fahrenheit", 21.5),
        ("294.65 K", 21.5),
        ("2026-03-07 12:30:05 21.4", 21.4),
        ("2026-03-07T12:30:05Z 21.4", 21.4),
        ("21.4 55 % humidity", 21.4),
    ],
)
def test_the_first_number_is_the_temperature_in_celsius_unless_a_unit_follows(text: str, celsius: float) -> None:
    assert kelvin_of(text) == pytest.approx(celsius + 273.15, abs=1e-9)


@pytest.mark.parametrize("text", ["", "nan", "sensor offline", "0x1A", "12:30", "1.2.3.4", "\x1b[31m"])
def test_a_text_without_a_number_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="thermometer: says no number"):
        kelvin_of(text)


def test_a_number_that_reads_two_ways_is_refused() -> None:
    with pytest.raises(InputError, match="can be read in two ways"):
        kelvin_of("21,437")


@pytest.mark.parametrize("text", ["85", "-127", "21437", "2026 21.4", "150 F"])
def test_nonsense_is_refused_and_said(text: str) -> None:
    thermometer, event = Thermometer().take(Poll(text), 0.0)
    assert event is None
    assert "says what the air cannot have" in thermometer.trouble
    assert thermometer.words(0.0).startswith("air: no reading yet (thermometer: says what the air cannot have")


def test_a_mould_may_be_hotter_than_the_shop() -> None:
    assert Thermometer(place="mould").take(Poll("85"), 0.0)[1] == TemperatureRead(
        place="mould", temperature_K=358.15, source="thermometer"
    )


def test_a_steady_shop_takes_one_line_of_the_journal_in_five_minutes() -> None:
    _, logged = heard(["20.0", "20.1", "19.9"] * 40)
    assert [at_s for at_s, _ in logged] == [0.0, KEEP_S, 2 * KEEP_S, 3 * KEEP_S]


def test_a_change_is_logged_at_once() -> None:
    assert heard(["20.0", "20.1", "20.2", "20.3", "20.4", "20.5"])[1] == [(0.0, 20.0), (20.0, 20.2), (40.0, 20.4)]


def test_a_spike_is_not_believed_and_a_jump_is_once_it_is_confirmed() -> None:
    thermometer, logged = heard(["20.0", "35.0", "20.0", "20.0"])
    assert logged == [(0.0, 20.0)]
    assert thermometer.trouble == ""
    thermometer, logged = heard(["20.0", "35.0", "34.5"])
    assert logged == [(0.0, 20.0), (20.0, 34.5)]
    assert heard(["20.0", "35.0", "50.0", "20.0"])[1] == [(0.0, 20.0)]


def test_a_silent_thermometer_is_stale_after_five_minutes_and_says_why() -> None:
    thermometer, _ = heard(["21.5"])
    for count in range(1, 60):
        thermometer, event = thermometer.take(Poll(trouble="shed.txt cannot be read (No such file)"), count * POLL_S)
        assert event is None
        stale = thermometer.silent_s(count * POLL_S)
        assert (stale is None) == (count * POLL_S <= STALE_S)
    assert thermometer.words(590.0) == (
        "air 21.5 °C STALE for 10 min (thermometer: shed.txt cannot be read (No such file))"
    )
    thermometer, event = thermometer.take(Poll("21.6"), 600.0)
    assert event is not None
    assert thermometer.silent_s(600.0) is None
    assert thermometer.words(600.0) == "air 21.6 °C"


def test_a_thermometer_that_never_spoke_is_stale_from_when_it_was_first_asked() -> None:
    thermometer, _ = Thermometer(since_s=1000.0).take(Poll("offline"), 1010.0)
    assert thermometer.silent_s(1000.0 + STALE_S) is None
    assert thermometer.silent_s(1000.0 + STALE_S + 1.0) == STALE_S + 1.0


# -- files -------------------------------------------------------------------------------------------------------------


def test_a_file_is_read_and_goes_stale_when_nobody_writes_it(tmp_path: Path) -> None:
    clock = ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC))
    path = tmp_path / "shed.txt"

    def write(text: str) -> None:
        path.write_text(text, encoding="utf-8")
        os.utime(path, (clock.utc().timestamp(),) * 2)

    write("20.5")
    source, thermometer = source_of(str(path), clock), Thermometer()
    assert isinstance(source, FileSource)
    began_s = clock.monotonic_s()

    def poll() -> TemperatureRead | None:
        nonlocal thermometer
        thermometer, event = thermometer.take(source.read(), clock.monotonic_s() - began_s)
        return event

    assert poll() is not None
    clock.advance(STALE_S + 1.0)
    assert poll() is None
    assert thermometer.silent_s(clock.monotonic_s() - began_s) is not None
    assert thermometer.trouble == "the reading has not been renewed"
    clock.set_wall(-7200.0)  # a wall clock set back makes no reading stale, and none fresh
    assert poll() is None
    write("20.6")
    assert poll() is not None
    assert thermometer.trouble == ""
    path.unlink()
    assert poll() is None
    assert thermometer.trouble == "thermometer: shed.txt cannot be read (No such file or directory)"


def test_a_file_that_is_old_when_the_day_begins_is_stale_at_once(tmp_path: Path) -> None:
    clock = ManualClock()
    path = tmp_path / "shed.txt"
    path.write_text("20.5", encoding="utf-8")
    os.utime(path, (clock.utc().timestamp() - 3600.0,) * 2)
    thermometer, event = Thermometer().take(FileSource(path, clock).read(), 0.0)
    assert event is None
    assert thermometer.trouble == "the reading has not been renewed"


# -- commands ----------------------------------------------------------------------------------------------------------


def python(code: str, *, limit_s: float = 20.0) -> CommandSource:
    """Return a command that runs some Python; its limit only matters where it is reached."""
    return CommandSource([sys.executable, "-c", code], limit_s)


def test_a_command_prints_the_temperature() -> None:
    assert python("print('21.4 C')").read() == Poll("21.4 C\n")


def test_a_command_that_fails_says_so() -> None:
    poll = python("import sys; print(21.4); sys.exit(3)").read()
    assert poll.trouble.endswith("failed with exit code 3")
    assert CommandSource(["/no/such/command"]).read().trouble == (
        "/no/such/command cannot be run (No such file or directory)"
    )


def test_a_command_that_hangs_is_ended_with_all_that_it_started() -> None:
    child = "import time; print(1, flush=True); time.sleep(600)"
    poll = python(f"import subprocess, sys; subprocess.run([sys.executable, '-c', {child!r}])", limit_s=0.5).read()
    assert poll.trouble.endswith("took longer than 0.5 s")


def test_a_command_that_never_stops_printing_is_cut_short() -> None:
    poll = python("while True: print('21.4', flush=False)").read()
    assert len(poll.text) == LONGEST
    assert kelvin_of(poll.text) == pytest.approx(294.55)


def test_what_is_neither_a_file_nor_a_command_is_refused(tmp_path: Path) -> None:
    clock = ManualClock()
    assert isinstance(source_of(f"{sys.executable} -c 'print(1)'", clock), CommandSource)
    for said in ("", "no-such-command-here --now", str(tmp_path), "unclosed 'quote"):
        with pytest.raises(InputError, match="is neither a file nor a command that can be found"):
            source_of(said, clock)


# -- laws --------------------------------------------------------------------------------------------------------------


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=80) | st.text(alphabet="0123456789.,+-eE °CFKx:/ \n", max_size=30))
def test_any_text_gives_a_temperature_or_plain_words_why_not(text: str) -> None:
    thermometer, event = Thermometer().take(Poll(text), 0.0)
    assert (event is None) == bool(thermometer.trouble)
    assert clean_text(thermometer.words(0.0), limit=1000) == CleanText(thermometer.words(0.0))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(-25.0, 55.0), min_size=1, max_size=60))
def test_what_is_logged_is_never_far_from_what_is_read_and_never_needless(celsius: list[float]) -> None:
    thermometer, logged_K, logged_s = Thermometer(), None, 0.0
    for count, value in enumerate(celsius):
        now_s = count * POLL_S
        thermometer, event = thermometer.take(Poll(f"{value:.2f}"), now_s)
        if event is not None:
            assert (
                logged_K is None or abs(event.temperature_K - logged_K) >= STEP_K - 1e-3 or now_s - logged_s >= KEEP_S
            )
            logged_K, logged_s = event.temperature_K, now_s
        assert thermometer.read_K is not None
        assert logged_K is not None
        assert abs(thermometer.read_K - logged_K) <= STEP_K + 1e-3


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(-25.0, 55.0), min_size=2, max_size=40))
def test_one_reading_alone_never_moves_the_shop_by_a_jump(celsius: list[float]) -> None:
    _, logged = heard([f"{value:.3f}" for value in celsius])
    for (_, before), (at_s, after) in pairwise(logged):
        if abs(after - before) >= JUMP_K + STEP_K:
            last = celsius[round(at_s / POLL_S) - 1]
            assert abs(last - after) < JUMP_K, "the reading before it said nearly the same"
