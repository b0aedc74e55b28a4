"""A day told from memory: causes as sure as the answers are, and lessons that weigh what their vagueness deserves.

The spread of Halton's sequence is checked against its definition (J. H. Halton, Numer. Math. 2 (1960) 84, from
memory): in base 2 the first seven numbers are 1/2, 1/4, 3/4, 1/8, 5/8, 3/8, 7/8. That an update moves less the vaguer
an observation is, K = s^2 S/(S^2 s^2 + s_o^2), is the scalar Kalman gain (textbooks on estimation, from memory).
"""

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from math import log
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from session_examples import TOLD, resin

from layup.bench.afterwards import log_afterwards
from layup.bench.replay import axis_end_s, marks_of
from layup.chemistry.observation import OBSERVED_LOG_SD
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.stages import Stage
from layup.cli import main
from layup.files.workshop import Workshop, new_workshop
from layup.report.day_axis import DayAxis
from layup.report.hindsight import hindsight
from layup.report.render import html
from layup.report.report_blocks import report_blocks, review_lines
from layup.review.carried import proposals
from layup.review.evidence import tags_in
from layup.review.lessons import lessons_of
from layup.review.recalled import DAYS, drawn, halton
from layup.review.resin_lessons import Sighting, log_sd, resin_lesson
from layup.review.review import NOTHING_TOLD, Review, rejected, review
from layup.session.archive import StoredSession, stored_session
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.fields import ToldDay, Width
from layup.session.journal import Journal
from layup.session.recall import likeliest, write_recalled
from layup.session.told import Interview

NOW = datetime(2026, 11, 28, 16, tzinfo=UTC)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory):
    root = tmp_path_factory.mktemp("told") / "shop"
    new_workshop(root)
    shop = Workshop(root)

    @cache
    def kept(*changed: tuple[str, str]) -> StoredSession:
        talk = Interview(shop, NOW, keep=False)
        talk.give(TOLD | dict(changed))
        story = talk.story()
        return stored_session(write_recalled(shop, story, tags_in(story.told.wrong)))

    return lambda **changed: kept(*changed.items())


@pytest.fixture(scope="module")
def told(written):
    @cache
    def looked_back(*changed: tuple[str, str]) -> Review:
        return review(written(**dict(changed)))

    return lambda **changed: looked_back(*changed.items())


def sure(found: Review) -> dict[str, str]:
    return {finding.cause: finding.certainty for finding in found.findings}


def test_halton_s_numbers_are_those_of_its_definition() -> None:
    assert [halton(number, 2) for number in range(1, 8)] == [1 / 2, 1 / 4, 3 / 4, 1 / 8, 5 / 8, 3 / 8, 7 / 8]
    assert [round(9 * halton(number, 3)) for number in range(1, 9)] == [3, 6, 1, 4, 7, 2, 5, 8]


def test_days_that_fit_hold_four_fifths_of_each_width_and_one_day_where_all_is_exact() -> None:
    day = ToldDay(
        resin_known=True,
        shop_K=Width(low=285.0, likely=287.0, high=289.0),
        cup_g=Width(low=300.0, likely=400.0, high=600.0),
    )
    points = list(drawn(day))
    assert len(points) == DAYS
    assert points == list(drawn(day)), "the same every time"
    inside = sum(300.0 <= (point.cup_g or 0.0) <= 600.0 for point in points)
    assert inside == pytest.approx(0.8 * DAYS, abs=2)
    assert len({point.shop_K for point in points}) == 5
    exact = ToldDay(resin_known=True, shop_K=Width(low=287.0, likely=287.0, high=287.0))
    assert list(drawn(exact)) == [likeliest(exact)]


def test_a_large_cup_that_went_hot_in_a_warm_shop_is_found_and_its_change_named(told) -> None:
    found = told(when="last winter")
    assert found.findings[0].cause == "cup too large"
    assert "A cup of about 400 g, where this plan mixes" in found.findings[0].words
    assert found.findings[0].change.startswith("Mix no more than")
    assert {"past thickening", "cup too hot"} <= sure(found).keys()
    assert all(certainty != "certain" for certainty in sure(found).values()), "nothing vague is certain"


