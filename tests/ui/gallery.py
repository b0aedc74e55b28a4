"""Every screen of the app, one after the other, as a person meets them: for tests that look, and for eyes.

`python tests/ui/gallery.py FOLDER` draws them all, in every look and size, as pictures.
"""

import asyncio
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from shutil import rmtree

from app_driver import press, running

from layup.materials.demo import throwaway_workshop
from layup.records.clock import ManualClock
from layup.screens.app import LayupApp
from layup.screens.looks import NAMES

SIZES = ((80, 24), (120, 36), (160, 50))


@asynccontextmanager
async def posed(size: tuple[int, int], look: str) -> AsyncIterator["Gallery"]:
    """Open the app in a workshop that is thrown away, at a size and in a look."""
    clock = ManualClock()
    with throwaway_workshop() as root:
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

    async def keys(self, *keys: str) -> None:
        """Press some keys."""
        await press(self.app, self.pilot, *keys)

    async def wait(self, minutes: float) -> None:
        """Let minutes pass."""
        self.clock.advance(minutes * 60)
        self.app.tick()
        await self.keys()

    async def screens(self) -> AsyncIterator[str]:
        """Walk through the day; yield the name of each screen while it stands."""
        yield "stack"
        await self.keys("down", "down", "down", "left", "v", "left")
        yield "stack that does not fit"
        await self.keys("v", "right", "right", "m")
        yield "mix before the day"
        await self.keys("b")
        yield "bench before the day"
        await self.keys("p")
        yield "closing"
        await self.keys("l")
        yield "logbook"
        await self.keys("slash", *"no such words", "enter")
        yield "logbook without a find"
        await self.keys("slash", *["backspace"] * 13, "enter", "s", "i")
        yield "checklist"
        await self.keys("escape", "g")
        yield "begin"
        await self.keys("y")
        yield "mix"
        await self.keys("enter", "h", *"400", "enter")
        yield "mix off ratio"
        await self.keys("enter", "b")
        yield "bench"
        await self.keys("t")
        yield "choice"
        await self.keys("a", *"99999")
        yield "question"
        await self.keys("enter")
        yield "question with a wrong answer"
        await self.keys("escape")
        for minutes in (4, 4, 10):
            await self.wait(minutes)
            await self.keys("d")
        await self.keys("w", "enter", "h", "enter", "b", "o", "enter")
        await self.wait(2)
        yield "bench with two batches"
        await self.wait(24)
        yield "bench with a cup past its time"
        await self.keys("question_mark")
        yield "help"
        await self.keys("escape", "x", "1", "1")
        yield "planned anew"
        await self.keys("n", "c")
        yield "closing with work left"
        await self.keys("y")
        yield "cure"
        await self.wait(14 * 60)
        await self.keys("t", "m", *"12", "enter", "t", "n", *"5", "enter", "enter")
        yield "cure in the cold"
        await self.keys("z", "y")
        yield "part out"


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

    for size in SIZES:
        for look in NAMES:
            async with posed(size, look) as gallery:
                async for name in gallery.screens():
                    svg = gallery.app.export_screenshot().replace("Fira Code", "DejaVu Sans Mono")
                    target = folder / f"{size[0]} {look} {name}.png".replace(" ", "-")
                    svg2png(bytestring=svg.encode(), write_to=str(target), output_width=size[0] * 9)


if __name__ == "__main__":
    Path(sys.argv[1]).mkdir(parents=True, exist_ok=True)
    asyncio.run(_draw(Path(sys.argv[1])))
