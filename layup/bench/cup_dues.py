"""What is due of the batches: each cup by the one rule of `planning.clocks`, and the next one to be mixed."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from math import inf

from layup.bench.acts import DUE, NAME_WIDTH, Act, Acts, Kind
from layup.bench.day import PressDay
from layup.bench.forecast import Outlook, last_logged_s
from layup.bench.scale_readings import RESIN_FIRST, ScaleReadings
from layup.chemistry.looks import PAST
from layup.planning.clocks import HOT_FOR_S, STAGES, LifeStage, hot_cup
from layup.planning.crew import pace_of
from layup.planning.mix_sheet import COMPONENTS
from layup.session.batch_events import BatchPouredOut
from layup.session.lifetimes import Lifetime
from layup.session.mass_balance import doubt
from layup.session.records import refusal
from layup.session.state_parts import BatchState, done_with
from layup.session.text import number_runs, shortened
from layup.units import mass, minutes, temperature

# How early or how late to say it. Common practice, no source.
SETTLE_S = 60.0
"""How long a reading may stand before what is wrong with it rings."""
LEAD_S = 120.0
"""How long before a batch has to be weighed it is somebody's next act."""
LOOK_AGAIN_S = 300.0
"""How long a look at a batch is good for, where its clock does not tell any more."""
SHORT = 0.1
"""From this share of its mix on a laid step is said to be short of it."""

# -- cups ------------------------------------------------------------------------------------------------------------


def cup_acts(day: PressDay, now_s: float, first: Collection[int] = ()) -> Acts:
    """Return what must be done about cups now, and what comes; `first` are those of `emptied_first`.

    With the press closed only what heats itself matters.
    """
    standing, coming = list[Act](), list[Act]()
    for batch in day.state.batches:
        life = day.alive.get(batch.number)
        if batch.status == "lost":
            standing += _lost_and_hot(batch, now_s)
        elif batch.status == "in the cup" and life is not None:
            act = _cup(day, batch, life, now_s)
            if day.state.closed_s is not None:
                standing += _left_over(act) if heats_on(day, batch) else ()
            elif act.is_due or (batch.number in first and not stirs_for_s(day, batch, now_s)):
                # whoever saw it before has not seen that it is emptied first
                since_s = max(act.since_s, day.state.bench_free_s) if batch.number in first else act.since_s
                standing.append(replace(act, since_s=since_s))
            else:
                coming.append(act)
    return standing, coming


def emptied_first(day: PressDay) -> tuple[int, ...]:
    """Return the cups that the work is done with, or that are empty before the step on the bench can go on.

    That is where all that a cup lays is done, and where another batch lays the rest of its last step.
    """
    state, step = day.state, day.state.step_now
    waiting = {one.number for one in state.steps if one.left}
    found = []
    for batch in day.in_cup():
        left = waiting.intersection(batch.steps) if batch.steps else waiting
        others = [one for one in state.batches if one.number > batch.number and one.lost_s is None]
        after = step is not None and any(step.number in one.steps and one.poured_out_s is None for one in others)
        if not left or (batch.steps and step is not None and left == {step.number} and after):
            found.append(batch.number)
    return tuple(found)


def _cup(day: PressDay, batch: BatchState, life: Lifetime, now_s: float) -> Act:
    """Return what to do about a cup, as urgent as its card says."""
    number, stage = batch.number, life.stage(now_s, day.closing_s)
    clock, hot = life.due(day.closing_s).stage(now_s), life.hot(now_s)
    act = Act(
        kind="empty cup",
        words=f"EMPTY CUP {number}",
        key=f"cup {number}",
        urgency=stage,
        why=_onto(day, batch),
        deadline_s=life.empty_by_s,
        since_s=stage_since_s(life, day.closing_s, clock),
        batch=number,
        alarm=stage != "fresh",
        danger=stage in DUE and (life.heat == "runaway" or hot is not None),
    )
    if life.read_K is not None and hot is not None:
        since_s = life.read_K[0] if STAGES.index(hot.stage) > STAGES.index(clock) else act.since_s
        act = replace(act, why=f"{temperature(life.read_K[1])}: it heats itself", since_s=since_s)
    elif stage in ("now", "may be over"):
        late = f"{minutes(now_s - life.empty_by_s)} late" if now_s - life.empty_by_s >= SETTLE_S else ""
        heats = "then it heats itself" if life.heat == "runaway" else ""
        act = replace(act, why=", ".join(filter(None, (late, heats))) or act.why)
    if stage == "past":
        why = f"don't use: {act.why if hot is not None else 'past its time'}"
        return replace(act, kind="spread outside", words=f"CUP {number} OUTSIDE NOW", why=why)
    return _thick(act, batch, life, now_s) if stage == "may be over" else act


