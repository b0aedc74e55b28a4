"""The day as rows: nobody is in two places, nothing is laid before it is mixed."""

from dataclasses import replace
from itertools import pairwise

import pytest
from plan_examples import PLAN, SLOW, FormulaClocks

from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.crew import job_of
from layup.planning.schedule import timeline

CLOCKS = FormulaClocks(cup_s=2400.0, film_s=9000.0)


def day(people=2, **changes):
    plan = replace(PLAN, crew=replace(PLAN.crew, people=people), **changes)
    job = job_of(plan, budget(plan, SLOW), SLOW)
    split = split_batches(job, CLOCKS)
    return plan, job, split, timeline(plan, job, split, CLOCKS)


@pytest.mark.parametrize("people", [1, 2, 3])
def test_a_batch_is_weighed_stirred_laid_and_pressed_in_that_order(people):
    _, _, split, rows = day(people)
    assert [row.label for row in rows.batches] == [f"Batch {n}" for n in range(1, len(split.batches) + 1)]
    for row, batch in zip(rows.batches, split.batches, strict=True):
        assert [span.kind for span in row.spans] == ["weighing", "stirring", "in the cup", "on the part"]
        assert row.limits_s == (row.spans[1].begin_s + batch.cup.life_s.low, row.spans[1].begin_s + batch.open_low_s)
        for before, after in pairwise(row.spans):
            assert before.begin_s <= before.end_s == after.begin_s
        assert row.spans[-1].end_s == rows.closed_s
        assert row.limits_s[1] >= rows.press_by_s.low


@pytest.mark.parametrize("people", [1, 2, 3])
def test_one_person_mixes_one_batch_at_a_time(people):
    _, _, _, rows = day(people)
    for before, after in pairwise(rows.batches):
        assert after.spans[0].begin_s >= before.spans[1].end_s - 1e-6


def test_alone_nothing_is_laid_while_a_batch_is_mixed():
    _, _, _, rows = day(people=1)
    laying = [(span.begin_s, span.end_s) for row in rows.steps for span in row.spans if span.begin_s >= 0]
    for row in rows.batches:
        begin, end = row.spans[0].begin_s, row.spans[1].end_s
        for at, until in laying:
            assert until <= begin + 1e-6 or at >= end - 1e-6


@pytest.mark.parametrize("people", [1, 2, 3])
def test_steps_follow_each_other_in_bench_order_up_to_the_closing(people):
    plan, _, _, rows = day(people)
    assert [row.step for row in rows.steps] == [1, 2, 3, 4, 5, 6, 7], "what was cast before the day takes no time"
    assert [row.label for row in rows.steps] == [plan.steps[row.step].name for row in rows.steps]
    spans = [span for row in rows.steps for span in row.spans]
    for before, after in pairwise(spans):
        assert after.begin_s >= before.end_s - 1e-6
    assert rows.closing.spans[0].begin_s == pytest.approx(spans[-1].end_s)
    assert rows.closing.spans[0].end_s == rows.closed_s


def test_dry_work_before_the_first_resin_is_done_before_the_first_weighing():
    _, job, _, rows = day()
    base = rows.steps[0]
    assert base.label == "base in the mould"
    assert (base.spans[0].begin_s, base.spans[0].end_s) == pytest.approx((-240.0 / job.pace.full, 0.0), abs=1e-9)


def test_a_casting_on_the_day_takes_bench_time():
    cast = replace(PLAN.steps[0], before_press_day=False)
    _, _, _, rows = day(steps=(*PLAN.steps[:4], cast, *PLAN.steps[5:]))
    (row,) = (row for row in rows.steps if row.label == "sidewalls")
    assert sum(span.end_s - span.begin_s for span in row.spans) >= 900.0 / 1.5


def test_press_by_is_the_earliest_limit_of_all_batches_with_its_band():
    _, _, split, rows = day()
    assert rows.press_by_s.low == min(batch.press_by_s for batch in split.batches)
    mids = [batch.contact_s + 1.25 * batch.open_low_s for batch in split.batches]
    assert rows.press_by_s.likely == pytest.approx(min(mids))
    assert rows.press_by_s.low < rows.press_by_s.likely < rows.press_by_s.high


def test_a_job_that_no_batch_covers_has_no_timeline():
    job = replace(job_of(PLAN, budget(PLAN, SLOW), SLOW), largest_g=20.5)
    assert timeline(PLAN, job, split_batches(job, CLOCKS), CLOCKS) is None
