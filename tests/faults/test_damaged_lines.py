"""A journal cut, flipped, doubled, dropped or swapped: all found or harmless, never fewer good lines than there are.

Every so many bytes by default; each byte with `LAYUP_DAMAGE=all pytest tests/faults/test_damaged_lines.py`.
"""

from __future__ import annotations

import os
import random
import subprocess
import tracemalloc
from itertools import pairwise
from pathlib import Path

import duckdb
import pytest
from machine_clock import MachineClock
from session_examples import NOON, good_day, start

from layup.errors import Problem, StorageError
from layup.files.durable import JOURNAL
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import MOST_PROBLEMS, Follower, LineReader, read_journal
from layup.session.state import Record, SessionStarted

ALL = os.environ.get("LAYUP_DAMAGE", "") == "all"
VERSION_1 = Path(__file__).parent.parent / "session" / "data" / "version_1.jsonl"
"""The journal of a whole press day, as format 1 kept it."""
GONE_ON = "a line before it, which has no sum, was changed, added or lost"


def day_of_format_2(folder: Path) -> bytes:
    """Return a short press day, with text of every kind."""
    clock = MachineClock(NOON)
    with Journal.create(folder, clock, start()) as journal:
        for event in good_day()[1:]:
            clock.advance(20.0)
            journal.append(event)
    return journal.path.read_bytes()


def day_gone_on_with(folder: Path) -> bytes:
    """Return a day of format 1 that was gone on with in format 2."""
    folder.mkdir()
    (folder / JOURNAL).write_bytes(VERSION_1.read_bytes())
    clock = MachineClock(NOON)
    clock.reboot(30 * 86_400.0, "later")
    with Journal.open(folder, clock) as journal:
        for number in range(4):
            clock.advance(20.0)
            journal.append(Note(text=f"später {number} ✋"))
    return journal.path.read_bytes()


