"""The list of sessions: read once, kept beside the journals, and never wrong."""

import json
import os
import shutil
from pathlib import Path

import pytest
from session_examples import journal_bytes
from simulate.mishaps import MISHAPS
from simulate.shop import press_day, workshop

from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop
from layup.session.archive import INDEX_NAME, TEXT_LIMIT, Sessions
from layup.session.clock import SystemClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import LINE
from layup.session.state import Outcome

LONG_AGO_NS = 1_000_000_000_000_000_000


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = workshop(tmp_path_factory.mktemp("shop"))
    for name in ("much hardener", "a batch spilt", "rain outside"):
        press_day(root, day=MISHAPS[name].day, mishap=MISHAPS[name], seed=1)
    return root


@pytest.fixture
def root(three: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "shop"
    shutil.copytree(three, copy)
    for journal in copy.glob(f"sessions/*/{JOURNAL}"):
        os.utime(journal, ns=(LONG_AGO_NS, LONG_AGO_NS))
    return copy


def listed(root: Path) -> Sessions:
    return Sessions(Workshop(root))


def test_sessions_are_listed_with_how_they_stand_and_drafts_are_not(root: Path) -> None:
    found = listed(root).all()
    assert [one.tags for one in found] == [("tacky",), ("starved",), ("delamination",)]
    assert {(one.title, one.resin, one.people) for one in found} == {(found[0].title, "slow-laminating", 2)}
    assert found[1].state == "starved, 1 lost"
    assert found[0].started_at.startswith("2026-03-07T08:00")


def test_the_second_list_reads_no_journal_and_says_the_same(root: Path) -> None:
    first, second = listed(root), listed(root)
    assert first.all() == second.all()
    assert (first.read, second.read) == (3, 0)


def test_a_journal_that_grew_is_read_again_and_only_that(root: Path) -> None:
    before = listed(root).all()
    folder = root / "sessions" / before[1].name
    with Journal.open(folder, SystemClock()) as journal:
        journal.append(Outcome(tags=("good",)))
    again = listed(root)
    assert [one.tags for one in again.all()] == [("tacky",), ("good",), ("delamination",)]
    assert again.read == 1


def twisted(path: Path) -> bytes:
    """Return a journal with another outcome, as long as it was."""
    was = path.read_bytes()
    told = [LINE.validate_json(line.replace(b'"tacky"', b'"twist"')) for line in was.splitlines()]
    assert len(journal_bytes(told)) == len(was)
    return journal_bytes(told)


def test_a_journal_changed_in_place_to_the_same_size_is_read_again_when_its_time_moved(root: Path) -> None:
    before = listed(root).all()
    path = root / "sessions" / before[0].name / JOURNAL
    path.write_bytes(twisted(path))
    os.utime(path, ns=(LONG_AGO_NS + 1, LONG_AGO_NS + 1))
    assert listed(root).all()[0].tags == ("twist",)


def test_a_journal_changed_just_before_the_index_was_written_is_not_trusted(root: Path) -> None:
    sessions = listed(root)
    before = sessions.all()
    path = root / "sessions" / before[0].name / JOURNAL
    saved_ns = (sessions.workshop.sessions_folder / INDEX_NAME).stat().st_mtime_ns
    os.utime(path, ns=(saved_ns, saved_ns))
    listed(root).all()
    path.write_bytes(twisted(path))
    newer_ns = path.stat().st_mtime_ns
    os.utime(path, ns=(saved_ns, saved_ns))  # the same size and the same time as the index knows
    assert newer_ns >= saved_ns
    assert listed(root).all()[0].tags == ("twist",)


def test_sessions_that_went_or_came_are_gone_or_there(root: Path) -> None:
    before = listed(root).all()
    shutil.rmtree(root / "sessions" / before[0].name)
    shutil.copytree(root / "sessions" / before[1].name, root / "sessions" / "2030-01-01-copy")
    assert [one.name for one in listed(root).all()] == [before[1].name, before[2].name, "2030-01-01-copy"]
    index = json.loads((root / "sessions" / INDEX_NAME).read_text(encoding="utf-8"))
    assert before[0].name not in index[1]


@pytest.mark.parametrize(
    "rubbish", [b"", b"{", b"[]", b'["99",{}]', b'["3",{"a":1}]', b'{"v":1,"sessions":{"a":1}}', b"\xff\x00"]
)
def test_a_damaged_or_newer_index_is_made_anew(root: Path, rubbish: bytes) -> None:
    expected = listed(root).all()
    (root / "sessions" / INDEX_NAME).write_bytes(rubbish)
    again = listed(root)
    assert again.all() == expected
    assert again.read == 3
    assert listed(root).all() == expected


def test_where_the_index_cannot_be_written_the_list_still_comes(root: Path) -> None:
    (root / "sessions" / INDEX_NAME).mkdir()
    sessions = listed(root)
    assert len(sessions.all()) == 3
    assert sorted(path.name for path in (root / "sessions").iterdir() if path.name.startswith(".")) == [INDEX_NAME]


def searched(root: Path, *words: str) -> list[str]:
    """Return the names of the sessions that hold every word."""
    sessions = listed(root)
    return [one.name for one in sessions.all() if sessions.has_words(one, words)]


def test_search_finds_the_sessions_that_hold_every_word_wherever_it_was_said(root: Path) -> None:
    names = [one.name for one in listed(root).all()]
    assert searched(root, "tacky") == [names[0]]
    assert searched(root, "spilt", "slow-laminating") == [names[1]]
    assert searched(root, "r-114", "touring") == names
    assert searched(root, "tacky", "spilt") == []
    assert len(searched(root)) == 3


def test_a_word_deep_in_a_long_note_is_found_and_the_index_stays_small(root: Path) -> None:
    name = listed(root).all()[2].name
    with Journal.open(root / "sessions" / name, SystemClock()) as journal:
        journal.append(Note(text="la " * 6_000 + "needle"))
    assert searched(root, "needle") == [name]
    assert searched(root, "needles") == []
    summary = listed(root).all()[2]
    assert (len(summary.text), summary.whole) == (TEXT_LIMIT, False)


def test_a_journal_with_damaged_lines_is_listed_with_their_number(root: Path) -> None:
    path = next(root.glob(f"sessions/*/{JOURNAL}"))
    path.write_bytes(path.read_bytes() + b"rubbish\n")
    found = next(one for one in listed(root).all() if one.name == path.parent.name)
    assert found.damaged == 1
    assert found.state.endswith(", 1 damaged line")


def test_progress_is_told_for_every_session(root: Path) -> None:
    told: list[tuple[int, int]] = []
    listed(root).all(progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]
