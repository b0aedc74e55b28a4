"""How a batch looks to whoever stirs it: one record a word, from which all that knows a word follows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from layup.chemistry.kinetics import Kinetics
from layup.errors import RangeError

LookWord = Literal["runny", "thickening", "stringy", "gelled"]
FeltWord = Literal["hot", "smoking"]
"""Of a cup that is told of from memory; on a bench a thermometer says it."""
ToldWord = Literal[LookWord, FeltWord]
Edge = Literal["low", "likely", "high"]
EARLY: tuple[Edge, ...] = ("low",)
ALL: tuple[Edge, ...] = ("low", "likely", "high")


class Look(NamedTuple):
    """How a batch looks; what is past by then is common practice without a source."""

    share: float
    """How far from thickening (0) to gel (1), in conversion, a mix first looks so; a runny one ends at 0."""
    letter: str
    """On a chart, where each word has another."""
    seen: str
    """What whoever stirs it sees."""
    told: tuple[str, ...]
    """What people say for it, the usual word first."""
    past_in_cup: tuple[Edge, ...] = ()
    """Which ends of the band of its life are past in a cup that looks so: none only of one as it was mixed."""
    past_on_part: tuple[Edge, ...] = ()
    noted: str = ""
    """What a trial calls it, and how it asks for its time."""
    timed: str = ""


LOOKS: dict[LookWord, Look] = {
    "runny": Look(share=0.0, letter="r", seen="like when it was mixed", told=("runny", "liquid", "fine")),
    "thickening": Look(
        share=0.0, letter="t", seen="drags, wets out slowly",
        told=("thick", "thickening", "thickened", "honey", "jelly"),
        past_in_cup=EARLY, noted="thickening", timed='it thickened, from hardener in: "31 min"',
    ),
    "stringy": Look(
        share=0.5, letter="s", seen="pulls threads from the stick", told=("stringy", "strings", "threads"),
        past_in_cup=ALL, past_on_part=EARLY, noted="stringy", timed='it pulled threads from the stick: "34 min"',
    ),
    "gelled": Look(
        share=1.0, letter="g", seen="a lump, no longer flows", told=("gelled", "gel", "hard", "solid", "set"),
        past_in_cup=ALL, past_on_part=ALL, noted="gel", timed='it no longer flowed: "36 min"',
    ),
}  # fmt: skip
"""In the order in which a mix goes through them."""
PAST: tuple[LookWord, ...] = tuple(word for word, look in LOOKS.items() if look.past_in_cup)
"""The words for a mix whose life is over, or nearly; a loss whose reason begins with one of them is a look, too."""


class FeltCup(NamedTuple):
    """A cup that heats itself: what its mix has become at least (common practice, no source)."""

    at_least: LookWord
    worse_than: LookWord
    """The last look that is not as bad."""
    size: float
    """How much such a cup counts as a cause."""
    told: tuple[str, ...]


FELT: dict[FeltWord, FeltCup] = {
    "hot": FeltCup("thickening", "stringy", 2.0, ("hot", "warm")),
    "smoking": FeltCup("gelled", "gelled", 4.0, ("smoking", "smoke", "smoked", "foaming")),
}


def _either(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


_USUAL = [look.told[0] for look in LOOKS.values()]
ONE_LOOK, ONE_TOLD = _either([*LOOKS]), _either([*_USUAL[1:-1], *FELT, _USUAL[-1]])
"""A choice of one, in words; told afterwards, how it was once it was past use."""


def word_conversion(kinetics: Kinetics, word: LookWord) -> float:
    """Return the conversion at which a mix first deserves a word [-]. Raises RangeError if the word is none of these.

    >>> round(word_conversion(Kinetics(4.8e-4), "stringy"), 3)
    0.464

    Parameters
    ----------
    word : "thickening", "stringy" or "gelled"; "runny" ends where thickening begins [-]
    """
    if word not in LOOKS:
        raise RangeError("observation", "is not one of the words", value=word, allowed=", ".join(LOOKS))
    share = LOOKS[word].share
    return (1.0 - share) * kinetics.conversion_working + share * kinetics.conversion_gel
