"""`layup recall`: eight answers on a plain terminal or as options give a cause and a changed plan."""

import io
import json
import re
from pathlib import Path

import pytest

from layup import cli
from layup.files.workshop import Workshop, new_workshop
from layup.session.told import DRAFT

TYPED = ["1", "about 24", "warm", "about 400 g", "about 25, hot", "back", "about 25, hot", "4", "no", "alone"]
TYPED += ["gelled in the cup", "last winter"]
OPTIONS = ["--resin", "slow-laminating", "--shop", "about 24 C", "--cup", "about 400 g", "--thick", "about 25 min, hot"]
OPTIONS += ["--on-part", "4", "--closed", "no", "--people", "1"]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    new_workshop(tmp_path / "shop")
    return tmp_path / "shop"


def run(root: Path, *words: str) -> int:
    return cli.main(["recall", *words, "--workshop", str(root)])


def type_in(monkeypatch: pytest.MonkeyPatch, lines: list[str]) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def number_of(root: Path, name: str) -> str:
    return str([sheet.id for sheet in Workshop(root).resins().values()].index(name) + 1)


def test_answers_typed_one_by_one_give_a_cause_and_a_changed_plan(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    type_in(monkeypatch, [number_of(root, "slow-laminating"), *TYPED[1:]])
    assert run(root) == 0
    said, wrong = capsys.readouterr()
    assert "1/9 Which resin was it?" in said
    assert 'How much in a cup: does not start with a number (warm) - "300 g", "about 400 g"' in wrong
    assert said.count("4/9 When did it get thick, and how?") == 2, "back asks it again"
    assert "LIKELY CAUSE  CUP TOO LARGE" in said
    assert "NEXT PLAN  Touring skis 168 ×2 at 24 °C, alone" in said
    assert "less than you had" in said
    assert not (root / "sessions" / DRAFT).exists()
    assert (root / "sessions" / "2026-01-15-recalled-touring-skis-168").is_dir()


def test_answers_so_far_are_kept_where_the_terminal_goes(
    root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    type_in(monkeypatch, ["1", "12"])
    assert run(root) == 0
    assert "Your answers are kept: layup recall goes on with them." in capsys.readouterr().out
    type_in(monkeypatch, ["stop"])
    assert run(root) == 0
    said = capsys.readouterr().out
    assert "2 answers were kept; type new to begin anew." in said
    assert "3/9 How much in a cup?" in said


def test_options_answer_as_data_with_verdicts_with_and_without_the_lesson(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(root, *OPTIONS, "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert data["review"]["findings"][0]["cause"] == "cup too large"
    assert data["next_plan"]["with"]["slack_min"] < data["next_plan"]["without"]["slack_min"]
    assert data["next_plan"]["with"]["largest_cup_g"] < 400.0
    assert "less than you had" in data["next_plan"]["change"]
    assert all(": then " in words for words in data["next_plan"]["changes"]), "each says what it gains"
    said = data["review"]["findings"][0]
    assert f"at most {data['next_plan']['with']['largest_cup_g']:.0f} g in one" in said["words"], "one number"
    assert f"no more than {data['next_plan']['with']['largest_cup_g']:.0f} g" in said["change"]
    assert cli.main(["review", data["session"], "--workshop", str(root)]) == 0
    assert "recalled" in capsys.readouterr().out


def test_a_next_plan_that_reads_worse_says_in_few_words_that_its_resin_lives_shorter(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = ["--shop", "24 C", "--cup", "300 g", "--thick", "22 min, it was thick", "--people", "2"]
    assert run(root, *OPTIONS, *day, "--when", "2025-02-14") == 0
    said = " ".join(capsys.readouterr().out.split())
    found = re.search(r"with it \w[^:→]*: your resin lives (\d+) % shorter", said)
    assert found is not None
    assert 5 <= int(found[1]) <= 90


def test_a_wrong_option_says_what_is_allowed_and_keeps_nothing(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(root, "--shop", "cold", "--people", "many") == 2
    wrong = capsys.readouterr().err
    assert 'How warm was the shop: does not start with a number (cold) - "18 C"' in wrong
    assert "How many people worked: is no number of people (many)" in wrong
    assert run(root, "--json") == 2
    assert "recall: has no answer - --resin, --shop" in capsys.readouterr().err
    assert [path.name for path in (root / "sessions").iterdir()] == ["touring-skis"]
