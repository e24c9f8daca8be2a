"""The units a brake is measured in: names people type, exact factors, conversion."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

# Exact by definition: the yard and pound agreement of 1959 (1 in = 0.0254 m,
# 1 lb = 0.45359237 kg), standard gravity (3rd CGPM, 1901), the conventional millimetre
# of mercury (13 595.1 kg/m3 under standard gravity; NIST SP 811:2008, Appendix B.8).
INCH_M = Fraction("0.0254")
FOOT_M = 12 * INCH_M
MILE_M = 5_280 * FOOT_M
LITRE_M3 = Fraction(1, 1_000)
POUND_KG = Fraction("0.45359237")
GRAVITY_M_PER_S2 = Fraction("9.80665")
POUND_FORCE_N = POUND_KG * GRAVITY_M_PER_S2
PSI_PA = POUND_FORCE_N / INCH_M**2
KGF_PER_CM2_PA = GRAVITY_M_PER_S2 * 10_000
INCH_OF_MERCURY_PA = Fraction("13595.1") * GRAVITY_M_PER_S2 * INCH_M
LONG_TON_KG = 2_240 * POUND_KG


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: one of it is `factor` base units; zero of it lies at `zero` of them."""

    name: str
    quantity: str
    factor: Fraction
    zero: Fraction = Fraction(0)
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """
    A kind of measurement, its units in order of use, and what it can be at all.

    `floor` and `ceiling` are in base units (Pa, Pa/s, s, m, m3, m3/s, N, K, kg, 1).
    """

    name: str
    label: str
    units: tuple[str, ...]
    floor: Fraction | None = Fraction(0)
    ceiling: Fraction | None = None
    beyond: str = ""


# Gauge vacuum is kept apart from pressure: more of it is less pressure, and a reading
# of one taken for the other is wrong in sign. It can be no deeper than the air is heavy;
# the ceiling lies above the highest air pressure ever measured. Absolute pressure is a
# quantity of its own: turning it into gauge or vacuum needs the barometer of the day.
_VACUUM_CEILING_PA = Fraction(110_000)
_MINUTE_S = Fraction(60)
_KELVIN_AT_0_C = Fraction("273.15")
_KELVIN_PER_F = Fraction(5, 9)

