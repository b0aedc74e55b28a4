"""The kinds of quantity that people write, with their common spellings and exact factors: a table, no logic.

Inch, yard and pound are exact by the international agreement of 1959; standard gravity is that of ISO 80000-3. Tests
hold every factor against pint's own definitions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

System = Literal["metric", "us"]
"""Which units people see; each is a field of `Dimension`."""

INCH_m, FOOT_m, YARD_m = 0.0254, 0.3048, 0.9144
OUNCE_g, POUND_g = 28.349523125, 453.59237
STANDARD_GRAVITY_m_s2 = 9.80665
POUND_FORCE_N = POUND_g / 1000 * STANDARD_GRAVITY_m_s2
ZERO_CELSIUS_K = 273.15
US_GALLON_m3, IMPERIAL_GALLON_m3 = 231 * INCH_m**3, 4.54609e-3


@dataclass(frozen=True, slots=True)
class Dimension:
    """One kind of quantity: its name, an example to show, its common spellings and how it is shown."""

    name: str
    core: str
    """The core's unit, as pint spells it."""
    example: str
    common: dict[str, float]
    """Common spelling -> how many core units it is."""
    metric: tuple[str, int]
    """The unit people see (one of `common`) and its decimals."""
    us: tuple[str, int]
    adds_up: bool = False
    """Whether several parts may be written after each other ("1 h 30 min")."""

    def shown(self, system: System) -> tuple[str, int]:
        """Return the unit that people see, and its decimals: the field of the system's name."""
        found: tuple[str, int] = getattr(self, system)
        return found


def _spelled(*groups: tuple[str, float]) -> dict[str, float]:
    """Expand ("s sec second", 1.0) groups to one entry a spelling; "~" in a spelling stands for a space."""
    return {word.replace("~", " "): factor for words, factor in groups for word in words.split()}


_MASS = _spelled(
    ("g gr gram grams gramme grammes", 1.0),
    ("kg kilo kilos", 1000.0),
    ("mg", 1e-3),
    ("oz ounce ounces", OUNCE_g),
    ("lb lbs pound pounds", POUND_g),
)
_LENGTH = _spelled(
    ("m metre metres meter meters", 1.0),
    ("cm", 0.01),
    ("mm", 1e-3),
    ("um micron microns", 1e-6),
    ("km", 1000.0),
    ('in inch inches "', INCH_m),
    ("ft foot feet '", FOOT_m),
    ("yd yard yards", YARD_m),
)
_TIME = _spelled(
    ("s sec secs second seconds", 1.0),
    ("min mins minute minutes", 60.0),
    ("h hr hrs hour hours", 3600.0),
    ("d day days", 86400.0),
    ("wk week weeks", 604800.0),
)
_CELSIUS = "°C degC deg~C C Celsius celsius"
_FAHRENHEIT = "°F degF deg~F F Fahrenheit fahrenheit"
_KELVIN = "K kelvin Kelvin"

