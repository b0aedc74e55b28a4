"""The rest of a running day planned anew: what is lost, and what each way on does to the closing before it is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layup.bench.casting_day import fills, joining, weighing_s
from layup.bench.changes import ClosingTime, DayChange, closing_of, supposed
from layup.bench.day import PressDay
from layup.bench.forecast import SLOW, last_logged_s, outlook_of_day, pace
from layup.bench.opening import day_state, first_free, new_batches, plan_now
from layup.chemistry.mixing import split_mass
from layup.errors import LayupError
from layup.planning.budget import cast_loss_g
from layup.planning.plan import CastStep
from layup.planning.pours import SCRAPING_S, POURED_g_s, pours_left
from layup.planning.replan import Replan, replan
from layup.session.batch_events import Replanned
from layup.session.day_events import PeopleChanged
from layup.session.fields import BatchPlan, batch_plan
from layup.session.mass_balance import ALL_OF_IT, without_mix
from layup.session.state import Event
from layup.session.state_parts import StepState
from layup.units import mass, spare_of

MOST_WAYS = 2
"""Changes that are proposed beside new batches, where these alone do not do."""
FITS_IF = "This makes it fit:"


@dataclass(frozen=True, slots=True)
class WayOn:
    """One way on, in words, with what it logs and what it does to the closing."""

    words: str
    mix_g: tuple[float, ...]
    change: DayChange
    works: bool
    """Whether the clocks let it close in time."""
    word: str
    """The verdict, by the clocks and by what the cans hold."""

    @property
    def wants_help(self) -> bool:
        """Whether somebody has to come for it, so that those at the bench cannot do it now."""
        return any(isinstance(event, PeopleChanged) for event in self.change.events)


@dataclass(frozen=True, slots=True)
class Rest:
    """The rest of the day: the ways on with the best first, and advice."""

    ways: tuple[WayOn, ...]
    advice: tuple[str, ...] = ()
    brief: tuple[str, ...] = ()
    """What of the advice is an act, in a few words."""
    in_time: bool = True

    @property
    def here(self) -> WayOn | None:
        """The best that those at the bench can do, whether it works or not; None where nothing can be mixed."""
        return self.ways[0] if self.ways and not self.ways[0].wants_help else None


def rest_of_day(day: PressDay) -> Rest:
    """Plan the rest of a day that is not closed anew, in each way that there is.

    The best of those at the bench comes first; there is none where nothing can or need be mixed. RangeError where a
    number is out of range, InputError where a batch cannot be planned with.
    """
    if day.state.is_casting:
        return _rest_of_casting(day)
    state, before = day_state(day), closing_of(day)
    plan = replan(plan_now(day), state)
    ways = [_way("", day, before, plan, ())] if plan.split.batches else []
    for saver in plan.savers[:MOST_WAYS] if not plan.in_time else ():
        people = saver.result.plan.crew.people
        tried = replan(saver.result, replace(state, people=people))
        if tried.split.batches and tried.in_time:
            came = (PeopleChanged(people=people),) if people != state.people else ()
            ways.append(_way(f"{saver.words[0].lower()}{saver.words[1:].rstrip('.')}", day, before, tried, came))
    ways.sort(key=lambda way: (way.wants_help, not way.works))
    said = {plan.limit.words} if plan.limit and ways and ways[0].works and not ways[0].wants_help else set[str]()
    offered = any(way.works for way in ways)
    advice = tuple(one for one in plan.advice if one not in said and not (offered and one.startswith(FITS_IF)))
    return Rest(tuple(ways), advice, plan.brief, plan.in_time)


def rest_or_why(day: PressDay) -> Rest | str:
    """Return the rest of a day as it can be planned anew, or why it cannot be."""
    if day.state.closed_s is not None:
        return "not now: the press is closed - there is nothing left to plan"
    try:
        return rest_of_day(day)
    except LayupError as error:
        return str(error)


def _rest_of_casting(day: PressDay) -> Rest:
    """Return the pours that are left: what was lost made up for, none too long in its cup."""
    left = left_to_pour(day)
    masses_g = tuple(batch.mass_g for batch in left.batches)
    now = ClosingTime(day.now_s(), None, "fits")
    change = DayChange((left,), now, now)
    return Rest((WayOn(f"pour {mass_list(masses_g)}", masses_g, change, True, "IN TIME"),) if masses_g else ())


def left_to_pour(day: PressDay) -> Replanned:
    """Return the pours that are left, to be logged: what was lost is made up for, and no cup goes off before it is out.

    Raises LayupError where plan or resin cannot be read.
    """
    found: list[BatchPlan] = []
    number = first_free(day)
    for step in day.state.steps:
        if step.plan.kind == "cast" and step.left:
            for share in _shares_left(day, step):
                mass_g = share * _net_g(day, step.number) + cast_loss_g(day.plan, _cast(day, step.number))
                parts_g = split_mass(mass_g, day.parts)
                found.append(batch_plan(number + len(found), mass_g, parts_g, (step.number,), (min(share, 1.0),)))
    return Replanned(batches=tuple(found))


def clocks_of_pours(day: PressDay, pours: Sequence[BatchPlan]) -> tuple[tuple[float, float], ...]:
    """Return of each pour that is left when its hardener goes in at the soonest, and by when its cup must be empty."""
    found, at_s, opens_s, firms_s = [], day.now_s(), 0.0, 0.0
    window = joining(day, pours[0].steps[0]) if pours else None
    last = None if window is None else day.state.batch(window.last)
    if window is not None and last is not None and last.poured_out_s is not None:
        opens_s, firms_s = window.opens_s, window.opens_s - last.poured_out_s
    for pour in pours:
        contact_s = max(at_s + weighing_s(day), opens_s - day.stir_s)
        out_s = contact_s + day.stir_s + pour.mass_g / POURED_g_s
        found.append((contact_s, contact_s + day.fresh_cup_s(pour.mass_g, day.mix_K)))
        at_s, opens_s = out_s + SCRAPING_S, out_s + firms_s
    return tuple(found)


def _cast(day: PressDay, number: int) -> CastStep:
    step = day.plan.steps[number - 1]
    assert isinstance(step, CastStep)
    return step


def _net_g(day: PressDay, number: int) -> float:
    """Return what is cast of a step in all, without what stays in the cups [g]."""
    planned = [batch for batch in day.state.begun_with if number in batch.steps]
    return sum(batch.mass_g for batch in planned) - len(planned) * cast_loss_g(day.plan, _cast(day, number))


def _shares_left(day: PressDay, step: StepState) -> list[float]:
    loss_g = cast_loss_g(day.plan, _cast(day, step.number))
    each = next((batch.shares[0] for batch in day.state.begun_with if step.number in batch.steps), 1.0)
    there = [one for one in day.state.batches if one.mixed_s is not None and step.number in one.steps]
    done = sum(fills(day, one, step.number) for one in there)
    whole_g, least_g = _net_g(day, step.number), day.scale.smallest_batch_g(day.parts)

    def lives(share: float) -> bool:
        mass_g = share * whole_g + loss_g
        return day.stir_s + mass_g / POURED_g_s <= day.fresh_cup_s(mass_g, day.mix_K)

    def weighs(share: float) -> bool:
        return share * whole_g + loss_g >= least_g

    return pours_left(done, each, lives, weighs)


def _way(what: str, day: PressDay, before: ClosingTime, plan: Replan, first: tuple[Event, ...]) -> WayOn:
    """Return what taking a plan of the rest logs and does."""
    events = (*first, new_batches(day, plan))
    after = supposed(day, events)
    paced_s = before.ready_s if isinstance(after, str) else outlook_of_day(after, day.now_s()).ready_s
    by_s = min((by for by in (before.by_s, plan.press_by_s) if by is not None), default=None)
    masses_g = tuple(batch.mass_g for batch in plan.split.batches)
    short = plan.in_time and not plan.stock.suffices
    why = "" if plan.fits else plan.why
    change = DayChange(events, before, ClosingTime(max(plan.closed_s or 0.0, paced_s), by_s, plan.verdict, why))
    word = "in time, cans short" if short else plan.verdict
    return WayOn(what or f"mix {mass_list(masses_g)}", masses_g, change, plan.in_time, word.upper())


def mass_list(masses_g: Sequence[float]) -> str:
    """Return some masses with one unit."""
    *first, last = masses_g
    return " + ".join([*(mass.digits(one_g) for one_g in first), f"{mass(last)}"])


def _lost(day: PressDay) -> tuple[str, ...]:
    """Return what was lost since the batches were last planned, and by how much the day is slow."""
    since_s, said = last_logged_s(day, ("replanned",)), []
    for batch in day.state.batches:
        if batch.lost_s is not None and batch.lost_s >= since_s:
            laid_g = day.balance.of_batch(batch.number).laid_g
            laid = f", {mass(laid_g)} laid" if laid_g > 0.0 else ""
            said.append(f"batch {batch.number}, {mass(batch.poured_g or batch.plan.mass_g)}{laid}")
    rate = pace(day, day.now_s())
    if rate is not None and rate >= SLOW:
        said.append(f"{100 * (rate - 1.0):.0f} % slow")
    return tuple(said)


def rest_brief(day: PressDay, rest: Rest) -> list[str]:
    """Return what was lost and what to do beside each way on: all that is read with gloves on.

    Of a casting day and where no way is left it is all that there is to say.
    """
    if day.state.is_casting or not rest.ways:
        return ["REPLAN", *rest_lines(day, rest)]
    lost = [one.partition(",")[0] + (" lost" if one.startswith("batch") else "") for one in _lost(day)]
    return [" · ".join(["REPLAN", *lost]), *rest.brief]


def rest_lines(day: PressDay, rest: Rest) -> list[str]:
    """Return what is lost, then the best way on in numbers: before, and after it is taken."""
    lines, way = [f"lost     {words}" for words in _lost(day)], rest.here
    if way is None:
        nothing = "Nothing left to mix." if rest.in_time else "No batch can be mixed in time."
        return [nothing, *lines, *rest.advice]
    to_mix_g = [batch.plan.mass_g for batch in day.state.batches if batch.status == "to mix"]
    mix = [mass_list(masses_g) if masses_g else "none" for masses_g in (to_mix_g, way.mix_g)]
    if day.state.is_casting:
        return [*lines, _row("pours", *mix), *_pour_lines(day, way), *rest.advice]
    before, after, missing = way.change.before, way.change.after, _missing(day)
    was = missing or f"≈ {day.clock_time(before.ready_s)}"
    lines += [_row("mix", *mix), _row("closes", was, f"≈ {day.clock_time(after.ready_s)}")]
    if after.by_s is not None:
        by_s = after.by_s if before.by_s is None else before.by_s
        lines.append(_row("press by", day.clock_time(by_s), day.clock_time(after.by_s)))
        spares = (_spare_words(after if missing or before.by_s is None else before), _spare_words(after))
        lines.append(f"{_row('spare', *(spare.removesuffix(' spare') for spare in spares))}   {way.word}")
    return [*lines, *rest.advice]


def _pour_lines(day: PressDay, way: WayOn) -> list[str]:
    """Return the clock of each pour that is left, as soon as it can be."""
    (left,) = (event for event in way.change.events if isinstance(event, Replanned))
    return [
        f"pour {pour.batch:<3} {mass(pour.mass_g)}  hardener ≈ {day.clock_time(mix_s)}  empty by {day.clock_time(by_s)}"
        for pour, (mix_s, by_s) in zip(left.batches, clocks_of_pours(day, left.batches), strict=True)
    ]


def _missing(day: PressDay) -> str:
    """Return which step the batches as planned leave without mix, or with part of it; empty where they leave none."""
    step = min(without_mix(day.state, day.balance), default=None)
    if step is None:
        return ""
    account = day.balance.of_step(step)
    part = account.laid_share + account.left_share > 1.0 - ALL_OF_IT
    return f"{'too little' if part else 'no'} mix for step {step}"


def _row(name: str, before: str, after: str) -> str:
    return f"{name:<8} {after if before == after else f'{before} → {after}'}"


def choices(day: PressDay, rest: Rest) -> list[tuple[str, str, str]]:
    """Return what can be chosen as key, answer, words: what is in time first, by those there if they can."""
    here, keeps, fits = rest.here, "keep batches", False
    if day.state.is_casting:
        said = [way.words for way in rest.ways]
    else:
        missing, wide = _missing(day), max(len(way.words) for way in rest.ways)
        wide = max(wide, len(keeps)) + 3
        said = [f"{way.words:<{wide}}{_minutes_of(way)}" for way in rest.ways]
        before = rest.ways[0].change.before
        kept = missing or _spare_words(before)
        fits = not missing and (before.spare_s is None or before.spare_s >= 0.0)
        keeps = f"{keeps:<{wide}}{kept}"
    keep = ("n", "no", keeps)
    ways = [(f"{at + 1}", f"{at}", words) for at, words in enumerate(said)]
    if here is not None and here.works:
        return [("y", *ways[0][1:]), *ways[1:], keep]
    helped = [] if fits else [one for one, way in zip(ways, rest.ways, strict=True) if way.works]
    return [*helped, keep, *(one for one in ways if one not in helped)]


def _minutes_of(way: WayOn) -> str:
    """Return what a way on has to spare; its verdict where something else than the press makes it too late."""
    spare_s = way.change.after.spare_s
    return way.word if spare_s is None or (spare_s >= 0.0) != way.works else _spare_words(way.change.after)


def _spare_words(closing: ClosingTime) -> str:
    return "unknown" if closing.spare_s is None else spare_of(closing.spare_s, "TOO LATE")
