"""Days with a known truth: other shops, boards and resins, one or two mishaps, logs with gaps, logs that are wrong.

A day is drawn from its seed. What really happened is worked out from the world, not from what was logged of it, so that
a review can be measured: whether it names the true cause first, and how often it is right when it says so.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from math import exp
from pathlib import Path

from simulate.shop import Day, Script, Timed, Truth, play

from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.chemistry.calibration import calibrate
from layup.chemistry.climate import DRY_MARGIN_K, dew_point_K
from layup.chemistry.looks import word_conversion
from layup.chemistry.mixing import split_mass
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Course, Stage, follow
from layup.errors import LayupError
from layup.files.workshop import demo_root
from layup.planning.budget import for_part
from layup.planning.planner import PlanResult
from layup.review.evidence import DEFECTS, Cause
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    Observation,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.clock import ManualClock
from layup.session.day_events import HumidityRead, LotRecorded, SessionEnded, TemperatureRead
from layup.session.state import Outcome, PartWeighed

MINUTE, HOUR = 60.0, 3600.0
BOARDS = ("touring-skis", "park-board")
_WIDER = {"20 mm": "180 mm", "84 mm": "250 mm", "116 mm": "285 mm", "122 mm": "290 mm", "110 mm": "275 mm",
          "92 mm": "250 mm", "98 mm": "255 mm", "96 mm": "260 mm", "40 mm": "190 mm"}  # fmt: skip
SLOW_S, SLOW_SHARE = 5.0 * MINUTE, 1.35
"""A step is slow by the truth where it took so much longer than planned, and by so large a share."""
HOT_MIX_K, HOT_CUP_K = 301.15, 318.15
"""Mix that warm at first contact came from warm cans; a cup that warm in the hand is hot."""
OFF_SHARE = 0.04
STARVED_SHARE, RICH_SHARE = 0.88, 1.12


def shop_of(root: Path) -> Path:
    """Make a workshop with the demo's resins, its skis, and one wide board of the same steps."""
    shutil.copytree(demo_root() / "resins", root / "resins")
    text = (demo_root() / "sessions" / "touring-skis" / "plan.toml").read_text(encoding="utf-8")
    head, rest = text.split("overhang", 1)
    for narrow, wide in _WIDER.items():
        head = head.replace(f'width = "{narrow}"', f'width = "{wide}"')
    board = head.replace("Touring skis 168", "Park board 168").replace("pieces = 2", "pieces = 1") + "overhang" + rest
    for name, words in zip(BOARDS, (text, board), strict=True):
        (root / "sessions" / name).mkdir(parents=True)
        (root / "sessions" / name / "plan.toml").write_text(words, encoding="utf-8")
    return root


@cache
def _desk(root: Path, day: Day) -> Planner:
    planner = Planner(root, plan=day.plan)
    settings = planner.read()
    wrong = planner.change(
        replace(settings, temperature_K=day.temperature_K, relative_humidity=day.humidity, people=day.people,
                resin_id=day.resin)
    )  # fmt: skip
    assert not wrong, wrong
    return planner


@dataclass(frozen=True)
class World:
    """A day as it really went."""

    script: Script
    day: Day
    film_limit: float
    parts_g: dict[int, tuple[float, float]]
    """What really went into each cup: resin, hardener."""
    start_K: dict[int, float]
    air: tuple[tuple[float, float], ...]
    """The shop, from each moment on [s, K]."""
    mould_K: float
    cure_K: float
    out_s: float
    humidity: float
    kept_g: float
    lost: frozenset[int] = frozenset()
    unread: frozenset[int] = frozenset()
    weighed: bool = False
    begun_s: dict[int, float] = field(default_factory=dict)

    def air_K(self, at_s: float) -> float:
        """Return how warm the shop really was."""
        return [kelvin for from_s, kelvin in self.air if from_s <= at_s][-1]

    def course(self, batch: int, *, poured_s: float | None = None) -> Course:
        """Return how a batch really aged."""
        contact_s = self.script.contact_s[batch]
        air = [(max(from_s - contact_s, 0.0), kelvin) for from_s, kelvin in self.air if from_s - contact_s > 0.0]
        ambient = ((0.0, self.air_K(contact_s)), *air)
        stages = [Stage(Vessel.cup(), 0.0, ambient)]
        if poured_s is not None:
            stages.append(Stage(Vessel.film(), poured_s - contact_s, self.mould_K))
        return follow(self.script.law, stages, mass_g=sum(self.parts_g[batch]), start_K=self.start_K[batch])

    def thick_s(self, batch: int) -> float:
        """Return when its cup really thickens."""
        return self.script.contact_s[batch] + self.course(batch).reaches_s(
            word_conversion(self.script.law, "thickening")
        )

    def closes_s(self, batch: int) -> float:
        """Return when it really stops being open on the part."""
        course = self.course(batch, poured_s=self.script.emptied_s[batch])
        return self.script.contact_s[batch] + course.reaches_s(self.film_limit)

    @property
    def used(self) -> list[int]:
        """Return the batches that went on the part."""
        return [number for number in self.parts_g if number not in self.lost]


