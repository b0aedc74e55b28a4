"""Mix left over in a cup goes to the next steps, and what was to be mixed for them shrinks by it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

_NOTHING = 1e-6
"""A share or a gram below which nothing is left."""


@dataclass(frozen=True, slots=True)
class Need:
    """A step that is still to do: the mix it lays, and the share of it (0..1) that no batch is mixed for yet."""

    step: int
    mix_g: float
    to_mix: float


@dataclass(frozen=True, slots=True)
class ToMix:
    """A batch that is not mixed yet: what it weighs, and the share of each step that it lays."""

    batch: int
    mass_g: float
    serves: tuple[tuple[int, float], ...]


def credited(usable_g: float, needs: Sequence[Need]) -> tuple[tuple[int, float], ...]:
    """Share out mix left over in a cup to the steps to come.

    Parameters
    ----------
    usable_g : float
        What of it gets onto the part, 0 or more [g]
    needs : Sequence[Need]
        The steps to come, in bench order [-]

    Returns
    -------
    shares : tuple[tuple[int, float], ...]
        Each step that it goes to, with the share of it that it lays, 0 to 1 [-]

    Examples
    --------
    >>> credited(50.0, [Need(4, 40.0, 1.0), Need(5, 100.0, 0.5)])
    ((4, 1.0), (5, 0.1))
    """
    found = []
    for need in needs:
        if usable_g <= _NOTHING:
            break
        if need.mix_g <= 0.0 or need.to_mix <= _NOTHING:
            continue
        share = min(need.to_mix, usable_g / need.mix_g)
        usable_g -= share * need.mix_g
        found.append((need.step, share))
    return tuple(found)


def shrunk(
    batches: Sequence[ToMix], mix_g: Mapping[int, float], taken: Mapping[int, float], smallest_g: float
) -> tuple[ToMix, ...]:
    """Take shares of steps out of the batches that are not mixed yet, out of the first ones first.

    Parameters
    ----------
    batches : Sequence[ToMix]
        In the order in which they are mixed [-]
    mix_g : Mapping[int, float]
        The mix that each step lays [g]
    taken : Mapping[int, float]
        The share of each step that they need not lay any more, 0 to 1 [-]
    smallest_g : float
        The least that the scale weighs close enough to the ratio [g]

    Returns
    -------
    batches : tuple[ToMix, ...]
        Those still to mix, each by as much lighter as it lays less; one that would be lighter than `smallest_g` weighs
        that, or what it did where it was lighter; one with nothing left to lay is gone [-]

    Examples
    --------
    >>> waiting = [ToMix(2, 120.0, ((4, 1.0),)), ToMix(3, 90.0, ((5, 1.0),))]
    >>> shrunk(waiting, {4: 100.0, 5: 70.0}, {4: 0.25, 5: 1.0}, 50.0)
    (ToMix(batch=2, mass_g=95.0, serves=((4, 0.75),)),)
    """
    rest, found = dict(taken), []
    for batch in batches:
        serves, less_g = [], 0.0
        for step, share in batch.serves:
            out = min(share, rest.get(step, 0.0))
            rest[step] = rest.get(step, 0.0) - out
            less_g += out * mix_g.get(step, 0.0)
            if share - out > _NOTHING or share <= 0.0:
                serves.append((step, share - out))
        if serves or not batch.serves:
            mass_g = max(batch.mass_g - less_g, min(smallest_g, batch.mass_g))
            found.append(replace(batch, mass_g=mass_g, serves=tuple(serves)))
    return tuple(found)
