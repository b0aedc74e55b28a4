"""What may go wrong on a simulated day: one cause each, with the defect that it leaves and nothing else changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from simulate.shop import Day, Mishap, Script, Timed, thickens_s

from layup.review.evidence import Cause
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    Observation,
    PourRead,
    Replanned,
    StepDone,
)
from layup.session.day_events import HumidityRead, SessionEnded, TemperatureRead
from layup.session.fields import BatchPlan
from layup.session.state import Event, Outcome, PartWeighed

WARM = Day(temperature_K=297.15)
MINUTE = 60.0


@dataclass(frozen=True)
class Seeded:
    """A day with one cause, and how its part turned out."""

    cause: Cause
    day: Day
    mishap: Mishap
    tags: tuple[str, ...]

    def __call__(self, script: Script) -> Script:
        """Return the script with the mishap and its outcome in it."""
        bad = self.mishap(script)
        return with_events(bad, (_end_s(bad) + 60.0, Outcome(tags=self.tags)))


def _end_s(script: Script) -> float:
    return max(at_s for at_s, _ in script.events)


def with_events(script: Script, *events: Timed) -> Script:
    """Return the script with more events."""
    return replace(script, events=(*script.events, *events))


def changed(script: Script, change: Callable[[float, Event], Iterable[Timed]]) -> Script:
    """Return the script with each event changed, or left out."""
    return replace(script, events=tuple(new for at_s, event in script.events for new in change(at_s, event)))


def later(script: Script, after_s: float, by_s: float, *, only: tuple[type[Event], ...] = (Event,)) -> Script:
    """Return the script with all that comes after a moment put off."""
    return changed(script, lambda t, e: [(t + by_s if t > after_s and isinstance(e, only) else t, e)])


def without_batch(script: Script, batch: int) -> Script:
    """Return the script with nothing of one batch in it."""
    return changed(script, lambda t, e: [] if getattr(e, "batch", None) == batch else [(t, e)])


def readings(begin_s: float, end_s: float, kelvin: float) -> list[Timed]:
    """Return a temperature of the shop every ten minutes."""
    count = int((end_s - begin_s) // 600.0)
    return [(begin_s + 600.0 * i, TemperatureRead(place="air", temperature_K=kelvin)) for i in range(1, count + 1)]


def cup_left_standing(script: Script) -> Script:
    """The rest of the first cup waits until it thickens, and is spread all the same."""
    thick_s = thickens_s(script, 1, WARM.temperature_K, 365.0)
    waits = changed(script, lambda t, e: [(thick_s if isinstance(e, BatchPouredOut) and e.batch == 1 else t, e)])
    return with_events(waits, (thick_s - 6 * MINUTE, Observation(batch=1, word="thickening")))


def all_in_one_cup(script: Script) -> Script:
    """Both batches are mixed in one bucket."""
    whole = without_batch(script, 2)

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, PourRead | BatchMixed) and event.batch == 1:
            big = event.model_copy(update={"resin_g": event.resin_g * 2.0, "hardener_g": event.hardener_g * 2.0})
            return [(at_s, big)]
        if isinstance(event, BatchPouredOut):
            return [(thickens_s(script, 1, WARM.temperature_K, 730.0) - 3 * MINUTE, event)]
        return [] if isinstance(event, CupTemperatureRead) else [(at_s, event)]

    return changed(whole, change)


def warm_cans(script: Script) -> Script:
    """The cans stood in a water bath."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, BatchMixed):
            return [(at_s, event.model_copy(update={"start_K": 308.15}))]
        if isinstance(event, CupTemperatureRead):
            return [(at_s, event.model_copy(update={"temperature_K": 321.15}))]
        return [(at_s, event)]

    return changed(script, change)


def much_hardener(script: Script) -> Script:
    """The second batch gets a fifth more hardener than it should."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, PourRead | BatchMixed) and event.batch == 2 and event.hardener_g:
            return [(at_s, event.model_copy(update={"hardener_g": round(event.hardener_g * 1.2)}))]
        return [(at_s, event)]

    return changed(script, change)


def a_little_more(script: Script) -> Script:
    """A last small batch is weighed on a scale that cannot tell its ratio."""
    when_s = script.closed_s - 8 * MINUTE
    small = BatchPlan(batch=3, mass_g=39.0, resin_g=30.0, hardener_g=9.0)
    return with_events(
        script,
        (when_s, Replanned(batches=(small,))),
        (when_s + MINUTE, BatchMixed(batch=3, resin_g=30.0, hardener_g=9.0, start_K=WARM.temperature_K)),
        (when_s + 4 * MINUTE, BatchPouredOut(batch=3)),
    )


def stove_left_on(script: Script) -> Script:
    """The shop warms by twelve degrees after the plan was made."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, TemperatureRead) and event.place == "air":
            return [(at_s, event.model_copy(update={"temperature_K": event.temperature_K + 12.0}))]
        return [(at_s, event)]

    return changed(script, change)


def heated_mould(script: Script) -> Script:
    """The mould is heated before the layup is closed."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, TemperatureRead) and event.place == "mould":
            return [(at_s, event.model_copy(update={"temperature_K": 314.15}))]
        return [(at_s, event)]

    return changed(script, change)


def frozen_mould(script: Script) -> Script:
    """The mould comes out of a cold store."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, TemperatureRead) and event.place == "mould":
            return [(at_s, event.model_copy(update={"temperature_K": 281.15}))]
        return [(at_s, event)]

    return changed(script, change)


