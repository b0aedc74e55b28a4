"""The journal writes what it confirms, in the form it promises, and goes on where it stopped."""

import json
import os
from pathlib import Path

import pytest
from machine_clock import MachineClock
from session_examples import NOON, good_day, jumps_of, mixed, start

from layup import __version__
from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.session.batch_events import StepDone
from layup.session.clock import Jump
from layup.session.day_events import Note, Undone
from layup.session.journal import Journal
from layup.session.lines import line_of
from layup.session.reader import read_journal
from layup.session.records import ClockJumped, JournalOpened, fold
from layup.session.text import NOTE_LIMIT


def written(folder: Path) -> list[dict[str, object]]:
    """Return the lines of a journal as any reader of JSON Lines sees them."""
    return [json.loads(line) for line in (folder / JOURNAL).read_bytes().splitlines()]


def test_a_line_holds_its_stamp_first_then_the_event(tmp_path: Path) -> None:
    clock = MachineClock(NOON, monotonic_s=500.0, boot_id="b")
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        clock.advance(61.25)
        record = journal.append(StepDone(step=1))
    lines = written(tmp_path / "s")
    assert list(lines[2].items()) == [
        ("v", 2),
        ("seq", 3),
        ("at", "2026-03-07T12:01:01.250000Z"),
        ("elapsed_s", 61.25),
        ("event", "step-done"),
        ("step", 1),
        ("despite", None),
        ("sum", record.sum),
    ]
    assert [line["event"] for line in lines] == ["session-started", "journal-opened", "step-done"]
    assert lines[1] | {"process_id": 0} == {
        "v": 2, "seq": 2, "at": "2026-03-07T12:00:00Z", "elapsed_s": 0.0, "event": "journal-opened", "boot_id": "b",
        "monotonic_s": 500.0, "process_id": 0, "program": f"layup {__version__}", "reason": "created",
        "sum": journal.state.records[1].sum,
    }  # fmt: skip


def test_what_was_appended_is_read_back_the_same(tmp_path: Path) -> None:
    clock = MachineClock(NOON)
    first, *rest = good_day()
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        assert first == start()
        for event in rest:
            clock.advance(30.0)
            journal.append(event)
        state = journal.state
    records, problems = read_journal(tmp_path / "s")
    assert not problems
    assert fold(records) == state
    assert state.ended_s == pytest.approx(450.0)


def test_the_files_used_are_kept_beside_the_journal_and_no_lock_is_left(tmp_path: Path) -> None:
    folder = tmp_path / "sessions" / "2026-03-07-skis"
    with Journal.create(folder, MachineClock(), start(), files={"plan.toml": b"p", "resin.toml": b"r"}):
        pass
    assert {path.name: path.read_bytes()[:1] for path in folder.iterdir()} == {
        "plan.toml": b"p",
        "resin.toml": b"r",
        JOURNAL: b"{",
    }


def test_an_event_is_on_the_disk_before_it_is_confirmed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "s" / JOURNAL
    on_disk = b""
    synced: list[str] = []
    flush = os.fsync

    def fsync(fd: int) -> None:
        nonlocal on_disk
        flush(fd)
        for known in (path, path.parent, path.parent.parent):
            if known.exists() and os.path.samestat(known.stat(), os.fstat(fd)):
                synced.append(known.name)
        if path.exists() and os.path.samestat(path.stat(), os.fstat(fd)):
            on_disk = path.read_bytes()

    monkeypatch.setattr(os, "fsync", fsync)
    journal = Journal.create(path.parent, MachineClock(), start())
    assert {"s", tmp_path.name} <= set(synced), "the new names in the folders are flushed too"
    for number in range(1, 4):
        record = journal.append(StepDone(step=number))
        assert on_disk.endswith(line_of(record))
    journal.close()


def test_each_line_is_written_at_one_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal.create(tmp_path / "s", MachineClock(), start())
    pieces: list[bytes] = []
    write = os.write

    def watched(fd: int, data: bytes) -> int:
        pieces.append(bytes(data))
        return write(fd, data)

    monkeypatch.setattr(os, "write", watched)
    record = journal.append(Note(text="m" * NOTE_LIMIT))
    assert pieces == [line_of(record)]
    journal.close()


def test_a_session_goes_on_where_it_stopped(tmp_path: Path) -> None:
    clock = MachineClock(NOON)
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        clock.advance(100.0)
        journal.append(mixed(1))
    clock.advance(20.0)
    with Journal.open(tmp_path / "s", clock) as journal:
        assert not journal.problems
        assert journal.now_s() == pytest.approx(120.0)
        batch = journal.state.batch(1)
        assert batch is not None
        assert batch.mixed_s == pytest.approx(100.0)
        last = journal.state.records[-1]
        assert isinstance(last, JournalOpened)
        assert (last.seq, last.reason) == (4, "resumed")
        journal.append(Undone(undone_seq=3))
    assert [record.seq for record in read_journal(tmp_path / "s")[0]] == [1, 2, 3, 4, 5]


