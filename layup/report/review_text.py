"""A review as lines of text: the verdict, the findings, the day as bars, what was built."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from layup.report.pictures import Span, bars, time_axis
from layup.report.report_blocks import grams, percent, sentence, spare_words
from layup.review.as_built import AsBuilt
from layup.review.evidence import Finding
from layup.review.review import Review
from layup.review.timeline import StepTrack, Track

PLANNED, REAL, IN_CUP, ON_PART = "·", "█", "▒", "▓"


def review_lines(found: Review, *, width: int) -> list[str]:
    """Return a whole review, the verdict first."""
    return list(_lines(found, width))


def _lines(found: Review, width: int) -> Iterator[str]:
    state = found.kept.state
    title = state.start.title if state.start else found.kept.name
    outcome = f"; outcome: {', '.join(state.outcome.tags)}" if state.outcome and state.outcome.tags else ""
    yield f"{title} ({found.kept.name}){outcome}"
    if not found.findings:
        yield sentence(found.verdict).upper()
    for problem in found.problems:
        yield from wrap(f"! {problem}", width)
    for number, finding in enumerate(found.findings, 1):
        yield ""
        yield from finding_lines(number, finding, width=width)
    if found.unexplained:
        yield ""
        yield from wrap(f"No cause found for: {', '.join(found.unexplained)}. These entries would have told:", width)
        for missing in found.missing:
            yield from wrap(f"- {missing.entry}: {missing.tells}", width, subsequent_indent="  ")
    if found.track is not None:
        yield ""
        yield from day_lines(found.track, width=width)
    if found.as_built is not None:
        yield ""
        yield from built_lines(found.as_built)


def finding_lines(number: int, finding: Finding, *, width: int) -> list[str]:
    """Return one finding: what happened, its effect, what to change, the entries that show it."""
    lines = [f"{number}. {finding.kind.upper()} ({finding.certainty})"]
    for words in (finding.words, *finding.also, finding.effect, f"Change: {finding.change}"):
        lines += wrap(words, width - 3, initial_indent="   ", subsequent_indent="   ")
    for one in finding.evidence:
        seen = f"entry {one.seq:>3} {one.at_s / 60:>6.1f} min  {one.words}"
        lines += wrap(seen, width - 3, initial_indent="   ", subsequent_indent=" " * 26)
    return lines


def day_lines(track: Track, *, width: int) -> list[str]:
    """Draw the day: each step and batch planned above real, over minutes from the session's start."""
    ends = [track.end_s, track.planned_closed_s or 0.0, *(step.planned.end_s for step in track.steps)]
    rows: list[tuple[str, list[Span]]] = []
    for step in track.steps:
        rows.append((step.name[:22], [_span(step.planned.begin_s, step.planned.end_s, PLANNED)]))
        rows.append((f"{_over(step):>22}", [_span(step.real.begin_s, step.real.end_s, REAL)] if step.real else []))
    for batch in track.batches:
        planned = [_span(batch.planned.begin_s, batch.planned.end_s, PLANNED)] if batch.planned else []
        rows.append((f"Batch {batch.number}", planned))
        real = []
        if batch.contact_s is not None:
            left_s = track.end_s if batch.left_cup_s is None else batch.left_cup_s
            real = [_span(batch.contact_s, left_s, IN_CUP)]
            real += [_span(left_s, track.end_s, ON_PART)] if batch.used else []
        rows.append((f"{spare_words(batch.cup_left_s):>22}" if batch.contact_s is not None else "", real))
    end_s = max([*ends, 60.0]) * 1.02
    lines = bars(rows, end=end_s, width=width, mark=track.closed_s)
    lines.append(time_axis(end_min=end_s / 60.0, width=width, label_width=max(len(label) for label, _ in rows) + 1))
    lines.append(f"{PLANNED} planned  {REAL} as it went  {IN_CUP} in the cup  {ON_PART} on the part  ┃ press closed")
    lines.append("beside a batch: what its cup had to spare when it was empty, by the early end of the 80 % band")
    return lines


def _over(step: StepTrack) -> str:
    """Return how late a step was, in whole minutes."""
    if step.over_s is None:
        return ""
    return "as planned" if abs(step.over_s) < 30.0 else f"{step.over_s / 60:+.0f} min"


def _span(begin_s: float, end_s: float, fill: str) -> Span:
    return Span(max(begin_s, 0.0), max(end_s, 0.0), fill)


def built_lines(built: AsBuilt) -> list[str]:
    """Return what was measured of the part, beside its plan."""
    lines = [f"{'as built':<12} {'fibre by weight':>17} {'by volume':>17} {'voids':>15}"]
    lines.append(
        f"{'aimed at':<12} {100 * built.target_by_mass:>15.1f} % {100 * built.target_by_volume:>15.1f} % {'-':>15}"
    )
    lines += [
        f"{m.way:<12} {percent(m.by_mass):>17} {percent(m.by_volume):>17} {percent(m.voids):>15}"
        for m in built.measured
    ]
    if built.resin is not None:
        resin = built.resin
        out = "driven out" if resin.left is not None else "driven out or left in cups"
        lines.append(
            f"mix: {grams(resin.mixed)} mixed, {grams(resin.kept)} kept (planned {resin.planned_kept_g:.0f} g), "
            f"{grams(resin.out)} {out}"
        )
    return lines
