"""Press & cure: how to close the press; then how far the part has cured, and when it may come out."""

from __future__ import annotations

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from layup.app.cure_view import (
    RELEASE,
    closing_lines,
    glass_plot,
    heat_lines,
    night_lines,
    now_lines,
    out_lines,
    picture,
    ready_line,
)
from layup.app.place import Place
from layup.app.shell import BigDigits
from layup.bench.cure import Cure, out_of, outlook_of, part_under_press, work_out
from layup.bench.day import PressDay
from layup.errors import LayupError
from layup.planning.night import NightOutlook, UnderPress
from layup.units import countdown, in_hours

AGAIN_S = 300.0
"""How often the forecast is worked out anew while nothing is logged."""
TALL = 30
PLOT_ROWS = 8


class CurePlace(Place):
    """Before closing: checks, pressure, clamps. After it: time under press, conversion, earliest demoulding, night."""

    def __init__(self) -> None:
        super().__init__(id="cure")
        self.cure: Cure | None = None
        self.trouble = ""
        self._of: tuple[str, int, int] | None = None
        """The session, the record and the stretch of time that `cure` was worked out for."""

    def compose(self) -> ComposeResult:
        yield Static(id="cure-title", classes="heading")
        with Horizontal(id="cure-head"):
            yield BigDigits("", id="cure-clock")
            yield Static(id="cure-now")
        with VerticalScroll(id="cure-scroll", can_focus=True):
            yield Static(id="cure-body")

    def enter(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#cure-scroll").focus()

    def show(self) -> None:
        """Redraw everything."""
        self.tick()

    def arrow(self, right: int, down: int) -> None:
        """Scroll."""
        del right
        self.query_one("#cure-scroll", VerticalScroll).scroll_relative(y=down, animate=False)

    def tick(self) -> None:
        """Redraw what changed, and work the forecast out anew when something was logged or time went by."""
        day = self.layup.day
        under = day is not None and day.state.closed_s is not None
        self.query_one("#cure-head").display = under
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
    def _work_out(self, part: UnderPress, outlook: NightOutlook, *, out: bool) -> None:
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
        since_s = (day.state.demoulded_s or day.now_s()) - day.state.closed_s
        state = self.cure.state(since_s)
        if state == "may come out":
            return ""
        liquid = "it is LIQUID still" if since_s < self.cure.gel_s else "it may be soft"
        return f"▲ By the estimate: {state.upper()}, {liquid}.\n\n"

    def _show_closing(self, day: PressDay | None) -> None:
        figures = self.layup.planner.figures
        try:
            plan = day.plan if day is not None else figures.plan if figures else None
        except LayupError as error:
            self._put("#cure-title", "CLOSE THE PRESS   c when it is closed")
            self._put("#cure-body", f"Pressure, clamps and their order: {error.not_known}\n{RELEASE}")
            return
        if plan is None:
            self._put("#cure-title", "No plan to close: press s.")
            self._put("#cure-body", "")
            return
        ticked = set(day.state.ticks) if day else set(self.layup.planner.beginning.ticked)
        try:
            title, *lines = closing_lines(plan, ticked, width=self._width)
        except LayupError as error:
            title, lines = f"CLOSE THE PRESS   {plan.closing.method}", [str(error)]
        self._put("#cure-title", title)
        self._put("#cure-body", "\n".join(lines))

    def _show_cure(self, day: PressDay, since_s: float) -> None:
        closed_s, out_s = day.state.closed_s or 0.0, day.state.demoulded_s
        self.query_one("#cure-clock", BigDigits).say(countdown(since_s))
        if out_s is None:
            unsure = "   CLOCK UNSURE: at least as long as it says" if day.at_least else ""
            self._put("#cure-title", f"UNDER PRESS since {day.clock_time(closed_s)}{unsure}")
        else:
            self._put(
                "#cure-title", f"OUT OF THE MOULD {day.clock_time(out_s)}, after {in_hours(since_s, '.1f')} under press"
            )
        cure = self.cure
        if cure is None:
            self._put("#cure-now", self.trouble or "working out the cure ...")
            self._put("#cure-body", RELEASE)
            return
        self._put("#cure-now", "\n".join(now_lines(day, cure, since_s)) if out_s is None else "")
        self._put("#cure-body", "\n".join(self._body(day, cure, since_s)))

    def _body(self, day: PressDay, cure: Cure, since_s: float) -> list[str]:
        width = self._width
        if day.state.demoulded_s is not None:
            return out_lines(day, cure, width=width)
        lines = [ready_line(day, cure), *night_lines(day, cure, width=width)]
        lines += [*picture(day, cure, since_s, width=width), *heat_lines(day, cure, width=width)]
        if self.size.height >= TALL:
            lines += ["", *glass_plot(cure, width=width, height=PLOT_ROWS), ""]
        lines += [f"learnt today: {words}" for words in day.learnt_words[-2:]]
        return [*lines, *(f"- {caution}" for caution in (*cure.night.ready.cautions[:1], RELEASE))]

    @property
    def _width(self) -> int:
        return max(self.size.width - 4, 40)

    def _put(self, name: str, words: str) -> None:
        """Show words where they are not shown already."""
        target = self.query_one(name, Static)
        if str(target.content) != words:
            target.update(Text(words))
