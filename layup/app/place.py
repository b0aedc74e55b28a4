"""What all places have in common, and what they and the actions may ask of the app."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from importlib import import_module
from math import inf
from textwrap import wrap
from typing import TYPE_CHECKING, Protocol, TypeVar, cast

from rich.text import Text
from textual.app import App
from textual.containers import Vertical, VerticalScroll
from textual.screen import Screen
from textual.widget import AwaitMount
from textual.widgets import Static

if TYPE_CHECKING:
    from pathlib import Path

    from textual import events

    from layup.app.sound import Sound
    from layup.bench.acts import Act
    from layup.bench.alarms import AlarmMonitor
    from layup.bench.day import PressDay, Said
    from layup.bench.doing import OnScreen
    from layup.bench.planner import Planner
    from layup.bench.rehearsal import Play
    from layup.bench.view import BenchView
    from layup.session.clock import Clock


LOOKS_ON = "not now: looking on only"
"""What a key that writes says where this program never does."""
PHONE_IN = "9 lets a phone in"
"""What stands above the keys while nothing else does, until the first phone or tablet came in."""
SAID_S = 30.0
"""How long what came of a key stands above the keys."""

Other = TypeVar("Other", bound="Place")


class Companion(Protocol):
    """What runs beside the app in its loop: the page for tablets and phones."""

    word: str
    """What lets the next device in; empty where no other device may come in."""

    waits: bool
    """Whether other devices may come in, and none did yet."""

    async def start(self) -> None:
        """Begin where that was asked for, and say what came of it."""

    async def open(self, *, lan: bool) -> bool:
        """Begin for this computer, or for the whole network; return whether it could."""
        ...

    async def stop(self) -> None:
        """End."""

    def words(self) -> str:
        """Return what somebody needs to know to use it."""
        ...


class Host(App[None]):
    """The app as its places and actions know it: what it holds, and how to say, to ask and to go somewhere."""

    planner: Planner
    """Set once the workshop is read; nothing that needs it runs before `ready`."""
    day: PressDay | None
    alarm_monitor: AlarmMonitor | None
    sound: Sound
    beside: Companion | None
    view: BenchView | None
    """The bench as it stood at the last look; None without a press day."""
    on_screen: OnScreen
    """The act that Enter is for, and since when it has been shown."""
    clock: Clock
    watch_only: bool
    """Look on, and never write."""
    ready = False
    here = wanted = ""
    """The name of the place that is gone to, and of the one whose key was typed while the workshop was still read."""
    played: Path | None
    """The folder of the day for play, if there is one."""
    at_speed: Play | None
    """A day for play at speed, if that was asked for."""
    farewell: str
    wants_demo = False
    """Whether the app is left to look around in the demo instead."""
    said_until_s = inf
    """Until when what was said stands on the screen, by the clock."""
    way_back = "layup"
    """The words that open a running day again; empty where nothing is kept."""

    @property
    def base(self) -> Screen[object]:
        """The screen that holds the places, also while a question stands over it."""
        return self.screen_stack[0]

    def at(self, kind: type[Other]) -> Other:
        """Return a place; as it is asked for the first time, it is mounted with all that is in it."""
        for place in self.base.query(kind):
            return place
        place = kind()
        place.display = False
        self.base.query_one("#places").mount(place)
        place.parts = [*place.fill()]
        return place

    @property
    def place(self) -> Place:
        """The place that is gone to, also while another is still on the screen."""
        return self.base.query_one(f"#{self.here}", Place)

    def action_go(self, name: str) -> None:
        if not self.ready:
            self.wanted = name
            return
        if self.here == "logbook" and name != "logbook":
            self.say("")  # what was marked there is of no use elsewhere
        kind: type[Place] = getattr(import_module(f"layup.app.{name}"), f"{name.capitalize()}Place")
        self.here, place = name, self.at(kind)
        place.come()
        place.enter()
        self.redraw()

    def say(self, words: str) -> None:
        """Show one line above the keys, for a while."""
        stands_s = SAID_S * (self.at_speed.times if self.at_speed else 1.0)
        self.said_until_s = self.clock.monotonic_s() + stands_s if words else inf
        self.base.query_one("#said", Static).update(Text(words))

    def say_no_more(self) -> None:
        """Take away what was said, once it has stood there for its while."""
        if self.clock.monotonic_s() >= self.said_until_s:
            waits = self.beside is not None and self.beside.waits and self.place.id != "mix"  # there a digit is typed
            self.say(PHONE_IN if waits else "")

    def ask(self, screen: object, then: Callable[[str], None]) -> None:
        """Show a question; `then` takes the answer unless it was left without one."""
        from textual.screen import ModalScreen

        assert isinstance(screen, ModalScreen)

        def answered(result: str | None) -> None:
            if result is not None:
                then(result)

        self.push_screen(screen, answered)

    def on_key(self, event: events.Key) -> None:
        """Hand a key that was typed while a question came up on to it."""
        if self.screen is not self.base:
            from layup.app.prompts import hand_on

            hand_on(self, event)

    def redraw(self) -> None:
        """Redraw the place on the screen and the line on top."""
        raise NotImplementedError

    def heard(self, said: Said) -> None:
        """Show what came of a key, and redraw."""
        raise NotImplementedError

    def do_act(self) -> None:
        """Do the act that is shown."""
        raise NotImplementedError

    def show_day(self, day: PressDay) -> None:
        """Show a press day that was opened."""
        raise NotImplementedError

    def learn_again(self) -> object:
        """Read anew what earlier sessions teach, as one was added."""
        raise NotImplementedError

    def plan_again(self, words: str = "") -> None:
        """Work the plan out with the dials as they stand by now, and say something then."""
        raise NotImplementedError

    def ask_to_begin(self) -> None:
        """Ask whether to begin, once, where the program was started for that."""
        raise NotImplementedError


def in_pieces(pieces: Iterable[str], width: int, between: str = " · ") -> list[str]:
    """Return pieces side by side, in lines of at most `width` that break between two of them alone."""
    lines: list[str] = []
    for piece in pieces:
        if lines and len(lines[-1]) + len(between) + len(piece) <= width:
            lines[-1] += f"{between}{piece}"
        else:
            lines.append(piece)
    return lines


def whole_lines(items: Iterable[str], *, width: int, rows: int) -> list[str]:
    """Return as many of the items as have room to stand whole, the first ones first."""
    lines: list[str] = []
    for item in items:
        wrapped = wrap(item, max(width, 1), break_on_hyphens=False)
        if len(lines) + len(wrapped) <= rows:
            lines += wrapped
    return lines


class Place(Vertical):
    """One of the five places of the app. `show` redraws it from what the app holds."""

    DEFAULT_CLASSES = "place"
    can_focus = True
    parts: list[AwaitMount]
    """What waits until all in it is there."""
    whole = False
    """Whether it is."""

    @property
    def layup(self) -> Host:
        """The app, with its desk and its press day."""
        return cast("Host", self.app)

    @property
    def shows_days(self) -> bool:
        """Whether the days before stand here, and want no page of their own."""
        return False

    def fill(self) -> Iterator[AwaitMount]:
        """Mount all that is in it at once, so that it can be drawn with the next line; yield what waits for it."""
        raise NotImplementedError

    async def on_mount(self) -> None:
        """Come to the screen with all that is in it: what comes later is not told its size."""
        for part in self.parts:
            await part
        self.whole = True
        self.come()

    def come(self) -> None:
        """Stand on the screen in the stead of what does, where it is whole and gone to."""
        if self.whole and self.parent is not None and self.layup.here == self.id:
            for other in self.parent.children:
                other.display = other is self

    def enter(self) -> None:
        """Take the keyboard as the place comes to the screen."""
        self.focus()

    def show(self) -> None:
        """Redraw the place."""

    def on_resize(self) -> None:
        """Redraw at the new size, once all in it has its own."""
        if self.layup.ready:
            self.call_after_refresh(self.show)

    def tick(self) -> None:
        """Redraw what changes with time alone."""

    def page(self, down: int) -> None:
        """Scroll by a screen, where the place can be longer than that."""
        for scroll in self.query(VerticalScroll):
            scroll.scroll_relative(y=down * max(scroll.size.height - 2, 1), animate=False)

    def accept(self) -> None:
        """Do what Enter does here."""

    def own(self, name: str) -> None:
        """Carry out an action that only this place has."""

    def act_of_enter(self) -> Act | None:
        """Return the act that Enter does here, where it is one of the press day."""
        return None

    def act_words(self) -> str:
        """Return what Enter does here, where that changes from moment to moment."""
        return ""

    def able(self) -> frozenset[str]:
        """Return the actions that only this place takes on a running day, as it stands."""
        return frozenset()

    def unable(self) -> frozenset[str]:
        """Return the actions of a running day that would mean something else here, or nothing."""
        return frozenset()

    def arrow(self, right: int, down: int) -> None:
        """Take an arrow key."""

    def details(self) -> list[str]:
        """Return what the screen has no words for and the help says."""
        return []
