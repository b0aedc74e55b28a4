"""The odds against what can be said without drawing."""

from dataclasses import replace
from math import erf, exp, log, sqrt

import numpy as np
import pytest
from drawn_laws import draw_kinetics
from plan_examples import PLAN, SLOW, FormulaClocks

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import skin_share
from layup.chemistry.kinetics import reduced_time, unstretch
from layup.chemistry.prediction import Vessel, heated_course, predict
from layup.chemistry.uncertainty import Band
from layup.errors import RangeError
from layup.planning.batches import Odds, odds, split_batches
from layup.planning.budget import budget, thickest_skin
from layup.planning.clocks import EMPTY_BY, Ageing, CupLife, Spread
from layup.planning.crew import job_of
from layup.planning.plan import Closing, Crew, Scale, Shop
from layup.planning.planner import PlanResult

JOB = job_of(PLAN, budget(PLAN, SLOW), SLOW)
EASY = FormulaClocks(cup_s=6000.0, film_s=20000.0)


class OneUnsureThing(FormulaClocks):
    """Cups whose logarithm of life has the standard deviation `sd`, and parts that never set."""

    sd = 0.2

    def spread(self, _mass_g):
        mid, below, above = (Ageing(self.cup_s * exp(half * self.sd), (1e9, 1e9)) for half in (0.0, -0.5, 0.5))
        return Spread((0.0, 1.0), mid, ((below, above),), ((1.0,),))


def test_with_an_unsure_cup_alone_the_odds_are_those_of_the_normal_distribution():
    one = split_batches(replace(JOB, largest_g=5000.0), EASY)
    (batch,) = one.batches
    for life_share in (0.8, 1.0, 1.3):
        clocks = OneUnsureThing(cup_s=batch.held_s * life_share, film_s=1e9)
        drawn = odds(JOB, one, clocks, day_pace=0.0, batch_pace=0.0, draws=40_000)
        expected = 0.5 * (1 + erf(log(life_share) / 0.2 / sqrt(2)))
        assert drawn.chance == pytest.approx(expected, abs=0.01)


def test_with_an_unsure_pace_alone_the_odds_are_those_of_the_normal_distribution():
    one = split_batches(replace(JOB, largest_g=5000.0), EASY)
    (batch,) = one.batches

    class Certain(OneUnsureThing):
        sd = 0.0

    clocks = Certain(cup_s=batch.held_s * 1.15, film_s=1e9)
    drawn = odds(JOB, one, clocks, day_pace=0.3, batch_pace=0.4, draws=40_000)
    expected = 0.5 * (1 + erf(log(1.15) / 0.5 / sqrt(2)))  # the two spreads add to 0.5
    assert drawn.chance == pytest.approx(expected, abs=0.01)


def test_all_batches_share_the_resin_of_the_day():
    # With one unsure thing and a sure pace, three equal cups are lost together: the odds are those of the worst.
    split = split_batches(JOB, EASY)
    assert len(split.batches) > 1
    longest = max(batch.held_s for batch in split.batches)
    drawn = odds(JOB, split, OneUnsureThing(cup_s=longest, film_s=1e9), day_pace=0.0, batch_pace=0.0, draws=40_000)
    assert drawn.chance == pytest.approx(0.5, abs=0.01)


