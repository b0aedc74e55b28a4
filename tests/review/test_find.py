"""Sessions found by words, resin, outcome and cause; each judged once while nothing changes."""

import shutil
from pathlib import Path

import pytest
from simulate.demo_days import SESSIONS
from simulate.shop import workshop

from layup.errors import InputError
from layup.files.durable import JOURNAL
from layup.files.workshop import Workshop
from layup.review import lessons
from layup.review.carried import append_to
from layup.review.lessons import JUDGED_NAME, Query, find_sessions, judge, query
from layup.review.review import Review
from layup.session import archive
from layup.session.archive import StoredSession
from layup.session.clock import SystemClock
from layup.session.state import Outcome

GOOD, FAILED = "2026-02-21-touring-skis-168", "2026-03-07-touring-skis-168"


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    root = workshop(tmp_path)
    for name in (GOOD, FAILED):
        shutil.copytree(SESSIONS / name, root / "sessions" / name)
    return Workshop(root)


def found(shop: Workshop, text: str) -> list[str]:
    return [one.name for one in find_sessions(shop, text)]


def test_a_query_reads_words_keys_and_quotes() -> None:
    asked = query('Tip resin:Slow outcome:"dry spot" 08:41 don\'t cause:')
    assert asked == Query(words=("tip", "08:41", "don't"), resin=("slow",), outcome=("dry spot",))
    assert query("  ") == Query()
    assert query('"don\'t touch" #3 tip\\') == Query(words=("don't touch", "#3", "tip\\"))


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("casue:cup", r"search: has no such key \(casue:\) - resin:, outcome:, cause:"),
        ("cause:coffee", r"cause: is not known \(coffee\)"),
        ('outcome:"dry', "has a quote that does not end"),
    ],
)
def test_what_cannot_be_asked_for_says_what_can(text: str, complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        query(text)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("", [GOOD, FAILED]),
        ("lifting tip", [FAILED]),
        ("resin:slow", [GOOD, FAILED]),
        ("resin:fast", []),
        ("outcome:failed", [FAILED]),
        ("outcome:good", [GOOD]),
        ("outcome:dry outcome:void", [FAILED]),
        ("outcome:none", []),
        ("cause:slow", [FAILED]),
        ("cause:thick cause:slow", [FAILED]),
        ("cause:thick cause:closed", []),
        ("cause:none", [GOOD]),
        ("cause:slow outcome:good", []),
        ("lifting cause:ratio", []),
    ],
)
def test_every_word_and_every_key_narrows_what_is_found(shop: Workshop, text: str, names: list[str]) -> None:
    assert found(shop, text) == names


def test_only_what_is_left_is_judged_and_what_was_judged_is_not_judged_again(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    whole = lessons.review

    def counted(kept: StoredSession) -> Review:
        asked.append(kept.name)
        return whole(kept)

    monkeypatch.setattr(lessons, "review", counted)
    monkeypatch.setattr(archive, "SAME_TIME_NS", -10_000_000_000)  # as if the files had been written long before
    assert found(shop, "cause:slow outcome:failed") == [FAILED]
    assert asked == [FAILED]
    assert found(shop, "cause:slow") == [FAILED]
    assert asked == [FAILED, GOOD]
    assert found(shop, "cause:slow") == [FAILED]
    assert asked == [FAILED, GOOD]
    append_to(shop.sessions_folder / GOOD, (Outcome(tags=("twist",)),), SystemClock())
    assert judge(shop, [GOOD])[GOOD].failed
    assert asked == [FAILED, GOOD, GOOD], "a journal that grew is judged anew"
    monkeypatch.setattr(lessons, "_program", lambda: "another")
    judge(shop, [FAILED])
    assert asked[-1] == FAILED, "nothing that another program judged is taken over"


def test_a_search_that_is_broken_off_keeps_what_it_judged(shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "SAME_TIME_NS", -10_000_000_000)
    asked: list[str] = []
    whole = lessons.review

    def break_off_at_the_second(kept: StoredSession) -> Review:
        asked.append(kept.name)
        if len(asked) == 2:
            raise KeyboardInterrupt
        return whole(kept)

    monkeypatch.setattr(lessons, "review", break_off_at_the_second)
    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        judge(shop, [GOOD, FAILED])
    assert list(judge(shop, [GOOD, FAILED])) == [GOOD, FAILED]
    assert asked == [GOOD, FAILED, FAILED], "the first one is not judged again"


def test_a_session_that_goes_or_cannot_be_read_is_left_out_and_a_spoilt_file_of_judgements_is_made_anew(
    shop: Workshop,
) -> None:
    before = judge(shop, [GOOD, FAILED])
    (shop.sessions_folder / JUDGED_NAME).write_bytes(b'{"program":1}')
    assert judge(shop, [GOOD, FAILED]) == before
    (shop.sessions_folder / GOOD / JOURNAL).unlink()
    assert list(judge(shop, [GOOD, FAILED, "gone"])) == [FAILED]
    short = before[FAILED]
    assert short.causes[0] == "past thickening"
    assert short.spare_s is not None
    assert short.spare_s < 0.0 < (before[GOOD].spare_s or 0.0)
