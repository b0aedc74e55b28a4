"""Whether a plan fits, is tight, or does not fit: the one verdict, from all that is known when it is asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from layup.chemistry.film import skin_share
from layup.planning.budget import thickest_skin
from layup.planning.castings import Pouring, pourings
from layup.planning.clocks import EMPTY_BY
from layup.planning.planner import ColdLimit, PlanResult, cast_sheets, thick_in_the_cup, too_cold
from layup.planning.pressing import press_limits
from layup.planning.schedule import left_over_words, tight_spare
from layup.planning.under_press import stops_flowing
from layup.planning.warming import shop_at
from layup.units import areal_weight, in_minutes, mass, minutes, temperature

# -- fit -------------------------------------------------------------------------------------------------------------

FitWord = Literal["fits", "tight", "does not fit"]
FITS: tuple[FitWord, ...] = get_args(FitWord)
"""From the best to the worst."""

TIGHT_CHANCE = 0.90
"""Odds of closing in time below which a plan is tight (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The verdict; `against` says what forbids the plan, `tight` what leaves too little room."""

    against: tuple[str, ...] = ()
    tight: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    """What press and cold do or may do, in three words each: it stands beside the verdict, also of a plan that fits."""

    @property
    def word(self) -> FitWord:
        if self.against:
            return "does not fit"
        return "tight" if self.tight else "fits"

    @property
    def works(self) -> bool:
        """Return whether nothing forbids the plan: it fits, or is tight."""
        return not self.against

    def more(self, chance: float | None, against: Sequence[str]) -> Fit:
        """Return the verdict with the odds of closing in time, where they are drawn, and what else forbids the plan."""
        tight = self.tight
        if chance is not None and chance < TIGHT_CHANCE:
            tight += (f"In time on {100 * chance:.0f} days of 100, {100 * TIGHT_CHANCE:.0f} wanted.",)
        return replace(self, against=(*dict.fromkeys((*self.against, *against)),), tight=tight)


def fit_of(result: PlanResult, *, chance: float | None = None, against: Sequence[str] = ()) -> Fit:
    """Judge a plan. Raises RangeError for stated viscosities that contradict each other.

    Does not fit: batches that miss a limit, a pour made in the day that cannot leave its cup in time, be weighed or
    join the one before, a shop too cold or damp for a resin, a press beyond what it bears. Tight: less to spare than a
    tenth of a life or five minutes (of a pour a tenth), odds under 90 %, a mix that gets too thick on the part to wet
    cloth while it is laid, or to leave under the press, a foam that creeps or a bag that gives too little.

    Parameters
    ----------
    chance : Odds of closing in time, 0 to 1; None where they are not drawn [-]
    against : What else forbids it: wet wood, a night too cold, damp air [-]
    """
    poured = _poured_today(result)
    thick = thick_in_the_cup(result)
    stiff = [*stops_flowing(result)]
    tight = [*tight_spare(result.split), *(words for words, _ in stiff)]
    tight += (f"{pouring.name}: {pouring.tight}" for pouring in poured if pouring.tight)
    tight += [thick[0]] if thick else []
    least_K = result.datasheet.minimum_temperature_K if result.plan.lays else None
    if least_K is not None and result.shop.cans_K < least_K:
        tight.append(
            f"Cans at {temperature(result.shop.cans_K)}: warm them, this resin asks for {temperature(least_K)}."
        )
    limits = press_limits(result.plan)
    tight += [limit.words for limit in limits if limit.answer == "wait"]
    forbids = [*(limit.words for limit in limits if limit.answer == "no"), *_forbidding(result, poured)]
    beside = [limit.short for limit in limits]
    beside += [limit.short for limit in (*too_cold(result), *doubts_of_cold(result))]
    beside += ["slow to wet"] if thick else []
    beside += [] if forbids else [short for _, short in stiff]
    return Fit(tuple(forbids), tuple(tight), (*dict.fromkeys(beside),)).more(chance, against)


def works(result: PlanResult) -> bool:
    """Say whether neither batches, pours nor cold forbid a plan, as `fit_of` does, and look no further."""
    return next(_forbidding(result, _poured_today(result)), None) is None


def _poured_today(result: PlanResult) -> list[Pouring]:
    today = [number for number in range(len(result.plan.steps)) if result.plan.pours_today(number)]
    return [pouring for pouring in pourings(result, None) if pouring.step in today] if today else []


def _forbidding(result: PlanResult, poured: Sequence[Pouring]) -> Iterator[str]:
    """Yield what forbids a plan with some pours of today."""
    yield from (limit.words for limit in too_cold(result))
    if result.plan.lays and not result.split.fits:
        yield result.split.limit.words if result.split.limit else "The batches do not fit."
    if not result.plan.lays and not result.budget.castings:
        yield "There is nothing to mix."
    yield from (pouring.trouble for pouring in poured if pouring.trouble)


COOL_K = 291.15
"""18 degC: in a cooler shop what a datasheet leaves out of cold may matter (our own judgement, no source)."""


def doubts_of_cold(result: PlanResult, *, at_K: float | None = None) -> tuple[ColdLimit, ...]:
    """Find what the datasheets of a plan do not say and a cool shop asks for. None at 18 degC or more.

    Parameters
    ----------
    at_K : How cool; None for the coldest of today's shop, part and cans [K]
    """
    shop = result.shop
    coldest_K = min(shop.temperature_K, shop.surface_K, shop.cans_K)
    at_K = coldest_K if at_K is None else at_K
    here, laying = temperature(at_K), (result.datasheet,) if result.plan.lays else ()
    found = []
    if at_K >= COOL_K:
        return ()
    for sheet in laying:
        if not sheet.viscosities:
            words = f"Viscosity of {sheet.title} unknown: at {here} it may be too thick to wet out."
            found.append(ColdLimit("thick", COOL_K, words, "viscosity unknown"))
    for sheet in (*laying, *cast_sheets(result)):
        if sheet.minimum_temperature_K is None:
            words = f"Minimum cure temperature of {sheet.title} unknown: {here} may be too cold."
            found.append(ColdLimit("minimum", COOL_K, words, "minimum cure unknown"))
    return tuple(found)


# -- words -----------------------------------------------------------------------------------------------------------

LOW_EDGE = "Times are estimates at the low edge of the 80 % band: in one case out of ten the resin is faster still."


def why(result: PlanResult) -> tuple[str, ...]:
    """Say why a plan does not fit or is tight, what is tightest where it is neither, and what is left in a cup."""
    fit, limit = fit_of(result), result.split.limit
    said = fit.against or fit.tight or ((limit.words,) if limit else ())
    return said + left_over_words(result.split)


def assumptions_of(result: PlanResult) -> tuple[str, ...]:
    """Say what a plan's grams, batches and times take for granted, with what earlier sessions taught."""
    said = (*result.budget.assumptions, *_bench_words(result), *result.calibration.assumptions)
    return (*said, *(words for words in result.taught if words not in result.calibration.assumptions))


def _part_words(result: PlanResult) -> str:
    """Say how much the mix on the part warms itself."""
    skin, part_K = thickest_skin(result.plan), result.shop.surface_K
    sooner = 100.0 * (1.0 - skin_share(result.calibration.kinetics, skin, part_K))
    if skin is None or round(sooner) < 1:
        return "Mix on the part has the part's temperature."
    return (
        f"Mix on the part makes heat: {areal_weight(skin.resin_g_m2)} of it in one wet layer close {sooner:.0f} % "
        "sooner "
        "than a thin film."
    )


def _bench_words(result: PlanResult) -> tuple[str, ...]:
    """Return what the batches and times take for granted, as sentences."""
    crew, job, pieces = result.plan.crew, result.job, result.plan.pieces
    together = "the one piece" if pieces == 1 else f"all {pieces} pieces together"
    said = [
        LOW_EDGE,
        f"The minutes of a step are for {together}, with one pair of hands: set them anew where the pieces change.",
        f"The clock of a batch starts {in_minutes(job.pace.stirring_s, '.1f')} before it is ready, at first contact.",
        f"A cup that would run away is emptied in {100 * EMPTY_BY['runaway']:.0f} % of its life "
        "(common practice, no source).",
        f"No batch weighs less than {mass(job.smallest_g)}, the least the scale keeps within 2 % of the ratio.",
        _part_words(result),
        "A batch counts as one full cup until its last gram is laid.",
    ]
    if crew.people == 1:
        said.append("One person alone: mixing stops the laying.")
    else:
        said.append(
            f"{crew.people} people: one mixes the next batch while the others lay; each pair of hands beyond the first "
            f"adds {100 * crew.second_pair:.0f} % of a pair."
        )
    return tuple(said)


def cost_of_warming(result: PlanResult, to_K: float) -> str:
    """Return in brackets how much less time a plan has to spare in a shop warmed to this; empty where no less."""
    (warmed,) = result.in_shops([replace(shop_at(result.shop, to_K), resin_K=None, part_K=None)])
    now_s, left_s = result.split.slack_s, warmed.split.slack_s
    if not works(warmed):
        return " (the batches do not fit there)"
    if now_s is None or left_s is None or minutes(left_s) == minutes(now_s) or left_s > now_s:
        return ""
    return f" (costs spare: {minutes(left_s)} left of {minutes(now_s)})"
