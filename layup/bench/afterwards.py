"""What is told of a part once the day is over, read from words: how it turned out, a note, a photo, what was measured.

The form of the app and `layup outcome` read by the same rules. Photos are checked, copied into the session's folder and
safe on the disk before the journal names them; a copy that a crash tore has no entry, so nothing shows it, and the next
photo takes another name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from difflib import get_close_matches
from hashlib import sha256
from pathlib import Path

from pydantic import ValidationError

from layup.bench.acts import NAME_WIDTH
from layup.bench.day import PressDay, Said
from layup.errors import InputError, LayupError, StorageError
from layup.files.durable import put, slug, sync_folder
from layup.files.toml import read_plain
from layup.review.carried import one_line, step_at
from layup.review.evidence import DEFECTS, GOOD, tags_in
from layup.session.clock import Clock
from layup.session.day_events import CarriedForward, Note, PhotoAdded
from layup.session.journal import Journal
from layup.session.records import require_all
from layup.session.state import Event, Outcome, PartWeighed, SessionState, ThicknessMeasured
from layup.session.state_parts import PhotoKept
from layup.session.text import NOTE_LIMIT, clean, clean_text, shortened
from layup.session.told import quantity_of

# -- photos ------------------------------------------------------------------------------------------------------------

FOLDER = "photos"
MOST_PHOTOS, MOST_BYTES, MOST_IN_ALL = 24, 15_000_000, 60_000_000
"""Of one session: how many photos, how many bytes each, and all of them: what one HTML file can still hold."""
BEGINNINGS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg"}
"""The first bytes of a picture, and the ending that its copy gets: PNG (ISO/IEC 15948, 5.2), JPEG (ISO/IEC 10918-1, SOI
and the marker behind it)."""
MEDIA = {"png": "image/png", "jpg": "image/jpeg"}
ALLOWED = f"a PNG or JPEG picture of at most {MOST_BYTES // 1_000_000} MB"


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
    return Photo(data, ending, slug(path.stem, ""), clean(caption, NOTE_LIMIT).strip())


def _bytes_of(path: Path) -> bytes:
    """Return what stands in a picture's file, of which no more than may be kept is ever read."""
    try:
        data = read_plain(path, most=MOST_BYTES + 1)
        size = max(path.stat().st_size, len(data))
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
    if not photos:
        return entries
    try:
        _require_room(place, state, photos)
        if not place.is_dir():
            place.mkdir()
            sync_folder(folder)
        for photo in photos:
            name = _free_name(place, photo)
            entries.append(PhotoAdded(file=name, sha256=sha256(photo.data).hexdigest(), caption=photo.caption))
            put(place / name, photo.data, new=True)
    except OSError as error:
        for entry in entries:
            with suppress(OSError):
                (place / entry.file).unlink(missing_ok=True)
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


# -- words -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Field:
    """One line of the form: its key, its name, and what may stand there."""

    key: str
    title: str
    hint: str
    needed: bool = True
    """Whether it cannot be left empty."""


FIELDS = (
    Field("words", "How it turned out", ", ".join((GOOD, *DEFECTS))),
    Field("note", "Note", "what is worth knowing next time"),
    Field("photo", "Photo", f"a file: {ALLOWED}"),
    Field("caption", "Its caption", "what the photo shows", needed=False),
    Field("part", "Part weighs", "all pieces, finished: 2410 g"),
    Field("dry", "Dry pieces weighed", "before the layup, needed with the part: 1690 g"),
    Field("left", "Mix left", "in all cups, brushes, rollers: 45 g", needed=False),
    Field("thickness", "Plies are thick", "full-width plies of one piece: 1.8 mm"),
)


def known_words(words: Iterable[str]) -> tuple[str, ...]:
    """Return words of an outcome as they are recorded: those that are known as they are known, blank ones left out."""
    known = {word.casefold(): word for word in (GOOD, *DEFECTS)}
    plain = (clean(word).strip() for word in words)
    return tuple(known.get(word.casefold(), word) for word in plain if word)


def note_of(text: str) -> Note:
    """Return a note to be logged; InputError where nothing is left of it."""
    plain = clean(text, NOTE_LIMIT).strip()
    if not plain:
        raise InputError("note", "says nothing", allowed="words")
    return Note(text=plain)


def meant_for(words: Iterable[str]) -> dict[str, str]:
    """Return the words of an outcome that are nearly a known one, or say it as people say it, each with that one."""
    own = [word for word in known_words(words) if word not in (GOOD, *DEFECTS)]
    near = {word: get_close_matches(word.casefold(), DEFECTS, n=1) or tags_in(word) for word in own}
    return {word: found[0] for word, found in near.items() if found}


def doubt_of(word: str, near: str) -> str:
    """Ask whether a word of one's own was meant as a known one."""
    return f"note: {word!r} is a word of your own; did you mean {near!r}?"


