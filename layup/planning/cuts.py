"""The cut list: what to cut from the roll before the resin is opened, what stays of it once trimmed, and what it costs.

The cutting template: how far both edges of a piece lie from its centre line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from layup.chemistry.datasheet import Datasheet
from layup.errors import RangeError
from layup.planning.outline import SAME_M, Outline, Point, edges, needed_length_m, offset_area_m2, ring_m, shape
from layup.planning.plan import CastStep, FabricStep, Plan
from layup.units import cloth_length


def fabrics_of(plan: Plan) -> dict[int, FabricStep]:
    """Return the fabric steps of a plan, by their numbers."""
    return {number: step for number, step in enumerate(plan.steps) if isinstance(step, FabricStep)}


def casts_of(plan: Plan) -> dict[int, CastStep]:
    """Return the castings of a plan, by their steps' numbers."""
    return {number: step for number, step in enumerate(plan.steps) if isinstance(step, CastStep)}


def cast_resins(plan: Plan) -> tuple[str, ...]:
    """Return the ids of the resins that a plan casts, each once, in bench order."""
    return tuple(dict.fromkeys(step.resin_id for step in casts_of(plan).values()))


# -- cloth -----------------------------------------------------------------------------------------------------------


def cloth_area_m2(outline: Outline, step: FabricStep) -> float:
    """Return the area of one ply's cloth for one piece, as cut, the overhang included.

    Raises InputError for a strip or an overhang where the outline has no length. The step's overhang goes before the
    outline's own. A strip hangs over at its two ends only.
    """
    overhang = overhang_m(outline, step)
    if step.width_m is None:
        return offset_area_m2(outline, overhang)
    return step.width_m * (needed_length_m(outline, "a strip") + 2.0 * overhang)


def covered_area_m2(outline: Outline, step: FabricStep) -> float:
    """Return the area of one ply's cloth that stays on one piece once it is trimmed.

    Raises InputError for a strip where the outline has no length; RangeError for a strip wider than the piece. A strip
    counts its whole rectangle, at most the piece's own area: where the ends of the piece are narrower than the strip a
    little too much is counted as staying.
    """
    body = shape(outline)
    if step.width_m is None:
        return body.area_m2
    length = needed_length_m(outline, "a strip")
    if body.widest_m is not None and step.width_m > body.widest_m * (1.0 + 1e-9):
        raise RangeError(
            f"step {step.name!r}",
            "is a strip wider than the piece",
            value=cloth_length(step.width_m, "g"),
            allowed=f"at most {cloth_length(body.widest_m, 'g')}",
            todo="leave the width out to cover the outline with an overhang",
        )
    return min(step.width_m * length, body.area_m2)


def overhang_m(outline: Outline, step: FabricStep) -> float:
    """Return how far this step's cloth is cut beyond the outline."""
    return outline.overhang_m if step.overhang_m is None else step.overhang_m


# -- cutting ---------------------------------------------------------------------------------------------------------

_NEAR = 1e-9
"""So much wider a blank may be than the room for it, as the sum of widths that fill a roll comes out."""


@dataclass(frozen=True, slots=True)
class Cut:
    """The cloth of one step: `count` blanks, each `length_m` along the roll and `width_m` across it.

    `across` is how many lie side by side on the roll. Equal cloth of several steps is cut side by side: `roll_m` is
    this step's own share of what that takes, so that the shares sum to what is cut off the roll, `beside` the other
    steps in its rows, and `waste` the share (0..1) of its cloth that does not end on the part. `across`, `roll_m` and
    `waste` are None without a roll width, and the last two also where the blank is wider than the roll (`across` 0):
    then it needs a join or a wider roll.
    """

    step: int
    name: str
    count: int
    length_m: float
    width_m: float
    across: int | None
    roll_m: float | None
    waste: float | None
    beside: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Blank:
    """One blank in its row on a roll, its near corner `across_m` from the edge."""

    step: int
    across_m: float
    length_m: float
    width_m: float


