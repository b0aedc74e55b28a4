"""Every change that is proposed has been planned anew, and the least effort comes first."""

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import ViscosityPoint
from layup.planning.crew import MOST_PEOPLE
from layup.planning.fit import Fit, fit_of
from layup.planning.night import NightOutlook
from layup.planning.plan import Scale, Shop
from layup.planning.planner import PlanResult
from layup.planning.readiness import readiness
from layup.planning.remedies import CUP_STEP_G, RemedyKind, Upshot, best_remedies, proposals, remedies
from layup.units import minutes

EFFORT = get_args(RemedyKind)
RESINS = {sheet.id: (sheet, calibrate(sheet)) for sheet in (SLOW, FAST)}


def found(case):
    return remedies(case, other_resins=RESINS)


def hot_and_alone(**changes):
    plan = replace(PLAN, crew=replace(PLAN.crew, people=1), **changes)
    return PlanResult(plan, FAST, RESINS["fast"][1], Shop(295.15))


def test_each_remedy_that_fits_fits_when_planned_again():
    case = hot_and_alone()
    assert not case.split.fits
    listed = found(case)
    assert listed
    for remedy in listed:
        again = remedy.result
        assert remedy.fits
        assert fit_of(again).works
        assert again.split.slack_s == remedy.slack_s


def test_what_fits_comes_before_what_is_tight_each_by_the_effort_it_takes():
    listed = [(remedy.verdict != "fits", EFFORT.index(remedy.kind)) for remedy in found(hot_and_alone())]
    assert listed == sorted(listed)
    assert {(False, EFFORT.index("resin")), (True, EFFORT.index("helper"))} <= set(listed)


def test_a_change_that_leaves_under_a_minute_comes_behind_those_that_bring_more():
    case, fit = hot_and_alone(), fit_of(hot_and_alone())
    tight = Fit(tight=("little room",))
    spare_s = {"Cool the cans.": 21.0, "Call a helper.": 400.0, "Cool the shop.": 59.0}
    made = {words: replace(case) for words in spare_s}

    def judge(result):
        words = next((words for words, each in made.items() if each is result), None)
        return Upshot(fit, None) if words is None else Upshot(tight, spare_s[words], 0.5)

    kinds = zip(("cans", "helper", "shop"), made.items(), strict=True)
    listed = best_remedies(case, judge, [(kind, [change]) for kind, change in kinds])
    assert [each.words for each in listed] == ["Call a helper.", "Cool the cans.", "Cool the shop."]


def test_words_say_what_to_do():
    words = {remedy.kind: remedy.words for remedy in found(hot_and_alone())}
    assert words["helper"].endswith("people in all.")
    assert words["shop"].startswith("Cool the shop to ")
    assert words["resin"] == "Use Slow test resin instead."


def test_another_person_is_counted_in_the_case_that_it_makes():
    helper = next(remedy for remedy in found(hot_and_alone()) if remedy.kind == "helper")
    assert helper.result.plan.crew.people > 1


def slow_and_alone(celsius, **changes):
    plan = replace(PLAN, crew=replace(PLAN.crew, people=1), **changes)
    return PlanResult(plan, SLOW, RESINS["slow"][1], Shop(273.15 + celsius))


def test_a_finer_scale_is_proposed_where_a_coarse_one_forces_large_batches():
    case = slow_and_alone(25.0, scale=Scale(readability_g=3.0), largest_cup_g=600.0)
    assert fit_of(case).word == "does not fit"
    assert case.job.smallest_g > 400.0
    scale = next(remedy for remedy in found(case) if remedy.kind == "scale")
    assert scale.fits
    assert scale.result.plan.scale.readability_g == 0.1


def test_taring_again_is_proposed_first_where_the_scale_alone_stops_a_plan():
    """The least batch from the mass of either error: half a digit of resin, and a whole or half a digit of hardener."""
    case = slow_and_alone(20.0, scale=Scale(readability_g=1.0), largest_cup_g=200.0)
    assert case.split.limit.kind == "scale"
    first = found(case)[0]
    assert (first.kind, first.fits) == ("tare", True)
    least_g = first.result.job.smallest_g
    resin_g, hardener_g = least_g / 1.3, least_g * 0.3 / 1.3
    assert (hardener_g + 0.5) / (resin_g - 0.5) / 0.3 - 1.0 == pytest.approx(0.02)
    assert f"from {least_g:.0f} g can" in first.words
    assert first.result.split.batches


