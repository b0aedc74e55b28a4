"""The commands that look back: review, compare, learn, export, outcome."""

import json
import re
import shutil
from pathlib import Path

import pytest
from simulate.demo_days import SESSIONS, write_demo
from simulate.shop import workshop

from layup import cli
from layup.review.evidence import DEFECTS
from layup.session.archive import stored_session

GOOD, BAD = "2026-02-21-touring-skis-168", "2026-03-07-touring-skis-168"
NAMES = ("review", "compare", "learn", "export", "outcome")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = workshop(tmp_path_factory.mktemp("shop"))
    write_demo(root)
    return root


@pytest.fixture
def root(demo: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo, tmp_path / "shop"))


@pytest.fixture
def layup(root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    for name in NAMES:
        monkeypatch.setitem(cli.COMMANDS, name, cli.COMMANDS.get(name, ""))

    def run(*words: str, code: int = 0) -> tuple[str, str]:
        assert cli.main([words[0], *words[1:], "--workshop", str(root)]) == code
        said = capsys.readouterr()
        return said.out, said.err

    return run


def test_review_names_the_cause_first_with_its_evidence(layup) -> None:
    text = layup("review", BAD, "--evidence")[0]
    assert "WHY NOT" in text
    saved = re.search(r"In time with (cups .*): (\d+ min spare), by simulation", text)
    assert saved is not None, "beside the verdict stands the change that would have turned the day"
    assert saved.start() < text.index("1. PAST THICKENING") < text.index("2. SLOW STEP")
    assert "'Lower glass' took 19 min, where 9 min were planned." in text
    assert "Change: " in text
    assert "entry  18   30.4 min  step 4 done" in text
    assert "weighed" in text
    assert "▓ in the cup  ░ on the part" in text, "as on the plan's strips"


def test_review_of_a_good_day_says_that_nothing_stands_out(layup) -> None:
    text = layup("review", GOOD)[0]
    assert "NOTHING STANDS OUT" in text
    assert "In time with" not in text


def test_review_answers_as_data(layup) -> None:
    data = json.loads(layup("review", BAD, "--json")[0])
    thick = next(one for one in data["findings"] if one["cause"] == "past thickening")
    assert thick["evidence"][-2]["at_s"] < data["decided"]["at_s"] <= thick["evidence"][-1]["at_s"] + 60.0
    assert set(data["decided"]) == {"at_s", "why", "way", "way_s"}
    late = re.match(r"Dry spot, void, cup 1 emptied (\d+) min too late: batch 1 thickened in its cup", data["sentence"])
    assert late is not None, data["sentence"]
    assert data["changed_days"]["own_tightest"] == "cup 1"
    assert data["changed_days"]["own_spare_s"] == pytest.approx(-60.0 * int(late[1]), abs=60.0), "one number, once"
    assert {one["cause"] for one in data["rejected"]}.isdisjoint({one["cause"] for one in data["findings"]})
    assert len(data["changed_days"]["rows"]) <= 5
    assert data["changed_days"]["rows"][0]["changes"] == ["cups"]
    assert [finding["cause"] for finding in data["findings"]] == ["past thickening", "slow step"]
    assert data["findings"][0]["evidence"][0].keys() == {"seq", "at_s", "words"}
    assert data["defects"] == ["dry spot", "void"]
    assert len(data["day"]["batches"]) == 2
    assert data["as_built"]["measured"][0]["way"] == "weighed"
    assert data["assumptions"]


def test_review_by_what_was_learnt_judges_by_a_faster_resin(layup) -> None:
    margins = [
        json.loads(layup("review", GOOD, "--json", *more)[0])["day"]["batches"][0]["cup_left_s"]
        for more in ((), ("--learnt",))
    ]
    assert margins[1] < margins[0]


def test_review_without_a_session_lists_them_the_newest_first_and_searches(layup) -> None:
    text = layup("review")[0]
    assert text.index(BAD) < text.index(GOOD)
    assert "2 sessions" in text
    assert "dry spot, void" in text
    found = json.loads(layup("review", "--search", "lifting tip", "--json")[0])["sessions"]
    assert [one["name"] for one in found] == [BAD]
    assert "0 sessions" in layup("review", "--search", "unheard-of")[0]


def test_a_session_that_is_not_there_says_which_are(layup) -> None:
    assert f"did you mean {GOOD}?" in layup("review", GOOD[:-1], code=2)[1]
    assert (
        "touring-skis: was not pressed yet - press it: layup press touring-skis"
        in layup("review", "touring-skis", code=3)[1]
    )


def test_compare_tells_what_differed_first(layup) -> None:
    text = layup("compare", GOOD, BAD)[0]
    assert text.startswith("First to differ: people planned: 3 / 2")
    data = json.loads(layup("compare", GOOD, BAD, "--json")[0])
    assert data["first"]["topic"] == "people planned"
    assert any(row["topic"] == "step 4 'Lower glass' took" and row["differs"] for row in data["rows"])
    assert "nothing: they are the same" in layup("compare", BAD, BAD)[0]
    assert "pieces" in layup("compare", GOOD, BAD, "--all")[0]


def test_compare_of_a_draft_compares_the_plans_and_says_so(layup) -> None:
    text = layup("compare", GOOD, "touring-skis")[0]
    assert "not pressed yet: only the plans are compared" in text


def test_learn_tells_every_lesson_with_its_counts_and_spread(layup) -> None:
    short = layup("learn")[0]
    assert len(short.split()) <= 100
    assert "sooner than its sheet" in " ".join(short.split())
    assert "slow step: 1 of 2 days" in short
    assert "over the plan's minutes" not in short
    text = layup("learn", "--detail")[0]
    assert text.startswith(short)
    assert "slow-laminating lives" in text
    assert "from 1 observation in 1 session" in text
    assert "2 at the bench, over the plan's minutes (1 session):" in text
    assert "driven out, more than planned" in text
    data = json.loads(layup("learn", "--json")[0])
    assert data["sessions"] == 2
    assert data["in_short"][0]["topic"] == "resin"
    (resin,) = data["resins"]
    assert resin["low"] < resin["pot_life_factor"] < resin["high"]
    assert {crew["people"] for crew in data["crews"]} == {2, 3}
    assert data["crews"][0]["kinds"]["fabric"]["sessions"] == 1


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("r.html", "<!doctype html>"),
        ("r.md", "# Touring skis 168"),
        ("r.csv", "\ufeffsession,seq"),
        ("R.JSONL", '{"kind": "session"'),
    ],
)
def test_export_writes_what_the_file_s_name_asks_for(layup, tmp_path: Path, name: str, begins: str) -> None:
    assert layup("export", BAD, str(tmp_path / name))[0].startswith(f"wrote {tmp_path / name}")
    assert (tmp_path / name).read_text(encoding="utf-8").startswith(begins)
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [name]


