"""What is added to a session afterwards, in the app: one thing after the other, each kept before the next is asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from layup.app.place import LOOKS_ON
from layup.app.prompts import Ask, Choose
from layup.bench.afterwards import FIELDS, Field, add_afterwards, wrong_with
from layup.errors import LayupError
from layup.session.journal import Journal

if TYPE_CHECKING:
    from layup.app.place import Host

MENU: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("1", "how it turned out", ("words",)),
    ("2", "a note", ("note",)),
    ("3", "a photo", ("photo", "caption")),
    ("4", "weights", ("part", "dry", "left")),
    ("5", "thickness of the plies", ("thickness",)),
)
"""Key, words, and the fields that are asked for."""
OF_KEY = {field.key: field for field in FIELDS}


def ask_afterwards(app: Host, folder: Path, said: str = "") -> None:
    """Ask what to add to a session, until nothing is."""
    if app.watch_only:
        app.say(LOOKS_ON)
        return
    choices = [(key, key, words) for key, words, _ in MENU]

    def chosen(answer: str) -> None:
        fields = next(fields for key, _, fields in MENU if key == answer)
        _ask_on(app, folder, [OF_KEY[key] for key in fields], {})

    app.ask(Choose(said or "Add what to this session?", [*choices, ("d", "done", "done")]), _unless_done(app, chosen))


def _unless_done(app: Host, chosen: Callable[[str], None]) -> Callable[[str], None]:
    def then(answer: str) -> None:
        if answer != "done":
            chosen(answer)
        elif app.place.id == "logbook":
            app.action_go("logbook")

    return then


def _ask_on(app: Host, folder: Path, fields: list[Field], typed: dict[str, str]) -> None:
    """Ask for the fields that are left, then keep what was typed."""
    if not fields:
        ask_afterwards(app, folder, _keep(app, folder, typed))
        return
    field, *others = fields

    def check(text: str) -> str | None:
        return wrong_with(field, text)

    def taken(text: str) -> None:
        _ask_on(app, folder, others, typed | {field.key: text})

    app.ask(Ask(field.title, field.hint, check=check, max_length=20_000), taken)


def _keep(app: Host, folder: Path, typed: dict[str, str]) -> str:
    """Log what was typed; return what came of it."""
    day = app.day
    own = day.source if day is not None and day.folder == folder and isinstance(day.source, Journal) else None
    try:
        return "\n".join(add_afterwards(folder, typed, app.clock, own))
    except LayupError as error:
        return f"NOT KEPT: {error}"
