"""A bench meter, the standard of the rest: daily a blank and a secondary standard, quarterly primary ones.

A buffer is worth what its table says at its temperature, and is judged in pH: a part of a pH means nothing. The
uncertainty of a point is that of its standard, of the last digit and of the temperature's last digit; a value assigned
to this meter states none, and the blank has none, for no standard stands behind it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import Record, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Band, Found, Known, Limit, Method, Model, ModelKind, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit
from calibration.compute.standards import BUFFER, Standard
from calibration.compute.steps import Steps, limit_said, value_of

KINDS = ("chlorine standard", "turbidity standard", "turbidity block", "absorbance standard", "buffer")
LEVELS, MOST = 3, 4
BLOCK = "turbidity block"
USUAL_PERCENT, USUAL_BLANK, USUAL_PH = Fraction(10), Fraction(1, 20), Fraction(1, 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One standard in the meter."""

    standard: str = standard("standard", *KINDS)
    shown: Typed | None = number("meter shows", low="-100", high="100000", must=True)
    temperature: Typed | None = number(
        "its temperature", "°C", low="-5", high="60", rare=True, advice="Where its value changes with it: a buffer."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench(Record):
    """One check of a bench meter."""

    way: str = choice(
        "which check", ("daily", "Daily: blank and secondary standard"), ("primary", "Primary: low, middle, high"),
        must=True,
    )  # fmt: skip
    blank: Typed | None = number(
        "blank shows", low="-100", high="1000", advice="Always, but for a pH meter, which has none."
    )
    point: tuple[Reading, ...] = rows(Reading, 1, MOST)
    cell_clean: bool | None = yes_or_no("cells clean, dry outside, mark to mark", rare=True)


SETTINGS = (
    Ask(
        name="percent",
        label="error allowed, % of standard",
        part="settings",
        units=("%",),
        low=Fraction(0),
        high=Fraction(50),
    ),
    Ask(
        name="fixed",
        label="error allowed at least, in its unit",
        part="settings",
        low=Fraction(0),
        high=Fraction(1000),
    ),
    Ask(name="blank_limit", label="blank allowed, in its unit", part="settings", low=Fraction(0), high=Fraction(1000)),
)


def _or(value: Fraction | None, usual: Fraction) -> Fraction:
    """Return what the site has set, nought too; the usual where it has set nothing."""
    return usual if value is None else value


def _allowed(known: Known, true: Fraction) -> Fraction:
    percent = _or(known.number("percent"), USUAL_PERCENT) / 100
    return max(percent * abs(true), _or(known.number("fixed"), Fraction(0)))


def _blank(known: Known, true: Fraction) -> Fraction:
    return _or(known.number("blank_limit"), USUAL_BLANK)


def _allowed_ph(known: Known, true: Fraction) -> Fraction:
    return _or(known.number("fixed"), USUAL_PH)


LIMITS = (
    Limit(
        name="error",
        what="error in a standard",
        unit="",
        of="",
        low=lambda known, true: -_allowed(known, true),
        high=_allowed,
        source="no source: 10 % of the standard until the site sets its own",
        tag="own judgement",
    ),
    Limit(
        name="blank",
        what="blank",
        unit="",
        of="",
        low=lambda known, true: -_blank(known, true),
        high=_blank,
        source="common practice, no source",
        tag="common practice",
    ),
    Limit(
        name="ph",
        what="error in a buffer",
        unit="pH",
        of="",
        low=lambda known, true: -_allowed_ph(known, true),
        high=_allowed_ph,
        source="30 TAC 290.110: accuracy asked of a pH test, 0.1 pH",
        tag="standard",
    ),
)


def worth(used: Standard | None, known: Known, temperature: Fraction | None = None) -> Fraction | None:
    """Return what a standard is worth in this meter: what was assigned to it here, else its table's or nominal value.

    None where that is not known: a block of another meter, a standard with a table and no temperature in it.
    """
    if used is None:
        return None
    assigned = used.assigned_to(known.unit_key)
    if assigned is not None:
        return assigned.value
    if used.table is not None:
        return None if temperature is None else used.known_at(temperature)
    return None if used.kind == BLOCK else used.nominal


def _read(inputs: Bench, known: Known) -> Iterator[tuple[int, Reading, Standard]]:
    """Return each point whose standard is known, with its number."""
    for count, one in enumerate(inputs.point, 1):
        used = known.standards.get(one.standard)
        if used is not None:
            yield count, one, used


def _band(known: Known, used: Standard, true: Fraction | None) -> Band:
    return band_for(LIMITS, known, "ph" if used.kind == BUFFER else "error", standard=true or Fraction(0))


def work(inputs: Bench, known: Known) -> Worked:
    """Judge the blank and every standard."""
    steps = Steps()
    if inputs.blank is not None:
        band = band_for(LIMITS, known, "blank")
        steps.say(f"Blank; {limit_said(band)}", value=inputs.blank.text, source=band.source)
        steps.judge("blank", "blank", inputs.blank.value, band)
    points: dict[Fraction, Fraction] = {}
    for count, one, used in _read(inputs, known):
        at = one.temperature if used.table is not None and used.assigned_to(known.unit_key) is None else None
        true = steps.given(
            f"true_{count}", f"Standard {count}{f' at {at.text} °C' if at is not None else ''}",
            worth(used, known, at.value if at is not None else None), places=3, unit=used.unit,
            source=used.called if at is None or used.table is None else f"{used.called}, {used.table.source}",
        )  # fmt: skip
        band = _band(known, used, value_of(true))
        error = steps.step(
            f"error_{count}", f"Error in standard {count}; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
            {"s": one.shown, "t": true}, places=3, unit=used.unit, plus=True, beside=band, source=band.source,
        )  # fmt: skip
        steps.judge(
            f"error_{count}", f"error in standard {count}", error, band, at=value_of(true), standard=value_of(true)
        )
        if true is not None and one.shown is not None:
            points.setdefault(true.value, one.shown.value)
    ph = any(used.kind == BUFFER for _, _, used in _read(inputs, known))
    single: ModelKind = "offset" if ph else "gain"
    return steps.worked(Model(kind="by points" if len(points) > 1 else single, points=tuple(points.items())))


def no_blank(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: no blank, where anything but buffers is read."""
    kinds = {used.kind for _, _, used in _read(inputs, known)}
    if inputs.blank is not None or kinds == {BUFFER} or any(one.field == "blank" for one in inputs.unread):
        return ()
    return (refuse("blank", "missing-blank", "Blank shows: nothing is written. Write what the meter shows in it."),)


def no_temperature(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse a standard with a table and no temperature; not valid: a temperature beyond its table."""
    found: list[Found] = []
    unread = {one.field for one in inputs.unread}
    for count, one, used in _read(inputs, known):
        field, table = f"point{count}_temperature", used.table
        if table is None or used.assigned_to(known.unit_key) is not None or field in unread:
            continue
        if one.temperature is None:
            sentence = (
                f"Point {count}: the value of {used.called} changes with temperature. Write how warm it was when read."
            )
            found.append(refuse(field, f"no-temperature-{count}", sentence))
        elif used.known_at(one.temperature.value) is None:
            sentence = (
                f"Point {count}: {used.called} has values from {plain(table.low)} to {plain(table.high)} °C only. "
                "Read it again within them."
            )
            found.append(not_valid(field, f"outside-table-{count}", sentence))
    return tuple(found)


def mixed_units(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: standards of two units in one check, which checks one quantity."""
    read = list(_read(inputs, known))
    return tuple(
        refuse(
            f"point{count}_standard",
            f"mixed-units-{count}",
            f"Point {count}: {used.called} is given in {used.unit}, point {read[0][0]} in {read[0][2].unit}. One check "
            "is of one quantity in one unit: sign another check for it.",
        )
        for count, _, used in read[1:]
        if used.unit != read[0][2].unit
    )


def _new_levels(inputs: Bench, known: Known) -> tuple[list[int], int]:
    """Return the points that are no level of their own, in the order read, and how many levels there may be.

    One whose value is not known may be one: another sentence says so. Two standards nearer to each other than the
    error allowed are one level: a meter cannot be held to tell them apart.
    """
    kept: list[Fraction] = []
    again: list[int] = []
    unknown = 0
    for count, one, used in _read(inputs, known):
        true = worth(used, known, one.temperature.value if one.temperature is not None else None)
        if one.shown is None:
            continue
        if true is None:
            unknown += 1
            continue
        edge = _band(known, used, true).high
        if any(abs(true - other) <= _or(edge, Fraction(0)) for other in kept):
            again.append(count)
        else:
            kept.append(true)
    return again, len(kept) + unknown


def levels(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a primary check of fewer than three levels, or of one level several times."""
    again, apart = _new_levels(inputs, known)
    if inputs.way != "primary" or apart >= LEVELS:
        return ()
    wanted = "A primary check reads three levels, low, middle and high."
    if again:
        sentence = f"Point {again[0]}: this is a level that was read already. {wanted} Choose another standard."
        return (refuse(f"point{again[0]}_standard", "levels", sentence),)
    empty = next((n for n, one in enumerate(inputs.point, 1) if one.shown is None), len(inputs.point) + 1)
    at = min(empty, MOST)
    return (refuse(f"point{at}_shown", "levels", f"Point {at}: nothing is written. {wanted}"),)


def not_primary(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a secondary block in a primary check, one without a value for this meter, or with an old one."""
    found: list[Found] = []
    last = known.settings.get("last_primary", "")
    for count, _, used in _read(inputs, known):
        if used.kind != BLOCK:
            continue
        field, assigned = f"point{count}_standard", used.assigned_to(known.unit_key)
        if inputs.way == "primary":
            sentence = f"Point {count}: {used.called} is a secondary standard; a primary check needs primary ones."
            found.append(not_valid(field, f"secondary-{count}", sentence))
        elif assigned is None:
            sentence = f"Point {count}: {used.called} has no value assigned on this meter. Assign one first."
            found.append(not_valid(field, f"unassigned-{count}", sentence))
        elif last and assigned.on.isoformat() < last:
            sentence = (
                f"Point {count}: the value of {used.called} was assigned on {assigned.on.isoformat()}, before the last "
                f"primary calibration on {last}. Assign it anew first."
            )
            found.append(not_valid(field, f"old-assignment-{count}", sentence))
    return tuple(found)


def dirty_cells(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: cells that were not clean and put in mark to mark."""
    if inputs.cell_clean is not False:
        return ()
    sentence = "The cells were not clean or not mark to mark. Did that move the reading?"
    return (
        ask("cell_clean", "cells", sentence, stands("no", "Read again since, the same"), spoils("yes", "It may have")),
    )


def a_degree(used: Standard, temperature: Fraction) -> Fraction:
    """Return how much the value of a standard changes at a temperature in °C, a degree; 0 without a table.

    Between the rows of its table; on a row, the steeper of its two sides.
    """
    if used.table is None:
        return Fraction(0)
    pairs = zip(used.table.rows, used.table.rows[1:], strict=False)
    near = [(b - a) / (later - t) for (t, a), (later, b) in pairs if t <= temperature <= later]
    return max(near, key=abs, default=Fraction(0))


def budget(inputs: Bench, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error: the standard's, the last digit and that of the temperature."""
    judged = {one.name: one.what for one in worked.judged}
    budgets: dict[str, Budget] = {}
    for count, one, used in _read(inputs, known):
        name = f"error_{count}"
        if name not in judged or one.shown is None or used.assigned_to(known.unit_key) is not None:
            continue
        parts = [from_standard(used, sensitivity=Fraction(-1), unit=used.unit), last_digit(one.shown, used.unit)]
        slope = a_degree(used, one.temperature.value) if one.temperature is not None else Fraction(0)
        if slope and one.temperature is not None:
            parts.append(last_digit(one.temperature, "°C", sensitivity=-slope, name="last digit of the temperature"))
        budgets |= drawn(parts, name=name, what=judged[name], unit=used.unit)
    return budgets


METHOD: Method[Bench] = Method(
    code="bench-meter",
    name="Bench meter, in standards",
    version="1.1",
    quantity="bench",
    standards=KINDS,
    asks=asks_of(Bench),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Standards and reagents in eyes and drains no more than other chemicals: gloves and goggles.",
        "A bench meter that fails puts every check made with it in doubt, back to its last good one.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *EVERY_CHECK, no_blank, no_temperature, mixed_units, levels, not_primary, dirty_cells,
        reminder("cell_clean", "cells-clean", "Cells clean, dry outside and always the same mark to the front."),
    ),
    read=reader_of(Bench),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
