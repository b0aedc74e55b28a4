"""A second process looks on."""

from pathlib import Path

import pytest
from session_examples import NOON, good_day, mixed, start

from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.session.batch_events import StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note, TemperatureRead
from layup.session.journal import Journal
from layup.session.reader import Follower, LineReader, read_journal
from layup.session.records import fold
from layup.session.state import SessionState


def test_what_is_appended_is_seen_at_the_next_look(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path, clock, start()) as journal:
        viewer = Follower(tmp_path, clock)
        assert viewer.poll()
        for event in good_day()[1:]:
            clock.advance(10.0)
            journal.append(event)
            assert viewer.poll()
            assert viewer.state == journal.state
            assert not viewer.poll()


def test_the_viewer_tells_the_same_age_as_the_writer(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path, clock, start()) as journal:
        viewer = Follower(tmp_path, clock)
        assert viewer.now_s() == 0.0
        viewer.poll()
        clock.advance(75.0)
        clock.set_wall(-3600.0)
        assert viewer.now_s() == journal.now_s() == pytest.approx(75.0)


def test_a_line_half_written_waits_for_its_end(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path / "whole", clock, start()) as journal:
        clock.advance(5.0)
        journal.append(Note(text="zäh ✋"))
    data = (tmp_path / "whole" / JOURNAL).read_bytes()
    path = tmp_path / JOURNAL
    path.touch()
    viewer = Follower(tmp_path, clock)
    with path.open("ab", buffering=0) as file:
        for n, byte in enumerate(data, 1):
            file.write(bytes([byte]))
            assert viewer.poll() == (byte == 10)
            assert viewer.state == fold(LineReader("").feed(data[:n]))
    assert viewer.state == journal.state
    assert not viewer.problems


def test_a_torn_line_that_the_writer_cut_off_is_forgotten(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    Journal.create(tmp_path, clock, start()).close()
    with (tmp_path / JOURNAL).open("ab") as file:
        file.write(b'{"v":1,"torn')
    viewer = Follower(tmp_path, clock)
    viewer.poll()
    with Journal.open(tmp_path, clock) as journal:
        journal.append(StepDone(step=1))
        viewer.poll()
        assert viewer.state == journal.state
        assert not viewer.problems


def test_many_new_lines_are_read_at_once(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path, clock, start()) as journal:
        viewer = Follower(tmp_path, clock)
        viewer.poll()
        for n in range(40):
            clock.advance(1.0)
            journal.append(TemperatureRead(place="air", temperature_K=290.0 + n / 10, source="thermometer"))
        viewer.poll()
        assert viewer.state == journal.state
        assert len(viewer.state.air) == 40


def test_a_journal_that_was_replaced_is_read_anew(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path / "a", clock, start(batches=5)) as journal:
        journal.append(mixed(1))
    with Journal.create(tmp_path / "b", clock, start(batches=1)) as other:
        pass
    viewer = Follower(tmp_path / "a", clock)
    viewer.poll()
    (tmp_path / "b" / JOURNAL).replace(tmp_path / "a" / JOURNAL)
    viewer.poll()
    assert viewer.state == other.state


def test_a_journal_put_back_to_an_earlier_day_is_read_anew(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    with Journal.create(tmp_path, clock, start()) as journal:
        early = journal.path.read_bytes()
        journal.append(StepDone(step=1))
    viewer = Follower(tmp_path, clock)
    viewer.poll()
    journal.path.write_bytes(early)
    assert viewer.poll()
    assert viewer.state == fold(read_journal(tmp_path)[0])
    assert len(viewer.state.records) == 2


def test_a_damaged_line_is_reported_while_looking_on(tmp_path: Path) -> None:
    clock = ManualClock(NOON)
    Journal.create(tmp_path, clock, start()).close()
    viewer = Follower(tmp_path, clock)
    viewer.poll()
    with (tmp_path / JOURNAL).open("ab") as file:
        file.write(b"scribble\n")
    assert not viewer.poll()
    (problem,) = viewer.problems
    assert problem.line == 3


def test_a_folder_without_a_journal_cannot_be_followed(tmp_path: Path) -> None:
    viewer = Follower(tmp_path, ManualClock())
    with pytest.raises(StorageError, match="does not exist"):
        viewer.poll()
    assert viewer.state == SessionState()
