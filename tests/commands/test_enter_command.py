"""A day on paper is entered afterwards with its true times; all of it, or nothing."""

import io
import sys
from dataclasses import replace
from typing import get_args

import pytest

from layup.bench.planner import Planner
from layup.chemistry.calibration import calibrate
from layup.chemistry.looks import LOOKS, Edge
from layup.commands import enter
from layup.review.pace import worked_in
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.clock import ManualClock
from layup.session.lifetimes import lives_of_day

PAPER = """
50 min ago scale 1 200 g 60 g
48 min ago hardener 1
40 min ago done
35 min ago done
45 min ago looks 1 runny
30 min ago empty 1
25 min ago air 21.5 C
22 min ago cup 1 24 C
20 min ago humidity 55 %
15 min ago people 1
12 min ago closed
10 min ago mould 24 C
5 min ago note the roller was dry
"""


@pytest.fixture
def begun(say, workshop, monkeypatch):
    clock = ManualClock()
    monkeypatch.setattr(enter, "SystemClock", lambda: clock)
    assert say("enter", "touring-skis", "--began", "60 min ago", "--temp", "19 C", "--people", "2", "note on").code == 0
    (folder,) = (path for path in (workshop / "sessions").iterdir() if path.name[:2] == "20")
    return folder


def state_of(folder):
    return stored_session(folder).state


def test_a_day_of_which_one_entry_cannot_be_is_not_begun(say, workshop):
    before = sorted((workshop / "sessions").iterdir())
    said = say("enter", "touring-skis", "--began", "60 min ago", "note on", "50 min ago empty 1")
    assert said.code == 2
    assert "nothing was entered" in said.err
    assert said.out == ""
    assert sorted((workshop / "sessions").iterdir()) == before


def test_a_day_on_paper_is_entered_with_its_times(say, begun, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO(PAPER))
    said = say("enter", begun.name, "-")
    assert (said.code, said.err) == (0, "")
    state = state_of(begun)
    assert state.misfits == ()
    batch = state.batch(1)
    assert (batch.mixed_s, batch.poured_out_s) == (pytest.approx(720.0), pytest.approx(1800.0))
    assert batch.start_K == pytest.approx(292.15), "the shop as it was when the batch was mixed"
    assert state.closed_s == pytest.approx(2880.0)
    assert [step.took_s for step in state.steps[:2]] == [pytest.approx(1200.0), pytest.approx(300.0)]
    assert state.people == 1
    assert not state.start.hazards_acknowledged, "nobody was shown the cautions"
    assert not state.clock_unsure
    times = [line.partition("  ")[0] for line in said.out.splitlines()]
    assert len(times) == 13
    found = review(stored_session(begun))
    assert found.track.batches[0].contact_s == pytest.approx(720.0)
    assert worked_in(found.stored.state, found.stored.plan) is not None


def test_where_one_entry_cannot_be_nothing_is_entered(say, begun):
    refused = say("enter", begun.name, "50 min ago hardener 1", "12 min ago closed", "10 min ago empty 1")
    assert refused.code == 2
    assert "batch 1 on the part: cannot be entered (the press is closed - no more resin gets onto the part)" in (
        refused.complaint
    )
    assert [record.event for record in state_of(begun).records if not record.any_time][3:] == []


def test_the_order_on_the_sheet_does_not_matter(say, begun):
    said = say("enter", begun.name, "12 min ago closed", "50 min ago hardener 1", "30 min ago empty 1")
    assert said.code == 0
    assert state_of(begun).batch(1).status == "under press"
    assert "! batch 1 is on the part, UNREAD: its mark stays" in said.out


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ("banana", "entry: is not understood"),
        ("61 min ago hardener 1", "before the session began"),
        ("hardener", "says no batch"),
        ("hardener 9", "names no batch of this day"),
        ("hardener one", "is no whole number"),
        ("scale 1 200", "is not understood (200) - scale BATCH RESIN"),
        ("scale 1 200 g 60 g 5 g", "is not understood"),
        ("looks 1 blue", "looks: cannot be right (blue) - looks BATCH runny"),
        ("empty 1", "batch 1 is not mixed yet"),
        ("done 99", "there is no step 99"),
        ("mould 300 C", "must be between"),
    ],
)
def test_an_entry_that_makes_no_sense_is_refused_with_how_it_is_written(say, begun, entry, why):
    refused = say("enter", begun.name, entry)
    assert refused.code == 2
    assert refused.complaint.startswith("nothing was entered:")
    assert why in refused.complaint


def test_what_only_begins_a_day_is_refused_without_its_time(say, begun):
    assert "takes --temp only with --began" in say("enter", begun.name, "--temp", "19 C", "closed").complaint
    assert "began: is no time" in say("enter", "touring-skis", "--began", "25 min", "closed").complaint


