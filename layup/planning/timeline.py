"""The press day as rows of a picture: every step, every batch, the closing, and by when the press must be closed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from layup.planning.clocks import Clocks
from layup.planning.job import Job
from layup.planning.schedule import Batch, Split
from layup.planning.stack import Plan

SpanKind = Literal["weighing", "stirring", "in the cup", "on the part", "laying", "dry work", "closing"]


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one row, from the start of the first weighing; dry work before that has times below zero."""

    kind: SpanKind
    begin_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the picture. `limits_s` are the times to mark on it: the cup's end, then the end of its open life."""

    label: str
    spans: tuple[Span, ...]
    step: int | None = None
    batch: int | None = None
    limits_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Timeline:
    """The day in rows, and by when the press must be closed: the 80 % band's low edge, its middle and its high edge."""

    batches: tuple[Row, ...]
    steps: tuple[Row, ...]
    closing: Row
    closed_s: float
    press_by_s: float
    press_by_mid_s: float
    press_by_high_s: float


def timeline(plan: Plan, job: Job, split: Split, clocks: Clocks) -> Timeline | None:
    """Lay out the day of a split.

    Parameters
    ----------
    plan : Plan
        The part and the names of its steps [-]
    job : Job
        What was split [-]
    split : Split
        Its batches [-]
    clocks : Clocks
        How long a batch lasts in the cup and on the part [-]

    Returns
    -------
    Timeline | None
        Rows and times from the start of the first weighing; None for a split without batches [s]

    Notes
    -----
    Times to lay are even within a step. "Press by" is the earliest, over all batches, of first contact plus open life.
    """
    if not split.batches or split.closed_s is None or split.press_by_s is None:
        return None
    bands = [(batch.contact_s, clocks.spread(batch.mass_g).open_band_s(batch.held_s)) for batch in split.batches]
    return Timeline(
        batches=tuple(_batch_row(batch, split.closed_s) for batch in split.batches),
        steps=_step_rows(plan, job, split),
        closing=Row(
            "Close the press", (Span("closing", split.closed_s - job.closing_s / job.pace.full, split.closed_s),)
        ),
        closed_s=split.closed_s,
        press_by_s=split.press_by_s,
        press_by_mid_s=min(contact + mid for contact, (_, mid, _) in bands),
        press_by_high_s=min(contact + high for contact, (_, _, high) in bands),
    )


def _batch_row(batch: Batch, closed_s: float) -> Row:
    spans = (
        Span("weighing", batch.weigh_s, batch.contact_s),
        Span("stirring", batch.contact_s, batch.lay_s),
        Span("in the cup", batch.lay_s, batch.emptied_s),
        Span("on the part", batch.emptied_s, closed_s),
    )
    limits = (batch.contact_s + batch.cup.empty_by_s, batch.press_by_s)
    return Row(f"Batch {batch.number}", spans, batch=batch.number, limits_s=limits)


def _step_rows(plan: Plan, job: Job, split: Split) -> tuple[Row, ...]:
    """Return one row for each step that takes time today, in bench order."""
    spans: dict[int, list[Span]] = {}

    def add(step: int, kind: SpanKind, begin_s: float, end_s: float) -> None:
        """Add a stretch to a step, joined to the one before where it follows it at once."""
        row = spans.setdefault(step, [])
        if row and row[-1].kind == kind and abs(row[-1].end_s - begin_s) < 1e-6:
            begin_s = row.pop().begin_s
        row.append(Span(kind, begin_s, end_s))

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
