"""Read resins/NAME.toml: what a datasheet states, nothing derived.

Numbers that no datasheet has, or that do not go together, are a warning, and the file stays usable; the limits are
common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from itertools import pairwise
from math import log
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationError

from layup.chemistry.datasheet import (
    Chemistry,
    Component,
    CupEndpoint,
    CurePoint,
    Datasheet,
    FilmEndpoint,
    FilmPoint,
    PotLifePoint,
    ViscosityPoint,
)
from layup.chemistry.mixing import parts_by_mass, stoichiometry_warning
from layup.chemistry.viscosity import viscosity_Pa_s
from layup.errors import InputError, LayupError, Problem
from layup.files.durable import RESIN_COPY
from layup.files.fields import (
    CoreTable,
    Date,
    Density,
    EquivalentWeight,
    FileModel,
    Flag,
    Functionality,
    Length,
    Mass,
    Note,
    OvenTemperature,
    Part,
    Price,
    ShopTemperature,
    Time,
    Title,
    Viscosity,
    items,
    needed,
    optional,
    printable,
)
from layup.files.toml import Document, KeyPath, problem_at, problem_from, problems_from, read_toml, understood
from layup.units import in_hours, in_minutes, mass, temperature, temperature_change

# -- chemistries that no law here knows -------------------------------------------------------------------------------

RADICAL = re.compile(r"(poly[- ]?ester|vinyl[- ]?ester|\bmekp\b|peroxide)", re.IGNORECASE)
BY_RADICALS = "a resin that sets by radicals, not by its mixing ratio: an epoxy's law would tell you wrong times"
NOT_HERE = "use its maker's own times for your catalyst and temperature; layup plans epoxy and urethane"


def _no_radicals(given: object) -> object:
    """Refuse polyester and vinyl ester as a chemistry by a sentence of their own: no spelling of them is near one."""
    if isinstance(given, str) and RADICAL.search(given):
        raise InputError("chemistry", f"is {BY_RADICALS}", value=printable(given), allowed=NOT_HERE)
    return given


def _radicals(document: Document, sheet: Datasheet) -> Iterator[Problem]:
    """Refuse a resin whose names say that it is a polyester or vinyl ester; a urethane's polyol may be a polyester."""
    if sheet.chemistry == "urethane":
        return
    names = {("title",): sheet.title, ("resin", "name"): sheet.resin.name, ("hardener", "name"): sheet.hardener.name}
    for path, name in names.items():
        found = RADICAL.search(name)
        if found:
            yield problem_at(document, path, f"says {found[1].lower()}: {BY_RADICALS}", NOT_HERE)
            return


ISOCYANATE = re.compile(r"isocyanate|\bnco\b|\bp?mdi\b|\b(?:t|h|ip)di\b", re.IGNORECASE)


def _swapped(document: Document, sheet: Datasheet) -> Iterator[Problem]:
    """Refuse a urethane whose isocyanate stands as the resin: its index and its pot would be upside down."""
    if sheet.chemistry == "urethane" and ISOCYANATE.search(sheet.resin.name):
        hint = "write the isocyanate as [hardener] and the polyol as [resin], whatever the cans call A and B"
        yield problem_at(document, ("resin", "name"), "is an isocyanate", hint)


# -- oddities --------------------------------------------------------------------------------------------------------

STATED_AT_K = (278.15, 333.15)
"""Pot lives, film times and viscosities of a laminating resin are stated at 5 to 60 degC."""
STEEPEST_K = 20_000.0
"""B of ln(viscosity) = A + B/T; laminating mixes have 5000 to 12000. This one is three times thinner within 5 K."""
CHECK = "check the number and its unit"
USUAL_PARTS = (10.0, 110.0)
"""Hardener to 100 of resin by weight, of an epoxy and its amines."""
COLDEST_CURE_K = (273.15, 313.15)
"""What datasheets of shop resins state as the coldest cure: 0 to 40 degC."""
USUAL_POT_LIFE_S = {"epoxy-amine": (8.0 * 60.0, 8.0 * 3600.0)}
"""Of a laminating epoxy; any other is not asked about from a minute to twelve hours."""
NO_SOURCE = "(common practice, no source)"


