"""What is left to pour of a casting, as shares of it: their colours, and the pours that a loss makes of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import ceil, floor

from layup.planning.plan import CastStep

NONE_LEFT = 0.005
"""A share of a casting that is nothing any more."""


def colour_weights(step: CastStep, begin: float, share: float) -> tuple[float, ...]:
    """Find the share of each colour in a pour that fills a casting from `begin` on.

    Parameters
    ----------
    step : CastStep
        The casting [-]
    begin : float
        How much of it is filled before, 0 to 1 [-]
    share : float
        How much of it the pour fills, above 0 to 1 [-]

    Returns
    -------
    weights : tuple of float
        One a colour; they sum to 1 [-]

    Notes
    -----
    Of n equal pours the i-th has the colours that `chemistry.casting.colour_shares` gives it; a pour made anew after a
    loss has those of the stretch that it fills.

    Examples
    --------
    >>> fade = CastStep("walls", 60.0, "resin", 1e-4, 3, pigments=("black", "white"), fade=True, loading=0.03)
    >>> [colour_weights(fade, at / 3, 1 / 3) for at in range(3)]
    [(1.0, 0.0), (0.5, 0.5), (0.0, 1.0)]
    """
    last = len(step.pigments) - 1
    if not step.fade or share >= 1.0:
        place = float(min(floor((begin + share / 2.0) * (last + 1)), last))
    else:
        place = min(begin / (1.0 - share), 1.0) * last
    return tuple(round(max(1.0 - abs(place - at), 0.0), 9) for at in range(last + 1))


SIDES = {"both": ("left", "right"), "one": ("",), "around": ("",)}
"""The channels of one piece, as it lies on the bench."""


def place_words(step: CastStep, pieces: int, begin: float, share: float) -> str:
    """Say where a pour goes: the next layer in all channels where colours change, else one channel after the other.

    Parameters
    ----------
    step : CastStep
        The casting [-]
    pieces : int
        How many pieces are cast [-]
    begin : float
        How much of it is filled before, 0 to 1 [-]
    share : float
        How much of it the pour fills, above 0 to 1 [-]

    Returns
    -------
    words : str
        As "piece 1 left", or "layer 1 of 3, in all 4"; empty where there is one place alone [-]

    Examples
    --------
    >>> from layup.planning.channel import Channel
    >>> wall = CastStep("walls", 60.0, "resin", None, 4, channel=Channel(0.008, 0.012))
    >>> [place_words(wall, 2, at / 4, 1 / 4) for at in range(4)]
    ['piece 1 left', 'piece 1 right', 'piece 2 left', 'piece 2 right']
    """
    sides = SIDES[step.channel.sides] if step.channel else ("",)
    names = [
        " ".join(filter(None, (f"piece {piece}" if pieces > 1 else "", side)))
        for piece in range(1, pieces + 1)
        for side in sides
    ]
    if len(step.pigments) > 1:
        layer, of = round(begin / share) + 1, max(round(1.0 / share), 1)
        return f"layer {layer} of {of}{f', in all {len(names)}' if len(names) > 1 else ''}"
    first = floor(begin * len(names) + NONE_LEFT)
    last = max(ceil((begin + share) * len(names) - NONE_LEFT), first + 1)
    if last - first >= len(names):
        return f"all {len(names)}" if len(names) > 1 else ""
    return names[first] if last - first == 1 else f"{names[first]} to {names[last - 1]}"


def pours_left(done: float, each: float, fits: Callable[[float], bool], weighs: Callable[[float], bool]) -> list[float]:
    """Return the shares of a casting that are still to pour, in order.

    Parameters
    ----------
    done : float
        How much of it is filled, 0 to 1 [-]
    each : float
        How much of it each pour was planned to fill, above 0 to 1 [-]
    fits : callable
        Whether a pour of a share leaves its cup in time [-]
    weighs : callable
        Whether the scale weighs a pour of a share [-]

    Returns
    -------
    list[float]
        Shares of the whole casting [-]

    Notes
    -----
    They end where the pours planned before did, so that colours stay where they were; one that would go off in its cup
    is halved, and one that the scale cannot weigh goes with the next.
    """
    shares: list[float] = []
    begin, carried = done, 0.0
    for end in _edges(done, each):
        share, carried = end - begin + carried, 0.0
        begin = end
        if not weighs(share) and end < 1.0 - NONE_LEFT:
            carried = share
            continue
        if shares and not weighs(share):
            share += shares.pop()
        shares += _halved(share, fits, weighs)
    return shares


def _edges(done: float, each: float) -> Iterator[float]:
    """Yield where the pours planned before end, from `done` on, the whole last."""
    count = max(round(1.0 / each), 1)
    yield from (at / count for at in range(1, count) if at / count > done + NONE_LEFT)
    if done < 1.0 - NONE_LEFT:
        yield 1.0


def _halved(share: float, fits: Callable[[float], bool], weighs: Callable[[float], bool]) -> list[float]:
    count = 1
    while not fits(share / count) and weighs(share / (2 * count)):
        count *= 2
    return [share / count] * count
