"""What happens to batches and steps: weighed, mixed, looked at, laid, lost, planned anew, pressed."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from layup.chemistry.looks import LookWord
from layup.session.fields import (
    Batches,
    BatchNumber,
    Depth,
    Despite,
    Fraction,
    HardenerMass,
    Mass,
    Named,
    Number,
    Pressure,
    ResinMass,
    ShownTemperature,
    Stamp,
    StepNumber,
    Temperature,
    Text,
    VesselKind,
)
from layup.session.state import Event, SessionState, add, twice
from layup.session.state_parts import BatchState, done_with
from layup.units import length, mass, temperature

CLOSED = "the press is closed - the work on this part is over"
NOTHING_MIXED = "the press is closed - nothing more can be mixed for this part"


def still_to_do(state: SessionState, number: int) -> str | None:
    """Return why a step cannot be done any more, or None if it is still to do."""
    step = state.step(number)
    if step is None:
        return f"there is no step {number} in the plan"
    if step.done_s is not None:
        return f"step {number} is done already"
    if step.merged_into is not None:
        return f"step {number} is laid together with step {step.merged_into}"
    return f"step {number} is left out today" if step.skipped_s is not None else None


def _all_the_same(despite: Despite) -> str:
    """Return the mark of mix that was laid although something stood against it."""
    return f", {despite.upper()}, laid all the same" if despite else ""


class OnBatch(Event):
    """What is done with a batch; one that is not there, or lost, cannot be touched."""

    batch: BatchNumber

    def why_not(self, state: SessionState) -> str | None:
        batch = state.batch(self.batch)
        if batch is None:
            return f"there is no batch {self.batch} - a new plan of the batches adds one"
        if batch.lost_s is not None:
            return f"batch {self.batch} is lost - plan the batches anew to replace it"
        return self.why_not_of(batch, state)

    def why_not_of(self, _batch: BatchState, _state: SessionState) -> str | None:
        return None


class PourRead(OnBatch):
    """What the scale really showed for a batch."""

    event: Named[Literal["pour-read"]] = "pour-read"
    resin_g: ResinMass
    hardener_g: HardenerMass

    def why_not_of(self, batch: BatchState, state: SessionState) -> str | None:
        """Refuse it once the cup is empty: on one tare the hardener is read, and put right, after first contact."""
        if batch.poured_out_s is not None:
            return f"batch {self.batch} is on the part already - its scale readings stand"
        if batch.left_g is not None:
            return f"what is left of batch {self.batch} was said already - its scale readings stand"
        if batch.mixed_s is not None and self.hardener_g == 0:
            return f"batch {self.batch} is mixed - it has hardener in it"
        return NOTHING_MIXED if state.closed_s is not None else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Take the reading. Hardener in before the resin was read: the resin stands as planned, and stays unread."""
        batch = state.batch_by_number[self.batch]
        read = replace(
            batch,
            resin_g=self.resin_g,
            hardener_g=self.hardener_g,
            weighed_s=stamp.when_s,
            resin_read=batch.resin_read or batch.mixed_s is None,
            hardener_read=self.hardener_g > 0.0,
            doubt_accepted=False,
        )
        state.put(read)

    def describe(self) -> str:
        hardener = f", hardener {mass(self.hardener_g, 'g')}" if self.hardener_g else ""
        return f"batch {self.batch} on the scale: resin {mass(self.resin_g, 'g')}{hardener}"


class ScaleZeroed(OnBatch):
    """The scale was zeroed with a batch's cup on it, as one that switched off comes back: it counts on from there."""

    event: Named[Literal["scale-zeroed"]] = "scale-zeroed"
    in_cup_g: Annotated[Mass, Field(description="what was in the cup, and is not in its readings from here on")]

    def why_not_of(self, batch: BatchState, _state: SessionState) -> str | None:
        return f"batch {self.batch} is on the part already" if batch.poured_out_s is not None else None

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.put(replace(state.batch_by_number[self.batch], zero_g=self.in_cup_g))

    def describe(self) -> str:
        return f"scale zeroed with {mass(self.in_cup_g, 'g')} of batch {self.batch} on it"


