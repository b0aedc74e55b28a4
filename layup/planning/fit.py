"""Whether a plan fits, is tight, or does not fit: the one verdict, from all that is known when it is asked for.

The whole answer for one case: grams, batches, the day, the temperature window, and whether it fits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from layup.planning.batches import Timeline, timeline
from layup.planning.castings import pours_in_time
from layup.planning.clocks import EMPTY_BY
from layup.planning.planner import Case, Settled, settle
from layup.planning.schedule import Split, left_over_words, minutes
from layup.planning.window import TOO_THICK_PA_S, Window, temperature_window, thicker_below_K, too_cold

# -- fit -------------------------------------------------------------------------------------------------------------

Word = Literal["fits", "tight", "does not fit"]

TIGHT_SHARE, TIGHT_S = 0.10, 300.0
"""Spare that is too little: this share of the life it is spare of, or this long (common practice, no source)."""
TIGHT_CHANCE = 0.90
"""Odds of closing in time below which a plan is tight (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The verdict; `against` says what forbids the plan, `tight` what leaves too little room."""

    against: tuple[str, ...] = ()
    tight: tuple[str, ...] = ()

    @property
    def word(self) -> Word:
        """Return the verdict in a word or three."""
        if self.against:
            return "does not fit"
        return "tight" if self.tight else "fits"

    @property
    def works(self) -> bool:
        """Return whether nothing forbids the plan: it fits, or is tight."""
        return not self.against


def fit_of(case: Case, settled: Settled, *, chance: float | None = None, against: Sequence[str] = ()) -> Fit:
    """Judge a plan.

    Parameters
    ----------
    case : Case
        Part, resin and shop [-]
    settled : Settled
        Its grams and batches [-]
    chance : float | None
        Odds of closing in time, 0 to 1; None where they are not drawn [-]
    against : Sequence[str]
        What else forbids it: wet wood, a night too cold, damp air [-]

    Returns
    -------
    Fit
        The verdict, with what forbids the plan and what makes it tight [-]

    Raises
    ------
    RangeError
        Stated viscosities that contradict each other.

    Notes
    -----
    Does not fit: batches that miss a limit, a pour made in the day that cannot leave its cup in time, a shop too cold
    or damp for a resin. Tight: less to spare than a tenth of a life or five minutes, odds under 90 %, or a mix that
    gets too thick to flow on a cold part before the press is closed.
    """
    split, lays = settled.split, case.plan.lays
    forbids = [limit.words for limit in too_cold(case)]
    if lays and not split.fits:
        forbids.append(split.limit.words if split.limit else "The batches do not fit.")
    if not lays and not settled.budget.castings:
        forbids.append("There is nothing to mix.")
    forbids += (
        f"{casting.name}: no pour leaves its cup in time."
        for casting in settled.budget.castings
        if case.plan.pours_today(casting.step) and not pours_in_time(case, settled, casting)
    )
    tight = [*tight_spare(split), *_stiff_on_the_part(case)]
    if chance is not None and chance < TIGHT_CHANCE:
        tight.append(f"It closes in time in {100 * chance:.0f} days out of 100; {100 * TIGHT_CHANCE:.0f} are wanted.")
    return Fit((*dict.fromkeys((*forbids, *against)),), tuple(tight))


def tight_spare(split: Split) -> tuple[str, ...]:
    """Say which of a split's limits has too little to spare."""
    spares = [
        (margin_s, life_s, number, what)
        for batch in split.batches
        for margin_s, life_s, number, what in (
            (batch.cup_margin_s, batch.cup.low_s, batch.number, "its cup is empty"),
            (batch.part_margin_s, batch.open_low_s, batch.number, "it is under the press"),
        )
    ]
    if split.limit and split.limit.margin_s is not None and split.limit.batch is None:
        spares.append((split.limit.margin_s, 0.0, 0, ""))
    short = [spare for spare in spares if 0.0 <= spare[0] < max(TIGHT_S, TIGHT_SHARE * spare[1])]
    if not short:
        return ()
    margin_s, life_s, number, what = min(short)
    if not number:
        return (f"{minutes(margin_s)} to spare: {TIGHT_S / 60:.0f} min are wanted.",)
    wanted = minutes(max(TIGHT_S, TIGHT_SHARE * life_s))
    return (f"Batch {number}: {what} {minutes(margin_s)} before it must be; {wanted} are wanted.",)


def _stiff_on_the_part(case: Case) -> Iterator[str]:
    """Yield a mix from warm cans that is too thick to flow once it has the temperature of a cold part."""
    shop = case.shop
    part_K = shop.temperature_K if shop.part_K is None else shop.part_K
    thick_K = thicker_below_K(case.datasheet.viscosities, TOO_THICK_PA_S) if case.plan.lays else None
    if thick_K is not None and part_K < thick_K <= (shop.resin_K or shop.temperature_K):
        yield (
            f"On the part, at {part_K - 273.15:.0f} °C, the mix no longer flows when the press closes: warm mould and "
            f"core to {thick_K - 273.15:.0f} °C (common practice, no source)."
        )


# -- whatif ----------------------------------------------------------------------------------------------------------

LOW_EDGE = "Times are estimates at the low edge of the 80 % band: in one case out of ten the resin is faster still."


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What a case comes to.

    `reasons` says why it does not fit or is tight, what is tightest where it is neither, and what would be left
    standing in a cup. `fit` is the verdict before the odds are drawn and the night is known.
    """

    case: Case
    settled: Settled
    timeline: Timeline | None
    window: Window
    fit: Fit
    reasons: tuple[str, ...]
    assumptions: tuple[str, ...]


def what_if(case: Case) -> WhatIf:
    """Plan a case from grams to temperature window.

    Parameters
    ----------
    case : Case
        Part, resin and shop [-]

    Returns
    -------
    WhatIf
        Everything that follows from them [-]

    Raises
    ------
    RangeError
        A number out of range, or a fibre fraction above the packing ceiling.
    InputError
        An outline without a length where cloth is cut, or a ratio by volume without densities.
    """
    settled = settle(case)
    fit, limit = fit_of(case, settled), settled.split.limit
    said = fit.against or fit.tight or ((limit.words,) if limit else ())
    return WhatIf(
        case=case,
        settled=settled,
        timeline=timeline(case.plan, settled.job, settled.split, settled.clocks),
        window=temperature_window(case, settled.job),
        fit=fit,
        reasons=said + left_over_words(settled.split),
        assumptions=(*settled.budget.assumptions, *_bench_words(case, settled), *case.calibration.assumptions),
    )


def _bench_words(case: Case, settled: Settled) -> tuple[str, ...]:
    """Return what the batches and times take for granted, as sentences."""
    crew, job, pieces = case.plan.crew, settled.job, case.plan.pieces
    together = "the one piece" if pieces == 1 else f"all {pieces} pieces together"
    said = [
        LOW_EDGE,
        f"The minutes of a step are for {together}, with one pair of hands: set them anew where the pieces change.",
        f"The clock of a batch starts {job.pace.stirring_s / 60:.1f} min before it is ready, at first contact.",
        f"A cup that would run away is emptied in {100 * EMPTY_BY['runaway']:.0f} % of its life "
        "(common practice, no source).",
        f"No batch weighs less than {job.smallest_g:.0f} g, the least the scale keeps within 2 % of the ratio.",
        "Mix on the part has the part's temperature; a batch counts as one full cup until its last gram is laid.",
    ]
    if crew.people == 1:
        said.append("One person alone: mixing stops the laying.")
    else:
        said.append(
            f"{crew.people} people: one mixes the next batch while the others lay; each pair of hands beyond the first "
            f"adds {100 * crew.second_pair:.0f} % of a pair."
        )
    return tuple(said)
