"""Laws of the planning layer: mass is kept, cuts cover the work, shapes scale, nothing is done twice."""

from dataclasses import replace
from itertools import combinations, pairwise
from math import ceil, cos, pi, sin

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plan_examples import PLAN, SLOW, FormulaClocks

from layup.chemistry.numerics import monotone_curve
from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.crew import job_of, pace_of, work_of
from layup.planning.cuts import cut_list, nested
from layup.planning.outline import Outline, area_m2, offset_area_m2, shape
from layup.planning.plan import BondStep, Crew, FabricStep, Losses, PlaceStep
from layup.planning.schedule import timeline
from layup.units import minutes

laws = settings(max_examples=60, deadline=None)


def numbers(low, high):
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


fabrics = st.builds(
    FabricStep,
    name=st.just("glass"),
    bench_s=numbers(0, 3000),
    areal_weight_g_m2=numbers(20, 2000),
    fibre=st.just("E-glass"),
    fibre_density_g_cm3=numbers(1.4, 2.7),
    fibre_mass_fraction=numbers(0.2, 0.7),
    layers=st.integers(1, 4),
    width_m=st.none() | numbers(0.01, 0.05),
    overhang_m=st.none() | numbers(0, 0.1),
)
bonds = st.builds(
    BondStep,
    name=st.just("face"),
    bench_s=numbers(0, 1000),
    surface=st.just("ash"),
    uptake_g_m2=numbers(5, 300),
    coverage=numbers(0.05, 1),
    area_m2=st.none() | numbers(0.01, 0.5),
)
places = st.builds(PlaceStep, name=st.just("core"), bench_s=numbers(0, 1000))
plans = st.builds(
    lambda steps, pieces, loss, squeeze, people: replace(
        PLAN, steps=tuple(steps), pieces=pieces, losses=Losses(loss, squeeze), crew=Crew(people), largest_cup_g=None
    ),
    st.lists(fabrics | bonds | places, min_size=1, max_size=6),
    st.integers(1, 3),
    numbers(0, 60),
    numbers(0, 0.5),
    st.integers(1, 3),
).filter(lambda plan: any(step.kind != "place" for step in plan.steps))
clocks = st.builds(FormulaClocks, cup_s=numbers(300, 9000), film_s=numbers(600, 30000), ageing=numbers(0, 1))
rings = st.lists(numbers(0.05, 1.0), min_size=3, max_size=24).map(
    lambda radii: tuple(
        (r * cos(2 * pi * i / len(radii)), r * sin(2 * pi * i / len(radii))) for i, r in enumerate(radii)
    )
)
"""Star-shaped closed lines: they never cross themselves."""


@laws
@given(plans, st.integers(1, 9))
def test_every_gram_poured_is_on_the_part_or_trimmed_off_or_squeezed_out_or_in_a_cup(plan, batches):
    total = budget(plan, SLOW, batches=batches)
    where = [
        sum(line.on_part_g for line in total.lines),
        sum(line.offcut_g for line in total.lines),
        sum(line.squeezed_g for line in total.lines),
        batches * plan.losses.per_batch_g,
    ]
    assert sum(where) == pytest.approx(total.mix_g, rel=1e-12)
    assert min(where) >= 0.0
    assert total.resin_g + total.hardener_g == pytest.approx(total.mix_g, rel=1e-12)


@laws
@given(plans)
def test_the_lines_sum_to_the_total_and_each_to_its_parts(plan):
    total = budget(plan, SLOW, batches=2)
    assert sum(line.mix_g for line in total.lines) + total.losses_g == total.mix_g
    for line in total.lines:
        assert line.on_part_g + line.offcut_g + line.squeezed_g == pytest.approx(line.mix_g, rel=1e-12)
        assert line.low_g <= line.mix_g <= line.high_g
        assert line.part_glass_g <= line.glass_g * (1 + 1e-12)


@laws
@given(plans, st.integers(2, 5))
def test_more_pieces_take_in_proportion(plan, times):
    one, more = budget(plan, SLOW), budget(replace(plan, pieces=plan.pieces * times), SLOW)
    assert more.laid_g == pytest.approx(times * one.laid_g, rel=1e-9)
    assert more.thickness_m == one.thickness_m
    assert more.fibre_mass_fraction == (one.fibre_mass_fraction and pytest.approx(one.fibre_mass_fraction))


