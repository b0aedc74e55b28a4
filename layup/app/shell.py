"""What stands around every place, the line on top and the bar of keys at the bottom, and what more than one draws.

Digits made of full blocks, to be read from two metres: five rows high, ten where there is room. The lay-up in section.
How the app looks: dark, light, or in one colour; words and shapes say everything, a look only makes it easier.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import events
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme
from textual.widgets import Static

from layup.app.keys import AT_FIRST, PLACES, Action, bar, shown_key
from layup.session.text import plain, shortened
from layup.units import mass, temperature

if TYPE_CHECKING:
    from layup.planning.budget import Line
    from layup.planning.plan import Plan


class DrawnPlain(LineFilter):
    """What every line goes through before it is drawn: no text on it commands the terminal or turns it round.

    The marks that it takes out have no width, so that nothing on the line moves.
    """

    def apply(self, segments: Sequence[Segment], background: Color) -> list[Segment]:  # noqa: ARG002 - as textual calls it
        """Return the pieces of a line with plain text."""
        return [Segment(plain(text), style, control) for text, style, control in segments]


class TopLine(Static):
    """The one line that is always there: how long until the press must be closed."""

    def say(self, words: str, urgent: bool) -> None:
        """Show `words`; an urgent line is drawn reversed."""
        self.set_class(not urgent, "plain")
        if words != str(self.content):
            self.update(Text(words), layout=False)


class KeyBar(Static):
    """The few keys that do something here and now, and the places; a tap on one is that key."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.shown: tuple[str, frozenset[str], str] = ("stack", AT_FIRST, "")
        self.drawn_columns = 0

    def on_mount(self) -> None:
        """Draw them for the first frame: one that is laid out without them is laid out again."""
        self._draw()

    def show_place(self, place: str, able: frozenset[str], act: str = "") -> None:
        """Show the keys of `place` that are able, and what Enter does there, if they are others than before."""
        if self.shown != (place, able, act):
            self.shown = place, able, act
            self._draw()

    def actions(self) -> list[Action]:
        return bar(*self.shown[:2])

    def _draw(self) -> None:
        self.drawn_columns = self.app.size.width
        width = max(self.drawn_columns - 2, 20)
        text, used = Text(no_wrap=True, overflow="ellipsis"), 0
        for action in self.actions():
            enter = action.name == "accept"
            key, label = ("▶ ENTER", self.shown[2] or action.label) if enter else (shown_key(action), action.label)
            label = temperature.sign if action.name == "temperature" else label
            label = f" {label}" if label else ""
            size = len(key) + len(label)
            if used and used + size > width:
                text.append("\n")
                used = 0
            one, _, other = action.key.partition(",")
            text.append(key[0], style=tapped(one, bold=True))
            text.append(key[1:], style=tapped(other or one, bold=True))
            text.append(label, style=tapped(other or one, bold=enter))
            text.append("   ")
            used += size + 3
        text.append("\n")
        self._draw_places(text, width)
        self.update(text)

    def _draw_places(self, text: Text, width: int) -> None:
        """Add the places: by name, or by key alone but for this one where there is no room."""
        full = sum(len(row.title) + 6 for row in PLACES.values()) <= width
        for key, row in PLACES.items():
            here = row.name == self.shown[0]
            text.append(f" {key.upper()} ", style=tapped(key, bold=True, reverse=here))
            text.append(f" {row.title.partition(' ')[0]}  " if full or here else " ", style=tapped(key, bold=here))

    def on_click(self, event: events.Click) -> None:
        if key := event.style.meta.get("key"):
            self.app.simulate_key(key)

    def on_resize(self) -> None:
        """List them anew where the width is another."""
        if self.drawn_columns != self.app.size.width:
            self._draw()


def tapped(key: str, *, bold: bool = False, reverse: bool = False) -> Style:
    """Return the style of words that are a key when they are tapped or clicked."""
    return Style(bold=bold or None, reverse=reverse or None, meta={"key": key})


# -- digits ----------------------------------------------------------------------------------------------------------

GLYPHS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ":": (" ", "#", " ", "#", " "),
    ".": (" ", " ", " ", " ", "#"),
    "+": ("   ", " # ", "###", " # ", "   "),
    "-": ("   ", "   ", "###", "   ", "   "),
    " ": (" ", " ", " ", " ", " "),
    "h": ("#  ", "#  ", "###", "# #", "# #"),
    "A": ("###", "# #", "###", "# #", "# #"),
    "G": ("###", "#  ", "# #", "# #", "###"),
    "I": ("#", "#", "#", "#", "#"),
    "N": ("#  #", "## #", "# ##", "#  #", "#  #"),
    "O": ("###", "# #", "# #", "# #", "###"),
    "T": ("###", " # ", " # ", " # ", " # "),
    "W": ("#   #", "#   #", "# # #", "## ##", "#   #"),
}
"""Each character as five rows of pixels."""
ROWS = 5


def big_lines(value: str, *, wide: int = 1, tall: int = 1) -> list[str]:
    """Return `value` as lines of blocks, each pixel `wide` columns and `tall` rows."""
    rows = [" ".join(GLYPHS[character][row] for character in value) for row in range(ROWS)]
    lines = ["".join(("█" if pixel == "#" else " ") * wide for pixel in row).rstrip() for row in rows]
    return [line for line in lines for _ in range(tall)]


