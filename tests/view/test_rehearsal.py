"""A dry run with a stopwatch, and a day for play at speed: what they log, what they teach, what they never touch."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from math import log
from pathlib import Path

import pytest
from simulate.shop import workshop

from layup.bench.day import PressDay, Said
from layup.bench.doing import do, end_question, ended
from layup.bench.dues import dues
from layup.bench.opening import open_day, resume
from layup.bench.planner import Planner
from layup.bench.rehearsal import MISHAPS, FastClock, Play, dry_run
from layup.bench.view import bench_view, view_data
from layup.commands.follow import line
from layup.commands.view import view_lines
from layup.files.workshop import Workshop, plan_alone
from layup.planning.plan import DAY_PACE, RUN_PACE, Plan, day_pace
from layup.report.advice import detail_lines
from layup.review.carried import proposals
from layup.review.pace import WETTING, WETTING_SD, DryRun, paces_of, spread_words, with_dry_runs
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock
from layup.session.day_events import Note

START = datetime(2026, 11, 28, 9, 0, tzinfo=UTC)


def desk(root: Path) -> Planner:
    """Return the desk with the demo's plan, and all that its sessions teach."""
    planner = Planner(root, plan="touring-skis")
    settings = planner.read()
    planner.learn()
    assert not planner.change(settings)
    return planner


def begun(root: Path, clock: ManualClock) -> PressDay:
    planner = desk(root)
    assert planner.figures is not None
    return dry_run(planner, planner.figures, clock)


def ticked(day: PressDay, clock: ManualClock, pace: float) -> str:
    """Tick every step and the closing, each after so many times its planned time, by the act on top; return the end."""
    while day.state.ended_s is None:
        act = bench_view(day).act
        if act.kind == "step":
            step = day.state.step_now
            assert step is not None
            clock.advance(pace * step.planned_s)
        elif act.kind == "close":
            clock.advance(pace * day.closing_s)
        said = do(day, act, True if act.kind == "end" else None)
        assert getattr(said, "done", False), (act, said)
    assert isinstance(said, Said)
    return said.words


