"""What is told afterwards: a forgotten key makes no clock too young, and rules hold at the time it happened."""

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_examples import lifetimes, mixed, resin, start

from layup.errors import InputError
from layup.files.durable import JOURNAL
from layup.session.batch_events import BatchPouredOut, PourRead, PressClosed, StepDone
from layup.session.clock import ManualClock, told_s
from layup.session.day_events import Note, TemperatureRead, Undone
from layup.session.journal import Journal
from layup.session.reader import Follower, read_journal
from layup.session.records import as_told, fold, refusal, retelling

NINE = datetime(2026, 3, 7, 9, 0).astimezone()
AN_HOUR_S = 3600.0


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock()


@pytest.fixture
def journal(tmp_path: Path, clock: ManualClock):
    with Journal.create(tmp_path / "day", clock, start()) as kept:
        kept.append(TemperatureRead(place="air", temperature_K=293.15))
        yield kept


def test_a_forgotten_hardener_key_makes_no_clock_too_young(journal, clock):
    clock.advance(1800.0)
    journal.append(mixed(1), 1440.0)
    late = lifetimes(journal.state, resin())[1]
    assert journal.state.batch(1).mixed_s == 1440.0
    assert (late.mixed_s, late.over_s.low) == (1440.0, pytest.approx(lifetimes_if_pressed_at(1440.0).over_s.low))
    assert late.over_s.low < lifetimes_if_pressed_at(1800.0).over_s.low - 300.0, (
        "as logged it would seem six minutes younger"
    )


def lifetimes_if_pressed_at(at_s: float):
    """Return the life of the batch on a day on which the key was pressed in time."""
    from session_examples import stamped

    events = [start(), TemperatureRead(place="air", temperature_K=293.15), mixed(1)]
    records = [
        record.model_copy(update={"elapsed_s": at}) for record, at in zip(stamped(events), (0, 0, at_s), strict=True)
    ]
    return lifetimes(fold(records), resin())[1]


def test_the_line_says_when_it_was_written_and_when_it_happened_and_only_a_late_one_does(journal, clock):
    clock.advance(600.0)
    journal.append(mixed(1), 240.0)
    lines = [json.loads(line) for line in (journal.path).read_bytes().splitlines()]
    assert (lines[-1]["elapsed_s"], lines[-1]["happened_s"]) == (600.0, 240.0)
    assert all("happened_s" not in line for line in lines[:-1])
    records, problems = read_journal(journal.path.parent)
    assert (fold(records), problems) == (journal.state, [])


def test_what_is_told_afterwards_counts_by_when_it_happened_and_the_log_keeps_its_order(journal, clock):
    journal.append(mixed(1))
    clock.advance(900.0)
    journal.append(StepDone(step=2))
    clock.advance(100.0)
    journal.append(StepDone(step=1), 600.0)
    assert [record.seq for record in journal.state.records] == [1, 2, 3, 4, 5, 6]
    assert (journal.state.step(1).took_s, journal.state.step(2).took_s) == (600.0, 300.0)


def test_a_cup_is_not_emptied_before_it_was_mixed_nor_after_the_press_closed(journal, clock):
    clock.advance(600.0)
    journal.append(mixed(1))
    clock.advance(600.0)
    assert (
        refusal(journal.state, BatchPouredOut(batch=1), 599.0) == "batch 1 is not mixed yet - hardener in comes first"
    )
    assert refusal(journal.state, BatchPouredOut(batch=1), 601.0) is None
    journal.append(PressClosed())
    clock.advance(600.0)
    assert "the press is closed" in refusal(journal.state, BatchPouredOut(batch=1))
    assert refusal(journal.state, BatchPouredOut(batch=1), 1100.0) is None, "it happened before the press closed"


def test_a_closing_told_for_before_a_cup_was_emptied_is_refused_with_what_stands_against_it(journal, clock):
    journal.append(mixed(1))
    clock.advance(600.0)
    journal.append(BatchPouredOut(batch=1))
    clock.advance(600.0)
    assert refusal(journal.state, PressClosed(), 300.0) == (
        "then event 5 (batch-poured-out) could not have been: the press is closed - no more resin gets onto the part"
    )
    assert refusal(journal.state, PressClosed(), 660.0) is None


def test_undo_takes_back_what_was_logged_last_and_not_what_happened_last(journal, clock):
    clock.advance(600.0)
    journal.append(Note(text="on time"))
    clock.advance(60.0)
    before = journal.state
    late = journal.append(mixed(1), 120.0)
    assert journal.state.undoable == late.seq
    undo = journal.append(Undone(undone_seq=late.seq))
    assert journal.state.batch(1) == before.batch(1)
    assert (journal.state.undoable, journal.state.redoable) == (before.undoable, undo.seq)
    journal.append(Undone(undone_seq=undo.seq))
    assert journal.state.batch(1).mixed_s == 120.0, "redone, it counts from when it happened"


