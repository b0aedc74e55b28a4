"""Which resin for which day: one plan with each resin, by shop temperature and by how many work, and the best first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from layup.chemistry.datasheet import Datasheet, offered
from layup.chemistry.viscosity import known_Pa_s
from layup.errors import InputError, LayupError
from layup.planning.calendar import ENOUGH_S
from layup.planning.clocks import spreads
from layup.planning.fit import FITS, Fit, FitWord, fit_of
from layup.planning.night import Night, NightOutlook, overnight
from layup.planning.plan import Plan
from layup.planning.planner import COLDEST_K, HOTTEST_K, PlanResult, Settings, thick_in_the_cup, too_cold
from layup.planning.readiness import blush, forbidden, heat_helps, night_reasons, pressed, wood

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
        """Return the shop's temperature [K]."""
        return self.result.shop.temperature_K

    @property
    def people(self) -> int:
        """Return how many work."""
        return self.result.plan.crew.people

    @property
    def verdict(self) -> FitWord:
        """Return whether it fits."""
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
    nights: dict[float, Night] = {}
    found = []
    results = [
        result
        for crew in crews
        for result in crew.in_shops([replace(crew.shop, temperature_K=kelvin) for kelvin in shops_K])
    ]
    _march_together([result for result in results if result.split.fits and not too_cold(result)])
    for result in results:
        outlook, shop_K = given.after(result.plan.forecast), result.shop.temperature_K
        if shop_K not in nights:
            nights[shop_K] = overnight(pressed(result)[0](result.shop.surface_K), outlook)
        found.append(Choice(result, judged(result, outlook, nights[shop_K]), nights[shop_K]))
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


def judged(result: PlanResult, outlook: NightOutlook, night: Night) -> Fit:
    """Return the verdict that `readiness` gives, odds and night included, with no more worked out than that takes."""
    fit = fit_of(result)
    if fit.against:
        return fit
    part = pressed(result)[0](result.shop.surface_K)
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
        """Return the shops, the coldest first [K]."""
        return tuple(sorted({row.temperature_K for row in self.rows}))

    @property
    def crews(self) -> tuple[int, ...]:
        """Return how many work, the fewest first."""
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