def test_taring_again_is_not_proposed_to_who_does_it_already():
    case = slow_and_alone(33.0, scale=Scale(readability_g=2.0, tare_each=True), largest_cup_g=600.0)
    assert all(remedy.kind != "tare" for remedy in found(case))


def test_a_larger_cup_is_proposed_where_the_cup_is_what_stops_it():
    case = slow_and_alone(30.0, largest_cup_g=90.0)
    assert case.split.limit.kind == "part", "mixing so many small cups takes too long"
    cups = next(remedy for remedy in found(case) if remedy.kind == "cups")
    assert "larger cups" in cups.words
    assert "gets hotter" in cups.words
    assert cups.result.plan.largest_cup_g > 90.0


def test_a_sealed_core_drinks_less():
    steps = tuple(replace(step, uptake_g_m2=400.0) if step.kind == "bond" else step for step in PLAN.steps)
    case = slow_and_alone(30.0, steps=steps, largest_cup_g=200.0)
    assert not case.split.fits
    sealed = next(remedy for remedy in found(case) if remedy.kind == "sealed core")
    assert sealed.fits
    assert sealed.result.budget.laid_g < case.budget.laid_g - 50.0


def test_a_core_that_gains_nothing_from_sealing_is_left_alone():
    steps = tuple(step for step in PLAN.steps if step.kind != "bond")
    assert all(remedy.kind != "sealed core" for remedy in found(slow_and_alone(45.0, steps=steps)))


def test_a_shop_too_cold_is_to_be_warmed():
    case = PlanResult(PLAN, SLOW, RESINS["slow"][1], Shop(283.15))
    (shop,) = (remedy for remedy in found(case) if remedy.kind == "shop")
    assert shop.words.startswith("Warm the shop to 16 °C")


def test_warming_the_shop_keeps_the_moisture_of_its_air():
    case = PlanResult(PLAN, SLOW, RESINS["slow"][1], Shop(283.15, relative_humidity=0.7))
    (shop,) = (remedy for remedy in found(case) if remedy.kind == "shop")
    assert shop.result.shop.relative_humidity < 0.7


def test_thick_resin_asks_for_warm_cans():
    thick = replace(SLOW, viscosities=(ViscosityPoint(4.0, 288.15), ViscosityPoint(1.0, 298.15)))
    case = PlanResult(PLAN, thick, RESINS["slow"][1], Shop(289.15))
    cans = next(remedy for remedy in found(case) if remedy.kind == "cans")
    assert cans.fits
    assert cans.words.startswith("Warm resin and hardener to ")


def test_cans_are_not_cooled_into_the_dew():
    humid = replace(hot_and_alone(), shop=Shop(295.15, relative_humidity=0.84))
    assert all(remedy.kind != "cans" for remedy in found(humid))


def test_where_nothing_fits_what_gains_most_comes_first():
    plan = replace(
        PLAN,
        crew=replace(PLAN.crew, people=1),
        steps=tuple(replace(step, bench_s=4 * step.bench_s) for step in PLAN.steps),
    )
    case = PlanResult(plan, FAST, RESINS["fast"][1], Shop(307.15))
    listed = remedies(case)
    assert listed
    assert not any(remedy.fits for remedy in listed)
    slacks = [remedy.slack_s for remedy in listed]
    assert slacks == sorted(slacks, reverse=True)
    assert slacks[-1] > case.split.slack_s


def test_every_kind_is_proposed_in_the_order_of_its_effort():
    case = hot_and_alone(scale=Scale())
    kinds = [kind for kind, _ in proposals(case, RESINS)]
    closing = replace(case.plan.closing, clamps=2, clamp_rating_N=100.0)
    overloaded = replace(case, plan=replace(case.plan, closing=closing))
    press = [kind for kind, _ in proposals(overloaded, RESINS)]
    assert press == ["press"], "nothing else helps as long as the clamps do not hold"
    assert press + kinds == list(EFFORT)
    assert kinds[:4] == [kind for kind, _ in proposals(overloaded, RESINS, on_the_day=True)][:4]


def test_a_mix_that_is_slow_to_wet_out_is_helped_by_warmth_and_never_by_cold():
    thick = replace(SLOW, viscosities=(ViscosityPoint(1.2, 291.15), ViscosityPoint(0.7, 298.15)))
    case = PlanResult(PLAN, thick, calibrate(thick), Shop(291.15))
    assert (fit_of(case).word, fit_of(case).beside) == ("tight", ("slow to wet",))
    helps = {kind: next(words for words, _ in changes) for kind, changes in proposals(case, {}, kinds=("cans", "shop"))}
    assert helps["cans"].startswith("Warm resin and hardener")
    assert helps["shop"].startswith("Warm the shop to 21 °C"), "1 Pa s at 20.4 degC, by hand"


