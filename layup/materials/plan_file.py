"""Read plan.toml: the part, the bench order, the crew and the shop's tools."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError

from layup.errors import LayupError, Problem
from layup.materials.fields import FibreFraction, FileModel, Title, items, number
from layup.materials.plan_tables import (
    ClosingTable,
    CrewTable,
    CupsTable,
    LossesTable,
    OutlineTable,
    ScaleTable,
)
from layup.materials.problems import nearest, problem_at, problem_from, problems_from
from layup.materials.steps import CastTable, FabricTable, StepTable
from layup.materials.toml_lines import Document, KeyPath, read_toml
from layup.planning.cloth import cloth_area_m2, covered_area_m2
from layup.planning.outline import Outline, shape
from layup.planning.stack import FabricStep, FibreTarget, Plan, Step

MOST_STEPS = 200


class PlanFile(FileModel):
    """A plan file as people write it."""

    title: Title = Field(examples=['"Touring skis, first pair"'])
    resin: Title = Field(examples=['"slow-laminating"'])
    pieces: Annotated[int, number(low=1, high=100, inclusive=True, whole=True)] = Field(examples=["2"])
    people: Annotated[int, number(low=1, high=20, inclusive=True, whole=True)] = Field(examples=["2"])
    target_fibre_fraction: FibreFraction = Field(examples=['{ by = "weight", value = 0.62 }'])
    outline: OutlineTable
    steps: Annotated[tuple[StepTable, ...], items(MOST_STEPS, least=1)]
    losses: LossesTable = LossesTable()
    closing: ClosingTable = ClosingTable()
    scale: ScaleTable = ScaleTable()
    cups: CupsTable = CupsTable()
    crew: CrewTable = CrewTable()


def load_plan(path: Path, *, resin_ids: Collection[str] | None = None) -> tuple[Plan | None, list[Problem]]:
    """Read a plan file: the plan and every problem found; the plan is None where one is an error.

    With `resin_ids`, each resin that the plan names must be among them. Raises StorageError where the file cannot be
    read.
    """
    document = read_toml(path)
    if isinstance(document, Problem):
        return None, [document]
    try:
        file = PlanFile.model_validate(document.data)
    except ValidationError as errors:
        return None, problems_from(document, PlanFile, errors)
    plan, problems = _build(document, file, path.parent)
    if resin_ids is not None:
        problems += _unknown_resins(document, file, resin_ids)
    usable = all(problem.warning for problem in problems)
    return (plan if usable else None), sorted(problems, key=lambda problem: problem.line)


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
        problems += _uncut(document, outline, steps)
    problems = list(dict.fromkeys(problems))
    if outline is None or not all(problem.warning for problem in problems):
        return None, problems
    plan = Plan(
        title=file.title,
        resin_id=file.resin,
        pieces=file.pieces,
        crew=file.crew.crew(file.people),
        target=FibreTarget(file.target_fibre_fraction.by, file.target_fibre_fraction.value),
        outline=outline,
        steps=tuple(steps.values()),
        losses=file.losses.core(),
        closing=file.closing.core(),
        scale=file.scale.core(),
        largest_cup_g=file.cups.largest,
    )
    return plan, problems


def _outline(document: Document, file: PlanFile, folder: Path, problems: list[Problem]) -> Outline | None:
    """Return the outline, or add to `problems` why there is none."""
    try:
        outline = file.outline.outline(folder)
        shape(outline)
    except LayupError as error:
        problems.append(problem_from(document, ("outline",), error))
        return None
    return outline


def _fabric(
    document: Document, table: FabricTable, index: int, target: FibreFraction, problems: list[Problem]
) -> FabricStep | None:
    """Return a fabric step at its own or the plan's `target`, or add to `problems` what is wrong with that."""
    own: KeyPath = ("steps", index, "target_fibre_fraction")
    place = own if own in document.lines else ("target_fibre_fraction",)
    try:
        step = table.step(target)
    except LayupError as error:
        problems.append(problem_from(document, place, error))
        return None
    if form := table.above_usual(target):
        usual = f"{form.usual_low:g} to {form.usual_high:g} by volume"
        wrong = f"is more fibre than {table.fabric} usually holds, {usual}"
        hint = f"as {form.name} cloth goes; check whether it is by weight or by volume"
        problems.append(problem_at(document, place, wrong, hint, warning=True))
    return step


def _uncut(document: Document, outline: Outline, steps: dict[int, Step]) -> Iterator[Problem]:
    """Find the cloth that cannot be cut for this outline."""
    for index, step in steps.items():
        if not isinstance(step, FabricStep):
            continue
        try:
            cloth_area_m2(outline, step)
            covered_area_m2(outline, step)
        except LayupError as error:
            path: KeyPath = ("outline",) if error.where == "outline" else ("steps", index, "width")
            yield problem_from(document, path, error)
