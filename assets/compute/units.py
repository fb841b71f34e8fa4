"""The units a plant may write, what each measures, and exact conversion between units of one quantity.

One registry of pint holds the factors, in fractions, so that a gallon is exactly 3.785411784 L. What a person typed is
never given to pint: the number goes through `numbers.read_number`, the unit through the table here.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pint import UnitRegistry


class UnknownUnit(ValueError):
    """The text is no unit of the table; the message says what is near to it."""


class OtherQuantity(ValueError):
    """The two units measure different things."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: the code it is stored and shown by, the quantity it measures, its name in pint, other spellings."""

    code: str
    quantity: str
    pint: str
    also: tuple[str, ...] = ()


# The first unit of a quantity is its canonical one: values are stored in it beside the text as typed.
UNITS: tuple[Unit, ...] = (
    Unit("pH", "pH", "acidity_unit", ("pH units", "pH unit")),
    Unit("NTU", "turbidity", "nephelometric_turbidity_unit"),
    # Formazin units of another optical geometry (ISO 7027): no factor to NTU exists.
    Unit("FNU", "turbidity, ISO 7027", "formazin_nephelometric_unit"),
    Unit("mg/L", "concentration", "mg/L", ("mg/l",)),
    Unit("µg/L", "concentration", "µg/L", ("ug/L", "μg/L", "ug/l")),
    Unit("g/L", "concentration", "g/L", ("g/l",)),
    Unit("kg/m³", "concentration", "kg/m**3", ("kg/m3",)),
    # Per cent as sold: grams in 100 mL, so that 12.5 % hypochlorite holds 125 g/L. Common practice of the trade.
    Unit("% w/v", "concentration", "trade_percent", ("%w/v",)),
    Unit("mg/L CaCO₃", "concentration as CaCO₃", "calcium_carbonate_milligram/L", ("mg/L CaCO3", "mg/l CaCO3")),
    Unit("µS/cm", "conductivity", "microsiemens/cm", ("uS/cm", "μS/cm")),
    Unit("mS/cm", "conductivity", "millisiemens/cm"),
    Unit("S/m", "conductivity", "siemens/m"),
    Unit("mV", "voltage", "millivolt"),
    Unit("V", "voltage", "volt"),
    Unit("Ω", "resistance", "ohm", ("ohm", "Ohm")),
    Unit("1/cm", "cell constant", "1/cm"),
    Unit("mA", "current", "milliampere"),
    Unit("A", "current", "ampere"),
    Unit("°C", "temperature", "degC", ("degC", "deg C", "ºC", "C")),
    Unit("°F", "temperature", "degF", ("degF", "deg F", "ºF", "F")),
    Unit("K", "temperature", "kelvin"),
    Unit("L/s", "flow", "L/s", ("l/s",)),
    Unit("L/min", "flow", "L/min", ("l/min",)),
    Unit("L/h", "flow", "L/hour", ("l/h",)),
    Unit("mL/min", "flow", "mL/min", ("ml/min",)),
    Unit("m³/h", "flow", "m**3/hour", ("m3/h",)),
    Unit("m³/d", "flow", "m**3/day", ("m3/d",)),
    Unit("ML/d", "flow", "megaliter/day", ("Ml/d",)),
    Unit("gal/min", "flow", "gallon/min", ("gpm", "US gal/min")),
    Unit("gal/h", "flow", "gallon/hour", ("gph",)),
    Unit("gal/d", "flow", "gallon/day", ("gpd",)),
    Unit("Mgal/d", "flow", "megagallon/day", ("MGD",)),
    Unit("m²", "area", "m**2", ("m2",)),
    Unit("m³", "volume", "m**3", ("m3",)),
    Unit("L", "volume", "L", ("l",)),
    Unit("mL", "volume", "mL", ("ml",)),
    Unit("ML", "volume", "megaliter"),
    Unit("gal", "volume", "gallon", ("US gal",)),
    Unit("Mgal", "volume", "megagallon"),
    Unit("kPa", "pressure", "kilopascal"),
    Unit("MPa", "pressure", "megapascal"),
    Unit("Pa", "pressure", "pascal"),
    Unit("bar", "pressure", "bar"),
    Unit("mbar", "pressure", "millibar"),
    Unit("psi", "pressure", "psi", ("lbf/in²",)),
    Unit("hPa", "pressure", "hectopascal"),
    Unit("mmHg", "pressure", "mmHg"),
    Unit("inHg", "pressure", "inHg"),
    Unit("m", "length", "m"),
    Unit("cm", "length", "cm"),
    Unit("mm", "length", "mm"),
    Unit("ft", "length", "foot"),
    Unit("in", "length", "inch"),
    Unit("h", "time", "hour", ("hours", "hrs", "hr")),
    Unit("min", "time", "minute"),
    Unit("s", "time", "second", ("sec",)),
    Unit("d", "time", "day", ("days",)),
    Unit("kg", "mass", "kg"),
    Unit("g", "mass", "g"),
    Unit("lb", "mass", "pound", ("lbs",)),
    Unit("kg/h", "mass flow", "kg/hour"),
    Unit("kg/d", "mass flow", "kg/day"),
    Unit("g/h", "mass flow", "g/hour"),
    Unit("lb/d", "mass flow", "pound/day", ("lbs/d", "ppd")),
    Unit("%", "share", "percent", ("percent",)),
    Unit("‰", "salinity", "salinity_permille"),
    Unit("ppm", "gas in air", "gas_millionth"),
    # Percent of the lower explosive limit: what it is in percent by volume depends on the gas.
    Unit("% LEL", "share of the explosive limit", "explosive_percent", ("%LEL",)),
    Unit("1/mL", "particles", "1/mL"),
    Unit("mW/cm²", "irradiance", "milliwatt/cm**2", ("mW/cm2",)),
    Unit("W/m²", "irradiance", "watt/m**2", ("W/m2",)),
    Unit("mJ/cm²", "UV dose", "millijoule/cm**2", ("mJ/cm2",)),
    Unit("J/m²", "UV dose", "joule/m**2", ("J/m2",)),
    Unit("starts", "starts", "start_count", ("start",)),
    Unit("1/min", "speed", "1/minute", ("rpm", "r/min")),
    Unit("Hz", "speed", "1/second"),
    Unit("kW", "power", "kilowatt"),
    Unit("W", "power", "watt"),
    Unit("kWh", "energy", "kilowatt_hour"),
)