class BatchMixed(OnBatch):
    """Hardener met resin: the batch's clock starts here, at first contact."""

    event: Named[Literal["batch-mixed"]] = "batch-mixed"
    resin_g: ResinMass
    hardener_g: HardenerMass
    start_K: Temperature = Field(description="temperature of the mix at first contact")
    vessel: VesselKind = Field(default="cup", description="cup or tray")
    depth_m: Depth | None = Field(default=None, description="depth of the mix in a tray")

    @model_validator(mode="after")
    def _depth_goes_with_tray(self) -> BatchMixed:
        if (self.vessel == "tray") != (self.depth_m is not None):
            raise PydanticCustomError("tray_depth", "depth_m is stated for a tray and only for a tray")
        return self

    def why_not_of(self, batch: BatchState, state: SessionState) -> str | None:
        if self.resin_g == 0 or self.hardener_g == 0:
            return f"batch {self.batch} needs both resin and hardener to be mixed"
        if state.closed_s is not None:
            return NOTHING_MIXED
        return f"batch {self.batch} is mixed already - its clock runs" if batch.mixed_s is not None else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        mixed = replace(
            state.batch_by_number[self.batch],
            resin_g=self.resin_g,
            hardener_g=self.hardener_g,
            mixed_s=stamp.when_s,
            start_K=self.start_K,
            depth_m=self.depth_m,
        )
        state.put(mixed)

    def describe(self) -> str:
        where = f"tray {length(self.depth_m, 'g')} deep" if self.depth_m else "cup"
        mass_g = self.resin_g + self.hardener_g
        return f"batch {self.batch} hardener in: {mass(mass_g)}, {temperature(self.start_K, '.1f')}, {where}"


class BatchPouredOut(OnBatch):
    """The batch went from the cup onto the part."""

    event: Named[Literal["batch-poured-out"]] = "batch-poured-out"
    despite: Despite = None

    def why_not_of(self, batch: BatchState, state: SessionState) -> str | None:
        if batch.mixed_s is None:
            return f"batch {self.batch} is not mixed yet - hardener in comes first"
        if batch.poured_out_s is not None:
            return f"batch {self.batch} is on the part already"
        return "the press is closed - no more resin gets onto the part" if state.closed_s is not None else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        batch = state.batch_by_number[self.batch]
        state.put(replace(batch, poured_out_s=stamp.when_s, doubt_accepted=self.despite is not None))

    def describe(self) -> str:
        return f"batch {self.batch} on the part{_all_the_same(self.despite)}"


class BatchLost(OnBatch):
    """The batch cannot be used: gelled, spilt, wrongly mixed."""

    event: Named[Literal["batch-lost"]] = "batch-lost"
    why: Text = Field(default="", description="in a word")
    laid_g: Mass | None = Field(
        default=None,
        description="of a lost batch what is on the part; null: what the steps took that were done since it was mixed",
    )

    def why_not_of(self, batch: BatchState, _state: SessionState) -> str | None:
        if batch.status == "under press":
            return f"batch {self.batch} is under the press - it cannot be lost any more"
        if batch.status == "to mix":
            return f"batch {self.batch} is neither weighed nor mixed - there is nothing to lose"
        most_g = batch.poured_g if batch.mixed_s is not None else 0.0
        laid_g = self.laid_g or 0.0
        if laid_g > most_g:
            return f"of batch {self.batch} no more than {mass(most_g)} can be on the part, not {mass(laid_g)}"
        return None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        batch = state.batch_by_number[self.batch]
        done = done_with(batch, state.steps)
        lost = replace(batch, lost_s=stamp.when_s, lost_why=self.why, lost_laid_g=self.laid_g, done_when_lost=done)
        state.put(lost)

    def describe(self) -> str:
        laid = f", {mass(self.laid_g)} of it on the part" if self.laid_g else ""
        return f"batch {self.batch} lost" + (f": {self.why}" if self.why else "") + laid


