"""Write a session as one file: .html with charts, .md, .csv for spreadsheets, or .jsonl for programs."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from layup.commands.command import require_ending, takes, write_output
from layup.errors import printable
from layup.files.workshop import Workshop
from layup.report.hindsight import hindsight
from layup.report.render import csv_text, html, json_lines, markdown
from layup.report.report_blocks import report_blocks
from layup.review.review import Review, review
from layup.session.archive import stored_session
from layup.session.clock import SystemClock

EXAMPLE = "layup export 2026-03-07-touring-skis-168 report.html"
FORMATS: dict[str, Callable[[Review, Workshop], str]] = {
    ".html": lambda found, shop: html(found.stored.name, report_blocks(found, hindsight(found, shop, SystemClock()))),
    ".md": lambda found, shop: markdown(report_blocks(found, hindsight(found, shop, SystemClock()))),
    ".csv": lambda found, _: csv_text(found),
    ".jsonl": lambda found, _: json_lines(found),
}
"""What each ending of a file's name stands for."""


add_arguments = takes(f"""
SESSION
FILE  the file to write: its name ends in {", ".join(FORMATS)}
--force  replace an earlier export of that name
--workshop DIR
""")


def run(args: argparse.Namespace) -> int:
    """Write the file, whole or not at all."""
    path = Path(args.file)
    make = FORMATS[require_ending(path, FORMATS, "export")]
    workshop = Workshop(args.workshop)
    found = review(stored_session(workshop.session_path(args.session)))
    data = make(found, workshop).encode(errors="replace")  # a folder may have a name that is no text
    write_output(path, data, force=args.force)
    print(f"wrote {printable(str(path))} ({len(data) / 1000:.0f} kB)")
    return 0
