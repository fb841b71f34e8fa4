"""A working written step by step: each step gives its number on to the next, its line to the page, its figure by name.

A method's `work` makes one `Steps`, takes one step after the other, judges what is to be judged, and hands all of it
over as `Worked`. A step whose numbers are not all there yet is left out, and so is every step that needs it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeAlias

from calibration.compute.figures import plain, shown, shown_beside
from calibration.compute.method import Advice, Band, Figure, Judged, Line, Model, Typed, Worked
from calibration.compute.working import Entry, band_text, fixed, put_in, typed

Number: TypeAlias = Typed | Entry | Fraction | str | None
"""What may stand in a step: as typed, a step before, an exact number, a constant as text; None = not there yet."""


def _entry(number: Typed | Entry | Fraction | str) -> Entry:
    if isinstance(number, Typed):
        return typed(number)
    if isinstance(number, Entry):
        return number
    return fixed(number if isinstance(number, str) else plain(number, most=9).replace("−", "-"))


@dataclass(slots=True)
class Steps:
    """The lines, figures and judged values of one set, in the order they were worked out."""

    lines: list[Line] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    judged: list[Judged] = field(default_factory=list)

    def say(self, text: str, *, value: str = "", unit: str = "", source: str = "") -> None:
        """Write a line of words."""
        self.lines.append(Line(text=text, figures="", value=value, unit=unit, source=source))

    def given(
        self, name: str, text: str, value: Fraction | None, *, places: int, unit: str, source: str
    ) -> Entry | None:
        """Take over a value that is looked up (a table, a certificate, a setting), with where it comes from."""
        if value is None:
            return None
        said = shown(value, places)
        self.lines.append(Line(text=text, figures="", value=said, unit=unit, source=source))
        self.figures.append(Figure(name=name, label=text, value=value, shown=said, unit=unit))
        return Entry(value, places)

    def step(  # noqa: PLR0913 (each names one thing a line says)
        self,
        name: str,
        text: str,
        pattern: str,
        formula: Callable[..., Fraction],
        numbers: Mapping[str, Number],
        *,
        places: int,
        unit: str,
        source: str = "",
        label: str = "",
        plus: bool = False,
        beside: Band | None = None,
    ) -> Entry | None:
        """Work out one number; None when one of its own is missing or it would divide by nought.

        `pattern` is the formula as printed, the names of the numbers in braces: '{shown} − {standard}'. `beside` is
        the limit the value must not be rounded across. `label` names the figure where it differs from the text.
        """
        there = {key: _entry(one) for key, one in numbers.items() if one is not None}
        if len(there) < len(numbers):
            return None

        def write(value: Fraction | float) -> str:
            if beside is None:
                return shown(value, places, plus=plus)
            return shown_beside(Fraction(value), edges=edges_of(beside), places=places, plus=plus)

        try:
            value = formula(**{key: one.value for key, one in there.items()})
            line = put_in(text, pattern, formula, there, write=write, unit=unit, source=source)
        except ZeroDivisionError:
            return None
        self.lines.append(line)
        self.figures.append(Figure(name=name, label=label or text, value=value, shown=line.value, unit=unit))
        return Entry(value, places)

    def judge(  # noqa: PLR0913 (as a judged value has them)
        self,
        name: str,
        what: str,
        value: Entry | Fraction | bool | None,  # noqa: FBT001 (what can only be so or not)
        band: Band,
        *,
        of: str = "",
        at: Fraction | None = None,
        face: str = "display",
        shown: Fraction | None = None,
        standard: Fraction | None = None,
    ) -> None:
        """Judge a value by its limits; what is not there yet is not judged."""
        if value is None:
            return
        self.judged.append(
            Judged(
                name=name,
                what=what,
                value=value.value if isinstance(value, Entry) else value,
                unit=band.unit,
                of=of,
                low=band.low,
                high=band.high,
                at=at,
                face=face,
                shown=shown,
                standard=standard,
                uncertainty=band.uncertainty,
                source=band.source,
                tag=band.tag,
            )
        )

    def worked(
        self, model: Model, *, advice: tuple[Advice, ...] = (), next_value: Mapping[str, Fraction | None] | None = None
    ) -> Worked:
        """Hand over all that was worked out."""
        carried = {name: value for name, value in (next_value or {}).items() if value is not None}
        return Worked(
            judged=tuple(self.judged),
            lines=tuple(self.lines),
            model=model,
            figures=tuple(self.figures),
            advice=advice,
            next_value=carried,
        )


def edges_of(band: Band) -> tuple[Fraction, ...]:
    """Return the numbers a value must not be rounded across: the limits, and the edges of the guard band."""
    u = band.uncertainty or Fraction(0)
    limits = tuple(edge for edge in (band.low, band.high) if edge is not None)
    return tuple(limit + shift for limit in limits for shift in ((-u, Fraction(0), u) if u else (Fraction(0),)))


def limit_said(band: Band) -> str:
    """Write a limit as the text of a working line ends: 'limit ±15 mV'."""
    return f"limit {band_text(band)}"


def value_of(entry: Entry | None) -> Fraction | None:
    """Return the exact value of a step, None when it could not be taken."""
    return None if entry is None else entry.value
