"""The bench as it stood: what a surface showed at a moment is what is shown of that moment ever after."""

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from scripted_days import Player, air, left_with, loses, measures
from session_examples import journal_bytes
from simulate.shop import Day, desk_for, workshop

from layup.bench.opening import begin
from layup.bench.replay import Replay
from layup.bench.view import BenchView
from layup.errors import InputError
from layup.files.workshop import Workshop, demo_root
from layup.session.clock import ManualClock
from layup.session.day_events import Undone
from layup.units import clock_time

HEAD = "minute:second  act\n"
TIMES = re.compile(r"by \d+:\d\d|at \d\d:\d\d|\d+ (?:% slow|min over)")
LISTING = Path(__file__).parent / "bad_day.txt"


class Kept:
    """A bad day as it was seen live, and where it is kept."""

    def __init__(self, root: Path) -> None:
        self.workshop = Workshop(workshop(root))
        planner = desk_for(root, Day())
        assert planner.figures is not None
        day = begin(planner, planner.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))
        self.folder = day.folder
        player = Player(day, 1.3, (60.0 * 45, 60.0 * 51), -20.0)
        wrong = [
            (14, air(22.5)),
            (26, loses(1)),
            (48, measures(3, 46.0)),
            (60, left_with(1)),
            (70, lambda of: of.undo()),
        ]
        player.play(wrong, until_min=240.0)
        self.views: list[BenchView] = player.views
        self.records = day.state.records
        day.close()

    def replay(self) -> Replay:
        """Return the session, read anew."""
        return Replay(self.folder, self.workshop, ManualClock(datetime(2026, 3, 7, 15, 0, tzinfo=UTC)))


POURS = ("weigh", "pour hardener")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """Return a bad day: off ratio, slow, a batch lost, nobody there for a while, a hot cup, a helper who leaves."""
    return Kept(tmp_path_factory.mktemp("bad"))


def test_no_act_of_a_bad_day_takes_more_than_eight_words(kept: Kept) -> None:
    acts = {act for view in kept.views for act in (view.act, *view.others, *view.then)}
    said = {words for act in acts for words in (act.words, act.why)}
    assert len(said) > 20
    assert [words for words in sorted(said) if len(words.split()) > 8] == []


def test_a_batch_has_one_time_that_goes_as_it_passes_while_the_press_can_wait(kept: Kept) -> None:
    pours = [(view, act) for view in kept.views for act in (view.act, *view.others) if act.kind in POURS]
    behind = [act for _, act in pours if "behind" in act.why]
    assert behind
    assert not any(act.is_due or act.deadline_s for act in behind)
    for view, act in pours:
        assert act.deadline_s is None or act.is_due == (view.now_s >= act.deadline_s)
        assert "wanted" not in act.why, "no second time is named"


def test_the_view_of_any_moment_is_what_was_shown_then(kept: Kept) -> None:
    replay, logged = kept.replay(), {record.elapsed_s for record in kept.records}
    looks = [view for view in kept.views if view.press.closed_s is None and view.now_s not in logged]
    assert len(looks) > 200
    for view in looks:
        assert replay.view_at(view.now_s) == view


def test_a_moment_is_shown_alike_whatever_was_looked_at_before(kept: Kept) -> None:
    replay = kept.replay()
    late, early = kept.views[-41], kept.views[33]
    assert [replay.view_at(view.now_s) for view in (late, early, late)] == [late, early, late]


def test_the_view_of_a_moment_is_that_of_a_journal_that_ends_there(kept: Kept, tmp_path: Path) -> None:
    replay, lines = kept.replay(), (kept.folder / "journal.jsonl").read_text().splitlines(keepends=True)
    for view in kept.views[20::97]:
        cut = tmp_path / f"{view.now_s:.0f}"
        cut.mkdir()
        count = sum(record.elapsed_s <= view.now_s for record in kept.records)
        (cut / "journal.jsonl").write_text("".join(lines[:count]))
        for name in ("plan.toml", "resin.toml"):
            (cut / name).write_bytes((kept.folder / name).read_bytes())
        clock = ManualClock(datetime(2026, 3, 7, 15, 0, tzinfo=UTC))
        assert Replay(cut, kept.workshop, clock).view_at(view.now_s) == replay.view_at(view.now_s)


def test_a_day_entered_from_paper_is_shown_as_the_one_that_was_logged(kept: Kept, tmp_path: Path) -> None:
    taken_back = {record.undone_seq for record in kept.records if isinstance(record, Undone)}
    first, day = kept.records[:2], kept.records[2:]
    told = [r for r in day if not r.any_time and r.seq not in taken_back]
    last_s = kept.records[-1].elapsed_s
    late = [
        record.model_copy(update={"seq": n, "elapsed_s": last_s + n, "happened_s": record.elapsed_s})
        for n, record in enumerate(reversed(told), 3)
    ]
    (tmp_path / "journal.jsonl").write_bytes(journal_bytes([*first, *late]))
    for name in ("plan.toml", "resin.toml"):
        (tmp_path / name).write_bytes((kept.folder / name).read_bytes())
    paper = Replay(tmp_path, kept.workshop, ManualClock(datetime(2026, 3, 7, 15, 0, tzinfo=UTC)))
    logged = kept.replay()
    undone = next(record for record in kept.records if record.seq in taken_back)
    before = [view.now_s for view in kept.views[7::61] if view.now_s < undone.elapsed_s]
    assert len(before) > 3
    for at_s in (*before, before[0]):
        shown, was = paper.view_at(at_s), logged.view_at(at_s)
        assert (shown.act, shown.others, shown.cups, shown.parts) == (was.act, was.others, was.cups, was.parts)


