"""The outline table of a plan file: stations along the length, two edges, an area, or a drawing beside the plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from layup.errors import InputError
from layup.files.drawing import read_polyline_m
from layup.files.fields import Area, FileModel, Length, Title, quantity
from layup.planning.outline import Outline

_Width = Annotated[float, quantity("length", high=10.0, inclusive=True)]
_Side = Annotated[float, quantity("length", low=-5.0, high=10.0, inclusive=True)]
_At = Annotated[float, quantity("length", high=100.0, inclusive=True)]
_Overhang = Annotated[float, quantity("length", high=1.0, inclusive=True)]
_SHAPES = ("stations", "area", "file")


class _Station(FileModel):
    at: _At = Field(examples=['"0 mm"'], description="where, from the tail")
    width: _Width | None = Field(default=None, description="how wide there, half of it to each side")
    left: _Side | None = Field(
        default=None, description="instead of width: from the centre line to the left edge, the tip ahead"
    )
    right: _Side | None = Field(default=None, description="beside left: from the centre line to the right edge")

    @model_validator(mode="after")
    def _one_width(self) -> Self:
        self.sides()
        return self

    def sides(self) -> tuple[float, float]:
        """Return how far the left and the right edge lie from the centre line."""
        match self.width, self.left, self.right:
            case float(width), None, None:
                return width / 2.0, width / 2.0
            case None, float(left), float(right):
                return left, right
            case None, _, _:
                raise InputError("at", "needs a width", todo='write width = "100 mm", or left and right')
        raise InputError("width", "is given beside left or right", todo="keep one of them")


class OutlineTable(FileModel):
    """The shape of one piece: stations, an area, or a drawing."""

    length: Length | None = Field(default=None, description="the length of a piece")
    stations: tuple[_Station, ...] = Field(
        default=(), description="widths along the length, or its two edges; a smooth line is drawn through them"
    )
    area: Area | None = Field(default=None, description="the area of one piece, instead of a shape")
    file: Title | None = Field(default=None, description="a drawing beside the plan: .csv, .dxf or .svg")
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = Field(
        default=None, description="the unit of the drawing's numbers"
    )
    overhang: _Overhang = Field(default=0.0, description="how far cloth stands over on every side")
    roll_width: Length | None = Field(default=None, description="width of the cloth on its roll: for the cut list")

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
        even = all(each.width is not None for each in self.stations)
        return Outline(
            length_m=self.length,
            stations=tuple((each.at, sum(each.sides())) for each in self.stations) if even else (),
            edges_m=() if even else tuple((each.at, *each.sides()) for each in self.stations),
            stated_area_m2=self.area,
            polyline_m=read_polyline_m(folder / self.file, self.unit) if self.file else (),
            overhang_m=self.overhang,
            roll_width_m=self.roll_width,
        )
