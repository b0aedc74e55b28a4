"""A note of the failed demo day, carried forward: met on the next plan and on the wall, ticked off, gone."""

import json
import re
import shutil
from pathlib import Path

import pytest
from command_line import Answer
from simulate.demo_days import SESSIONS

from layup.files.durable import JOURNAL
from layup.report.render import markdown
from layup.report.report_blocks import report_blocks
from layup.review.review import review
from layup.session.archive import stored_session

FAILED, GOOD = "2026-03-07-touring-skis-168", "2026-02-21-touring-skis-168"


@pytest.fixture
def ask(say, workshop: Path):
    for name in (FAILED, GOOD):
        shutil.copytree(SESSIONS / name, workshop / "sessions" / name)

    def run(*words: str, code: int = 0) -> Answer:
        found = say(*words)
        assert found.code == code, found
        return found

    return run


def test_a_note_of_the_failed_day_stands_on_the_next_plan_and_at_its_step_on_the_wall_until_it_is_done(
    ask, workshop: Path
) -> None:
    assert ask("carry").words == "nothing is carried forward"
    ask("carry", FAILED, "Second pair of hands", "--step", "lower glass")
    ask("carry", FAILED, "Warm the mould first")
    (data,) = [note for note in ask("plan", "touring-skis", "--json").data["next_time"] if note["step_name"]]
    assert (data["text"], data["step_name"]) == ("Second pair of hands", "Lower glass")
    assert data["sources"][0]["session"] == FAILED
    assert "FROM LAST TIME Lower glass: Second pair of hands (2026-03-07)" in ask("plan", "touring-skis").words
    wall = ask("sheet", "touring-skis").out
    order, items = wall.split("FROM LAST TIME")
    step = next(place for place, line in enumerate(order.splitlines()) if "4 Lower glass" in line)
    assert order.splitlines()[step + 1].strip() == "last time: Second pair of hands"
    assert "[ ] Warm the mould first (2026-03-07)" in items
    ask("sheet", "touring-skis", "--html", "wall.html")
    assert "4 Lower glass<br><b>last time:</b> Second pair of hands</td>" in (workshop / "wall.html").read_text()
    assert "1 Warm the mould first" in ask("carry").words
    said = ask("carry", "--done", "2").words
    assert said.startswith("done: Lower glass: Second pair of hands")
    assert f"logged in {FAILED}" in said
    ask("carry", GOOD, "--drop", "1")
    assert json.loads((workshop / "sessions" / GOOD / JOURNAL).read_text().splitlines()[-1])["how"] == "dropped"
    assert ask("plan", "touring-skis", "--json").data["next_time"] == []
    assert "last time" not in ask("sheet", "touring-skis").out.casefold()


def test_a_session_proposes_what_its_findings_and_notes_say_and_takes_one_by_number(ask) -> None:
    found = ask("carry", FAILED, "--json").data
    assert [each["of"] for each in found["proposals"]][:3] == ["finding 1", "finding 2", "note at 39 min"]
    assert found["carries"] == []
    ask("carry", FAILED, "--take", "1")
    (note,) = ask("carry", "--json").data["next_time"]
    assert (note["text"], note["resin"]) == (found["proposals"][0]["text"], "slow-laminating")
    again = ask("carry", FAILED, "--take", "1", code=2)
    assert "it stands there for next time already" in again.err
    assert ask("carry", FAILED, "--json").data["carries"] == [note["text"]]


def report(workshop: Path) -> str:
    """Return the report of the failed day, but for its day minute by minute, which costs seconds."""
    return markdown(report_blocks(review(stored_session(workshop / "sessions" / FAILED))))


def test_the_report_of_a_session_says_what_it_carries_to_next_time_and_what_became_of_it(ask, workshop: Path) -> None:
    assert "Next time" not in report(workshop)
    ask("carry", FAILED, "Second pair of hands", "--step", "Lower glass")
    ask("carry", FAILED, "Warm the mould first")
    ask("carry", "--done", "1")
    told = report(workshop).split("Next time", 1)[1]
    assert "Lower glass: Second pair of hands" in told
    assert re.search(r"Warm the mould first \(done \d{4}-\d\d-\d\d\)", told)


def test_words_that_carry_nothing_say_what_to_do_instead(ask) -> None:
    assert "did you mean Lower glass?" in ask("carry", FAILED, "x", "--step", "Lower glas", code=2).err
    assert "has no open note to settle" in ask("carry", "--done", "1", code=2).err
    assert "layup carry SESSION TEXT" in ask("carry", "--take", "1", code=2).err
    assert "says nothing" in ask("carry", FAILED, "  ", code=2).err
    assert "has nothing to carry" in ask("carry", FAILED, "--step", "Core", code=2).err
    ask("carry", FAILED, "Warm the mould first")
    assert "from 1 to 1" in ask("carry", "--done", "2", code=2).err
    assert "one, not both" in ask("carry", FAILED, "text", "--done", "1", code=2).err
