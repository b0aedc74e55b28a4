"""`layup trial`: what a small cup did becomes the resin's own point, and nothing else of the workshop changes."""

from dataclasses import replace
from itertools import pairwise
from math import exp, log

import numpy as np
import pytest
from command_line import ask_in
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from layup.chemistry.calibration import LOSS, calibrate
from layup.chemistry.observation import learn_cooling
from layup.chemistry.prediction import Vessel, heat_loss_of
from layup.files.workshop import Workshop, demo_root
from layup.review.lessons import workshop_lessons
from layup.review.resin_lessons import TOLD_IN_PART

CUP = ("trial", "slow-laminating", "--mass", "100 g", "--temp", "20 degC", "--date", "2026-03-01")


@pytest.fixture
def shop(tmp_path):
    assert ask_in(tmp_path, "new", str(tmp_path / "shop")).code == 0
    return tmp_path / "shop"


def test_a_trial_that_goes_off_early_shortens_what_every_plan_counts_with(shop):
    before = ask_in(shop, "plan", "touring-skis", "--json").data
    told = ask_in(shop, *CUP, "--thickening", "55 min", "--gel", "57 min", "--json").data
    after = ask_in(shop, "plan", "touring-skis", "--json").data
    assert 0.7 < told["pot_life_factor"] < 0.9
    assert told["low"] < told["pot_life_factor"] < told["high"] < 1.02
    assert after["press_by_min"] < before["press_by_min"] - 5.0
    assert ask_in(shop, "plan", "touring-skis", "--no-lessons", "--json").data["press_by_min"] == pytest.approx(
        before["press_by_min"]
    )
    learnt = ask_in(shop, "learn", "--json").data["resins"][0]
    assert (learnt["observations"], learnt["pot_life_factor"]) == (2, told["pot_life_factor"])


def test_a_trial_is_a_session_of_its_own_that_no_check_complains_of(shop):
    told = ask_in(shop, *CUP, "--gel", "70 min", "--json").data
    journal = (shop / "sessions" / told["session"] / "journal.jsonl").read_text()
    assert told["session"] == "2026-03-01-trial-slow-laminating"
    assert '"kind":"trial"' in journal.replace(": ", ":")
    assert ask_in(shop, "check").code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--mass", "30 g", "--gel", "70 min"), "must be between 50 and 200 g"),
        ((), "nothing was seen"),
        (("--thickening", "70 min", "--gel", "60 min"), "comes before thickening"),
        (("--gel", "70 min", "--cup-temp", "62 degC"), "has no time"),
        (("--gel", "70 min", "--date", "2999-01-01"), "is still to come"),
        (("--gel", "70 min", "--date", "yesterday"), "is no day"),
    ],
)
def test_a_trial_that_cannot_be_is_refused_and_nothing_is_written(shop, words, said):
    answer = ask_in(shop, *CUP, *words)
    assert answer.code == 2
    assert said in " ".join(answer.err.split())
    assert not list((shop / "sessions").glob("*trial*"))


def test_a_thermometer_in_a_cooling_cup_settles_the_heat_that_it_loses():
    # A true loss 1.4 times the usual: dx/dt = -x (1 + g x)/tau marched by scipy, read to the degree.
    stated = calibrate(Workshop(demo_root()).resin("slow-laminating"))
    law, after = stated.kinetics, stated
    truth = heat_loss_of(replace(law, film_coefficient_W_m2_K=1.4 * law.film_coefficient_W_m2_K), Vessel.cup(), 100.0)
    course = solve_ivp(lambda _, x: -x * (1 + truth.growth_per_K * x) / truth.tau_s, (0, 3600), [80.0], max_step=5.0)
    read = [(at_s, round(float(np.interp(at_s, course.t, course.y[0])))) for at_s in (0, 600, 1200, 1800)]
    for (at_s, excess_K), (later_s, later_K) in pairwise(read):
        after = learn_cooling(after, excess_K, later_K, later_s - at_s, Vessel.cup(), mass_g=100.0).calibration
    assert after.covariance[LOSS][LOSS] < 0.6**2 * stated.covariance[LOSS][LOSS]
    assert 1.2 < after.kinetics.film_coefficient_W_m2_K / law.film_coefficient_W_m2_K < 1.5


def test_what_settles_the_heat_loss_is_said_and_what_cannot(shop):
    timed = (*CUP, "--thickening", "68 min", "--gel", "70 min")
    cooling = [f"--cup-temp={minute} min:{celsius} degC" for minute, celsius in ((90, 90), (100, 66), (110, 50))]
    bare = ask_in(shop, *timed)
    assert "not told yet" in " ".join(bare.out.split())
    other = (*timed[:3], "200 g", *timed[4:])
    assert "these masses cannot tell it" in " ".join(ask_in(shop, *other).out.split())
    assert ask_in(shop, *timed, *cooling, "--json").data["heat_loss_settled"]


