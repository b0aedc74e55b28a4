"""Laws of looking back: no journal breaks it, evidence exists, means lie between what they are made of."""

from __future__ import annotations

import csv
import io
import json
from math import isfinite, sqrt
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from session_examples import stamped, start

from layup.chemistry.calibration import calibrate
from layup.files.workshop import Workshop, demo_root
from layup.report.charts import Chart
from layup.report.render import FORMULA_STARTS, csv_text, html, json_lines, markdown, safe_cell
from layup.report.report_blocks import report_blocks, review_lines
from layup.review.as_built import Estimate, carried
from layup.review.compare import compare
from layup.review.evidence import (
    DEFECTS,
    Cause,
    Evidence,
    Finding,
    Scene,
    effective_records,
    rank,
    without_slips,
)
from layup.review.lessons import lessons_of
from layup.review.pace import posterior_mean, posterior_means, spread_of
from layup.review.review import DETECTORS, review
from layup.session.archive import StoredSession
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    Observation,
    PressClosed,
    StepDone,
)
from layup.session.day_events import HumidityRead, PeopleChanged, SessionEnded, TemperatureRead, Undone
from layup.session.records import fold
from layup.session.state import CouponBurnt, Event, Outcome, PartWeighed, ThicknessMeasured

SHOP = Workshop(demo_root())
PLAN, SHEET = SHOP.plan("touring-skis"), SHOP.resin("slow-laminating")
RESIN = calibrate(SHEET)

small, grams, kelvin = st.integers(1, 4), st.floats(0.1, 900.0), st.floats(255.0, 420.0)
shares = st.floats(0.01, 0.99)
events = st.one_of(
    st.builds(BatchMixed, batch=small, resin_g=grams, hardener_g=grams, start_K=kelvin),
    st.builds(BatchMixed, batch=small, resin_g=st.just(280.0), hardener_g=st.just(84.0), start_K=st.just(294.0)),
    st.builds(BatchPouredOut, batch=small),
    st.builds(BatchLost, batch=small),
    st.builds(StepDone, step=small),
    st.builds(TemperatureRead, place=st.sampled_from(["air", "resin", "mould"]), temperature_K=kelvin),
    st.builds(HumidityRead, relative_humidity=st.floats(0.0, 1.0)),
    st.builds(Observation, batch=small, word=st.sampled_from(["runny", "thickening", "stringy", "gelled"])),
    st.builds(CupTemperatureRead, batch=small, temperature_K=kelvin),
    st.builds(PeopleChanged, people=small),
    st.builds(PressClosed),
    st.builds(Demoulded),
    st.builds(SessionEnded),
    st.builds(Undone, undone_seq=st.integers(1, 20)),
    st.builds(Outcome, tags=st.lists(st.sampled_from([*DEFECTS, "good", "=x"]), max_size=2).map(tuple)),
    st.builds(lambda dry, resin: PartWeighed(part_g=dry + resin, dry_g=dry), grams, grams),
    st.builds(lambda whole, share: CouponBurnt(coupon_g=whole, residue_g=whole * share), grams, shares),
    st.builds(ThicknessMeasured, thickness_m=st.floats(1e-4, 0.05)),
)
days = st.tuples(st.lists(events, max_size=18), st.sampled_from([5.0, 120.0, 900.0]))


def kept(day: tuple[list[Event], float]) -> StoredSession:
    chosen, every_s = day
    return StoredSession(Path("s"), fold(stamped([start(), *chosen], every_s=every_s)), PLAN, SHEET, ())


a_few = st.lists(events, max_size=4)
mix = BatchMixed(batch=1, resin_g=280.0, hardener_g=84.0, start_K=294.0)
whole_days = st.tuples(
    st.builds(
        lambda a, b, c, d: [*a, mix, *b, BatchPouredOut(batch=1), *c, PressClosed(), *d],
        *(a_few, a_few, a_few, st.lists(events, max_size=6)),
    ),
    st.sampled_from([5.0, 120.0, 900.0, 5000.0]),
)
"""Days that come as far as a closed press, after which a part is measured: most lists of events never do."""
COUPON_ALONE = (
    [mix, BatchPouredOut(batch=1), PressClosed(), CouponBurnt(coupon_g=10.0, residue_g=5.0)],
    120.0,
)

HOT = BatchMixed(batch=3, resin_g=1.0, hardener_g=1.0, start_K=337.0)
LOOKED_AT_WHEN_LOST = ([HOT, BatchLost(batch=3), mix, Observation(batch=3, word="stringy"), PressClosed()], 120.0)