def _onto(day: PressDay, batch: BatchState) -> str:
    """Return where a cup goes: onto the step on the bench, where it is laid from it, else what was laid without it."""
    step = day.state.step_now
    if step is not None and step.number in batch.steps:
        return f"onto {step.plan.name.lower()}"
    laid = laid_short(day, batch)
    return f"onto {laid}" if laid and not done_with(batch, day.state.steps) else ""


def laid_short(day: PressDay, batch: BatchState) -> str:
    """Return which steps were laid short of mix that a batch holds for them: one by its name; empty for none."""
    before_s = inf if batch.mixed_s is None else batch.mixed_s
    short = {number for number, share in batch.serves if share >= SHORT}
    found = [one for one in day.state.steps if one.done_s is not None and one.done_s < before_s and one.number in short]
    if len(found) > 1:
        return f"steps {number_runs([one.number for one in found])}"
    return shortened(found[0].plan.name, NAME_WIDTH).lower() if found else ""


def _thick(act: Act, batch: BatchState, life: Lifetime, now_s: float) -> Act:
    """Return what to do about a cup that may be thick: look at it; then empty it, or lay no more of it."""
    at_s, word = batch.observations[-1] if batch.observations else (0.0, "runny")
    if batch.observations and word in PAST:
        since_s = max(at_s, act.since_s)
        return replace(
            act,
            kind="spread outside",
            words=f"SPREAD CUP {act.batch} FLAT",
            why=f"{word}: lay no more",
            since_s=since_s,
        )
    if batch.observations and at_s >= life.over_s.low and now_s - at_s <= LOOK_AGAIN_S:
        return replace(act, since_s=max(at_s, act.since_s))
    return replace(act, kind="look", words=f"LOOK AT CUP {act.batch}", why="may be thick: lay none that drags")


def stage_since_s(life: Lifetime, closing_s: float, stage: LifeStage) -> float:
    """Return since when a batch is in its present stage."""
    due = life.due(closing_s)
    return (life.mixed_s, due.soon_s, due.by_s, due.low_s, due.high_s)[STAGES.index(stage)]


def heats_on(day: PressDay, batch: BatchState) -> bool:
    """Return whether a batch in its cup heats itself, or was measured hot: left over it is a danger."""
    life = day.alive.get(batch.number)
    if batch.status != "in the cup" or life is None:
        return False
    return life.heat != "warm" or life.hot(day.now_s()) is not None


def _left_over(act: Act) -> Iterator[Act]:
    """Mix that stands in its cup after the closing, and heats itself as it sets."""
    if act.urgency != "fresh":
        words = act.words if act.urgency == "past" else f"SPREAD CUP {act.batch} FLAT"
        yield replace(act, kind="spread outside", words=words, why="left over, and heats itself")


def _lost_and_hot(batch: BatchState, now_s: float) -> Iterator[Act]:
    """A lost cup that was measured hot since."""
    if not batch.temperatures or batch.poured_out_s is not None or batch.lost_s is None:
        return
    at_s, kelvin = batch.temperatures[-1]
    if batch.lost_s < at_s and now_s - at_s <= HOT_FOR_S and hot_cup(kelvin) is not None:
        words, why = f"CUP {batch.number} OUTSIDE NOW", f"{temperature(kelvin)}: it heats itself"
        key, number = f"cup {batch.number}", batch.number
        yield Act("spread outside", words, key, "past", "", why, since_s=at_s, batch=number, alarm=True, danger=True)


