"""Every cause is found where it is the only one, and nothing is found where nothing went wrong."""

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from inspect import isfunction
from itertools import permutations
from pathlib import Path
from types import SimpleNamespace
from typing import cast, get_args, get_type_hints

import pytest
from casting_days import CAUSES
from session_examples import stamped
from simulate.mishaps import MISHAPS, WARM, changed, later, with_events
from simulate.shop import Day, Script, desk_for, press_day

from layup.planning.fit import fit_of
from layup.review import causes_air, causes_bench, causes_cup
from layup.review.evidence import (
    DEFECTS,
    FITS_DEFECT,
    Cause,
    Evidence,
    Finding,
    Scene,
    defects_of,
    effective_records,
    find,
    rank,
    usual_causes,
)
from layup.review.review import (
    CASTING_DETECTORS,
    DETECTORS,
    NOTHING_FOUND,
    NOTHING_WRONG,
    Review,
    review,
    verdict_line,
)
from layup.session.archive import StoredSession, stored_session
from layup.session.batch_events import BatchMixed, Demoulded, Observation
from layup.session.day_events import SessionEnded, TemperatureRead, Undone
from layup.session.records import fold
from layup.session.state import Event, Outcome

Failed = Callable[[str, int], Review]


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", MISHAPS)
def test_a_seeded_failure_has_its_true_cause_among_the_first_two_findings(failed: Failed, name: str, seed: int) -> None:
    found = failed(name, seed)
    assert MISHAPS[name].cause in [finding.cause for finding in found.findings[:2]]
    assert not found.problems


def test_every_cause_is_seeded() -> None:
    assert {mishap.cause for mishap in MISHAPS.values()} == set(get_args(Cause)) - CAUSES
    assert len(MISHAPS) >= 12


def test_every_detector_is_asked() -> None:
    """One that is written and stands in no list finds nothing, and a cause that others find too hides that."""
    written = {
        function
        for module in (causes_air, causes_bench, causes_cup)
        for name, function in vars(module).items()
        if isfunction(function) and not name.startswith("_")
        if get_type_hints(function) == {"scene": Scene, "return": Iterator[Finding]}
    }
    assert len(written) > 15
    assert written == {*DETECTORS, *CASTING_DETECTORS}


@pytest.mark.parametrize("seed", range(10))
def test_a_clean_session_gives_no_finding(root: Path, seed: int) -> None:
    rng = random.Random(seed)
    day = Day(temperature_K=rng.uniform(289.0, 299.0), humidity=rng.uniform(0.35, 0.65), people=rng.choice([1, 2, 3]))
    figures = desk_for(root, day).figures
    assert figures is not None
    if not fit_of(figures).works:  # one alone in a warm shop: the plan itself says no
        day = replace(day, people=2, temperature_K=293.15)
    found = review(stored_session(press_day(root, day=day, seed=seed)))
    assert [finding.words for finding in found.findings] == []
    assert found.verdict == NOTHING_WRONG


@pytest.mark.parametrize("name", MISHAPS)
def test_every_finding_names_records_that_count_with_their_values_and_says_what_to_change(
    failed: Failed, name: str
) -> None:
    found = failed(name, 2)
    counted = {entry.seq: entry for entry in effective_records(found.stored.state)}
    for finding in found.findings:
        assert finding.evidence
        assert [one.seq for one in finding.evidence] == sorted({one.seq for one in finding.evidence})
        for one in finding.evidence:
            assert counted[one.seq].at_s == one.at_s
            assert one.words
        assert finding.size > 0.0
        assert finding.words.endswith(".")
        assert finding.effect.endswith(".")
        assert finding.change.endswith(".")
    assert len({finding.cause for finding in found.findings}) == len(found.findings)


def test_evidence_carries_the_readings_themselves(failed: Failed) -> None:
    finding = failed("much hardener", 1).findings[0]
    assert finding.cause == "off ratio"
    assert "20 %" in finding.words
    assert "Left like this it gels at 63 % reacted, not 58 %, and softens near" in finding.effect
    mixed, laid = finding.evidence
    assert mixed.words.startswith("batch 2 hardener in")
    assert laid.words == "batch 2 on the part"


