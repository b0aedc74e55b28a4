"""Casting: volumes, gas and pigments, against independent computations."""

import pytest

from layup.planning.castings import colour_weights
from layup.planning.pours import PourPace, split_pours


def test_a_casting_resin_of_five_minutes_is_poured_in_cups_it_survives():
    """By hand: 90 s of stirring and 1 s a gram fit 210 s up to 120 g; 400 g takes 4 pours of 100 g."""
    pace = PourPace(weighing_s=30.0, stirring_s=90.0, pouring_s=400.0, scraping_s=20.0)
    pours = split_pours(400.0, lambda _: 210.0, pace)
    assert [pour.mass_g for pour in pours] == [100.0] * 4
    assert [pour.weigh_s for pour in pours] == pytest.approx([0.0, 240.0, 480.0, 720.0])
    assert [pour.mix_s for pour in pours] == pytest.approx([30.0, 270.0, 510.0, 750.0])
    assert [pour.margin_s for pour in pours] == pytest.approx([20.0] * 4)


def test_a_fade_over_four_pours_goes_in_thirds():
    """By hand: shared 3:0, 2:1, 1:2, 0:3."""
    rows = [colour_weights(2, at / 4, 1 / 4, fade=True) for at in range(4)]
    assert rows == [pytest.approx((share / 3, 1 - share / 3)) for share in (3, 2, 1, 0)]
