"""Generic reinforcing fibres and the forms that cloth comes in, each number with its source.

Generic fabrics by style or by form and nominal weight. Weigh a coupon of your own roll: rolls differ by 5 %.

Faces that drink resin when they are bonded, and the woods that cores are made of, each number with its source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

# -- fibres ----------------------------------------------------------------------------------------------------------

_JANG = "B. Z. Jang, Advanced Polymer Composites, ASM International, 1994"
_MEMORY = "from memory"
_LECTURES = "typical band of university lecture notes on composites"


@dataclass(frozen=True, slots=True)
class Fibre:
    """A kind of fibre: its density, the band it lies in, and where the numbers come from."""

    name: str
    density_g_cm3: float
    low_g_cm3: float
    high_g_cm3: float
    source: str


@dataclass(frozen=True, slots=True)
class ClothForm:
    """How the fibre is laid, and the fibre volume fraction (0..1) that such cloth usually reaches."""

    name: str
    usual_low: float
    usual_high: float
    source: str


FIBRES = {
    fibre.name: fibre
    for fibre in (
        Fibre("E-glass", 2.54, 2.54, 2.60, _JANG),
        Fibre("S-glass", 2.48, 2.46, 2.49, _JANG),
        Fibre("carbon", 1.76, 1.76, 1.80, _JANG),
        Fibre("aramid", 1.44, 1.44, 1.45, _JANG),
        Fibre("basalt", 2.65, 2.60, 2.75, _MEMORY),
        Fibre("flax", 1.45, 1.40, 1.50, _MEMORY),
    )
}

CLOTH_FORMS = {
    form.name: form
    for form in (
        ClothForm("mat", 0.15, 0.25, _LECTURES),
        ClothForm("woven", 0.40, 0.55, _LECTURES),
        ClothForm("stitched", 0.45, 0.60, _LECTURES),
        ClothForm("unidirectional", 0.60, 0.70, _LECTURES),
    )
}


# -- fabrics ---------------------------------------------------------------------------------------------------------

_IPC = "IPC-4412 style, nominal mass from memory"
_TRADE = "a usual trade weight; common practice, no source"
_MAT = "mat is sold by the ounce per square foot, 305.15 g/m^2 each"


@dataclass(frozen=True, slots=True)
class Fabric:
    """A generic cloth: its fibre and form by name, its nominal areal weight, and where that comes from."""

    name: str
    fibre: str
    form: str
    areal_weight_g_m2: float
    source: str


FABRICS = {
    fabric.name: fabric
    for fabric in (
        Fabric("glass style 106", "E-glass", "woven", 24.4, _IPC),
        Fabric("glass style 1080", "E-glass", "woven", 46.8, _IPC),
        Fabric("glass style 2113", "E-glass", "woven", 78.0, _IPC),
        Fabric("glass style 2116", "E-glass", "woven", 103.8, _IPC),
        Fabric("glass style 1652", "E-glass", "woven", 138.3, _IPC),
        Fabric("glass style 7628", "E-glass", "woven", 203.4, _IPC),
        Fabric("glass twill 280", "E-glass", "woven", 280.0, _TRADE),
        Fabric("glass mat 1 oz", "E-glass", "mat", 305.15, _MAT),
        Fabric("glass mat 1.5 oz", "E-glass", "mat", 457.73, _MAT),
        Fabric("glass biaxial 300", "E-glass", "stitched", 300.0, _TRADE),
        Fabric("glass biaxial 450", "E-glass", "stitched", 450.0, _TRADE),
        Fabric("glass biaxial 600", "E-glass", "stitched", 600.0, _TRADE),
        Fabric("glass triaxial 750", "E-glass", "stitched", 750.0, _TRADE),
        Fabric("glass unidirectional 300", "E-glass", "unidirectional", 300.0, _TRADE),
        Fabric("carbon twill 200", "carbon", "woven", 200.0, _TRADE),
        Fabric("carbon biaxial 300", "carbon", "stitched", 300.0, _TRADE),
        Fabric("carbon unidirectional 150", "carbon", "unidirectional", 150.0, _TRADE),
        Fabric("aramid plain 170", "aramid", "woven", 170.0, _TRADE),
        Fabric("basalt twill 220", "basalt", "woven", 220.0, _TRADE),
        Fabric("flax twill 200", "flax", "woven", 200.0, _TRADE),
    )
}


# -- surfaces --------------------------------------------------------------------------------------------------------

_PRACTICE = "common practice, no source"
_FPL = "Wood Handbook, FPL-GTR-282, table 5-3a"
_UPTAKE_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Surface:
    """What a face takes up of resin, with the band of it; `presealed_g_m2` after a sealing coat the day before."""

    name: str
    uptake_g_m2: float
    low_g_m2: float
    high_g_m2: float
    presealed_g_m2: float | None = None
    source: str = _PRACTICE

    def sealed(self) -> Surface:
        """Return the same face once it has its sealing coat: the band shrinks with the uptake."""
        share = 1.0 if self.presealed_g_m2 is None else self.presealed_g_m2 / self.uptake_g_m2
        low, usual, high = (share * each for each in (self.low_g_m2, self.uptake_g_m2, self.high_g_m2))
        return replace(self, uptake_g_m2=usual, low_g_m2=low, high_g_m2=high, presealed_g_m2=None)


@dataclass(frozen=True, slots=True)
class Wood:
    """A core wood at 12 % moisture. Specific gravity is oven-dry mass over the volume at 12 %."""

    name: str
    specific_gravity: float
    modulus_Pa: float
    source: str

    @property
    def density_g_cm3(self) -> float:
        """Return the density at 12 % moisture: specific gravity times 1.12."""
        return self.specific_gravity * 1.12


SURFACES = {
    surface.name: surface
    for surface in (
        Surface("base sheet", 60.0, 40.0, 90.0),
        Surface("topsheet", 60.0, 40.0, 90.0),
        Surface("steel edge", 100.0, 60.0, 150.0),
        Surface("rubber", 80.0, 50.0, 120.0),
        Surface("ash core face", 100.0, 80.0, 130.0, 50.0),
        Surface("poplar core face", 120.0, 90.0, 160.0, 50.0),
        Surface("paulownia core face", 180.0, 150.0, 250.0, 60.0),
        Surface("balsa core face", 200.0, 150.0, 250.0, 70.0),
        Surface("end grain", 200.0, 150.0, 250.0, 70.0),
        Surface("foam core face", 200.0, 120.0, 350.0),
        Surface("veneer", 100.0, 80.0, 150.0, 50.0),
        Surface("cured laminate", 60.0, 40.0, 90.0),
    )
}

WOODS = {
    wood.name: wood
    for wood in (
        Wood("white ash", 0.60, 12.0e9, _FPL),
        Wood("sugar maple", 0.63, 12.6e9, _UPTAKE_MEMORY),
        Wood("yellow-poplar", 0.42, 10.9e9, _UPTAKE_MEMORY),
        Wood("paulownia", 0.25, 4.4e9, _UPTAKE_MEMORY),
        Wood("balsa", 0.16, 3.4e9, _UPTAKE_MEMORY),
    )
}
