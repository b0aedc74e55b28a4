"""The planning desk: one plan, the settings that can be changed on Stack, and everything that follows from them.

Before the first batch: what is known of the night and the wood, what is ticked, and whether to begin. No widget.
"""

from __future__ import annotations

import os
import re
import textwrap
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import fields, replace
from datetime import date
from math import inf
from pathlib import Path

from layup.chemistry.blending import with_blends
from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet, offered
from layup.chemistry.temperature import History
from layup.errors import InputError, LayupError
from layup.files.drafts import keep_dials, kept_dials
from layup.files.workshop import Workshop
from layup.planning.castings import casting_plan, casting_troubles, pourings
from layup.planning.checklist import Item, Stock, checklist, with_list, with_stock
from layup.planning.choosing import choosable, measured
from layup.planning.cuts import cast_resins
from layup.planning.fit import Fit, fit_of
from layup.planning.night import NightOutlook
from layup.planning.plan import GUESSES, PRESS_DAYS, Plan
from layup.planning.planner import PlanResult, Settings, plan_with
from layup.planning.readiness import Readiness, readiness
from layup.planning.remedies import Remedy, remedies
from layup.review.carried import NextTime, carriers, for_resin, open_notes
from layup.review.lessons import NOTHING_LEARNT, Progress, workshop_lessons
from layup.session.archive import Summary
from layup.session.day_events import Checked, HumidityRead, WoodMoistureRead
from layup.session.mass_balance import stock_of
from layup.session.state import Event, NightExpected
from layup.session.text import clean, plain
from layup.units import spare_of

SURE = 0.99
"""Odds of closing in time above which they need not be read on the way."""
USUAL_SHOP_K = 293.15
"""Taken for a shop of which nothing is said: 20 C; common practice, no source."""
OF_THE_SHOP = ("temperature_K", "relative_humidity")
"""The settings that are of the shop, whatever is pressed there."""


