"""Generic reinforcing fibres and the forms that cloth comes in, each number with its source."""

from __future__ import annotations

from dataclasses import dataclass

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
