"""Where a new session goes."""

from datetime import date
from pathlib import Path

import pytest

from layup.session.folder import session_folder

DAY = date(2026, 3, 7)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Pair of skis, 168 cm", "2026-03-07-pair-of-skis-168-cm"),
        ("Ski für Åse", "2026-03-07-ski-fur-ase"),
        ("  ../../etc/passwd ", "2026-03-07-etc-passwd"),
        ("手袋", "2026-03-07-session"),
        ("", "2026-03-07-session"),
        ("a" * 300, "2026-03-07-" + "a" * 40),
    ],
)
def test_the_folder_is_named_by_day_and_title(tmp_path: Path, title: str, name: str) -> None:
    assert session_folder(tmp_path, DAY, title) == tmp_path / "sessions" / name


def test_a_second_session_of_the_day_gets_the_next_number(tmp_path: Path) -> None:
    names = []
    for _ in range(3):
        folder = session_folder(tmp_path, DAY, "Skis")
        folder.mkdir(parents=True)
        names.append(folder.name)
    assert names == ["2026-03-07-skis", "2026-03-07-skis-2", "2026-03-07-skis-3"]
