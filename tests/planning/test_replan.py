"""Planning the rest of a running day."""

from dataclasses import replace

import pytest
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.errors import RangeError
from layup.planning.budget import budget
from layup.planning.fit import fit_of
from layup.planning.plan import Crew, Scale, Shop
from layup.planning.planner import PlanResult
from layup.planning.replan import DayState, InCup, OnPart, replan

CASE = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(293.15))
LINES = budget(PLAN, SLOW).lines
FULL = {"resin_g": 5000.0, "hardener_g": 1500.0}
BASE_DONE = {1: 1.0}


def test_a_day_that_has_not_begun_is_planned_as_the_plan_was():
    fresh = replan(CASE, DayState(0.0, 2, BASE_DONE, **FULL))
    planned = CASE
    assert fresh.split.batches == planned.split.batches
    assert fresh.closed_s == planned.split.closed_s
    assert fresh.press_by_s == planned.split.press_by_s
    assert fresh.fits
    assert fresh.savers == ()


def test_new_batches_lay_exactly_what_is_left():
    done = {**BASE_DONE, 2: 1.0, 3: 0.25}
    rest = replan(CASE, DayState(1800.0, 2, done, **FULL))
    left = sum(line.mix_g * (1.0 - done.get(line.step, 0.0)) for line in LINES)
    assert sum(batch.laid_g for batch in rest.split.batches) == pytest.approx(left)
    first = rest.split.batches[0].shares[0]
    assert (first.step, first.begin) == (3, pytest.approx(0.25))


def test_a_cup_in_hand_is_laid_first_and_lays_its_grams():
    done = {**BASE_DONE, 2: 0.5}
    cup = InCup(1, 120.0, empty_within_s=1500.0, open_within_s=9000.0)
    without = replan(CASE, DayState(900.0, 1, done, **FULL))
    rest = replan(CASE, DayState(900.0, 1, done, **FULL, in_cup=(cup,)))
    laid = [sum(batch.laid_g for batch in one.split.batches) for one in (without, rest)]
    assert laid[0] - laid[1] == pytest.approx(120.0)
    assert rest.split.batches[0].lay_s > without.split.batches[0].lay_s
    assert rest.split.batches[0].shares[0].begin == pytest.approx(0.5 + 120.0 / LINES[2].mix_g)


def test_a_cup_in_hand_that_thickens_first_is_said():
    cup = InCup(4, 200.0, empty_within_s=60.0, open_within_s=9000.0)
    rest = replan(CASE, DayState(900.0, 1, {**BASE_DONE, 2: 0.5}, **FULL, in_cup=(cup,)))
    assert not rest.fits
    assert (rest.limit.kind, rest.limit.batch) == ("cup", 4)
    assert "Batch 4 must leave its cup" in rest.advice[0]


def test_with_nothing_on_the_part_nothing_is_said_of_mix_on_it():
    cup = InCup(1, 120.0, empty_within_s=2000.0, open_within_s=2100.0)
    rest = replan(CASE, DayState(0.0, 1, {**BASE_DONE, 2: 0.5}, **FULL, in_cup=(cup,)))
    assert rest.limit.kind == "press"
    assert rest.advice[0].startswith("What is mixed may set")
    assert "on the part" not in rest.advice[0]


def test_new_batches_are_numbered_on_from_those_of_the_day():
    state = DayState(0.0, 2, {**BASE_DONE, 2: 0.5}, **FULL)
    first, later = (replan(CASE, replace(state, first_batch=number)) for number in (1, 4))
    numbers = [batch.number for batch in first.split.batches]
    assert [batch.number for batch in later.split.batches] == [number + 3 for number in numbers]
    assert [replace(batch, number=batch.number - 3) for batch in later.split.batches] == list(first.split.batches)
    assert later.limit.batch == first.limit.batch + 3
    assert f"Batch {later.limit.batch}:" in later.limit.words


