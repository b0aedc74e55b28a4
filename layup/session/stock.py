"""What sessions poured of each lot, and with it what is left in the cans of a workshop."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from layup.errors import StorageError
from layup.files.durable import STOCK
from layup.files.workshop import Can, Workshop, load_stock
from layup.planning.checklist import CanLeft, Component, Stock
from layup.session.archive import Sessions, Summary


@dataclass(frozen=True, slots=True)
class Poured:
    """What a session poured of one component, from the lot that it named; an empty `lot` where it named none."""

    resin: str
    component: Component
    lot: str
    mass_g: float
    day: date


def stock_of(workshop: Workshop, today: date) -> Stock | None:
    """Return what is left in the cans, or what is wrong with the account of them; None where nobody keeps one."""
    path = workshop.root / STOCK
    if not path.is_file():
        return None
    try:
        cans, problems = load_stock(path, resin_ids=workshop.resin_ids(), today=today)
        summaries = Sessions(workshop, keep=False).all()
    except StorageError as error:
        return Stock(trouble=f"{STOCK} {error.wrong}.")
    if cans is None:
        wrong = sum(not problem.warning for problem in problems)
        return Stock(trouble=f"{STOCK} has {wrong} problem{'s' * (wrong > 1)}: see 'layup check'.")
    return stock_left(cans, [each for summary in summaries for each in _poured(summary)], today)


def _poured(summary: Summary) -> list[Poured]:
    """Return what a session took from the cans."""
    if not summary.started_at:
        return []
    day = datetime.fromisoformat(summary.started_at).astimezone().date()
    return [Poured(summary.resin, *taken, day) for taken in summary.poured]


def stock_left(cans: Sequence[Can], poured: Iterable[Poured], today: date) -> Stock:
    """Take off what sessions poured: from the cans of the lot that they named, the one opened first before the others.

    A session that named no lot is taken from the cans that were open on its day. A lot that no can has is one that is
    gone: nothing is taken off for it.
    """
    left_g = [can.mass_g for can in cans]
    order = sorted(range(len(cans)), key=lambda at: cans[at].opened or date.max)
    for one in sorted(poured, key=lambda one: (not one.lot, one.day)):  # those that name their lot first
        may, rest_g = [at for at in order if _is_from(one, cans[at])], one.mass_g
        for at in may:
            taken_g = rest_g if at == may[-1] else min(rest_g, max(left_g[at], 0.0))
            left_g[at] -= taken_g
            rest_g -= taken_g
    return Stock(
        tuple(
            CanLeft(can.resin, can.component, can.lot, mass_g, can.caution(today), can.expired(today))
            for can, mass_g in zip(cans, left_g, strict=True)
        )
    )


def _is_from(poured: Poured, can: Can) -> bool:
    if (poured.resin, poured.component) != (can.resin, can.component):
        return False
    return poured.lot == can.lot if poured.lot else can.opened is not None and can.opened <= poured.day
