"""A casting day: what it knows beside its journal; what is due of core, pours (weighed to scraped), and the wait.

The cups go by the one rule of `planning.clocks`, as on any day; the next pour has a window of its own.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from math import isfinite

from layup.bench.acts import NAME_WIDTH, Act, Acts, Kind, is_seen, step_act
from layup.bench.cup_dues import cup_acts, in_hand, look_acts, scale_act
from layup.bench.day import PressDay
from layup.bench.forecast import last_logged_s
from layup.chemistry.datasheet import least_warmth
from layup.errors import LayupError
from layup.planning.castings import SEAL, TAPE, WARM, colour_weights, weighs_pigment
from layup.planning.clocks import LifeStage
from layup.planning.crew import pace_of
from layup.planning.plan import CastingWork, CastStep
from layup.planning.pours import POURED_g_s, hardens, place_words
from layup.session.mass_balance import ALL_OF_IT
from layup.session.state_parts import BatchState, StepState, last_read
from layup.session.text import shortened
from layup.units import mass, temperature, time_left

WARM_ENOUGH_K = 0.5
"""How much cooler than wanted a core counts as warm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Joining:
    """From when and until when the next pour may go on the last one, on the session's clock."""

    opens_s: float
    closes_s: float
    last: int
    """The batch that it goes on."""
    stated: bool


def work_of_core(day: PressDay) -> CastingWork:
    """Return how the core is made ready: as planned, else as is usual."""
    try:
        return day.plan.casting
    except LayupError:
        return CastingWork()


def core_wanted_K(day: PressDay) -> float:
    """Return how warm the core is to be: never below the resin's least warmth."""
    least_K = 0.0
    with suppress(LayupError):
        least_K = least_warmth(day.sheet)[0]
    return max(work_of_core(day).core_K or 0.0, least_K)


def sealer_dry_s(day: PressDay) -> float | None:
    """Return when the sealer is dry, once the channel is sealed and where that is stated."""
    wait_s = work_of_core(day).seal_wait_s
    sealed = next((step for step in day.state.steps if step.plan.name == SEAL and step.done_s is not None), None)
    return None if wait_s is None or sealed is None or sealed.done_s is None else sealed.done_s + wait_s


def cast_step(day: PressDay, number: int) -> CastStep | None:
    """Return a casting step as planned; None where the plan cannot be read, or the step is another."""
    try:
        step = day.plan.steps[number - 1]
    except (LayupError, IndexError):
        return None
    return step if isinstance(step, CastStep) else None


def joining(day: PressDay, number: int) -> Joining | None:
    """Return when the next pour of a step may go on its last; None before its first, and where nobody can say."""
    last, step = _last_out(day, number), cast_step(day, number)
    if last is None or step is None or last.poured_out_s is None:
        return None
    if step.join_s is not None:
        begin_s, end_s = step.join_s
        return Joining(last.poured_out_s + begin_s, last.poured_out_s + end_s, last.number, stated=True)
    life = day.alive.get(last.number)
    if life is None:
        return None
    if step.join == "soft":
        return Joining(last.poured_out_s, life.gel_s.low, last.number, stated=False)
    core_K = last_read(day.state.mould) or day.air_K
    hard_s = life.mixed_s + hardens(day.sheet, core_K).out_s.low
    return Joining(life.gel_s.high, max(hard_s, life.gel_s.high), last.number, stated=False)


def _last_out(day: PressDay, number: int) -> BatchState | None:
    """Return the last cup that was poured of a step."""
    out = [one for one in day.state.batches if one.status == "on the part" and number in one.steps]
    return max(out, key=lambda one: one.poured_out_s or 0.0, default=None)


def begins_at(day: PressDay, batch: BatchState, number: int) -> float:
    """Return how much of a step is filled before a batch, 0 to 1."""
    before = (one for one in day.state.batches if one.number < batch.number and number in one.steps)
    return sum(fills(day, one, number) for one in before)


def fills(day: PressDay, batch: BatchState, number: int) -> float:
    """Return how much of a step a batch fills: all that it is for, or what was poured of it before it was lost."""
    return batch.shares_of(number) if batch.lost_s is None else day.balance.of_batch(batch.number).laid_share


def pigments_of(day: PressDay, batch: BatchState) -> tuple[tuple[str, float], ...]:
    """Return the pigments that a batch takes, by name, in grams."""
    found: list[tuple[str, float]] = []
    for number, share in batch.planned_for:
        step = cast_step(day, number)
        if step is not None and step.loading is not None and step.pigments:
            weights = colour_weights(len(step.pigments), begins_at(day, batch, number), share, fade=step.fade)
            grams = [step.loading * batch.plan.mass_g * weight for weight in weights]
            found += [(name, each_g) for name, each_g in zip(step.pigments, grams, strict=True) if each_g > 0.0]
    return tuple(found)


def place_of(day: PressDay, batch: BatchState) -> str:
    """Return where a batch goes; empty where there is one place alone, or nobody can say."""
    places = [
        f"into {words}"
        for number, share in batch.planned_for
        if (step := cast_step(day, number)) is not None
        and (words := place_words(step, day.plan.pieces, begins_at(day, batch, number), share))
    ]
    return places[0] if places else ""


