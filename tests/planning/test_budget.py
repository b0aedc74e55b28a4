"""The budget against sums done by hand, and what it refuses."""

from dataclasses import replace

import pytest
from plan_examples import CORE, GLASS, PLAN, SLOW, STRIP, WALLS

from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.mixing import mix_density_g_cm3
from layup.errors import InputError, RangeError
from layup.planning.budget import NO_SQUEEZE_OUT, budget
from layup.planning.outline import Outline
from layup.planning.plan import BondStep, FabricStep, Losses
from layup.planning.pressing import pressing

# One piece of 1 m x 0.1 m with no overhang; 600 g/m^2 at 60 % fibre by weight holds 400 g/m^2 of resin.
PLAIN = replace(
    PLAN, pieces=1, outline=Outline(length_m=1.0, stated_area_m2=0.1), losses=Losses(20.0, 0.0), steps=(GLASS,)
)


def test_cloth_takes_its_resin_by_the_fibre_fraction():
    (line,) = budget(PLAIN, SLOW).lines
    assert line.glass_g == pytest.approx(2 * 600 * 0.1)
    assert line.mix_g == pytest.approx(2 * 400 * 0.1)
    assert (line.offcut_g, line.squeezed_g) == (0.0, 0.0)
    assert (line.low_g, line.high_g) == pytest.approx((64.0, 96.0)), "common practice, no source: a fifth either way"


def test_resin_in_trimmed_cloth_is_counted_in_a_column_of_its_own():
    plan = replace(PLAIN, outline=replace(PLAIN.outline, overhang_m=0.03))
    (line,) = budget(plan, SLOW).lines
    trimmed_m2 = 2.2 * 0.03 + 3.141592653589793 * 0.03**2
    assert line.on_part_g == pytest.approx(80.0)
    assert line.offcut_g == pytest.approx(2 * 400 * trimmed_m2)
    assert line.cloth_m2 == pytest.approx(2 * (0.1 + trimmed_m2))
    assert line.part_glass_g == pytest.approx(120.0)


def test_squeeze_out_is_poured_on_top_of_what_stays():
    (line,) = budget(replace(PLAIN, losses=Losses(20.0, 0.2)), SLOW).lines
    assert line.mix_g == pytest.approx(80.0 / 0.8)
    assert line.squeezed_g == pytest.approx(0.2 * line.mix_g)


def test_a_face_drinks_over_its_share_of_the_outline_or_its_own_area():
    share, own = budget(replace(PLAIN, steps=(CORE, replace(CORE, area_m2=0.03))), SLOW).lines
    assert share.mix_g == pytest.approx(110 * 0.8 * 0.1)
    assert own.mix_g == pytest.approx(110 * 0.03)
    assert share.high_g / share.mix_g == pytest.approx(1.25)


def test_a_face_with_its_own_spread_keeps_it():
    step = BondStep("face", 60.0, "ash", 100.0, uptake_low_g_m2=80.0, uptake_high_g_m2=150.0)
    (line,) = budget(replace(PLAIN, steps=(step,)), SLOW).lines
    assert (line.low_g, line.mix_g, line.high_g) == pytest.approx((8.0, 10.0, 15.0))


def test_the_total_is_the_sum_of_its_steps_and_losses_and_splits_by_the_ratio():
    total = budget(PLAN, SLOW, batches=3)
    assert len(total.lines) == len(PLAN.steps)
    assert total.losses_g == 60.0
    assert total.mix_g == sum(line.mix_g for line in total.lines) + 60.0
    assert total.resin_g + total.hardener_g == pytest.approx(total.mix_g, rel=1e-12)
    assert total.hardener_g / total.resin_g == pytest.approx(0.30, rel=1e-12)
    assert total.low_g < total.mix_g < total.high_g


def test_what_to_have_ready_has_a_margin():
    total = budget(PLAN, SLOW, margin=0.4)
    assert total.margin == 0.4
    assert total.buy_resin_g == pytest.approx(1.4 * total.resin_g)
    assert total.buy_hardener_g == pytest.approx(1.4 * total.hardener_g)


def test_what_to_have_ready_reaches_to_the_high_end_of_all_steps():
    total = budget(PLAN, SLOW, margin=0.1)
    assert total.high_g > 1.1 * total.mix_g
    assert total.buy_resin_g + total.buy_hardener_g == pytest.approx(total.high_g)
    assert total.margin == pytest.approx(total.high_g / total.mix_g - 1.0)
    assert total.buy_hardener_g / total.buy_resin_g == pytest.approx(0.30)


def test_plies_have_the_thickness_of_the_glass_rule(monkeypatch):
    # ISO 12215-5 annex C: t = w/3.072 (2.56/psi - 1.36) mm, w in kg/m^2, for 2.56 and 1.20 g/cm^3.
    step = FabricStep("glass", 60.0, 1000.0, "E-glass", 2.56, 0.60)
    monkeypatch.setattr("layup.planning.budget.CURED_DENSITY_G_CM3", 1.20)
    assert budget(replace(PLAIN, steps=(step,)), SLOW).thickness_m == pytest.approx(0.9462e-3, rel=1e-4)


def test_layers_add_to_the_thickness_and_faces_and_pieces_do_not():
    one = budget(replace(PLAIN, steps=(replace(GLASS, layers=1),)), SLOW).thickness_m
    assert budget(replace(PLAIN, pieces=2, steps=(replace(GLASS, layers=3), CORE)), SLOW).thickness_m == pytest.approx(
        3 * one
    )