def test_the_vaguer_the_answers_the_less_sure_the_cause(told) -> None:
    exact = sure(told(shop="24 C", cup="400 g", thick="25 min, stringy"))
    about = sure(told(thick="about 25 min, stringy"))
    vague = sure(told(shop="10-30 C", cup="150-450 g", thick="10-60 min, stringy"))
    rank = {"certain": 3, "likely": 2, "possible": 1}
    assert exact["cup too large"] == "certain"
    assert about["cup too large"] == "likely"
    assert vague["cup too large"] == "possible"
    assert all(
        rank[certainty] <= rank[about.get(kind, "possible")] for kind, certainty in vague.items() if kind in about
    )


def test_a_cup_that_smoked_sooner_than_it_can_says_what_that_takes_by_its_own_forecast(told) -> None:
    found = told(shop="18 C", cup="350 g", thick="20 min, smoking")
    first = found.findings[0]
    said = re.search(r"So soon takes mix at (\d+) °C; no larger cup does it\.", first.effect)
    assert said is not None
    assert not any("So soon takes" in other.effect for other in found.findings[1:]), "it is said once"
    law = resin().kinetics
    warm_K = 273.15 + float(said[1])
    warm, large = (
        predict(law, Vessel.cup(), mass_g=mass_g, start_K=kelvin, ambient=kelvin).working_s / 60.0
        for mass_g, kelvin in ((350.0, warm_K), (3500.0, 291.15))
    )
    assert warm == pytest.approx(20.0, rel=0.05)
    assert large > 20.0, "ten times the mix is slower than that, too"
    in_time = told(shop="24 C", cup="400 g", thick="40 min, smoking")
    assert not any("So soon takes" in other.effect for other in in_time.findings)
    off = told(shop="18 C", cup="350 g", thick="12 min, smoking")
    assert "what was seen is too far off to be its doing" in " ".join(off.taught)


def test_small_cups_in_good_time_are_no_cause(told) -> None:
    found = told(shop="20 C", cup="200 g", thick="not known", on_part="not known", people="2", wrong="twisted")
    assert "cup too large" not in sure(found)
    assert "past thickening" not in sure(found)
    if not found.findings:
        assert found.verdict == NOTHING_TOLD
    assert found.defects == ("twist",)


def test_a_press_closed_after_hours_was_closed_late(told) -> None:
    found = told(shop="28 C", cup="300 g", thick="30 min, runny", on_part="all", closed="about 4 h", people="2")
    assert sure(found)["closed late"] in ("likely", "possible")
    late = next(finding for finding in found.findings if finding.cause == "closed late")
    assert "The press was closed about 240 min after mixing" in late.words


def test_a_cold_shop_is_told_with_what_the_plan_needs(told) -> None:
    cold = next(f for f in told(shop="10-12", people="2").findings if f.cause == "shop outside the window")
    assert cold.words == "The shop was at 10 to 12 °C; this plan works from 15 °C on."


def test_little_on_the_part_after_long_was_a_slow_bench(told) -> None:
    found = told(shop="18 C", cup="200 g", thick="about 60 min, thick", on_part="2", people="2")
    slow = next(finding for finding in found.findings if finding.cause == "slow step")
    assert slow.words.startswith("11 of 12 steps were left about 60 min after mixing; this plan has 'Rubber")


def test_every_view_says_that_it_was_recalled_and_no_minute_is_sharper_than_it_was_told(told) -> None:
    found = told(when="last winter")
    text = "\n".join(review_lines(found, width=100))
    page = html("t", report_blocks(found))
    assert "recalled, about last winter" in text
    assert "recalled, about last winter" in page
    assert "25.0" not in text
    assert "25.0" not in page
    assert "≈ 25" in page
    seen = hindsight(found, Workshop(found.stored.folder.parents[1]), ManualClock(NOW))
    assert (seen.decided, seen.changed, rejected(found)) == (None, None, ()), "no minute decided it that nobody told"
    assert "step was slower" not in page, "no day is drawn minute by minute that nobody told so"
    assert "hot about 25 min after mixing" in page
    assert "told: a cup of about 400 g" in text


def test_a_note_added_a_year_later_is_of_no_step_and_no_minute(written) -> None:
    folder = written(wrong="split at the tail").folder
    with Journal.open(folder, ManualClock(NOW)) as journal:
        log_afterwards(journal, [Note(text="stood on the stove side")])
    proposed = {one.of: one.event for one in proposals(review(stored_session(folder)), {})}
    assert proposed["note afterwards"].step_name == ""