def implausible(document: Document, sheet: Datasheet) -> Iterator[Problem]:
    """Yield a warning for each number of a datasheet that is hardly meant."""
    for path, words in (*_mixing(sheet), *_temperatures(sheet), *_viscosities(sheet), *_cure(sheet)):
        yield problem_at(document, path, words, CHECK, warning=True)


def _odd_ratio(resin: float, hardener: float) -> Iterator[tuple[KeyPath, str]]:
    """Yield what is odd with the parts by weight of an epoxy."""
    low, high = USUAL_PARTS
    if not low <= (parts := 100.0 * hardener / resin) <= high:
        usual = f"epoxies mix from 100:{low:g} to 100:{high:g} by weight {NO_SOURCE}"
        yield ("ratio", "hardener"), f"unusual, 100:{parts:.3g}: {usual}"


def _ratio_so_far(document: Document) -> Iterator[Problem]:
    """Yield what is odd with the ratio of a file that cannot be used yet: by weight, until it says by volume."""
    stated = document.data.get("ratio")
    if document.data.get("chemistry") == "epoxy-amine" and isinstance(stated, dict):
        with suppress(ValidationError):
            ratio = _RatioTable.model_validate({"by": "weight"} | stated)
            for path, words in _odd_ratio(ratio.resin, ratio.hardener) if ratio.by == "weight" else ():
                yield problem_at(document, path, words, CHECK, warning=True)


