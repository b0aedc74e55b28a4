"""What is added to a session afterwards, in the app, one thing after the other; what is to be met again next time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from layup.app.checklist import HERE
from layup.app.dials import turned_cup
from layup.app.keys import PLACES
from layup.app.place import LOOKS_ON
from layup.app.prompts import Ask, Choose, Dialog, nothing_written
from layup.bench.afterwards import FIELDS, Field, add_afterwards, met_again, times_to_meet, wrong_with
from layup.bench.opening import meet
from layup.bench.planner import OPEN, hanging
from layup.errors import LayupError
from layup.review.carried import (
    NextTime,
    Proposal,
    append_to,
    carriers,
    one_line,
    open_notes,
    proposals,
    settle,
)
from layup.review.review import review
from layup.session.archive import Summary, stored_session
from layup.session.day_events import CarriedForward
from layup.session.journal import Journal
from layup.session.state import Event
from layup.session.state_parts import Settling

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.day import PressDay


MENU: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("1", "how it turned out", ("words",)),
    ("2", "a note", ("note",)),
    ("3", "a photo", ("photo", "caption")),
    ("4", "weights", ("part", "dry", "left")),
    ("5", "thickness of the plies", ("thickness",)),
)
"""Key, words, and the fields that are asked for."""
OF_KEY = {field.key: field for field in FIELDS}


def ask_afterwards(app: Host, folder: Path, said: str = "") -> None:
    """Ask what to add to a session, until nothing is."""
    if app.watch_only:
        app.say(LOOKS_ON)
        return
    choices = [(key, key, words) for key, words, _ in MENU]

    def chosen(answer: str) -> None:
        fields = next(fields for key, _, fields in MENU if key == answer)
        _ask_on(app, folder, [OF_KEY[key] for key in fields], {})

    app.ask(Choose(said or "Add what to this session?", [*choices, ("d", "done", "done")]), _unless_done(app, chosen))


def _unless_done(app: Host, chosen: Callable[[str], None]) -> Callable[[str], None]:
    def then(answer: str) -> None:
        if answer != "done":
            chosen(answer)
        elif app.place.id == "logbook":
            app.action_go("logbook")

    return then


def _ask_on(app: Host, folder: Path, fields: list[Field], typed: dict[str, str]) -> None:
    """Ask for the fields that are left, then keep what was typed."""
    if not fields:
        ask_afterwards(app, folder, _keep(app, folder, typed))
        return
    field, *others = fields

    def check(text: str) -> str | None:
        return wrong_with(field, text)

    def taken(text: str) -> None:
        _ask_on(app, folder, others, typed | {field.key: text})

    app.ask(Ask(field.title, field.hint, check=check, max_length=20_000), taken)


def _keep(app: Host, folder: Path, typed: dict[str, str]) -> str:
    """Log what was typed; return what came of it."""
    day = app.day
    own = day.source if day is not None and day.folder == folder and isinstance(day.source, Journal) else None
    try:
        return "\n".join(add_afterwards(folder, typed, app.clock, own))
    except LayupError as error:
        return f"NOT KEPT: {error}"


# -- after a note ----------------------------------------------------------------------------------------------------


def ask_next_time(app: Host, day: PressDay, text: str) -> None:
    """Ask whether a note that was just written is to be met again; left without an answer it is a note only."""
    if not one_line(text):
        return
    times = times_to_meet(day)

    def chosen(answer: str) -> None:
        step, _ = times["nys".index(answer)]
        if step is not None:
            app.heard(met_again(day, text, step))

    choices = [(key, key, words) for key, (_, words) in zip("nys", times, strict=False)]
    app.ask(Choose("Meet this note again next time?", choices), chosen)


# -- on Logbook ------------------------------------------------------------------------------------------------------

CARRIED = "→"
"""A line that comes back next time."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of the page: what this day could carry, maybe does, or what another day does."""

    words: str
    event: CarriedForward | None
    """What carries it forward; None for a note of another day."""
    note: NextTime | None
    """The note, where it is open."""


