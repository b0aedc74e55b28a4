"""Logbook: the sessions kept in this workshop, and what happened in each."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from layup.errors import StorageError
from layup.materials.workshop import JOURNAL
from layup.records.event_words import describe
from layup.records.lines import read_journal
from layup.records.state import SessionState, fold
from layup.screens.place import Place


@dataclass(frozen=True, slots=True)
class Entry:
    """One session in the list."""

    folder: Path
    title: str
    outcome: str


def summary(folder: Path) -> Entry:
    """Read what the list says of one session."""
    try:
        records, problems = read_journal(folder)
    except StorageError as error:
        return Entry(folder, folder.name, str(error))
    state = fold(records)
    title = state.start.title if state.start else folder.name
    return Entry(folder, title, outcome_words(state) + (f", {len(problems)} damaged lines" if problems else ""))


def outcome_words(state: SessionState) -> str:
    """Return how a session stands, in a few words."""
    lost = sum(batch.lost_s is not None for batch in state.batches)
    lost_words = f", {lost} lost" if lost else ""
    if state.outcome is not None and state.outcome.tags:
        return ", ".join(state.outcome.tags) + lost_words
    if state.closed_s is not None:
        return f"press closed after {state.closed_s / 60:.0f} min{lost_words}"
    return ("ended, press not closed" if state.ended_s is not None else "running") + lost_words


def session_text(folder: Path) -> Text:
    """Return what happened in one session, one line an event, with minutes from the start."""
    records, problems = read_journal(folder)
    state = fold(records)
    text = Text()
    if state.start:
        text.append(f"{state.start.title}\n", style="bold")
        text.append(f"{state.start.resin}, {state.start.people} at the bench, {state.start.pieces} pieces\n")
    for problem in problems:
        text.append(f"! {problem}\n")
    text.append("\n")
    for record in records:
        mark = "  (taken back)" if record.seq in state.cancelled else ""
        text.append(f"{record.elapsed_s / 60:6.1f} min  {describe(record)}{mark}\n", style="dim" if mark else "")
    return text


class LogPlace(Place):
    """A list of sessions, and the chosen one beside it."""

    def __init__(self) -> None:
        super().__init__(id="logbook")
        self.entries: list[Entry] = []

    def compose(self) -> ComposeResult:
        yield Static(id="log-title", classes="heading")
        with Horizontal(id="log-columns"):
            yield OptionList(id="log-list")
            with VerticalScroll(id="log-scroll"):
                yield Static(id="log-events")

    def enter(self) -> None:
        """Let the arrow keys move in the list."""
        self.query_one(OptionList).focus()

    def show(self) -> None:
        """Read the list again; the newest session is first."""
        folders = [folder for folder in self.layup.desk.workshop.sessions() if (folder / JOURNAL).is_file()]
        self.entries = [summary(folder) for folder in reversed(folders)]
        listing = self.query_one(OptionList)
        listing.clear_options()
        for entry in self.entries:
            text = Text(f"{entry.folder.name[:10]}  {entry.title}\n", style="bold")
            text.append(f"   {entry.outcome}\n", style="not bold")
            listing.add_option(Option(text))
        title = f"{len(self.entries)} session{'' if len(self.entries) == 1 else 's'} in this workshop"
        self.query_one("#log-title", Static).update(
            title if self.entries else "No session yet: begin one on Stack with g."
        )
        if self.entries:
            listing.highlighted = 0

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Show the session under the bar."""
        try:
            text = session_text(self.entries[event.option_index].folder)
        except StorageError as error:
            text = Text(str(error))
        self.query_one("#log-events", Static).update(text)
        self.query_one("#log-scroll", VerticalScroll).scroll_home(animate=False)
