"""Two hardeners half and half: what adds up is computed, what does not lies between both, with a band that says so."""

from dataclasses import fields, replace

import plan_examples
import pytest

from layup.chemistry import blending
from layup.chemistry.blending import blend, with_blends
from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import Component, CurePoint, Datasheet, ViscosityPoint
from layup.chemistry.life_band import predict_band
from layup.chemistry.mixing import stoichiometry_gap
from layup.chemistry.prediction import Vessel
from layup.chemistry.statements import pot_life_s
from layup.errors import RangeError

SLOW = replace(
    plan_examples.SLOW,
    hardener=Component("slow hardener", 0.96, 53.0, 4.0),
    ratio=(100.0, 100.0 * 53.0 / 178.0),
    viscosities=(ViscosityPoint(0.7, 298.15),),
    demould=(CurePoint(86400.0, 296.15),),
    glass_transition_K=340.15,
    signal_word="Warning",
    blends_with=("fast",),
)
FAST = replace(
    SLOW,
    id="fast",
    is_demo=True,
    pot_lives=plan_examples.FAST.pot_lives,
    films=plan_examples.FAST.films,
    hardener=Component("fast hardener", 1.0, 40.0, 6.0),
    ratio=(100.0, 100.0 * 40.0 / 178.0),
    viscosities=(ViscosityPoint(1.4, 298.15),),
    minimum_temperature_K=281.15,
    demould=(CurePoint(36000.0, 296.15),),
    glass_transition_K=345.15,
    signal_word="Danger",
    blends_with=(),
)
BLEND = blend(FAST, SLOW)


def test_a_blend_of_balanced_hardeners_is_balanced():
    """By the definition of an equivalent: a gram of each hardener takes EEW/AHEW grams of resin."""
    takes_g = 178.0 / 53.0 + 178.0 / 40.0
    assert BLEND.ratio == pytest.approx((100.0, 200.0 / takes_g))
    assert stoichiometry_gap(BLEND) == pytest.approx(0.0, abs=1e-12)
    assert BLEND.hardener.density_g_cm3 == pytest.approx(2.0 / (1.0 / 0.96 + 1.0 / 1.0))
    groups = (4.0 / 53.0 + 6.0 / 40.0) / (1.0 / 53.0 + 1.0 / 40.0)
    assert BLEND.hardener.functionality == pytest.approx(groups)


def test_its_times_lie_between_those_of_its_hardeners_and_its_band_reaches_from_one_to_the_other():
    (point,) = BLEND.pot_lives
    assert point.time_s == pytest.approx((720.0 * 2700.0) ** 0.5, rel=1e-3)
    lives = {
        sheet.id: predict_band(calibrate(sheet), Vessel.cup(), mass_g=300.0, start_K=293.15, ambient=293.15).working_s
        for sheet in (FAST, BLEND, SLOW)
    }
    band = lives["fast+slow"]
    assert lives["fast"].likely < band.likely < lives["slow"].likely
    assert band.low <= lives["fast"].likely
    assert band.high >= lives["slow"].likely
    assert any("times of a blend" in words for words in calibrate(BLEND).assumptions)


def test_what_is_asked_for_safety_and_cure_is_the_stricter_of_both():
    assert (BLEND.minimum_temperature_K, BLEND.glass_transition_K) == (288.15, 340.15)
    (out,) = BLEND.demould
    assert out == CurePoint(pytest.approx(86400.0, rel=1e-12), 296.15)
    assert BLEND.signal_word == "Danger"
    assert BLEND.viscosities[0].viscosity_Pa_s == pytest.approx((0.7 * 1.4) ** 0.5)
    assert BLEND.is_demo


@pytest.mark.parametrize("record", [Datasheet, Component])
def test_a_blend_says_what_each_field_is_whatever_its_default(record, monkeypatch):
    """What is left to a default, as that of a field that a new key of a resin file fills, is lost from a blend."""
    said = {}
    monkeypatch.setattr(blending, record.__name__, lambda **named: said.update(named) or record(**named))
    blend.__wrapped__(FAST, SLOW)
    assert said.keys() == {each.name for each in fields(record)}


def test_the_order_of_a_pair_hardly_matters():
    there, back = calibrate(BLEND).kinetics, calibrate(blend(SLOW, FAST)).kinetics
    assert pot_life_s(back, BLEND.pot_lives[0]) == pytest.approx(pot_life_s(there, BLEND.pot_lives[0]), rel=0.02)


def test_only_pairs_that_a_maker_names_are_blended_and_only_of_one_resin():
    assert list(with_blends({"slow": SLOW, "fast": FAST})) == ["slow", "fast", "fast+slow"]
    assert len(with_blends({"slow": replace(SLOW, blends_with=()), "fast": FAST})) == 2
    other = replace(FAST, resin=Component("another resin", 1.1, 190.0))
    assert len(with_blends({"slow": SLOW, "fast": other})) == 2
    with pytest.raises(RangeError, match="has another resin"):
        blend(SLOW, other)


@pytest.mark.parametrize(
    ("words", "stricter"),
    [(("", "Warning"), "Warning"), (("Warning", "Danger"), "Danger"), (("", ""), "")],
)
def test_a_blend_warns_as_the_stricter_of_both_sheets(words, stricter):
    sheets = [replace(sheet, signal_word=word) for sheet, word in zip((SLOW, FAST), words, strict=True)]
    assert [blend(*pair).signal_word for pair in (sheets, sheets[::-1])] == [stricter, stricter]
