"""The times of a split: when each batch is weighed, laid and done, and what it has to spare.

The press day as rows of a picture: every step, every batch, the closing, and by when the press must be closed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal, NamedTuple

from layup.chemistry.mixing import split_mass
from layup.chemistry.uncertainty import Band
from layup.planning.clocks import CupLife, LifeTable
from layup.planning.crew import Job, Portion
from layup.planning.plan import Plan
from layup.units import in_minutes, mass, minutes

# -- schedule --------------------------------------------------------------------------------------------------------

LimitKind = Literal["cup", "part", "press", "mixing", "cup size", "scale"]
"""What is tightest: a cup that thickens, mix that sets on the part, the press for what is mixed already, the one who
mixes, the largest cup, or the scale."""


@dataclass(frozen=True, slots=True)
class Share:
    """What one batch lays of a step: from `begin` to `end` (0..1) of it."""

    step: int
    begin: float
    end: float
    laid_g: float


MOST_MIXING, MOST_MIXING_ALONE = 2.0 / 3.0, 0.4
"""Share of the time to the closing that one of several, or somebody alone, may mix: with more, no hand is free for
clocks, cups and the bench (common practice, no source)."""
LEAST_LEFT_OVER_g = 1.0
"""Less mix than this left over in a cup is not worth a word."""


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch: what it weighs, what it lays, its times from the start of the first weighing, and its margins.

    `cup_margin_s` is from the empty cup to the latest it may be; `part_margin_s` from the closed press to the end of
    its open life. Both are at the low edge of the 80 % band.
    """

    number: int
    end: int
    """The portion of the job's work after its last."""
    shares: tuple[Share, ...]
    mass_g: float
    laid_g: float
    left_over_g: float
    """Mixed beyond what is laid and what stays in the cup, because the scale cannot weigh less within 2 %."""
    parts_g: tuple[float, ...]
    weigh_s: float
    contact_s: float
    lay_s: float
    emptied_s: float
    done_s: float
    cup: CupLife
    open_low_s: float
    cup_margin_s: float
    part_margin_s: float

    @property
    def held_s(self) -> float:
        """Return how long the cup is in use, from first contact [s]."""
        return self.emptied_s - self.contact_s

    @property
    def press_by_s(self) -> float:
        """Return when the press must be closed for this batch [s]."""
        return self.contact_s + self.open_low_s


@dataclass(frozen=True, slots=True)
class Limit:
    """The tightest constraint, in words; `margin_s` is below zero where it is not met, None where it is no time."""

    kind: LimitKind
    batch: int | None
    margin_s: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Split:
    """A job in batches. `closed_s` is when the press is closed, `press_by_s` when it must be."""

    batches: tuple[Batch, ...]
    fits: bool
    limit: Limit | None
    closed_s: float | None
    press_by_s: float | None

    @property
    def slack_s(self) -> float | None:
        """Return the margin of the tightest constraint [s]; None where no batch has an allowed mass."""
        return self.limit.margin_s if self.limit else None

    @property
    def left_over_g(self) -> float:
        """Return what is mixed beyond what the batches lay and lose [g]."""
        return sum(batch.left_over_g for batch in self.batches)


def follow(job: Job, clocks: LifeTable, ends: Sequence[int]) -> Split:
    """Work out the times and margins of a split."""
    pace, portions = job.pace, job.work.portions
    spans = [portions[begin:end] for begin, end in zip([0, *ends], ends, strict=False)]
    cups = [_cup_of(job, span, end) for span, end in zip(spans, ends, strict=True)]
    lay, lays = job.ready_s, []
    for number, cup in enumerate(cups, 1):
        lays.append(lay)
        lay += pace.span_s(cup.work_s, last=number == len(cups))
    closed = lay + job.closing_s / pace.full
    limits_s = clocks.limits_s([cup.mass_g for cup in cups], [cup.held_s for cup in cups])
    batches = tuple(
        _batch(job, cup, clocks.cup(cup.mass_g), limit_s, number, start, closed)
        for number, (cup, limit_s, start) in enumerate(zip(cups, limits_s, lays, strict=True), job.first_batch)
    )
    limit = _tightest(batches, job.close_by_s - closed)
    press_by = min([batch.press_by_s for batch in batches] + [job.close_by_s])
    return Split(
        batches,
        fits=limit is None or limit.margin_s is None or limit.margin_s >= 0.0,
        limit=limit,
        closed_s=closed,
        press_by_s=press_by if press_by < float("inf") else None,
    )


