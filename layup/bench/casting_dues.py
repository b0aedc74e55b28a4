"""What is due on a casting day: the core made ready, each pour weighed, stirred, poured and scraped in time, the wait.

The cups go by the one rule of `planning.clocks`, as on any day; the window of the next pour is that of `casting_day`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite

from layup.bench.acts import Act, seen_of
from layup.bench.casting_day import (
    core_of,
    goes_off,
    joining,
    missing,
    pigments_of,
    place_of,
    sealer_dry_s,
    tick_of,
    weighing_s,
)
from layup.bench.cup_dues import cup_acts, in_hand, look_acts, scale_act
from layup.bench.day import PressDay
from layup.bench.forecast import plan_changed_s
from layup.planning.castings import TAPE, WARM, weighs_pigment
from layup.planning.clocks import STAGES, LifeStage
from layup.session.state_parts import BatchState, StepState
from layup.session.text import shortened
from layup.units import mass, temperature, time_left

SOON_S = 60.0
"""How long before the last takes no more pour the next is hurried (our own judgement, no source)."""
LEAST_OVER_S = 10.0
"""Less too long in a cup than this is within what a pour is known by."""
NAME_WIDTH = 26
SCRAPE, COLOUR = "scrape", "colour"


def casting_acts(day: PressDay, now_s: float) -> tuple[list[Act], list[Act]]:
    """Return what can be done at a moment of a casting day, and what comes."""
    state = day.state
    if state.closed_s is not None:
        return [*_setting(day, now_s, state.closed_s), *cup_acts(day, now_s)[0]], []
    standing, coming = list(look_acts(day, now_s)), list[Act]()
    step = state.step_now
    if step is None:
        standing.append(Act("close", "LEAVE IT LEVEL", "part", why="until it is firm"))
    elif step.plan.kind == "cast":
        now, later = _pours(day, now_s, step)
        standing += now
        coming += later
    else:
        standing += _ready(day, now_s, step)
        following = day.step_next
        if following is not None:
            coming.append(_step(following, day.planned_s(step) + state.bench_free_s))
    return standing, coming


# -- the core --------------------------------------------------------------------------------------------------------


def _step(step: StepState, at_s: float | None = None, *, why: str = "") -> Act:
    words = shortened(step.plan.name, NAME_WIDTH).upper()
    return Act("step", words, f"step {step.number}", at_s=at_s, step=step.number, why=why)


def _ready(day: PressDay, now_s: float, step: StepState) -> Iterator[Act]:
    """The core: measured until it is warm and dry, sealed, taped once the sealer is dry."""
    core, dry_s = core_of(day), sealer_dry_s(day)
    if step.plan.name == WARM and not (core.is_warm and core.is_dry):
        yield _core_act(day, step)
    elif step.plan.name == TAPE and dry_s is not None and now_s < dry_s:
        left = time_left(dry_s - now_s)
        yield Act("wait", "LET THE SEALER DRY", "sealer", number=left, deadline_s=dry_s, why="then tape and level")
    else:
        yield _step(step, why="once the sealer is dry" if step.plan.name == TAPE and dry_s is None else "")


def _core_act(day: PressDay, step: StepState) -> Act:
    """What is to be measured of the core, or put right."""
    core = core_of(day)
    key = f"step {step.number}"
    if not core.is_warm:
        words = "MEASURE THE CORE" if core.is_K is None else "WARM THE CORE"
        why = "" if core.is_K is None else f"core {temperature(core.is_K, '.1f')}: measure again once warm"
        return Act("core", words, key, number=temperature(core.wanted_K), why=why, step=step.number)
    wanted = f"{100 * core.wanted_moisture:.0f} %"
    if core.moisture is None:
        return Act(
            "moisture", "MEASURE ITS MOISTURE", key, number=wanted, why="or less; water foams it", step=step.number
        )
    why = f"{100 * core.moisture:.0f} % water: foams; measure again once dry"
    return Act("moisture", "DRY THE CORE", key, number=wanted, why=why, step=step.number)


# -- the pours -------------------------------------------------------------------------------------------------------


def _pours(day: PressDay, now_s: float, step: StepState) -> tuple[list[Act], list[Act]]:
    """The cups in hand, then what is scraped, then the next pour; the bubbles, once all are in."""
    standing, coming = _cups(day, now_s)
    cups = day.in_cup()
    to_pour = next((one for one in day.state.batches if _waits(one) and step.number in one.steps), None)
    lacks = missing(day, step)
    late_s = 0.0 if to_pour is None else goes_off(day, to_pour)
    if lacks or late_s >= LEAST_OVER_S:
        why = "a pour is missing" if lacks else f"{time_left(late_s)} too long in its cup"
        urgency: LifeStage = "soon" if cups else "now"
        act = Act("replan", "REPLAN THE POURS", "replan", urgency, why=why, since_s=plan_changed_s(day), alarm=True)
        standing.append(act)
        to_pour = to_pour if cups or seen_of(act, day.state).seen else None
    scraped = _unscraped(day, step)
    if scraped is not None and not cups:
        standing.append(
            Act("scrape", f"SCRAPE CUP {scraped.number}", tick_of(SCRAPE, scraped.number), batch=scraped.number)
        )
    if to_pour is not None:
        acts, later = ([_weighing(day, to_pour)], []) if cups else _next_pour(day, now_s, step, to_pour)
        helps = day.state.people > 1 and to_pour.status == "to mix"
        (standing if helps or (scraped is None and not cups) else coming).extend(acts)
        coming += later
    elif not cups and scraped is None and not lacks:
        standing.append(_debubble(day, step))
    return standing, coming


def _waits(batch: BatchState) -> bool:
    return batch.status in ("to mix", "weighed")


def _cups(day: PressDay, now_s: float) -> tuple[list[Act], list[Act]]:
    """Each mixed cup: stirred and put right first, then poured; by its deadline, whatever is left to do."""
    cups = day.in_cup()
    acts, rest = cup_acts(day, now_s, [batch.number for batch in cups])
    standing, coming = [act for act in acts if act.batch is None], list(rest)
    for batch in cups:
        hand = list(in_hand(day, batch, now_s))
        standing += hand
        for act in (each for each in acts if each.batch == batch.number):
            poured = act.kind == "empty cup"
            act = (
                replace(act, words=f"POUR CUP {batch.number}", why=act.why if act.level > 1 else place_of(day, batch))
                if poured
                else act
            )
            waits = any(each.kind in ("stir", "read scale", "add") for each in hand) and act.level < STAGES.index("now")
            (coming if waits else standing).append(act)
    standing += [act for act in acts if act.batch is not None and day.state.batch(act.batch) not in cups]
    return standing, coming


def _unscraped(day: PressDay, step: StepState) -> BatchState | None:
    """Return the last cup that was poured of a step, if it is not scraped out."""
    out = [one for one in day.state.batches if one.status == "on the part" and step.number in one.steps]
    last = max(out, key=lambda one: one.poured_out_s or 0.0, default=None)
    return None if last is None or tick_of(SCRAPE, last.number) in day.state.ticks else last


def _next_pour(day: PressDay, now_s: float, step: StepState, batch: BatchState) -> tuple[list[Act], list[Act]]:
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
        return replace(act, kind="weigh", words=f"WEIGH BATCH {number}", number=mass(batch.plan.mass_g))
    return act


def _debubble(day: PressDay, step: StepState) -> Act:
    """The bubbles of a casting, while its last pour is soft."""
    lives = [day.alive[one.number] for one in day.state.batches if one.number in day.alive and step.number in one.steps]
    soft_s = max((life.gel_s.low for life in lives), default=None)
    act = _step(step)
    return replace(act, words=f"DEBUBBLE {act.words}", deadline_s=soft_s)


# -- setting ---------------------------------------------------------------------------------------------------------


def firm_s(day: PressDay) -> float:
    """Return when the last pour is firm, late edge; when it was left where nobody can say."""
    return max((life.gel_s.high for life in day.alive.values() if life.where == "on the part"), default=0.0)


def _setting(day: PressDay, now_s: float, closed_s: float) -> Iterator[Act]:
    """The castings left to set: firm, hard, planed."""
    state, out_s = day.state, day.out_s
    if state.demoulded_s is not None:
        yield Act("end", "END THE DAY", "end", since_s=state.demoulded_s)
    elif now_s < firm_s(day):
        left = time_left(firm_s(day) - now_s)
        yield Act("leave closed", "LET IT FIRM UP", "out", number=left, deadline_s=firm_s(day), since_s=closed_s)
    elif out_s is not None and now_s >= out_s[1]:
        yield Act("demould", "PLANE IT", "out", urgency="soon", deadline_s=out_s[1], since_s=out_s[1])
    else:
        likely_s = None if out_s is None or not isfinite(out_s[1]) else out_s[1]
        perhaps = out_s is not None and now_s >= out_s[0]
        why = "perhaps hard: wait if you can" if perhaps else ""
        yield Act("leave closed", "LET IT HARDEN", "out", deadline_s=likely_s, why=why, since_s=closed_s)


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


def part_words(day: PressDay, batch: BatchState, now_s: float) -> str:
    """Return how a pour does in its channel, in a word."""
    life = day.alive.get(batch.number)
    if life is None:
        return "life not known"
    return "soft" if now_s < life.gel_s.low else "setting" if now_s < life.gel_s.high else "firm"
