"""`layup check`: every problem at once, with its file and its line; nothing is changed."""

import os
from pathlib import Path

import pytest
from command_line import HOTTER_AND_LONGER
from session_examples import NOON, mixed, start

from layup.files.drafts import Draft
from layup.session.clock import ManualClock
from layup.session.journal import Journal
from layup.session.reader import read_journal

PLAN = "sessions/touring-skis/plan.toml"
RESIN = "resins/slow-laminating.toml"
JOURNAL = "sessions/2026-03-07-skis/journal.jsonl"


@pytest.fixture
def pressed(workshop):
    """Add a session that the program itself wrote; return its journal."""
    with Journal.create(workshop / "sessions/2026-03-07-skis", ManualClock(NOON), start()) as journal:
        journal.append(mixed(1))
    return workshop / JOURNAL


def test_the_demo_has_no_problems(say, pressed):
    assert pressed.is_file()
    answer = say("check")
    assert (answer.code, answer.out, answer.err) == (0, "no problems\n", "")
    assert say("check", "--json").data == {"problems": [], "count": 0, "drafts": [], "castings": [], "assumptions": []}


def test_a_draft_that_was_left_in_a_form_is_named(say, workshop):
    path = workshop / RESIN
    for draft in (Draft(workshop, "resin", path), Draft(workshop, "plan", None)):
        draft.change("half typed")
        draft.keep()
    answer = say("check")
    assert answer.out.splitlines() == [
        "a draft waits, not checked: board new (F in the app)",
        "a draft waits, not checked: resin slow-laminating (7 in the app)",
        "no problems",
    ]
    assert answer.code == 0
    assert say("check", "--json").data["drafts"] == ["board new", "resin slow-laminating"]
    assert say("check", RESIN).out == "no problems\n", "of one file nothing else is said"


@pytest.mark.usefixtures("pressed")
def test_problems_of_all_files_come_at_once_one_a_line(say, edit):
    places = [
        (RESIN, edit(RESIN, "hardener = 30", "hardener = 0"), "ratio.hardener"),
        (PLAN, edit(PLAN, "people = 2", "people = 99"), "people"),
        (PLAN, edit(PLAN, 'capacity = "5 kg"', 'capacity = "5 m"'), "scale.capacity"),
        (PLAN, edit(PLAN, "largest =", "largets ="), "cups.largets"),
    ]
    answer = say("check")
    said = answer.out.splitlines()
    assert answer.code == 2
    assert said[-1] == "4 problems"
    assert sorted(line.split(" ")[0] for line in said[:-1]) == sorted(f"{f}:{n}:" for f, n, _ in places)
    data = say("check", "--json").data
    assert {(each["file"], each["line"], each["key"]) for each in data["problems"]} == set(places)
    assert all(each["message"] and each["hint"] for each in data["problems"])
    assert data["count"] == 4


def test_one_problem_stays_on_one_line_however_long_its_path(say, edit, monkeypatch):
    line = edit(PLAN, "people = 2", "people = 99")
    monkeypatch.setenv("COLUMNS", "30")
    said = say("check").out.splitlines()
    assert said == [f"{PLAN}:{line}: people: is out of range (99) - must be between 1 and 20", "1 problem"]


def test_a_last_line_that_lacks_only_its_end_is_reported_and_counts(say, pressed):
    whole = pressed.read_bytes()
    pressed.write_bytes(whole[:-1])
    assert f"{JOURNAL}:{whole.count(10)}: the line end of the last line is lost - it counts" in say("check").out
    assert len(read_journal(pressed.parent)[0]) == whole.count(10)


@pytest.mark.parametrize("cut", [2, 3, 40])
def test_a_torn_journal_line_is_reported_and_kept(say, pressed, cut):
    torn = pressed.read_bytes()[:-cut]
    pressed.write_bytes(torn)
    answer = say("check")
    assert answer.code == 2
    assert f"{JOURNAL}:{torn.count(10) + 1}: the last line is torn" in answer.out
    assert "it is set aside when the day goes on" in answer.out
    assert pressed.read_bytes() == torn
    assert not list(pressed.parent.glob("*torn*"))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"\x00\xff\x1b[2J\n", "the line cannot be read"),
        (b'{"v":1,"seq":1,"at":"2026-03-07T12:00:00Z","elapsed_s":0,"event":"note","text":"x"}\n', "seq is 1 after"),
        (b'{"v":1,"seq":99,"at":"2026-03-07T12:00:00Z","elapsed_s":9,"event":"levitated"}\n', "newer version"),
    ],
)
def test_a_damaged_journal_line_is_reported_with_its_number(say, pressed, line, words):
    whole = pressed.read_bytes()
    pressed.write_bytes(whole + line)
    answer = say("check", JOURNAL)
    assert answer.code == 2
    assert answer.out.startswith(f"{JOURNAL}:{whole.count(10) + 1}: ")
    assert words in answer.words
    assert "\x1b" not in answer.out
    assert pressed.read_bytes() == whole + line


