"""What may stand in a workshop beside good files: no pipe, loop, folder or name stops or hangs anything."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from app_driver import begin_day, press, running, said, words
from command_line import ask_in
from machine_clock import MachineClock
from session_examples import NOON, journal_bytes, mixed, start

from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.files.toml import read_plain
from layup.files.workshop import Workshop, new_workshop
from layup.review.lessons import workshop_lessons
from layup.session.day_events import Note, TemperatureRead
from layup.session.journal import Journal
from layup.session.reader import read_journal
from layup.session.records import RECORDS
from layup.session.text import NOTE_LIMIT

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs pipes and links")
ODD: dict[str, Callable[[Path], object]] = {
    "pipe": os.mkfifo,
    "folder": Path.mkdir,
    "broken link": lambda path: path.symlink_to("nowhere"),
    "loop of links": lambda path: path.symlink_to(path.name),
    "link to a device": lambda path: path.symlink_to("/dev/zero"),
    "link to its folder": lambda path: path.symlink_to("."),
    "empty file": Path.touch,
}
NOT_UTF8 = os.fsdecode(b"gr\xf6\xdfe \x1b[2J\n")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Make a workshop with one session."""
    new_workshop(tmp_path / "w")
    with Journal.create(tmp_path / "w" / "sessions" / "2026-03-07-skis", MachineClock(NOON), start()) as journal:
        journal.append(mixed(1))
    return tmp_path / "w"


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("place", ["resins/odd.toml", "sessions/touring-skis/odd.toml", "sessions/odd"])
def test_an_odd_file_is_named_and_the_rest_is_used(shop: Path, odd: str, place: str) -> None:
    before = ask_in(shop, "check")
    ODD[odd](shop / place)
    answer = ask_in(shop, "check")
    assert answer.code == (before.code if odd in ("folder", "link to its folder") or "." not in place else 2)
    assert before.out.splitlines()[:-1] == [line for line in answer.out.splitlines()[:-1] if "odd.toml" not in line]
    assert Workshop(shop).plan("touring-skis").steps
    assert ask_in(shop, "mix", "slow-laminating", "250 g").code == 0
    assert ask_in(shop, "learn", "--json").data["sessions"] == 0, "it has no plan"
    assert len(Workshop(shop).resins()) == 5
    assert ask_in(shop, "plan", str(shop / place)).code in (2, 3)


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", [JOURNAL, "plan.toml", "resin.toml", "journal.lock"])
def test_an_odd_file_in_place_of_a_sessions_own_is_told(shop: Path, odd: str, name: str) -> None:
    folder = shop / "sessions" / "2026-03-07-skis"
    (folder / name).unlink(missing_ok=True)
    ODD[odd](folder / name)
    for asked in (("review", folder.name), ("export", folder.name, "x.csv"), ("check", str(folder)), ("learn",)):
        answer = ask_in(shop, *asked)
        assert answer.code in (0, 2, 3)
        assert "Traceback" not in answer.err
    if name == JOURNAL and odd != "empty file":
        with pytest.raises(StorageError, match=r"journal\.jsonl: (cannot be|does not exist)"):
            Journal.open(folder, MachineClock(NOON))
    elif name == "journal.lock" and odd not in ("broken link", "link to a device", "empty file", "pipe"):
        with pytest.raises(StorageError, match=r"cannot be written|is no file of its own \(a link to another\)"):
            Journal.open(folder, MachineClock(NOON))


def test_names_that_are_no_text_are_shown_harmlessly(shop: Path) -> None:
    (shop / "resins" / f"{NOT_UTF8}.toml").write_text("id = 3", encoding="utf-8")
    folder = shop / "sessions" / NOT_UTF8
    (shop / "sessions" / "2026-03-07-skis").rename(folder)
    (folder / JOURNAL).write_bytes((folder / JOURNAL).read_bytes() + b"torn")
    for asked in (("check",), ("check", "--json"), ("review",), ("review", "--json"), ("review", NOT_UTF8), ("learn",)):
        answer = ask_in(shop, *asked)
        assert answer.code in (0, 2)
        assert (answer.out + answer.err).replace("\n", "").isprintable()
    assert ask_in(shop, "check").out.count("gr\\udcf6\\udcdfe \\x1b[2J\\n") >= 2
    assert ask_in(shop, "export", NOT_UTF8, "x.html").code == 0


