"""Notes for next time: known by their line, met by other sessions, settled once, lost never."""

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from simulate.demo_days import SESSIONS
from simulate.shop import workshop

from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop
from layup.report.hindsight import hindsight
from layup.report.render import markdown
from layup.report.report_blocks import report_blocks
from layup.review.carried import (
    FIRST_CLAUSE,
    NextTime,
    append_to,
    carriers,
    met_by,
    one_line,
    open_notes,
    proposals,
    settle,
    step_at,
)
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock
from layup.session.day_events import CarriedForward, Undone
from layup.session.journal import Journal
from layup.session.records import refusal
from layup.session.state import SessionStarted

FAILED = "2026-03-07-touring-skis-168"
LATER = datetime(2027, 1, 1, 9, 0, tzinfo=UTC)


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    return Workshop(workshop(tmp_path))


def began(shop: Workshop, name: str, *notes: CarriedForward, hour: int = 9) -> Path:
    folder = shop.sessions_folder / name
    clock = ManualClock(datetime(2027, 1, 1, hour, 0, tzinfo=UTC))
    start = SessionStarted(title="Skis", plan="skis", resin="slow-laminating", people=2, pieces=1)
    with Journal.create(folder, clock, start) as journal:
        for note in notes:
            clock.advance(60.0)
            journal.append(note)
    return folder


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Keep a session from being written, as another program does that has it open."""
    with Journal.open(folder, ManualClock(LATER)):
        yield


def is_open(shop: Workshop) -> list[str]:
    return [note.text for note in open_notes(carriers(shop))]


def only(shop: Workshop) -> NextTime:
    (note,) = open_notes(carriers(shop))
    return note


WARM = CarriedForward(text="Warm the mould")


def test_the_report_of_a_note_s_session_says_what_another_session_made_of_it(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    settle(shop, only(shop), "done", ManualClock(LATER), into=began(shop, "2027-01-02-b", hour=12))
    found = review(stored_session(folder))
    page = markdown(report_blocks(found, hindsight(found, shop, ManualClock(LATER))))
    assert "Warm the mould (done 2027-01-01)" in page.replace("\\", "")


def test_a_note_is_open_until_a_session_that_met_it_says_it_is_done(shop: Workshop) -> None:
    began(shop, "2027-01-01-a", WARM)
    met = began(shop, "2027-01-02-b", hour=12)
    assert is_open(shop) == ["Warm the mould"]
    assert settle(shop, only(shop), "done", ManualClock(LATER), into=met) == "2027-01-02-b"
    assert is_open(shop) == []
    last = json.loads((met / JOURNAL).read_text().splitlines()[-1])
    assert (last["event"], last["session"], last["how"]) == ("carry-settled", "2027-01-01-a", "done")


def test_what_was_settled_by_mistake_is_open_again_by_an_undo_or_by_a_later_word(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    note = only(shop)
    settle(shop, note, "dropped", ManualClock(LATER))
    append_to(folder, note.settled("open"), ManualClock(LATER))
    assert is_open(shop) == ["Warm the mould"]
    settle(shop, note, "done", ManualClock(LATER))
    seq = stored_session(folder).state.undoable
    assert seq is not None
    append_to(folder, (Undone(undone_seq=seq),), ManualClock(LATER))
    assert is_open(shop) == ["Warm the mould"]


def test_a_renamed_session_stays_settled_and_a_copied_one_carries_its_note_once(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    met = began(shop, "2027-01-02-b", hour=12)
    renamed = folder.rename(shop.sessions_folder / "2027-01-01-the-red-skis")
    shutil.copytree(renamed, shop.sessions_folder / "2027-01-01-copy")
    assert len(only(shop).sources) == 1
    settle(shop, only(shop), "done", ManualClock(LATER), into=met)
    renamed.rename(folder)
    assert is_open(shop) == []


def test_a_deleted_session_takes_its_notes_along_and_gives_back_what_it_settled(shop: Workshop) -> None:
    began(shop, "2027-01-01-a", WARM)
    gone = began(shop, "2027-01-02-b", CarriedForward(text="Sharpen the scissors"), hour=12)
    warm = next(note for note in open_notes(carriers(shop)) if note.text == WARM.text)
    settle(shop, warm, "done", ManualClock(LATER), into=gone)
    assert is_open(shop) == ["Sharpen the scissors"]
    shutil.rmtree(gone)
    assert is_open(shop) == ["Warm the mould"]


def test_two_sessions_that_carry_the_same_words_are_one_note_and_settled_together(shop: Workshop) -> None:
    began(shop, "2027-01-01-a", WARM)
    began(shop, "2027-01-02-b", CarriedForward(text="warm  the MOULD"), hour=12)
    assert len(only(shop).sources) == 2
    assert "2 sessions" in only(shop).words
    settle(shop, only(shop), "done", ManualClock(LATER))
    assert is_open(shop) == []


def test_a_note_of_a_session_that_cannot_be_written_is_settled_in_another_and_says_where(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    began(shop, "2027-01-02-b", hour=12)
    with held(folder):
        assert settle(shop, only(shop), "done", ManualClock(LATER)) == "2027-01-02-b"
    assert is_open(shop) == []


def test_a_note_that_cannot_be_settled_anywhere_stays_open_and_is_an_error(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    with held(folder), pytest.raises(StorageError, match="another process writes"):
        settle(shop, only(shop), "done", ManualClock(LATER))
    assert is_open(shop) == ["Warm the mould"]


def test_a_session_meets_what_others_carry_for_its_resin_and_not_what_it_carries_itself(shop: Workshop) -> None:
    of_fast = CarriedForward(text="Cups of 150 g", resin="fast-laminating")
    began(shop, "2027-01-01-a", WARM, of_fast)
    began(shop, "2027-01-02-b", CarriedForward(text="Sharpen the scissors"), hour=12)
    known = carriers(shop)
    assert [note.text for note in met_by(known, "2027-01-02-b", "slow-laminating")] == ["Warm the mould"]
    assert {note.text for note in met_by(known, "2027-01-03", "fast-laminating")} == {
        "Warm the mould",
        "Cups of 150 g",
        "Sharpen the scissors",
    }
    early = datetime(2027, 1, 1, 9, 1, 30, tzinfo=UTC).isoformat()
    assert [note.text for note in met_by(known, "x", "fast-laminating", until=early)] == ["Warm the mould"]


def test_the_same_words_cannot_be_carried_twice_from_one_session_while_they_are_open(shop: Workshop) -> None:
    folder = began(shop, "2027-01-01-a", WARM)
    assert refusal(stored_session(folder).state, WARM) == "it stands there for next time already"
    settle(shop, only(shop), "done", ManualClock(LATER))
    assert refusal(stored_session(folder).state, WARM) is None


def test_every_finding_and_note_proposes_one_line_that_begins_with_what_to_do() -> None:
    found = review(stored_session(SESSIONS / FAILED))
    lines = proposals(found, Workshop(SESSIONS.parent).resins())
    assert [each.of for each in lines] == ["finding 1", "finding 2", "note at 39 min", "outcome", "what if"]
    for each in lines[: len(found.findings)]:
        assert each.event.text[0].isupper()
        assert "\n" not in each.event.text
        assert FIRST_CLAUSE.search(each.event.text) is None
    assert lines[-1].event.text == "Cups ≤ 199 g, tared twice, +40 g mix", "as the page of changed days has it"
    assert lines[0].event.resin == "slow-laminating"
    assert lines[1].event.step_name == "Lower glass"


def test_a_note_belongs_to_the_step_on_the_bench_as_it_was_written_and_before_and_after_to_none() -> None:
    state = stored_session(SESSIONS / FAILED).state
    assert state.closed_s is not None
    assert step_at(state, 0.0) == ""
    assert step_at(state, state.closed_s + 60.0) == ""
    lower = next(step for step in state.steps if step.plan.name == "Lower glass")
    assert lower.done_s is not None
    assert step_at(state, lower.done_s - 1.0) == "Lower glass"


def test_typed_words_are_one_line_that_no_terminal_obeys() -> None:
    assert one_line("  Warm\nthe \x1b[31mmould  ") == "Warm the [31mmould"
    assert len(one_line("x" * 500)) == 200
