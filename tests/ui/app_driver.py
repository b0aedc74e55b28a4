"""Drive the app without a terminal: a throwaway workshop, a clock moved by hand, keys, and the words on screen."""

import asyncio
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from unittest.mock import patch

import textual.app
import textual.pilot
from textual._compositor import Compositor
from textual.css.stylesheet import Stylesheet
from textual.pilot import Pilot
from textual.widgets import Static

from layup.app import begin
from layup.app.app import LayupApp
from layup.app.bench import BenchPlace
from layup.bench.rehearsal import Play
from layup.files.workshop import new_workshop
from layup.session.clock import ManualClock

WORKING_S = 0.005
"""How often to look whether what is worked out in a thread is there."""


async def _until_quiet(*_: object, **__: object) -> bool:
    """Wait until no task of the app can go on: each waits for a key, for the time or for a thread.

    Textual has every widget answer and watches the processor instead, six times a key: half of what a test cost.
    """
    ready = asyncio.get_running_loop()._ready
    await asyncio.sleep(0)
    while ready:
        await asyncio.sleep(0)
    return True


Pilot._wait_for_screen = _until_quiet
textual.app.wait_for_idle = textual.pilot.wait_for_idle = _until_quiet

_PARSED: dict[frozenset[tuple[str, str]], object] = {}
"""Colours of a look -> what was parsed with them."""


def _parse_once(sheet: Stylesheet, parse: Callable[[Stylesheet], None] = Stylesheet.parse) -> None:
    """Parse styles that no app before this one had in these colours: a sixth of what opening an app takes."""
    sheet._parse_cache = _PARSED.setdefault(frozenset(sheet._variables.items()), {})
    parse(sheet)


Stylesheet.parse = _parse_once


def workshop(folder: Path) -> Path:
    """Make a workshop without sessions, for two large batches."""
    root = folder / "shop"
    new_workshop(root)
    allow_large_cups(root)
    return root


def allow_large_cups(root: Path) -> None:
    """Let a plan take cups of up to 400 g: two batches instead of three, and two pours that follow in time."""
    plan = root / "sessions" / "touring-skis" / "plan.toml"
    text = plan.read_text(encoding="utf-8")
    for there, wanted in (('largest = "300 g"', 'largest = "400 g"'), ("minutes = 12\n", "minutes = 10\n")):
        assert text.count(there) == 1
        text = text.replace(there, wanted)
    plan.write_text(text, encoding="utf-8")


def _leave_undrawn(compositor: Compositor, *_: object, **__: object) -> None:
    """Drop what should be drawn anew: no terminal would show it, and drawing is a third of an app's work."""
    compositor._dirty_regions.clear()


@asynccontextmanager
async def running(
    root: Path,
    *,
    clock: ManualClock | None = None,
    size: tuple[int, int] = (80, 24),
    begins_with: str = "begin",
    at_speed: Play | None = None,
    **options: object,
) -> AsyncIterator[tuple[LayupApp, Pilot[None]]]:
    """Run the app until its workshop is read; what it shows at the end is drawn once, as a terminal would have it."""
    app = LayupApp(root, clock=clock or ManualClock(), **options)  # type: ignore[arg-type]  # passed through as given
    app.begins_with, app.at_speed = begins_with, at_speed
    with patch.object(Compositor, "render_update", _leave_undrawn):
        async with app.run_test(size=size) as pilot:
            await settled(app, pilot)
            yield app, pilot
            if app.is_running:
                app.screen._compositor.render_strips()


async def settled(app: LayupApp, pilot: Pilot[None]) -> None:
    """Wait until nothing is being worked out and all that follows from it is laid out."""
    await _drawn(pilot)
    while any(not worker.is_finished for worker in app.workers) or not _there(app) or _frame_is_due(app):
        await asyncio.sleep(WORKING_S)
        await _drawn(pilot)
    assert _there(app)


async def come(app: LayupApp, pilot: Pilot[None]) -> None:
    """Wait until the place that is gone to stands on the screen, whatever is still worked out for it."""
    await _drawn(pilot)
    while not app.place.size or _frame_is_due(app):
        await _drawn(pilot)


def _there(app: LayupApp) -> bool:
    """Return whether the workshop is read, or the app was left."""
    return app.ready or app._exit


async def _drawn(pilot: Pilot[None]) -> None:
    """Let the next frame come, and let everything on it hear of its size."""
    await pilot.pause()
    await _until_quiet()


def _frame_is_due(app: LayupApp) -> bool:
    """Return whether a new size, a new layout or what waits for one comes with the next frame."""
    screen = app.screen
    return app._resize_timer is not None or screen._update_timer._active.is_set() or bool(screen._callbacks)


async def at_each(
    app: LayupApp, pilot: Pilot[None], sizes: Iterable[tuple[int, int]]
) -> AsyncIterator[tuple[int, int]]:
    """Show what stands on the screen at each of some sizes, one after the other."""
    for size in sizes:
        if app.size != size:
            await pilot.resize_terminal(*size)
        await settled(app, pilot)
        yield size


async def press(app: LayupApp, pilot: Pilot[None], *keys: str) -> None:
    """Press keys one after the other, as a person would who looks at what each did."""
    await settled(app, pilot)
    for key in keys:
        await pilot.press(key)
        await settled(app, pilot)


def logged(app: LayupApp) -> str:
    """Return the entries of the journal that the help of Bench lists, newest first."""
    return "\n".join(app.at(BenchPlace).details())


async def begin_day(app: LayupApp, pilot: Pilot[None], *keys: str) -> None:
    """Begin the press day with the plan as it stands, and go on with some keys.

    It is begun as by yes to what the page before the day asks; the keys of that page are pressed where it is tested.
    """
    await settled(app, pilot)
    begin._begin(app, app.planner.figures, "")
    assert app.day is not None
    await press(app, pilot, *keys)


def words(app: LayupApp, selector: str) -> str:
    """Return what a line of the app says."""
    return str(app.screen.query_one(selector, Static).content)


def said(app: LayupApp) -> str:
    """Return the line above the keys."""
    return str(app.base.query_one("#said", Static).content)


def bench(app: LayupApp) -> str:
    """Return all that the Bench says of the day, but for its log and its table."""
    return "\n".join(str(app.base.query_one(f"#bench-{part}", Static).content) for part in ("act", "main", "rest"))