def test_fractions_and_thickness_are_of_the_cured_resin_whatever_the_liquid_weighs():
    light = replace(SLOW, resin=replace(SLOW.resin, density_g_cm3=1.0))
    one, other = budget(PLAN, SLOW), budget(PLAN, light)
    assert (one.fibre_volume_fraction, one.thickness_m) == (other.fibre_volume_fraction, other.thickness_m)
    assert pressing(PLAN).planned_fraction == one.fibre_volume_fraction, "close and plan say the same"
    assert pressing(PLAN).laminate_m == one.thickness_m


def test_a_squeeze_out_that_is_not_given_is_said_and_pours_nothing_for_it():
    total = budget(replace(PLAN, losses=Losses(20.0)), SLOW)
    assert NO_SQUEEZE_OUT in total.assumptions
    assert sum(line.squeezed_g for line in total.lines) == 0.0
    none = budget(replace(PLAN, losses=Losses(20.0, 0.0)), SLOW)
    assert "The press drives out 0 % of the resin laid." in none.assumptions
    assert NO_SQUEEZE_OUT not in none.assumptions


def test_mean_fibre_fractions_weigh_every_ply():
    total = budget(replace(PLAIN, steps=(GLASS, CORE)), SLOW)
    assert total.fibre_mass_fraction == pytest.approx(0.6)
    assert total.fibre_volume_fraction == pytest.approx((0.6 / 2.54) / (0.6 / 2.54 + 0.4 / CURED_DENSITY_G_CM3))
    assert budget(replace(PLAIN, steps=(CORE,)), SLOW).fibre_mass_fraction is None


def test_mass_is_the_fibre_and_resin_that_stay():
    total = budget(PLAN, SLOW)
    assert total.mass_g == pytest.approx(sum(line.part_glass_g + line.on_part_g for line in total.lines))


def test_castings_are_counted_in_their_own_resin():
    casting = replace(SLOW, id="casting", ratio=(100.0, 100.0))
    (known,) = budget(PLAN, SLOW, casting_resins={"casting": casting}).castings
    density = mix_density_g_cm3(casting)
    assert known.mix_g == pytest.approx(2 * 300 * density + 2 * 20.0)  # two pieces of 300 cm^3, two cups lost
    assert known.parts_g == pytest.approx((known.mix_g / 2, known.mix_g / 2))
    assert known.pours == WALLS.pours
    (unknown,) = budget(PLAN, SLOW).castings
    assert unknown.parts_g is None
    assert budget(PLAN, SLOW).lines[0].mix_g == 0.0, "a casting takes none of the laminating resin"


def test_the_density_of_a_mix_adds_volumes():
    assert mix_density_g_cm3(SLOW) == pytest.approx(130 / (100 / 1.15 + 30 / 0.97))
    assert mix_density_g_cm3(replace(SLOW, hardener=replace(SLOW.hardener, density_g_cm3=None))) == 1.15


def test_costs_add_up_and_name_what_has_no_price():
    plan = replace(PLAIN, steps=(GLASS, STRIP))
    cost = budget(plan, SLOW, margin=0.0).cost
    grams = budget(plan, SLOW).high_g
    assert cost.total == pytest.approx(20.0 * grams / 1000 + 9.0 * 2 * 0.1)
    assert cost.unpriced == ("carbon strip",)


def test_cloth_is_paid_for_by_the_length_of_roll():
    plan = replace(PLAIN, outline=replace(PLAIN.outline, roll_width_m=1.27), steps=(GLASS,))
    cost = budget(plan, replace(SLOW, price_per_kg=None)).cost
    assert cost.total == pytest.approx(9.0 * 1.0 * 1.27)  # 1 m off a roll 1.27 m wide
    assert cost.unpriced == (SLOW.title,)


def test_nothing_priced_has_no_cost():
    plan = replace(PLAIN, steps=(STRIP,))
    assert budget(plan, replace(SLOW, price_per_kg=None)).cost.total is None


@pytest.mark.parametrize("fraction", [0.90, 0.97])
def test_a_target_beyond_the_packing_ceiling_is_refused_with_its_step(fraction):
    step = replace(GLASS, fibre_mass_fraction=fraction)
    with pytest.raises(RangeError, match=r"'lower glass'.*fibre volume fraction"):
        budget(replace(PLAIN, steps=(step,)), SLOW)


def test_a_target_just_below_the_ceiling_is_allowed():
    # Vf 0.78 by weight, with 2.54 g/cm^3 glass.
    step = replace(GLASS, fibre_mass_fraction=0.78 * 2.54 / (0.78 * 2.54 + 0.22 * CURED_DENSITY_G_CM3))
    assert budget(replace(PLAIN, steps=(step,)), SLOW).fibre_volume_fraction == pytest.approx(0.78)


@pytest.mark.parametrize(("more", "message"), [({"batches": 0}, "too few"), ({"margin": -0.1}, "margin")])
def test_a_budget_that_makes_no_sense_is_refused(more, message):
    with pytest.raises(RangeError, match=message):
        budget(PLAN, SLOW, **more)


def test_a_ratio_by_volume_needs_densities():
    by_volume = replace(SLOW, ratio_by="volume", resin=replace(SLOW.resin, density_g_cm3=None))
    with pytest.raises(InputError, match="density"):
        budget(PLAN, by_volume)


def test_what_was_assumed_is_said_in_words():
    said = " ".join(budget(PLAN, SLOW).assumptions)
    assert "20 g in cup" in said
    assert "12 %" in said
    assert "common practice, no source" in said
