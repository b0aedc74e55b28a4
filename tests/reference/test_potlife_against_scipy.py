"""The pot-life engine against scipy's integrators on the model's equations, written out anew in time."""

import math
import random
from itertools import pairwise

import pytest
from potlife_cases import PLAIN, calibrate_point
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from layup.chemistry.kinetics import Kinetics
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.stages import Stage, follow

R, T_REF = 8.314462618, 298.15
GEL = 3**-0.5
EA = 56000.0


def cooling(mass_g, depth_m=None, diameter_m=None, *, h_20=11.0, growth=0.0057):
    """Return tau and the growth of the loss, from the model's words and not from the package.

    The wall's own balance, U x = h(w) w with w + r h(w) w = x, is solved by scipy: at a small excess and at 100 K.
    """
    volume_m3 = mass_g / 1.10 * 1e-6
    if depth_m:
        area_m2 = 1.5 * volume_m3 / depth_m
    else:
        d_m = diameter_m or (4 * volume_m3 / math.pi) ** (1 / 3)
        height_m = 4 * volume_m3 / (math.pi * d_m**2)
        area_m2 = math.pi * d_m * height_m + 1.5 * math.pi * d_m**2 / 4
    inside = 0.5 * (volume_m3 / area_m2) / 0.2
    cool, hot = (loss_W_m2_K(x, inside, h_20, growth) for x in (1e-9, 100.0))
    return mass_g * 1.9 / (cool * area_m2), (hot / cool - 1) / 100.0


def loss_W_m2_K(excess_K, inside, h_20=11.0, growth=0.0057):
    """Return the heat that leaves a mix for each degree of its excess, through itself and then from its wall."""

    def h(wall_K):
        return h_20 * (1 + growth * (wall_K - 20))

    wall_K = brentq(lambda w: w + inside * h(w) * w - excess_K, 0.0, excess_K, xtol=1e-15, rtol=1e-14)
    return h(wall_K) * wall_K / excess_K


@pytest.mark.parametrize("inside", [0.005, 0.02, 0.05, 0.1])
def test_a_straight_loss_is_within_four_percent_of_the_walls_own_balance(inside):
    """From a thin tray to 5 kg in a cup, up to 150 K above the shop."""
    cool, hot = (loss_W_m2_K(x, inside) for x in (1e-9, 100.0))
    for excess_K in range(5, 151, 5):
        straight = cool + (hot - cool) * excess_K / 100.0
        assert straight == pytest.approx(loss_W_m2_K(excess_K, inside), rel=0.04)


def lost(excess_K, loss):
    """Return how fast the loss cools the mix [K/s]."""
    tau_s, growth = loss
    return excess_K * (1 + growth * abs(excess_K)) / tau_s


def integrate(k_ref, loss, start_K, pieces, *, ea=EA, a_start=0.0, a0=0.05, m=1.0, n=2.0):
    """Return t(0.35), t(gel) and the hottest temperature; `pieces` are (t0, t1, T0, T1) of the surroundings."""
    found, state, peak = {}, [a_start, start_K], start_K
    for t0, t1, amb0, amb1 in pieces:
        slope = (amb1 - amb0) / (t1 - t0) if math.isfinite(t1) else 0.0

        def rates(t, y, t0=t0, amb0=amb0, slope=slope):
            rate = k_ref * math.exp(-ea / R * (1 / y[1] - 1 / T_REF)) * (a0 + y[0] ** m) * (1 - y[0]) ** n
            return [rate, 430 / 1.9 * rate - lost(y[1] - amb0 - slope * (t - t0), loss)]

        def thick(_, y):
            return y[0] - 0.35

        def gel(_, y):
            return y[0] - GEL

        def turn(t, y, rates=rates):
            return rates(t, y)[1]

        def cured(_, y):
            return y[0] - 0.999

        def cooling(t, y, rates=rates):
            return -1.0 if y[0] > GEL + 0.01 and rates(t, y)[1] < 0 else 1.0

        turn.direction, cured.terminal = -1, True
        cooling.terminal = not math.isfinite(t1)
        run = solve_ivp(
            rates,
            (t0, min(t1, 1e9)),
            state,
            method="LSODA",
            rtol=1e-11,
            atol=1e-13,
            events=[thick, gel, turn, cured, cooling],
        )
        for name, events in (("work", run.t_events[0]), ("gel", run.t_events[1])):
            if len(events):
                found.setdefault(name, events[0])
        peak = max([peak, *run.y[1], *(y[1] for y in run.y_events[2])])
        state = list(run.y[:, -1])
        if len(run.t_events[3]) or (cooling.terminal and len(run.t_events[4])):
            break
    return found["work"], found["gel"], peak


