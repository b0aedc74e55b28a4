"""What saves most of a part that cannot be finished in time: one answer for the alarm, the top line and a replan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Literal

from layup.planning.clocks import CLOSING_SPARE_S
from layup.planning.crew import pace_of
from layup.planning.plan import BondStep, Crew, PlaceStep, Step

DONE = 0.99
"""A step of which this share is laid is done: shares are rounded."""
SCRAPE = "scrape the wet layers off while they are soft, and keep the core, base and edges for another day"


@dataclass(frozen=True, slots=True)
class Rescue:
    """What to do, as it follows a colon, and in two or three words for the top line."""

    kind: Literal["close", "close if wet", "core first", "scrape", "lay nothing"]
    words: str
    short: str
    urgent: bool = False
    """Whether the time has come at which all else stops."""


@dataclass(frozen=True, slots=True)
class OnTheBench:
    """How far a part is. `done` is the share (0..1) of each step laid, by step number."""

    done: Mapping[int, float]
    mix_in_hand: bool
    """Whether a cup stands ready to be laid."""
    open_s: tuple[float, float] | None
    """How long the first mix on the part stays open, low and high edge; None while no mix is on it."""


def saves_most(steps: Sequence[Step], crew: Crew, closing_s: float, bench: OnTheBench) -> Rescue:
    """Return what saves most where the whole stack cannot be closed in time.

    Notes
    -----
    A press holds together what is bonded on both sides: with the core on its wet lower glass, or with one whole ply
    where there is no core, closing saves all that is laid, and more can be laid on once it has set. Before that, a
    press would glue half a ply to the base; scraped off while soft, the dry parts are saved (common practice, no
    source). The core is brought in first if the work up to it, a batch mixed for it, and the closing fit the time left.
    """
    if bench.open_s is None:
        if bench.mix_in_hand:
            return Rescue("scrape", SCRAPE, "scrape it off")
        return Rescue("lay nothing", "lay nothing wet today: all that is dry keeps", "lay nothing wet")
    low_s, high_s = bench.open_s
    spare_s = low_s - closing_s - CLOSING_SPARE_S
    urgent = spare_s <= 0.0
    last = holds_with(steps)
    if bench.done.get(last, 0.0) >= DONE:
        if high_s <= 0.0:
            words = f"close only if it still wets; if not, {SCRAPE}"
            return Rescue("close if wet", words, "close only if it wets", urgent)
        if spare_s >= 60.0:
            words = f"lay on for {spare_s / 60.0:.0f} min at most, then close the press with what is on it"
            return Rescue("close", words, "close in time")
        return Rescue("close", "close the press now, with what is on it", "close now", urgent)
    need_s = _work_s(steps[: last + 1], crew, bench) + closing_s
    if need_s <= low_s:
        name = steps[last].name
        words = f"go on to '{name}' only, then close the press: leave the rest for another day"
        return Rescue("core first", words, f"only to {name}", urgent)
    return Rescue("scrape", SCRAPE, "scrape it off", urgent)


def holds_with(steps: Sequence[Step]) -> int:
    """Return the step with which a press has something to hold together."""
    core = [number for number, step in enumerate(steps) if _of_the_core(step)]
    if not core:
        return next((number for number, step in enumerate(steps) if step.kind == "fabric"), len(steps) - 1)
    run = list(takewhile(lambda number: _of_the_core(steps[number]), range(core[0], len(steps))))
    return next((number for number in run if isinstance(steps[number], PlaceStep)), run[-1])


def _of_the_core(step: Step) -> bool:
    """Say whether a step wets the core or puts it in its place."""
    if isinstance(step, BondStep):
        return "core" in f"{step.surface} {step.name}".casefold()
    return isinstance(step, PlaceStep) and "core" in step.name.casefold()


def _work_s(steps: Sequence[Step], crew: Crew, bench: OnTheBench) -> float:
    """Return how long all of these steps still take, with a batch mixed first where none stands ready."""
    pace = pace_of(crew)
    left = [
        (step, 1.0 - bench.done.get(number, 0.0))
        for number, step in enumerate(steps)
        if not (step.kind == "cast" and step.before_press_day)
    ]
    wet = any(share > 1.0 - DONE for step, share in left if not isinstance(step, PlaceStep))
    mixing_s = pace.mixing_s if wet and not bench.mix_in_hand else 0.0
    return mixing_s + sum(step.bench_s * share for step, share in left) / pace.full
