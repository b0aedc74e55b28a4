"""Stack: the plan's grams, the shop of today, and a picture of when it can close in time."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from rich.style import Style
from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.checklist import days_lines
from layup.app.place import Place
from layup.app.shell import OF_NUMBERS, section, tapped
from layup.bench.planner import CUP_STEP_G, FRACTION_STEP, HUMIDITY_STEP, TEMPERATURE_STEP_K, Planner, hanging
from layup.chemistry.datasheet import offered
from layup.errors import LayupError
from layup.planning.castings import as_poured
from layup.planning.choosing import choosable
from layup.planning.fit import why
from layup.planning.planner import PlanResult, Settings
from layup.planning.pressing import pressed_out_words, pressing
from layup.planning.schedule import left_over_words
from layup.planning.under_press import squeezed_out, squeezed_words
from layup.report.pictures import batch_lines, day_strips, pour_lines, window_picture
from layup.session.text import shortened
from layup.units import mass, temperature

USUAL_HUMIDITY = 0.5
TALL = 30
"""Rows from which on there is room for the batches as a table."""
SINGLE = 70
"""Columns below which everything stands in one column."""
OF_STEPS, OF_STEPS_WIDE = 39, 66
"""Columns of the lay-up."""
ROWS_OF_DIALS, ROWS_BELOW = 8, 12
"""Rows beside the section that are no picture; rows below it, but for two a batch."""


@dataclass(frozen=True, slots=True)
class Dial:
    """One setting that the arrow keys change."""

    name: str
    shows: Callable[[Settings, Planner], str]
    turned: Callable[[Settings, Planner, int], Settings]


def _next_resin(now: Settings, planner: Planner, by: int) -> Settings:
    plan, own = planner.plan, planner.resins.get(now.resin_id)
    names = list(offered(planner.resins))
    if plan is not None and own is not None:
        names = sorted(sheet.id for sheet in choosable(plan, planner.resins, own))
    at = names.index(now.resin_id) if now.resin_id in names else 0
    return replace(now, resin_id=names[(at + by) % len(names)]) if names else now


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
    return "?" if now.relative_humidity is None else f"{100 * now.relative_humidity:.0f} %"


def _shows_fraction(now: Settings, planner: Planner) -> str:
    by_volume = planner.plan is not None and planner.plan.target.by == "volume"
    return f"{100 * now.fraction:.0f} % {'vol' if by_volume else 'wt'}"


def _shows_resin(now: Settings, planner: Planner) -> str:
    sheet = planner.resins.get(now.resin_id)
    return sheet.title if sheet else now.resin_id


def _shows_lessons(now: Settings, planner: Planner) -> str:
    sessions = planner.lessons.sessions
    if not sessions:
        return "none"
    return f"{sessions}" if now.lessons else "off"


DIALS = (
    Dial("Shop", lambda now, _: temperature(now.temperature_K), _temperature),
    Dial("Cans", lambda now, _: "= shop" if now.cans_K is None else temperature(now.cans_K), _cans),
    Dial("Humidity", _shows_humidity, _humidity),
    Dial("People", lambda now, _: f"{now.people}", _people),
    Dial("Resin", _shows_resin, _next_resin),
    Dial("Cup max", lambda now, _: "any" if now.cup_g is None else f"{mass(now.cup_g)}", _cup),
    Dial("Fibre", _shows_fraction, _fraction),
    Dial("Lessons", _shows_lessons, lambda now, _, __: replace(now, lessons=not now.lessons)),
)
ROWS = ((0, 5), (1, 6), (2, 7), (3,), (4,))
"""The dials as they stand, row by row; going down goes through the left ones first."""
OF_DIAL = 18
"""Columns of a dial; two stand side by side with one between them."""
OF_NAME = 8


class Title(Static):
    """What stands over the plan; a key on it can be tapped."""

    def on_click(self, event: events.Click) -> None:
        """Press the key that is tapped."""
        if key := event.style.meta.get("key"):
            self.app.simulate_key(key)


class Dials(Static):
    """The dials; a tap chooses one, and on the chosen one turns it: less on its name's side, more on the other."""

    def on_click(self, event: events.Click) -> None:
        """Take a tap."""
        if (index := event.style.meta.get("dial")) is not None:
            self.app.query_one(StackPlace).tapped(index, more=bool(event.style.meta["more"]))


