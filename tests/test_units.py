"""The edge of the units: what people write is read right, or refused in words that help."""

import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from math import inf, isfinite

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from layup import units
from layup.dimensions import DIMENSIONS, OFFSET_K
from layup.errors import InputError
from layup.files.plan_file import BoardTable, ClosingTable
from layup.units import LONGEST_TEXT, SYSTEMS, Printed, clock_time, hours_of_band, parse, show, spare_of, use_units


@pytest.fixture(autouse=True)
def metric_again():
    yield
    use_units("metric")


FULL = pint.get_application_registry()
"""Pint's own complete registry: the independent source of every factor."""

WRITTEN = [
    # text, dimension, value in the core's unit; exact inch and pound (international agreement of 1959)
    ("6 oz/yd^2", "areal_weight", 203.434484849),
    ("6 oz/yd2", "areal_weight", 203.434484849),
    ("6oz/yd²", "areal_weight", 203.434484849),
    ("1.5 oz/ft^2", "areal_weight", 457.7275909),
    ("200 gsm", "areal_weight", 200.0),
    ("200 g / m^2", "areal_weight", 200.0),
    ("200 mg /cm^2", "areal_weight", 2000.0),
    ("200 g/m**2", "areal_weight", 200.0),
    ("0.2 kg/m2", "areal_weight", 200.0),
    ("0.125 lb/yd^2", "areal_weight", 67.811494950),
    ("25 degC", "temperature", 298.15),
    ("25 C", "temperature", 298.15),
    ("25°C", "temperature", 298.15),
    ("25 ℃", "temperature", 298.15),
    ("77 F", "temperature", 298.15),
    ("−5 °C", "temperature", 268.15),
    ("300 K", "temperature", 300.0),
    ("10 degC", "temperature_difference", 10.0),
    ("18 degF", "temperature_difference", 10.0),
    ("45 min", "time", 2700.0),
    ("2.5 h", "time", 9000.0),
    ("1,5 h", "time", 5400.0),
    ("1 h 30 min", "time", 5400.0),
    ("1 h 50", "time", 6600.0),
    ("2 h 5", "time", 7500.0),
    ("1h50", "time", 6600.0),
    ("1h30min", "time", 5400.0),
    ("7 d", "time", 604800.0),
    ("700 mPa*s", "viscosity", 0.7),
    ("700 mPa·s", "viscosity", 0.7),
    ("700 mPa s", "viscosity", 0.7),
    ("700 cps", "viscosity", 0.7),
    ("1.15 g/cm^3", "density", 1.15),
    ("1.15 g/cm³", "density", 1.15),
    ("1.15 kg/L", "density", 1.15),
    ("1150 kg/m^3", "density", 1.15),
    ("20 mm", "length", 0.02),
    ("5 in", "length", 0.127),
    ("0,125 m", "length", 0.125),
    ("50 μm", "length", 5e-5),
    ("50 µm", "length", 5e-5),
    ("5 ft 6 in", "length", 1.6764),
    ("5' 6\"", "length", 1.6764),
    ("6 oz", "mass", 170.09713875),
    ("1 lb 2 oz", "mass", 510.29141625),
    ("1e3 mg", "mass", 1.0),
    ("4 US fl oz", "volume", 118.29411825e-6),
    ("4 imp fl oz", "volume", 113.6522500e-6),
    ("12 psi", "pressure", 82737.087518),
    ("10 N m", "torque", 10.0),
    ("7.5 ft-lb", "torque", 10.16863461),
    ("68 tex", "linear_density", 68.0),
    ("7500 yd/lb", "linear_density", 66.140620),
    ("450 den", "linear_density", 50.0),
    ("56 /in", "count", 2204.7244094),
    ("22 1/cm", "count", 2200.0),
    ("56 ends/in", "count", 2204.7244094),
    ("190", "equivalent_weight", 190.0),
    ("190 g/eq", "equivalent_weight", 190.0),
    ("62 %", "fraction", 0.62),
    ("0.62", "fraction", 0.62),
]