class MixLeft(OnBatch):
    """What is left in a cup once all that it was planned to lay is laid, and the steps that this goes to."""

    event: Named[Literal["mix-left"]] = "mix-left"
    left_in_cup_g: Mass = Field(description="mix in the cup that is not laid yet")
    left_for: tuple[Number, ...] = Field(default=(), description="steps that mix left over in a cup goes to")
    left_shares: tuple[Fraction, ...] = Field(
        default=(), description="how much of each of them it lays, in the same order"
    )

    @model_validator(mode="after")
    def _a_share_each(self) -> MixLeft:
        if len(self.left_for) != len(self.left_shares):
            raise PydanticCustomError("shares_of_steps", "each step has its share")
        return self

    def why_not_of(self, batch: BatchState, state: SessionState) -> str | None:
        """Refuse it where the cup is not in use, holds less, or has other work still to do."""
        if state.closed_s is not None:
            return CLOSED
        if batch.status != "in the cup":
            return f"batch {self.batch} is {batch.status} - nothing is left in its cup"
        if self.left_in_cup_g > batch.poured_g:
            return f"batch {self.batch} was {mass(batch.poured_g)} - no more than that is left of it"
        now = state.step_now
        later = [
            number for number in batch.plan.steps if (step := state.step(number)) and step.left and step is not now
        ]
        if later:
            return f"batch {self.batch} is for step {later[0]} yet - it is not left over"
        done = [number for number, _ in batch.left_for if (step := state.step(number)) and not step.left]
        if done:
            return f"what was left of batch {self.batch} is laid on step {done[0]} already"
        return next((why for number in self.left_for if (why := still_to_do(state, number))), None)

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        left_for = tuple(zip(self.left_for, self.left_shares, strict=True))
        batch = state.batch_by_number[self.batch]
        state.put(replace(batch, left_g=self.left_in_cup_g, left_s=stamp.when_s, left_for=left_for))

    def describe(self) -> str:
        goes = " and ".join(f"step {number}" for number in self.left_for)
        return f"batch {self.batch}: {mass(self.left_in_cup_g)} left" + (f", for {goes}" if goes else "")


