"""Every screen of the app, one after the other, as a person meets them: for tests that look, and for eyes.

Each is checked to show what its name says before anybody looks at it.
`python tests/ui/gallery.py FOLDER` draws them all, in every look and size, as pictures.
"""

import asyncio
import re
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from shutil import rmtree

from app_driver import allow_large_cups, press, running, settled
from screen_svg import FONTS, screen_svg
from textual.app import App
from textual.geometry import Region
from textual.strip import Strip

from layup.app.app import LayupApp
from layup.app.shell import NAMES
from layup.files.workshop import throwaway_workshop
from layup.session.clock import ManualClock

USUAL = (80, 24)
SIZES = ((40, 16), (160, 50), (120, 36), USUAL)
"""The last one is that at which the day goes on."""
SHOWS = {
    "stack": ("stack", "Slow laminating epoxy", "Touring skis 168 ×2", "2 393 g", "ENTER checklist"),
    "stack that does not fit": ("stack", "DOES NOT FIT", "Liquid DGEBA"),
    "mix before the day": ("mix", "No press day runs", "BEGIN IT"),
    "bench before the day": ("bench", "No press day runs", "BEGIN IT"),
    "closing": ("cure", "CLOSE THE PRESS", "kPa bladder"),
    "logbook": ("logbook", "2 sessions", "dry spot, void"),
    "logbook without a find": ("logbook", '0 sessions with "no such words"'),
    "checklist": ("stack", "CHECKLIST 0/25", "▸ [ ]"),
    "begin": ("stack", "Checklist: 0/25 ticked.", "14 min spare", "Out ≈ 31 h", "W wood"),
    "mix": ("mix", "BATCH 1/2", "TARE CUP", "RESIN ON TARGET"),
    "mix hardener": ("mix", "DO NOT TARE", "= +90 g hardener", "390-393 is good", "HARDENER GOES IN"),
    "mix pouring": ("mix", "TAKE HARDENER READING", "empty by 08:36", "41 g to go"),
    "mix off ratio": ("mix", "✗ ADD 29 g RESIN", "429 > 400 g cup"),
    "mix stirring": ("mix", "ON RATIO", "scrape sides", "TO THE BENCH"),
    "bench": ("bench", "WAIT FOR BATCH 1", "CUP 1", "2/13", "STIR BATCH 1", "empty by 08:36"),
    "choice": ("bench", "Log what?", "▸ a"),
    "question": ("bench", "Temperature: air", "99999", "°C, or 68 F"),
    "question with a wrong answer": ("bench", "99999", "! must be between -40 and 250 °C"),
    "bench with two batches": (
        "bench",
        "ASH STRINGERS",
        "CUP 2",
        "PART 1",
        "5/13",
        "empty by 08:54",
        "open until 10:20",
    ),
    "bench with a cup past its time": ("bench", "EMPTY CUP 2 NOW", "6 min late", "40 min over", "empty by 08:54"),
    "help": ("bench", "Space seen", "' earlier", "? in full"),
    "planned anew": ("bench", "REPLAN", "batch 1 lost", "39 min TOO LATE", "keep batches"),
    "closing with work left": ("bench", "not done: steps 5-13", "Log closed anyway?"),
    "cure": ("cure", "LEAVE IT CLOSED", "LIQUID", "OUT ≈ Sun 15:33", "MAKES IT by Mon 09:00"),
    "cure in the cold": (
        "cure",
        "LEAVE IT CLOSED",
        "OUT ≈ Wed 12:10",
        "DOES NOT MAKE IT",
        "cure may stop",
        "HEAT 20 °C",
    ),
    "part out": ("cure", "● OUT 23:00", "KEEP IT COOLER", "POST-CURE 8 h at 60 °C"),
}
"""Picture -> the place it is of, and words that stand on it and did not all stand on the one before.

At the smallest size the first of the words stands there; the rest may have to be scrolled to.
"""
MOST_WORDS = {
    "stack": 77, "stack that does not fit": 57, "mix before the day": 15, "bench before the day": 15, "closing": 54,
    "logbook": 68, "logbook without a find": 17, "checklist": 54, "begin": 73, "mix": 41, "mix hardener": 49,
    "mix pouring": 46, "mix off ratio": 51, "mix stirring": 42, "bench": 45, "choice": 16, "question": 5,
    "question with a wrong answer": 8, "bench with two batches": 42, "bench with a cup past its time": 49, "help": 33,
    "planned anew": 30, "closing with work left": 17, "cure": 54, "cure in the cold": 68, "part out": 40,
}  # fmt: skip
"""Picture -> how many words of two letters or more it has at the usual size at most: it is read from two metres.

On the Stack 38 of them are the names that the plan gives to its steps, which are all there is to tell them apart.
"""
WORD = re.compile(r"[^\W\d_]{2,}")
NOT_LETTERS = re.compile(r"[\s█▓▒░▀▄▁-▇━─│╭╮╰╯┃┏┓┗┛═║╔╗╚╝]+")


