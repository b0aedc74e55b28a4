"""A day that changed on the way is reviewed as what was done: what was left out teaches no pace and lacks nothing."""

import random
from dataclasses import replace
from pathlib import Path

import pytest
from simulate.shop import Day, Script, Truth, desk_for, play, workshop, write

from layup.report.report_blocks import review_lines
from layup.review.pace import Worked, worked_in
from layup.review.review import Review, review
from layup.session.archive import stored_session
from layup.session.batch_events import StepDone
from layup.session.day_events import PeopleChanged, StepAdded, StepMerged, StepSkipped

SHOP = Day()


def reviewed(root: Path, script: Script) -> Review:
    return review(stored_session(write(root, SHOP, script)))


def script_of(root: Path) -> Script:
    figures = desk_for(root, SHOP).figures
    assert figures is not None
    return play(figures, SHOP, Truth(step_noise=0.0), random.Random(1))


def pace_of_day(found: Review) -> Worked:
    worked = worked_in(found.stored.state, found.stored.plan)
    assert worked is not None
    return worked


def without(script: Script, step: int) -> Script:
    """Return the day with a step not done, and all after it as much sooner."""
    events = [
        (at_s, event) for at_s, event in script.events if not (isinstance(event, StepDone) and event.step == step)
    ]
    return replace(script, events=tuple(events))


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return workshop(tmp_path)


def test_a_step_left_out_is_no_step_that_was_not_logged_and_none_without_mix(root: Path):
    script = script_of(root)
    last = max(script.done_s, key=lambda step: script.done_s[step])
    out = without(script, last)
    open_end = reviewed(root, out)
    assert any("Not logged as done" in one.words or "not logged as done" in one.words for one in open_end.findings)
    told = replace(out, events=(*out.events, (script.done_s[last] - 1.0, StepSkipped(step=last))))
    found = reviewed(root, told)
    assert not any("logged as done" in one.words or "no mix was laid" in one.words for one in found.findings)
    track = next(step for step in found.track.steps if step.number == last)
    assert (track.real, track.instead) == (None, "left out")
    assert any(line.strip().startswith("left out") for line in review_lines(found, width=80))


def test_a_step_left_out_teaches_no_pace(root: Path):
    script = script_of(root)
    whole = pace_of_day(reviewed(root, script))
    last = max(script.done_s, key=lambda step: script.done_s[step])
    before_s = max(at_s for step, at_s in script.done_s.items() if step != last)
    told = without(script, last)
    moved = tuple(
        (at_s - (script.done_s[last] - before_s) if at_s >= script.done_s[last] else at_s, event)
        for at_s, event in (*told.events, (before_s + 1.0, StepSkipped(step=last)))
    )
    pace = pace_of_day(reviewed(root, replace(told, events=moved, closed_s=script.closed_s)))
    assert set(pace.log_ratios) <= set(whole.log_ratios)
    kind = next(step.kind for step in desk_for(root, SHOP).figures.plan.steps[last - 1 :])
    for name, value in pace.log_ratios.items():
        if name != kind:
            assert value == pytest.approx(whole.log_ratios[name], abs=0.1), name


def test_two_steps_laid_together_count_as_one_of_both_their_minutes(root: Path):
    script = script_of(root)
    whole = pace_of_day(reviewed(root, script))
    order = sorted(script.done_s, key=lambda step: script.done_s[step])
    first, second = order[1:3]
    merged = without(script, first)
    told = (*merged.events, (script.done_s[order[0]] + 1.0, StepMerged(step=first, into_step=second)))
    found = reviewed(root, replace(merged, events=told))
    track = {step.number: step for step in found.track.steps}
    assert track[first].instead == f"with step {second}"
    assert track[second].real.took_s == pytest.approx(script.done_s[second] - script.done_s[order[0]])
    assert track[second].over_s == pytest.approx(0.0, abs=90.0), "planned for both, and done in both their minutes"
    assert not any("logged as done" in one.words for one in found.findings)
    pace = pace_of_day(found)
    assert pace.left_out == whole.left_out
    for name, value in pace.log_ratios.items():
        assert value == pytest.approx(whole.log_ratios[name], abs=0.35), name


def test_a_helper_who_left_is_counted_in_the_pace(root: Path):
    script = script_of(root)
    alone = replace(script, events=(*script.events, (1.0, PeopleChanged(people=1))))
    two, one = pace_of_day(reviewed(root, script)), pace_of_day(reviewed(root, alone))
    assert one.people == two.people == 2
    quicker = [one.log_ratios[kind] - two.log_ratios[kind] for kind in ("fabric", "closing")]
    assert all(value < -0.2 for value in quicker), "what one did in the time of two was quick work"


def test_a_step_added_stands_in_its_place_and_its_mix_in_the_account(root: Path):
    script = script_of(root)
    order = sorted(script.done_s, key=lambda step: script.done_s[step])
    events = (
        *script.events,
        (2.0, StepAdded(step=50, name="a patch", kind="place", planned_s=30.0, before_step=order[1])),
        (script.done_s[order[0]] + 30.0, StepDone(step=50)),
    )
    found = reviewed(root, replace(script, events=events))
    assert [step.number for step in found.track.steps][:3] == [order[0], 50, order[1]]
    track = next(step for step in found.track.steps if step.number == 50)
    assert track.real.took_s == pytest.approx(30.0)
