"""Press & cure: how to close the press; then how far the part has cured, and when it may come out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from rich.text import Text
from textual import work
from textual.containers import Horizontal, VerticalScroll
from textual.widget import AwaitMount
from textual.widgets import Static

from layup.app.bench_lines import enter_words
from layup.app.cure_view import (
    PLOT_ROWS,
    RELEASE,
    closing_figure,
    closing_lines,
    glass_plot,
    milestones,
    night_lines,
    out_figure,
    out_lines,
    out_words,
    picture,
    title_words,
)
from layup.app.place import Place, whole_lines
from layup.app.shell import BigDigits, section
from layup.bench.acts import Act
from layup.bench.day import PressDay
from layup.bench.forecast import Cure, out_of, outlook_of, part_under_press, work_out
from layup.bench.planner import hanging
from layup.errors import LayupError
from layup.planning.checklist import closing_items
from layup.planning.night import NightOutlook, PartUnderPress
from layup.planning.plan import Plan
from layup.report.pictures import outline_picture

WIDEST_PIECE, ROWS_OF_PIECE = 100, 11
"""Columns and rows of the piece on the page before the closing."""
AGAIN_S = 300.0
"""How often the forecast is worked out anew while nothing is logged."""


class CurePlace(Place):
    """Before closing: checks, pressure, clamps. After it: time under press, conversion, earliest demoulding, night."""

    def __init__(self) -> None:
        super().__init__(id="cure")
        self.cure: Cure | None = None
        self.trouble = ""
        self._of: tuple[str, int, int] | None = None
        """The session, the record and the stretch of time that `cure` was worked out for."""

    def fill(self) -> Iterator[AwaitMount]:
        head, scroll = Horizontal(id="cure-head"), VerticalScroll(id="cure-scroll", can_focus=True)
        yield self.mount(Static(id="cure-title", classes="heading"), Static(id="cure-out"), head, scroll)
        yield head.mount(BigDigits(id="cure-clock"), Static(id="cure-now"))
        yield scroll.mount(Static(id="cure-body"))

    def enter(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#cure-scroll").focus()

    def show(self) -> None:
        self.tick()

    def accept(self) -> None:
        """Close the press, do a round at the closed one, take the part out, or end the day."""
        if self.act_of_enter() is not None:
            self.layup.do_act()
        elif key := self._act()[0]:
            self.app.simulate_key(key)

    def act_of_enter(self) -> Act | None:
        """Return the round at the closed press that is due, or the end of the day."""
        view = self.layup.view
        return view.act if view is not None and view.act.kind in ("retighten", "end") else None

    def act_words(self) -> str:
        """Return what Enter does: nothing before the last step is done, nor before the part may be out."""
        act = self.act_of_enter()
        return self._act()[1] if act is None else enter_words(act)

    def able(self) -> frozenset[str]:
        """Close the press, or take the part out, once it may be."""
        return frozenset({"accept"} if self._act()[0] or self.act_of_enter() is not None else ())

    def _act(self) -> tuple[str, str]:
        """Return the key that Enter stands for, and its act."""
        day = self.layup.day
        if day is None or day.state.demoulded_s is not None or day.state.ended_s is not None:
            return "", ""
        if day.state.closed_s is None:
            words = "LEAVE IT LEVEL" if day.state.is_casting else "PRESS CLOSED"
            return ("c", words) if day.state.steps and day.state.step_now is None else ("", "")
        since_s = day.now_s() - day.state.closed_s
        out = self.cure is not None and self.cure.state(since_s) == "may come out"
        return ("z", "PLANE IT" if day.state.is_casting else "TAKE IT OUT") if out else ("", "")

    def arrow(self, right: int, down: int) -> None:
        del right
        self.query_one("#cure-scroll", VerticalScroll).scroll_relative(y=down, animate=False)

    def tick(self) -> None:
        """Redraw what changed, and work the forecast out anew when something was logged or time went by."""
        day = self.layup.day
        under = day is not None and day.state.closed_s is not None
        self.query_one("#cure-head").display = under
        self.query_one("#cure-out").display = under and day is not None and day.state.demoulded_s is None
        if day is None or not under:
            self._show_closing(day)
            return
        try:
            part = part_under_press(day)
        except LayupError as error:
            self.cure, self.trouble = None, f"How far it has cured is {error.not_known}"
            self._show_cure(day, (day.state.demoulded_s or day.now_s()) - (day.state.closed_s or 0.0))
            return
        if part is not None:
            key = (str(day.folder), day.state.seq, int(part.now_s / AGAIN_S))
            if key != self._of:
                self._of = key
                self._work_out(part, outlook_of(day), out=day.state.demoulded_s is not None)
            self._show_cure(day, part.now_s)

    @work(thread=True, exclusive=True, group="cure")
    def _work_out(self, part: PartUnderPress, outlook: NightOutlook, *, out: bool) -> None:
        """Work the cure out beside the screen; what was known before stays until then."""
        of = self._of
        try:
            cure, trouble = work_out(part, outlook, out=out), ""
        except LayupError as error:
            cure, trouble = None, str(error)
        if of == self._of:
            self.app.call_from_thread(self._worked_out, cure, trouble)

    def _worked_out(self, cure: Cure | None, trouble: str) -> None:
        self.cure, self.trouble = cure, trouble
        day = self.layup.day
        if day is not None:
            day.out_s = None if cure is None else out_of(cure, day.state.closed_s or 0.0)
        self.tick()

    def warning(self, day: PressDay) -> str:
        """Return what speaks against taking the part out now, or an empty text."""
        if day.state.closed_s is None:
            return ""
        if self.cure is None:
            return f"▲ {self.trouble or 'How far it has cured is not worked out yet.'}\n\n"
        words = self.cure.early_words((day.state.demoulded_s or day.now_s()) - day.state.closed_s)
        return words and f"{words}\n\n"

    def _show_closing(self, day: PressDay | None) -> None:
        figures = self.layup.planner.figures
        self.query_one("#cure-title").remove_class("act")
        try:
            plan = day.plan if day is not None else figures.plan if figures else None
        except LayupError as error:
            self._put("#cure-title", "CLOSE THE PRESS")
            self._put("#cure-body", f"Pressure, clamps and their order: {error.not_known}\n{RELEASE}")
            return
        if plan is None:
            self._put("#cure-title", "No plan to close.   ▶ S  STACK")
            self._put("#cure-body", "")
            return
        if not plan.lays:
            self._put("#cure-title", "Nothing to press: castings are poured.   ▶ B  BENCH")
            self._put("#cure-body", "")
            return
        ticked = set(day.state.ticks) if day else set(self.layup.planner.beginning.ticked)
        self._put("#cure-title", "CLOSE THE PRESS")
        try:
            digits, beside = closing_figure(plan)
            lines = closing_lines(plan, ticked, width=self._width)
            self._put("#cure-body", "\n".join([*lines, *self._drawn(plan, len(lines))]))
        except LayupError as error:
            self._put("#cure-body", f"{plan.closing.method}: {error}")
            return
        press = None if self.layup.view is None else self.layup.view.press
        if day is not None and press is not None and press.by_s is not None:
            beside.append(f"BY {day.clock_time(press.by_s)} · estimate")
        self._figure(digits, beside)

    def _drawn(self, plan: Plan, used: int) -> list[str]:
        """Return a piece from above and the lay-up in section, as far as there is room below so many lines."""
        left = self.query_one("#cure-scroll").size.height - used - 1
        if not self.screen.has_class("-tall") or left < ROWS_OF_PIECE // 2:
            return []
        figures, width = self.layup.planner.figures, min(self._width, WIDEST_PIECE)
        stack: list[str] = []
        if figures is not None and figures.plan.steps == plan.steps:
            stack = ["", *section(plan, figures.budget.lines, width=width).plain.rstrip().splitlines()]
        if len(stack) + ROWS_OF_PIECE > left:
            stack = []
        rows = min(left - len(stack) - 3, ROWS_OF_PIECE)
        return ["", *outline_picture(plan.outline, width=width, rows=rows), *stack]

    def _figure(self, digits: str, beside: list[str]) -> None:
        """Show a big number, and beside it as many lines as fit."""
        self.query_one("#cure-head").display = True
        self.query_one("#cure-clock", BigDigits).say(digits)
        room = self.query_one("#cure-now").size
        width = room.width or self._width
        self._put("#cure-now", "\n".join(whole_lines(beside, width=width, rows=room.height or len(beside))))

    def _show_cure(self, day: PressDay, since_s: float) -> None:
        cure, width = self.cure, self._width
        self._put("#cure-title", title_words(day, cure, since_s))
        self.query_one("#cure-title").add_class("act")
        if cure is None:
            self._put(
                "#cure-out",
                self.trouble or f"working out when it {'is hard' if day.state.is_casting else 'may come out'} ...",
            )
            self.query_one("#cure-clock", BigDigits).say("")
            self._put("#cure-now", "")
            self._put("#cure-body", "" if day.state.is_casting else RELEASE)
            return
        if day.state.demoulded_s is not None:
            self._figure(*out_figure(day, cure))
            rows = self.query_one("#cure-scroll").size.height
            self._put("#cure-body", "\n".join(out_lines(day, cure, width=width, height=rows)))
            return
        words, clock = out_words(day, cure)
        self._put("#cure-out", words)
        self.query_one("#cure-clock", BigDigits).say(clock)
        beside = self.query_one("#cure-now").size
        lines = milestones(day, cure, since_s, width=beside.width)
        self._put("#cure-now", "\n".join(whole_lines(lines, width=beside.width, rows=beside.height)))
        self._put("#cure-body", "\n".join(self._body(day, cure, since_s)))

    def _body(self, day: PressDay, cure: Cure, since_s: float) -> list[str]:
        width = self._width
        drawn, night = picture(day, cure, since_s, width=width), night_lines(day, cure, width=width)
        lines = [*night, *drawn] if self.screen.has_class("-tiny") else [*drawn, *night]
        release = cure.state(since_s) == "may come out" and not day.state.is_casting
        last = [RELEASE] if release else []
        below = [line for words in last for line in hanging("- ", words, width)]
        rows = self.query_one("#cure-scroll").size.height - len(lines) - len(below) - 1
        if rows >= PLOT_ROWS[0]:
            lines += glass_plot(cure, width=width, height=min(rows, PLOT_ROWS[1]))
        return [*lines, *below]

    def details(self) -> list[str]:
        """Return what today taught, and what is taken for the cure."""
        day, cure = self.layup.day, self.cure
        taught = [] if day is None else [f"learnt: {words}" for words in day.learnt_words]
        figures, checks = self.layup.planner.figures, list[str]()
        with suppress(LayupError):
            plan = day.plan if day is not None else figures.plan if figures else None
            if plan is not None and plan.lays and (day is None or day.state.closed_s is None):
                checks = [item.words for item in closing_items(plan)]
        return [*checks, *taught, *(cure.night.ready.cautions if cure else ())]

    @property
    def _width(self) -> int:
        return max(self.size.width - 2, 20)

    def _put(self, name: str, words: str) -> None:
        """Show words where they are not shown already."""
        target = self.query_one(name, Static)
        if str(target.content) != words:
            target.update(Text(words))
