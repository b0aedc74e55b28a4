"""The keys of Logbook: find sessions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.app.prompts import Ask
from layup.errors import InputError

if TYPE_CHECKING:
    from layup.app.place import Host


def search(app: Host) -> None:
    """List the sessions in which some words occur."""
    from layup.app.log import LogPlace
    from layup.review.find import HINT, query

    place = app.base.query_one(LogPlace)
    now = f'; now: "{place.words}"' if place.words else ""
    title = "Search the sessions for"

    def wrong(text: str) -> str | None:
        try:
            query(text)
        except InputError as error:
            return str(error)
        return None

    ask = Ask(title, f"{HINT}{now}", check=wrong, max_length=200)

    def found(words: str) -> None:
        if app.place.id != "logbook":
            app.action_go("logbook")
        place.search(words)

    app.ask(ask, found)
