"""`layup trial`: what a small cup did becomes the resin's own point, and nothing else of the workshop changes."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from command_line import ask_in
from scipy.integrate import solve_ivp

from layup.chemistry.calibration import LOSS, calibrate
from layup.chemistry.observation import learn_cooling
from layup.chemistry.vessel import Vessel, heat_loss_of
from layup.files.workshop import Workshop, demo_root

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
    assert told["low"] < told["pot_life_factor"] < told["high"] < 1.0
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
