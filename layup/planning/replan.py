"""Plan the rest of a running day: what is left to lay, with the mix in hand, the stock in the cans and the time.

What saves most of a part that cannot be finished in time: one answer for the alarm, the top line and a replan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Literal

from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.numerics import require_between
from layup.errors import RangeError
from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.clocks import CLOSING_SPARE_S
from layup.planning.crew import Job, Pace, Work, job_of, pace_of
from layup.planning.fit import Fit, FitWord
from layup.planning.plan import BondStep, PlaceStep, Plan, Step
from layup.planning.planner import PlanResult, clocks_in
from layup.planning.remedies import Remedy, Upshot, best_remedies, proposals
from layup.planning.schedule import TIGHT_S, Limit, Split, kept_up, left_over_words, tight_spare
from layup.units import in_minutes, mass, minutes

# -- rescue ----------------------------------------------------------------------------------------------------------

DONE = 0.99
"""A step of which this share is laid is done: shares are rounded."""
SCRAPE = "scrape the wet layers off while soft; keep core, base, edges"


@dataclass(frozen=True, slots=True)
class Rescue:
    """What to do, as it follows a colon, and in two or three words for the top line."""

    kind: Literal["close", "close if wet", "core first", "scrape", "lay nothing"]
    words: str
    short: str
    urgent: bool = False
    """Whether the time has come at which all else stops."""

    @property
    def closes(self) -> bool:
        return self.kind in ("close", "close if wet")


def rescue_of(
    plan: Plan, people: int, done: Mapping[int, float], in_cup: Sequence[object], on_part: Sequence[OnPart]
) -> Rescue:
    """Return what saves most of a day if its stack cannot be closed in time.

    A press holds together what is bonded on both sides: with the core on its wet lower glass, or with one whole ply
    where there is no core, closing saves all that is laid, and more can be laid on once it has set. Before that, a
    press would glue half a ply to the base; scraped off while soft, the dry parts are saved (common practice, no
    source). The core is brought in first if the work up to it, a batch mixed for it, and the closing fit the time left.

    Parameters
    ----------
    people : Who is there, 1 or more [-]
    done : Share of each step that is done, 0 to 1, by step number [-]
    in_cup : The batches that stand in their cups [-]
    """
    if not on_part:
        if in_cup:
            return Rescue("scrape", SCRAPE, "scrape it off")
        return Rescue("lay nothing", "lay nothing wet today: all that is dry keeps", "lay nothing wet")
    first, pace = min(on_part, key=lambda batch: batch.open_within_s), pace_of(replace(plan.crew, people=people))
    closing_s = plan.closing.bench_s / pace.full
    spare_s = first.open_within_s - closing_s - CLOSING_SPARE_S
    urgent = spare_s <= 0.0
    last = holds_with(plan.steps)
    if done.get(last, 0.0) >= DONE:
        if first.shut_within_s <= 0.0:
            words = f"close only if it still wets; if not, {SCRAPE}"
            return Rescue("close if wet", words, "close only if it wets", urgent)
        if spare_s >= 60.0:
            words = f"lay on for {in_minutes(spare_s)} at most, then close the press with what is on it"
            return Rescue("close", words, "close in time")
        return Rescue("close", "close the press now, with what is on it", "close now", urgent)
    if _work_s(plan.steps[: last + 1], pace, done, mixed=bool(in_cup)) + closing_s <= first.open_within_s:
        name = plan.steps[last].name
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


def _work_s(steps: Sequence[Step], pace: Pace, done: Mapping[int, float], *, mixed: bool) -> float:
    """Return how long all of these steps still take, with a batch mixed first where none stands ready."""
    left = [
        (step, 1.0 - done.get(number, 0.0))
        for number, step in enumerate(steps)
        if not (step.kind == "cast" and step.before_press_day)
    ]
    wet = any(share > 1.0 - DONE for step, share in left if not isinstance(step, PlaceStep))
    mixing_s = pace.mixing_s if wet and not mixed else 0.0
    return mixing_s + sum(step.bench_s * share for step, share in left) / pace.full


# -- replan ----------------------------------------------------------------------------------------------------------

SHORT_S = 600.0
"""With less to spare than this, get the closing ready first (common practice, no source)."""
READY = "Lay out: film, caul, press."
_GRAIN = 1e-6
"""A share or a gram below which nothing is left."""


@dataclass(frozen=True, slots=True)
class InCup:
    """A batch in its cup: the grams still to lay, and how long it stays usable there and open once laid (low edges)."""

    batch: int
    left_g: float
    empty_within_s: float
    open_within_s: float


@dataclass(frozen=True, slots=True)
class OnPart:
    """A batch all laid: how long it still stays open, low edge, and high edge where that is known."""

    batch: int
    open_within_s: float
    shut_within_s: float = float("inf")


@dataclass(frozen=True, slots=True)
class DayState:
    """A press day that runs. `done` is the share (0..1) of each step that is done, by step number, without what the
    cups in hand will lay. `resin_g` and `hardener_g` are what is left in the cans."""

    now_s: float
    people: int
    done: Mapping[int, float]
    resin_g: float
    hardener_g: float
    in_cup: tuple[InCup, ...] = ()
    on_part: tuple[OnPart, ...] = ()
    first_batch: int = 1
    """The number of the first new batch."""

    def __post_init__(self) -> None:
        for step, share in self.done.items():
            require_between(f"share done of step {step}", share, 0.0, 1.0)
        require_between("resin left", self.resin_g, 0.0, 1e6, unit="g")
        require_between("hardener left", self.hardener_g, 0.0, 1e6, unit="g")
        if self.people < 1:
            raise RangeError("people", "are too few", value=self.people, allowed="1 or more")


@dataclass(frozen=True, slots=True)
class BenchStock:
    """What the new batches take of resin and hardener, what is missing, and in which step the mix would run out."""

    needed_g: tuple[float, float]
    short_g: tuple[float, float]
    runs_out_in: int | None

    @property
    def suffices(self) -> bool:
        return max(self.short_g) == 0.0

    @property
    def lack(self) -> str:
        """What is missing, in words; empty where nothing is."""
        named = zip(self.short_g, ("resin", "hardener"), strict=True)
        return ", ".join(f"{mass(short)} {name}" for short, name in named if short)


@dataclass(frozen=True, slots=True)
class Replan:
    """The rest of the day. Times in `split` count from now; `press_by_s` and `closed_s` on the session's own clock."""

    split: Split
    fits: bool
    in_time: bool
    """Whether the clocks alone let it close; `fits` and `verdict` want enough in the cans as well."""
    verdict: FitWord
    why: str
    """What stands against it or leaves too little room; empty where it fits."""
    limit: Limit | None
    stock: BenchStock
    closed_s: float | None
    press_by_s: float | None
    savers: tuple[Remedy, ...]
    advice: tuple[str, ...]
    brief: tuple[str, ...]
    """What of the advice is an act, in six words or so each."""


