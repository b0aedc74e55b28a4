"""Put two sessions, or two plans, side by side, and tell what differed first."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import SESSION_HELP, add_workshop_argument
from layup.files.names import JOURNAL, PLAN
from layup.files.workshop import Workshop
from layup.review.compare import Comparison, Difference, compare, compare_plans
from layup.review.review import review
from layup.session.archive import stored_session

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = "layup compare 2026-02-21-touring-skis-168 2026-03-07-touring-skis-168"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup compare`."""
    parser.add_argument("left", metavar="A", help=f"a plan, or {SESSION_HELP}")
    parser.add_argument("right", metavar="B", help="another one")
    parser.add_argument("--all", action="store_true", help="show what is the same, too")
    add_workshop_argument(parser)
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with the rows that differ, in the order of the day."""
    workshop = Workshop(Path(args.workshop))
    found, assumed = _compared(workshop, args.left, args.right)
    data = {
        "left": args.left,
        "right": args.right,
        "first": asdict(found.first) if found.first else None,
        "rows": [asdict(row) for row in found.rows],
    }

    def text(console: Console) -> None:
        first = found.first
        differs = f"{first.topic}: {first.left} / {first.right}" if first else "nothing: they are the same"
        console.print(f"First to differ: {differs}")
        console.print(f"A {args.left}, B {args.right}")
        for row in found.rows if args.all else found.differing:
            console.print(_line(row, console.width, marked=args.all))

    return answer(args.json, data, text, assumptions=assumed)


def _line(row: Difference, width: int, *, marked: bool) -> str:
    """Return one row: in columns where its words fit, else one below the other."""
    mark = ("≠ " if row.differs else "  ") if marked else ""
    column = (width - 44) // 2
    if len(row.topic) <= 40 and max(len(row.left), len(row.right)) <= column:
        return f"{mark}{row.topic:<40}  {row.left:<{column}} {row.right}"
    return f"{mark}{row.topic}\n{'':>8}A {row.left}\n{'':>8}B {row.right}"


def _compared(workshop: Workshop, left: str, right: str) -> tuple[Comparison, list[str]]:
    """Compare two sessions; where one side has no journal, the plans."""
    if left.endswith(".toml") or right.endswith(".toml"):
        return compare_plans(workshop.plan(left), workshop.plan(right)), []
    folders = [workshop.session_path(name) for name in (left, right)]
    if not all((folder / JOURNAL).is_file() for folder in folders):
        drafts = [folder.name for folder in folders if not (folder / JOURNAL).is_file()]
        plans = compare_plans(*(workshop.plan(str(folder / PLAN)) for folder in folders))
        return plans, [f"{' and '.join(dict.fromkeys(drafts))} not pressed yet: only the plans are compared"]
    reviews = [review(stored_session(folder)) for folder in folders]
    return compare(*reviews), ["times less than 2 min and 15 % apart count as the same, temperatures within 1 K"]
