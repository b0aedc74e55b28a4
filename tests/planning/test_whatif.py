"""The whole answer for a case, and that changing one thing changes what follows from it."""

from dataclasses import replace

import pytest
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.planning.fit import assumptions_of, fit_of, why
from layup.planning.plan import Scale, Shop
from layup.planning.planner import PlanResult

CASE = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(293.15, relative_humidity=0.5))


def test_two_people_in_a_mild_shop_fit():
    assert fit_of(CASE).works
    assert fit_of(CASE).against == ()
    assert why(CASE) == (CASE.split.limit.words,)
    assert CASE.window.low_K < 293.15 < CASE.window.high_K


def test_one_person_with_a_fast_resin_in_a_hot_shop_does_not():
    alone = replace(PLAN, crew=replace(PLAN.crew, people=1))
    answer = PlanResult(alone, FAST, calibrate(FAST), Shop(303.15))
    assert not fit_of(answer).works
    assert answer.timeline is not None, "the split that misses by least is shown"
    assert "Batch" in why(answer)[0]


def test_a_shop_too_cold_for_the_resin_does_not_fit_although_there_is_time():
    answer = replace(CASE, shop=Shop(283.15))
    assert answer.split.fits
    assert not fit_of(answer).works
    assert "15 °C" in why(answer)[0]


def test_the_budget_counts_the_losses_of_as_many_batches_as_it_takes():
    assert CASE.budget.batches == len(CASE.split.batches) > 1
    assert CASE.budget.mix_g == pytest.approx(sum(batch.mass_g for batch in CASE.split.batches))


def test_the_minutes_of_a_step_are_for_all_pieces_and_the_answer_says_so():
    one, three = (replace(CASE, plan=replace(PLAN, pieces=pieces)) for pieces in (1, 3))

    def work_s(answer):
        return sum(portion.work_s + portion.after_s for portion in answer.job.work.portions)

    assert three.budget.mix_g > 2.0 * one.budget.mix_g
    assert work_s(three) == pytest.approx(work_s(one))
    assert any("for all 3 pieces together, with one pair of hands" in words for words in assumptions_of(three))
    assert any("for the one piece, with one pair of hands" in words for words in assumptions_of(one))


def test_a_smaller_cup_makes_more_batches_and_more_loss():
    smaller = replace(CASE, plan=replace(PLAN, largest_cup_g=200.0))
    assert len(smaller.split.batches) > len(CASE.split.batches)
    assert smaller.budget.losses_g > CASE.budget.losses_g


def test_a_warmer_shop_leaves_less_to_spare():
    warmer = replace(CASE, shop=Shop(298.15))
    assert warmer.split.slack_s < CASE.split.slack_s
    assert warmer.timeline.press_by_s.low < CASE.timeline.press_by_s.low


def test_mix_that_would_be_left_standing_in_its_cup_is_warned_of():
    coarse = replace(PLAN, scale=Scale(readability_g=4.0), largest_cup_g=1200.0)
    answer = replace(CASE, plan=coarse)
    left = max(batch.left_over_g for batch in answer.split.batches)
    assert left > 20.0
    assert f"up to {left:.0f} g stay. Spread thin" in why(answer)[-1]


def test_what_is_taken_for_granted_is_said_for_this_crew():
    alone = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)))
    assert "One person alone: mixing stops the laying." in assumptions_of(alone)
    said = " ".join(assumptions_of(CASE))
    assert "one mixes the next batch while the others lay" in said
    assert "estimates" in said
    assert "pot life 45 min" in said