def press_will_not_shut(script: Script) -> Script:
    """The closing takes three hours."""
    late = later(script, script.closed_s - 1.0, 180 * MINUTE)
    return with_events(late, *readings(script.closed_s, script.closed_s + 178 * MINUTE, WARM.temperature_K))


def batch_spilt(script: Script) -> Script:
    """The second batch falls off the bench, and what is left is spread thinner."""

    def change(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, BatchPouredOut) and event.batch == 2:
            return [(script.contact_s[2] + 2 * MINUTE, BatchLost(batch=2, why="spilt"))]
        late = isinstance(event, CupTemperatureRead) or event.event == "observation"
        return [] if late and getattr(event, "batch", 0) == 2 else [(at_s, event)]

    return changed(script, change)


def poured_on_thick(script: Script) -> Script:
    """The part is weighed after all: it kept 500 g more than it should."""
    grams = script.figures.budget
    kept_g = sum(line.on_part_g + line.offcut_g for line in grams.lines)
    weighed = PartWeighed(part_g=round(2600.0 + kept_g + 500.0), dry_g=2600.0)
    return with_events(script, (_end_s(script) + 24 * 3600.0, weighed))


def edges_will_not_stay(script: Script) -> Script:
    """The lower glass takes a quarter of an hour longer than planned."""
    return later(script, script.done_s[4] - 1.0, 15 * MINUTE)


def rain_outside(script: Script) -> Script:
    """The air is wet, and the mould colder than it."""
    damp = changed(
        script,
        lambda t, e: [
            (t, e.model_copy(update={"temperature_K": WARM.temperature_K - 4.0}))
            if isinstance(e, TemperatureRead) and e.place == "mould"
            else (t, e)
        ],
    )
    return with_events(damp, (300.0, HumidityRead(relative_humidity=0.92)))


def out_too_soon(script: Script) -> Script:
    """The part is taken out after one cool night."""
    out_s = script.closed_s + 9 * 3600.0
    return with_events(
        script, (script.closed_s + 3600.0, TemperatureRead(place="mould", temperature_K=289.15)), (out_s, Demoulded())
    )


def nobody_logs(script: Script) -> Script:
    """For three quarters of an hour nobody logs anything, and then all at once."""
    begin_s, end_s = script.contact_s[1] + 4 * MINUTE, script.contact_s[2] + 22 * MINUTE

    def change(at_s: float, event: Event) -> list[Timed]:
        if not begin_s < at_s < end_s or isinstance(event, SessionEnded):
            return [(at_s, event)]
        told = isinstance(event, StepDone | BatchMixed | BatchPouredOut)
        return [(end_s - 20.0 + (at_s - begin_s) / (end_s - begin_s) * 20.0, event)] if told else []

    return changed(script, change)


def nobody_reads(script: Script) -> Script:
    """The second batch is mixed by eye: its scale is never read."""
    read = (timed for timed in script.events if not (isinstance(timed[1], PourRead) and timed[1].batch == 2))
    return replace(script, events=tuple(read))


def nobody_stirs(script: Script) -> Script:
    """The second cup goes on the part half a minute after its hardener."""
    out_s = script.contact_s[2] + 30.0
    return changed(script, lambda t, e: [(out_s if isinstance(e, BatchPouredOut) and e.batch == 2 else t, e)])


MISHAPS: dict[str, Seeded] = {
    "a cup left standing": Seeded("past thickening", WARM, cup_left_standing, ("dry spot",)),
    "all in one cup": Seeded("cup too large", WARM, all_in_one_cup, ("scorched", "dry spot")),
    "warm cans": Seeded("cup too hot", WARM, warm_cans, ("void",)),
    "much hardener": Seeded("off ratio", WARM, much_hardener, ("tacky",)),
    "nobody reads the scale": Seeded("ratio unread", WARM, nobody_reads, ("tacky",)),
    "nobody stirs": Seeded("hardly stirred", WARM, nobody_stirs, ("tacky",)),
    "a little more": Seeded("scale too coarse", WARM, a_little_more, ("tacky",)),
    "the stove left on": Seeded("shop outside the window", WARM, stove_left_on, ("dry spot",)),
    "a heated mould": Seeded("mould outside the window", WARM, heated_mould, ("delamination",)),
    "a frozen mould": Seeded("mould outside the window", WARM, frozen_mould, ("dry spot",)),
    "a press that will not shut": Seeded("closed late", WARM, press_will_not_shut, ("delamination",)),
    "a batch spilt": Seeded("starved", WARM, batch_spilt, ("starved",)),
    "poured on thick": Seeded("resin-rich", WARM, poured_on_thick, ("resin-rich",)),
    "edges that will not stay": Seeded("slow step", WARM, edges_will_not_stay, ("dry spot", "void")),
    "rain outside": Seeded("dew or blush", WARM, rain_outside, ("delamination",)),
    "out too soon": Seeded("cure cut short", WARM, out_too_soon, ("twist",)),
    "nobody logs": Seeded("gap in the log", WARM, nobody_logs, ("void",)),
}
"""Every cause has a day of its own."""
