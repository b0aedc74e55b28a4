"""Before the day: by when each thing must begin for a part that is wanted on a day, and the list "before you start".

Each thing of the list has a box, ticked with one key and kept in the journal; what is measured is ticked by its number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from layup.app.dials import turned_cup
from layup.app.prompts import WOOD_HINT, Ask, Dialog, Page, ask_share
from layup.bench.day import PressDay
from layup.bench.opening import MEASURED, items_of_day, tick_item
from layup.bench.planner import DONE, OPEN, hanging
from layup.errors import LayupError
from layup.files.attachments import wanted_day
from layup.planning.castings import pourings
from layup.planning.checklist import Item
from layup.planning.warming import warm_up_s
from layup.report.day_axis import calendar_lines, days_of_plan
from layup.review.carried import settle

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.planner import Planner
    from layup.planning.planner import PlanResult


FRAME = 8
"""Columns of a page that hold no words."""
WIDEST = 96


def days_lines(planner: Planner, figures: PlanResult, *, width: int) -> list[str]:
    """Return the days before; none where the part is wanted on no day, or the night is not worked out yet."""
    ready = planner.beginning.known(figures)
    wanted = planner.wanted or figures.plan.wanted
    if not wanted or ready is None:
        return []
    pours = pourings(figures, figures.timeline, wood_moisture=planner.beginning.outlook.wood_moisture)
    stored_K = min((kelvin for _, kelvin in figures.plan.forecast), default=figures.shop.temperature_K)
    try:
        days = days_of_plan(wanted_day(wanted), figures, pours, ready.night, warm_up_s=warm_up_s(figures, stored_K))
    except LayupError as error:
        return [str(error)]
    return calendar_lines(days.placed, days.midnight, width=width)


def ask_wanted(app: Host) -> None:
    """Ask when the part is wanted, and show the days before."""
    planner, figures = app.planner, app.planner.figures
    if figures is None or app.place.id != "stack":
        app.say("not now: the days before are of the plan on Stack")
        return

    def wrong(text: str) -> str | None:
        try:
            wanted_day(text)
        except LayupError as error:
            return error.words
        return None

    def take(text: str) -> None:
        planner.wanted = wanted_day(text).isoformat(" ", "minutes")
        app.run_worker(judged, thread=True, group="days", exclusive=True)

    def judged() -> None:
        if planner.beginning.known(figures) is None:
            planner.beginning.judge(figures)
        app.call_from_thread(show)

    def show() -> None:
        if app.place.shows_days:
            app.redraw()
            return
        lines = days_lines(planner, figures, width=min(app.size.width - FRAME, WIDEST))
        app.push_screen(Page("The days before", Text("\n".join(lines), no_wrap=True)))

    ask = Ask(
        "When is it wanted, out of the mould?",
        "such as 2026-12-05 18:00",
        check=wrong,
        value=planner.wanted or figures.plan.wanted,
    )
    app.ask(ask, take)


HERE = "▸"
"""Marks the item under the bar, which a screen without colours does not show."""


class Items(OptionList):
    """The items; the one under the bar stays in view where the words below take rows of the list."""

    def on_resize(self) -> None:
        """Scroll to it, once the rows are counted anew."""
        self.call_after_refresh(self.scroll_to_highlight)


class ChecklistPage(Dialog[None]):
    """The list, grouped; Enter ticks and goes on, past the end to what comes next; space takes a tick away, too."""

    BINDINGS = [
        Binding("enter", "go_on", "tick, go on", priority=True),  # before the list's own, which is the tap's as well
        ("escape,q,i,question_mark", "dismiss(None)", "close"),
        ("space", "tick", "tick"),
        ("x", "drop", "drop"),
    ]

    def __init__(self, items: Sequence[Item], app: Host) -> None:
        super().__init__()
        self.items = items
        self.layup = app
        self.dropped: set[str] = set()
        """The notes of earlier sessions that were dropped here, before the day."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(id="checklist-title", classes="heading")
            yield Items(id="checklist")
            yield Static(id="checklist-item")
            yield Static(id="checklist-said")
            yield Static(id="checklist-keys", classes="dim")

    def on_mount(self) -> None:
        """Fill the list, the bar on the first item that is open."""
        listing = self.query_one(OptionList)
        group = ""
        for item in self.items:
            if item.group != group:
                group = item.group
                listing.add_option(Option(Text(group.upper(), style="bold"), disabled=True))
            listing.add_option(Option(Text(item.short), id=item.key))
        done = self._done()
        first = next((item for item in self.items if item.key not in done), self.items[0])
        listing.highlighted = listing.get_option_index(first.key)
        listing.focus()
        self._show_items()

    def on_resize(self) -> None:
        """Break the lines anew."""
        self._show_items()

    def _done(self) -> set[str]:
        day = running_day(self.layup)
        return set(day.state.ticks) if day else self.dropped | set(self.layup.planner.beginning.ticked)

    def _here(self) -> str | None:
        listing = self.query_one(OptionList)
        return None if listing.highlighted is None else listing.get_option_at_index(listing.highlighted).id

    def _show_items(self) -> None:
        """Redraw every item, the one under the bar with its mark, and count them."""
        listing, done, here = self.query_one(OptionList), self._done(), self._here()
        width = max(listing.size.width - 3, 30)
        for item in self.items:
            head = f"{HERE if item.key == here else ' '} {DONE if item.key in done else OPEN} "
            listing.replace_option_prompt(item.key, Text("\n".join(hanging(head, item.short, width))))
            if item.key == here:
                self.query_one("#checklist-item", Static).update(Text(item.words))
        count = sum(item.key in done for item in self.items)
        self.query_one("#checklist-title", Static).update(f"CHECKLIST   {count}/{len(self.items)}")
        does = "Enter goes on   Space unticks" if here in done else "Enter ticks"
        drops = "X drops   " if any(item.group == "from last time" for item in self.items) else ""
        self.query_one("#checklist-keys", Static).update(f"↑↓   {does}   {drops}Esc done")

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_items()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Tick what was tapped, or take its tick away."""
        event.stop()
        self._tick(event.option.id)

    def action_tick(self) -> None:
        """Tick what is under the bar, or take its tick away."""
        self._tick(self._here())

    def action_go_on(self) -> None:
        """Tick what is under the bar; where it is, go to the next, and leave the list at its end or with none open."""
        here, done = self._here(), self._done()
        if here not in done:
            self._tick(here)
        elif here == self.items[-1].key or done.issuperset(item.key for item in self.items):
            self.dismiss(None)
        else:
            self.query_one(OptionList).action_cursor_down()

    def action_drop(self) -> None:
        """Drop the note of an earlier session that is under the bar: it comes no more."""
        planner, here, day = self.layup.planner, self._here(), running_day(self.layup)
        note = next((note for note in (planner.notes if day is None else day.notes) if note.key == here), None)
        if note is None:
            return
        said = f"dropped: {note.text}{turned_cup(self.layup, note.text, note.resin, back=True)}"
        if day is not None:
            for event in note.settled("dropped"):
                said = day.log(event, said).words
        else:
            try:
                settle(planner.workshop, note, "dropped", self.layup.clock)
            except LayupError as error:
                said = str(error)
            else:
                planner.take_notes()
                self.dropped.add(note.key)
        self.query_one("#checklist-said", Static).update(Text(said))
        self._show_items()

    def _tick(self, key: str | None) -> None:
        item = next((item for item in self.items if item.key == key), None)
        if item is None or item.key in self.dropped:
            return
        if item.key in MEASURED and item.key not in self._done():
            hint = WOOD_HINT if item.key == "wood" else "%"
            ask_share(self.app, MEASURED[item.key], hint, lambda share: self._measured(item, share))
        else:
            self._turn(item)

    def _measured(self, item: Item, share: float) -> None:
        """Keep a number that was measured, and tick its item."""
        if running_day(self.layup) is None:
            known = self.layup.planner.beginning
            measured = {"wood_moisture" if item.key == "wood" else "humidity": share}
            known.outlook = replace(known.outlook, **measured)
        self._turn(item, share)

    def _turn(self, item: Item, share: float | None = None) -> None:
        day = running_day(self.layup)
        said = ""
        if day is None:
            self.layup.planner.beginning.tick(item)
        else:
            kept = tick_item(day, item, share, done=item.key not in self._done())
            said = kept.words.removesuffix(item.short)
        self.query_one("#checklist-said", Static).update(Text(said))
        self._show_items()
        if item.key in self._done() and item is not self.items[-1]:
            self.query_one(OptionList).action_cursor_down()


def running_day(app: Host) -> PressDay | None:
    """Return the press day while it is on the bench; None before it begins and once the press is closed."""
    day = app.day
    return None if day is None or day.state.closed_s is not None or day.state.ended_s is not None else day


def open_checklist(app: Host) -> None:
    """Show the list of the running day, or of the plan on the desk."""
    day, figures = running_day(app), app.planner.figures
    if day is not None:
        items = items_of_day(day)
    elif figures is not None:
        items = app.planner.beginning.items(figures)
    else:
        app.say(f"not now: {app.planner.problem}")
        return
    app.push_screen(ChecklistPage(items, app), lambda _: app.redraw())
