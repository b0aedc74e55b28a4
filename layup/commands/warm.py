"""Warm a cold shop before press day: how long cans, core, mould and cloth take, and what heater holds the shop."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from math import inf, isfinite

from layup.bench.planner import Planner
from layup.chemistry.climate import (
    DRY_WOOD,
    WALLS,
    AIR_J_m3_K,
    Room,
    heater_W,
    held_K,
    warms_in_s,
    wood_follows_s,
    wood_moisture,
)
from layup.chemistry.datasheet import Datasheet, least_warmth
from layup.chemistry.kinetics import EPOXY_J_g_K
from layup.chemistry.soak import FOAM_W_m_K, follow_time_s, left_at_the_slowest
from layup.commands.command import answer, facts, in_min, on_stack, panel_lines, quantity, takes, temperature_K
from layup.errors import InputError
from layup.planning.readiness import WOOD_USUAL, warm_enough_K
from layup.planning.warming import WARMING_CAUTIONS, Stored, Warming, assumed_words, core_m, warmings
from layup.report.bars import table_lines
from layup.units import energy, in_hours, length, load, minutes, parse, power, temperature

EXAMPLE = (
    'layup warm touring-skis --from "3 degC" --to "18 degC"     '
    'layup warm touring-skis --from "3 degC" --to "18 degC" --room "4 m x 3 m x 2.4 m" --outside "-5 degC"'
)
ROOM = 'three lengths, "4 m x 3 m x 2.4 m"'
SHOP_C = (-30.0, 50.0)
HOURS = (1, 2, 4, 8)
"""After how many hours without heat the part is looked at."""


@dataclass(frozen=True, slots=True)
class Heat:
    """The heater of a room: what it has to give, and what it does."""

    room: Room
    outside_K: float
    needs_W: float
    has_W: float | None
    holds_K: float | None
    warms_s: float | None
    lasts_s: float
    energy_J: float
    trips: tuple[tuple[float, float], ...]
    """Seconds after the heater has tripped, and how warm the mould then is where the part lies."""
    cold_s: float
    """From the trip until that is colder than the resin cures in; inf for never."""
    least_K: float


WORDS = f"""
PLAN
--cans TEMPERATURE  measured now on the cans: "9 degC" (default: --from)
--core TEMPERATURE  measured now on the core: "9 degC" (default: --from)
--mould TEMPERATURE  measured now on the mould: "9 degC" (default: --from)
--can MASS  in the can of resin: "5 kg" (default: what the plan takes)
--core-thickness LENGTH  of the core (default: the plan's, else 12 mm)
--core-density DENSITY  of its wood or foam (default 300 kg/m^3)
--humidity RH  of the air: "60 %%" adds the core's moisture (default: none)
--both-faces  the mould has air below, too (default: it lies)
--bath TEMPERATURE  water for the cans, at most 45 degC (default 35 degC)
--room SIZE  shop, tent or box that is heated: {ROOM} (default: none)
--outside TEMPERATURE  the coldest it gets around it: "-5 degC" (default: --from)
--insulation LENGTH  foam board on all faces: "50 mm" (default: none)
--indoors  it stands in a shop, out of the wind
--heater POWER  the one that is there: "1.5 kW" (default: none)
--no-lessons
--no-dials
--workshop DIR
--json
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup warm`."""
    now, later = 'of all things now: "3 degC"', 'of the shop from now on: "18 degC"'
    parser.add_argument("--from", dest="cold", metavar="TEMPERATURE", required=True, help=now)
    parser.add_argument("--to", dest="shop", metavar="TEMPERATURE", required=True, help=later)
    parser.add_argument("--walls", choices=tuple(WALLS), default="single boards", help="(default single boards)")
    parser.add_argument("--air-changes", metavar="N", type=float, default=1.0, help="in an hour (default 1.0)")
    parser.add_argument("--for", dest="lasts", metavar="TIME", default="24 h", help="how long it heats (default 24 h)")
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with the time of each thing, and with the heater; 1 where the one that is there cannot hold the shop."""
    assumed: list[str] = []

    def kelvin(text: str, where: str) -> float:
        return temperature_K(text, assumed, where=where, within_C=SHOP_C)

    cold_K, shop_K = kelvin(args.cold, "--from"), kelvin(args.shop, "--to")
    planner = Planner(args.workshop, plan=args.plan)
    words = partial(replace, temperature_K=shop_K, cans_K=None)
    result = planner.asked(on_stack(args, planner, assumed, words))
    plan, sheet = result.plan, result.datasheet
    standing = Stored(
        can_g=quantity(args.can, "mass", assumed, where="--can") if args.can else None,
        core_m=args.core_thickness and quantity(args.core_thickness, "length", assumed, where="--core-thickness"),
        core_g_cm3=quantity(args.core_density, "density", assumed, where="--core-density"),
        mould_both_faces=args.both_faces,
    )
    measured = {"resin can": "cans", "hardener can": "cans", "core": "core", "mould": "mould"}
    said = {name: (getattr(args, flag), f"--{flag}") for name, flag in measured.items()}
    measured_K = {name: kelvin(*told) for name, told in said.items() if told[0] is not None}
    bath_K = kelvin(args.bath, "--bath")
    rows = warmings(
        plan, result.budget, sheet, standing, from_K=cold_K, to_K=shop_K, bath_K=bath_K, measured_K=measured_K
    )
    heat = _heat(args, rows, cold_K, shop_K, sheet, assumed) if args.room else None
    fails = heat is not None and heat.holds_K is not None and heat.holds_K < shop_K

    wood = _wood(args, shop_K, core_m(plan, standing), standing)
    wants_K = warm_enough_K(result)
    more = [] if wants_K is None or shop_K >= wants_K else [f"◆ The plan wants {temperature(wants_K)}: warm to that."]

    def text(_width: int) -> Iterator[str]:
        yield f"{plan.title}: from {temperature(cold_K)} to {temperature(shop_K)}"
        yield from filter(None, [planner.as_set])
        yield from (*more, *_lines(rows, bath_K), *_wood_lines(wood), *(_heat_lines(heat, shop_K) if heat else ()))
        yield from ("", *panel_lines(WARMING_CAUTIONS))

    assumed += [*planner.lessons.loss_words(planner.plan or plan), *assumed_words(plan, standing)]
    data = _data(rows, heat, bath_K) | {"wood": wood, "wants_K": wants_K}
    return answer(args.json, data, text, assumptions=assumed, code=1 if fails else 0)


def _heat(
    args: argparse.Namespace,
    rows: tuple[Warming, ...],
    cold_K: float,
    shop_K: float,
    sheet: Datasheet,
    assumed: list[str],
) -> Heat:
    """Return what a heater has to do for the room of the words."""
    room = _room(args, assumed)
    outside_K = cold_K
    if args.outside is None:
        assumed.append(f"{temperature(cold_K)} around the room, as no --outside was given")
    else:
        outside_K = temperature_K(args.outside, assumed, where="--outside", within_C=SHOP_C)
    needs_W = heater_W(room, inside_K=shop_K, outside_K=outside_K)
    has_W = quantity(args.heater, "power", assumed, where="--heater") if args.heater else None
    air_J_K = AIR_J_m3_K * room.length_m * room.width_m * room.height_m
    stored_J_K = air_J_K + sum(row.stored_J_K for row in rows)
    lasts_s = quantity(args.lasts, "time", assumed, where="--for")
    least_K = least_warmth(sheet)[0]
    mould = next(row.body for row in rows if row.body.name == "mould")
    cold_s = inf if outside_K >= least_K else 0.0
    if shop_K > least_K > outside_K:
        cold_s = follow_time_s(mould, from_K=shop_K, to_K=outside_K, within_K=least_K - outside_K)
    hours_s = [3600.0 * hours for hours in HOURS]
    assumed.append("bench, walls and floor store no heat here: the room takes longer to warm than this")
    assumed.append("a heater that trips: the air is cold at once, and the part lies where the mould is slowest")
    return Heat(
        room=room,
        outside_K=outside_K,
        needs_W=needs_W,
        has_W=has_W,
        holds_K=held_K(room, power_W=has_W, outside_K=outside_K) if has_W else None,
        warms_s=warms_in_s(room, power_W=has_W, from_K=cold_K, to_K=shop_K, outside_K=outside_K, stored_J_K=stored_J_K)
        if has_W
        else None,
        lasts_s=lasts_s,
        energy_J=needs_W * lasts_s + stored_J_K * max(shop_K - cold_K, 0.0),
        trips=tuple(
            (time_s, outside_K + (shop_K - outside_K) * left_at_the_slowest(mould, time_s)) for time_s in hours_s
        ),
        cold_s=cold_s,
        least_K=least_K,
    )


def _room(args: argparse.Namespace, assumed: list[str]) -> Room:
    sides = [side.strip() for side in args.room.replace("×", "x").split(" x ")]
    if len(sides) != 3:
        raise InputError("--room", "is no size of a room", value=args.room, allowed=ROOM)
    long_m, wide_m, high_m = (quantity(side, "length", assumed, where="--room") for side in sides)
    resistance = WALLS[args.walls]
    if args.insulation:
        resistance += quantity(args.insulation, "length", assumed, where="--insulation") / FOAM_W_m_K
    return Room(long_m, wide_m, high_m, resistance, args.air_changes, args.indoors)


def _wood(args: argparse.Namespace, shop_K: float, thick_m: float, standing: Stored) -> dict[str, float] | None:
    """Return what a core of wood comes to in the air of the words, and in how long; None where they say nothing."""
    if args.humidity is None or standing.core_of_foam:
        return None
    low_s, high_s = wood_follows_s(thick_m)
    moisture = wood_moisture(shop_K, parse(args.humidity, "fraction", where="--humidity"))
    return {"moisture": moisture, "follows_low_min": low_s / 60.0, "follows_high_min": high_s / 60.0}


def _wood_lines(wood: dict[str, float] | None) -> list[str]:
    if wood is None:
        return []
    moisture = wood["moisture"]
    days = f"{wood['follows_low_min'] / 1440.0:.0f} to {wood['follows_high_min'] / 1440.0:.0f} days"
    words = "it foams urethane" if moisture > DRY_WOOD else "fine for epoxy and urethane"
    if moisture > WOOD_USUAL[1]:
        words = "too wet to bond well, and it foams urethane"
    return ["", f"Core in this air: {100 * moisture:.0f} % water after {days}: {words}."]


def _data(rows: tuple[Warming, ...], heat: Heat | None, bath_K: float) -> dict[str, object]:
    data: dict[str, object] = {
        "bodies": [
            {
                **facts(row.body, "name shape half_thickness_m radius_m"),
                "half_height_m": None if row.body.height_m is None else 0.5 * row.body.height_m,
                "conductivity_W_mK": row.body.conductivity_W_m_K,
                "diffusivity_m2_s": row.body.diffusivity_m2_s,
                "h_W_m2K": row.body.h_W_m2_K,
                "biot": row.body.biot,
                "layers": [
                    {
                        "thickness_m": layer.thickness_m,
                        "conductivity_W_mK": layer.conductivity_W_m_K,
                        "diffusivity_m2_s": layer.conductivity_W_m_K
                        / (1e6 * layer.density_g_cm3 * layer.specific_heat_J_g_K),
                    }
                    for layer in row.body.layers
                ]
                if row.body.shape == "layers"
                else None,
                **facts(row, "from_K to_K time_s fan_s bath_s stored_J_K"),
            }
            for row in rows
        ],
        "bath_K": bath_K,
        "warm_after_min": max((row.time_s for row in rows), default=0.0) / 60.0,
        "cautions": WARMING_CAUTIONS,
    }
    if heat is not None:
        data["heater"] = {
            "loss_W_K": heat.room.loss_W_K,
            "outside_K": heat.outside_K,
            "power_W": heat.needs_W,
            "heater_W": heat.has_W,
            "holds_K": heat.holds_K,
            "warm_after_min": in_min(heat.warms_s),
            "for_min": heat.lasts_s / 60.0,
            "energy_kWh": heat.energy_J / 3.6e6,
            "trips": [{"after_min": time_s / 60.0, "part_K": kelvin} for time_s, kelvin in heat.trips],
            "minimum_K": heat.least_K,
            "too_cold_after_min": heat.cold_s / 60.0,
        }
    return data


def _lines(rows: tuple[Warming, ...], bath_K: float) -> list[str]:
    """Return the table of things, the slowest first, and by when the warming has to begin."""
    shown = [
        (
            row.body.name,
            _size(row),
            minutes(row.time_s),
            minutes(row.fan_s),
            "" if row.bath_s is None else minutes(row.bath_s),
        )
        for row in rows
    ]
    heads = ("", "", "still air", "fan", f"bath {temperature(bath_K)}")
    lines = table_lines(heads, shown, left="ll", indent=2)
    slowest = rows[0]
    if slowest.time_s > 0.0:
        lines += ["", f"Begin warming {minutes(slowest.time_s)} before the first batch: {slowest.body.name}."]
        bath = [row for row in rows if row.bath_s is not None]
        if bath:
            lines.append("Cans from the bath: wipe dry, stir, then weigh.")
    else:
        lines += ["", "All of it is warm enough now."]
    return lines


def _size(row: Warming) -> str:
    body = row.body
    if body.shape == "can":
        return load(row.stored_J_K / EPOXY_J_g_K, ".1f")
    if body.shape == "cylinder":
        return f"⌀ {length(2.0 * (body.radius_m or 0.0))}"
    return " + ".join(length(layer.thickness_m) for layer in body.layers)


def _heat_lines(heat: Heat, shop_K: float) -> list[str]:
    lines = ["", f"Heater: {power(heat.needs_W)} hold {temperature(shop_K)} with {temperature(heat.outside_K)} around."]
    lines.append(f"  {energy(heat.energy_J)} in {in_hours(heat.lasts_s)}")
    if heat.has_W is not None and heat.holds_K is not None and heat.warms_s is not None:
        if heat.holds_K < shop_K:
            lines.append(f"  ✗ yours, {power(heat.has_W)}, holds {temperature(heat.holds_K)} at most")
        else:
            gets_there = f"gets there in {minutes(heat.warms_s)}" if isfinite(heat.warms_s) else "only just"
            lines.append(f"  ● yours, {power(heat.has_W)}, holds it, {gets_there}")
    after = ", ".join(f"{in_hours(time_s)} {temperature(kelvin)}" for time_s, kelvin in heat.trips)
    lines.append(f"  if it trips: {after}")
    if isfinite(heat.cold_s):
        lines.append(f"  below {temperature(heat.least_K)}, the resin's least, after {minutes(heat.cold_s)}")
    return lines
