"""Estimate the time to thickening and to gel for this mass, vessel and temperature, with its 80 % band."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from math import ceil, log

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet, ViscosityPoint
from layup.chemistry.film import film_life_s
from layup.chemistry.life_band import FilmFlow, LifeBand, Standing, film_flow, left_standing, left_words, predict_band
from layup.chemistry.prediction import HOT_K, Vessel
from layup.chemistry.uncertainty import Band
from layup.chemistry.viscosity import WET_OUT_LIMIT_PA_S, Squeeze, viscosity_Pa_s
from layup.commands.command import answer, facts, quantity, takes, temperature_K
from layup.errors import InputError, LayupError
from layup.files.workshop import Workshop
from layup.planning.clocks import empty_by_s
from layup.report.bars import table_lines
from layup.report.pictures import LifeGrid, course_picture, life_table
from layup.units import in_minutes, in_seconds, length, mass, temperature, viscosity

EXAMPLE = 'layup potlife slow-laminating --mass "250 g" --temp "20 degC"'
SHORT_MIN = 3.0
"""A time shorter than this is told in seconds."""
USUAL_PRESS = Squeeze(pressure_Pa=100_000.0, path_m=0.05)
"""A ski under one atmosphere, 100 mm wide: as in `layup plan` where nothing else is stated (common practice)."""
PRESS_WORDS = "squeezed out: as under a press of 100 kPa, 50 mm from the edge (common practice, no source)"
TOO_THICK = "too thick to wet out well: warm it"
WIDEST_PLOT = 72
OTHER_MASSES = 1.5
"""From this many times the datasheet's cup, or that part of it, both are shown: mass moves less than people expect."""
MASS_WORDS = "how mass moves a pot life was never compared with a real resin: log a trial cup of yours (`layup trial`)"
FILM_G = 100.0
"""Any mass does for a film: it lives as long as its temperature lets it."""
ESTIMATE = "an estimate from the datasheet, not a promise: watch the cup, and believe the stick before the clock"


@dataclass(frozen=True, slots=True)
class LifeQuestion:
    """What is asked: a resin, a vessel, grams and temperatures."""

    sheet: Datasheet
    calibration: Calibration
    vessel: Vessel
    mass_g: float
    start_K: float
    shop_K: float

    def band(self) -> LifeBand:
        return predict_band(
            self.calibration, self.vessel, mass_g=self.mass_g, start_K=self.start_K, ambient=self.shop_K
        )


