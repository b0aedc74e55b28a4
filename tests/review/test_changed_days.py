"""The same day with one thing changed: nothing changed gives the day back, and undoing what went wrong wins."""

import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from simulate.demo_days import SESSIONS
from simulate.mishaps import WARM, all_in_one_cup, changed, later, with_events
from simulate.shop import Day, Mishap, Script, Timed, Truth, desk_for, play, thickens_s, workshop, write

from layup.chemistry.temperature import temperature_at_K
from layup.files.workshop import Workshop, demo_root
from layup.planning.plan import Scale
from layup.review.changed_days import ChangedDays, changed_days, changes, saving_causes
from layup.review.evidence import rank
from layup.review.review import Review, late_words, rejected, review
from layup.review.worked_day import tightest, worked_day
from layup.session.archive import stored_session
from layup.session.batch_events import BatchPouredOut, CupTemperatureRead, Observation
from layup.session.day_events import ShopForecast, TemperatureRead
from layup.session.lifetimes import shop_of
from layup.session.state import Event

LOOKED_SHARE, UNSEEN_S = 0.10, 120.0
"""How far the simulation may be from the day: where a cup was seen to thicken in shares of its life, else in time."""


def pressed(root: Path, day: Day = WARM, mishap: Mishap | None = None, **truth: float) -> Review:
    figures = desk_for(Path(), day).figures
    assert figures is not None
    script = play(figures, day, Truth(step_noise=0.05, **truth), random.Random(3))
    return review(stored_session(write(workshop(root), day, mishap(script) if mishap else script)))


def of(found: Review, root: Path) -> ChangedDays:
    days = changed_days(found.stored, found.track, Workshop(root).resins())
    assert days is not None
    return days


def cup_left_standing(script: Script) -> Script:
    """The rest of the first cup is used when it has thickened, though its last step was long done."""
    thick_s = thickens_s(script, 1, WARM.temperature_K, 365.0) + 60.0
    waits = changed(script, lambda t, e: [(thick_s if isinstance(e, BatchPouredOut) and e.batch == 1 else t, e)])
    return with_events(waits, (thick_s - 120.0, Observation(batch=1, word="thickening")))


def own_spare_s(found: Review) -> float:
    """Return what the tightest cup and part of the day itself had to spare, by its own clocks."""
    batches = found.track.batches
    left = [batch.cup_left_s for batch in batches] + [
        batch.part_left_s for batch in batches if batch.part.likely > batch.emptied_s + 60.0
    ]
    return min(one for one in left if one is not None)


@pytest.mark.parametrize("kelvin", [290.15, 293.15, 297.15])
@pytest.mark.parametrize("faster", [0.9, 1.0])
def test_with_nothing_changed_the_day_has_what_it_had(tmp_path: Path, kelvin: float, faster: float):
    found = pressed(tmp_path, Day(temperature_K=kelvin), faster=faster)
    assert tightest(worked_day(found.stored, found.track))[0] == pytest.approx(own_spare_s(found), abs=UNSEEN_S)


def test_with_nothing_changed_a_cup_that_was_seen_to_thicken_is_as_short_within_a_tenth_of_its_life(tmp_path: Path):
    found = pressed(tmp_path, WARM, cup_left_standing)
    batch = found.track.batches[0]
    assert batch.cup_seen is not None
    life_s = batch.cup_seen.at_s - batch.contact_s
    assert tightest(worked_day(found.stored, found.track))[0] == pytest.approx(
        own_spare_s(found), abs=LOOKED_SHARE * life_s
    )


def test_a_cup_left_standing_is_won_back_by_emptying_it_with_its_step(tmp_path: Path):
    days = of(pressed(tmp_path, mishap=cup_left_standing), tmp_path)
    assert days.own_spare_s < 0.0
    assert days.rows[0].kinds == ("emptied",)
    assert days.rows[0].words == "cup 1 emptied with its last step"
    assert days.rows[0].in_time
    assert days.rows[0].spare_s > days.own_spare_s + 900.0
    assert len(days.rows) <= 5


