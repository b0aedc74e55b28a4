"""Plan the rest of a running day: what is left to lay, with the mix in hand, the stock in the cans and the time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.ranges import require_between
from layup.errors import RangeError
from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.crew import Job, Portion, Work, job_of
from layup.planning.fit import TIGHT_S, Fit, Word, tight_spare
from layup.planning.plan import Plan
from layup.planning.planner import Case, clocks_at
from layup.planning.remedies import ON_THE_DAY, Remedy, best_remedies, proposals
from layup.planning.rescue import OnTheBench, Rescue, saves_most
from layup.planning.schedule import Limit, Split, kept_up, left_over_words, minutes

SHORT_S = 600.0
"""With less to spare than this, get the closing ready first (common practice, no source)."""
READY = "Lay out now what the closing needs: film and caul cut and clean, press set, the way to it clear."
_GRAIN_G = 1e-6


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
class Stock:
    """What the new batches take of resin and hardener, what is missing, and in which step the mix would run out."""

    needed_g: tuple[float, float]
    short_g: tuple[float, float]
    runs_out_in: int | None

    @property
    def suffices(self) -> bool:
        """Say whether both cans hold enough."""
        return max(self.short_g) == 0.0


@dataclass(frozen=True, slots=True)
class Replan:
    """The rest of the day. Times in `split` count from now; `press_by_s` and `closed_s` on the session's own clock."""

    split: Split
    fits: bool
    in_time: bool
    """Whether the clocks alone let it close; `fits` and `verdict` want enough in the cans as well."""
    verdict: Word
    limit: Limit | None
    stock: Stock
    closed_s: float | None
    press_by_s: float | None
    savers: tuple[Remedy, ...]
    advice: tuple[str, ...]


def replan(case: Case, state: DayState) -> Replan:
    """Plan what is left of a running day.

    Parameters
    ----------
    case : Case
        Part, resin and the shop as it is now [-]
    state : DayState
        What is done, what is in hand, and what is left in the cans [-]

    Returns
    -------
    Replan
        New batches, whether the stock reaches, by when to press, and what saves most if it cannot be done [s, g]

    Raises
    ------
    RangeError
        A number out of range.

    Notes
    -----
    Cups in hand are laid first, in the order given, each before its own limit; the next batch is mixed meanwhile, or
    after them if one person works alone. The press must be closed before the first of all mix on the part may set.
    Where mixing would take most of the time to the closing, no batches are proposed.
    """
    rest = _rest(case, state)
    stock = _stock(case, state, rest)
    savers: tuple[Remedy, ...] = ()
    if not rest.fit.works:

        def judge(changed: Case) -> tuple[Word, float | None]:
            tried = _rest(changed, replace(state, people=changed.plan.crew.people))
            return tried.fit.word, tried.limit.margin_s if tried.limit else None

        here = _with_people(case, state.people)
        kinds = (proposal for proposal in proposals(here, None, {}) if proposal[0] in ON_THE_DAY)
        savers = best_remedies(here, judge, kinds)
    rescue = rescue_of(case.plan, state.people, state.done, state.in_cup, state.on_part)
    closed, press_by = rest.split.closed_s, rest.split.press_by_s
    return Replan(
        split=rest.split,
        fits=rest.fit.works and stock.suffices,
        in_time=rest.fit.works,
        verdict=rest.fit.word if stock.suffices else "does not fit",
        limit=rest.limit,
        stock=stock,
        closed_s=None if closed is None else state.now_s + closed,
        press_by_s=None if press_by is None else state.now_s + press_by,
        savers=savers,
        advice=_advice(case, rest, stock, savers, rescue),
    )


def rescue_of(
    plan: Plan, people: int, done: Mapping[int, float], in_cup: Sequence[object], on_part: Sequence[OnPart]
) -> Rescue:
    """Return what saves most of a day if its stack cannot be closed in time.

    Parameters
    ----------
    plan : Plan
        The part [-]
    people : int
        Who is there, 1 or more [-]
    done : Mapping[int, float]
        Share of each step that is done, 0 to 1, by step number [-]
    in_cup : Sequence[object]
        The batches that stand in their cups [-]
    on_part : Sequence[OnPart]
        The batches all laid [-]

    Returns
    -------
    Rescue
        As `saves_most` has it [-]
    """
    crew = replace(plan.crew, people=people)
    first = min(on_part, key=lambda batch: batch.open_within_s, default=None)
    open_s = None if first is None else (first.open_within_s, first.shut_within_s)
    return saves_most(plan.steps, crew, plan.closing.bench_s, OnTheBench(done, bool(in_cup), open_s))


@dataclass(frozen=True, slots=True)
class _Rest:
    """The rest of the day as far as the clocks go."""

    job: Job
    split: Split
    limit: Limit | None
    fit: Fit


def _with_people(case: Case, people: int) -> Case:
    return replace(case, plan=replace(case.plan, crew=replace(case.plan.crew, people=people)))


