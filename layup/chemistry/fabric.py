"""Dry cloth: its mass per unit area, from a label, a weighed coupon or its weave."""

from __future__ import annotations

import re

from layup.chemistry.numerics import require_between, require_positive
from layup.dimensions import DIMENSIONS, TEX_YARDS_PER_POUND
from layup.errors import InputError
from layup.units import areal_weight

OZ_PER_YD2_G_M2, OZ_PER_FT2_G_M2 = (DIMENSIONS["areal_weight"].common[unit] for unit in ("oz/yd^2", "oz/ft^2"))

HEAVIEST_G_M2 = 100_000.0
"""As heavy as 40 mm of solid glass: no cloth comes near it, so above it a unit was mistaken."""

_LABELS_G_M2 = {
    "oz/yd2": OZ_PER_YD2_G_M2,
    "oz/sqyd": OZ_PER_YD2_G_M2,
    "oz/ft2": OZ_PER_FT2_G_M2,
    "oz/sqft": OZ_PER_FT2_G_M2,
    "g/m2": 1.0,
    "g/sqm": 1.0,
    "gsm": 1.0,
    "kg/m2": 1000.0,
}
_TWIST = r"(?: (?:[SZ] ?\d+|\d+(?:\.\d+)? ?[SZ]))?"
_US_YARN = re.compile(
    r"(?:[ESCARDL] ?[CST] ?)?(?:BC|DE|[B-HJ-U])[ -]?(?P<yield>\d{1,4}(?:\.\d+)?)"
    r"(?:[ -](?P<twisted>\d{1,3})/(?P<plied>\d{1,3}))?" + _TWIST,
    re.ASCII,
)
"""Glass, form and filament in letters; hundreds of yards a pound; strands twisted and plied; the twist."""
_TEX_YARN = re.compile(
    r"[ESCARDL] ?[CDST] ?\d{1,2}(?:\.\d+)?[ -](?P<tex>\d{1,5}(?:\.\d+)?)"
    + _TWIST
    + r"(?:(?:[ -](?P<twisted>\d{1,3}))? ?X ?(?P<plied>\d{1,3})"
    + _TWIST
    + ")?",
    re.ASCII,
)
"""Glass and form in letters, filament in micrometres; tex of a strand, its twist; strands twisted x plied, theirs."""
_PLAIN_OUNCES = ("oz", "ounce", "ounces")


def areal_weight_from_label_g_m2(value: float, unit: str) -> float:
    """Convert the weight printed on a roll of cloth to the mass of the dry cloth per unit area [g/m^2].

    Raises RangeError for a weight that no cloth has; InputError for a unit that is not known, or that could mean two
    things.

    1 oz/yd^2 = (453.59237/16)/0.9144^2 g/m^2, and 1 oz/ft^2 is nine times that. In the US trade chopped mat is
    labelled in ounces per square foot and every other fabric in ounces per square yard, both as plain "oz": the two
    readings of one label differ by nine, so "oz" alone is never guessed. Source: International yard and pound
    agreement, 1959 (exact values).

    >>> round(areal_weight_from_label_g_m2(6, "oz/yd^2"), 3)
    203.434
    >>> round(areal_weight_from_label_g_m2(1.5, "oz/ft2"), 1)
    457.7

    Parameters
    ----------
    value : The number on the label, above 0; the result at most 100 000 g/m^2 [in `unit`]
    unit : "oz/yd^2", "oz/ft^2" or "g/m^2", or an obvious spelling of one of them; plain "oz" is refused [-]
    """
    require_positive("areal weight", value)
    spelling = _spelling(unit)
    if spelling in _PLAIN_OUNCES:
        raise InputError(
            "areal weight",
            "ounces per what area?",
            value=f"{value:g} {unit.strip()}",
            allowed=(
                f"{value:g} oz is {areal_weight(value * OZ_PER_YD2_G_M2, '.1f')} as oz/yd^2 (woven or stitched cloth), "
                f"or {areal_weight(value * OZ_PER_FT2_G_M2, '.1f')} as oz/ft^2 (chopped mat)"
            ),
            todo="write oz/yd^2 or oz/ft^2, or weigh a piece of known size",
        )
    if spelling not in _LABELS_G_M2:
        raise InputError(
            "areal weight", "is not a weight per area", value=unit, allowed="oz/yd^2, oz/ft^2 or g/m^2 are understood"
        )
    return _plausible(value * _LABELS_G_M2[spelling])


def areal_weight_from_coupon_g_m2(mass_g: float, area_m2: float) -> float:
    """Find the areal weight of a cloth, at most 100 000 [g/m^2], from a weighed piece of known size.

    Raises RangeError for a mass or an area of 0 or less, or a result that no cloth has.

    w = m / A, on cloth that is dry and cut square. ISO 3374 takes pieces of at least 100 cm^2 and the mean of several.
    Source: ISO 3374, Reinforcement products - Mats and fabrics - Determination of mass per unit area.

    >>> areal_weight_from_coupon_g_m2(2.0, 0.01)
    200.0

    Parameters
    ----------
    mass_g : Mass of the dry piece, above 0 [g]
    area_m2 : Area of the piece, above 0 [m^2]
    """
    require_positive("coupon mass", mass_g, unit="g")
    require_positive("coupon area", area_m2, unit="m^2", todo="a 10 cm square is 0.01 m^2")
    return _plausible(mass_g / area_m2)


