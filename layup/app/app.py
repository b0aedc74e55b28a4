"""The app: five places, one line on top, one key each. Decisions are in `desk` and `day`; this only carries keys."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Static

from layup.app.keys import ARROWS, AT_FIRST, PAGES, key_actions, meant, works
from layup.app.place import Companion, Host
from layup.app.shell import LOOKS, DrawnPlain, KeyBar, TopLine, first_look
from layup.app.sound import Sound
from layup.errors import LayupError, StorageError
from layup.session.clock import Clock, SystemClock

if TYPE_CHECKING:
    from rich.console import RenderableType
    from textual.filter import LineFilter

    from layup.bench.alarms import AlarmMonitor, Poll, ReadingSource
    from layup.bench.day import PressDay, Said
    from layup.bench.opening import Opened
    from layup.bench.rehearsal import Play
    from layup.bench.view import BenchView
    from layup.chemistry.temperature import History
    from layup.review.lessons import Lessons
    from layup.session.archive import Summary

NARROWEST = 40
"""Columns that the places need; below them the line on top is all that is shown."""
HUNG_UP_S = 3.0
"""How long leaving may take once the terminal is gone."""
WATCH_S = 3.0
"""How often a program that only looks on looks for a press day to look at."""


class LayupApp(Host):
    """The terminal app of one workshop."""

    TITLE = "layup"
    CSS_PATH = "layup.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [Binding(key, what, show=False) for key, what in key_actions()]
    HORIZONTAL_BREAKPOINTS = [(0, "-thin"), (NARROWEST, "-slim"), (60, "-narrow"), (120, "-wide")]
    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (20, "-low"), (34, "-tall")]

    def __init__(
        self,
        root: Path,
        *,
        plan: str | None = None,
        session: Path | None = None,
        banner: str = "",
        clock: Clock | None = None,
        watch: bool = False,
        thermometer: ReadingSource | None = None,
        play: bool = False,
    ) -> None:
        super().__init__()
        for look in LOOKS:
            self.register_theme(look)
        name, self.look_trouble = first_look()
        self.set_reactive(App.theme, name)
        self.stylesheet.set_variables(self.get_css_variables())
        self.drawn_plain = DrawnPlain()
        self.clock = clock or SystemClock()
        self.root, self.wanted_plan = root, plan
        self.casting = False
        self.forecast: History = ()
        """Whether the casting day of the plan is wanted, and not its press day; the shop's day, where one is told."""
        self.to_begin = plan is not None and not watch
        """Whether the plan's figures, once they stand, are followed by the question whether to begin."""
        self.wanted_session = session
        self.banner = banner
        self.watch_only = watch
        """Look on, and never write."""
        self.thermometer = thermometer
        self.play = play
        """Offer a press day for play, in a workshop that is thrown away."""
        self.played: Path | None = None
        self.begins_with = "begin"
        """What is asked once the figures stand: to begin the press day, or a dry run."""
        self.at_speed: Play | None = None
        self.sound = Sound(self.clock)
        self.beside: Companion | None = None
        self.day: PressDay | None = None
        self.alarm_monitor: AlarmMonitor | None = None
        self.view: BenchView | None = None
        self.fault = ""
        """What was wrong with the journal at the last look."""
        self.farewell = ""
        self.once_open: Callable[[], None] = lambda: None
        self.left = False
        """Whether it is left: a day that is opened only then is closed at once."""

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Return what each line goes through before it is drawn."""
        return [*super().get_line_filters(), self.drawn_plain]

    def compose(self) -> ComposeResult:
        yield TopLine("reading the workshop ...", id="top", classes="plain")
        yield Static(f"too narrow: {NARROWEST} columns at least", id="too-narrow")
        with Vertical(id="places"):
            yield Static("reading the workshop ...", id="loading")
        with Vertical(id="foot"):
            yield Static("", id="said")
            yield KeyBar(id="keys")

    def on_mount(self) -> None:
        self._leave_when_told()
        self.call_after_refresh(self._open_workshop)
        if self.beside is not None:
            self.run_worker(self.beside.start())

    def _leave_when_told(self) -> None:
        """Leave as with the quit key where the system asks for it or the terminal goes: the journal is closed."""
        for name, leave in (("SIGTERM", self.exit), ("SIGHUP", self._hung_up)):
            if hasattr(signal, name):
                with suppress(NotImplementedError, RuntimeError, ValueError):  # no such loop, or not the main thread
                    asyncio.get_running_loop().add_signal_handler(getattr(signal, name), leave)

    def exit(self, result: None = None, return_code: int = 0, message: RenderableType | None = None) -> None:
        """Leave; a key that was typed behind that one does nothing."""
        self.ready, self.left = False, True
        super().exit(result, return_code, message)

    def _hung_up(self) -> None:
        """Leave, and do not wait for ever for a terminal that takes no more: every confirmed entry is on the disk."""
        guard = threading.Timer(HUNG_UP_S, self._give_up)
        guard.daemon = True
        guard.start()
        self.exit()

    def _give_up(self) -> None:
        """End at once, with the journal closed."""
        try:
            if self.day is not None:
                self.day.close()
        finally:  # whatever closing says: there is nobody to tell
            os._exit(128 + signal.SIGHUP)

    @work(thread=True, exclusive=True)
    def _open_workshop(self) -> None:
        """Read the workshop off the path to the first frame."""
        from layup.bench.opening import Opened, open_day
        from layup.bench.planner import Planner

        problem, opened = "", Opened()
        self.planner = Planner(self.root, plan=self.wanted_plan, casting=self.casting, forecast=self.forecast)
        self.planner.today = self.clock.utc().astimezone().date()
        self.planner.awaits_lessons = not self.planner.workshop.is_bare
        try:
            self.planner.load()
            dry = self.begins_with == "dry_run"
            opened = open_day(self.planner, self.wanted_session, self.clock, watch=self.watch_only, dry=dry)
            self.day = opened.day
            if self.left and self.day is not None:
                self.day.close()
        except LayupError as error:
            problem = str(error)
        self.call_later(self._opened, opened, problem)

    def _opened(self, opened: Opened, problem: str) -> None:
        """Show the first place once the workshop is read."""
        if self.left:
            return
        from layup.bench.doing import OnScreen

        day = opened.day
        self.stylesheet.read(Path(__file__).with_name("places.tcss"))
        self.stylesheet.parse()
        self.on_screen = OnScreen()
        self.ready = True
        self.once_open()
        self.set_interval(1.0, self.tick)
        self.set_interval(WATCH_S, self.look_for_a_day if self.watch_only else self.look_for_the_writer)
        if self.thermometer is not None:
            from layup.bench.alarms import POLL_S

            self._read_thermometer()
            self.set_interval(POLL_S, self._read_thermometer)
        self.learn_again()
        if day is not None:
            self.show_day(day)
        else:
            self.action_go("stack")
            self.say(problem or self.look_trouble or self.banner)
        if self.wanted:
            self.action_go(self.wanted)
        if opened.others:
            from layup.app.opening import ask_which

            ask_which(self, opened)
        elif day is None and not self.watch_only:
            from layup.app.first import offer_at_start

            offer_at_start(self, play=self.play)

    def show_day(self, day: PressDay) -> None:
        """Take up a press day, and go to where it stands."""
        from layup.bench.opening import meet

        self.day = day
        meet(day, self.planner.carriers)
        self.action_go("bench" if day.state.closed_s is None or day.is_dry else "cure")
        self.say(day.greeting)

    def look_for_the_writer(self) -> None:
        """Offer to go on with a session that is looked on, once: as its writer is gone."""
        if self.day is not None and self.day.watching:
            from layup.app.opening import offer_to_write

            offer_to_write(self, self.day)

    @work(thread=True, exclusive=True, group="learning")
    def learn_again(self) -> None:
        """Read what earlier sessions teach, beside the screen."""
        if self.planner.workshop.is_bare:
            return
        from layup.review.carried import carriers
        from layup.review.lessons import workshop_lessons

        with suppress(LayupError):  # what stands against it is told of the lessons
            self.call_later(self.noted, carriers(self.planner.workshop, keep=not self.watch_only))
        try:
            of = (self.at_speed and self.at_speed.workshop) or self.planner.workshop
            lessons = workshop_lessons(of, leave_out=self.day.folder if self.day else None)
        except LayupError as error:
            self.call_later(self.say, f"earlier sessions are not used: {error}")
            self.call_later(self._learnt, self.planner.lessons)
        else:
            self.call_later(self._learnt, lessons)

    def noted(self, sessions: tuple[Summary, ...]) -> None:
        """Take what sessions carry forward, and let the running day meet it."""
        from layup.bench.opening import meet

        self.planner.take_notes(sessions)
        if self.day is not None and sessions:
            meet(self.day, sessions)
            self.redraw()

    def _learnt(self, lessons: Lessons) -> None:
        """Use what was learnt: the plan on the desk is worked out anew with the settings that stand by now."""
        self.planner.lessons = lessons
        self.planner.awaits_lessons = bool(lessons.sessions and self.planner.settings) and self.day is None
        if not lessons.sessions:
            self.redraw()
            self.ask_to_begin()
        elif self.day is not None:
            self.day.use(lessons)
            self.redraw()
        else:
            self.plan_again(self.banner)

    def plan_again(self, words: str = "") -> None:
        """Work the plan out with the dials as they stand by now, and say something then."""
        from layup.app.stack import StackPlace

        if self.planner.settings is not None:
            self.at(StackPlace).work_out(self.planner.settings, words)

    def ask_to_begin(self) -> None:
        """Ask whether to begin what was asked for, once, if nothing else is looked at; play begins at once."""
        wanted, self.to_begin = self.to_begin, False
        if self.at_speed is not None and self.played is None:
            from layup.app.opening import begin_play

            begin_play(self)
        elif wanted and self.day is None and self.planner.figures is not None and self.screen is self.base:
            self.action_do(self.begins_with)

    # -- places -----------------------------------------------------------------------------------------------------

    def _show_keys(self, place: str) -> None:
        able = works(self) if self.ready else AT_FIRST
        self.base.query_one(KeyBar).show_place(place, able, self.place.act_words() if self.ready else "")
        if self.ready and (act := self.place.act_of_enter()) is not None:
            self.on_screen = self.on_screen.drawn(act, self.clock.monotonic_s())

    def action_arrow(self, key: str) -> None:
        if self.ready:
            self.place.arrow(*ARROWS[key])

    def action_page(self, key: str) -> None:
        """Scroll the place by a screen."""
        if self.ready:
            self.place.page(PAGES[key])

    def action_do(self, name: str) -> None:
        """Carry out an action of the table."""
        if self.left or (not self.ready and name != "leave"):
            return
        from layup.app.actions import DOES

        meaning = meant(name, self.place.id or "") if self.ready else name
        if meaning in DOES:
            DOES[meaning](self)
        else:
            self.place.own(meaning)

    def do_act(self) -> None:
        """Do the act that is shown, if it has stood there long enough to be read."""
        from layup.app.actions import do_act

        do_act(self)

    def redraw(self) -> None:
        """Redraw the place on the screen, which as it comes there is drawn at its size, and the line on top."""
        self._look()
        if self.place.size:
            self.place.show()
        self._show_keys(self.place.id or "stack")
        self._show_top()

    def tick(self) -> None:
        """Let a second pass; the last one may fall while the screen is taken down."""
        if not self.screen_stack or not self.base.query(TopLine):
            return
        if self.day is not None and self.day.tick():
            self.redraw()
        else:
            self._look()
            self.place.tick()
            self._show_top()
        if self.at_speed is not None and self.day is not None and (told := self.at_speed.look(self.day)):
            self.redraw()
            self.say(told)
        self._look_for_alarms()
        self._show_keys(self.place.id or "stack")
        self.say_no_more()

    def _look(self) -> None:
        """Look at the bench: everything that is drawn of it goes by one look."""
        from layup.bench.view import bench_view

        self.view = None if self.day is None else bench_view(self.day)

    def look_for_a_day(self) -> None:
        """Show the press day that another program began, once there is one."""
        from layup.bench.opening import open_day

        if self.day is not None and self.day.state.ended_s is None:
            return
        with suppress(LayupError):  # the folder may come back
            found = open_day(self.planner, None, self.clock, watch=True).day
            if found is not None:
                self.show_day(found)

    def _look_for_alarms(self) -> None:
        """Ring for the alarm that stands."""
        from layup.bench.alarms import AlarmMonitor

        if self.day is None:
            return
        if self.alarm_monitor is None or self.alarm_monitor.day is not self.day:
            self.alarm_monitor = AlarmMonitor(self.day, self.thermometer)
        board = self.alarm_monitor.look(self.view)
        self.sound.hear(board, self._strike)
        if len(self.screen_stack) == 1 and self.alarm_monitor.asks_clock():
            from layup.app.opening import ask_clock

            ask_clock(self, self.day)

    def _strike(self, after_s: float) -> None:
        """Strike the bell, after a while or at once."""
        if after_s:
            self.set_timer(after_s, self.bell)
        else:
            self.bell()

    @work(thread=True, exclusive=True, group="thermometer")
    def _read_thermometer(self) -> None:
        """Look at the thermometer beside the screen: it may take seconds to answer."""
        if self.thermometer is not None:
            self.call_later(self._thermometer_read, self.thermometer.read())

    def _thermometer_read(self, poll: Poll) -> None:
        if self.alarm_monitor is not None and self.alarm_monitor.take(poll):
            self.redraw()

    def on_resize(self) -> None:
        """Say on top what there is room for now."""
        if self.ready:
            self.call_after_refresh(self._show_top)

    def _show_top(self) -> None:
        from layup.app.bench_lines import top_words
        from layup.bench.view import mode_words

        top, day, on_stack = self.base.query_one(TopLine), self.day, self.place.id == "stack"
        if day is None or self.view is None or (on_stack and day.state.ended_s is not None):
            words, urgent = self.planner.top_line(whole=on_stack, width=self.size.width - 2)
            top.say("" if self.place.id == "logbook" else words, urgent)
        else:
            on = f"{mode_words(day, self.view)}  ".lstrip()
            at = (self.place.id or "") if self.size.width >= NARROWEST else ""
            words, urgent = top_words(day, self.view, self.size.width - 2 - len(on), at=at)
            self._tell_fault(day)
            top.say(on + words, urgent)

    def _tell_fault(self, day: PressDay) -> None:
        """Say once that what is looked on cannot be seen any more, and that a fault has ended."""
        from layup.bench.day import SAVED

        before, self.fault = self.fault, day.fault
        if day.watching and day.fault and not before:
            self.say(day.fault)
        elif before and not day.fault:
            self.say("up to date again" if day.watching else SAVED)

    # -- what was said ----------------------------------------------------------------------------------------------

    def heard(self, said: Said) -> None:
        """Show what came of a key, and redraw."""
        self.redraw()
        self._look_for_alarms()
        self.say(said.words)
        if not said.done and self.day is not None and self.day.watching and not self.watch_only:
            from layup.app.opening import offer_to_write

            offer_to_write(self, self.day, again=True)

    def page_logged(self, words: str) -> None:
        """Show what was tapped on a page."""
        self.redraw()
        self._look_for_alarms()
        self.say(words)

    async def on_unmount(self) -> None:
        self.left = True
        self.sound.end()
        if self.beside is not None:
            await self.beside.stop()
        try:
            if self.day is not None:
                self.day.close()
        except StorageError as error:
            self.farewell, self._return_code = str(error), error.exit_code