def test_an_entry_is_given_another_time_and_both_stay_in_the_log(journal, clock):
    clock.advance(600.0)
    journal.append(mixed(1))
    clock.advance(60.0)
    journal.append(PourRead(batch=1, resin_g=100.0, hardener_g=30.0))
    again = retelling(journal.state, 4, 240.0)
    assert not isinstance(again, str)
    journal.append(again[0])
    journal.append(again[1], 240.0)
    assert (journal.state.batch(1).mixed_s, journal.state.batch(1).weighed_s) == (240.0, 660.0)
    assert journal.state.misfits == ()
    assert len(journal.state.records) == 7
    assert retelling(journal.state, 4, 120.0) == "there is no entry 4 to give another time"
    assert retelling(journal.state, 1, 120.0) == "this cannot be told afterwards"


def test_an_entry_is_told_for_its_true_time_although_the_power_failed_after_its_undo(tmp_path, clock):
    journal = Journal.create(tmp_path / "cut", clock, start())
    clock.advance(1800.0)
    first = journal.append(mixed(1))
    undo, again = retelling(journal.state, first.seq, 1440.0)
    journal.append(undo)
    journal.append(again, 1440.0)
    whole = fold(journal.state.records)
    journal.close()
    path = journal.path
    lines = path.read_bytes().splitlines(keepends=True)
    for kept in (lines[:-1], [*lines[:-1], lines[-1][:20]]):
        path.write_bytes(b"".join(kept))
        with Journal.open(path.parent, clock) as resumed:
            state = resumed.state
        assert state.batch(1).mixed_s == whole.batch(1).mixed_s == pytest.approx(1440.0)
        told = [record for record in as_told(state.records) if record.event == "batch-mixed"]
        assert [record.when_s for record in told] == [1440.0], "once, at its time"
        with Journal.open(path.parent, clock) as again:
            events = [record.event for record in again.state.records]
        assert events.count("batch-mixed") == 2, "gone on with once more, it is not told again"


def test_an_undo_alone_is_no_entry_cut_short(tmp_path, clock):
    journal = Journal.create(tmp_path / "whole", clock, start())
    first = journal.append(mixed(1))
    journal.append(Undone(undone_seq=first.seq))
    journal.close()
    assert b"told_s" not in journal.path.read_bytes(), "a line of before stays as it was"
    with Journal.open(journal.path.parent, clock) as resumed:
        assert resumed.state.batch(1).mixed_s is None


def test_as_it_was_told_at_last_an_entry_stands_once_at_its_time(journal, clock):
    clock.advance(600.0)
    journal.append(mixed(1))
    undo, event = retelling(journal.state, 4, 240.0)
    journal.append(undo)
    journal.append(event, 240.0)
    journal.append(Note(text="later"))
    told = as_told(journal.state.records)
    assert [(record.event, record.when_s) for record in told[3:]] == [("batch-mixed", 240.0), ("note", 600.0)]
    assert fold(told).batches == journal.state.batches


def test_an_entry_is_given_no_time_at_which_what_builds_on_it_was_there_already(journal, clock):
    clock.advance(600.0)
    journal.append(mixed(1))
    clock.advance(60.0)
    journal.append(BatchPouredOut(batch=1))
    clock.advance(60.0)
    assert retelling(journal.state, 4, 700.0) == (
        "then event 5 (batch-poured-out) could not have been: batch 1 is not mixed yet - hardener in comes first"
    )


def test_a_step_is_given_no_time_before_the_step_that_comes_first_was_done_nor_after_the_next_one(journal, clock):
    for _ in range(3):
        clock.advance(120.0)
        journal.append(StepDone(step=len([step for step in journal.state.steps if step.done_s]) + 1))
    second, third = (record.seq for record in journal.state.records[-2:])

    def at(elapsed_s: float) -> str:
        return f"{(journal.state.started_at + timedelta(seconds=elapsed_s)).astimezone():%H:%M}"

    clock.advance(600.0)
    assert retelling(journal.state, third, 239.0) == f"step 2 comes first, and was done at {at(240.0)}"
    assert retelling(journal.state, second, 100.0) == f"step 1 comes first, and was done at {at(120.0)}"
    assert retelling(journal.state, second, 500.0) == f"step 3 comes after it, and was done at {at(360.0)}"
    assert not isinstance(retelling(journal.state, second, 130.0), str)
    assert not isinstance(retelling(journal.state, third, 240.0), str), "two that were done at once"


