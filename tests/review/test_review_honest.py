"""A review claims no more than the log shows: what was left open, how sure a cause is, and what it cannot explain."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from simulate.mishaps import MISHAPS, WARM, changed, cup_left_standing, press_will_not_shut, rain_outside, with_events
from simulate.shop import Day, Mishap, Script, desk_for, press_day

from layup.bench.forecast import outlook_of, part_under_press
from layup.bench.opening import begin
from layup.commands.review import review_data
from layup.planning.night import overnight
from layup.report.render import markdown
from layup.report.report_blocks import report_blocks, review_lines
from layup.review.evidence import Cause, Finding
from layup.review.review import Review, review
from layup.session.archive import stored_session
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    Demoulded,
    PressClosed,
    Replanned,
    StepDone,
)
from layup.session.clock import ManualClock
from layup.session.day_events import HumidityRead, TemperatureRead
from layup.session.mass_balance import batch_plans
from layup.session.state import Event, NightExpected, Outcome, PartWeighed
from layup.units import minutes


def looked_back(root: Path, mishap: Mishap, *tags: str, day: Day = WARM) -> Review:
    def told(script: Script) -> Script:
        bad = mishap(script)
        end_s = max(at_s for at_s, _ in bad.events)
        return with_events(bad, (end_s + 60.0, Outcome(tags=tags))) if tags else bad

    return review(stored_session(press_day(root, day=day, mishap=told, seed=3)))


def the(kind: Cause, found: Review) -> Finding:
    (finding,) = [finding for finding in found.findings if finding.cause == kind]
    return finding


def without(*wanted: tuple[type[Event], int]) -> Mishap:
    """Return what leaves out the events of a kind that are about one batch or step."""

    def change(script: Script) -> Script:
        def about(event: Event) -> int:
            return getattr(event, "batch", 0) or getattr(event, "step", 0)

        left = (timed for timed in script.events if (type(timed[1]), about(timed[1])) not in wanted)
        return replace(script, events=tuple(left))

    return change


def second_batch_never_mixed(script: Script) -> Script:
    """The press is closed with the first batch only; the steps of the second were never done."""
    rest = script.figures.split.batches[1]
    steps = {step for batch, step, _, _ in script.lay if batch == rest.number}
    dropped = without(*((StepDone, step) for step in steps))(script)
    return replace(dropped, events=tuple(timed for timed in dropped.events if getattr(timed[1], "batch", 0) != 2))


def test_steps_that_got_no_mix_before_the_press_was_closed_are_named_as_the_first_finding(root: Path) -> None:
    for tags in ((), ("dry spot",), ("tacky",)):
        found = looked_back(root, second_batch_never_mixed, *tags)
        first = found.findings[0]
        assert (first.cause, first.certainty) == ("starved", "certain")
        assert first.words == (
            "By the log no mix was laid for 'Paulownia, upper face', 'Carbon strip', 'Upper glass', 'Veneer' before "
            "the press was closed, nor were they logged as done. Not logged as done before the press was closed: "
            "'Release film and caul'."
        )
        assert any("less than planned" in words for words in first.also), "the grams stand in the same finding"
        assert found.verdict == first.words
        assert any(one.words == "press closed" for one in first.evidence)


def test_a_batch_mixed_of_which_nothing_more_is_told_leaves_it_only_likely_that_its_steps_are_dry(root: Path) -> None:
    def no_end(script: Script) -> Script:
        steps = {step for batch, step, _, _ in script.lay if batch == 2}
        return without((BatchPouredOut, 2), *((StepDone, step) for step in steps))(script)

    assert the("starved", looked_back(root, no_end)).certainty == "likely"


def test_steps_done_with_a_mixed_batch_have_its_mix_though_nobody_logged_its_cup_empty(root: Path) -> None:
    found = looked_back(root, without((BatchPouredOut, 2)))
    assert not [one for one in found.findings if one.cause == "starved"]
    assert "what became of batch 2" in the("gap in the log", found).words


def test_a_part_that_weighs_as_planned_is_not_called_starved_for_a_batch_that_was_not_logged(root: Path) -> None:
    def weighed(script: Script) -> Script:
        grams = script.figures.budget
        kept_g = sum(line.on_part_g + line.offcut_g for line in grams.lines)
        on_scale = PartWeighed(part_g=round(2600.0 + kept_g), dry_g=2600.0)
        return with_events(second_batch_never_mixed(script), (script.closed_s + 24 * 3600.0, on_scale))

    found = looked_back(root, weighed)
    assert "starved" not in [finding.cause for finding in found.findings]
    assert "The part holds its resin all the same." in the("gap in the log", found).words


def test_a_step_that_was_not_logged_as_done_is_named_though_its_mix_was_laid(root: Path) -> None:
    gap = the("gap in the log", looked_back(root, without((StepDone, 5))))
    assert gap.words.startswith("Not logged as done before the press was closed: '")
    assert gap.words.count("'") == 2


def test_what_no_finding_explains_is_said_with_the_entries_that_would_have_told(root: Path) -> None:
    found = looked_back(root, cup_left_standing, "dry spot", "tacky")
    assert found.findings[0].cause == "past thickening"
    assert found.unexplained == ("tacky",)
    said = " ".join(" ".join(review_lines(found, width=100)).split())
    assert "No cause found for: tacky. These entries would have told:" in said
    assert "when the part came out" in said
    assert "No cause found for: tacky" in markdown(report_blocks(found))
    data = review_data(found)
    assert data["unexplained"] == ("tacky",)
    assert data["would_have_told"]
    explained = looked_back(root, cup_left_standing, "dry spot")
    assert explained.unexplained == ()
    assert "No cause found" not in "\n".join(review_lines(explained, width=100))
    assert review_data(explained)["would_have_told"] == []


@pytest.mark.parametrize(("tags", "certainty"), [((), "certain"), (("void",), "certain"), (("scorched",), "likely")])
def test_what_only_the_model_says_is_certain_where_it_fits_how_the_part_turned_out(
    root: Path, tags: tuple[str, ...], certainty: str
) -> None:
    assert the("closed late", looked_back(root, press_will_not_shut, *tags)).certainty == certainty


def test_a_good_part_makes_what_only_the_model_says_less_than_certain(root: Path) -> None:
    assert the("closed late", looked_back(root, press_will_not_shut, "good")).certainty == "likely"


def test_mix_that_was_lost_never_reached_the_part_and_its_age_by_the_model_is_not_certain(root: Path) -> None:
    def left(lost: bool) -> Mishap:
        def change(script: Script) -> Script:
            at_s = script.contact_s[2] + 3 * 3600.0
            out = BatchLost(batch=2, laid_g=0.0) if lost else BatchPouredOut(batch=2)
            quiet = replace(script, events=tuple(
                (at_s + 60.0 if isinstance(e, PressClosed) else at_s + 300.0 if e.event == "session-ended" else t, e)
                for t, e in script.events
                if not (getattr(e, "batch", 0) == 2 and not isinstance(e, BatchMixed))
            ))  # fmt: skip
            return with_events(quiet, (at_s, out))

        return change

    assert the("past thickening", looked_back(root, left(lost=False))).certainty == "certain"
    assert the("past thickening", looked_back(root, left(lost=True))).certainty == "likely"


def test_a_humidity_that_was_set_on_stack_and_never_measured_is_only_a_possible_cause_of_dew(root: Path) -> None:
    measured = the("dew or blush", looked_back(root, rain_outside, "delamination"))
    assert measured.certainty == "certain"
    assert "set on Stack" not in measured.words

    def only_set(script: Script) -> Script:
        rain = rain_outside(script)
        return replace(rain, events=tuple(timed for timed in rain.events if not isinstance(timed[1], HumidityRead)))

    damp = the("dew or blush", looked_back(root, only_set, "delamination", day=replace(WARM, humidity=0.92)))
    assert damp.certainty == "possible"
    assert "The humidity was set on Stack, and not measured." in damp.words


def test_a_shop_as_warm_as_it_was_planned_for_is_no_finding_though_its_plan_does_not_work_there(root: Path) -> None:
    def warmer(by_K: float) -> Mishap:
        return lambda script: with_events(
            script, (700.0, TemperatureRead(place="air", temperature_K=HOT.temperature_K + by_K))
        )

    assert "shop outside the window" not in [one.cause for one in looked_back(root, warmer(0.9), day=HOT).findings]
    finding = the("shop outside the window", looked_back(root, warmer(1.2), day=HOT))
    assert "The shop reached 32 °C, where the plan was made for 31 °C." in finding.words
    assert " 0 % " not in finding.effect


HOT = Day(temperature_K=304.15)
"""Warmer than the demo's plan works in."""


