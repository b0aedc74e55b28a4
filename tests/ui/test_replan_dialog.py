"""The rest of the day planned anew: what is lost, the best way on in numbers, one key to take it, the others below."""

from datetime import UTC, datetime

import pytest
from app_driver import at_each, begin_day, press, running, words, workshop
from gallery import stage, text_in
from simulate.shop import Day, desk_for
from simulate.shop import workshop as simulated_workshop

from layup.app.prompts import Choose
from layup.bench.changes import take
from layup.bench.forecast import outlook_of_day, spent_s
from layup.bench.opening import begin, replanned
from layup.bench.rest import choices, rest_brief, rest_lines, rest_of_day
from layup.session.batch_events import Replanned
from layup.session.clock import ManualClock
from layup.units import mass, minutes


async def test_a_lost_batch_shows_before_and_after_and_enter_takes_the_best_way(tmp_path):
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b")
        clock.advance(300)
        first, *rest = app.day.state.batches
        await press(app, pilot, "x", "2", "enter")
        assert isinstance(app.screen, Choose)
        plan = replanned(app.day)
        assert words(app, ".prompt-title").startswith("REPLAN · batch 1 lost")
        lines = {line.partition(" ")[0]: line for line in app.screen.more.splitlines()}
        assert f"batch 1, {mass(first.poured_g)}" in lines["lost"]
        old, new = (" + ".join(f"{one:.0f}" for one in grams) for grams in (
            [batch.plan.mass_g for batch in rest], [batch.mass_g for batch in plan.split.batches]
        ))  # fmt: skip
        assert lines["mix"].endswith(f"{old} g → {new} g")
        assert f"no mix for step {app.day.state.steps[0].number}" in lines["closes"]
        assert lines["closes"].endswith(f"→ ≈ {app.day.clock_time(plan.closed_s)}")
        assert lines["press"].endswith(app.day.clock_time(plan.press_by_s))
        assert minutes(plan.press_by_s - plan.closed_s) in lines["spare"]
        here, kept = words(app, "#choices").splitlines()
        assert here.split("   ")[0] == f"▸ y  mix {new} g"
        assert here.endswith(f"{minutes(plan.press_by_s - plan.closed_s)} spare")
        assert kept.endswith(f"no mix for step {app.day.state.steps[0].number}"), "a choice says what it comes to"
        await press(app, pilot, "question_mark")
        assert app.screen.body.plain.splitlines() == list(lines.values()), "the figures are a key away"
        await press(app, pilot, "escape", "enter")
        logged = app.day.state.records[-1]
        assert isinstance(logged, Replanned)
        assert [batch.mass_g for batch in logged.batches] == [batch.mass_g for batch in plan.split.batches]
        assert app.here == "mix"


