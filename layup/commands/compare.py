"""Put two sessions, or two plans, side by side, and tell what differed first."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict
from textwrap import wrap

from layup.commands.command import SESSION_HELP, answer, facts, in_min, takes
from layup.errors import InputError
from layup.files.durable import JOURNAL, PLAN
from layup.files.workshop import Workshop
from layup.report.day_axis import two_days_lines
from layup.review.compare import ALIGNS, Aligned, AlignedSide, Comparison, Difference, aligned, compare, compare_plans
from layup.review.review import Review, review, verdict_line
from layup.session.archive import stored_session

EXAMPLE = "layup compare 2026-02-21-touring-skis-168 2026-03-07-touring-skis-168 --align contact"


add_arguments = takes(f"""
A  a plan, or {SESSION_HELP}
B  another one
--all  show what is the same, too
--align {"|".join(ALIGNS)}  both days on one axis, from first contact or from the closing (default: what differs only)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with the rows that differ, in the order of the day."""
    workshop = Workshop(args.workshop)
    found, assumed, days = _compared(workshop, args.a, args.b)
    if args.align is not None and days is None:
        raise InputError("--align", "wants two days", todo="give two sessions that were pressed")
    over = None if days is None or args.align is None else aligned(*days, args.align)
    data = {
        "left": args.a,
        "right": args.b,
        "first": asdict(found.first) if found.first else None,
        "rows": [asdict(row) for row in found.rows],
        "not_compared": list(found.not_compared),
        "aligned": None if over is None else _aligned_data(over),
    }

    def text(width: int) -> Iterator[str]:
        first = found.first
        differs = f"{first.topic}: {first.left} / {first.right}" if first else "nothing: they are the same"
        yield f"First to differ: {differs}"
        for side, name in zip("AB", (args.a, args.b), strict=True):
            yield f"{side} {name}"
        for side, day in zip("AB", days or (), strict=False):
            yield from wrap(f"{side}: {verdict_line(day)}", width, subsequent_indent="   ")
        for row in found.rows if args.all else found.differing:
            yield _line(row, width, marked=args.all)
        for words in found.not_compared:
            yield f"not compared: {words}"
        if over is not None:
            yield from ("", *two_days_lines(over, width=min(width, WIDEST)))

    return answer(args.json, data, text, assumptions=assumed)


def _line(row: Difference, width: int, *, marked: bool) -> str:
    """Return one row: in columns where its words fit, else one below the other."""
    mark = ("≠ " if row.differs else "  ") if marked else ""
    column = (width - 44) // 2
    if len(row.topic) <= 40 and max(len(row.left), len(row.right)) <= column:
        return f"{mark}{row.topic:<40}  {row.left:<{column}} {row.right}"
    return f"{mark}{row.topic}\n{'':>8}A {row.left}\n{'':>8}B {row.right}"


WIDEST = 110
"""Columns of a picture at most."""


def _aligned_data(found: Aligned) -> dict[str, object]:
    """Return two days on one axis as data, in minutes from the moment that they are laid over each other at."""
    return {
        "by": found.by,
        "left_closed_min": in_min(found.closed_s[0]),
        "right_closed_min": in_min(found.closed_s[1]),
        "steps": [
            {
                "name": step.name,
                **_side_data("left", step.left),
                **_side_data("right", step.right),
                **facts(step, "spare_difference_s"),
            }
            for step in found.steps
        ],
    }


def _side_data(name: str, side: AlignedSide | None) -> dict[str, float | None]:
    times = (None, None, None) if side is None else (side.begin_s, side.end_s, side.spare_s)
    return {f"{name}_{what}_min": in_min(at_s) for what, at_s in zip(("begin", "end", "spare"), times, strict=True)}


def _compared(workshop: Workshop, left: str, right: str) -> tuple[Comparison, list[str], tuple[Review, Review] | None]:
    """Compare two sessions; where one side has no journal, the plans."""
    if left.endswith(".toml") or right.endswith(".toml"):
        return compare_plans(workshop.plan(left), workshop.plan(right)), [], None
    folders = [workshop.session_path(name) for name in (left, right)]
    if not all((folder / JOURNAL).is_file() for folder in folders):
        drafts = [folder.name for folder in folders if not (folder / JOURNAL).is_file()]
        plans = compare_plans(*(workshop.plan(str(folder / PLAN)) for folder in folders))
        return plans, [f"{' and '.join(dict.fromkeys(drafts))} not pressed yet: only the plans are compared"], None
    a, b = (review(stored_session(folder)) for folder in folders)
    same = "times less than 2 min and 15 % apart count as the same, temperatures within 1 K"
    return compare(a, b), [same], (a, b)
