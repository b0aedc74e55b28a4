"""The help of one place: what it shows, and every key."""

from __future__ import annotations

from textwrap import wrap

from rich.text import Text

from layup.app.keys import PLACES, actions_of, key_table, shown_key
from layup.app.prompts import Page

WIDTH = 68
"""Columns of a row of keys, so that its words break under themselves on the narrowest screen."""
ABOUT = {
    "stack": "The plan: what each step takes, the shop of today, and when the plan can close in time. Choose a "
    "setting with the arrow keys up and down and change it with left and right: all else follows at once.",
    "mix": "One batch on the scale. Tare the cup, pour to the number, type what the scale really shows and press "
    "Enter; Enter alone means it shows that number. Press h the moment hardener touches resin.",
    "bench": "The press day. Each card is a batch: the time left until its cup must be empty (out), with "
    "the 80 % band in which it thickens in brackets; then how long it stays open on the part, by the early end of its "
    "band. Every countdown is an estimate: believe the stick before the clock.",
    "cure": "Before closing: checks, pressure, clamps. After it: how far the part has cured, when it may come out, and "
    "whether tonight's cold lets it; log the mould's temperature with t.",
    "logbook": "The sessions kept in this workshop, newest first: what came of each, why, and every entry.",
}
"""What each place is for, by its id."""


def help_page(place: str) -> Page:
    """Return the help of a place."""
    title = next(title for name, title, _ in PLACES.values() if name == place)
    body = Text(f"{ABOUT[place]}\n\n")
    here = {shown_key(action) for action in actions_of(place)}
    table = key_table()
    of_key, of_label = (max(len(row[at]) for row in table) + 2 for at in (0, 1))
    for head, wanted in (("Keys here", True), ("\nPlaces and other keys", False)):
        body.append(f"{head}\n", style="bold")
        for key, label, words in table:
            if (key in here) is wanted:
                lines = wrap(words, WIDTH - of_key - of_label)
                body.append(f"  {key:<{of_key}}", style="bold")
                body.append(f"{label:<{of_label}}" + f"\n{'':{2 + of_key + of_label}}".join(lines) + "\n")
    body.append(
        "\nEpoxy and amines can make you allergic for life; a full cup can smoke and burn; presses store force. "
        "The safety data sheets, your local rules and licensed practice come before this program."
    )
    return Page(f"{title}: help", body)