@pytest.mark.parametrize("code", [errno.EIO, errno.EACCES, errno.ENOENT, errno.EMFILE])
def test_a_file_that_fails_while_it_is_read_is_named(shop: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    opened = os.open

    def fail(path: object, *rest: int) -> int:
        if str(path).endswith(("slow-laminating.toml", JOURNAL)):
            raise OSError(code, os.strerror(code), str(path))
        return opened(path, *rest)  # type: ignore[arg-type]  # any arguments of `open`, passed on

    monkeypatch.setattr(os, "open", fail)
    answer = ask_in(shop, "check")
    assert answer.code == 2
    assert "slow-laminating.toml:1: cannot be read" in answer.out
    assert f"{JOURNAL}:1: " in answer.out
    assert os.strerror(code) in answer.out
    assert ask_in(shop, "plan", "touring-skis").code in (2, 3)
    assert ask_in(shop, "review", "2026-03-07-skis").code == 3
    assert len(Workshop(shop).resins()) == 4
    assert any(JOURNAL in str(problem) for problem in workshop_lessons(Workshop(shop)).problems)


def test_a_file_is_read_no_further_than_wanted(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"x" * 1000)
    assert len(read_plain(tmp_path / "x", most=10)) == 10
    with pytest.raises(OSError, match="it is a pipe or a device"):
        read_plain(Path("/dev/zero"))


LONG_NOTE = "🎿e\u0301\u202eabc\u200f👩‍🔧\x1b[2J\t" * 3000
"""Longer than a note may be, with emoji, combining marks, changes of direction and control codes."""


async def test_a_note_far_too_long_and_full_of_marks_is_kept_as_far_as_it_goes(shop: Path) -> None:
    async with running(shop, clock=MachineClock(NOON)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "n")
        app.screen.focused.value = LONG_NOTE  # as pasted
        await press(app, pilot, "enter")
        (note,) = app.day.state.notes
        assert len(note.text) == NOTE_LIMIT
        assert "\u202e" not in note.text
        assert "\x1b" not in note.text
        assert "did not fit" in said(app)
        for place in ("b", "l", "m", "s"):
            await press(app, pilot, place)
        folder = app.day.folder
    assert [r.text for r in read_journal(folder)[0] if isinstance(r, Note)] == [note.text]
    for asked in (("review", folder.name), ("export", folder.name, "x.html"), ("review", "--search", "abc")):
        assert ask_in(shop, *asked).code == 0


async def test_a_journal_of_twenty_thousand_events_opens_in_the_app(shop: Path) -> None:
    folder = shop / "sessions" / "2026-03-07-skis"
    copies = {"plan.toml": "sessions/touring-skis/plan.toml", "resin.toml": "resins/slow-laminating.toml"}
    for name, source in copies.items():
        (folder / name).write_bytes((shop / source).read_bytes())
    begun = read_journal(folder)[0]
    reading = TemperatureRead(place="mould", temperature_K=290.0)
    record = RECORDS[reading.event].model_validate({"seq": 1, "at": NOON, "elapsed_s": 0.0} | dict(reading))
    readings = (record.model_copy(update={"seq": n, "elapsed_s": n / 20}) for n in range(len(begun) + 1, 20_001))
    (folder / JOURNAL).write_bytes(journal_bytes([*begun, *readings]))
    async with running(shop, clock=MachineClock(NOON, monotonic_s=2000.0)) as (app, pilot):
        assert app.day is not None
        assert len(app.day.state.records) == 20_001
        await press(app, pilot, "d", "y", "b")  # its batch was never read: laid all the same
        assert "PRESS BY" in words(app, "#top")
    assert not isinstance(read_journal(folder)[0][-1], TemperatureRead)
