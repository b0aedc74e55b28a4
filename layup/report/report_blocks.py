"""What a report says of one session, as blocks: the verdict, the findings, the day, what was built, the log."""

from __future__ import annotations

from collections.abc import Iterator

from layup.planning.schedule import minutes
from layup.report.charts import Block, Heading, Paragraph, Points, Table, day_chart, spare_chart, temperature_charts
from layup.review.as_built import AsBuilt, Estimate
from layup.review.evidence import DEFECTS, Finding
from layup.review.review import Review
from layup.review.timeline import BatchTrack, StepTrack

ESTIMATE = "Every time that is foretold is an estimate; bands hold in four cases out of five."
CARE = "Of a resin and its hardener the safety data sheets come first, whatever is said here."


def report_blocks(review: Review) -> tuple[Block, ...]:
    """Return the report of a session."""
    return tuple(_blocks(review))


def _blocks(review: Review) -> Iterator[Block]:
    state = review.kept.state
    yield Heading(state.start.title if state.start else review.kept.name, 1)
    yield Paragraph(_head(review))
    yield Paragraph(sentence(review.verdict), strong=True)
    yield from _outcome(review)
    yield from _findings(review)
    yield from _day(review)
    if review.as_built is not None:
        yield from _built(review.as_built)
    yield from _log(review)
    yield Heading("Taken for granted")
    yield Points((*review.assumptions, ESTIMATE, CARE))


def sentence(words: str) -> str:
    """Return words as a sentence."""
    whole = words[:1].upper() + words[1:]
    return whole if whole.endswith((".", "!", "?")) else f"{whole}."


def _head(review: Review) -> str:
    state = review.kept.state
    begun = f"{state.started_at:%Y-%m-%d %H:%M} UTC" if state.started_at else "not begun"
    if state.start is None:
        return f"{review.kept.name}, {begun}"
    return (
        f"{review.kept.name}, begun {begun}: {state.start.pieces} pieces of {state.start.resin}, "
        f"{state.start.people} at the bench, {len(state.batches)} batches."
    )


def _outcome(review: Review) -> Iterator[Block]:
    outcome = review.kept.state.outcome
    if outcome is None:
        return
    said = [f"{tag}: {DEFECTS[tag].words}" if tag in DEFECTS else tag for tag in outcome.tags]
    yield Paragraph("Outcome: " + ("; ".join(said) or "noted") + ".")
    if outcome.notes:
        yield Paragraph(outcome.notes)


def _findings(review: Review) -> Iterator[Block]:
    if not review.findings and not review.defects:
        return
    yield Heading("Findings")
    for number, finding in enumerate(review.findings, 1):
        yield from _finding(number, finding)
    if review.unexplained:
        yield Paragraph(f"No cause found for: {', '.join(review.unexplained)}. These entries would have told:")
        yield Points(tuple(f"{missing.entry}: {missing.tells}" for missing in review.missing))


def _finding(number: int, finding: Finding) -> Iterator[Block]:
    yield Heading(f"{number}. {sentence(finding.kind)[:-1]} ({finding.certainty})", 3)
    yield Paragraph(" ".join((finding.words, *finding.also)), strong=True)
    yield Points(
        (
            f"Effect: {finding.effect}",
            f"Change: {finding.change}",
            "Seen in: "
            + "; ".join(f"entry {one.seq} at {one.at_s / 60:.0f} min, {one.words}" for one in finding.evidence),
        )
    )


def _day(review: Review) -> Iterator[Block]:
    track = review.track
    if track is None:
        return
    yield Heading("The day")
    yield day_chart(track)
    yield from filter(None, [spare_chart(track), *temperature_charts(review.kept.state)])
    numbers = frozenset(
        {"planned", "real", "over", "mass", "planned mass", "hardener", "in cup", "cup spare", "part spare"}
    )
    yield Table(
        ("step", "name", "planned", "real", "over"), tuple(_step_row(step) for step in track.steps), numbers=numbers
    )
    yield Table(
        ("batch", "planned mass", "mass", "hardener", "in cup", "cup spare", "part spare", "went"),
        tuple(_batch_row(batch) for batch in track.batches),
        numbers=numbers,
    )


