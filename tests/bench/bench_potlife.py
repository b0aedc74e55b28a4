"""Pot lives: one, a hundred, ten thousand and 720,000, against scipy's LSODA at equal accuracy in the same run.

LSODA gets the loosest tolerance that keeps its worst error over the sample within 0.1 % of the time (and 0.1 K of the
peak), which is the ensemble's own promise. Both answer the same question, on the same random cups: 20 g to 2 kg, 5 to
40 C, of a resin with a 30 min pot life (100 g, 25 C) or of one with 8 h (100 g, 20 C). Errors are against `predict`,
which the tests hold to 1e-5 and 0.01 K of scipy at tight tolerance. Ratios are of processor time.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from math import exp

import numpy as np
from scipy.integrate import solve_ivp
from stopwatch import best

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics
from layup.chemistry.legs import Stage
from layup.chemistry.potlife import (
    Life,
    Vessel,
    calibrate,
    calibrate_point,
    draw_kinetics,
    ensemble,
    follow_band,
    predict,
    predict_band,
    time_constant_s,
)

CUP = Vessel.cup()
SAMPLE = 200
"""Cups on which errors are measured and LSODA is timed."""
RESINS = {"30 min resin": PotLifePoint(1800.0, 100.0, 298.15), "8 h resin": PotLifePoint(28800.0, 100.0, 293.15)}


@dataclass(frozen=True)
class Cups:
    """Random cups of one resin."""

    law: Kinetics
    mass_g: np.ndarray
    shop_K: np.ndarray

    def some(self, count: int) -> "Cups":
        return Cups(self.law, self.mass_g[:count], self.shop_K[:count])


def cups(law: Kinetics, count: int) -> Cups:
    rng = np.random.default_rng(7)
    return Cups(law, np.exp(rng.uniform(np.log(20), np.log(2000), count)), rng.uniform(278.15, 313.15, count))


def lsoda(law: Kinetics, mass_g: float, shop_K: float, until: str, rtol: float) -> tuple[float, float]:
    """Return thickening time and peak of one cup from scipy: to thickening only, or on to the peak."""
    tau_s, over_R = time_constant_s(law, CUP, mass_g), law.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
    rise_K, k_ref, a0, working = law.adiabatic_rise_K, law.k_ref_per_s, law.a0, law.conversion_working

    def rates(_: float, y: np.ndarray) -> list[float]:
        a, T = y
        rate = k_ref * exp(over_R * (1 / 298.15 - 1 / T)) * (a0 + a) * (1 - a) ** 2
        return [rate, rise_K * rate - (T - shop_K) / tau_s]

    def thick(_: float, y: np.ndarray) -> float:
        return y[0] - working

    def cools(t: float, y: np.ndarray) -> float:
        return rates(t, y)[1] if y[0] > 0.05 else 1.0

    thick.terminal, cools.terminal, cools.direction = until == "working", True, -1
    events = [thick] if until == "working" else [thick, cools]
    state, start_s, found_s, peak_K = [0.0, shop_K], 0.0, None, shop_K
    while True:  # a slow cup is past its peak before it thickens: go on to thickening
        run = solve_ivp(rates, (start_s, 1e8), state, method="LSODA", rtol=rtol, atol=[rtol, 100 * rtol], events=events)
        found_s = run.t_events[0][0] if len(run.t_events[0]) else found_s
        if len(events) == 1:
            return found_s, peak_K
        peak_K = run.y[1].max()
        if found_s is not None:
            return found_s, peak_K
        state, start_s, events = list(run.y[:, -1]), run.t[-1], [thick]
        thick.terminal = True


def errors(times_s: np.ndarray, peaks_K: np.ndarray, exact: list[Life], until: str) -> tuple[float, float]:
    """Return the worst error in time [-] and in peak [K]."""
    time = max(abs(t / life.working_s - 1) for t, life in zip(times_s, exact, strict=True))
    peak = max(abs(T - life.peak_K) for T, life in zip(peaks_K, exact, strict=True)) if until == "peak" else 0.0
    return time, peak


def lsoda_at_equal_accuracy(some: Cups, exact: list[Life], until: str) -> tuple[float, float, tuple[float, float]]:
    """Return LSODA's tolerance, its time a cup [s], and its errors, at the loosest tolerance that is good enough."""
    for rtol in (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 1e-7):

        def sweep(rtol: float = rtol) -> list[tuple[float, float]]:
            return [
                lsoda(some.law, float(m), float(T), until, rtol) for m, T in zip(some.mass_g, some.shop_K, strict=True)
            ]

        found = np.array(sweep())
        worst = errors(found[:, 0], found[:, 1], exact, until)
        if worst[0] <= 1e-3 and worst[1] <= 0.1:
            break
    return rtol, best(sweep, repeats=3).processor_s / SAMPLE, worst


