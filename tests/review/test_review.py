"""A session looked back on: its day beside its plan, the demo's failed day, and one whose files are missing."""

import random
from dataclasses import replace
from itertools import pairwise
from math import inf
from pathlib import Path

import pytest
from session_examples import journal_bytes
from simulate.demo_days import BAD, SESSIONS, SLOW_CREW, write_demo
from simulate.mishaps import MISHAPS
from simulate.shop import desk_for, play, press_day, workshop, write

from layup.chemistry.calibration import calibrate
from layup.errors import StorageError
from layup.files.durable import JOURNAL
from layup.review.lessons import lessons_of
from layup.review.review import Review, review
from layup.review.timeline import Track
from layup.session.archive import StoredSession, stored_session
from layup.session.records import fold
from layup.session.state_parts import in_effect


@pytest.fixture(scope="module")
def clean(root: Path) -> StoredSession:
    return stored_session(press_day(root, seed=4))


def day_of(found: Review) -> Track:
    assert found.track is not None
    return found.track


def test_a_session_asked_for_again_is_looked_back_on_once_until_it_is_added_to(clean: StoredSession) -> None:
    again = stored_session(clean.folder)
    assert again is not clean
    assert review(again) is review(clean)
    shorter = replace(clean, state=fold(clean.state.records[:-1]))
    assert review(shorter) is not review(clean)
    assert review(shorter).stored is shorter
    own = review(clean, calibration=calibrate(clean.sheet))
    assert own is not review(clean), "what other sessions taught is never taken for the datasheet"


def test_the_plan_is_laid_over_the_session_at_first_contact(clean: StoredSession) -> None:
    day = day_of(review(clean))
    first = day.batches[0]
    assert first.planned is not None
    assert first.planned.begin_s == pytest.approx(first.contact_s)
    assert [step.planned.took_s for step in day.steps] == pytest.approx(
        [step.real.took_s for step in day.steps if step.real], rel=0.2
    )
    assert day.planned_closed_s == pytest.approx(day.closed_s, rel=0.05)


def test_steps_follow_each_other_without_a_gap_and_end_when_they_were_logged(clean: StoredSession) -> None:
    day = day_of(review(clean))
    done = {step.number: step.done_s for step in clean.state.steps}
    for step in day.steps:
        assert step.real is not None
        assert step.real.end_s == done[step.number]
    for before, after in pairwise(day.steps):
        assert before.real is not None
        assert after.real is not None
        assert after.real.begin_s == before.real.end_s


def test_a_batch_has_its_limits_from_first_contact_and_its_margins_where_it_was(clean: StoredSession) -> None:
    day = day_of(review(clean))
    for batch in day.batches:
        assert batch.cup is not None
        assert batch.part is not None
        assert batch.contact_s is not None
        assert batch.emptied_s is not None
        assert batch.contact_s < batch.emptied_s < batch.cup.low < batch.cup.likely < batch.cup.high
        by_s = batch.contact_s + 0.8 * (batch.cup.low - batch.contact_s)  # each of them would run away
        assert batch.cup_left_s == pytest.approx(by_s - batch.emptied_s)
        assert batch.part_left_s == pytest.approx(batch.part.low - (day.closed_s or 0.0))
    assert day.press_by == min(batch.part for batch in day.batches if batch.part)


def test_the_time_to_spare_falls_second_by_second_and_jumps_only_where_a_cup_comes_or_goes(
    clean: StoredSession,
) -> None:
    day = day_of(review(clean))
    line = day.spare_s()
    corners = {batch.contact_s for batch in day.batches} | {batch.left_cup_s for batch in day.batches}
    for (t0, v0), (t1, v1) in pairwise(line):
        if t1 > t0:
            assert v1 - v0 == pytest.approx(t0 - t1)
        else:
            assert t0 in corners
    assert line[0][0] == day.contact_s
    assert line[-1][0] == day.closed_s


def test_readings_in_effect_are_those_in_a_stretch_and_the_last_before_it() -> None:
    history = ((0.0, 290.0), (100.0, 291.0), (200.0, 292.0), (300.0, 293.0))
    assert in_effect(history, 150.0, 250.0) == ((100.0, 291.0), (200.0, 292.0))
    assert in_effect(history, 200.0, 200.0) == ((200.0, 292.0),)
    assert in_effect(history[1:], 50.0, 60.0) == ()


def test_a_review_by_a_resin_that_is_known_to_be_faster_finds_less_time_to_spare(clean: StoredSession) -> None:
    assert clean.sheet is not None
    law = calibrate(clean.sheet)
    faster = replace(law, kinetics=replace(law.kinetics, k_ref_per_s=1.5 * law.kinetics.k_ref_per_s))
    slack = [day_of(review(clean, calibration=one)).batches[0].cup_left_s or 0.0 for one in (law, faster)]
    assert slack[1] < slack[0] - 600.0


