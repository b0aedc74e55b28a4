"""What all commands share: words of the command line into numbers, how far a long piece of work is, answers, files.

A bare number takes the usual unit and says so. An answer is one JSON object for programs, or text for people. A file is
written whole or not at all, and never over what a workshop reads.
"""

from __future__ import annotations

import argparse
import math
import os
import re
import sys
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, LayupError, RangeError, StorageError, printable
from layup.files.durable import JOURNAL, put
from layup.units import parse, temperature_limits, usual_unit, with_unit

if TYPE_CHECKING:
    from layup.bench.planner import Planner
    from layup.chemistry.calibration import Calibration
    from layup.chemistry.datasheet import Datasheet
    from layup.chemistry.temperature import History
    from layup.chemistry.uncertainty import Band
    from layup.files.workshop import Workshop
    from layup.planning.planner import Settings


PLAN_HELP = "a plan file, the folder that holds it, or its name in sessions/"
SESSION_HELP = "a session or its folder (the demo has two: layup demo --keep DIR)"
WHOLE_NUMBER = re.compile(r"[-+]?\d{1,9}", re.ASCII)


def quantity(text: str, dimension: str, assumptions: list[str], *, where: str) -> float:
    """Return `text` as a number in the core's unit, noting in `assumptions` a unit that was not said."""
    unit = usual_unit(dimension)
    said = with_unit(text, unit)
    if said != text.strip():
        assumptions.append(f"{where} {text.strip()} is in {unit}, since no unit was given")
    return parse(said, dimension, where=where)


def temperature_K(text: str, assumptions: list[str], *, where: str, within_C: tuple[float, float]) -> float:
    """Return `text` as a temperature `within_C`, ends included; the limits are told in its own unit."""
    kelvin = quantity(text, "temperature", assumptions, where=where)
    low_K, high_K = (limit_C + ZERO_CELSIUS_K for limit_C in within_C)
    if not low_K <= kelvin <= high_K:
        allowed = f"must be {temperature_limits(low_K, high_K, text)}"
        raise RangeError(where, "is out of range", value=text.strip(), allowed=allowed)
    return kelvin


def whole_number(text: str, *, where: str, high: int) -> int:
    """Return `text` as a whole number from 1 to `high`."""
    allowed = f"a whole number from 1 to {high}"
    if not WHOLE_NUMBER.fullmatch(text.strip()):
        raise InputError(where, "is no whole number", value=text, allowed=allowed)
    number = int(text)
    if not 1 <= number <= high:
        raise RangeError(where, "is out of range", value=text.strip(), allowed=allowed)
    return number


USUAL = {
    "RESIN": "a resin of this workshop, or the path of its file",
    "PLAN": "a plan file, or a session or draft of this workshop",
    "SESSION": SESSION_HELP,
    "--no-dials": "as the plan's file has it (default: as set on Stack)",
    "--no-lessons": "leave out what earlier sessions taught (default: it counts)",
    "--workshop DIR": "the workshop folder (default: this folder)",
    "--json": "print one JSON object instead of text",
}
"""The words that mean the same in every command."""
DEFAULT = re.compile(r"\(default ([^)]+)\)")
MANY = {"[]": "?", "[...]": "*", "...": "+"}


def takes(text: str) -> Callable[[argparse.ArgumentParser], None]:
    """Return what adds the words of a command, one a line as its help has it, two blanks before what it means.

    One of `USUAL` stands alone. "[X]" may be left out, "X..." given several times, "--option X!" must be given, of
    "a|b" one is chosen; an option without an X is a flag. "(default 1 g)" is what holds without the option; with a
    colon it is but told.
    """

    def add(parser: argparse.ArgumentParser) -> None:
        for line in filter(None, text.splitlines()):
            word, _, told = line.partition("  ")
            means, (name, *values) = told or USUAL[word], word.split()
            stated = DEFAULT.search(means)
            default = stated[1].replace("%%", "%") if stated else "." if word == "--workshop DIR" else None
            if not name.startswith("--"):
                bare = name.strip("[.]")
                parser.add_argument(bare.lower(), nargs=MANY.get(name.replace(bare, "")), metavar=bare, help=means)
            elif not values:
                parser.add_argument(name, action="store_true", help=means)
            elif len(values) > 1:
                parser.add_argument(name, nargs=len(values), metavar=tuple(values), help=means)
            elif values[0].endswith("..."):
                parser.add_argument(name, metavar=values[0][:-3], action="append", default=[], help=means)
            elif "|" in values[0]:
                parser.add_argument(name, choices=values[0].split("|"), default=default, help=means)
            else:
                needed, value = values[0].endswith("!"), values[0].removesuffix("!")
                kind = Path if value == "DIR" else str
                parser.add_argument(name, metavar=value, required=needed, default=default, help=means, type=kind)

    return add


