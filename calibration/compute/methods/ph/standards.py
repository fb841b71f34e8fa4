"""What can be wrong with a buffer in the hand: its lot, its temperature, its label, a reading that does not stand."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from calibration.compute.figures import plain, shown
from calibration.compute.method import Choice, Found, Known, Worked
from calibration.compute.methods.ph.inputs import ReadingSet, Standing
from calibration.compute.methods.ph.setup import Setup
from calibration.compute.standards import why_unfit
from calibration.compute.temperature_tables import OutsideTable

APART = Fraction(2)
"""Least distance of the nominal values, pH: own judgement."""

LABEL_WITHIN = Fraction("0.05")
"""How far a label may lie from its table at 25 degC, pH: own judgement."""

SIGNATURE = Fraction("0.02")
"""How near a reading must come to the other pH 7 buffer to be asked about, pH: own judgement."""

ROOM = Fraction(25)
MIXTURES = ("phosphate", "phosphate-7.00")

WRITE_AGAIN = Choice(code="write again", label="I wrote it wrongly: write it again", then="write again")


def _each(setup: Setup) -> tuple[Standing, ...]:
    return setup.points if setup.third is None else (*setup.points, setup.third)


def _about(one: Standing) -> str:
    """Return the judged value that alone falls with this buffer: the third buffer spoils only itself."""
    return "third" if one.prefix == "third_" else ""


def _typed(text: str) -> str:
    return text.replace("-", "−")


def missing_values(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Refuse a point without lot, display or the answer whether it stood still."""
    return tuple(found for one in _each(setup) for found in _missing(one))


def _missing(one: Standing) -> Iterator[Found]:
    if one.lot is None:
        sentence = "no lot is chosen. Choose the lot that is on the bottle in your hand."
        yield _refuse(one, "lot", sentence)
    if one.point.shown is None:
        yield _refuse(
            one, "shown", "nothing is written for the display. Write what it shows in this buffer, like 7.02."
        )
    if one.point.steady is None:
        yield _refuse(one, "steady", "neither yes nor no is chosen. Say whether it stood still for 30 seconds.")


def _refuse(one: Standing, name: str, sentence: str) -> Found:
    return Found(
        weight="refuse",
        field=f"{one.prefix}{name}",
        key=f"missing-{one.prefix}{name}",
        sentence=f"{one.name}: {sentence}",
        about=_about(one),
    )


