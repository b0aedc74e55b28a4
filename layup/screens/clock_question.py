"""The question after the machine was off: what time is it?"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from layup.errors import InputError
from layup.screens.day import PressDay
from layup.screens.prompts import Ask, Choose, if_yes, sure

if TYPE_CHECKING:
    from layup.screens.app import LayupApp

ROUNDED = timedelta(seconds=120)
"""A time typed in whole minutes may lie before the last entry by this much."""
HINT = "such as 14:02, or 2026-03-08 14:02 for another day"


def ask_clock(app: LayupApp, day: PressDay) -> None:
    """Ask whether the computer's clock is right, and what time it is where it is not."""
    shown = day.clock.utc().astimezone()
    title = (
        "The machine was off, or is another one, and may have lost the time.\n"
        f"Every age is at least what it says. The clock reads {shown:%H:%M} ({shown:%a %d %b %Y}), is that so?"
    )

    def answered(answer: str) -> None:
        if answer == "right":
            app.heard(day.tell_clock())
        else:
            _ask_time(app, day)

    choices = [("y", "right", "yes, that is the time"), ("n", "wrong", "no, I say what time it is")]
    app.ask(Choose(title, choices), answered)


def _ask_time(app: LayupApp, day: PressDay) -> None:
    def wrong(text: str) -> str | None:
        try:
            time_said(text, day.least_utc)
        except InputError as error:
            return error.words
        return None

    def typed(text: str) -> None:
        utc = time_said(text, day.least_utc)
        off_min = (utc - day.least_utc).total_seconds() / 60
        title = f"It is {utc.astimezone():%a %d %b %H:%M}: {off_min:.0f} min more are counted, for good. Right?"
        app.ask(sure(title, "yes, that is the time"), if_yes(lambda: app.heard(day.tell_clock(utc))))

    app.ask(Ask("What time is it, by another clock?", HINT, check=wrong, max_length=40), typed)


def time_said(text: str, least: datetime) -> datetime:
    """Return the time that somebody typed, in UTC: the first such one that is not before `least`."""
    earliest = least.astimezone()
    words = text.strip()
    for form in ("%H:%M", "%Y-%m-%d %H:%M"):
        try:
            said = datetime.strptime(words, form)
        except ValueError:
            continue
        if form == "%H:%M":
            said = said.replace(year=earliest.year, month=earliest.month, day=earliest.day)
            if said.astimezone() < earliest - ROUNDED:
                said += timedelta(days=1)
        utc = said.astimezone(UTC)
        if utc < least - ROUNDED:
            raise InputError("time", "is before the last entry", value=words, allowed=f"from {earliest:%H:%M %d %b} on")
        return max(utc, least)
    raise InputError("time", "cannot be read", value=words, allowed=HINT)
