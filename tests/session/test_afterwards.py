"""Photos, notes and measurements told afterwards: copied whole before they are named, and nothing lost where it fails.

A PNG begins with the eight bytes of ISO/IEC 15948, 5.2; a JPEG with SOI (FF D8) and a marker (ISO/IEC 10918-1, B.1.1).
"""

import errno
import os
import struct
import zlib
from hashlib import sha256
from pathlib import Path

import pytest
from session_examples import NOON, start

from layup import cli
from layup.bench.afterwards import MOST_BYTES, MOST_IN_ALL, MOST_PHOTOS, kept_photo, log_afterwards, read_photo
from layup.errors import InputError, StorageError
from layup.files import durable as disk
from layup.files.durable import JOURNAL
from layup.report.render import html
from layup.report.report_blocks import report_blocks, review_lines
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock
from layup.session.day_events import Note, SessionEnded, Undone
from layup.session.journal import Journal
from layup.session.state import Outcome, ThicknessMeasured


def png(width: int = 8, height: int = 6, shade: int = 120) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = b"".join(b"\0" + bytes([shade]) * width for _ in range(height))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


@pytest.fixture
def session(tmp_path: Path) -> Path:
    folder = tmp_path / "sessions" / "2026-03-07-board"
    with Journal.create(folder, ManualClock(NOON), start()) as journal:
        journal.append(SessionEnded())
    return folder


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "Dry spot, tip (1).PNG"
    path.write_bytes(png())
    return path


def add(folder: Path, *photos: tuple[Path, str]) -> list[str]:
    with Journal.open(folder, ManualClock(NOON)) as journal:
        return log_afterwards(journal, (), [read_photo(path, caption) for path, caption in photos])


def test_a_photo_is_copied_under_a_safe_name_and_named_in_the_journal(session: Path, picture: Path) -> None:
    jpeg = picture.with_name("größer.jpeg")
    jpeg.write_bytes(b"\xff\xd8\xff\xe0" + b"x" * 40)
    said = add(session, (picture, "the tip"), (jpeg, ""))
    assert said == ["recorded: photo 01-dry-spot-tip-1.png: the tip", "recorded: photo 02-groer.jpg"]
    copy = session / "photos" / "01-dry-spot-tip-1.png"
    assert copy.read_bytes() == png()
    state = stored_session(session).state
    entry = state.photos[0]
    assert (entry.file, entry.sha256, entry.caption) == (copy.name, sha256(png()).hexdigest(), "the tip")
    assert sorted(path.name for path in copy.parent.iterdir()) == [copy.name, "02-groer.jpg"]
    assert picture.read_bytes() == png(), "the picture itself stays where it is"