@laws
@given(plans)
def test_portions_cover_each_step_once_and_hold_all_its_resin_and_time(plan):
    lines = budget(plan, SLOW).lines
    work = work_of(plan, lines)
    for number, line in enumerate(lines):
        mine = [portion for portion in work.portions if portion.step == number]
        assert sum(portion.laid_g for portion in mine) == pytest.approx(line.mix_g, rel=1e-9)
        if mine:
            assert mine[0].begin == pytest.approx(0.0, abs=1e-12)
            assert mine[-1].end == pytest.approx(1.0)
            assert all(a.end == b.begin for a, b in pairwise(mine))
    assert [portion.step for portion in work.portions] == sorted(portion.step for portion in work.portions)
    time = work.lead_s + sum(portion.work_s + portion.after_s for portion in work.portions)
    assert time == pytest.approx(sum(step.bench_s for step in plan.steps), rel=1e-9, abs=1e-9)


@laws
@given(plans, clocks)
def test_batches_lay_all_the_work_in_order_and_weigh_what_the_budget_says(plan, lives):
    total = budget(plan, SLOW)
    job = job_of(plan, total, SLOW)
    split = split_batches(job, lives)
    assume(split.batches)
    shares = [share for batch in split.batches for share in batch.shares]
    for step in {share.step for share in shares}:
        mine = [share for share in shares if share.step == step]
        assert sum(share.laid_g for share in mine) == pytest.approx(total.lines[step].mix_g, rel=1e-9)
        assert all(a.end == pytest.approx(b.begin) for a, b in pairwise(mine))
    assert [share.step for share in shares] == sorted(share.step for share in shares)
    weighed = budget(
        plan, SLOW, batches=len(split.batches), left_over_g=sum(batch.left_over_g for batch in split.batches)
    )
    assert sum(batch.mass_g for batch in split.batches) == pytest.approx(weighed.mix_g, rel=1e-9)


@laws
@given(plans, clocks)
def test_no_batch_is_laid_before_it_is_mixed_nor_mixed_while_another_is(plan, lives):
    job = job_of(plan, budget(plan, SLOW), SLOW)
    split = split_batches(job, lives)
    for batch in split.batches:
        assert batch.weigh_s <= batch.contact_s <= batch.lay_s <= batch.emptied_s + 1e-9
        assert batch.emptied_s <= batch.done_s + 1e-9
    for before, after in pairwise(split.batches):
        assert after.weigh_s >= before.lay_s - 1e-6
        assert after.lay_s >= before.done_s - 1e-6
    day = timeline(plan, job, split, lives)
    if day is not None:
        assert day.closed_s >= split.batches[-1].done_s - 1e-6
        spent = sum(span.end_s - span.begin_s for row in day.steps for span in row.spans)
        slowest = sum(step.bench_s for step in plan.steps)
        assert slowest / job.pace.full - 1e-6 <= spent <= slowest + 1e-6


@laws
@given(plans, clocks, numbers(1.01, 3.0))
def test_longer_lives_never_leave_less_to_spare(plan, lives, factor):
    job = job_of(plan, budget(plan, SLOW), SLOW)
    longer = replace(lives, cup_s=lives.cup_s * factor, film_s=lives.film_s * factor)
    one, other = split_batches(job, lives), split_batches(job, longer)
    if one.fits:
        assert other.fits
        assert len(other.batches) <= len(one.batches)
    elif one.slack_s is not None and not other.fits:
        # What longer lives let fit in time may be more mixing than anybody keeps up: its minutes are others.
        assert other.limit.kind == "mixing" or other.slack_s >= one.slack_s - 1e-6


@laws
@given(numbers(0, 5000), numbers(0, 1), st.integers(1, 4), numbers(60, 900), numbers(0, 1))
def test_a_pace_runs_through_all_the_work_without_jumps(work, share, people, mixing, second):
    pace = pace_of(Crew(people, mixing, second))
    for last in (True, False):
        span = pace.span_s(work, last=last)
        there, end = pace.elapsed_s(share * work, work, last=last), pace.elapsed_s(work, work, last=last)
        assert 0.0 <= there <= end + 1e-9
        assert end <= span + 1e-6
        assert there >= share * work / pace.full - 1e-6


points = st.lists(st.tuples(numbers(0.01, 1), numbers(0, 1)), min_size=2, max_size=12).map(
    lambda steps: tuple((sum(gap for gap, _ in steps[: i + 1]), value) for i, (_, value) in enumerate(steps))
)


@laws
@given(points, numbers(0, 1))
def test_a_curve_never_leaves_the_range_of_its_two_neighbours(given_points, share):
    x, y = zip(*given_points, strict=True)
    curve = monotone_curve(x, y)
    for i in range(len(x) - 1):
        at = min(x[i] + share * (x[i + 1] - x[i]), x[i + 1])
        assert min(y[i], y[i + 1]) - 1e-9 <= curve(at) <= max(y[i], y[i + 1]) + 1e-9
    assert curve(x[0]) == y[0]
    assert curve(x[-1]) == pytest.approx(y[-1])
    assert min(y) * (x[-1] - x[0]) - 1e-9 <= curve.integral() <= max(y) * (x[-1] - x[0]) + 1e-9


