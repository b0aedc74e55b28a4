"""How a batch is measured out: what the scale or the measuring cup shows for each component, and how exact that is.

And what the scale really showed: on ratio or off, and the grams that put it right. The limits of 2 % and 5 % for an
amine's ratio are common practice, no source; the maker's own come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import ceil, floor
from typing import Literal

from layup.chemistry.cure import OffRatioCure
from layup.chemistry.mixing import (
    WEIGHING_LIMIT,
    correction,
    off_ratio,
    ratio_by_weight_to_volume,
    reading_off_ratio,
    smallest_batch_g,
    split_mass,
    worst_case_off_ratio,
)
from layup.chemistry.numerics import require_positive
from layup.errors import RangeError
from layup.units import mass, temperature

# -- verdict ---------------------------------------------------------------------------------------------------------

COMPONENTS = ("resin", "hardener")
ON_RATIO = WEIGHING_LIMIT
OFF_RATIO = 0.05
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


def poured_from_one_tare_g(shown_g: Sequence[float]) -> tuple[float, ...]:
    """Turn the readings of one cup on one tare into the mass of each component.

    >>> poured_from_one_tare_g((200.0, 263.0))
    (200.0, 63.0)
    """
    poured_g = tuple(now - before for before, now in zip((0.0, *shown_g), shown_g, strict=False))
    for component_g, reading_g in zip(poured_g, shown_g, strict=True):
        if not component_g >= 0.0:
            raise RangeError(
                "scale reading",
                "is less than the one before it",
                value=mass(reading_g, "g"),
                allowed="on one tare each reading is the sum so far",
                todo="if the scale was tared in between, enter each component on its own",
            )
    return poured_g


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
    """Say what to do now, one sentence a step."""
    if word == "on ratio":
        return ("Nothing to add: stir, and scrape the sides and the bottom.",)
    before_g, after_g = sum(poured_g), sum(poured_g) + sum(add_g)
    additions = " and ".join(
        f"{mass(grams, '.1f' if grams >= 1.0 else '.2f')} of {_component(place)}"
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


def _component(place: int) -> str:
    """Name the component at a place in the pouring order."""
    return COMPONENTS[place] if place < len(COMPONENTS) else f"part {place + 1}"


def left_off_ratio_words(cure: OffRatioCure) -> str:
    """Say what a mix that is left off ratio becomes, however long it cures."""
    softer, asked = (temperature(kelvin) for kelvin in (cure.glass_transition_K, cure.on_ratio_glass_transition_K))
    softens = f"softens near {softer}, not {asked}, however long it cures"
    if cure.gel_conversion is None:
        return "Left like this it will not gel: it stays sticky for good."
    gels, stated = 100 * cure.gel_conversion, 100 * cure.on_ratio_gel_conversion
    later = f"gels at {gels:.0f} % reacted, not {stated:.0f} %, and " if round(gels) > round(stated) else ""
    return f"Left like this it {later}{softens}."


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
        _accuracy(batch_g, poured_from_one_tare_g((resin_g, total_g)), parts, digit_g, one_tare=True),
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
    """Round to the nearest number that the display or the measure shows."""
    return round(float(round(amount / step) * step), 9)


def _around(shows: float, low: float, high: float, step: float) -> tuple[float, float] | None:
    """Return the lowest and highest number shown within a window, or None where `shows` is not one of them."""
    first, last = (_to_step(count * step, step) for count in (ceil(low / step - 1e-9), floor(high / step + 1e-9)))
    return (first, last) if first <= shows <= last else None
