"""The cloth and the resin of a session's plan, with how sure each is: what a weighed part is set against."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.planning.budget import Budget, budget
from layup.planning.stack import FabricStep
from layup.records.estimate import RECTANGULAR, Estimate
from layup.records.kept import Kept

CLOTH_TOLERANCE = 0.05
"""How far a roll's areal weight may be from its label (common practice, no source)."""
DENSITY_TOLERANCE = 0.02
"""How far the densities of fibre and cured resin may be from those used (from memory: E glass 2.54 to 2.60)."""


@dataclass(frozen=True, slots=True)
class Laminate:
    """The cloth and the resin of the plan, as the measurements need them."""

    grams: Budget
    digit_g: float
    fibre_g_cm3: Estimate
    matrix_g_cm3: Estimate
    cloth_g: Estimate
    bonds_g: Estimate
    """Resin that faces and sheets hold, which no scale can tell from that of the plies."""
    plies_g_m2: Estimate
    """Dry cloth of one piece, all plies that follow the outline, and below the density of their fibre."""
    plies_g_cm3: Estimate


def laminate_of(kept: Kept) -> Laminate | None:
    """Work out the plan's cloth; None where it has none, or the plan or the resin cannot be read."""
    if kept.plan is None or kept.sheet is None:
        return None
    grams = budget(kept.plan, kept.sheet)
    cloth = [
        (line, step)
        for line, step in zip(grams.lines, kept.plan.steps, strict=True)
        if isinstance(step, FabricStep) and line.glass_g > 0.0
    ]
    if not cloth:
        return None
    fibre_g = sum(line.glass_g for line, _ in cloth)
    density = fibre_g / sum(line.glass_g / step.fibre_density_g_cm3 for line, step in cloth)
    plies = [step for _, step in cloth if step.width_m is None]
    weight = sum(step.layers * step.areal_weight_g_m2 for step in plies)
    solid = sum(step.layers * step.areal_weight_g_m2 / step.fibre_density_g_cm3 for step in plies)
    bonds = [line for line in grams.lines if line.kind == "bond" and line.mix_g > 0.0]
    spreads = [(line.high_g - line.low_g) / 2.0 * line.on_part_g / line.mix_g for line in bonds]
    return Laminate(
        grams=grams,
        digit_g=kept.plan.scale.readability_g,
        fibre_g_cm3=Estimate.within(density, DENSITY_TOLERANCE * density),
        matrix_g_cm3=Estimate.within(CURED_DENSITY_G_CM3, DENSITY_TOLERANCE * CURED_DENSITY_G_CM3),
        cloth_g=Estimate.within(fibre_g, CLOTH_TOLERANCE * fibre_g),
        bonds_g=Estimate(sum(line.on_part_g for line in bonds), sqrt(sum(x * x for x in spreads)) / RECTANGULAR),
        plies_g_m2=Estimate.within(weight, CLOTH_TOLERANCE * weight),
        plies_g_cm3=Estimate.within(weight / solid, DENSITY_TOLERANCE * weight / solid) if plies else Estimate(density),
    )
