"""Days worked by a crew that does what the bench says, and what happened to it: a review names that and no more."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from scripted_days import Player, air, left_with, loses
from simulate.shop import Day, desk_for

from layup.app.logbook import session_text
from layup.bench.day import PressDay
from layup.bench.opening import begin
from layup.report.hindsight import changed_rows
from layup.review.carried import cup_in, proposals
from layup.review.changed_days import changed_days
from layup.review.review import Review, rejected, review, verdict_line
from layup.session.archive import stored_session
from layup.session.batch_events import BatchLost, PressClosed
from layup.session.clock import ManualClock
from layup.session.day_events import SessionEnded, TemperatureRead
from layup.session.state import Outcome

Timed = tuple[float, Callable[[PressDay], object]]


def worked(
    root: Path,
    script: Sequence[Timed],
    *,
    celsius: float,
    grams_off: float = 0.0,
    cup_g: float = 300.0,
    tags: tuple[str, ...] = ("dry spot",),
    after: Sequence[Callable[[PressDay], None]] = (),
    deaf_s: tuple[float, float] = (-1.0, -1.0),
) -> Review:
    """Return the review of a day that was worked by the bench, closed, and gave such a part."""
    planner = desk_for(root, Day(temperature_K=celsius + 273.15, cup_g=cup_g))
    assert planner.figures is not None
    day = begin(planner, planner.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))
    Player(day, grams_off=grams_off, deaf_s=deaf_s).play(script, until_min=400.0)
    assert day.state.closed_s is not None
    for happens in after:
        happens(day)
    for event in (SessionEnded(), Outcome(tags=tags)):
        assert day.log(event, "").done
    day.close()
    return review(stored_session(day.folder))


@pytest.fixture(scope="module")
def overshot(root: Path) -> Review:
    """12 g too much hardener in batch 1, put right by 41 g of resin; the shop cools, batch 2 is spilt, one leaves."""
    return worked(root, [(30.0, air(13.0)), (55.0, loses(2)), (58.0, left_with(1))], celsius=16.0, grams_off=12.0)


def test_a_cup_put_right_by_more_resin_and_empty_in_time_is_no_cause_and_no_lesson(overshot: Review) -> None:
    assert overshot.track is not None
    batch = overshot.track.batches[0]
    assert (batch.mass_g, round(batch.planned_g)) == (308.0, 255)
    assert batch.cup_left_s is not None
    assert batch.cup_left_s > 45 * 60.0
    assert "cup too large" not in {finding.cause for finding in overshot.findings}
    assert "308 g" not in verdict_line(overshot)
    assert [each for each in proposals(overshot, {}) if cup_in(each.event.text) is not None] == []
    (why_not,) = [each.words for each in rejected(overshot) if each.cause == "cup too large"]
    assert why_not == "batch 1 was the largest beside its plan: 308 g of 255 g, and empty 47 min before it had to be"


def test_where_its_size_may_have_browned_the_part_the_lesson_of_a_cup_put_right_is_its_hardener(root: Path) -> None:
    scorched = worked(root, [], celsius=16.0, grams_off=12.0, tags=("scorched",))
    (large,) = [finding for finding in scorched.findings if finding.cause == "cup too large"]
    assert large.harm == "", "what a ratio was put right with is not lost"
    assert large.change == "Pour the last of the hardener slowly: 41 g of resin had to put its ratio right."


def test_a_mould_that_is_heated_once_the_press_is_closed_tells_nothing_of_the_time_before(root: Path) -> None:
    """A day without a reading of the mould, and the same day with one of 45 °C 15 min after closing."""

    def heated(day: PressDay) -> None:
        day.clock.advance(900.0)
        assert day.log(TemperatureRead(place="mould", temperature_K=318.15), "").done

    days = [worked(root, [], celsius=20.0, after=after) for after in ((), (heated,))]
    tracks, spares = [day.track for day in days], [changed_days(day.stored, day.track, {}) for day in days]
    assert [[each.words for each in rejected(day) if each.cause == "closed late"] for day in days] == [
        ["closed 83 min before batch 1 may shut on the part"]
    ] * 2
    assert len({tuple(batch.part_left_s for batch in track.batches) for track in tracks if track}) == 1
    assert len({each.own_spare_s for each in spares if each}) == 1


def test_a_batch_spilt_and_a_helper_who_left_stand_in_the_step_that_they_made_slow(overshot: Review) -> None:
    (slow,) = [finding for finding in overshot.findings if finding.cause == "slow step"]
    assert "'Upper glass' took 18 min" in slow.words
    assert "Meanwhile: batch 2 lost: spilt, 1 at the bench." in slow.words
    assert "upper glass took 18 min, not 10 min (batch 2 lost, 1 at the bench)" in verdict_line(overshot)
    assert {"batch 2 lost: spilt", "1 at the bench"} <= {one.words for one in slow.evidence}


@pytest.fixture(scope="module")
def gelled(root: Path) -> Review:
    """Batch 2 gels while nobody is at the bench, two thirds of it laid; the press is shut without what follows."""

    def gels(day: PressDay) -> None:
        assert day.log(BatchLost(batch=2, why="gelled", laid_g=179.0), "").done

    def closes(day: PressDay) -> None:
        assert day.log(PressClosed(), "").done

    return worked(root, [(62.0, gels), (63.0, closes)], celsius=23.0, deaf_s=(2160.0, 4000.0))


def test_the_head_of_a_day_is_its_first_cause_and_not_a_cup_that_was_late_beside_it(gelled: Review) -> None:
    assert gelled.findings[0].cause == "starved"
    assert verdict_line(gelled) == "Dry spot: 2 steps got no mix, cup 2 emptied 15 min too late."
    assert session_text(gelled, (80, 20)).plain.startswith(verdict_line(gelled))
    late = replace(gelled, findings=gelled.findings[1:])
    assert verdict_line(late) == "Dry spot, cup 2 emptied 15 min too late: batch 2 thickened in its cup."
    assert session_text(late, (80, 20)).plain.startswith("CUP 2 EMPTIED 15 MIN TOO LATE.")


def test_what_was_lost_of_a_cup_and_how_late_it_was_is_one_number_on_every_line(gelled: Review) -> None:
    (thick,) = [finding for finding in gelled.findings if finding.cause == "past thickening"]
    assert "gelled by then, and 89 of its 268 g were lost." in thick.words
    assert thick.harm == "89 g"
    assert "15 min before it was" in thick.effect
    changed = changed_days(gelled.stored, gelled.track, {})
    assert changed is not None
    assert changed_rows(changed)[0] == ("as it went, cup 2 the tightest", "15 min too late")
    assert all(row.spare_s > changed.own_spare_s for row in changed.rows)