BY_CODE: dict[str, Unit] = {unit.code: unit for unit in UNITS}
BY_SPELLING: dict[str, Unit] = {spelled: unit for unit in UNITS for spelled in (unit.code, *unit.also)}

DEFINITIONS = (
    "acidity_unit = [acidity]",
    "nephelometric_turbidity_unit = [turbidity] = NTU",
    "formazin_nephelometric_unit = [turbidity_iso_7027] = FNU",
    "calcium_carbonate_milligram = [calcium_carbonate_mass]",
    "trade_percent = 0.01 kg/L",
    "salinity_permille = [salinity]",
    "gas_millionth = [gas_in_air]",
    "explosive_percent = [explosive_share]",
    "start_count = [starts]",
)


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """Return the one pint registry, its magnitudes fractions."""
    # Half a second to import: only what converts pays for it.
    import pint

    made: UnitRegistry[Any] = pint.UnitRegistry(non_int_type=Fraction)
    for definition in DEFINITIONS:
        made.define(definition)
    return made


def unit_of(typed: str) -> Unit:
    """Return the unit that a typed spelling means; letters' size counts, as mL is not ML.

    Raises UnknownUnit with a sentence that names what is near to it.
    """
    text = typed.strip()
    known = BY_SPELLING.get(text)
    if known is not None:
        return known
    near = nearby(text)
    advice = f"did you mean {' or '.join(near)}?" if near else "the list of units says how to write it."
    raise UnknownUnit(f"\u201c{text}\u201d is not a unit that is known here; {advice}")


def nearby(text: str) -> list[str]:
    """Return up to three codes that a misspelt unit may mean, nearest first."""
    from difflib import get_close_matches

    folded: dict[str, list[str]] = {}
    for spelled, unit in BY_SPELLING.items():
        folded.setdefault(spelled.casefold(), []).append(unit.code)
    plain = text.casefold().replace(" ", "")
    close = [plain] if plain in folded else get_close_matches(plain, folded, n=3, cutoff=0.6)
    return list(dict.fromkeys(code for spelled in close for code in folded[spelled]))[:3]


def same_quantity(one: str, other: str) -> bool:
    """Whether two unit codes measure the same quantity, so that one converts into the other."""
    return BY_CODE[one].quantity == BY_CODE[other].quantity


def codes_for(code: str) -> list[str]:
    """Return the codes of every unit that measures what the given unit measures, itself first."""
    return [code, *(unit.code for unit in UNITS if unit.code != code and same_quantity(code, unit.code))]


def canonical_code(code: str) -> str:
    """Return the code of the canonical unit of a unit's quantity: the first of the table."""
    return next(unit.code for unit in UNITS if unit.quantity == BY_CODE[code].quantity)


def convert(value: Fraction, from_code: str, to_code: str) -> Fraction:
    """Return a value in another unit of the same quantity, exactly: scale times value plus offset.

    value: in `from_code`; returns the value in `to_code`. Temperatures are points on the scale, not differences.
    Source: the factors of pint's registry, which follow the SI Brochure and NIST SP 811 (exact where those are).
    Raises OtherQuantity when the units measure different things.
    """
    scale, offset = scale_and_offset(from_code, to_code)
    return value * scale + offset


@lru_cache(maxsize=512)
def scale_and_offset(from_code: str, to_code: str) -> tuple[Fraction, Fraction]:
    """Return (scale, offset) so that a value in `to_code` is scale times the value in `from_code` plus offset."""
    if not same_quantity(from_code, to_code):
        one, other = BY_CODE[from_code], BY_CODE[to_code]
        raise OtherQuantity(
            f"{one.code} measures {one.quantity} and {other.code} measures {other.quantity}; no factor leads from one "
            "to the other."
        )
    zero, one_more = (
        registry().Quantity(Fraction(n), BY_CODE[from_code].pint).to(BY_CODE[to_code].pint).magnitude for n in (0, 1)
    )
    return Fraction(one_more) - Fraction(zero), Fraction(zero)