def areal_weight_from_weave_g_m2(
    ends_per_m: float, picks_per_m: float, warp_tex: float, weft_tex: float, crimp: float = 0.0
) -> float:
    """Find the areal weight of a woven cloth from its count and its yarns [g/m^2].

    Without size or finish, at most 100 000. Raises RangeError for a value outside its range, or a cloth with no yarn.

    w = (n_warp tex_warp + n_weft tex_weft) (1 + crimp) / 1000, as 1 tex is 1 g per 1000 m. Published masses of glass
    styles lie up to 5 % above the uncrimped value: crimp, and size on the yarn. Source: ISO 1889 (linear density of
    yarns, in tex). The sum itself is geometry.

    >>> round(areal_weight_from_weave_g_m2(56 / 0.0254, 56 / 0.0254, 5.512, 5.512), 1)
    24.3

    Parameters
    ----------
    ends_per_m : Warp yarns per metre of width; 0 for none, at most 20 000 [1/m]
    picks_per_m : Weft yarns per metre of length; 0 for none, at most 20 000 [1/m]
    warp_tex : Linear density of a warp yarn, above 0, at most 100 000 [tex]
    weft_tex : Linear density of a weft yarn, above 0, at most 100 000 [tex]
    crimp : Extra length of yarn for its waves over and under, 0 to 0.5 of the cloth's length [-]
    """
    for name, count in (("ends", ends_per_m), ("picks", picks_per_m)):
        require_between(name, count, 0.0, 20_000.0, unit="per m", todo="56 an inch is 2205 per m")
    for name, tex in (("warp yarn", warp_tex), ("weft yarn", weft_tex)):
        require_between(name, tex, 0.0, 100_000.0, unit="tex", open_low=True)
    require_between("crimp", crimp, 0.0, 0.5, todo="crimp is a share: 0.03 for 3 %")
    return _plausible((ends_per_m * warp_tex + picks_per_m * weft_tex) * (1.0 + crimp) / 1000.0)


def tex_from_yield(yards_per_pound: float) -> float:
    """Convert the yield of a US yarn or roving to its linear density, the mass of a kilometre of it [tex].

    tex = 1000 x 453.59237 / 0.9144 / (yd/lb) = 496 054.65 / (yd/lb). The number in a US yarn code is the yield in
    hundreds of yards per pound: G75 is 7500 yd/lb. Source: ASTM D578, Standard Specification for Glass Fiber Strands
    (the yarn code).

    >>> round(tex_from_yield(7500), 2)
    66.14

    Parameters
    ----------
    yards_per_pound : Length of one pound of yarn, 1 to 1 000 000 [yd/lb]
    """
    require_between("yarn yield", yards_per_pound, 1.0, 1_000_000.0, unit="yd/lb")
    return TEX_YARDS_PER_POUND / yards_per_pound


def tex_from_yarn_code(code: str) -> float:
    """Read the linear density of a glass yarn from its code.

    US: letters for glass (E, S ...), form (C continuous) and filament (G is 9 micrometres), then the yield of one
    strand in hundreds of yards per pound, then strands twisted together/such strands plied. One strand is 1/0, and no
    number at all says one, too. The yarn has twisted x plied strands, 0 plied counting as 1.

    By tex: letters for glass and form, the filament's diameter in micrometres, the tex of one strand, twisted x plied.
    Source: ASTM D578, Standard Specification for Glass Fiber Strands; ISO 2078, Textile glass - Yarns - Designation
    (both from memory).

    >>> round(tex_from_yarn_code("ECG 150 1/2"), 2), round(tex_from_yarn_code("G75"), 2)
    (66.14, 66.14)
    >>> tex_from_yarn_code("EC9 34x2")
    68.0
    """
    spelling = " ".join(code.upper().replace("×", "X").split())
    code_found = _US_YARN.fullmatch(spelling) or _TEX_YARN.fullmatch(spelling)
    if code_found is None:
        raise InputError(
            "yarn",
            "is no yarn code",
            value=code,
            allowed="such as G75, ECG 150 1/2 or EC9 68; or a linear density, 68 tex or 7500 yd/lb",
        )
    parts = code_found.groupdict()
    strand_tex = float(parts["tex"]) if "tex" in parts else tex_from_yield(100.0 * float(parts["yield"]))
    strands = int(parts["twisted"] or 1) * (int(parts["plied"] or 1) or 1)
    require_positive("strands of the yarn", strands, todo="one strand is 1/0, two plied are 1/2")
    todo = "write the code as it stands on the roll"
    return require_between("yarn", strand_tex * strands, 0.0, 100_000.0, unit="tex", open_low=True, todo=todo)


def _spelling(unit: str) -> str:
    """Reduce the ways to write one unit to a single spelling."""
    plain = unit.lower().replace("²", "2").replace("per", "/").replace("square", "sq")
    return "".join(letter for letter in plain if letter.isalnum() or letter == "/")


def _plausible(areal_weight_g_m2: float) -> float:
    """Refuse a weight that no cloth has."""
    return require_between(
        "areal weight",
        areal_weight_g_m2,
        0.0,
        HEAVIEST_G_M2,
        unit="g/m^2",
        todo="check the units of what was measured",
        open_low=True,
    )
