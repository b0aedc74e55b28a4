"""What sessions teach: honest bands, pulled to what was known before, and never a datasheet file changed.

Some workshops by default. Four hundred: `LAYUP_WORKSHOPS=400 pytest tests/review/test_learning.py`, half a minute.
"""

import json
import os
import random
import shutil
from collections.abc import Sequence
from dataclasses import replace
from math import exp, log, sqrt
from pathlib import Path
from typing import get_args

import pytest
from plan_examples import PLAN
from session_examples import stamped, start
from simulate.demo_days import write_demo
from simulate.mishaps import changed, later, readings, with_events
from simulate.resins import Batch, any_batch, lot_of, lots_of, session, true_resin
from simulate.shop import Day, Script, Truth, days_after, press_day, workshop

from layup import cli
from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage
from layup.files.workshop import Workshop, demo_root
from layup.review.lessons import NOTHING_LEARNT, TEACHES, lessons_of, workshop_lessons
from layup.review.pace import Worked, crew_lessons, own_times, posterior_mean, worked_in
from layup.review.resin_lessons import Sighting, loss_lesson, resin_lesson, seen_in
from layup.session.archive import stored_session
from layup.session.batch_events import BatchMixed, BatchPouredOut, Observation, PressClosed, StepDone
from layup.session.day_events import SessionEnded
from layup.session.fields import SessionKind
from layup.session.records import fold
from layup.session.state import SessionStarted, SessionState

SHOP = Workshop(demo_root())
SHEET = SHOP.resin("slow-laminating")
STATED = calibrate(SHEET)
WORKSHOPS = int(os.environ.get("LAYUP_WORKSHOPS", "60"))
NEXT_SESSIONS = 5
"""On how many later sessions a workshop's lesson is tried: more of them cost less than more workshops."""


def misses(law: Calibration, rng: random.Random, truth: Kinetics, lots: float) -> list[tuple[bool, float]]:
    """Return for some next sessions whether the pot life is in the band of 80 %, and how far off it is, as a log."""
    batch = any_batch(rng)
    band = predict_band(law, Vessel.cup(), mass_g=batch.mass_g, start_K=batch.kelvin, ambient=batch.kelvin)
    lives_s = [batch.thickens_s(lot_of(truth, rng, lots), rng) for _ in range(NEXT_SESSIONS)]
    return [
        (band.working_s.low <= life_s <= band.working_s.high, log(life_s / band.life.working_s)) for life_s in lives_s
    ]


def rms(values: Sequence[float]) -> float:
    return sqrt(sum(value * value for value in values) / len(values))


def test_the_learnt_band_holds_what_it_says_of_a_known_truth_and_the_error_falls_with_sessions() -> None:
    inside: list[bool] = []
    errors: dict[int, list[float]] = {0: [], 1: [], 4: []}
    for shop in range(WORKSHOPS):
        rng = random.Random(shop)
        truth, lots = true_resin(STATED, rng), lots_of(rng)
        days = [session(truth, rng, batches=rng.choice([1, 2]), sd=lots) for _ in range(4)]
        for count in errors:
            if count == 4 and shop % 2:  # half of them are enough to tell
                continue
            lesson = resin_lesson("r", STATED, days[:count])
            found = misses(lesson.calibration, rng, truth, lots)
            errors[count] += [error for _, error in found]
            inside += [hit for hit, _ in found if count]
    assert len(inside) >= WORKSHOPS
    assert 0.75 <= sum(inside) / len(inside) <= 0.85
    assert rms(errors[4]) < rms(errors[1]) - 0.01 < rms(errors[0]) - 0.03


def test_without_any_session_a_resin_is_as_its_datasheet_says() -> None:
    lesson = resin_lesson("r", STATED, [])
    assert lesson.life_factor == pytest.approx(1.0)
    assert (lesson.sessions, lesson.observations) == (0, 0)
    assert lesson.low < 1.0 < lesson.high