@laws
@given(points, numbers(0.1, 10))
def test_a_board_twice_as_wide_has_twice_the_area(stations, factor):
    assume(max(width for _, width in stations) * factor <= 10 and max(width for _, width in stations) > 1e-3)
    wider = tuple((at, width * factor) for at, width in stations)
    assert area_m2(Outline(stations=wider)) == pytest.approx(factor * area_m2(Outline(stations=stations)), rel=1e-9)


@laws
@given(points)
def test_a_board_measured_from_the_other_end_has_the_same_area(stations):
    assume(max(width for _, width in stations) > 1e-3)
    end = stations[-1][0]
    turned = tuple((end - at, width) for at, width in reversed(stations))
    assume(all(a < b for (a, _), (b, _) in pairwise(turned)))
    assert area_m2(Outline(stations=turned)) == pytest.approx(area_m2(Outline(stations=stations)), rel=1e-9)


@laws
@given(rings, numbers(-3, 3), numbers(-3, 3), numbers(0, 2 * pi))
def test_a_drawing_keeps_its_area_and_edge_wherever_it_lies(ring, dx, dy, turn):
    moved = tuple((x * cos(turn) - y * sin(turn) + dx, x * sin(turn) + y * cos(turn) + dy) for x, y in ring)
    one, other = shape(Outline(polyline_m=ring)), shape(Outline(polyline_m=moved))
    assert other.area_m2 == pytest.approx(one.area_m2, rel=1e-9)
    assert other.perimeter_m == pytest.approx(one.perimeter_m, rel=1e-9)


@laws
@given(rings, numbers(0, 0.3), numbers(0, 0.3))
def test_more_overhang_takes_more_cloth_and_none_takes_the_area(ring, one, more):
    outline = Outline(polyline_m=ring)
    assert offset_area_m2(outline, 0.0) == area_m2(outline)
    assert offset_area_m2(outline, one + more) >= offset_area_m2(outline, one)


@laws
@given(numbers(0, 1e5))
def test_a_time_in_words_is_within_half_a_unit(time_s):
    words = minutes(time_s).split()
    units = {"s": 1.0, "min": 60.0, "h": 3600.0}
    said = sum(float(value) * units[unit] for value, unit in zip(words[::2], words[1::2], strict=True))
    assert abs(said - time_s) <= (0.5 if words[1] == "s" else 30.0)


def _apart(one, other):
    return one.across_m + one.width_m <= other.across_m + 1e-9 or other.across_m + other.width_m <= one.across_m + 1e-9


cloths = st.builds(
    lambda step, weight, width, price: replace(
        step, areal_weight_g_m2=weight, width_m=width, price_per_m2=price, fibre_density_g_cm3=2.54
    ),
    fabrics,
    st.sampled_from([300.0, 600.0]),
    st.none() | numbers(0.01, 0.05),
    st.sampled_from([None, 9.0]),
)


@laws
@given(st.lists(cloths, min_size=1, max_size=6), st.integers(1, 4), numbers(0.05, 1.5))
def test_blanks_of_equal_cloth_never_overlap_and_take_no_more_roll_than_step_by_step(steps, pieces, roll_m):
    plan = replace(PLAN, pieces=pieces, steps=tuple(steps), outline=replace(PLAN.outline, roll_width_m=roll_m))
    cuts = cut_list(plan)
    rolls = {}
    for cut in cuts:
        step = steps[cut.step]
        cloth = step.areal_weight_g_m2, step.fibre_density_g_cm3, step.price_per_m2
        rolls.setdefault(cloth, []).append(cut)
    for alike in rolls.values():
        rows = nested(alike, roll_m)
        blanks = [blank for row in rows for blank in row]
        assert all(_apart(one, other) for row in rows for one, other in combinations(row, 2))
        assert all(blank.length_m <= row[0].length_m for row in rows for blank in row)
        assert all(blank.across_m + blank.width_m <= roll_m * (1 + 1e-6) for blank in blanks)
        laid = [cut for cut in alike if cut.roll_m is not None]
        assert [sum(blank.step == cut.step for blank in blanks) for cut in laid] == [cut.count for cut in laid]
        off_the_roll = sum(row[0].length_m for row in rows)
        assert sum(cut.roll_m for cut in laid) == pytest.approx(off_the_roll)
        assert off_the_roll <= sum(ceil(cut.count / cut.across) * cut.length_m for cut in laid) + 1e-9
        assert all(0.0 <= cut.waste < 1.0 for cut in laid)
