"""What sessions teach of a crew and of a workshop: how long its steps take, what stays in cups, what is driven out.

A value of one session is the mean of all that it says of one thing, so that a long session counts as one. Spreads and
pulls are common practice without a source, and give way as sessions grow.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp, log

from layup.planning.bench import Pace, pace_of
from layup.planning.stack import Plan
from layup.records.as_built import Resin
from layup.records.shrink import Learnt, pulled, pulled_kinds, spread_of
from layup.records.state import SessionState
from layup.records.track import Stretch, real_steps

KINDS = ("fabric", "bond", "place", "cast", "closing")
CREW_LOG_SD, KIND_LOG_SD, DAY_LOG_SD = 0.30, 0.20, 0.20
"""How far a crew is from a plan, a kind of step from its crew, and one day from the next, as logarithms."""
LOSS_LOG_SD, LOSS_DAY_LOG_SD = 0.50, 0.30
SQUEEZE_SD, SQUEEZE_DAY_SD = 0.08, 0.05
SENSIBLE = 10.0
"""A step that took ten times its plan, or a tenth, was not logged when it was done."""
AT_ONCE_S = 10.0


@dataclass(frozen=True, slots=True)
class Worked:
    """What one session says of its crew: for each kind of step, the logarithm of real over planned time."""

    people: int
    log_ratios: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Lost:
    """What one session says of its workshop, beside its plan; None where it was not weighed."""

    log_ratio_per_batch: float | None
    squeeze_more: float | None
    """Share driven out, less the plan's."""


@dataclass(frozen=True, slots=True)
class CrewLesson:
    """How long each kind of step takes a crew of so many people, over what plans say, as logarithms."""

    people: int
    kinds: Mapping[str, Learnt]
    sessions: int

    def factor(self, kind: str) -> float:
        """Return by how much to multiply the planned time of a kind of step."""
        known = self.kinds.get(kind)
        return exp(known.mean) if known else 1.0


@dataclass(frozen=True, slots=True)
class LossLesson:
    """What a workshop loses, beside its plans: grams a batch as a logarithm of the ratio, and the share driven out."""

    per_batch: Learnt
    squeeze: Learnt


def worked_in(state: SessionState, plan: Plan) -> Worked | None:
    """Return what a session says of its crew's pace; None where no step was timed.

    The hands that mix a batch do not lay: that share of a step is not counted to it.
    """
    if state.start is None:
        return None
    pace = pace_of(plan.crew)
    mixings = [
        Stretch(batch.mixed_s - (pace.mixing_s - pace.stirring_s), batch.mixed_s + pace.stirring_s)
        for batch in state.batches
        if batch.mixed_s is not None
    ]
    first_s = min((mixing.end_s for mixing in mixings), default=None)
    real = real_steps(state, first_s)
    kinds: dict[str, list[tuple[float, float]]] = {}
    for step in state.steps:
        stretch = real.get(step.number)
        if stretch is not None and step.plan.planned_s > 0.0 and stretch.took_s > AT_ONCE_S:
            kinds.setdefault(step.plan.kind, []).append((step.plan.planned_s, _laid_s(stretch, mixings, pace)))
    closing_s = plan.closing.bench_s / pace.full
    if state.closed_s is not None and len(real) == len(state.steps) and real and closing_s > 0.0:
        kinds["closing"] = [(closing_s, state.closed_s - max(stretch.end_s for stretch in real.values()))]
    sums = {kind: (sum(p for p, _ in times), sum(r for _, r in times)) for kind, times in kinds.items()}
    ratios = {kind: real_s / planned_s for kind, (planned_s, real_s) in sums.items()}
    logs = {kind: log(ratio) for kind, ratio in ratios.items() if 1.0 / SENSIBLE < ratio < SENSIBLE}
    return Worked(state.start.people, logs) if logs else None


def _laid_s(stretch: Stretch, mixings: Iterable[Stretch], pace: Pace) -> float:
    """Return how long all hands would have taken for what was laid in a stretch."""
    mixed_s = sum(max(0.0, min(stretch.end_s, m.end_s) - max(stretch.begin_s, m.begin_s)) for m in mixings)
    return stretch.took_s - mixed_s * (1.0 - pace.beside / pace.full)


def lost_in(resin: Resin, batches: int, plan: Plan) -> Lost:
    """Return what a session's weighing says of its workshop's losses."""
    per_batch = None
    if resin.left is not None and resin.left.value > 0.0 and batches and plan.losses.per_batch_g > 0.0:
        per_batch = log(resin.left.value / batches / plan.losses.per_batch_g)
    share = resin.squeezed_share
    return Lost(per_batch, None if share is None else share.value - plan.losses.squeeze_out)


def crew_lessons(worked: Iterable[Worked]) -> dict[int, CrewLesson]:
    """Return what sessions teach of each size of crew: each kind of step pulled to its crew, the crew to its plans."""
    by_crew: dict[int, dict[str, list[float]]] = {}
    counts: dict[int, int] = {}
    for session in worked:
        kinds = by_crew.setdefault(session.people, {kind: [] for kind in KINDS})
        counts[session.people] = counts.get(session.people, 0) + 1
        for kind, value in session.log_ratios.items():
            kinds.setdefault(kind, []).append(value)
    day_sd = spread_of((values for kinds in by_crew.values() for values in kinds.values()), DAY_LOG_SD)
    return {
        people: CrewLesson(
            people,
            pulled_kinds(kinds, group_sd=CREW_LOG_SD, kind_sd=KIND_LOG_SD, spread=day_sd),
            counts[people],
        )
        for people, kinds in sorted(by_crew.items())
    }


def loss_lesson(losses: Iterable[Lost]) -> LossLesson:
    """Return what sessions teach of a workshop's losses, pulled to its plans."""
    known = list(losses)
    per_batch = [lost.log_ratio_per_batch for lost in known if lost.log_ratio_per_batch is not None]
    squeeze = [lost.squeeze_more for lost in known if lost.squeeze_more is not None]
    return LossLesson(
        pulled(0.0, LOSS_LOG_SD, per_batch, spread_of([per_batch], LOSS_DAY_LOG_SD)),
        pulled(0.0, SQUEEZE_SD, squeeze, spread_of([squeeze], SQUEEZE_DAY_SD)),
    )