def early(by: float, *, sessions: int, each: int = 1) -> list[tuple[Sighting, ...]]:
    """Return sessions in which every cup thickens `by` times sooner than the datasheet says."""
    rng = random.Random(1)
    cups = [any_batch(rng) for _ in range(sessions)]
    return [
        tuple(
            Sighting("thickening", cup.thickens_s(STATED.kinetics) / by, cup.stages, cup.mass_g, cup.kelvin)
            for _ in range(each)
        )
        for cup in cups
    ]


def test_few_sessions_move_a_resin_a_little_and_many_all_the_way() -> None:
    factors = [resin_lesson("r", STATED, early(1.2, sessions=count)).life_factor for count in (1, 3, 12)]
    assert 1.0 > factors[0] > factors[1] > factors[2] > 1 / 1.23
    assert factors[0] > 0.88
    assert factors[2] == pytest.approx(1 / 1.2, rel=0.04)


def test_many_observations_of_one_session_count_less_than_one_each_of_many() -> None:
    one = resin_lesson("r", STATED, early(1.2, sessions=1, each=6))
    many = resin_lesson("r", STATED, early(1.2, sessions=6))
    assert one.observations == many.observations == 6
    assert abs(log(one.life_factor)) < abs(log(many.life_factor))


def test_workshops_whose_sessions_differ_more_keep_a_wider_band() -> None:
    rng = random.Random(3)
    calm = resin_lesson("r", STATED, [session(STATED.kinetics, rng, batches=1, sd=0.01) for _ in range(25)])
    wild = resin_lesson("r", STATED, [session(STATED.kinetics, rng, batches=1, sd=0.20) for _ in range(25)])
    assert wild.session_log_sd > 1.5 * calm.session_log_sd
    assert wild.high / wild.low > calm.high / calm.low


def test_an_observation_that_no_resin_explains_is_set_aside_and_counted() -> None:
    days = early(1.0, sessions=3)
    nonsense = replace(days[1][0], after_s=20.0)
    lesson = resin_lesson("r", STATED, [days[0], (nonsense,), days[2]])
    assert (lesson.sessions, lesson.observations, len(lesson.looks)) == (2, 2, 3)
    assert lesson.life_factor == pytest.approx(1.0, abs=0.03)


def test_a_mix_still_runny_long_before_it_is_due_teaches_nothing_and_one_long_after_teaches() -> None:
    stages = (Stage(Vessel.cup(), 0.0, 293.15),)
    due_s = Batch(250.0, 293.15).thickens_s(STATED.kinetics)

    def at(share: float) -> tuple[Sighting, ...]:
        return (Sighting("runny", share * due_s, stages, 250.0, 293.15),)

    assert resin_lesson("r", STATED, [at(0.2)]).observations == 0
    assert resin_lesson("r", STATED, [at(1.4)]).life_factor > 1.1


def day(*events) -> tuple[Sighting, ...]:
    return seen_in(fold(stamped([start(), *events], every_s=600.0)), (100.0, 30.0))


def test_what_was_seen_in_the_cup_is_set_against_a_batch_that_stays_in_its_cup() -> None:
    mixed = BatchMixed(batch=1, resin_g=100.0, hardener_g=30.0, start_K=293.15)
    (seen,) = day(mixed, Observation(batch=1, word="thickening"), BatchPouredOut(batch=1))
    assert seen.after_s == 600.0
    assert [stage.vessel.kind for stage in seen.stages] == ["cup"]
    (later,) = day(mixed, BatchPouredOut(batch=1), Observation(batch=1, word="gelled"))
    assert [stage.vessel.kind for stage in later.stages] == ["cup", "film"]


def test_a_batch_mixed_off_ratio_teaches_nothing_of_the_resin() -> None:
    mixed = BatchMixed(batch=1, resin_g=100.0, hardener_g=36.0, start_K=293.15)
    assert day(mixed, Observation(batch=1, word="gelled")) == ()