REFUSED = [
    ("6 oz", "areal_weight", r"ounces per what \(6 oz\).*6 oz/yd\^2 for cloth \(203.4 g/m\^2\).*mat \(1831 g/m\^2\)"),
    ("200 g", "areal_weight", r"is a mass, not an areal weight \(200 g\) - write an areal weight such as 200 g/m\^2"),
    ("200 g/m^2", "mass", r"is an areal weight, not a mass \(200 g/m\^2\) - write a mass such as 250 g"),
    ("200", "mass", r"has no unit \(200\) - write a mass such as 250 g or 9 oz"),
    ("25", "temperature", r"has no unit \(25\) - write a temperature such as 25 degC or 77 degF"),
    ("-300 C", "temperature", r"is below absolute zero \(-300 C\)"),
    ("1,500 g", "mass", r"can be read in two ways \(1,500 g\) - write 1.500 or 1500"),
    ("10 fl oz", "volume", r"whose measure \(10 fl oz\).*10 US fl oz \(295.7 ml\) or 10 imp fl oz \(284.1 ml\)"),
    ("2 gallons", "volume", r"whose measure.*2 US gal \(7571 ml\) or 2 imp gal \(9092 ml\)"),
    ("62", "fraction", r"is not between 0 and 1 and has no % sign \(62\) - write a share such as 62 % or 0.62"),
    ("30 min 1 h", "time", r"is not a sum, largest unit first \(30 min 1 h\)"),
    ("-1 h 30 min", "time", r"is not a sum, largest unit first"),
    ("1 h 75", "time", r"has a unit that cannot be read: h 75"),
    ("1:30", "time", r"has a unit that cannot be read: :30"),
    ("1/2 in", "length", r"has a unit that cannot be read: /2 in"),
    ("2 furlings", "length", r"has an unknown unit: furlings \(2 furlings\)"),
    ("3 kg*m/s", "force", r"is another kind of quantity, not a force \(3 kg\*m/s\)"),
    ("3 lb*ft/s^2", "mass", r"is a force, not a mass"),
    ("1e999 g", "mass", r"is too large to be true"),
    ("10**999999 g", "mass", r"has a unit that cannot be read: \^999999 g"),
    ("nan g", "mass", r"does not start with a number \(nan g\)"),
    ("inf g", "mass", r"does not start with a number"),
    ("٣ g", "mass", r"does not start with a number"),
    ("", "mass", r"is empty - write a mass such as"),
    ("   ", "mass", r"is empty"),
    ("9" * 5000, "mass", r"is too long to be a quantity \(5000 characters\)"),
    ("__import__('os').getcwd()", "mass", r"does not start with a number"),
    ("1 __import__('os')", "mass", r"has a unit that cannot be read"),
    ("5 \x1b[31mg", "mass", r"holds control characters \('5 \\x1b\[31mg'\)"),
]


@pytest.mark.parametrize(("text", "dimension", "value"), WRITTEN, ids=lambda each: str(each))
def test_what_builders_write_is_read(text, dimension, value):
    assert parse(text, dimension) == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize(("text", "dimension", "words"), REFUSED)
def test_what_is_no_such_quantity_is_refused_with_the_remedy(text, dimension, words):
    with pytest.raises(InputError, match=words) as caught:
        parse(text, dimension)
    assert str(caught.value).isprintable()


def test_decimal_prefixes_are_read_exactly():
    assert parse("700 mPa*s", "viscosity") == 0.7
    assert parse("60 ml", "volume") == 60e-6
    assert parse("1680 mm", "length") == 1.68


def test_a_refusal_names_the_place_it_was_given():
    with pytest.raises(InputError, match=r"^coupon mass: has no unit"):
        parse("3", "mass", where="coupon mass")


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_the_example_of_each_dimension_can_itself_be_read(dimension):
    for example_text in DIMENSIONS[dimension].example.split(" or "):
        assert isfinite(parse(example_text, dimension))


def test_every_factor_in_the_table_is_pints():
    ours = {"gsm": "g/m^2", "US fl oz": "fluid_ounce", "imp fl oz": "imperial_fluid_ounce", "US gal": "gallon"}
    ours |= {"imp gal": "imperial_gallon", "lb/US gal": "lb/gallon", "den": "denier", '"': "in", "'": "ft"}
    ours |= {"kgf": "kilogram_force", "lbf": "pound_force", "wk": "week", "um": "micrometer", "cP": "centipoise"}
    checked = 0
    for name, kind in DIMENSIONS.items():
        if name in ("temperature", "temperature_difference", "fraction", "equivalent_weight"):
            continue
        for factor in set(kind.common.values()):
            words = [word for word in kind.common if kind.common[word] == factor]
            known = [each for word in words if (each := _in_pint(ours.get(word, word))) is not None]
            known = [each for each in known if each.is_compatible_with(kind.core)]
            assert known, f"pint knows none of {words}"
            assert known[0].to(kind.core).magnitude == pytest.approx(factor, rel=1e-12), words
            checked += 1
    assert checked > 60


