"""What a report says of one session, as blocks and as lines: verdict, findings, the day, what was built, the log."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from layup.bench.afterwards import MEDIA, kept_photo
from layup.report.bars import table_lines
from layup.report.charts import (
    Block,
    EmbeddedPhoto,
    Heading,
    Paragraph,
    Points,
    Space,
    Table,
    cure_chart,
    day_picture,
)
from layup.report.day_axis import axis_lines
from layup.report.hindsight import (
    SIMULATED,
    Hindsight,
    NextPlan,
    changed_lines,
    changed_rows,
    decided_line,
    saving_line,
)
from layup.review.as_built import AsBuilt, Estimate
from layup.review.carried import carried_words
from layup.review.changed_days import ChangedDays
from layup.review.evidence import DEFECTS, MEANS, Finding
from layup.review.review import Review, rejected, verdict_line
from layup.review.timeline import BatchTrack, StepTrack, spare_words
from layup.session.recall import minute_of, told_rows
from layup.units import in_minutes, mass, minutes, spare_of, utc_stamp

# -- report blocks ---------------------------------------------------------------------------------------------------

ESTIMATE = "Every time that is foretold is an estimate; bands hold in four cases out of five."
CARE = "Of a resin and its hardener the safety data sheets come first, whatever is said here."


def report_blocks(review: Review, seen: Hindsight | None = None) -> Iterator[Block]:
    """Yield the report of a session, with what hindsight knows of it."""
    state = review.stored.state
    yield Heading(state.start.title if state.start else review.stored.name, 1)
    if not state.photos:
        yield Space("Photo of the part")
    yield Paragraph(_head(review))
    yield Paragraph(verdict_line(review), strong=True)
    if review.findings:
        worst = review.findings[0]
        yield Paragraph(f"Cause ({worst.certainty}): {worst.cause}. {worst.change}")
    if review.taught:
        yield Points(review.taught)
    yield from _outcome(review)
    yield from _photos(review)
    if state.recalled is not None:
        resin = state.resin_id
        yield Heading("What was told")
        yield Table(("question", "answer"), tuple(told_rows(state.recalled, resin)))
    elif review.track is not None:
        turned, changed = (None, None) if seen is None else (seen.decided, seen.changed)
        yield day_picture(review.track, state, turned, changed)
    yield from _findings(review)
    words = tuple(carried_words(state, () if seen is None else seen.carriers))
    if words:
        yield Heading("Next time")
        yield Points(words)
    if seen is not None:
        for line in filter(None, (saving_line(seen.changed), decided_line(seen))):
            yield Paragraph(line, strong=True)
        if seen.changed is not None and seen.changed.rows:
            yield Heading("The same day with one thing changed")
            yield Table(("change", "then"), tuple(changed_rows(seen.changed)), numbers=frozenset({"then"}))
            yield Paragraph(SIMULATED)
    yield from _day(review)
    if review.as_built is not None:
        yield from _built(review.as_built)
    yield from _log(review)
    yield Heading("Taken for granted")
    yield Points((*review.assumptions, ESTIMATE, CARE))


def sentence(words: str) -> str:
    whole = words[:1].upper() + words[1:]
    return whole if whole.endswith((".", "!", "?")) else f"{whole}."


def _head(review: Review) -> str:
    state = review.stored.state
    begun = utc_stamp(state.started_at) if state.started_at else "not begun"
    if state.start is None:
        return f"{review.stored.name}, {begun}"
    if state.recalled is not None:
        return f"{review.stored.name}, told from memory{f': {state.recalled.when}' if state.recalled.when else ''}."
    return (
        f"{review.stored.name}, begun {begun}: {state.start.pieces} pieces of {state.start.resin}, "
        f"{state.start.people} at the bench, {len(state.batches)} batches."
    )


def _outcome(review: Review) -> Iterator[Block]:
    outcome = review.stored.state.outcome
    if outcome is None:
        return
    said = [f"{tag}: {DEFECTS[tag].words}" if tag in DEFECTS else tag for tag in outcome.tags]
    yield Paragraph("Outcome: " + ("; ".join(said) or "noted") + ".")
    if outcome.notes:
        yield Paragraph(outcome.notes)


def _photos(review: Review) -> Iterator[Block]:
    """Yield the photos with their captions; of one that cannot be shown, why."""
    for entry in review.stored.state.photos:
        data, why = kept_photo(review.stored.folder, entry)
        missing = f" (not shown: the file {why})" if why else ""
        yield EmbeddedPhoto(data, MEDIA[entry.file.rpartition(".")[2]], f"{entry.caption or entry.file}{missing}")


def _findings(review: Review) -> Iterator[Block]:
    if not review.findings and not review.defects:
        return
    yield Heading("Findings")
    for number, finding in enumerate(review.findings, 1):
        entries = (f"entry {one.seq} at {in_minutes(one.at_s)}, {one.words}" for one in finding.evidence)
        yield Heading(f"{number}. {sentence(finding.cause)[:-1]} ({finding.certainty})", 3)
        yield Paragraph(" ".join((finding.words, *finding.also)), strong=True)
        yield Points(
            (f"Effect: {finding.effect}", f"Change: {finding.change}", f"Seen in: {'; '.join(entries)}"),
        )
    head, *missing = _unexplained(review) or [""]
    if head:
        yield Paragraph(head)
        yield Points(tuple(missing))


def _unexplained(found: Review) -> list[str]:
    """Return that no cause was found for some defects, then each entry that would have told of them."""
    if not found.unexplained:
        return []
    head = f"No cause found for: {', '.join(found.unexplained)}. These entries would have told:"
    return [head, *(f"{missing.entry}: {missing.tells}" for missing in found.missing)]


def _day(review: Review) -> Iterator[Block]:
    track = review.track
    if track is None or review.stored.state.recalled is not None:  # nobody told the times of a table
        return
    yield Heading("Times")
    yield from filter(None, [cure_chart(review.stored.state)])
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
    real = step.instead or "-" if step.real is None else in_minutes(step.real.took_s, ".1f")
    over = "-" if step.over_s is None else in_minutes(60.0 * (round(step.over_s / 60, 1) + 0.0), "+.1f")
    return str(step.number), step.name, in_minutes(step.planned.took_s, ".1f"), real, over


def _batch_row(batch: BatchTrack) -> tuple[str, ...]:
    if batch.contact_s is None:
        return str(batch.number), mass(batch.planned_g), "-", "-", "-", "-", "-", "not mixed"
    held = "-" if batch.held_s is None else in_minutes(batch.held_s)
    off = "-" if batch.off_ratio is None else f"{100 * batch.off_ratio:+.1f} %"
    return (
        *(str(batch.number), mass(batch.planned_g), mass(batch.mass_g), off, held),
        *(spare_words(batch.cup_left_s), spare_words(batch.part_left_s), batch.went),
    )


def _built(built: AsBuilt) -> Iterator[Block]:
    yield Heading("As built")
    head = "way", "fibre by weight", "fibre by volume", "voids"
    yield Table(head, tuple(_built_rows(built)), numbers=frozenset(head[1:]))
    if built.resin is not None:
        resin = built.resin
        left = "not weighed" if resin.left is None else f"{grams(resin.left)} left in cups and brushes"
        out = "driven out" if resin.left is not None else "driven out or left"
        yield Points(
            (
                f"{grams(resin.mixed)} mixed, {left}.",
                f"{grams(resin.kept)} kept in the part, where {mass(resin.planned_kept_g)} were planned.",
                f"{grams(resin.out)} {out}"
                + ("." if resin.squeezed_share is None else f", {percent(resin.squeezed_share)} of what was laid."),
            )
        )
    if built.words:
        yield Points(tuple(sentence(words) for words in built.words))


def _built_rows(built: AsBuilt) -> Iterator[tuple[str, str, str, str]]:
    """Yield what was aimed at, then each way of measuring."""
    yield "aimed at", f"{100 * built.target_by_mass:.1f} %", f"{100 * built.target_by_volume:.1f} %", "-"
    yield from ((m.way, percent(m.by_mass), percent(m.by_volume), percent(m.voids)) for m in built.measured)


def percent(estimate: Estimate | None) -> str:
    """Return a share with its uncertainty, in per cent."""
    return "-" if estimate is None else f"{100 * estimate.value:.1f} % ± {100 * estimate.sd:.1f} %"


def grams(estimate: Estimate) -> str:
    return f"{mass.digits(estimate.value)} ± {mass(estimate.sd, '.1f')}"


def _log(review: Review) -> Iterator[Block]:
    state = review.stored.state
    yield Heading("The log")
    if review.problems:
        yield Points(tuple(str(problem) for problem in review.problems))
    void = {misfit.seq: misfit.why for misfit in state.misfits}
    rows = []
    for record in state.records:
        remark = "taken back" if record.seq in state.cancelled else void.get(record.seq, "")
        what = record.describe_in(state) + record.late_words
        rows.append((str(record.seq), minute_of(state.recalled, record.when_s), what, remark))
    yield Table(("entry", "min", "what", "remark"), tuple(rows), numbers=frozenset({"entry", "min"}))
    if state.closed_s is not None and state.demoulded_s is not None:
        yield Paragraph(f"In the mould for {minutes(state.demoulded_s - state.closed_s)}.")


# -- review text -----------------------------------------------------------------------------------------------------


def review_lines(found: Review, *, width: int, seen: Hindsight | None = None, evidence: bool = True) -> Iterator[str]:
    """Yield a whole review, the verdict first; `evidence` shows the entries behind each cause, and why not others."""
    state = found.stored.state
    title = state.start.title if state.start else found.stored.name
    outcome = f"; outcome: {', '.join(state.outcome.tags)}" if state.outcome and state.outcome.tags else ""
    yield f"{title} ({found.stored.name}){outcome}"
    yield from (photo.words for photo in state.photos)
    yield from wrap(verdict_line(found).upper(), width)
    for words in () if seen is None else (saving_line(seen.changed), decided_line(seen)):
        yield from wrap(words, width)
    for words in found.taught:
        yield from wrap(words, width, initial_indent="  ", subsequent_indent="    ")
    for problem in found.problems:
        yield from wrap(f"! {problem}", width)
    changed = seen.changed if seen else None
    for number, finding in enumerate(found.findings, 1):
        yield from ("", *finding_lines(number, finding, width=width, changed=changed, evidence=evidence))
    if evidence:
        yield from why_not_lines(found, width=width)
    head, *missing = _unexplained(found) or [""]
    if head:
        yield from ("", *wrap(head, width))
    for words in missing:
        yield from wrap(f"- {words}", width, subsequent_indent="  ")
    if seen is not None and seen.changed is not None:
        yield from ("", *changed_lines(seen.changed, width=width))
    if found.track is not None or state.recalled is not None:
        yield from ("", *axis_lines(found, width=width))
    if found.as_built is not None:
        yield from ("", *built_lines(found.as_built))


def proof_lines(found: Review, *, width: int) -> list[str]:
    """Return each finding with its evidence, then what was considered and rejected."""
    lines: list[str] = []
    for number, finding in enumerate(found.findings, 1):
        lines += [*finding_lines(number, finding, width=width), ""]
    return [*(lines or [verdict_line(found)]), *why_not_lines(found, width=width)]


def why_not_lines(found: Review, *, width: int) -> list[str]:
    """Return the causes that were rejected, each with its number, and what the words for sureness mean."""
    lines = ["", "WHY NOT"] if (no := rejected(found)) else []
    for one in no:
        lines += wrap(f"{one.cause}: {one.words}", width - 3, initial_indent="   ", subsequent_indent="      ")
    if found.findings:
        said = ", ".join(f"{word} at least {100 * low:.0f}" for word, (low, _) in MEANS.items())
        lines += ["", *wrap(f"Right in so many of 100 days: {said}.", width)]
    return lines


def finding_lines(
    number: int, finding: Finding, *, width: int, changed: ChangedDays | None = None, evidence: bool = True
) -> list[str]:
    """Return one finding: what happened, its effect, what to change and what that gives, the entries that show it."""
    lost = f", lost {finding.harm}" if finding.harm else ""
    lines = [f"{number}. {finding.cause.upper()} ({finding.certainty}{lost})"]
    for words in (finding.words, *finding.also, finding.effect, f"Change: {finding.change}"):
        lines += wrap(words, width - 3, initial_indent="   ", subsequent_indent="   ")
    other = None if changed is None else changed.for_finding(finding)
    if other is not None:
        lines += wrap(f"→ {other.words}: {spare_of(other.spare_s)}", width - 3, initial_indent="   ")
    for one in finding.evidence if evidence else ():
        seen = f"entry {one.seq:>3} {in_minutes(one.at_s, '.1f'):>10}  {one.words}"
        lines += wrap(seen, width - 3, initial_indent="   ", subsequent_indent=" " * 26)
    return lines


def built_lines(built: AsBuilt) -> list[str]:
    """Return what was measured of the part, beside its plan."""
    lines = table_lines(("as built", "fibre by weight", "by volume", "voids"), _built_rows(built), left="l")
    if built.resin is not None:
        resin = built.resin
        out = "driven out" if resin.left is not None else "driven out or left in cups"
        lines.append(
            f"mix: {grams(resin.mixed)} mixed, {grams(resin.kept)} kept (planned {mass(resin.planned_kept_g)}), "
            f"{grams(resin.out)} {out}"
        )
    return lines


# -- a day told from memory ------------------------------------------------------------------------------------------


def told_lines(found: Review, plan: NextPlan | None, *, width: int) -> list[str]:
    """Return the cause of a day that was told, what it teaches, and what the next plan does about it."""
    lines: list[str] = []
    if found.findings:
        first, *others = found.findings
        lines.append(f"{first.certainty.upper()} CAUSE  {first.cause.upper()}")
        change = f"→ {first.change}"
        if plan is not None and first.cause == "cup too large":
            change = "→ Mix less in a cup: how much, the next plan says."  # one number, that of the batches
        for words in (first.words, first.effect, change):
            lines += wrap(words, width - 2, initial_indent="  ", subsequent_indent="  ")
        also = ", ".join(f"{one.cause} ({one.certainty})" for one in others)
        lines += wrap(f"also: {also}", width - 2, initial_indent="  ", subsequent_indent="  ") if also else []
    else:
        lines.append(sentence(found.verdict).upper())
    lines.append("")
    for words in plan.lines() if plan else ["No plan here to change: layup new DIR makes one."]:
        lines += wrap(words, width, subsequent_indent="    ")
    lines.append("")
    lines += wrap(f"WHAT IT TEACHES  {' '.join(sentence(words) for words in found.taught[1:])}", width)
    return [*lines, "", f"Kept, marked recalled: {found.stored.name}"]
