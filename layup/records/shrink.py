"""Means of few values, pulled to what was known before: the fewer and the wilder they are, the more.

Normal with known variances, two levels: a group's kinds share the group's own mean, which shares the prior. Variances
between sessions are estimated, with a prior that counts as some sessions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt


@dataclass(frozen=True, slots=True)
class Learnt:
    """A mean with its standard deviation, how far single sessions stray from it, and how many it rests on."""

    mean: float
    sd: float
    spread: float
    sessions: int

    @property
    def next_sd(self) -> float:
        """The standard deviation of the next session's value."""
        return sqrt(self.sd**2 + self.spread**2)


def pulled(prior_mean: float, prior_sd: float, values: Sequence[float], spread: float) -> Learnt:
    """Return the mean of values, each with a standard deviation of `spread`, pulled to the prior."""
    weight = 1.0 / prior_sd**2 + len(values) / spread**2
    mean = (prior_mean / prior_sd**2 + sum(values) / spread**2) / weight
    return Learnt(mean, 1.0 / sqrt(weight), spread, len(values))


def spread_of(groups: Iterable[Sequence[float]], prior: float, *, counts_as: float = 4.0) -> float:
    """Return the standard deviation within groups of values, pulled to `prior`, which counts as so many values."""
    squares, free = counts_as * prior**2, counts_as
    for values in groups:
        if values:
            mean = sum(values) / len(values)
            squares += sum((value - mean) ** 2 for value in values)
            free += len(values) - 1
    return sqrt(squares / free)


def pulled_kinds(
    kinds: Mapping[str, Sequence[float]], *, group_sd: float, kind_sd: float, spread: float
) -> dict[str, Learnt]:
    """Return the mean of each kind, pulled to the mean of all kinds, and that to zero.

    A kind without values of its own gets what the others say of the group.
    """
    sds = {kind: sqrt(kind_sd**2 + spread**2 / len(values)) for kind, values in kinds.items() if values}
    weight = 1.0 / group_sd**2 + sum(1.0 / sd**2 for sd in sds.values())
    group = sum(sum(kinds[kind]) / len(kinds[kind]) / sd**2 for kind, sd in sds.items()) / weight
    group_sd_after = 1.0 / sqrt(weight)
    found = {}
    for kind, values in kinds.items():
        own = pulled(group, kind_sd, values, spread)
        rest = (own.sd / kind_sd) ** 2  # how much of the group's mean is left in this kind's
        found[kind] = Learnt(own.mean, sqrt(own.sd**2 + (rest * group_sd_after) ** 2), spread, len(values))
    return found
