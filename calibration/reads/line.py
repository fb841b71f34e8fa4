"""The straight line through the points of a set, for a page, a sheet of paper and a file: advice beside the verdict.

Nothing is kept of it: it is worked out when a page is drawn, from the points that were stored with the set. So a record
signed before has it too, and no signed line changes. A set that is not valid has none.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.figures import shown
from calibration.compute.line_working import LineOfPoints, line_of, says_of, worth_a_line
from calibration.compute.method import AnyMethod, Judged, Line, Model, Verdict
from calibration.compute.reporting import places_of, significant
from calibration.models import Outcome

WORKING = ("working_value", "working_ph")
"""Settings that tell where an instrument works."""

BESIDE = (
    "Advice beside the result, which does not use it. The scatter of the points is all that is in these uncertainties: "
    "what the standard has wrong shifts the whole line."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTold:
    """The line of a set in words, its figures in short, and the lines that can be worked out by hand."""

    n: int
    says: tuple[str, ...]
    figures: tuple[str, ...]
    lines: tuple[Line, ...]
    beside: str = BESIDE


def line_live(
    method: AnyMethod, model: Model, judged: Iterable[Judged], settings: Mapping[str, str]
) -> LineTold | None:
    """Return the line of a set that is being written; None with fewer than three different standard values."""
    found = _line(model.points, unit_of(method, judged), settings)
    return None if found is None else told(found)


def line_stored(method: AnyMethod, outcome: Outcome, judged: Iterable[tuple[Judged, Verdict]]) -> LineTold | None:
    """Return the line of a signed set, from its stored points and the settings that were in force."""
    found = stored_line(method, outcome, judged)
    return None if found is None else told(found)


def stored_line(
    method: AnyMethod, outcome: Outcome, judged: Iterable[tuple[Judged, Verdict]]
) -> LineOfPoints | None:  # fmt: skip
    """Return the line through the stored points of a valid set; None where there are too few."""
    points = stored_points(outcome)
    if not outcome.valid or not points:
        return None
    return _line(points, unit_of(method, [one for one, _ in judged]), json.loads(outcome.known)["settings"])


def stored_points(outcome: Outcome) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return the points that were stored with a set: (true, shown)."""
    return tuple((Fraction(true), Fraction(read)) for true, read in json.loads(outcome.judged)["model"]["points"])


def _line(
    points: tuple[tuple[Fraction, Fraction], ...], unit: str, settings: Mapping[str, str]
) -> LineOfPoints | None:  # fmt: skip
    if not worth_a_line(points):
        return None
    written = next((text for name in WORKING if (text := settings.get(name, "").strip())), "")
    return line_of(points, unit=unit, at=Fraction(written) if written else None)


def unit_of(method: AnyMethod, judged: Iterable[Judged]) -> str:
    """Return the unit of what is shown and of the standard: of an error that is a difference, else of the field.

    Empty where neither says it: a face of a current loop shows whatever its range is in.
    """
    plainly = (one.unit for one in judged if one.standard is not None and not one.of and one.unit)
    asked = (ask.units[0] for ask in method.asks if ask.name == "shown" and ask.units)
    return next(plainly, next(asked, ""))


def told(found: LineOfPoints) -> LineTold:
    """Return a line in words."""
    return LineTold(n=found.n, says=says_of(found), figures=tuple(_short(found)), lines=found.lines)


def figures_of(found: LineOfPoints) -> dict[str, str]:
    """Return slope, offset and scatter with their uncertainties as columns of a file, units in their names."""
    u, s, unit = found.fit.uncertainties, found.fit.residual_sd, f" ({found.unit})" if found.unit else ""
    slope, offset = _slope_and_offset(found)
    row = {"line points": str(found.n), "line slope": slope, f"line offset{unit}": offset}
    if u is not None and s:
        row |= {
            "line slope, standard uncertainty": significant(u[1]),
            f"line offset, standard uncertainty{unit}": significant(u[0]),
            f"line scatter{unit}": significant(s),
        }
    return {name: text.replace("−", "-").removeprefix("+") for name, text in row.items()}


def _slope_and_offset(found: LineOfPoints) -> tuple[str, str]:
    u = found.fit.uncertainties or (0.0, 0.0)
    offset, slope = found.fit.coefficients
    return shown(slope, places_of(u[1]) if u[1] else 6), shown(offset, places_of(u[0]) if u[0] else 4, plus=True)


def _short(found: LineOfPoints) -> Iterable[str]:
    unit = f" {found.unit}" if found.unit else ""
    slope, offset = _slope_and_offset(found)
    u, s = found.fit.uncertainties, found.fit.residual_sd
    if u is None or not s:
        yield from (f"slope {slope}", f"offset {offset}{unit}", f"no scatter seen, n = {found.n}")
        return
    yield f"slope {slope}, standard uncertainty {significant(u[1])}"
    yield f"offset {offset}{unit}, standard uncertainty {significant(u[0])}{unit}"
    yield f"scatter {significant(s)}{unit}, n = {found.n}, {found.n - 2} degree{'s' if found.n > 3 else ''} of freedom"
    yield f"slope and offset correlated, r = {shown(Fraction(found.fit.correlation(0, 1)), 2, plus=True)}"
