"""Stack: the plan's grams, the shop of today, and a picture of when it can close in time."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.place import Place
from layup.bench.planner import CUP_STEP_G, FRACTION_STEP, HUMIDITY_STEP, TEMPERATURE_STEP_K, Planner, hanging
from layup.errors import LayupError
from layup.planning.fit import why
from layup.planning.planner import PlanResult, Settings
from layup.planning.pressing import pressed_out_words, pressing
from layup.report.pictures import batch_lines, gantt, window_picture
from layup.session.text import shortened
from layup.units import mass, temperature

USUAL_HUMIDITY = 0.5
TALL = 30
"""Rows from which on there is room for the batches as a table."""


@dataclass(frozen=True, slots=True)
class Dial:
    """One setting that the arrow keys change."""

    name: str
    shows: Callable[[Settings, Planner], str]
    turned: Callable[[Settings, Planner, int], Settings]


def _next_resin(now: Settings, planner: Planner, by: int) -> Settings:
    names = [name for name, sheet in planner.resins.items() if sheet.chemistry == "epoxy-amine"] or list(planner.resins)
    at = names.index(now.resin_id) if now.resin_id in names else 0
    return replace(now, resin_id=names[(at + by) % len(names)])


def _cup(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    cup_g = (now.cup_g or 400.0) + by * CUP_STEP_G
    return replace(now, cup_g=max(cup_g, CUP_STEP_G))


def _humidity(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    if now.relative_humidity is None:
        return replace(now, relative_humidity=USUAL_HUMIDITY)
    moved = round(now.relative_humidity + by * HUMIDITY_STEP, 2)
    return replace(now, relative_humidity=moved if 0 < moved <= 1 else None)


def _people(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, people=max(now.people + by, 1))


def _temperature(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, temperature_K=now.temperature_K + by * TEMPERATURE_STEP_K)


def _cans(now: Settings, planner: Planner, by: int) -> Settings:
    """Warm or cool the cans; back at the shop's temperature they follow it again."""
    del planner
    cans_K = (now.cans_K or now.temperature_K) + by * TEMPERATURE_STEP_K
    return replace(now, cans_K=None if abs(cans_K - now.temperature_K) < TEMPERATURE_STEP_K / 2 else cans_K)


def _fraction(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, fraction=round(now.fraction + by * FRACTION_STEP, 3))


def _shows_humidity(now: Settings, planner: Planner) -> str:
    del planner
    return "not known" if now.relative_humidity is None else f"{100 * now.relative_humidity:.0f} %"


def _shows_fraction(now: Settings, planner: Planner) -> str:
    return f"{100 * now.fraction:.0f} % by {planner.plan.target.by if planner.plan else 'weight'}"


def _shows_lessons(now: Settings, planner: Planner) -> str:
    sessions = planner.lessons.sessions
    if not sessions:
        return "none yet"
    return f"of {sessions} session{'' if sessions == 1 else 's'}" if now.lessons else "off"


DIALS = (
    Dial("Shop", lambda now, _: temperature(now.temperature_K), _temperature),
    Dial("Cans", lambda now, _: "as the shop" if now.cans_K is None else temperature(now.cans_K), _cans),
    Dial("Humidity", _shows_humidity, _humidity),
    Dial("People", lambda now, _: f"{now.people}", _people),
    Dial("Resin", lambda now, _: now.resin_id, _next_resin),
    Dial("Largest cup", lambda now, _: "any" if now.cup_g is None else f"{mass(now.cup_g)}", _cup),
    Dial("Fibre fraction", _shows_fraction, _fraction),
    Dial("Lessons", _shows_lessons, lambda now, _, __: replace(now, lessons=not now.lessons)),
)


