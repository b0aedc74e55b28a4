"""The budget: what every step takes in cloth and resin, what is lost, and what to buy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.film import Skin
from layup.chemistry.laminate import (
    CURED_DENSITY_G_CM3,
    fibre_volume_fraction,
    ply_thickness_m,
    require_target_fraction,
    resin_areal_weight_g_m2,
)
from layup.chemistry.mixing import mix_density_g_cm3, resin_and_hardener_g
from layup.chemistry.numerics import require_between
from layup.errors import RangeError
from layup.planning.channel import USUAL_WALL, channel_words, held_m3
from layup.planning.cuts import Cost, casts_of, cloth_area_m2, cost_of, covered_area_m2, fabrics_of
from layup.planning.outline import Outline, area_m2
from layup.planning.plan import BondStep, CastStep, FabricStep, Plan, Step
from layup.units import mass, volume

NO_SQUEEZE_OUT = (
    "How much the press drives out is not given: the plan pours as if no resin left under it (10 % to 30 % is usual, "
    "common practice, no source)."
)
HAND_SPREAD = 0.2
"""How far wet cloth by hand strays from its target: 0.8 careful, 1.2 new, for 1 (common practice, no source)."""
UPTAKE_SPREAD = 0.25
"""How far a face's thirst strays from its table value where no spread is given (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One step, for all pieces and layers. `mix_g` = `on_part_g` + `offcut_g` + `squeezed_g`, the mix to lay."""

    step: int
    name: str
    kind: Literal["fabric", "bond", "place", "cast"]
    cloth_m2: float = 0.0
    glass_g: float = 0.0
    """Dry cloth as cut, of whatever fibre."""
    part_glass_g: float = 0.0
    """Of that, what is left once trimmed."""
    on_part_g: float = 0.0
    """Resin that stays on the trimmed part."""
    offcut_g: float = 0.0
    """Resin in the cloth that is trimmed off."""
    squeezed_g: float = 0.0
    mix_g: float = 0.0
    low_g: float = 0.0
    high_g: float = 0.0
    thickness_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Casting:
    """The grams of one casting step, in its own resin: `mix_g` in all, of which `losses_g` stay in the cups."""

    step: int
    name: str
    resin_id: str
    pours: int
    mix_g: float
    losses_g: float
    parts_g: tuple[float, float] | None
    """Resin and hardener; None where that resin's datasheet is not at hand."""


@dataclass(frozen=True, slots=True)
class Budget:
    """What the job takes. `mix_g` is the sum of the lines' `mix_g` and of `losses_g`."""

    lines: tuple[Line, ...]
    batches: int
    losses_g: float
    mix_g: float
    low_g: float
    high_g: float
    resin_g: float
    hardener_g: float
    margin: float
    """Share to have ready beyond `mix_g`: what was asked for, or more where `high_g` is beyond that."""
    buy_resin_g: float
    buy_hardener_g: float
    castings: tuple[Casting, ...]
    thickness_m: float
    """All plies of one piece, without core, sheets and glue lines."""
    mass_g: float
    """Fibre and resin that stay on all pieces, without core and dry pieces."""
    fibre_mass_fraction: float | None
    """Mean of all plies; None without cloth."""
    fibre_volume_fraction: float | None
    cost: Cost
    assumptions: tuple[str, ...]

    @property
    def laid_g(self) -> float:
        """Return the mix laid in all steps, without the losses [g]."""
        return sum(line.mix_g for line in self.lines)


def budget(
    plan: Plan,
    datasheet: Datasheet,
    *,
    batches: int = 1,
    left_over_g: float = 0.0,
    casting_resins: Mapping[str, Datasheet] | None = None,
    margin: float = 0.1,
) -> Budget:
    """Reckon what a plan takes in cloth, resin and hardener.

    Raises RangeError for a fibre fraction above the packing ceiling, or a number out of its range; InputError for cloth
    with an overhang where the outline has no length, or a ratio by volume without densities.

    Resin in cloth: w (1 - Wf)/Wf on the cloth as cut, so what is trimmed off is counted. The press drives out the
    share s of what is laid: laid = (on part + in offcuts)/(1 - s). What to have ready is never less than the high end
    of all steps: cans that run out with half of it laid lose the whole part.

    Parameters
    ----------
    batches : Batches mixed, 1 or more: each leaves its loss in cup, brush and roller [-]
    left_over_g : Mix that is poured beyond what the batches lay and lose, 0 or more [g]
    casting_resins : Datasheets of the resins that casting steps name, by id [-]
    margin : Least share to have ready beyond the budget, 0 to 1; more where the steps' own spread asks for it [-]
    """
    require_between("margin", margin, 0.0, 1.0, todo="0.1 for a tenth more")
    if batches < 1:
        raise RangeError("batches", "are too few", value=batches, allowed="1 or more")
    lines = step_lines(plan)
    sheets = casting_resins or {}
    castings = tuple(_casting(plan, number, step, sheets.get(step.resin_id)) for number, step in casts_of(plan).items())
    require_between("mix left over", left_over_g, 0.0, 1e6, unit="g")
    losses = (batches * plan.losses.per_batch_g if plan.lays else 0.0) + left_over_g
    mix = sum(line.mix_g for line in lines) + losses
    resin, hardener = resin_and_hardener_g(datasheet, mix) if mix > 0.0 else (0.0, 0.0)
    high = sum(line.high_g for line in lines) + losses
    ready = max(margin, high / mix - 1.0) if mix > 0.0 else margin
    by_mass, by_volume = mean_fibre_fractions(plan, lines)
    return Budget(
        lines=lines,
        batches=batches,
        losses_g=losses,
        mix_g=mix,
        low_g=sum(line.low_g for line in lines) + losses,
        high_g=high,
        resin_g=resin,
        hardener_g=hardener,
        margin=ready,
        buy_resin_g=resin * (1.0 + ready),
        buy_hardener_g=hardener * (1.0 + ready),
        castings=castings,
        thickness_m=sum(line.thickness_m for line in lines),
        mass_g=sum(line.part_glass_g + line.on_part_g for line in lines),
        fibre_mass_fraction=by_mass,
        fibre_volume_fraction=by_volume,
        cost=cost_of(plan, mix * (1.0 + ready), datasheet),
        assumptions=_assumptions(plan),
    )