@pytest.mark.parametrize(("people", "most"), [(1, 0.4), (2, 2 / 3), (3, 2 / 3)])
def test_batches_that_nobody_can_keep_up_with_are_not_proposed(people, most):
    """Mixing may take so much of the time to the closing (common practice, no source).

    A hot shop and a cold mould: there the film outlives many cups.
    """
    proposed, refused = 0, 0
    for pot_life_min in (20, 15, 12, 10, 8, 6):
        sheet = replace(SLOW, pot_lives=(replace(SLOW.pot_lives[0], time_s=60.0 * pot_life_min),))
        plan = replace(PLAN, scale=Scale(readability_g=0.1), crew=replace(PLAN.crew, people=people))
        case = PlanResult(plan, sheet, calibrate(sheet), Shop(298.15, part_K=278.15))
        rest = replan(case, DayState(0.0, people, {}, **FULL))
        if rest.split.batches:
            mixing_s = len(rest.split.batches) * PLAN.crew.mixing_s
            assert mixing_s <= most * rest.split.closed_s
            proposed += 1
            continue
        assert (rest.fits, rest.in_time, rest.closed_s) == (False, False, None)
        assert rest.limit.kind == case.split.limit.kind, "the reason is the plan's"
        assert ("more than can be kept up" in rest.advice[0]) == (rest.limit.kind == "mixing")
        assert any(words.startswith("Stop in time") for words in rest.advice) or rest.savers[0].fits
        assert sum(rest.stock.needed_g) > 0.0
        refused += 1
    assert proposed
    assert refused


@pytest.mark.parametrize("mixing_s", [240.0, 420.0, 600.0])
@pytest.mark.parametrize("people", [1, 2])
def test_plan_and_replan_agree_on_whether_a_day_fits_before_it_begins_and_why(people, mixing_s):
    """One person, a pot life of 20 min and ten minutes for each batch among them; the base still to be laid in."""
    words = set()
    for pot_life_min in (12, 15, 20, 25, 30, 45):
        sheet = replace(SLOW, pot_lives=(replace(SLOW.pot_lives[0], time_s=60.0 * pot_life_min),), films=())
        plan = replace(PLAN, crew=Crew(people=people, mixing_s=mixing_s))
        case = PlanResult(plan, sheet, calibrate(sheet), Shop(293.15))
        rest = replan(case, DayState(0.0, people, {}, **FULL))
        fit = fit_of(case)
        assert rest.verdict == fit.word
        if not fit.works:
            assert rest.advice[0] == case.split.limit.words == fit.against[0]
        words.add(fit.word)
    assert "does not fit" in words or mixing_s < 600.0


def test_cups_in_hand_are_laid_one_after_the_other():
    cups = (InCup(1, 60.0, 2000.0, 9000.0), InCup(2, 60.0, 2000.0, 9000.0))
    joined = (InCup(1, 120.0, 2000.0, 9000.0),)
    two, one = (replan(CASE, DayState(0.0, 1, {**BASE_DONE, 2: 0.2}, **FULL, in_cup=held)) for held in (cups, joined))
    assert two.split.batches[0].lay_s == pytest.approx(one.split.batches[0].lay_s)


def test_dry_work_after_a_cup_in_hand_comes_before_the_next_batch_is_laid():
    # The cup finishes the core face; the core is put in place (180 s) before the next batch, alone.
    done = {**BASE_DONE, 2: 1.0, 3: 0.5}
    cup = InCup(1, 0.5 * LINES[3].mix_g, 2000.0, 9000.0)
    rest = replan(CASE, DayState(0.0, 1, done, **FULL, in_cup=(cup,)))
    assert rest.split.batches[0].shares[0].step == 5
    assert rest.split.batches[0].lay_s == pytest.approx(0.5 * 300.0 + 180.0 + 240.0)