def test_a_part_out_too_soon_was_due_when_press_and_cure_said_so_with_the_night_that_was_expected(root: Path) -> None:
    planner = desk_for(root, Day(temperature_K=291.15, start=datetime(2026, 4, 1, 8, 0, tzinfo=UTC)))
    assert planner.figures is not None
    clock = ManualClock(datetime(2026, 4, 1, 8, 0, tzinfo=UTC))
    day = begin(planner, planner.figures, clock)
    mixed = BatchMixed(batch=1, resin_g=200.0, hardener_g=60.0, start_K=291.15)
    for minute, event in enumerate((mixed, BatchPouredOut(batch=1), PressClosed(), NightExpected(coldest_K=277.15))):
        clock.advance(600.0 * minute)
        assert day.log(event, "").done
    clock.advance(6 * 3600.0)
    day.tick()
    part = part_under_press(day)
    assert part is not None
    due = overnight(part, outlook_of(day)).ready
    assert day.log(Demoulded(), "").done
    day.close()
    found = the("cure cut short", review(stored_session(day.folder)))
    assert f"it was due after {minutes(due.out_s.likely)}, with the night at 4 °C that was expected." in found.words
    unexpected = overnight(part, replace(outlook_of(day), night_K=None)).ready
    assert due.out_s.likely > 2.0 * unexpected.out_s.likely, "the night is what makes it long"
    assert "tonight down to 4.0 °C" in [one.words.partition(",")[0] for one in found.evidence]


