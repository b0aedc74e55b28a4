"""Journals are plain JSON Lines: a database engine queries all of a workshop's sessions at once."""

from datetime import UTC
from pathlib import Path

import duckdb
import pytest
from simulate.mishaps import MISHAPS
from simulate.shop import press_day, workshop

from layup.session.archive import stored_session
from layup.session.reader import read_journal


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = workshop(tmp_path_factory.mktemp("shop"))
    for name in ("much hardener", "a batch spilt"):
        press_day(root, day=MISHAPS[name].day, mishap=MISHAPS[name], seed=1)
    return root


def query(root: Path, text: str) -> list[tuple[object, ...]]:
    journals = (
        f"read_json('{root}/sessions/*/journal.jsonl', format='newline_delimited', union_by_name=true, filename=true)"
    )
    return duckdb.sql(text.format(journals=journals)).fetchall()


def test_an_engine_counts_the_events_of_all_sessions_as_the_program_does(root: Path) -> None:
    found = dict(query(root, "select event, count(*) from {journals} group by event"))
    expected: dict[str, int] = {}
    for folder in sorted(root.glob("sessions/2*")):
        for record in read_journal(folder)[0]:
            expected[record.event] = expected.get(record.event, 0) + 1
    assert found == expected


def test_an_engine_finds_how_long_each_batch_stood_in_its_cup(root: Path) -> None:
    found = query(
        root,
        """
        select m.filename, m.batch, p.elapsed_s - m.elapsed_s as cup_s, m.hardener_g / m.resin_g as ratio
        from {journals} m join {journals} p on m.filename = p.filename and m.batch = p.batch
        where m.event = 'batch-mixed' and p.event = 'batch-poured-out'
        order by m.filename, m.batch
        """,
    )
    expected = [
        (batch.poured_out_s - batch.mixed_s, batch.hardener_g / batch.resin_g)
        for folder in sorted(root.glob("sessions/2*"))
        for batch in stored_session(folder).state.batches
        if batch.poured_out_s is not None
    ]
    assert len(found) == len(expected) == 3
    for row, batch in zip(sorted(row[2:] for row in found), sorted(expected), strict=True):
        assert row == pytest.approx(batch)


def test_times_are_read_as_times(root: Path) -> None:
    (first,) = query(root, 'select min(cast("at" as timestamptz)) from {journals}')
    assert first[0].astimezone(UTC).isoformat() == "2026-03-07T08:00:00+00:00"
