"""Two days on one axis, and boards of different kind, of which it is said what cannot be compared."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from simulate.demo_days import SESSIONS
from simulate.mishaps import WARM
from simulate.shop import press_day, workshop

from layup.errors import InputError
from layup.files.durable import JOURNAL
from layup.report.day_axis import two_days_lines
from layup.review.compare import aligned, compare
from layup.review.review import Review, review
from layup.review.timeline import Track, on_line
from layup.session.archive import stored_session

Failed = Callable[[str, int], Review]


@pytest.fixture(scope="module")
def clean(root: Path) -> Review:
    return review(stored_session(press_day(root, day=WARM, seed=1)))


@pytest.fixture(scope="module")
def days() -> tuple[Review, Review]:
    return tuple(review(stored_session(SESSIONS / f"{day}-touring-skis-168")) for day in ("2026-02-21", "2026-03-07"))


def test_both_days_begin_at_first_contact_or_end_at_the_closing(days: tuple[Review, Review]) -> None:
    by_contact, by_closing = aligned(*days, "contact"), aligned(*days, "closing")
    assert by_closing.closed_s == (0.0, 0.0)
    for place, day in enumerate(days):
        assert day.track is not None
        assert day.track.contact_s is not None
        assert day.track.closed_s is not None
        took_s = day.track.closed_s - day.track.contact_s
        assert by_contact.closed_s[place] == pytest.approx(took_s)
        ends = [step.left if place == 0 else step.right for step in by_contact.steps]
        again = [step.left if place == 0 else step.right for step in by_closing.steps]
        for one, other in zip(ends, again, strict=True):
            assert one is not None
            assert other is not None
            assert one.end_s - other.end_s == pytest.approx(took_s)
            assert one.spare_s == other.spare_s


def in_hand_s(day: Track, at_s: float) -> float | None:
    """Return what is left until the first limit of the mix in hand, batch by batch: its cup's, then the part's."""
    left = []
    for batch in day.batches:
        if batch.contact_s is None or at_s < batch.contact_s or (batch.lost_s is not None and at_s >= batch.lost_s):
            continue
        in_cup = batch.left_cup_s is None or at_s < batch.left_cup_s
        limit_s = (batch.cup_by and batch.cup_by.by_s) if in_cup else (batch.part and batch.part.low)
        left += [limit_s - at_s] if limit_s is not None else []
    return min(left, default=None)


def test_the_difference_is_of_what_each_day_had_in_hand_as_the_step_was_done(days: tuple[Review, Review]) -> None:
    told = 0
    for step in aligned(*days, "contact").steps:
        spare_s = []
        for day, side in zip(days, (step.left, step.right), strict=True):
            assert day.track is not None
            assert day.track.contact_s is not None
            assert side is not None
            spare_s.append(in_hand_s(day.track, side.end_s + day.track.contact_s - 0.01))  # with what it was laid
        if spare_s[0] is not None and spare_s[1] is not None:
            assert step.spare_difference_s == pytest.approx(spare_s[1] - spare_s[0], abs=1.0), step.name
            told += 1
    assert told > 8
    lower = next(step for step in aligned(*days, "contact").steps if step.name == "Lower glass")
    assert (lower.spare_difference_s or 0.0) < -600.0, "it took 19 min instead of 7"


def test_what_is_to_spare_falls_by_a_minute_a_minute_between_its_corners(days: tuple[Review, Review]) -> None:
    day = days[1].track
    assert day is not None
    (begin_s, spare_s), (end_s, left_s) = day.spare_s()[:2]
    assert on_line(day.spare_s(), begin_s) == pytest.approx(spare_s)
    assert on_line(day.spare_s(), end_s) == pytest.approx(left_s)
    assert on_line(day.spare_s(), begin_s - 1.0) is None


def test_the_same_day_over_itself_differs_nowhere(clean: Review) -> None:
    found = aligned(clean, clean, "closing")
    assert {step.spare_difference_s for step in found.steps if step.spare_difference_s is not None} == {0.0}
    assert all(step.left == step.right for step in found.steps)


def test_the_picture_keeps_its_width_and_draws_each_step_twice(days: tuple[Review, Review]) -> None:
    for by in ("contact", "closing"):
        found = aligned(*days, by)
        for width in (40, 80, 110):
            lines = two_days_lines(found, width=width)
            assert max(map(len, lines)) <= width
            assert sum("█" in line for line in lines) == sum("░" in line for line in lines) == len(found.steps)
        zero = "0 first contact" if by == "contact" else "0 press closed"
        assert sum(zero in line for line in lines) == 1


def test_a_day_without_the_moment_says_which_it_has(days: tuple[Review, Review]) -> None:
    assert days[0].track is not None
    never = replace(days[0], track=replace(days[0].track, closed_s=None))
    with pytest.raises(InputError, match="has no closed press - lay them over each other at contact"):
        aligned(never, days[1], "closing")
    with pytest.raises(InputError, match="has no day to lay over another"):
        aligned(replace(days[0], track=None), days[1], "contact")


def test_of_boards_of_different_kind_it_is_said_what_cannot_be_compared_and_no_noise_is_listed(
    days: tuple[Review, Review], tmp_path: Path
) -> None:
    root = workshop(tmp_path)
    folder = Path(shutil.copytree(SESSIONS / days[1].stored.name, root / "sessions" / "panel"))
    first, *rest = (folder / JOURNAL).read_text(encoding="utf-8").splitlines()
    start = json.loads(first)
    for step in start["steps"]:
        step["name"] = f"Panel {step['name']}"
    start["title"] = "Panel"
    (folder / JOURNAL).write_text("\n".join([json.dumps(start), *rest]) + "\n", encoding="utf-8")
    panel = review(stored_session(folder))
    found = compare(days[0], panel)
    assert found.not_compared[0].startswith("steps and their times: 0 of ")
    assert "Touring skis 168 and Panel" in found.not_compared[0]
    topics = [row.topic for row in found.rows]
    assert not [topic for topic in topics if topic.startswith(("step ", "batch "))]
    assert {"resin", "people at the bench", "shop at the start", "to spare on the part", "outcome"} <= set(topics)
    assert compare(*days).not_compared == ()


def test_days_of_another_kind_are_not_set_side_by_side(days: tuple[Review, Review]) -> None:
    start = days[1].stored.state.start
    assert start is not None
    state = replace(days[1].stored.state, start=start.model_copy(update={"kind": "dry run"}))
    dry = replace(days[1], stored=replace(days[1].stored, state=state))
    assert compare(days[0], dry).not_compared == (
        "steps, batches and times: one is a press day, the other a dry run day",
    )
