"""What the part really came to: fibre fraction, resin kept and driven out, voids, each with its uncertainty.

Three ways, each from its own record: weigh the part and its dry pieces; burn a coupon's resin off (ISO 1172); measure
the thickness of the plies. Voids need a coupon weighed in water (ASTM D3171), or a weight and a thickness together.

Standard uncertainties, carried over as the GUM says (JCGM 100:2008): each input is moved by half of its own to each
side and the changes are added in squares; inputs are taken as independent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from layup.chemistry.laminate import (
    CURED_DENSITY_G_CM3,
    HEXAGONAL_PACKING,
    fibre_mass_fraction,
    fibre_volume_fraction,
    laminate_density_g_cm3,
    ply_thickness_m,
    void_fraction,
)
from layup.errors import LayupError, RangeError
from layup.planning.budget import Budget, budget
from layup.planning.plan import FabricStep
from layup.session.archive import StoredSession
from layup.session.mass_balance import mass_balance, plan_today
from layup.session.state import CouponBurnt, PartWeighed, ThicknessMeasured
from layup.units import length, mass

# -- estimate --------------------------------------------------------------------------------------------------------

RECTANGULAR = sqrt(3.0)
"""A value that may be off by up to a, either way, has the standard uncertainty a/sqrt(3) (JCGM 100:2008, 4.3.7)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty."""

    value: float
    sd: float = 0.0

    @classmethod
    def within(cls, value: float, half_width: float) -> Estimate:
        """Return a value that may be off by up to `half_width`, either way."""
        return cls(value, half_width / RECTANGULAR)

    @classmethod
    def read(cls, value: float, digit: float) -> Estimate:
        """Return a reading of a display, right to half its last digit."""
        return cls.within(value, 0.5 * digit)


def carried(rule: Callable[..., float], *inputs: Estimate) -> Estimate:
    """Return what a rule makes of some inputs, with the uncertainty that they carry into it."""
    values = [one.value for one in inputs]
    variance = 0.0
    for i, one in enumerate(inputs):
        if one.sd:
            low, high = list(values), list(values)
            low[i], high[i] = one.value - 0.5 * one.sd, one.value + 0.5 * one.sd
            variance += (rule(*high) - rule(*low)) ** 2
    return Estimate(rule(*values), sqrt(variance))


# -- laminate plan ---------------------------------------------------------------------------------------------------

CLOTH_TOLERANCE = 0.05
"""How far a roll's areal weight may be from its label (common practice, no source)."""
DENSITY_TOLERANCE = 0.02
"""How far the densities of fibre and cured resin may be from those used (from memory: E glass 2.54 to 2.60)."""


@dataclass(frozen=True, slots=True)
class Laminate:
    """The cloth and the resin of the plan, as the measurements need them."""

    grams: Budget
    digit_g: float
    fibre_g_cm3: Estimate
    matrix_g_cm3: Estimate
    cloth_g: Estimate
    bonds_g: Estimate
    """Resin that faces and sheets hold, which no scale can tell from that of the plies."""
    plies_g_m2: Estimate
    """Dry cloth of one piece, all plies that follow the outline, and below the density of their fibre."""
    plies_g_cm3: Estimate


