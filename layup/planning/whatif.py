"""The whole answer for one case: grams, batches, the day, the temperature window, and whether it fits."""

from __future__ import annotations

from dataclasses import dataclass

from layup.planning.case import Case, Settled, settle
from layup.planning.clocks import EMPTY_BY
from layup.planning.fit import Fit, fit_of
from layup.planning.schedule import left_over_words
from layup.planning.timeline import Timeline, timeline
from layup.planning.window import Window, temperature_window

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