def test_a_crew_s_pace_is_pulled_to_its_plan_and_a_kind_never_seen_to_the_other_kinds() -> None:
    once = crew_lessons([Worked(2, {"fabric": log(2.0)})])[2]
    often = crew_lessons([Worked(2, {"fabric": log(2.0)})] * 20)[2]
    assert 1.2 < once.factor("fabric") < often.factor("fabric") == pytest.approx(2.0, rel=0.05)
    assert 1.0 < once.factor("bond") < once.factor("fabric")
    assert once.kinds["bond"].sd > once.kinds["fabric"].sd > often.kinds["fabric"].sd
    assert once.sessions == 1
    assert crew_lessons([Worked(2, {"fabric": 0.0}), Worked(3, {"fabric": 1.0})]).keys() == {2, 3}


def test_a_time_is_a_step_s_own_unless_it_was_logged_far_too_soon_or_in_one_go_with_the_next() -> None:
    assert own_times([(300.0, 280.0), (300.0, 80.0), (300.0, 600.0)]) == (True, True, True)
    assert own_times([(300.0, 20.0), (300.0, 300.0)]) == (False, True)
    assert own_times([(300.0, 290.0), (300.0, 70.0), (300.0, 300.0)]) == (True, False, True)
    assert own_times([(300.0, 900.0), (300.0, 2.0), (300.0, 1.0), (300.0, 310.0)]) == (False, False, False, True)
    assert own_times([(300.0, 300.0), (20.0, 15.0)]) == (True, True), "a short step is not one logged late"
    assert own_times([]) == ()


def pressed(*done_s: float, closed_s: float) -> SessionState:
    """Return a session whose steps of 5 min were logged as done at these times."""
    told = [(0.0, start(batches=1, steps=len(done_s))), *((at_s, StepDone(step=n)) for n, at_s in enumerate(done_s, 1))]
    first = [(1.0, BatchMixed(batch=1, resin_g=100.0, hardener_g=30.0, start_K=293.15)), (2.0, BatchPouredOut(batch=1))]
    told = sorted([*told, *first, (closed_s, PressClosed())], key=lambda one: one[0])
    records = stamped([event for _, event in told])
    return fold(record.model_copy(update={"elapsed_s": at_s}) for record, (at_s, _) in zip(records, told, strict=True))


def test_steps_logged_within_seconds_or_late_in_one_go_are_left_out_of_the_pace_and_counted() -> None:
    plan = SHOP.plan("touring-skis")
    for done_s in ((3.0, 8.0, 20.0), (900.0, 901.0, 902.0)):
        worked = worked_in(pressed(*done_s, closed_s=done_s[-1] + 5.0), plan)
        assert worked is not None
        assert (worked.log_ratios, worked.left_out) == ({}, 4), "three steps, and the closing that came with them"
        crew = crew_lessons([worked])[2]
        assert (crew.factor("fabric"), crew.sessions, crew.left_out) == (1.0, 0, 4)
        assert crew.left_out_words.startswith("4 times left out: logged within a quarter")
    honest = worked_in(pressed(600.0, 900.0, 910.0, 1210.0, closed_s=2000.0), plan)
    assert honest is not None
    assert (honest.left_out, honest.bounded) == (0, 1), "what took 10 s counts as a quarter of its plan"
    assert exp(honest.log_ratios["fabric"]) == pytest.approx((598.0 / 300.0 + 1.0 + 0.25 + 1.0) / 4.0, abs=0.15)


def test_a_day_planned_by_what_was_learnt_teaches_over_the_plan_s_own_minutes(tmp_path: Path) -> None:
    kept = stored_session(press_day(workshop(tmp_path), truth=Truth(pace={"fabric": 1.5}), seed=1))
    assert kept.plan is not None
    begun = kept.state.records[0]
    assert isinstance(begun, SessionStarted)
    slower = [step.model_copy(update={"planned_s": 1.5 * step.planned_s}) for step in begun.steps]
    by_lessons = begun.model_copy(update={"lessons_used": True, "steps": tuple(slower)})
    again = worked_in(fold([by_lessons, *kept.state.records[1:]]), kept.plan)
    before = worked_in(kept.state, kept.plan)
    assert again is not None
    assert before is not None
    assert again.log_ratios == pytest.approx(before.log_ratios)
    assert before.log_ratios["fabric"] == pytest.approx(log(1.5), abs=0.1)


