"""What can be doubtful in the readings themselves: temperatures, the process, copied figures, the transmitter's own."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from calibration.compute.figures import plain, shown
from calibration.compute.method import Choice, Found, Typed, Worked
from calibration.compute.methods.ph.inputs import Standing
from calibration.compute.methods.ph.setup import Setup
from calibration.compute.methods.ph.standards import ROOM, WRITE_AGAIN, in_celsius

BUFFERS_TOGETHER = Fraction(2)
"""degC between the buffers: own judgement."""

NEAR_PROCESS = Fraction(10)
"""degC between buffer and process: own judgement."""

WARM, FAHRENHEIT_NEAR = Fraction(40), Fraction(5)
"""degC above which a buffer is asked about, and how near degF must come to the process: own judgement."""

LABEL_TRAP = Fraction("0.02")
"""pH between label and value at temperature from which an exact label on the display is asked about: own judgement."""


def _stands(code: str, label: str) -> Choice:
    return Choice(code=code, label=label, then="stands")


def _measured(label: str = "It was measured so") -> Choice:
    return _stands("measured", label)


def default_temperature(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: exactly 25 degC in every buffer is what instruments show when nobody measures."""
    if not setup.temperatures or any(found != ROOM for found in setup.temperatures):
        return ()
    return (
        Found(
            weight="ask",
            field="point1_temperature",
            key="default-temperature",
            sentence="The buffers are all written as 25 °C exactly, the value that stands there when nobody measures. "
            "Was the temperature measured in the buffers?",
            choices=(
                _measured("Measured in the buffers: 25 °C"),
                Choice(code="not measured", label="Not measured", then="not valid"),
                WRITE_AGAIN,
            ),
        ),
    )


def _looks_fahrenheit(typed: Typed, process: Typed | None) -> bool:
    """Tell whether a temperature makes more sense in degF: over 40, or far over the process and near it in degF."""
    if typed.value > WARM:
        return True
    if process is None:
        return False
    far_above = typed.value - process.value > 2 * NEAR_PROCESS
    return far_above and abs(in_celsius(typed.value) - process.value) <= FAHRENHEIT_NEAR