def tick_of(what: str, number: int, at: int = 0) -> str:
    """Return the name under which a pour's small acts are ticked: its colours, and its cup scraped out."""
    return f"{what} {number} {at}" if at else f"{what} {number}"


def weighing_s(day: PressDay) -> float:
    """Return how long the weighing of a pour takes."""
    pace = pace_of(day.crew)
    return pace.mixing_s - pace.stirring_s


def missing(day: PressDay, step: StepState) -> float:
    """Return how much of a casting step is nowhere: neither poured, nor in a cup, nor planned; 0 for nothing."""
    account = day.balance.of_step(step.number)
    lacks = 1.0 - account.laid_share - account.left_share
    return lacks if lacks > 1.0 - ALL_OF_IT else 0.0


def goes_off(day: PressDay, batch: BatchState) -> float:
    """Return for how long too long a pour would be in its cup, if it is mixed as planned; 0 for not."""
    try:
        fresh_s = day.fresh_cup_s(batch.plan.mass_g, day.mix_K)
    except LayupError:
        return 0.0
    return max(day.stir_s + batch.plan.mass_g / POURED_g_s - fresh_s, 0.0)


SOON_S = 60.0
"""How long before the last takes no more pour the next is hurried (our own judgement, no source)."""
LEAST_OVER_S = 10.0
"""Less too long in a cup than this is within what a pour is known by."""
SCRAPE, COLOUR = "scrape", "colour"


def casting_acts(day: PressDay, now_s: float) -> Acts:
    """Return what can be done at a moment of a casting day before all is left to set, and what comes."""
    standing, coming = list(look_acts(day, now_s)), list[Act]()
    step = day.state.step_now
    if step is None:
        standing.append(Act("close", "LEAVE IT LEVEL", "part", why="until it is firm"))
    elif step.plan.kind == "cast":
        now, later = _pours(day, now_s, step)
        standing += now
        coming += later
    else:
        standing.append(_ready(day, now_s, step))
        following = day.step_next
        if following is not None:
            coming.append(step_act(following, day.planned_s(step) + day.state.bench_free_s))
    return standing, coming


# -- the core --------------------------------------------------------------------------------------------------------


def _ready(day: PressDay, now_s: float, step: StepState) -> Act:
    """The core: measured until it is warm and dry, sealed, taped once the sealer is dry."""
    act = _core_act(day, step) if step.plan.name == WARM else None
    if act is not None:
        return act
    dry_s = sealer_dry_s(day)
    if step.plan.name == TAPE and dry_s is not None and now_s < dry_s:
        left = time_left(dry_s - now_s)
        return Act("wait", "LET THE SEALER DRY", "sealer", number=left, deadline_s=dry_s, why="then tape and level")
    return step_act(step, why="once the sealer is dry" if step.plan.name == TAPE and dry_s is None else "")


def _core_act(day: PressDay, step: StepState) -> Act | None:
    """What is to be measured of the core, or put right; None once it was measured warm and dry enough."""
    is_K, wanted_K = last_read(day.state.mould), core_wanted_K(day)
    moisture, wanted = day.state.wood_moisture, work_of_core(day).core_moisture
    kind: Kind = "moisture"
    number = f"{100 * wanted:.0f} %"
    if is_K is None or is_K < wanted_K - WARM_ENOUGH_K:
        kind, number = "core", temperature(wanted_K)
        words = "MEASURE THE CORE" if is_K is None else "WARM THE CORE"
        why = "" if is_K is None else f"core {temperature(is_K, '.1f')}: measure again once warm"
    elif moisture is None:
        words, why = "MEASURE ITS MOISTURE", "or less; water foams it"
    elif moisture > wanted:
        words, why = "DRY THE CORE", f"{100 * moisture:.0f} % water: foams; measure again once dry"
    else:
        return None
    return Act(kind, words, f"step {step.number}", number=number, why=why, step=step.number)


# -- the pours -------------------------------------------------------------------------------------------------------


def _pours(day: PressDay, now_s: float, step: StepState) -> Acts:
    """The cups in hand, then what is scraped, then the next pour; the bubbles, once all are in."""
    standing, coming = _cups(day, now_s)
    cups = day.in_cup()
    to_pour = next((one for one in day.state.batches if one.waits and step.number in one.steps), None)
    lacks = missing(day, step)
    late_s = 0.0 if to_pour is None else goes_off(day, to_pour)
    if lacks or late_s >= LEAST_OVER_S:
        why = "a pour is missing" if lacks else f"{time_left(late_s)} too long in its cup"
        urgency: LifeStage = "soon" if cups else "now"
        act = Act("replan", "REPLAN THE POURS", "replan", urgency, why=why, since_s=last_logged_s(day), alarm=True)
        standing.append(act)
        to_pour = to_pour if cups or is_seen(act, day.state) else None
    out = _last_out(day, step.number)
    scraped = out is None or tick_of(SCRAPE, out.number) in day.state.ticks
    if out is not None and not scraped and not cups:
        standing.append(Act("scrape", f"SCRAPE CUP {out.number}", tick_of(SCRAPE, out.number), batch=out.number))
    if to_pour is not None:
        acts, later = ([_weighing(day, to_pour)], []) if cups else _next_pour(day, now_s, step, to_pour)
        helps = day.state.people > 1 and to_pour.status == "to mix"
        (standing if helps or (scraped and not cups) else coming).extend(acts)
        coming += later
    elif not cups and scraped and not lacks:
        standing.append(_debubble(day, step))
    return standing, coming