def stage(app: App[None]) -> Region:
    """Return the part of the screen that is meant to be read: all of it, or the page that stands over it."""
    pages = app.screen.query(".prompt, .page")
    return pages.first().region if pages else app.screen.region


def drawn(app: App[None]) -> list[Strip]:
    """Draw the screen, and return its lines."""
    return app.screen._compositor.render_strips()


def text_in(app: App[None], region: Region, strips: list[Strip] | None = None) -> str:
    """Return what stands in a region of the screen; `strips` are its lines, where they are drawn already."""
    strips = drawn(app) if strips is None else strips
    inside = region.intersection(app.screen.region)
    return "\n".join(strips[y].crop(inside.x, inside.right).text for y in range(inside.y, inside.bottom))


@asynccontextmanager
async def posed(size: tuple[int, int], look: str) -> AsyncIterator["Gallery"]:
    """Open the app in a workshop that is thrown away, at a size and in a look."""
    clock = ManualClock()
    with throwaway_workshop() as root:
        allow_large_cups(root)
        async with running(root, clock=clock, size=size) as (app, pilot):
            app.theme = look
            await pilot.pause()
            yield Gallery(app, pilot, clock)


class Gallery:
    """The app on its way through a whole press day, stopping at each screen."""

    def __init__(self, app: LayupApp, pilot: object, clock: ManualClock) -> None:
        self.app = app
        self.pilot = pilot
        self.clock = clock
        self.last = ("", "")
        """The place and the words of the picture before."""

    async def at(self, size: tuple[int, int], look: str) -> None:
        """Draw the same screen at another size and in another look."""
        self.app.theme = look
        if self.app.size != size:
            await self.pilot.resize_terminal(*size)
        await settled(self.app, self.pilot)

    async def keys(self, *keys: str) -> None:
        """Press some keys."""
        await press(self.app, self.pilot, *keys)

    async def wait(self, minutes: float) -> None:
        """Let minutes pass."""
        self.clock.advance(minutes * 60)
        self.app.tick()
        await self.keys()

    def shown(self, name: str) -> str:
        """Check that the screen shows what a picture's name says, and return the name."""
        place, *wanted = SHOWS[name]
        now = self.app.place.id or "", self.words()
        assert now[0] == place, f"{name!r} is of {place}, and {now[0]} stands on the screen"
        missing = self.missing(name)
        assert not missing, f"{name!r} does not show {missing} but: {now[1]}"
        told = place != self.last[0] or not all(words in self.last[1] for words in wanted)
        assert told, f"the words of {name!r} stood on the picture before it, too"
        self.last = now
        return name

    def words(self, strips: list[Strip] | None = None) -> str:
        """Return what stands on the stage, as one line."""
        return NOT_LETTERS.sub(" ", text_in(self.app, stage(self.app), strips))

    def missing(self, name: str, strips: list[Strip] | None = None) -> list[str]:
        """Return the words of a picture that do not stand on the screen."""
        wanted, there = SHOWS[name][1:] if self.app.size.height >= USUAL[1] else SHOWS[name][1:2], self.words(strips)
        return [words for words in wanted if words not in there]

    async def screens(self) -> AsyncIterator[str]:
        """Walk through the day; yield the name of each screen while it stands."""
        await self.keys("down", "right")
        yield self.shown("stack")
        await self.keys("v", "down", "down", "right")
        yield self.shown("stack that does not fit")
        await self.keys("v", "left", "m")
        yield self.shown("mix before the day")
        await self.keys("b")
        yield self.shown("bench before the day")
        await self.keys("p")
        yield self.shown("closing")
        await self.keys("l")
        yield self.shown("logbook")
        await self.keys("slash", *"no such words", "enter")
        yield self.shown("logbook without a find")
        await self.keys("slash", *["backspace"] * 13, "enter", "s", "i")
        yield self.shown("checklist")
        await self.keys("escape", "g")
        yield self.shown("begin")
        await self.keys("o", "y")
        yield self.shown("mix")
        await self.keys("enter")
        yield self.shown("mix hardener")
        await self.keys("enter", *"350")
        yield self.shown("mix pouring")
        await self.keys(*["backspace"] * 3, *"400", "enter")
        yield self.shown("mix off ratio")
        await self.keys("enter")
        yield self.shown("mix stirring")
        await self.keys("enter")
        yield self.shown("bench")
        await self.keys("t")
        yield self.shown("choice")
        await self.keys("a", *"99999")
        yield self.shown("question")
        await self.keys("enter")
        yield self.shown("question with a wrong answer")
        await self.keys("escape")
        for minutes in (4, 4, 10):
            await self.wait(minutes)
            await self.keys("d")
        await self.keys("w", "enter", "enter", "enter", "b", "o", "enter")
        await self.wait(2)
        yield self.shown("bench with two batches")
        await self.wait(40)
        yield self.shown("bench with a cup past its time")
        await self.keys("question_mark")
        yield self.shown("help")
        await self.keys("escape", "x", "1", "1", "y", "enter")
        yield self.shown("planned anew")
        await self.keys("n", "c")
        yield self.shown("closing with work left")
        await self.keys("y")
        yield self.shown("cure")
        await self.wait(14 * 60)
        await self.keys("t", "m", *"12", "enter", "t", "n", *"5", "enter", "enter")
        yield self.shown("cure in the cold")
        await self.keys("z", "y")
        yield self.shown("part out")


