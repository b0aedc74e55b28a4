"""Minutes that are offered by kind and size: a guess, which nobody has a source for."""

from dataclasses import replace

import pytest
from plan_examples import CORE, GLASS, PLAN, SEAT, STRIP, WALLS

from layup.files.plan_file import load_plan
from layup.files.workshop import demo_root
from layup.planning.crew import usual_bench_s
from layup.planning.outline import Outline


def test_a_guess_by_hand():
    # Two pieces of 0.15 m^2, two plies: 4 x (2 + 20 x 0.15); a face of 0.8 x 0.15 m^2 on each: 2 x (1 + 8 x 0.12).
    # The core of each put in place: 2 x 2; two pours into the walls of each: 2 x 2 x 5.
    plan = replace(PLAN, outline=Outline(length_m=1.5, stated_area_m2=0.15))
    assert usual_bench_s(plan, GLASS) == 20.0 * 60.0
    assert usual_bench_s(plan, CORE) == 4.0 * 60.0
    assert usual_bench_s(plan, SEAT) == 4.0 * 60.0
    assert usual_bench_s(plan, WALLS) == 20.0 * 60.0


def test_a_guess_grows_with_the_cloth_and_its_plies_and_is_a_minute_at_least():
    assert usual_bench_s(PLAN, STRIP) < usual_bench_s(PLAN, replace(STRIP, width_m=None))
    assert usual_bench_s(PLAN, replace(GLASS, layers=1)) == pytest.approx(usual_bench_s(PLAN, GLASS) / 2, abs=60.0)
    small = replace(PLAN, pieces=1)
    assert usual_bench_s(small, replace(CORE, area_m2=1e-4)) == 60.0


def test_the_guesses_are_those_that_the_demos_author_made_within_a_sixth_in_all():
    plan, _ = load_plan(demo_root() / "sessions" / "touring-skis" / "plan.toml")
    guessed = sum(usual_bench_s(plan, step) for step in plan.steps)
    assert guessed == pytest.approx(sum(step.bench_s for step in plan.steps), rel=1 / 6)
