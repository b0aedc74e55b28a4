"""The tables of a plan file around its steps: outline, losses, closing, and the shop's tools and crew."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from layup.chemistry.caul import BOARDS_m
from layup.chemistry.caul_materials import CAULS
from layup.errors import InputError
from layup.materials.drawing import read_polyline_m
from layup.materials.fields import (
    Area,
    CoreTable,
    FileModel,
    Flag,
    Force,
    Length,
    Mass,
    Minutes,
    Pressure,
    Share,
    Title,
    number,
    quantity,
)
from layup.materials.problems import nearest
from layup.planning.outline import Outline
from layup.planning.stack import Board, Closing, Crew, Losses, Scale

_Width = Annotated[float, quantity("length", high=10.0, inclusive=True)]
_At = Annotated[float, quantity("length", high=100.0, inclusive=True)]
_Overhang = Annotated[float, quantity("length", high=1.0, inclusive=True)]
_Grams = Annotated[float, quantity("mass", inclusive=True)]
_SHAPES = ("stations", "area", "file")


class _Station(FileModel):
    at: _At = Field(examples=['"0 mm"'])
    width: _Width = Field(examples=['"100 mm"'])


class OutlineTable(FileModel):
    """The shape of one piece: stations, an area, or a drawing."""

    length: Length | None = None
    stations: tuple[_Station, ...] = ()
    area: Area | None = None
    file: Title | None = None
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = None
    overhang: _Overhang = 0.0
    roll_width: Length | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [key for key in _SHAPES if getattr(self, key)]
        if len(given) != 1:
            wrong = f"gives {' and '.join(given)}" if given else "gives no shape"
            raise InputError("outline", wrong, todo=f"give one of {', '.join(_SHAPES)}")
        if self.unit is not None and self.file is None:
            raise InputError("unit", "is for a drawing only", todo="leave it out")
        return self

    def outline(self, folder: Path) -> Outline:
        """Return the outline as plain data of the core; a drawing is looked for in `folder`."""
        return Outline(
            length_m=self.length,
            stations=tuple((each.at, each.width) for each in self.stations),
            stated_area_m2=self.area,
            polyline_m=read_polyline_m(folder / self.file, self.unit) if self.file else (),
            overhang_m=self.overhang,
            roll_width_m=self.roll_width,
        )


class LossesTable(CoreTable):
    """What does not stay on the part."""

    per_batch: _Grams = 20.0
    squeeze_out: Annotated[float, quantity("fraction", high=1.0, inclusive=True)] | None = None

    def core(self) -> Losses:
        """Return the losses as plain data of the core."""
        return Losses(self.per_batch, self.squeeze_out)


class BoardTable(CoreTable):
    """A caul, or what the part lies on."""

    material: Title = Field(examples=['"birch plywood"'])
    thickness: Annotated[float, quantity("length", low=BOARDS_m[0], high=BOARDS_m[1], inclusive=True)] = Field(
        examples=['"18 mm"']
    )

    def core(self) -> Board:
        """Return the board as plain data of the core."""
        if self.material not in CAULS:
            raise InputError("material", "is not in the table", value=self.material, todo=nearest(self.material, CAULS))
        return Board(self.material, self.thickness)


class ClosingTable(CoreTable):
    """How the press is closed."""

    method: Literal["clamps", "bolts", "bladder", "bag"] = "clamps"
    minutes: Minutes = 10.0
    area: Area | None = None
    target_pressure: Pressure | None = None
    clamps: Annotated[int, number(low=1, high=1000, inclusive=True, whole=True)] | None = None
    clamp_rating: Force | None = None
    caul: BoardTable | None = None
    backing: BoardTable | None = None

    def core(self) -> Closing:
        """Return the closing as plain data of the core."""
        return Closing(
            method=self.method,
            bench_s=self.minutes * 60.0,
            target_pressure_Pa=self.target_pressure,
            area_m2=self.area,
            clamps=self.clamps,
            clamp_rating_N=self.clamp_rating,
            caul=self.caul.core() if self.caul else None,
            backing=self.backing.core() if self.backing else None,
        )


class ScaleTable(CoreTable):
    """The kitchen scale."""

    readability: Mass = 1.0
    capacity: Mass = 5000.0
    tare_each: Flag = False

    def core(self) -> Scale:
        """Return the scale as plain data of the core."""
        return Scale(self.readability, self.capacity, self.tare_each)


class CupsTable(FileModel):
    """The mixing cups."""

    largest: Mass | None = None


class CrewTable(FileModel):
    """How the people share the work."""

    mixing: Annotated[float, quantity("time", high=7200.0)] = 240.0
    second_pair: Share = 0.5
    stirring: Annotated[float, quantity("time", high=7200.0, inclusive=True)] | None = None

    @model_validator(mode="after")
    def _stirring_is_part_of_mixing(self) -> Self:
        self.crew(1)
        return self

    def crew(self, people: int) -> Crew:
        """Return the crew as plain data of the core."""
        return Crew(people, self.mixing, self.second_pair, self.stirring)