def test_a_larger_effect_is_a_larger_finding(root: Path) -> None:
    def late(minutes: float) -> Finding:
        def slow(script: Script) -> Script:
            return later(script, script.done_s[4] - 1.0, minutes * 60.0)

        return review(stored_session(press_day(root, day=WARM, mishap=slow, seed=3))).findings[0]

    small, large = late(10.0), late(20.0)
    assert (small.cause, large.cause) == ("slow step", "slow step")
    assert large.size > 1.5 * small.size


def test_what_was_taken_back_is_no_evidence(root: Path) -> None:
    def mistaken(script: Script) -> Script:
        wrong = TemperatureRead(place="air", temperature_K=313.15)
        before = 4 + sum(at_s <= 700.0 for at_s, _ in script.events)  # start, opened, air and humidity come first
        return with_events(script, (700.0, wrong), (705.0, Undone(undone_seq=before + 1)))

    kept = stored_session(press_day(root, day=WARM, mishap=mistaken, seed=3))
    hot = [
        record for record in kept.state.records if isinstance(record, TemperatureRead) and record.temperature_K > 310.0
    ]
    assert [record.seq in kept.state.cancelled for record in hot] == [True]
    assert review(kept).findings == ()


def test_a_cup_seen_runny_as_it_was_emptied_beats_the_model(root: Path) -> None:
    def slow_resin(script: Script) -> Script:
        lot = changed(script, lambda t, e: [] if isinstance(e, Observation) else [(t, e)])
        held = later(lot, script.done_s[4] - 1.0, 14.0 * 60.0)
        emptied_s = next(t for t, e in held.events if e.event == "batch-poured-out" and e.batch == 1)
        return with_events(held, (emptied_s - 20.0, Observation(batch=1, word="runny")))

    found = review(stored_session(press_day(root, day=WARM, mishap=slow_resin, seed=3)))
    assert "past thickening" not in [finding.cause for finding in found.findings]


def test_a_defect_without_a_trace_says_so_and_names_the_entries_that_would_have_told(root: Path) -> None:
    def unseen(script: Script) -> Script:
        silent = changed(script, lambda t, e: [] if e.event in ("observation", "cup-temperature-read") else [(t, e)])
        return with_events(silent, (script.closed_s + 400.0, Outcome(tags=("tacky",))))

    found = review(stored_session(press_day(root, mishap=unseen, seed=2)))
    assert found.findings == ()
    assert found.verdict == NOTHING_FOUND
    entries = [missing.entry for missing in found.missing]
    assert "when the part came out" in entries
    assert "the temperature of the mould after closing" in entries
    assert not any("cup" in entry for entry in entries), "a cup's looks do not tell why a part is tacky"
    assert "the humidity of the shop" not in entries, "it was logged"


def a_finding(cause: Cause, size: float = 1.0) -> Finding:
    return Finding(cause, "w.", "e.", "c.", size, "certain", (Evidence(1, 0.0, "x"),))


def test_a_cause_stands_above_what_follows_from_it_however_large_that_is() -> None:
    found = rank([a_finding("closed late", 5.0), a_finding("past thickening", 4.0), a_finding("slow step", 1.0)], ())
    assert [finding.cause for finding in found] == ["slow step", "past thickening", "closed late"]


