"""Which resin for which day: one plan with each resin, by shop temperature and by how many work, and the best first.

At which hour a press day begins best: some evenings are too cold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import ceil, floor, inf

from layup.chemistry.datasheet import Datasheet, least_warmth, offered
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.numerics import require_between
from layup.chemistry.temperature import AHEAD_S, DAY_S, History, course_K, stretch
from layup.chemistry.viscosity import known_Pa_s
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, LayupError, RangeError
from layup.planning.clocks import spreads
from layup.planning.fit import FITS, Fit, FitWord, fit_of
from layup.planning.night import OUT_BY_S, Night, NightOutlook, overnight
from layup.planning.plan import Plan
from layup.planning.planner import COLDEST_K, HOTTEST_K, PlanResult, Settings, thick_in_the_cup, too_cold
from layup.planning.readiness import blush, forbidden, heat_helps, in_press, night_reasons, wood

STEP_K = 5.0
PEOPLE = (1, 2, 3)


def temperatures_K(tonight_K: float) -> tuple[float, ...]:
    """Return the shops that are tried: 278 to 308 K in steps of 5 K, and tonight's.

    The coldest first.

    >>> [round(kelvin) for kelvin in temperatures_K(291.15)]
    [278, 283, 288, 291, 293, 298, 303, 308]
    """
    steps = round((HOTTEST_K - COLDEST_K) / STEP_K)
    grid = (COLDEST_K + STEP_K * step for step in range(steps + 1))
    return tuple(sorted({tonight_K, *(kelvin for kelvin in grid if abs(kelvin - tonight_K) > 1e-6)}))


@dataclass(frozen=True, slots=True)
class Choice:
    """A plan with one resin, in one shop, with so many people."""

    result: PlanResult
    fit: Fit
    night: Night
    odd: str = ""
    """What is odd in the resin's file; empty where nothing is."""

    @property
    def temperature_K(self) -> float:
        return self.result.shop.temperature_K

    @property
    def people(self) -> int:
        return self.result.plan.crew.people

    @property
    def verdict(self) -> FitWord:
        return self.fit.word

    @property
    def chance(self) -> float | None:
        """Return the odds of closing in time, 0 to 1; None where something forbids it."""
        return self.result.chance if self.fit.works else None

    @property
    def viscosity_Pa_s(self) -> float | None:
        """Return how thick the fresh mix is in this shop; None where no stated one is near [Pa s]."""
        return known_Pa_s(self.result.datasheet.viscosities, self.result.shop.cans_K)

    @property
    def price(self) -> float | None:
        """Return what the mix costs, in the prices of the resin's file; None where it states none."""
        per_kg, grams = self.result.datasheet.price_per_kg, self.result.budget
        return None if per_kg is None else per_kg * (grams.buy_resin_g + grams.buy_hardener_g) / 1000.0

    @property
    def rank(self) -> tuple[float, ...]:
        """Return what to sort by, the best first: verdict, spare up to 20 min, who is out first to the second."""
        slack_s = self.result.split.slack_s
        spare_s = -float("inf") if slack_s is None else slack_s
        return FITS.index(self.verdict), -min(spare_s, ENOUGH_S), round(self.night.ready.out_s.likely, 0)


def choices(
    crews: Iterable[PlanResult], shops_K: Sequence[float], outlook: NightOutlook | None = None
) -> tuple[Choice, ...]:
    """Judge a plan with one resin in many shops, by the one verdict of a plan.

    Each crew in each shop, in the order given. Raises RangeError for a resin or a shop beyond the model; InputError for
    a plan or a datasheet that lacks what the grams need.
    """
    given = outlook or NightOutlook()
    found = []
    results = [
        result
        for crew in crews
        for result in crew.in_shops([replace(crew.shop, temperature_K=kelvin) for kelvin in shops_K])
    ]
    _march_together([result for result in results if result.split.fits and not too_cold(result)])
    for result in results:
        outlook = given.after(result.plan.forecast)
        night = overnight(in_press(result)[0], outlook)
        found.append(Choice(result, judged(result, outlook), night))
    return tuple(found)


def _march_together(results: Sequence[PlanResult]) -> None:
    """Work out what the odds of some plans with one resin ask for, all of it at once."""
    cups = [(result.clocks.shop, batch.mass_g) for result in results for batch in result.split.batches]
    if cups:
        spreads(results[0].clocks.calibration, cups)


def measured(result: PlanResult, outlook: NightOutlook) -> PlanResult:
    """Return a plan in air as damp as it was measured, where it was."""
    damp = result.shop if outlook.humidity is None else replace(result.shop, relative_humidity=outlook.humidity)
    return result if damp == result.shop else replace(result, shop=damp)


