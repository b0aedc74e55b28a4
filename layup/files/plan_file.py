"""Read plan.toml: the part, the bench order, losses and closing, the crew and the shop's tools."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from layup.chemistry.caul import CAULS, BOARDS_m
from layup.errors import InputError, LayupError, Problem
from layup.files.attachments import read_forecast, wanted_day
from layup.files.fields import (
    Area,
    CoreTable,
    FibreFraction,
    FileModel,
    Flag,
    Force,
    Mass,
    Minutes,
    Pressure,
    Share,
    ShopTemperature,
    Title,
    count,
    items,
    needed,
    optional,
    quantity,
)
from layup.files.plan_tables import CastingTable, CastTable, FabricTable, OutlineTable, StepTable
from layup.files.toml import Document, KeyPath, nearest, problem_at, problem_from, problems_from, read_plain, read_toml
from layup.planning.channel import held_m3
from layup.planning.crew import MOST_PEOPLE
from layup.planning.cuts import cloth_area_m2, covered_area_m2
from layup.planning.outline import Outline, shape
from layup.planning.plan import (
    Board,
    CastStep,
    Closing,
    Crew,
    FabricStep,
    FibreTarget,
    Foam,
    FOAMS_g_cm3,
    Losses,
    Plan,
    Scale,
    Step,
    Task,
)
from layup.planning.warming import network

# -- plan tables -----------------------------------------------------------------------------------------------------

_Grams = Annotated[float, quantity("mass", inclusive=True)]
_Thickness = Annotated[float, quantity("length", low=BOARDS_m[0], high=BOARDS_m[1], inclusive=True)]


class LossesTable(CoreTable):
    """What does not stay on the part."""

    per_batch: _Grams = optional("left in each cup, on brushes and rollers", 20.0)
    squeeze_out: Share | None = optional(
        "share of the mix on the part that the press drives out; reckoned without where not given"
    )

    def core(self) -> Losses:
        return Losses(self.per_batch, self.squeeze_out)


class BoardTable(CoreTable):
    """A caul, or what the part lies on."""

    material: Title = needed('"birch plywood"', f"one of {', '.join(CAULS)}")
    thickness: _Thickness = needed('"18 mm"', "how thick it is")

    @model_validator(mode="before")
    @classmethod
    def _is_a_table(cls, told: object) -> object:
        if isinstance(told, str):
            board = '{ material = "birch plywood", thickness = "18 mm" }'
            raise InputError("value", "is not a table", value=told, allowed=board, todo=nearest(told, CAULS))
        return told

    def core(self) -> Board:
        if self.material not in CAULS:
            raise InputError("material", "is not in the table", value=self.material, todo=nearest(self.material, CAULS))
        return Board(self.material, self.thickness)


class FoamTable(CoreTable):
    """The foam of a mould."""

    thickness: _Thickness = needed('"50 mm"', "how thick it is")
    density: Annotated[float, quantity("density", low=FOAMS_g_cm3[0], high=FOAMS_g_cm3[1], inclusive=True)] = needed(
        '"35 kg/m^3"', "of the foam"
    )
    strength: Pressure | None = optional("compressive strength at 10 % strain; without it, one by its density is taken")
    hottest: ShopTemperature | None = optional("the warmest that its maker lets it get under load; without it, 40 degC")

    def core(self) -> Foam:
        return Foam(self.thickness, self.density, self.strength, self.hottest)


class ClosingTable(CoreTable):
    """How the press is closed."""

    method: Literal["clamps", "bolts", "bladder", "bag"] = optional("clamps, bolts, bladder or bag", "clamps")
    minutes: Minutes = optional("how long it takes one pair of hands, for all pieces", 10.0)
    area: Area | None = optional("the area under pressure of one piece, where it is not the outline's")
    target_pressure: Pressure | None = optional("the pressure wanted on the part")
    clamps: Annotated[int, count(1000)] | None = optional("how many clamps or bolts there are over one piece")
    clamp_rating: Force | None = optional("the most that one clamp or bolt may give; without it, that is not checked")
    caul: BoardTable | None = optional(
        "the board that spreads the clamps' force; without it, 30 mm of birch plywood is taken"
    )
    backing: BoardTable | None = optional(
        "the board that the part lies on; without it, what is under the part is taken as rigid"
    )
    foam: FoamTable | None = optional("the foam of the mould, under the backing")
    curved_ends: Annotated[float, quantity("length", high=1.0, inclusive=True)] = optional(
        "how much of each end is curved, where a block and a clamp of its own press", 0.0
    )

    def core(self) -> Closing:
        return Closing(
            method=self.method,
            bench_s=self.minutes * 60.0,
            target_pressure_Pa=self.target_pressure,
            area_m2=self.area,
            clamps=self.clamps,
            clamp_rating_N=self.clamp_rating,
            caul=self.caul.core() if self.caul else None,
            backing=self.backing.core() if self.backing else None,
            foam=self.foam.core() if self.foam else None,
            curved_ends_m=self.curved_ends,
        )


class ScaleTable(CoreTable):
    """The kitchen scale."""

    readability: Mass = optional("the smallest step that it shows", 1.0)
    capacity: Mass = optional("the most that it weighs", 5000.0)
    tare_each: Flag = optional("true: tared again before the hardener, which lets it weigh smaller batches", False)

    def core(self) -> Scale:
        return Scale(self.readability, self.capacity, self.tare_each)


class CupsTable(FileModel):
    """The mixing cups."""

    largest: Mass | None = optional("the most mix that goes in one; without it, any")


class CrewTable(CoreTable):
    """How the people share the work."""

    mixing: Annotated[float, quantity("time", high=7200.0)] = optional(
        "how long weighing and stirring one batch takes", 240.0
    )
    second_pair: Share = optional("how much faster a second pair of hands makes the laying, 0 to 1", 0.5)
    stirring: Annotated[float, quantity("time", high=7200.0, inclusive=True)] | None = optional(
        "the part of mixing after hardener meets resin; without it, half"
    )

    def core(self) -> Crew:
        """Return a crew of one."""
        return Crew(1, self.mixing, self.second_pair, self.stirring)


class ShopTable(FileModel):
    """The shop that presses it."""

    forecast: Title | None = optional(
        "its day: one temperature, coldest to warmest, times with temperatures, or a CSV file of both",
        example='"4 degC to 16 degC"',
    )


class BeforeTable(CoreTable):
    """Something to do, or to wait for, on the days before."""

    name: Title = needed('"Glue up the core"', "what it is, each its own name")
    time: Annotated[float, quantity("time", high=60 * 86400.0)] = needed('"2 h"', "how long it takes")
    after: tuple[Title, ...] = optional("the names of what it waits for, in this list", ())
    hands: Flag = optional("false: it goes on by itself, at night too, as glue that sets", True)

    def core(self) -> Task:
        return Task(self.name, self.time, self.after, self.hands)


# -- plan file -------------------------------------------------------------------------------------------------------

MOST_STEPS = 200
LEAST_PRESSURE_Pa = 20e3
"""A plan is asked about less (common practice, no source)."""
NO_CLOTH = FibreTarget("weight", 0.5)
"""Of a plan without cloth, which nothing asks for."""


class PlanFile(FileModel):
    """A plan file as people write it."""

    title: Title = needed('"Touring skis, first pair"', "the part's name")
    resin: Title = needed('"slow-laminating"', "the id of the laminating resin")
    pieces: Annotated[int, count(100)] = needed("2", "how many are pressed in one go, as 2 for a pair")
    people: Annotated[int, count(MOST_PEOPLE)] = needed("2", "how many hands-on people, the one who mixes included")
    target_fibre_fraction: FibreFraction | None = optional(
        "how much of the laminate is to be fibre; needed where a fabric step has none of its own",
        example='{ by = "weight", value = 0.62 }',
    )
    outline: OutlineTable = Field(description="the shape of one piece: stations, area or file, one of them")
    steps: Annotated[tuple[StepTable, ...], items(MOST_STEPS, least=1)] = Field(
        description="the work on the bench, in its order"
    )
    losses: LossesTable = optional("what does not stay on the part", LossesTable())
    closing: ClosingTable = optional("how the press is closed", ClosingTable())
    scale: ScaleTable = optional("the scale for resin", ScaleTable())
    cups: CupsTable = optional("the mixing cups", CupsTable())
    crew: CrewTable = optional("how the people share the work", CrewTable())
    casting: CastingTable = optional("how a core is made ready for its castings", CastingTable())
    shop: ShopTable = optional("the shop that presses it", ShopTable())
    before: Annotated[tuple[BeforeTable, ...], items(MOST_STEPS)] = optional(
        "the work and the waits of the days before, castings and warming up left out", ()
    )
    wanted: Annotated[str, BeforeValidator(lambda told: wanted_day(str(told)).isoformat(" ", "minutes"))] = optional(
        "when it has to be out of the mould", "", example='"2026-12-05 18:00"'
    )


def load_plan(path: Path, *, resin_ids: Collection[str] | None = None) -> tuple[Plan | None, list[Problem]]:
    """Read a plan file: the plan and every problem found; the plan is None where one is an error.

    With `resin_ids`, each resin that the plan names must be among them. Raises StorageError where the file cannot be
    read.
    """
    return plan_in(read_toml(path), path.parent, resin_ids=resin_ids)


def plan_in(
    document: Document | Problem, folder: Path, *, resin_ids: Collection[str] | None = None
) -> tuple[Plan | None, list[Problem]]:
    """Return the plan of a file that was read, and every problem found in it; what it names lies in `folder`."""
    if isinstance(document, Problem):
        return None, [document]
    try:
        file = PlanFile.model_validate(document.data)
    except ValidationError as errors:
        return None, problems_from(document, PlanFile, errors)
    plan, problems = _build(document, file, folder)
    if resin_ids is not None:
        problems += _unknown_resins(document, file, resin_ids)
    usable = all(problem.warning for problem in problems)
    return (plan if usable else None), sorted(problems, key=lambda problem: problem.line)


NAMED = (("outline", "file", (".csv", ".dxf", ".svg")), ("shop", "forecast", (".csv",)))
"""Where a plan names another file, and how such a file's name ends."""