def random_case(rng):
    time_s = math.exp(rng.uniform(math.log(300), math.log(8 * 3600)))
    stated_K = rng.choice([288.15, 293.15, 296.15, 298.15])
    law = calibrate_point(time_s, rng.choice([100.0, 150.0, 200.0]), stated_K)
    mass_g = math.exp(rng.uniform(math.log(20), math.log(2000)))
    start_K, shop_K = (rng.uniform(278.15, 313.15) for _ in range(2))
    return law, mass_g, start_K, shop_K


def vessel_and_loss(rng, mass_g):
    kind = rng.choice(["cup", "wide cup", "tray"])
    if kind == "cup":
        return Vessel.cup(), cooling(mass_g)
    if kind == "wide cup":
        diameter_m = rng.uniform(0.05, 0.2)
        return Vessel.cup(diameter_m), cooling(mass_g, diameter_m=diameter_m)
    depth_m = math.exp(rng.uniform(math.log(0.001), math.log(0.03)))
    return Vessel.tray(depth_m), cooling(mass_g, depth_m=depth_m)


@pytest.mark.parametrize("seed", range(12))
def test_times_and_peaks_in_cups_and_trays_are_those_of_an_independent_integration(seed):
    rng = random.Random(seed)
    for _ in range(15):
        law, mass_g, start_K, shop_K = random_case(rng)
        vessel, loss = vessel_and_loss(rng, mass_g)
        if rng.random() < 0.5:
            shop_K = start_K
        life = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=shop_K)
        work_s, gel_s, peak_K = integrate(law.k_ref_per_s, loss, start_K, [(0, math.inf, shop_K, shop_K)])
        assert life.working_s == pytest.approx(work_s, rel=1e-5)
        assert life.gel_s == pytest.approx(gel_s, rel=1e-5)
        assert life.peak_K == pytest.approx(peak_K, abs=0.01)


@pytest.mark.parametrize("seed", range(100, 104))
def test_a_measured_history_of_the_shop_is_followed_through_all_its_kinks(seed):
    rng = random.Random(seed)
    for _ in range(10):
        law, mass_g, start_K, _ = random_case(rng)
        vessel, loss = vessel_and_loss(rng, mass_g)
        times_s = sorted(rng.uniform(10, 7200) for _ in range(rng.randint(2, 8)))
        history = tuple((time_s, rng.uniform(278.15, 313.15)) for time_s in times_s)
        pieces = [(0, history[0][0], history[0][1], history[0][1])]
        pieces += [(*(p[0] for p in pair), *(p[1] for p in pair)) for pair in pairwise(history)]
        pieces += [(history[-1][0], math.inf, history[-1][1], history[-1][1])]
        life = predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=history)
        work_s, gel_s, peak_K = integrate(law.k_ref_per_s, loss, start_K, pieces)
        assert life.working_s == pytest.approx(work_s, rel=1e-5)
        assert life.gel_s == pytest.approx(gel_s, rel=1e-5)
        assert life.peak_K == pytest.approx(peak_K, abs=0.01)


@pytest.mark.parametrize(("m", "n"), [(0.0, 1.0), (0.8, 1.6), (1.0, 1.0), (1.3, 2.4)])
def test_any_order_of_the_rate_law_is_integrated_as_well(m, n):
    law = calibrate_point(2700, 150, 296.15, kinetics=Kinetics(1.0, activation_energy_J_mol=48000, m=m, n=n))
    life = predict(law, Vessel.cup(), mass_g=300, start_K=293.15, ambient=290.15)
    expected = integrate(law.k_ref_per_s, cooling(300), 293.15, [(0, math.inf, 290.15, 290.15)], ea=48000, m=m, n=n)
    assert (life.working_s, life.gel_s) == pytest.approx(expected[:2], rel=1e-5)
    assert life.peak_K == pytest.approx(expected[2], abs=0.01)


def film_rate(law, temperature):
    return lambda t, y: [
        law.k_ref_per_s * math.exp(-EA / R * (1 / temperature(t) - 1 / T_REF)) * (0.05 + y[0]) * (1 - y[0]) ** 2
    ]


