"""What happens around the batches: readings, lots, ticks, notes, people, steps changed, alarms seen, undo, the end."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal, cast

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from layup.chemistry.temperature import History
from layup.session.batch_events import CLOSED, still_to_do
from layup.session.fields import (
    KIND,
    AlarmRank,
    Component,
    Course,
    Digest,
    Fraction,
    Mass,
    Name,
    Named,
    Number,
    People,
    PhotoName,
    Place,
    Seconds,
    Seq,
    ShownTemperature,
    Stamp,
    StepNumber,
    StepPlan,
    Text,
)
from layup.session.lines import DIGITS
from layup.session.state import Event, SessionState, add
from layup.session.state_parts import (
    Carried,
    Forecast,
    LotSeen,
    NoteTaken,
    PhotoKept,
    Settled,
    Settling,
    StepState,
)
from layup.units import in_minutes, mass, temperature

NEXT_TIME = "next-time-"
"""What the keys of notes for next time begin with on the list "before you start"."""

# -- readings --------------------------------------------------------------------------------------------------------


def _add_reading(history: History, at_s: float, value: float) -> None:
    """Add a reading; of two at the same instant the later counts, so that times always increase."""
    if history and history[-1][0] == at_s:
        cast("list[tuple[float, float]]", history).pop()
    add(history, (at_s, value))


class TemperatureRead(Event):
    """A temperature of the shop, of the resin's cans or of the mould."""

    after_the_end = True
    event: Named[Literal["temperature-read"]] = "temperature-read"
    place: Place = Field(description="what was measured")
    temperature_K: ShownTemperature
    source: Literal["typed", "thermometer"] = Field(default="typed", description="typed, or a thermometer")

    @property
    def by_hand(self) -> bool:
        return self.source == "typed"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        _add_reading(state.history(self.place), stamp.when_s, self.temperature_K)

    def describe(self) -> str:
        return f"{self.place} {temperature(self.temperature_K, '.1f')}"


class ShopForecast(Event):
    """The day that the shop is expected to have: after its last reading it goes on by it, from that reading."""

    after_the_end = True
    event: Named[Literal["shop-forecast"]] = "shop-forecast"
    course: Course = Field(description="seconds from midnight and temperature in K, times increasing")
    of_day_s: Annotated[Seconds, Field(le=86_400)] = Field(description="time of day when it was told")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.forecast = Forecast(self.course, stamp.when_s - self.of_day_s)

    def describe(self) -> str:
        kelvins = [kelvin for _, kelvin in self.course]
        return f"forecast {temperature(min(kelvins), '.1f')} to {temperature(max(kelvins), '.1f')}"


class HumidityRead(Event):
    """The relative humidity of the shop's air, 0..1."""

    after_the_end = True
    event: Named[Literal["humidity-read"]] = "humidity-read"
    relative_humidity: Fraction = Field(description="of the shop's air")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        _add_reading(state.humidity, stamp.when_s, self.relative_humidity)

    def describe(self) -> str:
        return f"humidity {100 * self.relative_humidity:.0f} %"


class WoodMoistureRead(Event):
    """The moisture of the wood in the part: water over dry mass, 0..1."""

    event: Named[Literal["wood-moisture-read"]] = "wood-moisture-read"
    moisture_fraction: Fraction = Field(description="water over dry mass")

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.wood_moisture = self.moisture_fraction

    def describe(self) -> str:
        return f"wood at {100 * self.moisture_fraction:.0f} % moisture"


class LotRecorded(Event):
    """The lot number on a can."""

    after_the_end = True
    event: Named[Literal["lot-recorded"]] = "lot-recorded"
    component: Component = Field(description="resin or hardener")
    lot: Name = Field(description="as printed on the can")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        add(state.lots, LotSeen(stamp.when_s, self.component, self.lot))

    def describe(self) -> str:
        return f"{self.component} lot {self.lot}"


# -- people ----------------------------------------------------------------------------------------------------------


def _tick(state: SessionState, item: str, at_s: float, *, done: bool) -> None:
    """Tick an item of the list "before you start", behind those that are ticked, or take its tick away."""
    state.ticks.pop(item, None)
    if done:
        state.ticks[item] = at_s


class Checked(Event):
    """An item of the list "before you start" is ticked, or its tick is taken away."""

    event: Named[Literal["checked"]] = "checked"
    item: Name = Field(description="which item of the list")
    words: Name = Field(default="", description="the item as people read it")
    done: bool = Field(default=True, description="ticked, or the tick taken away")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        _tick(state, self.item, stamp.when_s, done=self.done)

    def describe(self) -> str:
        return f"{'ready' if self.done else 'not ready after all'}: {self.words or self.item}"


class Note(Event):
    """Free words."""

    after_the_end = True
    event: Named[Literal["note"]] = "note"
    text: Text = Field(description="the note")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        add(state.notes, NoteTaken(stamp.when_s, stamp.seq, self.text))

    def describe(self) -> str:
        return f"note: {self.text}"


