"""The parts of a session's state: a batch, a step, a lot, a note. Times in `_s` are seconds since its start."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from layup.chemistry.looks import PAST, LookWord
from layup.chemistry.temperature import History, carried_on
from layup.session.fields import BatchPlan, Component, StepPlan

BatchStatus = Literal["to mix", "weighed", "in the cup", "on the part", "under press", "lost"]


Shares = tuple[tuple[int, float], ...]
"""Steps by their numbers, each with how much of it is meant."""


class Sight(NamedTuple):
    """What was seen of a batch, and when."""

    at_s: float
    word: LookWord
    not_later: bool = False
    """It was like that already when somebody looked: it happened by then, nobody saw when."""


@dataclass(frozen=True, slots=True)
class BatchState:
    """One batch: what was planned, what was poured, and what became of it."""

    plan: BatchPlan
    resin_g: float | None = None
    """Resin as last read from the scale or stated at mixing; None until then."""
    hardener_g: float | None = None
    weighed_s: float | None = None
    mixed_s: float | None = None
    """When hardener met resin; the batch's clock counts from here."""
    start_K: float | None = None
    depth_m: float | None = None
    resin_read: bool = False
    """Whether the scale was read for the resin before hardener went in, and so on for the hardener."""
    hardener_read: bool = False
    zero_g: float = 0.0
    """What was in its cup as the scale was last zeroed with the cup on it: the scale shows so much less."""
    doubt_accepted: bool = False
    """Whether somebody laid it, or some of it, although it was off ratio or unread, and it was not read since."""
    poured_out_s: float | None = None
    pressed_s: float | None = None
    lost_s: float | None = None
    lost_why: str = ""
    lost_laid_g: float | None = None
    """What of it was on the part when it was lost, where somebody said."""
    done_when_lost: tuple[int, ...] = ()
    """Its steps that were done by then, since it was mixed: they tell what was laid where nobody said."""
    left_g: float | None = None
    """What was left in its cup once all that it was planned to lay was laid, where somebody said."""
    left_s: float = 0.0
    left_for: Shares = ()
    """The steps that this goes to, each with the share of it that it lays."""
    observations: tuple[tuple[float, LookWord], ...] = ()
    temperatures: History = ()
    """Temperatures measured in the batch."""

    @property
    def number(self) -> int:
        """The batch's number, unique in the session."""
        return self.plan.batch

    @property
    def mass_g(self) -> float:
        """The mass mixed, where it was read; otherwise the mass planned."""
        if self.resin_g is None or self.hardener_g is None:
            return self.plan.mass_g
        return self.resin_g + self.hardener_g

    @property
    def sights(self) -> tuple[Sight, ...]:
        """All that was seen of it in the order of time: how it looked, and what it was lost as."""
        seen = tuple(Sight(at_s, word) for at_s, word in self.observations)
        as_word = next((word for word in PAST if self.lost_why.casefold().split()[:1] == [word]), None)
        if self.lost_s is None or as_word is None or any(sight.word == as_word for sight in seen):
            return seen
        return *seen, Sight(self.lost_s, as_word, not_later=True)

    @property
    def poured_g(self) -> float:
        """What is known to have been poured into its cup."""
        return (self.resin_g or 0.0) + (self.hardener_g or 0.0)

    @property
    def on_scale_g(self) -> tuple[float, ...]:
        """What the scale is known to have shown: nothing, the resin, or resin and hardener."""
        if self.weighed_s is None or self.resin_g is None:
            return ()
        return (self.resin_g, self.hardener_g) if self.hardener_g and self.hardener_read else (self.resin_g,)

    @property
    def planned_for(self) -> Shares:
        """Each step that it was planned for with the share of it that it lays; all of each where none were planned."""
        whole = len(self.plan.shares) != len(self.plan.steps)
        shares = (1.0,) * len(self.plan.steps) if whole else self.plan.shares
        return tuple(zip(self.plan.steps, shares, strict=True))

    @property
    def serves(self) -> Shares:
        """Each step that it serves with the share of it that it lays, what its left-over mix goes to included."""
        return (*self.planned_for, *self.left_for)

    @property
    def steps(self) -> frozenset[int]:
        """The steps that it serves."""
        return frozenset(step for step, _ in self.serves)

    def shares_of(self, number: int) -> float:
        """Return how much of a step it lays."""
        return sum(share for step, share in self.serves if step == number)

    @property
    def stays(self) -> bool:
        """Whether some of it left its cup for the part and stayed there, though the rest may be lost."""
        if self.lost_s is None:
            return self.poured_out_s is not None
        return bool(self.done_when_lost) if self.lost_laid_g is None else self.lost_laid_g > 0.0

    def on_part(self) -> BatchState:
        """Return the batch as what is on the part of it: of a cup lost half-used, open since then whatever it does."""
        if not self.stays or self.poured_out_s is not None:
            return self
        return replace(self, poured_out_s=self.lost_s, lost_s=None, observations=())

    @property
    def looks(self) -> LookWord | None:
        """How it looked last; None where nobody looked."""
        return self.observations[-1][1] if self.observations else None

    @property
    def waits(self) -> bool:
        """Whether it is still to be weighed or mixed."""
        return self.status in ("to mix", "weighed")

    @property
    def status(self) -> BatchStatus:
        """Where the batch is, in a word for its card."""
        if self.lost_s is not None:
            return "lost"
        if self.pressed_s is not None:
            return "under press"
        if self.poured_out_s is not None:
            return "on the part"
        if self.mixed_s is not None:
            return "in the cup"
        return "to mix" if self.weighed_s is None else "weighed"


