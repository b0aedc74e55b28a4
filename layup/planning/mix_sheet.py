"""The mix sheet of one batch: what the scale or the measuring cup shows, how exact that is, and what to mind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import ceil, floor
from typing import Literal, get_args

from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.mixing import (
    WEIGHING_LIMIT,
    correction,
    mix_density_g_cm3,
    off_ratio,
    parts_by_mass,
    ratio_by_weight_to_volume,
    reading_off_ratio,
    smallest_batch_g,
    split_mass,
    stoichiometry_warning,
    worst_case_off_ratio,
)
from layup.chemistry.numerics import require_between, require_positive
from layup.errors import InputError
from layup.planning.plan import Scale
from layup.units import mass, volume

# -- verdict ---------------------------------------------------------------------------------------------------------

Component = Literal["resin", "hardener"]
COMPONENTS: tuple[Component, ...] = get_args(Component)
ON_RATIO = WEIGHING_LIMIT
OFF_RATIO = 0.05
"""Limits for an amine's ratio (common practice, no source; the maker's own come first)."""
_ROUNDING = 1e-9
"""What float arithmetic may add to a deviation that is exactly on a limit."""

RatioWord = Literal["on ratio", "usable", "off ratio"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to make of the masses that are in the cup.

    `add_g` brings the mix back on ratio (all 0 where it is on ratio already), `batch_g` is the batch after that, and
    `fits` whether the cup still holds it (None where its limit is not known).
    """

    word: RatioWord
    off_ratio: float
    add_g: tuple[float, ...]
    batch_g: float
    fits: bool | None
    advice: tuple[str, ...]

    @property
    def much(self) -> str:
        """Whether it is too much hardener or too little, as a word."""
        return "much" if self.off_ratio > 0 else "little"


def verdict(poured_g: Sequence[float], parts: Sequence[float], *, cup_g: float | None = None) -> Verdict:
    """Judge what is in the cup, and say what would bring it back on ratio.

    Raises RangeError for lists of different lengths. Within 2 % nothing is added; to 5 % the mix is usable; beyond it
    is off ratio (common practice, no source).

    >>> verdict((200.0, 66.0), (100, 30)).word
    'off ratio'
    >>> [round(grams, 3) for grams in verdict((200.0, 66.0), (100, 30)).add_g]
    [20.0, 0.0]

    Parameters
    ----------
    poured_g : Mass of each component in the cup, resin first and above 0 [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    cup_g : The most mix that the cup may hold, above 0; None where that is not known [g]
    """
    off = off_ratio(poured_g, parts)
    if cup_g is not None:
        require_positive("cup", cup_g, unit="g")
    word = ratio_word(off)
    add_g = correction(poured_g, parts) if word != "on ratio" else (0.0,) * len(parts)
    batch_g = sum(poured_g) + sum(add_g)
    fits = None if cup_g is None else batch_g <= cup_g
    return Verdict(word, off, add_g, batch_g, fits, _advice(word, poured_g, add_g, cup_g))


def ratio_word(off: float) -> RatioWord:
    """Name a deviation from the ratio. On ratio within 2 %, usable within 5 %, beyond it off ratio.

    Parameters
    ----------
    off : 0 is on ratio, +0.1 is 10 % too much hardener [-]
    """
    if abs(off) <= ON_RATIO + _ROUNDING:
        return "on ratio"
    return "usable" if abs(off) <= OFF_RATIO + _ROUNDING else "off ratio"