def kept_up(split: Split, job: Job) -> Split:
    """Return a split, or one without batches where nobody can keep up with mixing them, from the first weighing on."""
    if split.closed_s is None or len(split.batches) < 2:
        return split
    count, mixing_s = len(split.batches), len(split.batches) * job.pace.mixing_s
    most, day_s = MOST_MIXING if job.pace.beside else MOST_MIXING_ALONE, split.closed_s - split.batches[0].weigh_s
    margin_s = most * day_s - mixing_s
    if margin_s >= 0.0:
        return split
    words = (
        f"It would take {count} small batches, and {minutes(mixing_s)} of mixing in the {minutes(day_s)} to "
        "the closing: more than can be kept up (common practice, no source)."
    )
    limit = Limit("mixing", None, margin_s, words) if split.fits else split.limit
    return Split((), False, limit, None, split.press_by_s)


def nothing_fits(job: Job, most_batches: int) -> Split:
    """Say why no batches of allowed masses cover the work."""
    kind: LimitKind = "cup size"
    room_g = job.largest_g - job.loss_g
    if job.largest_g < job.smallest_g:
        kind = "scale"
        words = (
            f"The scale weighs no batch below {mass(job.smallest_g)} within 2 %, but the largest cup holds "
            f"{mass(job.largest_g)}: use a finer scale or a larger cup."
        )
    elif room_g <= 0.0:
        words = (
            f"The largest cup holds {mass(job.largest_g)}, no more than the {mass(job.loss_g)} that stay in cup, brush "
            "and roller: use a larger one."
        )
    else:
        words = (
            f"Laying {mass(job.work.laid_g)} from cups of {mass(job.largest_g)} takes more than {most_batches} "
            "batches, more than one bench can keep apart: use larger cups, or lay up fewer pieces at a time."
        )
    return Split((), False, Limit(kind, None, None, words), None, None)


def left_over_words(split: Split) -> tuple[str, ...]:
    """Warn of mix that stays in its cup once all of the batch is laid, and say why it is mixed at all.

    Sentences; none where little or nothing stays.
    """
    left = [batch for batch in split.batches if batch.left_over_g >= LEAST_LEFT_OVER_g]
    if not left:
        return ()
    which = " and ".join(filter(None, (", ".join(str(one.number) for one in left[:-1]), str(left[-1].number))))
    said = f"Batches {which} are" if len(left) > 1 else f"Batch {which} is"
    most = max(batch.left_over_g for batch in left)
    least = f"the scale weighs none below {mass(max(one.mass_g for one in left))}"
    return (f"{said} larger than laid, {least}: up to {mass(most)} stay. Spread thin: left in its cup it may smoke.",)


class _Cup(NamedTuple):
    """What one batch lays, before it is known when."""

    span: Sequence[Portion]
    end: int
    mass_g: float
    left_over_g: float
    held_s: float
    work_s: float
    last: bool


def _cup_of(job: Job, span: Sequence[Portion], end: int) -> _Cup:
    """Return what one batch lays, and how long some of it is in the cup."""
    work, last = sum(portion.work_s + portion.after_s for portion in span), end == len(job.work.portions)
    laid = sum(portion.laid_g for portion in span)
    needed = laid + job.loss_g
    mass = job.mass_g(laid) or needed
    held = job.pace.stirring_s + job.pace.elapsed_s(work - span[-1].after_s, work, last=last)
    return _Cup(span, end, mass, mass - needed, held, work, last)