def world_of(root: Path, day: Day, truth: Truth, rng: random.Random) -> World:
    """Play a day without any mishap."""
    figures = _desk(root, day).figures
    assert figures is not None
    script = play(figures, day, truth, rng)
    law = for_part(calibrate(figures.datasheet), figures.plan).kinetics
    parts = {batch.number: (float(batch.parts_g[0]), float(batch.parts_g[1])) for batch in figures.split.batches}
    grams = figures.budget
    return World(
        script, day, law.conversion_film, parts, dict.fromkeys(parts, day.temperature_K), ((0.0, day.temperature_K),),
        day.temperature_K, max(day.temperature_K, 293.15), script.closed_s + 60.0 * HOUR, day.humidity,
        sum(line.on_part_g + line.offcut_g for line in grams.lines), begun_s=_begun(script),
    )  # fmt: skip


def _begun(script: Script) -> dict[int, float]:
    """Return when each step was first worked on."""
    begun: dict[int, float] = {}
    for _, step, from_s, _ in script.lay:
        begun[step] = min(begun.get(step, from_s), from_s)
    return begun


def _put_off(world: World, after_s: float, by_s: float) -> World:
    """Return the day with all that comes after a moment put off."""
    script = world.script

    def late(at_s: float) -> float:
        return at_s + by_s if at_s > after_s else at_s

    lay = tuple((batch, step, late(a), late(b)) for batch, step, a, b in script.lay)
    moved = replace(
        script, lay=lay, closed_s=late(script.closed_s),
        contact_s={n: late(t) for n, t in script.contact_s.items()},
        emptied_s={n: late(t) for n, t in script.emptied_s.items()},
        done_s={n: late(t) for n, t in script.done_s.items()},
    )  # fmt: skip
    return replace(world, script=moved, out_s=world.out_s + by_s, begun_s=_begun(moved))


# -- mishaps ---------------------------------------------------------------------------------------------------------

Mishap = Callable[[World, random.Random], World]


def cup_forgotten(world: World, rng: random.Random) -> World:
    """A cup stands while they do something else, thickens, and is spread all the same."""
    batch = rng.choice(world.used)
    emptied_s = world.thick_s(batch) + rng.uniform(1.0, 8.0) * MINUTE
    by_s = emptied_s - world.script.emptied_s[batch]
    if by_s <= 0.0:
        return world
    if emptied_s > world.script.closed_s - 3.0 * MINUTE or rng.random() < 0.5:
        return _put_off(world, world.script.emptied_s[batch] - 1.0, by_s)
    return replace(world, script=replace(world.script, emptied_s=world.script.emptied_s | {batch: emptied_s}))


def fought_with_a_step(world: World, rng: random.Random) -> World:
    """One step takes much longer than it should."""
    step = rng.choice(sorted(world.script.done_s))
    took_s = world.script.done_s[step] - world.begun_s[step]
    return _put_off(world, world.script.done_s[step] - 1.0, max(0.9 * took_s, rng.uniform(11.0, 35.0) * MINUTE))


def one_bucket(world: World, rng: random.Random) -> World:
    """All that the day needs is mixed in the first cup."""
    resin_g = sum(parts[0] for parts in world.parts_g.values())
    hardener_g = sum(parts[1] for parts in world.parts_g.values())
    larger = rng.uniform(1.6, 2.2) if len(world.parts_g) == 1 else 1.0
    script = world.script
    first = {1: script.contact_s[1]}
    emptied = {1: max(script.emptied_s.values())}
    return replace(
        world, parts_g={1: (larger * resin_g, larger * hardener_g)},
        script=replace(script, contact_s=first, emptied_s=emptied),
    )  # fmt: skip