def _advice(word: RatioWord, poured_g: Sequence[float], add_g: Sequence[float], cup_g: float | None) -> tuple[str, ...]:
    if word == "on ratio":
        return ("Nothing to add: stir, and scrape the sides and the bottom.",)
    before_g, after_g = sum(poured_g), sum(poured_g) + sum(add_g)
    additions = " and ".join(
        f"{mass(grams, '.1f' if grams >= 1.0 else '.2f')} of {COMPONENTS[place]}"
        for place, grams in enumerate(add_g)
        if grams > 0.0
    )
    advice = [f"Add {additions}, stir again, and scrape the sides and the bottom."]
    if word == "usable":
        advice.insert(0, "Usable as it is if the maker allows 5 %; adding brings it back on ratio.")
    if cup_g is not None and after_g > cup_g:
        advice.insert(0, f"That makes {mass(after_g)} and the cup takes {mass(cup_g)}: move it to a larger one first.")
    if add_g[1] > 0.0:
        advice.append("Add no more hardener than that: more does not cure it faster, it leaves the part soft.")
    if after_g > 2 * before_g:
        advice.append("That more than doubles the batch: a fresh one wastes less.")
    advice.append("More mix in the cup goes off sooner than the sheet says.")
    return tuple(advice)


# -- readings --------------------------------------------------------------------------------------------------------

_SEARCH_DIGITS = 200
"""How many last digits of the scale to look beyond a batch for one that reads within 2 %."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What the scale shows once `component` is in, and the lowest and highest reading to accept, `within_g`.

    Any reading within keeps the ratio to 2 % as long as the other component is at its own `shows_g`. None where
    `shows_g` itself does not: the last digit is too coarse for the batch.
    """

    component: str
    shows_g: float
    within_g: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Measure:
    """The volume of one component, to the nearest mark or pump stroke; `steps` counts those. `within_ml` as above."""

    component: str
    shows_ml: float
    steps: int
    within_ml: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Accuracy:
    """How exact a way of measuring is.

    `worst_case_off_ratio` is what the last digit hides about the exact masses, and `smallest_batch_g` the batch that
    keeps that within 2 %. `rounding_off_ratio` (signed) is what rounding the sheet's readings to the display puts in.
    `total_off_ratio` is both together: how far off the mix may be although the display shows just what the sheet says.
    """

    worst_case_off_ratio: float
    smallest_batch_g: float
    rounding_off_ratio: float
    total_off_ratio: float


@dataclass(frozen=True, slots=True)
class Weighing:
    """The readings of one way to weigh a batch, in pouring order."""

    readings: tuple[Reading, ...]
    accuracy: Accuracy


@dataclass(frozen=True, slots=True)
class Measuring:
    """The volumes of a batch, in pouring order."""

    measures: tuple[Measure, ...]
    accuracy: Accuracy


def weigh_on_one_tare(batch_g: float, parts: tuple[float, float], digit_g: float) -> Weighing:
    """Read one cup that is tared once: each reading is the sum so far."""
    resin_g, total_g = (_to_step(sum_g, digit_g) for sum_g in accumulate(split_mass(batch_g, parts)))
    ratio = parts[1] / parts[0]
    lean, rich = 1.0 + ratio * (1.0 - ON_RATIO), 1.0 + ratio * (1.0 + ON_RATIO)
    return Weighing(
        (
            Reading(COMPONENTS[0], resin_g, _around(resin_g, total_g / rich, total_g / lean, digit_g)),
            Reading(COMPONENTS[1], total_g, _around(total_g, resin_g * lean, resin_g * rich, digit_g)),
        ),
        _accuracy(batch_g, (resin_g, total_g - resin_g), parts, digit_g, one_tare=True),
    )


def weigh_separately(batch_g: float, parts: tuple[float, float], digit_g: float) -> Weighing:
    """Read each component on a tare of its own, in its own cup or after taring again."""
    shown_g = tuple(_to_step(mass_g, digit_g) for mass_g in split_mass(batch_g, parts))
    return Weighing(
        tuple(map(Reading, COMPONENTS, shown_g, _windows(shown_g, parts, digit_g))),
        _accuracy(batch_g, shown_g, parts, digit_g, one_tare=False),
    )


