"""Split a job into batches: the fewest that all leave their cup and reach the press in time, with the most to spare.

The press day as rows of a picture: every step, every batch, the closing, and by when the press must be closed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from math import inf
from typing import Literal, NamedTuple

from layup.chemistry.uncertainty import Band
from layup.planning.clocks import LifeTable
from layup.planning.crew import Job
from layup.planning.plan import Plan
from layup.planning.schedule import Batch, Split, follow, kept_up, nothing_fits

# -- batches ---------------------------------------------------------------------------------------------------------

MOST_BATCHES = 30
"""More than one bench can keep apart."""


_Segment = tuple[int, float, float, float]
"""One possible batch: the portion after its last, the margin of its cup, how long after its first laying the press may
close, and how long hands wait for it [s]. There are hundreds for each shop that is tried, so they have no names."""


class _Ways(NamedTuple):
    """Every batch of an allowed mass, in rows from each portion on; none of it depends on the resin or the shop."""

    starts: tuple[float, ...]
    """The work before each portion, and all of it at the end [s of one pair of hands]."""
    rows: tuple[tuple[tuple[int, float], ...], ...]
    """Where it ends, and how long hands wait for it [s]."""
    masses_g: tuple[float, ...]
    """Of all rows in turn, as the times in the cup."""
    held_s: tuple[float, ...]


class _Tail(NamedTuple):
    """One way to split the work from some portion on: hands wait `wait_s` in all, the smallest margin is `margin_s`."""

    wait_s: float
    margin_s: float
    end: int
    next: _Tail | None


def split_batches(job: Job, clocks: LifeTable) -> Split:
    """Split a job into the fewest batches that fit, and among those give the worst of them the most time to spare.

    The batches with their times and margins; if nothing fits, the split that misses by least, and why.

    A batch is a run of portions in bench order. It fits if its cup is empty in time, if all of its mix is still open
    when the press is closed (both `LifeTable.limits_s`), and if it weighs no less than the scale can weigh within 2 %
    and no more than the largest cup. Exact, by dynamic programming from the last portion back over the batches left:
    what is kept for each portion are the tails of which none is better in both the waiting it adds and its smallest
    margin. Only if no split keeps within these masses may a batch be mixed larger than it is laid, so that the
    scale can weigh it. Batches that fit, and that nobody could keep up with mixing, are not proposed. Times count from
    the start of the first weighing.
    """
    if not job.work.portions:
        return follow(job, clocks, ())
    for tried in (job, replace(job, padded=True)):
        best = _best(tried, clocks)
        if best is not None:
            split = follow(tried, clocks, _ends(best))
            return kept_up(split, tried) if split.fits else split
    return nothing_fits(job, MOST_BATCHES)


def _best(job: Job, clocks: LifeTable) -> _Tail | None:
    """Return the best way to split the whole work; None if there is none of allowed masses."""
    portions = job.work.portions
    ways = _ways(job)
    starts = ways.starts
    inner, final = _segments(ways, clocks, job.pace.stirring_s)
    fastest = [(starts[-1] - start + job.closing_s) / job.pace.full for start in starts]
    rooms = [room for _, _, room, _ in (*inner[0], *final[0])]
    best: tuple[float, _Tail] | None = None
    tails: list[list[_Tail]] = [*([] for _ in portions), [_Tail(0.0, inf, len(portions), None)]]
    for batches in range(1, min(MOST_BATCHES, len(portions)) + 1):
        mixing = (batches - 1) * job.pace.batch_cost_s
        segments = final if batches == 1 else inner
        if best is not None and max(rooms) - fastest[0] - mixing <= best[0]:
            break
        least = -inf if best is None else best[0]
        whole = _front(segments[0], tails, fastest[0] + mixing, least)
        for tail in whole:
            margin = min(tail.margin_s, job.close_by_s - job.ready_s - fastest[0] - mixing - tail.wait_s)
            if best is None or margin > best[0]:
                best = (margin, tail)
        if best is not None and best[0] >= 0.0:
            break
        least = -inf if best is None else best[0]
        later = [_front(segments[i], tails, fastest[i] + mixing, least) for i in range(1, len(portions))]
        if not any(later):
            break
        tails = [[], *later, []]
    return best[1] if best is not None else None


def _ends(tail: _Tail) -> tuple[int, ...]:
    """Return the portion at which each batch ends."""
    ends = [tail.end]
    while tail.next is not None and tail.next.next is not None:
        tail = tail.next
        ends.append(tail.end)
    return tuple(ends)


@lru_cache(maxsize=8)
def _ways(job: Job) -> _Ways:
    """Return every batch of an allowed mass; kept while resin and shop are varied."""
    pace, portions = job.pace, job.work.portions
    after = [portion.after_s for portion in portions]
    starts = [0.0, *accumulate(portion.work_s + dry_s for portion, dry_s in zip(portions, after, strict=True))]
    rows, masses_g, held_s = [], [], []
    for begin in range(len(portions)):
        laid, row = 0.0, []
        for end in range(begin + 1, len(portions) + 1):
            laid += portions[end - 1].laid_g
            mass = job.mass_g(laid)
            if mass is None:
                continue
            last = end == len(portions)
            work = starts[end] - starts[begin]
            row.append((end, 0.0 if last else pace.wait_s(work)))
            masses_g.append(mass)
            held_s.append(pace.stirring_s + pace.elapsed_s(work - after[end - 1], work, last=last))
        rows.append(tuple(row))
    return _Ways(tuple(starts), tuple(rows), tuple(masses_g), tuple(held_s))


def _segments(ways: _Ways, clocks: LifeTable, stirring_s: float) -> tuple[list[list[_Segment]], list[list[_Segment]]]:
    """Return every allowed batch from each portion on: those with another after them, and the last ones."""
    count = len(ways.rows)
    inner: list[list[_Segment]] = []
    final: list[list[_Segment]] = []
    limits = zip(clocks.limits_s(ways.masses_g, ways.held_s), ways.held_s, strict=True)
    for row in ways.rows:
        timed = [
            (end, empty_by - held, open_low - stirring_s, wait)
            for (end, wait), ((empty_by, open_low), held) in zip(row, limits, strict=False)
        ]
        ends = bool(timed) and timed[-1][0] == count
        inner.append(timed[:-1] if ends else timed)
        final.append(timed[-1:] if ends else [])
    return inner, final


def _front(
    segments: Sequence[_Segment], tails: Sequence[Sequence[_Tail]], to_closing_s: float, least_s: float
) -> list[_Tail]:
    """Return the best tails that begin with one of `segments`, those with a margin above `least_s`.

    `to_closing_s` is the time to the closing but waits. A margin only shrinks with what comes before: a tail without
    more than a whole split has already is of no use.
    """
    found: list[_Tail] = []
    for end, cup_margin, room, wait in segments:
        if cup_margin <= least_s or room - to_closing_s <= least_s:
            continue
        for tail in tails[end]:
            waits = wait + tail.wait_s
            margin = min(cup_margin, room - to_closing_s - waits, tail.margin_s)
            if margin <= least_s:
                continue
            if not found or (waits == 0.0 and found[0].wait_s == 0.0 and len(found) == 1):
                if not found or margin > found[0].margin_s:
                    found = [_Tail(waits, margin, end, tail)]
            elif not any(one.wait_s <= waits and one.margin_s >= margin for one in found):
                found = [one for one in found if one.wait_s < waits or one.margin_s > margin]
                found.append(_Tail(waits, margin, end, tail))
    return found


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