def replan(result: PlanResult, state: DayState) -> Replan:
    """Plan what is left of a running day.

    New batches, whether the stock reaches, by when to press, and what saves most if it cannot be done.

    Cups in hand are laid first, in the order given, each before its own limit; the next batch is mixed meanwhile, or
    after them if one person works alone. The press must be closed before the first of all mix on the part may set.
    Where mixing would take most of the time to the closing, no batches are proposed.
    """
    rest = _rest(result, state)
    stock = _stock(result, state, rest)
    savers: tuple[Remedy, ...] = ()
    if not rest.fit.works:

        def judge(changed: PlanResult) -> Upshot:
            tried = _rest(changed, replace(state, people=changed.plan.crew.people))
            return Upshot(tried.fit, tried.limit.margin_s if tried.limit else None)

        here = result.with_people(state.people)
        savers = best_remedies(here, judge, proposals(here, {}, on_the_day=True))
    rescue = rescue_of(result.plan, state.people, state.done, state.in_cup, state.on_part)
    closed, press_by = rest.split.closed_s, rest.split.press_by_s
    advice = _advice(result, rest, stock, savers, rescue)
    short = () if stock.suffices else (f"the cans lack {stock.lack}",)
    return Replan(
        split=rest.split,
        fits=rest.fit.works and stock.suffices,
        in_time=rest.fit.works,
        verdict=rest.fit.word if stock.suffices else "does not fit",
        why=next(iter((*rest.fit.against, *short, *rest.fit.tight)), ""),
        limit=rest.limit,
        stock=stock,
        closed_s=None if closed is None else state.now_s + closed,
        press_by_s=None if press_by is None else state.now_s + press_by,
        savers=savers,
        advice=tuple(words for words, _ in advice),
        brief=tuple(brief for _, brief in advice if brief),
    )