add_arguments = takes("""
RESIN
--mass MASS  mixed in one vessel: "250 g" (a film needs none)
--temp TEMPERATURE!  of resin and hardener: "20 degC"
--shop-temp TEMPERATURE  of the shop, or of the part under a film: "12 degC" (default: --temp)
--vessel cup|tray|film  what the mix stands in (default: cup, or tray where a depth is given)
--depth DEPTH  how deep the mix stands: "10 mm" (a tray needs it, nothing else takes it)
--table  also for other temperatures and masses
--plot  also draw temperature and conversion against time
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with thickening, gel, heat and band."""
    assumed: list[str] = []
    case = _case(args, assumed)
    band = case.band()
    found = _found(case, band)
    data = _data(case, band, found)
    table = life_table(case.calibration, case.vessel, case.mass_g, case.shop_K) if args.table else None
    if table:
        data["table"] = asdict(table)

    def text(width: int) -> Iterator[str]:
        yield from _lines(case, band, found)
        if args.plot:
            told = case.calibration, case.vessel, case.mass_g, case.start_K, case.shop_K
            yield from ("", *course_picture(*told, width=min(width, WIDEST_PLOT)))
        yield from ("", *_table_lines(table)) if table else ()

    return answer(
        args.json,
        data,
        text,
        assumptions=[
            *assumed,
            *case.calibration.assumptions,
            *([PRESS_WORDS] if found.flow else []),
            *([MASS_WORDS] if _stated_g(case) else []),
            ESTIMATE,
        ],
    )


def _case(args: argparse.Namespace, assumed: list[str]) -> LifeQuestion:
    workshop = Workshop(args.workshop)
    sheet = workshop.resin(args.resin)
    kind = args.vessel or ("cup" if args.depth is None else "tray")
    if kind == "tray" and args.depth is None:
        raise InputError("layup potlife", "a tray needs the depth of the mix in it", todo='add --depth "10 mm"')
    if kind != "tray" and args.depth is not None:
        raise InputError("layup potlife", f"a {kind} takes no depth", todo="leave --depth out, or add --vessel tray")
    if kind != "film" and args.mass is None:
        raise InputError("layup potlife", f"a {kind} needs the mass in it", todo='add --mass "250 g"')

    def warmth(text: str, where: str) -> float:
        return temperature_K(text, assumed, where=where, within_C=(-20.0, 120.0))

    start_K = warmth(args.temp, "temperature")
    vessel = {"cup": Vessel.cup, "film": Vessel.film}.get(kind, Vessel.cup)()
    if kind == "tray":
        vessel = Vessel.tray(quantity(args.depth, "length", assumed, where="depth"))
    return LifeQuestion(
        sheet=sheet,
        calibration=workshop.calibration(sheet),
        vessel=vessel,
        mass_g=FILM_G if args.mass is None else quantity(args.mass, "mass", assumed, where="mass"),
        start_K=start_K,
        shop_K=start_K if args.shop_temp is None else warmth(args.shop_temp, "shop temperature"),
    )


@dataclass(frozen=True, slots=True)
class PotLifeAnswer:
    """The answer in minutes: the useful life where the mix is, with its 80 % band."""

    life_min: Band
    gel_min: Band
    thick_to_gel_min: float
    empty_by_min: float | None
    """By when plans and clocks want a cup or a tray empty; None of a film."""
    standing: Standing
    film_open_min: float
    viscosity_Pa_s: float | None
    flow: FilmFlow | None
    """As a film at the shop's temperature; None where its viscosity there is not known."""


def _found(case: LifeQuestion, band: LifeBand) -> PotLifeAnswer:
    """Return the useful life: how long a film stays open; in a cup or a tray, until it thickens."""
    life = band.life
    ends_s = band.working_s if band.open_s is None else band.open_s
    kinetics = case.calibration.kinetics
    part_Pa_s = _viscosity(case.sheet.viscosities, case.shop_K)
    by_s = ends_s.low if life.open_s is not None else empty_by_s(ends_s.low, band.heat_class_high)
    return PotLifeAnswer(
        life_min=ends_s.times(1 / 60),
        gel_min=band.gel_s.times(1 / 60),
        thick_to_gel_min=(life.gel_s - life.working_s) / 60,
        empty_by_min=None if life.open_s is not None else by_s / 60,
        standing=left_standing(
            kinetics, case.vessel, band, mass_g=case.mass_g, start_K=case.start_K, ambient=case.shop_K, deadline_s=by_s
        ),
        film_open_min=film_life_s(kinetics, case.shop_K) / 60,
        viscosity_Pa_s=_viscosity(case.sheet.viscosities, case.start_K),
        flow=None if part_Pa_s is None else film_flow(case.calibration, USUAL_PRESS, part_Pa_s, case.shop_K),
    )


def until_data(name: str, until: Band | None, *, missing: float | None = None) -> dict[str, float | None]:
    """Return a limit of flow as JSON keys in minutes; `missing` where there is none."""
    low_s, likely_s, high_s = until or (None, None, None)
    sides = ((f"{name}_low_min", low_s), (f"{name}_min", likely_s), (f"{name}_high_min", high_s))
    return {key: missing if time_s is None else time_s / 60 for key, time_s in sides}


def _viscosity(points: tuple[ViscosityPoint, ...], temperature_K: float) -> float | None:
    """Return the viscosity, or None where the datasheet's points do not reach."""
    try:
        return viscosity_Pa_s(points, temperature_K) if points else None
    except LayupError:
        return None


def _data(case: LifeQuestion, band: LifeBand, found: PotLifeAnswer) -> dict[str, object]:
    is_film = case.vessel.kind == "film"
    wets, leaves = (found.flow.wets, found.flow.leaves) if found.flow else (None, None)
    missing = None if found.flow is None else 0.0
    heat = [] if band.heat_class_high == "warm" else [_heat(band, found.standing)]
    return {
        "resin": case.sheet.id,
        "vessel": case.vessel.kind,
        "mass_g": None if is_film else case.mass_g,
        "depth_m": case.vessel.depth_m,
        "temperature_K": case.start_K,
        "shop_temperature_K": case.shop_K,
        "pot_life_min": found.life_min.likely,
        "low": found.life_min.low,
        "high": found.life_min.high,
        "gel_min": found.gel_min.likely,
        "gel_low_min": found.gel_min.low,
        "gel_high_min": found.gel_min.high,
        **facts(found, "thick_to_gel_min empty_by_min film_open_min"),
        "heat_class": band.life.heat_class,
        "heat_class_high": band.heat_class_high,
        "peak_bound_K": band.life.bound_K,
        "peak_K": found.standing.peak_K,
        "empty_by_K": None if is_film else found.standing.deadline_K,
        **facts(found.standing, "stringy_s smokes"),
        "viscosity_Pa_s": found.viscosity_Pa_s,
        **until_data("wets_out_until", wets, missing=missing),
        **until_data("squeezes_out_until", leaves, missing=missing),
        "warnings": [*heat, *case.calibration.warnings, *band.warnings],
    }


def _lines(case: LifeQuestion, band: LifeBand, found: PotLifeAnswer) -> list[str]:
    what = {"cup": f"{mass(case.mass_g, 'g')} in a cup", "film": "a film on the part"}.get(case.vessel.kind)
    what = what or f"{mass(case.mass_g, 'g')} in a tray, {length(case.vessel.depth_m or 0, 'g')} deep"
    warmth = f"{temperature(case.start_K)}"
    if case.shop_K != case.start_K:
        warmth += f", shop at {temperature(case.shop_K)}"
    ends = "stays open for" if case.vessel.kind == "film" else "thickens after"
    lines = [
        f"{case.sheet.title}: {what}, {warmth}",
        f"  {ends}  {_row(found.life_min)}",
        f"  gels after      {_row(found.gel_min)}",
    ]
    if found.empty_by_min is not None:
        by, unit = (60.0, "s  ") if found.life_min.high < SHORT_MIN else (1.0, "min")
        warm = f"its mix is then near {temperature(found.standing.deadline_K)}"
        lines += _in_the_sheets_cup(case)
        lines.append(f"  have it empty by{by * found.empty_by_min:5.0f} {unit}   ({warm})")
        lines += [*_signs(found), f"  {_heat(band, found.standing)}", _as_film(case, found)]
    lines += _thickness(case, found)
    if found.flow and found.flow.wets:
        until = f"until {in_minutes(found.flow.wets.likely)}"
        lines.append(f"  wets cloth on the part at {temperature(case.shop_K)} {until} (an estimate)")
    leaves = found.flow.leaves if found.flow else None
    if leaves and leaves.likely / 60 < found.film_open_min:
        lines.append(f"  squeezes out    {_row(leaves.times(1 / 60))}: close a press before that")
    return [*lines, *(f"! {warning}" for warning in (*case.calibration.warnings, *band.warnings))]


def _stated_g(case: LifeQuestion) -> float | None:
    """Return the nearest mass that the datasheet states for a cup, where the cup asked about holds another."""
    stated = [point.mass_g for point in case.sheet.pot_lives if not point.film and point.depth_m is None]
    if case.vessel.kind != "cup" or not stated:
        return None
    nearest_g = min(stated, key=lambda stated_g: abs(log(stated_g / case.mass_g)))
    other = abs(log(nearest_g / case.mass_g)) >= log(OTHER_MASSES)
    return nearest_g if other else None


def _in_the_sheets_cup(case: LifeQuestion) -> list[str]:
    """Say how long the datasheet's own mass would live here, and how hot it would get."""
    stated_g = _stated_g(case)
    if stated_g is None:
        return []
    cup = replace(case, mass_g=stated_g)
    found = _found(cup, cup.band())
    stands = f"left standing, {temperature(found.standing.peak_K)}"
    return [f"  sheet's {mass(stated_g, 'g')}".ljust(18) + f"{_row(found.life_min)}, here; {stands}"]


def _thickness(case: LifeQuestion, found: PotLifeAnswer) -> list[str]:
    """Say how thick the mix is; colder than its datasheet reaches it is thicker than the coldest value stated."""
    here = f"  viscosity at {temperature(case.start_K)}: "
    if found.viscosity_Pa_s is not None:
        thick = found.viscosity_Pa_s > WET_OUT_LIMIT_PA_S
        return [f"{here}{viscosity(found.viscosity_Pa_s)}, {TOO_THICK if thick else 'wets out'}"]
    coldest = min(case.sheet.viscosities, key=lambda point: point.temperature_K, default=None)
    if coldest is None or case.start_K > coldest.temperature_K:
        return []
    above = f"above the {viscosity(coldest.viscosity_Pa_s)} of {temperature(coldest.temperature_K)}"
    thick = coldest.viscosity_Pa_s > WET_OUT_LIMIT_PA_S
    return [f"{here}not stated, {above}" + (f", {TOO_THICK}" if thick else "")]


def _row(time_min: Band) -> str:
    """Return a time with its band, in seconds where minutes would say nothing."""
    by, unit = (60.0, "s  ") if time_min.high < SHORT_MIN else (1.0, "min")
    return f"{by * time_min.likely:5.0f} {unit}   (80 %: {by * time_min.low:.0f} to {by * time_min.high:.0f})"


def _signs(found: PotLifeAnswer) -> list[str]:
    """Say what is seen before it sets, or that nothing is."""
    if found.standing.stringy_s is None:
        return [
            f"  no stringy stage in here: thick turns solid within {_span(found.thick_to_gel_min)}; go by the clock"
        ]
    return [f"  stringy from    {in_minutes(found.standing.stringy_s):>9}   (threads from the stick: last call)"]


def _heat(band: LifeBand, standing: Standing) -> str:
    """Say how hot it gets at most if it is left standing, and what happens then."""
    likely, bound = temperature(standing.peak_K), f"{temperature(standing.bound_K)} at most, hotter inside"
    words = left_words(standing.peak_K, band.heat_class_high)
    if standing.smokes:
        return f"if left standing: RUNAWAY near {likely} ({bound}): {words}; carry it outside in time"
    if standing.peak_K >= HOT_K:
        return f"if left standing: near {likely} ({bound}): {words}; spread it out, or carry it outside in time"
    stays = f"if left standing: likely stays below {temperature(HOT_K)}"
    return f"{stays}, but one in ten {words} ({bound}): spread it out in time" if words else stays


def _as_film(case: LifeQuestion, found: PotLifeAnswer) -> str:
    """Say how long it lasts once it is poured out."""
    film = (in_seconds if found.film_open_min < SHORT_MIN else in_minutes)(60.0 * found.film_open_min)
    escapes = (
        "the heat escapes" if found.film_open_min > found.life_min.likely else "it takes the part's temperature at once"
    )
    return f"  As a film at {temperature(case.shop_K)} {escapes}: poured out fresh, it stays open {film}."


def _span(minutes: float) -> str:
    """Return a short time in whole minutes, upwards: no more is known of it."""
    count = max(1, ceil(minutes))
    return "a minute" if count == 1 else f"{count} minutes"


def _table_lines(table: LifeGrid) -> list[str]:
    head = "minutes to thickening" if table.masses_g else "minutes it stays open"
    rows = [
        (temperature(kelvin), *("-" if minutes is None else f"{minutes:.0f}" for minutes in row))
        for kelvin, row in zip(table.temperatures_K, table.pot_life_min, strict=True)
    ]
    return table_lines((head, *(mass(round(mass_g, 1), "g") for mass_g in table.masses_g)), rows)