def test_looking_writes_nothing_and_takes_no_lock(kept: Kept) -> None:
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in sorted(kept.folder.iterdir())}
    kept.replay().view_at(1500.0)
    assert {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in sorted(kept.folder.iterdir())} == before


def test_once_closed_the_press_stays_shut_until_the_part_may_come_out(kept: Kept) -> None:
    replay = kept.replay()
    closed_s = replay.whole.closed_s
    assert closed_s is not None
    view = replay.view_at(closed_s + 250.0)
    assert view.act.words == "LEAVE IT CLOSED"
    assert [act.words for act in view.then] == ["READ THE GAUGE"]
    assert replay.view_at(closed_s + 300.0).act.words == "READ THE GAUGE"
    assert view.press.out_s is not None
    low_s, likely_s, high_s = view.press.out_s
    assert closed_s < low_s < likely_s < high_s
    assert view.act.deadline_s == likely_s
    later = replay.view_at(likely_s + 3600.0)
    assert later.act.words == "TAKE IT OUT"
    assert later.press.out_s is not None


@pytest.mark.parametrize(
    ("text", "minute"), [("25 min", 25.0), ("1500 s", 25.0), ("08:25", 25.0), ("09:40", 100.0), ("now", 420.0)]
)
def test_a_moment_is_said_as_an_age_or_as_a_clock_time(kept: Kept, text: str, minute: float) -> None:
    if ":" in text:  # what the wall clock of this place showed
        text = (datetime(2026, 3, 7, 8, 0, tzinfo=UTC) + timedelta(minutes=minute)).astimezone().strftime("%H:%M")
    assert kept.replay().when_s(text) == pytest.approx(60.0 * minute, abs=1.0)


@pytest.mark.parametrize("name", ["2026-02-21-touring-skis-168", "2026-03-07-touring-skis-168"])
def test_the_minute_that_is_asked_for_is_the_minute_on_its_clock(name: str) -> None:
    """A journal keeps the age in ms and the clock in µs: they drift apart by parts of a second."""
    workshop = Workshop(demo_root())
    replay = Replay(workshop.session_path(name), workshop, ManualClock(datetime(2026, 4, 1, tzinfo=UTC)))
    began = replay.whole.started_at
    assert began is not None
    for minute in (9, 47, 71):
        asked = clock_time((began + timedelta(minutes=minute)).astimezone())
        assert replay.day.clock_time(replay.view_at(replay.when_s(asked)).now_s) == asked


def test_a_moment_that_has_not_come_is_refused(kept: Kept) -> None:
    with pytest.raises(InputError, match="has not come yet"):
        kept.replay().when_s("900 min")
    with pytest.raises(InputError, match="before the session began"):
        kept.replay().when_s("900 min ago")


# -- the listing -----------------------------------------------------------------------------------------------------


def line_of(view: BenchView) -> str:
    """Return one view as a line of the listing: each act, its number, its deadline, its urgency, why."""
    said = []
    for act in (view.act, *view.others):
        by_s = act.deadline_s
        by = "" if by_s is None else f"by {by_s // 60:.0f}:{by_s % 60:02.0f}"
        urgency = "" if act.urgency == "fresh" else act.urgency.upper()
        person = f"{act.person}:" if act.person else ""
        said.append(
            " ".join(filter(None, [person, act.words, act.amount, by, urgency, f"({act.why})" if act.why else ""]))
        )
    return "  |  ".join(said)


def listing(kept: Kept) -> str:
    """Return every change of act of the bad day with the second at which it came, found by halving."""
    replay, shown = kept.replay(), [0]

    def what(view: BenchView) -> tuple[object, ...]:
        return tuple((act.is_same_as, act.urgency) for act in (view.act, *view.others))

    for before, after in pairwise(kept.views):
        if what(before) == what(after):
            continue
        low, high = round(before.now_s) - 1, round(after.now_s)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if what(replay.view_at(middle)) == what(before) else (low, middle)
        shown.append(high)
    return HEAD + "".join(f"{at_s // 60:3d}:{at_s % 60:02d}  {line_of(replay.view_at(at_s))}\n" for at_s in shown)


def test_the_bad_day_says_each_act_at_its_second(kept: Kept) -> None:
    """Read the listing: it is a day at the bench. Written anew by running this file.

    Which deadline the resin's model gives is tested elsewhere, and clock times are those of the place.
    """
    found, told = (TIMES.sub("by then", text) for text in (listing(kept), LISTING.read_text()))
    assert found == told


if __name__ == "__main__":
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        LISTING.write_text(listing(Kept(Path(folder))))
