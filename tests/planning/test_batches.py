"""The splitter against a search through every way to cut small jobs, simulated by other means."""

from dataclasses import replace
from itertools import combinations
from random import Random

import pytest
from plan_examples import PLAN, SLOW, FormulaClocks

from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.crew import DryWork, Job, Pace, Portion, Work, job_of, pace_of
from layup.planning.plan import Crew, Scale
from layup.planning.schedule import left_over_words

EASY = FormulaClocks(cup_s=6000.0, film_s=20000.0)
JOB = job_of(PLAN, budget(PLAN, SLOW), SLOW)


def simulated(job, clocks, ends):
    """Return (closed, margins) of one split by walking through the day; None if a mass is not allowed.

    Work is done at `full` pairs of hands until somebody leaves to mix, at `beside` until the mix is ready, and again
    at `full` if it is ready before its turn. Mixing starts as late as it can for the mix to be ready when the bench is
    empty: found here by bisection on its start.
    """
    full, beside, mixing = job.pace.full, job.pace.beside, job.pace.mixing_s
    lay, times = job.ready_s, []
    begins = [0, *ends[:-1]]
    for begin, end in zip(begins, ends, strict=True):
        span = job.work.portions[begin:end]
        work = sum(p.work_s + sum(d.work_s for d in p.dry) for p in span)
        wet = work - sum(d.work_s for d in span[-1].dry)
        if end == len(job.work.portions):
            times.append((span, lay, lay + wet / full))
            lay += work / full
            continue
        early, late = 0.0, work / full
        for _ in range(200):
            start = (early + late) / 2
            early, late = (start, late) if full * start + beside * mixing < work else (early, start)
        start = late if full * 0.0 + beside * mixing < work else 0.0
        wet_s = wet / full if wet <= full * start or beside == 0.0 else start + (wet - full * start) / beside
        times.append((span, lay, lay + wet_s))
        lay += start + mixing
    closed = lay + job.closing_s / full
    margins = [job.close_by_s - closed]
    for span, laid_from, emptied in times:
        mass = sum(p.laid_g for p in span) + job.loss_g
        if job.padded:
            mass = max(mass, job.smallest_g)
        if not job.smallest_g <= mass <= job.largest_g:
            return None
        contact = laid_from - job.pace.stirring_s
        ((empty_by, open_low),) = clocks.limits_s([mass], [emptied - contact])
        margins.append(contact + empty_by - emptied)
        margins.append(contact + open_low - closed)
    return closed, margins


def searched(job, clocks):
    """Return (batches, slack, closed) of the best of all splits: the fewest that fit, then the most to spare."""
    count = len(job.work.portions)
    best = None
    for cuts in range(count):
        for inner in combinations(range(1, count), cuts):
            day = simulated(job, clocks, (*inner, count))
            if day is not None and (best is None or min(day[1]) > best[1]):
                best = (cuts + 1, min(day[1]), day[0])
        if best is not None and best[1] >= 0.0:
            return best
    return best


def small_job(random):
    """Return a random job of at most eight portions, and clocks for it."""
    portions = tuple(
        Portion(
            step=i,
            begin=0.0,
            end=1.0,
            laid_g=random.uniform(10, 120),
            work_s=random.choice([0.0, random.uniform(30, 900)]),
            dry=tuple(DryWork(i, random.uniform(0, 400)) for _ in range(random.choice([0, 0, 0, 1, 2]))),
        )
        for i in range(random.randint(1, 8))
    )
    crew = Crew(
        people=random.choice([1, 1, 2, 2, 3, 4]),
        mixing_s=random.uniform(60, 600),
        second_pair=random.choice([0.0, 0.5, 1.0]),
    )
    pace = pace_of(crew)
    total = sum(p.laid_g for p in portions)
    job = Job(
        work=Work(portions),
        pace=pace,
        closing_s=random.uniform(0, 900),
        loss_g=random.uniform(0, 40),
        smallest_g=random.choice([0.0, 0.0, random.uniform(0, 120), random.uniform(100, 400)]),
        largest_g=random.choice([float("inf"), random.uniform(0.2, 1.0) * total + 60]),
        parts=(100.0, 30.0),
        ready_s=pace.mixing_s,
        close_by_s=random.choice([float("inf"), float("inf"), random.uniform(600, 9000)]),
    )
    clocks = FormulaClocks(
        cup_s=random.uniform(300, 4000),
        film_s=random.uniform(1000, 9000),
        ageing=random.uniform(0.0, 2.0),
        power=random.uniform(0.0, 0.5),
        wobble=random.choice([0.0, 0.0, 0.3]),
        heat_class=random.choice(["warm", "hot", "runaway"]),
    )
    return job, clocks


