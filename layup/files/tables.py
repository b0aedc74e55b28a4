"""What boards are made of, each number with its source, and how a row is found by what people type of it.

Generic fibres, the forms that cloth comes in, fabrics by style or by form and weight, faces that drink resin when they
are bonded. Weigh a coupon of your own roll, and a piece of your own wood before and after: rolls differ by 5 %, and no
table knows how a face was sanded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TypeVar

from layup.chemistry.fabric import OZ_PER_FT2_G_M2, OZ_PER_YD2_G_M2

_PRACTICE = "common practice, no source"

# -- fibres ----------------------------------------------------------------------------------------------------------

_JANG = "B. Z. Jang, Advanced Polymer Composites, ASM International, 1994"
_MEMORY = "from memory"
_LECTURES = "typical band of university lecture notes on composites"


@dataclass(frozen=True, slots=True)
class Fibre:
    """A kind of fibre: its density, and where that comes from."""

    name: str
    density_g_cm3: float
    source: str

    @property
    def searched(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class ClothForm:
    """How the fibre is laid, and the fibre volume fraction (0..1) that such cloth usually reaches."""

    name: str
    usual_low: float
    usual_high: float
    source: str


Row = TypeVar("Row", Fibre, ClothForm, "Fabric", "Surface")


def _by_name(*rows: Row) -> dict[str, Row]:
    return {row.name: row for row in rows}


FIBRES = _by_name(
    Fibre("E-glass", 2.54, _JANG),
    Fibre("S-glass", 2.48, _JANG),
    Fibre("carbon", 1.76, _JANG),
    Fibre("aramid", 1.44, _JANG),
    Fibre("basalt", 2.65, _MEMORY),
    Fibre("flax", 1.45, _MEMORY),
)

CLOTH_FORMS = _by_name(
    ClothForm("mat", 0.15, 0.25, _LECTURES),
    ClothForm("woven", 0.40, 0.55, _LECTURES),
    ClothForm("stitched", 0.45, 0.60, _LECTURES),
    ClothForm("unidirectional", 0.60, 0.70, _LECTURES),
)


# -- fabrics ---------------------------------------------------------------------------------------------------------

_IPC = "IPC-4412 style, nominal mass from memory"
_STYLE = "a US style number of the glass weavers; nominal mass from memory"
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

    @property
    def searched(self) -> str:
        """What a search looks at: also the ounces that a roll in the US is labelled with."""
        ounce_g_m2 = OZ_PER_FT2_G_M2 if self.form == "mat" else OZ_PER_YD2_G_M2
        ounces = self.areal_weight_g_m2 / ounce_g_m2
        short = "ud" if self.form == "unidirectional" else ""
        return f"{self.name} {self.fibre} {self.form} {short} {self.areal_weight_g_m2:.0f} {ounces:.1f} {ounces:.0f} oz"


def _styles(source: str, **weights_g_m2: float) -> tuple[Fabric, ...]:
    """Return glass cloths by their style: a woven one is named by its number alone."""
    return tuple(
        Fabric(f"glass style {name[1:]}", "E-glass", "woven", g_m2, source) for name, g_m2 in weights_g_m2.items()
    )


def _usual(fibre: str, form: str, weave: str, *weights_g_m2: int) -> tuple[Fabric, ...]:
    """Return a weave in the weights that the trade sells it in."""
    word = fibre.removeprefix("E-")
    return tuple(Fabric(f"{word} {weave} {g_m2}", fibre, form, float(g_m2), _TRADE) for g_m2 in weights_g_m2)


FABRICS = _by_name(
    *_styles(_IPC, _106=24.4, _1067=30.7, _1080=46.8, _1078=47.8, _1086=54.0, _2113=78.0, _2125=88.0, _2116=103.8),
    *_styles(_IPC, _2165=122.0, _1652=138.3, _7628=203.4, _7635=232.0),
    *_styles(_STYLE, _120=107.0, _1522=125.5, _3733=197.0, _7781=303.0, _7500=326.0),
    *_usual("E-glass", "woven", "plain", 50, 80, 100, 125, 160, 200, 290),
    *_usual("E-glass", "woven", "twill", 160, 200, 280, 390),
    *_usual("E-glass", "woven", "roving", 300, 500, 600, 800),
    *_usual("E-glass", "mat", "veil", 30, 50),
    *_usual("E-glass", "mat", "mat", 225, 300, 450, 600),
    Fabric("glass mat 1 oz", "E-glass", "mat", 305.15, _MAT),
    Fabric("glass mat 1.5 oz", "E-glass", "mat", 457.73, _MAT),
    Fabric("glass mat 2 oz", "E-glass", "mat", 610.30, _MAT),
    *_usual("E-glass", "stitched", "biaxial", 200, 300, 400, 450, 600, 800),
    *_usual("E-glass", "stitched", "triaxial", 450, 600, 650, 750, 900, 1150),
    *_usual("E-glass", "stitched", "quadraxial", 600, 800, 1200),
    *_usual("E-glass", "unidirectional", "unidirectional", 150, 225, 300, 425, 500, 600),
    *_usual("S-glass", "woven", "plain", 135, 200),
    *_usual("carbon", "mat", "veil", 10, 20, 30),
    *_usual("carbon", "woven", "plain", 90, 160, 200),
    *_usual("carbon", "woven", "twill", 160, 200, 245, 285, 400, 600),
    *_usual("carbon", "woven", "spread tow", 80, 100, 160),
    *_usual("carbon", "stitched", "biaxial", 150, 200, 300, 400, 600),
    *_usual("carbon", "stitched", "triaxial", 300, 450),
    *_usual("carbon", "unidirectional", "unidirectional", 75, 100, 150, 200, 250, 300, 400),
    *_usual("aramid", "woven", "plain", 60, 110, 170),
    *_usual("aramid", "woven", "twill", 170, 300),
    *_usual("aramid", "stitched", "biaxial", 300),
    *_usual("basalt", "woven", "plain", 200),
    *_usual("basalt", "woven", "twill", 220, 360),
    *_usual("basalt", "stitched", "biaxial", 300, 400, 600),
    *_usual("basalt", "unidirectional", "unidirectional", 200, 300, 400),
    *_usual("flax", "woven", "twill", 200, 300, 400),
    *_usual("flax", "stitched", "biaxial", 200, 350),
    *_usual("flax", "unidirectional", "unidirectional", 110, 180, 275),
)


# -- faces -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Surface:
    """What a face takes up of resin, with the band of it; `presealed_g_m2` after a sealing coat the day before."""

    name: str
    uptake_g_m2: float
    low_g_m2: float
    high_g_m2: float
    presealed_g_m2: float | None = None
    source: str = _PRACTICE
    specific_gravity: float | None = None
    """Of a wood whose uptake is `by_density`: its dry mass over its volume at 12 % moisture, by that of water."""

    @property
    def searched(self) -> str:
        return self.name if self.specific_gravity is None else f"{self.name} wood by density"

    def sealed(self) -> Surface:
        """Return the same face once it has its sealing coat: the band shrinks with the uptake."""
        share = 1.0 if self.presealed_g_m2 is None else self.presealed_g_m2 / self.uptake_g_m2
        low, usual, high = (share * each for each in (self.low_g_m2, self.uptake_g_m2, self.high_g_m2))
        return replace(self, uptake_g_m2=usual, low_g_m2=low, high_g_m2=high, presealed_g_m2=None)


UPTAKE_AT_ONE_G_M2 = 80.0
"""What a face of specific gravity 1 would drink: it lays `by_density` through the four woods that the trade knows."""
LOW, HIGH = 0.6, 1.6
"""Ends of its band as shares of it: how a face was sanded and how wide its pores are matter as much."""
SEALED = 0.4
"""Share of its bare uptake that a sealed face drinks."""

_HANDBOOK = "Wood Handbook (FPL-GTR-282), table 5-3a, from memory"
_IMPORTED = "Wood Handbook (FPL-GTR-282), table 5-5a, green volume, from memory"


def by_density(wood: str, specific_gravity: float, source: str = _HANDBOOK) -> Surface:
    """Return what the face of a wood drinks for which nobody publishes it: 80 g/m^2 / sqrt(specific gravity), to 5.

    The lighter a wood the more of it is pores, and the wider they are. Common practice, no source: a curve of our own
    through the figures of the trade for ash, poplar, paulownia and balsa (specific gravity 0.60, 0.42, 0.27, 0.16).
    """
    bare_g_m2 = UPTAKE_AT_ONE_G_M2 / specific_gravity**0.5
    likely_g_m2, low_g_m2, high_g_m2, sealed_g_m2 = (
        5.0 * round(share * bare_g_m2 / 5.0) for share in (1.0, LOW, HIGH, SEALED)
    )
    return Surface(
        f"{wood} core face",
        likely_g_m2,
        low_g_m2,
        high_g_m2,
        sealed_g_m2,
        f"by density: {_PRACTICE}; its specific gravity: {source}",
        specific_gravity,
    )


SURFACES = _by_name(
    Surface("base sheet", 60.0, 40.0, 90.0),
    Surface("topsheet", 60.0, 40.0, 90.0),
    Surface("printed cloth", 120.0, 70.0, 200.0),
    Surface("printed paper", 60.0, 30.0, 100.0),
    Surface("steel edge", 100.0, 60.0, 150.0),
    Surface("aluminium sheet", 60.0, 40.0, 90.0),
    Surface("plastic sidewall", 60.0, 40.0, 90.0),
    Surface("rubber", 80.0, 50.0, 120.0),
    Surface("cork", 120.0, 70.0, 200.0, 60.0),
    Surface("ash core face", 100.0, 80.0, 130.0, 50.0),
    Surface("poplar core face", 120.0, 90.0, 160.0, 50.0),
    Surface("paulownia core face", 180.0, 150.0, 250.0, 60.0),
    Surface("balsa core face", 200.0, 150.0, 250.0, 70.0),
    by_density("alder", 0.41),
    by_density("aspen", 0.38),
    by_density("basswood", 0.37),
    by_density("beech", 0.64),
    by_density("paper birch", 0.55),
    by_density("yellow birch", 0.62),
    by_density("cherry", 0.50),
    by_density("cottonwood", 0.40),
    by_density("elm", 0.50),
    by_density("hickory", 0.72),
    by_density("hard maple", 0.63),
    by_density("soft maple", 0.54),
    by_density("red oak", 0.63),
    by_density("white oak", 0.68),
    by_density("walnut", 0.55),
    by_density("Douglas-fir", 0.48),
    by_density("white fir", 0.39),
    by_density("larch", 0.52),
    by_density("ponderosa pine", 0.40),
    by_density("white pine", 0.35),
    by_density("redcedar", 0.32),
    by_density("redwood", 0.40),
    by_density("spruce", 0.40),
    by_density("okoume", 0.33, _IMPORTED),
    by_density("mahogany", 0.45, _IMPORTED),
    by_density("teak", 0.55, _IMPORTED),
    by_density("bamboo", 0.65, "laminated strips, from memory"),
    Surface("end grain", 200.0, 150.0, 250.0, 70.0),
    Surface("plywood", 100.0, 70.0, 150.0, 50.0),
    Surface("fibreboard", 130.0, 80.0, 200.0, 60.0),
    Surface("foam core face", 200.0, 120.0, 350.0),
    Surface("honeycomb core face", 250.0, 150.0, 400.0),
    Surface("veneer", 100.0, 80.0, 150.0, 50.0),
    Surface("cured laminate", 60.0, 40.0, 90.0),
    Surface("peel ply", 80.0, 50.0, 120.0),
)


# -- finding ---------------------------------------------------------------------------------------------------------

FEW = 3
"""So many rows that may have been meant are all named."""

Found = TypeVar("Found", Fibre, Fabric, Surface)


def find(text: str, table: Mapping[str, Found]) -> list[Found]:
    """Return the rows that hold each word typed, those first where each begins a word; a misspelt word is mended.

    "tri 75" finds the triaxial cloth of 750 g/m^2, "22 oz" too; an empty text finds all.
    """
    typed = text.lower().split()
    words = {row.name: row.searched.lower().split() for row in table.values()}
    if not (names := _holding(typed, words)):
        spelt = sorted({word for each in words.values() for word in each})
        mended = [get_close_matches(word, spelt, n=1, cutoff=0.6) for word in typed]
        names = _holding([word[0] for word in mended], words) if all(mended) else []
    return [table[name] for name in names]


def _holding(typed: list[str], words: Mapping[str, list[str]]) -> list[str]:
    """Return the names whose words hold all that was typed, first those with most of it as whole words, as a name."""

    def nearness(name: str) -> tuple[int, int, bool]:
        whole, named = (sum(each in known for each in typed) for known in (words[name], name.lower().split()))
        return whole, named, all(any(word.startswith(each) for word in words[name]) for each in typed)

    holding = [name for name, known in words.items() if all(any(each in word for word in known) for each in typed)]
    return sorted(holding, key=nearness, reverse=True)


def meant(text: str, table: Mapping[str, Found]) -> str:
    """Return a hint for a name that is not in a table: the rows it may mean, or how to see them all."""
    found = find(text, table)
    if 0 < len(found) <= FEW:
        return f"did you mean {' or '.join(row.name for row in found)}?"
    return "'layup fabric --list' shows what is in it"
