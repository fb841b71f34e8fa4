"""UV intensity: the duty sensor beside a reference sensor in the same port at the same lamp power."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Advice, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.methods.chlorine import mean_of
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry

DARK = Fraction("0.80")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """One reference sensor in the port."""

    standard: str = standard("reference sensor", "UV sensor")
    shown: Typed | None = number("reference sensor shows", "W/m²", "mW/cm²", low="0", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intensity(SignalRecord):
    """One set at a UV duty sensor."""

    duty: Typed | None = number("duty sensor shows", "W/m²", "mW/cm²", low="0", must=True)
    reference: tuple[Reference, ...] = rows(Reference, 1, 4)
    same_power: bool | None = yes_or_no("the same lamp power and water for both", must=True)
    wiped: str = choice("the sleeve between the readings", ("no", "Not wiped"), ("yes", "Wiped"), must=True)
    hours: Typed | None = number("lamp hours", "h", low="0", high="60000", rare=True)
    lamp_changed: bool | None = yes_or_no("lamp changed since the last check", rare=True)


LIMITS = (
    Limit(
        name="ratio",
        what="duty over reference",
        unit="",
        of="",
        low=None,
        high=Fraction("1.20"),
        source="from memory: at most 1.20, one-sided: a duty sensor that reads high under-doses",
        tag="from memory",
    ),
)


def work(inputs: Intensity, known: Known) -> Worked:
    """Work out the ratio of the duty sensor to the mean of the references."""
    steps = Steps()
    band = band_for(LIMITS, known, "ratio")
    read = [one.shown for one in inputs.reference if one.shown is not None]
    true: Entry | Typed | None = read[0] if len(read) == 1 else None
    if len(read) > 1:
        true = mean_of(steps, "mean", "Mean of the reference sensors", read, places=2, unit="W/m²")
    ratio = steps.step(
        "ratio", f"Duty over reference; {limit_said(band)}", "{d} / {r}", lambda d, r: d / r,
        {"d": inputs.duty, "r": true}, places=3, unit="", beside=band, source=band.source, label="duty over reference",
    )  # fmt: skip
    steps.judge("ratio", "duty over reference", ratio, band, standard=true.value if true is not None else None)
    hours = inputs.hours.value if inputs.hours is not None else None
    steps.given("hours", "Lamp hours, as its cabinet shows them", hours, places=0, unit="h", source="")
    points = ((true.value, inputs.duty.value),) if true is not None and inputs.duty is not None else ()
    return steps.worked(Model(kind="gain", points=points), advice=_advice(ratio), next_value={"ratio": value_of(ratio)})


def _advice(ratio: Entry | None) -> tuple[Advice, ...]:
    if ratio is None or ratio.value >= DARK:
        return ()
    return (
        Advice(
            what="ratio", word="reads low", gravity=2, tag="own judgement", source="our own limit",
            sentence="Under 0.80 the duty sensor reads low: safe, but the lamps burn for nothing. Clean or replace it.",
        ),
    )  # fmt: skip


def not_alike(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: other lamp power, or a sleeve wiped in between, makes two readings of two things."""
    found: list[Found] = []
    if inputs.same_power is False:
        sentence = "Lamp power or water changed between the readings. Keep both and read again."
        found.append(not_valid("same_power", "power", sentence))
    if inputs.wiped == "yes":
        sentence = "The sleeve was wiped between the readings, so its dirt counts as an error. Read both again."
        found.append(not_valid("wiped", "wiped", sentence))
    return tuple(found)


def one_reference(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a ratio that fails beside fewer than three references may be the reference's own fault."""
    ratio = worked.figure("ratio")
    count = len([one for one in inputs.reference if one.shown is not None])
    if ratio is None or Fraction(ratio) <= Fraction("1.20") or count >= 3:
        return ()
    sentence = (
        f"The ratio, {shown(Fraction(ratio), 2)}, fails beside {count}. Compare with the mean of at least three "
        "reference sensors before the duty sensor is blamed."
    )
    return (
        ask("duty", "one-reference", sentence, stands("no more", "There are no more here"), spoils("later", "Later")),
    )


def hours_set_back(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: lamp hours that went down without a new lamp."""
    last = known.last.get("hours")
    if inputs.hours is None or last is None or inputs.hours.value >= last or inputs.lamp_changed:
        return ()
    sentence = (
        f"Lamp hours fell from {shown(last, 0)} to “{inputs.hours.text}”. Was the lamp changed, or the counter set "
        "back?"
    )
    return (ask("hours", "hours", sentence, stands("counter", "The counter was set back, the lamp is the old one")),)


METHOD: Method[Intensity] = Method(
    code="uv-intensity",
    name="UV intensity, beside a reference sensor",
    version="1.0",
    quantity="irradiance",
    standards=("UV sensor",),
    asks=asks_of(Intensity),
    limits=LIMITS,
    cautions=(
        "UV burns eyes and skin: never look into a lit port; lamps off and locked before a chamber is opened.",
        "Water that passes while a sensor is out is dosed by nobody: hold, divert or stop as the site's rules say.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL, not_alike, one_reference, hours_set_back,
        reminder("hours", "hours-read", "Write the lamp hours; a counter set back without a new lamp hides its age."),
    ),
    read=reader_of(Intensity),
    legends={"reference": "Reference"},
    headline="ratio",
)  # fmt: skip
