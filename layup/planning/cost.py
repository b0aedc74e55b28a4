"""What the job costs, where prices are given."""

from __future__ import annotations

from dataclasses import dataclass

from layup.chemistry.datasheet import Datasheet
from layup.planning.cloth import cloth_area_m2
from layup.planning.cutting import cut_list
from layup.planning.outline import shape
from layup.planning.stack import FabricStep, Plan


@dataclass(frozen=True, slots=True)
class Cost:
    """What has a price, in the shop's own currency; `unpriced` names what has none."""

    total: float | None
    unpriced: tuple[str, ...]


def cost_of(plan: Plan, mix_g: float, datasheet: Datasheet) -> Cost:
    """Add up the prices of resin and cloth.

    Parameters
    ----------
    plan : Plan
        The part and its steps [-]
    mix_g : float
        Resin and hardener to buy, 0 or more [g]
    datasheet : Datasheet
        The laminating resin, with its price for a kilogram of mix or none [-]

    Returns
    -------
    Cost
        The total of what has a price, or None if nothing has; castings are not in it [-]

    Notes
    -----
    Cloth is bought by the length of roll that the cut list takes, or by its cut area where no roll width is known.
    """
    prices: list[float] = []
    unpriced: list[str] = []
    if datasheet.price_per_kg is None:
        unpriced.append(datasheet.title)
    else:
        prices.append(datasheet.price_per_kg * mix_g / 1000.0)
    bought = _bought_cloth_m2(plan)
    for number, step in enumerate(plan.steps):
        if not isinstance(step, FabricStep):
            continue
        if step.price_per_m2 is None:
            unpriced.append(step.name)
        else:
            prices.append(step.price_per_m2 * bought[number])
    return Cost(sum(prices) if prices else None, tuple(unpriced))


def _bought_cloth_m2(plan: Plan) -> dict[int, float]:
    """Return the cloth to buy for each fabric step, by step number."""
    outline = plan.outline
    cut = {
        number: plan.pieces * step.layers * cloth_area_m2(outline, step)
        for number, step in enumerate(plan.steps)
        if isinstance(step, FabricStep)
    }
    if outline.roll_width_m is None or shape(outline).length_m is None:
        return cut
    rolls = {c.step: c.roll_m * outline.roll_width_m for c in cut_list(plan) if c.roll_m is not None}
    return cut | rolls