class PhotoAdded(Event):
    """A picture that was copied into the session's folder; its file was safe there before this was written."""

    after_the_end = True
    event: Named[Literal["photo-added"]] = "photo-added"
    file: PhotoName = Field(description="its name in the session's photos folder")
    sha256: Digest = Field(description="proves the file")
    caption: Text = Field(default="", description="what it shows")

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        add(state.photos, self.kept)

    @property
    def kept(self) -> PhotoKept:
        """What the state keeps of it."""
        return PhotoKept(self.file, self.sha256, self.caption)

    def describe(self) -> str:
        return self.kept.words


class CarriedForward(Event):
    """A note for next time: it stands on the next plans until it is settled."""

    after_the_end = True
    event: Named[Literal["carried-forward"]] = "carried-forward"
    text: Annotated[Name, Field(min_length=1, description="the note")]
    step_name: Name = Field(default="", description="the step at which to do it; empty for before the day")
    resin: Name = Field(default="", description="id of the laminating resin")
    """Of the one that it is about; empty for any."""

    def why_not(self, state: SessionState) -> str | None:
        """Refuse what stands there already."""
        settled = {each.line: each.how for each in state.settled}
        stands = [each for each in state.carried if settled.get(each.line, "open") == "open"]
        same = any((each.text, each.step, each.resin) == (self.text, self.step_name, self.resin) for each in stands)
        return "it stands there for next time already" if same else None

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        record = state.record(stamp.seq)
        line = record.sum[DIGITS:] if record is not None else ""
        add(state.carried, Carried(stamp.at.isoformat(), stamp.seq, line, self.text, self.step_name, self.resin))

    def describe(self) -> str:
        return f"next time{f', at {self.step_name}' if self.step_name else ''}: {self.text}"


class CarrySettled(Event):
    """A note for next time, of this session or another, is done, dropped, or open again."""

    after_the_end = True
    event: Named[Literal["carry-settled"]] = "carry-settled"
    session: Name = Field(description="folder of the session that the note is of")
    carried_seq: Seq = Field(description="number of its line there")
    line: Annotated[str, StringConstraints(pattern="^[0-9a-f]{16}$")] = Field(
        description="the own digits of that line, by which it is known in a folder that was renamed or copied"
    )
    how: Settling = Field(description="what became of it")
    text: Name = Field(default="", description="the note")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Keep what became of it, and tick it on the list "before you start"."""
        add(state.settled, Settled(stamp.at.isoformat(), self.line, self.how))
        _tick(state, f"{NEXT_TIME}{self.line}", stamp.when_s, done=self.how != "open")

    def describe(self) -> str:
        return f"{'open again' if self.how == 'open' else self.how}, from {self.session}: {self.text}"


class AlarmAcknowledged(Event):
    """Somebody has seen an alarm: it is quiet from now on, unless its rank rises."""

    event: Named[Literal["alarm-acknowledged"]] = "alarm-acknowledged"
    alarm: Name = Field(description="which alarm")
    rank: AlarmRank = Field(description="how urgent")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.acknowledged[self.alarm] = stamp.when_s, self.rank

    def describe(self) -> str:
        return f"seen: {self.alarm}"


class PeopleChanged(Event):
    """How many people work from now on."""

    event: Named[Literal["people-changed"]] = "people-changed"
    people: People

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.people = self.people
        add(state.hands, (stamp.when_s, self.people))

    def describe(self) -> str:
        return f"{self.people} at the bench"


# -- steps -----------------------------------------------------------------------------------------------------------


class StepChange(Event):
    """A change to a step that is still to do."""

    step: StepNumber

    def why_not(self, state: SessionState) -> str | None:
        return CLOSED if state.closed_s is not None else still_to_do(state, self.step)

    def describe(self) -> str:
        return self.describe_in(SessionState())


def _name_in(state: SessionState, number: int) -> str:
    step = state.step(number)
    return step.plan.name if step else f"step {number}"


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

    def describe_in(self, state: SessionState) -> str:
        return f"left out: {_name_in(state, self.step)}" + (f", {self.why}" if self.why else "")


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

    def describe_in(self, state: SessionState) -> str:
        return f"{_name_in(state, self.step)} is laid together with {_name_in(state, self.into_step)}"


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


# -- undo, and the end -----------------------------------------------------------------------------------------------


class Undone(Event):
    """The event numbered `undone_seq` is taken back; undoing an undo brings its event back. Both stay in the file."""

    any_time = True
    event: Named[Literal["undone"]] = "undone"
    undone_seq: Seq = Field(description="number of the line taken back")
    told_s: Seconds | None = Field(
        default=None, description="when it really happened, where the next line says it again for then"
    )

    @property
    def by_hand(self) -> bool:
        """Say no: the redo key takes it back, not the undo key."""
        return False

    def describe(self) -> str:
        return f"undo of entry {self.undone_seq}"

    def describe_in(self, state: SessionState) -> str:
        """Say what it took back or, through an undo of its own, brought back."""
        back, of, before = True, cast(Event, self), state.seq + 1
        while isinstance(of, Undone):
            target = state.record(of.undone_seq)
            if target is None or target.seq >= before:
                return self.describe()
            back, of, before = not back, target, target.seq
        return f"{'brought back' if back else 'taken back'}: {of.describe_in(state)}"


class SessionEnded(Event):
    """The press day is over."""

    event: Named[Literal["session-ended"]] = "session-ended"

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.ended_s = stamp.when_s