def _rest(case: Case, state: DayState) -> _Rest:
    """Lay what is in hand, then split the rest."""
    case = _with_people(case, state.people)
    grams = budget(case.plan, case.datasheet)
    whole = job_of(case.plan, grams, case.datasheet, done=state.done)
    hands, left = _lay(whole.work, [cup.left_g for cup in state.in_cup])
    pace, last = whole.pace, not left.portions
    elapsed = [pace.elapsed_s(done, hands.work_s, last=last) for done in hands.emptied_s]
    open_within = [cup.open_within_s for cup in state.in_cup] + [batch.open_within_s for batch in state.on_part]
    job = replace(
        whole,
        work=left,
        ready_s=pace.span_s(hands.work_s, last=last),
        close_by_s=min(open_within, default=float("inf")),
        first_batch=state.first_batch,
    )
    split = kept_up(split_batches(job, clocks_at(case, job, case.shop)), job)
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


@dataclass(frozen=True, slots=True)
class _Hands:
    """The work with the cups in hand, for one pair of hands: all of it, and what empties each cup."""

    work_s: float
    emptied_s: tuple[float, ...]


def _lay(work: Work, cups_g: Sequence[float]) -> tuple[_Hands, Work]:
    """Lay cups one after the other, the dry work before and between included; return that work and what is left."""
    done, emptied, queue = work.lead_s, [], list(work.portions)
    for left in cups_g:
        empty = done
        while left > _GRAIN_G and queue:
            portion = queue.pop(0)
            if portion.laid_g > left + _GRAIN_G:
                share = left / portion.laid_g
                queue.insert(0, _rest_of(portion, share))
                portion = replace(portion, laid_g=left, work_s=portion.work_s * share, dry=())
            left -= portion.laid_g
            empty = done + portion.work_s
            done = empty + portion.after_s
        emptied.append(empty)
    return _Hands(done, tuple(emptied)), Work(tuple(queue))


def _rest_of(portion: Portion, share: float) -> Portion:
    """Return what is left of a portion once `share` of it is laid."""
    return replace(
        portion,
        begin=portion.begin + share * (portion.end - portion.begin),
        laid_g=portion.laid_g * (1.0 - share),
        work_s=portion.work_s * (1.0 - share),
    )


def _hand_limit(cup: InCup, took_s: float) -> Limit:
    margin = cup.empty_within_s - took_s
    if margin >= 0.0:
        words = f"Tightest is batch {cup.batch}, in its cup: it is laid {minutes(margin)} before it must be."
    else:
        words = f"Batch {cup.batch} must leave its cup {minutes(-margin)} before all of it can be laid."
    return Limit("cup", cup.batch, margin, words)


def _stock(case: Case, state: DayState, rest: _Rest) -> Stock:
    """Compare the new batches with what is left in the cans."""
    parts = parts_by_mass(case.datasheet)
    masses = [batch.mass_g for batch in rest.split.batches]
    if not masses and rest.job.work.portions:  # no batch of an allowed mass: the grams are needed all the same
        masses = [rest.job.work.laid_g + rest.job.loss_g]
    resin, hardener = (sum(masses) * part / sum(parts) for part in parts)
    short = max(0.0, resin - state.resin_g), max(0.0, hardener - state.hardener_g)
    if max(short) <= _GRAIN_G:
        return Stock((resin, hardener), (0.0, 0.0), None)
    reach = min(state.resin_g / parts[0], state.hardener_g / parts[1]) * sum(parts)
    return Stock((resin, hardener), short, _step_short_of_mix(rest, reach))


def _step_short_of_mix(rest: _Rest, reach_g: float) -> int:
    """Return the first step that `reach_g` of mix does not finish."""
    for batch in rest.split.batches:
        reach_g -= rest.job.loss_g
        for share in batch.shares:
            reach_g -= share.laid_g
            if reach_g < 0.0:
                return share.step
    return rest.job.work.portions[-1].step


def _advice(case: Case, rest: _Rest, stock: Stock, savers: tuple[Remedy, ...], rescue: Rescue) -> tuple[str, ...]:
    """Say what to do, the most urgent first."""
    said = []
    if not rest.fit.works:
        said.append(rest.limit.words if rest.limit else "The rest cannot be laid in time.")
        if savers and savers[0].fits and not rescue.urgent:
            said.append(f"This makes it fit: {savers[0].words}")
        else:
            said.append(f"What saves most: {rescue.words}.")
    if not stock.suffices and stock.runs_out_in is not None:
        names = [
            f"{short:.0f} g of {name}"
            for short, name in zip(stock.short_g, ("resin", "hardener"), strict=True)
            if short
        ]
        said.append(
            f"The cans lack {' and '.join(names)}: the mix does not reach the end of "
            f"'{case.plan.steps[stock.runs_out_in].name}'. Fetch more now; never stretch it by changing the ratio."
        )
    said += left_over_words(rest.split)
    slack = rest.limit.margin_s if rest.limit else None
    if rest.job.work.portions and (slack is None or slack < SHORT_S):
        said.append(READY)
    return tuple(said)