def _batch(
    job: Job, cup: _Cup, life: CupLife, limits_s: tuple[float, float], number: int, lay_s: float, closed_s: float
) -> Batch:
    pace, (empty_by, open_low) = job.pace, limits_s
    contact = lay_s - pace.stirring_s
    return Batch(
        number=number,
        end=cup.end,
        shares=_shares(cup.span),
        mass_g=cup.mass_g,
        laid_g=sum(portion.laid_g for portion in cup.span),
        left_over_g=cup.left_over_g,
        parts_g=split_mass(cup.mass_g, job.parts),
        weigh_s=lay_s - pace.mixing_s,
        contact_s=contact,
        lay_s=lay_s,
        emptied_s=contact + cup.held_s,
        done_s=lay_s + pace.elapsed_s(cup.work_s, cup.work_s, last=cup.last),
        cup=life,
        open_low_s=open_low,
        cup_margin_s=empty_by - cup.held_s,
        part_margin_s=contact + open_low - closed_s,
    )


def _shares(span: Sequence[Portion]) -> tuple[Share, ...]:
    """Return the portions of a batch, joined where they follow each other in one step."""
    shares: list[Share] = []
    for portion in span:
        if shares and shares[-1].step == portion.step:
            before = shares.pop()
            shares.append(Share(portion.step, before.begin, portion.end, before.laid_g + portion.laid_g))
        else:
            shares.append(Share(portion.step, portion.begin, portion.end, portion.laid_g))
    return tuple(shares)


def _tightest(batches: Sequence[Batch], press_margin_s: float) -> Limit | None:
    """Return the limit with the least margin, in words; None where there is none."""
    margins: list[tuple[float, LimitKind, Batch | None]] = []
    for batch in batches:
        margins += ((batch.cup_margin_s, "cup", batch), (batch.part_margin_s, "part", batch))
    if press_margin_s < inf:
        margins.append((press_margin_s, "press", None))
    if not margins:
        return None
    margin_s, kind, tight = min(margins, key=lambda one: one[0])
    if tight is None:
        how = f": {minutes(margin_s)} spare." if margin_s >= 0.0 else f" may set {minutes(-margin_s)} before closing."
        return Limit(kind, None, margin_s, f"What is mixed{how}")
    if margin_s >= 0.0:
        words = f"Batch {tight.number}: {minutes(margin_s)} spare {'in its cup' if kind == 'cup' else 'on the part'}."
    elif kind == "cup":
        words = (
            f"Batch {tight.number}, {mass(tight.mass_g)}: its cup lasts {minutes(tight.held_s + margin_s)}, laying it "
            f"takes {minutes(tight.held_s)}."
        )
    else:
        words = f"Batch {tight.number} may set on the part {minutes(-margin_s)} before closing."
    return Limit(kind, tight.number, margin_s, words)


TIGHT_SHARE, TIGHT_S = 0.10, 300.0
"""Spare that is too little: this share of the life it is spare of, or this long (common practice, no source)."""


def tight_spare(split: Split) -> tuple[str, ...]:
    """Say which of a split's limits has too little to spare."""
    spares = [
        (margin_s, life_s, number, what)
        for batch in split.batches
        for margin_s, life_s, number, what in (
            (batch.cup_margin_s, batch.cup.life_s.low, batch.number, "in its cup"),
            (batch.part_margin_s, batch.open_low_s, batch.number, "on the part"),
        )
    ]
    if split.limit and split.limit.margin_s is not None and split.limit.batch is None:
        spares.append((split.limit.margin_s, 0.0, 0, ""))
    short = [spare for spare in spares if 0.0 <= spare[0] < max(TIGHT_S, TIGHT_SHARE * spare[1])]
    if not short:
        return ()
    margin_s, life_s, number, what = min(short)
    if not number:
        return (f"{minutes(margin_s)} spare, {in_minutes(TIGHT_S)} wanted.",)
    wanted = minutes(max(TIGHT_S, TIGHT_SHARE * life_s))
    return (f"Batch {number}: {minutes(margin_s)} spare {what}, {wanted} wanted.",)


