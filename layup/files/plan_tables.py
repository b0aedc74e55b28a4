"""The tables of a plan file: outline, castings with their pours and colours, and steps, each kind with its own keys."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from layup.chemistry.climate import DRY_WOOD
from layup.chemistry.laminate import (
    CURED_DENSITY_G_CM3,
    fibre_mass_fraction,
    fibre_volume_fraction,
    require_target_fraction,
)
from layup.errors import InputError
from layup.files.attachments import read_polyline_m
from layup.files.fields import (
    A_KIND,
    Area,
    ArealWeight,
    CoreTable,
    Density,
    FibreFraction,
    FileModel,
    Flag,
    Length,
    Price,
    Share,
    ShopTemperature,
    StepBase,
    Title,
    Volume,
    count,
    items,
    needed,
    optional,
    quantity,
)
from layup.files.tables import CLOTH_FORMS, FABRICS, FIBRES, SURFACES, Fabric, Surface, meant
from layup.planning.channel import Channel
from layup.planning.outline import Ends, Outline, with_ends
from layup.planning.plan import ONE_VOLUME, BondStep, CastingWork, CastStep, FabricStep, PlaceStep
from layup.units import length

_Width = Annotated[float, quantity("length", high=10.0, inclusive=True)]
_Side = Annotated[float, quantity("length", low=-5.0, high=10.0, inclusive=True)]
_At = Annotated[float, quantity("length", high=100.0, inclusive=True)]
_Overhang = Annotated[float, quantity("length", high=1.0, inclusive=True)]
_SHAPES = ("stations", "area", "file")


class _Station(CoreTable):
    at: _At = needed('"0 mm"', "where, from the tail or what it is measured from")
    width: _Width | None = optional("how wide there, half of it to each side")
    left: _Side | None = optional("instead of width: from the centre line to the left edge, the tip ahead")
    right: _Side | None = optional("beside left: from the centre line to the right edge")

    def core(self) -> tuple[float, float]:
        """Return how far the left and the right edge lie from the centre line."""
        match self.width, self.left, self.right:
            case float(width), None, None:
                return width / 2.0, width / 2.0
            case None, float(left), float(right):
                return left, right
            case None, _, _:
                raise InputError("at", "needs a width", todo='write width = "100 mm", or left and right')
        raise InputError("width", "is given beside left or right", todo="keep one of them")


OTHER_UNIT = "? a sketch may mean {}: write its unit"
SHORT_M = 0.3
"""A piece that is shorter is asked about: centimetres taken for millimetres (our own judgement)."""
SLENDER, NARROW_M = 50.0, 0.1
"""A piece so many times as long as it is wide is asked about: its width where that is less, else its length (common
practice, no source)."""
SLIP = 4.0
"""An edge so many times as far out as the other one, or as those beside it, is asked about (our own judgement)."""


class OutlineTable(FileModel):
    """The shape of one piece: stations, an area, or a drawing."""

    length: Length | None = optional("the length of a piece")
    stations: tuple[_Station, ...] = optional(
        "widths along the length, or its two edges; a smooth line is drawn through them", ()
    )
    measured_from: Literal["tip", "tail"] = optional("tip or tail: where stations count from", "tail")
    ends: Ends | None = optional("how ends beyond the stations close: round (half an ellipse) or straight (cut square)")
    area: Area | None = optional("the area of one piece, instead of a shape")
    file: Title | None = optional("a drawing beside the plan: .csv, .dxf or .svg")
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = optional("the unit of the drawing's numbers")
    overhang: _Overhang = optional("how far cloth stands over on every side", 0.0)
    roll_width: Length | None = optional("width of the cloth on its roll: for the cut list")

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [key for key in _SHAPES if getattr(self, key)]
        if len(given) != 1:
            wrong = f"gives {' and '.join(given)}" if given else "gives no shape"
            raise InputError("outline", wrong, todo=f"give one of {', '.join(_SHAPES)}")
        if self.unit is not None and self.file is None:
            raise InputError("unit", "is for a drawing only", todo="leave it out")
        if self.ends is not None and (not self.stations or self.length is None):
            raise InputError("ends", "need stations and the length", todo="state both, or leave it out")
        return self

    def slips(self) -> Iterator[tuple[int | None, str]]:
        """Yield the stations that hardly are meant so, or None for the length, each with why: a digit too many."""
        if self.length is not None and self.length < SHORT_M:
            yield None, f"{length(self.length)}{OTHER_UNIT.format(length(10.0 * self.length))}"
        sides = [each.core() for each in self.stations]
        wide_m = max(map(sum, sides), default=0.0)
        long_m = self.length or max((each.at for each in self.stations), default=0.0)
        if long_m > SLENDER * wide_m > 0.0:
            widest = None if wide_m > NARROW_M else [*map(sum, sides)].index(wide_m)
            meant = length(0.1 * long_m if widest is None else 10.0 * wide_m)
            yield widest, f"{length(wide_m)} wide on {length(long_m)}{OTHER_UNIT.format(meant)}"
        ends = {0, len(sides) - 1} if self.ends is None else set()
        for at, pair in enumerate(sides):
            whole = 1.0 if self.stations[at].width is None else 2.0
            for side, (far, other) in enumerate((pair, pair[::-1])):
                beside = [sides[near][side] for near in (at - 1, at + 1) if 0 <= near < len(sides) and near not in ends]
                near_m = max(beside, default=0.0)
                if far > SLIP * other > 0.0:
                    yield at, f"{length(far)}? {'right' if side == 0 else 'left'} is {length(other)}"
                elif far > SLIP * near_m > 0.0 and (side == 0 or whole == 1.0):
                    yield at, f"{length(whole * far)}? {length(whole * near_m)} beside it"

    def outline(self, folder: Path) -> Outline:
        """Return the outline as plain data of the core; a drawing is looked for in `folder`."""
        even = all(each.width is not None for each in self.stations)
        sides = [(each.at, *each.core()) for each in self.stations]
        if self.measured_from == "tip" and sides:
            length_m = max(at for at, *_ in sides) if self.length is None else self.length
            sides = [(length_m - at, left, right) for at, left, right in reversed(sides)]
        if self.ends is not None and self.length is not None:
            sides = with_ends(sides, self.length, self.ends)
        return Outline(
            length_m=self.length,
            stations=tuple((at, left + right) for at, left, right in sides) if even else (),
            edges_m=() if even else tuple(sides),
            stated_area_m2=self.area,
            polyline_m=read_polyline_m(folder / self.file, self.unit) if self.file else (),
            overhang_m=self.overhang,
            roll_width_m=self.roll_width,
        )


_Time = Annotated[float, quantity("time", high=86_400.0, inclusive=True)]
LEAST_FIBRE = 0.25
"""By volume; a cloth that is no mat is asked about below it (common practice, no source)."""
OVERFILL = 0.1
"""Poured into a channel beyond its brim, to be planed off (common practice, no source)."""


class ChannelTable(CoreTable):
    """The channel of a cast wall, along the outline."""

    width: Length = needed('"8 mm"', "of a channel, at its top")
    depth: Length = needed('"12 mm"', "of a channel")
    bottom: Length | None = optional("its width at the bottom, where its walls slope")
    offset: Annotated[float, quantity("length", low=-1.0, high=1.0, inclusive=True)] = optional(
        "from the outline inwards to its near wall; below zero where it is cut over the edge", 0.0
    )
    sides: Literal["both", "one", "around"] = optional("along both long sides, one, or all around", "both")
    begin: _At | None = optional("where it begins along the piece; without it, at its end")
    end: _At | None = optional("where it ends; without it, at the other end")

    def core(self) -> Channel:
        return Channel(self.width, self.depth, self.offset, self.sides, self.bottom, self.begin, self.end)


class JoinTable(FileModel):
    """When the next pour follows."""

    when: Literal["soft", "firm"] = optional("on one still soft enough to join, or firm enough to stand", "soft")
    earliest: _Time | None = optional("from when on, after the last pour; without it, as the model says")
    latest: Annotated[float, quantity("time", high=86_400.0)] | None = optional("until when, beside earliest")

    @property
    def window_s(self) -> tuple[float, float] | None:
        """Return the stated window, if there is one."""
        if (self.earliest is None) != (self.latest is None):
            raise InputError("join", "needs both ends", todo='write earliest = "0 min", latest = "8 min"')
        return None if self.earliest is None or self.latest is None else (self.earliest, self.latest)


class CastTable(StepBase):
    """Pours of a resin of their own."""

    kind: Literal["cast"] = A_KIND
    resin: Title = needed('"casting-urethane"', "the id of the casting resin")
    volume: Volume | None = optional("how much is cast on each piece, instead of a channel", example='"60 ml"')
    channel: ChannelTable | None = optional("the channel that it fills, instead of a volume")
    overfill: Share | None = optional(
        "poured beyond that, to be planed off: without it 10 % of a channel, 0 of a volume"
    )
    loss: Annotated[float, quantity("mass", inclusive=True)] | None = optional(
        "left in the cup of each pour; without it, what each batch leaves in its cup"
    )
    pours: Annotated[int, count(100)] = optional("in how many pours at least", 1)
    join: JoinTable = optional("when the next pour follows", JoinTable())
    before_press_day: Flag = optional("whether it is poured on an earlier day", True)
    pigment: Title = optional("the pigment, in words", "")
    pigment_to: Title = optional("the pigment of the last pour, to which the colour fades", "")
    pigments: Annotated[tuple[Title, ...], items(20)] = optional(
        "several, in the order in which they are poured, instead of pigment", ()
    )
    fade: Flag | None = optional("of several pigments: whether the colour fades from one to the next")
    loading: Share | None = optional("pigment, as a share of the mass")
    loading_limit: Share | None = optional("the most that the resin's maker allows")

    def core(self) -> CastStep:
        if self.pigments and (self.pigment or self.pigment_to):
            raise InputError("pigments", "is given beside pigment", todo="keep one of them")
        if self.volume is None and self.channel is None:
            raise InputError("kind", "needs a volume or a channel", value="cast", todo=ONE_VOLUME)
        if self.volume is not None and self.channel is not None:
            raise InputError("channel", "is given beside volume", todo="keep one of them")
        if self.pigment_to and (not self.pigment or self.loading is None or self.pours < 2):
            todo = "state pigment, loading and pours"
            raise InputError("pigment_to", "needs a first pigment, a loading and two pours or more", todo=todo)
        overfill = 0.0 if self.channel is None else OVERFILL
        return CastStep(
            name=self.name,
            bench_s=self.bench_s,
            resin_id=self.resin,
            volume_m3=self.volume,
            pours=self.pours,
            before_press_day=self.before_press_day,
            pigments=self.pigments or tuple(filter(None, (self.pigment, self.pigment_to))),
            fade=bool(self.pigment_to) if self.fade is None else self.fade,
            loading=self.loading,
            loading_limit=self.loading_limit,
            channel=self.channel.core() if self.channel else None,
            overfill=overfill if self.overfill is None else self.overfill,
            loss_g=self.loss,
            join=self.join.when,
            join_s=self.join.window_s,
        )


class CastingTable(CoreTable):
    """How a core is made ready for its castings."""

    core_temperature: ShopTemperature | None = optional(
        "how warm the core is to be before it is sealed and poured; without it, as the shop"
    )
    core_moisture: Share = optional("water over dry mass that the core may hold", DRY_WOOD)
    warm: _Time = optional("how long warming and drying the core takes", 900.0)
    seal: _Time = optional("how long sealing the channel takes", 600.0)
    seal_wait: _Time | None = optional("how long the sealer dries; without it nobody counts: as its maker says")
    tape: _Time = optional("how long taping and levelling the core takes", 900.0)

    def core(self) -> CastingWork:
        return CastingWork(self.core_temperature, self.core_moisture, self.warm, self.seal, self.tape, self.seal_wait)


class FabricTable(StepBase):
    """Lay and wet out cloth."""

    kind: Literal["fabric"] = A_KIND
    fabric: Title | None = optional("a cloth of the table: 'layup fabric --list'")
    areal_weight: ArealWeight | None = optional("instead of fabric: its weight, dry")
    fibre: Title | None = optional("what cloth of one's own weight is made of")
    fibre_density: Density | None = optional("where the fibre is not in the table")
    layers: Annotated[int, count(100)] = optional("how many of it", 1)
    width: Length | None = optional("of a strip; without it the cloth covers the outline")
    overhang: _Overhang | None = optional("of this cloth, instead of the outline's")
    target_fibre_fraction: FibreFraction | None = optional("of this cloth, instead of the plan's")
    price_per_m2: Price | None = optional("for the cost")

    def core(self) -> Fabric:
        """Return the cloth, from the table or as stated."""
        if self.fabric is not None:
            if self.areal_weight is not None or self.fibre is not None:
                raise InputError("fabric", "has its weight and fibre in the table", todo="leave them out, or fabric")
            if self.fabric not in FABRICS:
                raise InputError("fabric", "is not in the table", value=self.fabric, todo=meant(self.fabric, FABRICS))
            return FABRICS[self.fabric]
        if self.areal_weight is None or self.fibre is None:
            missing = "areal_weight" if self.areal_weight is None else "fibre"
            example = 'areal_weight = "200 g/m^2" and fibre = "E-glass", or fabric = "glass style 7628"'
            raise InputError("kind", f"needs {missing}", value="fabric", todo=f"write {example}")
        if self.fibre not in FIBRES and self.fibre_density is None:
            hint = f"{meant(self.fibre, FIBRES)} - or write its fibre_density"
            raise InputError("fibre", "is not in the table", value=self.fibre, todo=hint)
        return Fabric(self.name, self.fibre, "", self.areal_weight, "the plan")

    def density_g_cm3(self) -> float:
        """Return the density of the fibre, as stated or from the table."""
        return FIBRES[self.core().fibre].density_g_cm3 if self.fibre_density is None else self.fibre_density

    def fibre_by_volume(self, target: FibreFraction) -> float:
        """Return a target by volume; one above square packing is refused."""
        if target.by == "volume":
            return require_target_fraction(target.value)
        return require_target_fraction(fibre_volume_fraction(target.value, self.density_g_cm3(), CURED_DENSITY_G_CM3))

    def fibre_by_mass(self, target: FibreFraction) -> float:
        """Return the same by mass."""
        by_volume = self.fibre_by_volume(target)
        if target.by == "weight":
            return target.value
        return fibre_mass_fraction(by_volume, self.density_g_cm3(), CURED_DENSITY_G_CM3)

    def oddity(self, target: FibreFraction) -> tuple[str, str] | None:
        """Return what is odd about a target, and what to check: more than such cloth usually holds, or hardly any."""
        form, by_volume = CLOTH_FORMS.get(self.core().form), self.fibre_by_volume(target)
        if form is not None and by_volume > form.usual_high:
            usual = f"{form.usual_low:g} to {form.usual_high:g} by volume"
            wrong = f"is more fibre than {self.fabric} usually holds, {usual}"
            return wrong, f"as {form.name} cloth goes; check whether it is by weight or by volume"
        if by_volume < LEAST_FIBRE and (form is None or form.usual_low > LEAST_FIBRE):
            return f"is {by_volume:.2g} by volume, little fibre", f"cloth laid by hand holds {LEAST_FIBRE:g} and more"
        return None

    def step(self, target: FibreFraction) -> FabricStep:
        """Return the step as plain data of the core; `target` is its fibre fraction, or the plan's."""
        cloth = self.core()
        return FabricStep(
            name=self.name,
            bench_s=self.bench_s,
            areal_weight_g_m2=cloth.areal_weight_g_m2,
            fibre=cloth.fibre,
            fibre_density_g_cm3=self.density_g_cm3(),
            fibre_mass_fraction=self.fibre_by_mass(target),
            layers=self.layers,
            width_m=self.width,
            overhang_m=self.overhang,
            price_per_m2=self.price_per_m2,
        )


