"""Each resin on a past day: its logged temperatures and its real step times, with nothing else changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould, demould, setting_of
from layup.chemistry.temperature import temperature_at_K
from layup.errors import LayupError
from layup.planning.calendar import ORDER
from layup.planning.choosing import cold_fit
from layup.planning.fit import Fit
from layup.planning.plan import Plan, Shop
from layup.planning.planner import PlanResult
from layup.planning.schedule import TIGHT_S
from layup.review.changed_days import other_laws, with_law
from layup.review.timeline import Track
from layup.review.worked_day import WorkedDay, tightest, worked_day
from layup.session.archive import StoredSession
from layup.session.lifetimes import first_K, mould_since, shop_of
from layup.units import minutes


@dataclass(frozen=True, slots=True)
class ResinOnDay:
    """One resin on the day: what its tightest cup or part had to spare, below zero what it lacked."""

    sheet: Datasheet
    spare_s: float
    tightest: str
    fit: Fit
    ready: Demould | None
    """When its part may leave the mould as that was logged, from closing; None where the model ends."""

    @property
    def rank(self) -> tuple[float, float]:
        """Return what to sort by, the best first."""
        return ORDER.index(self.fit.word), -self.spare_s


@dataclass(frozen=True, slots=True)
class ResinsOnDay:
    """A past day with its own resin, and with each other."""

    own: ResinOnDay
    others: tuple[ResinOnDay, ...]
    """The best first."""
    shop_K: tuple[float, float]
    """The coldest and the warmest that was logged, from the first contact to the closing."""
    people: int

    @property
    def rows(self) -> tuple[ResinOnDay, ...]:
        """Return all, the best first."""
        return tuple(sorted((self.own, *self.others), key=lambda row: row.rank))


def each_resin(kept: StoredSession, track: Track | None, resins: Mapping[str, Datasheet]) -> ResinsOnDay | None:
    """Play a day with each resin that its plan may be laid with.

    Parameters
    ----------
    kept : StoredSession
        The session, as it is stored [-]
    track : Track | None
        What it went like; None where that is not known [-]
    resins : Mapping[str, Datasheet]
        The resins to try, by their ids [-]

    Returns
    -------
    ResinsOnDay | None
        None for a day without a cup on the part or a closing, or told from memory [-]

    Notes
    -----
    The cups keep their grams and the steps their times; the session's own resin is taken as the day taught it, the
    others as their datasheets state them. A resin does not fit that would have been late at the early end of its life,
    or for which that day was too cold.
    """
    day, plan, sheet = worked_day(kept, track), kept.plan, kept.sheet
    own = None if day is None or plan is None or sheet is None else _played(plan, day, sheet, day.law)
    if day is None or plan is None or sheet is None or own is None:
        return None
    others = [one for each in other_laws(plan, sheet, resins) if (one := _played(plan, day, *each)) is not None]
    others.sort(key=lambda row: row.rank)
    kelvins, people = _shop_K(day), kept.state.start.people if kept.state.start else 1
    return ResinsOnDay(own, tuple(others), (min(kelvins), max(kelvins)), max(people, 1))


def _shop_K(day: WorkedDay) -> list[float]:
    """Return the shop's temperatures while mix was about: as read, and at the first contact and the closing [K]."""
    logged = shop_of(day.state)
    if not logged:
        return [first_K(logged)]
    begun_s = day.cups[0].contact_s
    during = [kelvin for at_s, kelvin in logged if begun_s <= at_s <= day.closed_s]
    return [temperature_at_K(logged, begun_s), *during, temperature_at_K(logged, day.closed_s)]


def _played(plan: Plan, day: WorkedDay, sheet: Datasheet, law: Calibration) -> ResinOnDay | None:
    """Return the day with one resin; None where the model ends."""
    try:
        spare_s, where = tightest(day if law is day.law else with_law(day, law))
    except LayupError:
        return None
    mould = mould_since(day.state, day.closed_s)
    try:
        ready = demould(setting_of(sheet, law.kinetics)[0], law, mould) if mould else None
    except LayupError:
        ready = None
    return ResinOnDay(sheet, spare_s, where, Fit(*_said(plan, day, sheet, law, (spare_s, where))), ready)


def _said(
    plan: Plan, day: WorkedDay, sheet: Datasheet, law: Calibration, spare: tuple[float, str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what forbids a resin on that day, and what makes it tight."""
    spare_s, where = spare
    late = (f"{where[0].upper()}{where[1:]}: {minutes(-spare_s)} too late.",) if spare_s < 0.0 else ()
    close = (f"{where[0].upper()}{where[1:]}: {minutes(spare_s)} spare.",) if 0.0 <= spare_s < TIGHT_S else ()
    shop = Shop(min(_shop_K(day)), resin_K=min(cup.start_K for cup in day.cups))
    cold = cold_fit(PlanResult(plan, sheet, law, shop))
    return (*late, *cold.against), (*close, *cold.tight)