def film_time_s(law, temperature, conversion, *, a_start=0.0, t_start=0.0, kinks=()):
    state, edges = [a_start], [t_start, *kinks, 1e8]
    for t0, t1 in pairwise(edges):
        reached = lambda _, y: y[0] - conversion  # noqa: E731 - solve_ivp wants an attribute on it
        reached.terminal = True
        run = solve_ivp(
            film_rate(law, temperature), (t0, t1), state, method="LSODA", rtol=1e-11, atol=1e-13, events=reached
        )
        if len(run.t_events[0]):
            return run.t_events[0][0]
        state = list(run.y[:, -1])
    raise AssertionError("never reached")


@pytest.mark.parametrize("seed", range(200, 230))
def test_films_take_the_parts_temperature(seed):
    rng = random.Random(seed)
    law, _, _, shop_K = random_case(rng)
    later_K, ramp_s = rng.uniform(278.15, 313.15), rng.uniform(600, 7200)
    history = ((0.0, shop_K), (ramp_s, later_K))

    def temperature(t):
        return shop_K + (later_K - shop_K) * min(t / ramp_s, 1.0)

    life = predict(law, Vessel.film(), mass_g=1.0, start_K=300.0, ambient=history)
    assert life.working_s == pytest.approx(film_time_s(law, temperature, 0.35, kinks=(ramp_s,)), rel=1e-5)
    assert life.gel_s == pytest.approx(film_time_s(law, temperature, GEL, kinks=(ramp_s,)), rel=1e-5)


@pytest.mark.parametrize("seed", range(300, 320))
def test_a_batch_poured_from_the_cup_onto_the_part_keeps_its_conversion(seed):
    rng = random.Random(seed)
    law, mass_g, start_K, shop_K = random_case(rng)
    cup_s = predict(law, Vessel.cup(), mass_g=mass_g, start_K=start_K, ambient=shop_K).working_s
    pour_s, part_K = cup_s * rng.uniform(0.2, 0.9), rng.uniform(278.15, 313.15)
    stages = (Stage(Vessel.cup(), 0.0, shop_K), Stage(Vessel.film(), pour_s, part_K))
    course = follow(law, stages, mass_g=mass_g, start_K=start_K)

    loss = cooling(mass_g)

    def rates(_, y):
        rate = law.k_ref_per_s * math.exp(-EA / R * (1 / y[1] - 1 / T_REF)) * (0.05 + y[0]) * (1 - y[0]) ** 2
        return [rate, 430 / 1.9 * rate - lost(y[1] - shop_K, loss)]

    cup = solve_ivp(rates, (0, pour_s), [0.0, start_K], method="LSODA", rtol=1e-11, atol=1e-13)
    poured = cup.y[0, -1]
    assert course.at(pour_s)[0] == pytest.approx(poured, abs=1e-7)
    assert course.at(pour_s * 0.999999)[1] == pytest.approx(cup.y[1, -1], abs=0.01)
    expected_s = film_time_s(law, lambda _: part_K, 0.35, a_start=poured, t_start=pour_s)
    assert course.working_s == pytest.approx(expected_s, rel=1e-5)


@pytest.mark.parametrize("seed", range(400, 403))
def test_a_loss_that_does_not_grow_is_newtons(seed):
    """The model's first law, constant in the excess, stays possible."""
    rng = random.Random(seed)
    for _ in range(6):
        mass_g, kelvin = math.exp(rng.uniform(math.log(20), math.log(2000))), rng.uniform(280.15, 310.15)
        law = calibrate_point(math.exp(rng.uniform(math.log(300), math.log(28800))), 150.0, 293.15, kinetics=PLAIN)
        life = predict(law, Vessel.cup(), mass_g=mass_g, start_K=kelvin, ambient=kelvin)
        loss = cooling(mass_g, h_20=10.0, growth=0.0)
        assert loss[1] == pytest.approx(0.0, abs=1e-15)
        expected = integrate(law.k_ref_per_s, loss, kelvin, [(0, math.inf, kelvin, kelvin)], ea=55000.0)
        assert (life.working_s, life.gel_s) == pytest.approx(expected[:2], rel=1e-5)
        assert life.peak_K == pytest.approx(expected[2], abs=0.01)
