"""A casting day played by a crew that does what the bench says: its acts in order, its clocks, and what goes wrong."""

from itertools import pairwise

import pytest
from casting_days import WALLS, bench, played
from scripted_days import Player, air, done, left_with, loses

from layup.bench.casting_day import casting_words, core_wanted_K, joining, pigments_of
from layup.bench.doing import Question, do
from layup.bench.opening import begin, resume
from layup.bench.planner import Planner
from layup.bench.rest import left_to_pour, rest_lines, rest_of_day
from layup.bench.view import bench_view
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel
from layup.files.workshop import new_workshop
from layup.page.taps import view_of
from layup.planning.castings import pourings
from layup.session.archive import stored_session
from layup.session.clock import ManualClock
from layup.session.lifetimes import fresh_cup_s

ONE_POUR = ("{} INTO CUP {}", "WEIGH BATCH {1}", "POUR HARDENER", "READ THE SCALE", "POUR CUP {1}", "SCRAPE CUP {1}")


def test_three_colours_alone_from_a_cold_core_to_the_wait(tmp_path):
    """Both side walls, three colours, alone, 18 °C, 5 min of pot life: every act once, none that contradicts."""
    day = bench(tmp_path)
    acts = [words for _, words in played(day) if "STIR" not in words]
    assert acts[:7] == [
        "MEASURE THE CORE", "MEASURE ITS MOISTURE", "WARM AND DRY THE CORE", "SEAL THE CHANNEL", "LET THE SEALER DRY",
        "TAPE AND LEVEL", "BLACK INTO CUP 1",
    ]  # fmt: skip
    wanted = [words.format(colour, at) if "{1}" not in words else words.replace("{1}", str(at))
              for at, colour in enumerate(("BLACK", "RED", "WHITE"), 1) for words in ONE_POUR]  # fmt: skip
    assert acts[6:] == [*wanted, "DEBUBBLE SIDE WALLS", "LEAVE IT LEVEL", "LET IT HARDEN"]
    assert day.state.closed_s is not None
    assert all(batch.status == "under press" for batch in day.state.batches)
    for batch in day.state.batches:
        cup_s = fresh_cup_s(day.calibration, batch.mass_g, 291.15, 291.15)
        assert (batch.poured_out_s or 0.0) - (batch.mixed_s or 0.0) <= cup_s
    gaps = [after.mixed_s - before.poured_out_s for before, after in pairwise(day.state.batches)]
    assert min(gaps) >= 60.0, "one person weighs and stirs between two pours"


def test_the_sealer_dries_as_long_as_is_stated_and_the_clock_counts_it_down_by_the_second(tmp_path):
    day = bench(tmp_path)
    acts = {words: at_s for at_s, words in reversed(played(day, until_min=80.0))}
    sealed_s = next(step.done_s for step in day.state.steps if step.plan.name == "Seal the channel")
    assert acts["TAPE AND LEVEL"] == pytest.approx(sealed_s + 2700.0, abs=10.0)
    again = bench(tmp_path)
    played(again, until_min=(sealed_s + 2400.0) / 60.0)
    act = bench_view(again).act
    assert act.words == "LET THE SEALER DRY"
    left_s = act.deadline_s - again.now_s()
    assert act.number == f"{int(left_s) // 60}:{int(left_s) % 60:02d}"


def test_a_core_that_is_cold_or_wet_goes_no_further_and_says_what_helps(tmp_path):
    day = bench(tmp_path)
    act = bench_view(day).act
    asked = do(day, act)
    assert isinstance(asked, Question)
    assert asked.kind == "core"
    assert do(day, act, 292.15).done
    act = bench_view(day).act
    assert (act.words, act.number) == ("WARM THE CORE", "22 °C")
    assert act.why.startswith("core 19.0 °C")
    do(day, act, 295.15)
    act = bench_view(day).act
    do(day, act, 0.14)
    act = bench_view(day).act
    assert (act.words, act.number) == ("DRY THE CORE", "10 %")
    assert act.why.startswith("14 % water")
    do(day, act, 0.09)
    assert bench_view(day).act.words == "WARM AND DRY THE CORE"
    assert day.undo().done
    assert bench_view(day).act.words == "DRY THE CORE"


def test_without_a_core_temperature_the_resins_least_warmth_counts(tmp_path):
    day = bench(tmp_path, WALLS.replace('core_temperature = "22 degC"\n', ""))
    assert core_wanted_K(day) == pytest.approx(288.15)


def test_a_soft_pour_takes_the_next_until_it_gels_and_a_late_one_is_told_to_roughen_it(tmp_path):
    day = bench(tmp_path)
    played(day, until_min=92.0)
    first = day.state.batches[0]
    assert first.poured_out_s is not None
    window = joining(day, 4)
    band = predict_band(day.calibration, Vessel.film(), mass_g=1.0, start_K=295.15, ambient=295.15)
    assert window.closes_s == pytest.approx(day.alive[1].gel_s.low)
    assert first.poured_out_s - first.mixed_s < window.closes_s - first.mixed_s < 0.6 * band.gel_s.low
    words, late = casting_words(day)
    assert words[1] == f"pour 1 joins until {day.clock_time(window.closes_s)}"
    assert words[1].count(":") == 2, "seconds are shown"
    assert view_of(day)["says"]["press"] == " · ".join((*words, "estimates")), "the tablet says the same"
    assert not late
    while day.in_cup() or "SCRAPE" in bench_view(day).act.words:
        done(day, bench_view(day).act)
    day.clock.advance(window.closes_s - day.now_s() - 200.0)
    act = bench_view(day).act
    assert act.urgency in ("soon", "now")
    assert act.alarm
    day.clock.advance(260.0)
    act = bench_view(day).act
    assert act.why == "the last has set: roughen it"
    assert casting_words(day)[1]