def named_files(path: Path) -> dict[str, bytes]:
    """Return what a copy of a plan needs beside it: each file that it names by a way from its own folder downwards.

    One that cannot be read is left to `load_plan` to tell.
    """
    document = read_toml(path)
    if isinstance(document, Problem):
        return {}
    found: dict[str, bytes] = {}
    for table, key, endings in NAMED:
        of = document.data.get(table)
        name = of.get(key) if isinstance(of, dict) else None
        way = Path(name) if isinstance(name, str) and name.lower().endswith(endings) else None
        if way is not None and not way.is_absolute() and ".." not in way.parts:
            with suppress(OSError):
                found[str(way)] = read_plain(path.parent / way)
    return found


def _unknown_resins(document: Document, file: PlanFile, resin_ids: Collection[str]) -> Iterator[Problem]:
    """Find the resins that the plan names and the workshop does not hold."""
    named: list[tuple[KeyPath, str]] = [(("resin",), file.resin)]
    named += [(("steps", i, "resin"), each.resin) for i, each in enumerate(file.steps) if isinstance(each, CastTable)]
    for path, resin_id in named:
        if resin_id not in resin_ids:
            yield problem_at(document, path, f"is not in resins/ ({resin_id})", nearest(resin_id, resin_ids))


def _build(document: Document, file: PlanFile, folder: Path) -> tuple[Plan | None, list[Problem]]:
    """Make the plan of a well-formed file, or find what in it cannot be."""
    problems: list[Problem] = []
    outline = _outline(document, file, folder, problems)
    steps: dict[int, Step] = {}
    for index, table in enumerate(file.steps):
        if not isinstance(table, FabricTable):
            steps[index] = table.core()
        elif step := _fabric(document, table, index, file.target_fibre_fraction, problems):
            steps[index] = step
    if outline is not None:
        problems += _misfits(document, outline, steps)
    if (file.closing.target_pressure or LEAST_PRESSURE_Pa) < LEAST_PRESSURE_Pa:
        place: KeyPath = ("closing", "target_pressure")
        problems.append(problem_at(document, place, "is little for a press", "check its unit", warning=True))
    before = tuple(each.core() for each in file.before)
    try:
        network(before, end_s=0.0)
    except LayupError as error:
        problems.append(problem_from(document, ("before",), error))
    try:
        forecast = read_forecast(file.shop.forecast, folder=folder) if file.shop.forecast else ()
    except LayupError as error:
        problems.append(problem_from(document, ("shop", "forecast"), error))
    problems = list(dict.fromkeys(problems))
    if outline is None or not all(problem.warning for problem in problems):
        return None, problems
    plan = Plan(
        title=file.title,
        resin_id=file.resin,
        pieces=file.pieces,
        crew=replace(file.crew.core(), people=file.people),
        target=_target(file),
        outline=outline,
        steps=tuple(steps.values()),
        losses=file.losses.core(),
        closing=file.closing.core(),
        scale=file.scale.core(),
        largest_cup_g=file.cups.largest,
        casting=file.casting.core(),
        before=before,
        forecast=forecast,
        wanted=file.wanted,
    )
    return plan, problems