@given(days | whole_days)
@example(COUPON_ALONE)
@example(LOOKED_AT_WHEN_LOST)
@settings(max_examples=80, deadline=None)
def test_no_journal_breaks_the_review_and_every_finding_rests_on_records_that_count(day) -> None:
    session = kept(day)
    found = review(session)
    counted = {entry.seq for entry in effective_records(session.state)}
    by_detector = []
    if found.track is None:
        assert found.problems, "a reading that no plan can be made at"
    else:
        state, day = without_slips(session.state), found.track
        scene = Scene(state, day, PLAN, SHEET, RESIN, day.result, found.as_built, found.defects)
        by_detector = [finding for detector in DETECTORS for finding in detector(scene)]
    for finding in (*found.findings, *by_detector):
        assert finding.evidence, finding.words
        assert {one.seq for one in finding.evidence} <= counted
        assert isfinite(finding.size)
        assert finding.size > 0.0
        assert "± 0.0 %" not in finding.words
    assert found.verdict
    blocks = [*report_blocks(found)]
    for chart in (block for block in blocks if isinstance(block, Chart)):
        ElementTree.fromstring(chart.svg)
    assert html("t", blocks)
    assert markdown(blocks)
    assert all(json.loads(line) for line in json_lines(found).splitlines())
    assert len(list(csv.reader(io.StringIO(csv_text(found))))) == 1 + len(session.state.records)
    assert [*review_lines(found, width=80)]


@given(days, days)
@settings(max_examples=12, deadline=None)
def test_any_two_sessions_can_be_compared_and_learnt_from(one: tuple, other: tuple) -> None:
    sessions = [kept(one), kept(other)]
    left, right = map(review, sessions)
    assert compare(left, left).first is None
    assert {row.topic for row in compare(left, right).rows} == {row.topic for row in compare(right, left).rows}
    lessons = lessons_of(sessions)
    alone = [lessons_of([each]).sessions for each in sessions]
    assert set(alone) <= {0, 1}, "an empty day teaches nothing"
    assert lessons.sessions == sum(alone)
    assert lessons.plan(PLAN).steps


finding_lists = st.lists(
    st.builds(
        lambda cause, size, certainty: Finding(cause, "w", "e", "c", size, certainty, (Evidence(1, 0.0, "x"),)),
        st.sampled_from(Cause.__args__),
        st.floats(0.1, 9.0),
        st.sampled_from(["certain", "likely", "possible"]),
    ),
    max_size=8,
    unique_by=lambda finding: finding.cause,
)


@given(finding_lists, st.lists(st.sampled_from(sorted(DEFECTS)), max_size=2), st.randoms())
def test_ranking_keeps_all_findings_and_does_not_depend_on_their_order(found, defects, rng) -> None:
    ranked = rank(found, defects)
    assert sorted(ranked, key=repr) == sorted(found, key=repr)
    shuffled = list(found)
    rng.shuffle(shuffled)
    assert [one.cause for one in rank(shuffled, defects)] == [one.cause for one in ranked]


values = st.lists(st.floats(-3.0, 3.0), max_size=12)
sds = st.floats(0.01, 2.0)


@given(st.floats(-3.0, 3.0), sds, values, sds)
def test_a_pulled_mean_lies_between_prior_and_values_and_is_surer_than_either(prior, prior_sd, found, spread) -> None:
    learnt = posterior_mean(prior, prior_sd, found, spread)
    assert learnt.sessions == len(found)
    assert learnt.sd <= prior_sd * (1 + 1e-12)
    if found:
        mean = sum(found) / len(found)
        assert min(prior, mean) - 1e-9 <= learnt.mean <= max(prior, mean) + 1e-9
        assert learnt.sd <= spread / sqrt(len(found)) * (1 + 1e-12)
    else:
        assert learnt.mean == pytest.approx(prior)


@given(st.dictionaries(st.sampled_from(["fabric", "bond", "place"]), values, min_size=1), sds, sds, sds)
def test_kinds_lie_within_all_that_was_seen_and_zero(kinds, group_sd, kind_sd, spread) -> None:
    found = posterior_means(kinds, group_sd=group_sd, kind_sd=kind_sd, spread=spread)
    every = [0.0, *(value for group in kinds.values() for value in group)]
    for learnt in found.values():
        assert min(every) - 1e-9 <= learnt.mean <= max(every) + 1e-9
        assert 0.0 < learnt.sd <= sqrt(group_sd**2 + kind_sd**2) * (1 + 1e-9)


@given(st.lists(values, max_size=4), sds)
def test_a_spread_lies_between_what_is_usual_and_what_was_seen(groups, prior) -> None:
    squares = [(value - sum(group) / len(group)) ** 2 for group in groups for value in group]
    free = sum(len(group) - 1 for group in groups if group)
    found = spread_of(groups, prior)
    seen = sqrt(sum(squares) / free) if free else prior
    assert min(prior, seen) * (1 - 1e-9) <= found <= max(prior, seen) * (1 + 1e-9)


@given(st.floats(-5.0, 5.0), st.floats(-5.0, 5.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_an_uncertainty_through_a_straight_rule_is_exact(a, b, sd_a, sd_b) -> None:
    found = carried(lambda x, y: 2.0 * x - 3.0 * y + 1.0, Estimate(a, sd_a), Estimate(b, sd_b))
    assert found.value == pytest.approx(2.0 * a - 3.0 * b + 1.0)
    assert found.sd == pytest.approx(sqrt((2.0 * sd_a) ** 2 + (3.0 * sd_b) ** 2), abs=1e-9)


@given(st.text())
def test_no_text_makes_a_formula_of_a_cell_and_every_text_can_be_read_back(text: str) -> None:
    cell = safe_cell(text)
    assert not cell.startswith(FORMULA_STARTS)
    assert text in (cell, cell[1:])
