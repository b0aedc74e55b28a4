"""Casting: volumes, gas and pigments, against independent computations."""

import pytest

from layup.chemistry.casting import (
    PourPace,
    cast_mass_g,
    colour_steps,
    split_pours,
)


def test_mass_is_volume_times_density_with_the_usual_waste():
    """Ten per cent for cups and overfill: common practice, no source."""
    assert cast_mass_g(100e-6, 1.10) == pytest.approx(121.0)


def test_a_casting_resin_of_five_minutes_is_poured_in_cups_it_survives():
    """By hand: 90 s of stirring and 1 s a gram fit 210 s up to 120 g; 400 g takes 4 pours of 100 g."""
    pace = PourPace(weighing_s=30.0, stirring_s=90.0, pouring_s=400.0, scraping_s=20.0)
    pours = split_pours(400.0, lambda _: 210.0, pace)
    assert [pour.mass_g for pour in pours] == [100.0] * 4
    assert [pour.weigh_s for pour in pours] == pytest.approx([0.0, 240.0, 480.0, 720.0])
    assert [pour.mix_s for pour in pours] == pytest.approx([30.0, 270.0, 510.0, 750.0])
    assert [pour.margin_s for pour in pours] == pytest.approx([20.0] * 4)


def test_a_fade_over_four_pours_goes_in_thirds():
    """By hand: 3 % of 100 g is 3 g in every pour, shared 3:0, 2:1, 1:2, 0:3."""
    assert colour_steps([100.0] * 4, 0.03, 0.05) == tuple(
        pytest.approx(pair) for pair in [(3, 0), (2, 1), (1, 2), (0, 3)]
    )