def judged(result: PlanResult, outlook: NightOutlook) -> Fit:
    """Return the verdict that `readiness` gives, odds and night included, with no more worked out than that takes."""
    fit = fit_of(result)
    if fit.against:
        return fit
    part, _ = in_press(result)
    night = overnight(part, outlook)
    heated = not night.makes_it and heat_helps(result, outlook)
    against = forbidden([*blush(result), *wood(outlook.wood_moisture), *night_reasons(part, night, heated)])
    return fit.more(result.chance, against)


def cold_fit(result: PlanResult) -> Fit:
    """Judge by the cold alone, as the verdict of a plan does.

    Against it what forbids the resin there; tight a mix that is slow to wet out cloth.
    """
    thick = thick_in_the_cup(result)
    return Fit(tuple(limit.words for limit in too_cold(result)), (thick[0],) if thick else ())


# -- table -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ResinTable:
    """Every resin of a workshop that a plan may be laid with, in every shop, with every crew."""

    rows: tuple[Choice, ...]
    tonight_K: float
    people: int
    left_out: tuple[str, ...]
    """What cannot be judged, and why."""

    @property
    def tonight(self) -> tuple[Choice, ...]:
        """Return the resins in tonight's shop with tonight's crew, the best first."""
        here = (row for row in self.rows if (row.temperature_K, row.people) == (self.tonight_K, self.people))
        return tuple(sorted(here, key=lambda row: row.rank))

    @property
    def shops_K(self) -> tuple[float, ...]:
        return tuple(sorted({row.temperature_K for row in self.rows}))

    @property
    def crews(self) -> tuple[int, ...]:
        return tuple(sorted({row.people for row in self.rows}))

    def nearest(self) -> Choice | None:
        """Return what fits in the shop most like tonight's, before another crew; None where nothing does."""

        def off(row: Choice) -> tuple[float, ...]:
            return abs(row.temperature_K - self.tonight_K), abs(row.people - self.people), *row.rank

        return min((row for row in self.rows if row.verdict == "fits"), key=off, default=None)


def resin_table(
    asked: Callable[[Settings], PlanResult],
    plan: Plan,
    sheets: Mapping[str, Datasheet],
    tonight: Settings,
    outlook: NightOutlook | None = None,
    progress: Callable[[int, int], None] | None = None,
    odd_words: Callable[[str], str] = lambda _: "",
) -> ResinTable:
    """Judge a plan with each resin it may be laid with, from 278 to 308 K and with one to three people.

    With what had to be left out. Raises InputError for a plan that lays nothing, or whose own resin is not there.

    Parameters
    ----------
    asked : The plan with some settings, with nothing worked out yet [-]
    sheets : The resins of the workshop, by their ids [-]
    outlook : The night and when the part is wanted; None for a night as warm as the shop [-]
    progress : Told how many resins are judged, of how many [-]
    odd_words : What is odd in the file of a resin, by its id [-]
    """
    if not plan.lays:
        raise InputError("plan", "lays nothing", value=plan.title, allowed="a plan with cloth or faces to bond")
    own = asked(tonight).datasheet
    wanted = choosable(plan, sheets, own)
    shops_K, crews = temperatures_K(tonight.temperature_K), sorted({*PEOPLE, tonight.people})
    rows: list[Choice] = []
    left_out = []
    for number, sheet in enumerate(wanted):
        if progress is not None:
            progress(number, len(wanted))
        try:
            plans = [asked(replace(tonight, resin_id=sheet.id, people=people)) for people in crews]
            rows += [replace(row, odd=odd_words(sheet.id)) for row in choices(plans, shops_K, outlook)]
        except LayupError as error:
            left_out.append(f"{sheet.title}: {error}")
    return ResinTable(tuple(rows), tonight.temperature_K, tonight.people, tuple(left_out))


def choosable(plan: Plan, sheets: Mapping[str, Datasheet], own: Datasheet) -> tuple[Datasheet, ...]:
    """Return the laminating resins that a plan may be laid with, the one it has first.

    Those of the same chemistry; what came with the program only where the plan's file names such a one itself.

    Parameters
    ----------
    sheets : The resins of the workshop, by their ids [-]
    """
    stated = sheets.get(plan.resin_id, own)
    others = offered(sheets, stated).values()
    return own, *(sheet for sheet in others if sheet.chemistry == own.chemistry and sheet.id != own.id)


# -- hours -----------------------------------------------------------------------------------------------------------

