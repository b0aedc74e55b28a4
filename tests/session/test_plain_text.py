"""Text from outside can neither style the screen nor send control codes."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from layup.session.batch_events import PourRead
from layup.session.day_events import Note
from layup.session.state import SessionStarted
from layup.session.text import NOTE_LIMIT, clean_text


@pytest.mark.parametrize(
    ("typed", "kept", "removed"),
    [
        ("two lines\nstay", "two lines\nstay", 0),
        ("dos\r\nand\rmac ends", "dos\nand\nmac ends", 0),
        ("a\ttab", "a tab", 0),
        ("red \x1b[31mink\x1b[0m", "red [31mink[0m", 2),
        ("bell\a and title \x9d0;x\x9c", "bell and title 0;x", 3),
        ("right \u202eto left", "right to left", 1),
        ("half \ud800 of a letter", "half  of a letter", 1),
        ("harz 手袋 ✋🏽 é", "harz 手袋 ✋🏽 é", 0),
    ],
)
def test_control_codes_are_left_out_and_counted(typed: str, kept: str, removed: int) -> None:
    clean = clean_text(typed, limit=100)
    assert (clean.text, clean.removed, clean.cut) == (kept, removed, 0)


def test_the_report_says_what_was_left_out_and_what_did_not_fit() -> None:
    assert clean_text("fine", limit=4).report == ""
    assert clean_text("\x1bfine", limit=4).report == "1 control character left out"
    report = clean_text("\x1b\x1btoo long", limit=3).report
    assert report == "2 control characters left out, the last 5 characters did not fit"


@given(st.text(st.characters(), max_size=60))
def test_clean_text_is_always_taken_by_the_journal_and_cleaning_again_changes_nothing(typed: str) -> None:
    clean = clean_text(typed, limit=50)
    assert Note(text=clean.text).text == clean.text
    assert clean_text(clean.text, limit=50).text == clean.text
    # An independent judge of control codes: Unicode's own categories (Cc control, Cs surrogate).
    assert not [c for c in clean.text if unicodedata.category(c) in {"Cc", "Cs"} and c != "\n"]


@pytest.mark.parametrize("code", ["\x00", "\x07", "\x1b", "\r", "\t", "\x7f", "\x9b", "\u202e", "\u2028", "\ufeff"])
def test_the_journal_refuses_text_that_was_not_cleaned(code: str) -> None:
    with pytest.raises(ValidationError, match="text"):
        Note(text=f"a{code}b")


def test_a_note_longer_than_the_limit_is_refused_and_one_as_long_is_kept() -> None:
    assert len(Note(text="m" * NOTE_LIMIT).text) == NOTE_LIMIT
    with pytest.raises(ValidationError, match=f"at most {NOTE_LIMIT} characters"):
        Note(text="m" * (NOTE_LIMIT + 1))


def test_unknown_keys_and_numbers_that_are_none_are_refused() -> None:
    with pytest.raises(ValidationError, match="colour"):
        Note.model_validate({"text": "x", "colour": "red"})
    with pytest.raises(ValidationError, match="finite number"):
        PourRead(batch=1, resin_g=float("nan"), hardener_g=1.0)
    with pytest.raises(ValidationError, match="people"):
        SessionStarted(title="t", plan="p", resin="r", people=0, pieces=1)
