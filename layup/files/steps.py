"""The steps of a plan file, each kind with its own keys."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from layup.chemistry.laminate import (
    CURED_DENSITY_G_CM3,
    fibre_mass_fraction,
    fibre_volume_fraction,
    require_target_fraction,
)
from layup.errors import InputError
from layup.files.fields import (
    Area,
    ArealWeight,
    CoreTable,
    Density,
    FibreFraction,
    Flag,
    Length,
    Minutes,
    Price,
    Share,
    Title,
    Volume,
    number,
    quantity,
)
from layup.files.tables import CLOTH_FORMS, FABRICS, FIBRES, SURFACES, ClothForm, Fabric, Surface
from layup.files.toml import nearest
from layup.planning.plan import BondStep, CastStep, FabricStep, PlaceStep

_A_KIND = Field(description="fabric, bond, place or cast; it says which keys below may stand in the step")


class _StepTable(CoreTable):
    """What every step has; its minutes are for all pieces together, with one pair of hands."""

    name: Title = Field(examples=['"Lower glass"'], description="what it is")
    minutes: Minutes = Field(examples=["10"], description="how long it takes one pair of hands, for all pieces")

    @property
    def bench_s(self) -> float:
        return self.minutes * 60.0


class FabricTable(_StepTable):
    """Lay and wet out cloth."""

    kind: Literal["fabric"] = _A_KIND
    fabric: Title | None = Field(
        default=None, description="a cloth of the table; the error message of a wrong one lists them"
    )
    areal_weight: ArealWeight | None = Field(default=None, description="instead of fabric: its weight, dry")
    fibre: Title | None = Field(default=None, description="beside areal_weight: what it is made of")
    fibre_density: Density | None = Field(default=None, description="where the fibre is not in the table")
    layers: Annotated[int, number(low=1, high=100, inclusive=True, whole=True)] = Field(
        default=1, description="how many of it"
    )
    width: Length | None = Field(default=None, description="of a strip; without it the cloth covers the outline")
    overhang: Annotated[float, quantity("length", high=1.0, inclusive=True)] | None = Field(
        default=None, description="of this cloth, instead of the outline's"
    )
    target_fibre_fraction: FibreFraction | None = Field(
        default=None, description="of this cloth, instead of the plan's"
    )
    price_per_m2: Price | None = Field(default=None, description="for the cost")

    def core(self) -> Fabric:
        """Return the cloth, from the table or as stated."""
        if self.fabric is not None:
            if self.areal_weight is not None or self.fibre is not None:
                raise InputError("fabric", "has its weight and fibre in the table", todo="leave them out, or fabric")
            if self.fabric not in FABRICS:
                raise InputError("fabric", "is not in the table", value=self.fabric, todo=nearest(self.fabric, FABRICS))
            return FABRICS[self.fabric]
        if self.areal_weight is None or self.fibre is None:
            missing = "areal_weight" if self.areal_weight is None else "fibre"
            example = 'areal_weight = "200 g/m^2" and fibre = "E-glass", or fabric = "glass style 7628"'
            raise InputError("kind", f"needs {missing}", value="fabric", todo=f"write {example}")
        if self.fibre not in FIBRES and self.fibre_density is None:
            hint = f"{nearest(self.fibre, FIBRES)} - or write its fibre_density"
            raise InputError("fibre", "is not in the table", value=self.fibre, todo=hint)
        return Fabric(self.name, self.fibre, "", self.areal_weight, "the plan")

    def density_g_cm3(self) -> float:
        """Return the density of the fibre, as stated or from the table."""
        return FIBRES[self.core().fibre].density_g_cm3 if self.fibre_density is None else self.fibre_density

    def fibre_by_volume(self, target: FibreFraction) -> float:
        """Return this step's own target, or the plan's, by volume; one above square packing is refused."""
        target = self.target_fibre_fraction or target
        if target.by == "volume":
            return require_target_fraction(target.value)
        return require_target_fraction(fibre_volume_fraction(target.value, self.density_g_cm3(), CURED_DENSITY_G_CM3))

    def fibre_by_mass(self, target: FibreFraction) -> float:
        """Return the same by mass."""
        by_volume = self.fibre_by_volume(target)
        target = self.target_fibre_fraction or target
        if target.by == "weight":
            return target.value
        return fibre_mass_fraction(by_volume, self.density_g_cm3(), CURED_DENSITY_G_CM3)

    def above_usual(self, target: FibreFraction) -> ClothForm | None:
        """Return the form of a cloth from the table whose target is above what such cloth usually reaches."""
        form = CLOTH_FORMS.get(self.core().form)
        return form if form is not None and self.fibre_by_volume(target) > form.usual_high else None

    def step(self, target: FibreFraction) -> FabricStep:
        """Return the step as plain data of the core; `target` is the plan's own fibre fraction."""
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


class BondTable(_StepTable):
    """Wet a face that drinks resin."""

    kind: Literal["bond"] = _A_KIND
    surface: Title = Field(
        examples=['"base sheet"'],
        description="a face that drinks resin, of the table; the error message of a wrong one lists them",
    )
    uptake: ArealWeight | None = Field(
        default=None, description="what it drinks, where the table does not know it or you measured"
    )
    coverage: Share | None = Field(default=None, description="the share of the outline that it covers")
    area: Area | None = Field(default=None, description="its area on one piece, instead of coverage")
    presealed: Flag = Field(default=False, description="true once it was sealed the day before")

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
            hint = f'{nearest(self.surface, SURFACES)} - or write its uptake = "90 g/m^2"'
            raise InputError("surface", "is not in the table", value=self.surface, todo=hint)
        if not self.presealed:
            return face
        if face.presealed_g_m2 is None:
            raise InputError("presealed", "is no use here", value=self.surface, todo="leave it out")
        return face.sealed()


class PlaceTable(_StepTable):
    """Something that takes time and no resin."""

    kind: Literal["place"] = _A_KIND

    def core(self) -> PlaceStep:
        """Return the step."""
        return PlaceStep(name=self.name, bench_s=self.bench_s)


class CastTable(_StepTable):
    """A pour of its own resin."""

    kind: Literal["cast"] = _A_KIND
    resin: Title = Field(examples=['"casting-urethane"'], description="the id of the casting resin")
    volume: Volume = Field(examples=['"60 ml"'], description="how much is poured in all")
    pours: Annotated[int, number(low=1, high=100, inclusive=True, whole=True)] = Field(
        default=1, description="in how many pours"
    )
    before_press_day: Flag = Field(default=True, description="whether it is poured on an earlier day")
    pigment: Title = Field(default="", description="the pigment, in words")
    pigment_to: Title = Field(default="", description="the pigment of the last pour, where the colour changes")
    loading: Share | None = Field(default=None, description="pigment, as a share of the mass")
    loading_limit: Share | None = Field(default=None, description="the most that the resin's maker allows")

    def core(self) -> CastStep:
        """Return the step."""
        return CastStep(
            name=self.name,
            bench_s=self.bench_s,
            resin_id=self.resin,
            volume_m3=self.volume,
            pours=self.pours,
            before_press_day=self.before_press_day,
            pigment=self.pigment,
            pigment_to=self.pigment_to,
            loading=self.loading,
            loading_limit=self.loading_limit,
        )


StepTable = Annotated[FabricTable | BondTable | PlaceTable | CastTable, Field(discriminator="kind")]
