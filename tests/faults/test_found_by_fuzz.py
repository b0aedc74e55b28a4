"""What spoilt files once brought to light, each kept as it is, so that it stays mended."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_line import ask_in

from layup.materials.demo import new_workshop

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
