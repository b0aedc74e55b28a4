"""What was weighed and measured of a part, beside its plan."""

from dataclasses import replace
from pathlib import Path

import pytest
from session_examples import mixed, stamped, start

from layup.files.workshop import Workshop, demo_root
from layup.planning.budget import budget
from layup.review.as_built import AsBuilt, Estimate, as_built, carried
from layup.session.archive import StoredSession
from layup.session.batch_events import BatchLost, BatchPouredOut, PressClosed
from layup.session.records import fold
from layup.session.state import CouponBurnt, Event, PartWeighed, ThicknessMeasured

SHOP = Workshop(demo_root())
PLAN, SHEET = SHOP.plan("touring-skis"), SHOP.resin("slow-laminating")
GRAMS = budget(PLAN, SHEET)
CLOTH_G = sum(line.glass_g for line in GRAMS.lines)
KEPT_G = sum(line.on_part_g + line.offcut_g for line in GRAMS.lines)
CLOSED: list[Event] = [mixed(1), mixed(2), BatchPouredOut(batch=1), BatchPouredOut(batch=2), PressClosed()]


def built(*events: Event, before: list[Event] = CLOSED) -> AsBuilt:
    found = as_built(StoredSession(Path("s"), fold(stamped([start(), *before, *events])), PLAN, SHEET, ()))
    assert found is not None
    return found


def weighed(kept_g: float, **more: float) -> PartWeighed:
    return PartWeighed(part_g=3000.0 + kept_g, dry_g=3000.0, cloth_g=CLOTH_G, **more)


def test_a_part_that_kept_what_was_planned_has_the_planned_fibre_fraction() -> None:
    found = built(weighed(KEPT_G))
    (measured,) = found.measured
    assert measured.way == "weighed"
    assert measured.by_mass.value == pytest.approx(found.target_by_mass, abs=1e-6)
    assert measured.by_volume.value == pytest.approx(found.target_by_volume, abs=5e-3)
    assert found.off_target == 0.0


@pytest.mark.parametrize(("more_g", "sign"), [(250.0, -1.0), (-150.0, 1.0)])
def test_a_part_with_much_more_or_less_resin_is_off_its_target(more_g: float, sign: float) -> None:
    assert built(weighed(KEPT_G + more_g)).off_target * sign > 0.04


def test_what_the_scale_and_the_faces_leave_open_is_in_the_uncertainty() -> None:
    by_label = built(PartWeighed(part_g=3000.0 + KEPT_G, dry_g=3000.0)).measured[0].by_mass
    by_scale = built(weighed(KEPT_G)).measured[0].by_mass
    assert 0.0 < by_scale.sd < by_label.sd
    assert by_label.value == pytest.approx(by_scale.value)


def test_the_mix_is_followed_from_the_cup_to_the_part() -> None:
    resin = built(weighed(180.0, left_g=30.0)).resin
    assert resin is not None
    assert resin.mixed.value == 260.0
    assert resin.kept.value == 180.0
    assert resin.out.value == pytest.approx(50.0)
    assert resin.squeezed_share is not None
    assert resin.squeezed_share.value == pytest.approx(50.0 / 230.0)
    assert resin.planned_kept_g == pytest.approx(KEPT_G)


def test_without_what_was_left_the_rest_is_driven_out_or_left() -> None:
    resin = built(weighed(180.0)).resin
    assert resin is not None
    assert resin.left is None
    assert resin.squeezed_share is None
    assert resin.out.value == pytest.approx(80.0)


def test_a_lost_batch_is_no_mix_for_the_part() -> None:
    lost: list[Event] = [*CLOSED[:-1], BatchLost(batch=2), PressClosed()]
    resin = built(weighed(100.0), before=lost).resin
    assert resin is not None
    assert resin.mixed.value == 130.0


def test_a_coupon_gives_the_fraction_by_burning_and_with_its_weight_in_water_the_voids() -> None:
    dry, wet = (built(CouponBurnt(coupon_g=10.0, residue_g=6.0, in_water_g=water)) for water in (None, 3.75))
    assert dry.measured[0].by_mass.value == pytest.approx(0.6)
    assert dry.measured[0].voids is None
    voids = wet.measured[0].voids
    assert voids is not None
    assert 0.0 < voids.value < 0.1


def test_a_coupon_denser_than_its_fibre_and_resin_is_refused_in_words() -> None:
    found = built(CouponBurnt(coupon_g=10.0, residue_g=6.0, in_water_g=6.0))
    assert found.measured == ()
    assert any("denser than its fibre and resin" in words for words in found.words)


def test_thickness_with_weight_gives_voids_and_alone_counts_them_as_resin() -> None:
    plies_m = sum(line.thickness_m for line in GRAMS.lines if "glass" in line.name.lower())
    thin = built(ThicknessMeasured(thickness_m=plies_m))
    assert thin.measured[0].by_mass.value == pytest.approx(0.67)
    assert thin.measured[0].voids is None
    assert "counts voids as resin" in " ".join(thin.words)
    both = built(weighed(KEPT_G), ThicknessMeasured(thickness_m=plies_m / 0.95))
    voids = both.measured[1].voids
    assert voids is not None
    assert voids.value == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (ThicknessMeasured(thickness_m=0.0004), "less than their fibre alone takes"),
        (PartWeighed(part_g=3020.0, dry_g=3000.0), "less resin than its faces and sheets alone"),
        (ThicknessMeasured(thickness_m=0.02), "less than its"),
    ],
)
def test_a_measurement_that_cannot_be_right_says_why(event: Event, words: str) -> None:
    before = [*CLOSED, weighed(KEPT_G)] if words == "less than its" else CLOSED
    found = built(event, before=before)
    if words == "less than its":
        assert any("voids is seldom true" in said for said in found.words)
    else:
        assert any(words in said for said in found.words)
        assert found.measured == ()


def test_the_last_weighing_counts_and_every_coupon() -> None:
    coupon = CouponBurnt(coupon_g=10.0, residue_g=6.0)
    found = built(weighed(100.0), weighed(KEPT_G), coupon, coupon)
    assert [one.way for one in found.measured] == ["weighed", "burnt off", "burnt off"]
    assert found.measured[0].by_mass.value == pytest.approx(found.target_by_mass, abs=1e-6)


def test_nothing_measured_is_nothing_built() -> None:
    state = fold(stamped([start(), *CLOSED]))
    assert as_built(StoredSession(Path("s"), state, PLAN, SHEET, ())) is None
    cloth_less = replace(PLAN, steps=tuple(step for step in PLAN.steps if step.kind != "fabric"))
    state = fold(stamped([start(), *CLOSED, weighed(100.0)]))
    assert as_built(StoredSession(Path("s"), state, cloth_less, SHEET, ())) is None


def test_an_uncertainty_is_carried_through_a_rule_as_its_slope_says() -> None:
    product = carried(lambda a, b: a * b, Estimate(3.0, 0.1), Estimate(4.0, 0.2))
    assert product.value == 12.0
    assert product.sd == pytest.approx((0.4**2 + 0.6**2) ** 0.5)
    assert carried(lambda a: a, Estimate(1.0)).sd == 0.0