def _in_pint(unit):
    try:
        return FULL.Quantity(1.0, FULL.parse_units(f"1{unit}" if unit.startswith("/") else unit))
    except (pint.PintError, ValueError, AttributeError, TypeError):
        return None


ODD = [
    # text, dimension, value in the core's unit, from the definitions: a stone is 14 lb, a furlong 220 yd, a rankine
    # 5/9 K, an inch of mercury 3386.389 Pa (NIST SP 811), a slug 32.174 lb, a rod 5.5 yd, a Reaumur degree 1.25 K;
    # pint's yards of land are those of the US survey, 2e-6 longer
    ("1 stone", "mass", 6350.29318),
    ("2 furlong", "length", 402.336),
    ("1 rod", "length", 5.0292),
    ("29.92 inHg", "pressure", 101320.76),
    ("760 torr", "pressure", 101325.0),
    ("536.67 degR", "temperature", 298.15),
    ("20 degRe", "temperature", 298.15),
    ("9 degR", "temperature_difference", 5.0),
    ("8 degRe", "temperature_difference", 10.0),
    ("1 fortnight", "time", 1209600.0),
    ("1 slug/ft^3", "density", 0.515378819),
    ("2 cup", "volume", 473.176473e-6),
    ("1 acre", "area", 4046.856),
    ("1 dyne", "force", 1e-5),
    ("1 stone*furlong^2/fortnight^2", "torque", 6.35029318 * 201.168**2 / 1209600.0**2),
    ("0.19 kg/eq", "equivalent_weight", 190.0),
    ("250000 ppm", "fraction", 0.25),
]


@pytest.mark.parametrize(("text", "dimension", "value"), ODD)
def test_any_unit_that_is_known_is_read(text, dimension, value):
    assert parse(text, dimension) == pytest.approx(value, rel=5e-6)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("3 deg", "fraction", r"is no share: deg \(3 deg\)"),
        ("3 dB", "fraction", r"has a unit that is no plain multiple|has an unknown unit"),
        ("-1 degR", "temperature", r"is below absolute zero \(-1 degR\)"),
        ("1 stone", "length", r"is a mass, not a length \(1 stone\)"),
    ],
)
def test_an_odd_unit_is_refused_where_it_is_none_of_that_kind(text, dimension, words):
    with pytest.raises(InputError, match=words):
        parse(text, dimension)


def test_a_plan_may_state_its_quantities_in_odd_units():
    assert BoardTable(material="steel", thickness="0.001 rod").core().thickness_m == pytest.approx(0.0050292, rel=5e-6)
    assert ClosingTable(target_pressure="10 inHg").core().target_pressure_Pa == pytest.approx(33863.9, rel=1e-5)


@pytest.mark.parametrize("word", OFFSET_K)
def test_temperatures_agree_with_pint(word):
    initial = word.removeprefix("deg").strip(" °")[0].upper()
    unit = {"C": "degC", "F": "degF", "K": "kelvin"}[initial]
    assert parse(f"37.5 {word}", "temperature") == pytest.approx(FULL.Quantity(37.5, unit).to("kelvin").magnitude)


@pytest.mark.parametrize(
    ("value", "dimension", "system", "words"),
    [
        (203.434, "areal_weight", "metric", "203 g/m²"),
        (203.434, "areal_weight", "us", "6.00 oz/yd²"),
        (298.15, "temperature", "metric", "25 °C"),
        (298.15, "temperature", "us", "77 °F"),
        (273.149, "temperature", "metric", "0 °C"),
        (45.0, "time", "metric", "45 s"),
        (2700.0, "time", "metric", "45 min"),
        (9000.0, "time", "us", "2 h 30 min"),
        (7200.0, "time", "metric", "2 h"),
        (-9000.0, "time", "metric", "-2 h 30 min"),
        (604800.0, "time", "metric", "7 d"),
        (170.097, "mass", "us", "6.0 oz"),
        (0.7, "viscosity", "metric", "700 mPa·s"),
        (0.62, "fraction", "metric", "62 %"),
    ],
)
def test_values_are_shown_as_people_read_them(value, dimension, system, words):
    use_units(system)
    assert show(value, dimension) == words