def test_the_same_seed_gives_the_same_odds_and_another_nearly_the_same():
    split = split_batches(JOB, FormulaClocks(cup_s=1900.0, film_s=9000.0))
    clocks = FormulaClocks(cup_s=1700.0, film_s=9000.0)
    first, again, other = (odds(JOB, split, clocks, seed=seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert first.chance == pytest.approx(other.chance, abs=0.02)


def test_chance_and_losses_add_up_to_all_days():
    clocks = FormulaClocks(cup_s=1100.0, film_s=2600.0)
    drawn = odds(JOB, split_batches(JOB, clocks), clocks)
    assert 0.02 < drawn.chance < 0.98
    assert drawn.chance + sum(lost.share for lost in drawn.lost) == pytest.approx(1.0)
    assert [lost.share for lost in drawn.lost] == sorted((lost.share for lost in drawn.lost), reverse=True)


def test_where_days_are_lost_is_where_time_is_short():
    short_film = FormulaClocks(cup_s=9000.0, film_s=2400.0, ageing=0.0)
    drawn = odds(JOB, split_batches(JOB, short_film), short_film)
    assert drawn.lost[0].where == "part"
    short_cup = FormulaClocks(cup_s=900.0, film_s=90000.0)
    drawn = odds(JOB, split_batches(JOB, short_cup), short_cup)
    assert {lost.where for lost in drawn.lost} == {"cup"}


def test_a_day_is_booked_on_what_goes_wrong_first():
    # Every cup thickens at once, and every part sets before the press is closed: the first cup is the first of all.
    split = split_batches(JOB, EASY)
    hopeless = FormulaClocks(cup_s=60.0, film_s=600.0, ageing=0.0)
    (lost,) = odds(JOB, split, hopeless).lost
    assert (lost.batch, lost.where, lost.share) == (1, "cup", 1.0)


def test_mix_that_aged_in_its_cup_is_judged_by_its_age():
    split = split_batches(JOB, EASY)
    held = max(batch.held_s for batch in split.batches)
    film = 1.05 * (split.closed_s - split.batches[0].contact_s)
    kept, aged = (FormulaClocks(cup_s=9000.0, film_s=film, ageing=ageing, power=0.0) for ageing in (0.0, film / held))
    assert odds(JOB, split, aged).chance < odds(JOB, split, kept).chance - 0.2


def test_mix_laid_first_is_judged_where_it_sets_before_what_is_laid_last():
    # From cans colder than the part, waiting in the cup costs less than lying on the part.
    split = split_batches(JOB, EASY)
    film = 0.9 * (split.closed_s - split.batches[0].contact_s)
    cool = FormulaClocks(cup_s=9000.0, film_s=film / 1.25, ageing=-2.0, power=0.0)
    assert odds(JOB, split, cool).chance < 0.5


def test_a_day_on_which_a_cup_is_emptied_past_its_one_deadline_is_lost():
    """The rule of card and act: a cup that would run away is empty in 0.8 of its life's low edge."""
    split = split_batches(JOB, EASY)
    held = split.batches[0].held_s
    for share, chance in ((0.9, 0.0), (1.0, 0.5), (1.3, 1.0)):
        cup = CupLife(Band.around(share * held / EMPTY_BY["runaway"], 0.0), "runaway")
        batches = (replace(split.batches[0], cup=cup), *split.batches[1:])
        drawn = odds(JOB, replace(split, batches=batches), EASY, day_pace=0.01, batch_pace=0.01)
        assert drawn.chance == pytest.approx(chance, abs=0.02)
        assert all((lost.batch, lost.where) == (1, "cup") for lost in drawn.lost)


def test_longer_lives_are_better_odds():
    split = split_batches(JOB, FormulaClocks(cup_s=1500.0, film_s=9000.0))
    chances = [odds(JOB, split, FormulaClocks(cup_s=cup, film_s=9000.0)).chance for cup in (1000.0, 1400.0, 2000.0)]
    assert chances == sorted(chances)
    assert chances[0] < chances[-1]


def test_a_day_that_every_draw_closes_is_still_not_called_certain():
    drawn = odds(JOB, split_batches(JOB, EASY), EASY)
    assert (drawn.chance, drawn.lost, drawn.words) == (1.0, (), ">99 %")


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.0, "<1 %"), (0.009, "<1 %"), (0.5, "50 %"), (0.99, "99 %"), (0.9951, ">99 %")],
)
def test_the_chance_in_words_has_no_certain_ends(chance, words):
    assert Odds(chance, (), ()).words == words


def test_the_linear_odds_of_a_real_cup_agree_with_drawing_its_kinetics():
    # An independent way: draw 300 rate laws, and integrate each cup in full.
    calibration = calibrate(SLOW)
    case = PlanResult(replace(PLAN, largest_cup_g=5000.0), SLOW, calibration, Shop(300.15))
    held = 0.95 * case.clocks.cup(case.split.batches[0].mass_g).life_s.likely
    batch = case.split.batches[0]
    late = replace(batch, emptied_s=batch.contact_s + held, cup=CupLife(Band(1e9, 1e9, 1e9), "warm"))
    stretched = replace(case.split, batches=(late,))
    drawn = odds(case.job, stretched, case.clocks, day_pace=0.0, batch_pace=0.0)
    cups = [
        predict(law, Vessel.cup(), mass_g=batch.mass_g, start_K=300.15, ambient=300.15).working_s
        for law in draw_kinetics(calibration, 300, seed=5)
    ]
    survive = sum(life > held for life in cups) / len(cups)
    cup_lost = sum(lost.share for lost in drawn.lost if lost.where == "cup")
    assert 1.0 - cup_lost == pytest.approx(survive, abs=0.07)