def thickest_skin(plan: Plan) -> Skin | None:
    """Return the heaviest wet layer of a part: what is laid one on the other with nothing dry between."""
    layers, resin_g_m2, fibre_g_m2 = [(0.0, 0.0)], 0.0, 0.0
    for step in plan.steps:
        if isinstance(step, FabricStep):
            fibre_g_m2 += step.layers * step.areal_weight_g_m2
            resin_g_m2 += step.layers * resin_areal_weight_g_m2(step.areal_weight_g_m2, step.fibre_mass_fraction)
        elif isinstance(step, BondStep):
            resin_g_m2 += step.uptake_g_m2 * step.coverage
        else:
            resin_g_m2, fibre_g_m2 = 0.0, 0.0
        layers.append((resin_g_m2, fibre_g_m2))
    resin_g_m2, fibre_g_m2 = max(layers)
    return Skin(resin_g_m2, fibre_g_m2) if resin_g_m2 > 0.0 else None


def for_part(calibration: Calibration, plan: Plan) -> Calibration:
    """Return a resin as it sets in a part, whose thickest wet layer warms itself: cloth, or of castings the channel."""
    casts = casts_of(plan).values()
    if plan.lays or not casts:
        return replace(calibration, skin=thickest_skin(plan))
    skins = [(step.channel or USUAL_WALL).skin(calibration.kinetics.density_g_cm3) for step in casts]
    return replace(calibration, skin=max(skins, key=lambda skin: skin.resin_g_m2))


@lru_cache(maxsize=16)
def step_lines(plan: Plan) -> tuple[Line, ...]:
    """Return the budget's lines, one a step, of whatever resin, in bench order [g, m, m^2].

    Raises RangeError for a fibre fraction above the packing ceiling, or a number out of its range; InputError for cloth
    with an overhang where the outline has no length.
    """

    def line(number: int, step: Step) -> Line:
        if isinstance(step, FabricStep):
            return _fabric_line(plan, number, step)
        return _bond_line(plan, number, step) if isinstance(step, BondStep) else Line(number, step.name, step.kind)

    return tuple(line(number, step) for number, step in enumerate(plan.steps))


def _fabric_line(plan: Plan, number: int, step: FabricStep) -> Line:
    fraction, weight = step.fibre_mass_fraction, step.areal_weight_g_m2
    try:
        require_target_fraction(fibre_volume_fraction(fraction, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3))
    except RangeError as error:
        raise RangeError(
            f"step {step.name!r}: {error.where}", error.wrong, value=error.value, allowed=error.allowed, todo=error.todo
        ) from error
    plies = plan.pieces * step.layers
    cloth = plies * cloth_area_m2(plan.outline, step)
    covered = plies * covered_area_m2(plan.outline, step)
    resin_g_m2 = resin_areal_weight_g_m2(weight, fraction)
    stays, offcut = resin_g_m2 * covered, resin_g_m2 * (cloth - covered)
    squeezed = _squeezed(plan, stays + offcut)
    mix = stays + offcut + squeezed
    thickness = step.layers * ply_thickness_m(weight, fraction, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3)
    return Line(
        number, step.name, step.kind, cloth, weight * cloth, weight * covered, stays, offcut, squeezed, mix,
        mix * (1.0 - HAND_SPREAD), mix * (1.0 + HAND_SPREAD), thickness,
    )  # fmt: skip


