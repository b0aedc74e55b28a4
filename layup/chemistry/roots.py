"""Where something that grows reaches zero: the one search for it."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

MOST_TRIES = 200


def first_at_or_above(
    rising: Callable[[float], float],
    low: float,
    high: float,
    within: float,
    *,
    at_low: float | None = None,
    at_high: float | None = None,
) -> float:
    """Return a place at most `within` beyond the first at which something that rises is at or above zero.

    Parameters
    ----------
    rising : Callable[[float], float]
        What is below zero before some place and not after it; infinities only say on which side they are [-]
    low : float
        Where to begin; the answer, if it is at or above zero there already [-]
    high : float
        The answer, if it is nowhere below that at or above zero [-]
    within : float
        How much too far the answer may be, above 0 [-]
    at_low : float or None
        Its value at `low`, where that is known [-]
    at_high : float or None
        Its value at `high`, where that is known [-]

    Returns
    -------
    float
        In `low` to `high`; what rises is at or above zero there, but for `high` [-]

    Notes
    -----
    Regula falsi with the Illinois rule, each trial at least most of `within` inside the bracket, so that both its ends
    close in; halving wherever three trials have not halved it.

    References
    ----------
    Dowell and Jarratt, BIT 11 (1971) 168 (from memory).

    Examples
    --------
    >>> round(first_at_or_above(lambda x: x * x - 2.0, 0.0, 2.0, 1e-12), 9)
    1.414213562
    """
    at_low = rising(low) if at_low is None else at_low
    if at_low >= 0.0:
        return low
    at_high = rising(high) if at_high is None else at_high
    if at_high < 0.0:
        return high
    side, width, tries = 0, high - low, 0
    for _ in range(MOST_TRIES):
        if high - low <= within:
            break
        rise = at_high - at_low
        share = at_high / rise if 0.0 < rise < inf and tries < 3 else 0.5
        if tries == 3:
            tries, width = 0, high - low
        reach = min(0.9 * within, 0.5 * (high - low))
        guess = min(max(high - share * (high - low), low + reach), high - reach)
        value = rising(guess)
        if value >= 0.0:
            at_low *= 0.5 if side > 0 else 1.0
            high, at_high, side = guess, value, 1
        else:
            at_high *= 0.5 if side < 0 else 1.0
            low, at_low, side = guess, value, -1
        tries = 0 if high - low <= 0.5 * width else tries + 1
        width = high - low if tries == 0 else width
    return high