def test_the_demo_s_failed_session_names_its_true_cause_first_with_the_evidence() -> None:
    kept = stored_session(SESSIONS / "2026-03-07-touring-skis-168")
    found = review(kept)
    assert found.defects == ("dry spot", "void")
    causes = [finding.cause for finding in found.findings]
    assert causes == ["past thickening", "slow step"], "smaller cups save the day, and glass laid in its time does not"
    assert "batch 1 looks thickening" in [one.words for one in found.findings[0].evidence]
    assert found.findings[1].words.startswith("'Lower glass' took 19 min")
    assert [one.words for one in found.findings[1].evidence][:2] == ["step 3 done", "step 4 done"]
    assert review(stored_session(SESSIONS / "2026-02-21-touring-skis-168")).findings == ()


def test_the_demo_s_sessions_are_what_its_script_writes(tmp_path: Path) -> None:
    for folder in write_demo(workshop(tmp_path)):
        fresh, published = stored_session(folder), stored_session(SESSIONS / folder.name)
        assert published.problems == ()
        told = [
            [(r.elapsed_s, r.event) for r in kept.state.records if r.event != "journal-opened"]
            for kept in (fresh, published)
        ]
        assert told[0] == told[1]


def test_a_plan_made_after_the_demo_s_failed_session_avoids_its_failure(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    lessons = lessons_of([stored_session(folder) for folder in write_demo(root)])
    planner = desk_for(root, BAD)
    assert planner.figures is not None
    assert planner.settings is not None
    case = planner.figures
    learnt = replace(case, plan=lessons.plan(case.plan), calibration=lessons.calibration(case.datasheet))
    assert len(learnt.split.batches) > len(planner.figures.split.batches)
    crew = lessons.crews[2]
    truth = replace(SLOW_CREW, pace={kind: factor / crew.factor(kind) for kind, factor in SLOW_CREW.pace.items()})
    for seed in range(3):
        script = play(learnt, BAD, truth, random.Random(seed))
        found = review(stored_session(write(root, BAD, script)))
        assert not {"past thickening", "closed late"} & {finding.cause for finding in found.findings}
        spare_s = [(batch.cup.low - (batch.left_cup_s or inf)) for batch in day_of(found).batches if batch.cup]
        assert min(spare_s) > 300.0


def test_a_session_without_its_plan_says_that_nothing_can_be_judged(root: Path) -> None:
    folder = press_day(root, seed=6)
    (folder / "plan.toml").unlink()
    found = review(stored_session(folder))
    assert found.track is None
    assert found.findings == ()
    assert "plan or resin cannot be read" in found.verdict
    assert any("plan.toml" in problem.file for problem in found.problems)


def test_a_session_with_a_damaged_line_is_judged_by_the_others_and_the_line_is_reported(root: Path) -> None:
    mishap = MISHAPS["much hardener"]
    folder = press_day(root, day=mishap.day, mishap=mishap, seed=7)
    lines = (folder / JOURNAL).read_bytes().splitlines(keepends=True)
    lines[6] = b'{"v":1,"seq":7,"at":"20\n'
    (folder / JOURNAL).write_bytes(b"".join(lines))
    found = review(stored_session(folder))
    assert [problem.line for problem in found.problems] == [7]
    assert found.findings[0].cause == "off ratio"


def test_a_folder_without_a_journal_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="does not exist"):
        stored_session(tmp_path)


def test_the_plan_of_a_session_is_the_one_that_was_set_on_the_desk(root: Path) -> None:
    kept = stored_session(press_day(root, seed=8))
    assert kept.plan is not None
    start = kept.state.records[0].model_copy(update={"largest_cup_g": 300.0, "fibre_fraction": 0.5, "people": 3})
    journal = kept.folder / JOURNAL
    journal.write_bytes(journal_bytes([start, *kept.state.records[1:]]))
    changed = stored_session(kept.folder).plan
    assert changed is not None
    assert (changed.largest_cup_g, changed.target.value, changed.crew.people) == (300.0, 0.5, 3)
    masses = [[getattr(step, "fibre_mass_fraction", None) for step in plan.steps] for plan in (kept.plan, changed)]
    assert masses[0] != masses[1]


def test_plans_and_resins_that_are_copies_of_each_other_are_read_once(root: Path) -> None:
    first, second = (stored_session(press_day(root, seed=seed)) for seed in (9, 10))
    assert first.sheet is second.sheet
