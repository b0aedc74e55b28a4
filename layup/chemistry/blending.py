"""Two hardeners of one resin, half and half, where their maker lets them blend: a datasheet worked out from both.

Equivalents, volumes and groups add up, so ratio, density and gel follow. How fast a blend is does not follow from them:
two amines compete for the same epoxide. Its times are the geometric mean of both sheets', and its 80 % band reaches at
least from the one to the other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import inf, isfinite, log, sqrt

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import Component, CurePoint, Datasheet, MakersClock, ViscosityPoint
from layup.chemistry.film import film_life_s
from layup.chemistry.mixing import blend_equivalent_weight, parts_by_mass
from layup.chemistry.statements import pot_life_s
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.chemistry.viscosity import known_Pa_s
from layup.errors import LayupError, RangeError

AND = "+"
"""What joins two ids to a blend's."""


def why_no_blend(one: Datasheet, other: Datasheet) -> str:
    """Say why the hardeners of two sheets are not for one resin; empty where they are. As a predicate of the other."""
    if one.id == other.id:
        return "is this very resin"
    if one.chemistry != other.chemistry:
        return f"is another chemistry ({other.chemistry})"
    if (one.resin.name, one.resin.equivalent_weight_g_eq) != (other.resin.name, other.resin.equivalent_weight_g_eq):
        return f"has another resin ({other.resin.name})"
    return ""


@lru_cache(maxsize=32)
def blend(one: Datasheet, other: Datasheet) -> Datasheet:
    """Work out the datasheet of equal masses of two hardeners with their common resin.

    A gram of hardener takes the mean of the resin that both take: by equivalents the same as E = sum(m)/sum(m/e). Its
    groups a molecule are the mean over the groups, as gelation counts them (W. H. Stockmayer, J. Chem. Phys. 11 (1943)
    45, from memory). Viscosities are the geometric mean (S. Arrhenius's rule of mixtures, from memory). What is asked
    for safety or for the cure is the stricter of both.
    """
    if why := why_no_blend(one, other):
        raise RangeError("blend", why, value=other.id, allowed="two hardeners of one resin")
    laws = calibrate(one).kinetics, calibrate(other).kinetics
    apart: list[float] = []

    def between(stated_s: float, others_s: float) -> float:
        apart.append(abs(log(stated_s / others_s)))
        return sqrt(stated_s * others_s)

    pot_lives = tuple(
        replace(point, time_s=between(point.time_s, others_s))
        for point in one.pot_lives
        if isfinite(others_s := pot_life_s(laws[1], point))
    )
    films = tuple(
        replace(film, time_s=between(film.time_s, film_life_s(laws[1], film.temperature_K)))
        for film in one.films
        if film.endpoint == "open" and other.films
    )
    signals = one.signal_word, other.signal_word
    takes_g = [resin / hardener for resin, hardener in (parts_by_mass(one), parts_by_mass(other))]
    return Datasheet(
        id=f"{one.id}{AND}{other.id}",
        title=f"{one.title.partition(' (')[0]} + {other.title.partition(' (')[0]}, half each",
        chemistry=one.chemistry,
        resin=one.resin,
        hardener=_blended(one.hardener, other.hardener),
        ratio=(100.0, 200.0 / sum(takes_g)),
        ratio_by="weight",
        pot_lives=pot_lives,
        films=films,
        viscosities=_viscosities(one, other),
        minimum_temperature_K=_stricter(max, one.minimum_temperature_K, other.minimum_temperature_K),
        demould=_later(one.demould, other.demould, laws[1].activation_energy_J_mol),
        post_cure=(),  # a blend has none that a maker states
        glass_transition_K=_stricter(min, one.glass_transition_K, other.glass_transition_K),
        signal_word="Danger" if "Danger" in signals else signals[0] or signals[1],
        cautions=tuple(dict.fromkeys((*one.cautions, *other.cautions))),
        source=f"Worked out from {one.title} and {other.title}, whose maker lets their hardeners blend.",
        price_per_kg=None if one.price_per_kg is None or other.price_per_kg is None else
        (one.price_per_kg + other.price_per_kg) / 2.0,
        is_demo=one.is_demo or other.is_demo,
        blends_with=(),
        blend_log=max(apart) / 2.0 / EIGHTY_PERCENT,
    )  # fmt: skip


def with_blends(sheets: Mapping[str, Datasheet]) -> dict[str, Datasheet]:
    """Return a workshop's resins, and a datasheet for each pair of hardeners that a sheet says may be blended.

    By their ids, each pair once after the resins; a pair that does not go together is left out.

    Parameters
    ----------
    sheets : The resins of a workshop, by their ids [-]
    """
    found = dict(sheets)
    pairs = {tuple(sorted((one.id, name))) for one in sheets.values() for name in one.blends_with if name in sheets}
    for one, other in sorted(pairs):
        try:
            sheet = blend(sheets[one], sheets[other])
        except LayupError:  # its file's own problems are told by 'layup check'
            continue
        found[sheet.id] = sheet
    return found


def _blended(one: Component, other: Component) -> Component:
    """Return equal masses of two hardeners as one."""
    density = equivalent = groups = None
    if one.density_g_cm3 and other.density_g_cm3:
        density = 2.0 / (1.0 / one.density_g_cm3 + 1.0 / other.density_g_cm3)
    if one.equivalent_weight_g_eq and other.equivalent_weight_g_eq:
        both = (one.equivalent_weight_g_eq, other.equivalent_weight_g_eq)
        equivalent = blend_equivalent_weight((1.0, 1.0), both)
        if one.functionality and other.functionality:
            shares = [1.0 / weight for weight in both]
            groups = (shares[0] * one.functionality + shares[1] * other.functionality) / sum(shares)
    name = f"{one.name} + {other.name}, half each"
    return Component(name=name, density_g_cm3=density, equivalent_weight_g_eq=equivalent, functionality=groups)


def _stricter(strict: Callable[[Sequence[float]], float], *stated: float | None) -> float | None:
    """Return the stricter of what both state; what one alone states holds for both."""
    return strict([value for value in stated if value is not None]) if any(stated) else None


def _viscosities(one: Datasheet, other: Datasheet) -> tuple[ViscosityPoint, ...]:
    """Return the mix's viscosities where the other's is known too."""
    others_Pa_s = [known_Pa_s(other.viscosities, point.temperature_K) for point in one.viscosities]
    return tuple(
        replace(point, viscosity_Pa_s=sqrt(point.viscosity_Pa_s * other_Pa_s))
        for point, other_Pa_s in zip(one.viscosities, others_Pa_s, strict=True)
        if other_Pa_s is not None
    )


def _later(one: tuple[CurePoint, ...], other: tuple[CurePoint, ...], energy_J_mol: float) -> tuple[CurePoint, ...]:
    """Return the demoulding times of the slower at each of the first's temperatures; none where either states none."""
    clock = MakersClock(other, energy_J_mol)
    rates = [clock.rate_per_s(point.temperature_K) for point in one]
    slower = ((point, 1.0 / rate if rate else inf) for point, rate in zip(one, rates, strict=True))
    return tuple(replace(point, time_s=max(point.time_s, other_s)) for point, other_s in slower if isfinite(other_s))