@pytest.mark.parametrize(("celsius", "people", "slower", "closing_s"), [(25.0, 1, 1.5, 360.0), (25.0, 2, 1.0, 6500.0)])
def test_the_odds_of_a_tight_day_are_those_of_integrating_every_draw(celsius, people, slower, closing_s):
    # An independent way: draw 600 rate laws and paces, and follow each cup and its mix on the part in full. Held too
    # long in its cup, mix ages fastest: odds that take its age at the low edge for it come out 0.04 too bright.
    steps = tuple(replace(step, bench_s=slower * step.bench_s) for step in PLAN.steps)
    plan = replace(PLAN, crew=Crew(people), scale=Scale(1.0), closing=Closing(bench_s=closing_s), steps=steps)
    case = PlanResult(plan, SLOW, calibrate(SLOW), Shop(273.15 + celsius))
    job, batches = case.job, case.split.batches
    random, own = np.random.default_rng(8), np.random.default_rng(9)
    share = skin_share(case.calibration.kinetics, thickest_skin(plan), case.shop.temperature_K)
    in_time = 0
    for law in draw_kinetics(case.calibration, 600, seed=3):
        paces = np.exp(0.15 * random.standard_normal() + 0.10 * random.standard_normal(len(batches) + 1))
        nexts = [*(batch.lay_s for batch in batches[1:]), batches[-1].done_s]
        spans = [(then - batch.lay_s) * pace for batch, then, pace in zip(batches, nexts, paces, strict=False)]
        lays = [job.ready_s * paces[0] + sum(spans[:i]) for i in range(len(batches) + 1)]
        closed = lays[-1] + job.closing_s / job.pace.full * paces[-1]
        mix = exp(0.05 * own.standard_normal()), 1.5 * own.standard_normal()
        in_time += all(
            closed - lay + job.pace.stirring_s * pace
            <= open_s(law, case.shop.temperature_K, batch, pace, job, mix, share)
            for batch, lay, pace in zip(batches, lays, paces, strict=False)
        )
    drawn = odds(job, case.split, case.clocks, day_pace=0.15)
    assert 0.05 < drawn.chance < 0.95
    assert drawn.chance == pytest.approx(in_time / 600, abs=0.03)


def open_s(law, shop_K, batch, pace, job, mix, share):
    """Return how long all mix of one batch stays open from first contact; 0 where its cup is lost.

    That is where it thickens, or is past the one deadline of a cup, before it is laid.
    `mix` is the share of its mass that is really there, and how much warmer it is than the shop;
    `share` what its own heat on the part leaves of the open life.
    """
    mass_g, start_K = batch.mass_g * mix[0], shop_K + mix[1]
    held = (batch.emptied_s - batch.lay_s + job.pace.stirring_s) * pace
    end = law.conversion_working
    cup = heated_course(
        law, Vessel.cup(), mass_g=mass_g, start_K=start_K, ambient=shop_K, conversion_end=end, tolerance=1e-6
    )
    if cup.last.time_s < held or held > batch.cup.empty_by_s:
        return 0.0
    aged = unstretch(cup.at_time(held).y, law.a0)
    fresh, last = (reduced_time(law, law.conversion_film) - reduced_time(law, at) for at in (0.0, aged))
    rate = law.rate_constant_per_s(shop_K) / share
    return min(fresh / rate, held + last / rate)


def test_what_was_assumed_of_the_crew_is_said():
    said = " ".join(odds(JOB, split_batches(JOB, EASY), EASY).assumptions)
    assert "23 %" in said
    assert "common practice, no source" in said


@pytest.mark.parametrize(
    ("more", "message"),
    [({"draws": 10}, "draws"), ({"day_pace": -0.1}, "day pace"), ({"batch_pace": 2.0}, "batch pace")],
)
def test_odds_that_make_no_sense_are_refused(more, message):
    with pytest.raises(RangeError, match=message):
        odds(JOB, split_batches(JOB, EASY), EASY, **more)


def test_a_job_without_batches_has_no_odds():
    with pytest.raises(RangeError, match="no batches to draw"):
        odds(JOB, split_batches(replace(JOB, largest_g=25.5), EASY), EASY)
