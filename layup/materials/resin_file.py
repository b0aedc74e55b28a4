"""Read resins/NAME.toml: what a datasheet states, nothing derived."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

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
from layup.chemistry.mixing import stoichiometry_warning
from layup.chemistry.viscosity import viscosity_Pa_s
from layup.errors import InputError, LayupError, Problem
from layup.materials.fields import (
    CoreTable,
    Date,
    Density,
    EquivalentWeight,
    FileModel,
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
    printable,
)
from layup.materials.names import RESIN_COPY
from layup.materials.oddities import oddities
from layup.materials.problems import problem_at, problem_from, problems_from
from layup.materials.toml_lines import Document, read_toml

MOST_POINTS = 50
"""No datasheet states a time or a viscosity at more points."""

_A_TIME = Field(examples=['"45 min"'])
_A_TEMPERATURE = Field(examples=['"25 degC"'])


class _ComponentTable(CoreTable):
    name: Title = Field(examples=['"Resin A"'])
    density: Density | None = None
    equivalent_weight: EquivalentWeight | None = None

    def core(self) -> Component:
        return Component(self.name, self.density, self.equivalent_weight)


class _RatioTable(FileModel):
    by: Literal["weight", "volume"] = Field(examples=['"weight"'])
    resin: Part = Field(examples=["100"])
    hardener: Part = Field(examples=["30"])


class _PotLifeTable(CoreTable):
    time: Time = _A_TIME
    mass: Mass = Field(examples=['"150 g"'])
    temperature: ShopTemperature = _A_TEMPERATURE
    endpoint: CupEndpoint = Field(examples=['"thickening"'])
    vessel: Literal["cup", "tray"] = "cup"
    depth: Length | None = None
    diameter: Length | None = None
    reaches: OvenTemperature | None = None

    def core(self) -> PotLifePoint:
        """Return the point, once its sizes suit its vessel, and what ends it is whole."""
        if self.vessel == "tray" and self.depth is None:
            raise InputError("vessel", "is a tray without its depth", allowed='write depth = "10 mm"')
        if self.vessel == "cup" and self.depth is not None:
            raise InputError("depth", "is for a tray", allowed='write vessel = "tray", or leave the depth out')
        if self.vessel == "tray" and self.diameter is not None:
            raise InputError("diameter", "is a cup's", allowed='write vessel = "cup", or leave the diameter out')
        if self.endpoint == "temperature" and self.reaches is None:
            raise InputError("endpoint", "is a temperature that is not said", allowed='write reaches = "50 degC"')
        if self.endpoint != "temperature" and self.reaches is not None:
            raise InputError(
                "reaches", "is for another endpoint", allowed='write endpoint = "temperature", or leave reaches out'
            )
        return PotLifePoint(
            self.time, self.mass, self.temperature, self.endpoint, self.depth, self.diameter, self.reaches
        )


class _FilmTable(CoreTable):
    time: Time = _A_TIME
    temperature: ShopTemperature = _A_TEMPERATURE
    endpoint: FilmEndpoint = Field(examples=['"open"'])

    def core(self) -> FilmPoint:
        return FilmPoint(self.time, self.temperature, self.endpoint)


class _ViscosityTable(CoreTable):
    value: Viscosity = Field(examples=['"700 mPa*s"'])
    temperature: ShopTemperature = _A_TEMPERATURE

    def core(self) -> ViscosityPoint:
        return ViscosityPoint(self.value, self.temperature)


class _CureStep(CoreTable):
    time: Time = _A_TIME
    temperature: OvenTemperature = _A_TEMPERATURE

    def core(self) -> CurePoint:
        return CurePoint(self.time, self.temperature)


class _CureTable(FileModel):
    minimum_temperature: ShopTemperature | None = None
    demould: tuple[_CureStep, ...] = ()
    post_cure: tuple[_CureStep, ...] = ()
    glass_transition: OvenTemperature | None = None


class _HazardsTable(FileModel):
    signal_word: Title = ""
    cautions: tuple[Title, ...] = ()


class _SourceTable(FileModel):
    document: Title = Field(examples=['"Technical data sheet"'])
    revision: Title = ""
    date: Date = ""
    note: Note = ""

    def words(self) -> str:
        revision = f"revision {self.revision}" if self.revision else ""
        stated = ", ".join(part for part in (self.document, revision, self.date) if part)
        return f"{stated}. {self.note}" if self.note else stated


class ResinFile(FileModel):
    """A resin file as people write it."""

    id: Title = Field(examples=['"slow-laminating"'])
    title: Title = Field(examples=['"Slow laminating epoxy"'])
    chemistry: Chemistry = Field(examples=['"epoxy-amine"'])
    resin: _ComponentTable
    hardener: _ComponentTable
    ratio: _RatioTable
    pot_life: Annotated[tuple[_PotLifeTable, ...], items(MOST_POINTS, least=1)]
    film: Annotated[tuple[_FilmTable, ...], items(MOST_POINTS)] = ()
    viscosity: Annotated[tuple[_ViscosityTable, ...], items(MOST_POINTS)] = ()
    cure: _CureTable = _CureTable()
    hazards: _HazardsTable = _HazardsTable()
    source: _SourceTable
    price_per_kg: Price | None = None

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
        )


def load_resin(path: Path) -> tuple[Datasheet | None, list[Problem]]:
    """Read a resin file: its datasheet and every problem found; the datasheet is None where one is an error.

    The id must equal the file's stem, except in a session's copy, resin.toml. Raises StorageError where the file
    cannot be read.
    """
    sheet, problems, _ = _load(path)
    return sheet, problems


def check_resin(path: Path) -> list[Problem]:
    """Return every problem of a resin file, those that only the pot-life model can see included."""
    sheet, problems, document = _load(path)
    if sheet is None or document is None:
        return problems
    from layup.chemistry.potlife import calibrate  # here, because reading a file needs no model
    from layup.chemistry.statements import film_warnings

    try:
        warnings = film_warnings(sheet.films, calibrate(sheet).kinetics)
    except LayupError as error:
        about = "film" if error.where.startswith("film") else "pot_life"
        return [*problems, problem_from(document, (about,), error)]
    return [*problems, *(problem_at(document, ("film",), words, warning=True) for words in warnings)]


def _load(path: Path) -> tuple[Datasheet | None, list[Problem], Document | None]:
    document = read_toml(path)
    if isinstance(document, Problem):
        return None, [document], None
    try:
        file = ResinFile.model_validate(document.data)
    except ValidationError as errors:
        return None, problems_from(document, ResinFile, errors), document
    try:
        sheet = file.datasheet()
        problems = list(_contradictions(document, sheet, path))
    except LayupError as error:
        return None, [problem_from(document, (), error)], document
    usable = all(problem.warning for problem in problems)
    return (sheet if usable else None), problems, document


def _contradictions(document: Document, sheet: Datasheet, path: Path) -> Iterator[Problem]:
    """Find what is well formed and still cannot be, or is hardly meant."""
    if sheet.id != path.stem and path.name != RESIN_COPY:
        hint = f'rename the file or write id = "{printable(path.stem)}"'
        yield problem_at(document, ("id",), f"differs from the file's name ({sheet.id})", hint)
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
    yield from oddities(document, sheet)
