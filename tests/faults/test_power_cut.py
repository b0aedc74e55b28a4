"""After a power cut no age is younger than it can be, people are asked for the time, and what they say counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path

import pytest
from app_driver import begin_day, bench, press, running, words, workshop
from machine_clock import MachineClock
from session_examples import NOON, mixed, start

from layup.app.opening import time_said
from layup.errors import InputError
from layup.session.day_events import Note, SessionEnded
from layup.session.journal import Journal
from layup.session.reader import Follower, read_journal
from layup.session.records import ClockTold, MachineRestarted, fold
from layup.units import moment, moment_of_year

MIN = 60.0
OFF_S = 30 * MIN
WALLS = {
    "right": 0.0,
    "ahead": 3600.0,
    "far ahead": 3 * 366 * 86_400.0,
    "behind, before the last entry": -3600.0,
    "behind, after the last entry": -20 * MIN,
    "forgot the time": (datetime(1970, 1, 1, tzinfo=UTC) - NOON).total_seconds(),
}
"""What the wall clock shows more than the truth when the machine is back."""
CORRECTIONS = ("none", "set right", "said right", "said the time")


@dataclass
class Shop:
    """A press day, its clock, and the truth."""

    folder: Path
    clock: MachineClock
    true_s: float = 0.0

    def passes(self, seconds: float) -> None:
        """Let time pass with the machine on."""
        self.clock.advance(seconds)
        self.true_s += seconds

    def cut(self, boot: str) -> None:
        """Let the power fail for `OFF_S`."""
        if boot == "new":
            self.clock.reboot(OFF_S, "boot-2")
        else:
            self.clock.sleep(OFF_S)
        self.true_s += OFF_S

    @property
    def true_utc(self) -> datetime:
        """What time it is."""
        return NOON + timedelta(seconds=self.true_s)


def begun(folder: Path) -> Shop:
    """Return a day with a batch in its cup for ten minutes."""
    shop = Shop(folder, MachineClock(NOON))
    with Journal.create(folder, shop.clock, start()) as journal:
        journal.append(mixed(1))
        shop.passes(10 * MIN)
        journal.append(Note(text="the last entry"))
    return shop


@pytest.mark.parametrize(("boot", "wall", "correction"), list(product(("same", "new"), WALLS, CORRECTIONS)))
def test_no_age_is_younger_than_the_outage_explains_and_people_are_asked(
    tmp_path: Path, boot: str, wall: str, correction: str
) -> None:
    shop = begun(tmp_path)
    shop.cut(boot)
    shop.clock.set_wall(WALLS[wall])
    journal = Journal.open(tmp_path, shop.clock)
    viewer = Follower(tmp_path, shop.clock)
    lost_s = 0.0 if boot == "same" else min(max(-WALLS[wall], 0.0), OFF_S) if wall != "far ahead" else OFF_S
    ahead_s = 3600.0 if boot == "new" and wall == "ahead" else 0.0
    for _ in range(3):
        shop.passes(2 * MIN)
        journal.append(Note(text="on"))
        viewer.poll()
        assert journal.now_s() == viewer.now_s() == pytest.approx(shop.true_s - lost_s + ahead_s, abs=0.01)
        assert journal.now_s() >= shop.true_s - OFF_S - 0.01
        assert journal.state.clock_unsure == (boot == "new"), "asked for until it is answered"
    if correction == "set right":
        shop.clock.set_wall(-WALLS[wall])
        journal.tick()
    elif correction != "none":
        journal.tell_clock(None if correction == "said right" else shop.true_utc)
    unsaid = correction == "none" or (correction == "said right" and wall != "right")
    if not unsaid:
        assert journal.now_s() >= shop.true_s - 2.0, "what was lost is counted"
        assert journal.now_s() == pytest.approx(shop.true_s + ahead_s, abs=0.01)
    assert journal.state.clock_unsure == (boot == "new" and correction in ("none", "set right"))
    shop.passes(5 * MIN)
    age_s = journal.now_s()
    journal.close()
    with Journal.open(tmp_path, shop.clock) as again:
        assert again.now_s() == pytest.approx(age_s, abs=0.01), "and it is all in the journal"
        assert again.state.clock_unsure == (boot == "new" and correction in ("none", "set right"))
    records, problems = read_journal(tmp_path)
    assert problems == []
    assert fold(records) == again.state
    assert any(isinstance(record, MachineRestarted) for record in records) == (boot == "new")
    assert any(isinstance(record, ClockTold) for record in records) == correction.startswith("said")


def test_a_second_power_cut_before_anybody_answered_is_counted_from_the_first(tmp_path: Path) -> None:
    shop = begun(tmp_path)
    shop.cut("new")
    shop.clock.set_wall(WALLS["forgot the time"])
    Journal.open(tmp_path, shop.clock).close()
    shop.passes(5 * MIN)
    shop.clock.reboot(10 * MIN, "boot-3")
    shop.true_s += 10 * MIN
    shop.clock.set_wall(-WALLS["forgot the time"])
    with Journal.open(tmp_path, shop.clock) as journal:
        assert journal.now_s() == pytest.approx(shop.true_s)
        assert journal.state.clock_unsure


def test_what_was_said_is_gone_by_at_the_next_power_cut(tmp_path: Path) -> None:
    shop = begun(tmp_path)
    shop.cut("new")
    shop.clock.set_wall(-3600.0)
    with Journal.open(tmp_path, shop.clock) as journal:
        journal.tell_clock(shop.true_utc)
        shop.passes(MIN)
        journal.append(Note(text="on"))
    shop.clock.reboot(20 * MIN, "boot-3")
    shop.true_s += 20 * MIN
    shop.clock.set_wall(3600.0)
    with Journal.open(tmp_path, shop.clock) as journal:
        assert journal.now_s() == pytest.approx(shop.true_s), "no hour too much for the clock that was behind"


def test_a_clock_that_creeps_up_to_the_time_is_counted_too(tmp_path: Path) -> None:
    shop = begun(tmp_path)
    shop.cut("new")
    shop.clock.set_wall(-3600.0)
    with Journal.open(tmp_path, shop.clock) as journal:
        for _ in range(3600):
            shop.passes(1.0)
            shop.clock.set_wall(1.0)
            journal.tick()
        assert journal.now_s() == pytest.approx(shop.true_s, abs=2.1)
        age_s = journal.now_s()
    with Journal.open(tmp_path, shop.clock) as journal:
        assert journal.now_s() == pytest.approx(age_s, abs=0.01)


def test_where_a_boot_has_no_name_the_program_started_again_is_no_power_cut(tmp_path: Path) -> None:
    clock = MachineClock(NOON, boot_id="process-1")
    Journal.create(tmp_path, clock, start()).close()
    clock.advance(600.0)
    other = MachineClock(clock.utc(), monotonic_s=clock.monotonic_s(), boot_id="process-2")
    with Journal.open(tmp_path, other) as journal:
        assert not journal.state.clock_unsure
        assert journal.now_s() == pytest.approx(600.0)
    other.set_wall(-300.0)
    other.reboot(0.0, "process-3")
    with Journal.open(tmp_path, other) as journal:
        assert journal.state.clock_unsure


def test_a_session_that_is_over_asks_nobody(tmp_path: Path) -> None:
    shop = begun(tmp_path)
    with Journal.open(tmp_path, shop.clock) as journal:
        journal.append(SessionEnded())
    shop.cut("new")
    with Journal.open(tmp_path, shop.clock) as journal:
        assert journal.state.sure is not None
        assert not journal.state.clock_unsure


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("12:10", 0.0), ("12:40", 30.0), (" 12:09 ", 0.0), ("11:30", 23 * 60 + 20), ("2026-03-08 12:10", 24 * 60)],
)
def test_a_time_is_the_first_such_one_since_the_last_entry(
    monkeypatch: pytest.MonkeyPatch, text: str, minutes: float
) -> None:
    monkeypatch.setenv("TZ", "UTC")
    least = NOON + timedelta(minutes=10)
    assert time_said(text, least) == least + timedelta(minutes=minutes)


@pytest.mark.parametrize("text", ["", "25:00", "noon", "12", "2026-13-01 12:00"])
def test_a_time_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="time: cannot be read"):
        time_said(text, NOON)


def test_a_time_before_the_last_entry_is_refused() -> None:
    with pytest.raises(InputError, match="time: is before the last entry"):
        time_said("2026-03-06 12:00", NOON)


async def test_the_app_asks_for_the_time_and_says_at_least_until_it_is_told(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), MachineClock(NOON)
    async with running(root, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "b")
    clock.advance(600.0)
    clock.reboot(1800.0, "boot-2")
    clock.set_wall(-7200.0)
    async with running(root, clock=clock) as (app, pilot):
        app.tick()
        await pilot.pause()
        shown = moment_of_year(clock.utc().astimezone())
        assert f"The clock reads {shown}" in str(app.screen.title_text)
        last = moment(app.day.least_utc.astimezone())
        assert f"By the last entry it is {last}" in str(app.screen.title_text), "the clock cannot have been right"
        await press(app, pilot, "enter")
        assert "What time is it" in str(app.screen.title_text), "Enter alone never takes such a clock at its word"
        await press(app, pilot, "escape")
        assert "CLOCK UNSURE" in words(app, "#top")
        assert "at most" in words(app, "#top")
        assert "SAY WHAT TIME IT IS NOW" in bench(app)
        assert "the machine was off" in bench(app)
        app.tick()
        await pilot.pause()
        assert len(app.screen_stack) == 1, "asked by itself once only"
        assert "at most" in words(app, "#bench-main")
        before_s = app.day.now_s()
        await press(app, pilot, "space", "n")
        app.screen.focused.value = f"{(NOON + timedelta(seconds=2400.0)).astimezone():%Y-%m-%d %H:%M}"
        await press(app, pilot, "enter", "y")
        assert app.day.now_s() - before_s == pytest.approx(2400.0, abs=5.0)
        assert "CLOCK UNSURE" not in words(app, "#top")
        assert "the machine was off" not in bench(app)
        assert app.day.clock_time(app.day.now_s()) == f"{(NOON + timedelta(seconds=2400.0)).astimezone():%H:%M}"
