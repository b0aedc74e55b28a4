"""What the scale really showed: on ratio or off, and the grams that put it right.

The limits of 2 % and 5 % for an amine's ratio are common practice, no source; the maker's own come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from layup.chemistry.mixing import WEIGHING_LIMIT, correction, off_ratio
from layup.chemistry.ranges import require_positive
from layup.errors import RangeError

COMPONENTS = ("resin", "hardener")
ON_RATIO = WEIGHING_LIMIT
OFF_RATIO = 0.05
_ROUNDING = 1e-9
"""What float arithmetic may add to a deviation that is exactly on a limit."""

Word = Literal["on ratio", "usable", "off ratio"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to make of the masses that are in the cup.

    `add_g` brings the mix back on ratio (all 0 where it is on ratio already), `batch_g` is the batch after that, and
    `fits` whether the cup still holds it (None where its limit is not known).
    """

    word: Word
    off_ratio: float
    add_g: tuple[float, ...]
    batch_g: float
    fits: bool | None
    advice: tuple[str, ...]


def poured_from_one_tare_g(shown_g: Sequence[float]) -> tuple[float, ...]:
    """Turn the readings of one cup on one tare into the mass of each component.

    Parameters
    ----------
    shown_g : sequence of float
        What the scale showed after each component, never falling [g]

    Returns
    -------
    poured_g : tuple of float
        Mass of each component [g]

    Raises
    ------
    RangeError
        For readings that fall, as after a second tare.

    Examples
    --------
    >>> poured_from_one_tare_g((200.0, 263.0))
    (200.0, 63.0)
    """
    poured_g = tuple(now - before for before, now in zip((0.0, *shown_g), shown_g, strict=False))
    for component_g, reading_g in zip(poured_g, shown_g, strict=True):
        if not component_g >= 0.0:
            raise RangeError(
                "scale reading",
                "is less than the one before it",
                value=f"{reading_g:g} g",
                allowed="on one tare each reading is the sum so far",
                todo="if the scale was tared in between, enter each component on its own",
            )
    return poured_g


def verdict(poured_g: Sequence[float], parts: Sequence[float], *, cup_g: float | None = None) -> Verdict:
    """Judge what is in the cup, and say what would bring it back on ratio.

    Parameters
    ----------
    poured_g : sequence of float
        Mass of each component in the cup, resin first and above 0 [g]
    parts : sequence of float
        Parts by mass, in the same order, 0.001 to 100 000 each [-]
    cup_g : float or None
        The most mix that the cup may hold, above 0; None where that is not known [g]

    Returns
    -------
    verdict : Verdict
        A word, the deviation, the grams to add and the advice [-]

    Raises
    ------
    RangeError
        For a value outside its range, or lists of different lengths.

    Notes
    -----
    Within 2 % nothing is added; to 5 % the mix is usable; beyond it is off ratio (common practice, no source).

    Examples
    --------
    >>> verdict((200.0, 66.0), (100, 30)).word
    'off ratio'
    >>> [round(grams, 3) for grams in verdict((200.0, 66.0), (100, 30)).add_g]
    [20.0, 0.0]
    """
    off = off_ratio(poured_g, parts)
    if cup_g is not None:
        require_positive("cup", cup_g, unit="g")
    word = ratio_word(off)
    add_g = correction(poured_g, parts) if word != "on ratio" else (0.0,) * len(parts)
    batch_g = sum(poured_g) + sum(add_g)
    fits = None if cup_g is None else batch_g <= cup_g
    return Verdict(word, off, add_g, batch_g, fits, _advice(word, poured_g, add_g, cup_g))


def ratio_word(off: float) -> Word:
    """Name a deviation from the ratio.

    Parameters
    ----------
    off : float
        0 is on ratio, +0.1 is 10 % too much hardener [-]

    Returns
    -------
    word : Word
        On ratio within 2 %, usable within 5 %, beyond it off ratio [-]
    """
    if abs(off) <= ON_RATIO + _ROUNDING:
        return "on ratio"
    return "usable" if abs(off) <= OFF_RATIO + _ROUNDING else "off ratio"


def _advice(word: Word, poured_g: Sequence[float], add_g: Sequence[float], cup_g: float | None) -> tuple[str, ...]:
    """Say what to do now, one sentence a step."""
    if word == "on ratio":
        return ("Nothing to add: stir, and scrape the sides and the bottom.",)
    before_g, after_g = sum(poured_g), sum(poured_g) + sum(add_g)
    additions = " and ".join(
        f"{grams:.{1 if grams >= 1.0 else 2}f} g of {_component(place)}"
        for place, grams in enumerate(add_g)
        if grams > 0.0
    )
    advice = [f"Add {additions}, stir again, and scrape the sides and the bottom."]
    if word == "usable":
        advice.insert(0, "Usable as it is if the maker allows 5 %; adding brings it back on ratio.")
    if cup_g is not None and after_g > cup_g:
        advice.insert(0, f"That makes {after_g:.0f} g and the cup takes {cup_g:.0f} g: move it to a larger one first.")
    if add_g[1] > 0.0:
        advice.append("Add no more hardener than that: more does not cure it faster, it leaves the part soft.")
    if after_g > 2 * before_g:
        advice.append("That more than doubles the batch: a fresh one wastes less.")
    advice.append("More mix in the cup goes off sooner than the sheet says.")
    return tuple(advice)


def _component(place: int) -> str:
    """Name the component at a place in the pouring order."""
    return COMPONENTS[place] if place < len(COMPONENTS) else f"part {place + 1}"
