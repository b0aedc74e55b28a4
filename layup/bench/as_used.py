"""The plan and the resin of a press day as they were used, or why they cannot be read: who needs neither goes on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import TypeVar

from layup.bench.scale_readings import STIR_S
from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.temperature import temperature_at_K
from layup.errors import LayupError
from layup.planning.budget import for_part
from layup.planning.crew import pairs_of_hands
from layup.planning.plan import Closing, Crew, Plan, Scale
from layup.planning.pours import URETHANE_STIRRING_S
from layup.planning.pressing import PressAct, acts_of_plan
from layup.review.carried import NextTime
from layup.review.lessons import Lessons
from layup.session.journal import Journal
from layup.session.lifetimes import first_K, shop_of
from layup.session.mass_balance import mix_by_step_g
from layup.session.reader import Follower
from layup.session.state import SessionState
from layup.session.state_parts import StepState, last_read

T = TypeVar("T")


def _tried(work: Callable[[], T]) -> T | LayupError:
    """Return what was worked out, or why it could not be."""
    try:
        return work()
    except LayupError as error:
        return error


def _known(found: T | LayupError) -> T:
    """Return what was found, or raise why it was not."""
    if isinstance(found, LayupError):
        raise found
    return found


class AsUsed:
    """What a press day goes by beside its journal; each thing that cannot be told raises why."""

    def __init__(self, source: Journal | Follower, plan: Plan | LayupError, sheet: Datasheet | LayupError) -> None:
        self.source = source
        self._plan = plan
        self._sheet = sheet
        self.notes: tuple[NextTime, ...] = ()
        """What earlier sessions carried forward to it; what it settled of that its state tells."""

        self._resin: Calibration | LayupError = _tried(lambda: self._in_part(calibrate(self.sheet)))

    @property
    def state(self) -> SessionState:
        """What is known of the session."""
        return self.source.state

    def now_s(self) -> float:
        """Return the session's age."""
        return self.source.now_s()

    @property
    def plan(self) -> Plan:
        """The plan as it was begun; raises why it cannot be read."""
        return _known(self._plan)

    @property
    def sheet(self) -> Datasheet:
        """The resin's datasheet as used; raises why it cannot be read."""
        return _known(self._sheet)

    @property
    def is_known(self) -> bool:
        """Whether plan and resin can be read."""
        return not any(isinstance(found, LayupError) for found in (self._plan, self._sheet, self._resin))

    @property
    def calibration(self) -> Calibration:
        """The resin before today: its datasheet, and what earlier sessions taught where the day uses it."""
        return _known(self._resin)

    @property
    def is_dry(self) -> bool:
        """Whether it is a dry run: the bench without resin."""
        return self.state.kind == "dry run"

    @property
    def mark(self) -> str:
        """What stands on every surface of a day that is no press or casting day; empty for one that is."""
        return "DRY RUN" if self.is_dry else "PLAY" if any(note.marks_play for note in self.state.notes) else ""

    @property
    def parts(self) -> tuple[float, float]:
        """Resin and hardener by mass: as the datasheet has them, else as the batches were planned."""
        if not isinstance(self._sheet, LayupError):
            return parts_by_mass(self._sheet)
        planned = [batch.plan for batch in self.state.batches if batch.plan.resin_g > 0.0]
        return (planned[0].resin_g, planned[0].hardener_g) if planned else (1.0, 0.0)

    @property
    def closing(self) -> Closing:
        """How the press is closed: as planned, else as most are."""
        return Closing() if isinstance(self._plan, LayupError) else self._plan.closing

    @property
    def crew(self) -> Crew:
        """How the people share the work: as planned, else as most do."""
        return Crew() if isinstance(self._plan, LayupError) else self._plan.crew

    @property
    def scale(self) -> Scale:
        """The scale of the plan, else a usual one."""
        return Scale() if isinstance(self._plan, LayupError) else self._plan.scale

    @property
    def cup_g(self) -> float | None:
        """The most that a cup may hold."""
        if isinstance(self._plan, LayupError):
            return self.state.start.largest_cup_g if self.state.start else None
        return self._plan.largest_cup_g

    @property
    def stir_s(self) -> float:
        """How long a batch is stirred: as its plan states, else as usual; a urethane, which lives for minutes, one."""
        if (stated_s := self.crew.stirring_s) is not None:
            return stated_s
        urethane = not isinstance(self._sheet, LayupError) and self._sheet.chemistry == "urethane"
        return URETHANE_STIRRING_S if urethane else STIR_S

    @property
    def air_K(self) -> float:
        """The shop's temperature as last logged or, where its day was foretold, as it is expected now."""
        shop, foretold = self.state.air, self.state.forecast is not None
        if shop and foretold:
            return round(temperature_at_K(shop_of(self.state), self.now_s()), 1)
        return last_read(shop) or first_K(())

    @property
    def mix_K(self) -> float:
        """The temperature of a mix as it is stirred: that of the cans, or of the shop where theirs was not logged."""
        return last_read(self.state.resin) or self.air_K

    @property
    def people(self) -> int:
        """How many are at the bench, one at least."""
        return max(self.state.people, 1)

    @property
    def closing_s(self) -> float:
        """The time that closing the press is planned to take, with the people who are there now."""
        return self.closing.bench_s / pairs_of_hands(self.crew, self.people)

    def go_by(self, calibration: Calibration) -> None:
        """Take the resin as it was calibrated for the plan."""
        self._resin = self._in_part(calibration)

    def learn(self, lessons: Lessons) -> None:
        """Go by what earlier sessions taught."""
        self._plan = _tried(lambda: lessons.plan(self.plan))
        self._resin = _tried(lambda: self._in_part(lessons.calibration(self.sheet)))

    def _in_part(self, calibration: Calibration) -> Calibration:
        """Return a resin as it sets in this part, where the plan can be read."""
        return calibration if isinstance(self._plan, LayupError) else for_part(calibration, self._plan)

    def note_at(self, step: str) -> NextTime | None:
        """Return the note for next time that is met at a step, until it is settled, or seen today."""
        met = (note for note in self.notes if note.is_at(step) and note.is_open_in(self.state))
        return next((note for note in met if note.key not in self.state.acknowledged), None)

    @property
    def mix_g(self) -> Mapping[int, float]:
        """The mix that each step lays, by its number; nothing where that cannot be told, and shares count alone."""
        with suppress(LayupError):
            return mix_by_step_g(self.plan, self.sheet, self.state)
        return {}

    @property
    def press_acts(self) -> tuple[PressAct, ...]:
        """What is done at the press once it is closed, in order; nothing where the plan cannot be read."""
        return () if isinstance(self._plan, LayupError) else acts_of_plan(self._plan)

    def planned_s(self, step: StepState) -> float:
        """Return the time planned for a step, with the people who are there now."""
        return step.planned_s / self._hands

    def as_begun_s(self, time_s: float) -> float:
        """Return how long those who began the day would take for what takes so long with the people who are there."""
        return time_s * self._hands

    @property
    def _hands(self) -> float:
        """The pairs of hands that are there, over those that began the day."""
        began = self.state.hands[0][1] if self.state.hands else self.crew.people
        if began == self.people:
            return 1.0
        return pairs_of_hands(self.crew, self.people) / pairs_of_hands(self.crew, began)
