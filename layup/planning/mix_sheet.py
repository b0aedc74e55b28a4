"""The mix sheet of one batch: what the scale or the measuring cup shows, how exact that is, and what to mind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.mixing import mix_density_g_cm3, parts_by_mass, split_mass, stoichiometry_warning
from layup.chemistry.numerics import require_between, require_positive
from layup.errors import InputError
from layup.planning.plan import Scale
from layup.planning.scale import (
    ON_RATIO,
    Measuring,
    Weighing,
    measure,
    next_exact_batch_g,
    weigh_on_one_tare,
    weigh_separately,
)
from layup.units import mass, volume

CUP_FILL = (2 / 3, 1 / 2)
"""How full a cup is when there is room to stir (common practice, no source)."""
CAUTIONS: dict[Chemistry, str] = {
    "epoxy-amine": "Amine hardeners burn skin and can make you allergic to epoxy for life.",
    "urethane": "Isocyanates can make you allergic for life: never breathe the vapour or the dust, and keep water out.",
    "other": "Treat both components as harmful to skin, eyes and lungs.",
}
EVERY_CAUTION = (
    "Wear gloves and eye protection, and ventilate; the safety data sheets of both components come first.",
    "A mixed cup heats itself: pour or spread it in time. If it smokes, keep away from the fumes.",
)
ASSUMPTIONS = (
    "A reading may be wrong by half the scale's last digit, a measure by half a step; the zero after taring is exact.",
    "Within 2 % is on ratio and beyond 5 % is off: common practice, the maker's own limits come first.",
)


@dataclass(frozen=True, slots=True)
class MixSheet:
    """One batch on paper: exact masses, three ways to measure them, and what to mind.

    `one_tare` is one cup tared once, each reading the sum so far; `separate_cups` a tare of its own for each component.
    `by_volume` is None unless a measure's step was given. `cup_ml` is the size of cup that the batch fills half to
    two-thirds, None where a density is missing.
    """

    resin_id: str
    batch_g: float
    parts: tuple[float, float]
    masses_g: tuple[float, ...]
    one_tare: Weighing
    separate_cups: Weighing
    tare_each: bool
    """Whether this scale is tared again before the hardener."""
    by_volume: Measuring | None
    cup_ml: tuple[float, float] | None
    fits: bool
    """Whether the scale and the largest cup have room for the batch."""
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]

    @property
    def weighing(self) -> Weighing:
        """The readings as this scale is used."""
        return self.separate_cups if self.tare_each else self.one_tare

    @property
    def cup_words(self) -> str:
        """The size of cup that the batch fills half to two-thirds; empty where a density is missing."""
        return f"{volume.digits(self.cup_ml[0] * 1e-6)} to {volume(self.cup_ml[1] * 1e-6)}" if self.cup_ml else ""


def mix_sheet(
    datasheet: Datasheet,
    mass_g: float,
    scale: Scale,
    *,
    cup_g: float | None = None,
    measure_step_ml: float | None = None,
) -> MixSheet:
    """Write the mix sheet of one batch.

    Raises RangeError for a batch so small that the scale or the measure cannot tell its resin; InputError for a volume
    asked of components without density. A scale's reading may be wrong by half its last digit, a measure by half a
    step; the zero after taring is taken as exact.

    Parameters
    ----------
    mass_g : Mass of the batch, above 0, at most 1 000 000 [g]
    cup_g : The most mix that the largest cup may hold, above 0; None where that is not limited [g]
    measure_step_ml : Distance between the marks of the measuring cup, or one pump stroke, 0.0001 to 1000; None to weigh
        only [ml]
    """
    parts = parts_by_mass(datasheet)
    digit_g = scale.readability_g
    one_tare = weigh_on_one_tare(mass_g, parts, digit_g)
    separate_cups = weigh_separately(mass_g, parts, digit_g)
    by_volume = None if measure_step_ml is None else _measure(datasheet, mass_g, parts, measure_step_ml)
    batch_ml = mass_g / mix_density_g_cm3(datasheet)
    room = tuple(_room_warnings(mass_g, scale, cup_g))
    return MixSheet(
        resin_id=datasheet.id,
        batch_g=mass_g,
        parts=parts,
        masses_g=split_mass(mass_g, parts),
        one_tare=one_tare,
        separate_cups=separate_cups,
        tare_each=scale.tare_each,
        by_volume=by_volume,
        cup_ml=(batch_ml / CUP_FILL[0], batch_ml / CUP_FILL[1]) if datasheet.densities_g_cm3 else None,
        fits=not room,
        warnings=(
            *_weighing_warnings(mass_g, parts, scale, one_tare, separate_cups),
            *_measuring_warnings(by_volume),
            *room,
            *filter(None, [stoichiometry_warning(datasheet)]),
        ),
        cautions=cautions(datasheet),
        assumptions=ASSUMPTIONS,
    )


def cautions(datasheet: Datasheet) -> tuple[str, ...]:
    """Return what to mind with a resin: what its datasheet says, and what holds for all of its kind."""
    return tuple(dict.fromkeys((*datasheet.cautions, CAUTIONS[datasheet.chemistry], *EVERY_CAUTION)))


def _measure(datasheet: Datasheet, batch_g: float, parts: tuple[float, float], step_ml: float) -> Measuring:
    """Measure by volume, or refuse where a density is missing."""
    densities = datasheet.densities_g_cm3
    if densities is None:
        raise InputError(
            f"{datasheet.id} measures",
            "a volume needs a density, and one is missing",
            allowed="both components need a density",
            todo="take it from the safety data sheet, or weigh",
        )
    return measure(batch_g, parts, densities, require_between("measure step", step_ml, 0.0001, 1000.0, unit="ml"))


def _weighing_warnings(
    batch_g: float, parts: tuple[float, float], scale: Scale, one_tare: Weighing, separate_cups: Weighing
) -> Iterator[str]:
    """Warn where the way to weigh may leave the mix more than 2 % off, with the ways out that work."""
    apart = separate_cups.accuracy.total_off_ratio
    if scale.tare_each:
        if apart > ON_RATIO:
            yield f"Each on its own tare, the mix may still be {100 * apart:.1f} % off ratio: use a finer scale."
        return
    accuracy = one_tare.accuracy
    if accuracy.total_off_ratio <= ON_RATIO:
        return
    larger_g = next_exact_batch_g(batch_g, parts, scale.readability_g)
    ways_out = [f"mix {mass(larger_g, 'g')}"] if larger_g else []
    if apart <= ON_RATIO:
        ways_out.append(f"weigh each component on a tare of its own ({100 * apart:.1f} %)")
    yield (
        f"On one tare the mix may be {100 * accuracy.total_off_ratio:.1f} % off ratio though the scale shows these "
        f"readings ({100 * accuracy.worst_case_off_ratio:.1f} % its last digit, "
        f"{100 * accuracy.rounding_off_ratio:+.1f} % rounding to it): {', or '.join(ways_out) or 'use a finer scale'}."
    )


def _measuring_warnings(by_volume: Measuring | None) -> Iterator[str]:
    """Warn where a measure may hide more than 2 %."""
    if by_volume and by_volume.accuracy.total_off_ratio > ON_RATIO:
        yield (
            f"Measured by volume, the mix may be {100 * by_volume.accuracy.total_off_ratio:.1f} % off ratio "
            "though it stands at the marks; weigh it if you can, or use a finer measure."
        )


def _room_warnings(batch_g: float, scale: Scale, cup_g: float | None) -> Iterator[str]:
    """Warn where the batch is too much for the scale or for the largest cup."""
    if batch_g > scale.capacity_g:
        yield (
            f"The batch is {mass(batch_g)} and the scale ends at {mass(scale.capacity_g)}, cup included: "
            "split it in smaller batches."
        )
    if cup_g is not None and batch_g > require_positive("largest cup", cup_g, unit="g"):
        yield (
            f"The batch is {mass(batch_g)} and the largest cup takes {mass(cup_g)}: "
            f"split it in {ceil(batch_g / cup_g)} batches, or use a tray."
        )
