"""The list "before you start": each thing with a box, ticked with one key and kept in the journal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from layup.planning.case import settle
from layup.planning.checklist import Item, checklist
from layup.screens.beginning import hanging, ticked
from layup.screens.day import PressDay
from layup.screens.replanning import case_now

if TYPE_CHECKING:
    from layup.screens.app import LayupApp

OPEN, DONE = "[ ]", "[x]"
HERE = "▸"
"""Marks the item under the bar, which a screen without colours does not show."""


class ChecklistPage(ModalScreen[None]):
    """The list, grouped; Enter or space ticks what is under the bar, or takes its tick away."""

    BINDINGS = [("escape,q,i,question_mark", "dismiss(None)", "close"), ("space", "tick", "tick")]

    def __init__(self, items: Sequence[Item], app: LayupApp) -> None:
        super().__init__()
        self.items = items
        self.layup = app

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(id="checklist-title", classes="heading")
            yield OptionList(id="checklist")
            yield Static(id="checklist-said")
            yield Static("↑↓ choose    Enter or space ticks    Esc closes    on paper: layup sheet", classes="dim")

    def on_mount(self) -> None:
        """Fill the list, the bar on the first item that is open."""
        listing = self.query_one(OptionList)
        group = ""
        for item in self.items:
            if item.group != group:
                group = item.group
                listing.add_option(Option(Text(group.upper(), style="bold"), disabled=True))
            listing.add_option(Option(Text(item.words), id=item.key))
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
        return {tick.item for tick in day.state.ticks} if day else set(self.layup.desk.beginning.ticked)

    def _show_items(self) -> None:
        """Redraw every item, the one under the bar with its mark, and count them."""
        listing, done = self.query_one(OptionList), self._done()
        here = None if listing.highlighted is None else listing.get_option_at_index(listing.highlighted).id
        width = max(listing.size.width - 3, 30)
        for item in self.items:
            head = f"{HERE if item.key == here else ' '} {DONE if item.key in done else OPEN} "
            listing.replace_option_prompt(item.key, Text("\n".join(hanging(head, item.words, width))))
        count = sum(item.key in done for item in self.items)
        self.query_one("#checklist-title", Static).update(f"BEFORE YOU START   {count} of {len(self.items)} done")

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Move the mark."""
        event.stop()
        self._show_items()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Tick what Enter was pressed on."""
        event.stop()
        self._tick(event.option.id)

    def action_tick(self) -> None:
        """Tick what is under the bar."""
        listing = self.query_one(OptionList)
        if listing.highlighted is not None:
            self._tick(listing.get_option_at_index(listing.highlighted).id)

    def _tick(self, key: str | None) -> None:
        item = next((item for item in self.items if item.key == key), None)
        if item is None:
            return
        day = running_day(self.layup)
        said = ""
        if day is None:
            self.layup.desk.beginning.tick(item)
        else:
            said = day.log(ticked(item.key, item.words, done=item.key not in self._done()), "").words
        self.query_one("#checklist-said", Static).update(Text(said))
        self._show_items()


def running_day(app: LayupApp) -> PressDay | None:
    """Return the press day while it is on the bench; None before it begins and once the press is closed."""
    day = app.day
    return None if day is None or day.state.closed_s is not None or day.state.ended_s is not None else day


def open_checklist(app: LayupApp) -> None:
    """Show the list of the running day, or of the plan on the desk."""
    day, figures = running_day(app), app.desk.figures
    if day is not None:
        case = case_now(day)
        items = checklist(case, settle(case))
    elif figures is not None:
        items = app.desk.beginning.items(figures)
    else:
        app.say(f"not now: {app.desk.problem}")
        return
    app.push_screen(ChecklistPage(items, app), lambda _: app.redraw())