def _cups(day: PressDay, now_s: float) -> Acts:
    """Each mixed cup: stirred and put right first, then poured; by its deadline, whatever is left to do."""
    cups = day.in_cup()
    numbers = [batch.number for batch in cups]
    acts, coming = cup_acts(day, now_s, numbers)
    standing = [act for act in acts if act.batch not in numbers]
    for batch in cups:
        hand = list(in_hand(day, batch, now_s))
        standing += hand
        for act in (each for each in acts if each.batch == batch.number):
            if act.kind == "empty cup":
                why = act.why if act.level > 1 else place_of(day, batch)
                act = replace(act, words=f"POUR CUP {batch.number}", why=why)
            waits = any(each.kind in ("stir", "read scale", "add") for each in hand) and not act.is_due
            (coming if waits else standing).append(act)
    return standing, coming


def _next_pour(day: PressDay, now_s: float, step: StepState, batch: BatchState) -> Acts:
    """The next pour: its colours into the cup, its resin, its hardener, no sooner than the last pour takes it."""
    act = _weighing(day, batch)
    takes_s = day.stir_s + (weighing_s(day) if batch.status == "to mix" else 0.0)
    window = joining(day, step.number)
    if window is None:
        return [act], []
    begin_s, by_s = window.opens_s - takes_s, window.closes_s - takes_s
    if now_s < begin_s:
        left, why = time_left(begin_s - now_s), "as stated" if window.stated else ""
        wait = Act("wait", "LET IT FIRM UP", f"firm {window.last}", number=left, deadline_s=begin_s, why=why)
        return [wait], [replace(act, at_s=begin_s)]
    stage: LifeStage = "fresh" if now_s < by_s - SOON_S else "soon" if now_s < by_s else "now"
    why = act.why
    if now_s >= by_s:
        why = "the last has set: roughen it" if now_s >= window.closes_s else "the last sets soon"
    since_s = by_s - SOON_S if stage == "soon" else by_s
    return [replace(act, deadline_s=by_s, urgency=stage, why=why, since_s=since_s, alarm=stage != "fresh")], []


def _weighing(day: PressDay, batch: BatchState) -> Act:
    """What goes into the cup next."""
    number = batch.number
    for at, (name, mass_g) in enumerate(pigments_of(day, batch), 1):
        if batch.status == "to mix" and tick_of(COLOUR, number, at) not in day.state.ticks:
            words = f"{shortened(name, NAME_WIDTH).upper()} INTO CUP {number}"
            coarse = not weighs_pigment(mass_g, day.scale.readability_g)
            why = "then tare to 0; a finer scale, if there is one" if coarse else "then tare to 0"
            return Act("colour", words, tick_of(COLOUR, number, at), number=mass(mass_g, ".1f"), why=why, batch=number)
    act = scale_act(day, number)
    if act.kind == "pour resin":
        return replace(act, kind="weigh", words=f"WEIGH BATCH {number}")
    return act


def _debubble(day: PressDay, step: StepState) -> Act:
    """The bubbles of a casting, while its last pour is soft."""
    lives = [day.alive[one.number] for one in day.state.batches if one.number in day.alive and step.number in one.steps]
    soft_s = max((life.gel_s.low for life in lives), default=None)
    act = step_act(step)
    return replace(act, words=f"DEBUBBLE {act.words}", deadline_s=soft_s)


# -- words -----------------------------------------------------------------------------------------------------------


def casting_words(day: PressDay) -> tuple[list[str], bool]:
    """Return what there is to say on top of a casting day, the most wanted first, and whether that is late."""
    state = day.state
    if state.closed_s is not None:
        out = day.out_s
        planed = [] if out is None or not isfinite(out[1]) else [f"PLANE ≈ {day.clock_time(out[1])}"]
        return [f"POURED {day.clock_time(state.closed_s)}", *planed], False
    good = [one for one in state.batches if one.lost_s is None]
    poured = sum(one.poured_out_s is not None for one in good)
    words = [f"CASTING {poured}/{len(good)} poured"]
    step = state.step_now
    window = joining(day, step.number) if step is not None and step.plan.kind == "cast" else None
    if window is None or poured == len(good):
        return words, False
    now_s = day.now_s()
    if now_s >= window.closes_s:
        return [*words, f"▲ POUR {window.last} HAS SET"], True
    verb = "joins" if now_s >= window.opens_s else f"firm {day.clock_time(window.opens_s)}, joins"
    return [*words, f"pour {window.last} {verb} until {day.clock_time(window.closes_s)}"], False
