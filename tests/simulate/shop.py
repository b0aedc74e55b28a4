"""A simulated workshop with a known truth: press days as its resin, its crew and its mishaps make them.

The truth is a rate law, the crew's pace and what it loses. A day is planned as the program plans it, then goes as the
truth has it; its events are written through the real Journal with a clock moved by hand.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from math import exp
from pathlib import Path

from layup.bench.day import PressDay
from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.chemistry.calibration import calibrate
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.looks import word_conversion
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage, follow
from layup.files.workshop import demo_root
from layup.planning.planner import PlanResult
from layup.session.batch_events import (
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Observation,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.clock import Clock, ManualClock
from layup.session.day_events import LotRecorded, SessionEnded, TemperatureRead
from layup.session.state import Event

Timed = tuple[float, Event]
"""(seconds since the session started, what is logged then)."""
SETUP_S = 60.0
"""From the start of the session to the first weighing."""


@dataclass(frozen=True)
class Truth:
    """How a workshop really is. `kinetics` None: its resin does what its datasheet says."""

    kinetics: Kinetics | None = None
    faster: float = 1.0
    """How much faster the resin sets than its datasheet says."""
    pace: Mapping[str, float] = field(default_factory=dict)
    """How much longer than planned each kind of step takes."""
    step_noise: float = 0.05
    watch_log_sd: float = 0.05
    """How well the crew times a change by eye."""


@dataclass(frozen=True)
class Day:
    """What is set on the desk for one day."""

    temperature_K: float = 293.15
    humidity: float = 0.55
    people: int = 2
    cup_g: float = 400.0
    """Two large batches a day, in which a mishap shows; the demo's plan asks for three small ones."""
    resin: str = "slow-laminating"
    plan: str = "touring-skis"
    start: datetime = datetime(2026, 3, 7, 8, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Script:
    """A day as it went, before it is written: what a mishap may change."""

    figures: PlanResult
    law: Kinetics
    lay: tuple[tuple[int, int, float, float], ...]
    """(batch, step, from, to) of every stretch of work at the bench [s]."""
    contact_s: Mapping[int, float]
    emptied_s: Mapping[int, float]
    done_s: Mapping[int, float]
    closed_s: float
    events: tuple[Timed, ...]


def workshop(root: Path) -> Path:
    """Make a workshop with the demo's resins and plans, without its pressed sessions."""
    source = demo_root()
    shutil.copytree(source / "resins", root / "resins")
    for plan in source.glob("sessions/*/plan.toml"):
        if not (plan.parent / "journal.jsonl").exists():
            (root / "sessions" / plan.parent.name).mkdir(parents=True)
            shutil.copyfile(plan, root / "sessions" / plan.parent.name / "plan.toml")
    return root


def desk_for(root: Path, day: Day) -> Planner:
    """Return the desk of a workshop as `workshop` makes it, with the day's plan on it."""
    planner = Planner(root, plan=day.plan)
    planner.read()
    worked_out = _worked_out(replace(day, start=Day.start))
    planner.settings, planner.figures = worked_out.settings, worked_out.figures
    return planner


@cache
def _worked_out(day: Day) -> Planner:
    """Return the demo's own desk with a day's plan on it: no workshop of these changes a plan or a resin."""
    planner = Planner(demo_root(), plan=day.plan)
    wrong = planner.change(
        replace(
            planner.read(),
            temperature_K=day.temperature_K,
            relative_humidity=day.humidity,
            people=day.people,
            cup_g=day.cup_g,
            resin_id=day.resin,
        )
    )
    assert not wrong, wrong
    return planner


def begun(root: Path, clock: Clock, day: Day = Day()) -> PressDay:
    """Begin a press day with the plan as it stands."""
    planner = desk_for(root, day)
    assert planner.figures is not None
    return begin(planner, planner.figures, clock)


def mix_first_batch(press: PressDay) -> None:
    """Weigh the first batch as planned and put the hardener in."""
    plan = press.state.batches[0].plan
    grams = {"batch": plan.batch, "resin_g": float(round(plan.resin_g)), "hardener_g": float(round(plan.hardener_g))}
    for event in (
        PourRead(**grams | {"hardener_g": 0.0}),
        BatchMixed(**grams, start_K=Day.temperature_K),
        PourRead(**grams),
    ):
        assert press.log(event, "").done, event


def play(figures: PlanResult, day: Day, truth: Truth, rng: random.Random) -> Script:
    """Play a day: the plan's own order, each stretch as long as the truth makes it."""
    sheet = figures.datasheet
    base = truth.kinetics or calibrate(sheet).kinetics
    law = replace(base, k_ref_per_s=base.k_ref_per_s * truth.faster)
    pace, plan = figures.job.pace, figures.plan
    lay: list[tuple[int, int, float, float]] = []
    contact: dict[int, float] = {}
    emptied: dict[int, float] = {}
    now_s = SETUP_S + figures.split.batches[0].lay_s
    begin_at = 0
    slowness = {
        n: truth.pace.get(step.kind, 1.0) * exp(rng.gauss(0.0, truth.step_noise)) for n, step in enumerate(plan.steps)
    }
    for batch in figures.split.batches:
        portions = figures.job.work.portions[begin_at : batch.end]
        last = batch.end == len(figures.job.work.portions)
        whole_s = sum(portion.work_s + portion.after_s for portion in portions)
        contact[batch.number] = now_s - pace.stirring_s
        done_s = 0.0
        for portion in portions:
            for step, work_s in [(portion.step, portion.work_s), *((dry.step, dry.work_s) for dry in portion.dry)]:
                took_s = pace.elapsed_s(done_s + work_s, whole_s, last=last) - pace.elapsed_s(
                    done_s, whole_s, last=last
                )
                done_s += work_s
                lay.append((batch.number, step + 1, now_s, now_s + took_s * slowness[step]))
                now_s = lay[-1][3]
                if step == portion.step:
                    emptied[batch.number] = now_s
        now_s += (
            0.0 if last else max(0.0, pace.span_s(whole_s, last=False) - pace.elapsed_s(whole_s, whole_s, last=False))
        )
        begin_at = batch.end
    done = {step: end_s for _, step, _, end_s in lay}
    closed_s = now_s + truth.pace.get("closing", 1.0) * figures.job.closing_s / pace.full
    script = Script(figures, law, tuple(lay), contact, emptied, done, closed_s, ())
    return replace(script, events=tuple(_events(script, day, truth, rng)))


def _events(script: Script, day: Day, truth: Truth, rng: random.Random) -> list[Timed]:
    """Log a day as a careful crew does."""
    events: list[Timed] = [
        (20.0, LotRecorded(component="resin", lot="R-114")),
        (30.0, LotRecorded(component="hardener", lot="H-52")),
    ]
    events.append((40.0, TemperatureRead(place="mould", temperature_K=day.temperature_K)))
    for batch in script.figures.split.batches:
        number, contact_s = batch.number, script.contact_s[batch.number]
        resin_g, hardener_g = (float(round(part_g + rng.uniform(-0.4, 0.4))) for part_g in batch.parts_g)
        events += [
            (contact_s - 90.0, PourRead(batch=number, resin_g=resin_g, hardener_g=0.0)),
            (contact_s - 5.0, PourRead(batch=number, resin_g=resin_g, hardener_g=hardener_g)),
            (contact_s, BatchMixed(batch=number, resin_g=resin_g, hardener_g=hardener_g, start_K=day.temperature_K)),
            (script.emptied_s[number], BatchPouredOut(batch=number)),
        ]
        look_s = contact_s + 0.6 * (script.emptied_s[number] - contact_s)
        thick_s = thickens_s(script, number, day.temperature_K, resin_g + hardener_g)
        events.append(
            (
                look_s,
                CupTemperatureRead(
                    batch=number, temperature_K=cup_K(script, number, look_s, day.temperature_K, resin_g + hardener_g)
                ),
            )
        )
        if thick_s < script.emptied_s[number]:
            seen_s = contact_s + (thick_s - contact_s) * exp(rng.gauss(0.0, truth.watch_log_sd))
            events.append((seen_s, Observation(batch=number, word="thickening")))
        elif look_s < thick_s:
            events.append((look_s + 1.0, Observation(batch=number, word="runny")))
    events += [(done_s, StepDone(step=step)) for step, done_s in script.done_s.items()]
    reading_s = 600.0
    while reading_s < script.closed_s:
        events.append(
            (reading_s, TemperatureRead(place="air", temperature_K=day.temperature_K + rng.uniform(-0.2, 0.2)))
        )
        reading_s += 600.0
    return [*events, (script.closed_s, PressClosed(pressure_Pa=250_000.0)), (script.closed_s + 300.0, SessionEnded())]


def _course(script: Script, kelvin: float, mass_g: float):
    return follow(script.law, [Stage(Vessel.cup(), 0.0, kelvin)], mass_g=mass_g, start_K=kelvin)


def thickens_s(script: Script, batch: int, kelvin: float, mass_g: float) -> float:
    """Return when a full cup really thickens."""
    return script.contact_s[batch] + _course(script, kelvin, mass_g).reaches_s(
        word_conversion(script.law, "thickening")
    )


def cup_K(script: Script, batch: int, time_s: float, kelvin: float, mass_g: float) -> float:
    """Return how warm a full cup really is."""
    course = _course(script, kelvin, mass_g)
    return course.at(min(time_s - script.contact_s[batch], course.end_s))[1]


def write(root: Path, day: Day, script: Script) -> Path:
    """Write a script as a session of the workshop; events outside the rules fail."""
    clock = ManualClock(day.start)
    press = begin(desk_for(root, day), script.figures, clock)
    journal = press.source
    for at_s, event in sorted(script.events, key=lambda timed: timed[0]):
        clock.advance(max(0.0, at_s - journal.now_s()))
        journal.append(event)
    assert not journal.state.misfits, journal.state.misfits
    press.close()
    return press.folder


Mishap = Callable[[Script], Script]


def press_day(
    root: Path, *, day: Day = Day(), truth: Truth = Truth(), mishap: Mishap | None = None, seed: int = 1
) -> Path:
    """Plan, play and write one day; return its folder."""
    rng = random.Random(seed)
    figures = desk_for(root, day).figures
    assert figures is not None
    script = play(figures, day, truth, rng)
    return write(root, day, mishap(script) if mishap else script)


def days_after(day: Day, days: int) -> Day:
    """Return the same setting some days later."""
    return replace(day, start=day.start + timedelta(days=days))
