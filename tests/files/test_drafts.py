"""A draft outlives the program, its steps back too; a file is written whole, and only where it may be."""

import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from layup.errors import InputError, StorageError
from layup.files.drafts import DRAFTS, Draft, keep_dials, kept_dials, save
from layup.files.resin_file import ResinFile, load_resin
from layup.files.workshop import demo_root
from layup.files.writing import written
from layup.planning.planner import Settings

RESIN = demo_root() / "resins" / "slow-laminating.toml"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    copy = tmp_path / "resins" / RESIN.name
    copy.parent.mkdir()
    copy.write_bytes(RESIN.read_bytes())
    return copy


def changed(draft: Draft, time_text: str) -> None:
    draft.change(written(draft.text, {("pot_life", 0, "time"): time_text}, ResinFile))


def test_a_draft_outlives_kill_9_with_its_steps_back(tmp_path: Path, path: Path) -> None:
    program = (
        "import os, signal, sys; from pathlib import Path; from layup.files.drafts import Draft\n"
        "draft = Draft(Path(sys.argv[1]), 'resin', Path(sys.argv[2]))\n"
        "for text in ('one = 1', 'two = 2'):\n    draft.change(text); draft.keep()\n"
        "os.kill(os.getpid(), signal.SIGKILL)"
    )
    done = subprocess.run([sys.executable, "-c", program, tmp_path, path], timeout=60, check=False)
    assert done.returncode == -signal.SIGKILL
    draft = Draft(tmp_path, "resin", path)
    assert (draft.resumed, draft.text) == (True, "two = 2")
    assert draft.undo()
    assert draft.text == "one = 1"
    assert draft.undo()
    assert not draft.undo()
    assert draft.text == RESIN.read_text(encoding="utf-8")
    draft.keep()
    assert not (tmp_path / ".drafts").exists(), "nothing is changed: nothing is kept"


def test_a_saved_file_is_read_with_what_was_changed_and_the_draft_is_gone(tmp_path: Path, path: Path) -> None:
    path.chmod(0o640)
    draft = Draft(tmp_path, "resin", path)
    changed(draft, "50 min")
    draft.keep()
    draft.save(path)
    sheet, problems = load_resin(path)
    assert sheet is not None
    assert not problems
    assert sheet.pot_lives[0].time_s == 3000.0
    assert path.read_text(encoding="utf-8") == RESIN.read_text(encoding="utf-8").replace('"45 min"', '"50 min"')
    assert path.stat().st_mode & 0o777 == 0o640
    assert [each.name for each in tmp_path.rglob("*") if each.is_file()] == [RESIN.name]


def test_line_ends_and_the_mark_of_another_editor_are_kept(tmp_path: Path, path: Path) -> None:
    raw = b"\xef\xbb\xbf" + RESIN.read_bytes().replace(b"\n", b"\r\n")
    path.write_bytes(raw)
    draft = Draft(tmp_path, "resin", path)
    changed(draft, "50 min")
    draft.save(path)
    assert path.read_bytes() == raw.replace(b'"45 min"', b'"50 min"')


def test_a_file_that_changed_meanwhile_is_not_overwritten(tmp_path: Path, path: Path) -> None:
    draft = Draft(tmp_path, "resin", path)
    changed(draft, "50 min")
    draft.keep()
    path.write_text("# mine\n", encoding="utf-8")
    with pytest.raises(StorageError, match="was changed by another program meanwhile"):
        draft.save(path)
    assert path.read_text(encoding="utf-8") == "# mine\n"
    assert not Draft(tmp_path, "resin", path).resumed, "a draft of another text is not taken up"
    again = Draft(tmp_path, "resin", path)
    assert not again.changed
    assert "50 min" in again.older, "and is not lost"
    assert Draft(tmp_path, "resin", None).older == ""


def test_a_new_file_never_takes_a_name_that_is_taken(tmp_path: Path, path: Path) -> None:
    draft = Draft(tmp_path, "resin", None)
    draft.change('id = "x"')
    with pytest.raises(InputError, match="is there already - choose another name"):
        draft.save(path)
    assert path.read_bytes() == RESIN.read_bytes()


@pytest.mark.parametrize("name", ["plan.toml", "resin.toml"])
def test_what_a_session_keeps_is_never_touched(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "sessions" / "2026-01-02-skis"
    folder.mkdir(parents=True)
    (folder / "journal.jsonl").write_text("", encoding="utf-8")
    (folder / name).write_text("a = 1\n", encoding="utf-8")
    with pytest.raises(StorageError, match="is kept by a session as it was used"):
        save(folder / name, "a = 2\n", before="a = 1\n")
    assert (folder / name).read_text(encoding="utf-8") == "a = 1\n"


def test_turned_dials_stand_but_where_the_plan_says_something_else_since(tmp_path: Path) -> None:
    stated = Settings("ours", 290.15, people=1, cup_g=400.0, fraction=0.5)
    turned = replace(stated, temperature_K=296.15, people=2, cans_K=300.15)
    keep_dials(tmp_path, "board", stated, turned)
    assert kept_dials(tmp_path, "board", stated) == turned
    assert kept_dials(tmp_path, "other", stated) == stated
    changed_since = replace(stated, people=3, fraction=0.45)
    assert kept_dials(tmp_path, "board", changed_since) == replace(turned, people=3, fraction=0.45)
    (kept,) = (tmp_path / DRAFTS).iterdir()
    kept.write_text("[{", encoding="utf-8")
    assert kept_dials(tmp_path, "board", stated) == stated, "half a file is none"
    kept.unlink()
    kept.mkdir()
    with pytest.raises(StorageError, match="cannot be written"):
        keep_dials(tmp_path, "board", stated, turned)
