"""Two days on one axis, laid over each other at first contact or at the closing: each step, and what was to spare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from layup.errors import InputError
from layup.review.review import Review
from layup.review.timeline import StepTrack, Stretch, Track

Align = Literal["contact", "closing"]
ALIGNS: tuple[Align, ...] = get_args(Align)


@dataclass(frozen=True, slots=True)
class AlignedSide:
    """A step as one day had it: from when to when after the moment that both are laid over, and what was to spare then.

    Spare is what was left until the first limit of all mix in hand as the step was done.
    """

    begin_s: float
    end_s: float
    spare_s: float | None


@dataclass(frozen=True, slots=True)
class AlignedStep:
    """One step on both days; None where a day had none of this name, or did not log it."""

    name: str
    left: AlignedSide | None
    right: AlignedSide | None

    @property
    def spare_difference_s(self) -> float | None:
        """How much more the right one had to spare as it was done."""
        if self.left is None or self.right is None or self.left.spare_s is None or self.right.spare_s is None:
            return None
        return self.right.spare_s - self.left.spare_s


@dataclass(frozen=True, slots=True)
class Aligned:
    """Two days on one axis; times are from the moment that they are laid over each other at."""

    by: Align
    steps: tuple[AlignedStep, ...]
    closed_s: tuple[float | None, float | None]
    """When each press was closed."""

    @property
    def begin_s(self) -> float:
        """Where the axis begins."""
        return min([0.0, *(side.begin_s for side in self._sides())])

    @property
    def end_s(self) -> float:
        """Where it ends."""
        return max(
            [0.0, *(side.end_s for side in self._sides()), *(at_s for at_s in self.closed_s if at_s is not None)]
        )

    def _sides(self) -> Iterator[AlignedSide]:
        yield from (side for step in self.steps for side in (step.left, step.right) if side is not None)


def aligned(left: Review, right: Review, by: Align) -> Aligned:
    """Return two days on one axis. Raises InputError where one has no such moment."""
    tracks = [_track(found, by) for found in (left, right)]
    zeros_s = [_zero_s(found, day, by) for found, day in zip((left, right), tracks, strict=True)]
    sides = [dict(_named(day.steps)) for day in tracks]
    order = list(dict.fromkeys([*sides[0], *sides[1]]))
    if len(order) > len(sides[0]):  # what only the right one has stands where it was done there
        timed = list(zip(sides, zeros_s, strict=True))
        order.sort(key=lambda key: min(_at_s(each[key], zero_s) for each, zero_s in timed if key in each))
    return Aligned(
        by=by,
        steps=tuple(
            AlignedStep(
                next(each[key].name for each in sides if key in each),
                *(_side(day, each.get(key), zero_s) for day, each, zero_s in zip(tracks, sides, zeros_s, strict=True)),
            )
            for key in order
        ),
        closed_s=(_from(tracks[0].closed_s, zeros_s[0]), _from(tracks[1].closed_s, zeros_s[1])),
    )


def _track(found: Review, by: Align) -> Track:
    if found.track is None:
        raise InputError(found.kept.name, "has no day to lay over another", value=by, todo="see 'layup review'")
    return found.track


def _zero_s(found: Review, day: Track, by: Align) -> float:
    at_s = day.contact_s if by == "contact" else day.closed_s
    if at_s is None:
        wrong = "has no first contact" if by == "contact" else "has no closed press"
        other = next(each for each in ALIGNS if each != by)
        raise InputError(found.kept.name, wrong, todo=f"lay them over each other at {other}")
    return at_s


def _from(at_s: float | None, zero_s: float) -> float | None:
    return None if at_s is None else at_s - zero_s


def _named(steps: tuple[StepTrack, ...]) -> Iterator[tuple[tuple[str, int], StepTrack]]:
    """Yield each step with its name and which of that name it is."""
    seen: dict[str, int] = {}
    for step in steps:
        name = " ".join(step.name.split()).casefold()
        seen[name] = seen.get(name, 0) + 1
        yield (name, seen[name]), step


def _at_s(step: StepTrack, zero_s: float) -> float:
    return (step.real or step.planned).begin_s - zero_s


def _side(day: Track, step: StepTrack | None, zero_s: float) -> AlignedSide | None:
    real: Stretch | None = None if step is None else step.real
    if real is None:
        return None
    return AlignedSide(real.begin_s - zero_s, real.end_s - zero_s, spare_at(day, real.end_s))


def spare_at(day: Track, at_s: float) -> float | None:
    """Return what was left just before a moment until the first limit of all mix in hand; None where none was."""
    corners = day.spare_s()
    for (begin_s, spare_s), (end_s, _) in zip(corners[::2], corners[1::2], strict=True):
        if begin_s <= at_s <= end_s:
            return spare_s - (at_s - begin_s)
    return None
