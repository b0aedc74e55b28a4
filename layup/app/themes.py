"""How the app looks: dark, light, or in one colour. Words and shapes say everything; a look only makes it easier."""

from __future__ import annotations

import os

from textual.theme import Theme

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
    """Return the look after `name`."""
    return NAMES[(NAMES.index(name) + 1) % len(NAMES)]