class StackPlace(Place):
    """The lay-up in section on the left, dials and pictures on the right, the day below."""

    def __init__(self) -> None:
        super().__init__(id="stack")
        self.at = 0
        self.more_of: PlanResult | None = None
        self.more = ""
        """What would help, of the figures `more_of`; it takes longer and comes a moment later."""

    def compose(self) -> ComposeResult:
        yield Title(id="stack-title")
        with VerticalScroll(id="stack-scroll", can_focus=False):
            with Horizontal(id="stack-columns"):
                yield Static(id="stack-steps")
                with Vertical(id="stack-right"):
                    yield Dials(id="stack-shop")
                    yield Static(id="stack-batches")
                    yield Static(id="stack-picture")
            yield Static(id="stack-day")

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

    def own(self, name: str) -> None:
        """Show each resin by temperature and people, and plan with the one that is taken."""
        from layup.app.choose import ResinPage

        figures = self.layup.planner.figures
        if name != "which_resin" or figures is None or not figures.plan.lays:
            self.layup.say("not now: no plan that is laid")
            return
        self.layup.ask(ResinPage(self.layup), self._plan_with)

    def _plan_with(self, resin_id: str) -> None:
        planner = self.layup.planner
        if resin_id not in planner.resins:
            self.layup.say("a blend: write it as a resin of its own, then plan with it")
        elif planner.settings is not None:
            planner.settings = replace(planner.settings, resin_id=resin_id)
            self.work_out(planner.settings)

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
        self.layup.redraw()
        self.layup.say(words)
        self.layup.ask_to_begin()

    def show(self) -> None:
        """Redraw everything."""
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
        left, right = self._columns()
        self.set_class(not left, "single")
        self.query_one("#stack-steps").display = bool(left)
        tall = self.size.height > TALL
        rows = 2 * len(figures.budget.lines)
        deep = bool(left) and tall and rows + ROWS_BELOW + 2 * len(figures.split.batches) <= self.size.height
        steps = self._steps(figures, left or right, deep=deep)
        self.query_one("#stack-steps", Static).update(steps)
        self.query_one("#stack-shop", Static).update(self._dials())
        self._show_batches()
        days = days_lines(planner, figures, width=right) if left and tall else []
        rows = max(rows - ROWS_OF_DIALS, 5) if deep and not days else 5 if tall else 3 if self.size.height > 18 else 2
        picture = window_picture(figures.window, width=right, rows=rows) if figures.plan.lays else []
        picture += ["", *days] if days else []
        below: list[str] = []
        day_width = left + right + 1 if left and tall else right
        drawn = day_strips(figures.timeline, figures.split, width=day_width) if figures.timeline else []
        if left and not tall:
            picture += ["", *drawn]
        else:
            below = ["", *drawn]
        if tall:
            squeezed = squeezed_out(figures)
            words = squeezed_words(squeezed) if squeezed else pressed_out_words(pressing(figures.plan))
            pressed_out = hanging("", words, day_width)
            below += ["", *batch_lines(figures.split), "", *pressed_out]
        self.query_one("#stack-picture", Static).update(Text("\n".join(picture), no_wrap=True))
        day_text = Text("\n".join(below), no_wrap=True)
        self.query_one("#stack-day", Static).update(day_text if left else day_text.append("\n\n").append(steps))
        if self.more_of is not figures:
            self._work_out_more(figures)

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
        try:
            words = _more_words(planner, figures)
        except LayupError as error:
            words = str(error)
        if planner.figures is figures:
            self.more_of, self.more = figures, words
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
        text = section(plan, budget.lines, width=width, cast_g=cast_g, deep=deep)
        if not plan.lays:
            return text.append(f"TOTAL {mass(sum(cast_g.values()))} in the pours", style="not dim bold")
        lost = mass.digits(budget.losses_g)
        text.append(f"      {'in cups':<{max(width - OF_NUMBERS, 8)}}{'':>6}{lost:>6}\n")
        total = f"TOTAL {mass(budget.mix_g)} = {mass.digits(budget.resin_g)} + {mass.digits(budget.hardener_g)}"
        have = f" (have {mass.digits(budget.buy_resin_g)}+{mass.digits(budget.buy_hardener_g)})"
        text.append(total, style="not dim bold")
        text.append(have if len(total + have) <= width else f"\n     {have}", style="not dim")
        return text

    def _dials(self) -> Text:
        planner = self.layup.planner
        text = Text(no_wrap=True)
        if planner.settings is None:
            return text
        room = self._columns()[1]
        for row in ROWS:
            for side, index in enumerate(row):
                dial, here = DIALS[index], index == self.at
                value = dial.shows(planner.settings, planner)
                if len(value) > (fits := room - OF_NAME - 3):  # what stands in brackets matters least
                    value = shortened(value.partition(" (")[0], fits)
                head, shown = f"{'▸' if here else ' '}{dial.name:<{OF_NAME}}", f"◂{value}▸" if here else f" {value} "
                text.append(head, style=Style(meta={"dial": index, "more": ""}))
                bold = Style(bold=True, reverse=here, meta={"dial": index, "more": "more"})
                text.append(shown[0], style=Style(bold=True, reverse=here, meta={"dial": index, "more": ""}))
                text.append(shown[1:], style=bold)
                if side < len(row) - 1:
                    text.append(" " * (OF_DIAL + 1 - len(head) - len(shown)))
            text.append("\n")
        text.rstrip()
        return text

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
        lines += dict.fromkeys((*self._reasons(figures)[:1], *left_over_words(figures.split)))
        if self.more_of is figures and self.more:
            lines.append(self.more)
        if planner.kept is not None:
            lines.append(f"vs {planner.line_of(planner.kept)}{self._otherwise(planner, planner.kept)}")
        room = self._columns()[1]
        return Text("\n").join(Text("\n".join(hanging(" ", words, room))) for words in lines)

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
        return [*told, "? on a dial: not measured", "spare: least time to spare before a cup or the press is late"]

    def _otherwise(self, planner: Planner, kept: PlanResult) -> str:
        """Name the dials that stood elsewhere in the variant kept beside."""
        if planner.settings is None or kept.settings is None:
            return ""
        pairs = [
            (dial.name, dial.shows(kept.settings, planner), dial.shows(planner.settings, planner)) for dial in DIALS
        ]
        return "".join(
            f", {then.partition(' (')[0] if name == 'Resin' else f'{name} {then}'}"
            for name, then, now in pairs
            if then != now
        )


def _more_words(planner: Planner, figures: PlanResult) -> str:
    """Work out how likely the plan is to close in time, and say the least that would make it fit."""
    planner.chances(figures)
    if planner.fit(figures).word == "fits":
        return ""
    changes = planner.remedies(figures)
    if not changes:
        return "No single change makes it fit."
    first = changes[0]
    return f"{'Fits' if first.fits else 'Helps'} if: {first.words[0].lower()}{first.words[1:]}"