def laminate_of(stored: StoredSession) -> Laminate | None:
    """Work out the plan's cloth; None where it has none, or the plan or the resin cannot be read."""
    if stored.plan is None or stored.sheet is None:
        return None
    plan, _ = plan_today(stored.plan, stored.state)
    grams = budget(plan, stored.sheet)
    cloth = [
        (line, step)
        for line, step in zip(grams.lines, plan.steps, strict=True)
        if isinstance(step, FabricStep) and line.glass_g > 0.0
    ]
    if not cloth:
        return None
    fibre_g = sum(line.glass_g for line, _ in cloth)
    density = fibre_g / sum(line.glass_g / step.fibre_density_g_cm3 for line, step in cloth)
    plies = [step for _, step in cloth if step.width_m is None]
    weight = sum(step.layers * step.areal_weight_g_m2 for step in plies)
    solid = sum(step.layers * step.areal_weight_g_m2 / step.fibre_density_g_cm3 for step in plies)
    bonds = [line for line in grams.lines if line.kind == "bond" and line.mix_g > 0.0]
    spreads = [(line.high_g - line.low_g) / 2.0 * line.on_part_g / line.mix_g for line in bonds]
    return Laminate(
        grams=grams,
        digit_g=stored.plan.scale.readability_g,
        fibre_g_cm3=Estimate.within(density, DENSITY_TOLERANCE * density),
        matrix_g_cm3=Estimate.within(CURED_DENSITY_G_CM3, DENSITY_TOLERANCE * CURED_DENSITY_G_CM3),
        cloth_g=Estimate.within(fibre_g, CLOTH_TOLERANCE * fibre_g),
        bonds_g=Estimate(sum(line.on_part_g for line in bonds), sqrt(sum(x * x for x in spreads)) / RECTANGULAR),
        plies_g_m2=Estimate.within(weight, CLOTH_TOLERANCE * weight),
        plies_g_cm3=Estimate.within(weight / solid, DENSITY_TOLERANCE * weight / solid) if plies else Estimate(density),
    )


# -- as built --------------------------------------------------------------------------------------------------------

WATER_G_CM3 = 0.998
"""Water at 20 °C (from memory: 0.9982)."""
MOST_VOIDS = 0.15
"""Hand layup holds a few per cent of voids (from memory: 2 to 5 %)."""
CLEAR = 0.04
"""A fibre fraction this far from its target is another laminate (common practice, no source)."""

Way = Literal["weighed", "burnt off", "thickness"]


@dataclass(frozen=True, slots=True)
class MeasuredLaminate:
    """The laminate by one way of measuring."""

    way: Way
    by_mass: Estimate
    by_volume: Estimate
    voids: Estimate | None = None


@dataclass(frozen=True, slots=True)
class ResinBalance:
    """Where the mix went [g]: what was mixed is kept in the part, left in cups and brushes, or driven out."""

    mixed: Estimate
    kept: Estimate
    planned_kept_g: float
    left: Estimate | None
    """None where what was left in cups and brushes was not weighed: then `out` holds both."""
    out: Estimate
    squeezed_share: Estimate | None
    """Of the mix laid, the share that the press drove out; None where what was left was not weighed."""


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """What was measured of a part, beside its plan."""

    target_by_mass: float
    target_by_volume: float
    measured: tuple[MeasuredLaminate, ...]
    resin: ResinBalance | None
    words: tuple[str, ...]
    """What could not be worked out, and what was taken for granted."""

    @property
    def best(self) -> MeasuredLaminate | None:
        """The way with the least uncertainty."""
        return min(self.measured, key=lambda one: one.by_mass.sd, default=None)

    @property
    def off_target(self) -> float:
        """How much more fibre, by mass, the laminate holds than its target, where that is clear; else 0."""
        best = self.best
        if best is None:
            return 0.0
        off = best.by_mass.value - self.target_by_mass
        return off if abs(off) > max(CLEAR, 2.0 * best.by_mass.sd) else 0.0


def as_built(stored: StoredSession) -> AsBuilt | None:
    """Return what was measured of a session's part; None where nothing was, or its plan holds no cloth."""
    state = stored.state
    if state.weighed is None and not state.coupons and not state.thicknesses:
        return None
    try:
        laminate = laminate_of(stored)
    except LayupError as error:
        return AsBuilt(0.0, 0.0, (), None, (str(error),))
    if laminate is None:
        return None
    measured: list[MeasuredLaminate] = []
    words: list[str] = []
    records: list[PartWeighed | CouponBurnt | ThicknessMeasured] = [*([state.weighed] if state.weighed else [])]
    records += [*state.coupons, *(state.thicknesses if laminate.plies_g_m2.value else ())]
    for record in records:
        try:
            if isinstance(record, PartWeighed):
                measured.append(_by_weight(record, laminate))
            elif isinstance(record, CouponBurnt):
                measured.append(_by_burning(record, laminate))
            else:
                known = next((one.by_mass for one in measured if one.way == "weighed"), None)
                measured.append(_by_thickness(record, laminate, known))
        except RangeError as error:
            words.append(str(error))
    if state.weighed is not None:
        bonds = laminate.bonds_g
        words.append(
            f"faces and sheets are taken to hold {mass.digits(bonds.value)} ± {mass(bonds.sd)} of resin, as planned"
        )
    if any(one.voids is not None and one.voids.value > MOST_VOIDS for one in measured):
        words.append(
            f"more than {100 * MOST_VOIDS:.0f} % voids is seldom true: measure again, and see that nothing else was "
            "counted"
        )
    if any(one.way == "thickness" and one.voids is None for one in measured):
        words.append("a thickness alone counts voids as resin")
    return AsBuilt(
        target_by_mass=laminate.grams.fibre_mass_fraction or 0.0,
        target_by_volume=laminate.grams.fibre_volume_fraction or 0.0,
        measured=tuple(measured),
        resin=None if state.weighed is None else _resin(state.weighed, stored, laminate),
        words=tuple(words),
    )


