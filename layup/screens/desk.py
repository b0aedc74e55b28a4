"""The planning desk: one plan, the settings that can be changed on Stack, and everything that follows from them."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.potlife import calibrate
from layup.errors import InputError, LayupError
from layup.materials.names import JOURNAL
from layup.materials.workshop import Workshop
from layup.planning.case import Case
from layup.planning.fit import Fit, fit_of
from layup.planning.odds import Odds, odds_of
from layup.planning.remedies import Remedy, remedies
from layup.planning.stack import Plan, Shop
from layup.planning.variant import plan_with
from layup.planning.whatif import WhatIf, what_if
from layup.records.learned import NOTHING_LEARNT, Lessons, workshop_lessons
from layup.records.text import plain
from layup.screens.beginning import Beginning

USUAL_SHOP_K = 293.15
TEMPERATURE_STEP_K = 1.0
HUMIDITY_STEP = 0.05
CUP_STEP_G = 50.0
FRACTION_STEP = 0.01


@dataclass(frozen=True, slots=True)
class Settings:
    """What can be changed without touching a file."""

    resin_id: str
    temperature_K: float
    people: int
    cup_g: float | None
    fraction: float
    relative_humidity: float | None = None
    cans_K: float | None = None
    """Resin and hardener as they are weighed; None at the shop's temperature."""
    lessons: bool = True
    """Whether the plan uses what earlier sessions taught."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What the settings come to."""

    settings: Settings
    what: WhatIf
    lessons: Lessons
    """What earlier sessions taught, as far as it was used."""
    taught: tuple[str, ...] = ()
    """That in words, which stand among the assumptions."""