def cans_by_the_stove(world: World, rng: random.Random) -> World:
    """The cans stood beside the stove."""
    warm_K = world.day.temperature_K + rng.uniform(11.0, 17.0)
    return replace(world, start_K=dict.fromkeys(world.start_K, warm_K))


def wrong_ratio(world: World, rng: random.Random) -> World:
    """One batch gets too much or too little hardener."""
    batch = rng.choice(world.used)
    share = rng.choice([rng.uniform(0.72, 0.9), rng.uniform(1.1, 1.35)])
    resin_g, hardener_g = world.parts_g[batch]
    return replace(world, parts_g=world.parts_g | {batch: (resin_g, hardener_g * share)})


def by_eye(world: World, rng: random.Random) -> World:
    """One batch is mixed without looking at the scale, and comes out off."""
    batch = rng.choice(world.used)
    resin_g, hardener_g = world.parts_g[batch]
    return replace(
        world, unread=world.unread | {batch},
        parts_g=world.parts_g | {batch: (resin_g, hardener_g * exp(rng.gauss(0.0, 0.12)))},
    )  # fmt: skip


def shop_warms(world: World, rng: random.Random) -> World:
    """Sun and stove warm the shop beyond what the plan bears."""
    kelvin = max(world.script.figures.window.high_K or 0.0, world.day.temperature_K) + rng.uniform(2.5, 7.0)
    begin_s = world.script.contact_s[1] + rng.uniform(-5.0, 10.0) * MINUTE
    return replace(world, air=((0.0, world.day.temperature_K), (max(begin_s, 120.0), kelvin)), mould_K=kelvin - 1.0)


def mould_heated(world: World, rng: random.Random) -> World:
    """Somebody heats the mould before it is closed."""
    return replace(world, mould_K=rng.uniform(310.0, 318.0))


def mould_from_the_cold(world: World, rng: random.Random) -> World:
    """The mould comes in from the frost."""
    return replace(world, mould_K=rng.uniform(278.15, 284.15))


def press_stuck(world: World, rng: random.Random) -> World:
    """The press will not close until the first batch has stopped being open."""
    shut_s = world.closes_s(world.used[0]) + rng.uniform(5.0, 60.0) * MINUTE
    return _put_off(world, max(world.script.done_s.values()) + 1.0, max(shut_s - world.script.closed_s, 0.0))


def spilt(world: World, rng: random.Random) -> World:
    """A batch falls off the bench, and what is left is spread thinner."""
    if len(world.used) < 2:
        return world
    batch = rng.choice(world.used[1:])
    share = sum(world.parts_g[batch]) / sum(sum(parts) for parts in world.parts_g.values())
    return replace(world, lost=world.lost | {batch}, kept_g=world.kept_g * (1.0 - share))


def heavy_hand(world: World, rng: random.Random) -> World:
    """Far more resin stays in the part than planned, which the scale shows."""
    return replace(world, kept_g=world.kept_g * rng.uniform(1.3, 1.7), weighed=True)


def fog(world: World, rng: random.Random) -> World:
    """Wet air meets a mould below its dew point."""
    humidity = rng.uniform(0.85, 0.97)
    dew_K = dew_point_K(world.day.temperature_K, humidity)
    return replace(world, humidity=humidity, mould_K=dew_K - rng.uniform(0.2, 3.0))


def impatient(world: World, rng: random.Random) -> World:
    """The part comes out after a few cool hours."""
    return replace(
        world, cure_K=rng.uniform(288.15, 291.15), out_s=world.script.closed_s + rng.uniform(5.0, 9.0) * HOUR
    )


MISHAPS: dict[str, tuple[Cause, Mishap]] = {
    "a cup forgotten": ("past thickening", cup_forgotten),
    "a fight with a step": ("slow step", fought_with_a_step),
    "one bucket": ("cup too large", one_bucket),
    "cans by the stove": ("cup too hot", cans_by_the_stove),
    "a wrong ratio": ("off ratio", wrong_ratio),
    "mixed by eye": ("ratio unread", by_eye),
    "a shop that warms": ("shop outside the window", shop_warms),
    "a heated mould": ("mould outside the window", mould_heated),
    "a mould from the cold": ("mould outside the window", mould_from_the_cold),
    "a stuck press": ("closed late", press_stuck),
    "a batch spilt": ("starved", spilt),
    "a heavy hand": ("resin-rich", heavy_hand),
    "fog": ("dew or blush", fog),
    "out too soon": ("cure cut short", impatient),
}


# -- the truth -------------------------------------------------------------------------------------------------------