def lot_unfit(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a lot out of date, quarantined, discarded or past its opened life. Remind: no opening day written."""
    return tuple(found for one in _each(setup) for found in _unfit(one, setup.known))


def _unfit(one: Standing, known: Known) -> Iterator[Found]:
    if one.lot is None:
        return
    name = f"{one.prefix}lot"
    for number, reason in enumerate(why_unfit(one.lot, known.day), start=1):
        key = f"unfit-{name}-{number}"
        yield Found(weight="not valid", field=name, key=key, sentence=f"{one.name}: {reason}", about=_about(one))
    if one.lot.opened is None:
        sentence = (
            f"{one.name}: no opening day is written for lot {one.lot.label}. Write it on the bottle and on the lot."
        )
        yield Found(weight="remind", field=name, key=f"opened-{name}", sentence=sentence, about=_about(one))


def temperature_absent(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a buffer whose temperature was not measured has no value."""
    return tuple(
        Found(
            weight="not valid",
            field=f"{one.prefix}temperature",
            key=f"no-temperature-{one.prefix}",
            sentence=f"{one.name}: no temperature is written, so the buffer has no value. "
            "Measure it in the buffer and write it, like 12.5 °C.",
            about=_about(one),
        )
        for one in _each(setup)
        if one.point.temperature is None
        and not one.point.is_empty
        and not _unreadable(setup.inputs, f"{one.prefix}temperature")
    )


def _unreadable(inputs: ReadingSet, name: str) -> bool:
    return any(found.field == name for found in inputs.unread)


def outside_table(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a temperature beyond the table of the lot; nothing is extended."""
    return tuple(found for one in _each(setup) for found in _outside(one))


def _outside(one: Standing) -> Iterator[Found]:
    if one.lot is None or one.point.temperature is None:
        return
    typed = one.point.temperature
    try:
        one.lot.tabled.at(typed.value)
    except OutsideTable as outside:
        celsius = in_celsius(typed.value)
        inside = one.lot.tabled.low <= celsius <= one.lot.tabled.high
        maybe = f" If “{_typed(typed.text)}” is °F, it is {shown(celsius, 1)} °C: write that." if inside else ""
        yield Found(
            weight="not valid",
            field=f"{one.prefix}temperature",
            key=f"outside-{one.prefix}temperature",
            sentence=f"{one.name}: {outside} Bring the buffer inside the table and read again.{maybe}",
            about=_about(one),
        )


def in_celsius(fahrenheit: Fraction) -> Fraction:
    """Return degC of degF."""
    return (fahrenheit - 32) * 5 / 9


def not_steady(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a reading that did not stand still for 30 seconds."""
    return tuple(
        Found(
            weight="not valid",
            field=f"{one.prefix}steady",
            key=f"not-steady-{one.prefix}",
            sentence=f"{one.name}: the reading did not stand still for 30 seconds. Wait until it does and read again; "
            "a probe that never does needs cleaning or replacing.",
            about=_about(one),
        )
        for one in _each(setup)
        if one.point.steady is False
    )


def label_against_table(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a label that does not agree with its table at 25 degC, as a 7.00 label with the table of a 6.86 buffer."""
    return tuple(found for one in _each(setup) for found in _mislabelled(one))


def _mislabelled(one: Standing) -> Iterator[Found]:
    if one.lot is None or not one.lot.tabled.low <= ROOM <= one.lot.tabled.high:
        return
    at_room = one.lot.tabled.value(ROOM)
    if abs(at_room - one.lot.nominal) <= LABEL_WITHIN:
        return
    yield Found(
        weight="ask",
        field=f"{one.prefix}lot",
        key=f"label-{one.prefix}lot",
        sentence=f"{one.name}: lot {one.lot.label} is labelled pH {one.lot.nominal_text}, but its table gives "
        f"pH {shown(at_room, 3)} at 25 °C. Is it the right table for this bottle?",
        choices=(
            Choice(code="right table", label="The table is the maker's for this lot", then="stands"),
            Choice(code="wrong table", label="The table belongs to another buffer", then="not valid"),
        ),
        about=_about(one),
    )


def other_mixture(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a display that shows what the other pH 7 buffer (6.86 against 7.00) is worth at this temperature."""
    return tuple(found for one in setup.points for found in _mixed_up(one, setup.known))


def _mixed_up(one: Standing, known: Known) -> Iterator[Found]:
    if one.lot is None or one.true is None or one.point.temperature is None or one.point.shown is None:
        return
    if one.lot.tabled.code not in MIXTURES:
        return
    rival = known.tables.get(next(code for code in MIXTURES if code != one.lot.tabled.code))
    at = one.point.temperature
    if rival is None or not rival.low <= at.value <= rival.high:
        return
    other = rival.value(at.value)
    if abs(one.point.shown.value - other) > SIGNATURE:
        return
    yield Found(
        weight="ask",
        field=f"{one.prefix}lot",
        key=f"mixture-{one.prefix}lot",
        sentence=f"{one.name}: the display shows “{one.point.shown.text}” in a buffer worth pH {shown(one.true, 3)}; "
        f"at {_typed(at.text)} °C the {rival_name(rival.code)} buffer is worth pH {shown(other, 3)}. Which bottle was "
        "it?",
        choices=(
            Choice(code="this lot", label=f"Lot {one.lot.label}, as chosen", then="stands"),
            Choice(code="the other", label=f"The {rival_name(rival.code)} buffer", then="not valid"),
        ),
    )


def rival_name(code: str) -> str:
    """Return the trade's short name of one of the two pH 7 buffers."""
    return "6.86" if code == "phosphate" else "7.00"


def too_near(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid: buffers of one lot, or with nominal values less than 2 pH apart, draw no line."""
    lots = [one.lot for one in setup.points if one.lot is not None and not one.point.is_empty]
    if len(lots) < 2:
        return ()
    nominals = [lot.nominal for lot in lots]
    apart = max(nominals) - min(nominals)
    if apart >= APART:
        return ()
    what = (
        f"Point 1 and point 2 are both in lot {lots[0].label}: that is one buffer, written twice."
        if len({lot.id for lot in lots}) == 1
        else f"The buffers are labelled {' and '.join(lot.nominal_text for lot in lots)}, {plain(apart)} pH apart."
    )
    sentence = f"{what} Use buffers at least 2 pH apart, one on each side of the process."
    return (Found(weight="not valid", field="point2_lot", key="too-near", sentence=sentence),)


def third_same_bottle(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Not valid, the third buffer alone: it proves nothing when it comes from a bottle the line was drawn with."""
    third = setup.third
    if third is None or third.lot is None:
        return ()
    if all(one.lot is None or one.lot.id != third.lot.id for one in setup.points):
        return ()
    sentence = (
        f"Third buffer: lot {third.lot.label} was already used for the line, so it proves nothing. "
        "Read the third buffer from another lot."
    )
    return (Found(weight="not valid", field="third_lot", key="third-same-bottle", sentence=sentence, about="third"),)


CATCHES = (
    missing_values,
    lot_unfit,
    temperature_absent,
    outside_table,
    not_steady,
    label_against_table,
    other_mixture,
    too_near,
    third_same_bottle,
)