def sped(sheet, share):
    """Return a resin whose lives are a share of its datasheet's, 0.9 Pa s at 25 degC."""
    lives = (replace(sheet.pot_lives[0], time_s=share * sheet.pot_lives[0].time_s),)
    films = (replace(sheet.films[0], time_s=share * sheet.films[0].time_s),)
    return replace(sheet, pot_lives=lives, films=films, viscosities=(ViscosityPoint(0.9, 298.15),))


@settings(max_examples=8, deadline=None)
@given(
    share=st.sampled_from([0.5, 0.7, 1.0]),
    celsius=st.sampled_from([17.0, 20.0, 24.0, 29.0]),
    cup_g=st.sampled_from([150.0, 250.0, 320.0, 500.0]),
    scale=st.sampled_from([Scale(readability_g=1.0), Scale(readability_g=2.0), Scale(readability_g=0.1)]),
    people=st.integers(1, 3),
    slower=st.sampled_from([1.0, 1.5, 2.0]),
)
def test_an_advice_that_is_taken_makes_of_the_verdict_what_it_promised(share, celsius, cup_g, scale, people, slower):
    """Judged anew by `readiness`, the verdict of the screens; what only helps lowers neither odds nor spare."""
    sheet = sped(SLOW, share)
    steps = tuple(replace(step, bench_s=slower * step.bench_s) for step in PLAN.steps)
    plan = replace(PLAN, steps=steps, largest_cup_g=cup_g, scale=scale, crew=replace(PLAN.crew, people=people))
    case = PlanResult(plan, sheet, calibrate(sheet), Shop(273.15 + celsius))

    def shown(asked):
        return readiness(asked, NightOutlook(), chance=asked.chance).fit.word

    before = shown(case)
    listed = remedies(case) if before != "fits" else ()
    for one in listed[:2]:
        again = replace(one.result)
        assert shown(again) == one.verdict
        assert one.fits == (one.verdict == "fits" or (one.verdict, before) == ("tight", "does not fit"))
        less = (again.split.slack_s or 0.0) < (case.split.slack_s or 0.0) or (again.chance or 0.0) < (
            case.chance or 0.0
        )
        if before == "tight" and less:
            assert one.fits, "what only helps costs nothing"
            assert f"(leaves {minutes(again.split.slack_s)} spare, {again.odds.words} in time)" in one.told
        elif not one.fits:
            assert one.outcome.spare_s > (case.split.slack_s or -1e9) or again.chance > case.chance
        cup = again.plan.largest_cup_g - cup_g
        assert cup % CUP_STEP_G == (again.shop.temperature_K - case.shop.temperature_K) % 1.0 == 0.0, (
            "as the dials turn"
        )


def test_two_changes_are_named_together_where_neither_is_enough():
    """Warm cans wet out and leave too little time for the batches that the scale can weigh."""
    thick = replace(sped(SLOW, 0.5), viscosities=(ViscosityPoint(1.25, 291.15), ViscosityPoint(0.7, 298.15)))
    case = PlanResult(replace(PLAN, scale=Scale(readability_g=1.0)), thick, calibrate(thick), Shop(291.15))
    (both,) = remedies(case)
    assert both.words == "Warm resin and hardener to 22 °C, and tare again before the hardener."
    warm, tared = replace(both.result, plan=case.plan), replace(case, plan=both.result.plan)
    assert [fit_of(one, chance=one.chance).word for one in (warm, tared, both.result)] == ["tight", "tight", "fits"]


@pytest.mark.parametrize(("people", "offered"), [(MOST_PEOPLE - 2, 2), (MOST_PEOPLE - 1, 1), (MOST_PEOPLE, 0)])
def test_nobody_is_asked_for_more_helpers_than_a_plan_may_have(people, offered):
    case = hot_and_alone()
    case = replace(case, plan=replace(case.plan, crew=replace(case.plan.crew, people=people)))
    asked = [each for kind, changes in proposals(case, {}, kinds=("helper",)) for each in changes]
    assert [changed.plan.crew.people for _, changed in asked] == [people + more for more in range(1, offered + 1)]