def true_causes(world: World) -> frozenset[Cause]:
    """Return every kind of trouble that really was there, whether or not the log shows it."""
    return frozenset(_true_causes(world))


def _true_causes(world: World) -> Iterator[Cause]:
    script, figures = world.script, world.script.figures
    if any(script.emptied_s[batch] > world.thick_s(batch) for batch in world.used):
        yield "past thickening"
    if any(script.closed_s > world.closes_s(batch) for batch in world.used):
        yield "closed late"
    planned = {number: (batch.mass_g) for number, batch in ((b.number, b) for b in figures.split.batches)}
    if any(sum(world.parts_g[batch]) > 1.25 * planned.get(batch, 0.0) for batch in world.parts_g):
        yield "cup too large"
    if any(_hottest_K(world, batch) > HOT_CUP_K or world.start_K[batch] > HOT_MIX_K for batch in world.used):
        yield "cup too hot"
    for batch in world.used:
        resin_g, hardener_g = world.parts_g[batch]
        wanted = split_mass(resin_g + hardener_g, _parts(figures))
        if abs(hardener_g / resin_g / (wanted[1] / wanted[0]) - 1.0) > OFF_SHARE:
            yield "off ratio"
    if world.unread & set(world.used):
        yield "ratio unread"
    air = [kelvin for _, kelvin in world.air]
    low_K, high_K = figures.window.low_K, figures.window.high_K
    if low_K is None or high_K is None or max(air) > high_K or min(air) < low_K:
        yield "shop outside the window"
    if low_K is None or high_K is None or not low_K <= world.mould_K <= high_K:
        yield "mould outside the window"
    yield from _true_of_steps_and_part(world)


def _true_of_steps_and_part(world: World) -> Iterator[Cause]:
    script, figures = world.script, world.script.figures
    plan = play(figures, world.day, Truth(step_noise=0.0), random.Random(0))
    for step, done_s in script.done_s.items():
        planned_s = plan.done_s[step] - _begun(plan)[step]
        took_s = done_s - max((t for s, t in script.done_s.items() if t < done_s), default=world.begun_s[step])
        if took_s > planned_s + SLOW_S and took_s > SLOW_SHARE * planned_s:
            yield "slow step"
    wanted_g = sum(line.on_part_g + line.offcut_g for line in figures.budget.lines)
    if world.kept_g < STARVED_SHARE * wanted_g:
        yield "starved"
    if world.kept_g > RICH_SHARE * wanted_g:
        yield "resin-rich"
    air_K = world.air_K(script.contact_s[1])
    if world.mould_K < dew_point_K(air_K, world.humidity) + DRY_MARGIN_K:
        yield "dew or blush"
    if world.out_s - script.closed_s < 20.0 * HOUR and world.cure_K < 293.15:
        yield "cure cut short"


def _hottest_K(world: World, batch: int) -> float:
    course, contact_s = world.course(batch), world.script.contact_s[batch]
    span_s = min(world.script.emptied_s[batch] - contact_s, course.end_s)
    return max(course.at(min(span_s * i / 12, course.end_s))[1] for i in range(13))


def _parts(figures: PlanResult) -> tuple[float, ...]:
    return figures.split.batches[0].parts_g


# -- the log ---------------------------------------------------------------------------------------------------------