def forecast_words() -> str:
    """Return the option of the shop's day, as `takes` has it."""
    from layup.files.attachments import EXAMPLES

    return f"--forecast DAY  of the shop today: {EXAMPLES} (default: the plan's, else none)"


def forecast_of(args: argparse.Namespace) -> History:
    """Return the shop's day of the words; empty where they do not say it, and the plan's own counts."""
    if args.forecast is None:
        return ()
    from layup.files.attachments import read_forecast

    return read_forecast(args.forecast)


# -- progress --------------------------------------------------------------------------------------------------------

EVERY = 5
"""Steps between two lines, so that showing costs nothing."""


@contextmanager
def counted(what: str, *, every: int = EVERY) -> Iterator[Callable[[str, int, int], None]]:
    """Yield a function to be told what is being done, how far it is and of how many; the line goes when it is over."""
    watched = sys.stderr.isatty()
    shown = 0

    def told(doing: str, done: int, of: int) -> None:
        nonlocal shown
        if watched and (done % every == 0 or done == of):
            line = f"{doing or what}: {done} of {of}"
            sys.stderr.write(f"\r{line:<{shown}}")
            sys.stderr.flush()
            shown = len(line)

    try:
        yield told
    finally:
        if shown:
            sys.stderr.write(f"\r{'':<{shown}}\r")
            sys.stderr.flush()


# -- lessons ---------------------------------------------------------------------------------------------------------


def law_of(args: argparse.Namespace, workshop: Workshop, sheet: Datasheet) -> tuple[Calibration, tuple[str, ...]]:
    """Return how a resin of the workshop cures, as its sessions know it, and what they taught, in words.

    A resin from another file cures as its file says.
    """
    law = workshop.calibration(sheet)
    own = workshop.resin_path(args.resin).parent == workshop.resins_folder
    if args.no_lessons or not own or not workshop.sessions_folder.is_dir():
        return law, ()
    if not _taught(workshop):
        return law, ()
    from layup.review.lessons import workshop_lessons

    with counted("reading sessions") as progress:
        lesson = workshop_lessons(workshop, progress=progress).resins.get(sheet.id)
    return (law, ()) if lesson is None else (lesson.calibration, (lesson.assumption,))


def on_stack(
    args: argparse.Namespace, planner: Planner, assumed: list[str], words: Callable[[Settings], Settings] = lambda s: s
) -> Settings:
    """Read the plan, and what sessions taught; return its settings as Stack keeps them, with the `words` over them."""
    from layup.bench.dials import set_on_stack  # here, because most commands have no plan

    stated = planner.read()
    if not args.no_lessons:
        with counted("reading sessions") as progress:
            planner.learn(progress)
    turned = stated if args.no_dials else planner.turned(stated)
    settings = words(turned)
    planner.as_set = set_on_stack(planner, settings, stated) if turned != stated else ""
    if planner.as_set:
        assumed.append(f"{planner.as_set} (--no-dials: as the plan's file has it)")
    return settings


def _taught(workshop: Workshop) -> bool:
    return any((folder / JOURNAL).is_file() for folder in workshop.sessions())


# -- answer ----------------------------------------------------------------------------------------------------------