def test_mix_on_the_part_sets_the_latest_press_time_on_the_sessions_clock():
    done = dict.fromkeys(range(7), 1.0)
    rest = replan(CASE, DayState(3000.0, 2, done, 0.0, 0.0, on_part=(OnPart(1, 1500.0), OnPart(2, 2400.0))))
    assert rest.split.batches == ()
    assert rest.press_by_s == 4500.0
    assert rest.closed_s == pytest.approx(3000.0 + (120.0 + 360.0) / 1.5)
    assert rest.fits


def test_a_press_that_cannot_close_in_time_says_so_and_how_to_save_the_core():
    rest = replan(CASE, DayState(0.0, 1, {**BASE_DONE, 2: 1.0}, **FULL, on_part=(OnPart(1, 300.0),)))
    assert not rest.fits
    assert rest.limit.kind == "press"
    assert "What is mixed may set" in rest.advice[0]
    assert any("scrape" in words and "core" in words for words in rest.advice)


def test_what_saves_the_day_is_found_among_what_can_still_be_done():
    pressed = DayState(0.0, 1, {**BASE_DONE, 2: 1.0}, **FULL, on_part=(OnPart(1, 2000.0),))
    rest = replan(CASE, pressed)
    assert not rest.fits
    saver = rest.savers[0]
    assert saver.fits
    assert saver.kind in {"cans", "cups", "scale", "helper"}
    assert any(saver.words in words for words in rest.advice)
    again = replan(saver.result, replace(pressed, people=saver.result.plan.crew.people))
    assert again.fits


def test_the_stock_left_is_checked_against_the_new_batches():
    done = {**BASE_DONE, 2: 1.0}
    needed = replan(CASE, DayState(0.0, 2, done, **FULL)).stock.needed_g
    assert needed[1] / needed[0] == pytest.approx(0.3)
    enough = replan(CASE, DayState(0.0, 2, done, needed[0] + 0.1, needed[1] + 0.1))
    assert enough.stock.suffices
    short = replan(CASE, DayState(0.0, 2, done, needed[0] + 0.1, needed[1] - 30.0))
    assert not short.fits
    assert short.stock.short_g == (0.0, pytest.approx(30.0))
    assert short.stock.runs_out_in == 6
    words = next(words for words in short.advice if "hardener" in words)
    assert "30 g hardener" in words
    assert "'upper glass'" in words
    assert "same ratio" in words


def test_the_step_in_which_the_mix_runs_out_is_found():
    done = {**BASE_DONE, 2: 1.0}
    for resin_g, hardener_g in ((30.0, 9.0), (30.0, 1500.0), (5000.0, 9.0)):
        almost_nothing = replan(CASE, DayState(0.0, 2, done, resin_g, hardener_g))
        assert almost_nothing.stock.runs_out_in == 3, "the scarcer can decides"


def test_a_little_left_to_lay_is_mixed_although_the_scale_is_coarse():
    case = replace(CASE, plan=replace(PLAN, scale=Scale(readability_g=1.0)))
    rest = replan(case, DayState(0.0, 2, {**BASE_DONE, 2: 1.0, 3: 1.0, 5: 1.0, 6: 0.9}, **FULL))
    (batch,) = rest.split.batches
    assert batch.left_over_g > 100
    assert any("Spread thin" in words for words in rest.advice)
    assert rest.fits
    assert sum(rest.stock.needed_g) == pytest.approx(batch.mass_g), "the left-over is taken from the cans too"


def test_with_little_to_spare_the_closing_is_got_ready_first():
    done = dict.fromkeys(range(6), 1.0)
    rest = replan(CASE, DayState(0.0, 2, done, **FULL, on_part=(OnPart(1, 1500.0),)))
    assert rest.fits
    assert any(words.startswith("Lay out: ") for words in rest.advice)