def _mixing(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    if sheet.chemistry == "epoxy-amine" and (sheet.ratio_by == "weight" or sheet.densities_g_cm3):
        yield from _odd_ratio(*parts_by_mass(sheet))
    shortest_s, longest_s = USUAL_POT_LIFE_S.get(sheet.chemistry, (60.0, 12.0 * 3600.0))
    for place, point in enumerate(sheet.pot_lives):
        if not shortest_s <= point.time_s <= longest_s:
            usual = f"pot lives are {in_minutes(shortest_s)} to {in_hours(longest_s)} {NO_SOURCE}"
            said = in_hours(point.time_s) if point.time_s > longest_s else in_minutes(point.time_s, ".2g")
            yield ("pot_life", place, "time"), f"{said}? unusual of {mass(point.mass_g, 'g')}: {usual}"


def _temperatures(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    low_K, high_K = STATED_AT_K
    stated_K = {
        "pot_life": [point.temperature_K for point in sheet.pot_lives],
        "film": [point.temperature_K for point in sheet.films],
        "viscosity": [point.temperature_K for point in sheet.viscosities],
    }
    for table, temperatures_K in stated_K.items():
        for place, temperature_K in enumerate(temperatures_K):
            if not low_K <= temperature_K <= high_K:
                usual = f"datasheets state this at {temperature(low_K)} to {temperature(high_K)}"
                yield (table, place, "temperature"), f"is {temperature(temperature_K)}, and {usual}"


def _viscosities(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    stated = sorted(enumerate(sheet.viscosities), key=lambda each: each[1].temperature_K)
    for (_, cold), (place, warm) in pairwise(stated):
        apart_K = warm.temperature_K - cold.temperature_K
        fall = log(cold.viscosity_Pa_s / warm.viscosity_Pa_s)
        if fall * cold.temperature_K * warm.temperature_K > STEEPEST_K * apart_K:
            thinner, colder = cold.viscosity_Pa_s / warm.viscosity_Pa_s, f"{temperature_change(apart_K, '.3g')} colder"
            words = f"is {thinner:.3g} times thinner than {colder}: no mix thins so fast as it warms"
            yield ("viscosity", place, "value"), words


def _cure(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    minimum_K = sheet.minimum_temperature_K
    low_K, high_K = COLDEST_CURE_K
    if minimum_K is not None and not low_K <= minimum_K <= high_K:
        usual = f"resins need {temperature(low_K)} to {temperature(high_K)} at least {NO_SOURCE}"
        yield ("cure", "minimum_temperature"), f"unusual, {temperature(minimum_K)}: {usual}"
    if not sheet.demould:
        return
    coldest_K = min(point.temperature_K for point in sheet.demould)
    if minimum_K is not None and minimum_K > coldest_K:
        words = (
            f"is {temperature(minimum_K)}, and a demoulding time is stated at {temperature(coldest_K)}, which is colder"
        )
        yield ("cure", "minimum_temperature"), words
    warmest_K = max((point.temperature_K for point in sheet.post_cure), default=coldest_K)
    if warmest_K < coldest_K:
        words = f"is at {temperature(warmest_K)} at most, colder than any demoulding time is stated for"
        yield ("cure", "post_cure"), words


# -- resin file ------------------------------------------------------------------------------------------------------

MOST_POINTS = 50
"""No datasheet states a time or a viscosity at more points."""


class _ComponentTable(CoreTable):
    name: Title = needed('"Resin A"', "its name on the can")
    density: Density | None = optional("needed for a ratio by volume, and for volumes")
    equivalent_weight: EquivalentWeight | None = optional(
        "g/eq: a resin's EEW or a polyol's, a hardener's AHEW or an isocyanate's; gives ratio and heat"
    )

    functionality: Functionality | None = optional(
        "groups a molecule: epoxides of a resin, 2 of a diepoxide; amine hydrogens of a hardener, 4 of a "
        "diamine; tells when it gels"
    )

    def core(self) -> Component:
        return Component(self.name, self.density, self.equivalent_weight, self.functionality)


class _RatioTable(FileModel):
    by: Literal["weight", "volume"] = needed('"weight"', "weight or volume")
    resin: Part = needed("100", "parts of resin, as 100")
    hardener: Part = needed("30", "parts of hardener to those")


class _PotLifeTable(CoreTable):
    time: Time = needed('"45 min"', "how long")
    mass: Mass = needed('"150 g"', "of how much mix: a pot life without its mass says little")
    temperature: ShopTemperature = needed('"25 degC"', "at which temperature")
    endpoint: CupEndpoint = needed(
        '"thickening"', "thickening (too thick to use), gel (no longer flows), viscosity doubled, or temperature"
    )
    vessel: Literal["cup", "tray"] = optional("a cup, or a tray spread to a depth", "cup")
    depth: Length | None = optional("depth of the mix in a tray")
    diameter: Length | None = optional("inner width of the cup, where it is stated: a wide one loses more heat")
    reaches: OvenTemperature | None = optional("the temperature of the mix that ends it, for the endpoint temperature")

    def core(self) -> PotLifePoint:
        """Return the point, once its sizes suit its vessel, and what ends it is whole."""
        if self.vessel == "tray" and self.depth is None:
            raise InputError("vessel", "is a tray without its depth", allowed='write depth = "10 mm"')
        if self.vessel == "cup" and self.depth is not None:
            raise InputError("depth", "is for a tray", allowed='write vessel = "tray", or leave the depth out')
        if self.vessel == "tray" and self.diameter is not None:
            raise InputError("diameter", "is a cup's", allowed='write vessel = "cup", or leave the diameter out')
        if self.endpoint == "temperature" and self.reaches is None:
            raise InputError("reaches", "is missing", allowed='write reaches = "50 degC", what ends it')
        if self.endpoint != "temperature" and self.reaches is not None:
            todo = 'leave it out, or write endpoint = "temperature"'
            raise InputError("reaches", "is only for an end by temperature", allowed=todo)
        return PotLifePoint(
            self.time, self.mass, self.temperature, self.endpoint, self.depth, self.diameter, self.reaches
        )


class _FilmTable(CoreTable):
    time: Time = needed('"45 min"', "how long")
    temperature: ShopTemperature = needed('"25 degC"', "at which temperature")
    endpoint: FilmEndpoint = needed('"open"', "open (no longer bonds), tack-free or gel")

    def core(self) -> FilmPoint:
        return FilmPoint(self.time, self.temperature, self.endpoint)


class _ViscosityTable(CoreTable):
    value: Viscosity = needed('"700 mPa*s"', "how thick")
    temperature: ShopTemperature = needed('"25 degC"', "at which temperature")

    def core(self) -> ViscosityPoint:
        return ViscosityPoint(self.value, self.temperature)


class _CureStep(CoreTable):
    time: Time = needed('"45 min"', "how long")
    temperature: OvenTemperature = needed('"25 degC"', "at which temperature")

    def core(self) -> CurePoint:
        return CurePoint(self.time, self.temperature)


class _CureTable(FileModel):
    minimum_temperature: ShopTemperature | None = optional("below this it does not cure properly")
    demould: tuple[_CureStep, ...] = optional("when a part may leave the mould, at one or more temperatures", ())
    post_cure: tuple[_CureStep, ...] = optional("the post-cure, step by step", ())
    glass_transition: OvenTemperature | None = optional("Tg of the full cure")


class _HazardsTable(FileModel):
    signal_word: Title = optional("Warning or Danger", "")
    cautions: tuple[Title, ...] = optional("what is shown before a press day and on mix sheets", ())


class _SourceTable(FileModel):
    document: Title = needed('"Technical data sheet"', "its title")
    revision: Title = optional("its revision", "")
    date: Date = optional("its date", "")
    note: Note = optional("anything worth knowing of it", "")
    demo: Flag = optional("true of what came with the program: no real plan is offered it", False)

    def words(self) -> str:
        revision = f"revision {self.revision}" if self.revision else ""
        stated = ", ".join(part for part in (self.document, revision, self.date) if part)
        return f"{stated}. {self.note}" if self.note else stated


class ResinFile(FileModel):
    """A resin file as people write it."""

    id: Title = needed('"slow-laminating"', "the file's name without .toml; plans name the resin by it")
    title: Title = needed('"Slow laminating epoxy"', "its name as people read it")
    chemistry: Annotated[Chemistry, BeforeValidator(_no_radicals)] = needed(
        '"epoxy-amine"', "epoxy-amine, urethane or other; polyester and vinyl ester are refused"
    )
    resin: _ComponentTable = Field(description="part A; of a urethane the polyol")
    hardener: _ComponentTable = Field(description="part B; of a urethane the isocyanate")
    ratio: _RatioTable = Field(description="the mixing ratio")
    pot_life: Annotated[tuple[_PotLifeTable, ...], items(MOST_POINTS, least=1)] = Field(
        description="the pot life as the datasheet has it; one more, at another temperature or mass, narrows the band"
    )
    film: Annotated[tuple[_FilmTable, ...], items(MOST_POINTS)] = optional(
        "how long a thin film lasts: the most useful second number", ()
    )
    viscosity: Annotated[tuple[_ViscosityTable, ...], items(MOST_POINTS)] = optional(
        "of the mix just mixed, at one or more temperatures: tells when it is too thick to wet out", ()
    )
    cure: _CureTable = optional("what the datasheet says of the cure", _CureTable())
    hazards: _HazardsTable = optional("from the safety data sheet", _HazardsTable())
    source: _SourceTable = Field(description="where the numbers are from")
    price_per_kg: Price | None = optional("of the mix, in your own money: for the cost of a plan")
    blends_with: Annotated[tuple[Title, ...], items(MOST_POINTS)] = optional(
        "ids of files of this resin whose hardener its maker lets you blend with this one", ()
    )

    def datasheet(self) -> Datasheet:
        """Return the same facts as plain data of the core."""
        return Datasheet(
            id=self.id,
            title=self.title,
            chemistry=self.chemistry,
            resin=self.resin.core(),
            hardener=self.hardener.core(),
            ratio=(self.ratio.resin, self.ratio.hardener),
            ratio_by=self.ratio.by,
            pot_lives=tuple(each.core() for each in self.pot_life),
            films=tuple(each.core() for each in self.film),
            viscosities=tuple(each.core() for each in self.viscosity),
            minimum_temperature_K=self.cure.minimum_temperature,
            demould=tuple(each.core() for each in self.cure.demould),
            post_cure=tuple(each.core() for each in self.cure.post_cure),
            glass_transition_K=self.cure.glass_transition,
            signal_word=self.hazards.signal_word,
            cautions=self.hazards.cautions,
            source=self.source.words(),
            price_per_kg=self.price_per_kg,
            is_demo=self.source.demo,
            blends_with=self.blends_with,
        )


def load_resin(path: Path) -> tuple[Datasheet | None, list[Problem]]:
    """Read a resin file: its datasheet and every problem found; the datasheet is None where one is an error.

    The id must equal the file's stem, except in a session's copy, resin.toml. Raises StorageError where the file
    cannot be read.
    """
    return understood(path, _judged)


def check_resin(path: Path) -> list[Problem]:
    """Return every problem of a resin file, those that only the pot-life model can see included."""
    document = read_toml(path)
    return [document] if isinstance(document, Problem) else check_document(document, path)[1]


def check_document(document: Document, path: Path) -> tuple[Datasheet | None, list[Problem]]:
    """Return what the text of a resin file says, and every problem of it, as if it stood at `path`."""
    sheet, problems = _judged(document, path)
    if sheet is None:
        return None, problems
    problems += _no_blends(document, sheet, path)
    from layup.chemistry.calibration import calibrate
    from layup.chemistry.statements import NEAREST_MASS, beyond_model, film_warnings

    try:
        law = calibrate(sheet).kinetics
        warnings = film_warnings(sheet.films, law)
        problems += [
            problem_at(document, ("pot_life", sheet.pot_lives.index(point)), words, NEAREST_MASS, warning=True)
            for point, words in beyond_model(sheet.pot_lives, law)
        ]
    except LayupError as error:
        about = "film" if error.where.startswith("film") else "pot_life"
        return None, [*problems, problem_from(document, (about,), error)]
    return sheet, [*problems, *(problem_at(document, ("film",), words, warning=True) for words in warnings)]


def _no_blends(document: Document, sheet: Datasheet, path: Path) -> Iterator[Problem]:
    """Refuse a blend with what is not there, or is not another hardener of the same resin; a copy has no others."""
    from layup.chemistry.blending import why_no_blend

    for place, name in enumerate(sheet.blends_with if path.name != RESIN_COPY else ()):
        beside = path.with_name(f"{name}.toml")
        there = name == beside.stem and beside.is_file()
        other = load_resin(beside)[0] if there else None  # one that cannot be used has problems of its own
        why = "is no resin file beside this one" if not there else "" if other is None else why_no_blend(sheet, other)
        if why:
            hint = "name a file with the same [resin] and another [hardener], or leave it out"
            yield problem_at(document, ("blends_with", place), f"{why} ({printable(name)})", hint)


def _judged(document: Document, path: Path) -> tuple[Datasheet | None, list[Problem]]:
    try:
        file = ResinFile.model_validate(document.data)
    except ValidationError as errors:
        problems = [*problems_from(document, ResinFile, errors), *_ratio_so_far(document)]
        return None, sorted(problems, key=lambda problem: problem.line)
    try:
        sheet = file.datasheet()
        problems = list(_contradictions(document, sheet, path))
    except LayupError as error:
        return None, [problem_from(document, (), error)]
    usable = all(problem.warning for problem in problems)
    return (sheet if usable else None), problems


def _contradictions(document: Document, sheet: Datasheet, path: Path) -> Iterator[Problem]:
    """Find what is well formed and still cannot be, or is hardly meant."""
    if sheet.id != path.stem and path.name != RESIN_COPY:
        hint = f'rename the file or write id = "{printable(path.stem)}"'
        yield problem_at(document, ("id",), f"differs from the file's name ({sheet.id})", hint)
    yield from _radicals(document, sheet)
    yield from _swapped(document, sheet)
    for table, component in (("resin", sheet.resin), ("hardener", sheet.hardener)):
        if sheet.ratio_by == "volume" and component.density_g_cm3 is None:
            hint = f'write density = "1.1 g/cm^3" in [{table}]'
            yield problem_at(document, (table,), "has no density, but the ratio is by volume", hint)
    if sheet.viscosities:
        try:
            viscosity_Pa_s(sheet.viscosities, sheet.viscosities[0].temperature_K)
        except LayupError as error:
            yield problem_from(document, ("viscosity",), error)
    warning = stoichiometry_warning(sheet)
    if warning:
        yield problem_at(document, ("ratio",), warning, warning=True)
    yield from implausible(document, sheet)
