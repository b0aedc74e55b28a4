"""A session as it is kept in its folder: its journal folded, and the plan and the resin as they were used."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from layup.chemistry.datasheet import Datasheet
from layup.errors import LayupError, Problem, StorageError
from layup.materials.names import PLAN, RESIN_COPY
from layup.materials.plain_file import read_plain
from layup.materials.plan_file import load_plan
from layup.materials.resin_file import load_resin
from layup.planning.stack import Plan
from layup.planning.variant import plan_with
from layup.records.events import SessionStarted
from layup.records.folder import not_readable
from layup.records.lines import read_journal, strays
from layup.records.state import SessionState, fold
from layup.records.text import plain

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Kept:
    """One session: its journal folded, its plan and resin where their copies can be read, and what is wrong.

    The plan is as it was begun with: crew, cup and fibre fraction as they were set on the day.
    """

    folder: Path
    state: SessionState
    plan: Plan | None
    sheet: Datasheet | None
    problems: tuple[Problem, ...]

    @property
    def name(self) -> str:
        """The name of its folder, as it can be shown."""
        return plain(self.folder.name)


class _Copies(Generic[T]):
    """Read files that are mostly copies of each other: each content is understood once, and the last few are kept."""

    def __init__(self, load: Callable[[Path], tuple[T | None, list[Problem]]], *, most: int = 32) -> None:
        self._load = load
        self._most = most
        self._known: OrderedDict[bytes, T] = OrderedDict()

    def read(self, path: Path) -> tuple[T | None, list[Problem]]:
        """Return what the file says, or what is wrong with it."""
        try:
            data = read_plain(path)
        except OSError as error:
            return None, [Problem(str(path), 1, "", not_readable(path, error).words)]
        if data in self._known:
            self._known.move_to_end(data)
            return self._known[data], []
        try:
            value, problems = self._load(path)
        except StorageError as error:  # it went while it was read
            return None, [Problem(str(path), 1, "", error.words)]
        if value is not None and not problems:
            self._known[data] = value
            if len(self._known) > self._most:
                self._known.popitem(last=False)
        return value, problems


_plans = _Copies[Plan](load_plan)
_resins = _Copies[Datasheet](load_resin)


def kept_session(folder: Path) -> Kept:
    """Return the session in `folder`. Raises StorageError if it has no journal or that cannot be read."""
    records, problems = read_journal(folder)
    plan, plan_problems = _plans.read(folder / PLAN)
    sheet, sheet_problems = _resins.read(folder / RESIN_COPY)
    state = fold(records)
    if plan is not None and sheet is not None and state.start is not None:
        plan = as_begun(plan, sheet, state.start)
    return Kept(folder, state, plan, sheet, (*problems, *strays(folder), *plan_problems, *sheet_problems))


def as_begun(plan: Plan, sheet: Datasheet, start: SessionStarted) -> Plan:
    """Return the plan as it was set on the day; as its file states it, where that is out of range."""
    try:
        return plan_with(
            plan,
            sheet,
            people=start.people,
            largest_cup_g=start.largest_cup_g or plan.largest_cup_g,
            fibre_fraction=start.fibre_fraction or plan.target.value,
        )
    except LayupError:
        return plan
