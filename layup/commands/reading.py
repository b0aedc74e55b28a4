"""Command-line words into numbers in the core's units; a bare number takes the usual unit and says so.

Show how far a long piece of work is: on the terminal's error stream, only where somebody watches.

How a resin cures, for a command that answers by what the sessions teach unless it is told not to.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, RangeError
from layup.files.durable import JOURNAL
from layup.units import parse, temperature_limits, usual_unit

if TYPE_CHECKING:
    from layup.chemistry.calibration import Calibration
    from layup.chemistry.datasheet import Datasheet
    from layup.chemistry.temperature import History
    from layup.files.workshop import Workshop
    from layup.planning.plan import Plan

# -- reading ---------------------------------------------------------------------------------------------------------

SESSION_HELP = "a session or its folder (the demo has two: layup demo --keep DIR)"
BARE_NUMBER = re.compile(r"\s*[-+]?(\d+(\.\d*)?|\.\d+)\s*\Z", re.ASCII)
WHOLE_NUMBER = re.compile(r"[-+]?\d{1,9}", re.ASCII)


def quantity(text: str, dimension: str, assumptions: list[str], *, where: str) -> float:
    """Return `text` as a number in the core's unit, noting in `assumptions` a unit that was not said."""
    unit = usual_unit(dimension)
    if unit and BARE_NUMBER.match(text):
        assumptions.append(f"{where} {text.strip()} is in {unit}, since no unit was given")
        text = f"{text} {unit}"
    return parse(text, dimension, where=where)


def temperature_K(text: str, assumptions: list[str], *, where: str, low_C: float, high_C: float) -> float:
    """Return `text` as a temperature from `low_C` to `high_C`, ends included; the limits are told in its own unit."""
    kelvin = quantity(text, "temperature", assumptions, where=where)
    if not low_C + ZERO_CELSIUS_K <= kelvin <= high_C + ZERO_CELSIUS_K:
        allowed = f"must be {temperature_limits(low_C + ZERO_CELSIUS_K, high_C + ZERO_CELSIUS_K, text)}"
        raise RangeError(where, "is out of range", value=text.strip(), allowed=allowed)
    return kelvin


def whole_number(text: str, *, where: str, low: int, high: int) -> int:
    """Return `text` as a whole number from `low` to `high`, ends included."""
    allowed = f"a whole number from {low} to {high}"
    if not WHOLE_NUMBER.fullmatch(text.strip()):
        raise InputError(where, "is no whole number", value=text, allowed=allowed)
    number = int(text)
    if not low <= number <= high:
        raise RangeError(where, "is out of range", value=text.strip(), allowed=allowed)
    return number


def add_workshop_argument(parser: argparse.ArgumentParser) -> None:
    """Add `--workshop`, the folder that names are looked up in."""
    parser.add_argument("--workshop", metavar="DIR", default=".", help="the workshop folder (default: this folder)")


def add_forecast_argument(parser: argparse.ArgumentParser) -> None:
    """Add the shop's day."""
    from layup.files.attachments import EXAMPLES

    words = f"of the shop today: {EXAMPLES} (default: the plan's, else none)"
    parser.add_argument("--forecast", metavar="DAY", help=words)


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


def add_lessons_argument(parser: argparse.ArgumentParser) -> None:
    """Add `--no-lessons`."""
    parser.add_argument(
        "--no-lessons", action="store_true", help="leave out what earlier sessions taught (default: it counts)"
    )


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


def learnt_plan(args: argparse.Namespace, workshop: Workshop) -> tuple[Plan, tuple[str, ...]]:
    """Return a plan with the losses that `layup plan` counts on, and where they were learnt, in words."""
    plan = workshop.plan(args.plan)
    if args.no_lessons or not workshop.sessions_folder.is_dir() or not _taught(workshop):
        return plan, ()
    from layup.review.lessons import workshop_lessons

    with counted("reading sessions") as progress:
        lessons = workshop_lessons(workshop, leave_out=workshop.plan_path(args.plan).parent, progress=progress)
    return lessons.plan(plan), lessons.loss_words(plan)


def _taught(workshop: Workshop) -> bool:
    """Return whether any session was logged."""
    return any((folder / JOURNAL).is_file() for folder in workshop.sessions())
