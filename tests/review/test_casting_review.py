"""What went wrong on a casting day: each cause is found with its evidence, and a good day has none."""

import pytest
from casting_days import CAUSES, WALLS, bench, played
from scripted_days import done

from layup.bench.view import bench_view
from layup.review.lessons import lessons_of
from layup.review.review import review
from layup.session.archive import StoredSession
from layup.session.batch_events import BatchMixed, BatchPouredOut, Demoulded, Observation, PourRead
from layup.session.day_events import HumidityRead, TemperatureRead, WoodMoistureRead
from layup.session.state import Outcome


def looked_back(day, *, tags=()):
    if tags:
        day.log(Outcome(tags=tags), "")
    return review(StoredSession(day.folder, day.state, day.plan, day.sheet, ()))


def causes(found):
    return {finding.cause for finding in found.findings}


def over(tmp_path, *, hours=4.0):
    """Return a day that went well, planed after some hours."""
    day = bench(tmp_path)
    played(day)
    day.clock.advance(3600.0 * hours)
    assert day.log(Demoulded(), "").done
    return day


def prepared(tmp_path, text=WALLS):
    """Return a day whose first cup is next."""
    day = bench(tmp_path, text)
    day.log(TemperatureRead(place="mould", temperature_K=295.15), "")
    day.log(WoodMoistureRead(moisture_fraction=0.08), "")
    for _ in range(3):
        assert day.step_done().done
    return day


def mixed(day, number, *, held_s=100.0, hardener=1.0):
    """Mix a pour, hold it in its cup for a while, and pour it."""
    plan = day.state.batch(number).plan
    day.log(PourRead(batch=number, resin_g=plan.resin_g, hardener_g=0.0), "")
    hardener_g = hardener * plan.hardener_g
    day.log(BatchMixed(batch=number, resin_g=plan.resin_g, hardener_g=hardener_g, start_K=291.15), "")
    day.log(PourRead(batch=number, resin_g=plan.resin_g, hardener_g=hardener_g), "")
    day.clock.advance(held_s)
    day.log(BatchPouredOut(batch=number), "")


def test_a_good_day_has_no_finding_and_lacks_only_what_nobody_logged(tmp_path):
    found = looked_back(over(tmp_path), tags=("good",))
    assert causes(found) == set()
    assert {entry.entry for entry in found.missing} >= {"the humidity of the shop"}
    assert not any("press" in entry.entry for entry in found.missing)


def test_a_pour_that_stayed_too_long_in_its_cup_is_found_with_its_entries(tmp_path):
    day = prepared(tmp_path)
    mixed(day, 1, held_s=900.0)
    (finding,) = [one for one in looked_back(day).findings if one.cause == "poured late"]
    assert finding.words.startswith("Pour 1 was 15:00 in its cup")
    assert [one.words.split()[0] for one in finding.evidence] == ["batch", "batch"]
    assert finding.size > 2.0
    assert finding.lost_s is not None
    assert 0.0 < finding.lost_s < 900.0
    assert finding.lost_g in (None, day.state.batch(1).mass_g)


def test_a_pour_that_came_after_the_last_had_set_is_found_and_fits_an_open_joint(tmp_path):
    day = prepared(tmp_path)
    mixed(day, 1)
    day.clock.advance(1800.0)
    mixed(day, 2)
    found = looked_back(day, tags=("open joint",))
    assert found.findings[0].cause == "joined late"
    assert "had set" in found.findings[0].words
    assert found.unexplained == ()


def test_a_pour_that_came_before_the_last_was_firm_enough_to_stand_is_found(tmp_path):
    join = 'join = { when = "firm", earliest = "12 min", latest = "40 min" }'
    day = prepared(tmp_path, WALLS.replace('loss = "5 g"', f'loss = "5 g"\n{join}'))
    mixed(day, 1)
    day.clock.advance(300.0)
    mixed(day, 2)
    (finding,) = [one for one in looked_back(day).findings if one.cause == "joined early"]
    assert finding.certainty == "certain"
    assert finding.cause in CAUSES
    assert finding.harm


@pytest.mark.parametrize(
    ("event", "cause", "words"),
    [
        (TemperatureRead(place="mould", temperature_K=289.15), "core cold", "The core had 16.0 °C"),
        (TemperatureRead(place="air", temperature_K=281.15), "core cold", "The shop had 8.0 °C"),
        (WoodMoistureRead(moisture_fraction=0.15), "core wet", "The core held 15 % water"),
        (HumidityRead(relative_humidity=0.8), "core wet", "The air held 80 % humidity"),
    ],
)
def test_a_cold_or_wet_core_and_damp_air_are_found(tmp_path, event, cause, words):
    day = prepared(tmp_path)
    day.clock.advance(5.0)
    day.log(event, "")
    mixed(day, 1)
    findings = [one for one in looked_back(day).findings if one.cause == cause]
    assert any(one.words.startswith(words) for one in findings)


def test_a_soft_wall_comes_from_the_ratio_or_from_the_plane_taken_too_early(tmp_path):
    day = prepared(tmp_path)
    mixed(day, 1, hardener=0.8)
    assert "off ratio" in causes(looked_back(day))
    early = over(tmp_path, hours=0.5)
    (finding,) = looked_back(early, tags=("tacky",)).findings
    assert finding.cause == "planed early"
    assert "Planed" in finding.words
    assert finding.lost_s is not None
    assert finding.lost_s > 1800.0
    assert [one.words for one in finding.evidence][-1] == "demoulded"


def test_a_casting_teaches_how_long_its_resin_lives_and_nothing_of_pace_or_losses(tmp_path):
    day = prepared(tmp_path)
    plan = day.state.batch(1).plan
    day.log(BatchMixed(batch=1, resin_g=plan.resin_g, hardener_g=plan.hardener_g, start_K=291.15), "")
    day.clock.advance(200.0)
    day.log(Observation(batch=1, word="thickening"), "")
    while bench_view(day).act.kind in ("empty cup", "look", "scrape"):
        done(day, bench_view(day).act)
    taught = lessons_of([StoredSession(day.folder, day.state, day.plan, day.sheet, ())])
    lesson = taught.resins["casting-urethane"]
    assert lesson.observations == 1
    assert lesson.life_factor < 1.0
    assert taught.crews == {}
    assert taught.losses is None
