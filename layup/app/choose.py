"""The page of resins: which one for tonight's shop and crew; Enter plans with the one that is chosen."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.prompts import Dialog
from layup.chemistry.blending import with_blends
from layup.errors import LayupError
from layup.planning.choosing import ResinTable, resin_table
from layup.report.advice import choice_lines

if TYPE_CHECKING:
    from layup.app.place import Host


class ResinPage(Dialog[str | None]):
    """Each resin by temperature and crew; the answer is the id of the one to plan with."""

    BINDINGS = [
        ("escape,q,k", "dismiss(None)", "close"),
        ("up", "move(-1)", "choose"),
        ("down", "move(1)", "choose"),
        ("pageup", "scroll(-1)", "scroll"),
        ("pagedown", "scroll(1)", "scroll"),
        ("enter", "take", "take"),
    ]

    def __init__(self, app: Host) -> None:
        super().__init__()
        self.layup = app
        self.table: ResinTable | None = None
        self.at = 0

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static("WHICH RESIN   estimates", classes="heading")
            with VerticalScroll(can_focus=False):
                yield Static("judging resins ...", id="resins-body")
            yield Static("Enter plan with it   ↑↓   Esc", classes="dim")

    def on_mount(self) -> None:
        """Judge them beside the screen."""
        self._judge()

    def on_resize(self) -> None:
        """Draw it at the new width."""
        self._draw()

    def action_move(self, by: int) -> None:
        if self.table is not None and self.table.tonight:
            self.at = (self.at + by) % len(self.table.tonight)
            self._draw()

    def action_scroll(self, by: int) -> None:
        """Look at what does not fit on the screen."""
        body = self.query_one(VerticalScroll)
        body.scroll_relative(y=by * max(body.size.height - 1, 1), animate=False)

    def action_take(self) -> None:
        """Answer with the chosen resin."""
        if self.table is not None and self.table.tonight:
            self.dismiss(self.table.tonight[self.at].result.datasheet.id)

    @work(thread=True, exclusive=True, group="resins")
    def _judge(self) -> None:
        planner = self.layup.planner
        if planner.plan is None or planner.settings is None:
            return
        try:
            table = resin_table(
                planner.asked,
                planner.plan,
                with_blends(planner.resins),
                planner.settings,
                planner.beginning.outlook,
                self._progress,
                cache(planner.workshop.odd_words),
            )
        except LayupError as error:
            self.app.call_from_thread(self._say, str(error))
            return
        self.app.call_from_thread(self._judged, table)

    def _progress(self, done: int, of: int) -> None:
        if self.is_attached:
            self.app.call_from_thread(self._say, f"judging resins ... {done} of {of}")

    def _judged(self, table: ResinTable) -> None:
        self.table = table
        self._draw()

    def _draw(self) -> None:
        if self.table is not None and self.is_attached:
            width = max(self.query_one(VerticalScroll).size.width - 2, 28)
            self._say("\n".join(choice_lines(self.table, width=width, chosen=self.at)))

    def _say(self, words: str) -> None:
        if self.is_attached:
            self.query_one("#resins-body", Static).update(Text(words, no_wrap=True))