def test_the_splitter_agrees_with_a_search_through_every_split_of_500_small_jobs():
    random = Random(20240701)
    outcomes = {"fits": 0, "fails": 0, "left over": 0, "no allowed mass": 0, "several": 0, "not kept up": 0}
    for number in range(500):
        job, clocks = small_job(random)
        split, best = split_batches(job, clocks), searched(job, clocks)
        if best is None:
            best = searched(replace(job, padded=True), clocks)
            outcomes["left over"] += best is not None
        if best is None:
            outcomes["no allowed mass"] += 1
            assert (split.batches, split.slack_s, split.fits) == ((), None, False), number
            continue
        batches, slack, closed = best
        share = (0.4 if job.pace.beside == 0.0 else 2 / 3) * closed - batches * job.pace.mixing_s
        if slack >= 0.0 and batches > 1 and share < 0.0:  # it would fit, and nobody keeps up with mixing it
            assert (split.batches, split.fits, split.limit.kind) == ((), False, "mixing"), number
            assert split.slack_s == pytest.approx(share, abs=1e-6), number
            outcomes["not kept up"] += 1
            continue
        assert split.slack_s == pytest.approx(slack, abs=1e-6), number
        assert split.fits == (slack >= 0.0), number
        if split.fits:
            assert len(split.batches) == batches, number
            outcomes["several"] += batches > 2
        outcomes["fits" if split.fits else "fails"] += 1
    assert min(outcomes.values()) > 10, f"the jobs are one-sided: {outcomes}"


def test_the_times_of_a_split_are_those_of_the_simulated_day():
    random = Random(7)
    for _ in range(100):
        job, clocks = small_job(random)
        split = split_batches(job, clocks)
        if not split.batches:
            continue
        job = replace(job, padded=any(batch.left_over_g > 0 for batch in split.batches))
        closed, margins = simulated(job, clocks, tuple(batch.end for batch in split.batches))
        assert split.closed_s == pytest.approx(closed)
        shown = [job.close_by_s - closed]
        for batch in split.batches:
            shown += [batch.cup_margin_s, batch.part_margin_s]
        assert shown == pytest.approx(margins)


def test_one_batch_is_enough_where_its_lives_are_long_and_cups_are_large():
    split = split_batches(replace(JOB, largest_g=5000.0), EASY)
    assert len(split.batches) == 1
    assert split.fits