@pytest.fixture(scope="module", params=[day_of_format_2, day_gone_on_with], ids=["format 2", "1, then 2"])
def data(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return a whole journal."""
    written: bytes = request.param(tmp_path_factory.mktemp("day") / "s")
    assert read(written)[1] == []
    return written


def read(data: bytes) -> tuple[list[Record], list[Problem]]:
    """Return what a journal says, and what is wrong with it."""
    reader = LineReader(JOURNAL)
    reader.take(data)
    torn = not reader.take_tail() and reader.tail_bytes > 0
    records = reader.settle()
    if torn:
        reader.note(reader.line + 1, "", "torn")
    return records, reader.problems


def some(count: int, most: int) -> list[int]:
    """Return all places below `count`, or as many as `most` of them, spread and each time the same."""
    return list(range(count)) if ALL else sorted(random.Random(1).sample(range(count), min(count, most)))


def good_ones(data: bytes, hit: set[int]) -> list[int]:
    """Return the numbers of the entries that no damage touched."""
    return [record.seq for record in read(data)[0] if record.seq not in hit]


def is_part(some_numbers: list[int], of: list[int]) -> bool:
    """Return whether all of some numbers are among others, in their order."""
    rest = iter(of)
    return all(number in rest for number in some_numbers)


def first_summed(data: bytes) -> int:
    """Return the number of the first line of format 2."""
    return next(n for n, line in enumerate(data.splitlines(), 1) if line.startswith(b'{"v":2'))


def test_a_flipped_byte_is_found_and_costs_its_line_only(data: bytes) -> None:
    whole, _ = read(data)
    summed = first_summed(data)
    for at in some(len(data), 900):
        line = data[:at].count(b"\n") + 1
        bit = 1 << random.Random(at).randrange(8)
        spoilt = data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :]
        records, problems = read(spoilt)
        assert problems, f"byte {at}"
        named = {problem.line for problem in problems}
        assert named & ({line, line + 1} if line >= summed else {line, line + 1, summed, summed + 1, summed - 1}), at
        hit = {line} if data[at] != 10 else set()
        assert is_part(good_ones(data, hit), [record.seq for record in records]), f"byte {at}"
        if line >= summed:
            true = {record.seq: record for record in whole}
            wrong = [r for r in records if r != true.get(r.seq) and not isinstance(r, SessionStarted)]
            assert not wrong, f"byte {at}: what does not prove itself does not count"


def test_a_journal_cut_anywhere_gives_all_whole_lines_before_the_cut(data: bytes) -> None:
    whole, _ = read(data)
    for at in some(len(data) + 1, 600):
        records, problems = read(data[:at])
        complete = data[:at].count(b"\n") + (at < len(data) and data[at : at + 1] == b"\n")
        assert records == whole[:complete]
        assert bool(problems) == (at > 0 and data[at - 1 : at + 1] != b"}\n" and data[at - 1] != 10), at


def test_a_doubled_line_is_named_wherever_it_stands_and_counts_once(data: bytes) -> None:
    whole, _ = read(data)
    lines = data.splitlines(keepends=True)
    for at in some(len(lines), 25):
        for to in {at, at + 1, at + 2, len(lines), 0} - {-1}:
            if to > len(lines):
                continue
            records, problems = read(b"".join([*lines[:to], lines[at], *lines[to:]]))
            assert records == whole
            assert any("stands here again" in p.message or "out of its place" in p.message for p in problems), (at, to)
            again = {at + 1, at + 2, to + 1} if to <= at + 1 else {to + 1}
            assert {problem.line for problem in problems} & again, (at, to)


def test_a_dropped_line_is_missed_where_it_stood_and_all_others_count(data: bytes) -> None:
    whole, _ = read(data)
    lines = data.splitlines(keepends=True)
    for at in range(len(lines) - 1):
        records, problems = read(b"".join(lines[:at] + lines[at + 1 :]))
        assert records == whole[:at] + whole[at + 1 :]
        (problem,) = problems
        assert problem.line == max(at + 1, first_summed(data) - 1), at
        assert problem.message in (f"a line is missing before it (seq {at + 1})", GONE_ON)
    assert read(b"".join(lines[:-1])) == (whole[:-1], []), "a journal without its end is the journal of an hour ago"


def test_swapped_lines_are_named_and_both_count_in_their_order(data: bytes) -> None:
    whole, _ = read(data)
    lines = data.splitlines(keepends=True)
    chosen = random.Random(2)
    pairs = [*pairwise(range(len(lines))), *(sorted(chosen.sample(range(len(lines)), 2)) for _ in range(40))]
    for first, second in pairs:
        order = list(range(len(lines)))
        order[first], order[second] = second, first
        records, problems = read(b"".join(lines[n] for n in order))
        assert records == whole, (first, second)
        assert {first + 1, second + 1, first + 2} & {p.line for p in problems if "out of its place" in p.message}


@pytest.mark.parametrize("key", [b'"seq":', b'"elapsed_s":'])
@pytest.mark.parametrize("value", [b"1", b"0", b"99999", b"999999999"])
def test_a_wrong_stamp_of_one_line_of_format_1_hides_no_other(key: bytes, value: bytes) -> None:
    data = VERSION_1.read_bytes()
    whole, _ = read(data)
    lines = data.splitlines(keepends=True)
    for at in range(1, len(lines) - 2):
        head, _, rest = lines[at].partition(key)
        spoilt = head + key + value + rest[rest.index(b",") :]
        records, problems = read(b"".join([*lines[:at], spoilt, *lines[at + 1 :]]))
        assert len([record for record in records if record in whole]) >= len(whole) - 1, at
        assert problems or records[at].elapsed_s == float(value), at


def test_what_follows_a_damaged_end_proves_itself_too(tmp_path: Path) -> None:
    day_of_format_2(tmp_path)
    path = tmp_path / JOURNAL
    for number, rubbish in enumerate((b"rubbish\n", b'{"v":2,"seq":9}\n', b"torn")):
        path.write_bytes(path.read_bytes() + rubbish)
        before = len(read_journal(tmp_path)[0])
        with Journal.open(tmp_path, MachineClock(NOON)) as journal:
            journal.append(Note(text="on we go"))
        records, problems = read_journal(tmp_path)
        assert records == list(journal.state.records)
        assert len(records) > before
        assert len(problems) == min(number + 1, 2), "each is named once, and no line after it"


def test_a_viewer_reads_the_same_whatever_order_lines_arrive_in(tmp_path: Path) -> None:
    lines = day_of_format_2(tmp_path / "whole").splitlines(keepends=True)
    whole, _ = read_journal(tmp_path / "whole")
    path = tmp_path / JOURNAL
    path.touch()
    viewer = Follower(tmp_path, MachineClock(NOON))
    order = [0, 1, 2, 4, 3, 3, *range(6, len(lines)), 5]
    for at in order:
        with path.open("ab") as file:
            file.write(lines[at])
        viewer.poll()
    assert list(viewer.state.records) == whole


def test_another_program_proves_every_line(tmp_path: Path) -> None:
    day_of_format_2(tmp_path)
    found = duckdb.sql(
        f"""
        with lines as (select line from read_csv('{tmp_path / JOURNAL}', columns = {{'line': 'varchar'}},
            delim = '\x01', quote = '', escape = '', header = false)),
        parts as (select left(line, length(line) - 18) as said, substr(line, length(line) - 17, 16) as own,
            substr(line, length(line) - 33, 16) as before from lines)
        select count(*), sum((left(sha256(said), 16) = own)::int), count(distinct own),
            sum((before in (select own from parts))::int) from parts
        """
    ).fetchall()
    count = len(read_journal(tmp_path)[0])
    assert found == [(count, count, count, count - 1)], "sha256 of DuckDB; only the first line has none before it"


@pytest.mark.skipif(os.name != "posix", reason="asks a tool of POSIX systems")
def test_the_first_line_of_format_2_stands_for_all_bytes_before_it(tmp_path: Path) -> None:
    data = day_gone_on_with(tmp_path / "s")
    at = data.index(b'{"v":2')
    (tmp_path / "before").write_bytes(data[:at])
    said = subprocess.run(["sha256sum", str(tmp_path / "before")], capture_output=True, text=True, check=True).stdout
    assert data[at:].split(b"\n")[0].decode()[-34:-18] == said[:16], "GNU coreutils"
    assert data[:at] == VERSION_1.read_bytes()


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("seq", "9007199254740992"),
        ("seq", "1000000001"),
        ("elapsed_s", "1e308"),
        ("elapsed_s", "1000000001"),
        ("at", '"0001-01-01T00:00:00Z"'),
        ("at", '"9999-12-31T23:59:59Z"'),
    ],
)
def test_a_stamp_that_the_app_could_not_live_with_is_refused(tmp_path: Path, key: str, value: str) -> None:
    stamp = {"v": "1", "seq": "51", "at": '"2026-03-10T00:00:00Z"', "elapsed_s": "300000.0"} | {key: value}
    line = ",".join(f'"{name}":{said}' for name, said in stamp.items())
    (tmp_path / JOURNAL).write_bytes(VERSION_1.read_bytes() + f'{{{line},"event":"note","text":"x"}}\n'.encode())
    (problem,) = read_journal(tmp_path)[1]
    assert (problem.line, problem.key) == (51, key)
    with Journal.open(tmp_path, MachineClock(NOON)) as journal:
        journal.append(Note(text="on"))
    assert read_journal(tmp_path)[0] == list(journal.state.records)


@pytest.mark.parametrize(("key", "value"), [("seq", "1000000000"), ("elapsed_s", "1000000000")])
def test_a_journal_at_its_limit_is_not_gone_on_with(tmp_path: Path, key: str, value: str) -> None:
    stamp = {"v": "1", "seq": "51", "at": '"2026-03-10T00:00:00Z"', "elapsed_s": "300000.0"} | {key: value}
    line = ",".join(f'"{name}":{said}' for name, said in stamp.items())
    (tmp_path / JOURNAL).write_bytes(VERSION_1.read_bytes() + f'{{{line},"event":"note","text":"x"}}\n'.encode())
    before = (tmp_path / JOURNAL).read_bytes()
    with pytest.raises(StorageError, match=r"cannot be gone on with .* - look at it only"):
        Journal.open(tmp_path, MachineClock(NOON))
    assert (tmp_path / JOURNAL).read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [JOURNAL], "and the lock is let go"


@pytest.mark.parametrize("year", [1, 1969, 2300, 9999])
def test_a_wall_clock_that_shows_any_year_stops_nothing(tmp_path: Path, year: int) -> None:
    clock = MachineClock(NOON.replace(year=year))
    with Journal.create(tmp_path, clock, start()) as journal:
        clock.advance(60.0)
        journal.append(Note(text="on"))
        assert journal.now_s() == 60.0
    assert read_journal(tmp_path) == (list(journal.state.records), [])


def test_an_empty_journal_is_a_problem(tmp_path: Path) -> None:
    for data in (b"", b"\n\n\n", b" \r\n"):
        (tmp_path / JOURNAL).write_bytes(data)
        records, (problem,) = read_journal(tmp_path)
        assert (records, problem.line, problem.message) == ([], 1, "no entry stands in it")


@pytest.mark.parametrize(
    ("line", "count"),
    [
        (b"\n", 4_000_000),
        (b"x" * 300 + b"\n", 2_000),
        (b'{"v":2}' + b" " * 300 + b"\n", 2_000),
        (b"{" * 300 + b"\n", 2_000),
        (b" " * 5000 + b"\n", 500),
    ],
)
def test_rubbish_takes_no_more_room_however_much_it_is(tmp_path: Path, line: bytes, count: int) -> None:
    tops = []
    for times in (1, 5):
        (tmp_path / JOURNAL).write_bytes(line * count * times)
        tracemalloc.start()
        _, problems = read_journal(tmp_path)
        tops.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert len(problems) <= MOST_PROBLEMS + 1
    assert max(tops) < 2.5e6, "a block, its lines, and what is kept in mind of the first of them"


def test_so_many_problems_are_told_and_the_others_counted(tmp_path: Path) -> None:
    (tmp_path / JOURNAL).write_bytes(b"rubbish\n" * 2500)
    *told, last = read_journal(tmp_path)[1]
    assert [problem.line for problem in told] == list(range(1, MOST_PROBLEMS + 1))
    assert last.message == "2,400 more problems like these"


def test_a_line_far_too_long_is_named_and_passed_over(tmp_path: Path) -> None:
    whole = day_of_format_2(tmp_path)
    lines = whole.splitlines(keepends=True)
    (tmp_path / JOURNAL).write_bytes(b"".join([*lines[:3], b"[" * 5_000_000 + b"\n", *lines[3:], b"y" * 3_000_000]))
    records, problems = read_journal(tmp_path)
    assert len(records) == len(lines)
    assert [(problem.line, problem.message.partition("(")[0]) for problem in problems] == [
        (4, "the line is too long for an entry "),
        (len(lines) + 2, "the last line is torn "),
    ]
