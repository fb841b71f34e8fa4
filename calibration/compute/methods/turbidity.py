"""Turbidity: the meter in a primary standard, in a secondary one with the value assigned to this meter, and low down.

Fouling (dirty minus cleaned on the same water) and drift (cleaned minus standard) are told apart. The gain comes from
the standard, the zero from a low check.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, yes_or_no
from calibration.compute.asked import standard as a_standard
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, remind, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.usual_budget import against_standard

FIXED, SHARE = Fraction("0.05"), Fraction("0.10")
LOW_ENOUGH = Fraction(1)
"""NTU up to which a standard says something of the zero; own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turbidity(SignalRecord):
    """One set at a turbidity meter."""

    way: str = choice(
        "what it is read in", ("primary", "A primary standard"), ("block", "A secondary standard"), must=True
    )
    standard: str = a_standard("standard", "turbidity standard", "turbidity block")
    shown: Typed | None = number("meter shows in the standard", "NTU", low="0", high="10000", must=True)
    dirty: Typed | None = number("on the water, before cleaning", "NTU", low="0", high="10000", part="before")
    cleaned: Typed | None = number("on the same water, cleaned", "NTU", low="0", high="10000")
    low_standard: str = a_standard("low standard", "turbidity standard", "turbidity block", must=False, rare=True)
    low_shown: Typed | None = number("meter shows in the low standard", "NTU", low="0", high="100", rare=True)
    flow: Typed | None = number("sample flow", "mL/min", "L/min", low="0", high="20000", rare=True)
    vial: bool | None = yes_or_no("vial or block wiped, no scratch, no finger mark", rare=True)
    rising: bool | None = yes_or_no("the reading rose and then fell", rare=True)
    diluted: bool | None = yes_or_no("the standard was diluted more than a day ago", rare=True)
    lamp: Typed | None = number("lamp age", "d", low="0", high="5000", rare=True)


SETTINGS = (
    Ask(
        name="flow_low", label="least sample flow the maker allows", part="settings", units=("mL/min",),
        low=Fraction(0), high=Fraction(20000),
    ),
    Ask(
        name="flow_high", label="most sample flow the maker allows", part="settings", units=("mL/min",),
        low=Fraction(0), high=Fraction(20000),
    ),
    Ask(
        name="working_value", label="usual turbidity of this water", part="settings", units=("NTU",), low=Fraction(0),
        high=Fraction(1000),
    ),
    Ask(
        name="upper", label="upper end of the signal", part="settings", units=("NTU",), low=Fraction(0),
        high=Fraction(10000),
    ),
)  # fmt: skip


def limit_at(true: Fraction) -> Fraction:
    """Return the larger of 0.05 NTU and 10 % of the standard; equal at 0.5 NTU."""
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


LIMITS = (_limit("error", "error in the standard"), _limit("low", "error in the low standard"))


def worth(used: Standard | None, known: Known) -> Fraction | None:
    """Return what a standard is worth in this meter: a block's value is the one assigned to this very meter."""
    if used is None:
        return None
    if used.kind != "turbidity block":
        return used.nominal
    assigned = used.assigned_to(known.unit_key)
    return assigned.value if assigned is not None else None


def _source(used: Standard | None, known: Known) -> str:
    if used is None:
        return ""
    assigned = used.assigned_to(known.unit_key)
    if used.kind == "turbidity block" and assigned is not None:
        return f"{used.called}, assigned to this meter on {assigned.on.day} {assigned.on:%B %Y}"
    return used.called


def work(inputs: Turbidity, known: Known) -> Worked:
    """Work out the error in the standard, fouling and drift, and the zero where a low standard was read."""
    steps = Steps()
    used = known.standards.get(inputs.standard)
    true = steps.given(
        "true", "The standard in this meter", worth(used, known), places=3, unit="NTU", source=_source(used, known)
    )
    band = band_for(LIMITS, known, "error", standard=value_of(true) or Fraction(0))
    error = steps.step(
        "error", f"Error in the standard; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=3, unit="NTU", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.step(
        "error_percent", "The same in % of standard", "100 × {e} / {t}", lambda e, t: 100 * e / t,
        {"e": error, "t": true}, places=1, unit="%", plus=True,
    )  # fmt: skip
    steps.judge("error", "error in the standard", error, band, standard=value_of(true))
    fouling = steps.step(
        "fouling", "Fouling: dirty minus cleaned, on the same water", "{d} − {c}", lambda d, c: d - c,
        {"d": inputs.dirty, "c": inputs.cleaned}, places=3, unit="NTU", plus=True,
    )  # fmt: skip
    steps.step(
        "as_found_total", "Error as found: fouling and drift together", "{f} + {e}", lambda f, e: f + e,
        {"f": fouling, "e": error}, places=3, unit="NTU", plus=True,
    )  # fmt: skip
    low_points = _low(steps, inputs, known)
    points = ((true.value, inputs.shown.value),) if true is not None and inputs.shown is not None else ()
    kind = "two-point" if points and low_points else "gain"
    return steps.worked(
        Model(kind="two-point" if kind == "two-point" else "gain", points=low_points + points),
        next_value={"error": value_of(error)},
    )


