"""The cut list: what to cut from the roll before the resin is opened."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from layup.planning.cloth import covered_area_m2, overhang_m
from layup.planning.outline import needed_length_m, shape
from layup.planning.stack import FabricStep, Plan


@dataclass(frozen=True, slots=True)
class Cut:
    """The cloth of one step: `count` blanks, each `length_m` along the roll and `width_m` across it.

    `across` is how many lie side by side on the roll, `roll_m` how much roll that takes, and `waste` the share (0..1)
    of that cloth that does not end on the part. All three are None without a roll width, and `roll_m` and `waste` also
    where the blank is wider than the roll (`across` 0): then it needs a join or a wider roll.
    """

    step: int
    name: str
    count: int
    length_m: float
    width_m: float
    across: int | None
    roll_m: float | None
    waste: float | None


def cut_list(plan: Plan) -> tuple[Cut, ...]:
    """List the blanks to cut for each fabric step.

    Parameters
    ----------
    plan : Plan
        The part, its pieces and its steps [-]

    Returns
    -------
    tuple[Cut, ...]
        One entry a fabric step, in bench order [m]

    Raises
    ------
    InputError
        The outline is an area without a length.
    RangeError
        A strip wider than the piece.

    Notes
    -----
    Blanks are rectangles along the roll, side by side and in rows, as long and as wide as the piece with its overhang;
    a strip hangs over at its two ends only. Tapered pieces could nest head to tail and waste less.

    Examples
    --------
    >>> from layup.planning.outline import Outline
    >>> from layup.planning.stack import Crew, FibreTarget
    >>> cloth = FabricStep("bottom glass", 600.0, 600.0, "E-glass", 2.54, 0.6)
    >>> board = Outline(length_m=1.5, stated_area_m2=0.15, overhang_m=0.025, roll_width_m=1.25)
    >>> (cut,) = cut_list(Plan("skis", "slow", 2, Crew(), FibreTarget("weight", 0.6), board, (cloth,)))
    >>> cut.count, round(cut.length_m, 2), round(cut.width_m, 2), cut.across, round(cut.roll_m, 2), round(cut.waste, 2)
    (2, 1.55, 0.15, 8, 1.55, 0.85)
    """
    return tuple(_cut(plan, number, step) for number, step in enumerate(plan.steps) if isinstance(step, FabricStep))


def _cut(plan: Plan, number: int, step: FabricStep) -> Cut:
    outline, overhang = plan.outline, overhang_m(plan.outline, step)
    length = needed_length_m(outline, "cloth") + 2.0 * overhang
    covered = covered_area_m2(outline, step)
    width = step.width_m or (shape(outline).widest_m or 0.0) + 2.0 * overhang
    count = plan.pieces * step.layers
    roll_width = outline.roll_width_m
    if roll_width is None:
        return Cut(number, step.name, count, length, width, None, None, None)
    across = int(roll_width / width + 1e-9)
    if across == 0:
        return Cut(number, step.name, count, length, width, 0, None, None)
    roll = ceil(count / across) * length
    return Cut(number, step.name, count, length, width, across, roll, 1.0 - count * covered / (roll * roll_width))