def look_acts(day: PressDay, now_s: float) -> Iterator[Act]:
    """Batches in their cups or on the part of which nobody can say how long they last."""
    for number, why in day.unknown.items():
        batch = day.state.batch(number)
        if batch is None or batch.status not in ("in the cup", "on the part"):
            continue
        looked_s = batch.observations[-1][0] if batch.observations else batch.mixed_s or 0.0
        if batch.observations and now_s - looked_s <= LOOK_AGAIN_S:
            continue
        words = f"LOOK AT BATCH {number}"
        said = f"how long it lasts is {why}"
        yield Act("look", words, f"life {number}", "soon", "", said, since_s=looked_s, batch=number, alarm=True)


# -- mixing ----------------------------------------------------------------------------------------------------------


def mixing_acts(day: PressDay, now_s: float, outlook: Outlook, *, idle: bool, held: bool) -> Acts:
    """Return what the one who mixes can do now, and what comes.

    `idle` is whether nobody has anything to lay, `held` whether something is to be settled before more is weighed.
    """
    standing = [act for batch in day.in_cup() for act in in_hand(day, batch, now_s) if not is_due(day, batch, now_s)]
    following = _next_batch(day)
    if following is None or (held and following.status == "to mix"):
        return standing, []
    act = _to_mix(day, following, now_s, outlook)
    alone = day.state.people < 2
    lead_s = 0.0 if alone or act.at_s is None else act.at_s - LEAD_S
    busy = any(each.kind in ("stir", "read scale", "add") for each in standing)
    ready = idle if alone else idle or now_s >= lead_s or act.kind == "start clock"
    if act.kind == "start clock" or (ready and not (busy and act.level < STAGES.index("soon"))):
        return [*standing, act], []
    return standing, [act]


def _next_batch(day: PressDay) -> BatchState | None:
    """Return the batch that is mixed next, where some of what it lays is left to do, or was laid short of mix."""
    left = {step.number for step in day.state.steps if step.left}
    waiting = (batch for batch in day.state.batches if batch.waits)
    return next((one for one in waiting if left.intersection(one.steps or left) or laid_short(day, one)), None)


def scale_act(day: PressDay, number: int) -> Act:
    """Return what to do next at the scale for a batch, whether it is due or not."""
    readings = day.readings(number)
    if readings.stage == "resin":
        return _at_scale("pour resin", "POUR RESIN", readings)
    if readings.stage == "hardener":
        if readings.clock_runs:
            return _at_scale("read scale", "READ THE SCALE", readings)
        return _at_scale("pour hardener", "POUR HARDENER", readings)
    if not readings.clock_runs:
        return replace(_at_scale("start clock", f"START CLOCK {number}", readings), number="", why="")
    judged = readings.verdict
    if judged is not None and readings.adding is not None:
        act = _at_scale("add", f"ADD {COMPONENTS[readings.adding].upper()}", readings)
        said = (readings.pour_words, f"hardener {100 * judged.off_ratio:+.0f} %", readings.room_words)
        return replace(act, why=", ".join(filter(None, said)))
    mixed_s = getattr(day.state.batch(number), "mixed_s", None) or 0.0
    return Act("stir", f"STIR BATCH {number}", f"mix {number}", deadline_s=mixed_s + readings.stir_s, batch=number)


def _at_scale(kind: Kind, words: str, readings: ScaleReadings) -> Act:
    number, why = mass(readings.next_g, "g"), ", ".join(filter(None, (readings.pour_words, readings.room_words)))
    return Act(kind, words, f"mix {readings.batch}", number=number, why=why, batch=readings.batch)


def is_due(day: PressDay, batch: BatchState, now_s: float) -> bool:
    """Return whether a cup must be dealt with now, whatever is still to be done at the scale."""
    life = day.alive.get(batch.number)
    return life is not None and life.stage(now_s, day.closing_s) in DUE


def stirs_for_s(day: PressDay, batch: BatchState, now_s: float) -> float:
    """Return how long a cup is still stirred; 0 once it is, and of one that must or cannot be emptied anyhow."""
    left_s = max((batch.mixed_s or 0.0) + day.stir_s - now_s, 0.0)
    refused = refusal(day.state, BatchPouredOut(batch=batch.number)) is not None
    return 0.0 if refused or is_due(day, batch, now_s) else left_s