def test_a_press_that_stood_open_is_won_back_by_closing_it(tmp_path: Path):
    def late(script: Script) -> Script:
        return later(script, script.closed_s - 1.0, 180 * 60.0)

    days = of(pressed(tmp_path, mishap=late), tmp_path)
    assert days.own_spare_s < 0.0 < days.rows[0].spare_s
    assert days.rows[0].kinds == ("closed",)


def test_one_bucket_is_won_back_by_smaller_cups(tmp_path: Path):
    days = of(pressed(tmp_path, mishap=all_in_one_cup), tmp_path)
    assert days.own_spare_s < 0.0
    assert days.rows[0].kinds == ("cups",)
    assert days.rows[0].spare_s > days.own_spare_s + 600.0


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        (Scale(readability_g=0.1), "cups ≤ 199 g, +40 g mix"),
        (Scale(readability_g=1.0), "cups ≤ 199 g, tared twice, +40 g mix"),
        (Scale(readability_g=5.0), None),
    ],
)
def test_smaller_cups_are_tried_only_as_the_scale_can_weigh_them(scale: Scale, words: str | None):
    kept = stored_session(SESSIONS / "2026-03-07-touring-skis-168")
    found = review(replace(kept, plan=replace(kept.plan, scale=scale)))
    day = worked_day(found.stored, found.track)
    tried = (one.words for one in changes(found.stored, found.track, day, {}) if one.kind == "cups")
    assert next(tried, None) == words


def test_a_cup_that_was_late_says_by_which_clock_as_the_verdict_counts_it():
    found = review(stored_session(SESSIONS / "2026-03-07-touring-skis-168"))
    thick = next(one for one in found.findings if one.cause == "past thickening")
    assert "had to be empty at 28 min, 11 min before it was." in thick.effect
    assert late_words(found) == "cup 1 emptied 11 min too late"


def test_no_cause_is_rejected_by_what_the_day_denies_or_where_smaller_cups_are_the_remedy():
    found = review(stored_session(SESSIONS / "2026-03-07-touring-skis-168"))
    assert next(iter(found.track.batches)).laid_open is False, "the first cup was shut when it was laid"
    no = {one.cause: one.words for one in rejected(found)}
    assert "before batch 2 may shut on the part" in no["closed late"]
    assert "batch 1" in no["closed late"]
    assert "cup too large" not in no


def test_a_pair_is_shown_only_where_it_leaves_more_than_the_best_change_alone(tmp_path: Path):
    days = of(pressed(tmp_path, mishap=all_in_one_cup), tmp_path)
    assert days.pair is None or days.pair.spare_s > max(row.spare_s for row in days.rows)
    assert all(row.spare_s > days.own_spare_s for row in days.rows)


def test_a_finding_is_backed_by_the_change_that_it_proposes(tmp_path: Path):
    found = pressed(tmp_path, mishap=cup_left_standing)
    days = of(found, tmp_path)
    thick = next(one for one in found.findings if one.cause == "past thickening")
    backed = days.for_finding(thick)
    assert backed is not None
    assert backed.kinds == ("emptied",)


def in_shop(kelvin_at: Callable[[float], float]) -> Mishap:
    """Return the day with other readings of shop and mould, and none in a cup."""

    def read(at_s: float, event: Event) -> list[Timed]:
        if isinstance(event, TemperatureRead):
            return [(at_s, event.model_copy(update={"temperature_K": kelvin_at(at_s)}))]
        return [] if isinstance(event, CupTemperatureRead) else [(at_s, event)]

    return lambda script: changed(script, read)


def test_a_day_in_a_shop_that_warmed_is_better_begun_earlier_and_says_what_of_the_morning_is_not_known(tmp_path: Path):
    begun = Day(temperature_K=291.15)
    found = pressed(tmp_path, begun, in_shop(lambda at_s: min(291.15 + at_s / 450.0, 300.15)))
    (earlier,) = [row for row in of(found, tmp_path).rows if row.kinds == ("earlier",)]
    assert earlier.words == "begun 60 min earlier, if the shop was then as at the first reading"
    steady = of(pressed(tmp_path / "steady", begun), tmp_path)
    assert "earlier" not in [row.kinds[0] for row in steady.rows], "in a shop that stays as it was nothing is won"


