"""The Logbook's opened day: a cursor on one axis, the bench as it stood there, jumps, and where it was decided."""

import shutil
from pathlib import Path
from time import process_time

import pytest
from app_driver import press, running, settled, words
from textual.pilot import Pilot
from textual.widgets import Static

from layup.app.app import LayupApp
from layup.app.scrub import DayScrub, OpenedDay
from layup.bench.replay import Replay, axis_end_s, marks_of
from layup.files.workshop import Workshop, demo_root
from layup.report.day_axis import DayAxis
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock

FAILED = "2026-03-07-touring-skis-168"
KEY_S = 0.05
"""From a key to the screen, by the program's own time."""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(demo_root() / "resins", tmp_path / "resins")
    for name in (FAILED, "touring-skis"):
        shutil.copytree(demo_root() / "sessions" / name, tmp_path / "sessions" / name)
    monkeypatch.setattr(OpenedDay, "moments", lambda _: [])  # beside the screen only what is asked for is worked out
    return tmp_path


async def test_an_opened_day_shows_any_minute_of_its_bench_and_jumps_to_findings_notes_and_entries(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "l", "enter")
        scrub = app.query_one(DayScrub)
        assert scrub.opened is not None
        assert scrub.opened.turned is not None
        assert "DECIDED" in words(app, "#day-did"), "it opens where it was decided"
        assert "would have helped: carry cups 1 and 2 outside, mix" in words(app, "#day-did")
        assert "min too late: batch 1 thickened in its cup" in words(app, "#day-verdict")
        at_s = scrub.at_s
        await press(app, pilot, "left")
        assert "DECIDED" not in words(app, "#day-did"), "it is decided in one minute"
        await press(app, pilot, "right", "left", "pagedown", "right")
        assert scrub.at_s == at_s + 600.0
        await press(app, pilot, "home")
        assert scrub.at_s == 0.0
        await press(app, pilot, "o")
        assert "note: glass keeps lifting" in words(app, "#day-did")
        await press(app, pilot, "f", "f")
        assert "thickened in its cup" in words(app, "#day-did")
        view = Replay(shop / "sessions" / FAILED, Workshop(shop), ManualClock()).view_at(scrub.at_s)
        assert view.act.words in words(app, "#day-bench"), "the same pure function as on the day"
        before = scrub.at_s
        await press(app, pilot, "down", "up")
        assert scrub.at_s == before
        await pilot.click("#day-axis", offset=(40, 1))
        await settled(app, pilot)
        assert scrub.at_s == 60.0 * scrub.opened.axis.minute_at(40, scrub.size.width)
        await press(app, pilot, "w")
        assert "entry" in str(app.screen.query("VerticalScroll Static").first(Static).content)
        await press(app, pilot, "escape", "x")
        assert "as it went" in str(app.screen.query("VerticalScroll Static").first(Static).content)
        await press(app, pilot, "escape")
        for size in ((40, 16), (160, 50)):
            await pilot.resize_terminal(*size)
            await fits_and_answers_at_once(app, pilot, scrub, size)
        await press(app, pilot, "escape")
        assert not app.place.has_class("-open")


async def test_a_minute_that_is_asked_for_again_while_it_is_worked_out_is_drawn(shop, monkeypatch):
    """As where the day is laid out anew in that moment: the first worker must not draw, the second finds it there."""
    work_out, again = OpenedDay.work_out, []

    async with running(shop) as (app, pilot):

        def asked_again(opened: OpenedDay, at_s: float) -> None:
            work_out(opened, at_s)
            if not again:
                again.append(at_s)
                app.call_from_thread(app.query_one(DayScrub)._work_out, opened)

        monkeypatch.setattr(OpenedDay, "work_out", asked_again)
        await press(app, pilot, "l", "enter")
        assert again
        assert words(app, "#day-bench")


async def fits_and_answers_at_once(app: LayupApp, pilot: Pilot[None], scrub: DayScrub, size: tuple[int, int]) -> None:
    """Check the opened day at a size, and how long a key takes whose minutes are known."""
    for step in (1, -1):
        scrub.action_move(step)
        await settled(app, pilot)
    spent = []
    for step in (1, -1, 1):
        begun_s = process_time()
        scrub.action_move(step)
        spent.append(process_time() - begun_s)
    assert min(spent) < KEY_S
    await settled(app, pilot)
    lines = words(app, "#day-axis").splitlines()
    assert max(map(len, lines)) <= size[0]
    assert lines[-1].strip().startswith("▲")
    for part in ("#day-verdict", "#day-axis", "#day-bench", "#day-did"):
        assert app.query_one(part).size.height > 0, part
    assert words(app, "#day-bench").strip()
    assert "did" in words(app, "#day-did")


def test_every_minute_until_the_closing_is_worked_out_beside_the_screen() -> None:
    workshop = Workshop(demo_root())
    folder = workshop.sessions_folder / FAILED
    found = review(stored_session(folder))
    axis = DayAxis(found.track, found.stored.state, marks_of(found, None), axis_end_s(found))
    opened = OpenedDay(Replay(folder, workshop, ManualClock()), found, axis, None, "", (80, 12))
    moments = opened.moments()
    assert {60.0 * minute for minute in range(84)} <= set(moments)
    assert {mark.at_s for mark in axis.marks if mark.at_s < found.track.closed_s} <= set(moments)
    opened.work_out(moments[3])
    assert opened.moments() == [*moments[:3], *moments[4:]]
