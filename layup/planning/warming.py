"""The days before in a cold shop: what of a plan has to get warm, and how long each thing takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import pi, sqrt

from layup.chemistry.climate import saturation_pressure_Pa
from layup.chemistry.datasheet import Component, Datasheet
from layup.chemistry.film import SolidLayer
from layup.chemistry.kinetics import EPOXY_J_g_K
from layup.chemistry.numerics import require_between, require_stated
from layup.chemistry.soak import (
    CLOTH_PACKED,
    MATERIALS,
    BLOWN_AIR_W_m2_K,
    Body,
    CLOTH_J_g_K,
    CLOTH_W_m_K,
    EPOXY_W_m_K,
    FOAM_J_g_K,
    FOAM_W_m_K,
    WATER_W_m2_K,
    WOOD_J_g_K,
    bath_time_s,
    follow_time_s,
    wood_conductivity_W_m_K,
)
from layup.planning.budget import Budget
from layup.planning.outline import area_m2
from layup.planning.plan import Board, FabricStep, PlaceStep, Plan, Shop
from layup.planning.planner import PlanResult
from layup.units import length

USUAL_DENSITY_g_cm3 = {"resin": 1.15, "hardener": 0.97}
"""Where a datasheet does not say (epoxy and amine, from memory)."""
TALL = 1.2
"""Height of a can over its diameter (common practice, no source)."""
USUAL_CORE_m = 0.012
"""As the density of a core and the usual mould, common practice, no source."""
USUAL_MOULD = Board("birch plywood", 0.018)
WOOD_MOISTURE = 0.10
"""Of a core kept indoors; as the mould, common practice, no source."""
USUAL_BATH_K = 308.15
"""35 degC: what a bucket of warm water holds a while (common practice, no source)."""
HOTTEST_BATH_K = 318.15
"""45 degC, beyond which a can is not warmed: it lives too short in the cup (our own judgement, no source)."""
WARMING_CAUTIONS = (
    "A heater wants a thermostat, a second cut-out and room around it; nothing that burns or gives off solvent near.",
    "Warm cans on a water bath or in a box, never on a flame or a hot plate: loosen the lids of epoxy and amine.",
    "Cans of isocyanate stay closed and dry: no water near them. Their safety data sheet comes first.",
)


@dataclass(frozen=True, slots=True)
class Stored:
    """How the things of a plan stand in the cold, as far as its file does not say."""

    can_g: float | None = None
    """What the resin's can holds; None takes what the plan wants ready."""
    core_m: float | None = None
    """None takes the plan's, or where it states none the usual one."""
    core_g_cm3: float = 0.30
    """A light wood (common practice, no source)."""
    mould_both_faces: bool = False
    """Whether air comes to the mould from below, too."""

    def __post_init__(self) -> None:
        require_stated("can of resin", self.can_g, 10.0, 250_000.0, unit="g")
        require_stated("thickness of the core", self.core_m, 0.001, 0.2, unit="m")
        require_between("density of the core", self.core_g_cm3, 0.02, 1.0, unit="g/cm^3")

    @property
    def core_of_foam(self) -> bool:
        """Return whether the core is lighter than any wood (the lightest balsa, from memory)."""
        return self.core_g_cm3 < 0.1


@dataclass(frozen=True, slots=True)
class Warming:
    """One thing, and how long its coldest point takes to within 2 K of the shop."""

    body: Body
    from_K: float
    to_K: float
    time_s: float
    fan_s: float
    """In front of a fan."""
    bath_s: float | None
    """A can in a bath, then stirred; None for what does not go into water."""
    stored_J_K: float
    """The heat that it takes up for a kelvin."""


