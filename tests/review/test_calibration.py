"""What certain, likely and possible are worth: reviews of days with a known truth, drawn from seeds.

The days are drawn without knowing the detectors: other boards, shops and crews, up to two mishaps, gaps, wrong logs.
A few by default. Three hundred: `LAYUP_DAYS=300 pytest -s tests/review/test_calibration.py`, three minutes.
"""

import os
from collections import Counter
from pathlib import Path

import pytest
from simulate.seeded_days import drawn_day, shop_of

from layup.review.evidence import MEANS
from layup.review.review import review
from layup.session.archive import stored_session

DAYS = int(os.environ.get("LAYUP_DAYS", "10"))
FIRST_SEED, FIRST_CALM = 1000, 91000
ENOUGH = 100
"""So many days tell the shares of each word; fewer tell whether the first causes are there."""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Counter[tuple[str, bool]]:
    """Return how often each word was right and wrong, and how often a true cause was among the first two."""
    root = shop_of(tmp_path_factory.mktemp("shop"))
    found: Counter[tuple[str, bool]] = Counter()
    for seed in range(FIRST_SEED, FIRST_SEED + DAYS):
        day = drawn_day(root, seed)
        findings = review(stored_session(day.folder)).findings
        found.update((finding.certainty, finding.cause in day.true) for finding in findings)
        first = {finding.cause for finding in findings[:2]}
        found.update(("each cause", cause in first) for cause in day.causes)
        if day.causes:
            found["a cause", bool(first & set(day.causes))] += 1
    print({key: found[key] for key in sorted(found)})
    return found


def share(told: Counter[tuple[str, bool]], what: str) -> float:
    return told[what, True] / max(told[what, True] + told[what, False], 1)


def test_a_true_cause_is_among_the_first_two(told):
    assert share(told, "a cause") >= 0.9
    assert share(told, "each cause") >= 0.7


def test_what_is_called_certain_was_there(told):
    assert share(told, "certain") >= (MEANS["certain"][0] if DAYS >= ENOUGH else 0.9)


def test_a_day_without_a_mishap_has_a_false_cause_in_two_of_thirty_at_most(tmp_path: Path) -> None:
    root, false = shop_of(tmp_path), Counter[str]()
    for seed in range(FIRST_CALM, FIRST_CALM + DAYS):
        day = drawn_day(root, seed, count=0)
        wrong = {one.cause for one in review(stored_session(day.folder)).findings} - day.true
        false.update(wrong)
        false["days"] += bool(wrong)
    assert false["days"] <= DAYS / 15.0, false


@pytest.mark.parametrize("word", ["likely", "possible"])
def test_likely_and_possible_are_right_at_least_as_often_as_they_say(told, word):
    count = told[word, True] + told[word, False]
    chance = 0.0 if DAYS >= ENOUGH else 1.0 / max(count, 1) ** 0.5  # two deviations of so few
    assert not count or share(told, word) >= MEANS[word][0] - chance
