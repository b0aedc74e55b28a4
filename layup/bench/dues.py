"""What can be done on a press day at one moment, and what comes: the one place that says what is due.

The cups and the one who mixes are in `cup_dues`; here is the work at the bench, the press, and what else matters.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from math import isfinite

from layup.bench.acts import DUE, FIRST, Act, Acts, is_seen, step_act
from layup.bench.casting_day import casting_acts
from layup.bench.cup_dues import (
    cup_acts,
    emptied_first,
    laid_short,
    look_acts,
    mixing_acts,
    stage_since_s,
    stirred_first,
)
from layup.bench.day import PressDay
from layup.bench.forecast import SLOW, Outlook, last_logged_s, outlook_of_day
from layup.bench.opening import plan_now, rescue_now
from layup.chemistry.temperature import History
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import LayupError
from layup.planning.clocks import STAGES, LifeStage
from layup.planning.fit import doubts_of_cold
from layup.planning.planner import cold_limits
from layup.planning.pressing import next_press_act
from layup.session.state_parts import StepState, done_with
from layup.units import minutes, temperature, time_left

AGAIN_LATE_S = 120.0
"""How late a round at the closed press may be before it has to be now (common practice, no source)."""
SPARE_BACK_S = 120.0
"""With less than this to spare nothing may go wrong any more (common practice, no source)."""
OVER_S = 60.0
"""From when on a step is said to be slow (common practice, no source)."""
UNKNOWN_GEL_S = 3600.0
"""So long after closing one tightens where nobody can say when the resin gels (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Dues:
    """What can be done now, in no order, at least one thing; what comes later; and a line that nobody has to act on."""

    standing: tuple[Act, ...]
    coming: tuple[Act, ...] = ()
    notice: str = ""
    ready_s: float | None = None
    """When the press can be closed at today's pace; None once it is."""


def dues(day: PressDay, now_s: float) -> Dues:
    """Return what can be done at a moment of a press day, and what comes."""
    state = day.state
    if state.start is None or state.ended_s is not None:
        words = "SESSION ENDED" if state.start else "NOTHING BEGUN"
        return Dues((Act("over", words, "over"),))
    if state.closed_s is not None and day.is_dry:
        end = Act("end", "END THE DRY RUN", "end", since_s=state.closed_s)
        return Dues((replace(end, seen=is_seen(end, state)),))
    coming, notice, closes_s = list[Act](), "", None
    if state.closed_s is not None:
        found = [_once_closed(day, now_s, state.closed_s), *cup_acts(day, now_s)[0]]
        at_press = None if state.is_casting else next_at_press(day, now_s)
        if at_press is not None:
            (coming if at_press.urgency == "fresh" else found).append(at_press)
    elif state.is_casting:
        found, coming = casting_acts(day, now_s)
    else:
        outlook = outlook_of_day(day, now_s)
        found, coming = _at_the_bench(day, now_s, outlook)
        notice, closes_s = _spare_words(day, outlook), outlook.ready_s
    found += [*_clock(day), *_files(day), *_temperatures(day, now_s)]
    standing = (replace(act, seen=is_seen(act, state), note=_note(day, act)) for act in found)
    return Dues(tuple(standing), tuple(replace(act, seen=is_seen(act, state)) for act in coming), notice, closes_s)


def _note(day: PressDay, act: Act) -> str:
    """Return what was carried forward to the step on the bench, for what is done at it while nothing presses."""
    step = day.state.step_now
    at_it = act.kind == "step" or (act.kind in ("empty cup", "wait") and not act.level)
    note = day.note_at(step.plan.name) if at_it and step is not None else None
    return note.text if note else ""


def _at_the_bench(day: PressDay, now_s: float, outlook: Outlook) -> Acts:
    """Return what can be done, and what comes, while the press is open.

    Where all that saves the part is to close it or to scrape it off, nothing more is laid or mixed until somebody has
    seen that.
    """
    first, part = emptied_first(day), _part(day, now_s)
    standing, coming = cup_acts(day, now_s, first)
    standing += look_acts(day, now_s)
    replan = list(_replan(day, outlook, part))
    rescue, only = _rescue(day, part)
    stops = only and not all(is_seen(act, day.state) for act in rescue)
    work = [] if stops else list(_work(day, now_s, outlook, part, [*standing, *replan], first))
    idle = not stops and not any(act.kind in ("step", "close") for act in work)
    idle = idle and not any(act.kind == "empty cup" and act.batch in first for act in standing)
    idle = idle and stirred_first(day, now_s, first) is None
    held = stops or any(act.alarm and not is_seen(act, day.state) for act in (*replan, *rescue))
    mixing, later = mixing_acts(day, now_s, outlook, idle=idle, held=held)
    standing += [*replan, *rescue, *work, *mixing]
    coming += [] if stops else [*later, *_coming(day, now_s, outlook, first)]
    return standing or [Act("wait", "WAIT", "wait")], coming


# -- work ------------------------------------------------------------------------------------------------------------


def _part(day: PressDay, now_s: float) -> Act | None:
    """Return the closing as the part wants it: by the batch on it that stops being open first; None before one."""
    first = min(day.on_part, key=lambda life: life.over_s.low, default=None)
    if first is None:
        return None
    stage = first.stage(now_s, day.closing_s)
    words = {
        "now": f"{minutes(first.over_s.low - now_s)} until it must be closed",
        "may be over": f"batch {first.batch} may be shut",
        "past": f"batch {first.batch} is past its open time",
    }
    return Act(
        kind="close",
        words="CLOSE THE PRESS",
        key="part",
        urgency=stage,
        why=words.get(stage, ""),
        deadline_s=first.over_s.low,
        since_s=stage_since_s(first, day.closing_s, stage),
        batch=first.batch,
        alarm=stage in DUE and now_s < first.gel_s.likely,
    )


def _work(
    day: PressDay, now_s: float, outlook: Outlook, part: Act | None, others: list[Act], first: Collection[int]
) -> Iterator[Act]:
    """The step on the bench, where it can be done; once all are done, the closing."""
    state, step = day.state, day.state.step_now
    unseen = [act for act in others if not is_seen(act, state)]
    if step is None:
        if any(batch.mixed_s is not None for batch in state.batches) or state.steps:
            yield _close(day, outlook, part)
        return
    blocked = any(act.kind == "empty cup" and act.batch in first for act in unseen)
    dry = step.number in outlook.without_mix and any(act.kind == "replan" for act in unseen)
    stirred = stirred_first(day, now_s, first)
    if stirred is not None or day.step_refusal():
        if state.people > 1 and not blocked:
            batch = next((one for one in state.batches if step.number in one.steps and one.mixed_s is None), stirred)
            yield Act("wait", f"WAIT FOR BATCH {batch.number}" if batch else "WAIT", "wait", step=step.number)
    elif not blocked and not dry:
        yield _step(day, now_s, outlook, part, step)


def _step(day: PressDay, now_s: float, outlook: Outlook, part: Act | None, step: StepState) -> Act:
    cups = [day.alive[n] for n in outlook.cups.get(step.number, ()) if n in day.alive]
    worst = max((STAGES.index(life.stage(now_s, day.closing_s)) for life in cups), default=0)
    over_s = now_s - outlook.began_s - day.planned_s(step)
    why = f"{minutes(over_s)} over" if over_s >= OVER_S else ""
    fresh = (batch for batch in day.laid_from() if not done_with(batch, day.state.steps))
    why = next((f"{FIRST} {one.number} onto {laid}" for one in fresh if (laid := laid_short(day, one))), why)
    if not why and outlook.rate >= SLOW:
        why = f"{100 * (outlook.rate - 1):.0f} % slow"
    ends = [life.empty_by_s for life in cups]
    if day.press_by_s is not None:
        ends.append(day.press_by_s - outlook.after_step_s)
    act = replace(
        step_act(step, outlook.ends_s.get(step.number), why),
        urgency=STAGES[min(worst, STAGES.index("soon"))],
        deadline_s=min(ends, default=None),
    )
    if part is None or not part.is_due or not _only_dry(day):
        return act
    return replace(act, urgency=part.urgency, why=f"{part.why}: then close", since_s=part.since_s, alarm=part.alarm)


def _close(day: PressDay, outlook: Outlook, part: Act | None) -> Act:
    act = part or Act("close", "CLOSE THE PRESS", "part")
    late = act.deadline_s is not None and outlook.ready_s > act.deadline_s
    act = replace(act, at_s=outlook.ready_s - day.closing_s, alarm=act.alarm and late)
    tight = next((each for each in reversed(day.press_acts) if each.count), None)
    if tight is None:
        return act
    return replace(act, number=f"{tight.count} {day.closing.method}", why=act.why or f"each {tight.number}")


def _rescue(day: PressDay, part: Act | None) -> tuple[list[Act], bool]:
    """Return what saves most where the time has come at which all but the closing stops, and whether it is all to do.

    What is left of the work may be no more than film and caul, without which nothing is closed: that is no rest.
    """
    if part is None or not part.is_due or day.state.step_now is None:
        return [], False
    if part.urgency != "past" and _only_dry(day):
        return [], False
    rescue = rescue_now(day)
    only = rescue.kind != "core first"
    why = f"{part.why}: lay no more" if only else part.why
    return [replace(part, kind="rescue", words=rescue.short.upper(), why=why, closes=rescue.closes)], only


def _only_dry(day: PressDay) -> bool:
    """Return whether only what takes no mix is left to do before the closing, as film and caul."""
    return all(step.plan.kind == "place" for step in day.state.steps if step.left)


LEAST_OVER_S = 60.0
"""Less than a minute too long in a cup is within what a pace is known by."""


def _replan(day: PressDay, outlook: Outlook, part: Act | None) -> Iterator[Act]:
    """The rest of the day planned anew: a step has no mix, or the press closes too late at today's pace."""
    if not day.is_known or day.unknown:
        return
    count, step = len(outlook.without_mix), day.state.step_now
    by_s = None if part is None or part.is_due or step is None else part.deadline_s
    late_s = 0.0 if by_s is None else outlook.ready_s - by_s
    if count:
        why = f"{count} step{'s' if count > 1 else ''} without resin"
    elif late_s > 0.0:
        why = f"closes {minutes(late_s)} too late"
    else:
        why = _too_long_in_cup(day, outlook)
    if why:
        urgency: LifeStage = "now" if step is not None and step.number in outlook.without_mix else "soon"
        yield Act("replan", "REPLAN THE REST", "replan", urgency, why=why, since_s=last_logged_s(day), alarm=True)


def _too_long_in_cup(day: PressDay, outlook: Outlook) -> str:
    """Say where the next batch would go off in its cup at today's pace, if it is mixed as planned."""
    batch = day.next_to_mix()
    if batch is None:
        return ""
    try:
        over_s = -day.cup_spare_s(batch, outlook.rate)
    except LayupError:
        return ""  # how long it lasts is not known, which its own cup will say
    return f"batch {batch.number}: {minutes(over_s)} too long in its cup" if over_s >= LEAST_OVER_S else ""


def _spare_words(day: PressDay, outlook: Outlook) -> str:
    by_s = day.press_by_s
    spare_s = None if by_s is None else by_s - outlook.ready_s
    return "closes with nothing to spare" if spare_s is not None and 0.0 <= spare_s < SPARE_BACK_S else ""


def _coming(day: PressDay, now_s: float, outlook: Outlook, first: Collection[int]) -> Iterator[Act]:
    """The step on the bench, where it waits for more than a cup emptied onto it; the step after it; the closing."""
    step, following = day.state.step_now, day.step_next
    if step is None:
        return
    ends_s = outlook.ends_s.get(step.number, now_s)
    begins_s = max(ends_s - outlook.rate * day.planned_s(step), now_s)
    onto = any(step.number in batch.steps for batch in day.in_cup() if batch.number in first)
    for one, at_s in ((None if onto else step, begins_s), (following, ends_s)):
        if one is not None:
            yield step_act(one, at_s)
    at_s = outlook.ready_s - day.closing_s
    yield Act("close", "CLOSE THE PRESS", "part", deadline_s=day.press_by_s, at_s=at_s)


# -- under press, or left to set -------------------------------------------------------------------------------------


def _once_closed(day: PressDay, now_s: float, closed_s: float) -> Act:
    """The part in the press; castings left to set: firm, hard, planed."""
    out_s, casting = day.out_s, day.state.is_casting
    if day.state.demoulded_s is not None:
        return Act("end", "END THE DAY", "end", since_s=day.state.demoulded_s)
    # the last pour is firm at its late edge; at once where nobody can say
    firm_s = max((life.gel_s.high for life in day.on_part), default=0.0)
    if casting and now_s < firm_s:
        left = time_left(firm_s - now_s)
        return Act("leave closed", "LET IT FIRM UP", "out", number=left, deadline_s=firm_s, since_s=closed_s)
    if out_s is not None and now_s >= out_s[1]:
        words = "PLANE IT" if casting else "TAKE IT OUT"
        return Act("demould", words, "out", urgency="soon", deadline_s=out_s[1], since_s=out_s[1])
    by_s = None if out_s is None or (casting and not isfinite(out_s[1])) else out_s[1]
    why = "perhaps hard: wait if you can" if out_s is not None and now_s >= out_s[0] else ""
    words = "LET IT HARDEN" if casting else "LEAVE IT CLOSED"
    return Act("leave closed", words, "out", why=why, deadline_s=by_s, since_s=closed_s)


def next_at_press(day: PressDay, now_s: float) -> Act | None:
    """Return the next act at the closed press, maybe not due yet: a round of tightening, or to go round again."""
    state = day.state
    if state.closed_s is None or state.demoulded_s is not None:
        return None
    closed_s, usual_s = state.closed_s, state.closed_s + UNKNOWN_GEL_S
    gel_s = min((life.gel_s.low for life in day.on_part), default=usual_s)
    if day.out_s is not None and now_s >= day.out_s[0]:
        return None
    again_s = tuple(at_s - closed_s for at_s in state.retightened)
    found = next_press_act(day.press_acts, now_s - closed_s, len(state.tightened), again_s, gel_s - closed_s)
    if found is None:
        return None
    due_s = closed_s + found.after_s
    order = f"order {' '.join(map(str, found.order))}" if found.order else found.why
    return Act(
        kind="retighten",
        words=found.words,
        key=f"press again {found.after_s:.0f}" if found.after_s else f"press {len(state.tightened)}",
        urgency="fresh" if now_s < due_s else "soon" if now_s < due_s + AGAIN_LATE_S or not found.after_s else "now",
        number=found.number,
        why=order,
        deadline_s=due_s if found.after_s else None,
        at_s=due_s,
        since_s=due_s,
        alarm=found.after_s > 0.0,
    )


# -- what else matters -------------------------------------------------------------------------------------------------

SHOP_BACK_K = 0.5
"""How far back within its window the shop must be before it counts as back (common practice, no source)."""


def _clock(day: PressDay) -> Iterator[Act]:
    """The machine was off, and nobody has said what time it is: every age may be too young."""
    if day.state.clock_unsure:
        since_s = day.state.sure.elapsed_s if day.state.sure else 0.0
        why = "the machine was off: all is older than it says"
        yield Act("answer clock", "SAY WHAT TIME IT IS", "clock", urgency="now", why=why, since_s=since_s, alarm=True)


def _files(day: PressDay) -> Iterator[Act]:
    """Events are in memory only, or another program meddles with the files."""
    if day.fault and not day.watching:
        why = day.fault.partition(" - ")[0]
        yield Act("save", "MEND THE DISK", "journal", urgency="now", why=why, alarm=True)
    if day.mended:
        yield Act("mend files", "STOP WHAT SYNCS THIS FOLDER", "files", urgency="soon", why=day.mended, alarm=True)


def _temperatures(day: PressDay, now_s: float) -> Iterator[Act]:
    """The thermometer is silent; the shop has left the temperatures that the plan works in."""
    if day.thermometer_silent_s is not None:
        why = f"thermometer silent for {minutes(day.thermometer_silent_s)}"
        since_s = now_s - day.thermometer_silent_s
        yield Act("temperature", "READ THE TEMPERATURE", "thermometer", why=why, since_s=since_s, alarm=True)
    state = day.state
    mixing = state.closed_s is None and any(batch.waits for batch in state.batches)
    cold = next(_cold(day, mixing=mixing), None)
    if cold is not None:
        yield cold
        return
    if not mixing:
        return
    gone, (low_K, high_K) = shop_gone(state.air, day.window_K), day.window_K
    if gone is None:
        return
    warm, since_s = gone
    edge_K = high_K if warm else low_K
    if edge_K is not None:
        words, works = ("COOL THE SHOP", "to") if warm else ("WARM THE SHOP", "from")
        why = f"shop {temperature(state.air[-1][1], '.1f')}: plan works {works} {temperature(edge_K, '.1f')}"
        yield Act("cool shop" if warm else "warm shop", words, "shop", "soon", "", why, since_s=since_s, alarm=True)


def _cold(day: PressDay, *, mixing: bool) -> Iterator[Act]:
    """What the shop, or the part, is too cold for, by the rule of the page before the day; what is not known last."""
    state = day.state
    if not day.is_known or not state.air or state.demoulded_s is not None:
        return
    try:
        now = plan_now(day)
        limits = [(limit, True) for limit in sorted(cold_limits(now), key=lambda limit: -limit.temperature_K)]
        limits += [(limit, False) for limit in doubts_of_cold(now, at_K=ZERO_CELSIUS_K)]
    except LayupError:
        return  # beyond the model nobody can say
    for limit, sure in limits:
        if limit.kind != "minimum" and not mixing:
            continue
        part = "core" if state.is_casting else "part"
        own, name = (state.resin, "cans") if limit.kind == "thick" else (state.mould, part)
        history, where = (own, name) if own else (state.air, "shop")
        gone = shop_gone(history, (limit.temperature_K, None))
        if gone is None:
            continue
        yield Act(
            kind="warm shop",
            words="WARM THE SHOP" if mixing and where != "core" else f"WARM THE {part.upper()}",
            key="shop" if mixing else "cold part",
            urgency="soon" if sure and (mixing or state.closed_s is not None) else "fresh",
            why=f"{where} {temperature(history[-1][1], '.1f')}: {limit.short} below {temperature(limit.temperature_K)}",
            since_s=gone[1],
            alarm=True,
        )


def shop_gone(air: History, window_K: tuple[float | None, float | None]) -> tuple[bool, float] | None:
    """Return whether the shop is too warm (else too cold) for the plan and since when; None where it is within.

    One that is out counts as back only once it is `SHOP_BACK_K` within, so that a thermometer that flickers around
    the limit is one matter and not many.
    """
    low_K, high_K = window_K
    found: tuple[bool, float] | None = None
    for at_s, kelvin in reversed(air):
        over = high_K is not None and kelvin > high_K
        under = low_K is not None and kelvin < low_K
        if over or under:
            if found is not None and found[0] != over:
                return found
            found = over, at_s
        elif (high_K is None or kelvin <= high_K - SHOP_BACK_K) and (low_K is None or kelvin >= low_K + SHOP_BACK_K):
            return found
    return found