class NextTimePage(Dialog[None]):
    """What a session carries forward: Enter carries a line or leaves it; of other days it ticks one off."""

    BINDINGS = [("escape,q,a", "dismiss(None)", "close"), ("space", "take", "take"), ("x", "drop", "drop")]
    BINDINGS += [("w", "write", "write"), *((key, f"leave_by('{key}')", "leave") for key in (*PLACES, "g"))]

    def __init__(self, app: Host, name: str, of: str = "") -> None:
        """`of` names the proposal that the bar stands on at first, where there is one."""
        super().__init__()
        self.layup = app
        self.session_name = name
        self.first = of
        self.folder: Path = app.planner.workshop.sessions_folder / name
        self.proposed: tuple[Proposal, ...] = ()
        self.rows: list[_Row] = []

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(Text(f"NEXT TIME   {self.session_name}"), classes="heading")
            yield OptionList(id="checklist")
            yield Static("reading ...", id="checklist-said")
            yield Static("↑↓   Enter carries   X drops   W writes   Esc", classes="dim")

    def on_mount(self) -> None:
        """Read the session beside the screen."""
        self.query_one(OptionList).focus()
        self._read("")

    def on_resize(self) -> None:
        """Break the lines anew."""
        self._draw()

    @work(thread=True, exclusive=True, group="notes")
    def _read(self, words: str) -> None:
        try:
            proposed = proposals(review(stored_session(self.folder)), self.layup.planner.workshop.resins())
            known = carriers(self.layup.planner.workshop)
        except LayupError as error:
            self.app.call_from_thread(self._say, str(error))
            return
        self.app.call_from_thread(self._show_read, proposed, known, words)

    def _show_read(self, proposed: tuple[Proposal, ...], known: tuple[Summary, ...], words: str) -> None:
        if not self.is_attached:  # it may have been left meanwhile
            return
        self.proposed = proposed
        self._take(known)
        self._say(words or ("" if self.rows else "No finding, no note: W writes one."))

    def _take(self, known: tuple[Summary, ...]) -> None:
        """Show what sessions carry by now, and let the plan and a running day know it."""
        self.layup.planner.take_notes(known)
        if self.layup.day is not None:
            meet(self.layup.day, known)
        self.rows = list(_rows(self.proposed, open_notes(known), self.session_name))
        self._draw()

    def _draw(self) -> None:
        """Redraw every line, the bar where it was."""
        listing = self.query_one(OptionList)
        at = listing.highlighted
        listing.clear_options()
        other = False
        for number, row in enumerate(self.rows):
            if row.event is None and not other:
                other = True
                listing.add_option(Option(Text("OPEN FROM OTHER DAYS", style="bold"), disabled=True))
            listing.add_option(Option(Text(row.words), id=str(number)))
        if self.rows:
            first = (n for n, row in enumerate(self.rows) if self.first and row.words.endswith(f"({self.first})"))
            listing.highlighted = min(next(first, 0) if at is None else at, listing.option_count - 1)
        self._mark()

    def _mark(self) -> None:
        """Write every line with its mark, and the one under the bar with its own."""
        listing, here = self.query_one(OptionList), self._here()
        width = max(listing.size.width - 3, 30)
        for number, row in enumerate(self.rows):
            mark = OPEN if row.event is None else f" {CARRIED if row.note else ' '} "
            lines = hanging(f"{HERE if row is here else ' '}{mark} ", row.words, width)
            listing.replace_option_prompt(str(number), Text("\n".join(lines)))

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._mark()

    def _here(self) -> _Row | None:
        listing = self.query_one(OptionList)
        if listing.highlighted is None:
            return None
        number = listing.get_option_at_index(listing.highlighted).id
        return None if number is None else self.rows[int(number)]

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Carry what Enter was pressed on, or tick it off."""
        event.stop()
        self.action_take()

    def action_take(self) -> None:
        """Carry the line under the bar, or leave it; tick a note of another day off."""
        row = self._here()
        if row is None:
            return
        if row.event is None and row.note is not None:
            self._settle(row.note, "done")
        elif row.note is not None:
            self._settle(row.note, "dropped")
        elif row.event is not None:
            turned = turned_cup(self.layup, row.event.text, row.event.resin)
            self._log((row.event,), f"{row.event.describe()}{turned}")

    def action_leave_by(self, key: str) -> None:
        """Leave the page by a key that stands below it."""
        self.dismiss(None)
        self.app.simulate_key(key)

    def action_drop(self) -> None:
        """Drop the note under the bar: it comes no more."""
        row = self._here()
        if row is not None and row.note is not None:
            self._settle(row.note, "dropped")

    def action_write(self) -> None:
        """Ask for a line of one's own."""

        def written(text: str) -> None:
            event = CarriedForward(text=one_line(text))
            self._log((event,), event.describe())

        self.layup.ask(
            Ask(
                "What to do next time",
                "in one line",
                check=lambda text: nothing_written(one_line(text)),
                max_length=200,
            ),
            written,
        )

    def _settle(self, note: NextTime, how: Settling) -> None:
        turned = turned_cup(self.layup, note.text, note.resin, back=True) if how == "dropped" else ""
        day, words = self.layup.day, f"{how}: {note.text}{turned}"
        if day is not None and not day.watching and any(each.session == day.folder.name for each in note.sources):
            self._log(note.settled(how), words)
            return
        workshop, clock = self.layup.planner.workshop, self.layup.clock
        self._write(lambda: settle(workshop, note, how, clock), words)

    def _log(self, events: Sequence[Event], words: str) -> None:
        """Log in the session of the page, which may be the one that runs here."""
        day = self.layup.day
        if day is not None and day.folder == self.folder and not day.watching:
            for event in events:
                words = day.log(event, words).words
            self._read(words)
        else:
            self._write(lambda: append_to(self.folder, events, self.layup.clock), words)

    def _write(self, written: Callable[[], object], words: str) -> None:
        """Write in a session that is not open here, and say what came of it."""
        if self.layup.watch_only:
            self._say(LOOKS_ON)
            return
        try:
            written()
        except LayupError as error:
            self._say(str(error))
        else:
            self._read(words)

    def _say(self, words: str) -> None:
        self.query_one("#checklist-said", Static).update(Text(words))


def _rows(proposed: Sequence[Proposal], notes: Sequence[NextTime], name: str) -> Iterator[_Row]:
    """Yield what a day could carry and does, then what others do."""
    own = {each.note.seq: note for note in notes for each in note.sources if each.session == name}
    said = set()
    for each in proposed:
        event = each.event
        same = event.text, event.step_name, event.resin
        note = next((note for note in own.values() if (note.text, note.step, note.resin) == same), None)
        at = f"{event.step_name}: " if event.step_name else ""
        said.add(note)
        yield _Row(f"{at}{event.text} ({each.of})", event, note)
    for note in own.values():
        if note not in said:
            event = CarriedForward(text=note.text, step_name=note.step, resin=note.resin)
            yield _Row(note.words, event, note)
    for note in notes:
        if note not in own.values():
            yield _Row(note.words, None, note)