def answer(
    as_json: bool,
    data: Mapping[str, object],
    lines: Callable[[int], Iterable[str]],
    *,
    assumptions: list[str],
    telling: Collection[str] | None = None,
    code: int = 0,
    whole: bool = False,
) -> int:
    """Print `data` with its assumptions as JSON, or its `lines` at a width for people; return the exit code.

    Lines that are `whole` are not broken where they are too long. Where there are many assumptions people see the
    `telling` ones, how many more there are, and how to see them.
    """
    assumed = list(dict.fromkeys(assumptions))
    if as_json:
        import json  # here, because the version and the help are told without it

        print(json.dumps(finite({**data, "assumptions": assumed}), indent=2, allow_nan=False))
        return code
    from layup.report.bars import Paper  # here, because programs are answered without it

    console = Paper()
    for line in lines(console.width):
        console.print(line, soft_wrap=whole)
    if assumed:
        shown = [each for each in assumed if telling is None or each in telling]
        if len(shown) < len(assumed):
            shown.append(f"{len(assumed) - len(shown)} more, of the model and of common practice: see --json")
        console.print("\nassumed:", style="dim")
        for line in panel_lines(shown):
            console.print(line, style="dim")
    return code


def facts(record: object, names: str) -> dict[str, Any]:  # Any: what a record holds
    """Return some fields of a record under their names, as answers have them: a time in minutes, and named so."""
    found: dict[str, Any] = {}
    for name in names.split():
        value = getattr(record, name)
        found |= {f"{name[:-2]}_min": in_min(value)} if name.endswith("_s") else {name: value}
    return found


def in_min(time_s: float | None) -> float | None:
    """Return a time as answers have it."""
    return None if time_s is None else time_s / 60.0


def band_min(name: str, band_s: Band) -> dict[str, float]:
    """Return the likely time under its name, and the edges of its 80 % band, as answers have them."""
    return {name: band_s.likely / 60.0, "low": band_s.low / 60.0, "high": band_s.high / 60.0}


def panel_lines(sentences: Iterable[str]) -> list[str]:
    """Return advice or cautions, one a line."""
    return [f"- {sentence}" for sentence in sentences]


def finite(value: object) -> object:
    """Return `value` with infinities and NaN as null, which JSON cannot hold."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Mapping):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return value


def said_back(work: Callable[[argparse.Namespace], Iterable[str]], args: argparse.Namespace, what: str) -> int:
    """Do what a command records, all of it or nothing, and say it back."""
    try:
        lines = list(work(args))
    except LayupError:
        print(f"nothing was {what}:", file=sys.stderr)
        raise
    for line in lines:
        print(printable(line))
    return 0


# -- writing ---------------------------------------------------------------------------------------------------------

READ_AND_WRITTEN = (".csv", ".jsonl")
"""Endings of outputs that drawings, temperatures and journals have too: of these only an earlier output is replaced."""
SAME = 18
"""So many bytes are the same at the beginning of all exports of one format: no drawing and no journal begins so."""


def require_ending(path: Path, endings: Collection[str], where: str) -> str:
    """Return the ending of an output's name in small letters; one that its format does not have is refused."""
    ending = path.suffix.lower()
    if ending not in endings:
        allowed = f"a name that ends in {', '.join(endings)}"
        raise InputError(where, "has no such format", value=path.name, allowed=allowed)
    return ending


def write_output(path: Path, data: bytes, *, force: bool) -> None:
    """Write a new file at one go; `force` replaces an earlier one, but never what a workshop may read.

    The data stand on the disk beside the place before the name is given to them, so that no crash leaves half a file.
    Raises StorageError where that cannot be done, and where the name is taken.
    """
    if path.name.casefold() == JOURNAL:
        todo = "choose another name; a journal is only ever added to"
        raise StorageError(str(path), "is a name that the workshop reads", todo=todo)
    if os.path.lexists(path):
        _require_replaceable(path, data, force=force)
    try:
        put(path, data, new=not force)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise StorageError(str(path), "cannot be written", value=error.strerror, todo="choose another folder") from None


def _require_replaceable(path: Path, data: bytes, *, force: bool) -> None:
    if not force:
        raise _taken(path)
    if path.is_symlink() or not path.is_file():
        raise StorageError(str(path), "is a link, a folder or a device", todo="choose another name, of a plain file")
    if path.suffix.lower() not in READ_AND_WRITTEN:
        return
    try:
        with path.open("rb") as file:
            begins = file.read(SAME)
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="choose another name") from None
    if begins != data[:SAME]:
        todo = (
            "choose another name: it may be a drawing, a log of temperatures or a journal that a plan or session reads"
        )
        raise StorageError(str(path), "is not an earlier export", todo=todo)


def _taken(path: Path) -> StorageError:
    return StorageError(str(path), "is there already", todo="choose another name, or replace it with --force")