HOUR_S = 3600.0
ROUNDED_K = 0.5
"""Temperatures are rounded away from each other to this, so that hours that are alike are worked out once."""
ENOUGH_S = 1200.0
"""Time to spare beyond which more of it is no better (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Hour:
    """A press day that begins at one hour."""

    begin_s: float
    """From midnight."""
    low_K: float
    high_K: float
    """The shop from the first batch to the closing."""
    verdict: FitWord
    """The worse of what it is at the coldest and at the warmest of that."""
    slack_s: float | None
    """The less of both."""
    why: str
    """What forbids it, or makes it tight; empty where it fits."""
    out_s: float
    """From closing, when the part may come out on a mould as warm as the shop; inf for not in four days, or no plan."""
    too_cold: bool
    """Whether the shop gets colder than the resin cures in, before the press is closed."""


def hours_of(
    work_out: Callable[[float], PlanResult],
    course: History,
    *,
    from_s: float,
    to_s: float,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Hour, ...]:
    """Judge a press day at each full hour.

    Raises InputError for a course without points; RangeError for hours outside the day. From the first batch to the
    closing the plan must work at the warmest, which shortens every life, and at the coldest, which thickens the mix;
    the cure follows the course, day by day.

    Parameters
    ----------
    work_out : What the plan comes to in a shop of one temperature [K]
    from_s : First hour, from midnight, 0 to a day [s]
    to_s : Last hour, `from_s` to a day [s]
    progress : Told how many hours are judged, of how many [-]
    """
    require_between("first hour", from_s, 0.0, DAY_S, unit="s")
    require_between("last hour", to_s, from_s, DAY_S, unit="s")
    at = cache(work_out)
    first, last = ceil(from_s / HOUR_S), floor(to_s / HOUR_S)
    found: list[Hour] = []
    for hour in range(first, last + 1):
        if progress is not None:
            progress(len(found), last + 1 - first)
        found.append(_hour(at, course, hour * HOUR_S))
    return tuple(found)


def best_hour(hours: tuple[Hour, ...]) -> Hour | None:
    """Find the hour to begin at: by its verdict, then a part that is out by when it is wanted, then the time to spare.

    None where it fits at none. More than 20 min to spare count as 20: of two such hours the one whose part is out first
    is taken.
    """
    fit = [hour for hour in hours if hour.verdict != "does not fit"]

    def rank(hour: Hour) -> tuple[float, ...]:
        late = hour.too_cold or hour.out_s > OUT_BY_S
        return FITS.index(hour.verdict), late, -min(hour.slack_s or 0.0, ENOUGH_S), hour.out_s

    return min(fit, key=rank, default=None)


def _hour(at: Callable[[float], PlanResult], course: History, begin_s: float) -> Hour:
    middle = at(_rounded(course_K(course, begin_s), up=True))
    closed_s = middle.timeline.closed_s if middle.timeline is not None else HOUR_S
    shop_K = [kelvin for _, kelvin in stretch(course, begin_s, begin_s + closed_s)]
    low_K, high_K = min(shop_K), max(shop_K)
    ends = (at(_rounded(high_K, up=True)), at(_rounded(low_K, up=False)))
    fits = [fit_of(end) for end in ends]
    verdict = max((fit.word for fit in fits), key=FITS.index)
    slacks = [end.split.slack_s for end in ends if end.split.slack_s is not None]
    reasons = [words for fit in fits if fit.word == verdict for words in (*fit.against, *fit.tight, *fit.beside)]
    return Hour(
        begin_s=begin_s,
        low_K=low_K,
        high_K=high_K,
        verdict=verdict,
        slack_s=min(slacks, default=None),
        why=reasons[0] if reasons and verdict != "fits" else "",
        out_s=inf if verdict == "does not fit" else _out_s(middle, course, begin_s + closed_s),
        too_cold=low_K < least_warmth(middle.datasheet)[0],
    )


def _out_s(result: PlanResult, course: History, closed_s: float) -> float:
    """Return when the part may come out of a mould as warm as the shop, from closing; inf for not in four days."""
    setting, _ = setting_of(result.datasheet, result.calibration.kinetics)
    mould = stretch(course, closed_s, closed_s + AHEAD_S)
    try:
        out_s = demould(setting, result.calibration, mould).out_s.likely
    except RangeError:  # a shop beyond what the cure is known in
        return inf
    return out_s if out_s <= AHEAD_S else inf


def _rounded(kelvin: float, *, up: bool) -> float:
    """Return a temperature rounded away from the other end, in whole or half degrees Celsius."""
    steps = (kelvin - ZERO_CELSIUS_K) / ROUNDED_K
    return ZERO_CELSIUS_K + ROUNDED_K * (ceil(steps - 1e-9) if up else floor(steps + 1e-9))
