"""Put two sessions, or two plans, side by side, and tell what differed first."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import add_workshop_argument
from layup.materials.workshop import JOURNAL, Workshop
from layup.records.compare import Comparison, Row, compare, compare_plans
from layup.records.kept import kept_session
from layup.records.review import review

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = "layup compare 2026-03-07-touring-skis 2026-03-14-touring-skis"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup compare`."""
    parser.add_argument("left", metavar="A", help="a session, or a plan")
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
        width = max(20, (console.width - 42) // 2)
        first = found.first
        console.print(f"First to differ: {_line(first, 200) if first else 'nothing: they are the same'}")
        console.print()
        console.print(f"{'':<40} {args.left[-width:]:<{width}} {args.right[-width:]}")
        for row in found.rows if args.all else found.differing:
            console.print(_line(row, width, mark="≠ " if row.differs and args.all else ""))

    return answer(args.json, data, text, assumptions=assumed)


def _line(row: Row, width: int, mark: str = "") -> str:
    topic = f"{mark}{row.topic}"
    if width >= 200:
        return f"{topic}: {row.left} / {row.right}"
    return f"{topic[:39]:<40} {row.left[:width]:<{width}} {row.right[:width]}"


def _compared(workshop: Workshop, left: str, right: str) -> tuple[Comparison, list[str]]:
    """Compare two sessions; where one side has no journal, the plans."""
    if left.endswith(".toml") or right.endswith(".toml"):
        return compare_plans(workshop.plan(left), workshop.plan(right)), []
    folders = [workshop.session_path(name) for name in (left, right)]
    if not all((folder / JOURNAL).is_file() for folder in folders):
        drafts = [folder.name for folder in folders if not (folder / JOURNAL).is_file()]
        plans = compare_plans(*(workshop.plan(str(folder / "plan.toml")) for folder in folders))
        return plans, [f"{' and '.join(drafts)} was not pressed yet: only the plans are compared"]
    reviews = [review(kept_session(folder)) for folder in folders]
    return compare(*reviews), ["times less than 2 min and 15 % apart count as the same, temperatures within 1 K"]