@asynccontextmanager
async def troubled(size: tuple[int, int], look: str, trouble: str) -> AsyncIterator[LayupApp]:
    """Open the app in a workshop with one of TROUBLES."""
    with throwaway_workshop() as root:
        TROUBLES[trouble](root)
        async with running(root, clock=ManualClock(), size=size) as (app, pilot):
            app.theme = look
            await pilot.pause()
            yield app


def _spoil_plan(root: Path) -> None:
    path = root / "sessions" / "touring-skis" / "plan.toml"
    lines = path.read_text(encoding="utf-8").replace("pieces =", "peices =").splitlines()
    path.write_text("\n".join(["people = 'many'", *lines]), encoding="utf-8")


def _take_away(root: Path, what: str) -> None:
    for entry in (root / what).iterdir():
        rmtree(entry) if entry.is_dir() else entry.unlink()


TROUBLES = {
    "a plan with mistakes": _spoil_plan,
    "no plan": lambda root: _take_away(root, "sessions"),
    "no resin": lambda root: _take_away(root, "resins"),
}


async def _draw(folder: Path) -> None:
    from cairosvg import svg2png

    async with posed(USUAL, NAMES[0]) as gallery:
        async for name in gallery.screens():
            for size in SIZES:
                for look in NAMES:
                    await gallery.at(size, look)
                    missing = gallery.missing(name)
                    assert not missing, f"{name} at {size}, {look}, does not show {missing} but: {gallery.words()}"
                    svg = screen_svg(gallery.app, name).replace(FONTS, "DejaVu Sans Mono")
                    target = folder / f"{size[0]} {look} {name}.png".replace(" ", "-")
                    svg2png(bytestring=svg.encode(), write_to=str(target), output_width=size[0] * 9)


if __name__ == "__main__":
    Path(sys.argv[1]).mkdir(parents=True, exist_ok=True)
    asyncio.run(_draw(Path(sys.argv[1])))