class Planner:
    """A workshop, the plan on the planner, and its settings."""

    def __init__(self, root: Path, *, plan: str | None = None, casting: bool = False, forecast: History = ()) -> None:
        self.workshop = Workshop(root)
        self.plan_name = plan
        self.forecast, self.wanted = forecast, ""
        """The shop's day instead of the plan's own; when the part has to be out. Empty where nobody said it."""
        self.casting = casting
        """Whether the castings of a plan are planned, and not its press day; one that only casts has no other."""
        self.days: tuple[str, ...] = ("",)
        """Of the plan on the desk: its press day as an empty name, then a casting day for each casting resin."""
        self.cast_resin = ""
        """Whose casting day it is; empty for the first."""
        self.plan_path: Path | None = None
        self.plan: Plan | None = None
        self.resins: dict[str, Datasheet] = {}
        self.drafts: list[str] = []
        """The plans to choose from: those that were not pressed yet."""
        self.settings: Settings | None = None
        self.figures: PlanResult | None = None
        self.trouble: LayupError | None = None
        """Why there are no figures."""
        self.lessons, self.awaits_lessons = NOTHING_LEARNT, False
        """Whether what earlier sessions teach is read still: the figures are those without it."""
        self.kept: PlanResult | None = None
        """A variant kept beside the present one."""
        self.carriers: tuple[Summary, ...] = ()
        """The sessions that carry notes for next time, or settle them."""
        self.as_set = ""
        """What is planned with as it was turned on Stack earlier, in words for paper; empty for nothing."""
        self.beginning = Beginning()
        """What is settled before the day begins: the night, the wood, what is ticked."""
        self.today: date | None = None
        """The day on which the cans are judged; None where they are of no account."""

    def load(self) -> None:
        """Read the resins and the plan, and work everything out; what is wrong is kept in `trouble`."""
        try:
            stated = self.settings = self.read()
        except LayupError as error:
            self.trouble = error
            return
        if self.change(self.turned(stated)):
            self.change(stated)

    def turned(self, stated: Settings) -> Settings:
        """Return the dials as they were kept over the plan; as its file has `stated` where they no longer suit."""
        kept = stated if self.casting else kept_dials(self.workshop.root, self.plan_name_shown, stated)
        try:
            _ = kept == stated or self.asked(kept).job
        except LayupError:
            return stated
        return kept

    def keep(self) -> None:
        """Keep the dials as they stand, for the next time that this plan is read."""
        if self.plan is not None and self.settings is not None and not self.casting:
            keep_dials(self.workshop.root, self.plan_name_shown, first_settings(self.plan), self.settings)

    def read(self) -> Settings:
        """Read the resins and the plan, and work nothing out; return the settings that the plan's file states."""
        name = self.plan_name or self._first_draft()
        self.resins = self.workshop.resins()
        self.drafts = self.workshop.draft_names()
        self.plan_path = self.workshop.plan_path(name)
        plan = self.workshop.plan(name)
        if self.forecast:
            plan = replace(plan, forecast=self.forecast)
        if self.casting and not cast_resins(plan):
            raise InputError("--casting", "is for a plan with castings", value=name, todo='add a step: kind = "cast"')
        self.beginning.stock = None if self.today is None else stock_of(self.workshop, self.today)
        return self.take(plan)

    def take(self, plan: Plan) -> Settings:
        """Put a plan on the desk, and work nothing out; return the settings that it states."""
        self.days = (*([""] if plan.lays else []), *cast_resins(plan))
        cast = self.cast_resin if self.cast_resin in self.days else ""
        self.plan = casting_plan(plan, cast) if self.casting or not plan.lays else plan
        return first_settings(self.plan)

    @property
    def problem(self) -> str:
        """Why there are no figures, in words; empty where there are."""
        return str(self.trouble) if self.trouble else ""

    def _first_draft(self) -> str:
        """Return the first plan that was not pressed yet, else any."""
        if self.workshop.is_bare:
            raise InputError(
                "workshop",
                "has no plan yet",
                allowed="a plan is sessions/NAME/plan.toml",
                todo="press f on Stack, or copy one: layup new DIR",
            )
        return (self.workshop.draft_names() or self.workshop.session_names())[0]

    def choose(self, name: str) -> None:
        """Take another plan of the workshop, with nothing of the one before; a broken one says what is wrong."""
        self.plan_name, self.plan, self.settings, self.wanted = name, None, None, ""
        self.figures = self.kept = None
        self.beginning = Beginning(self.notes)
        self.load()

    def reread(self, name: str = "") -> None:
        """Read the plan again, or one that was just written, with the dials that stay turned over it."""
        turned, before = self.settings, self.plan
        same = not name or (self.plan_path is not None and self.plan_path.parent.name == name)
        if name:
            self.choose(name)
        else:
            self.load()
        if turned is not None and before is not None and self.plan is not None and self.trouble is None:
            self.change(still_turned(turned, before, self.plan, same=same))

    def listed(self) -> list[tuple[str, str]]:
        """Return the plans to choose from by name, each with its title or the first thing that is wrong with it."""
        found = []
        for name in self.drafts:
            try:
                words = titled(self.workshop.plan(name))
            except LayupError as error:
                where = f"{self.workshop.sessions_folder / name}{os.sep}"
                words = f"✗ {str(error).splitlines()[0].replace(where, '')}"
            found.append((name, words))
        return found

    @property
    def place_among_plans(self) -> str:
        """Return which of the plans this is, and of how many; empty where there is nothing to choose."""
        if len(self.drafts) < 2 or self.plan_path is None:
            return ""
        name = self.plan_path.parent.name
        at = f"{self.drafts.index(name) + 1}/{len(self.drafts)} " if name in self.drafts else ""
        return f"PLAN {at}{self.plan_name_shown}"

    def change(self, settings: Settings) -> str:
        """Take new settings and work everything out; return what is wrong with them, or an empty text."""
        try:
            figures = self.work_out(settings)
        except LayupError as error:
            if self.figures is None:
                self.trouble = error
            return str(error)
        self.settings, self.figures, self.trouble = settings, figures, None
        return ""

    def fit(self, figures: PlanResult) -> Fit:
        """Return the verdict, from all that is worked out by now."""
        if (ready := self.beginning.known(figures)) is not None:
            return ready.fit
        return fit_of(figures, chance=figures.chance if "odds" in vars(figures) else None)

    def remedies(self, figures: PlanResult) -> tuple[Remedy, ...]:
        """Return the changes that would make a plan fit, the least effort first."""
        others, settings = {}, figures.settings
        for sheet in choosable(self.plan or figures.plan, self.resins, figures.datasheet)[1:]:
            with suppress(LayupError):  # a resin whose numbers contradict each other is no way out
                others[sheet.id] = (sheet, self._calibration(sheet, taught=figures.lessons_used))
        return remedies(
            figures,
            other_resins=others,
            outlook=self.beginning.outlook,
            with_people=None if settings is None else lambda people: self.asked(replace(settings, people=people)),
        )

    def work_out(self, settings: Settings) -> PlanResult:
        """Return what some settings come to, without taking them."""
        result = self.asked(settings)
        result.work_out()
        return result

    def asked(self, settings: Settings) -> PlanResult:
        """Return the plan with some settings, of which nothing is worked out yet."""
        if self.plan is None:
            raise InputError("plan", "is not read", todo=self.problem)
        sheet = with_blends(self.resins).get(settings.resin_id)
        if sheet is None:
            raise InputError(
                "resin",
                "has no usable file in resins/",
                value=settings.resin_id,
                allowed=f"there are {', '.join(offered(self.resins))}",
                todo="see 'layup check'",
            )
        lessons = self.lessons if settings.lessons else NOTHING_LEARNT
        plan = plan_with(
            self.plan,
            sheet,
            people=settings.people,
            largest_cup_g=settings.cup_g,
            fibre_fraction=settings.fraction,
        )
        said = lessons.words(plan)
        of_resin = (lessons.resins[sheet.id].assumption,) if sheet.id in lessons.resins else ()
        return PlanResult(
            plan=lessons.plan(plan),
            datasheet=sheet,
            calibration=self._calibration(sheet, taught=settings.lessons),
            shop=settings.shop,
            casting_resins=self.resins,
            settings=settings,
            lessons_used=lessons.sessions > 0,
            taught=(*of_resin, *said),
        )

    def casting_troubles(self) -> tuple[str, ...]:
        """Say which castings do not fit on their own days, as the plan's file has those."""
        if self.plan is None or not self.days[1:]:
            return ()
        return casting_troubles(self.plan, pourings(self.asked(first_settings(self.plan)), None))

    def _calibration(self, sheet: Datasheet, *, taught: bool) -> Calibration:
        of_sessions = taught and sheet.id in self.lessons.resins
        return self.lessons.calibration(sheet) if of_sessions else self.workshop.calibration(sheet)

    def learn(self, progress: Progress | None = None) -> None:
        """Read what the workshop's sessions teach; the settings say whether a plan uses it."""
        folder = self.plan_path.parent if self.plan_path else None
        sheets = self.resins or None
        self.lessons = workshop_lessons(self.workshop, leave_out=folder, sheets=sheets, progress=progress)

    @property
    def notes(self) -> tuple[NextTime, ...]:
        """The open notes for next time of all sessions."""
        return open_notes(self.carriers)

    def notes_of(self, figures: PlanResult) -> tuple[NextTime, ...]:
        """Return the notes that a plan with its resin meets."""
        return for_resin(self.notes, figures.datasheet.id)

    def take_notes(self, sessions: tuple[Summary, ...] | None = None) -> None:
        """Take what sessions carry forward, as it was read or is read now."""
        self.carriers = carriers(self.workshop) if sessions is None else sessions
        self.beginning.notes = self.notes

    @property
    def plan_name_shown(self) -> str:
        """Where the plan comes from, as people name it."""
        return plain(self.plan_path.parent.name) if self.plan_path else ""

    def line_of(self, figures: PlanResult) -> str:
        """Return a variant in one line, to stand beside another."""
        spare_s = -1.0 if figures.split.slack_s is None else figures.split.slack_s
        return f"{self.fit(figures).word.upper()}{f', {spare_of(spare_s)}' if spare_s >= 0.0 else ''}"

    def top_line(self, *, whole: bool = True, width: float = inf) -> tuple[str, bool]:
        """Return the line on top while no day runs, `whole` with the verdict, as it has room; whether it is no fit."""
        figures = self.figures
        if figures is None:
            return "NO PLAN", False
        title = titled(figures.plan)
        if not whole:
            return title, False
        if self.awaits_lessons or self.settings is not figures.settings:
            return f"working it out ...   {title}", False
        fit = self.fit(figures)
        unsure = "odds" in vars(figures) and figures.chance is not None and figures.chance <= SURE
        verdict = verdict_words(figures, fit, drawn=unsure)
        source = figures.plan.crew.minutes_from
        told = verdict if source in (GUESSES, PRESS_DAYS) else f"{verdict} · from {source}"
        lines = (f"{told}   {title}", told, f"{verdict}   {title}", verdict)
        return next((line for line in lines if len(line) <= width), verdict), fit.word != "fits"