def measure(batch_g: float, parts: tuple[float, float], densities: tuple[float, float], step_ml: float) -> Measuring:
    """Read each component in a measure of its own, or count its pump strokes.

    A ratio is off by as much in volume as in mass, so a measure is judged as a scale of millilitres is. Marks are far
    apart, so of the two nearest for the resin the one is taken that the hardener's marks fit best: the ratio comes
    before the size of the batch.
    """
    volume_parts = ratio_by_weight_to_volume(parts, densities)
    volumes_ml = tuple(mass_g / density for mass_g, density in zip(split_mass(batch_g, parts), densities, strict=True))
    batch_ml = sum(volumes_ml)
    steps = _nearest_steps(volumes_ml[0] / step_ml, volume_parts)
    shown_ml = tuple(_to_step(count * step_ml, step_ml) for count in steps)
    accuracy = _accuracy(batch_ml, shown_ml, volume_parts, step_ml, one_tare=False)
    return Measuring(
        tuple(map(Measure, COMPONENTS, shown_ml, steps, _windows(shown_ml, volume_parts, step_ml))),
        replace(accuracy, smallest_batch_g=accuracy.smallest_batch_g * batch_g / batch_ml),
    )


def next_exact_batch_g(batch_g: float, parts: tuple[float, float], digit_g: float) -> float | None:
    """Find the next batch whose own readings on one tare stay within 2 % of the ratio.

    >>> next_exact_batch_g(250.0, (100, 30), 1.0)
    260.0
    """
    first = ceil(batch_g / digit_g)
    for digits in range(first, first + _SEARCH_DIGITS):
        candidate_g = _to_step(digits * digit_g, digit_g)
        if weigh_on_one_tare(candidate_g, parts, digit_g).accuracy.total_off_ratio <= ON_RATIO:
            return candidate_g
    return None


def _accuracy(
    batch: float, shown: tuple[float, ...], parts: tuple[float, ...], step: float, *, one_tare: bool
) -> Accuracy:
    """Judge a batch and the rounded amounts that are shown: in grams, or in millilitres with `parts` by volume."""
    return Accuracy(
        worst_case_off_ratio(batch, parts, step, one_tare=one_tare),
        smallest_batch_g(parts, step, one_tare=one_tare),
        off_ratio(shown, parts),
        reading_off_ratio(shown, parts, step, one_tare=one_tare),
    )


def _windows(
    shown: tuple[float, ...], parts: tuple[float, ...], step: float
) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Return what to accept of resin and of hardener, each on its own tare, with the other as shown."""
    resin, hardener = shown
    ratio = parts[1] / parts[0]
    lean, rich = ratio * (1.0 - ON_RATIO), ratio * (1.0 + ON_RATIO)
    return (
        _around(resin, hardener / rich, hardener / lean, step),
        _around(hardener, resin * lean, resin * rich, step),
    )


def _nearest_steps(resin_steps: float, parts: tuple[float, ...]) -> tuple[int, int]:
    """Return whole steps of resin and hardener near the exact ones, closest to the ratio."""
    ratio = parts[1] / parts[0]
    pairs = ((steps, round(steps * ratio)) for steps in {floor(resin_steps), ceil(resin_steps)} - {0})
    return min(pairs, key=lambda pair: (abs(off_ratio(pair, parts)), abs(pair[0] - resin_steps)))


def _to_step(amount: float, step: float) -> float:
    return round(float(round(amount / step) * step), 9)


def _around(shows: float, low: float, high: float, step: float) -> tuple[float, float] | None:
    """Return the lowest and highest number shown within a window, or None where `shows` is not one of them."""
    first, last = (_to_step(count * step, step) for count in (ceil(low / step - 1e-9), floor(high / step + 1e-9)))
    return (first, last) if first <= shows <= last else None


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
    off = 0.0 if by_volume is None else by_volume.accuracy.total_off_ratio
    coarse = (
        f"Measured by volume, the mix may be {100 * off:.1f} % off ratio though it stands at the marks; weigh it if "
        "you can, or use a finer measure."
    )
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
            *([coarse] if off > ON_RATIO else []),
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