DIMENSIONS: dict[str, Dimension] = {
    "mass": Dimension("a mass", "g", "250 g or 9 oz", _MASS, ("g", 0), ("oz", 1), adds_up=True),
    "length": Dimension("a length", "m", "20 mm or 5 in", _LENGTH, ("mm", 0), ("in", 2), adds_up=True),
    "area": Dimension(
        "an area",
        "m^2",
        "0.15 m^2 or 1.6 ft^2",
        _spelled(
            ("m^2", 1.0),
            ("dm^2", 1e-2),
            ("cm^2", 1e-4),
            ("mm^2", 1e-6),
            ("in^2 sq~in", INCH_m**2),
            ("ft^2 sq~ft", FOOT_m**2),
            ("yd^2 sq~yd", YARD_m**2),
        ),
        ("m^2", 3),
        ("ft^2", 2),
    ),
    "volume": Dimension(
        "a volume",
        "m^3",
        "120 ml or 4 US fl oz",
        _spelled(
            ("m^3", 1.0),
            ("l L litre litres liter liters dm^3", 1e-3),
            ("dl dL", 1e-4),
            ("cl cL", 1e-5),
            ("ml mL cc cm^3", 1e-6),
            ("in^3 cu~in", INCH_m**3),
            ("US~fl~oz", US_GALLON_m3 / 128),
            ("imp~fl~oz", IMPERIAL_GALLON_m3 / 160),
            ("US~gal", US_GALLON_m3),
            ("imp~gal", IMPERIAL_GALLON_m3),
        ),
        ("ml", 0),
        ("US fl oz", 1),
    ),
    "time": Dimension("a time", "s", "45 min or 2.5 h", _TIME, ("min", 0), ("min", 0), adds_up=True),
    "temperature": Dimension(
        "a temperature",
        "K",
        "25 degC or 77 degF",
        _spelled((_KELVIN, 1.0), (_CELSIUS, 1.0), (_FAHRENHEIT, 5 / 9)),
        ("°C", 0),
        ("°F", 0),
    ),
    "temperature_difference": Dimension(
        "a temperature difference",
        "K",
        "3 K or 5 degF",
        _spelled((_KELVIN, 1.0), (_CELSIUS, 1.0), (_FAHRENHEIT, 5 / 9)),
        ("°C", 0),
        ("°F", 0),
    ),
    "areal_weight": Dimension(
        "an areal weight",
        "g/m^2",
        "200 g/m^2 or 6 oz/yd^2",
        _spelled(
            ("g/m^2 gsm", 1.0),
            ("kg/m^2", 1000.0),
            ("oz/yd^2", OUNCE_g / YARD_m**2),
            ("oz/ft^2", OUNCE_g / FOOT_m**2),
        ),
        ("g/m^2", 0),
        ("oz/yd^2", 2),
    ),
    "density": Dimension(
        "a density",
        "g/cm^3",
        "1.15 g/cm^3 or 1150 kg/m^3",
        _spelled(
            ("g/cm^3 g/cc g/ml g/mL kg/l kg/L kg/dm^3", 1.0),
            ("kg/m^3 g/l g/L", 1e-3),
            ("lb/ft^3", POUND_g / (FOOT_m * 100) ** 3),
            ("lb/US~gal", POUND_g / (US_GALLON_m3 * 1e6)),
        ),
        ("g/cm^3", 2),
        ("g/cm^3", 2),
    ),
    "viscosity": Dimension(
        "a viscosity",
        "Pa*s",
        "700 mPa*s or 700 cP",
        _spelled(("Pa*s Pa~s Pas", 1.0), ("mPa*s mPa~s mPas mPa.s cP cps cPs", 1e-3), ("P poise", 0.1)),
        ("mPa*s", 0),
        ("cP", 0),
    ),
    "pressure": Dimension(
        "a pressure",
        "Pa",
        "80 kPa or 12 psi",
        _spelled(
            ("Pa", 1.0),
            ("hPa mbar", 100.0),
            ("kPa", 1e3),
            ("bar", 1e5),
            ("MPa N/mm^2", 1e6),
            ("GPa", 1e9),
            ("psi", POUND_FORCE_N / INCH_m**2),
            ("atm", 101325.0),
        ),
        ("kPa", 0),
        ("psi", 1),
    ),
    "force": Dimension(
        "a force",
        "N",
        "3 kN or 700 lbf",
        _spelled(("N", 1.0), ("kN", 1e3), ("kgf", STANDARD_GRAVITY_m_s2), ("lbf", POUND_FORCE_N)),
        ("kN", 1),
        ("lbf", 0),
    ),
    "power": Dimension(
        "a power", "W", "1.5 kW or 1500 W", _spelled(("W watt watts", 1.0), ("kW", 1000.0)), ("W", 0), ("W", 0)
    ),
    "energy": Dimension("an energy", "J", "5 kWh", _spelled(("J", 1.0), ("kWh", 3.6e6)), ("kWh", 1), ("kWh", 1)),
    "torque": Dimension(
        "a torque",
        "N*m",
        "10 N*m or 7.5 lbf*ft",
        _spelled(
            ("N*m N~m Nm", 1.0),
            ("lbf*ft ft*lbf ft-lb ft~lb lb~ft", POUND_FORCE_N * FOOT_m),
            ("lbf*in in*lbf in-lb in~lb lb~in", POUND_FORCE_N * INCH_m),
        ),
        ("N*m", 1),
        ("lbf*ft", 1),
    ),
    "linear_density": Dimension(
        "a linear density of yarn",
        "g/km",
        "68 tex or 7500 yd/lb",
        _spelled(("tex g/km", 1.0), ("dtex", 0.1), ("den denier", 1 / 9)),
        ("tex", 1),
        ("tex", 1),
    ),
    "count": Dimension(
        "a thread count",
        "1/m",
        "22 /cm or 56 /in",
        _spelled(
            ("/m 1/m per~m", 1.0),
            ("/cm 1/cm per~cm ends/cm picks/cm", 100.0),
            ("/in 1/in per~in per~inch ends/in picks/in epi ppi", 1 / INCH_m),
        ),
        ("/cm", 1),
        ("/in", 1),
    ),
    "equivalent_weight": Dimension(
        "an equivalent weight", "g/eq", "190 g/eq", {"g/eq": 1.0, "g/mol": 1.0, "": 1.0}, ("g/eq", 1), ("g/eq", 1)
    ),
    "fraction": Dimension("a share", "", "62 % or 0.62", {"%": 0.01, "": 1.0}, ("%", 0), ("%", 0)),
}

OFFSET_K = {
    **dict.fromkeys(_spelled((_CELSIUS, 1.0)), ZERO_CELSIUS_K),
    **dict.fromkeys(_spelled((_FAHRENHEIT, 1.0)), ZERO_CELSIUS_K - 32 * 5 / 9),
    **dict.fromkeys(_spelled((_KELVIN, 1.0)), 0.0),
}
TEX_YARDS_PER_POUND = POUND_g / (YARD_m / 1000)
"""A yarn's yield in yd/lb is the inverse of its tex: tex = this / (yd/lb)."""
