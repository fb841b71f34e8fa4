"""What is asked at a turbidity meter, what the site sets, what a value is judged by, what a standard is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.asked import SignalRecord, choice, number, yes_or_no
from calibration.compute.asked import standard as a_standard
from calibration.compute.method import Ask, Band, Known, Limit, Typed, band_for
from calibration.compute.standards import Standard

FIXED, SHARE = Fraction("0.05"), Fraction("0.10")
BLOCK = "turbidity block"
UNITS: Mapping[str, str] = {"": "NTU", "ntu": "NTU", "fnu": "FNU"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Turbidity(SignalRecord):
    """One set at a turbidity meter; dirty and cleaned water are read as found alone."""

    way: str = choice(
        "what it is read in", ("primary", "A primary standard"), ("block", "A secondary standard"), must=True
    )
    standard: str = a_standard("standard", "turbidity standard", BLOCK)
    shown: Typed | None = number("meter shows in the standard, cleaned", "NTU", low="0", high="10000", must=True)
    dirty: Typed | None = number("on the water, before cleaning", "NTU", low="0", high="10000", part="as found")
    cleaned: Typed | None = number("on the same water, cleaned", "NTU", low="0", high="10000", part="as found")
    low_standard: str = a_standard("low standard", "turbidity standard", BLOCK, must=False, rare=True)
    low_shown: Typed | None = number("meter shows in the low standard", "NTU", low="0", high="100", rare=True)
    flow: Typed | None = number("sample flow", "mL/min", "L/min", low="0", high="20000", rare=True)
    vial: bool | None = yes_or_no("vial or block wiped, no scratch, no finger mark", rare=True)
    rising: bool | None = yes_or_no("the reading rose and then fell", rare=True)
    diluted: bool | None = yes_or_no("the standard was diluted more than a day ago", rare=True)
    lamp: Typed | None = number("lamp age", "d", low="0", high="5000", rare=True)


def _setting(name: str, label: str, unit: str, high: str) -> Ask:
    return Ask(name=name, label=label, part="settings", units=(unit,), low=Fraction(0), high=Fraction(high))


SETTINGS = (
    _setting("flow_low", "least sample flow the maker allows", "mL/min", "20000"),
    _setting("flow_high", "most sample flow the maker allows", "mL/min", "20000"),
    _setting("working_value", "usual turbidity of this water", "NTU", "1000"),
    _setting("upper", "upper end of the signal", "NTU", "10000"),
    Ask(
        name="shows", label="unit the meter shows", part="settings", kind="choice",
        choices=(("ntu", "NTU: white light"), ("fnu", "FNU: infrared, ISO 7027")),
        advice="Nothing chosen counts as NTU. The limits then count in the unit that is chosen.",
    ),
)  # fmt: skip


def limit_at(true: Fraction) -> Fraction:
    """Return the larger of 0.05 NTU and 10 % of a value; equal at 0.5 NTU."""
    return max(FIXED, SHARE * true)


def _limit(name: str, what: str) -> Limit:
    return Limit(
        name=name,
        what=what,
        unit="NTU",
        of="",
        low=lambda known, true: -limit_at(true),
        high=lambda known, true: limit_at(true),
        source="Health Canada, turbidity: recalibrate above 10 % of the standard; 0.05 NTU below 0.5 from memory",
        tag="from memory",
    )


LIMITS = (
    _limit("error", "error in the standard"),
    _limit("low", "error in the low standard"),
    replace(_limit("fouling", "fouling"), source="no source: the limit in a standard, of the cleaned water",
            tag="own judgement"),
    _limit("total", "fouling and drift together"),
)  # fmt: skip


def worth(used: Standard | None, known: Known) -> Fraction | None:
    """Return what a standard is worth in this meter: a block's value is the one assigned to this very meter."""
    if used is None:
        return None
    if used.kind != BLOCK:
        return used.nominal
    assigned = used.assigned_to(known.unit_key)
    return assigned.value if assigned is not None else None


def unit_shown(known: Known) -> str:
    """Return the unit the meter shows: NTU unless the site says otherwise."""
    return UNITS.get(known.settings.get("shows", ""), "NTU")


def band_of(known: Known, name: str, value: Fraction | None) -> Band:
    """Return the limits of a judged value; together, a site's own limit of the error counts unless it set another."""
    if name == "total" and "total" not in known.limits and "error" in known.limits:
        name = "error"
    return replace(band_for(LIMITS, known, name, standard=value or Fraction(0)), unit=unit_shown(known))