def bodies(plan: Plan, found: Budget, sheet: Datasheet, standing: Stored) -> Iterator[tuple[Body, float]]:
    """Yield each thing of a plan that has to get warm, with the heat that it takes up for a kelvin [J/K]."""
    share = 1.0 if standing.can_g is None or not found.buy_resin_g else standing.can_g / found.buy_resin_g
    for name, part, mass_g in (
        ("resin can", sheet.resin, found.buy_resin_g),
        ("hardener can", sheet.hardener, found.buy_hardener_g),
    ):
        if mass_g:
            yield _can(name, part, mass_g * share), mass_g * share * EPOXY_J_g_K
    face_m2 = plan.pieces * area_m2(plan.outline)
    if plan.lays:
        core = _core(core_m(plan, standing), standing)
        yield Body("core", "slab", (core,)), core.warms[1] * face_m2
    mould = _mould(plan, standing)
    yield mould, sum(layer.warms[1] for layer in mould.layers) * face_m2
    roll = _roll(plan, found)
    if roll is not None:
        yield roll, sum(line.glass_g for line in found.lines) * CLOTH_J_g_K


def warmings(
    plan: Plan,
    found: Budget,
    sheet: Datasheet,
    standing: Stored,
    *,
    from_K: float,
    to_K: float,
    bath_K: float,
    measured_K: dict[str, float] | None = None,
) -> tuple[Warming, ...]:
    """Find how long each thing of a plan takes to follow the shop, the slowest first.

    Parameters
    ----------
    from_K : What all of it has at first, unless it was measured [K]
    to_K : The shop from now on [K]
    bath_K : A bath for the cans, at most 318.15 [K]
    measured_K : What a thermometer said of a thing, by its name [K]
    """
    require_between("bath", bath_K, 233.15, HOTTEST_BATH_K, unit="K", todo="warmer spoils the resin's working time")
    told = measured_K or {}
    rows = []
    for body, stored_J_K in bodies(plan, found, sheet, standing):
        start_K = told.get(body.name, from_K)
        blown = replace(body, h_W_m2_K=BLOWN_AIR_W_m2_K)
        in_water = replace(body, h_W_m2_K=WATER_W_m2_K)
        wet = body.shape == "can" and start_K < to_K < bath_K
        rows.append(
            Warming(
                body,
                start_K,
                to_K,
                follow_time_s(body, from_K=start_K, to_K=to_K),
                follow_time_s(blown, from_K=start_K, to_K=to_K),
                bath_time_s(in_water, from_K=start_K, bath_K=bath_K, to_K=to_K) if wet else None,
                stored_J_K,
            )
        )
    return tuple(sorted(rows, key=lambda row: -row.time_s))


def warm_up_s(result: PlanResult, stored_K: float) -> float:
    """Return how long the slowest thing of a plan needs from where all is stored to the shop's temperature.

    0 where all is as warm.

    Parameters
    ----------
    stored_K : What cans, core and mould have before [K]
    """
    shop_K = result.shop.temperature_K
    rows = warmings(result.plan, result.budget, result.datasheet, Stored(), from_K=stored_K, to_K=shop_K, bath_K=shop_K)
    return max((row.time_s for row in rows), default=0.0)


def assumed_words(plan: Plan, standing: Stored) -> tuple[str, ...]:
    """Return what the times rest on."""
    words = [
        "still air and even temperatures at first; no heat from a hand or a draught",
        f"cans {TALL:g} times as tall as wide, their resin at rest (common practice, no source)",
        f"core {length(core_m(plan, standing))} thick, {standing.core_g_cm3:.2f} of water's density",
        "the roll of cloth is a third fibre, the rest air (our own estimate, no source)",
    ]
    if plan.closing.backing is None and plan.closing.foam is None:
        words.append(f"mould {USUAL_MOULD}, as the plan states none (backing and foam in its [closing])")
    words.append(
        "the mould has air on both faces" if standing.mould_both_faces else "the mould lies: air on one face only"
    )
    return tuple(words)


