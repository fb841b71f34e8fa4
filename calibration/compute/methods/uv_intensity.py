"""UV intensity: the duty sensor beside a reference sensor in the same port at the same lamp power.

High is the unsafe side, for then the lamps are turned down; low is safe and burns power. A sensor that shows next to
nothing is no low one but a dead one, and fails.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Advice, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit
from calibration.compute.standards import in_unit
from calibration.compute.steps import Number, Steps, limit_said, value_of
from calibration.compute.working import Entry

READS_LOW = Fraction("0.80")
"""Duty over reference under which it is advised to clean or replace; own judgement."""

APART = Fraction("0.20")
"""How far a reference may lie from the mean of all, as a share of it, before it is asked about; own judgement."""

UNIT = "W/m²"


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
    Limit(
        name="alive",
        what="duty over reference, to be a reading at all",
        unit="",
        of="",
        low=Fraction("0.20"),
        high=None,
        source="own judgement: under a fifth it does not see the lamp: dead, unplugged or blind",
        tag="own judgement",
    ),
)


def _references(inputs: Intensity) -> list[tuple[int, Reference, Typed]]:
    return [(count, one, one.shown) for count, one in enumerate(inputs.reference, 1) if one.shown is not None]


def _corrected(steps: Steps, inputs: Intensity, known: Known) -> list[Entry | Typed]:
    """Return what each reference says by its certificate; a line is written for one that has a correction."""
    found: list[Entry | Typed] = []
    for count, one, read in _references(inputs):
        added = correction(known.standards.get(one.standard), read.value, UNIT)
        true = steps.step(
            f"reference_{count}", f"Reference {count}, corrected by its certificate", "{s} + {c}",
            lambda s, c: s + c, {"s": read, "c": added}, places=2, unit=UNIT,
        ) if added else read  # fmt: skip
        found.append(true or read)
    return found


def _mean(steps: Steps, read: list[Entry | Typed]) -> Entry | Typed | None:
    if len(read) < 2:
        return read[0] if read else None
    numbers: dict[str, Number] = {f"v{count}": one for count, one in enumerate(read, 1)}
    return steps.step(
        "mean", "Mean of the reference sensors", f"({' + '.join('{' + key + '}' for key in numbers)}) / {len(read)}",
        lambda **v: sum(v.values(), Fraction(0)) / len(v), numbers, places=2, unit=UNIT,
    )  # fmt: skip


def work(inputs: Intensity, known: Known) -> Worked:
    """Work out the ratio of the duty sensor to the mean of the references, judged upwards and for being alive."""
    steps = Steps()
    band, alive = (band_for(LIMITS, known, name) for name in ("ratio", "alive"))
    true = _mean(steps, _corrected(steps, inputs, known))
    ratio = steps.step(
        "ratio", f"Duty over reference; {limit_said(band)}, {limit_said(alive)}", "{d} / {r}", lambda d, r: d / r,
        {"d": inputs.duty, "r": true}, places=3, unit="", beside=band, source=band.source, label="duty over reference",
    )  # fmt: skip
    standard_value = true.value if true is not None else None
    steps.judge("ratio", "duty over reference", ratio, band, standard=standard_value)
    steps.judge("alive", "duty over reference, to be a reading at all", ratio, alive, standard=standard_value)
    hours = inputs.hours.value if inputs.hours is not None else None
    steps.given("hours", "Lamp hours, as its cabinet shows them", hours, places=0, unit="h", source="")
    points = ((true.value, inputs.duty.value),) if true is not None and inputs.duty is not None else ()
    return steps.worked(Model(kind="gain", points=points), advice=_advice(ratio), next_value={"ratio": value_of(ratio)})


def _advice(ratio: Entry | None) -> tuple[Advice, ...]:
    if ratio is None or ratio.value >= READS_LOW:
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


def dark_reference(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a reference that sees no light. Ask: one that lies far from the mean of all."""
    found: list[Found] = []
    mean = worked.figure("mean")
    for count, _, read in _references(inputs):
        field = f"reference{count}_shown"
        if read.value == 0:
            sentence = f"Reference {count} shows no light: lamp out, port shut or sensor dead. Nothing is compared so."
            found.append(not_valid(field, f"dark-{count}", sentence))
        elif mean is not None and abs(read.value - Fraction(mean)) > APART * Fraction(mean):
            sentence = (
                f"Reference {count} shows “{read.text}”, more than {shown(100 * APART, 0)} % off the mean of all, "
                f"{shown(mean, 2)}. Is it sound, and was it in the same port?"
            )
            found.append(
                ask(
                    field, f"apart-{count}", sentence, stands("sound", "Sound, and in the same port"),
                    spoils("unsound", "It cannot be relied on"),
                )
            )  # fmt: skip
    return tuple(found)


