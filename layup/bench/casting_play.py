"""A casting day for play: the core is ready, the first cup was mixed a moment ago, and its clock runs."""

from __future__ import annotations

from collections.abc import Callable

from layup.bench.casting_day import core_of, pigments_of, tick_of, weighing_s
from layup.bench.casting_dues import COLOUR
from layup.bench.day import PressDay, Said
from layup.bench.opening import begin, resume
from layup.bench.planner import Planner
from layup.errors import InputError
from layup.session.clock import Clock, EarlierClock
from layup.session.day_events import Checked, Note, TemperatureRead, WoodMoistureRead

MIXED_AGO_S = 30.0
"""How long ago the first cup was mixed as the day is opened."""
WOOD = 0.08


def play_casting(planner: Planner, clock: Clock) -> PressDay:
    """Begin the casting day of the plan on the desk some minutes ago, and go on with it by the real clock."""
    desk = Planner(planner.workshop.root, plan=planner.plan_name, casting=True)
    desk.load()
    if desk.figures is None:
        raise InputError("casting day", "cannot be begun", todo=desk.problem)
    ready = [step.bench_s for step in desk.figures.plan.steps if step.kind == "place"]
    total_s = sum(ready) + desk.figures.plan.crew.mixing_s + MIXED_AGO_S
    then, at_s = EarlierClock(clock, total_s), 0.0
    day = begin(desk, desk.figures, then)
    day.log(Note(text="play: an invented day, some minutes in"), "")
    for due_s, deed in _deeds(day, ready, total_s):
        then.advance(due_s - at_s)
        deed()
        at_s = due_s
    then.advance(total_s - at_s)
    day.close()
    day = resume(day.folder, clock, workshop=planner.workshop)
    day.use(planner.lessons)
    day.greeting = "PLAY: an invented casting day; nothing of it is kept"
    return day


def _deeds(day: PressDay, ready: list[float], total_s: float) -> list[tuple[float, Callable[[], Said]]]:
    """Return what was done, and when: the core measured and made ready, the first cup weighed and mixed."""
    deeds: list[tuple[float, Callable[[], Said]]] = [
        (60.0, lambda: day.log(TemperatureRead(place="mould", temperature_K=core_of(day).wanted_K), "")),
        (90.0, lambda: day.log(WoodMoistureRead(moisture_fraction=WOOD), "")),
    ]
    done_s = 0.0
    for took_s in ready:
        done_s += took_s
        deeds.append((max(done_s, 100.0), day.step_done))
    mixed_s = total_s - MIXED_AGO_S
    deeds += [
        (mixed_s - weighing_s(day) / 2.0, lambda: _coloured(day)),
        (mixed_s - 20.0, lambda: day.read_scale(1, "")),
        (mixed_s, lambda: day.hardener_in(1)),
        (mixed_s + 20.0, lambda: day.read_scale(1, "")),
    ]
    return deeds


def _coloured(day: PressDay) -> Said:
    """Put the colours into the first cup."""
    said = Said("no colour", True)
    for at, (name, _) in enumerate(pigments_of(day, day.state.batches[0]), 1):
        said = day.log(Checked(item=tick_of(COLOUR, 1, at), words=name), "")
    return said
