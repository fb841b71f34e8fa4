"""A bench meter, the standard of the rest: daily a blank and a secondary standard, quarterly primary ones."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import Record, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said, value_of

KINDS = ("chlorine standard", "turbidity standard", "turbidity block", "absorbance standard", "buffer")
LEVELS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One standard in the meter."""

    standard: str = standard("standard", *KINDS)
    shown: Typed | None = number("meter shows", low="-100", high="100000", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench(Record):
    """One check of a bench meter."""

    way: str = choice(
        "which check", ("daily", "Daily: blank and secondary standard"), ("primary", "Primary: low, middle, high"),
        must=True,
    )  # fmt: skip
    blank: Typed | None = number("blank shows", low="-100", high="1000", must=True)
    point: tuple[Reading, ...] = rows(Reading, 1, 4)
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


def _allowed(known: Known, true: Fraction) -> Fraction:
    percent, fixed = known.number("percent"), known.number("fixed")
    return max((percent if percent is not None else Fraction(10)) / 100 * abs(true), fixed or Fraction(0))


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
        low=lambda known, true: -(known.number("blank_limit") or Fraction(1, 20)),
        high=lambda known, true: known.number("blank_limit") or Fraction(1, 20),
        source="common practice, no source",
        tag="common practice",
    ),
)


def worth(used: Standard | None, known: Known) -> Fraction | None:
    """Return what a standard is worth in this meter: the value assigned to it here, else its nominal one."""
    if used is None:
        return None
    assigned = used.assigned_to(known.unit_key)
    if assigned is not None:
        return assigned.value
    return None if used.kind == "turbidity block" else used.nominal


def work(inputs: Bench, known: Known) -> Worked:
    """Judge the blank and every standard."""
    steps = Steps()
    if inputs.blank is not None:
        band = band_for(LIMITS, known, "blank")
        steps.say(f"Blank; {limit_said(band)}", value=inputs.blank.text, source=band.source)
        steps.judge("blank", "blank", inputs.blank.value, band)
    points: list[tuple[Fraction, Fraction]] = []
    for count, one in enumerate(inputs.point, 1):
        used = known.standards.get(one.standard)
        true = steps.given(
            f"true_{count}", f"Standard {count}", worth(used, known), places=3, unit=used.unit if used else "",
            source=used.called if used else "",
        )  # fmt: skip
        band = band_for(LIMITS, known, "error", standard=value_of(true) or Fraction(0))
        error = steps.step(
            f"error_{count}", f"Error in standard {count}; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
            {"s": one.shown, "t": true}, places=3, unit=used.unit if used else "", plus=True, beside=band,
            source=band.source,
        )  # fmt: skip
        steps.judge(
            f"error_{count}", f"error in standard {count}", error, band, at=value_of(true), standard=value_of(true)
        )
        if true is not None and one.shown is not None:
            points.append((true.value, one.shown.value))
    return steps.worked(Model(kind="by points" if len(points) > 1 else "gain", points=tuple(points)))


def levels(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a primary check of fewer than three levels."""
    read = len([one for one in inputs.point if one.shown is not None])
    if inputs.way != "primary" or read >= LEVELS:
        return ()
    sentence = f"Point {read + 1}: nothing is written. A primary check reads three levels, low, middle and high."
    return (refuse(f"point{max(read, 1) + (1 if read else 0)}_shown", "levels", sentence),)


def not_primary(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a secondary block in a primary check, or one without a value for this meter."""
    found: list[Found] = []
    for count, one in enumerate(inputs.point, 1):
        used = known.standards.get(one.standard)
        if used is None or used.kind != "turbidity block":
            continue
        if inputs.way == "primary":
            sentence = f"Point {count}: {used.called} is a secondary standard; a primary check needs primary ones."
            found.append(not_valid(f"point{count}_standard", f"secondary-{count}", sentence))
        elif used.assigned_to(known.unit_key) is None:
            sentence = f"Point {count}: {used.called} has no value assigned on this meter. Assign one first."
            found.append(not_valid(f"point{count}_standard", f"unassigned-{count}", sentence))
    return tuple(found)


def dirty_cells(inputs: Bench, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: cells that were not clean and put in mark to mark."""
    if inputs.cell_clean is not False:
        return ()
    sentence = "The cells were not clean or not mark to mark. Did that move the reading?"
    return (
        ask("cell_clean", "cells", sentence, stands("no", "Read again since, the same"), spoils("yes", "It may have")),
    )


METHOD: Method[Bench] = Method(
    code="bench-meter",
    name="Bench meter, in standards",
    version="1.0",
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
    catches=(
        *EVERY_CHECK, levels, not_primary, dirty_cells,
        reminder("cell_clean", "cells-clean", "Cells clean, dry outside and always the same mark to the front."),
    ),
    read=reader_of(Bench),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