def test_a_warmer_shop_leaves_less_time():
    state = DayState(0.0, 2, {**BASE_DONE, 2: 1.0}, **FULL)
    mild = replan(PlanResult(PLAN, FAST, calibrate(FAST), Shop(288.15)), state)
    warm = replan(PlanResult(PLAN, FAST, calibrate(FAST), Shop(291.15)), state)
    assert warm.press_by_s < mild.press_by_s


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"done": {0: 1.2}}, "share done of step 0"),
        ({"resin_g": -1.0}, "resin left"),
        ({"hardener_g": float("nan")}, "hardener left"),
        ({"people": 0}, "people"),
    ],
)
def test_a_state_that_no_day_has_is_refused(more, message):
    with pytest.raises(RangeError, match=message):
        DayState(**{"now_s": 0.0, "people": 1, "done": {}, **FULL, **more})


@pytest.mark.parametrize("people", [1, 2, 3])
def test_a_plan_and_the_replan_of_its_first_minute_agree_on_whether_mixing_can_be_kept_up_with(people):
    refused = 0
    for pot_life_min in (20, 15, 12, 10, 8, 6):
        sheet = replace(SLOW, pot_lives=(replace(SLOW.pot_lives[0], time_s=60.0 * pot_life_min),))
        plan = replace(PLAN, scale=Scale(readability_g=0.1), crew=replace(PLAN.crew, people=people))
        case = PlanResult(plan, sheet, calibrate(sheet), Shop(298.15, part_K=278.15))
        planned, rest = case.split, replan(case, DayState(0.0, people, {}, **FULL))
        assert planned.fits == rest.in_time, (people, pot_life_min)
        if planned.limit.kind == "mixing":
            assert rest.limit.kind == "mixing"
            refused += 1
    assert refused or people > 1


def test_the_rest_of_a_day_has_a_verdict_of_its_own():
    """Spare for a cup in hand under five minutes is tight (common practice, no source)."""

    def verdict(within_s):
        state = DayState(0.0, 2, {}, **FULL, in_cup=(InCup(1, 60.0, within_s, 1e5),))
        rest = replan(CASE, state)
        return rest.verdict, rest.limit.margin_s

    words = dict(map(verdict, range(60, 1500, 60)))
    assert set(words) == {"does not fit", "tight", "fits"}
    assert words["does not fit"] < 0.0 <= words["tight"] < 300.0
    empty = replan(CASE, DayState(0.0, 2, {}, 1.0, 1.0))
    assert (empty.in_time, empty.verdict) == (True, "does not fit")


def test_what_does_not_fit_says_what_stands_against_it_and_not_what_is_to_spare():
    cup = InCup(1, 60.0, 1500.0, 1e5)
    short = replan(CASE, DayState(0.0, 2, {}, 1.0, 1.0, in_cup=(cup,)))
    assert (short.verdict, short.in_time) == ("does not fit", True)
    assert short.why.startswith("the cans lack ")
    assert short.why.endswith(" hardener")
    assert short.limit.margin_s > 0.0
    assert "spare" not in short.why
    late = replan(CASE, DayState(0.0, 2, {}, 1.0, 1.0, in_cup=(InCup(1, 60.0, 60.0, 1e5),)))
    assert late.why == late.limit.words
    assert "must leave its cup" in late.why
    assert replan(CASE, DayState(0.0, 2, {}, **FULL, in_cup=(cup,))).why == ""


def test_where_the_cans_lack_mix_no_act_says_that_there_is_too_much_of_it():
    done = dict.fromkeys(range(len(PLAN.steps)), 1.0) | {6: 0.9}
    coarse = replace(CASE, plan=replace(PLAN, scale=Scale(readability_g=1.0)))
    full, short = (replan(coarse, DayState(0.0, 2, done, *stock)) for stock in ((5000.0, 1500.0), (1.0, 1.0)))
    assert [words for words in full.brief if words.endswith(" too much: spread it thin.")]
    assert [words for words in short.brief if words.startswith("Fetch ")]
    assert not [words for words in short.brief if "too much" in words]
    assert any("larger than laid" in words for words in short.advice), "why so much is mixed stands in full"
