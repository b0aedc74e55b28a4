"""Whatever happened to a journal, it is read as far as it goes, and nothing is dropped in silence."""

import os
from pathlib import Path

import pytest
from machine_clock import MachineClock
from session_examples import NOON, mixed, start

from layup.files.durable import JOURNAL
from layup.session.batch_events import StepDone
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import LineReader, read_journal

MISSING = [(5, "a line is missing before it (seq 4)")]
"""What is told beside a line that can be read, but does not stand where another stood."""


def a_day(folder: Path) -> bytes:
    """Write a short session; return its bytes."""
    clock = MachineClock(NOON)
    with Journal.create(folder, clock, start(batches=1, steps=1)) as journal:
        for event in (mixed(1), StepDone(step=1), Note(text="größer ✋")):
            clock.advance(10.0)
            journal.append(event)
    return (folder / JOURNAL).read_bytes()


def next_day() -> MachineClock:
    """Return a clock of the day after, on a machine that was switched off."""
    clock = MachineClock(NOON)
    clock.reboot(86400.0, "boot-2")
    return clock


def test_a_journal_cut_anywhere_goes_on_from_a_prefix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = a_day(tmp_path / "whole")
    whole, _ = read_journal(tmp_path / "whole")
    monkeypatch.setattr(os, "fsync", lambda _fd: None)  # a thousand flushes to a disk that is not pulled
    folder = tmp_path / "cut"
    folder.mkdir()
    clock = next_day()
    ends = [i for i, byte in enumerate(data) if byte == 10]
    near = {end + by for end in ends for by in (-2, -1, 0, 1, 2, 3)}
    for cut in (cut for cut in range(len(data) + 1) if cut % 4 == 0 or cut in near or cut < 12):
        (folder / JOURNAL).write_bytes(data[:cut])
        complete = sum(end <= cut for end in ends)  # a line that lacks only its line end is complete
        torn = data[:cut][ends[complete - 1] + 1 if complete else 0 :]
        with Journal.open(folder, clock) as journal:
            journal.append(Note(text="on we go"))
        records, problems = read_journal(folder)
        assert records[:complete] == whole[:complete]
        new = ["machine-restarted"] * (complete > 0) + ["journal-opened", "note"]
        assert [record.event for record in records[complete:]] == new
        assert [record.seq for record in records] == list(range(1, complete + len(new) + 1))
        assert not problems
        aside = folder / "journal.torn-1.txt"
        assert (aside.read_bytes() if aside.exists() else b"") == torn
        assert len(journal.problems) == bool(torn)
        aside.unlink(missing_ok=True)
    assert [path.name for path in folder.iterdir()] == [JOURNAL]


def test_torn_bytes_are_reported_and_each_time_set_aside_in_a_new_file(tmp_path: Path) -> None:
    a_day(tmp_path)
    for n in (1, 2):
        with (tmp_path / JOURNAL).open("ab") as file:
            file.write(b'{"v":1,"s\x00\x00\xff')
        with Journal.open(tmp_path, next_day()) as journal:
            (problem,) = journal.problems
        assert problem.line == {1: 6, 2: 8}[n]
        assert problem.message == f"the last line was torn: its 12 bytes go to journal.torn-{n}.txt"
        assert "log it again if it happened" in problem.hint
        assert (tmp_path / f"journal.torn-{n}.txt").read_bytes() == b'{"v":1,"s\x00\x00\xff'


def test_looking_at_a_torn_journal_changes_nothing(tmp_path: Path) -> None:
    data = a_day(tmp_path)[:-9]
    (tmp_path / JOURNAL).write_bytes(data)
    records, (problem,) = read_journal(tmp_path)
    assert len(records) == 4
    assert (problem.line, problem.message[:21]) == (5, "the last line is torn")
    assert (tmp_path / JOURNAL).read_bytes() == data
    assert [path.name for path in tmp_path.iterdir()] == [JOURNAL]