def _step_row(step: StepTrack) -> tuple[str, ...]:
    real = "-" if step.real is None else f"{step.real.took_s / 60:.1f} min"
    over = "-" if step.over_s is None else f"{round(step.over_s / 60, 1) + 0.0:+.1f} min"
    return str(step.number), step.name, f"{step.planned.took_s / 60:.1f} min", real, over


def _batch_row(batch: BatchTrack) -> tuple[str, ...]:
    if batch.contact_s is None:
        return str(batch.number), f"{batch.planned_g:.0f} g", "-", "-", "-", "-", "-", "not mixed"
    held = "-" if batch.left_cup_s is None else f"{(batch.left_cup_s - batch.contact_s) / 60:.0f} min"
    off = "-" if batch.off_ratio is None else f"{100 * batch.off_ratio:+.1f} %"
    return (
        *(str(batch.number), f"{batch.planned_g:.0f} g", f"{batch.mass_g:.0f} g", off, held),
        *(spare_words(batch.cup_left_s), spare_words(batch.part_left_s), batch.went),
    )


def spare_words(time_s: float | None) -> str:
    """Return time to spare in words; below zero it was over."""
    return "-" if time_s is None else f"{time_s / 60:.0f} min" if time_s >= 0 else f"{-time_s / 60:.0f} min over"


def _built(built: AsBuilt) -> Iterator[Block]:
    yield Heading("As built")
    head = "way", "fibre by weight", "fibre by volume", "voids"
    rows = [("aimed at", f"{100 * built.target_by_mass:.1f} %", f"{100 * built.target_by_volume:.1f} %", "-")]
    rows += [(m.way, percent(m.by_mass), percent(m.by_volume), percent(m.voids)) for m in built.measured]
    yield Table(head, tuple(rows), numbers=frozenset(head[1:]))
    if built.resin is not None:
        resin = built.resin
        left = "not weighed" if resin.left is None else f"{grams(resin.left)} left in cups and brushes"
        out = "driven out" if resin.left is not None else "driven out or left"
        yield Points(
            (
                f"{grams(resin.mixed)} mixed, {left}.",
                f"{grams(resin.kept)} kept in the part, where {resin.planned_kept_g:.0f} g were planned.",
                f"{grams(resin.out)} {out}"
                + ("." if resin.squeezed_share is None else f", {percent(resin.squeezed_share)} of what was laid."),
            )
        )
    if built.words:
        yield Points(tuple(sentence(words) for words in built.words))


def percent(estimate: Estimate | None) -> str:
    """Return a share with its uncertainty, in per cent."""
    return "-" if estimate is None else f"{100 * estimate.value:.1f} % ± {100 * estimate.sd:.1f} %"


def grams(estimate: Estimate) -> str:
    """Return a mass with its uncertainty."""
    return f"{estimate.value:.0f} ± {estimate.sd:.1f} g"


def _log(review: Review) -> Iterator[Block]:
    state = review.kept.state
    yield Heading("The log")
    if review.problems:
        yield Points(tuple(str(problem) for problem in review.problems))
    void = {misfit.seq: misfit.why for misfit in state.misfits}
    rows = []
    for record in state.records:
        remark = "taken back" if record.seq in state.cancelled else void.get(record.seq, "")
        rows.append((str(record.seq), f"{record.elapsed_s / 60:.1f}", record.describe_in(state), remark))
    yield Table(("entry", "min", "what", "remark"), tuple(rows), numbers=frozenset({"entry", "min"}))
    if state.closed_s is not None and state.demoulded_s is not None:
        yield Paragraph(f"In the mould for {minutes(state.demoulded_s - state.closed_s)}.")
