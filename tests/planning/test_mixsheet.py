"""One batch on paper: readings, accuracy, warnings, and the verdict on what was poured."""

from dataclasses import replace

import pytest

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.errors import InputError, RangeError
from layup.planning.mix_sheet import mix_sheet, next_exact_batch_g, verdict
from layup.planning.plan import Scale

SLOW = Datasheet(
    id="slow",
    title="Slow",
    chemistry="epoxy-amine",
    resin=Component("A", 1.15, 190.0),
    hardener=Component("B", 0.97, 57.0),
    ratio=(100.0, 30.0),
    ratio_by="weight",
    pot_lives=(PotLifePoint(2700.0, 150.0, 298.15),),
    cautions=("Keep it off your skin.",),
)
GRAM = Scale(readability_g=1.0, capacity_g=5000.0)
TENTH = Scale(readability_g=0.1, capacity_g=500.0)


def shown(weighing):
    return tuple(reading.shows_g for reading in weighing.readings)


def test_one_tare_reads_the_resin_then_the_sum():
    sheet = mix_sheet(SLOW, 250.0, TENTH)
    assert sum(sheet.masses_g) == pytest.approx(250.0, rel=1e-12)
    assert shown(sheet.one_tare) == (192.3, 250.0)
    assert shown(sheet.separate_cups) == (192.3, 57.7)
    assert [reading.component for reading in sheet.one_tare.readings] == ["resin", "hardener"]


def test_the_sheet_says_what_rounding_to_a_coarse_scale_costs():
    accuracy = mix_sheet(SLOW, 250.0, GRAM).one_tare.accuracy
    # By hand: 192 and 58 g are shown; 58/57.6 - 1, and at worst 59 on 191.5.
    assert accuracy.rounding_off_ratio == pytest.approx(58 / 57.6 - 1, rel=1e-12)
    assert accuracy.total_off_ratio == pytest.approx(59 / (191.5 * 0.3) - 1, rel=1e-12)
    assert accuracy.worst_case_off_ratio == pytest.approx(0.01999, abs=1e-5)
    assert accuracy.smallest_batch_g == pytest.approx(249.8, abs=0.05)


def test_each_reading_comes_with_what_to_accept():
    resin, total = mix_sheet(SLOW, 1300.0, GRAM).one_tare.readings
    # Exactly 1000 and 300 g: the total may be 294 to 306 of hardener on 1000.
    assert total.within_g == (1294.0, 1306.0)
    # 1300 in all keeps 2 % from 1300/1.306 = 995.4 to 1300/1.294 = 1004.6 g of resin.
    assert resin.within_g == (996.0, 1004.0)


def test_a_reading_that_cannot_be_within_two_percent_says_so():
    _, hardener = mix_sheet(replace(SLOW, ratio=(100.0, 10.0)), 50.0, Scale(2.0, 500.0)).separate_cups.readings
    assert hardener.shows_g == 4.0
    assert hardener.within_g is None


def test_a_coarse_scale_warns_with_the_ways_out_that_work():
    sheet = mix_sheet(SLOW, 250.0, GRAM)
    assert sheet.warnings == (
        "On one tare the mix may be 2.7 % off ratio though the scale shows these readings "
        "(2.0 % its last digit, +0.7 % rounding to it): mix 260 g, or weigh each component on a tare of its own "
        "(1.8 %).",
    )
    assert mix_sheet(SLOW, 260.0, GRAM).warnings == ()
    assert mix_sheet(SLOW, 250.0, TENTH).warnings == ()


def test_a_scale_far_too_coarse_is_told_to_be_replaced():
    sheet = mix_sheet(replace(SLOW, ratio=(1000.0, 10.0), hardener=Component("B")), 100.0, Scale(1.0, 5000.0))
    assert sheet.warnings[0].endswith("use a finer scale.")


def test_the_next_batch_offered_is_the_first_that_reads_within_two_percent():
    assert next_exact_batch_g(250.0, (100.0, 30.0), 1.0) == 260.0
    for batch_g in range(250, 260):
        assert mix_sheet(SLOW, float(batch_g), GRAM).one_tare.accuracy.total_off_ratio > 0.02