def fahrenheit(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a temperature that looks like degF, in a buffer or in the process."""
    process = setup.inputs.process_temperature
    places = [(one.name, f"{one.prefix}temperature", one.point.temperature, process) for one in setup.points]
    places.append(("Process", "process_temperature", process, None))
    return tuple(
        _ask_fahrenheit(name, field, typed)
        for name, field, typed, beside in places
        if typed is not None and _looks_fahrenheit(typed, beside)
    )


def _ask_fahrenheit(name: str, field: str, typed: Typed) -> Found:
    return Found(
        weight="ask",
        field=field,
        key=f"fahrenheit-{field}",
        sentence=f"{name}: “{typed.text}” °C is warm. If it was read in °F, it is {shown(in_celsius(typed.value), 1)} "
        "°C: write that. Was it read in °C?",
        choices=(_measured("It was read in °C"), WRITE_AGAIN),
    )


def temperatures_apart(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: buffers more than 2 degC from one another; the slope is computed at their mean."""
    found = setup.temperatures
    if len(found) < 2 or max(found) - min(found) <= BUFFERS_TOGETHER:
        return ()
    return (
        Found(
            weight="ask",
            field="point2_temperature",
            key="temperatures-apart",
            sentence=f"The buffers are {plain(max(found) - min(found))} °C apart, from {plain(min(found))} to "
            f"{plain(max(found))} °C; the slope is worked out at their mean. Bring them together and read again, or "
            "say why not.",
            choices=(_measured("They were so"), WRITE_AGAIN),
        ),
    )


def far_from_process(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a buffer more than 10 degC from the process."""
    process = setup.inputs.process_temperature
    if process is None:
        return ()
    return tuple(
        Found(
            weight="ask",
            field=f"{one.prefix}temperature",
            key=f"far-from-process-{one.prefix}temperature",
            sentence=f"{one.name}: the buffer is at “{one.point.temperature.text}” °C, the process at "
            f"“{process.text}” °C, more than 10 °C apart. Let buffers and probe come to the process temperature, or "
            "say why not.",
            choices=(_measured("They were so"), WRITE_AGAIN),
        )
        for one in setup.points
        if one.point.temperature is not None and abs(one.point.temperature.value - process.value) > NEAR_PROCESS
    )


def outside_buffers(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a process value that does not lie between the buffers, so that their line is extended."""
    true, points = worked.figure("process_ph"), [ph for ph, _ in setup.on_display]
    if true is None or len(points) < 2 or min(points) <= true <= max(points):
        return ()
    side = "below" if true < min(points) else "above"
    return (
        Found(
            weight="ask",
            field="process_shown",
            key="outside-buffers",
            sentence=f"The process, pH {shown(true, 2)}, lies {side} all buffers, pH {shown(min(points), 2)} to "
            f"{shown(max(points), 2)}: their line is extended to it. Use buffers on both sides of the process, or say "
            "why not.",
            choices=(_stands("extended", "Extend the line"), WRITE_AGAIN),
        ),
    )


def no_process(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Refuse: neither a reading of the process nor a working pH, so there is nowhere to judge the error."""
    given = (setup.inputs.process_shown, setup.working_ph, setup.known.last.get("process_ph"))
    if any(one is not None for one in given) or any(found.field == "process_shown" for found in setup.inputs.unread):
        return ()
    return (
        Found(
            weight="refuse",
            field="process_shown",
            key="no-process",
            sentence="Display in the process: nothing is written, and the requirement has no working pH to fall back "
            "on. Write what the display showed before the probe was taken out, like 7.80.",
        ),
    )


def label_on_display(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask, as left: a display that shows the label exactly where the buffer is worth something else, point by point.

    Where label and value agree, the same is asked once of the whole set when every point equals its label.
    """
    if not setup.is_as_left or setup.inputs.unchanged:
        return ()
    trapped = tuple(one for one in setup.points if _on_label(one) and _label_is_off(one))
    return tuple(_ask_label(one) for one in trapped) if trapped else tuple(_ask_copied(setup))


def _on_label(one: Standing) -> bool:
    return one.lot is not None and one.point.shown is not None and one.point.shown.value == one.lot.nominal


def _label_is_off(one: Standing) -> bool:
    return one.lot is not None and one.true is not None and abs(one.true - one.lot.nominal) >= LABEL_TRAP


def _ask_label(one: Standing) -> Found:
    shown_text = one.point.shown.text if one.point.shown is not None else ""
    at = one.point.temperature.text.replace("-", "−") if one.point.temperature is not None else ""
    return Found(
        weight="ask",
        field=f"{one.prefix}shown",
        key=f"label-on-display-{one.prefix}shown",
        sentence=f"{one.name}: the display shows “{shown_text}”, exactly the label, but at {at} °C this buffer is "
        f"worth pH {shown(one.true or Fraction(0), 3)}. Was the label typed into the transmitter instead of the value "
        "at temperature?",
        choices=(
            _measured("The display shows this"),
            Choice(code="copied", label="Written from the label, not read", then="not valid"),
            Choice(code="adjust", label="Adjusted to the label: adjust and read again", then="write again"),
        ),
    )


def _ask_copied(setup: Setup) -> Iterator[Found]:
    if len(setup.points) < 2 or not all(_on_label(one) for one in setup.points):
        return
    values = " and ".join(one.point.shown.text for one in setup.points if one.point.shown is not None)
    yield Found(
        weight="ask",
        field="point1_shown",
        key="copied-as-left",
        sentence=f"As left shows {values}, the labels to the last digit. Were the buffers read again after adjusting?",
        choices=(
            _measured("Read again, and it shows this"),
            Choice(code="copied", label="Written from the labels, not read", then="not valid"),
            WRITE_AGAIN,
        ),
    )


def unit_of_slope(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask or refuse: a transmitter's slope that looks like the other unit, or has none."""
    given, unit = setup.inputs.own_slope, setup.inputs.own_slope_unit
    if given is None:
        return ()
    if not unit:
        sentence = f"Slope the transmitter gives: “{given.text}” has no unit. Choose % of theory or mV per pH."
        return (Found(weight="refuse", field="own_slope_unit", key="no-unit-of-slope", sentence=sentence),)
    if unit == "%" and 45 <= given.value <= 65:
        looks = "45 to 65 is what a slope in mV per pH looks like; in % of theory it lies near 100"
    elif unit == "mV/pH" and 75 <= given.value <= 110:
        looks = "75 to 110 is what a slope in % of theory looks like; in mV per pH it lies near 58"
    else:
        return ()
    return (
        Found(
            weight="ask",
            field="own_slope_unit",
            key="unit-of-slope",
            sentence=f"Slope the transmitter gives: “{given.text}” {unit}. {looks}. Is the unit right?",
            choices=(_stands("unit right", "The unit is right"), WRITE_AGAIN),
        ),
    )


def unit_of_zero(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a transmitter's zero without its unit is either millivolts or a pH."""
    given = setup.inputs.own_zero
    if given is None or setup.inputs.own_zero_unit:
        return ()
    sentence = f"Zero the transmitter gives: “{given.text}” has no unit. Choose mV at pH 7 or pH of the zero point."
    return (Found(weight="refuse", field="own_zero_unit", key="no-unit-of-zero", sentence=sentence),)


def factory_reset(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: slope exactly 100.0 % with offset 0.0 is a transmitter set back to the factory, not a calibration."""
    if worked.figure("own_percent") != 100 or worked.figure("own_offset") != 0:
        return ()
    return (
        Found(
            weight="ask",
            field="own_slope",
            key="factory-reset",
            sentence="The transmitter gives a slope of exactly 100.0 % and an offset of exactly 0.0 mV, the values it "
            "has when it comes from the factory. Was it calibrated, or set back?",
            choices=(
                _stands("calibrated", "Calibrated, and it shows this"),
                Choice(code="set back", label="Set back to the factory, not calibrated", then="not valid"),
                WRITE_AGAIN,
            ),
        ),
    )


def no_hold(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a signal that paces or trips something and is not on hold while the probe is in a buffer."""
    if not setup.known.uses or setup.inputs.hold == "on":
        return ()
    return (
        Found(
            weight="ask",
            field="hold",
            key="no-hold",
            sentence=f"This signal {' and '.join(setup.known.uses)}, and it is not written as on hold. In the buffers "
            "it moves what depends on it. Put it on hold, or say what was done instead.",
            choices=(
                _stands("other means", "Not on hold: it was kept still by other means"),
                Choice(code="on now", label="Put on hold: write it", then="write again"),
            ),
        ),
    )


CATCHES = (
    default_temperature,
    fahrenheit,
    temperatures_apart,
    far_from_process,
    outside_buffers,
    no_process,
    label_on_display,
    unit_of_slope,
    unit_of_zero,
    factory_reset,
    no_hold,
)
