"""A session for other programs: its log as CSV, and everything known of it as JSON Lines.

CSV is RFC 4180 in UTF-8 with a byte order mark, which spreadsheets need to read it as such. A text that a spreadsheet
would take for a formula gets an apostrophe in front (OWASP, CSV injection).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import asdict

from layup.review.review import Review

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What a cell must not begin with: also in full width, which some spreadsheets take for the same."""
CSV_HEAD = ("session", "seq", "at", "elapsed_s", "event", "batch", "step", "what", "taken_back")


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_STARTS) else text


def csv_text(review: Review) -> str:
    """Return the log of a session, one event a row."""
    state = review.kept.state
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_HEAD)
    for record in state.records:
        writer.writerow(
            (
                *(safe_cell(review.kept.name), record.seq, record.at.isoformat(), record.elapsed_s, record.event),
                *(getattr(record, "batch", ""), getattr(record, "step", ""), safe_cell(record.describe_in(state))),
                "yes" if record.seq in state.cancelled else "no",
            )
        )
    return "\ufeff" + out.getvalue()


def json_lines(review: Review) -> str:
    """Return everything known of a session, one object a line; `kind` says what it is."""
    return "".join(json.dumps(line, ensure_ascii=False, allow_nan=False) + "\n" for line in _lines(review))


def _lines(review: Review) -> Iterator[dict[str, object]]:
    state, name = review.kept.state, review.kept.name
    start = state.start
    yield {
        "kind": "session",
        "session": name,
        "title": start.title if start else None,
        "resin": start.resin if start else None,
        "started_at": state.started_at.isoformat() if state.started_at else None,
        "people": state.people,
        "closed_s": state.closed_s,
        "demoulded_s": state.demoulded_s,
        "tags": list(state.outcome.tags) if state.outcome else [],
        "notes": state.outcome.notes if state.outcome else "",
        "verdict": review.verdict,
    }
    for rank, finding in enumerate(review.findings, 1):
        yield {**asdict(finding), "kind": "finding", "session": name, "rank": rank, "cause": finding.kind}
    if review.track is not None:
        for batch in review.track.batches:
            yield {"kind": "batch", "session": name, **asdict(batch), "used": batch.used}
        for step in review.track.steps:
            yield {**asdict(step), "kind": "step", "session": name, "step_kind": step.kind, "over_s": step.over_s}
    if review.as_built is not None:
        yield {"kind": "as-built", "session": name, **asdict(review.as_built)}
    for record in state.records:
        line = json.loads(record.model_dump_json(exclude={"sum"}))  # which proves the journal's line, and not this one
        yield {"kind": "event", "session": name, "taken_back": record.seq in state.cancelled, **line}