def shop_stated_K(plan: Plan) -> float | None:
    """Return the shop's temperature where its day is stated as one and the same; None for a course, or for none."""
    stated = {kelvin for _, kelvin in plan.forecast}
    return stated.pop() if len(stated) == 1 and len(plan.forecast) > 1 else None


def first_settings(plan: Plan) -> Settings:
    """Return the settings that a plan file itself states; a shop that it says nothing of is of usual warmth."""
    return Settings(
        resin_id=plan.resin_id,
        temperature_K=shop_stated_K(plan) or USUAL_SHOP_K,
        people=plan.crew.people,
        cup_g=plan.largest_cup_g,
        fraction=plan.target.value,
    )


def still_turned(turned: Settings, before: Plan, now: Plan, *, same: bool) -> Settings:
    """Return what a plan states, under the dials as they were `turned` over one before it.

    Of the `same` plan each dial stays that its file says no other of. Another one is made in the same shop: the shop's
    warmth stays, unless that plan states its own, and its humidity.
    """
    first, then = first_settings(before), first_settings(now)
    if same:
        kept = [each.name for each in fields(Settings) if getattr(first, each.name) == getattr(then, each.name)]
    else:
        kept = list(OF_THE_SHOP if shop_stated_K(now) is None else OF_THE_SHOP[1:])
    return replace(then, **{name: getattr(turned, name) for name in kept})