def test_a_dry_run_with_a_stopwatch_becomes_the_plan_s_minutes_and_its_odds(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    before = desk(root).figures
    assert before is not None
    assert before.odds is not None
    assert before.plan.crew.minutes_from == "guesses"
    ticked(begun(root, clock), clock, 1.4)
    planner = desk(root)
    after = planner.figures
    assert after is not None
    assert after.odds is not None
    assert after.plan.crew.minutes_from == "your dry run of 28 Nov"
    assert "your dry run of 28 Nov" in " ".join(after.taught)
    for old, new in zip(before.plan.steps, after.plan.steps, strict=True):
        wet = WETTING if new.kind in ("fabric", "bond") else 1.0
        factor = 1.0 if new.kind == "cast" else 1.4 * wet
        assert new.bench_s == pytest.approx(factor * old.bench_s, rel=1e-3), new.name
    assert after.plan.closing.bench_s == pytest.approx(1.4 * before.plan.closing.bench_s)
    assert after.plan.crew.mixing_s == pytest.approx(1.4 * before.plan.crew.mixing_s)
    assert after.plan.crew.day_pace < before.plan.crew.day_pace
    assert not planner.lessons.resins
    assert not planner.lessons.crews
    assert planner.lessons.losses is None


def demo_plan(root: Path) -> Plan:
    figures = desk(root).figures
    assert figures is not None
    return figures.plan


def run_of(plan: Plan, pace: float) -> DryRun:
    """Return a dry run in which each step took so many times its minutes."""
    return DryRun(
        plan.title, START.date(), {s.name: pace * s.bench_s for s in plan.steps if s.kind != "cast"}, None, None
    )


def test_one_pass_narrows_the_day_from_a_guess_and_each_more_less_than_the_one_before(tmp_path: Path) -> None:
    plan = demo_plan(workshop(tmp_path))
    assert plan.crew.day_pace == DAY_PACE
    paces = [with_dry_runs(plan, [run_of(plan, 1.0)] * passes, []).crew.day_pace for passes in (1, 2, 3)]
    assert DAY_PACE > paces[0] > paces[1] > paces[2] > RUN_PACE
    assert paces[0] - paces[1] > paces[1] - paces[2]
    wet_s = WETTING * sum(step.bench_s for step in plan.steps if step.kind in ("fabric", "bond"))
    dry_s = plan.closing.bench_s + sum(step.bench_s for step in plan.steps if step.kind == "place")
    share = wet_s / (wet_s + dry_s)  # by hand: one run from its next, its own mean, and what resin adds
    assert paces[0] ** 2 == pytest.approx(2.0 * RUN_PACE**2 + (WETTING_SD * share) ** 2)


def test_two_passes_are_meaned_and_their_spread_widens_the_odds_and_is_told_of_each_step() -> None:
    runs = [DryRun("t", START.date(), {"a": took_s, "b": 600.0}, None, None) for took_s in (300.0, 900.0)]
    total, of_a, of_b = log(1500.0 / 900.0), log(3.0), 0.0  # by hand: four usual values, and two about their mean
    assert paces_of(runs)[0] == pytest.approx(((4 * RUN_PACE**2 + total**2 / 2) / 5) ** 0.5)
    steps = ((of_a - total) ** 2 + (of_b - total) ** 2) / 2
    assert paces_of(runs)[1] == pytest.approx(((4 * 0.10**2 + steps) / 6) ** 0.5)
    assert day_pace(2, paces_of(runs)[0]) > day_pace(1)


def test_the_verdict_says_which_minutes_rule_and_two_passes_tell_the_spread_of_each_step(tmp_path: Path) -> None:
    plan = demo_plan(workshop(tmp_path))
    runs = [run_of(plan, 1.0), run_of(plan, 1.2)]
    assert with_dry_runs(plan, runs, []).crew.minutes_from == "your dry run of 28 Nov"
    assert with_dry_runs(plan, runs, ["closing"]).crew.minutes_from == "your dry run of 28 Nov"
    crew = replace(plan.crew, minutes_from="press days", day_pace=0.13)
    both = with_dry_runs(replace(plan, crew=crew), runs, ["fabric"]).crew
    assert both.minutes_from == "press days and your dry run of 28 Nov"
    assert both.day_pace <= 0.13
    assert spread_words(plan, runs[:1]) == ()
    # By hand: 14 and 16.8 min, sd ((4 (0.12^2 + 0.10^2) + 0.182^2 / 2) / 5)^0.5 = 0.151, of the next 0.185, 80 % 0.237.
    assert "Lower glass 12-19 min" in spread_words(plan, runs)[0]


def test_a_pass_that_is_too_quick_says_so_at_once_and_at_its_end_and_changes_nothing(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    before = demo_plan(root)
    day = begun(root, clock)
    clock.advance(5.0)
    said = do(day, bench_view(day).act)
    assert "too quick, not counted" in getattr(said, "words", "")
    assert ticked(day, clock, 0.02) == "dry run too quick: not counted, its minutes change nothing"
    told = review(stored_session(day.folder)).taught
    assert told[-1].startswith("too quick, not counted: ")
    last = list(detail_lines(desk(root).lessons))[-1]
    assert last == "Touring skis 168, 28 Nov: dry run too quick: not counted, its minutes change nothing"
    assert "Lower glass" in told[-1]
    assert demo_plan(root) == before


def test_a_dry_run_asks_for_no_mix_and_warns_of_no_heat_and_keeps_its_kind(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    day = begun(root, clock)
    assert bench_view(day).act.words == "FETCH CUP 1"
    assert bench_view(day).mark == view_data(day, bench_view(day))["mark"] == "DRY RUN"
    assert line(day, bench_view(day).act).partition("  ")[2] == "Dry run: Fetch cup 1."
    assert view_lines(day, bench_view(day), width=80)[0].startswith("DRY RUN   Touring skis")
    step = bench_view(day).step
    assert step is not None
    assert (step.place, step.of) == (1, 14)
    kinds = set()
    for _ in range(40):
        kinds |= {act.kind for act in dues(day, day.now_s()).standing}
        clock.advance(600.0)
    assert kinds == {"step"}
    ticked(day, clock, 1.0)
    assert bench_view(day).act.words == "SESSION ENDED"
    kept = stored_session(day.folder)
    assert kept.state.start is not None
    assert kept.state.start.kind == "dry run"
    assert review(kept).verdict == "a dry run: what it took"
    assert any(words.startswith("Lower glass: ") for words in review(kept).taught)


def test_a_dry_run_that_is_cut_off_goes_on_with_every_step_that_was_ticked(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    day = begun(root, clock)
    for _ in range(3):
        clock.advance(200.0)
        assert getattr(do(day, bench_view(day).act), "done", False)
    journal = (day.folder / "journal.jsonl").read_bytes()
    day.close()  # a process that is killed leaves its journal like this, each entry on the disk
    clock.advance(60.0)
    again = resume(day.folder, clock, workshop=desk(root).workshop)
    assert again.is_dry
    assert again.window_K == (None, None)
    assert (day.folder / "journal.jsonl").read_bytes().startswith(journal)
    assert [step.done_s for step in again.state.steps if not step.left] == [200.0, 400.0, 600.0]
    again.close()


def test_a_dry_run_is_gone_on_with_by_its_own_plan_alone(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    day = begun(root, clock)
    day.close()
    other = root / "sessions" / "other"
    other.mkdir()
    text = (root / "sessions" / "touring-skis" / "plan.toml").read_text(encoding="utf-8")
    (other / "plan.toml").write_text(text.replace("Touring skis 168", "Other"), encoding="utf-8")
    planner = Planner(root, plan="other")
    planner.load()
    assert open_day(planner, None, clock, dry=True).day is None
    again = open_day(desk(root), None, clock, dry=True).day
    assert again is not None
    assert again.folder == day.folder
    again.close()


def test_a_fast_clock_goes_so_many_times_faster_and_both_its_clocks_agree() -> None:
    clock = ManualClock(START)
    fast = FastClock(clock, 20.0)
    before_s, before = fast.monotonic_s(), fast.utc()
    clock.advance(3.0)
    assert fast.monotonic_s() - before_s == pytest.approx(60.0)
    assert (fast.utc() - before).total_seconds() == pytest.approx(60.0)
    assert fast.boot_id() == clock.boot_id()


@pytest.mark.parametrize("name", list(MISHAPS))
def test_each_mishap_comes_once_and_does_what_it_says(tmp_path: Path, name: str) -> None:
    clock, planner = ManualClock(START), desk(workshop(tmp_path))
    assert planner.figures is not None
    play = Play(20.0, [name])
    day = play.begin(planner, planner.figures, clock)
    day.read_scale(1, "")
    day.hardener_in(1)
    air_K, lives_s = day.air_K, day.alive[1].empty_by_s
    assert play.look(day) == ""
    assert bench_view(day).mark == "PLAY"
    told = []
    for _ in range(40):
        clock.advance(60.0)
        told += [words] if (words := play.look(day)) else []
    assert told == [f"PLAY: {MISHAPS[name][0]}"]
    assert end_question(day) == "End this session? It was for play: nothing of it stays."
    assert {
        "batch goes off early": day.alive[1].empty_by_s < lives_s,
        "helper leaves": day.state.people == 1,
        "cold": day.air_K == pytest.approx(air_K - 5.0),
    }[name]


def test_a_plan_for_play_and_the_copy_of_a_session_have_the_files_that_the_plan_names(tmp_path: Path) -> None:
    root, clock = workshop(tmp_path), ManualClock(START)
    folder = root / "sessions" / "touring-skis"
    text = (folder / "plan.toml").read_text(encoding="utf-8")
    named = '[outline]\nfile = "drawn/ski.csv"\nunit = "mm"\n\n[shop]\nforecast = "day.csv"\n'
    text = re.sub(r"\[outline\]\n.*?\n(?=\n\[)", named, text, count=1, flags=re.DOTALL)
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    (folder / "drawn").mkdir()
    (folder / "drawn" / "ski.csv").write_text("0,-45\n1680,-45\n1680,45\n0,45\n", encoding="utf-8")
    (folder / "day.csv").write_text("time,temperature (degC)\n06:00,18\n15:00,21\n", encoding="utf-8")
    stated = Workshop(root).plan("touring-skis")
    planner = desk(root)
    assert planner.settings is not None
    planner.settings = replace(planner.settings, people=3)
    planner.keep()
    with plan_alone(Workshop(root), folder / "plan.toml") as alone:
        assert Workshop(alone).plan("touring-skis") == stated
        played = Planner(alone, plan="touring-skis")
        assert played.turned(played.read()).people == 3, "as it was set on Stack"
    day = begun(root, clock)
    day.close()
    again = resume(day.folder, clock, workshop=Workshop(tmp_path / "elsewhere"))
    assert again.plan.outline == stated.outline
    assert again.plan.forecast == stated.forecast
    again.close()


def test_of_a_day_for_play_nothing_stays_and_its_own_mark_is_no_lesson_for_next_time(tmp_path: Path) -> None:
    clock, planner = ManualClock(START), desk(workshop(tmp_path))
    assert planner.figures is not None
    day = Play(20.0, []).begin(planner, planner.figures, clock)
    assert day.log(Note(text="tip of the glass slides"), "").done
    assert ended(day, "L, then E adds how it turned out").words == "session ended: nothing of it stays"
    day.close()
    found = review(stored_session(day.folder))
    assert [note.text.partition(":")[0] for note in found.stored.state.notes] == [
        "a day for play, of which nothing is kept", "tip of the glass slides",
    ]  # fmt: skip
    assert [each.event.text for each in proposals(found, {})] == ["tip of the glass slides"]
