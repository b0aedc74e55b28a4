"""Find sessions by words and by what is known of them: `tip resin:slow cause:cup outcome:failed`.

Plain words occur in what was said; `resin:`, `outcome:` and `cause:` in what they name, all of them together. What is
quick to know is asked first, so that only the sessions that are left have to be judged for their causes.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import get_args

from layup.errors import InputError
from layup.files.toml import nearest
from layup.files.workshop import Workshop
from layup.review.evidence import GOOD, FindingKind
from layup.review.judged import judge
from layup.session.archive import Sessions, Summary

KEYS = ("resin", "outcome", "cause")
FAILED, NONE = "failed", "none"
"""An outcome that names anything but a good part, or a day given up; and that there is none, of outcomes or causes."""
HINT = "words, resin:slow outcome:failed cause:cup; nothing shows all"


@dataclass(frozen=True, slots=True)
class Query:
    """What is searched for, all of it together."""

    words: tuple[str, ...] = ()
    resin: tuple[str, ...] = ()
    outcome: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether it lists all."""
        return not (self.words or self.resin or self.outcome or self.cause)


def query(text: str) -> Query:
    """Read a query; quotes hold several words together. Raises InputError for a key or a cause that nobody knows."""
    typed = shlex.shlex(text.casefold(), posix=True)
    typed.quotes, typed.escape, typed.commenters, typed.whitespace_split = '"', "", "", True
    try:
        parts = list(typed)
    except ValueError:
        raise InputError(
            "search", "has a quote that does not end", value=text, todo='close it: outcome:"dry spot"'
        ) from None
    found: dict[str, list[str]] = {key: [] for key in ("words", *KEYS)}
    for part in parts:
        key, colon, value = part.partition(":")
        if not colon or not key.isalpha():
            found["words"].append(part)
        elif key not in KEYS:
            raise InputError("search", "has no such key", value=f"{key}:", allowed=", ".join(f"{k}:" for k in KEYS))
        elif value:
            found[key].append(value)
    for cause in found["cause"]:
        if cause != NONE and not any(cause in kind for kind in get_args(FindingKind)):
            raise InputError("cause", "is not known", value=cause, todo=nearest(cause, list(get_args(FindingKind))))
    return Query(**{key: tuple(values) for key, values in found.items()})


def find_sessions(
    workshop: Workshop, text: str, *, keep: bool = True, progress: Callable[[str, int, int], None] | None = None
) -> list[Summary]:
    """Return the sessions that a query finds, the newest last; `keep` is whether indices may be written."""
    asked = query(text)

    def told(what: str) -> Callable[[int, int], None]:
        return lambda done, of: None if progress is None else progress(what, done, of)

    sessions = Sessions(workshop, keep=keep)
    found = sessions.all(progress=told("reading sessions"))
    found = [one for one in found if _known(one, asked) and sessions.has_words(one, asked.words)]
    if not asked.cause:
        return found
    judged = judge(workshop, [one.name for one in found], keep=keep, progress=told("judging sessions"))
    return [one for one in found if one.name in judged and _says(judged[one.name].causes, asked.cause)]


def _known(one: Summary, asked: Query) -> bool:
    """Return whether what its summary knows fits."""
    if not all(resin in one.resin.casefold() for resin in asked.resin):
        return False
    failed = (bool(one.tags) and GOOD not in one.tags) or (one.over and one.closed_s is None and one.started_at != "")
    tags = (*(tag.casefold() for tag in one.tags), *((FAILED,) if failed else ()))
    return _says(one.tags, asked.outcome) if asked.outcome == (NONE,) else _says(tags, asked.outcome)


def _says(known: Sequence[str], wanted: Sequence[str]) -> bool:
    """Return whether each of the wanted words occurs in what is known; "none" where nothing is."""
    return all((not known) if word == NONE else any(word in each for each in known) for word in wanted)