@pytest.mark.parametrize("slow_min", [0.0, 15.0, 53.0, 98.0])
def test_a_part_pulled_before_its_mix_gelled_is_led_by_its_cure_however_slow_a_step_was(
    root: Path, slow_min: float
) -> None:
    def pulled(script: Script) -> Script:
        slow = later(script, script.done_s[4] - 1.0, slow_min * 60.0) if slow_min else script
        out_s = max(at_s for at_s, event in slow.events if event.event == "press-closed") + 7 * 60.0
        running = changed(slow, lambda t, e: [] if e.event == "session-ended" else [(t, e)])
        return with_events(
            running,
            (out_s, Demoulded()),
            (out_s + 60.0, SessionEnded()),
            (out_s + 120.0, Outcome(tags=("delamination",))),
        )

    found = review(stored_session(press_day(root, day=WARM, mishap=pulled, seed=3))).findings
    assert found[0].cause == "cure cut short"
    assert found[0].words.startswith("The part left the mould 7 min after closing, at 24 °C; it was due after 22 h")
    assert found[0].words.endswith(" Its mix had not gelled.")
    assert found[0].certainty == "certain"
    assert [one.words for one in found[0].evidence][-1] == "demoulded"
    assert ("slow step" in [finding.cause for finding in found]) == (slow_min > 0.0)


def test_what_a_slow_step_was_planned_for_beside_its_own_minutes_is_said(root: Path) -> None:
    def slow(step: int) -> str:
        def late(script: Script) -> Script:
            return later(script, script.done_s[step] - 1.0, 12.0 * 60.0)

        found = review(stored_session(press_day(root, day=Day(people=1), mishap=late, seed=3)))
        assert found.track is not None
        waits = [one.number for one in found.track.steps if one.planned.took_s > 1.1 * planned_s(found, one.number)]
        assert waits == [9], "the second batch is mixed before it"
        return next(one.words for one in found.findings if one.cause == "slow step")

    def planned_s(found: Review, number: int) -> float:
        return next(one.plan.planned_s for one in found.stored.state.steps if one.number == number)

    assert slow(4).endswith("where 14 min were planned.")
    assert slow(9).endswith("where 8 min were planned: 4 min as the plan has it, 4 min more for mixing and waiting.")


def test_a_slow_step_on_a_day_on_which_nothing_was_late_stands_below_what_did_harm() -> None:
    harm = [a_finding("slow step", 6.0), a_finding("dew or blush", 1.1), a_finding("cure cut short", 2.0)]
    assert [one.cause for one in rank(harm, ("delamination",))] == ["cure cut short", "dew or blush", "slow step"]
    late = [*harm, a_finding("closed late", 4.0)]
    assert next(iter(rank(late, ("delamination",)))).cause == "slow step", "it is what made the closing late"


def test_causes_that_all_count_as_the_worst_stand_in_the_order_of_harm_and_not_of_their_names() -> None:
    found = [a_finding("cup too hot", 7.0), a_finding("mould outside the window", 8.0), a_finding("off ratio", 20.0)]
    orders = {tuple(one.cause for one in rank(order, ())) for order in permutations(found)}
    assert orders == {("off ratio", "mould outside the window", "cup too hot")}
    alike = [
        replace(a_finding("cup too hot", 7.0), lost_s=60.0),
        replace(a_finding("mould outside the window", 7.0), lost_s=600.0),
    ]
    assert [one.lost_s for one in rank(alike, ())] == [600.0, 60.0]


def test_a_silence_stands_below_whatever_did_harm_however_long_it_was() -> None:
    small = replace(a_finding("ratio unread", 1.0), certainty="possible", lost_g=250.0)
    assert [one.cause for one in rank([a_finding("gap in the log", 6.0), small], ("tacky",))] == [
        "ratio unread",
        "gap in the log",
    ]


def test_of_several_batches_the_worst_is_told_first_however_bad_the_others_are() -> None:
    scene = cast(Scene, SimpleNamespace(defects=()))
    worst, bad = (replace(a_finding("off ratio", size), words=f"{size:.0f}.") for size in (20.0, 7.0))
    for order in ((worst, bad), (bad, worst)):
        (one,) = find(scene, [lambda _, order=order: iter(order)])
        assert (one.words, one.also) == ("20.", ("7.",))