@dataclass(frozen=True, slots=True)
class StepState:
    """One step of the bench order: planned, and how it really went."""

    plan: StepPlan
    done_s: float | None = None
    began_s: float | None = None
    """When the bench was free for it: the step before was done or left out, or the session began; None until it is
    done, and of one done with another."""
    skipped_s: float | None = None
    """When somebody said that it is left out today."""
    merged_into: int | None = None
    """The step that it is laid together with."""
    with_it_s: float = 0.0
    """The time planned for the steps that are laid together with this one."""
    mix_g: float | None = None
    """The mix that it lays, where it was added today; None for a step of the plan."""

    @property
    def took_s(self) -> float | None:
        """Seconds from when the bench was free for it until it was done."""
        return None if self.began_s is None or self.done_s is None else self.done_s - self.began_s

    @property
    def left(self) -> bool:
        """Whether it is still to do, as a step of its own."""
        return self.done_s is None and self.skipped_s is None and self.merged_into is None

    @property
    def planned_s(self) -> float:
        """The time planned for it, and for what is laid together with it, with the people that began the day."""
        return self.plan.planned_s + self.with_it_s

    @property
    def number(self) -> int:
        return self.plan.step


def done_with(batch: BatchState, steps: Iterable[StepState]) -> tuple[int, ...]:
    """Return the steps that a mixed batch was planned for and that have its mix: those done since it was mixed or,
    once somebody said what is left of it, all."""
    mixed_s, served = batch.mixed_s, batch.plan.steps
    if mixed_s is None or batch.left_g is not None:
        return () if mixed_s is None else served
    done = {step.number for step in steps if step.done_s is not None and step.done_s >= mixed_s}
    return tuple(number for number in served if number in done)


@dataclass(frozen=True, slots=True)
class LotSeen:
    """A lot number, and when it was logged."""

    at_s: float
    component: Component
    lot: str


PLAYED, FIRST = "a day for play, of which nothing is kept: ", 20
"""How the note begins that a day for play is begun with, among so many first entries: as nobody's own note does."""


@dataclass(frozen=True, slots=True)
class NoteTaken:
    """A note, when it was taken, and the number of its record."""

    at_s: float
    seq: int
    text: str

    @property
    def marks_play(self) -> bool:
        """Whether it is the note that a day for play is begun with."""
        return self.seq <= FIRST and self.text.startswith(PLAYED)


Settling = Literal["done", "dropped", "open"]
"""What became of a note for next time; one that was settled by mistake is open again."""


class Carried(NamedTuple):
    """A note for next time, as its session carries it; `line` are the own digits of its entry, which no other has.

    By these it is known again in a folder that was renamed or copied.
    """

    at: str
    """UTC, ISO 8601, as all times here that are compared over sessions."""
    seq: int
    line: str
    text: str
    step: str = ""
    resin: str = ""


class Settled(NamedTuple):
    """What became of a note for next time, and when that was said."""

    at: str
    line: str
    how: Settling


class Taken(NamedTuple):
    """What a session poured of one component, from the can whose lot it named; an empty text where it named none."""

    component: Component
    lot: str
    mass_g: float


@dataclass(frozen=True, slots=True)
class PhotoKept:
    """A picture in the session's photos folder: its name there, the SHA-256 of its bytes, and what it shows."""

    file: str
    sha256: str
    caption: str

    @property
    def words(self) -> str:
        """Its name and caption."""
        return f"photo {self.file}" + (f": {self.caption}" if self.caption else "")


class Forecast(NamedTuple):
    """The shop's day as it was foretold."""

    course: History
    """(seconds from midnight, temperature in K)."""
    midnight_s: float
    """When that midnight was."""

    def after(self, readings: History, ahead_s: float) -> History:
        """Return readings carried on by it; none where nothing was read."""
        return carried_on(readings, self.course, midnight_s=self.midnight_s, ahead_s=ahead_s) if readings else ()


@dataclass(frozen=True, slots=True)
class Misfit:
    """An event that stands in the journal but did not apply when its turn came, and why."""

    seq: int
    event: str
    why: str


def last_read(history: History) -> float | None:
    """Return the last reading; None where nothing was read."""
    return history[-1][1] if history else None


def in_effect(history: History, begin_s: float, end_s: float) -> History:
    """Return the readings that counted between two times: those in it, and the last one before."""
    before = [reading for reading in history if reading[0] <= begin_s][-1:]
    return (*before, *(reading for reading in history if begin_s < reading[0] <= end_s))
