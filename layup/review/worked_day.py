"""A day as it was worked: a few cups, each mixed, emptied and closed over at some time, and what it had to spare.

And each resin on a past day: its logged temperatures and its real step times, with nothing else changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould, demould, setting_of
from layup.chemistry.temperature import temperature_at_K
from layup.errors import LayupError
from layup.planning.budget import for_part
from layup.planning.choosing import choosable, cold_fit
from layup.planning.crew import pace_of
from layup.planning.fit import FITS, Fit
from layup.planning.plan import Plan, Shop
from layup.planning.planner import PlanResult
from layup.planning.schedule import TIGHT_S
from layup.review.timeline import Stretch, Track, spread_open
from layup.session.archive import StoredSession
from layup.session.lifetimes import first_K, learnt_today, lifetime, mould_since, read_until, shop_of
from layup.session.state import SessionState
from layup.session.state_parts import BatchState
from layup.units import spare_of


@dataclass(frozen=True, slots=True)
class Cup:
    """One batch of a day: mixed, laid from and emptied at these times."""

    number: int
    resin_g: float
    hardener_g: float
    start_K: float
    contact_s: float
    laid_from_s: float
    emptied_s: float
    as_logged: BatchState
    """The batch that it was on the day: what was measured in it counts while nothing of it is changed."""

    @property
    def mass_g(self) -> float:
        """What is mixed in it."""
        return self.resin_g + self.hardener_g


@dataclass(frozen=True, slots=True)
class WorkedDay:
    """A day as it was worked, or as it would have been."""

    cups: tuple[Cup, ...]
    closed_s: float
    state: SessionState
    """For its temperatures until it was closed."""
    law: Calibration
    earlier_s: float = 0.0
    """So much earlier it was begun than its times say, which stay those of the temperatures' clock."""

    @property
    def spans(self) -> tuple[tuple[float, float], ...]:
        """From when to when each batch was in its cup, by the clock of the day."""
        return tuple((cup.contact_s - self.earlier_s, cup.emptied_s - self.earlier_s) for cup in self.cups)

    def with_cups(self, changed: Callable[[Cup], Cup]) -> WorkedDay:
        """Return the day with each of its cups changed."""
        return replace(self, cups=tuple(map(changed, self.cups)))

    def moved(self, when_s: Callable[[float], float]) -> WorkedDay:
        """Return the day with every time moved."""

        def moved(cup: Cup) -> Cup:
            contact_s, laid_s, emptied_s = map(when_s, (cup.contact_s, cup.laid_from_s, cup.emptied_s))
            return replace(cup, contact_s=contact_s, laid_from_s=laid_s, emptied_s=emptied_s)

        return replace(self.with_cups(moved), closed_s=when_s(self.closed_s))


def worked_day(stored: StoredSession, track: Track | None) -> WorkedDay | None:
    """Return a session as it was worked; None where no cup went on the part, nothing was closed, or from memory."""
    state, plan = stored.state, stored.plan
    if state.recalled is not None or track is None or plan is None or track.closed_s is None or stored.sheet is None:
        return None
    stirring_s = pace_of(plan.crew).stirring_s
    spans = list(laid_spans(state, {step.number: step.real for step in track.steps if step.real is not None}))
    cups: list[Cup] = []
    for batch in sorted(track.batches, key=lambda one: one.left_cup_s or 0.0):
        logged = state.batch(batch.number)
        if batch.contact_s is None or batch.left_cup_s is None or not batch.used or logged is None:
            continue
        begun_s = min((begin_s for number, begin_s, _ in spans if number == batch.number), default=0.0)
        laid_s = min(max(batch.contact_s + stirring_s, begun_s), batch.left_cup_s)
        resin_g, hardener_g = logged.resin_g or 0.0, logged.hardener_g or 0.0
        start_K = batch.start_K or track.shop.temperature_K
        cups.append(Cup(batch.number, resin_g, hardener_g, start_K, batch.contact_s, laid_s, batch.left_cup_s, logged))
    if not cups:
        return None
    law = learnt_today(state, for_part(calibrate(stored.sheet), plan)).calibration
    return WorkedDay(tuple(cups), track.closed_s, read_until(state, track.closed_s), law)


def tightest(day: WorkedDay) -> tuple[float, str]:
    """Return what the tightest cup or part of a day had to spare, below zero what it lacked [s], and which it was.

    By when each cup had to be empty, and the press closed, less when it was, by the early ends. Raises RangeError for a
    mix beyond the model.
    """
    return min(_spares(day))


def in_time(day: WorkedDay) -> bool:
    """Return whether nothing of a day was late, and all of it within the model; asked no further than the first."""
    try:
        return all(left_s >= 0.0 for left_s, _ in _spares(day))
    except LayupError:
        return False


def _spares(day: WorkedDay) -> Iterator[tuple[float, str]]:
    """Yield what each cup and each part had to spare, and which it was."""
    for cup in day.cups:
        in_cup = _batch(cup)
        yield lifetime(in_cup, day.state, day.law).due(0.0).by_s - cup.emptied_s, f"cup {cup.number}"
        open_s = lifetime(replace(in_cup, poured_out_s=cup.emptied_s), day.state, day.law).over_s
        if spread_open(open_s, cup.emptied_s):
            yield open_s.low - day.closed_s, "the part"


