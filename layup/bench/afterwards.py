"""What is told of a part once the day is over, read from words: how it turned out, a note, a photo, what was measured.

The form of the app and `layup outcome` read by the same rules.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from pydantic import ValidationError

from layup.bench.acts import NAME_WIDTH
from layup.bench.day import PressDay, Said
from layup.errors import InputError, LayupError
from layup.review.carried import one_line, step_at
from layup.review.evidence import DEFECTS, GOOD, tags_in
from layup.session.afterwards import ALLOWED, Photo, log_afterwards, read_photo
from layup.session.clock import Clock
from layup.session.day_events import CarriedForward, Note
from layup.session.fields import NAME_LIMIT, NOTE_LIMIT
from layup.session.journal import Journal
from layup.session.state import Event, Outcome, PartWeighed, SessionState, ThicknessMeasured
from layup.session.text import clean_text, shortened
from layup.session.told import quantity_of


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
    plain = (clean_text(word, limit=NAME_LIMIT).text.strip() for word in words)
    return tuple(known.get(word.casefold(), word) for word in plain if word)


def note_of(text: str) -> Note:
    """Return a note to be logged; InputError where nothing is left of it."""
    plain = clean_text(text, limit=NOTE_LIMIT).text.strip()
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
    if journal is not None:
        kept = log_afterwards(journal, events, photos)
    else:
        with Journal.open(folder, clock) as opened:
            kept = log_afterwards(opened, events, photos)
    tags = [tag for event in events if isinstance(event, Outcome) for tag in event.tags]
    return [*kept, *(doubt_of(word, near) for word, near in meant_for(tags).items())]