def test_the_earlier_a_part_is_pulled_the_larger_the_finding(root: Path) -> None:
    def out_after(hours: float) -> Finding:
        def pulled(script: Script) -> Script:
            return with_events(script, (script.closed_s + hours * 3600.0, Demoulded()))

        found = review(stored_session(press_day(root, day=WARM, mishap=pulled, seed=3))).findings
        return next(one for one in found if one.cause == "cure cut short")

    sizes = [out_after(hours).size for hours in (20.0, 12.0, 6.0, 0.2)]
    assert sizes == sorted(sizes)
    assert len(set(sizes)) == len(sizes)


def test_what_usually_makes_the_recorded_defect_stands_above_what_does_not() -> None:
    both = [a_finding("cure cut short", 1.2), a_finding("starved", 1.0)]
    assert [finding.cause for finding in rank(both, ())] == ["cure cut short", "starved"]
    assert [finding.cause for finding in rank(both, ("dry spot",))] == ["starved", "cure cut short"]
    assert FITS_DEFECT > 1.0


def test_the_order_of_detectors_does_not_matter() -> None:
    causes: list[Cause] = ["off ratio", "slow step", "closed late", "dew or blush", "starved"]
    found = [a_finding(cause, size) for cause, size in zip(causes, (1.0, 1.0, 2.0, 2.0, 0.5), strict=True)]
    orders = {tuple(one.cause for one in rank(random.Random(seed).sample(found, 5), ())) for seed in range(20)}
    assert len(orders) == 1


def test_the_defects_are_the_words_of_the_trade_and_each_has_usual_causes() -> None:
    assert {"dry spot", "void", "delamination", "starved", "resin-rich", "tacky", "scorched", "twist"} <= set(DEFECTS)
    for defect in DEFECTS.values():
        assert defect.comes_from <= set(get_args(Cause))
        assert defect.comes_from
    assert defects_of(("good", "tacky", "pretty")) == ("tacky",)
    assert usual_causes(()) == frozenset()


def test_a_mixed_batch_of_which_nothing_more_is_told_is_a_gap(root: Path) -> None:
    kept = stored_session(press_day(root, seed=2))
    events: list[Event] = []
    for record in kept.state.records:
        if record.event == "batch-poured-out" and getattr(record, "batch", 0) == 2:
            continue
        events.append(record)
    state = fold([record for record in kept.state.records if record in events])
    found = review(StoredSession(kept.folder, state, kept.plan, kept.sheet, ()))
    gap = [finding for finding in found.findings if finding.cause == "gap in the log"]
    assert ["batch 2" in finding.words for finding in gap] == [True]


def test_a_batch_that_was_lost_was_not_mixed_off_ratio_into_the_part(root: Path) -> None:
    kept = stored_session(press_day(root, seed=2))
    start = next(record for record in kept.state.records if record.event == "session-started")
    bad = BatchMixed(batch=1, resin_g=200.0, hardener_g=120.0, start_K=293.15)
    records = [start, *(replace_seq(record, n) for n, record in enumerate(stamped([bad]), 2))]
    found = review(StoredSession(kept.folder, fold(records), kept.plan, kept.sheet, ()))
    assert "off ratio" not in [finding.cause for finding in found.findings]


def replace_seq(record, seq: int):
    return record.model_copy(update={"seq": seq, "elapsed_s": 60.0 * seq})


@pytest.mark.parametrize("ended", [False, True])
def test_a_running_day_is_still_running_and_lacks_no_mix_that_may_still_come(root: Path, ended: bool) -> None:
    def stops_before_the_press(script: Script) -> Script:
        cut = changed(script, lambda t, e: [(t, e)] if t <= script.done_s[4] else [])
        return with_events(cut, (script.done_s[4] + 60.0, SessionEnded())) if ended else cut

    found = review(stored_session(press_day(root, day=WARM, mishap=stops_before_the_press, seed=3)))
    assert found.track is not None
    assert any(batch.used for batch in found.track.batches)
    assert ("starved" in [finding.cause for finding in found.findings]) == ended
    assert verdict_line(found).startswith("Never closed" if ended else "Still running")