def test_what_people_say_of_a_part_becomes_the_trade_s_words() -> None:
    assert tags_in("Dry at the tip, bubbles, and it stayed sticky") == ("dry spot", "void", "tacky")
    assert tags_in("a void beside the delamination") == ("void", "delamination")
    assert tags_in("gelled in the cup") == ()


# -- lessons ---------------------------------------------------------------------------------------------------------


def moved(kept: StoredSession) -> float:
    """Return how far a session moves the resin's life, as a logarithm."""
    lesson = lessons_of([kept]).resins.get("slow-laminating")
    return 0.0 if lesson is None else log(lesson.life_factor)


def test_an_exact_recollection_weighs_as_a_log_a_vague_one_less_and_one_not_known_nothing(written) -> None:
    exact = written(shop="24 C", cup="400 g", thick="25 min, stringy")
    about = written(thick="about 25 min, stringy")
    vague = written(shop="10-30 C", cup="100-900 g", thick="10-60 min, stringy")
    assert moved(exact) < moved(about) < moved(vague) < 0.0
    as_logged = replace(exact, state=replace(exact.state, recalled=None))
    assert moved(as_logged) == pytest.approx(moved(exact), abs=1e-12)
    for unknown in ({"shop": "?"}, {"cup": "?"}, {"thick": "?"}):
        assert moved(written(**unknown)) == 0.0


def seen(thick: Width, shop: Width, cup: Width) -> Sighting:
    day = ToldDay(resin_known=True, shop_K=shop, cup_g=cup, thick_s=thick, look="thickening")
    stages = (Stage(Vessel.cup(), 0.0, shop.likely),)
    return Sighting("thickening", thick.likely, stages, cup.likely, shop.likely, told=day)


def wide(likely: float, share: float) -> Width:
    return Width(low=likely / (1.0 + share), likely=likely, high=likely * (1.0 + share))


@settings(max_examples=6, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    st.floats(0.8, 1.3),
    st.floats(288.0, 303.0),
    st.floats(80.0, 400.0),
    st.tuples(*[st.floats(0.0, 0.6)] * 2, st.floats(0.0, 6.0)),
    st.sampled_from([0, 1, 2]),
    st.floats(1.05, 2.0),
)
def test_the_wider_any_answer_the_less_it_moves(
    late: float, shop_K: float, cup_g: float, widths: tuple[float, float, float], widened: int, by: float
) -> None:
    law = resin()
    thick_s = late * predict(law.kinetics, Vessel.cup(), mass_g=cup_g, start_K=shop_K, ambient=shop_K).working_s

    def one(time: float, grams: float, kelvins: float) -> Sighting:
        shop = Width(low=shop_K - kelvins, likely=shop_K, high=shop_K + kelvins)
        return seen(wide(thick_s, time), shop, wide(cup_g, grams))

    wider = tuple(width * by if place == widened else width for place, width in enumerate(widths))
    sharp, vague = one(*widths), one(*wider)
    assert OBSERVED_LOG_SD <= log_sd(law.kinetics, sharp) <= log_sd(law.kinetics, vague) + 1e-12
    exact, moves_sharp, moves_vague = (
        abs(log(resin_lesson("r", law, [[each]]).life_factor)) for each in (one(0.0, 0.0, 0.0), sharp, vague)
    )
    assert moves_vague <= moves_sharp + 1e-3
    assert moves_sharp <= exact + 1e-3


# -- days with a known truth, told afterwards ------------------------------------------------------------------------


