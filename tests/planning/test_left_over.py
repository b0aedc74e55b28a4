"""Mix left over goes to the next steps: no gram is given twice, none vanishes, and so much less is mixed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.planning.replan import Need, ToMix, credited, shrunk

STEPS = (1, 2, 3, 4)
masses = st.fixed_dictionaries({step: st.floats(1.0, 300.0) for step in STEPS})


@st.composite
def to_mix(draw: st.DrawFn) -> tuple[dict[int, float], list[ToMix]]:
    """Return the mix of each step and batches that lay all of each, at least 20 g more than they lay."""
    mix_g = draw(masses)
    cuts = {step: draw(st.floats(0.0, 1.0)) for step in STEPS}
    serves = [[(step, cuts[step]) for step in STEPS], [(step, 1.0 - cuts[step]) for step in STEPS]]
    batches = [
        ToMix(number, 20.0 + sum(share * mix_g[step] for step, share in each), tuple(each))
        for number, each in enumerate(serves, 2)
    ]
    return mix_g, batches


@given(st.floats(0.0, 600.0), masses, st.fixed_dictionaries({step: st.floats(0.0, 1.0) for step in STEPS}))
def test_all_of_it_goes_to_the_first_steps_that_need_it_and_no_step_gets_more_than_it_needs(
    usable_g: float, mix_g: dict[int, float], open_share: dict[int, float]
):
    needs = [Need(step, mix_g[step], open_share[step]) for step in STEPS]
    given_g = sum(share * mix_g[step] for step, share in credited(usable_g, needs))
    room_g = sum(need.mix_g * need.to_mix for need in needs)
    assert given_g == pytest.approx(min(usable_g, room_g), abs=0.01)
    shares = dict(credited(usable_g, needs))
    assert all(share <= open_share[step] + 1e-12 for step, share in shares.items())
    last = max(shares, default=0)
    assert all(shares.get(step, 0.0) == pytest.approx(open_share[step], abs=1e-5) for step in STEPS if step < last)


@given(to_mix(), st.floats(0.0, 600.0))
def test_what_is_credited_and_what_is_still_mixed_lay_all_of_each_step_once(
    day: tuple[dict[int, float], list[ToMix]], usable_g: float
):
    mix_g, batches = day
    taken = dict(credited(usable_g, [Need(step, mix_g[step], 1.0) for step in STEPS]))
    after = shrunk(batches, mix_g, taken, 0.0)
    for step in STEPS:
        mixed = sum(share for batch in after for number, share in batch.serves if number == step)
        assert taken.get(step, 0.0) + mixed == pytest.approx(1.0, abs=1e-5)
    kept = {batch.batch for batch in after}
    lost_g = 20.0 * (len(batches) - len(after))
    less_g = sum(batch.mass_g for batch in batches) - sum(batch.mass_g for batch in after) - lost_g
    assert less_g == pytest.approx(sum(share * mix_g[step] for step, share in taken.items()), abs=0.01)
    assert [batch.batch for batch in after] == [batch.batch for batch in batches if batch.batch in kept]


@given(to_mix(), st.floats(0.0, 600.0), st.floats(0.0, 400.0))
def test_no_batch_is_lighter_than_the_scale_can_weigh_nor_heavier_than_it_was(
    day: tuple[dict[int, float], list[ToMix]], usable_g: float, smallest_g: float
):
    mix_g, batches = day
    taken = dict(credited(usable_g, [Need(step, mix_g[step], 1.0) for step in STEPS]))
    before = {batch.batch: batch.mass_g for batch in batches}
    for batch in shrunk(batches, mix_g, taken, smallest_g):
        assert min(smallest_g, before[batch.batch]) <= batch.mass_g <= before[batch.batch]


def test_a_batch_that_names_no_step_stays_as_it_is():
    batch = ToMix(2, 130.0, ())
    assert shrunk([batch], {1: 50.0}, {1: 1.0}, 20.0) == (batch,)