class BondTable(StepBase):
    """Wet a face that drinks resin."""

    kind: Literal["bond"] = A_KIND
    surface: Title = needed('"base sheet"', "a face that drinks resin, of the table: 'layup fabric --list'")
    uptake: ArealWeight | None = optional("what it drinks, where the table does not know it or you measured")
    coverage: Share | None = optional("the share of the outline that it covers")
    area: Area | None = optional("its area on one piece, instead of coverage")
    presealed: Flag = optional("true: it was sealed the day before", False)

    def core(self) -> BondStep:
        """Return the step; an uptake of one's own has no band and no figure for a sealed face."""
        if self.coverage is not None and self.area is not None:
            raise InputError("area", "is given beside coverage", todo="keep one of them")
        coverage = 1.0 if self.coverage is None else self.coverage
        if self.uptake is not None:
            if self.presealed:
                raise InputError("presealed", "is given beside an uptake", todo="write the uptake of the sealed face")
            return BondStep(self.name, self.bench_s, self.surface, self.uptake, coverage, self.area)
        face = self._face()
        return BondStep(
            name=self.name,
            bench_s=self.bench_s,
            surface=self.surface,
            uptake_g_m2=face.uptake_g_m2,
            coverage=coverage,
            area_m2=self.area,
            uptake_low_g_m2=face.low_g_m2,
            uptake_high_g_m2=face.high_g_m2,
            presealed_uptake_g_m2=face.presealed_g_m2,
        )

    def _face(self) -> Surface:
        """Return the table's entry for the surface, once sealed where the plan says so."""
        face = SURFACES.get(self.surface)
        if face is None:
            hint = f'{meant(self.surface, SURFACES)} - or write its uptake = "90 g/m^2"'
            raise InputError("surface", "is not in the table", value=self.surface, todo=hint)
        if not self.presealed:
            return face
        if face.presealed_g_m2 is None:
            raise InputError("presealed", "is no use here", value=self.surface, todo="leave it out")
        return face.sealed()


class PlaceTable(StepBase):
    """Something that takes time and no resin."""

    kind: Literal["place"] = A_KIND
    thickness: Annotated[float, quantity("length", low=0.001, high=0.2, inclusive=True)] | None = optional(
        "how thick a core is that is put in: how long it takes to warm"
    )

    def core(self) -> PlaceStep:
        return PlaceStep(name=self.name, bench_s=self.bench_s, thickness_m=self.thickness)


StepTable = Annotated[FabricTable | BondTable | PlaceTable | CastTable, Field(discriminator="kind")]