def cut_list(plan: Plan) -> tuple[Cut, ...]:
    """List the blanks to cut for each fabric step.

    One entry a fabric step, in bench order. Raises InputError for an outline without a length; RangeError for a
    strip wider than the piece.

    Blanks are rectangles along the roll, side by side and in rows, as long and as wide as the piece with its overhang;
    a strip hangs over at its two ends only. Tapered pieces could nest head to tail and waste less. Cloth is equal
    where weight, fibre and price are; a row of several steps is shared out by the area of their blanks in it.

    >>> from layup.planning.outline import Outline
    >>> from layup.planning.plan import Crew, FibreTarget
    >>> cloth = FabricStep("bottom glass", 600.0, 600.0, "E-glass", 2.54, 0.6)
    >>> board = Outline(length_m=1.5, stated_area_m2=0.15, overhang_m=0.025, roll_width_m=1.25)
    >>> (cut,) = cut_list(Plan("skis", "slow", 2, Crew(), FibreTarget("weight", 0.6), board, (cloth,)))
    >>> cut.count, round(cut.length_m, 2), round(cut.width_m, 2), cut.across, round(cut.roll_m, 2), round(cut.waste, 2)
    (2, 1.55, 0.15, 8, 1.55, 0.85)
    """
    fabrics = fabrics_of(plan)
    cuts = {number: _cut(plan, number, step) for number, step in fabrics.items()}
    width_m = plan.outline.roll_width_m
    if width_m is None:
        return tuple(cuts.values())
    rolls: dict[tuple[object, ...], list[Cut]] = {}
    for number, step in fabrics.items():
        cloth = (step.areal_weight_g_m2, step.fibre, step.fibre_density_g_cm3, step.price_per_m2)
        rolls.setdefault(cloth, []).append(cuts[number])
    for alike in rolls.values():
        rows = nested(alike, width_m)
        for cut in alike:
            cuts[cut.step] = _shared(plan, cut, rows, width_m)
    return tuple(cuts.values())


def nested(cuts: Sequence[Cut], roll_width_m: float) -> list[list[Blank]]:
    """Lay the blanks of equal cloth on its roll, in rows.

    The longest first, each into the first row with room for it; or step by step, where that takes less of the roll.
    """
    fitting = [cut for cut in cuts if cut.width_m <= roll_width_m * (1.0 + _NEAR)]
    together = _rows(sorted(fitting, key=lambda cut: (-cut.length_m, -cut.width_m)), roll_width_m)
    by_step = [row for cut in fitting for row in _rows([cut], roll_width_m)]
    return min(together, by_step, key=lambda found: sum(row[0].length_m for row in found))


def _rows(cuts: Sequence[Cut], roll_width_m: float) -> list[list[Blank]]:
    """Return rows of blanks in this order, each blank in the first row that has room for it."""
    rows: list[list[Blank]] = []
    for cut in cuts:
        for _ in range(cut.count):
            for row in rows:
                edge_m = row[-1].across_m + row[-1].width_m
                if edge_m + cut.width_m <= roll_width_m * (1.0 + _NEAR):
                    break
            else:
                row, edge_m = [], 0.0
                rows.append(row)
            row.append(Blank(cut.step, edge_m, cut.length_m, cut.width_m))
    return rows


def _cut(plan: Plan, number: int, step: FabricStep) -> Cut:
    outline, overhang = plan.outline, overhang_m(plan.outline, step)
    length = needed_length_m(outline, "cloth") + 2.0 * overhang
    covered_area_m2(outline, step)  # refuses a strip wider than the piece
    width = step.width_m or (shape(outline).widest_m or 0.0) + 2.0 * overhang
    roll_width = outline.roll_width_m
    across = None if roll_width is None else int(roll_width / width + _NEAR)
    return Cut(number, step.name, plan.pieces * step.layers, length, width, across, None, None)


def _shared(plan: Plan, cut: Cut, rows: Sequence[Sequence[Blank]], roll_width_m: float) -> Cut:
    """Return a step's cut with its share of the rows that its blanks lie in."""
    mine = [row for row in rows if any(blank.step == cut.step for blank in row)]
    if not mine:
        return cut
    roll_m = sum(row[0].length_m * _area_m2(row, cut.step) / _area_m2(row) for row in mine)
    ends_m2 = cut.count * covered_area_m2(plan.outline, fabrics_of(plan)[cut.step])
    beside = sorted({blank.step for row in mine for blank in row} - {cut.step})
    return replace(cut, roll_m=roll_m, waste=1.0 - ends_m2 / (roll_m * roll_width_m), beside=tuple(beside))


