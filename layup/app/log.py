"""Logbook: the sessions kept in this workshop, what came of each and why, and everything that was logged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from layup.app.place import Host, Place
from layup.bench.planner import hanging
from layup.errors import LayupError
from layup.report.report_blocks import built_lines, day_lines
from layup.review.find import find_sessions
from layup.review.review import Review, review
from layup.session.archive import StoredSession, Summary, stored_session


class SessionList(OptionList):
    """The sessions: the arrows choose one, and the page keys are left to the words beside it."""

    def action_page_up(self) -> None:
        """Scroll the chosen session back by a screen."""
        cast("Host", self.app).place.page(-1)

    def action_page_down(self) -> None:
        """Scroll the chosen session on by a screen."""
        cast("Host", self.app).place.page(1)


class LogPlace(Place):
    """A list of sessions, the newest first, and the chosen one beside it."""

    def __init__(self) -> None:
        super().__init__(id="logbook")
        self.listed: list[Summary] = []
        self.words = ""
        """What is searched for; empty lists all."""

    def compose(self) -> ComposeResult:
        yield Static(id="log-title", classes="heading")
        with Horizontal(id="log-columns"):
            yield SessionList(id="log-list")
            with VerticalScroll(id="log-scroll"):
                yield Static(id="log-events")

    def enter(self) -> None:
        """Read the list again, and let the arrow keys move in it."""
        self.query_one("#log-title", Static).update("reading the sessions ...")
        self.query_one(OptionList).focus()
        self._read_list()

    def search(self, words: str) -> None:
        """List only the sessions in which all of the words occur."""
        self.words = words.strip()
        self.enter()

    def on_resize(self) -> None:
        """Draw the chosen session anew at the new width."""
        chosen = self.query_one(OptionList).highlighted
        if chosen is not None and chosen < len(self.listed):
            self._look_back(self.listed[chosen].name, self._room())

    @work(thread=True, exclusive=True, group="list")
    def _read_list(self) -> None:
        keep = not self.layup.watch_only
        try:
            found = find_sessions(self.layup.planner.workshop, self.words, keep=keep, progress=self._progress)
        except LayupError as error:
            self.app.call_from_thread(self.layup.say, str(error))
            return
        self.app.call_from_thread(self._show_list, list(reversed(found)))

    def _progress(self, what: str, done: int, of: int) -> None:
        """Say how far a long reading is; a review takes longer than a line of the index."""
        if done % (100 if what == "reading sessions" else 5) == 0:
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
            title = f"{title}.   ▶ /  OTHER WORDS" if self.words else "No session yet.   ▶ G  BEGIN ONE"
        self.query_one("#log-title", Static).update(Text(title))
        self.query_one("#log-events", Static).update("")
        if found:
            listing.highlighted = 0

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Show the session under the bar."""
        self._look_back(self.listed[event.option_index].name, self._room())

    def _room(self) -> int:
        return max(self.query_one("#log-scroll").size.width - 3, 30)

    @work(thread=True, exclusive=True, group="review")
    def _look_back(self, name: str, width: int) -> None:
        """Review a session beside the screen."""
        try:
            kept = stored_session(self.layup.planner.workshop.sessions_folder / name)
            text = session_text(kept, width=width)
        except LayupError as error:
            text = Text(str(error))
        self.app.call_from_thread(self._show_session, text)

    def _show_session(self, text: Text) -> None:
        self.query_one("#log-events", Static).update(text)
        self.query_one("#log-scroll", VerticalScroll).scroll_home(animate=False)


def session_text(kept: StoredSession, *, width: int) -> Text:
    """Return what came of a session, why and what to change, its day as a picture, then every entry of its journal."""
    text = Text("\n".join(_brief(review(kept), width)) if kept.state.started else kept.name)
    text.append("\n\nEVERY ENTRY, minutes from the start\n", style="bold")
    for record in kept.state.records:
        mark = "  (taken back)" if record.seq in kept.state.cancelled else ""
        text.append(
            f"{record.when_s / 60:6.1f}  {record.describe_in(kept.state)}{record.late_words}{mark}\n",
            style="dim" if mark else "",
        )
    return text


def _brief(found: Review, width: int) -> Iterator[str]:
    """Yield the review in short: each cause with its entries and the change; all of it is in `layup review`."""
    state = found.kept.state
    came = ", ".join(state.outcome.tags) if state.outcome and state.outcome.tags else found.verdict
    yield from hanging("", f"{came.upper()}  {state.start.title if state.start else found.kept.name}", width)
    for problem in found.problems:
        yield from hanging("! ", str(problem), width)
    for number, finding in enumerate(found.findings, 1):
        entries = ", ".join(str(one.seq) for one in finding.evidence)
        yield ""
        yield from hanging(f"{number} ", f"{finding.kind.upper()}, {finding.certainty}", width)
        yield from hanging("  ", f"{finding.words} (entries {entries})" if entries else finding.words, width)
        yield from hanging("  → ", f"{finding.change.partition('. ')[0].rstrip('.')}.", width)
    if found.unexplained:
        yield ""
        yield from hanging("", f"No cause found for {', '.join(found.unexplained)}. Log next time:", width)
        for missing in found.missing:
            yield from hanging("- ", missing.entry, width)
    if found.track is not None:
        yield ""
        yield from day_lines(found.track, width=width)
    if found.as_built is not None:
        yield ""
        yield from built_lines(found.as_built)