def retold(kept: StoredSession, look_at_s: float, look: str) -> dict[str, str]:
    """Return a day that was logged as somebody would tell it months later: nothing finer than about."""
    state = kept.state
    contact_s = min(batch.mixed_s for batch in state.batches if batch.mixed_s is not None)
    done = [step.number for step in state.steps if step.done_s is not None and step.done_s <= look_at_s]
    shop_K = [kelvin for at_s, kelvin in state.air if at_s <= look_at_s][-1]
    largest_g = max(batch.mass_g for batch in state.batches if batch.mixed_s is not None)
    return {
        "resin": "slow-laminating",
        "shop": f"about {shop_K - 273.15:.0f} C",
        "cup": f"about {10 * round(largest_g / 10):.0f} g",
        "thick": f"about {5 * round((look_at_s - contact_s) / 300):.0f} min, {look}",
        "on_part": str(done[-1]) if done else "nothing",
        "closed": "?" if state.closed_s is None else f"about {5 * round((state.closed_s - contact_s) / 300):.0f} min",
        "people": str(state.people),
        "wrong": ", ".join(state.outcome.tags) if state.outcome else "",
    }


def _first_thick_s(kept: StoredSession) -> float:
    return min(at_s for batch in kept.state.batches for at_s, word in batch.observations if word != "runny")


def _last_in_cup_s(kept: StoredSession) -> float:
    return max(batch.poured_out_s or 0.0 for batch in kept.state.batches)


def _glass_done_s(kept: StoredSession) -> float:
    step = kept.state.step(4)
    assert step is not None
    assert step.done_s is not None
    return step.done_s - 60.0


@pytest.mark.parametrize(
    ("mishap", "look_at", "look", "true"),
    [
        ("a cup left standing", _first_thick_s, "thick", "past thickening"),
        ("all in one cup", _last_in_cup_s, "thick", "cup too large"),
        ("a press that will not shut", _last_in_cup_s, "runny", "closed late"),
        ("the stove left on", _last_in_cup_s, "thick", "shop outside the window"),
        ("edges that will not stay", _glass_done_s, "runny", "slow step"),
    ],
)
def test_the_true_cause_of_a_day_told_months_later_is_among_the_first_two(
    failed: Callable[[str, int], Review], root: Path, mishap: str, look_at, look: str, true: str
) -> None:
    kept = failed(mishap, 1).stored
    talk = Interview(Workshop(root), NOW, kept.folder.name, keep=False)
    talk.give(retold(kept, look_at(kept), look))
    story = talk.story()
    found = review(stored_session(write_recalled(Workshop(root), story, tags_in(story.told.wrong))))
    assert true in [finding.cause for finding in found.findings[:2]], [
        (f.cause, f.certainty, round(f.size, 2)) for f in found.findings
    ]


def test_cups_mixed_at_once_are_said_to_be_taken_so_and_one_answer_teaches_once(told) -> None:
    one, two = (told(cup=words, on_part="not known", closed="no") for words in ("400 g", "2 x 400 g"))
    assert any("2 cups was mixed was not told: they are taken as mixed at once" in words for words in two.assumptions)
    assert not any("at once" in words for words in one.assumptions)
    taught = [lessons_of([found.stored]).resins["slow-laminating"] for found in (one, two)]
    assert [lesson.observations for lesson in taught] == [1, 1]
    assert taught[0].life_factor == pytest.approx(taught[1].life_factor)
    assert lessons_of([two.stored]).crews == {}
    assert lessons_of([two.stored]).losses is None


def test_the_axis_of_a_told_day_shows_its_plan_and_how_wide_each_minute_was_told_and_nothing_else(told) -> None:
    found = told(thick="about 30, hot", closed="50-60 min")
    state = found.stored.state
    axis = DayAxis(found.track, state, marks_of(found, None), axis_end_s(found))
    lines = axis.lines(0.0, "12:00", width=107, rows=20)
    assert [line.split()[0] for line in lines] == ["plan", "thick", "closed", "▲"]
    assert "12:00" not in lines[-1], "the clock of that day is not known"
    for line, width in zip(lines[1:3], (state.recalled.thick_s, state.recalled.closed_s), strict=True):
        cells = [at for at, sign in enumerate(line) if at >= 7 and sign in "▓░"]
        assert (cells[0], cells[-1]) == pytest.approx(
            (axis.cell_of(width.low, 107), axis.cell_of(width.high, 107)), abs=1
        )


def test_the_bench_of_a_told_day_is_what_was_told_and_no_countdown(written, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written().folder
    words = ["view", folder.name, "--workshop", str(folder.parent.parent)]
    assert main(words) == 0
    text = capsys.readouterr().out
    assert "recalled: about" in text
    assert "PRESS BY" not in text
    assert "▶" not in text
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["recalled"] == "recalled: about"
