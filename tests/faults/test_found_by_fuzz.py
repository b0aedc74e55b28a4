"""What spoilt files once brought to light, each kept as it is, so that it stays mended."""

from __future__ import annotations

import json
import shutil
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from command_line import ask_in

from layup.files.workshop import demo_root, new_workshop

SESSION = "2026-02-21-touring-skis-168"
PLAN = Path("sessions/touring-skis/plan.toml")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param("coverage = 0.3", "coverage = 3e-10", id="a face that drinks next to nothing"),
        pytest.param('area = "0.034 m^2"', 'area = "3.4e-11 m^2"', id="a face smaller than a hair is thick"),
    ],
)
def test_a_plan_once_brought_down_the_program_and_is_planned_now(tmp_path: Path, old: str, new: str) -> None:
    new_workshop(tmp_path / "w")
    path = tmp_path / "w" / PLAN
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    answer = ask_in(tmp_path / "w", "plan", "touring-skis", "--json")
    assert answer.code in (0, 1)
    assert answer.data["batches"]


def day_closed_after(tmp_path: Path, closed_s: float) -> Path:
    """Copy the demo's sessions; one of them, without sums, closes its press at that age and tells no more."""
    shutil.copytree(demo_root() / "sessions", tmp_path / "sessions")
    path = tmp_path / "sessions" / SESSION / "journal.jsonl"
    rows = [json.loads(row) for row in path.read_text(encoding="utf-8").splitlines()]
    closed = next(n for n, row in enumerate(rows) if row["event"] == "press-closed")
    for row in rows:
        del row["sum"]
        row["v"] = 1
    begun = datetime.fromisoformat(rows[0]["at"])
    rows[closed]["elapsed_s"] = closed_s
    with suppress(OverflowError):
        rows[closed]["at"] = (begun + timedelta(seconds=closed_s)).isoformat().replace("+00:00", "Z")
    path.write_text("".join(json.dumps(row) + "\n" for row in rows[: closed + 1]), encoding="utf-8")
    return path


def test_a_day_that_closes_after_years_is_drawn_with_a_few_marks(tmp_path: Path) -> None:
    day_closed_after(tmp_path, 2.5e8)
    assert ask_in(tmp_path, "export", SESSION, "x.html").code == 0
    assert (tmp_path / "x.html").stat().st_size < 100_000
    assert ask_in(tmp_path, "review", SESSION, "--json").data["day"]["closed_s"] == 2.5e8


@pytest.mark.parametrize("closed_s", [2.7e9, 2.7e15, 2.7e303])
def test_an_age_that_no_day_has_is_told_with_its_line_and_does_not_count(tmp_path: Path, closed_s: float) -> None:
    path = day_closed_after(tmp_path, closed_s)
    last = len(path.read_text(encoding="utf-8").splitlines())
    answer = ask_in(tmp_path, "check", str(path))
    assert answer.code == 2
    assert f"journal.jsonl:{last}: " in answer.out
    assert ask_in(tmp_path, "review", SESSION, "--json").data["day"]["closed_s"] is None


STEP = '[[steps]]\nname = "one more"\nkind = "place"\nminutes = 1\n\n'


def test_more_steps_than_anybody_plans_are_refused_at_once_and_not_worked_out_for_hours(tmp_path: Path) -> None:
    new_workshop(tmp_path / "w")
    path = tmp_path / "w" / PLAN
    text = path.read_text(encoding="utf-8")
    line = text[: text.index("[[steps]]")].count("\n") + 1
    path.write_text(text.replace("[[steps]]", 300 * STEP + "[[steps]]", 1), encoding="utf-8")
    answer = ask_in(tmp_path / "w", "plan", "touring-skis")
    assert answer.code == 2
    assert f"plan.toml:{line}: steps: has too many items (313) - at most 200" in answer.complaint


def test_minutes_that_no_day_has_are_named_where_they_stand(tmp_path: Path) -> None:
    new_workshop(tmp_path / "w")
    path = tmp_path / "w" / PLAN
    text = path.read_text(encoding="utf-8")
    line = text[: text.index("minutes = 14")].count("\n") + 1
    path.write_text(text.replace("minutes = 14", "minutes = 1441", 1), encoding="utf-8")
    answer = ask_in(tmp_path / "w", "check")
    assert f"plan.toml:{line}: steps[4].minutes: is out of range (1441) - must be between 0 and 1440" in answer.out