async def test_what_a_page_planned_anew_meanwhile_is_not_planned_again(tmp_path):
    async with running(workshop(tmp_path), clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b", "x", "2", "enter")
        take(app.day, rest_of_day(app.day).ways[0].change)
        seq = app.day.state.seq
        await press(app, pilot, "enter")
        assert app.day.state.seq == seq
        assert words(app, "#said") == "planned anew on a page: A shows it"


def gelled(folder, minutes_late, more_laid_g=0.0):
    """Return a day whose first batch is lost in its cup so many minutes after the step it began, more of it laid."""
    planner = desk_for(simulated_workshop(folder), Day())
    day = begin(planner, planner.figures, ManualClock(datetime(2026, 3, 7, 8, 0, tzinfo=UTC)))
    day.read_scale(1, "")
    day.hardener_in(1)
    day.read_scale(1, "")
    for step_s in (240.0, 360.0):
        day.clock.advance(step_s)
        day.step_done()
    day.clock.advance(60.0 * minutes_late)
    batch = day.state.batch(1)
    day.lost(batch, "gelled in the cup", day.laid_so_far_g(batch) + more_laid_g)
    return day


def test_a_step_of_which_part_is_laid_has_too_little_mix_and_not_none(tmp_path):
    said = []
    for more_laid_g in (0.0, 100.0):
        day = gelled(tmp_path / f"{more_laid_g}", 10, more_laid_g)
        (closes,) = (line for line in rest_lines(day, rest_of_day(day)) if line.startswith("closes"))
        (kept,) = (words for key, _, words in choices(day, rest_of_day(day)) if key == "n")
        assert kept.split("   ")[-1].strip() in closes
        said.append(closes)
    assert "  no mix for step 4 " in said[0]
    assert "  too little mix for step 4 " in said[1]


def test_a_step_whose_mix_was_lost_waits_and_is_not_worked_on(tmp_path):
    day = gelled(tmp_path, 10)
    way = rest_of_day(day).ways[0]
    assert way.change.after.ready_s > way.change.before.ready_s, "what is mixed again closes no earlier"
    ready_s = outlook_of_day(day, day.now_s()).ready_s
    assert spent_s(day, day.now_s()) == 0.0
    day.clock.advance(120.0)
    assert outlook_of_day(day, day.now_s()).ready_s == pytest.approx(ready_s + 120.0)


def test_the_way_that_is_in_time_comes_first_though_somebody_has_to_come_and_is_taken_whole(tmp_path):
    day = gelled(tmp_path, 30)
    rest = rest_of_day(day)
    assert not rest.in_time
    assert [(way.wants_help, way.works) for way in rest.ways] == [(False, False), (True, True)]
    here, helped = rest.ways
    assert helped.words == "one helper more, 3 people in all"
    first, kept, *others = choices(day, rest)
    assert first[:2] == ("2", "1"), "what is too late is not what Enter takes"
    assert kept[:2] == ("n", "no")
    assert kept[2].split("   ")[0] == "keep batches"
    assert [key for key, *_ in others] == ["1"]
    spares = [way.change.after.spare_s for way in rest.ways]
    assert [words.split("   ")[-1].strip() for _, _, words in (*others, first)] == [
        f"{minutes(-spares[0])} TOO LATE",
        f"{minutes(spares[1])} spare",
    ]
    assert first[2].startswith(f"{helped.words}   ")
    lines, brief = rest_lines(day, rest), rest_brief(day, rest)
    assert brief[0].startswith("REPLAN · batch 1 lost")
    assert [line for line in brief if line.startswith("Saves most: ")]
    assert [line for line in brief if line.startswith("Fetch ")]
    assert all(len(line.split()) <= 10 for line in brief)
    assert f"{batch_g(day, 1)} laid" in lines[0]
    assert [line for line in lines if line.endswith(here.word)], "the numbers are of what those there can do"
    assert [line for line in lines if line.startswith("Saves most: ")]
    assert not [line for line in lines if line.startswith("This makes it fit")], "that is a choice"
    assert [line for line in lines if line.startswith("Cans lack ")]
    assert take(day, helped.change).done
    assert day.state.people == 3
    assert tuple(batch.plan.mass_g for batch in day.state.batches if batch.status == "to mix") == helped.mix_g


def batch_g(day, number):
    return mass(day.balance.of_batch(number).laid_g)


def test_where_nothing_works_the_lines_say_what_saves_most(tmp_path):
    day = gelled(tmp_path, 40)
    rest = rest_of_day(day)
    assert not any(way.works for way in rest.ways)
    assert any("Saves most: scrape the wet layers off" in line for line in rest_lines(day, rest))


async def test_every_way_shows_whole_with_its_mark_and_its_key_at_every_size(tmp_path):
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b", "x", "2", "enter")
        async for _ in at_each(app, pilot, ((40, 16), (160, 50))):
            shown = " ".join(text_in(app, stage(app)).replace("┃", " ").split())
            for line in words(app, "#choices").splitlines():
                assert " ".join(line.split()) in shown