# -- timeline --------------------------------------------------------------------------------------------------------

SpanKind = Literal["weighing", "stirring", "in the cup", "on the part", "laying", "dry work", "closing"]


@dataclass(frozen=True, slots=True)
class BarSpan:
    """A stretch of one row, from the start of the first weighing; dry work before that has times below zero."""

    kind: SpanKind
    begin_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the picture. `limits_s` are the times to mark on it: the cup's end, then the end of its open life."""

    label: str
    spans: tuple[BarSpan, ...]
    step: int | None = None
    batch: int | None = None
    limits_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Timeline:
    """The day in rows, and by when the press must be closed."""

    batches: tuple[Row, ...]
    steps: tuple[Row, ...]
    closing: Row
    closed_s: float
    press_by_s: Band


def timeline(plan: Plan, job: Job, split: Split, clocks: LifeTable) -> Timeline | None:
    """Lay out the day of a split.

    Rows and times from the start of the first weighing; None for a split without batches. Times to lay are even within
    a step. "Press by" is the earliest, over all batches, of first contact plus open life.
    """
    if not split.batches or split.closed_s is None or split.press_by_s is None:
        return None
    bands = [clocks.spread(batch.mass_g).open_band_s(batch.held_s).later(batch.contact_s) for batch in split.batches]
    return Timeline(
        batches=tuple(_batch_row(batch, split.closed_s) for batch in split.batches),
        steps=_step_rows(plan, job, split),
        closing=Row(
            "Close the press", (BarSpan("closing", split.closed_s - job.closing_s / job.pace.full, split.closed_s),)
        ),
        closed_s=split.closed_s,
        press_by_s=Band(split.press_by_s, min(band.likely for band in bands), min(band.high for band in bands)),
    )


def _batch_row(batch: Batch, closed_s: float) -> Row:
    spans = (
        BarSpan("weighing", batch.weigh_s, batch.contact_s),
        BarSpan("stirring", batch.contact_s, batch.lay_s),
        BarSpan("in the cup", batch.lay_s, batch.emptied_s),
        BarSpan("on the part", batch.emptied_s, closed_s),
    )
    limits = (batch.contact_s + batch.cup.empty_by_s, batch.press_by_s)
    return Row(f"Batch {batch.number}", spans, batch=batch.number, limits_s=limits)


def _step_rows(plan: Plan, job: Job, split: Split) -> tuple[Row, ...]:
    """Return one row for each step that takes time today, in bench order."""
    spans: dict[int, list[BarSpan]] = {}

    def add(step: int, kind: SpanKind, begin_s: float, end_s: float) -> None:
        """Add a stretch to a step, joined to the one before where it follows it at once."""
        row = spans.setdefault(step, [])
        if row and row[-1].kind == kind and abs(row[-1].end_s - begin_s) < 1e-6:
            begin_s = row.pop().begin_s
        row.append(BarSpan(kind, begin_s, end_s))

    pace, lead = job.pace, -job.work.lead_s / job.pace.full
    for work in job.work.lead:
        add(work.step, "dry work", lead, lead + work.work_s / pace.full)
        lead += work.work_s / pace.full
    for begin, batch in zip([0, *(b.end for b in split.batches)], split.batches, strict=False):
        portions = job.work.portions[begin : batch.end]
        whole = sum(portion.work_s + portion.after_s for portion in portions)
        last = batch.end == len(job.work.portions)
        done = 0.0
        for portion in portions:
            parts: list[tuple[int, SpanKind, float]] = [(portion.step, "laying", portion.work_s)]
            parts += [(dry.step, "dry work", dry.work_s) for dry in portion.dry]
            for step, kind, work_s in parts:
                times = [batch.lay_s + pace.elapsed_s(w, whole, last=last) for w in (done, done + work_s)]
                add(step, kind, times[0], times[1])
                done += work_s
    return tuple(Row(plan.steps[step].name, tuple(row), step=step) for step, row in sorted(spans.items()))
