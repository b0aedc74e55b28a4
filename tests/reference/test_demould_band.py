"""The 80 % band of the earliest demoulding, against scipy's integration of every unsure thing moved by itself."""

from dataclasses import replace
from math import exp, hypot, inf, isfinite, log, prod, sqrt

import numpy as np
import pytest
from cure_by_scipy import scipy_conversion, scipy_demould_s
from drawn_laws import draw_kinetics
from scipy.optimize import brentq
from scipy.stats import norm

from layup.chemistry.calibration import calibrate
from layup.chemistry.cure import demould_time_s
from layup.chemistry.cure_course import Glass, Setting
from layup.chemistry.datasheet import Component, CurePoint, Datasheet, MakersClock, PotLifePoint
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.kinetics import GAS_CONSTANT_J_MOL_K, Kinetics

HOUR = 3600.0
GLASS_SPREADS = {"uncured_K": 10.0, "cured_K": 7.0, "shape": 0.05, "half_rate_lead_K": 5.0}
"""One standard deviation of each of the glass's constants: our own judgement, no source."""
STATED_SPREAD = 0.10
"""Of a stated time, as a logarithm: our own judgement, no source."""
BAND = norm.ppf(0.9)


def sheet_of(*stated):
    return Datasheet(
        id="invented",
        title="Invented",
        chemistry="epoxy-amine",
        resin=Component("resin", 1.15, 178.0),
        hardener=Component("hardener", 0.97, 53.0),
        ratio=(100.0, 30.0),
        ratio_by="weight",
        pot_lives=(PotLifePoint(45 * 60.0, 150.0, 298.15),),
        demould=stated,
        glass_transition_K=355.15,
    )


def sides(setting, calibration, wider=1.0):
    """Yield the setting with each thing moved to either side: half a standard deviation of the law, 80 % of others."""
    for pair in calibration.variants:
        yield tuple(Setting(law, setting.glass, setting.clock) for law in pair)
    for name, spread in GLASS_SPREADS.items():
        reach = spread if name == "half_rate_lead_K" else wider * spread
        yield tuple(
            replace(setting, glass=replace(setting.glass, **{name: getattr(setting.glass, name) + end * reach}))
            for end in (-BAND, BAND)
        )


def known(stated):
    sheet = sheet_of(*stated)
    calibration = calibrate(sheet)
    setting, _ = setting_of(sheet, calibration.kinetics)
    return setting, calibration


def waits(setting, calibration, mould_K):
    """Return each wait's chance of being over, glass, gel and maker, each side by scipy, and when gel and glass are."""
    mould, bare = ((0.0, mould_K),), replace(setting, clock=MakersClock())
    pairs = list(sides(bare, calibration, wider=1.0 + 0.1 * max(283.15 - mould_K, 0.0)))
    number = len(calibration.variants)
    likely_s = scipy_demould_s(bare, mould, need=["glass"])
    times_s = [tuple(log(scipy_demould_s(side, mould, need=["glass"]) / likely_s) for side in pair) for pair in pairs]
    law = sum((high - low) ** 2 for low, high in times_s[:number])
    early, late = (sqrt(law + sum((end(0.0, *pair) / BAND) ** 2 for pair in times_s[number:])) for end in (min, max))
    log_normal = [(likely_s, early, late)]
    for point in setting.clock.points:
        energies = [pair[half].activation_energy_J_mol for pair in calibration.variants for half in (0, 1)]
        warmth = (1.0 / mould_K - 1.0 / point.temperature_K) / GAS_CONSTANT_J_MOL_K
        spread = hypot(warmth * (max(energies) - min(energies)), STATED_SPREAD)
        log_normal.append((point.time_s * exp(setting.clock.activation_energy_J_mol * warmth), spread, spread))
    glass, *maker = (lambda t, at=at: norm.cdf(log(t / at[0]) / (at[1] if t < at[0] else at[2])) for at in log_normal)
    best = scipy_conversion(bare, mould_K, 14 * 24 * HOUR)
    courses = [tuple(scipy_conversion(side, mould_K, 14 * 24 * HOUR) for side in pair) for pair in pairs]
    need = setting.kinetics.conversion_gel + 0.03

    def gel(t):
        likely = best(t)
        reached = [tuple(course(t) for course in pair) for pair in courses]
        variance = sum((high - low) ** 2 for low, high in reached[:number]) + calibration.uncertainty.conversion_gel**2
        for pair in reached[number:]:
            off = (
                min(0.0, *(one - likely for one in pair))
                if likely > need
                else max(0.0, *(one - likely for one in pair))
            )
            variance += (off / BAND) ** 2
        return norm.cdf((likely - need) / sqrt(variance))

    return glass, gel, maker, max(likely_s, scipy_demould_s(bare, mould, need=["gel"]))


