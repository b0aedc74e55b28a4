"""How a resin cures, for a command that answers by what the sessions teach unless it is told not to."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from layup.chemistry.datasheet import Datasheet
from layup.commands.reading import counted
from layup.files.names import JOURNAL
from layup.files.workshop import Workshop
from layup.planning.plan import Plan

if TYPE_CHECKING:
    from layup.chemistry.calibration import Calibration


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