def test_volumes_go_to_the_marks_that_keep_the_ratio_best():
    by_volume = mix_sheet(SLOW, 250.0, TENTH, measure_step_ml=5.0).by_volume
    # Exactly 167.2 and 59.5 ml: 165 with 60 is 2.2 % off, 170 with 60 is 0.8 % off.
    assert [(measure.shows_ml, measure.steps) for measure in by_volume.measures] == [(170.0, 34), (60.0, 12)]
    assert by_volume.accuracy.rounding_off_ratio == pytest.approx(60 * 0.97 / (170 * 1.15 * 0.3) - 1, rel=1e-12)
    assert by_volume.accuracy.total_off_ratio == pytest.approx(1 - 57.5 * 0.97 / (172.5 * 1.15 * 0.3), rel=1e-12)


def test_fine_marks_show_the_volumes_themselves():
    by_volume = mix_sheet(SLOW, 250.0, TENTH, measure_step_ml=0.1).by_volume
    resin, hardener = by_volume.measures
    assert resin.shows_ml == pytest.approx(250 / 1.3 / 1.15, abs=0.1)
    assert hardener.shows_ml == pytest.approx(75 / 1.3 / 0.97, abs=0.1)


def test_a_ratio_by_volume_gives_the_same_grams_as_its_ratio_by_weight():
    by_volume = replace(SLOW, ratio=(100.0, 30.0 * 1.15 / 0.97), ratio_by="volume")
    assert mix_sheet(by_volume, 250.0, TENTH).masses_g == pytest.approx(
        mix_sheet(SLOW, 250.0, TENTH).masses_g, rel=1e-12
    )


def test_a_coarse_measure_warns():
    assert mix_sheet(SLOW, 250.0, TENTH, measure_step_ml=5.0).warnings == (
        "Measured by volume, the mix may be 6.3 % off ratio though it stands at the marks; "
        "weigh it if you can, or use a finer measure.",
    )
    assert mix_sheet(SLOW, 250.0, TENTH, measure_step_ml=0.5).warnings == ()


def test_volumes_without_densities_are_refused_but_weighing_is_not():
    no_density = replace(SLOW, hardener=Component("B"))
    sheet = mix_sheet(no_density, 250.0, TENTH)
    assert sheet.by_volume is None
    assert sheet.cup_ml is None
    with pytest.raises(InputError, match=r"slow measures: a volume needs a density.*or weigh"):
        mix_sheet(no_density, 250.0, TENTH, measure_step_ml=5.0)


def test_the_cup_is_half_to_two_thirds_full():
    smallest_ml, largest_ml = mix_sheet(SLOW, 250.0, TENTH).cup_ml
    batch_ml = 250 / 1.3 / 1.15 + 75 / 1.3 / 0.97
    assert batch_ml / smallest_ml == pytest.approx(2 / 3)
    assert batch_ml / largest_ml == pytest.approx(1 / 2)


def test_a_batch_too_large_for_the_scale_or_the_cup_warns():
    assert mix_sheet(SLOW, 520.0, TENTH, cup_g=200.0).warnings == (
        "The batch is 520 g and the scale ends at 500 g, cup included: split it in smaller batches.",
        "The batch is 520 g and the largest cup takes 200 g: split it in 3 batches, or use a tray.",
    )
    assert mix_sheet(SLOW, 200.0, TENTH, cup_g=200.0).warnings == ()


def test_a_ratio_far_from_its_equivalents_is_on_the_sheet():
    assert any(
        "less hardener" in words for words in mix_sheet(replace(SLOW, ratio=(100.0, 20.0)), 250.0, TENTH).warnings
    )


@pytest.mark.parametrize(
    ("chemistry", "word"), [("epoxy-amine", "allergic to epoxy"), ("urethane", "Isocyanates"), ("other", "harmful")]
)
def test_the_sheet_carries_the_cautions_of_its_chemistry(chemistry, word):
    cautions = mix_sheet(replace(SLOW, chemistry=chemistry), 250.0, TENTH).cautions
    assert cautions[0] == "Keep it off your skin."
    text = " ".join(cautions)
    for needed in (word, "gloves", "eye protection", "ventilate", "safety data sheets"):
        assert needed in text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"mass_g": 0.0}, "batch mass"),
        ({"mass_g": float("nan")}, "batch mass"),
        ({"mass_g": 0.5}, "lost in the scale's last digit"),
        ({"scale": Scale(1e-5, 500.0)}, "scale readability"),
        ({"cup_g": 0.0}, "largest cup"),
        ({"measure_step_ml": 0.0}, "measure step"),
        ({"measure_step_ml": -5.0}, "measure step"),
    ],
)
def test_a_sheet_is_refused_for_what_cannot_be(change, words):
    arguments = {"mass_g": 250.0, "scale": GRAM} | change
    mass_g, scale = arguments.pop("mass_g"), arguments.pop("scale")
    with pytest.raises(RangeError, match=words):
        mix_sheet(SLOW, mass_g, scale, **arguments)