@pytest.mark.parametrize(
    ("line", "key", "message", "hint"),
    [
        (b"\x00\x00\x00", "", "the line cannot be read: Invalid JSON", "does not count"),
        (b"\xff\xfe", "", "the line cannot be read: Invalid JSON", "does not count"),
        (b"[]", "", "the line cannot be read: Input should be", "does not count"),
        (b'{"event":"moon-phase"}', "", "Input tag 'moon-phase' found", "a newer version of the program may read it"),
        (b'{"event":"moon\\u001b[31m"}', "", "Input tag 'moon[31m' found", "newer version"),
        (b'{"v":3,%s,"event":"demoulded"}', "v", "Input should be 1 or 2", "a newer version"),
        (b'{"v":1,%s,"event":"step-done","step":0}', "step", "greater than or equal to 1", "does not count"),
        (b'{"v":1,%s,"event":"step-done"}', "step", "Field required", "does not count"),
        (b'{"v":1,%s,"event":"note","text":"a\\u001b[2Jb"}', "text", "should match pattern", "does not count"),
        (b'{"v":1,%s,"event":"demoulded","x":1}', "x", "Extra inputs are not permitted", "does not count"),
        (b'{"v":1,"seq":3,"at":"2026-03-07T12:00:25Z","elapsed_s":25,"event":"demoulded"}', "seq", "two writers", ""),
        (b'{"v":1,"seq":9,"at":"2026-03-07T12:00:30Z","elapsed_s":2,"event":"demoulded"}', "elapsed_s", "falls", ""),
    ],
)  # fmt: skip
def test_a_damaged_line_is_reported_with_its_number_and_the_rest_is_read(
    tmp_path: Path, line: bytes, key: str, message: str, hint: str
) -> None:
    lines = a_day(tmp_path).splitlines()
    whole, _ = read_journal(tmp_path)
    stamp = b'"seq":4,"at":"2026-03-07T12:00:25Z","elapsed_s":25'
    lines[3] = line.replace(b"%s", stamp)
    (tmp_path / JOURNAL).write_bytes(b"\n".join(lines) + b"\n")
    records, (problem, *more) = read_journal(tmp_path)
    assert records == [*whole[:3], whole[4]]
    assert (problem.line, problem.key) == (4, key)
    assert [(each.line, each.message) for each in more] == MISSING * (key in ("seq", "elapsed_s"))
    assert message in problem.message
    assert hint in problem.hint
    assert "\x1b" not in str(problem)


@pytest.mark.parametrize("between", [b",", b"", b"\x0b", b"J{"])
def test_two_events_on_one_line_both_count_and_the_line_is_named(tmp_path: Path, between: bytes) -> None:
    lines = a_day(tmp_path).splitlines()
    whole, _ = read_journal(tmp_path)
    lines[2:4] = [lines[2] + between + lines[3]]
    (tmp_path / JOURNAL).write_bytes(b"\n".join(lines) + b"\n")
    records, (problem,) = read_journal(tmp_path)
    assert records == whole
    assert (problem.line, problem.message) == (3, "seq 3 and seq 4: its line end is lost")


def test_lines_that_arrive_again_do_not_count_again(tmp_path: Path) -> None:
    data = a_day(tmp_path)
    reader = LineReader("journal.jsonl")
    assert len(reader.feed(data)) == 5
    assert reader.feed(data) == []
    assert [problem.line for problem in reader.problems] == [6, 7, 8, 9, 10]


def test_after_a_damaged_last_line_numbers_are_not_used_twice(tmp_path: Path) -> None:
    data = a_day(tmp_path)
    (tmp_path / JOURNAL).write_bytes(data + b"garbage\n\n")
    with Journal.open(tmp_path, next_day()) as journal:
        assert len(journal.problems) == 1
    assert read_journal(tmp_path)[0][-1].seq == 9


def test_line_ends_of_another_system_are_read(tmp_path: Path) -> None:
    data = a_day(tmp_path)
    records, _ = read_journal(tmp_path)
    (tmp_path / JOURNAL).write_bytes(data.replace(b"\n", b"\r\n"))
    assert read_journal(tmp_path) == (records, [])