_ALL_UNITS = (
    Unit("bar", "pressure", Fraction(100_000), aliases=("bars", "bar g", "barg")),
    Unit("psi", "pressure", PSI_PA, aliases=("lb/in2", "lbf/in2", "lb/sq in", "psig")),
    Unit("kPa", "pressure", Fraction(1_000)),
    Unit("kgf/cm2", "pressure", KGF_PER_CM2_PA, aliases=("kg/cm2", "kp/cm2")),
    Unit("inHg", "vacuum", INCH_OF_MERCURY_PA, aliases=("in hg", "inches of mercury")),
    Unit("mbar", "vacuum", Fraction(100), aliases=("millibar", "hPa")),
    Unit("bar abs", "absolute_pressure", Fraction(100_000), aliases=("bara", "bar a")),
    Unit("kPa abs", "absolute_pressure", Fraction(1_000), aliases=("kpaa", "kpa a")),
    Unit("mbar abs", "absolute_pressure", Fraction(100), aliases=("mbara", "mbar a")),
    Unit("psi abs", "absolute_pressure", PSI_PA, aliases=("psia", "psi a")),
    Unit("inHg abs", "absolute_pressure", INCH_OF_MERCURY_PA, aliases=("in hg abs",)),
    Unit("bar/min", "pressure_rate", 100_000 / _MINUTE_S),
    Unit("psi/min", "pressure_rate", PSI_PA / _MINUTE_S, aliases=("lb/in2/min",)),
    Unit("kPa/min", "pressure_rate", 1_000 / _MINUTE_S),
    Unit(
        "kgf/cm2/min",
        "pressure_rate",
        KGF_PER_CM2_PA / _MINUTE_S,
        aliases=("kg/cm2/min", "kp/cm2/min"),
    ),
    Unit(
        "inHg/min",
        "vacuum_rate",
        INCH_OF_MERCURY_PA / _MINUTE_S,
        aliases=("in hg/min",),
    ),
    Unit("mbar/min", "vacuum_rate", 100 / _MINUTE_S),
    Unit("s", "time", Fraction(1), aliases=("sec", "secs", "second", "seconds")),
    Unit("min", "time", _MINUTE_S, aliases=("mins", "minute", "minutes")),
    Unit("mm", "length", Fraction(1, 1_000), aliases=("millimetre", "millimetres")),
    Unit("in", "length", INCH_M, aliases=("inch", "inches", '"', "ins")),
    Unit("km", "distance", Fraction(1_000), aliases=("kilometre", "kilometres")),
    Unit("mile", "distance", MILE_M, aliases=("miles", "mi")),
    Unit("l", "volume", LITRE_M3, aliases=("litre", "litres", "liter", "dm3")),
    Unit("in3", "volume", INCH_M**3, aliases=("cu in", "cu. in.", "cubic inch")),
    Unit("ft3", "volume", FOOT_M**3, aliases=("cu ft", "cu. ft.", "cubic foot")),
    Unit("l/min", "air_flow", LITRE_M3 / _MINUTE_S, aliases=("litres a minute",)),
    Unit("ft3/min", "air_flow", FOOT_M**3 / _MINUTE_S, aliases=("cfm", "cu ft/min")),
    Unit("N", "force", Fraction(1), aliases=("newton", "newtons")),
    Unit("kN", "force", Fraction(1_000), aliases=("kilonewton",)),
    Unit("lbf", "force", POUND_FORCE_N, aliases=("lb f", "pounds force")),
    Unit(
        "°C",
        "temperature",
        Fraction(1),
        _KELVIN_AT_0_C,
        ("c", "deg c", "degc", "celsius"),
    ),
    Unit(
        "°F",
        "temperature",
        _KELVIN_PER_F,
        _KELVIN_AT_0_C - 32 * _KELVIN_PER_F,
        ("f", "deg f", "degf", "fahrenheit"),
    ),
    Unit("t", "mass", Fraction(1_000), aliases=("tonne", "tonnes")),
    Unit("ton", "mass", LONG_TON_KG, aliases=("tons", "long ton", "long tons")),
    Unit("count", "count", Fraction(1), aliases=("", "no.", "off")),
)

UNITS: Mapping[str, Unit] = {unit.name: unit for unit in _ALL_UNITS}


def _quantity(
    name: str,
    label: str,
    *,
    floor: Fraction | None = Fraction(0),
    ceiling: Fraction | None = None,
    beyond: str = "",
) -> Quantity:
    units = tuple(unit.name for unit in _ALL_UNITS if unit.quantity == name)
    return Quantity(name, label, units, floor, ceiling, beyond)


QUANTITIES: Mapping[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        _quantity("pressure", "pressure", beyond="Gauge pressure is not below zero."),
        _quantity(
            "vacuum",
            "vacuum",
            ceiling=_VACUUM_CEILING_PA,
            beyond="A vacuum is read from zero to about 30 inHg (1013 mbar).",
        ),
        _quantity(
            "absolute_pressure",
            "absolute pressure",
            beyond="An absolute pressure is not below zero.",
        ),
        _quantity("pressure_rate", "pressure per time", floor=None),
        _quantity("vacuum_rate", "vacuum per time", floor=None),
        _quantity("time", "time", beyond="A time is not below zero."),
        _quantity("length", "length", beyond="A length is not below zero."),
        _quantity("distance", "distance", beyond="A distance is not below zero."),
        _quantity("volume", "volume", beyond="A volume is not below zero."),
        _quantity("air_flow", "free air per time", floor=None),
        _quantity("force", "force", beyond="A force is not below zero here."),
        _quantity("temperature", "temperature", beyond="Nothing is as cold as that."),
        _quantity("mass", "mass", beyond="A mass is not below zero."),
        _quantity("count", "number", beyond="A number of things is not below zero."),
    )
}


def _plain(text: str) -> str:
    return " ".join(text.replace("²", "2").casefold().split())


