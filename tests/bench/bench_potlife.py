"""Pot lives: one, a hundred and ten thousand, against scipy's LSODA at equal accuracy in the same run.

LSODA gets the loosest tolerance that keeps its worst error over the sample within 0.1 % of the time (and 0.1 K of the
peak), which is the ensemble's own promise, checked here too. Both answer the same question, on the same random cups:
20 g to 2 kg, 5 to 40 C, of a resin with a 30 min pot life (100 g, 25 C) or of one with 8 h (100 g, 20 C). Errors are
against `predict`, which the tests hold to 1e-5 and 0.01 K of scipy at tight tolerance. Times are of one cup, LSODA's
the mean over the sample.

The slow resin is asked for half the ratio of the quick one. A cup that waits for hours takes 12 steps to thickening and
18 to the peak, the quick one's 8 and 13, in 42 and 179 rounds instead of 12 and 48, so fewer members share a round;
LSODA, which is implicit where a cup only waits, evaluates the slow one's slopes 77 times and the quick one's 97. At the
quick one's cost of a member's step, 0.3 us of exponentials, the ratio would still end near 1/300.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from potlife_cases import calibrate_point
from results import Row
from scipy_lives import TO_THE_PEAK, TO_THICKENING, lsoda
from stopwatch import Trial, best

from layup.chemistry.calibration import _calibrated, calibrate
from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.ensemble import ageing, peaks_K
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Life, Vessel, predict
from layup.chemistry.stages import Stage, follow_band
from layup.chemistry.uncertainty import AS_SAID

CUP = Vessel.cup()
RESINS = {
    "30 min resin": PotLifePoint(1800.0, 100.0, 298.15),
    "8 h resin": PotLifePoint(28800.0, 100.0, 293.15),
}
"""The datasheet's point of each resin."""
ASKED = {"30 min resin": (1 / 400, ""), "8 h resin": (1 / 250, ", implicit while a cup waits")}
"""The most that one of many may cost over LSODA's, and what limits it."""
WORST_TIME, WORST_PEAK_K = 1e-3, 0.1
TOLERANCES = (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 1e-7)


@dataclass(frozen=True)
class Sizes:
    """How much to measure."""

    sample: int = 200
    """Cups on which errors are measured and LSODA is timed."""
    counts: tuple[int, ...] = (1, 100, 10_000)
    rounds: int = 4


FULL, SMALLEST = Sizes(), Sizes(5, (1, 5), 1)


@dataclass(frozen=True)
class Cups:
    """Random cups of one resin."""

    law: Kinetics
    mass_g: np.ndarray
    shop_K: np.ndarray

    def some(self, count: int) -> "Cups":
        return Cups(self.law, self.mass_g[:count], self.shop_K[:count])

    def by_lsoda(self, rtol: float, until: str) -> np.ndarray:
        pairs = zip(self.mass_g.tolist(), self.shop_K.tolist(), strict=True)
        return np.array([lsoda(self.law, CUP, mass_g, shop_K, rtol=rtol, until=until) for mass_g, shop_K in pairs])

    def one_by_one(self) -> list[Life]:
        pairs = zip(self.mass_g.tolist(), self.shop_K.tolist(), strict=True)
        return [predict(self.law, CUP, mass_g=mass_g, start_K=shop_K, ambient=shop_K) for mass_g, shop_K in pairs]

    def together(self, until: str) -> Callable[[], object]:
        at = {"mass_g": self.mass_g, "start_K": self.shop_K, "ambient_K": self.shop_K}
        if until == TO_THICKENING:
            return partial(ageing, [(self.law, AS_SAID)], CUP, **at)
        return partial(peaks_K, self.law, CUP, **at)


def rows(*, smallest: bool = False) -> Iterator[Row]:
    """Measure all of it."""
    sizes = SMALLEST if smallest else FULL
    for name, point in RESINS.items():
        law = calibrate_point(point.time_s, point.mass_g, point.temperature_K)
        cups = random_cups(law, max(*sizes.counts, sizes.sample))
        for until, words in ((TO_THICKENING, "to thickening"), (TO_THE_PEAK, "to the peak")):
            yield from lives(f"{name}, {words}", cups, until, sizes, *ASKED[name])
    yield from the_rest(RESINS["30 min resin"], sizes)