def _area_m2(row: Sequence[Blank], step: int | None = None) -> float:
    return sum(blank.length_m * blank.width_m for blank in row if step in (None, blank.step))


# -- template --------------------------------------------------------------------------------------------------------

EVERY_m = 0.1
"""How far apart the places of a template are, beside its stations."""


@dataclass(frozen=True, slots=True)
class Offset:
    """Where both edges of a piece lie at one place of its length, each from the centre line, with the tip ahead."""

    at_m: float
    left_m: float
    right_m: float


def offsets(outline: Outline) -> tuple[Offset, ...]:
    """List how far both edges lie from the centre line: at each station, and every 100 mm.

    Raises InputError for an area without a length.

    The centre line of a drawing is the middle of the box around it; where its edge turns back, the outermost counts.

    >>> offsets(Outline(edges_m=((0.0, 0.05, 0.06), (0.05, 0.07, 0.06))))[-1]
    Offset(at_m=0.05, left_m=0.07, right_m=0.06)
    """
    length_m, sides = needed_length_m(outline, "a template"), edges(outline)
    stations_m = [] if sides is None else [at - sides[0].x[0] for at in sides[0].x]
    every_m = (number * EVERY_m for number in range(int(length_m / EVERY_m) + 1))
    places = sorted({round(at, 9) for at in (*every_m, *stations_m, length_m)})  # to SAME_M: each place once
    if sides is not None:
        left, right = sides
        at_edge = [min(left.x[0] + at, left.x[-1]) for at in places]
        return tuple(Offset(at, left(own), right(own)) for at, own in zip(places, at_edge, strict=True))
    ring = ring_m(outline, "a template")
    middle_m = (max(y for _, y in ring) + min(y for _, y in ring)) / 2.0
    found = []
    for at in places:
        across = [y for a, b in zip(ring, ring[1:] + ring[:1], strict=True) for y in _crossings(a, b, at)]
        if across:
            found.append(Offset(at, max(across) - middle_m, middle_m - min(across)))
    return tuple(found)


def _crossings(a: Point, b: Point, at_m: float) -> tuple[float, ...]:
    """Return where a straight line of the outline is at one place of the length."""
    if not min(a[0], b[0]) - SAME_M <= at_m <= max(a[0], b[0]) + SAME_M:
        return ()
    run = b[0] - a[0]
    return (a[1], b[1]) if abs(run) <= SAME_M else (a[1] + (at_m - a[0]) / run * (b[1] - a[1]),)


# -- cost ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cost:
    """What has a price, in the shop's own currency; `unpriced` names what has none."""

    total: float | None
    unpriced: tuple[str, ...]


def cost_of(plan: Plan, mix_g: float, datasheet: Datasheet) -> Cost:
    """Add up the prices of resin and cloth.

    Cloth is bought by the length of roll that the cut list takes, or by its cut area where no roll width is known.
    """
    prices: list[float] = []
    unpriced: list[str] = []
    if datasheet.price_per_kg is None:
        unpriced.append(datasheet.title)
    else:
        prices.append(datasheet.price_per_kg * mix_g / 1000.0)
    bought = _bought_cloth_m2(plan)
    for number, step in fabrics_of(plan).items():
        if step.price_per_m2 is None:
            unpriced.append(step.name)
        else:
            prices.append(step.price_per_m2 * bought[number])
    return Cost(sum(prices) if prices else None, tuple(unpriced))


@lru_cache(maxsize=16)
def _bought_cloth_m2(plan: Plan) -> Mapping[int, float]:
    """Return the cloth to buy for each fabric step, by step number."""
    outline = plan.outline
    cut = {n: plan.pieces * step.layers * cloth_area_m2(outline, step) for n, step in fabrics_of(plan).items()}
    if outline.roll_width_m is None or shape(outline).length_m is None:
        return cut
    rolls = {c.step: c.roll_m * outline.roll_width_m for c in cut_list(plan) if c.roll_m is not None}
    return cut | rolls
