"""One workshop, and the days on which one thing went wrong, for all tests of looking back."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from simulate.mishaps import MISHAPS
from simulate.shop import press_day, workshop

from layup.review.review import Review, review
from layup.session.archive import stored_session


@pytest.fixture(scope="session")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a workshop to which days are added and in which nothing else is changed."""
    return workshop(tmp_path_factory.mktemp("shop"))


@pytest.fixture(scope="session")
def failed(root: Path) -> Callable[[str, int], Review]:
    """Return a function that looks back on the day of a mishap and a seed, played once."""

    @cache
    def looked_back(name: str, seed: int) -> Review:
        mishap = MISHAPS[name]
        return review(stored_session(press_day(root, day=mishap.day, mishap=mishap, seed=seed)))

    return looked_back
