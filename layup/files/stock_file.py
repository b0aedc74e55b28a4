"""Read stock.toml: the cans of a workshop, if somebody keeps account of them, with every problem found."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationError

from layup.errors import InputError, Problem
from layup.files.fields import CoreTable, FileModel, Mass, Title, items, printable
from layup.files.toml import Document, nearest, problem_at, problems_from, read_toml
from layup.planning.stock import Component

MOST_CANS = 500
OLD_DAYS = 365
"""Longer open, a hardener has drawn damp and carbon dioxide (common practice, no source: its maker's date counts)."""


@dataclass(frozen=True, slots=True)
class Can:
    """One can as it was bought: `mass_g` is what it held when it was new."""

    resin: str
    component: Component
    lot: str
    mass_g: float
    opened: datetime.date | None = None
    expires: datetime.date | None = None

    def expired(self, today: datetime.date) -> bool:
        """Return whether it is past its date."""
        return self.expires is not None and self.expires < today

    def caution(self, today: datetime.date) -> str:
        """Say what is wrong with its age: expired, or a hardener long open; an empty text where nothing is."""
        if self.expired(today):
            return f"expired {self.expires}"
        if self.component == "hardener" and self.opened is not None and (today - self.opened).days > OLD_DAYS:
            return f"open since {self.opened}, more than a year"
        return ""


def _day(value: Any) -> datetime.date:  # Any: whatever TOML holds
    """Read a day, as TOML has it or in quotes."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    try:
        return datetime.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise InputError("value", "is not a day", value=printable(value), allowed="write it as 2027-05-31") from None


Day = Annotated[datetime.date, BeforeValidator(_day)]


class _CanTable(CoreTable):
    resin: Title = Field(examples=['"slow-laminating"'], description="the id of the resin file that the can belongs to")
    component: Component = Field(examples=['"hardener"'], description="resin or hardener")
    lot: Title = Field(examples=['"H-2207"'], description="as printed on the can; sessions name it: key k on the day")
    mass: Mass = Field(
        examples=['"1 kg"'], description="what it held when new; what sessions poured of its lot is taken off"
    )
    opened: Day | None = Field(default=None, description="the day it was opened; left out while it is closed")
    expires: Day | None = Field(default=None, description="the last day that its maker gives")

    def core(self) -> Can:
        return Can(self.resin, self.component, self.lot, self.mass, self.opened, self.expires)


class StockFile(FileModel):
    """A stock file as people write it."""

    can: Annotated[tuple[_CanTable, ...], items(MOST_CANS)] = Field(default=(), description="the cans, one table each")


def load_stock(
    path: Path, *, resin_ids: Collection[str], today: datetime.date | None
) -> tuple[tuple[Can, ...] | None, list[Problem]]:
    """Read the cans: None where something is an error, and every problem; a can that is old `today` is a warning.

    Raises StorageError where the file cannot be read.
    """
    document = read_toml(path)
    if isinstance(document, Problem):
        return None, [document]
    try:
        cans = tuple(table.core() for table in StockFile.model_validate(document.data).can)
    except ValidationError as errors:
        return None, problems_from(document, StockFile, errors)
    problems = list(_contradictions(document, cans, resin_ids, today))
    return (cans if all(problem.warning for problem in problems) else None), problems


def _contradictions(
    document: Document, cans: tuple[Can, ...], resin_ids: Collection[str], today: datetime.date | None
) -> Iterator[Problem]:
    for place, can in enumerate(cans):
        if can.resin not in resin_ids:
            wrong = f"is not in resins/ ({printable(can.resin)})"
            yield problem_at(document, ("can", place, "resin"), wrong, nearest(can.resin, resin_ids))
        if today is None:
            continue
        if can.opened is not None and can.opened > today:
            yield problem_at(document, ("can", place, "opened"), f"is still to come ({can.opened})", "check the year")
        if words := can.caution(today):
            key = "expires" if can.expired(today) else "opened"
            hint = "try a trial cup first; take the can out of this file once it is gone"
            yield problem_at(document, ("can", place, key), f"lot {printable(can.lot)} {words}", hint, warning=True)