@dataclass(frozen=True, slots=True)
class _Rest:
    """The rest of the day as far as the clocks go."""

    job: Job
    split: Split
    limit: Limit | None
    fit: Fit


def _rest(result: PlanResult, state: DayState) -> _Rest:
    """Lay what is in hand, then split the rest."""
    result = result.with_people(state.people)
    grams = budget(result.plan, result.datasheet)
    whole = job_of(result.plan, grams, result.datasheet, done=state.done)
    work_s, emptied_s, left = _lay(whole.work, [cup.left_g for cup in state.in_cup])
    pace, last = whole.pace, not left.portions
    elapsed = [pace.elapsed_s(done, work_s, last=last) for done in emptied_s]
    open_within = [cup.open_within_s for cup in state.in_cup] + [batch.open_within_s for batch in state.on_part]
    job = replace(
        whole,
        work=left,
        ready_s=pace.span_s(work_s, last=last),
        close_by_s=min(open_within, default=float("inf")),
        first_batch=state.first_batch,
    )
    split = kept_up(split_batches(job, clocks_in(result.in_part, job, (result.shop,))[0]), job)
    limits = [split.limit] if split.limit else []
    limits += [_hand_limit(cup, took) for cup, took in zip(state.in_cup, elapsed, strict=True)]
    limit = min(limits, key=_tightness, default=None)
    return _Rest(job, split, limit, _fit(split, limit))


def _fit(split: Split, limit: Limit | None) -> Fit:
    """Judge the rest of a day: as a plan, with the cups in hand beside the batches to come."""
    if not split.fits or (limit is not None and _tightness(limit) < 0.0):
        return Fit((limit.words if limit else "The rest cannot be laid in time.",))
    close = limit is not None and _tightness(limit) < TIGHT_S
    return Fit((), tight_spare(split) or ((limit.words,) if limit and close else ()))


def _tightness(limit: Limit) -> float:
    return -float("inf") if limit.margin_s is None else limit.margin_s


def _lay(work: Work, cups_g: Sequence[float]) -> tuple[float, list[float], Work]:
    """Lay cups one after the other, the dry work before and between included.

    Return that work, what of it empties each cup, both for one pair of hands, and the work that is left.
    """
    done, emptied, queue = work.lead_s, [], list(work.portions)
    for left in cups_g:
        empty = done
        while left > _GRAIN and queue:
            portion = queue.pop(0)
            if portion.laid_g > left + _GRAIN:
                share = left / portion.laid_g
                begin, rest = portion.begin + share * (portion.end - portion.begin), 1.0 - share
                later = replace(portion, begin=begin, laid_g=portion.laid_g * rest, work_s=portion.work_s * rest)
                queue.insert(0, later)
                portion = replace(portion, laid_g=left, work_s=portion.work_s * share, dry=())
            left -= portion.laid_g
            empty = done + portion.work_s
            done = empty + portion.after_s
        emptied.append(empty)
    return done, emptied, Work(tuple(queue))


def _hand_limit(cup: InCup, took_s: float) -> Limit:
    margin = cup.empty_within_s - took_s
    if margin >= 0.0:
        words = f"Batch {cup.batch}: {minutes(margin)} spare in its cup."
    else:
        words = f"Batch {cup.batch} must leave its cup {minutes(-margin)} before all is laid."
    return Limit("cup", cup.batch, margin, words)


def _stock(result: PlanResult, state: DayState, rest: _Rest) -> BenchStock:
    parts = parts_by_mass(result.datasheet)
    masses = [batch.mass_g for batch in rest.split.batches]
    if not masses and rest.job.work.portions:  # no batch of an allowed mass: the grams are needed all the same
        masses = [rest.job.work.laid_g + rest.job.loss_g]
    resin, hardener = (sum(masses) * part / sum(parts) for part in parts)
    short = max(0.0, resin - state.resin_g), max(0.0, hardener - state.hardener_g)
    if max(short) <= _GRAIN:
        return BenchStock((resin, hardener), (0.0, 0.0), None)
    reach = min(state.resin_g / parts[0], state.hardener_g / parts[1]) * sum(parts)
    return BenchStock((resin, hardener), short, _step_short_of_mix(rest, reach))


def _step_short_of_mix(rest: _Rest, reach_g: float) -> int:
    """Return the first step that `reach_g` of mix does not finish."""
    for batch in rest.split.batches:
        reach_g -= rest.job.loss_g
        for share in batch.shares:
            reach_g -= share.laid_g
            if reach_g < 0.0:
                return share.step
    return rest.job.work.portions[-1].step