def told(world: World, rng: random.Random) -> list[Timed]:
    """Log the day as a careful crew does."""
    script, events = world.script, []
    events += [(20.0, LotRecorded(component="resin", lot="R-7")), (30.0, LotRecorded(component="hardener", lot="H-3"))]
    events += [(40.0, TemperatureRead(place="mould", temperature_K=round(world.mould_K, 1)))]
    events += [(50.0, HumidityRead(relative_humidity=round(world.humidity, 2)))]
    for batch, (resin_g, hardener_g) in world.parts_g.items():
        contact_s = script.contact_s[batch]
        grams = {"batch": batch, "resin_g": float(round(resin_g)), "hardener_g": float(round(hardener_g))}
        if batch in world.unread:
            as_planned = script.figures.split.batches[batch - 1].parts_g
            grams |= {"resin_g": float(round(as_planned[0])), "hardener_g": float(round(as_planned[1]))}
        else:
            events += [
                (contact_s - 80.0, PourRead(**grams | {"hardener_g": 0.0})),
                (contact_s - 5.0, PourRead(**grams)),
            ]
        events.append((contact_s, BatchMixed(**grams, start_K=round(world.start_K[batch], 1))))
        events += _told_of_cup(world, batch, rng)
    events += [(done_s, StepDone(step=step)) for step, done_s in script.done_s.items()]
    events += [
        (at_s, TemperatureRead(place="air", temperature_K=round(world.air_K(at_s) + rng.uniform(-0.3, 0.3), 1)))
        for at_s in (600.0 * i for i in range(1, int(script.closed_s // 600.0) + 1))
    ]
    end_s = script.closed_s + 300.0
    events += [(script.closed_s, PressClosed(pressure_Pa=100_000.0)), (end_s, SessionEnded())]
    events += [
        (script.closed_s + share * (world.out_s - script.closed_s),
         TemperatureRead(place="mould", temperature_K=round(world.cure_K, 1)))
        for share in (0.3, 0.6, 0.95)
    ]  # fmt: skip
    events.append((world.out_s, Demoulded()))
    if world.weighed:
        events.append((world.out_s + 60.0, PartWeighed(part_g=round(2600.0 + world.kept_g), dry_g=2600.0)))
    return events


def _told_of_cup(world: World, batch: int, rng: random.Random) -> Iterator[Timed]:
    contact_s, emptied_s = world.script.contact_s[batch], world.script.emptied_s[batch]
    if batch in world.lost:
        yield contact_s + 90.0, BatchLost(batch=batch, why="spilt", laid_g=0.0)
        return
    course, span_s = world.course(batch), emptied_s - contact_s
    look_s = 0.55 * span_s
    kelvin = course.at(min(look_s, course.end_s))[1]
    yield contact_s + look_s, CupTemperatureRead(batch=batch, temperature_K=round(min(kelvin, 400.0), 1))
    thick_s = world.thick_s(batch) - contact_s
    if thick_s < span_s - 30.0:
        seen_s = min(thick_s * exp(rng.gauss(0.0, 0.07)), span_s - 10.0)
        yield contact_s + seen_s, Observation(batch=batch, word="thickening")
    elif look_s < 0.8 * thick_s:
        yield contact_s + look_s + 1.0, Observation(batch=batch, word="runny")
    yield emptied_s, BatchPouredOut(batch=batch)


Log = Callable[[list[Timed], World, random.Random], list[Timed]]


def careful(events: list[Timed], _world: World, _rng: random.Random) -> list[Timed]:
    """All is logged."""
    return events


def sparse(events: list[Timed], _world: World, rng: random.Random) -> list[Timed]:
    """Nobody looks into a cup or measures twice: only the deeds are logged."""
    seen = (Observation, CupTemperatureRead, HumidityRead)
    kept = [(t, e) for t, e in events if not isinstance(e, seen)]
    return [(t, e) for t, e in kept if not (isinstance(e, TemperatureRead) and t > 40.0 and rng.random() < 0.85)]


def silent(events: list[Timed], world: World, rng: random.Random) -> list[Timed]:
    """For half an hour nobody logs anything, and then all at once."""
    begin_s = world.script.contact_s[1] + rng.uniform(1.0, 12.0) * MINUTE
    end_s = min(begin_s + rng.uniform(25.0, 45.0) * MINUTE, world.script.closed_s - 60.0)

    def late(at_s: float) -> float:
        return end_s - 30.0 + 30.0 * (at_s - begin_s) / (end_s - begin_s)

    deeds = (StepDone, BatchMixed, BatchPouredOut, PourRead, BatchLost)
    inside = [(t, e) for t, e in events if begin_s < t < end_s]
    return [one for one in events if not begin_s < one[0] < end_s] + [
        (late(t), e) for t, e in inside if isinstance(e, deeds)
    ]


def late_keys(events: list[Timed], world: World, rng: random.Random) -> list[Timed]:
    """Each deed is logged some minutes after it was done."""
    slip, before_s = {}, 0.0
    for at_s, event in sorted(events, key=lambda one: one[0]):
        late_s = rng.expovariate(1.0 / 90.0) if isinstance(event, StepDone | BatchPouredOut | BatchMixed) else 0.0
        before_s = max(before_s, min(at_s + late_s, max(at_s, world.script.closed_s - 1.0)))
        slip[id(event)] = before_s
    return [(slip[id(event)], event) for _, event in events]


def forgot_closing(events: list[Timed], _world: World, rng: random.Random) -> list[Timed]:
    """The press was closed long before anybody logged it."""
    by_s = rng.uniform(10.0, 40.0) * MINUTE
    return [(t + by_s if isinstance(e, PressClosed | SessionEnded) else t, e) for t, e in events]


def mistyped(events: list[Timed], world: World, rng: random.Random) -> list[Timed]:
    """A temperature is typed wrongly and put right by the next reading; a step is ticked too soon and taken back."""
    at_s = world.script.contact_s[1] + rng.uniform(3.0, 9.0) * MINUTE
    wrong_K = world.day.temperature_K + rng.choice([-10.0, 10.0, 20.0])
    place = rng.choice(["air", "mould"])
    right_K = world.air_K(at_s) if place == "air" else world.mould_K
    return [
        *events, (at_s, TemperatureRead(place=place, temperature_K=wrong_K)),
        (at_s + 40.0, TemperatureRead(place=place, temperature_K=round(right_K, 1))),
    ]  # fmt: skip


LOGS: dict[str, tuple[float, Log]] = {
    "careful": (5.0, careful),
    "sparse": (1.5, sparse),
    "silent": (1.5, silent),
    "late keys": (1.5, late_keys),
    "closing forgotten": (1.0, forgot_closing),
    "mistyped": (1.0, mistyped),
}
"""How a day is logged, and how often."""


# -- a day -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Seeded:
    """A day as it was drawn: where it is kept, what was done to it, what was true, how it was logged."""

    folder: Path
    seed: int
    mishaps: tuple[str, ...]
    causes: tuple[Cause, ...]
    """What was done to it, in the order of the mishaps; a spilt batch where there is one only is no mishap."""
    true: frozenset[Cause]
    log: str


def drawn_day(root: Path, seed: int, *, count: int | None = None) -> Seeded:
    """Draw, play and write a day with so many mishaps, or with none, one or two as the seed has it."""
    rng = random.Random(f"seeded day {seed}")
    day = Day(
        temperature_K=288.65 + rng.choice([1.5, 3.5, 5.5, 7.5, 9.0]), humidity=rng.choice([0.4, 0.5, 0.6]),
        people=rng.choice([1, 2, 2, 3]), plan=rng.choice(BOARDS),
        start=datetime(2026, 3, 1 + seed % 28, 6 + seed % 5, seed % 60, seed // 28 % 60, tzinfo=UTC),
    )  # fmt: skip
    paces = {kind: exp(rng.gauss(0.0, 0.12)) for kind in ("fabric", "bond", "place", "closing")}
    truth = Truth(faster=exp(rng.gauss(0.0, 0.12)), step_noise=0.08, pace=paces)
    world = world_of(root, day, truth, rng)
    number = rng.choices([0, 1, 2], [0.15, 0.4, 0.45])[0] if count is None else count
    names = rng.sample(sorted(MISHAPS), number)
    done = []
    for name in names:
        kind, mishap = MISHAPS[name]
        worse = mishap(world, rng)
        if worse is not world:
            done.append((name, kind))
            world = worse
    log = rng.choices(sorted(LOGS), [LOGS[name][0] for name in sorted(LOGS)])[0]
    events = LOGS[log][1](told(world, rng), world, rng)
    there = true_causes(world)
    done = [(name, kind) for name, kind in done if kind in there]  # of two that undo each other neither is a cause
    causes = tuple(kind for _, kind in done)
    events.append((world.out_s + 120.0, Outcome(tags=_tags(causes, rng)))) if rng.random() < 0.8 else None
    true = there | ({"gap in the log"} if log == "silent" else set())
    return Seeded(_write(root, day, world, events), seed, tuple(n for n, _ in done), causes, true, log)


def _tags(causes: tuple[Cause, ...], rng: random.Random) -> tuple[str, ...]:
    """Return one defect that each cause usually leaves; a good part where there is none."""
    tags = [rng.choice([tag for tag, defect in DEFECTS.items() if kind in defect.comes_from]) for kind in causes]
    return tuple(dict.fromkeys(tags)) or ("good",)


def _write(root: Path, day: Day, world: World, events: list[Timed]) -> Path:
    """Write the log through the real journal; what the rules refuse is left out, as at the bench."""
    clock = ManualClock(day.start)
    press = begin(_desk(root, day), world.script.figures, clock)
    journal = press.source
    for at_s, event in sorted(events, key=lambda timed: timed[0]):
        clock.advance(max(0.0, at_s - journal.now_s()))
        try:
            journal.append(event)
        except LayupError:
            continue
    press.close()
    return press.folder