def test_steps_left_out_merged_and_added_are_entered(say, begun):
    first, second, third = [step.number for step in state_of(begun).steps[:3]]
    entries = ("55 min ago hardener 1", f"54 min ago merge {first}", f"53 min ago add {third} 3 min 20 g a patch")
    assert say("enter", begun.name, *entries, "50 min ago done", f"45 min ago skip {third} cloth torn").code == 0
    state = state_of(begun)
    patch = state.steps[2]
    assert (patch.plan.name, patch.plan.planned_s, patch.mix_g, patch.left) == ("a patch", 180.0, 20.0, True)
    assert state.step(first).done_s == state.step(second).done_s
    assert state.step(third).skipped_s is not None
    assert "is not understood" in say("enter", begun.name, f"add {third + 1} patch").complaint
    assert "no step comes after" in say("enter", begun.name, f"merge {state.steps[-1].number}").complaint


def test_a_step_is_not_entered_before_the_one_that_comes_first_was_done(say, begun):
    first, second = state_of(begun).steps[:2]
    assert say("enter", begun.name, f"40 min ago done {first.number}").code == 0
    said = say("enter", begun.name, f"50 min ago done {second.number}")
    assert (said.code, state_of(begun).step(second.number).done_s) == (2, None)
    assert f"{first.plan.name} comes first, and was done at" in said.err
    assert say("enter", begun.name, f"30 min ago done {second.number}").code == 0


def test_what_was_done_at_the_closed_press_and_what_was_left_in_a_cup_are_entered(say, begun):
    last = state_of(begun).batch(1).plan.steps[-1]
    steps = [step.number for step in state_of(begun).steps]
    done = [f"{55 - place} min ago done" for place, _ in enumerate(steps[: steps.index(last)])]
    entries = ("58 min ago hardener 1", *done, "30 min ago left 1 40 g", "28 min ago closed", "27 min ago tightened")
    assert say("enter", begun.name, *entries, "20 min ago retightened").code == 0
    state = state_of(begun)
    assert state.batch(1).left_g == 40.0
    assert (state.tightened, state.retightened) == ((33 * 60.0,), (40 * 60.0,))


def test_mix_left_in_a_cup_is_credited_to_the_steps_to_come_and_less_is_mixed(say, begun):
    day = state_of(begun)
    first, second = day.batches[:2]
    done = [f"{45 - place} min ago done {step}" for place, step in enumerate(first.steps)]
    assert say("enter", begun.name, "55 min ago scale 1 280 g 84 g", "54 min ago hardener 1", *done).code == 0
    said = say("enter", begun.name, "30 min ago left 1 60 g")
    assert (said.code, said.err) == (0, "")
    state = state_of(begun)
    batch = state.batch(1)
    assert state.misfits == ()
    assert (batch.left_g, batch.left_s) == (60.0, pytest.approx(1800.0))
    assert batch.left_for, "it goes to steps to come"
    assert state.batch(2).plan.mass_g < second.plan.mass_g
    assert [record.event for record in state.records[-2:]] == ["mix-left", "replanned"]


def test_a_loss_and_the_masses_poured_are_taken_from_the_sheet(say, begun):
    entries = ("50 min ago hardener 1 210 g 62 g", "30 min ago lost 1 40 g gelled in the cup")
    assert say("enter", begun.name, *entries).code == 0
    batch = state_of(begun).batch(1)
    assert (batch.resin_g, batch.hardener_g) == (210.0, 62.0)
    assert (batch.lost_laid_g, batch.lost_why) == (40.0, "gelled in the cup")


@pytest.mark.parametrize("word", LOOKS)
def test_each_look_is_entered_ends_the_life_that_it_says_and_is_drawn_and_told(say, begun, tmp_path, word):
    """So that a word that `LOOKS` gets is known everywhere; the question of the app is asked in tests/ui."""
    assert say("enter", begun.name, "50 min ago hardener 1", f"45 min ago looks 1 {word}").code == 0
    kept = stored_session(begun)
    (seen,) = kept.state.batch(1).observations
    assert seen[1] == word
    over_s = lives_of_day(kept.state, calibrate(kept.sheet)).alive[1].over_s
    assert {edge for edge in get_args(Edge) if getattr(over_s, edge) <= seen[0]} == {*LOOKS[word].past_in_cup}
    assert say("export", begun.name, str(tmp_path / "day.html")).code == 0
    assert f">{LOOKS[word].letter}</text>" in (tmp_path / "day.html").read_text(encoding="utf-8")
    assert say("view", begun.name, "--json").data["cups"][0]["looks"] == word


def test_a_day_done_by_the_sheet_begins_with_the_dials_that_the_sheet_was_printed_with(say, workshop):
    desk = Planner(workshop, plan="touring-skis")
    desk.load()
    assert desk.change(replace(desk.settings, people=3, cup_g=400.0)) == ""
    desk.keep()
    planned_g = [batch["mass_g"] for batch in say("sheet", "touring-skis", "--json").data["batches"]]
    assert say("enter", "touring-skis", "--began", "60 min ago", "note on").code == 0
    (folder,) = (path for path in (workshop / "sessions").iterdir() if path.name[:2] == "20")
    state = state_of(folder)
    assert state.people == 3
    assert [batch.plan.mass_g for batch in state.batches] == pytest.approx(planned_g)