@pytest.mark.parametrize("alone", [False, True])
def test_a_step_that_two_batches_lay_does_not_tell_how_long_the_second_was_stirred(root: Path, *, alone: bool) -> None:
    def told(script: Script) -> Script:
        """The last step of batch 1 is done 26 s after the hardener of batch 2, which lays some of it, or all."""
        split = script.figures.split
        one, two, *more = batch_plans(split, range(1, len(script.figures.plan.steps) + 1))
        last = one.steps[-1]
        kept = {"steps": one.steps[:-1], "shares": one.shares[:-1]} if alone else {}
        both = two.model_copy(update={"steps": (last, *two.steps), "shares": (0.6, *two.shares)})
        early_s = script.contact_s[2] + 26.0
        early = changed(script, lambda t, e: [(early_s if isinstance(e, StepDone) and e.step == last else t, e)])
        return with_events(early, (30.0, Replanned(batches=(one.model_copy(update=kept), both, *more))))

    stirred = [finding.words for finding in looked_back(root, told).findings if finding.cause == "hardly stirred"]
    assert len(stirred) == alone, "only a step that it alone lays tells that it was laid"
    assert all(words.startswith("Batch 2, ") and "was laid 0:26 after its hardener" in words for words in stirred)


def test_every_seeded_failure_explains_its_own_defects(failed: Callable[[str, int], Review]) -> None:
    for name, mishap in MISHAPS.items():
        unexplained = set(failed(name, 1).unexplained)
        assert unexplained < set(mishap.tags) or mishap.cause == "gap in the log", name
