"""`layup view`: the bench now, or as it stood at any minute of any session, as text and as data."""

import json
import time
from datetime import UTC, datetime

import pytest

from layup.bench.replay import Replay
from layup.cli import main
from layup.commands.view import view_data
from layup.files.workshop import Workshop, demo_root
from layup.planning.clocks import STAGES
from layup.session.clock import ManualClock

SESSION = "2026-03-07-touring-skis-168"


@pytest.fixture(autouse=True)
def in_the_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(demo_root())
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()


def data_at(capsys: pytest.CaptureFixture[str], at: str) -> dict[str, object]:
    assert main(["view", SESSION, "--at", at, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_answer_holds_the_act_what_comes_then_each_batch_and_the_press(capsys) -> None:
    found = data_at(capsys, "35 min")
    assert {"words", "deadline_s", "urgency", "number", "why", "person", "kind"} <= set(found["act"])
    assert found["act"]["urgency"] in STAGES
    assert all(each["words"] for each in found["then"])
    for each in (*found["cups"], *found["parts"]):
        assert {"batch", "urgency", "low_s", "likely_s", "high_s"} <= set(each)
        assert each["low_s"] <= each["likely_s"] <= each["high_s"]
        assert ("empty_by_s" in each) == (each in found["cups"])
        assert ("open_until_s" in each) == (each in found["parts"])
    assert set(found["press"]) >= {"by_s", "ready_s", "spare_s", "closed_s", "out_low_s", "out_likely_s", "out_high_s"}
    assert found["assumptions"]
    assert found["at_s"] == 35 * 60.0


def test_a_minute_and_its_clock_time_are_the_same_moment(capsys) -> None:
    minute, clock = data_at(capsys, "25 min"), data_at(capsys, "09:25")
    assert minute["act"]["words"] == clock["act"]["words"] == "LOWER GLASS"
    assert clock["at_s"] == pytest.approx(minute["at_s"], abs=1.0)


def test_people_read_the_act_first_and_the_word_estimate_once(capsys) -> None:
    assert main(["view", SESSION, "--at", "25 min"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert next(line for line in lines[1:] if line).startswith("▶ LOWER GLASS   by ")
    assert "\n".join(lines).count("estimate") == 1
    assert max(map(len, lines)) <= 96
    assert any(line.startswith("PRESS BY") for line in lines)
    assert any(line.startswith("▕") and "▓" in line for line in lines)


def test_a_session_that_ended_is_shown_as_it_ended(capsys) -> None:
    assert main(["view", SESSION]) == 0
    assert "SESSION ENDED" in capsys.readouterr().out


def test_a_moment_that_never_was_is_refused_with_what_may_be_said(capsys) -> None:
    assert main(["view", SESSION, "--at", "tomorrow"]) == 2
    assert "time" in capsys.readouterr().err


def test_each_of_two_hundred_minutes_of_a_session_is_had_from_one_reading() -> None:
    clock = ManualClock(datetime(2026, 6, 1, tzinfo=UTC))
    workshop = Workshop(demo_root())
    replay = Replay(workshop.session_path(SESSION), workshop, clock)
    shown = [view_data(replay.day, replay.view_at(60.0 * minute)) for minute in range(200)]
    kinds = [each["act"]["kind"] for each in shown]
    assert {"weigh", "step", "close", "over"} <= set(kinds) | {"close"}
    assert [each["at_s"] for each in shown] == [60.0 * minute for minute in range(200)]