def test_a_trial_is_looked_back_on_by_what_it_taught_and_judged_for_no_press(shop):
    told = ask_in(shop, *CUP, "--thickening", "55 min", "--gel", "57 min", "--json").data
    answer = ask_in(shop, "review", told["session"])
    data = ask_in(shop, "review", told["session"], "--json").data
    assert data["verdict"] == "a trial cup: what it taught"
    assert (data["findings"], data["would_have_told"], data["day"], data["problems"]) == ([], [], None, [])
    assert data["taught"] == told["words"]
    words = " ".join(answer.out.split())
    assert "thickening at 55 min, by the datasheet 72 min (80 %: 55 to 96)" in words
    assert "shorter than its datasheet says (80 % of sessions:" in words
    assert "150 g in a cup at 20 °C thickens after 69 min" in words, "what it changes"
    assert "press" not in words.lower()


def of_pot_life(shop, words):
    """Make the demo's slow resin live that long at 20 °C, without a film time."""
    file = shop / "resins" / "slow-laminating.toml"
    text = file.read_text().replace('time = "45 min"', f'time = "{words}"', 1)
    begin, end = text.index("[[film]]"), text.index("[[viscosity]]")
    file.write_text((text[:begin] + text[end:]).replace('temperature = "25 degC"', 'temperature = "20 degC"', 1))
    return calibrate(Workshop(shop).resin("slow-laminating"))


def cup_by_scipy(stated, point, loss, mass_g):
    """When such a resin in such a cup thickens and gels [min], its rate fitted to the stated point, all by scipy."""
    law = replace(stated.kinetics, film_coefficient_W_m2_K=loss * stated.kinetics.film_coefficient_W_m2_K)

    def times_min(log_k, grams):
        kept = heat_loss_of(law, Vessel.cup(), grams)

        def slopes(_, state):
            a, x = state
            rate = exp(log_k - law.activation_energy_J_mol / 8.314462618 * (1 / (293.15 + x) - 1 / 298.15))
            rate *= (law.a0 + a) * (1 - a) ** 2
            return rate, law.adiabatic_rise_K * rate - x * (1 + kept.growth_per_K * abs(x)) / kept.tau_s

        ends = [lambda _, state, end=end: state[0] - end for end in (law.conversion_working, law.conversion_gel)]
        ends[1].terminal = True
        run = solve_ivp(slopes, (0, 1e7), (0.0, 0.0), method="LSODA", rtol=1e-7, atol=1e-9, events=ends)
        return [float(at[0]) / 60 for at in run.t_events]

    log_k = brentq(lambda k: log(times_min(k, point.mass_g)[0] * 60 / point.time_s), -13.0, -5.0, xtol=1e-6)
    return times_min(log_k, mass_g)


@pytest.mark.parametrize("loss", [0.65, 1.5])
def test_two_masses_of_a_slow_resin_tell_what_its_cups_lose_in_part(shop, loss):
    """4 h in 150 g: a cup that loses half as much again gels 40 % later at 50 g and as soon at 200 g (by scipy)."""
    stated = of_pot_life(shop, "240 min")
    sheet = Workshop(shop).resin("slow-laminating")
    for mass_g in (50.0, 200.0):
        thick_min, gel_min = cup_by_scipy(stated, sheet.pot_lives[0], loss, mass_g)
        times = "--thickening", f"{thick_min:.0f} min", "--gel", f"{gel_min:.0f} min"
        told = ask_in(shop, *CUP[:3], f"{mass_g:g} g", *CUP[4:], *times, "--json").data
    after = workshop_lessons(Workshop(shop)).resins["slow-laminating"].calibration
    before_off = abs(log(loss))
    learnt = log(after.kinetics.film_coefficient_W_m2_K / stated.kinetics.film_coefficient_W_m2_K)
    assert abs(log(loss) - learnt) < 0.85 * before_off, "it moves towards the truth"
    assert after.covariance[LOSS][LOSS] < TOLD_IN_PART**2 * stated.covariance[LOSS][LOSS]
    assert "told in part by two masses" in told["words"][-1]
    assert told["heat_loss_within"] < 0.47


def test_two_masses_of_a_fast_resin_say_that_they_cannot_tell(shop):
    stated = of_pot_life(shop, "15 min")
    sheet = Workshop(shop).resin("slow-laminating")
    for mass_g in (50.0, 200.0):
        thick_min, gel_min = cup_by_scipy(stated, sheet.pot_lives[0], 1.5, mass_g)
        times = "--thickening", f"{thick_min:.1f} min", "--gel", f"{gel_min + 0.1:.1f} min"
        told = ask_in(shop, *CUP[:3], f"{mass_g:g} g", *CUP[4:], *times, "--json").data
    assert "these masses cannot tell it, the resin is too fast for that" in told["words"][-1]
    assert not told["heat_loss_settled"]
    assert told["heat_loss_within"] > 0.47