def glass_that_would_not_lie(script: Script) -> Script:
    """The lower glass takes 98 min longer, and the step after it is logged in one go with it."""
    late = later(script, script.done_s[4] - 1.0, 98.0 * 60.0)
    together_s = script.done_s[4] + 98.0 * 60.0 + 5.0
    told = changed(late, lambda t, e: [(together_s if e == StepDone(step=5) else t, e)])
    return with_events(told, *readings(script.done_s[4] - 1.0, together_s, 293.15))


def test_a_step_that_took_six_times_its_plan_makes_the_next_plan_slower_and_review_and_learn_say_how(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root, truth = workshop(tmp_path), Truth(pace={"fabric": 0.55, "bond": 0.9, "place": 0.9})
    quick = lessons_of([stored_session(press_day(root, truth=truth, seed=5))]).crews[2]
    folder = press_day(root, day=days_after(Day(), 1), truth=truth, mishap=glass_that_would_not_lie, seed=5)
    crew = lessons_of([stored_session(folder)]).crews[2]
    assert quick.factor("fabric") < 0.8
    assert crew.factor("fabric") > 1.1, "never faster for it"
    assert crew.bounded >= 1
    shutil.rmtree(root / "sessions" / "2026-03-07-touring-skis-168")
    (one,) = [path for path in (root / "sessions").iterdir() if (path / "journal.jsonl").exists()]
    assert cli.main(["learn", "--detail", "--workshop", str(root), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    (told,) = said["crews"]
    assert told["kinds"]["fabric"]["factor"] == pytest.approx(crew.factor("fabric"))
    assert told["counted_in_part"] == crew.bounded
    assert any("one slow step never makes the next plan faster" in words for words in said["assumptions"])
    assert cli.main(["learn", "--detail", "--workshop", str(root)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert f"{crew.bounded} times counted in part: below a quarter of the plan, or beyond 3 times it" in text
    assert cli.main(["review", one.name, "--workshop", str(root), "--json"]) == 0
    slow = next(one for one in json.loads(capsys.readouterr().out)["findings"] if one["cause"] == "slow step")
    assert "as at most 3 times its minutes (layup learn)" in slow["change"]


def test_a_day_on_which_nothing_was_logged_teaches_nothing_and_is_not_counted(tmp_path: Path) -> None:
    worked = stored_session(press_day(workshop(tmp_path), seed=5))
    empty = replace(worked, state=fold(stamped([start(), SessionEnded()])))
    assert lessons_of([empty]).sessions == 0
    assert lessons_of([worked, empty]).sessions == lessons_of([worked]).sessions == 1


def test_losses_are_pulled_to_the_plan_s_and_say_on_how_many_sessions_they_rest() -> None:
    lesson = loss_lesson([(log(1.5), 0.05), (None, 0.05), (log(1.5), None)])
    assert 1.0 < exp(lesson.per_batch.mean) < 1.5
    assert 0.0 < lesson.squeeze.mean < 0.05
    assert (lesson.per_batch.sessions, lesson.squeeze.sessions) == (2, 2)


def test_a_squeeze_out_that_a_plan_does_not_give_is_not_made_of_lessons_that_are_more_than_plans() -> None:
    lessons = replace(NOTHING_LEARNT, losses=loss_lesson([(log(1.1), 0.05)] * 2))
    given = replace(PLAN, losses=replace(PLAN.losses, squeeze_out=0.12))
    silent = replace(PLAN, losses=replace(PLAN.losses, squeeze_out=None))
    assert (lessons.plan(given).losses.squeeze_out or 0.0) > 0.12
    assert lessons.plan(silent).losses.squeeze_out is None
    assert lessons.plan(silent).losses.per_batch_g > silent.losses.per_batch_g
    assert "the press drives out" in " ".join(lessons.loss_words(given))
    assert "the press drives out" not in " ".join(lessons.loss_words(silent))


def test_the_crew_s_real_pace_is_learnt_from_its_journals(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    truth = Truth(pace={"fabric": 1.3, "bond": 0.8})
    kept = [stored_session(press_day(root, day=days_after(Day(), n), truth=truth, seed=n)) for n in range(4)]
    crew = lessons_of(kept).crews[2]
    assert crew.factor("fabric") == pytest.approx(1.3, rel=0.1)
    assert crew.factor("bond") == pytest.approx(0.8, rel=0.1)
    assert crew.factor("place") == pytest.approx(1.0, rel=0.08)
    assert crew.sessions == 4


def test_one_alone_is_not_called_slow_for_the_time_spent_mixing(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    kept = [stored_session(press_day(root, day=days_after(Day(people=1), n), seed=n)) for n in range(2)]
    crew = lessons_of(kept).crews[1]
    for kind in ("fabric", "bond", "place"):
        assert crew.factor(kind) == pytest.approx(1.0, abs=0.06)


def test_the_next_plan_uses_what_was_learnt_and_says_so_and_can_do_without(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    folders = write_demo(root)
    before = {path: path.read_bytes() for path in root.rglob("*.toml")}
    lessons = workshop_lessons(Workshop(root))
    plan = Workshop(root).plan("touring-skis")
    learnt = lessons.plan(plan)
    crew = lessons.crews[2]
    for old, new in zip(plan.steps, learnt.steps, strict=True):
        assert new.bench_s == pytest.approx(old.bench_s * crew.factor(old.kind))
    assert learnt.losses != plan.losses
    assert lessons.calibration(SHEET).kinetics != STATED.kinetics
    assert any(words.startswith("learnt: slow-laminating lives") for words in lessons.calibration(SHEET).assumptions)
    assert any("fabric 1." in words for words in lessons.words(plan))
    assert NOTHING_LEARNT.plan(plan) is plan
    assert NOTHING_LEARNT.calibration(SHEET).kinetics == STATED.kinetics
    assert NOTHING_LEARNT.words(plan) == ()
    assert {path: path.read_bytes() for path in root.rglob("*.toml")} == before, "no file is ever written"
    assert lessons.sessions == len(folders)


def test_a_journal_that_cannot_be_read_is_named_and_the_others_teach(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    folders = write_demo(root)
    (folders[0] / "journal.jsonl").unlink()
    (folders[0] / "journal.jsonl").mkdir()
    (folders[1] / "notes.txt").write_text("not ours")
    told: list[tuple[str, int, int]] = []
    lessons = workshop_lessons(Workshop(root), progress=lambda what, done, of: told.append((what, done, of)))
    assert lessons.sessions == 1
    assert ("reading sessions", 1, 1) in told
    assert any(what == "learning slow-laminating" for what, _, _ in told)


def test_a_day_that_still_runs_teaches_nothing_yet(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    folders = write_demo(root)
    path = folders[0] / "journal.jsonl"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    closed = next(at for at, line in enumerate(lines) if '"press-closed"' in line)
    path.write_text("".join(lines[:closed]), encoding="utf-8")
    assert workshop_lessons(Workshop(root)).sessions == 1
    path.write_text("".join(lines[: closed + 1]), encoding="utf-8")
    assert workshop_lessons(Workshop(root)).sessions == 2


def test_one_table_says_what_each_kind_of_session_teaches(tmp_path: Path) -> None:
    kept = stored_session(write_demo(workshop(tmp_path))[1])
    assert kept.state.start is not None
    assert set(TEACHES) == set(get_args(SessionKind))
    for kind, taught in TEACHES.items():
        kept.state.start = kept.state.start.model_copy(update={"kind": kind})
        lessons = lessons_of([kept])
        assert bool(lessons.resins) == ("lives" in taught), kind
        assert bool(lessons.crews) == ("pace" in taught), kind
        assert bool(lessons.losses) == ("losses" in taught), kind


def test_a_mean_of_none_is_the_prior_and_of_many_the_values() -> None:
    assert posterior_mean(0.3, 0.1, [], 0.2).mean == 0.3
    many = posterior_mean(0.0, 0.1, [0.5] * 1000, 0.2)
    assert many.mean == pytest.approx(0.5, abs=0.005)
    assert many.next_sd == pytest.approx(0.2, rel=0.01)