def _low(steps: Steps, inputs: Turbidity, known: Known) -> tuple[tuple[Fraction, Fraction], ...]:
    used = known.standards.get(inputs.low_standard)
    true = steps.given(
        "low_true", "The low standard in this meter", worth(used, known), places=3, unit="NTU",
        source=_source(used, known),
    )  # fmt: skip
    band = band_for(LIMITS, known, "low", standard=value_of(true) or Fraction(0))
    error = steps.step(
        "low", f"Error in the low standard; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.low_shown, "t": true}, places=3, unit="NTU", plus=True, beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("low", "error in the low standard", error, band, standard=value_of(true))
    return ((true.value, inputs.low_shown.value),) if true is not None and inputs.low_shown is not None else ()


def block_not_primary(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a secondary standard read as a primary one, or one that has no value for this very meter."""
    used = known.standards.get(inputs.standard)
    if used is None:
        return ()
    if used.kind == "turbidity block" and inputs.way == "primary":
        sentence = f"{used.called} is a secondary standard: it verifies, it does not calibrate. Use a primary one."
        return (not_valid("way", "block-as-primary", sentence),)
    if used.kind == "turbidity block" and used.assigned_to(known.unit_key) is None:
        sentence = (
            f"{used.called} has no value assigned on this meter; the value of another meter does not count here. "
            "Assign one right after a primary calibration."
        )
        return (not_valid("standard", "block-unassigned", sentence),)
    return ()


def old_assignment(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a block that was not assigned anew after the last primary calibration of this meter."""
    used, last = known.standards.get(inputs.standard), known.settings.get("last_primary", "")
    assigned = used.assigned_to(known.unit_key) if used is not None else None
    if assigned is None or not last or assigned.on.isoformat() >= last:
        return ()
    sentence = (
        f"The value of this block was assigned on {assigned.on.isoformat()}, before the last primary calibration on "
        f"{last}. Assign it anew, then verify."
    )
    return (not_valid("standard", "old-assignment", sentence),)


def zero_not_proved(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a high standard proves the gain, not the zero of water far below it."""
    true, usual = worked.figure("true"), known.number("working_value")
    if true is None or inputs.low_shown is not None or Fraction(true) <= LOW_ENOUGH:
        return ()
    at = f", {plain(usual)} NTU" if usual is not None else ""
    sentence = (
        f"In {plain(Fraction(true))} NTU the gain is proved, the zero is not. For water far below it{at} read a low "
        "standard or a blank too."
    )
    return (remind("low_shown", "zero-not-proved", sentence),)


def spoilt_reading(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: bubbles, an old dilution, a scratched vial."""
    found: list[Found] = []
    if inputs.rising:
        found.append(not_valid("rising", "bubbles", "Rising and then falling are bubbles. Degas, wait, read again."))
    if inputs.diluted:
        sentence = "A diluted standard holds for a day only. Dilute anew and read again."
        found.append(not_valid("diluted", "dilution", sentence))
    if inputs.vial is False:
        sentence = "A scratch or a finger mark scatters light. Wipe or change the vial and read again."
        found.append(not_valid("vial", "vial", sentence))
    return tuple(found)


def flow_outside(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a sample flow outside the maker's band."""
    low, high = known.number("flow_low"), known.number("flow_high")
    if inputs.flow is None or (low is None and high is None):
        return ()
    if (low is None or inputs.flow.value >= low) and (high is None or inputs.flow.value <= high):
        return ()
    sentence = f"A sample flow of “{inputs.flow.text}” {inputs.flow.unit} is outside the maker's band. Set it first."
    return (
        ask(
            "flow", "flow", sentence, stands("set since", "Set right, the water was read after that"),
            spoils("read so", "The water was read at this flow"),
        ),
    )  # fmt: skip


def clipped(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: exactly the upper end of the signal is where it stops, not what the water has."""
    upper = known.number("upper")
    if upper is None or inputs.shown is None or inputs.shown.value != upper:
        return ()
    sentence = f"“{inputs.shown.text}” NTU is exactly the upper end of the signal. Does it stop there?"
    return (
        ask(
            "shown", "clipped", sentence, stands("really", "The display itself shows it, beyond the signal"),
            spoils("clipped", "It stops there"),
        ),
    )  # fmt: skip


def cleaned_first(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: fouling can only be told when the water was read before and after cleaning."""
    if inputs.kind != "as found" or inputs.cleaned is None or inputs.dirty is not None:
        return ()
    sentence = "The water was read cleaned and not before. What the dirt did is lost; next time read, then clean."
    return (remind("cleaned", "cleaned-first", sentence),)


def budget(inputs: Turbidity, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error: the standard's and the last digit."""
    used = known.standards.get(inputs.standard)
    return against_standard(used, inputs.shown, name="error", what="error in the standard", unit="NTU")


METHOD: Method[Turbidity] = Method(
    code="turbidity",
    name="Turbidity, in a standard",
    version="1.0",
    quantity="turbidity",
    standards=("turbidity standard", "turbidity block"),
    asks=asks_of(Turbidity),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Formazin is made from substances that harm: gloves, goggles, no dust, waste as the site's rules say.",
        "Take the hold off within the 15 minutes of the record; a filter must not run unwatched.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, block_not_primary, old_assignment, zero_not_proved, spoilt_reading, flow_outside, clipped,
        cleaned_first,
        reminder("vial", "wipe", "Wipe vial or block with the maker's cloth; a finger mark reads as turbidity."),
    ),
    read=reader_of(Turbidity),
    words={"fouling": "What dirt alone adds: the same water before and after cleaning."},
)  # fmt: skip