def chance_over(found, time_s):
    """Early, a fast law brings gel and glass together; late, one stops too soon where the other comes too late."""
    glass, gel, maker, likely_s = found
    chances = glass(time_s), gel(time_s)
    return (min(chances) if time_s < likely_s else prod(chances)) * prod(wait(time_s) for wait in maker)


@pytest.mark.parametrize("mould_K", [279.15, 285.15, 293.15, 308.15])
@pytest.mark.parametrize("stated", [(), (CurePoint(24 * HOUR, 296.15),)], ids=["glass alone", "a stated time"])
def test_the_band_is_that_of_every_unsure_thing_moved_by_itself(stated, mould_K):
    """Independent: scipy LSODA for each side, the maker's clock by its Arrhenius law, all over by chance by brentq.

    Below a cure at 10 C DiBenedetto's constants are less sure: Moussa, Vassilopoulos and Keller, Int. J. Adhesion &
    Adhesives 35 (2012) 9, say that the relation depends on the cure's temperature there; a tenth a kelvin is our own.
    """
    setting, calibration = known(stated)
    ready = demould(setting, calibration, mould_K)
    found = waits(setting, calibration, mould_K)

    def end_s(chance):
        comes = chance_over(found, 1000 * HOUR) >= chance
        return brentq(lambda t: chance_over(found, t) - chance, HOUR, 1000 * HOUR) if comes else inf

    low_s, high_s = end_s(0.1), end_s(0.9)
    assert isfinite(high_s) == (mould_K > 283.15)
    assert ready.out_s.likely == pytest.approx(scipy_demould_s(setting, ((0.0, mould_K),)), rel=1e-5)
    assert (ready.out_s.low, ready.out_s.high) == pytest.approx((low_s, high_s), rel=1e-4)


@pytest.mark.parametrize("stated", [(), (CurePoint(24 * HOUR, 296.15),)], ids=["glass alone", "a stated time"])
def test_the_band_holds_four_in_five_parts_whose_resin_is_drawn(stated):
    """Independent: glass and stated time drawn as stated, laws along the calibration's own unsure things."""
    setting, calibration = known(stated)
    rng, early, late = np.random.default_rng(7), [], []
    for mould_K in (283.15, 293.15, 303.15):
        ready = demould(setting, calibration, mould_K)
        for law in draw_kinetics(calibration, 200, seed=7):
            glass = setting.glass
            draws = {name: getattr(glass, name) + sd * rng.standard_normal() for name, sd in GLASS_SPREADS.items()}
            glass = Glass(**{name: max(value, 0.0) for name, value in draws.items()})
            factor = exp(STATED_SPREAD * rng.standard_normal())
            points = tuple(CurePoint(p.time_s * factor, p.temperature_K) for p in setting.clock.points)
            drawn = Setting(law, glass, MakersClock(points, law.activation_energy_J_mol))
            time_s = demould_time_s(drawn, mould_K)
            early.append(time_s < ready.out_s.low)
            late.append(time_s > ready.out_s.high)
    assert 0.06 <= np.mean(early) <= 0.13
    assert 0.06 <= np.mean(late) <= 0.14