class StepDone(Event):
    """A step of the bench order is finished."""

    event: Named[Literal["step-done"]] = "step-done"
    step: StepNumber
    despite: Despite = None

    def why_not(self, state: SessionState) -> str | None:
        return still_to_do(state, self.step)

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Tell how long it took, and what was laid with it; despite a doubt, the doubt of its cups is accepted."""
        step = state.step_by_number[self.step]
        state.step_by_number[self.step] = replace(step, done_s=stamp.when_s, began_s=state.bench_free_s)
        state.bench_free_s = stamp.when_s
        for step in state.steps:
            if step.merged_into == self.step:
                state.step_by_number[step.number] = replace(step, done_s=stamp.when_s)
        if self.despite is not None:
            for batch in state.batches:
                if self.step in batch.steps and batch.status == "in the cup":
                    state.put(replace(batch, doubt_accepted=True))

    def describe(self) -> str:
        return f"step {self.step} done{_all_the_same(self.despite)}"

    def describe_in(self, state: SessionState) -> str:
        step = state.step(self.step)
        return f"done: {step.plan.name}{_all_the_same(self.despite)}" if step else self.describe()


class Seen(Event):
    """What is seen of a batch that was mixed; a lost one can be looked at, too, for what its cup teaches."""

    batch: BatchNumber

    def why_not(self, state: SessionState) -> str | None:
        batch = state.batch(self.batch)
        if batch is None:
            return f"there is no batch {self.batch}"
        return f"batch {self.batch} is not mixed yet" if batch.mixed_s is None else None


class Observation(Seen):
    """How a batch looks on the stick or under the brush."""

    event: Named[Literal["observation"]] = "observation"
    word: LookWord = Field(description="how it looked")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        batch = state.batch_by_number[self.batch]
        state.put(replace(batch, observations=(*batch.observations, (stamp.when_s, self.word))))

    def describe(self) -> str:
        return f"batch {self.batch} looks {self.word}"


class CupTemperatureRead(Seen):
    """A temperature measured in a batch."""

    event: Named[Literal["cup-temperature-read"]] = "cup-temperature-read"
    temperature_K: ShownTemperature

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        batch = state.batch_by_number[self.batch]
        state.put(replace(batch, temperatures=(*batch.temperatures, (stamp.when_s, self.temperature_K))))

    def describe(self) -> str:
        return f"batch {self.batch} measured at {temperature(self.temperature_K, '.1f')}"


class Replanned(Event):
    """The batches still to be mixed, instead of those planned before; mixed and lost ones stay as they are."""

    event: Named[Literal["replanned"]] = "replanned"
    batches: Batches

    def why_not(self, state: SessionState) -> str | None:
        if state.closed_s is not None:
            return "the press is closed - there is nothing left to plan"
        numbers = [plan.batch for plan in self.batches]
        if twice(numbers):
            return "two of the new batches have the same number"
        for number in numbers:
            batch = state.batch(number)
            if batch is not None and (batch.mixed_s is not None or batch.lost_s is not None):
                return f"batch {number} is {batch.status} already - a new plan starts with what is not mixed"
        return None

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        """Replace what is not mixed; what was weighed stays with its number."""
        known = state.batch_by_number
        fixed = {n: batch for n, batch in known.items() if batch.mixed_s is not None or batch.lost_s is not None}
        new = {
            plan.batch: replace(known[plan.batch], plan=plan) if plan.batch in known else BatchState(plan)
            for plan in self.batches
        }
        state.batch_by_number = dict(sorted((fixed | new).items()))

    def describe(self) -> str:
        return f"planned anew: {len(self.batches)} batch{'' if len(self.batches) == 1 else 'es'} still to mix"


class PressClosed(Event):
    """The press, clamps or bag hold the part; of a casting day, the last pour is in and left to set."""

    event: Named[Literal["press-closed"]] = "press-closed"
    pressure_Pa: Pressure | None = Field(default=None, description="pressure on the part")

    def why_not(self, state: SessionState) -> str | None:
        return "the press is closed already" if state.closed_s is not None else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.closed_s, state.pressure_Pa = stamp.when_s, self.pressure_Pa
        for batch in state.batches:
            if batch.status == "on the part":
                state.put(replace(batch, pressed_s=stamp.when_s))

    def describe_in(self, state: SessionState) -> str:
        return "poured, and left to set" if state.is_casting else self.describe()


class UnderPress(Event):
    """What is done at a closed press, while the part is in it."""

    after_the_end = True

    def why_not(self, state: SessionState) -> str | None:
        if state.closed_s is None:
            return "the press is not closed yet"
        return "the part is out already" if state.demoulded_s is not None else None


class Tightened(UnderPress):
    """A round of tightening is done: all clamps or bolts, or a step of the pressure."""

    event: Named[Literal["tightened"]] = "tightened"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        add(state.tightened, stamp.when_s)


class Retightened(UnderPress):
    """Somebody went round again, or looked whether the pressure holds."""

    event: Named[Literal["retightened"]] = "retightened"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        add(state.retightened, stamp.when_s)


class Demoulded(UnderPress):
    """The part came out; a casting was planed."""

    event: Named[Literal["demoulded"]] = "demoulded"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.demoulded_s = stamp.when_s

    def describe_in(self, state: SessionState) -> str:
        return "planed" if state.is_casting else self.describe()