def test_export_replaces_nothing_unless_told(layup, tmp_path: Path) -> None:
    target = tmp_path / "r.md"
    target.write_text("mine")
    assert "is there already" in layup("export", BAD, str(target), code=3)[1]
    assert target.read_text() == "mine"
    layup("export", BAD, str(target), "--force")
    assert target.read_text(encoding="utf-8").startswith("# Touring")


@pytest.mark.parametrize(
    ("name", "code", "words"), [("r.xyz", 2, "ends in .html, .md, .csv, .jsonl"), ("no/r.md", 3, "cannot be")]
)
def test_export_says_what_it_cannot_write(layup, tmp_path: Path, name: str, code: int, words: str) -> None:
    assert words in layup("export", BAD, str(tmp_path / name), code=code)[1]
    assert not list(tmp_path.glob("*.x*")) + list(tmp_path.glob(".*"))


def test_outcome_records_words_notes_and_measurements_that_the_review_shows(layup, root: Path) -> None:
    words = ["tacky", "--notes", "left tip", "--part", "2.75 kg", "--dry", "2100 g", "--left", "40"]
    said = layup("outcome", GOOD, *words, "--thickness", "1.6 mm", "--coupon", "10 g", "6.0 g", "--in-water", "3.75 g")[
        0
    ]
    assert said.count("recorded: ") == 4
    state = stored_session(root / "sessions" / GOOD).state
    assert state.outcome is not None
    assert (state.outcome.tags, state.outcome.notes) == (("tacky",), "left tip")
    assert state.weighed is not None
    assert (state.weighed.part_g, state.weighed.left_g) == (2750.0, 40.0)
    text = layup("review", GOOD)[0]
    assert "burnt off" in text
    assert "thickness" in text
    assert "outcome: tacky" in text


def test_outcome_keeps_words_of_one_s_own_and_asks_about_near_misses(layup) -> None:
    assert "did you mean 'delamination'" in layup("outcome", GOOD, "delaminatoin")[0]
    assert "note:" not in layup("outcome", GOOD, "good", *DEFECTS)[0]


def test_a_second_outcome_says_what_it_replaces_and_keeps_the_notes_and_words_that_are_not_given_anew(
    layup, root: Path
) -> None:
    def kept() -> tuple[tuple[str, ...], str]:
        outcome = stored_session(root / "sessions" / GOOD).state.outcome
        assert outcome is not None
        return outcome.tags, outcome.notes

    layup("outcome", GOOD, "good", "--notes", "tip a little soft")
    said = layup("outcome", GOOD, "tacky", "--part", "2750 g", "--dry", "2100 g")[0]
    assert "recorded: outcome: tacky - tip a little soft\n  instead of: outcome: good - tip a little soft" in said
    assert kept() == (("tacky",), "tip a little soft")
    layup("outcome", GOOD, "--notes", "soft all over")
    assert kept() == (("tacky",), "soft all over")
    layup("outcome", GOOD, "--notes", "")
    assert kept() == (("tacky",), "")
    again = layup("outcome", GOOD, "--part", "2760 g", "--dry", "2100 g")[0]
    assert "recorded: part 2760 g, its dry pieces 2100 g\n  instead of: part 2750 g, its dry pieces 2100 g" in again
    assert kept() == (("tacky",), ""), "a weighing leaves the outcome as it is"