def test_a_step_told_late_fits_between_those_that_stand(journal, clock):
    clock.advance(600.0)
    journal.append(StepDone(step=2))
    clock.advance(600.0)
    assert refusal(journal.state, StepDone(step=3), 590.0) is not None
    assert refusal(journal.state, StepDone(step=3), 610.0) is None
    assert refusal(journal.state, StepDone(step=1), 590.0) is None
    assert refusal(journal.state, StepDone(step=1), 700.0) is None, "laid after it all the same, as on paper"


def test_a_follower_sees_a_late_entry_as_the_writer_does(journal, clock):
    follower = Follower(journal.path.parent, clock)
    clock.advance(600.0)
    journal.append(StepDone(step=1))
    follower.poll()
    journal.append(mixed(1), 60.0)
    follower.poll()
    assert follower.state == journal.state


def test_a_line_that_says_it_happened_after_it_was_written_does_not_count(journal, clock):
    clock.advance(60.0)
    record = journal.append(mixed(1))
    state = fold([*journal.state.records[:-1], record.model_copy(update={"happened_s": 61.0})])
    assert [misfit.why for misfit in state.misfits] == ["it was written before it happened"]
    opened = journal.state.records[1].model_copy(update={"happened_s": 0.0})
    state = fold([journal.state.records[0], opened])
    assert [misfit.why for misfit in state.misfits] == ["this cannot be told afterwards"]


@pytest.mark.parametrize(
    ("said", "at_s"),
    [
        ("6 min ago", 3240.0),
        ("90 s ago", 3510.0),
        ("0.5 h ago", 1800.0),
        ("now", 3600.0),
        ("25 min", 1500.0),
        ("at 25 min", 1500.0),
        ("08:41", 2460.0),
        ("at 8:41", 2460.0),
        ("8:41 AM", 2460.0),
        ("8:41:30am", 2490.0),
        ("09:00", 3600.0),
    ],
)
def test_when_it_was_can_be_said_as_minutes_back_a_clock_time_or_the_age_of_the_day(said: str, at_s: float):
    assert told_s(said, AN_HOUR_S, NINE) == pytest.approx(at_s)


def test_a_clock_time_on_a_cure_overnight_is_the_last_one_that_was():
    assert told_s("22:30", 12 * 3600.0, NINE) == pytest.approx(1.5 * 3600.0)
    assert told_s("10:30 pm", 12 * 3600.0, NINE) == pytest.approx(1.5 * 3600.0)
    assert told_s("08:30", 12 * 3600.0, NINE) == pytest.approx(11.5 * 3600.0)


def test_a_clock_time_that_came_several_times_is_the_last_one_or_the_first_or_that_of_the_day_named():
    two_days_s = 49 * 3600.0
    assert told_s("08:30", two_days_s, NINE) == pytest.approx(48.5 * 3600.0)
    assert told_s("08:30", two_days_s, NINE, first=True) == pytest.approx(0.5 * 3600.0)
    assert told_s("2026-03-06 08:30", two_days_s, NINE, first=True) == pytest.approx(24.5 * 3600.0)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("09:05", "has not come yet"),
        ("25:00", "is no time of day"),
        ("2026-02-30 08:00", "is no time of day"),
        ("2026-03-08 08:00", "has not come yet"),
        ("13:00 pm", "is no time of day"),
        ("07:59", "is before the session began.*it began at 08:00"),
        ("61 min ago", "is before the session began"),
        ("61 min", "has not come yet"),
        ("6", "has no unit"),
        ("soon", "does not start with a number"),
        ("", "is empty"),
    ],
)
def test_a_time_that_cannot_be_is_refused_with_what_can(said: str, why: str):
    with pytest.raises(InputError, match=why):
        told_s(said, AN_HOUR_S, NINE)


@given(st.floats(0.0, 86_399.0), st.integers(0, 86_399))
def test_a_clock_time_is_read_as_the_moment_that_shows_it(age_s: float, back_s: int):
    when = NINE - timedelta(seconds=back_s)
    if back_s > age_s:
        with pytest.raises(InputError, match=r"before the session began|not come yet"):
            told_s(f"{when:%H:%M:%S}", age_s, NINE)
    else:
        assert told_s(f"{when:%H:%M:%S}", age_s, NINE) == pytest.approx(age_s - back_s)


def test_no_journal_of_before_changes_by_a_byte(tmp_path: Path):
    from session_examples import good_day, journal_bytes, stamped

    data = journal_bytes(stamped(good_day()))
    assert b"happened_s" not in data
    (tmp_path / JOURNAL).write_bytes(data)
    with Journal.open(tmp_path, ManualClock()) as journal:
        assert journal.problems == []
    assert (tmp_path / JOURNAL).read_bytes().startswith(data)