def _batch(cup: Cup) -> BatchState:
    """Return a cup as the journal would hold it, in its cup; what was measured counts where nothing is changed."""
    logged = cup.as_logged
    same = (logged.resin_g, logged.hardener_g, logged.mixed_s) == (cup.resin_g, cup.hardener_g, cup.contact_s)
    same = same and logged.start_K == cup.start_K
    return replace(
        logged, resin_g=cup.resin_g, hardener_g=cup.hardener_g, mixed_s=cup.contact_s, start_K=cup.start_K,
        poured_out_s=None, pressed_s=None, lost_s=None, observations=(),
        temperatures=logged.temperatures if same else (),
    )  # fmt: skip


def laid_spans(state: SessionState, real: Mapping[int, Stretch]) -> Iterator[tuple[int, float, float]]:
    """Yield each batch with from when to when its share of each of its steps was laid, by the step's real time."""
    gone: dict[int, float] = {}
    for batch in state.batches:
        for number, share in batch.serves if batch.lost_s is None else ():
            before = gone.get(number, 0.0)
            gone[number] = min(before + share, 1.0)
            if number in real:
                begin_s, took_s = real[number].begin_s, real[number].took_s
                yield batch.number, begin_s + before * took_s, begin_s + gone[number] * took_s


def other_laws(
    plan: Plan, sheet: Datasheet, resins: Mapping[str, Datasheet]
) -> Iterator[tuple[Datasheet, Calibration]]:
    """Yield each other resin that a plan may be laid with, calibrated for its part."""
    for other in choosable(plan, resins, sheet)[1:]:
        with suppress(LayupError):  # one whose numbers contradict each other is no way out
            yield other, for_part(calibrate(other), plan)


def unmeasured(cup: Cup) -> Cup:
    """Return a cup without what was measured in it, which was of its resin, in its shop."""
    return replace(cup, as_logged=replace(cup.as_logged, temperatures=()))


def with_law(day: WorkedDay, law: Calibration) -> WorkedDay:
    """Return a day with another resin."""
    return replace(day.with_cups(unmeasured), law=law)


# -- each resin --------------------------------------------------------------------------------------------------------


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
        return FITS.index(self.fit.word), -self.spare_s


@dataclass(frozen=True, slots=True)
class ResinsOnDay:
    """A past day with its own resin, and with each other."""

    own: ResinOnDay
    rows: tuple[ResinOnDay, ...]
    """All, the best first."""
    shop_K: tuple[float, float]
    """The coldest and the warmest that was logged, from the first contact to the closing."""
    people: int


def each_resin(stored: StoredSession, track: Track | None, resins: Mapping[str, Datasheet]) -> ResinsOnDay | None:
    """Play a day with each resin that its plan may be laid with, of some by their ids; None as `worked_day` has it.

    The cups keep their grams and the steps their times; the session's own resin is taken as the day taught it, the
    others as their datasheets state them. A resin does not fit that would have been late at the early end of its life,
    or for which that day was too cold.
    """
    day, plan, sheet = worked_day(stored, track), stored.plan, stored.sheet
    if day is None or plan is None or sheet is None or track is None:
        return None
    own = _played(stored, plan, day, sheet, track)
    if own is None:
        return None
    played = (_played(stored, plan, with_law(day, law), other) for other, law in other_laws(plan, sheet, resins))
    others = [one for one in played if one is not None]
    kelvins, people = _shop_K(day), stored.state.start.people if stored.state.start else 1
    rows = tuple(sorted((own, *others), key=lambda row: row.rank))
    return ResinsOnDay(own, rows, (min(kelvins), max(kelvins)), max(people, 1))


def _shop_K(day: WorkedDay) -> list[float]:
    """Return the shop's temperatures while mix was about: as read, and at the first contact and the closing [K]."""
    logged = shop_of(day.state)
    if not logged:
        return [first_K(logged)]
    begun_s = day.cups[0].contact_s
    during = [kelvin for at_s, kelvin in logged if begun_s <= at_s <= day.closed_s]
    return [temperature_at_K(logged, begun_s), *during, temperature_at_K(logged, day.closed_s)]


def _played(
    stored: StoredSession, plan: Plan, day: WorkedDay, sheet: Datasheet, own: Track | None = None
) -> ResinOnDay | None:
    """Return a day with the resin that it is with, that of its `own` track or another; None where the model ends."""
    try:
        spare_s, where = (own.tightest if own else None) or tightest(day)
    except LayupError:
        return None
    mould, ready = mould_since(stored.state, day.closed_s), None
    with suppress(LayupError):
        ready = demould(setting_of(sheet, day.law.kinetics)[0], day.law, mould) if mould else None
    words, cold = (f"{where[0].upper()}{where[1:]}: {spare_of(spare_s)}.",), cold_on(plan, day, sheet, day.law)
    late, close = spare_s < 0.0, 0.0 <= spare_s < TIGHT_S
    fit = Fit((*(words if late else ()), *cold.against), (*(words if close else ()), *cold.tight))
    return ResinOnDay(sheet, spare_s, where, fit, ready)


def cold_on(plan: Plan, day: WorkedDay, sheet: Datasheet, law: Calibration) -> Fit:
    """Judge a resin by the cold of a day alone: that of its shop, and of its coldest cup."""
    shop = Shop(min(_shop_K(day)), resin_K=min(cup.start_K for cup in day.cups))
    return cold_fit(PlanResult(plan, sheet, law, shop))