@given(
    dimension=st.sampled_from(sorted(DIMENSIONS)),
    system=st.sampled_from(SYSTEMS),
    share=st.floats(0.0, 1.0),
)
def test_what_is_shown_can_be_read_back(dimension, system, share):
    largest = {"temperature": 500.0, "fraction": 1.0}.get(dimension, 2000.0)
    smallest = 200.0 if dimension == "temperature" else 0.0
    value = smallest + share * (largest - smallest)
    kind = DIMENSIONS[dimension]
    unit, decimals = kind.shown(system)
    half_a_digit = 0.5 * 10.0**-decimals * kind.common[unit]
    if dimension == "time":
        half_a_digit = max(30.0, 0.005 * value)
    use_units(system)
    assert abs(parse(show(value, dimension), dimension) - value) <= half_a_digit * 1.001


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_kind_that_is_printed_has_its_unit_in_every_system(system):
    use_units(system)
    printed = {name: each for name, each in vars(units).items() if isinstance(each, Printed)}
    assert len(printed) > 10
    for name, each in printed.items():
        assert each.value(each.number(300.0)) == pytest.approx(300.0), name
        assert each(300.0).endswith(each.sign)


UNIT_LIKE = st.text(alphabet="gmosydzPa/*^ 123-'\"%°CF.,()", max_size=14)
NUMBER_LIKE = st.text(alphabet="0123456789.,eE+-", max_size=12)


@given(text=st.text(max_size=LONGEST_TEXT + 5) | st.builds("{} {}".format, NUMBER_LIKE, UNIT_LIKE))
@example("1 m^-4*m^-4*m^-4")
@example("1e99 m^4*m^4 ")
@example("0 /in/in")
@example("1 1/m")
@example("1 in in")
@example("1 1/1/m")
@example("1 dag _")
@example("\ufdfa" * 50)
def test_any_text_is_a_number_or_an_input_error(text):
    for dimension in DIMENSIONS:
        result = _read(text, dimension)
        assert result.isprintable() if isinstance(result, str) else isfinite(result)


def _read(text, dimension):
    """Return the number read, or the words of the refusal."""
    try:
        return parse(text, dimension)
    except InputError as refused:
        return str(refused)


@given(value=st.floats(1e-6, 1e6), dimension=st.sampled_from(sorted(set(DIMENSIONS) - {"temperature", "fraction"})))
def test_every_common_spelling_is_proportional_to_its_factor(value, dimension):
    for unit, factor in DIMENSIONS[dimension].common.items():
        assert parse(f"{value:.12f} {unit}", dimension) == pytest.approx(value * factor, rel=1e-5)


@pytest.mark.parametrize("text", ["6 oz/yd^2", "200 gsm"])
def test_common_spellings_need_no_pint(text):
    code = f"import sys; from layup.units import parse; parse({text!r}, 'areal_weight'); print('pint' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("days", "shown"), [(0, "20:42"), (1, "Sun 20:42"), (-1, "Fri 20:42"), (6, "Fri 20:42"), (7, "14 Mar 20:42")]
)
def test_a_clock_time_on_another_day_says_which(days, shown):
    today = date(2026, 3, 7)  # a Saturday
    moment = datetime(2026, 3, 7, 20, 42, tzinfo=UTC) + timedelta(days=days)
    assert clock_time(moment, today) == shown


def test_a_band_in_hours_says_never_where_it_has_no_late_end():
    assert hours_of_band(5400.0, 9000.0, ".1f") == "80 %: 1.5 to 2.5"
    assert hours_of_band(7200.0, inf) == "80 %: 2 to never"


def test_what_is_to_spare_is_not_told_in_seconds():
    told = [spare_of(time_s) for time_s in (0.0, 21.0, 59.0, 90.0, 400.0, -21.0)]
    assert told[:3] == ["under 1 min spare"] * 3
    assert told[4:] == ["7 min spare", "under 1 min too late"]
    assert "under" not in told[3]