def _bond_line(plan: Plan, number: int, step: BondStep) -> Line:
    area = plan.pieces * bonded_area_m2(plan.outline, step)
    uptake = step.uptake_g_m2
    low = uptake * (1.0 - UPTAKE_SPREAD) if step.uptake_low_g_m2 is None else step.uptake_low_g_m2
    high = uptake * (1.0 + UPTAKE_SPREAD) if step.uptake_high_g_m2 is None else step.uptake_high_g_m2
    stays = uptake * area
    squeezed = _squeezed(plan, stays)
    mix = stays + squeezed
    return Line(
        number, step.name, step.kind, on_part_g=stays, squeezed_g=squeezed, mix_g=mix,
        low_g=mix * low / uptake, high_g=mix * high / uptake,
    )  # fmt: skip


def bonded_area_m2(outline: Outline, step: BondStep) -> float:
    """Return the area of a face on one piece, as stated or as its share of the outline [m^2]."""
    return step.coverage * area_m2(outline) if step.area_m2 is None else step.area_m2


def _squeezed(plan: Plan, stays_g: float) -> float:
    """Return what the press drives out, for `stays_g` that do not leave."""
    share = plan.losses.squeezed
    return stays_g * share / (1.0 - share)


def cast_volume_m3(plan: Plan, step: CastStep) -> float:
    """Return what one piece of a casting takes to the brim, as stated or from its channel [m^3]."""
    if step.channel is not None:
        return held_m3(plan.outline, step.channel)
    assert step.volume_m3 is not None  # held by CastStep
    return step.volume_m3


def cast_loss_g(plan: Plan, step: CastStep) -> float:
    """Return what each pour leaves in its cup.

    As the step states it, else the plan's loss per batch.
    """
    return plan.losses.per_batch_g if step.loss_g is None else step.loss_g


def _casting(plan: Plan, number: int, step: CastStep, datasheet: Datasheet | None) -> Casting:
    pours = step.stated_pours
    losses = pours * cast_loss_g(plan, step)
    volume_m3 = plan.pieces * cast_volume_m3(plan, step) * (1.0 + step.overfill)
    mix = 1e6 * volume_m3 * mix_density_g_cm3(datasheet) + losses
    parts_g = None if datasheet is None else resin_and_hardener_g(datasheet, mix)
    return Casting(number, step.name, step.resin_id, pours, mix, losses, parts_g)


def casting_words(plan: Plan, step: CastStep) -> tuple[str, ...]:
    """Say where the grams of a casting come from: its volume, what is poured beyond it, what stays in the cups."""
    held = f"{volume(cast_volume_m3(plan, step))} a piece, as stated"
    if step.channel is not None:
        held = channel_words(plan.outline, step.channel)
    over = f"{100 * step.overfill:.0f} % more poured, to be planed off" if step.overfill else "nothing poured beyond it"
    usual = "" if step.loss_g is not None else ", the plan's loss per batch"
    left = f"{mass(cast_loss_g(plan, step))} left in the cup of each pour{usual}"
    return (f"{step.name}: {held}.", f"{step.name}: {over}; {left}.")


def mean_fibre_fractions(plan: Plan, lines: tuple[Line, ...]) -> tuple[float | None, float | None]:
    """Return the fibre fractions of all plies together."""
    plies = [(lines[number], step) for number, step in fabrics_of(plan).items()]
    if not plies:
        return None, None
    fibre = sum(line.part_glass_g for line, _ in plies)
    resin = sum(line.on_part_g for line, _ in plies)
    fibre_cm3 = sum(line.part_glass_g / step.fibre_density_g_cm3 for line, step in plies)
    return fibre / (fibre + resin), fibre_cm3 / (fibre_cm3 + resin / CURED_DENSITY_G_CM3)


def _assumptions(plan: Plan) -> tuple[str, ...]:
    """Return what the budget takes for granted, as sentences."""
    cast = [words for step in casts_of(plan).values() for words in casting_words(plan, step)]
    if not plan.lays:
        return tuple(cast)
    said = [
        *cast,
        f"Wet cloth by hand may take {100 * HAND_SPREAD:.0f} % less or more than its target "
        "(common practice, no source).",
        f"Each batch leaves {mass(plan.losses.per_batch_g)} in cup, brush and roller.",
        NO_SQUEEZE_OUT
        if plan.losses.squeeze_out is None
        else f"The press drives out {100 * plan.losses.squeeze_out:.0f} % of the resin laid.",
        "Cloth is trimmed to the outline and its overhang before it is wetted out: blanks wetted whole drink more.",
        "Thickness and mass count the plies and the resin: add core, sheets and edges as you measure them.",
        f"The cured resin is taken at {CURED_DENSITY_G_CM3:g} g/cm^3 (from memory: 1.10 to 1.20).",
    ]
    if any(isinstance(step, BondStep) and step.uptake_low_g_m2 is None for step in plan.steps):
        said.append(
            f"A face may drink {100 * UPTAKE_SPREAD:.0f} % less or more than stated (common practice, no source)."
        )
    return tuple(said)
