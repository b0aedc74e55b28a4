"""Logbook: the sessions kept in this workshop, what came of each and why, and everything that was logged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import cast

from rich.text import Text
from textual import work
from textual.containers import Horizontal, VerticalScroll
from textual.widget import AwaitMount
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option
from textual.worker import get_current_worker

from layup.app.afterwards import NextTimePage, ask_afterwards
from layup.app.keys import ACTIONS, HERE
from layup.app.looking_back import ComparePage, LessonsPage, recall
from layup.app.place import Host, Place
from layup.app.prompts import Ask, Page
from layup.app.scrub import FINDINGS, DayScrub
from layup.bench.planner import hanging
from layup.bench.replay import MarkKind
from layup.errors import InputError, LayupError
from layup.report.day_axis import axis_lines
from layup.report.hindsight import changed_lines, no_changed_day, saving_line
from layup.report.report_blocks import built_lines, proof_lines
from layup.review.changed_days import changed_days
from layup.review.lessons import HINT, find_sessions, query
from layup.review.review import Review, made_late, review, verdict_line
from layup.session.archive import Summary, stored_session

ANY_DAY = ("next_time", "compare", "lessons")
"""What works in the list and in an opened day alike."""


class SessionList(OptionList):
    """The sessions: the arrows choose one, and the page keys are left to the words beside it."""

    def action_page_up(self) -> None:
        """Scroll the chosen session back by a screen."""
        cast("Host", self.app).place.page(-1)

    def action_page_down(self) -> None:
        """Scroll the chosen session on by a screen."""
        cast("Host", self.app).place.page(1)


LinesOf = Callable[[Review, int], list[str]]


class LogbookPlace(Place):
    """A list of sessions, the newest first, and the chosen one beside it; Enter opens it, Esc comes back."""

    def __init__(self) -> None:
        super().__init__(id="logbook")
        self.listed: list[Summary] = []
        self.words = ""
        """What is searched for; empty lists all."""
        self.marked = ""
        """The session that another is to be compared with; empty where none is marked."""

    def fill(self) -> Iterator[AwaitMount]:
        columns, scroll = Horizontal(id="log-columns"), VerticalScroll(id="log-scroll")
        yield self.mount(Static(id="log-title", classes="heading"), DayScrub(), columns)
        yield columns.mount(SessionList(id="log-list"), scroll)
        yield scroll.mount(Static(id="log-events"))

    def enter(self) -> None:
        """Read the list again, and let the arrow keys move in it."""
        self.back()
        self.query_one("#log-title", Static).update("reading the sessions ...")
        self.query_one(SessionList).focus()
        self._read_list()

    @property
    def chosen(self) -> Summary | None:
        """Return the session under the bar, or the one that is open."""
        at = self.query_one(SessionList).highlighted
        return self.listed[at] if at is not None and at < len(self.listed) else None

    @property
    def opened(self) -> bool:
        """Return whether a session is open, minute by minute."""
        return self.has_class("-open")

    def accept(self) -> None:
        """Open the chosen session."""
        chosen = self.chosen
        if chosen is not None and not self.opened:
            self.add_class("-open")
            day = self.query_one(DayScrub)
            day.focus()
            day.reading()
            day.open_session(self.layup.planner.workshop, chosen.name, self.layup.clock)
            self.layup.redraw()

    def back(self) -> None:
        """Go back from the opened session to the list."""
        if self.opened:
            self.remove_class("-open")
            self.query_one(DayScrub).close_session()
            self.query_one(SessionList).focus()
            self.layup.redraw()

    def on_option_list_option_selected(self, _event: OptionList.OptionSelected) -> None:
        """Open the session that Enter or a click chose."""
        self.accept()

    def able(self) -> frozenset[str]:
        """Return what works here."""
        tells = frozenset() if self.layup.watch_only else frozenset({"recall", "afterwards"})
        if self.opened:
            return (
                frozenset({"back", "change", "choose", "next_finding", "next_note", "why", "changed", *ANY_DAY}) | tells
            )
        if self.chosen is None:
            return frozenset({"lessons"}) | tells - {"afterwards"}
        return frozenset({"accept", "choose", "why", "changed", *ANY_DAY}) | tells

    def unable(self) -> frozenset[str]:
        """Return the actions of a running day whose keys mean something of this place."""
        return frozenset(one.name for one in ACTIONS if not one.place and (one.key, "logbook") in HERE)

    def act_words(self) -> str:
        """Return what Enter does."""
        return "open" if self.chosen is not None and not self.opened else ""

    def own(self, name: str) -> None:
        """Carry out an action that only the Logbook has."""
        if name in OWN:
            OWN[name](self)

    def find(self, kinds: frozenset[MarkKind]) -> None:
        """Move the cursor of the opened day to its next mark of some kinds."""
        if self.opened:
            self.query_one(DayScrub).jump(1, kinds)

    def why(self) -> None:
        """Show the evidence of the chosen session, what was rejected, and the part as built."""

        def lines(found: Review, width: int) -> list[str]:
            built = [] if found.as_built is None else ["", *built_lines(found.as_built)]
            return [*proof_lines(found, width=width), *built]

        self._tell("Why", lines)

    def changed(self) -> None:
        """Show the chosen day with one thing changed."""
        workshop = self.layup.planner.workshop

        def lines(found: Review, width: int) -> list[str]:
            days = changed_days(found.stored, found.track, workshop.resins())
            if days is None:
                return hanging("", no_changed_day(found), width)
            saves = ["", f"Enter: {days.saves.words}, next time"] if days.saves else []
            return changed_lines(days, width=width) + saves

        self._tell("The same day, one thing changed", lines, then=lambda: self.next_time("what if"))

    def _tell(self, title: str, lines: LinesOf, then: Callable[[], None] | None = None) -> None:
        if self.chosen is not None:
            self.layup.say("working it out ...")
            self._show_page(self.chosen.name, title, lines, then)

    def afterwards(self) -> None:
        """Add to the chosen session how it turned out, a note, a photo, what was measured."""
        if self.chosen is not None:
            ask_afterwards(self.layup, self.layup.planner.workshop.sessions_folder / self.chosen.name)

    def next_time(self, of: str = "") -> None:
        """Show what the chosen session carries forward, the bar on what comes `of` something, and what others do."""
        if self.chosen is not None:
            self.app.push_screen(NextTimePage(self.layup, self.chosen.name, of))

    def compare(self) -> None:
        """Mark the chosen session as A, or set it as B beside the one that is marked."""
        name = self.chosen.name if self.chosen is not None else ""
        if not name or name == self.marked:
            self.marked = ""
            self.layup.say("no day is marked")
        elif not self.marked:
            self.marked = name
            self.layup.say(f"A is {name}: choose B, press C")
        else:
            left, self.marked = self.marked, ""
            self.layup.say("")
            self.app.push_screen(ComparePage(self.layup, left, name))

    def lessons(self) -> None:
        """Show what all sessions teach."""
        self.app.push_screen(LessonsPage(self.layup))

    def search(self, words: str) -> None:
        """List only the sessions in which all of the words occur."""
        self.words = words.strip()
        self.enter()

    def on_resize(self) -> None:
        """Draw the chosen session anew at the new width."""
        chosen = self.query_one(OptionList).highlighted
        if chosen is not None and chosen < len(self.listed):  # once all in it has its new size
            self.call_after_refresh(lambda: self._look_back(self.listed[chosen].name, self._room()))

    @work(thread=True, exclusive=True, group="list")
    def _read_list(self) -> None:
        keep = not self.layup.watch_only
        try:
            found = find_sessions(self.layup.planner.workshop, self.words, keep=keep, progress=self._progress)
        except LayupError as error:
            self.app.call_from_thread(self.layup.say, str(error))
            return
        if not get_current_worker().is_cancelled:  # other words may have been typed meanwhile
            self.app.call_from_thread(self._show_list, list(reversed(found)))

    def _progress(self, what: str, done: int, of: int) -> None:
        """Say how far a long reading is; a review takes longer than a line of the index."""
        if done % (100 if what == "reading sessions" else 5) == 0 and not get_current_worker().is_cancelled:
            words = f"{what} ... {done} of {of}"
            self.app.call_from_thread(self.query_one("#log-title", Static).update, words)

    def _show_list(self, found: list[Summary]) -> None:
        self.listed = found
        listing = self.query_one(OptionList)
        listing.clear_options()
        listing.display = bool(found)
        options, apart = [], " " if self.screen.has_class("-slim") else "\n"
        for summary in found:
            text = Text(f"{summary.name[:10]}{apart}{summary.title}\n", style="bold")
            text.append(summary.state + apart.rstrip(" "), style="not bold")
            options.append(Option(text))
        listing.add_options(options)
        count = f"{len(found)} session{'' if len(found) == 1 else 's'}"
        title = f'{count} with "{self.words}"' if self.words else f"LOGBOOK  {count}"
        if not found:
            title = title if self.words else "None yet."
        way = "" if found else "▶ /  OTHER WORDS" if self.words else "▶ G  BEGIN   R  FAILED ONE"
        self.query_one("#log-title", Static).update(Text(title))
        self.query_one("#log-events", Static).update(Text(way, style="bold"))
        listing.highlighted = 0 if found else None
        self.layup.redraw()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Show the session under the bar."""
        name = self.listed[event.option_index].name
        self.call_after_refresh(lambda: self._look_back(name, self._room()))  # the list may have come just now

    def _room(self) -> tuple[int, int]:
        """Return the columns and rows beside the list."""
        size = self.query_one("#log-scroll").size
        return max(size.width - 3, 30), size.height

    @work(thread=True, exclusive=True, group="review")
    def _look_back(self, name: str, room: tuple[int, int]) -> None:
        """Review a session beside the screen."""
        worker, workshop = get_current_worker(), self.layup.planner.workshop
        try:
            stored = stored_session(workshop.sessions_folder / name)
            found = review(stored) if stored.state.start else None
            text = Text(stored.name) if found is None else session_text(found, room)
        except LayupError as error:
            text, found = Text(str(error)), None
        if worker.is_cancelled:
            return
        self.app.call_from_thread(self._show_session, name, text, room)
        if found is None or not found.findings:
            return
        with suppress(LayupError):  # what would have turned it takes a second more
            saving = saving_line(changed_days(found.stored, found.track, workshop.resins()))
            if saving and not worker.is_cancelled:
                whole = session_text(found, room, saving=saving)
                self.app.call_from_thread(self._show_session, name, whole, room)

    @work(thread=True, exclusive=True, group="page")
    def _show_page(self, name: str, title: str, lines_of: LinesOf, then: Callable[[], None] | None) -> None:
        """Look back on a session beside the screen, then show a page of it."""
        try:
            found = review(stored_session(self.layup.planner.workshop.sessions_folder / name))
            lines = lines_of(found, min(self.app.size.width - 8, 94))
        except LayupError as error:
            lines = [str(error)]
        self.app.call_from_thread(self._show_lines, title, lines, then)

    def _show_lines(self, title: str, lines: list[str], then: Callable[[], None] | None) -> None:
        self.layup.say("")
        self.app.push_screen(Page(title, Text("\n".join(lines)), then))

    def _show_session(self, name: str, text: Text, room: tuple[int, int]) -> None:
        self.query_one("#log-events", Static).update(text)
        self.query_one("#log-scroll", VerticalScroll).scroll_home(animate=False)
        self.call_after_refresh(self._fit, name, room)

    def _fit(self, name: str, drawn_for: tuple[int, int]) -> None:
        """Look back again where the list beside the session came only once its text was drawn."""
        if self._room()[0] < drawn_for[0] and self.chosen is not None and self.chosen.name == name:
            self._look_back(name, self._room())


