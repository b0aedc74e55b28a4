"""Two sessions side by side: what differed first, in the order of the day."""

from collections.abc import Callable
from pathlib import Path

import pytest
from simulate.mishaps import WARM
from simulate.shop import press_day, workshop

from layup.files.workshop import Workshop
from layup.review.compare import compare, compare_plans
from layup.review.review import Review, review
from layup.session.archive import stored_session

Failed = Callable[[str, int], Review]


@pytest.fixture(scope="module")
def clean(root: Path) -> Review:
    return review(stored_session(press_day(root, day=WARM, seed=1)))


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("edges that will not stay", "step 4 'Lower glass' took"),
        ("the stove left on", "shop during the day"),
        ("warm cans", "batch 1 start"),
        ("much hardener", "batch 2 hardener off ratio"),
        ("a heated mould", "mould"),
        ("a press that will not shut", "press closed after first contact"),
        ("a batch spilt", "batch 2 in its cup"),
        ("rain outside", "mould"),
    ],
)
def test_what_differed_first_is_where_the_day_went_wrong(failed: Failed, clean: Review, name: str, first: str) -> None:
    found = compare(clean, failed(name, 1))
    assert found.first is not None
    assert found.first.topic == first


def test_a_session_beside_itself_differs_in_nothing(clean: Review) -> None:
    found = compare(clean, clean)
    assert found.first is None
    assert found.differing == ()
    assert len(found.rows) > 40


def test_two_clean_days_differ_in_nothing_but_chance(root: Path, clean: Review) -> None:
    other = review(stored_session(press_day(root, day=WARM, seed=2)))
    assert [row.topic for row in compare(clean, other).differing] == []


def test_rows_of_the_day_stand_in_the_order_of_the_day_and_swap_with_the_sides(failed: Failed, clean: Review) -> None:
    bad = failed("edges that will not stay", 1)
    rows, swapped = compare(clean, bad).rows, compare(bad, clean).rows
    times = [row.at_s for row in rows if row.at_s is not None]
    assert times == sorted(times)
    assert {(row.topic, row.left, row.right, row.differs) for row in rows} == {
        (row.topic, row.right, row.left, row.differs) for row in swapped
    }


def test_what_only_one_side_has_is_a_difference(failed: Failed, clean: Review) -> None:
    out = next(row for row in compare(clean, failed("out too soon", 1)).rows if row.topic == "in the mould")
    assert (out.left, out.right, out.differs) == ("-", "9 h 00 min", True)


def test_two_plans_differ_where_their_files_do(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    folder = root / "sessions" / "variant"
    folder.mkdir()
    text = (root / "sessions" / "touring-skis" / "plan.toml").read_text(encoding="utf-8")
    (folder / "plan.toml").write_text(text.replace("people = 2", "people = 3").replace("value = 0.67", "value = 0.55"))
    shop = Workshop(root)
    found = compare_plans(shop.plan("touring-skis"), shop.plan("variant"))
    assert [(row.topic, row.left, row.right) for row in found.differing] == [
        ("people planned", "2", "3"),
        ("fibre fraction aimed at", "67 % by weight", "55 % by weight"),
    ]
