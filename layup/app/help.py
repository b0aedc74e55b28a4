"""The help of one place: every key that works there now, then what its screen leaves out; screen and sound."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING

from rich.text import Text
from textual.containers import VerticalScroll
from textual.widgets import Static

from layup.app.keys import ACTIONS, GROUPS, PLACE_OF, PLACES, shown_key
from layup.app.prompts import PAGE_WIDTH, Choose, Page
from layup.app.shell import CHOSEN_BY, next_look
from layup.bench.planner import hanging

if TYPE_CHECKING:
    from layup.app.place import Companion, Host

TALL = 30
"""Rows from which on all is said at once."""
TWO_COLUMNS, GAP = 68, 2
"""From how many columns on the keys stand in two columns, and what is between those."""
CAUTION = "First: SDS, local rules, licensed practice."


class HelpPage(Page):
    """The keys that work here and now, then what the place leaves out; drawn anew at every width."""

    BINDINGS = [("question_mark", "whole", "in full")]
    foot = "? in full · Esc"

    def __init__(self, place: str, able: frozenset[str], details: Sequence[str] = ()) -> None:
        row = PLACE_OF[place]
        super().__init__(row.title, Text())
        self.able = able
        self.details = (row.use, *details)
        self.whole: bool | None = None
        """Whether all is said, and not in a word each; None before the room for it is known."""

    def action_whole(self) -> None:
        """Say all; or close the page where all is said."""
        if self.whole:
            self.dismiss(None)
        else:
            self.whole = True
            self.on_resize()

    def on_resize(self) -> None:
        """Set the keys in as many columns as there is room for; all is said where there is room for it."""
        scroll = self.query_one(VerticalScroll)
        if self.whole is None:
            self.whole = self.app.size.height > TALL
        width = int(min(self.app.size.width * 0.96, PAGE_WIDTH)) - 6
        lines = [*help_lines(self.able, width, whole=self.whole), ""]
        if self.whole:
            self.query_one(".dim", Static).update(Page.foot)
            lines += (line for words in self.details for line in hanging("- ", words, width))
        scroll.query_one(Static).update(Text("\n".join(lines), no_wrap=True))


def help_lines(able: frozenset[str], width: int, *, whole: bool = True) -> list[str]:
    """Return every key that works, in a word or as a `whole`, and then the caution, no line longer than `width`."""
    listed = [action for action in ACTIONS if action.name in able and (whole or action.name != "help")]
    said = [(one.group, shown_key(one), one.help if whole else one.label or one.help) for one in listed]
    blocks = [(group, [(key, words) for of, key, words in said if of == group]) for group in GROUPS]
    places = [(key.upper(), f"{row.title}: {row.what}") for key, row in PLACES.items()]
    columns = 2 if width >= TWO_COLUMNS else 1
    places = places if columns == 1 and whole else []  # the bar names them
    room = (width - GAP * (columns - 1)) // columns
    drawn = [_block(head, rows, room) for head, rows in [*blocks, ("Places", places)] if rows]
    first: list[str] = []
    left = sum(map(len, drawn))
    while columns == 2 and drawn and len(first) + len(drawn[0]) // 2 < (len(first) + left) / 2:
        left -= len(drawn[0])
        first += drawn.pop(0)
    second = [line for block in drawn for line in block]
    table = [f"{one:<{room + GAP}}{other}".rstrip() for one, other in zip_longest(first, second, fillvalue="")]
    return [*(table[:-1] if first else second), *(wrap(CAUTION, width) if whole else [])]


def _block(head: str, rows: list[tuple[str, str]], width: int) -> list[str]:
    """Return one heading with its keys; words that do not fit on a line break under themselves."""
    of_key = max(len(key) for key, _ in rows) + 2
    lines = [head.upper()]
    for key, words in rows:
        lines.append(f" {key:<{of_key}}" + f"\n{'':{1 + of_key}}".join(wrap(words, width - of_key - 1)))
    return [*"\n".join(lines).split("\n"), ""]


# -- the screen, and what is heard ------------------------------------------------------------------------------------


def look(app: Host) -> None:
    """Take the next look."""
    app.theme = next_look(app.theme)
    app.say(f"look: {app.theme}   to start with it: {CHOSEN_BY}={app.theme}")


def sound(app: Host) -> None:
    """Turn the bell, and the voice, off or on."""
    app.sound.on = not app.sound.on
    app.say("sound on" if app.sound.on else "sound off: alarms are only shown")


def page_of(beside: Companion) -> Page:
    """Return where the page for tablets and phones is, and what lets the next one in."""
    return Page("On a tablet or phone", Text(beside.words(), no_wrap=True))


def tablet(app: Host) -> None:
    """Show where the page for tablets and phones is; begin it, where none of them can come in yet."""
    beside = app.beside
    if beside is None:
        app.say("not now: this app has no page")
        return

    def show() -> None:
        app.push_screen(page_of(beside))

    async def begin(lan: bool) -> None:
        if await beside.open(lan=lan):
            show()

    if beside.word:
        show()
        return
    whom = [("t", "lan", "tablets, phones of this network: not encrypted"), ("c", "here", "this computer only")]

    def chosen(answer: str) -> None:
        app.run_worker(begin(answer == "lan"))

    app.ask(Choose("Show the bench to whom?", whom), chosen)