def test_a_mistyped_word_is_kept_with_the_rest_and_the_command_that_puts_it_right_is_said(layup, root: Path) -> None:
    said = layup("outcome", GOOD, "dri spot", "Void", "--notes", "left tip", "--thickness", "1.6 mm")[0]
    assert said.count("recorded: ") == 2
    assert "recorded: outcome: dri spot, void - left tip" in said
    assert "'dri spot' is a word of your own; did you mean 'dry spot'?" in said
    assert f"all is kept as you typed it; this replaces the words only: layup outcome {GOOD} 'dry spot' void" in said
    layup("outcome", GOOD, "dry spot", "void")
    state = stored_session(root / "sessions" / GOOD).state
    assert state.outcome is not None
    assert (state.outcome.tags, state.outcome.notes) == (("dry spot", "void"), "left tip")
    assert len(state.thicknesses) == 1


def test_a_word_that_people_say_for_a_defect_is_kept_and_the_known_one_is_asked_about(layup) -> None:
    said = layup("outcome", GOOD, "dry", "left edge", "Delam")[0]
    assert "recorded: outcome: dry, left edge, Delam" in said
    assert "'dry' is a word of your own; did you mean 'dry spot'?" in said
    assert f"this replaces the words only: layup outcome {GOOD} 'dry spot' 'left edge' delamination" in said
    assert "'left edge' is a word" not in said


def test_notes_that_do_not_fit_are_cut_and_that_is_said(layup) -> None:
    assert "the last 5 characters did not fit" in layup("outcome", GOOD, "--notes", "x" * 20_005)[0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "says nothing"),
        (["", " "], "says nothing"),
        (["good", "--left", "40 g"], f'layup outcome {GOOD} --part "... g" --dry "... g" --left "40 g"'),
        (["good", "--part", "2 kg"], f'layup outcome {GOOD} --part "2 kg" --dry "... g"'),
        (["--part", "2 kg"], "needs both --part and --dry"),
        (["--left", "40 g"], "needs both --part and --dry"),
        (["--in-water", "4 g"], "without its coupon"),
        (["--part", "1 kg", "--dry", "2 kg"], "weighs no less than its dry pieces"),
        (["--coupon", "5 g", "6 g"], "weighs less than the coupon"),
        (["--thickness", "5 m"], "thickness_m"),
        (["--part", "2 m", "--dry", "2 kg"], "mass"),
    ],
)
def test_outcome_refuses_what_cannot_be_right_and_records_nothing(
    layup, root: Path, words: list[str], said: str
) -> None:
    journal = root / "sessions" / GOOD / "journal.jsonl"
    before = journal.read_bytes()
    error = layup("outcome", GOOD, *words, code=2)[1]
    assert said in error
    assert error.startswith("nothing was recorded:\n")
    assert journal.read_bytes() == before


def test_outcome_of_a_part_that_is_not_closed_yet_is_refused(layup, root: Path) -> None:
    folder = root / "sessions" / GOOD
    lines = (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)
    (folder / "journal.jsonl").write_bytes(b"".join(line for line in lines if b'"press-closed"' not in line))
    assert "the press is not closed yet" in layup("outcome", GOOD, "--thickness", "1.6 mm", code=2)[1]


def test_every_command_of_the_review_shows_an_example_in_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    for name in NAMES:
        with pytest.raises(SystemExit, match="0"):
            cli._run_command(name, ["--help"])
        assert f"layup {name} " in capsys.readouterr().out


def test_the_published_demo_sessions_can_be_reviewed_in_place() -> None:
    assert {folder.name for folder in SESSIONS.glob("2026-*")} >= {GOOD, BAD}


def test_compare_lays_two_days_over_each_other_at_first_contact_or_at_the_closing(layup) -> None:
    text = layup("compare", GOOD, BAD, "--align", "closing")[0]
    assert "0 press closed" in text
    assert "B spare" in text
    data = json.loads(layup("compare", GOOD, BAD, "--align", "contact", "--json")[0])
    lower = next(step for step in data["aligned"]["steps"] if step["name"] == "Lower glass")
    assert lower["right_end_min"] - lower["right_begin_min"] == pytest.approx(19.0, abs=0.5)
    assert lower["spare_difference_min"] == pytest.approx(lower["right_spare_min"] - lower["left_spare_min"])
    assert data["not_compared"] == []
    assert json.loads(layup("compare", GOOD, BAD, "--json")[0])["aligned"] is None
    assert "wants two days" in layup("compare", GOOD, "touring-skis", "--align", "contact", code=2)[1]