def random_cups(law: Kinetics, count: int) -> Cups:
    rng = np.random.default_rng(7)
    return Cups(law, np.exp(rng.uniform(np.log(20), np.log(2000), count)), rng.uniform(278.15, 313.15, count))


def worst(times_s: np.ndarray | None, warmest_K: np.ndarray | None, exact: list[Life]) -> tuple[float, float]:
    """Return the worst error in time [-] and in peak [K]."""
    time = 0.0 if times_s is None else np.abs(times_s / [life.working_s for life in exact] - 1).max()
    peak = 0.0 if warmest_K is None else np.abs(warmest_K - [life.peak_K for life in exact]).max()
    return float(time), float(peak)


def good_enough(error: tuple[float, float]) -> bool:
    return error[0] <= WORST_TIME and error[1] <= WORST_PEAK_K


def loosest(sample: Cups, exact: list[Life], until: str) -> float:
    """Return the loosest tolerance at which LSODA is good enough."""
    for rtol in TOLERANCES:
        found = sample.by_lsoda(rtol, until)
        if good_enough(worst(found[:, 0], found[:, 1] if until == TO_THE_PEAK else None, exact)):
            return rtol
    raise AssertionError(f"LSODA is not within {WORST_TIME:g} and {WORST_PEAK_K} K at any tolerance")


def lives(name: str, cups: Cups, until: str, sizes: Sizes, most_ratio: float, limited: str) -> Iterator[Row]:
    """Yield the time of a cup, alone and in an ensemble, over LSODA's."""
    sample = cups.some(sizes.sample)
    exact = sample.one_by_one()
    found = sample.together(until)()
    hot = isinstance(found, np.ndarray)
    assert good_enough(worst(None if hot else found.working_s.reshape(-1), found if hot else None, exact))
    rtol = loosest(sample, exact, until)
    calls = [sample.one_by_one, *(cups.some(count).together(until) for count in sizes.counts)]
    trials = [Trial(partial(sample.by_lsoda, rtol, until)), *map(Trial, calls)]
    lsoda_s, alone_s, *many_s = (took.processor_s for took in best(*trials, rounds=sizes.rounds))
    rival = lsoda_s / sizes.sample, f"LSODA, rtol {rtol:.0e}{limited}"
    if until == TO_THE_PEAK:
        yield Row(f"{name}: one by predict", alone_s / sizes.sample, *rival, "CPU", most=1e-3)
    for count, took_s in zip(sizes.counts, many_s, strict=True):
        asked = most_ratio if count == FULL.counts[-1] else None
        yield Row(f"{name}: one of {count:,d} together", took_s / count, *rival, "CPU", most_ratio=asked)


def datasheet(point: PotLifePoint) -> Datasheet:
    resin, hardener = Component("resin"), Component("hardener")
    return Datasheet("bench", "Bench", "epoxy-amine", resin, hardener, (100.0, 30.0), "weight", (point,))


def the_rest(point: PotLifePoint, sizes: Sizes) -> Iterator[Row]:
    """Measure what a screen asks for, over one life in the cup by LSODA."""
    sheet = datasheet(point)
    calibration = calibrate(sheet)
    here = {"mass_g": 150.0, "start_K": 295.15}
    poured = (Stage(CUP, 0.0, 295.15), Stage(Vessel.film(), 900.0, 293.15))
    calls = {
        "calibrate a datasheet": partial(_calibrated.__wrapped__, sheet, "metric"),
        "one cup with its band": partial(predict_band, calibration, CUP, ambient=295.15, **here),
        "one batch on to the part, with its band": partial(follow_band, calibration, poured, **here),
    }
    rival = Trial(partial(lsoda, calibration.kinetics, CUP, 150.0, 295.15, rtol=1e-5, until=TO_THE_PEAK))
    rival_took, *took = best(rival, *map(Trial, calls.values()), rounds=sizes.rounds)
    for what, ours in zip(calls, took, strict=True):
        yield Row(what, ours.processor_s, rival_took.processor_s, "LSODA, rtol 1e-05, one such cup alone", "CPU")