def search(app: Host) -> None:
    """List the sessions in which some words occur."""
    place = app.at(LogbookPlace)
    now = f'; now: "{place.words}"' if place.words else ""

    def wrong(text: str) -> str | None:
        try:
            query(text)
        except InputError as error:
            return str(error)
        return None

    def found(words: str) -> None:
        if app.place.id != "logbook":
            app.action_go("logbook")
        place.search(words)

    app.ask(Ask("Search the sessions for", f"{HINT}{now}", check=wrong, max_length=200), found)


OWN: dict[str, Callable[[LogbookPlace], None]] = {
    "back": LogbookPlace.back,
    "next_finding": lambda place: place.find(FINDINGS),
    "next_note": lambda place: place.find(frozenset({"note"})),
    "why": LogbookPlace.why,
    "recall": lambda place: recall(place.layup),
    "afterwards": LogbookPlace.afterwards,
    "next_time": LogbookPlace.next_time,
    "compare": LogbookPlace.compare,
    "lessons": LogbookPlace.lessons,
    "changed": LogbookPlace.changed,
}
"""What the keys of the Logbook do that mean something here alone."""


def session_text(found: Review, room: tuple[int, int], *, saving: str = "") -> Text:
    """Return by how much a day was late and what would have turned it, then its causes and what of it went slowly.

    Where the first cause makes nothing late, the head is that cause, and what to change about it. All of the day
    where there is room for it. Its outcome stands beside it, in the list; all else is a key away.
    """
    width, rows = room
    late = made_late(found) if found.findings else ""
    head = hanging("", f"{late.upper()}." if late else verdict_line(found), width)
    head += hanging("→ ", (saving if late else "") or _change(found), width) if found.findings else []
    text = Text("\n".join(head) + "\n", style="bold")
    lines = [*_brief(found, width)]
    whole = [] if found.track is None else axis_lines(found, width=width)
    if len(head) + len(lines) + len(whole) + 1 > rows and found.track is not None:
        whole = axis_lines(found, width=width, late_only=True)
    return text.append("\n".join([*lines, *([""] if whole else []), *whole]), style="not bold")


def _change(found: Review) -> str:
    """Return what to do another time about the cause that did most harm."""
    return f"{found.findings[0].change.partition('. ')[0].rstrip('.')}."


def _brief(found: Review, width: int) -> Iterator[str]:
    """Yield a review in short: each cause on a line, the late steps; the rest is a key away."""
    for problem in found.problems:
        yield from hanging("! ", str(problem), width)
    for number, finding in enumerate(found.findings, 1):
        yield from hanging(f"{number} ", f"{finding.brief or finding.cause}: {finding.certainty}", width)
    if found.unexplained:
        yield from hanging("", f"No cause found for {', '.join(found.unexplained)}. Log next time:", width)
        for missing in found.missing:
            yield from hanging("- ", missing.entry, width)