class BigDigits(Static):
    """A number to be read from afar; `value` is what it shows."""

    def __init__(self, value: str = "", *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.value = value

    def on_mount(self) -> None:
        """Draw the first value."""
        self._draw()

    def on_resize(self) -> None:
        """Draw it anew: there may be room for wider digits."""
        self._draw()

    def say(self, value: str) -> None:
        """Show another value, if it is another."""
        if value != self.value:
            self.value = value
            self._draw()

    def _draw(self) -> None:
        width = max(map(len, big_lines(self.value)), default=0) or 1
        if 0 < self.size.width < width or 0 < self.size.height < ROWS:  # a cut digit would be another number
            self.update(Text(self.value, style="bold", no_wrap=True), layout=False)
            return
        tall = max(self.size.height // ROWS, 1)
        wide = max(min(self.size.width // width, 2 * tall), 1)
        lines = big_lines(self.value, wide=wide, tall=tall if wide >= tall else 1)
        self.update(Text("\n".join(lines), no_wrap=True), layout=False)


# -- themes ----------------------------------------------------------------------------------------------------------

CHOSEN_BY = "LAYUP_LOOK"
"""The environment variable that names the look to start with."""


def _look(name: str, *, dark: bool, ink: str, paper: str, bar: str, soon: str, over: str, calm: str) -> Theme:
    """Return a theme of few colours: `ink` on `paper`, a shade for bars, and one colour for each urgency."""
    return Theme(
        name=name,
        primary=ink,
        secondary=ink,
        accent=ink,
        foreground=ink,
        background=paper,
        surface=bar,
        panel=bar,
        boost=bar,
        warning=soon,
        error=over,
        success=calm,
        dark=dark,
        text_alpha=1.0,
        variables={
            "scrollbar": "#777777",
            "scrollbar-hover": ink,
            "scrollbar-active": ink,
            "scrollbar-background": bar,
            "scrollbar-background-hover": bar,
            "scrollbar-background-active": bar,
            "block-cursor-background": ink,
            "block-cursor-foreground": paper,
            "block-cursor-text-style": "none",
            "block-cursor-blurred-background": ink,
            "block-cursor-blurred-foreground": paper,
            "input-selection-background": "#777777",
            "text-muted": "auto 75%",
        },
    )


LOOKS = (
    _look(
        "dark", dark=True, ink="#ececec", paper="#101010", bar="#242424", soon="#ffc04d", over="#ff8f80", calm="#7fd6a0"
    ),
    _look(
        "light",
        dark=False,
        ink="#101010",
        paper="#fafafa",
        bar="#e2e2e2",
        soon="#7a4a00",
        over="#a8121c",
        calm="#0b5c33",
    ),
    _look(
        "plain",
        dark=True,
        ink="#ffffff",
        paper="#000000",
        bar="#000000",
        soon="#ffffff",
        over="#ffffff",
        calm="#ffffff",
    ),
)
"""Dark for the evening, light for a bright shed, plain in black and white; the first is the usual one."""
NAMES = tuple(look.name for look in LOOKS)


def first_look() -> tuple[str, str]:
    """Return the look to start with, and what is wrong with the wish for another; empty where nothing is."""
    wanted = os.environ.get(CHOSEN_BY, "").strip() or NAMES[0]
    if wanted in NAMES:
        return wanted, ""
    return NAMES[0], f"{CHOSEN_BY}={wanted!r} is not known: there are {', '.join(NAMES)}"


def next_look(name: str) -> str:
    return NAMES[(NAMES.index(name) + 1) % len(NAMES)]


OF_TEXTURE = 20
"""Columns of a step's texture where there is room."""
OF_NUMBERS = 18
"""Columns of the lay-up beside the names of its steps."""
TEXTURES = {"fabric": "█", "bond": "░", "place": "▒", "cast": "·"}
"""Each kind of step in the section: cloth, a face that drinks resin, something dry, a casting."""


def section(
    plan: Plan,
    lines: Sequence[Line],
    *,
    width: int,
    cast_g: Mapping[int, float] | None = None,
    lost_g: float | None = None,
    deep: bool = False,
) -> Text:
    """Return the lay-up in section, the top first: each step's texture, its fibre and its mix; then what cups keep.

    A `deep` one has two rows a step, and more of its texture.
    """
    thick = OF_TEXTURE if deep else 2
    wide = max(width - OF_NUMBERS - thick + 2, 8)
    text = Text(f"{mass.sign:>{wide + thick + 3}} {'fibre':>5} {'mix':>5}\n", style="dim", no_wrap=True)
    for number, line in reversed([*enumerate(lines, 1)]):
        fibre, mix = (
            mass.digits(grams) if grams else "" for grams in (line.glass_g, (cast_g or {}).get(line.step, line.mix_g))
        )
        name = shortened(line.name, wide)
        texture = TEXTURES[plan.steps[number - 1].kind]
        text.append(f"{number:>2} {texture * thick} {name:<{wide}}{fibre:>6}{mix:>6}\n", style="not dim")
        text.append(f"   {texture * thick}\n" if deep else "", style="not dim")
    if lost_g is not None:
        text.append(f"      {'cups':<{max(width - OF_NUMBERS, 8)}}{'':>6}{mass.digits(lost_g):>6}\n")
    return text