@pytest.mark.parametrize(
    ("hardener_g", "word"),
    [
        (60.0, "on ratio"),
        (61.2, "on ratio"),
        (58.8, "on ratio"),
        (61.3, "usable"),
        (57.0, "usable"),
        (63.1, "off ratio"),
    ],
)
def test_the_verdict_has_three_words(hardener_g, word):
    assert verdict((200.0, hardener_g), (100.0, 30.0)).word == word


def test_a_mix_on_ratio_is_left_alone():
    judged = verdict((200.0, 60.5), (100.0, 30.0), cup_g=300.0)
    assert judged.add_g == (0.0, 0.0)
    assert judged.batch_g == 260.5
    assert judged.fits is True
    assert judged.advice == ("Nothing to add: stir, and scrape the sides and the bottom.",)


def test_too_much_hardener_is_corrected_with_resin():
    judged = verdict((200.0, 70.0), (100.0, 30.0), cup_g=400.0)
    assert judged.word == "off ratio"
    assert judged.off_ratio == pytest.approx(1 / 6)
    assert judged.add_g == pytest.approx((100 / 3, 0.0))
    assert judged.batch_g == pytest.approx(910 / 3)
    assert judged.fits is True
    assert judged.advice[0].startswith("Add 33.3 g of resin")


def test_too_much_resin_is_corrected_with_hardener_and_no_more():
    judged = verdict((210.0, 60.0), (100.0, 30.0))
    assert judged.add_g == pytest.approx((0.0, 3.0))
    assert judged.fits is None
    assert any("does not cure it faster" in words for words in judged.advice)


def test_a_correction_that_overfills_the_cup_says_so_first():
    judged = verdict((200.0, 70.0), (100.0, 30.0), cup_g=290.0)
    assert judged.fits is False
    assert judged.advice[0] == "That makes 303 g and the cup takes 290 g: move it to a larger one first."


def test_swapped_components_are_better_thrown_away():
    judged = verdict((60.0, 200.0), (100.0, 30.0))
    assert any("a fresh one wastes less" in words for words in judged.advice)


def test_resin_alone_asks_for_its_hardener():
    assert verdict((207.0, 0.0), (100.0, 30.0)).add_g == pytest.approx((0.0, 62.1))


def test_a_usable_mix_may_be_left_or_put_right():
    judged = verdict((200.0, 62.0), (100.0, 30.0))
    assert judged.word == "usable"
    assert judged.advice[0].startswith("Usable as it is if the maker allows 5 %")
    assert judged.advice[1].startswith("Add 6.7 g of resin")


def test_a_verdict_on_a_cup_of_no_size_is_refused():
    with pytest.raises(RangeError, match=r"cup.*must be above 0"):
        verdict((200.0, 60.0), (100.0, 30.0), cup_g=0.0)


def test_only_a_correction_that_more_than_doubles_the_batch_is_called_wasteful():
    # 100:30 with 128 g on 200 g needs 226.7 g of resin: 555 g of 328; with 200 g it needs 466.7: 867 g of 400.
    assert not any("fresh one" in words for words in verdict((200.0, 128.0), (100.0, 30.0)).advice)
    assert any("fresh one" in words for words in verdict((200.0, 200.0), (100.0, 30.0)).advice)


def test_a_small_addition_is_given_to_the_hundredth():
    assert verdict((2.0, 0.54), (100.0, 30.0)).advice[0].startswith("Add 0.06 g of hardener")


def test_five_percent_exactly_is_still_usable():
    assert verdict((200.0, 63.0), (100.0, 30.0)).word == "usable"
    assert verdict((200.0, 57.0), (100.0, 30.0)).word == "usable"


def test_a_measure_outside_its_range_is_refused():
    for step_ml in (0.00009, 1001.0):
        with pytest.raises(RangeError, match=r"measure step.*between 0\.0001 and 1000 ml"):
            mix_sheet(SLOW, 250.0, TENTH, measure_step_ml=step_ml)