def test_a_day_begun_late_is_begun_earlier_in_the_temperatures_that_were_logged(tmp_path: Path):
    def waited(script: Script) -> Script:
        late = replace(script, events=tuple((t + 7200.0, e) for t, e in script.events if t > 45.0))
        warm = [(600.0 * n, TemperatureRead(place="air", temperature_K=291.15 + n / 2.0)) for n in range(1, 24)]
        return with_events(in_shop(lambda _: 303.15)(late), *warm)

    found = pressed(tmp_path, Day(temperature_K=291.15), waited)
    (earlier,) = [row for row in of(found, tmp_path).rows if row.kinds == ("earlier",)]
    assert earlier.words == "begun 60 min earlier"


def test_a_forecast_moves_with_the_day_and_warms_no_shop_that_was_kept_cool(tmp_path: Path):
    foretold = ShopForecast(course=((0.0, 288.15), (43_200.0, 303.15), (64_800.0, 294.15)), of_day_s=28_800.0)
    warm = in_shop(lambda at_s: 296.15 + at_s / 3600.0)
    found = pressed(tmp_path, Day(temperature_K=293.15), lambda script: with_events(warm(script), (30.0, foretold)))
    day = worked_day(found.stored, found.track)
    made = {one.kind: one.apply(day) for one in changes(found.stored, found.track, day, {})}
    read_s = day.state.air[-1][0]
    for at_s in (read_s + 3600.0, read_s + 14_400.0):
        then_K = temperature_at_K(shop_of(made["earlier"].state), at_s + 3600.0)
        assert then_K == pytest.approx(temperature_at_K(shop_of(day.state), at_s))
    assert max(kelvin for _, kelvin in shop_of(made["shop"].state)) == 293.15


def test_a_shop_that_was_too_cold_is_shown_as_much_warmer_as_it_takes_with_the_spare_time_then(tmp_path: Path):
    found = pressed(tmp_path, Day(temperature_K=290.15), in_shop(lambda _: 285.65))
    days = of(found, tmp_path)
    assert days.rows[0].words == "shop 3 °C warmer: no longer too cold"
    assert 0.0 < days.rows[0].spare_s < days.own_spare_s, "warm resin lives shorter"
    (cold,) = [one for one in found.findings if one.cause == "shop outside the window"]
    assert days.for_finding(cold) == days.rows[0]
    frost = of(pressed(tmp_path / "frost", Day(temperature_K=290.15), in_shop(lambda _: 279.15)), tmp_path)
    assert "warmer" not in [row.kinds[0] for row in frost.rows], "five kelvin more are too cold as well"


def test_of_causes_the_one_whose_change_saves_the_day_takes_first_place_from_what_it_follows():
    found = review(stored_session(demo_root() / "sessions" / "2026-03-07-touring-skis-168"))
    days = changed_days(found.stored, found.track, Workshop(demo_root()).resins())
    assert days is not None
    assert days.saves is not None
    assert days.saves.kinds == ("cups",)
    assert [one.cause for one in found.findings[:2]] == ["past thickening", "slow step"]
    causes = saving_causes(found.stored, found.track, found.findings)
    assert causes == {"past thickening"}
    assert next(one.cause for one in rank(found.findings, found.defects)) == "slow step", "by itself it is the cause"


def test_no_change_proposes_mix_too_cold_to_wet_out_cloth(tmp_path: Path):
    found = pressed(tmp_path, Day(temperature_K=290.15))
    proposed = list(
        changes(found.stored, found.track, worked_day(found.stored, found.track), Workshop(tmp_path).resins())
    )
    assert {"cups", "helper"} <= {one.kind for one in proposed}
    assert "cans" not in {one.kind for one in proposed}, "at 11 °C the mix is too thick"
    assert "Liquid DGEBA" not in " ".join(one.words for one in proposed), "at 17 °C it is too thick"
