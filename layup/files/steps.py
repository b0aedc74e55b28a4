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
from layup.files.cast_table import CastTable
from layup.files.fields import (
    A_KIND,
    Area,
    ArealWeight,
    Density,
    FibreFraction,
    Flag,
    Length,
    Price,
    Share,
    StepBase,
    Title,
    number,
    quantity,
)
from layup.files.tables import CLOTH_FORMS, FABRICS, FIBRES, SURFACES, ClothForm, Fabric, Surface, meant
from layup.planning.plan import BondStep, FabricStep, PlaceStep


class FabricTable(StepBase):
    """Lay and wet out cloth."""

    kind: Literal["fabric"] = A_KIND
    fabric: Title | None = Field(default=None, description="a cloth of the table: 'layup fabric --list'")
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


class BondTable(StepBase):
    """Wet a face that drinks resin."""

    kind: Literal["bond"] = A_KIND
    surface: Title = Field(
        examples=['"base sheet"'],
        description="a face that drinks resin, of the table: 'layup fabric --list'",
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

    def core(self) -> PlaceStep:
        """Return the step."""
        return PlaceStep(name=self.name, bench_s=self.bench_s)


StepTable = Annotated[FabricTable | BondTable | PlaceTable | CastTable, Field(discriminator="kind")]