def test_the_copy_is_on_the_disk_before_the_journal_names_it(
    session: Path, picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed = []
    real = disk.sync_file

    def seen(fd: int) -> None:
        names = {path.name for path in (session / "photos").glob("*")}
        flushed.append((names, b"photo-added" in (session / JOURNAL).read_bytes()))
        real(fd)

    monkeypatch.setattr(disk, "sync_file", seen)
    add(session, (picture, ""))
    first = next(place for place, (names, _) in enumerate(flushed) if "01-dry-spot-tip-1.png" in names)
    assert [named for _, named in flushed[: first + 1]] == [False] * (first + 1)


def test_the_report_shows_photos_with_captions_and_the_review_names_them(session: Path, picture: Path) -> None:
    add(session, (picture, "tip <left>"))
    found = review(stored_session(session))
    page = html("t", report_blocks(found))
    assert '<img src="data:image/png;base64,iVBORw0KGgo' in page
    assert "<figcaption>tip &lt;left&gt;</figcaption>" in page
    assert "img-src data:;" in page, "the page's own policy lets the pictures in"
    assert "Photo of the part" not in page, "no empty frame beside a photo"
    assert "photo 01-dry-spot-tip-1.png: tip <left>" in review_lines(found, width=80)


def test_a_kept_photo_that_is_gone_or_changed_is_said_to_be(session: Path, picture: Path) -> None:
    add(session, (picture, "tip"))
    copy = session / "photos" / "01-dry-spot-tip-1.png"
    copy.write_bytes(png(shade=3))
    entry = stored_session(session).state.photos[0]
    assert kept_photo(session, entry) == (b"", "is not as it was added")
    copy.unlink()
    assert kept_photo(session, entry) == (b"", "is not there")
    page = html("t", report_blocks(review(stored_session(session))))
    assert "tip (not shown: the file is not there)" in page
    assert "<img" not in page


def _missing(path: Path) -> None:
    path.unlink()


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _huge(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(3_000_000_000)


def _text(path: Path) -> None:
    path.write_text("not a picture\n")


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_missing, "is not there"),
        (_folder, "is a folder"),
        (_huge, "is too large .3,000 MB."),
        (_text, "is no picture that can be shown"),
        (_empty, "is no picture that can be shown"),
        (_pipe, "cannot be read .it is a pipe or a device, and no file."),
    ],
)
def test_what_is_no_picture_is_refused_in_words_and_nothing_is_lost(
    session: Path, picture: Path, spoil, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(picture)
    with pytest.raises((InputError, StorageError), match=words) as refused:
        read_photo(picture)
    assert "a PNG or JPEG picture of at most 15 MB" in str(refused.value)
    before = (session / JOURNAL).read_bytes()
    shop = str(session.parent.parent)
    code = cli.main(["outcome", session.name, "tacky", "--photo", str(picture), "--workshop", shop])
    said = capsys.readouterr().err
    assert code == refused.value.exit_code
    assert said.startswith("nothing was recorded:\n")
    assert "Traceback" not in said
    assert (session / JOURNAL).read_bytes() == before, "the word that came with it is not recorded either"
    assert not (session / "photos").exists()


@pytest.mark.parametrize("failing", ["write", "sync", "rename"])
def test_a_disk_that_fills_up_during_the_copy_leaves_no_half_photo_and_no_entry(
    session: Path, picture: Path, failing: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(session, (picture, "first"))

    def full(*_given: object, **_named: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with Journal.open(session, ManualClock(NOON)) as journal:
        opened = len(journal.state.records)
        monkeypatch.setattr(disk, {"write": "sync_file", "sync": "sync_folder", "rename": "_give_name"}[failing], full)
        with pytest.raises(StorageError, match=r"the photo cannot be kept \(No space left on device\)"):
            log_afterwards(journal, [Outcome(tags=("void",))], [read_photo(picture), read_photo(picture)])
        assert len(journal.state.records) == opened
        monkeypatch.undo()
    assert [path.name for path in (session / "photos").iterdir()] == ["01-dry-spot-tip-1.png"]
    after = stored_session(session).state
    assert [photo.caption for photo in after.photos] == ["first"]
    assert after.outcome is None
    assert add(session, (picture, "again")) == ["recorded: photo 02-dry-spot-tip-1.png: again"]


def test_a_copy_torn_by_a_crash_is_harmless(session: Path, picture: Path) -> None:
    place = session / "photos"
    place.mkdir()
    (place / "01-tip.png").write_bytes(png()[:20])
    (place / ".02-tip.png.4711").write_bytes(png()[:9])
    kept = stored_session(session)
    assert (kept.state.photos, kept.problems) == ((), stored_session(session).problems)
    add(session, (picture, ""))
    assert [photo.file for photo in stored_session(session).state.photos] == ["02-dry-spot-tip-1.png"]


def test_a_session_holds_so_many_photos_and_bytes_and_no_more(session: Path, picture: Path) -> None:
    add(session, *[(picture, "")] * MOST_PHOTOS)
    with pytest.raises(InputError, match=rf"one too many .*{MOST_PHOTOS} there, 1 more.* - {MOST_PHOTOS} in all"):
        add(session, (picture, ""))
    for copy in (session / "photos").iterdir():
        with copy.open("r+b") as file:
            file.truncate(MOST_BYTES // 6)  # sparse: sizes count, not what they hold
    assert MOST_PHOTOS * (MOST_BYTES // 6) == MOST_IN_ALL
    with Journal.open(session, ManualClock(NOON)) as journal:
        journal.append(Undone(undone_seq=journal.state.undoable or 0))
        with pytest.raises(InputError, match=r"too much for this session .* 60 MB in all - save it smaller"):
            log_afterwards(journal, (), [read_photo(session / "photos" / "01-dry-spot-tip-1.png")])


def test_notes_photos_and_measurements_go_in_on_the_command_line_together(
    session: Path, picture: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = str(session.parent.parent)
    words = ["tacky", "--note", "smelt of amine", "--photo", str(picture), "--caption", "tip", "--photo", str(picture)]
    assert cli.main(["outcome", session.name, *words, "--workshop", shop]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "recorded: outcome: tacky",
        "recorded: note: smelt of amine",
        "recorded: photo 01-dry-spot-tip-1.png: tip",
        "recorded: photo 02-dry-spot-tip-1.png",
    ]
    state = stored_session(session).state
    assert [note.text for note in state.notes] == ["smelt of amine"]
    with pytest.raises(SystemExit, match="2"):
        cli.main(["outcome", session.name, "--caption", "tip", "--workshop", shop])
    assert "--caption goes after the --photo that it belongs to" in capsys.readouterr().err


def test_what_cannot_be_told_keeps_the_photo_out_too(session: Path, picture: Path) -> None:
    with (
        Journal.open(session, ManualClock(NOON)) as journal,
        pytest.raises(InputError, match=r"thickness measured: cannot be recorded .*the press is not closed yet"),
    ):
        log_afterwards(journal, [Note(text="a"), ThicknessMeasured(thickness_m=0.002)], [read_photo(picture)])
    assert not (session / "photos").exists()
    assert stored_session(session).state.notes == ()