def _weighings(weighed: PartWeighed, digit_g: float) -> tuple[Estimate, Estimate, Estimate]:
    offcut = Estimate.read(weighed.offcut_g, digit_g) if weighed.offcut_g else Estimate(0.0)
    return Estimate.read(weighed.part_g, digit_g), offcut, Estimate.read(weighed.dry_g, digit_g)


def _gained_g(part_g: float, offcut_g: float, dry_g: float) -> float:
    return part_g + offcut_g - dry_g


def _by_weight(weighed: PartWeighed, laminate: Laminate) -> MeasuredLaminate:
    """Fibre over fibre and resin of the plies: what the part gained, without what faces and sheets hold."""

    def by_mass(part_g: float, offcut_g: float, dry_g: float, bonds_g: float, cloth_g: float) -> float:
        gained_g = _gained_g(part_g, offcut_g, dry_g)
        if gained_g <= bonds_g:
            raise RangeError(
                "weighed part",
                "holds less resin than its faces and sheets alone should",
                value=mass(gained_g),
                allowed=f"more than {mass(bonds_g)}",
                todo="weigh the dry pieces again: core, sheets and edges count, too",
            )
        return cloth_g / (cloth_g + gained_g - bonds_g)

    cloth = laminate.cloth_g if weighed.cloth_g is None else Estimate.read(weighed.cloth_g, laminate.digit_g)
    inputs = *_weighings(weighed, laminate.digit_g), laminate.bonds_g, cloth
    return MeasuredLaminate("weighed", carried(by_mass, *inputs), _by_volume(by_mass, inputs, laminate))


def _by_volume(by_mass: Callable[..., float], inputs: tuple[Estimate, ...], laminate: Laminate) -> Estimate:
    """Return the fraction by volume that goes with a rule for the one by mass."""

    def rule(fibre_g_cm3: float, matrix_g_cm3: float, *rest: float) -> float:
        return fibre_volume_fraction(by_mass(*rest), fibre_g_cm3, matrix_g_cm3)

    return carried(rule, laminate.fibre_g_cm3, laminate.matrix_g_cm3, *inputs)


def _by_burning(coupon: CouponBurnt, laminate: Laminate) -> MeasuredLaminate:
    """ISO 1172: what is left over what there was. Voids from the coupon's density (ASTM D3171, Archimedes)."""
    digit_g = coupon.readability_g
    inputs = Estimate.read(coupon.residue_g, digit_g), Estimate.read(coupon.coupon_g, digit_g)

    def by_mass(residue_g: float, coupon_g: float) -> float:
        return residue_g / coupon_g

    def density(in_water_g: float, coupon_g: float) -> float:
        return coupon_g / (coupon_g - in_water_g) * WATER_G_CM3

    def voids(fibre_g_cm3: float, matrix_g_cm3: float, in_water_g: float, residue_g: float, coupon_g: float) -> float:
        solid = laminate_density_g_cm3(by_mass(residue_g, coupon_g), fibre_g_cm3, matrix_g_cm3)
        return 1.0 - density(in_water_g, coupon_g) / solid

    found = None
    if coupon.in_water_g is not None:
        in_water = Estimate.read(coupon.in_water_g, digit_g)
        found = carried(voids, laminate.fibre_g_cm3, laminate.matrix_g_cm3, in_water, *inputs)
        if found.value < -2.0 * found.sd:  # beyond all doubt denser than fibre and resin: let the rule itself say so
            fibre, matrix = laminate.fibre_g_cm3.value, laminate.matrix_g_cm3.value
            void_fraction(
                density(coupon.in_water_g, coupon.coupon_g), by_mass(coupon.residue_g, coupon.coupon_g), fibre, matrix
            )
    return MeasuredLaminate("burnt off", carried(by_mass, *inputs), _by_volume(by_mass, inputs, laminate), found)


