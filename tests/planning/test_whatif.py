"""The whole answer for a case, and that changing one thing changes what follows from it."""

from dataclasses import replace

import pytest
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.planning.fit import what_if
from layup.planning.plan import Scale, Shop
from layup.planning.planner import Case

CASE = Case(PLAN, SLOW, calibrate(SLOW), Shop(293.15, relative_humidity=0.5))
ANSWER = what_if(CASE)


def test_two_people_in_a_mild_shop_fit():
    assert ANSWER.fit.works
    assert ANSWER.fit.against == ()
    assert ANSWER.reasons == (ANSWER.settled.split.limit.words,)
    assert ANSWER.window.low_K < 293.15 < ANSWER.window.high_K


def test_one_person_with_a_fast_resin_in_a_hot_shop_does_not():
    alone = replace(PLAN, crew=replace(PLAN.crew, people=1))
    answer = what_if(Case(alone, FAST, calibrate(FAST), Shop(303.15)))
    assert not answer.fit.works
    assert answer.timeline is not None, "the split that misses by least is shown"
    assert "Batch" in answer.reasons[0]


def test_a_shop_too_cold_for_the_resin_does_not_fit_although_there_is_time():
    answer = what_if(replace(CASE, shop=Shop(283.15)))
    assert answer.settled.split.fits
    assert not answer.fit.works
    assert "15 °C" in answer.reasons[0]


def test_the_budget_counts_the_losses_of_as_many_batches_as_it_takes():
    settled = ANSWER.settled
    assert settled.budget.batches == len(settled.split.batches) > 1
    assert settled.budget.mix_g == pytest.approx(sum(batch.mass_g for batch in settled.split.batches))


def test_the_minutes_of_a_step_are_for_all_pieces_and_the_answer_says_so():
    one, three = (what_if(replace(CASE, plan=replace(PLAN, pieces=pieces))) for pieces in (1, 3))

    def work_s(answer):
        return sum(portion.work_s + portion.after_s for portion in answer.settled.job.work.portions)

    assert three.settled.budget.mix_g > 2.0 * one.settled.budget.mix_g
    assert work_s(three) == pytest.approx(work_s(one))
    assert any("for all 3 pieces together, with one pair of hands" in words for words in three.assumptions)
    assert any("for the one piece, with one pair of hands" in words for words in one.assumptions)


def test_a_smaller_cup_makes_more_batches_and_more_loss():
    smaller = what_if(replace(CASE, plan=replace(PLAN, largest_cup_g=200.0)))
    assert len(smaller.settled.split.batches) > len(ANSWER.settled.split.batches)
    assert smaller.settled.budget.losses_g > ANSWER.settled.budget.losses_g


def test_a_warmer_shop_leaves_less_to_spare():
    warmer = what_if(replace(CASE, shop=Shop(298.15)))
    assert warmer.settled.split.slack_s < ANSWER.settled.split.slack_s
    assert warmer.timeline.press_by_s < ANSWER.timeline.press_by_s


def test_mix_that_would_be_left_standing_in_its_cup_is_warned_of():
    coarse = replace(PLAN, scale=Scale(readability_g=4.0), largest_cup_g=1200.0)
    answer = what_if(replace(CASE, plan=coarse))
    left = max(batch.left_over_g for batch in answer.settled.split.batches)
    assert left > 20.0
    assert f"up to {left:.0f} g stay in the cup. Spread them out thin" in answer.reasons[-1]


def test_what_is_taken_for_granted_is_said_for_this_crew():
    alone = what_if(replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1))))
    assert "One person alone: mixing stops the laying." in alone.assumptions
    said = " ".join(ANSWER.assumptions)
    assert "one mixes the next batch while the others lay" in said
    assert "estimates" in said
    assert "pot life 45 min" in said