def _can(name: str, part: Component, mass_g: float) -> Body:
    density_g_cm3 = part.density_g_cm3 or USUAL_DENSITY_g_cm3["resin" if name.startswith("resin") else "hardener"]
    radius_m = (1e-6 * mass_g / density_g_cm3 / (2.0 * TALL * pi)) ** (1 / 3)
    inside = SolidLayer(EPOXY_W_m_K, density_g_cm3, EPOXY_J_g_K, radius_m)
    return Body(name, "can", (inside,), radius_m=radius_m, height_m=2.0 * TALL * radius_m)


def core_m(plan: Plan, standing: Stored) -> float:
    """Return how thick the core is: as told, else the thickest that the plan puts in place, else a usual one [m]."""
    stated = (step.thickness_m or 0.0 for step in plan.steps if isinstance(step, PlaceStep))
    return standing.core_m or max(stated, default=0.0) or USUAL_CORE_m


def _core(thick_m: float, standing: Stored) -> SolidLayer:
    density_g_cm3 = standing.core_g_cm3
    if standing.core_of_foam:
        return SolidLayer(FOAM_W_m_K, density_g_cm3, FOAM_J_g_K, thick_m)
    conducts = wood_conductivity_W_m_K(density_g_cm3 / (1.0 + WOOD_MOISTURE), WOOD_MOISTURE)
    return SolidLayer(conducts, density_g_cm3, WOOD_J_g_K, thick_m)


def _mould(plan: Plan, standing: Stored) -> Body:
    closing = plan.closing
    board = closing.backing or (USUAL_MOULD if closing.foam is None else None)
    layers = [] if board is None else [SolidLayer(*MATERIALS[board.material], board.thickness_m)]
    if closing.foam is not None:
        layers.append(SolidLayer(FOAM_W_m_K, closing.foam.density_g_cm3, FOAM_J_g_K, closing.foam.thickness_m))
    both = standing.mould_both_faces
    if len(layers) > 1:
        return Body("mould", "layers", tuple(layers), both_faces=both)
    return Body("mould", "slab" if both else "half slab", tuple(layers))


def _roll(plan: Plan, found: Budget) -> Body | None:
    """Return all cloth on one roll as wide as the part's roll, or as the widest piece of it."""
    grams = sum(line.glass_g for line in found.lines)
    fabrics = [step for step in plan.steps if isinstance(step, FabricStep)]
    width_m = plan.outline.roll_width_m or 1.0
    if not fabrics or grams <= 0.0:
        return None
    density_g_cm3 = CLOTH_PACKED * fabrics[0].fibre_density_g_cm3
    radius_m = sqrt(1e-6 * grams / density_g_cm3 / width_m / pi)
    return Body(
        "cloth roll", "cylinder", (SolidLayer(CLOTH_W_m_K, density_g_cm3, CLOTH_J_g_K, radius_m),), radius_m=radius_m
    )


def shop_at(shop: Shop, temperature_K: float) -> Shop:
    """Return a shop warmed or cooled to another temperature."""
    humidity = shop.relative_humidity
    if humidity is not None:
        dried = saturation_pressure_Pa(shop.temperature_K) / saturation_pressure_Pa(temperature_K)
        humidity = min(humidity * dried, 1.0)
    return replace(shop, temperature_K=temperature_K, relative_humidity=humidity)


def following(result: PlanResult, to_K: float) -> tuple[Warming, ...]:
    """Return how long the things of a plan take to a shop's temperature, from what was measured of them."""
    shop = result.shop
    measured_K = {"resin can": shop.resin_K, "hardener can": shop.resin_K}
    measured_K |= dict.fromkeys(("core", "mould", "cloth roll"), shop.part_K)
    return warmings(
        result.plan,
        result.budget,
        result.datasheet,
        Stored(),
        from_K=shop.temperature_K,
        to_K=to_K,
        bath_K=USUAL_BATH_K,
        measured_K={name: kelvin for name, kelvin in measured_K.items() if kelvin is not None},
    )
