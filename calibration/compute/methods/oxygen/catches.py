"""What goes wrong at an oxygen sensor, as far as a record shows it."""

from __future__ import annotations

from fractions import Fraction

from assets.compute.formulas.oxygen import HIGHEST, LOWEST, pressure_at
from calibration.compute.doubts import ask, not_valid, refuse, remind, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Found, Known, Worked, band_for
from calibration.compute.methods.oxygen.asks import LIMITS, Oxygen

WEATHER = Fraction(20)
"""mmHg by which a pressure may lie off the usual one at a height before it is asked about: weather moves it by 15."""

CAP_DAYS = Fraction(730)
"""Age of a cap or membrane above which it is asked about where the site set none: two years, common practice."""

APART = Fraction(3)
"""How far the % a meter shows may lie from its own mg/L as % of saturation here; own judgement."""

LITTLE = Fraction(1)
"""mg/L below which two meters that agree say nothing of the gain; own judgement."""


def nothing_to_compare(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: neither pressure nor height for saturation, or no value of the other meter."""
    if inputs.way == "beside" and inputs.beside is None:
        return (refuse("beside", "missing-beside", "The other meter shows: nothing is written. Write what it reads."),)
    if inputs.way in {"air", "water"} and inputs.pressure is None and known.number("height") is None:
        sentence = (
            "Air pressure at the place: nothing is written, and no height is set for this tag. Read a barometer here."
        )
        return (refuse("pressure", "missing-pressure", sentence),)
    return ()


def outside_formula(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the formula of saturation holds from 0 to 40 degC and from 380 to 836 mmHg."""
    t, p = inputs.temperature, inputs.pressure
    if inputs.way not in {"air", "water"} or worked.figure("saturation") is not None or t is None:
        return ()
    if not LOWEST <= t.value <= HIGHEST:
        sentence = (
            f"“{t.text}” °C is outside 0 to 40 °C, where saturation can be worked out. Check beside another meter."
        )
        return (not_valid("temperature", "outside-formula", sentence.replace("“-", "“−")),)
    if p is None:
        return ()
    sentence = (
        f"{shown(p.value, 0)} mmHg is outside 380 to 836 mmHg, where saturation can be worked out. Read it again."
    )
    return (not_valid("pressure", "outside-pressure", sentence),)


def sea_level(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a pressure far from what this height usually has was reduced to sea level, or has another unit."""
    height = known.number("height")
    if inputs.pressure is None or inputs.way == "beside":
        return ()
    if height is None:
        sentence = "No height is set for this tag: a pressure reduced to sea level cannot be told from one read here."
        return (remind("pressure", "no-height", sentence),)
    usual = pressure_at(height)
    if abs(inputs.pressure.value - usual) <= WEATHER:
        return ()
    sentence = (
        f"“{inputs.pressure.text}” {inputs.pressure.unit} is {shown(inputs.pressure.value, 0)} mmHg; at this height "
        f"{shown(usual, 0)} mmHg is usual. A weather service gives it reduced to sea level. Was it read here?"
    )
    return (
        ask(
            "pressure", "sea-level", sentence, stands("here", "Read here, on a barometer"),
            spoils("reduced", "It is reduced to sea level"),
        ),
    )  # fmt: skip


def percent_as_milligrams(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: more than 20 mg/L in clean water is the saturation in % written in the wrong box; own judgement."""
    return tuple(
        ask(
            field, key, f"“{read.text}” mg/L is more than clean water holds. Is it the saturation in %?",
            stands("read", "It is shown in mg/L"), spoils("percent", "It is the saturation in %"),
        )
        for field, key, read in (("shown", "percent", inputs.shown), ("beside", "percent-beside", inputs.beside))
        if read is not None and read.value > 20
    )  # fmt: skip


def percent_otherwise(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: % and mg/L of one display that do not belong together here: another pressure or salinity is set in it."""
    own = worked.figure("slope_percent")
    if inputs.way not in {"air", "water"} or inputs.percent is None or own is None:
        return ()
    if abs(inputs.percent.value - Fraction(own)) <= APART:
        return ()
    sentence = (
        f"The display says “{inputs.percent.text}” %, and its mg/L are {shown(own, 1)} % of saturation here. "
        "Is another pressure or salinity set in it?"
    )
    return (
        ask(
            "percent", "percent-otherwise", sentence, stands("sea level", "Its % is of saturation at sea level"),
            spoils("other", "Another one is set in it"),
        ),
    )  # fmt: skip


def too_little(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: two meters that agree on next to nothing."""
    if inputs.way != "beside" or inputs.beside is None or inputs.beside.value >= LITTLE:
        return ()
    sentence = f"“{inputs.beside.text}” mg/L is next to nothing: two that agree there may differ where there is more."
    return (
        ask(
            "beside", "too-little", sentence, stands("water", "This water never has more"),
            spoils("later", "Then it is compared where there is more"),
        ),
    )  # fmt: skip


def old_cap(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a cap or membrane older than the site allows."""
    written = known.number("cap_life")
    life = CAP_DAYS if written is None else written
    if inputs.cap is None or inputs.cap.value <= life:
        return ()
    sentence = f"The cap is “{inputs.cap.text}” days old; {plain(life)} are the most here. Change it, then read again."
    return (ask("cap", "old-cap", sentence, stands("ordered", "It reads as it should; a new one is on its way")),)


def stale_zero(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a zero that was not waited for, or a solution that has gone stale."""
    high = band_for(LIMITS, known, "zero").high
    if inputs.zero is None or high is None or inputs.zero.value <= high:
        return ()
    waited = f" after {inputs.zero_minutes.text} minutes" if inputs.zero_minutes is not None else ""
    sentence = (
        f"“{inputs.zero.text}” mg/L in the zero solution{waited}: the solution may be stale or the wait too short. "
        "Make it fresh and wait until it stands still."
    )
    return (
        ask(
            "zero", "stale-zero", sentence, stands("fresh", "Fresh solution, stood still"),
            spoils("stale", "Old solution, or not waited"), about="zero",
        ),
    )  # fmt: skip


def salt_left(inputs: Oxygen, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a salinity that was left in the meter from another job."""
    if inputs.salinity is None or inputs.salinity.value == 0:
        return ()
    sentence = f"A salinity of “{inputs.salinity.text}” ‰ is set in the meter; drinking water has next to none."
    return (
        ask(
            "salinity", "salt", sentence, stands("right", "It is right for this water"),
            spoils("left", "It was left from another job"),
        ),
    )  # fmt: skip
