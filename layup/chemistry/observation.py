"""What a person sees or measures of a batch, as the model's own quantities."""

from __future__ import annotations

from typing import Literal

from layup.chemistry.history import History
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.legs import Stage
from layup.chemistry.vessel import Vessel
from layup.errors import RangeError

Word = Literal["runny", "thickening", "stringy", "gelled"]

OBSERVED_LOG_SD = 0.10
"""How well a person times a change by eye and stick: about 10 % (common practice, no source)."""

STRINGY_SHARE = 0.5
"""Stringy is this far from thickening to gel, in conversion (common practice, no source)."""


def word_conversion(kinetics: Kinetics, word: Word) -> float:
    """Return the conversion at which a mix first deserves a word.

    Parameters
    ----------
    kinetics : Kinetics
        The resin [-].
    word : Word
        "thickening", "stringy" or "gelled"; "runny" ends where thickening begins [-].

    Returns
    -------
    float
        Conversion [-].

    Raises
    ------
    RangeError
        If the word is none of these.

    Examples
    --------
    >>> round(word_conversion(Kinetics(4.8e-4), "stringy"), 3)
    0.464
    """
    working, gel = kinetics.conversion_working, kinetics.conversion_gel
    known = {
        "runny": working,
        "thickening": working,
        "stringy": working + STRINGY_SHARE * (gel - working),
        "gelled": gel,
    }
    if word not in known:
        raise RangeError("observation", "is not one of the words", value=word, allowed=", ".join(known))
    return known[word]


def with_readings(vessel: Vessel, ambient: float | History, readings: History, *, start_K: float) -> tuple[Stage, ...]:
    """Return the stages of a batch whose own temperature was read: readings count for more than the model.

    Parameters
    ----------
    vessel : Vessel
        Cup or tray it is in [-].
    ambient : float | History
        The shop's temperature [K].
    readings : History
        (time_s, temperature_K) of the mix itself, from first contact, in order [K].
    start_K : float
        Temperature of the mix at first contact [K].

    Returns
    -------
    tuple[Stage, ...]
        To `follow`: the readings as the mix's own history, then the model from the last of them.

    Notes
    -----
    Between readings the temperature is taken as straight, which for a mix that heats itself errs on the warm, safe
    side.
    """
    if not readings:
        return (Stage(vessel, 0.0, ambient),)
    own = readings if readings[0][0] <= 0.0 else ((0.0, start_K), *readings)
    return Stage(Vessel.film(), 0.0, own), Stage(vessel, max(0.0, readings[-1][0]), ambient)
