"""Files that commands write: new, whole, and never over what a workshop reads."""

import errno
import os
import shutil
from pathlib import Path

import pytest
from command_line import ask_in

import layup.commands
from layup.commands.command import write_output
from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.files.workshop import demo_root

SESSION = "2026-03-07-touring-skis-168"
SHEET = ("sheet", "touring-skis", "--batch", "1")


@pytest.fixture
def shop(tmp_path):
    """Make a workshop with sessions, and beside a plan all else that a workshop may read."""
    root = tmp_path / "shop"
    for name in ("resins", "sessions"):
        shutil.copytree(demo_root() / name, root / name, ignore=shutil.ignore_patterns(".index.json"))
    for name in ("outline.csv", "outline.dxf", "outline.svg", "forecast.csv"):
        (root / "sessions" / "touring-skis" / name).write_text("0, 100\n", encoding="utf-8")
    (root / "stock.toml").write_text("", encoding="utf-8")
    (root / "sessions" / SESSION / "journal.lock").write_text("", encoding="utf-8")
    return root


def kept(root):
    return {
        path.relative_to(root): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file() and path.name != ".index.json"
    }


@pytest.mark.parametrize("force", [(), ("--force",)])
@pytest.mark.parametrize("command", [(*SHEET, "--html"), ("export", SESSION)])
def test_no_file_of_a_workshop_is_replaced_by_any_command_and_option(shop, command, force):
    before = kept(shop)
    assert len(before) > 10
    for name in before:
        answer = ask_in(shop, *command, str(name), *force)
        assert answer.code in (2, 3), name
        assert "Traceback" not in answer.err
    assert kept(shop) == before


@pytest.mark.parametrize("name", [JOURNAL, "Journal.JSONL"])
def test_a_draft_gets_no_journal_from_an_export(shop, name):
    answer = ask_in(shop, "export", SESSION, f"sessions/touring-skis/{name}", "--force")
    assert answer.code == 3
    assert (
        "is a name that the workshop reads - choose another name; a journal is only ever added to" in answer.complaint
    )
    assert not (shop / "sessions" / "touring-skis" / name).exists()


@pytest.mark.parametrize("name", ["out.csv", "out.jsonl", "out.md", "out.html"])
def test_an_earlier_export_is_replaced_when_told_and_only_then(shop, name):
    assert ask_in(shop, "export", SESSION, name).code == 0
    first = (shop / name).read_bytes()
    other = "2026-02-21-touring-skis-168"
    refused = ask_in(shop, "export", other, name)
    assert refused.code == 3
    assert "is there already - choose another name, or replace it with --force" in refused.complaint
    assert (shop / name).read_bytes() == first
    assert ask_in(shop, "export", other, name, "--force").code == 0
    assert (shop / name).read_bytes() != first
    assert [path.name for path in shop.glob(".*")] == []


def test_a_sheet_replaces_an_earlier_one_when_told_and_only_then(shop):
    (shop / "wall.html").write_text("mine", encoding="utf-8")
    assert "is there already" in ask_in(shop, *SHEET, "--html", "wall.html").complaint
    assert (shop / "wall.html").read_text(encoding="utf-8") == "mine"
    assert ask_in(shop, *SHEET, "--html", "wall.html", "--force").code == 0
    assert "<html" in (shop / "wall.html").read_text(encoding="utf-8")


def test_a_file_that_only_looks_like_an_output_is_kept(tmp_path):
    for name, text in (("log.csv", "time_s,temperature_K\n"), ("log.jsonl", '{"v":1,"seq":1}\n'), ("short.csv", "")):
        (tmp_path / name).write_text(text, encoding="utf-8")
        with pytest.raises(StorageError, match="is not an earlier export - choose another name: it may be a drawing"):
            write_output(tmp_path / name, b'{"kind": "session", "session": "x"}', force=True)
        assert (tmp_path / name).read_text(encoding="utf-8") == text


def test_nothing_is_written_through_a_link(tmp_path):
    (tmp_path / "precious").write_text("mine", encoding="utf-8")
    (tmp_path / "soft.html").symlink_to(tmp_path / "precious")
    (tmp_path / "hard.html").hardlink_to(tmp_path / "precious")
    (tmp_path / "loose.html").symlink_to(tmp_path / "nowhere")
    for name, force in (("soft.html", True), ("soft.html", False), ("loose.html", True), ("loose.html", False)):
        with pytest.raises(StorageError, match="is a link" if force else "is there already"):
            write_output(tmp_path / name, b"<html>", force=force)
    write_output(tmp_path / "hard.html", b"<html>", force=True)
    assert (tmp_path / "precious").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("links", [True, False])
def test_a_name_taken_by_another_program_meanwhile_stays_its_own(tmp_path, monkeypatch, links):
    path = tmp_path / "r.md"
    path.write_text("mine", encoding="utf-8")
    monkeypatch.setattr(os.path, "lexists", lambda _: False)  # looked at before the other program came
    if not links:
        monkeypatch.setattr(os, "link", _no_links)
    with pytest.raises(StorageError, match="is there already"):
        write_output(path, b"ours", force=False)
    assert path.read_text(encoding="utf-8") == "mine"
    assert [each.name for each in tmp_path.iterdir()] == ["r.md"]


def test_a_disk_without_links_is_written_as_well(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "link", _no_links)
    write_output(tmp_path / "r.md", b"ours", force=False)
    assert (tmp_path / "r.md").read_bytes() == b"ours"
    assert [each.name for each in tmp_path.iterdir()] == ["r.md"]


def _no_links(*_):
    raise OSError(errno.EPERM, "Operation not permitted")


@pytest.mark.parametrize("force", [True, False])
def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch, force):
    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    (tmp_path / "old.md").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StorageError, match=r"cannot be written \(No space left on device\)"):
        write_output(tmp_path / ("old.md" if force else "new.md"), b"ours", force=force)
    assert [each.name for each in tmp_path.iterdir()] == ["old.md"]
    assert (tmp_path / "old.md").read_text(encoding="utf-8") == "mine"


def test_one_module_writes_what_commands_are_asked_for():
    folder = Path(layup.commands.__file__).parent
    writers = {
        path.name
        for path in folder.glob("*.py")
        if any(
            call in path.read_text(encoding="utf-8")
            for call in (" put(", ".write_bytes(", ".write_text(", 'open("x', 'open("w')
        )
    }
    assert writers == {"command.py"}