def _by_thickness(thickness: ThicknessMeasured, laminate: Laminate, known: Estimate | None) -> MeasuredLaminate:
    """Fibre volume over what the plies measure; with the weighed fraction, what neither fibre nor resin fills."""
    measured = Estimate.within(thickness.thickness_m, thickness.readability_m)
    inputs = measured, laminate.plies_g_m2, laminate.plies_g_cm3

    def by_volume(thickness_m: float, weight_g_m2: float, fibre_g_cm3: float) -> float:
        return 1e-6 * weight_g_m2 / fibre_g_cm3 / thickness_m

    def by_mass(thickness_m: float, weight_g_m2: float, fibre_g_cm3: float, matrix_g_cm3: float) -> float:
        return fibre_mass_fraction(by_volume(thickness_m, weight_g_m2, fibre_g_cm3), fibre_g_cm3, matrix_g_cm3)

    def voids(thickness_m: float, weight_g_m2: float, fibre_g_cm3: float, matrix_g_cm3: float, share: float) -> float:
        return 1.0 - ply_thickness_m(weight_g_m2, share, fibre_g_cm3, matrix_g_cm3) / thickness_m

    fraction = carried(by_volume, *inputs)
    if fraction.value > HEXAGONAL_PACKING:
        raise RangeError(
            "thickness of the plies",
            "is less than their fibre alone takes",
            value=length(thickness.thickness_m, ".2f"),
            allowed=f"more than {1e-3 * laminate.plies_g_m2.value / laminate.plies_g_cm3.value:.2f} mm",
            todo="measure all full-width plies of one piece together, without core, sheets and strips",
        )
    if known is None:
        return MeasuredLaminate("thickness", carried(by_mass, *inputs, laminate.matrix_g_cm3), fraction)
    return MeasuredLaminate("thickness", known, fraction, carried(voids, *inputs, laminate.matrix_g_cm3, known))


def _resin(weighed: PartWeighed, stored: StoredSession, laminate: Laminate) -> ResinBalance:
    """Follow the mix: mixed for the part, kept in it, left in cups, driven out."""
    balance = mass_balance(stored.state, {line.step + 1: line.mix_g for line in laminate.grams.lines})
    laid_g = [laid for batch in stored.state.batches if (laid := balance.of_batch(batch.number).laid_g) > 0.0]
    mixed = carried(lambda *grams: sum(grams), *(Estimate.read(mass_g, laminate.digit_g) for mass_g in laid_g))
    weighings = _weighings(weighed, laminate.digit_g)
    left = None if weighed.left_g is None else Estimate.read(weighed.left_g, laminate.digit_g)

    def out_g(mixed_g: float, left_g: float, *rest: float) -> float:
        return mixed_g - left_g - _gained_g(*rest)

    def share(mixed_g: float, left_g: float, *rest: float) -> float:
        return out_g(mixed_g, left_g, *rest) / (mixed_g - left_g)

    inputs = mixed, left or Estimate(0.0), *weighings
    put_on_g = mixed.value - (weighed.left_g or 0.0)
    return ResinBalance(
        mixed=mixed,
        kept=carried(_gained_g, *weighings),
        planned_kept_g=sum(line.on_part_g + line.offcut_g for line in laminate.grams.lines),
        left=left,
        out=carried(out_g, *inputs),
        squeezed_share=carried(share, *inputs) if left is not None and put_on_g > 0.0 else None,
    )