def no_reference(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: one sensor written twice, the duty sensor as its own reference, one that measures something else."""
    found: list[Found] = []
    seen: dict[str, int] = {}
    for count, one in enumerate(inputs.reference, 1):
        used, field = known.standards.get(one.standard), f"reference{count}_standard"
        if not one.standard or used is None:
            continue
        if one.standard == known.unit_key:
            sentence = f"{used.called} is the duty sensor itself. Take a reference sensor."
            found.append(refuse(field, f"itself-{count}", sentence))
        if one.standard in seen:
            sentence = f"{used.called} is reference {seen[one.standard]} already: it counts once. Take another sensor."
            found.append(refuse(field, f"twice-{count}", sentence))
        if in_unit(used, UNIT) is None:
            sentence = f"{used.called} is given in {used.unit}, which is no irradiance. Choose one given in {UNIT}."
            found.append(refuse(field, f"other-unit-{count}", sentence))
        seen.setdefault(one.standard, count)
    return tuple(found)


def one_reference(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a ratio that fails beside fewer than three references may be the reference's own fault."""
    ratio, most = worked.figure("ratio"), band_for(LIMITS, known, "ratio").high
    count = len({one.standard for _, one, _ in _references(inputs)})
    if ratio is None or most is None or Fraction(ratio) <= most or count >= 3:
        return ()
    sentence = (
        f"The ratio, {shown(Fraction(ratio), 2)}, fails beside {count}. Compare with the mean of at least three "
        "reference sensors before the duty sensor is blamed."
    )
    return (
        ask("duty", "one-reference", sentence, stands("no more", "There are no more here"), spoils("later", "Later")),
    )


def lamp_age(inputs: Intensity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: lamp hours that went down without a new lamp, or go on counting with one."""
    last = known.last.get("hours")
    if inputs.hours is None or last is None:
        return ()
    text = inputs.hours.text
    if inputs.hours.value < last and not inputs.lamp_changed:
        sentence = f"Lamp hours fell from {shown(last, 0)} to “{text}”. Was the lamp changed, or the counter set back?"
        return (
            ask("hours", "hours", sentence, stands("counter", "The counter was set back, the lamp is the old one")),
        )
    if inputs.hours.value >= last and inputs.lamp_changed:
        sentence = f"The lamp is new, and its hours went on from {shown(last, 0)} to “{text}”. Is the counter set back?"
        return (ask("hours", "hours-go-on", sentence, stands("runs on", "It counts the reactor, not the lamp")),)
    return ()


def budget(inputs: Intensity, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the ratio: each reference's certificate, and the last digit of all that was read.

    The ratio changes by 1/r with the duty sensor and by -d/r² with the mean, so by an n-th of that with each of n.
    Nothing is drawn where one of the references states none; how they differ is asked about, not counted.
    """
    read, ratio = _references(inputs), worked.figure("ratio")
    if ratio is None or inputs.duty is None or not worked.model.points:
        return {}
    true = worked.model.points[0][0]
    each = -Fraction(ratio) / true / len(read)
    parts = [last_digit(inputs.duty, UNIT, sensitivity=1 / true, name="last digit of the duty sensor")]
    for count, one, typed in read:
        stated = from_standard(known.standards.get(one.standard), unit=UNIT, sensitivity=each)
        if stated is None:
            return {}
        parts += [stated, last_digit(typed, UNIT, sensitivity=each, name=f"last digit of reference {count}")]
    return {
        **drawn(parts, name="ratio", what="duty over reference", unit=""),
        **drawn(parts, name="alive", what="duty over reference, to be a reading at all", unit=""),
    }


METHOD: Method[Intensity] = Method(
    code="uv-intensity",
    name="UV intensity, beside a reference sensor",
    version="1.1",
    quantity="irradiance",
    standards=("UV sensor",),
    asks=asks_of(Intensity),
    limits=LIMITS,
    cautions=(
        "UV burns eyes and skin: never look into a lit port; lamps off and locked before a chamber is opened.",
        "Water that passes while a sensor is out is dosed by nobody: hold, divert or stop as the site's rules say.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, not_alike, no_reference, dark_reference, one_reference, lamp_age,
        reminder("hours", "hours-read", "Write the lamp hours; a counter set back without a new lamp hides its age."),
    ),
    read=reader_of(Intensity),
    legends={"reference": "Reference"},
    headline="ratio",
)  # fmt: skip
