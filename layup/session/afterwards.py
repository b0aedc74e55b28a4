"""What is added to a session afterwards: how the part turned out, measurements, notes, photos.

Photos are checked, copied into the session's folder and safe on the disk before the journal names them; a copy that a
crash tore has no entry, so nothing shows it, and the next photo takes another name.
"""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from layup.errors import InputError, StorageError
from layup.files.durable import sync_folder, write_new
from layup.session.day_events import PhotoAdded
from layup.session.fields import NOTE_LIMIT
from layup.session.journal import Journal
from layup.session.records import require_all
from layup.session.state import Event, Outcome, SessionState
from layup.session.state_parts import PhotoKept
from layup.session.text import clean_text

FOLDER = "photos"
MOST_PHOTOS, MOST_BYTES, MOST_IN_ALL = 24, 15_000_000, 60_000_000
"""Of one session: how many photos, how many bytes each, and all of them: what one HTML file can still hold."""
BEGINNINGS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg"}
"""The first bytes of a picture, and the ending that its copy gets: PNG (ISO/IEC 15948, 5.2), JPEG (ISO/IEC 10918-1, SOI
and the marker behind it)."""
MEDIA = {"png": "image/png", "jpg": "image/jpeg"}
ALLOWED = f"a PNG or JPEG picture of at most {MOST_BYTES // 1_000_000} MB"
_OPEN = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""Never wait for a pipe."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture that was read and may be kept."""

    data: bytes
    ending: str
    stem: str
    caption: str


def read_photo(path: Path, caption: str = "") -> Photo:
    """Read a picture that is to be kept: its bytes, and what kind of picture they are.

    Raises StorageError if it is missing, no plain file, empty, too large, or cannot be read; InputError if it is no
    picture that can be shown.
    """
    data = _bytes_of(path)
    ending = next((ending for begin, ending in BEGINNINGS.items() if data.startswith(begin)), None)
    if ending is None:
        todo = "save it as PNG or JPEG; another ending of its name does not change it"
        raise InputError(str(path), "is no picture that can be shown", allowed=ALLOWED, todo=todo)
    plain = unicodedata.normalize("NFKD", path.stem).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain)[:40].strip("-")
    return Photo(data, ending, stem, clean_text(caption, limit=NOTE_LIMIT).text.strip())


def _bytes_of(path: Path) -> bytes:
    """Return what stands in a picture's file, of which no more than may be kept is ever read."""
    try:
        fd = os.open(path, _OPEN)
        with os.fdopen(fd, "rb") as file:
            found = os.fstat(fd)
            if not stat.S_ISREG(found.st_mode):
                what = "a folder" if stat.S_ISDIR(found.st_mode) else "a pipe or a device"
                raise StorageError(str(path), "is no file", value=what, allowed=ALLOWED, todo="name the picture itself")
            data = b"" if found.st_size > MOST_BYTES else file.read(MOST_BYTES + 1)
            size = max(found.st_size, len(data))
    except FileNotFoundError:
        raise StorageError(str(path), "is not there", allowed=ALLOWED, todo="check the name") from None
    except IsADirectoryError:
        raise StorageError(str(path), "is a folder", allowed=ALLOWED, todo="name the picture itself") from None
    except (OSError, ValueError) as error:  # ValueError: a name with a zero byte in it
        why = getattr(error, "strerror", None) or str(error)
        raise StorageError(str(path), "cannot be read", value=why, allowed=ALLOWED) from None
    if size > MOST_BYTES:
        value = f"{size / 1e6:,.0f} MB"
        raise StorageError(str(path), "is too large", value=value, allowed=ALLOWED, todo="save it smaller")
    return data