# Where two units differ only by their capitals, the exact spelling decides (none now).
_NAMES = {
    _plain(word): unit.name
    for unit in _ALL_UNITS
    for word in (unit.name, *unit.aliases)
}


def unit_named(text: str) -> str:
    """
    Return the unit people mean: "kg/cm2" is kgf/cm2, "In Hg" is inHg.

    Raises ValueError with a sentence for the user.
    """
    name = _NAMES.get(_plain(text))
    if name is None:
        raise ValueError(f"“{text}” is no unit known here; use {_listed(UNITS)}.")
    return name


def unit_of(quantity: str, text: str) -> str:
    """
    Return the unit meant, if it measures `quantity`.

    Raises ValueError: "bar is not a unit of time; use s or min."
    """
    wanted = QUANTITIES.get(quantity)
    if wanted is None:
        raise ValueError(f"“{quantity}” is no quantity; use {_listed(QUANTITIES)}.")
    if not text.strip() and quantity != "count":
        raise ValueError(f"Give the unit: {_listed(wanted.units)}.")
    name = _NAMES.get(_plain(text))
    if name is None:
        raise ValueError(
            f"“{text}” is no unit of {wanted.label}; use {_listed(wanted.units)}."
        )
    if UNITS[name].quantity != quantity:
        raise ValueError(
            f"{name} is not a unit of {wanted.label}; use {_listed(wanted.units)}."
        )
    return name


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """
    Return a value in another unit of the same quantity.

    Worked out in fractions; the result is exact where it can be written as a decimal of
    28 digits, else it is that decimal's nearest. Raises ValueError with a sentence.
    """
    source, wanted = UNITS[unit_named(unit)], unit_named(to)
    if UNITS[wanted].quantity != source.quantity:
        unit_of(source.quantity, to)
    if source.name == wanted:
        return value
    return _decimal(converted(value, source.name, wanted))


def converted(value: Decimal, unit: str, to: str) -> Fraction:
    """Return a value in another unit, exactly; both units must be of one quantity."""
    source, wanted = UNITS[unit], UNITS[to]
    if source.quantity != wanted.quantity:
        raise ValueError(f"{unit} and {to} do not measure the same.")
    return (_base(value, source) - wanted.zero) / wanted.factor


def straight_line(unit: str, to: str) -> tuple[Decimal, Decimal]:
    """Return the slope and offset that turn a value of `unit` into one of `to`."""
    offset = converted(Decimal(0), unit, to)
    slope = converted(Decimal(1), unit, to) - offset
    return _decimal(slope), _decimal(offset)


def scaled(value: float, unit: str, to: str) -> float:
    """
    Return a computed value in another unit of the same quantity, in floating point.

    For results of a calculation; readings go through `convert`, which is exact.
    Raises ValueError with a sentence.
    """
    source, wanted = UNITS[unit_named(unit)], UNITS[unit_named(to)]
    if source.quantity != wanted.quantity:
        unit_of(source.quantity, to)
    offset = (source.zero - wanted.zero) / wanted.factor
    return value * float(source.factor / wanted.factor) + float(offset)


def refuse_impossible(value: Decimal, unit: str) -> None:
    """Raise ValueError for a value nothing can have, such as 300 inHg of vacuum."""
    if not value.is_finite():
        raise ValueError("Give a number.")
    measured = UNITS[unit]
    quantity, base = QUANTITIES[measured.quantity], _base(value, measured)
    too_low = quantity.floor is not None and base < quantity.floor
    too_high = quantity.ceiling is not None and base > quantity.ceiling
    if too_low or too_high:
        raise ValueError(f"{value} {unit} cannot be. {quantity.beyond}")
    if quantity.name == "count" and value != value.to_integral_value():
        raise ValueError("Give a whole number.")


def _base(value: Decimal, unit: Unit) -> Fraction:
    return Fraction(value) * unit.factor + unit.zero


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def _listed(names: Mapping[str, object] | tuple[str, ...]) -> str:
    *most, last = names
    return f"{', '.join(most)} or {last}" if most else last
