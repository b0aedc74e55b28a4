"""Stack: the plan's grams, the shop of today, and a picture of when it can close in time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

from rich.text import Text
from textual import events, work
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widget import AwaitMount
from textual.widgets import Static

from layup.app.checklist import days_lines
from layup.app.dials import ALWAYS, OF_DIAL, Way, dials_text, ways
from layup.app.place import Place
from layup.app.shell import section, tapped
from layup.bench.dials import DIALS, otherwise
from layup.bench.planner import VERDICT_SHAPES, Planner, hanging
from layup.errors import LayupError
from layup.planning.castings import as_poured
from layup.planning.fit import squeezed_out, squeezed_words, why
from layup.planning.planner import PlanResult, Settings
from layup.planning.pressing import pressed_out_words, pressing
from layup.planning.schedule import left_over_words
from layup.report.pictures import batch_lines, day_strips, pour_lines, window_picture
from layup.units import mass

TALL = 30
"""Rows from which on there is room for the batches as a table."""
SINGLE = 70
"""Columns below which everything stands in one column."""
OF_STEPS, OF_STEPS_WIDE = 39, 66
"""Columns of the lay-up."""
ROWS_OF_DIALS, ROWS_BELOW = 8, 12
"""Rows beside the section that are no picture; rows below it, but for two a batch."""


BLEND = "a blend: for the day, write it as a resin of its own"
NO_WAY = "No single change makes it fit."


class Tapped(Static):
    """Words of which some are a key, or a dial.

    A tap on a dial chooses it, and on the chosen one turns it: less on its name's side, more on the other.
    """

    def on_click(self, event: events.Click) -> None:
        if key := event.style.meta.get("key"):
            self.app.simulate_key(key)
        elif (index := event.style.meta.get("dial")) is not None:
            self.app.query_one(StackPlace).tapped(index, more=bool(event.style.meta["more"]))


class StackPlace(Place):
    """The lay-up in section on the left, dials and pictures on the right, the day below."""

    def __init__(self) -> None:
        super().__init__(id="stack")
        self.at = 0
        self.more_of: PlanResult | None = None
        self.more = ""
        """What went wrong as it was worked out what would help."""
        self.odd: list[str] = []
        """What is odd in the resin's file, and which casting does not fit."""
        self.ways: list[Way] = []
        """What would help, of the figures `more_of`; it takes longer and comes a moment later."""

    def fill(self) -> Iterator[AwaitMount]:
        scroll, columns = VerticalScroll(id="stack-scroll", can_focus=False), Horizontal(id="stack-columns")
        right = Vertical(id="stack-right")
        yield self.mount(Tapped(id="stack-title"), scroll)
        yield scroll.mount(columns, Static(id="stack-day"))
        yield columns.mount(Tapped(id="stack-steps"), right)
        yield right.mount(Tapped(id="stack-shop"), Tapped(id="stack-batches"), Static(id="stack-picture"))

    def arrow(self, right: int, down: int) -> None:
        """Choose a dial, or turn it."""
        planner = self.layup.planner
        if down:
            self.at = (self.at + down) % len(DIALS)
        elif planner.settings is not None:
            planner.settings = DIALS[self.at].turned(planner.settings, planner, right)
            self.work_out(planner.settings)
        self.query_one("#stack-scroll", VerticalScroll).scroll_home(animate=False)  # the dials are on top
        self.query_one("#stack-shop", Static).update(self._dials())
        self._show_batches()

    def able(self) -> frozenset[str]:
        """Return the actions that take one of the changes that stand there."""
        return frozenset(f"way_{at}" for at, _ in enumerate(self._taken(), 1))

    def own(self, name: str) -> None:
        """Take a change that makes the plan fit; or show each resin by temperature and people, and plan with one."""
        from layup.app.choose import ResinPage

        if name.startswith("way_"):
            settings = next((taken for at, taken in enumerate(self._taken(), 1) if name == f"way_{at}"), None)
            if settings is None:
                self.layup.say("not now: no such change stands here")
            else:
                self.layup.planner.settings = settings
                self.work_out(settings)
            return
        figures = self.layup.planner.figures
        if name != "which_resin" or figures is None or not figures.plan.lays:
            self.layup.say("not now: no plan that is laid")
            return
        self.layup.ask(ResinPage(self.layup), self._plan_with)

    def _plan_with(self, resin_id: str) -> None:
        planner = self.layup.planner
        if planner.settings is not None:
            planner.settings = replace(planner.settings, resin_id=resin_id)
            self.work_out(planner.settings, "" if resin_id in planner.resins else BLEND)

    def accept(self) -> None:
        """Go on to the first batch."""
        from layup.app.actions import begin

        begin(self.layup, list_first=True)

    def act_words(self) -> str:
        """Say what Enter does: the list first, where it was not opened."""
        return "begin" if self.layup.planner.beginning.ticked else "checklist"

    def tapped(self, index: int, *, more: bool) -> None:
        """Choose the dial that was tapped; turn it where it is chosen already."""
        if index == self.at:
            self.arrow(1 if more else -1, 0)
        else:
            self.arrow(0, index - self.at)

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
        planner.awaits_lessons = planner.awaits_lessons and not planner.lessons.sessions
        if planner.settings is not settings:
            return
        if figures is None:
            planner.settings = planner.figures.settings if planner.figures else planner.settings
        else:
            planner.figures = figures
        words = words or self._keep()
        self.layup.redraw()
        self.layup.say(words)
        self.layup.ask_to_begin()

    def _keep(self) -> str:
        """Keep the dials; return what is wrong, or an empty text."""
        try:
            if not self.layup.watch_only:
                self.layup.planner.keep()
        except LayupError as error:
            return str(error)
        return ""

    def on_unmount(self) -> None:
        """Keep the dials of which the figures were still worked out."""
        self._keep()

    def show(self) -> None:
        planner = self.layup.planner
        figures = planner.figures
        self.query_one("#stack-scroll").display = figures is not None
        self.set_class(planner.awaits_lessons, "awaits")
        title = self.query_one("#stack-title", Static)
        day = self.layup.day
        runs = day is not None and day.state.ended_s is None
        among = planner.place_among_plans
        title.display = figures is None or runs or bool(among)
        head = Text(f"{among}   ").append("Y plans", style=tapped("y")).append("\n") if among else Text()
        if figures is None:
            title.update(head.append(f"Mend the plan, then press r to read it again.\n\n{planner.problem}"))
            return
        head.append(f"NOT TODAY'S DAY: that is on b and p\n{planner.top_line()[0]}\n" if runs else "")
        head.right_crop(1)
        title.update(head)
        self._show_plan(figures)
        if self.more_of is not figures:
            self._work_out_more(figures)

    def _show_plan(self, figures: PlanResult) -> None:
        """Redraw the lay-up, or what makes the plan fit, the dials and pictures beside it, and what is below."""
        left, right = self._columns()
        tall, apart = self.size.height > TALL, self.apart
        self.set_class(not left, "single")
        self.query_one("#stack-steps").display = bool(left)
        deep_rows = 2 * len(figures.budget.lines)
        spent = deep_rows + ROWS_BELOW + 2 * len(figures.split.batches)
        deep = bool(left) and tall and spent <= self.size.height
        steps = self._steps(figures, left or right, deep=deep)
        self._show_batches()
        self.query_one("#stack-shop", Static).update(self._dials())
        days = days_lines(self.layup.planner, figures, width=right) if self.shows_days else []
        rows = 5 if tall else 3 if self.size.height > 18 else 2
        rows = 8 if apart else max(deep_rows - ROWS_OF_DIALS, 5) if deep and not days else rows
        picture = window_picture(figures.window, width=right, rows=rows) if figures.plan.lays else []
        picture += ["", *days] if days else []
        width = left + right + 1 if left and tall else right
        thick = max(min((self.size.height - spent) // max(len(figures.split.batches), 1) + 1, 3), 1) if deep else 1
        drawn = day_strips(figures.timeline, figures.split, width=width, rows=thick) if figures.timeline else []
        below = [] if left and not tall else ["", *drawn]
        picture += ["", *drawn] if left and not tall and not apart else []
        if tall:
            squeezed = squeezed_out(figures)
            words = squeezed_words(squeezed) if squeezed else pressed_out_words(pressing(figures.plan))
            below += ["", *batch_lines(figures.split), "", *hanging("", words, width)]
        self.query_one("#stack-picture", Static).update(Text("\n".join(picture), no_wrap=True))
        day_text = Text("\n".join(below), no_wrap=True)
        if apart:
            reason = next(iter(self._reasons(figures)), "")
            beside = Text("\n".join(hanging(" ", reason, left - 1)))
            self.query_one("#stack-steps", Static).update(beside.append("\n\n").append(self._ways_text(left - 1)))
            fold = self.query_one("#stack-scroll").size.height - len(picture) - self._dials().plain.count("\n") - 1
            day_text = Text("\n" * max(fold, 1) + "\n".join(drawn) + "\n", no_wrap=True)
        else:
            self.query_one("#stack-steps", Static).update(steps)
        below_it = apart or not left
        self.query_one("#stack-day", Static).update(day_text.append("\n\n").append(steps) if below_it else day_text)

    @property
    def shows_days(self) -> bool:
        """Whether the days before have room beside the lay-up."""
        return self._columns()[0] > 0 and self.size.height > TALL

    def _columns(self) -> tuple[int, int]:
        """Return the columns of the lay-up and of what stands on its right; no lay-up where both have no room."""
        width = max(self.size.width - 1, 2 * OF_DIAL + 1)
        if width < SINGLE:
            return 0, width
        left = OF_STEPS_WIDE if self.screen.has_class("-wide") else OF_STEPS
        return left, width - left - 1

    @work(thread=True, exclusive=True, group="more")
    def _work_out_more(self, figures: PlanResult) -> None:
        """Work out the odds and what would help, beside the screen."""
        planner = self.layup.planner
        found: list[Way] = []
        trouble = ""
        try:
            odd = planner.workshop.odd_words(figures.datasheet.id)
            self.odd = [f"! {figures.datasheet.title}: {odd}"] if odd else []
            if planner.casting_troubles():
                self.odd.append(f"{VERDICT_SHAPES['does not fit']} CASTING DOES NOT FIT · 8 its day")
            _ = figures.odds
            if planner.fit(figures).word != "fits" and figures.settings is not None:
                found = ways(planner, figures.settings, planner.remedies(figures))
        except LayupError as error:
            trouble = str(error)
        if planner.figures is figures:
            self.more_of, self.more, self.ways = figures, trouble, found
            self.app.call_from_thread(self.layup.redraw)
            self._judge(figures)

    def _judge(self, figures: PlanResult) -> None:
        """Work out whether to begin, so that g answers at once."""
        with suppress(LayupError):  # the page that g opens says what is wrong
            self.layup.planner.beginning.judge(figures)
            self.app.call_from_thread(self.layup.redraw)

    def _show_batches(self) -> None:
        self.query_one("#stack-batches", Static).update(self._batches())

    def _steps(self, figures: PlanResult, width: int, *, deep: bool) -> Text:
        """Return the lay-up in section with what it takes in all."""
        plan = figures.plan
        budget = figures.budget if plan.lays else as_poured(figures)
        cast_g = {casting.step: casting.mix_g for casting in budget.castings if not plan.lays}
        lost_g = budget.losses_g if plan.lays else None
        text = section(plan, budget.lines, width=width, cast_g=cast_g, lost_g=lost_g, deep=deep)
        if not plan.lays:
            return text.append(f"TOTAL {mass(sum(cast_g.values()))} in the pours", style="not dim bold")
        total = f"TOTAL {mass(budget.mix_g)} = {mass.digits(budget.resin_g)}+{mass.digits(budget.hardener_g)}"
        have = f" (cans ≥ {mass.digits(budget.buy_resin_g)}+{mass.digits(budget.buy_hardener_g)})"
        text.append(total, style="not dim bold")
        text.append(have if len(total + have) <= width else f"\n     {have}", style="not dim")
        return text

    def _dials(self) -> Text:
        planner = self.layup.planner
        if planner.settings is None:
            return Text()
        whole = self.size.height > TALL
        return dials_text(planner, planner.settings, self.at, self._columns()[1], whole=whole)

    def _batches(self) -> Text:
        """Return the batches, what keeps the plan from fitting and what would help, and the variant kept beside."""
        planner = self.layup.planner
        figures = planner.figures
        if figures is None:
            return Text()
        if planner.settings is not figures.settings:
            return Text("working it out ...", style="bold")
        lines = [] if figures.timeline else ["no batches"]
        if not figures.plan.lays:
            lines = pour_lines(figures)
        reasons = [] if self.apart else self._reasons(figures)[:1]
        lines += self.odd if self.more_of is figures else []
        lines += dict.fromkeys((*reasons, *left_over_words(figures.split)))
        room = self._columns()[1]
        text = Text("\n").join(Text("\n".join(hanging(" ", words, room))) for words in lines)
        if not self.apart:
            text = Text("\n").join(part for part in (text, self._ways_text(room)) if part.plain)
        if planner.kept is not None:
            text.append("\n" if text.plain else "")
            text.append("\n".join(hanging(" ", self._kept_words(planner, planner.kept), room)))
        return text

    def _ways(self) -> list[Way]:
        """Return the changes that stand there: three of a plan that does not fit, one of a tight one."""
        figures = self.layup.planner.figures
        if figures is None or self.more_of is not figures:
            return []
        word = self.layup.planner.fit(figures).word
        return self.ways[: 0 if word == "fits" else 1 if word == "tight" else None]

    def _taken(self) -> list[Settings]:
        """Return what the keys of the changes take, one after the other."""
        return [way.settings for way in self._ways() if way.settings is not None]

    def _ways_text(self, room: int) -> Text:
        """Return each change as its key, what to do, and what there is to spare then."""
        found, figures = self._ways(), self.layup.planner.figures
        if not found:
            if figures is None or self.more_of is not figures:
                return Text()
            return Text(self.more or ("" if self.layup.planner.fit(figures).word == "fits" else f" {NO_WAY}"))
        text, room, taken = Text(), min(room, OF_STEPS), self._taken()
        for way in found:
            key = "f" if way.settings is None else f"{taken.index(way.settings) + 1}"
            head = f" {key}  " if way.settings else f" {key.upper()} edit: "  # "F  " reads as a verdict
            lines = hanging(head, way.words, room - len(way.spare) - 2)
            lines[0] = f"{lines[0]:<{room - len(way.spare)}}{way.spare}"
            text.append("\n".join(lines) + ("\n\n" if self.apart else "\n"), style=tapped(key))
        text.rstrip()
        return text

    @property
    def apart(self) -> bool:
        """Whether the changes stand in place of the lay-up: of a plan that does not fit, where there is no room."""
        figures = self.layup.planner.figures
        if figures is None or not self._columns()[0] or self.size.height > TALL or not figures.plan.lays:
            return False
        return self.layup.planner.fit(figures).word == "does not fit"

    def _reasons(self, figures: PlanResult) -> list[str]:
        """Return what keeps the plan from fitting, or makes it tight, the worst first; nothing where it fits."""
        fit = self.layup.planner.fit(figures)
        return [] if fit.word == "fits" else [*dict.fromkeys((*fit.against, *fit.tight, *why(figures)))]

    def details(self) -> list[str]:
        """Return everything that stands against the plan, what is tightest, and where the dials start from."""
        figures = self.layup.planner.figures
        if figures is None:
            return []
        told = dict.fromkeys((*self._reasons(figures), *why(figures)))
        more = f"↑↓ more dials: {', '.join(dial.name.lower() for dial in DIALS[ALWAYS:])}"
        spare = "spare: least time to spare before a cup or the press is late"
        marks = ["? on a dial: not measured", "* on a dial: not as the plan's file has it; kept"]
        return [*told, more, *marks, spare]

    def _kept_words(self, planner: Planner, kept: PlanResult) -> str:
        """Return the variant kept beside, with the dials that stood elsewhere in it."""
        if planner.settings is None or kept.settings is None:
            return ""
        return ", ".join([f"vs {planner.line_of(kept)}", *otherwise(planner, kept.settings, planner.settings)])
