"""What is asked at an oxygen sensor, and the limits it is judged by."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, choice, number, standard
from calibration.compute.method import Ask, Limit, Typed


@dataclass(frozen=True, slots=True, kw_only=True)
class Oxygen(SignalRecord):
    """One set at an oxygen sensor."""

    way: str = choice(
        "how it is checked",
        ("air", "In water-saturated air"),
        ("water", "In air-saturated water"),
        ("beside", "Beside another meter or a titration"),
        must=True,
    )
    temperature: Typed | None = number("temperature", "°C", low="-5", high="60", must=True)
    pressure: Typed | None = number(
        "air pressure at the place", "mmHg", "hPa", "kPa", "inHg", low="350", high="850",
        advice="Read on the instrument or a barometer here; not the weather service's, which is reduced to sea level.",
    )  # fmt: skip
    shown: Typed | None = number("display shows", "mg/L", low="0", high="40", must=True)
    percent: Typed | None = number("saturation the display shows", "%", low="0", high="300")
    beside: Typed | None = number("the other meter shows", "mg/L", low="0", high="40")
    cap: Typed | None = number("age of the cap or membrane", "d", low="0", high="5000", rare=True)
    thermometer: str = standard("read with the thermometer", "thermometer", must=False, rare=True)
    barometer: str = standard("read on the barometer", "barometer", must=False, rare=True)
    meter: str = standard("the other meter", "bench meter", must=False)
    zero: Typed | None = number("display in the zero solution", "mg/L", low="0", high="10", rare=True)
    zero_minutes: Typed | None = number("minutes in the zero solution", "min", low="0", high="120", rare=True)
    zero_lot: str = standard("zero solution", "zero solution", must=False, rare=True)
    salinity: Typed | None = number("salinity set in the meter", "‰", low="0", high="40", rare=True)


SETTINGS = (
    Ask(
        name="height",
        label="height of the place above the sea",
        part="settings",
        units=("m",),
        low=Fraction(-400),
        high=Fraction(5000),
        advice="Used only where no pressure is read; shown as an estimate.",
    ),
    Ask(
        name="cap_life",
        label="longest age of the cap or membrane",
        part="settings",
        units=("d",),
        low=Fraction(1),
        high=Fraction(5000),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="error at saturation",
        unit="mg/L",
        of="",
        low=Fraction("-0.3"),
        high=Fraction("0.3"),
        source="a field procedure: 0.3 mg/L of the saturation value",
        tag="common practice",
    ),
    Limit(
        name="left",
        what="error at saturation, as left",
        unit="mg/L",
        of="",
        low=Fraction("-0.2"),
        high=Fraction("0.2"),
        source="a field manual: 0.2 mg/L after calibration",
        tag="from memory",
    ),
    Limit(
        name="zero",
        what="zero",
        unit="mg/L",
        of="",
        low=None,
        high=Fraction("0.2"),
        source="a field manual: 0.2 mg/L in the zero solution",
        tag="from memory",
    ),
)