def test_a_wall_clock_set_between_two_processes_of_one_boot_ages_nothing(tmp_path: Path) -> None:
    clock = MachineClock(NOON)
    Journal.create(tmp_path / "s", clock, start()).close()
    clock.advance(30.0)
    clock.set_wall(-7200.0)
    with Journal.open(tmp_path / "s", clock) as journal:
        assert journal.now_s() == pytest.approx(30.0)
        jump, opened = journal.state.records[-2:]
        assert isinstance(jump, ClockJumped)
        assert isinstance(opened, JournalOpened)
        assert jumps_of(journal.state) == ((30.0, Jump(-7170.0, 30.0, 30.0)),)


def test_after_a_power_cut_the_wall_clock_tells_the_age(tmp_path: Path) -> None:
    clock = MachineClock(NOON)
    Journal.create(tmp_path / "s", clock, start()).close()
    clock.advance(60.0)
    clock.reboot(600.0, "boot-2")
    with Journal.open(tmp_path / "s", clock) as journal:
        assert journal.now_s() == pytest.approx(660.0)
        assert [jump for _, jump in jumps_of(journal.state)] == [Jump(660.0, 0.0, 660.0, restarted=True)]
        journal.tell_clock()
    clock.advance(5.0)
    clock.set_wall(500.0)
    with Journal.open(tmp_path / "s", clock) as journal:
        assert journal.now_s() == pytest.approx(665.0), "the new boot's clock was logged and counts from then on"


def test_a_tick_logs_a_jump_of_the_clocks_once(tmp_path: Path) -> None:
    clock = MachineClock(NOON)
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        clock.advance(1.0)
        assert journal.tick() is None
        clock.set_wall(3600.0)
        clock.advance(1.0)
        assert journal.tick() == Jump(3601.0, 1.0, 1.0)
        assert journal.tick() is None
        assert len(jumps_of(journal.state)) == 1
        assert journal.now_s() == pytest.approx(2.0)


def test_a_laptop_that_slept_is_counted_where_the_clock_stands_still_in_sleep(tmp_path: Path) -> None:
    clock = MachineClock(NOON, counts_sleep=False)
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        clock.advance(10.0)
        clock.sleep(1200.0)
        assert journal.now_s() == pytest.approx(1210.0)
        clock.advance(5.0)
        journal.append(StepDone(step=1))
        clock.advance(5.0)
    with Journal.open(tmp_path / "s", clock) as journal:
        assert journal.now_s() == pytest.approx(1220.0)
        assert jumps_of(journal.state) == ((1215.0, Jump(1215.0, 15.0, 1215.0)),)


def test_no_age_is_below_zero_by_rounding(tmp_path: Path) -> None:
    clock = MachineClock(NOON, monotonic_s=0.1)
    with Journal.create(tmp_path / "s", clock, start()) as journal:
        for _ in range(50):
            clock.advance(0.00037)
            record = journal.append(Note(text="quick"))
            assert record.elapsed_s <= journal.now_s()


@pytest.mark.parametrize("seconds", [1.0011, 2.3111, 4.0351, 16.0021, 71.0011])
def test_no_age_falls_by_rounding_when_a_session_is_opened_again_and_again(tmp_path: Path, seconds: float) -> None:
    clock = MachineClock(NOON)
    Journal.create(tmp_path / "s", clock, start()).close()
    clock.advance(seconds)
    for boot in range(5):
        with Journal.open(tmp_path / "s", clock) as journal:
            assert journal.state.last_s <= journal.now_s() == pytest.approx(seconds, abs=1e-3)
        clock.reboot(0.0, f"another {boot}")
    assert read_journal(tmp_path / "s") == (list(journal.state.records), [])
    assert len(journal.state.records) == 11


def test_a_folder_with_a_journal_is_not_started_again(tmp_path: Path) -> None:
    Journal.create(tmp_path / "s", MachineClock(), start()).close()
    with pytest.raises(StorageError, match=r"journal\.jsonl: exists already - resume that session"):
        Journal.create(tmp_path / "s", MachineClock(), start())
    (tmp_path / "t").mkdir()
    (tmp_path / "t" / "plan.toml").write_bytes(b"mine")
    with pytest.raises(StorageError, match=r"plan\.toml: exists already"):
        Journal.create(tmp_path / "t", MachineClock(), start(), files={"plan.toml": b"other"})
    assert (tmp_path / "t" / "plan.toml").read_bytes() == b"mine"
    assert not (tmp_path / "t" / "journal.lock").exists()


def test_a_folder_without_a_journal_cannot_be_resumed_or_read(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"journal\.jsonl: does not exist - name a session folder"):
        Journal.open(tmp_path, MachineClock())
    with pytest.raises(StorageError, match="does not exist"):
        read_journal(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_empty_journal_waits_for_its_start(tmp_path: Path) -> None:
    (tmp_path / JOURNAL).touch()
    with Journal.open(tmp_path, MachineClock()) as journal:
        assert journal.state.start is None
        journal.append(start())
        assert journal.state.start is not None
        assert not journal.state.misfits