def _advice(
    result: PlanResult, rest: _Rest, stock: BenchStock, savers: tuple[Remedy, ...], rescue: Rescue
) -> list[tuple[str, str]]:
    """Say what to do, the most urgent first: in full, and in brief where it is an act."""
    said = []
    if not rest.fit.works:
        said.append((rest.limit.words if rest.limit else "The rest cannot be laid in time.", ""))
        fits = bool(savers) and savers[0].fits and not rescue.urgent
        if not fits or savers[0].kind == "helper":  # who is not there may never come
            said.append((f"Saves most: {rescue.words}.", f"Saves most: {rescue.short}."))
        if fits:
            said.append((f"This makes it fit: {savers[0].words}", ""))
    if not stock.suffices and stock.runs_out_in is not None:
        from_step = f"from '{result.plan.steps[stock.runs_out_in].name}' on"
        said.append((f"Cans lack {stock.lack}, {from_step}: fetch more, same ratio.", f"Fetch {stock.lack}."))
    most_g = max((batch.left_over_g for batch in rest.split.batches), default=0.0)
    too_much = f"{mass(most_g)} too much: spread it thin." if stock.suffices else ""  # first what has to be fetched
    said += [(words, too_much) for words in left_over_words(rest.split)]
    slack = rest.limit.margin_s if rest.limit else None
    if rest.job.work.portions and (slack is None or slack < SHORT_S):
        said.append((READY, ""))
    return said


@dataclass(frozen=True, slots=True)
class Need:
    """A step that is still to do: the mix it lays, and the share of it (0..1) that no batch is mixed for yet."""

    step: int
    mix_g: float
    to_mix: float


@dataclass(frozen=True, slots=True)
class ToMix:
    """A batch that is not mixed yet: what it weighs, and the share of each step that it lays."""

    batch: int
    mass_g: float
    serves: tuple[tuple[int, float], ...]


def credited(usable_g: float, needs: Sequence[Need]) -> tuple[tuple[int, float], ...]:
    """Share out mix left over in a cup to the steps to come.

    Each step that it goes to, with the share of it that it lays, 0 to 1 [-].

    >>> credited(50.0, [Need(4, 40.0, 1.0), Need(5, 100.0, 0.5)])
    ((4, 1.0), (5, 0.1))

    Parameters
    ----------
    usable_g : What of it gets onto the part, 0 or more [g]
    """
    found = []
    for need in needs:
        if usable_g <= _GRAIN:
            break
        if need.mix_g <= 0.0 or need.to_mix <= _GRAIN:
            continue
        share = min(need.to_mix, usable_g / need.mix_g)
        usable_g -= share * need.mix_g
        found.append((need.step, share))
    return tuple(found)


def shrunk(
    batches: Sequence[ToMix], mix_g: Mapping[int, float], taken: Mapping[int, float], smallest_g: float
) -> tuple[ToMix, ...]:
    """Take shares of steps out of the batches that are not mixed yet, out of the first ones first.

    Those still to mix, each by as much lighter as it lays less; one that would be lighter than `smallest_g` weighs
    that, or what it did where it was lighter; one with nothing left to lay is gone.

    >>> waiting = [ToMix(2, 120.0, ((4, 1.0),)), ToMix(3, 90.0, ((5, 1.0),))]
    >>> shrunk(waiting, {4: 100.0, 5: 70.0}, {4: 0.25, 5: 1.0}, 50.0)
    (ToMix(batch=2, mass_g=95.0, serves=((4, 0.75),)),)

    Parameters
    ----------
    mix_g : The mix that each step lays [g]
    taken : The share of each step that they need not lay any more, 0 to 1 [-]
    smallest_g : The least that the scale weighs close enough to the ratio [g]
    """
    rest, found = dict(taken), []
    for batch in batches:
        serves, less_g = [], 0.0
        for step, share in batch.serves:
            out = min(share, rest.get(step, 0.0))
            rest[step] = rest.get(step, 0.0) - out
            less_g += out * mix_g.get(step, 0.0)
            if share - out > _GRAIN or share <= 0.0:
                serves.append((step, share - out))
        if serves or not batch.serves:
            mass_g = max(batch.mass_g - less_g, min(smallest_g, batch.mass_g))
            found.append(replace(batch, mass_g=mass_g, serves=tuple(serves)))
    return tuple(found)
