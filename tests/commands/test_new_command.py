"""`layup new`: a workshop that works, and nothing that is there is overwritten."""

import shutil
import sys
from pathlib import Path

import pytest
from command_line import ask_in

from layup.commands import new
from layup.commands.app import way_back
from layup.files.workshop import Workshop, demo_root


@pytest.fixture(autouse=True)
def called(monkeypatch):
    """Call the program by its name."""
    monkeypatch.setattr(sys, "argv", ["layup"])


def test_a_new_workshop_holds_the_demo_resins_and_a_plan_to_start_from(say, tmp_path):
    answer = say("new", str(tmp_path / "shed"))
    assert answer.code == 0
    assert f"made {tmp_path}/shed: resins/" in answer.out
    assert f"next: layup --workshop {tmp_path}/shed\n" in answer.out
    shop = Workshop(tmp_path / "shed")
    assert shop.resin_ids() == Workshop(demo_root()).resin_ids()
    assert "touring-skis" in shop.session_names()
    assert say("check", "--workshop", str(tmp_path / "shed")).out == "no problems\n"


def test_a_name_with_a_blank_can_be_typed_as_it_is_shown(say, tmp_path):
    assert f"next: layup --workshop '{tmp_path}/my shed'\n" in say("new", str(tmp_path / "my shed")).out


def test_the_next_line_calls_the_program_as_it_was_called(say, tmp_path, monkeypatch):
    bin_folder = tmp_path / "a clone/bin"
    bin_folder.mkdir(parents=True)
    for name in ("layup", "__main__.py"):
        (bin_folder / name).touch(mode=0o755)
    called = bin_folder / "layup"
    monkeypatch.setattr(sys, "argv", [str(called)])
    monkeypatch.setenv("PATH", "")
    assert f"next: '{called}' --workshop {tmp_path}/one\n" in say("new", str(tmp_path / "one")).out
    monkeypatch.setenv("PATH", str(bin_folder))
    assert f"next: layup --workshop {tmp_path}/two\n" in say("new", str(tmp_path / "two")).out
    monkeypatch.setattr(sys, "argv", [str(bin_folder / "__main__.py")])
    assert f"next: {sys.executable} -m layup --workshop {tmp_path}/three\n" in say("new", str(tmp_path / "three")).out


def test_a_workshop_made_here_is_opened_here(tmp_path):
    assert ask_in(tmp_path, "new", ".").out.endswith("next: layup\n")


def test_no_pressed_session_comes_along(say, tmp_path):
    say("new", str(tmp_path / "shed"))
    assert not list((tmp_path / "shed").rglob("journal.jsonl"))


def test_a_new_workshop_may_go_into_a_folder_with_other_things_and_below_new_ones(say, tmp_path):
    (tmp_path / "shed").mkdir()
    (tmp_path / "shed/notes.txt").write_text("mine")
    assert say("new", str(tmp_path / "shed")).code == 0
    assert (tmp_path / "shed/notes.txt").read_text() == "mine"
    assert say("new", str(tmp_path / "a/b/c")).code == 0


def test_a_session_that_is_not_in_the_workshop_is_named_on_the_way_back():
    assert way_back("shed", Path("shed/sessions/one")) == "layup --workshop shed"
    assert way_back(".", Path("sessions/one")) == "layup"
    assert way_back("shed", Path("other/one day")) == "layup press 'other/one day' --workshop shed"


@pytest.mark.parametrize("there", ["resins", "sessions"])
def test_nothing_that_is_there_is_overwritten(say, tmp_path, there):
    (tmp_path / "shed" / there).mkdir(parents=True)
    (tmp_path / "shed" / there / "mine.toml").write_text("mine")
    answer = say("new", str(tmp_path / "shed"))
    assert answer.code == 3
    assert f"{tmp_path}/shed: is a workshop already ({there}) - open it with 'layup --workshop" in answer.complaint
    assert [path.name for path in (tmp_path / "shed").rglob("*")] == [there, "mine.toml"]


def test_a_file_in_the_way_is_left_alone(say, tmp_path):
    (tmp_path / "shed").write_text("mine")
    for folder in ("shed", "shed/below"):
        answer = say("new", str(tmp_path / folder))
        assert answer.code == 3
        assert f"{tmp_path / folder}: cannot be written (" in answer.complaint
    assert (tmp_path / "shed").read_text() == "mine"


def test_a_folder_that_may_not_be_written_is_a_matter_of_files(say, tmp_path, monkeypatch):
    def refuse(_source, target):
        raise PermissionError(13, "Permission denied", str(target))

    monkeypatch.setattr(shutil, "copyfile", refuse)
    answer = say("new", str(tmp_path / "shed"))
    assert answer.code == 3
    assert answer.complaint == f"{tmp_path}/shed: cannot be written (Permission denied) - choose a folder of your own\n"
    assert not (tmp_path / "shed").exists()


@pytest.mark.parametrize("name", ["shed", "shed/deep/in", "mine"])
def test_a_disk_that_fills_up_leaves_no_half_of_a_workshop(say, tmp_path, monkeypatch, name):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/notes.txt").write_text("mine")
    copy, copied = shutil.copyfile, []

    def fill(source, target):
        if len(copied) == 3:
            raise OSError(28, "No space left on device", str(target))
        copied.append(copy(source, target))

    monkeypatch.setattr(shutil, "copyfile", fill)
    before = sorted(tmp_path.rglob("*"))
    answer = say("new", str(tmp_path / name))
    assert (answer.code, len(copied)) == (3, 3)
    assert "cannot be written (No space left on device)" in answer.complaint
    assert sorted(tmp_path.rglob("*")) == before
    monkeypatch.undo()
    assert say("new", str(tmp_path / name)).code == 0


def test_a_workshop_whose_second_half_cannot_be_moved_in_has_no_first_half(say, tmp_path, monkeypatch):
    move = Path.rename

    def refuse(self, target):
        if self.name == "sessions":
            raise OSError(5, "Input/output error", str(target))
        return move(self, target)

    monkeypatch.setattr(Path, "rename", refuse)
    assert say("new", str(tmp_path / "shed")).code == 3
    assert not (tmp_path / "shed").exists()


def test_a_name_too_long_for_a_file_system_is_refused_in_words(say):
    answer = say("new", "x" * 300)
    assert answer.code == 3
    assert "File name too long" in answer.complaint


def test_a_name_in_no_encoding_is_shown_by_its_bytes(say):
    answer = say("new", "shed\udcff")
    assert answer.code == 0
    assert answer.out.startswith("made shed\\udcff: ")


def test_a_folder_is_needed(say):
    answer = say("new")
    assert answer.code == 2
    assert "the following arguments are required: DIR - see 'layup new --help'" in answer.complaint


def test_new_without_a_folder_asks_the_same_on_a_terminal_and_not_in_a_workshop(say, workshop, monkeypatch):
    opened = []
    monkeypatch.setattr(new, "has_terminal", lambda: True)
    monkeypatch.setattr(new, "open_app", lambda root, args: opened.append((root, args.watch)) or 0)
    answer = say("new")
    assert (answer.code, opened) == (3, [])
    assert ".: is a workshop already (resins, sessions) - open it with 'layup" in answer.complaint
    for folder in ("resins", "sessions"):
        shutil.rmtree(workshop / folder)
    assert say("new").code == 0
    assert opened == [(".", False)]
