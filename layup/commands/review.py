"""Look back on a session: its day planned and real, and what went wrong with the evidence; or list and search them."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from dataclasses import asdict

from layup.commands.command import SESSION_HELP, answer, counted, facts, takes
from layup.files.workshop import Workshop
from layup.report.bars import table_lines
from layup.report.hindsight import hindsight, hindsight_data
from layup.report.report_blocks import review_lines
from layup.review.lessons import NOTHING_LEARNT, find_sessions, workshop_lessons
from layup.review.review import Review, rejected, review, verdict_line
from layup.review.timeline import Track
from layup.session.archive import Summary, stored_session
from layup.session.clock import SystemClock

EXAMPLE = "layup review 2026-03-07-touring-skis-168     layup review --search 'cause:cup outcome:failed'"


add_arguments = takes(f"""
[SESSION]  {SESSION_HELP} (default: list them)
--search WORDS  list those with all of these words, or with "resin:slow cause:cup outcome:failed" (default: all)
--learnt  judge by the resin as all sessions know it, not by its datasheet
--evidence  each cause with its entries, and why not others (default: causes)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with one session, or with the list."""
    workshop = Workshop(args.workshop)
    if args.session is None:
        return _list(args, workshop)
    stored = stored_session(workshop.session_path(args.session))
    with counted("learning") as progress:
        lessons = workshop_lessons(workshop, progress=progress) if args.learnt else NOTHING_LEARNT
    law = lessons.calibration(stored.sheet) if args.learnt and stored.sheet is not None else None
    found = review(stored, calibration=law)

    seen = hindsight(found, workshop, SystemClock())

    def text(width: int) -> Iterable[str]:
        return review_lines(found, width=min(width, 110), seen=seen, evidence=args.evidence)

    return answer(args.json, {**review_data(found), **hindsight_data(seen)}, text, assumptions=list(found.assumptions))


def _list(args: argparse.Namespace, workshop: Workshop) -> int:
    with counted("reading sessions") as progress:
        listed = find_sessions(workshop, args.search or "", progress=progress)

    def text(width: int) -> Iterator[str]:
        rows = [(summary.name, summary.title, summary.state) for summary in reversed(listed)]
        yield from table_lines(("", "", ""), rows, left="lll", width=width)
        yield f"{len(listed)} session{'' if len(listed) == 1 else 's'}"

    return answer(args.json, {"sessions": [_summary(one) for one in listed]}, text, assumptions=[])


def _summary(summary: Summary) -> dict[str, object]:
    hidden = ("text", "whole", "carried", "settled")
    return {key: value for key, value in (asdict(summary) | facts(summary, "state")).items() if key not in hidden}


def review_data(found: Review) -> dict[str, object]:
    state = found.stored.state
    return {
        "session": found.stored.name,
        "title": state.start.title if state.start else None,
        "verdict": found.verdict,
        "sentence": verdict_line(found),
        "defects": found.defects,
        "findings": [{"cause": finding.cause, "kind": finding.cause, **asdict(finding)} for finding in found.findings],
        "rejected": [asdict(one) for one in rejected(found)],
        "unexplained": found.unexplained,
        "would_have_told": [asdict(m) for m in found.missing] if found.unexplained or not found.findings else [],
        "day": _day(found.track) if found.track else None,
        "as_built": asdict(found.as_built) | facts(found.as_built, "off_target") if found.as_built else None,
        "taught": list(found.taught),
        "recalled": None if state.recalled is None else state.recalled.model_dump(),
        "photos": [facts(photo, "file caption") for photo in state.photos],
        "problems": [str(problem) for problem in found.problems],
    }


def _day(track: Track) -> dict[str, object]:
    return {
        "batches": [{**asdict(batch), "used": batch.used} for batch in track.batches],
        "steps": [{**asdict(step), "over_s": step.over_s} for step in track.steps],
        "first_contact_s": track.contact_s,
        "planned_closed_s": track.planned_closed_s,
        "closed_s": track.closed_s,
        "spare_s": track.spare_s(),
    }