def _target(file: PlanFile) -> FibreTarget:
    """Return the plan's fibre fraction; where it states none, that of its first cloth, or a usual one without cloth."""
    own = (table.target_fibre_fraction for table in file.steps if isinstance(table, FabricTable))
    stated = file.target_fibre_fraction or next(filter(None, own), None)
    return NO_CLOTH if stated is None else FibreTarget(stated.by, stated.value)


def _outline(document: Document, file: PlanFile, folder: Path, problems: list[Problem]) -> Outline | None:
    """Return the outline, or add to `problems` why there is none."""
    try:
        outline = file.outline.outline(folder)
        shape(outline)
        for at, words in file.outline.slips():
            key: KeyPath = ("outline", "length") if at is None else ("outline", "stations", at)
            problems.append(problem_at(document, key, words, "check it", warning=True))
    except LayupError as error:
        problems.append(problem_from(document, ("outline",), error))
        return None
    return outline


def _fabric(
    document: Document, table: FabricTable, index: int, target: FibreFraction | None, problems: list[Problem]
) -> FabricStep | None:
    """Return a fabric step at its own or the plan's `target`, or add to `problems` what is wrong with that."""
    own: KeyPath = ("steps", index, "target_fibre_fraction")
    place = own if own in document.lines else ("target_fibre_fraction",)
    target = table.target_fibre_fraction or target
    if target is None:
        hint = 'write target_fibre_fraction = { by = "weight", value = 0.6 } for the plan, or for this step'
        problems.append(problem_at(document, ("steps", index), "has no fibre fraction to aim at", hint))
        return None
    try:
        step = table.step(target)
    except LayupError as error:
        problems.append(problem_from(document, place, error))
        return None
    if odd := table.oddity(target):
        problems.append(problem_at(document, place, *odd, warning=True))
    return step


def _misfits(document: Document, outline: Outline, steps: dict[int, Step]) -> Iterator[Problem]:
    """Find the cloth that cannot be cut for this outline, and the channels that do not fit in it."""
    for index, step in steps.items():
        try:
            if isinstance(step, FabricStep):
                cloth_area_m2(outline, step)
                covered_area_m2(outline, step)
            elif isinstance(step, CastStep) and step.channel is not None:
                held_m3(outline, step.channel)
        except LayupError as error:
            key = "width" if step.kind == "fabric" else "channel"
            yield problem_from(document, ("outline",) if error.where == "outline" else ("steps", index, key), error)
