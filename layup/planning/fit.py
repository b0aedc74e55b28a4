"""Whether a plan fits, is tight, or does not fit: the one verdict, from all that is known when it is asked for.

Of that: until when the mix wets cloth and leaves under the press, and how much leaves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, sqrt
from typing import Literal, get_args

from layup.chemistry.film import skin_share
from layup.chemistry.kinetics import Kinetics, conversion_after, reduced_time
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.life_band import FilmFlow, film_flow
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band
from layup.chemistry.viscosity import (
    LEAVES_SHARE,
    PERMEABILITY_LOG,
    WETS_OUT_PA_S,
    Squeeze,
    conversion_leaving,
    conversion_thicker,
    known_Pa_s,
    share_that_leaves,
    viscosity_growth,
)
from layup.planning.budget import thickest_skin
from layup.planning.castings import Pouring, pourings
from layup.planning.clocks import EMPTY_BY
from layup.planning.outline import shape
from layup.planning.planner import (
    TOO_THICK_PA_S,
    ColdLimit,
    PlanResult,
    cast_sheets,
    thick_in_the_cup,
    thicker_below_K,
    too_cold,
)
from layup.planning.pressing import press_limits, pressing
from layup.planning.schedule import left_over_words, tight_spare
from layup.planning.warming import shop_at
from layup.units import areal_weight, in_minutes, length, mass, minutes, temperature

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


# -- flow ------------------------------------------------------------------------------------------------------------

RICH_SHARE = 0.5
"""A part from which less than this share of what should leave does leave is called resin-rich (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Flowing:
    """Until when one batch flows, from the start of the first weighing; None where it starts too thick for it."""

    number: int
    wets_until: Band | None
    squeezes_until: Band | None


def flowing(result: PlanResult) -> tuple[Flowing, ...]:
    """Return until when each batch wets cloth and leaves under the press, with the 80 % bands.

    One a batch; none where the viscosity on the part is not known.

    Each edge of a batch's open life is cut, or goes on, by as much as the same edge of a film's.
    """
    film = _film(result)
    if film is None:
        return ()
    found = []
    for batch in result.split.batches:
        open_s = result.clocks.spread(batch.mass_g).open_band_s(batch.held_s)
        limits = [
            until and _in_batch(until, film.flow, batch.contact_s, open_s)
            for until in (film.flow.wets, film.flow.leaves)
        ]
        found.append(Flowing(batch.number, *limits))
    return tuple(found)


def stops_flowing(result: PlanResult) -> Iterator[tuple[str, str]]:
    """Yield what no longer flows by the time it has to, as a plan's reasons to be tight, each also in three words.

    Judged at the low edge: the dose to a limit is used up evenly until then, and so is the open life's where a mix is
    too thick from the start.
    """
    yield from _stiff_on_the_part(result)
    film = _film(result)
    batches = result.split.batches
    if film is None or any(batch.part_margin_s < 0.0 or batch.open_low_s <= 0.0 for batch in batches):
        return
    law = result.calibration.kinetics
    laid_g = sum(batch.laid_g for batch in batches)
    out_g = sum(line.squeezed_g for line in result.budget.lines)
    stays_g, least, close_by_s = 0.0, 1.0, inf
    for batch in batches:
        wets_s, leaves_s = (
            batch.open_low_s * (_shares(until, film.flow)[0] if until else 0.0)
            for until in (film.flow.wets, film.flow.leaves)
        )
        laid_s, closed_s = batch.done_s - batch.contact_s, batch.open_low_s - batch.part_margin_s
        if 0.0 < wets_s < laid_s:
            wets = conversion_thicker(WETS_OUT_PA_S / film.fresh_Pa_s, law.conversion_gel)
            laid = min(conversion_after(law, reduced_time(law, wets) * laid_s / wets_s), law.conversion_film)
            thick_Pa_s = film.fresh_Pa_s * viscosity_growth(laid, law.conversion_gel)
            words = f"Batch {batch.number}: the last of it no longer wets cloth, {thick_Pa_s:.0f} Pa·s thick by then: "
            todo = f"lay it by {in_minutes(batch.contact_s + wets_s)}, or in smaller batches."
            yield words + todo, "late to wet"
        closing = _at_closing(law, film, 0, batch.open_low_s, closed_s)
        leaves = share_that_leaves(film.squeeze, law, film.fresh_Pa_s, film.part_K, closing)
        stays_g += (1.0 - leaves) * out_g * batch.laid_g / laid_g
        least, close_by_s = min(least, leaves), min(close_by_s, batch.contact_s + leaves_s)
    if least < LEAVES_SHARE:
        stays = f"{mass(stays_g)} of the {mass(out_g)}" if out_g else f"up to {100 * (1.0 - least):.0f} % of the mix"
        todo = f"close by {in_minutes(60.0 * (close_by_s // 60.0))}" if film.flow.leaves else "warm the part"
        yield f"Closed then, {stays} that should leave stay, resin-rich (a rough estimate): {todo}.", "resin-rich"


@dataclass(frozen=True, slots=True)
class SqueezedOut:
    """What leaves one press day's cloth by the time its mix no longer flows, and the laminate that is left."""

    share: Band
    """Of what would run out of a mix that never sets, 0..1."""
    out_g: Band
    """Of all pieces: what is to be wiped."""
    fraction: Band
    """Fibre by volume of the pressed cloth."""
    laminate_m: Band
    """All plies of one piece: its low edge goes with the high edge of the fraction."""
    planned_g: float | None
    planned_fraction: float

    @property
    def as_planned(self) -> bool:
        """Return whether what the plan counts on lies in the band."""
        return self.out_g.low <= (self.planned_g or 0.0) <= self.out_g.high

    @property
    def rich(self) -> bool:
        return self.share.likely < RICH_SHARE


def squeezed_out(result: PlanResult) -> SqueezedOut | None:
    """Find how much mix leaves under the press by the time it no longer flows.

    None where the viscosity on the part or the packing of its cloth is not known, or a batch is laid too late.

    What the cloth has no room for at its pressure, times Terzaghi's degree of consolidation from the closing to the
    gel. Low, likely and high take the low end, the middle and the high end of packing, permeability and open life.
    Source: T. G. Gutowski, Z. Cai et al., J. Compos. Mater. 21 (1987) 650; K. Terzaghi, Theoretical Soil Mechanics,
    1943, chapter 13 (both from memory).
    """
    film, press, day = _film(result), pressing(result.plan), result.timeline
    if film is None or day is None or not press.packs or press.planned_fraction is None:
        return None
    if any(batch.open_low_s <= 0.0 for batch in result.split.batches):
        return None
    share = Band(*(_share_out(result, film, edge, day.closed_s) for edge in range(3)))
    low_g, high_g = press.pressed_out_g
    runs_g = Band(low_g, 0.5 * (low_g + high_g), high_g)
    out_g = Band(*(grams * part for grams, part in zip(runs_g, share, strict=True)))
    left_cm3 = [(press.laid_g - grams) / CURED_DENSITY_G_CM3 for grams in out_g]
    fraction = Band(*(press.fibre_cm3 / (press.fibre_cm3 + volume) for volume in left_cm3))
    thick_m = [press.laminate_m * press.planned_fraction / part for part in reversed(tuple(fraction))]
    return SqueezedOut(share, out_g, fraction, Band(*thick_m), press.planned_out_g, press.planned_fraction)


def squeezed_words(found: SqueezedOut) -> str:
    """Say how much leaves under the press beside what the plan counts on, and what laminate that makes.

    One sentence, or two where they disagree.
    """
    low_g, likely_g, high_g = found.out_g
    low, likely, high = (100 * part for part in found.fraction)
    planned = "none planned" if found.planned_g is None else f"planned {mass(found.planned_g)}"
    words = (
        f"Squeezed out ≈ {mass(likely_g)} ({mass.digits(low_g)}-{mass.digits(high_g)}; {planned}): "
        f"{likely:.0f} % fibre by volume ({low:.0f}-{high:.0f}), {length(found.laminate_m.likely, '.1f')}."
    )
    if found.rich:
        return f"{words} It closes too late: the part will stay resin-rich."
    return words if found.as_planned else f"{words} Not as planned: weigh what you wipe off."


def _share_out(result: PlanResult, film: _Film, edge: int, closed_s: float) -> float:
    """Return the share that leaves all batches after the closing, by one edge of what is unsure."""
    law, batches = result.calibration.kinetics, result.split.batches
    scatter = exp((edge - 1) * EIGHTY_PERCENT * PERMEABILITY_LOG)
    squeeze = replace(film.squeeze, permeability_m2=film.squeeze.permeability_m2 * scatter)
    total = 0.0
    for batch in batches:
        open_s = result.clocks.spread(batch.mass_g).open_band_s(batch.held_s)[edge]
        closing = _at_closing(law, film, edge, open_s, closed_s - batch.contact_s)
        total += batch.laid_g * share_that_leaves(squeeze, law, film.fresh_Pa_s, film.part_K, closing)
    return total / sum(batch.laid_g for batch in batches)


def _at_closing(law: Kinetics, film: _Film, edge: int, open_s: float, closed_s: float) -> float:
    """Return a batch's conversion when the press closes: its dose is used up evenly until the limit that is known."""
    enough = conversion_leaving(film.squeeze, law, film.fresh_Pa_s, film.part_K)
    if enough is None or film.flow.leaves is None:
        ends, ends_s = law.conversion_film, open_s
    else:
        ends, ends_s = enough, open_s * _shares(film.flow.leaves, film.flow)[edge]
    return conversion_after(law, reduced_time(law, ends) * closed_s / ends_s) if ends_s > 0.0 else 1.0


def _in_batch(until: Band, film: FilmFlow, contact_s: float, open_s: Sequence[float]) -> Band:
    """Return a film's limit for a batch with that open life, on the plan's clock."""
    return Band(*(contact_s + edge_s * share for edge_s, share in zip(open_s, _shares(until, film), strict=True)))


def _shares(until: Band, film: FilmFlow) -> tuple[float, ...]:
    """Return a limit over the open life, edge by edge."""
    return tuple(edge_s / open_s for edge_s, open_s in zip(until, film.open, strict=True))


def _stiff_on_the_part(result: PlanResult) -> Iterator[tuple[str, str]]:
    """Yield a mix from warm cans that is too thick to flow once it has the temperature of a cold part."""
    part_K = result.shop.surface_K
    thick_K = thicker_below_K(result.datasheet.viscosities, TOO_THICK_PA_S) if result.plan.lays else None
    if thick_K is not None and part_K < thick_K <= result.shop.cans_K:
        words = f"On the part, at {temperature(part_K)}, the mix no longer flows when the press closes: "
        todo = f"warm mould and core to {temperature(thick_K)} (common practice, no source)."
        yield words + todo, "stiff on part"


@dataclass(frozen=True, slots=True)
class _Film:
    """The mix as a film on the part, and the press on it."""

    fresh_Pa_s: float
    part_K: float
    squeeze: Squeeze
    flow: FilmFlow


def _film(result: PlanResult) -> _Film | None:
    """Return the mix as a film on the part; None where its viscosity there is not known."""
    plan, part_K = result.plan, result.shop.surface_K
    fresh_Pa_s = known_Pa_s(result.datasheet.viscosities, part_K) if plan.lays else None
    if fresh_Pa_s is None:
        return None
    press = pressing(plan)
    length_m = shape(plan.outline).length_m
    width_m = press.area_m2 / length_m if length_m else sqrt(press.area_m2)  # where only an area is known, a square's
    squeeze = Squeeze(press.pressure_Pa, 0.5 * width_m)
    return _Film(fresh_Pa_s, part_K, squeeze, film_flow(result.calibration, squeeze, fresh_Pa_s, part_K))