def keep_photos(folder: Path, state: SessionState, photos: Sequence[Photo]) -> list[PhotoAdded]:
    """Copy pictures into a session's folder, which the caller holds open; return the entries that name them.

    Their files are then on the disk; on any failure none is left. Raises InputError if the session would hold too many,
    or too much; StorageError if they cannot be written.
    """
    place, entries = folder / FOLDER, list[PhotoAdded]()
    written: list[Path] = []
    try:
        if photos:
            _require_room(place, state, photos)
        if photos and not place.is_dir():
            place.mkdir()
            sync_folder(folder)
        for photo in photos:
            name = _free_name(place, photo)
            half = place / f".{name}.{os.getpid()}"
            written.append(half)
            half.unlink(missing_ok=True)
            write_new(half, photo.data)
            half.rename(place / name)
            written[-1] = place / name
            sync_folder(place)
            entries.append(PhotoAdded(file=name, sha256=sha256(photo.data).hexdigest(), caption=photo.caption))
    except OSError as error:
        for path in written:
            with suppress(OSError):
                path.unlink(missing_ok=True)
        why = error.strerror or str(error)
        allowed = "a photo is copied whole, or not at all"
        todo = "make room on the disk or check the folder's permissions, then add it again"
        raise StorageError(str(place), "the photo cannot be kept", value=why, allowed=allowed, todo=todo) from error
    return entries


def _require_room(place: Path, state: SessionState, photos: Sequence[Photo]) -> None:
    if len(state.photos) + len(photos) > MOST_PHOTOS:
        raise InputError(
            "photo",
            "is one too many for this session",
            value=f"{len(state.photos)} there, {len(photos)} more",
            allowed=f"{MOST_PHOTOS} in all",
            todo="choose those that tell most",
        )
    there = sum(path.lstat().st_size for path in place.iterdir()) if place.is_dir() else 0  # taken back ones, too
    more = sum(len(photo.data) for photo in photos)
    if there + more > MOST_IN_ALL:
        raise InputError(
            "photo",
            "is too much for this session",
            value=f"{(there + more) / 1e6:.0f} MB in all",
            allowed=f"{MOST_IN_ALL // 1_000_000} MB in all",
            todo="save it smaller",
        )


def _free_name(place: Path, photo: Photo) -> str:
    """Return a name that no file there has: a number, what the picture was called, and the ending of its kind."""
    taken = {path.name.partition("-")[0].partition(".")[0] for path in place.iterdir()}
    number = next(number for number in range(1, 10_000) if f"{number:02d}" not in taken)
    return f"{number:02d}{'-' if photo.stem else ''}{photo.stem}.{photo.ending}"


def kept_photo(folder: Path, entry: PhotoKept) -> tuple[bytes, str]:
    """Return the bytes of a kept photo, or none and why it cannot be shown."""
    try:
        data = _bytes_of(folder / FOLDER / entry.file)
    except StorageError as error:
        return b"", f"{error.wrong}{f' ({error.value})' if error.value else ''}"
    if sha256(data).hexdigest() != entry.sha256:
        return b"", "is not as it was added"
    return data, ""


def log_afterwards(
    journal: Journal, events: Sequence[Event], photos: Sequence[Photo] = (), *, keep_notes: bool = True
) -> list[str]:
    """Log what is told of a part afterwards, all of it or nothing; return it in words, with what it replaces.

    With `keep_notes` an outcome without notes keeps those of the one before. Raises InputError if an entry cannot be,
    or the photos are too many; StorageError if a photo cannot be copied.
    """
    require_all(journal.state, events)
    entries = keep_photos(journal.path.parent, journal.state, photos)
    before = {"outcome": journal.state.outcome, "part-weighed": journal.state.weighed}
    said = []
    for event in (*events, *entries):
        old = before.get(event.event)
        if isinstance(event, Outcome) and isinstance(old, Outcome):
            event = Outcome(tags=event.tags or old.tags, notes=old.notes if keep_notes else event.notes)
        journal.append(event)
        said += [f"recorded: {event.describe()}", *([f"  instead of: {old.describe()}"] if old else [])]
    return said