class Desk:
    """A workshop, the plan on the desk, and its settings."""

    def __init__(self, root: Path, *, plan: str | None = None) -> None:
        self.workshop = Workshop(root)
        self.plan_name = plan
        self.plan_path: Path | None = None
        self.plan: Plan | None = None
        self.resins: dict[str, Datasheet] = {}
        self.settings: Settings | None = None
        self.figures: Figures | None = None
        self.trouble: LayupError | None = None
        """Why there are no figures."""
        self.lessons = NOTHING_LEARNT
        self.kept: Figures | None = None
        """A variant kept beside the present one."""
        self._drawn: tuple[Figures, Odds | None] | None = None
        self.beginning = Beginning()
        """What is settled before the day begins: the night, the wood, what is ticked."""

    def load(self) -> None:
        """Read the resins and the plan, and work everything out; what is wrong is kept in `trouble`."""
        try:
            self.settings = self.read()
        except LayupError as error:
            self.trouble = error
            return
        self.change(self.settings)

    def read(self) -> Settings:
        """Read the resins and the plan, and work nothing out; return the settings that the plan's file states."""
        self.resins = self.workshop.resins()
        name = self.plan_name or self._first_draft()
        self.plan_path = self.workshop.plan_path(name)
        self.plan = self.workshop.plan(name)
        return first_settings(self.plan)

    @property
    def problem(self) -> str:
        """Why there are no figures, in words; empty where there are."""
        return str(self.trouble) if self.trouble else ""

    def _first_draft(self) -> str:
        """Return the first plan that was not pressed yet, else any."""
        names = self.workshop.session_names()
        drafts = [name for name in names if not (self.workshop.sessions_folder / name / JOURNAL).exists()]
        if not names:
            raise InputError(
                "workshop",
                "has no plan yet",
                allowed="a plan is sessions/NAME/plan.toml",
                todo="copy one: layup new DIR",
            )
        return (drafts or names)[0]

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

    def chances(self, figures: Figures) -> Odds | None:
        """Return the odds of closing in time; None without batches. Takes a tenth of a second, so off the screen."""
        if self._drawn is None or self._drawn[0] is not figures:
            self._drawn = figures, odds_of(figures.what.settled)
        return self._drawn[1]

    def fit(self, figures: Figures) -> Fit:
        """Return the verdict, from all that is worked out by now."""
        ready = self.beginning.known(figures)
        if ready is not None:
            return ready.fit
        if self._drawn is None or self._drawn[0] is not figures or self._drawn[1] is None:
            return figures.what.fit
        return fit_of(figures.what.case, figures.what.settled, chance=self._drawn[1].chance)

    def remedies(self, figures: Figures) -> tuple[Remedy, ...]:
        """Return the changes that would make a plan fit, the least effort first."""
        others = {}
        for name, sheet in self.resins.items():
            if name != figures.settings.resin_id and sheet.chemistry == figures.what.case.datasheet.chemistry:
                with suppress(LayupError):  # a resin whose numbers contradict each other is no way out
                    others[name] = (sheet, calibrate(sheet))
        return remedies(figures.what.case, figures.what.window, other_resins=others)

    def work_out(self, settings: Settings) -> Figures:
        """Return what some settings come to, without taking them."""
        if self.plan is None:
            raise InputError("plan", "is not read", todo=self.problem)
        sheet = self.resins.get(settings.resin_id)
        if sheet is None:
            raise InputError(
                "resin",
                "has no usable file in resins/",
                value=settings.resin_id,
                allowed=f"there are {', '.join(self.resins)}",
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
        case = Case(
            plan=lessons.plan(plan),
            datasheet=sheet,
            calibration=lessons.calibration(sheet) if sheet.id in lessons.resins else self.workshop.calibration(sheet),
            shop=Shop(settings.temperature_K, relative_humidity=settings.relative_humidity, resin_K=settings.cans_K),
            casting_resins=self.resins,
        )
        what = what_if(case)
        said = lessons.words(plan)
        of_resin = (lessons.resins[sheet.id].assumption,) if sheet.id in lessons.resins else ()
        figures = replace(what, assumptions=(*what.assumptions, *said))
        return Figures(settings, figures, lessons, (*of_resin, *said))

    def learn(self) -> None:
        """Read what the workshop's sessions teach; the settings say whether a plan uses it."""
        self.lessons = workshop_lessons(self.workshop, leave_out=self.plan_path.parent if self.plan_path else None)

    @property
    def plan_name_shown(self) -> str:
        """Where the plan comes from, as people name it."""
        return plain(self.plan_path.parent.name) if self.plan_path else ""

    def line_of(self, figures: Figures) -> str:
        """Return a variant in one line, to stand beside another."""
        split = figures.what.settled.split
        slack = "" if split.slack_s is None else f", {split.slack_s / 60:.0f} min to spare"
        return f"{self.fit(figures).word}, {len(split.batches)} batches{slack}"

    def top_line(self) -> tuple[str, bool]:
        """Return the line on top while no press day runs, and whether it needs a change."""
        if self.figures is None:
            return "NO PLAN", False
        what = self.figures.what
        split = what.settled.split
        if not what.case.plan.lays:
            return f"CASTING   {self.fit(self.figures).word.upper()}", not self.fit(self.figures).works
        if split.press_by_s is None or split.closed_s is None:
            return "PRESS BY: this plan cannot be split in batches", True
        by, closed = split.press_by_s / 60, split.closed_s / 60
        when = f"{by:.0f} min after first weighing; closed after {closed:.0f}"
        word = self.fit(self.figures).word.upper()
        if word == "DOES NOT FIT":
            return f"{word}   press by {when}", True
        spare = "" if split.slack_s is None else f", {split.slack_s / 60:.0f} min to spare"
        return f"PRESS BY {when}   {word}{spare}", word != "FITS"


def first_settings(plan: Plan) -> Settings:
    """Return the settings that a plan file itself states, in a shop of usual warmth."""
    return Settings(
        resin_id=plan.resin_id,
        temperature_K=USUAL_SHOP_K,
        people=plan.crew.people,
        cup_g=plan.largest_cup_g,
        fraction=plan.target.value,
    )
