"""What happens around the batches: clocks, readings, lots, ticks, notes, people, alarms seen, undo, the end."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Literal, cast

from pydantic import Field, StringConstraints

from layup.chemistry.temperature import History
from layup.session.clock import Instant, Jump, told_instant
from layup.session.fields import (
    AlarmRank,
    At,
    Component,
    Course,
    Digest,
    Fraction,
    Name,
    Named,
    People,
    PhotoName,
    Place,
    RawTime,
    Seconds,
    Seq,
    ShownTemperature,
    Stamp,
    TakenTime,
    Text,
    ToldDay,
    WallTime,
)
from layup.session.lines import DIGITS
from layup.session.state import Event, SessionState, add
from layup.session.state_parts import (
    AlarmSeen,
    Carried,
    Forecast,
    LotSeen,
    NoteTaken,
    PhotoKept,
    Settled,
    Settling,
    Tick,
)
from layup.units import temperature, utc_stamp

NEXT_TIME = "next-time-"
"""What the keys of notes for next time begin with on the list "before you start"."""

# -- clocks ----------------------------------------------------------------------------------------------------------


class ClockEvent(Event):
    """What the clocks did, or what was said of them."""

    any_time = True
    lasting = True


class JournalOpened(ClockEvent):
    """A process took the journal to write in it; `monotonic_s` is the raw clock of the boot `boot_id`."""

    event: Named[Literal["journal-opened"]] = "journal-opened"
    boot_id: Name = Field(description="names the run of the machine that monotonic_s counts in")
    monotonic_s: RawTime
    process_id: int = Field(description="of the program that writes")
    program: Name = Field(description="its name and version")
    reason: Literal["created", "resumed"] = Field(description="a new session, or one gone on with")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Count on by this boot's clock."""
        state.boot_id, state.raw_offset_s = self.boot_id, self.monotonic_s - stamp.elapsed_s

    def describe(self) -> str:
        return "journal opened" if self.reason == "created" else "journal opened again"


class ClockJumped(ClockEvent):
    """Wall clock and monotonic clock disagree since the line before; `taken_s` is the time counted as passed."""

    event: Named[Literal["clock-jumped"]] = "clock-jumped"
    wall_s: WallTime
    monotonic_s: RawTime
    taken_s: TakenTime

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Keep the jump to be shown, and count on from it."""
        add(state.jumps, (stamp.elapsed_s, Jump(self.wall_s, self.monotonic_s, self.taken_s)))
        state.raw_offset_s += self.monotonic_s - self.taken_s

    def describe(self) -> str:
        return f"the computer's clock jumped; {self.taken_s:.0f} s counted"


class MachineRestarted(ClockEvent):
    """The machine was off since the line before, or is another one: how long only its wall clock knows, if it does.

    `wall_s` is counted from the last line whose time is sure; `taken_s` is the time counted as passed.
    """

    event: Named[Literal["machine-restarted"]] = "machine-restarted"
    wall_s: WallTime
    taken_s: TakenTime

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        """Keep the jump to be shown, and the last instant whose age was sure."""
        add(state.jumps, (stamp.elapsed_s, Jump(self.wall_s, 0.0, self.taken_s, restarted=True)))
        if state.sure is None:
            state.sure = Instant(stamp.elapsed_s - self.taken_s, stamp.at - timedelta(seconds=self.wall_s))
        state.told = None

    def describe(self) -> str:
        return f"the machine was off, or is another one; {self.taken_s:.0f} s counted"


class ClockTold(ClockEvent):
    """Somebody said what time it is after the machine was off; `taken_s` is counted on top for it."""

    event: Named[Literal["clock-told"]] = "clock-told"
    utc: At = Field(description="what time it is")
    taken_s: TakenTime

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.sure, state.told = None, told_instant(stamp.elapsed_s, self.utc, stamp.at)
        state.raw_offset_s -= self.taken_s

    def describe(self) -> str:
        return f"the time is {utc_stamp(self.utc)}; {self.taken_s:.0f} s counted"


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


class Checked(Event):
    """An item of the list "before you start" is ticked, or its tick is taken away."""

    event: Named[Literal["checked"]] = "checked"
    item: Name = Field(description="which item of the list")
    words: Name = Field(default="", description="the item as people read it")
    done: bool = Field(default=True, description="ticked, or the tick taken away")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.ticks.pop(self.item, None)
        if self.done:
            state.ticks[self.item] = Tick(stamp.when_s, self.item, self.words)

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
        item = f"{NEXT_TIME}{self.line}"
        state.ticks.pop(item, None)
        if self.how != "open":
            state.ticks[item] = Tick(stamp.when_s, item, self.text)

    def describe(self) -> str:
        return f"{'open again' if self.how == 'open' else self.how}, from {self.session}: {self.text}"


class Recalled(Event):
    """A day told from memory: the entries beside it stand at the likeliest times, and this says how wide they are."""

    lasting = True
    event: Named[Literal["recalled"]] = "recalled"
    told: ToldDay = Field(description="what is remembered")

    def why_not(self, state: SessionState) -> str | None:
        if state.start is None or state.start.kind != "recalled":
            return "this session was logged as it went"
        return "this day was told already" if state.recalled is not None else None

    def apply(self, state: SessionState, _stamp: Stamp) -> None:
        state.recalled = self.told

    def describe(self) -> str:
        return "told from memory" + (f": {self.told.when}" if self.told.when else "")


class AlarmAcknowledged(Event):
    """Somebody has seen an alarm: it is quiet from now on, unless its rank rises."""

    event: Named[Literal["alarm-acknowledged"]] = "alarm-acknowledged"
    alarm: Name = Field(description="which alarm")
    rank: AlarmRank = Field(description="how urgent")

    def apply(self, state: SessionState, stamp: Stamp) -> None:
        state.acknowledged[self.alarm] = AlarmSeen(stamp.when_s, self.alarm, self.rank)

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