def outcome_with(state: SessionState, word: str) -> Outcome | None:
    """Return how a part turned out with one known word more, or None where it stands; good stands beside no defect.

    InputError for a word that is not known.
    """
    before = state.outcome or Outcome()
    if word not in (GOOD, *DEFECTS):
        raise InputError("outcome", "is no word for it", value=word[:20], allowed=FIELDS[0].hint)
    if word in before.tags:
        return None
    kept = () if word == GOOD else tuple(tag for tag in before.tags if tag != GOOD)
    return before.model_copy(update={"tags": (*kept, word)})


def noted(day: PressDay, text: str) -> Said:
    """Log a note on a day; InputError where nothing is left of it."""
    report = clean_text(text, limit=NOTE_LIMIT).report
    return day.log(note_of(text), "noted" + (f" ({report})" if report else ""))


def times_to_meet(day: PressDay) -> list[tuple[str | None, str]]:
    """Return when a note that was just written may be met again, and in words: never, before a day, or at a step."""
    step = step_at(day.state, day.now_s())
    at_step: list[tuple[str | None, str]] = [(step, f"yes: at {shortened(step, NAME_WIDTH).upper()}")] if step else []
    return [(None, "no"), ("", "yes: before the day"), *at_step]


def met_again(day: PressDay, text: str, step: str) -> Said:
    """Carry a note forward: to before the next day, or to a step of it."""
    event = CarriedForward(text=one_line(text), step_name=step)
    return day.log(event, f"next time{f', at {step}' if step else ''}: it comes back")


def weighed_of(said: Mapping[str, str | None]) -> PartWeighed:
    """Return the weights of a part, by the keys part, dry, offcut, cloth and left; the first two are needed.

    A bare number is in grams, or in oz where these are chosen.
    """
    names = {"part": "part", "dry": "dry pieces", "offcut": "offcuts", "cloth": "cloth", "left": "mix left"}
    grams = {key: quantity_of(text, "mass", where=names[key]) for key, text in said.items() if text and key in names}
    if not {"part", "dry"} <= grams.keys():
        allowed = "the finished part, and its dry pieces as weighed or as the plan has them"
        raise InputError("weight", "needs both the part and its dry pieces", allowed=allowed)
    return PartWeighed(
        part_g=grams["part"],
        dry_g=grams["dry"],
        offcut_g=grams.get("offcut", 0.0),
        cloth_g=grams.get("cloth"),
        left_g=grams.get("left"),
    )


@contextmanager
def in_words() -> Iterator[None]:
    """Turn what a measurement cannot be into words for people."""
    try:
        yield
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        key = ".".join(str(part) for part in first["loc"]) or "measurement"
        value = first["input"] if first["loc"] else None
        raise InputError(key, "cannot be right", value=value, allowed=first["msg"]) from None


def wrong_with(field: Field, text: str) -> str | None:
    """Return what is wrong with one line of the form, and what is allowed; None where it can be taken."""
    plain = text.strip()
    if not plain:
        return f"nothing is written yet - {field.hint}" if field.needed else None
    try:
        if field.key in ("part", "dry", "left"):
            quantity_of(plain, "mass", where=field.title)
        elif field.key != "caption":
            _read({field.key: plain})
    except LayupError as error:
        return error.words
    return None


def _read(said: Mapping[str, str]) -> tuple[list[Event], list[Photo]]:
    """Return what the lines of the form that are not empty say."""
    events, photos = list[Event](), list[Photo]()
    with in_words():
        if tags := known_words(re.split(r"[,;]", said.get("words", ""))):
            events.append(Outcome(tags=tags))
        if "note" in said:
            events.append(note_of(said["note"]))
        if said.keys() & {"part", "dry", "left"}:
            events.append(weighed_of(said))
        if "thickness" in said:
            events.append(ThicknessMeasured(thickness_m=quantity_of(said["thickness"], "length", where="thickness")))
    if "photo" in said:
        photos.append(read_photo(Path(said["photo"]).expanduser(), said.get("caption", "")))
    return events, photos


def add_afterwards(folder: Path, said: Mapping[str, str], clock: Clock, journal: Journal | None = None) -> list[str]:
    """Log what stands in the form by the keys of `FIELDS`, all of it or nothing; return each entry in words.

    `journal` is that of a session which is open already. InputError where something cannot be understood, or cannot be;
    StorageError where the photo or the session cannot be read or written.
    """
    events, photos = _read({key: text.strip() for key, text in said.items() if text.strip()})
    if not events and not photos:
        raise InputError("form", "says nothing", allowed="one line or more")
    with nullcontext(journal) if journal is not None else Journal.open(folder, clock) as opened:
        kept = log_afterwards(opened, events, photos)
    tags = [tag for event in events if isinstance(event, Outcome) for tag in event.tags]
    return [*kept, *(doubt_of(word, near) for word, near in meant_for(tags).items())]