class StackPlace(Place):
    """Steps with their grams on the left, dials on the right, pictures below."""

    def __init__(self) -> None:
        super().__init__(id="stack")
        self.at = 0
        self.more_of: PlanResult | None = None
        self.more = ""
        """The odds and what would help, of the figures `more_of`; they take longer and come a moment later."""

    def compose(self) -> ComposeResult:
        yield Static(id="stack-title", classes="heading")
        with VerticalScroll(id="stack-scroll", can_focus=False):
            with Horizontal(id="stack-columns"):
                yield Static(id="stack-steps")
                with Vertical(id="stack-right"):
                    yield Static(id="stack-shop")
                    yield Static(id="stack-batches")
                    yield Static(id="stack-picture")
            yield Static(id="stack-gantt")

    def arrow(self, right: int, down: int) -> None:
        """Choose a dial, or turn it."""
        planner = self.layup.planner
        if down:
            self.at = (self.at + down) % len(DIALS)
        elif planner.settings is not None:
            planner.settings = DIALS[self.at].turned(planner.settings, planner, right)
            self.work_out(planner.settings)
        self.query_one("#stack-shop", Static).update(self._dials())
        self._show_batches()

    @work(thread=True, exclusive=True, group="figures")
    def work_out(self, settings: Settings, told: str = "") -> None:
        """Work everything out for new settings beside the screen; only the last of many quick keys counts."""
        planner = self.layup.planner
        try:
            figures = planner.work_out(settings)
        except LayupError as error:
            self.app.call_from_thread(self._worked_out, settings, None, str(error))
        else:
            self.app.call_from_thread(self._worked_out, settings, figures, told)

    def _worked_out(self, settings: Settings, figures: PlanResult | None, words: str) -> None:
        """Show the figures of the settings that still stand, or go back to those before."""
        planner = self.layup.planner
        if planner.settings is not settings:
            return
        if figures is None:
            planner.settings = planner.figures.settings if planner.figures else planner.settings
        else:
            planner.figures = figures
        self.layup.redraw()
        self.layup.say(words)
        self.layup.ask_to_begin()

    def show(self) -> None:
        """Redraw everything."""
        planner = self.layup.planner
        figures = planner.figures
        self.query_one("#stack-scroll").display = figures is not None
        title = self.query_one("#stack-title", Static)
        title.set_class(figures is not None, "heading")
        if figures is None:
            title.update(
                Text(
                    f"This plan cannot be used yet. Mend the file, then press r to read it again.\n\n{planner.problem}"
                )
            )
            return
        plan = figures.plan
        pieces = "1 piece" if plan.pieces == 1 else f"{plan.pieces} pieces"
        day = self.layup.day
        today = "" if day is None or day.state.ended_s is not None else "   NOT TODAY'S DAY: that is on b and p"
        title.update(Text(f"{plan.title}   {pieces}   {planner.plan_name_shown}{today}"))
        self.query_one("#stack-steps", Static).update(self._steps())
        self.query_one("#stack-shop", Static).update(self._dials())
        self._show_batches()
        wide = self.screen.has_class("-wide")
        room = self.size.width - (66 if wide else 40) - 5
        rows = 5 if self.size.height > TALL else 2
        picture = window_picture(figures.window, width=room, rows=rows)
        self.query_one("#stack-picture", Static).update(Text("\n".join(picture)))
        timeline = figures.timeline
        drawn = gantt(timeline, width=max(self.size.width - 4, 60)) if timeline else []
        if self.size.height > TALL:
            drawn += ["", *batch_lines(figures.split)]
        self.query_one("#stack-gantt", Static).update(Text("\n".join(drawn)))

        if self.more_of is not figures:
            self._work_out_more(figures)

    @work(thread=True, exclusive=True, group="more")
    def _work_out_more(self, figures: PlanResult) -> None:
        """Work out the odds and what would help, beside the screen."""
        planner = self.layup.planner
        try:
            words = _more_words(planner, figures)
        except LayupError as error:
            words = str(error)
        if planner.figures is figures:
            self.more_of, self.more = figures, words
            self.app.call_from_thread(self._show_batches)
            self._judge(figures)

    def _judge(self, figures: PlanResult) -> None:
        """Work out whether to begin, so that g answers at once."""
        with suppress(LayupError):  # the page that g opens says what is wrong
            self.layup.planner.beginning.judge(figures)
            self.app.call_from_thread(self._show_batches)

    def _show_batches(self) -> None:
        self.query_one("#stack-batches", Static).update(self._batches())

    def _steps(self) -> Text:
        figures = self.layup.planner.figures
        if figures is None:
            return Text()
        budget = figures.budget
        wide = 49 if self.screen.has_class("-wide") else 23
        text = Text(f"   {'step':<{wide}} {'fibre g':>7} {'mix g':>5}\n", style="bold")
        for number, line in enumerate(budget.lines, 1):
            fibre = f"{line.glass_g:.0f}" if line.glass_g else ""
            mix = f"{line.mix_g:.0f}" if line.mix_g else ""
            text.append(f"{number:>2} {shortened(line.name, wide):<{wide}} {fibre:>7} {mix:>5}\n", style="not bold")
        text.append(f"   {'cups, brushes, rollers':<{wide}} {'':>7} {budget.losses_g:>5.0f}\n", style="not bold")
        total = f"ALL {mass.digits(budget.resin_g)} + {mass(budget.hardener_g)}"
        text.append(f"   {total:<{wide}} {'':>7} {budget.mix_g:>5.0f}")
        for words in hanging("   ", pressed_out_words(pressing(figures.plan)), wide + 17):
            text.append(f"\n{words}", style="not bold")
        return text

    def _dials(self) -> Text:
        planner = self.layup.planner
        text = Text()
        if planner.settings is None:
            return text
        kept = planner.kept.settings if planner.kept else None
        for index, dial in enumerate(DIALS):
            mark = "▸" if index == self.at else " "
            shown = dial.shows(planner.settings, planner)
            value = f"◂ {shown} ▸" if index == self.at else f"  {shown}"
            beside = f"  ({dial.shows(kept, planner)})" if kept and dial.shows(kept, planner) != shown else ""
            style = "reverse" if index == self.at else "not bold"
            text.append(f"{mark} {dial.name:<14}{value}{beside}\n", style=style)
        if planner.kept is not None:
            text.append(f"\nkept beside (in brackets):\n{planner.line_of(planner.kept)}", style="not bold")
        text.rstrip()
        return text

    def _batches(self) -> Text:
        planner = self.layup.planner
        figures = planner.figures
        if figures is None:
            return Text()
        split = figures.split
        masses = " + ".join(f"{batch.mass_g:.0f}" for batch in split.batches)
        count = len(split.batches)
        head = f"{count} batch{'es' if count != 1 else ''}: {masses} g" if count else "no batches"
        fit = planner.fit(figures)
        verdict = fit.word.upper()
        if planner.settings is not figures.settings:
            verdict = "working it out ..."
        text = Text(f"{head}   {verdict}", style="bold")
        for reason in dict.fromkeys((*fit.against, *(() if fit.against else fit.tight), *why(figures))):
            text.append(f"\n{reason}", style="not bold")
        if self.more_of is figures and self.more:
            text.append(f"\n{self.more}", style="not bold")
        return text


def _more_words(planner: Planner, figures: PlanResult) -> str:
    """Say how likely the plan is to close in time, and the least that would make it fit."""
    chances = planner.chances(figures)
    fit = planner.fit(figures)
    words = f"Chance of closing in time {chances.words}." if chances and fit.works else ""
    if fit.word == "fits":
        return words
    changes = planner.remedies(figures)
    if not changes:
        return f"{words} No single change makes it fit."
    head = "Makes it fit:" if changes[0].fits else "Would help:"
    return f"{words} {head} {changes[0].words}".strip()