def many(some: Cups, until: str) -> Callable[[], object]:
    return partial(ensemble, some.law, CUP, mass_g=some.mass_g, start_K=some.shop_K, ambient_K=some.shop_K, until=until)


def single(some: Cups) -> list[Life]:
    return [
        predict(some.law, CUP, mass_g=float(m), start_K=float(T), ambient=float(T))
        for m, T in zip(some.mass_g, some.shop_K, strict=True)
    ]


def ratios(name: str, point: PotLifePoint) -> Iterator[str]:
    """Yield the lines of one resin: error and time a cup, alone and in ensembles, over LSODA's."""
    law = calibrate_point(point.time_s, point.mass_g, point.temperature_K)
    all_cups = cups(law, 10_000)
    sample = all_cups.some(SAMPLE)
    exact = single(sample)
    each_s = best(partial(single, sample), repeats=3).processor_s / SAMPLE
    for until in ("working", "peak"):
        rtol, scipy_s, worst = lsoda_at_equal_accuracy(sample, exact, until)
        yield f"{name}, to {'thickening' if until == 'working' else 'thickening, gel and peak'}"
        yield line(f"scipy LSODA, rtol {rtol:.0e}", scipy_s, worst, scipy_s)
        lives = many(sample, until)()
        peaks_K = lives.peak_K if lives.peak_K is not None else lives.working_s
        ours = errors(lives.working_s, peaks_K, exact, until)
        yield line("predict, always to the peak", each_s, (1e-5, 0.01), scipy_s)
        for count in (1, 100, 10_000):
            cup_s = best(many(all_cups.some(count), until), repeats=9).processor_s / count
            yield line(f"ensemble of {count:,d}", cup_s, ours, scipy_s)


def line(what: str, cup_s: float, error: tuple[float, float], scipy_s: float) -> str:
    return (
        f"  {what:28s} {cup_s * 1e6:9.2f} us a cup, within {error[0]:.1e} and {error[1]:.3f} K, "
        f"{scipy_s / cup_s:7.1f} x LSODA"
    )


def datasheet(point: PotLifePoint) -> Datasheet:
    resin, hardener = Component("resin"), Component("hardener")
    return Datasheet("bench", "Bench", "epoxy-amine", resin, hardener, (100.0, 30.0), "weight", (point,))


def the_grid(name: str, point: PotLifePoint) -> Iterator[str]:
    """Yield the time of 60 temperatures x 60 masses x 200 draws."""
    laws = draw_kinetics(calibrate(datasheet(point)), 200, seed=1)
    shop_K = np.linspace(278.15, 313.15, 60)[:, np.newaxis]
    mass_g = np.geomspace(20, 2000, 60)
    call = partial(ensemble, laws, CUP, mass_g=mass_g, start_K=shop_K, ambient_K=shop_K)
    took = best(call, repeats=3)
    yield f"{name}: 720,000 pot lives in {took.wall_s:.2f} s by the wall, {took.processor_s:.2f} s of one core"


def the_rest(point: PotLifePoint) -> Iterator[str]:
    """Yield the times of what a screen asks for."""
    sheet = datasheet(point)
    calibration = calibrate(sheet)
    here = {"mass_g": 150.0, "start_K": 295.15}
    poured = (Stage(CUP, 0.0, 295.15), Stage(Vessel.film(), 900.0, 293.15))
    for name, call in (
        ("calibrate a datasheet", partial(calibrate, sheet)),
        ("predict one cup", partial(predict, calibration.kinetics, CUP, ambient=295.15, **here)),
        ("predict one cup with its band", partial(predict_band, calibration, CUP, ambient=295.15, **here)),
        ("follow one batch to the part, with its band", partial(follow_band, calibration, poured, **here)),
    ):
        yield f"{name}: {best(call, repeats=50).wall_s * 1e3:.2f} ms"


def lines() -> Iterator[str]:
    """Yield the benchmark's lines."""
    for name, point in RESINS.items():
        yield from ratios(name, point)
    for name, point in RESINS.items():
        yield from the_grid(name, point)
    yield from the_rest(RESINS["30 min resin"])