def stirred_first(day: PressDay, now_s: float, first: Collection[int]) -> BatchState | None:
    """Return the cup whose stirring the bench waits for: the step's own, where none is stirred, or one of `first`."""
    own = [batch for batch in day.laid_from() if batch.number not in first]
    waits = [batch for batch in day.in_cup() if batch.number in first and stirs_for_s(day, batch, now_s)]
    if own and all(stirs_for_s(day, batch, now_s) for batch in own):
        waits += own
    return next(iter(waits), None)


def in_hand(day: PressDay, batch: BatchState, now_s: float) -> Iterator[Act]:
    """What is left to do to a batch whose clock runs: the reading, what puts it right, the stirring."""
    mixed_s = batch.mixed_s or 0.0
    stirring = now_s < mixed_s + day.stir_s
    if not stirring and doubt(batch, day.parts) != "off ratio":
        return
    act = scale_act(day, batch.number)
    if act.kind == "add":
        judged = day.readings(batch.number).verdict
        off = judged is not None and judged.word == "off ratio"
        since_s = max(batch.weighed_s or 0.0, mixed_s)
        if off:
            yield replace(act, urgency="now", since_s=since_s, alarm=now_s - since_s >= SETTLE_S)
        elif stirring:
            yield replace(act, since_s=since_s)
    elif act.kind == "read scale":
        if stirring:
            yield replace(act, since_s=mixed_s)
    elif act.kind == "stir" and stirring:
        half = now_s >= mixed_s + day.stir_s / 2
        words = f"SCRAPE AND STIR {batch.number}" if half else act.words
        yield replace(act, words=words, since_s=mixed_s)


def _to_mix(day: PressDay, batch: BatchState, now_s: float, outlook: Outlook) -> Act:
    """Return the weighing of a batch, or the hardener once its resin is weighed, with when that is due."""
    act, crew = scale_act(day, batch.number), pace_of(day.crew)
    alone, runs = day.state.people < 2, any(one.mixed_s is not None for one in day.state.batches)
    if act.kind == "start clock":
        since_s = batch.weighed_s or 0.0
        alarm = now_s - since_s >= SETTLE_S
        return replace(act, urgency="soon", why="hardener is in it", since_s=since_s, alarm=alarm)
    if act.kind == "pour resin":
        why = act.why.replace(RESIN_FIRST, f"also {laid}") if (laid := laid_short(day, batch)) else act.why
        act = replace(act, kind="weigh", words=f"WEIGH BATCH {batch.number}", why=why)
    wanted_s = outlook.wanted_s.get(batch.number)
    if wanted_s is None or not runs:
        return act
    takes_s = crew.mixing_s if act.kind == "weigh" else crew.stirring_s
    by_s = wanted_s - takes_s + (crew.mixing_s if alone else 0.0)  # alone the bench waits while a batch is mixed
    by_s = max(by_s, last_logged_s(day), day.state.bench_free_s)  # before that nobody could know of it
    late_s = by_s + LEAD_S if alone else by_s
    stage: LifeStage = "fresh" if now_s < by_s - LEAD_S else "soon" if now_s < late_s else "now"
    starves = now_s >= wanted_s + crew.mixing_s + (crew.mixing_s if alone else 0.0)
    spare_s = inf if (closed_s := day.press_by_at_best_s) is None else closed_s - outlook.ready_s
    if 0.0 <= (behind_s := now_s - by_s) < spare_s:  # the plan's time is no limit: the press is
        told = behind_s >= SETTLE_S and act.kind == "weigh"
        why = f"{act.why}, {minutes(behind_s)} behind" if told else act.why
        return replace(act, urgency="soon", why=why, at_s=now_s, since_s=by_s - LEAD_S, alarm=starves)
    since_s = by_s - LEAD_S if stage == "soon" else late_s
    return replace(act, urgency=stage, deadline_s=by_s, at_s=by_s, since_s=since_s, alarm=starves)
