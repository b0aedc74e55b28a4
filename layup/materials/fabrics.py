"""Generic fabrics by style or by form and nominal weight. Weigh a coupon of your own roll: rolls differ by 5 %."""

from __future__ import annotations

from dataclasses import dataclass

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
