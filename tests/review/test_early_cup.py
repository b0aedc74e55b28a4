"""An early cup speaks about the resin: the day and the logbook move the film's clock by nearly as much as the cup's."""

from dataclasses import replace

import pytest
from session_examples import stamped, start

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import film_life_s
from layup.chemistry.prediction import Vessel, predict
from layup.files.workshop import Workshop, demo_root
from layup.review.resin_lessons import resin_lesson, seen_in
from layup.session.batch_events import BatchMixed, BatchPouredOut, Observation
from layup.session.day_events import TemperatureRead
from layup.session.lifetimes import lives_of_day
from layup.session.records import fold

SHEET = Workshop(demo_root()).resin("slow-laminating")
RESIN_G, HARDENER_G, HERE_K = 300.0 / 1.3, 300.0 - 300.0 / 1.3, 293.15


def clocks_s(law):
    """How long 300 g in a cup and a film live."""
    cup = predict(law, Vessel.cup(), mass_g=300.0, start_K=HERE_K, ambient=HERE_K)
    return cup.working_s, film_life_s(law, HERE_K)


def day_with_an_early_cup(stated, by):
    """Return a day on which batch 1 is on the part, and batch 2 thickens in its cup so much sooner than foretold."""
    mixed = [BatchMixed(batch=n, resin_g=RESIN_G, hardener_g=HARDENER_G, start_K=HERE_K) for n in (1, 2)]
    records = stamped(
        [
            start(),
            TemperatureRead(place="air", temperature_K=HERE_K),
            mixed[0],
            BatchPouredOut(batch=1),
            mixed[1],
            Observation(batch=2, word="thickening"),
        ],
        every_s=300.0,
    )
    seen_s = records[-2].elapsed_s + by * clocks_s(stated.kinetics)[0]
    return [*records[:-1], records[-1].model_copy(update={"elapsed_s": seen_s})]


@pytest.mark.parametrize("films", [SHEET.films, ()], ids=["film time stated", "none stated"])
def test_an_early_cup_moves_the_films_clock_with_the_cups_in_the_day_and_in_the_logbook(films):
    """300 g, 30 % early: within 10 points of each other, and the logbook within 10 of the day."""
    stated = calibrate(replace(SHEET, films=films))
    records = day_with_an_early_cup(stated, 0.7)
    before, state = fold(records[:-1]), fold(records)
    day = lives_of_day(state, stated)
    lesson = resin_lesson(SHEET.id, stated, [seen_in(state, (100.0, 30.0))])
    now = clocks_s(stated.kinetics)
    moves = [
        [later / earlier - 1.0 for later, earlier in zip(clocks_s(law.kinetics), now, strict=True)]
        for law in (day.today.calibration, lesson.calibration)
    ]
    for cup, film in moves:
        assert -0.30 < cup < -0.12
        assert film == pytest.approx(cup, abs=0.10)
    assert moves[1] == pytest.approx(moves[0], abs=0.10)
    # and the batch that lies on the part is shown by the same clock
    (was, came), contact_s = ((lives_of_day(at, stated).alive[1].over_s.likely) for at in (before, state)), 600.0
    assert (came - contact_s) / (was - contact_s) - 1.0 == pytest.approx(moves[0][1], abs=0.05)


def test_the_day_and_the_logbook_tell_of_one_cup_in_the_same_words():
    stated = calibrate(SHEET)
    state = fold(day_with_an_early_cup(stated, 0.7))
    day = lives_of_day(state, stated).today
    lesson = resin_lesson(SHEET.id, stated, [seen_in(state, (100.0, 30.0))])
    assert day.words == ("thickening came 30 % sooner than predicted",)
    ((seen, counts),) = lesson.looks
    assert (seen.word, seen.mass_g, counts) == ("thickening", pytest.approx(300.0), True)
    assert seen.after_s == pytest.approx(0.7 * clocks_s(stated.kinetics)[0])
    assert "shorter than its datasheet says" in lesson.words
