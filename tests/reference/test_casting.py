"""Casting: volumes, gas and pigments, against independent computations."""

from math import pi

import numpy as np
import pytest

from layup.chemistry.casting import (
    PourPace,
    cast_mass_g,
    channel_volume_m3,
    colour_steps,
    split_pours,
    trapezium_m2,
)


def test_a_ring_channel_holds_what_pappus_says():
    """Pappus and Guldinus: a torus of rectangular section, V = 2 pi R A; the path in 720 chords."""
    angles = np.linspace(0.0, 2 * np.pi, 721)
    path = [(0.5 * float(np.cos(a)), 0.5 * float(np.sin(a))) for a in angles]
    assert channel_volume_m3(path, trapezium_m2(0.01, 0.01, 0.01)) == pytest.approx(2 * pi * 0.5 * 1e-4, rel=1e-5)


def test_a_straight_channel_of_trapezium_section_is_a_prism():
    """Elementary geometry: (10 + 6)/2 x 12 mm over 1.6 m is 153.6 ml."""
    assert channel_volume_m3([(0, 0), (1.6, 0)], trapezium_m2(0.010, 0.006, 0.012)) * 1e6 == pytest.approx(153.6)


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
