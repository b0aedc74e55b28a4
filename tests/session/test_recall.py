"""A layup told from memory: answers as people give them, a draft that outlives a crash, and a session no sharper."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from session_examples import TOLD

from layup.errors import InputError, LayupError
from layup.files.workshop import Workshop, new_workshop
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.fields import ToldDay, Width
from layup.session.reader import read_journal
from layup.session.recall import minute_of, said, write_recalled
from layup.session.told import (
    CUP,
    DRAFT,
    KEYS,
    QUESTIONS,
    SHOP,
    TIME,
    Interview,
    cups_of,
    day_of,
    look_of,
    width_of,
)

NOW = datetime(2026, 11, 28, 16, tzinfo=UTC)


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    new_workshop(tmp_path / "shop")
    return Workshop(tmp_path / "shop")


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("18", SHOP, "18 °C"),
        ("about 12 C", SHOP, "about 12 °C"),
        ("10-14", SHOP, "10 to 14 °C"),
        ("-5 to 3 C", SHOP, "-5 to 3 °C"),
        ("~ 25", TIME, "about 25 min"),
        ("20 – 30 min", TIME, "20 to 30 min"),
        ("between 1 h and 2 h", TIME, "60 to 120 min"),
        ("circa 300", CUP, "about 300 g"),
        ("10 oz", CUP, "283 g"),
        ("?", CUP, "not known"),
        ("no idea", TIME, "not known"),
        ("20 min, it was", TIME, "20 min"),
        ("about 25, it was", TIME, "about 25 min"),
        ("300 g of mix", CUP, "300 g"),
        ("18 °C in there", SHOP, "18 °C"),
    ],
)
def test_a_number_is_said_back_no_more_exactly_than_it_was_told(text: str, kind, words: str) -> None:
    assert said(width_of(text, kind, where="here"), kind) == words


@pytest.mark.parametrize(
    ("text", "kind", "error"),
    [
        ("warm", SHOP, r'here: does not start with a number \(warm\) - "18 C", "about 12", "10-14" or "not known"'),
        ("500 C", SHOP, r"here: is out of range \(500 C\) - between -20 °C and 50 °C"),
        ("12 g", TIME, r'here: is a mass, not a time \(12 g\) - "25 min", "about 25", "20-30 min" or "not known"'),
        ("1 h 20, it was", TIME, r"here: has a unit that cannot be read"),
        ("300 g/m^2 of cloth", CUP, r"here: has an unknown unit: g/m\^2 of cloth"),
        ("20-3000 min", TIME, r"here: is out of range \(20-3000 min\) - between"),
    ],
)
def test_an_answer_that_cannot_be_says_where_what_and_what_is_allowed(text: str, kind, error: str) -> None:
    with pytest.raises(InputError, match=error):
        width_of(text, kind, where="here")


@pytest.mark.parametrize(
    ("text", "cups", "words"),
    [
        ("300 g", 1, "300 g"),
        ("2 x 300 g", 2, "300 g"),
        ("about 300 g in 2 cups", 2, "about 300 g"),
        ("3 cups of 200-250 g", 3, "200 to 250 g"),
    ],
)
def test_cups_are_counted_beside_what_is_in_each(text: str, cups: int, words: str) -> None:
    width, many = cups_of(text, where="cup")
    assert (many, said(width, CUP)) == (cups, words)


@pytest.mark.parametrize(
    ("text", "look", "rest"),
    [
        ("about 25 min, hot", "hot", "about 25 min"),
        ("gelled after 36", "gelled", "36"),
        ("thick, then smoking at 20-30", "smoking", "20-30"),
        ("25", None, "25"),
        ("still runny at 40 min", "runny", "still at 40 min"),
    ],
)
def test_the_worst_look_that_is_named_counts(text: str, look: str | None, rest: str) -> None:
    found, left = look_of(text)
    assert found == look
    if look != "runny":
        assert left == rest


@pytest.mark.parametrize(
    ("text", "day", "words"),
    [
        ("2026-03-07", "2026-03-07", "2026-03-07"),
        ("last winter", "2026-01-15", "about last winter"),
        ("about last winter", "2026-01-15", "about last winter"),
        ("March 2025", "2025-03-15", "about March 2025"),
        ("3 weeks ago", "2026-11-07", "about 3 weeks ago"),
        ("when dad was here", "2026-11-28", "about when dad was here"),
        ("", "2026-11-28", ""),
    ],
)
def test_a_day_may_be_about_last_winter(text: str, day: str, words: str) -> None:
    moment, told = day_of(text, NOW)
    assert (moment.date().isoformat(), told) == (day, words)


def test_a_day_still_to_come_is_refused() -> None:
    with pytest.raises(InputError, match=r"date: is still to come \(2027-01-01\) - today or earlier"):
        day_of("2027-01-01", NOW)


def ask(talk: Interview, answers: dict[str, str]) -> None:
    while talk.question is not None and talk.question.key in answers:
        talk.answer(answers[talk.question.key])


def test_the_questions_are_the_eight_and_the_day_and_each_but_the_resin_may_be_not_known(workshop: Workshop) -> None:
    talk = Interview(workshop, NOW)
    assert (*TOLD, "when") == KEYS
    assert all(len(question.title.split()) <= 8 for question in QUESTIONS)
    talk.answer("slow-laminating")
    for _ in QUESTIONS[1:]:
        talk.answer("not known")
    told = talk.story().told
    assert told == ToldDay(resin_known=True)


def test_back_goes_to_the_answer_before_and_changes_it(workshop: Workshop) -> None:
    talk = Interview(workshop, NOW)
    ask(talk, {"resin": "1", "shop": "12"})
    talk.back()
    assert talk.question is QUESTIONS[1]
    assert talk.answers["shop"] == "12"
    talk.answer("18")
    assert (talk.answers["shop"], talk.at) == ("18", 2)


def test_a_draft_outlives_a_crash_and_goes_once_it_is_a_session(workshop: Workshop) -> None:
    ask(
        Interview(workshop, NOW),
        {"resin": "slow-laminating", "shop": "12"},
    )
    again = Interview(workshop, NOW)
    assert again.resumed
    assert again.answers == {"resin": "slow-laminating", "shop": "12"}
    assert again.question is QUESTIONS[2]
    again.forget()
    assert not Interview(workshop, NOW).resumed
    assert not (workshop.sessions_folder / DRAFT).exists()


@pytest.mark.parametrize("spoilt", ["", "{", "[]", '{"plan": "touring-skis", "answers": {"shop": "warm"}}', "\0" * 99])
def test_a_spoilt_draft_is_begun_anew(workshop: Workshop, spoilt: str) -> None:
    (workshop.sessions_folder / DRAFT).write_text(spoilt)
    talk = Interview(workshop, NOW)
    assert (talk.resumed, talk.answers, talk.at) == (False, {}, 0)
    talk.answer("1")
    assert json.loads((workshop.sessions_folder / DRAFT).read_text())["answers"] == {"resin": "1"}


def test_given_answers_say_all_that_is_wrong_at_once(workshop: Workshop) -> None:
    talk = Interview(workshop, NOW)
    with pytest.raises(InputError, match=r"Which resin was it: is not in this workshop \(nosuch\)") as refused:
        talk.give({"resin": "nosuch", "shop": "warm", "on_part": "99", "people": "0"})
    words = str(refused.value)
    assert "How warm was the shop: does not start with a number (warm)" in words
    assert 'What was on the part by then: is no step of the plan (99) - a step from 2 to 13, "2-4"' in words
    assert "How many people worked: is no number of people (0)" in words


def written(workshop: Workshop, **answers: str) -> Path:
    talk = Interview(workshop, NOW, keep=False)
    talk.give(TOLD | answers)
    return write_recalled(workshop, talk.story())


def test_it_becomes_a_session_that_says_it_was_recalled_and_how_vague_it_is(workshop: Workshop) -> None:
    folder = written(workshop, when="last winter")
    assert folder.name == "2026-01-15-recalled-touring-skis-168"
    records, problems = read_journal(folder)
    assert problems == []
    kept = stored_session(folder)
    assert kept.problems == ()
    assert kept.state.misfits == ()
    told = kept.state.recalled
    assert told is not None
    assert kept.state.start is not None
    assert (kept.state.start.kind, kept.state.start.people) == ("recalled", 1)
    assert told.thick_s == Width(low=1250.0, likely=1500.0, high=1800.0, about=True)
    assert [record.describe() for record in records if record.event == "recalled"] == [
        "told from memory: about last winter"
    ]
    assert {record.when_s for record in records} == {0.0, 1500.0}, "no time stands there that nobody told"
    assert minute_of(told, 1500.0) == "≈ 25"
    assert minute_of(None, 1500.0) == "25.0"
    assert minute_of(told, 2.7e7) == "later", "what is added a year after is no minute of the day"


def test_a_story_that_tells_nothing_is_no_session(workshop: Workshop) -> None:
    talk = Interview(workshop, NOW, keep=False)
    talk.give({"resin": "slow-laminating", "when": "last winter"})
    with pytest.raises(InputError, match="recall: tells nothing - one answer or more beside the resin"):
        write_recalled(workshop, talk.story())
    assert [path.name for path in workshop.sessions()] == ["touring-skis"]


def test_without_a_resin_nothing_is_written_since_nothing_can_be_judged(workshop: Workshop) -> None:
    before = list(workshop.sessions())
    for resin in ("?", ""):
        with pytest.raises(InputError, match=r"Which resin was it: is needed to judge anything \(.*\) - make it from"):
            written(workshop, resin=resin)
    talk = Interview(workshop, NOW)
    with pytest.raises(InputError, match="is needed to judge anything"):
        talk.answer("not known")
    assert talk.at == 0, "it is asked again before the other eight"
    assert list(workshop.sessions()) == before


def test_an_older_session_of_a_resin_that_nobody_knew_is_read_and_says_so(workshop: Workshop) -> None:
    talk = Interview(workshop, NOW, keep=False)
    talk.give(TOLD)
    story = talk.story()
    nobody = replace(story, told=story.told.model_copy(update={"resin_known": False}))
    kept = stored_session(write_recalled(workshop, nobody))
    assert kept.sheet is None
    assert review(kept).verdict == "nothing can be judged: nobody knows which resin it was"


def test_a_workshop_without_a_plan_takes_the_story_too(workshop: Workshop) -> None:
    for folder in workshop.sessions():
        (folder / "plan.toml").unlink()
    talk = Interview(workshop, NOW, keep=False)
    assert (talk.plan, talk.steps) == (None, ())
    talk.give(TOLD)
    kept = stored_session(write_recalled(workshop, talk.story()))
    assert (kept.plan, kept.problems) == (None, ())
    assert any("lives" in line for line in review(kept).taught)


def test_a_plan_that_is_asked_for_and_broken_is_told(workshop: Workshop) -> None:
    with pytest.raises(LayupError, match=r"plan: is not in .*nosuch"):
        Interview(workshop, NOW, "nosuch")
