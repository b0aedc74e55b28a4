"""Check resin, plan, stock and session files, and list every problem at once with its file and line."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from textwrap import wrap
from typing import get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layup.bench.planner import Planner
from layup.commands.command import answer, takes
from layup.errors import LayupError
from layup.files.drafts import waiting
from layup.files.durable import STOCK
from layup.files.plan_file import PlanFile
from layup.files.resin_file import ResinFile
from layup.files.toml import models_in
from layup.files.workshop import StockFile, Workshop
from layup.session.clock import SystemClock
from layup.session.reader import read_journal, strays

FILES: dict[str, type[BaseModel]] = {
    "resins/NAME.toml": ResinFile,
    "sessions/NAME/plan.toml": PlanFile,
    STOCK: StockFile,
}
"""The files that people write, and what is read of each."""
EXAMPLE = "layup check     layup check resins/slow-laminating.toml sessions/touring-skis/plan.toml"


add_arguments = takes("""
[FILE...]  files or folders (default: the whole workshop)
--keys  list every key of resin, plan and stock files, and its meaning
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """List the problems; return 2 if there are any."""
    if args.keys:
        return _list_keys(args.json)
    paths = [Path(name) for name in args.file]
    today = SystemClock().utc().astimezone().date()
    problems = Workshop(args.workshop).check(
        paths, check_journal=lambda path: [*read_journal(path.parent)[1], *strays(path.parent)], today=today
    )

    count = len(problems)
    drafts = [] if paths else waiting(args.workshop)
    waits = [
        f"a draft waits, not checked: {name} ({'F' if name.startswith('board') else '7'} in the app)" for name in drafts
    ]
    castings = [] if paths else _castings(args.workshop)
    lines = [
        *map(str, problems),
        *waits,
        *castings,
        f"{count} problem{'s' if count > 1 else ''}" if count else f"no problems{' in the files' if castings else ''}",
    ]
    data = {
        "problems": [problem._asdict() for problem in problems],
        "count": count,
        "drafts": drafts,
        "castings": castings,
    }
    return answer(args.json, data, lambda _: lines, assumptions=[], code=2 if problems else 0, whole=True)


def _castings(root: Path) -> list[str]:
    """Return in words which castings of the plans that wait do not fit, where those plans can be read."""
    found: list[str] = []
    for name in Workshop(root).draft_names():
        planner = Planner(root, plan=name)
        with suppress(LayupError):  # what is wrong with the plan stands among the problems
            planner.read()
            found += (f"{name}: {words}" for words in planner.casting_troubles())
    return found


def _list_keys(as_json: bool) -> int:
    """List the keys of the files that people write."""
    files = {name: keys_of(model) for name, model in FILES.items()}

    def text(shown: int) -> Iterator[str]:
        for file, keys in files.items():
            yield f"{file}   (* must be there; a quantity is a text with its unit)"
            width = max(len(key.path) for key in keys) + 2
            for key in keys:
                line = f"{'*' if key.needed else ' '} {key.path:<{width}}{key.words}   {key.example}".rstrip()
                yield from wrap(line, shown, subsequent_indent=" " * (width + 2))
            yield ""

    data = {"keys": {file: [asdict(key) for key in keys] for file, keys in files.items()}}
    return answer(as_json, data, text, assumptions=[])


# -- keys ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a file: its path, how to write it where that is not plain, whether it must be there, its meaning."""

    path: str
    example: str
    needed: bool
    words: str


def keys_of(model: type[BaseModel]) -> list[Key]:
    """Return the keys of a file, in the order that its tables have."""
    found: dict[str, Key] = {}
    for path, field, kind in _fields(model):
        words = f"({kind}) {field.description}" if kind else field.description or ""
        found.setdefault(path, Key(path, _example(field), field.is_required(), words))
    return list(found.values())


def _fields(model: type[BaseModel], above: str = "", kind: str = "") -> Iterator[tuple[str, FieldInfo, str]]:
    """Yield every field of a file with its path and the one kind of step that has it, variants after each other."""
    for name, field in model.model_fields.items():
        yield above + name, field, kind
        variants = list(models_in(field.annotation))
        for table in variants:
            for path, below, of in _fields(table, f"{above}{name}.", kind):
                shared = all(path.split(".")[above.count(".") + 1] in other.model_fields for other in variants)
                yield path, below, of or ("" if shared else get_args(table.model_fields["kind"].annotation)[0])


def _example(field: FieldInfo) -> str:
    """Return how a value is written: a table's brackets, or the example that error messages give too."""
    if any(models_in(field.annotation)):
        return "[[ ]]" if get_origin(field.annotation) is tuple else "[ ]"
    return str(field.examples[0]) if field.examples else ""