def titled(plan: Plan) -> str:
    """Return a plan's title with its pieces."""
    return plan.title if plan.pieces == 1 else f"{plan.title} ×{plan.pieces}"


def verdict_words(figures: PlanResult, fit: Fit, *, drawn: bool = True) -> str:
    """Return the verdict with what cold and press do, what is spare or short, and the odds once they are drawn."""
    words = [f"{VERDICT_SHAPES[fit.word]} {fit.word.upper()}", *([", ".join(fit.beside)] if fit.beside else [])]
    spare_s, lays = figures.split.slack_s, figures.plan.lays
    if spare_s is not None and lays and (spare_s < 0.0) == (not fit.works):
        words.append(spare_of(spare_s, "short"))
    if lays and fit.works and drawn and figures.odds is not None:
        words.append(f"{figures.odds.words} in time")
    return " · ".join(words)


# -- beginning -------------------------------------------------------------------------------------------------------

VERDICT_SHAPES = {"fits": "●", "tight": "◆", "does not fit": "■"}
OPEN, DONE = "[ ]", "[x]"
"""The box of an item of the list."""


class Beginning:
    """What is settled before a press day begins; a new one for each day."""

    def __init__(self, notes: tuple[NextTime, ...] = (), stock: Stock | None = None) -> None:
        self.stock = stock
        self.outlook = NightOutlook()
        self.notes = notes
        """The open notes for next time, whatever resin they are about."""
        self.ticked: dict[str, str] = {}
        """Key -> words of what is ticked."""
        self._judged: tuple[PlanResult, NightOutlook, Readiness] | None = None

    def known(self, figures: PlanResult) -> Readiness | None:
        """Return the answer for these figures, if it was worked out."""
        if self._judged is None or self._judged[0] is not figures or self._judged[1] != self.outlook:
            return None
        return self._judged[2]

    def judge(self, figures: PlanResult) -> Readiness:
        """Work the answer out; it may take half a second, so off the screen."""
        found = readiness(measured(figures, self.outlook), self.outlook, chance=figures.chance)
        self._judged = (figures, self.outlook, found)
        return found

    def answer(self, figures: PlanResult) -> Readiness | None:
        """Return the answer with the list "before you start", if it was worked out."""
        ready = self.known(figures)
        listed = ready and with_list(ready, self.items(figures), self.ticked)
        return listed and with_stock(listed, self.stock, figures)

    def items(self, figures: PlanResult) -> tuple[Item, ...]:
        """Return the list "before you start", what earlier sessions carried forward first."""
        listed = checklist(figures, self.known(figures), self.stock)
        return (*note_items(for_resin(self.notes, figures.datasheet.id)), *listed)

    def tick(self, item: Item) -> bool:
        """Tick an item, or take its tick away; return whether it is ticked now."""
        if item.key in self.ticked:
            del self.ticked[item.key]
            return False
        self.ticked[item.key] = item.words
        return True

    def first_events(self) -> tuple[Event, ...]:
        """Return what the journal is told as the day begins."""
        known = self.outlook
        events = [event for key, words in self.ticked.items() for event in ticked(key, words, self.notes)]
        if known.wood_moisture is not None:
            events.append(WoodMoistureRead(moisture_fraction=known.wood_moisture))
        if known.humidity is not None:
            events.append(HumidityRead(relative_humidity=known.humidity))
        if known.night_K is not None:
            events.append(NightExpected(coldest_K=known.night_K, out_by_s=known.out_by_s))
        return tuple(events)


def note_items(notes: Iterable[NextTime]) -> tuple[Item, ...]:
    """Return notes for next time as items of the list "before you start"."""
    return tuple(Item(note.key, "from last time", note.words) for note in notes)


def ticked(key: str, words: str, notes: Iterable[NextTime], *, done: bool = True) -> tuple[Event, ...]:
    """Return what is logged of an item ticked, or not any more; a note for next time is done, or open again."""
    note = next((note for note in notes if note.key == key), None)
    if note is not None:
        return note.settled("done" if done else "open")
    return (Checked(item=key, words=clean(words), done=done),)


HELD, HOLD = re.compile(r"(?<=[\d≈]) (?=\S)"), "\N{NO-BREAK SPACE}"
"""The space between a number and its unit, and what stands for it while lines are broken."""


def hanging(head: str, words: str, width: int) -> list[str]:
    """Return words in lines of at most `width`, each as far in as the first's head; numbers keep their units."""
    held = HELD.sub(HOLD, words)
    lines = textwrap.wrap(held, width, initial_indent=head, subsequent_indent=" " * len(head), break_on_hyphens=False)
    return [line.replace(HOLD, " ") for line in lines]