def test_the_largest_cup_forces_more_batches():
    split = split_batches(replace(JOB, largest_g=300.0), EASY)
    assert len(split.batches) == -(-JOB.work.laid_g // 280)
    assert max(batch.mass_g for batch in split.batches) <= 300.0


def test_a_short_cup_life_forces_more_batches():
    long = split_batches(replace(JOB, largest_g=5000.0), EASY)
    short = split_batches(replace(JOB, largest_g=5000.0), replace(EASY, cup_s=1500.0))
    assert len(short.batches) > len(long.batches)
    assert short.fits


def test_a_job_that_does_not_fit_says_which_batch_misses_and_by_how_much():
    split = split_batches(JOB, replace(EASY, film_s=1500.0))
    assert not split.fits
    assert split.limit.kind == "part"
    assert split.limit.margin_s < 0
    assert split.limit.words.startswith(f"Batch {split.limit.batch} may set on the part")
    assert split.batches, "the split that misses by least is shown"


def test_a_cup_too_short_for_one_portion_says_so():
    split = split_batches(JOB, replace(EASY, cup_s=130.0))
    assert split.limit.kind == "cup"
    assert "its cup lasts" in split.limit.words


def test_mix_on_the_part_already_limits_the_day():
    split = split_batches(replace(JOB, close_by_s=600.0), EASY)
    assert not split.fits
    assert split.limit.kind == "press"
    assert "What is mixed may set" in split.limit.words
    assert split.press_by_s == 600.0


@pytest.mark.parametrize(
    ("limits", "kind", "words"),
    [
        ({"smallest_g": 450.0, "largest_g": 400.0}, "scale", "no batch below 450 g within 2 %"),
        ({"largest_g": 19.0, "smallest_g": 10.0}, "cup size", "no more than the 20 g that stay in cup"),
        ({"largest_g": 25.0, "smallest_g": 20.0}, "cup size", "takes more than 30 batches"),
    ],
)
def test_masses_that_nothing_can_weigh_or_hold_are_a_result_and_no_exception(limits, kind, words):
    split = split_batches(replace(JOB, **limits), EASY)
    assert (split.fits, split.batches, split.limit.kind) == (False, (), kind)
    assert words in split.limit.words


@pytest.mark.parametrize("times", [20.0, 40.0])
def test_a_job_of_more_batches_than_a_bench_can_keep_apart_says_so(times):
    # 20 times the grams: every portion fits a cup of its own; 40 times: not even that. The cup is not too small for
    # what is laid at a time: there is too much of it.
    portions = tuple(replace(portion, laid_g=times * portion.laid_g) for portion in JOB.work.portions)
    split = split_batches(replace(JOB, work=Work(portions), largest_g=460.0 if times < 30.0 else 400.0), EASY)
    assert (split.fits, split.batches, split.limit.kind) == (False, (), "cup size")
    assert "takes more than 30 batches, more than one bench can keep apart" in split.limit.words


def test_nothing_to_lay_needs_no_batch():
    split = split_batches(replace(JOB, work=Work(()), ready_s=0.0), EASY)
    assert (split.fits, split.batches, split.limit) == (True, (), None)
    assert split.closed_s == pytest.approx(JOB.closing_s / JOB.pace.full)


def test_a_coarse_scale_asks_for_larger_batches():
    fine = job_of(PLAN, budget(PLAN, SLOW), SLOW)
    coarse_plan = replace(PLAN, scale=Scale(readability_g=1.0))
    coarse = job_of(coarse_plan, budget(coarse_plan, SLOW), SLOW)
    assert coarse.smallest_g == pytest.approx(10 * fine.smallest_g)
    assert coarse.smallest_g > 100


def test_a_job_too_small_for_the_scale_is_mixed_larger_and_the_rest_left_over():
    split = split_batches(replace(JOB, smallest_g=1500.0, largest_g=2000.0), EASY)
    (batch,) = split.batches
    assert split.fits
    assert batch.mass_g == 1500.0
    assert batch.left_over_g == pytest.approx(1500.0 - batch.laid_g - 20.0)
    assert all(batch.left_over_g == 0.0 for batch in split_batches(JOB, EASY).batches)
    (words,) = left_over_words(split)
    assert words.startswith("Batch 1 is larger than laid, the scale weighs none below 1500 g: up to "), "says why"
    assert f"up to {batch.left_over_g:.0f} g stay. Spread thin" in words
    assert left_over_words(split_batches(JOB, EASY)) == ()


def test_every_batch_with_mix_left_over_is_named():
    split = split_batches(replace(JOB, smallest_g=800.0, largest_g=820.0), replace(EASY, cup_s=600.0, power=0.0))
    assert len(split.batches) == 3
    (words,) = left_over_words(split)
    assert words.startswith("Batches 1, 2 and 3 are larger than laid")


def test_alone_the_mixing_stops_the_laying_and_with_a_helper_it_does_not():
    alone, pair = pace_of(Crew(1, 240.0)), pace_of(Crew(2, 240.0, second_pair=0.5))
    assert (alone.full, alone.beside, alone.batch_cost_s) == (1.0, 0.0, 240.0)
    assert (pair.full, pair.beside) == (1.5, 1.0)
    assert pair.span_s(1200.0, last=False) == pytest.approx(240.0 + (1200.0 - 240.0) / 1.5)
    assert pair.span_s(100.0, last=False) == 240.0, "the hands wait for the mix"
    assert alone.span_s(600.0, last=False) == 840.0


def test_stirring_counts_on_the_clock():
    assert pace_of(Crew(2, 240.0)).stirring_s == 120.0
    assert pace_of(Crew(2, 240.0, stirring_s=180.0)).stirring_s == 180.0
    split = split_batches(JOB, EASY)
    first = split.batches[0]
    assert (first.weigh_s, first.contact_s, first.lay_s) == (0.0, 120.0, 240.0)
    assert first.held_s == first.emptied_s - 120.0


def test_portions_end_where_plies_do_and_inside_large_ones():
    glass = [portion for portion in JOB.work.portions if portion.step == 2]
    assert len(glass) % 4 == 0, "2 layers on 2 pieces"
    assert len(glass) > 4
    assert max(portion.laid_g for portion in JOB.work.portions) <= JOB.work.laid_g / 32 * 1.001


def test_every_batch_is_split_by_the_ratio():
    for batch in split_batches(JOB, EASY).batches:
        assert sum(batch.parts_g) == pytest.approx(batch.mass_g)
        assert batch.parts_g[1] / batch.parts_g[0] == pytest.approx(0.30)
        assert batch.mass_g == pytest.approx(batch.laid_g + 20.0)


def test_a_pace_knows_when_each_part_of_the_work_is_done():
    pace = Pace(full=1.5, beside=1.0, mixing_s=240.0, stirring_s=120.0)
    # 1200 s of work: at 1.5 until the mixer leaves at 640 s, then at 1 until 880 s.
    assert pace.elapsed_s(960.0, 1200.0, last=False) == pytest.approx(640.0)
    assert pace.elapsed_s(1100.0, 1200.0, last=False) == pytest.approx(780.0)
    assert pace.elapsed_s(1200.0, 1200.0, last=True) == pytest.approx(800.0)