def test_files_and_folders_can_be_named(say, edit):
    edit(PLAN, "people = 2", "people = 99")
    assert say("check", RESIN).code == 0
    assert say("check", "resins").code == 0
    assert say("check", PLAN).code == 2
    assert say("check", RESIN, "sessions").code == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xff\xfe\x00", ":1: is not UTF-8 text (byte 0xff) - save it as UTF-8"),
        (b"", "title is missing"),
        (b"title = 'x'\ntitle = 'y'\n", "is not valid TOML"),
        (b"x" * 1_100_000, "is larger than 1 MB"),
    ],
)
def test_what_is_no_plan_file_is_told_in_words(say, workshop, data, words):
    (workshop / PLAN).write_bytes(data)
    answer = say("check")
    assert answer.code == 2
    assert answer.out.startswith(f"{PLAN}:")
    assert words in answer.words


def test_what_only_the_model_sees_is_found_too(say, edit):
    edit(RESIN, "[[film]]", HOTTER_AND_LONGER)
    answer = say("check")
    assert answer.code == 2
    assert f"{RESIN}:" in answer.out
    assert "pot life grows with temperature" in answer.words


def test_a_warning_is_called_one(say, edit):
    line = edit(RESIN, "hardener = 30", "hardener = 40")
    answer = say("check")
    assert answer.code == 2
    assert f"{RESIN}:{line - 3}: warning: " in answer.out


def test_a_missing_file_is_a_matter_of_files(say):
    answer = say("check", PLAN, "nowhere.toml")
    assert (answer.code, answer.complaint) == (3, "file: is not there (nowhere.toml) - check the path\n")


def test_a_folder_that_is_no_workshop_is_named(say, tmp_path):
    answer = say("check", "--workshop", str(tmp_path / "nowhere"))
    assert answer.code == 3
    assert f"{tmp_path}/nowhere/resins: cannot be read (No such file or directory) - go to a folder" in answer.complaint


def test_a_file_in_place_of_the_sessions_is_no_workshop(say, workshop):
    (workshop / "sessions").rename(workshop / "away")
    (workshop / "sessions").write_text("")
    answer = say("check")
    assert answer.code == 3
    assert "sessions: cannot be read (Not a directory) - go to a folder with resins and sessions" in answer.complaint


def test_a_file_that_may_not_be_read_is_told_beside_all_other_problems(say, edit, monkeypatch):
    edit("resins/fast-laminating.toml", "hardener = ", "hardner = ")
    opened = os.open

    def refuse(path, *args, **options):
        if str(path).endswith("plan.toml"):
            raise PermissionError(13, "Permission denied", str(path))
        return opened(path, *args, **options)

    monkeypatch.setattr(os, "open", refuse)
    answer = say("check")
    assert answer.code == 2
    assert "did you mean hardener?" in answer.out
    assert f"{PLAN}:1: cannot be read (Permission denied) - check the name and the permissions\n" in answer.out
    answer = say("check", PLAN)
    assert answer.code == 3
    assert answer.complaint == f"{PLAN}: cannot be read (Permission denied) - check the name and the permissions\n"


def test_a_folder_that_may_not_be_read_is_a_matter_of_files(say, monkeypatch):
    listed = Path.iterdir

    def refuse(path):
        if path.name == "sessions":
            raise PermissionError(13, "Permission denied", str(path))
        return listed(path)

    monkeypatch.setattr(Path, "iterdir", refuse)
    answer = say("check")
    assert answer.code == 3
    assert answer.complaint.startswith("sessions: cannot be read (Permission denied) - ")


def test_a_name_with_control_codes_cannot_steer_the_terminal(say, workshop):
    folder = workshop / "sessions/\x1b[31mred\x07"
    folder.mkdir()
    (folder / "journal.jsonl").write_text("torn")
    for words in (("check",), ("check", "--json"), ("plan", "nothing"), ("press", "nothing")):
        answer = say(*words)
        assert answer.code == 2
        assert "\\x1b[31mred\\x07" in (answer.out + answer.err).replace("\\u001b", "\\x1b").replace("\\u0007", "\\x07")
        assert not {"\x1b", "\x07"} & set(answer.out + answer.err)
