"""How old a session is when clocks are set, machines sleep and power fails."""

import time
from pathlib import Path

import pytest
from machine_clock import MachineClock
from session_examples import NOON

from layup.session import clock as clock_module
from layup.session.clock import Jump, Moment, SystemClock, advance


def test_time_that_passes_is_counted_and_is_no_jump() -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.advance(90.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 90.0
    assert jump is None


@pytest.mark.parametrize("by_s", [-3600.0, 3600.0, 86400.0 * 365])
def test_a_wall_clock_that_is_set_is_reported_and_ages_nothing(by_s: float) -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.advance(60.0)
    clock.set_wall(by_s)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 60.0
    assert jump == Jump(wall_s=60.0 + by_s, monotonic_s=60.0, taken_s=60.0)


def test_slewing_of_a_second_is_no_jump() -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.advance(60.0)
    clock.set_wall(1.5)
    assert advance(start, clock)[1] is None


def test_sleep_is_counted_by_a_clock_that_counts_it() -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.sleep(1800.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 1800.0
    assert jump is None


def test_sleep_is_counted_by_the_wall_where_the_monotonic_clock_stands_still() -> None:
    clock = MachineClock(NOON, counts_sleep=False)
    start = Moment.first(clock)
    clock.advance(10.0)
    clock.sleep(1800.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 1810.0
    assert jump == Jump(wall_s=1810.0, monotonic_s=10.0, taken_s=1810.0)


def test_a_wall_clock_set_back_never_hides_time_that_the_monotonic_clock_saw() -> None:
    clock = MachineClock(NOON, counts_sleep=False)
    start = Moment.first(clock)
    clock.advance(100.0)
    clock.set_wall(-50.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 100.0
    assert jump == Jump(wall_s=50.0, monotonic_s=100.0, taken_s=100.0)


def test_across_a_restart_of_the_machine_the_wall_clock_counts() -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.advance(100.0)
    clock.reboot(240.0, "boot-2")
    clock.advance(5.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 345.0
    assert jump == Jump(wall_s=345.0, monotonic_s=0.0, taken_s=345.0, restarted=True)


def test_a_wall_clock_set_back_across_a_restart_counts_as_no_time_and_is_reported() -> None:
    clock = MachineClock(NOON)
    start = Moment.first(clock)
    clock.reboot(60.0, "boot-2")
    clock.set_wall(-7200.0)
    now, jump = advance(start, clock)
    assert now.elapsed_s == 0.0
    assert jump == Jump(wall_s=-7140.0, monotonic_s=0.0, taken_s=0.0, restarted=True)


def test_the_same_boot_word_with_a_monotonic_clock_that_fell_goes_by_the_wall() -> None:
    clock = MachineClock(NOON, monotonic_s=5000.0)
    start = Moment.first(clock)
    clock.reboot(30.0, "boot-1")
    assert advance(start, clock)[0].elapsed_s == 30.0


def test_rounding_in_a_journal_does_not_make_another_boot_of_the_same() -> None:
    clock = MachineClock(NOON, monotonic_s=1000.0)
    last = Moment(elapsed_s=50.0, utc=clock.utc(), monotonic_s=1000.0 + 1e-9, boot_id="boot-1")
    clock.set_wall(3600.0)
    assert advance(last, clock) == (Moment(50.0, clock.utc(), 1000.0, "boot-1"), Jump(3600.0, 0.0, 0.0))


def test_the_system_clock_goes_forward_and_keeps_its_boot() -> None:
    clock, other = SystemClock(), SystemClock()
    assert clock.utc().utcoffset() is not None
    assert clock.monotonic_s() <= clock.monotonic_s()
    assert clock.boot_id() == other.boot_id() != ""


@pytest.mark.skipif(not hasattr(time, "CLOCK_BOOTTIME"), reason="only Linux has a boot clock")
def test_the_system_clock_of_linux_counts_sleep() -> None:
    clock = SystemClock()
    before, seen, after = time.clock_gettime(time.CLOCK_BOOTTIME), clock.monotonic_s(), time.monotonic() + 1e9
    assert clock.counts_sleep
    assert before <= seen <= after


def test_macos_counts_by_the_clock_that_no_setting_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", "darwin")
    clock = SystemClock()
    assert clock.counts_sleep
    before, seen = time.clock_gettime(time.CLOCK_MONOTONIC_RAW), clock.monotonic_s()
    assert before <= seen <= time.clock_gettime(time.CLOCK_MONOTONIC_RAW)


def test_a_system_without_a_boot_id_or_boot_clock_still_has_a_clock(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(clock_module, "_BOOT_ID_FILE", tmp_path / "none")
    monkeypatch.setattr("sys.platform", "win32")
    clock = SystemClock()
    assert not clock.counts_sleep
    assert clock.boot_id().startswith("process-")
    assert clock.boot_id() == SystemClock().boot_id()
    assert clock.monotonic_s() <= clock.monotonic_s()