def test_a_side_that_does_not_come_in_the_time_looked_at_counts_as_the_other_and_the_late_end_is_never(monkeypatch):
    """By hand: a rate law's side that does not come lies as far away as the other; of the glass only early sides."""
    setting, calibration = known(())
    likely_s = demould_time_s(setting, 293.15)
    until_s = likely_s * 1.0005
    monkeypatch.setattr("layup.chemistry.demould.HORIZON_S", until_s)
    ready = demould.__wrapped__(setting, calibration, 293.15)
    pairs = list(sides(setting, calibration))
    total = 0.0
    for number, pair in enumerate(pairs):
        times_s = [demould_time_s(side, 293.15, until_s=until_s) for side in pair]
        come = [log(time_s / likely_s) for time_s in times_s if isfinite(time_s)]
        if number < len(calibration.variants):
            total += (come[1] - come[0] if len(come) == 2 else 2.0 * sum(come)) ** 2
        else:
            total += (min(0.0, *come) / BAND) ** 2
    assert ready.out_s.low == pytest.approx(likely_s * exp(-BAND * sqrt(total)), rel=1e-5)
    assert ready.out_s.high == inf


def test_a_part_that_comes_later_than_the_time_looked_at_may_come_as_early_as_its_earliest_side(monkeypatch):
    setting, calibration = known(())
    until_s = demould_time_s(setting, 293.15) * 0.9995
    monkeypatch.setattr("layup.chemistry.demould.HORIZON_S", until_s)
    ready = demould.__wrapped__(setting, calibration, 293.15)
    early_s = min(demould_time_s(side, 293.15) for pair in sides(setting, calibration) for side in pair)
    assert (ready.out_s.likely, ready.out_s.high) == (inf, inf)
    assert ready.out_s.low == pytest.approx(early_s, rel=1e-6)
    assert ready.verdict(until_s) == "may make it"


def test_a_part_that_is_ready_from_the_start_has_no_band():
    setting, calibration = known(())
    ready = demould(setting, calibration, 293.15, conversion_start=0.9)
    assert (ready.out_s.low, ready.out_s.likely, ready.out_s.high) == (0.0, 0.0, 0.0)


def test_not_within_two_weeks_is_fourteen_days():
    """A rate constant so many times smaller takes so many times longer: the isothermal law has no other clock."""
    usual = Setting(Kinetics(3.2e-4), Glass(355.15), MakersClock())
    whole_s = demould_time_s(usual, 293.15)
    for days, comes in ((13.9, True), (14.1, False)):
        slow = replace(usual, kinetics=Kinetics(3.2e-4 * whole_s / (days * 24 * HOUR)))
        found_s = demould_time_s(slow, 293.15)
        assert found_s == (pytest.approx(days * 24 * HOUR, rel=1e-5) if comes else inf)


def test_a_part_that_softens_again_in_a_heated_mould_is_given_the_band_of_its_whole_wait():
    """Independent: scipy LSODA for each side of the wait until both hold at once, which is after either came first."""
    setting, calibration = known((CurePoint(24 * HOUR, 296.15),))
    mould = tuple(
        (hours * HOUR, kelvin)
        for hours, kelvin in ((0, 285.15), (24, 285.15), (25, 333.15), (27, 333.15), (30, 300.15))
    )
    ready = demould(setting, calibration, mould)
    assert ready.out_s.likely > 1.01 * max(ready.stated_s, ready.glass_s)
    likely_s = scipy_demould_s(setting, mould)
    (point,) = setting.clock.points
    ends = (exp(end * STATED_SPREAD) for end in (-BAND, BAND))
    clocks = (replace(setting.clock, points=(CurePoint(point.time_s * end, point.temperature_K),)) for end in ends)
    laws = [tuple(replace(setting, kinetics=law) for law in pair) for pair in calibration.variants]
    laws = [
        tuple(
            replace(side, clock=replace(side.clock, activation_energy_J_mol=side.kinetics.activation_energy_J_mol))
            for side in pair
        )
        for pair in laws
    ]
    others = [*list(sides(setting, calibration))[len(laws) :], tuple(replace(setting, clock=one) for one in clocks)]
    law, rest = (
        [tuple(log(scipy_demould_s(side, mould) / likely_s) for side in pair) for pair in pairs]
        for pairs in (laws, others)
    )
    shared = sum((high - low) ** 2 for low, high in law)
    early, late = (sqrt(shared + sum((end(0.0, *pair) / BAND) ** 2 for pair in rest)) for end in (min, max))
    assert ready.out_s.likely == pytest.approx(likely_s, rel=1e-5)
    assert ready.out_s.low == pytest.approx(likely_s * exp(-BAND * early), rel=1e-4)
    assert ready.out_s.high == pytest.approx(likely_s * exp(BAND * late), rel=1e-4)