def test_a_firm_join_waits_for_the_last_pour_before_the_hardener_goes_in(tmp_path):
    firm = WALLS.replace(
        'loss = "5 g"', 'loss = "5 g"\njoin = { when = "firm", earliest = "12 min", latest = "40 min" }'
    )
    day = bench(tmp_path, firm.replace("minutes = 30", "minutes = 10"))
    acts = played(day)
    waits = [at_s for at_s, words in acts if words == "LET IT FIRM UP"]
    first, second = day.state.batches[:2]
    assert len(waits) >= 2
    poured_s = first.poured_out_s or 0.0
    assert (second.mixed_s or 0.0) + 60.0 >= poured_s + 720.0 - 10.0
    assert (second.poured_out_s or 0.0) <= poured_s + 2400.0


def test_a_lost_pour_is_poured_again_in_its_own_colour_and_the_rest_follows(tmp_path):
    day = bench(tmp_path)
    acts = [words for _, words in played(day, [(93.5, loses(2))])]
    assert "REPLAN THE POURS" in acts
    poured = [one for one in day.state.batches if one.lost_s is None]
    assert [one.number for one in poured] == [1, 3, 4]
    assert [[name for name, _ in pigments_of(day, one)] for one in poured] == [["black"], ["red"], ["white"]]
    assert acts[-1] == "LET IT HARDEN"
    masses = [one.plan.mass_g for one in poured]
    assert masses == pytest.approx([masses[0]] * 3)


def test_what_was_poured_of_a_lost_cup_is_not_poured_again(tmp_path):
    day = bench(tmp_path)
    acts = played(bench(tmp_path), until_min=110.0)
    mixed_s = next(at_s for at_s, words in acts if words == "POUR CUP 2")
    played(day, until_min=(mixed_s + 10.0) / 60.0)
    second = day.state.batch(2)
    assert second.status == "in the cup"
    assert day.lost(second, "spilt", second.poured_g / 2.0).done
    again, last = left_to_pour(day).batches
    loss_g = 5.0
    said = rest_lines(day, rest_of_day(day))
    assert [line.split("  ")[0].split()[:2] for line in said if line.startswith("pour ")] == [
        ["pour", "3"],
        ["pour", "4"],
    ]
    assert all(line.count(":") == 4 for line in said if line.startswith("pour ")), "two clocks with their seconds"
    assert again.mass_g - loss_g == pytest.approx((second.plan.mass_g - loss_g) / 2.0, rel=0.02)
    assert last.mass_g == pytest.approx(second.plan.mass_g)


def test_a_shop_that_warms_makes_smaller_pours_or_none(tmp_path):
    day = bench(tmp_path)
    acts = [words for _, words in played(day, [(80.0, air(36.0))], until_min=100.0)]
    assert "REPLAN THE POURS" in acts
    assert any(batch.plan.mass_g < 200.0 for batch in day.state.batches)


def test_a_helper_weighs_the_next_cup_while_the_first_is_poured(tmp_path):
    day = bench(tmp_path)
    both = []

    def seen(_day, view):
        both.append({view.act.kind, *(act.kind for act in view.others)})

    Player(day, seen=seen).play([(60.0, left_with(2))], until_min=120.0)
    assert any({"empty cup", "weigh"} <= kinds or {"scrape", "weigh"} <= kinds for kinds in both)


def test_a_casting_day_is_kept_and_comes_back_as_it_was(tmp_path):
    """The session's kind, its plan and its resin, read from the folder again."""
    root = tmp_path / "w"
    bench(tmp_path)
    planner = Planner(root, plan="walls")
    planner.load()
    clock = ManualClock()
    day = begin(planner, planner.figures, clock)
    done(day, bench_view(day).act)
    day.close()
    kept = stored_session(day.folder)
    assert kept.state.start.kind == "casting"
    assert kept.problems == ()
    assert kept.plan == day.plan
    back = resume(day.folder, clock, workshop=planner.workshop)
    assert bench_view(back).act.words == "MEASURE ITS MOISTURE"
    assert back.stir_s == 60.0
    back.close()


def test_a_plan_with_castings_has_a_casting_day_beside_its_press_day(tmp_path):
    root = tmp_path / "w"
    new_workshop(root)
    press, casting = Planner(root, plan="touring-skis"), Planner(root, plan="touring-skis", casting=True)
    press.load()
    casting.load()
    assert press.days == ("", "casting-urethane")
    assert press.figures.plan.lays
    assert not casting.figures.plan.lays
    assert casting.figures.datasheet.id == "casting-urethane"
    day = begin(casting, casting.figures, ManualClock())
    assert day.state.start.kind == "casting"
    assert [step.plan.kind for step in day.state.steps] == ["place", "place", "place", "cast"]
    day.close()


def test_a_plan_with_two_casting_resins_has_a_day_for_each_and_says_what_waits(tmp_path):
    tips = '[[steps]]\nkind = "cast"\nname = "Tips"\nresin = "dgeba-teta"\nvolume = "250 ml"\nminutes = 30\n'
    bench(tmp_path, f"{WALLS}{tips}").close()
    planner = Planner(tmp_path / "w", plan="walls")
    for resin, others in (("casting-urethane", "Tips (dgeba-teta)"), ("dgeba-teta", "Side walls (casting-urethane)")):
        planner.cast_resin = resin
        planner.load()
        (poured,) = pourings(planner.figures, None)
        assert poured.resin_id == planner.figures.datasheet.id == resin
        assert poured.pours[0].weigh_s == 0.0
        assert poured.warnings[0] == f"One casting resin a day: pour {others} another day."
    assert planner.days == ("casting-urethane", "dgeba-teta")
