"""What changes the work of a running day: a step left out, laid with the next, or added; mix left over in a cup."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from layup.session.batch_events import OnBatch, still_to_do
from layup.session.fields import (
    KIND,
    Fraction,
    Mass,
    Name,
    Named,
    Number,
    Seconds,
    Stamp,
    StepNumber,
    StepPlan,
    Text,
)
from layup.session.state import Event, SessionState
from layup.session.state_parts import BatchState, StepState
from layup.units import in_minutes, mass

CLOSED = "the press is closed - the work on this part is over"


class StepChange(Event):
    """A change to a step that is still to do."""

    step: StepNumber

    def why_not(self, state: SessionState) -> str | None:
        return CLOSED if state.closed_s is not None else still_to_do(state, self.step)

    def name_in(self, state: SessionState) -> str:
        step = state.step(self.step)
        return step.plan.name if step else f"step {self.step}"


class StepSkipped(StepChange):
    """A step is left out today; what was laid of it stays."""

    event: Named[Literal["step-skipped"]] = "step-skipped"
    why: Text = Field(default="", description="in a word")

    def why_not(self, state: SessionState) -> str | None:
        """Refuse it, too, where another step is laid together with it."""
        with_it = next((step.number for step in state.steps if step.merged_into == self.step), None)
        if (why := super().why_not(state)) is not None or with_it is None:
            return why
        return f"step {with_it} is laid together with step {self.step} - undo that first"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Take it out of what is still to do; the bench is free for the next where it stood there."""
        if state.step_now is state.step_by_number[self.step]:
            state.bench_free_s = stamp.when_s
        state.step_by_number[self.step] = replace(state.step_by_number[self.step], skipped_s=stamp.when_s)

    def describe(self) -> str:
        return f"left out: step {self.step}" + (f", {self.why}" if self.why else "")

    def describe_in(self, state: SessionState) -> str:
        return f"left out: {self.name_in(state)}" + (f", {self.why}" if self.why else "")


class StepMerged(StepChange):
    """A step is laid together with the next one that is still to do: both are done at once."""

    event: Named[Literal["step-merged"]] = "step-merged"
    into_step: Number = Field(description="number of the step that it is laid together with")

    def why_not(self, state: SessionState) -> str | None:
        after = next_left(state, self.step)
        if (why := super().why_not(state)) is not None:
            return why
        if after is None:
            return f"no step comes after step {self.step} - there is nothing to lay it with"
        if after.number != self.into_step:
            return f"after step {self.step} comes step {after.number}, not step {self.into_step}"
        return None

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        """Add its time to the next one's, and all that was to be laid with it."""
        step, into = state.step_by_number[self.step], state.step_by_number[self.into_step]
        for each in state.steps:
            if each.merged_into == self.step:
                state.step_by_number[each.number] = replace(each, merged_into=self.into_step)
        state.step_by_number[self.step] = replace(step, merged_into=self.into_step)
        state.step_by_number[self.into_step] = replace(into, with_it_s=into.with_it_s + step.planned_s)

    def describe(self) -> str:
        return f"step {self.step} is laid together with step {self.into_step}"

    def describe_in(self, state: SessionState) -> str:
        into = state.step(self.into_step)
        return f"{self.name_in(state)} is laid together with {into.plan.name if into else f'step {self.into_step}'}"


def next_left(state: SessionState, number: int) -> StepState | None:
    """Return the next step still to do after another."""
    numbers = list(state.step_by_number)
    place = numbers.index(number) + 1 if number in numbers else len(numbers)
    return next((step for step in state.steps[place:] if step.left), None)


class StepAdded(Event):
    """A step that no plan had: before another one that is still to do, or behind all."""

    event: Named[Literal["step-added"]] = "step-added"
    step: StepNumber
    name: Annotated[Name, Field(min_length=1, description="as the plan names it")]
    kind: Literal["bond", "place"] = Field(description=KIND)
    planned_s: Seconds = Field(description="time that the step was planned to take")
    mix_g: Mass = Field(default=0.0, description="mix that the step lays")
    before_step: Number | None = Field(default=None, description="number of the step that it is done before")

    @model_validator(mode="after")
    def _mix_goes_with_bond(self) -> StepAdded:
        if (self.kind == "bond") != (self.mix_g > 0.0):
            raise PydanticCustomError("mix_of_step", "a bond lays mix, and only a bond")
        return self

    def why_not(self, state: SessionState) -> str | None:
        """Refuse a number that is taken, and a place before what is done."""
        if state.closed_s is not None:
            return CLOSED
        if state.step(self.step) is not None:
            return f"there is a step {self.step} already"
        return None if self.before_step is None else still_to_do(state, self.before_step)

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        new = StepState(
            StepPlan(step=self.step, name=self.name, kind=self.kind, planned_s=self.planned_s), mix_g=self.mix_g
        )
        before = self.before_step
        steps = [step for each in state.steps for step in ((new, each) if each.number == before else (each,))]
        steps += [new] if before is None else []
        state.step_by_number = {step.number: step for step in steps}

    def describe(self) -> str:
        wet = f", {mass(self.mix_g)} of mix" if self.mix_g else ""
        return f"added: {self.name}, {in_minutes(self.planned_s)}{wet}"


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
