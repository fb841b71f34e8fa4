"""A probe through time: error, slope and offset as found at each check of a place."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.chart import Picture
from assets.compute.chart_time import Limit, TimeFigures, time_picture
from assets.compute.chart_time import Result as Mark
from assets.compute.words import day_named
from calibration.compute.figures import plain, sentence_case, shown
from calibration.compute.method import AnyMethod
from calibration.compute.methods import METHODS
from calibration.models import Figure, Requirement, RequirementTerm
from calibration.reads.known import bands_of, headline_unit
from calibration.reads.own_fields import is_test
from calibration.reads.words import PLACES, SHAPES

NEWEST = 24
"""Checks drawn at most; older ones stand in the export."""


@dataclass(frozen=True, slots=True)
class Trend:
    """The charts of one place, and how many checks they are made of."""

    pictures: tuple[Picture, ...]
    count: int


def trend_of(requirement: Requirement, until: dt.datetime, term: RequirementTerm, zone: ZoneInfo) -> Trend:
    """Return the charts up to a moment; a chart needs at least two checks."""
    named = _named(METHODS[requirement.method])
    rows = _rows(requirement, until, tuple(named))
    pictures = []
    for name, (caption, figure, places, unit) in named.items():
        marks = _marks([row for row in rows if row.name == name], places, unit, zone)
        if len(marks) >= 2:
            limits = _limits(term, name)
            caption_n = f"{caption}, n = {len(marks)}"
            pictures.append(
                time_picture(
                    TimeFigures(name=f"t-{name}", caption=caption_n, figure=figure, results=marks, limits=limits)
                )
            )
    return Trend(tuple(pictures), len({row.outcome_id for row in rows}))


def _named(method: AnyMethod) -> dict[str, tuple[str, str, int, str]]:
    """Return the figures drawn: name -> caption, word, places at the axis, unit; of any method its judged figures."""
    if method.code == "ph":
        return {
            "error": ("Error at the process, as found", "Error", 3, "pH"),
            "percent_slope": ("Slope, % of theory, as found", "Slope", 1, "%"),
            "offset": ("Offset at pH 7, as found", "Offset", 1, "mV"),
        }
    when = "" if is_test(method) else ", as found"
    units = {limit.name: (sentence_case(limit.what), limit.unit) for limit in method.limits}
    what, unit = units.get(method.headline, (method.headline.replace("_", " ").capitalize(), headline_unit(method)))
    first = {method.headline: (f"{what}{when}", what, PLACES.get(unit, 3), unit)}
    others = {
        limit.name: (f"{units[limit.name][0]}{when}", units[limit.name][0], PLACES.get(limit.unit, 3), limit.unit)
        for limit in method.limits
        if limit.name != method.headline
    }
    return {**first, **others}


def _rows(requirement: Requirement, until: dt.datetime, names: tuple[str, ...]) -> list[Figure]:
    newest = (
        Figure.objects.filter(
            name__in=names,
            outcome__valid=True,
            outcome__set__kind="as found",
            outcome__set__check_of__requirement=requirement,
            outcome__set__check_of__replaced_by__isnull=True,
            outcome__set__performed_at__lte=until,
        )
        .select_related("outcome__set__check_of")
        .order_by("-outcome__set__performed_at", "-outcome_id")[: NEWEST * len(names)]
    )
    return list(reversed(newest))


def _marks(rows: list[Figure], places: int, unit: str, zone: ZoneInfo) -> tuple[Mark, ...]:
    marks: list[Mark] = []
    before = ""
    for row in rows:
        of = row.outcome.set
        here = of.performed_at.astimezone(zone)
        asset = of.check_of.asset_label
        text = shown(Fraction(row.exact), places, plus=unit != "%")
        marks.append(
            Mark(
                at=here,
                value=row.value,
                shown=f"{text} {row.unit or unit}",
                when=day_named(here.date()),
                shape=SHAPES[row.outcome.verdict][1] if row.outcome.verdict in SHAPES else "notvalid",
                anew=f"{asset or 'no probe'} fitted" if marks and asset != before else "",
            )
        )
        before = asset
    return tuple(marks)


def _limits(term: RequirementTerm, name: str) -> tuple[Limit, ...]:
    band = bands_of(term).get({"percent_slope": "slope"}.get(name, name))
    if band is None:
        return ()
    only_as_left = METHODS[term.requirement.method].code == "ph" and name != "error"
    word = "as left" if only_as_left else "limit"
    sides = [edge for edge in (band.low, band.high) if edge is not None]
    return tuple(Limit(value=float(edge), name=f"{_edge(edge, name)} {word}", advice=only_as_left) for edge in sides)


def _edge(edge: Fraction, name: str) -> str:
    if name == "error":
        return shown(edge, 2, plus=True)
    return plain(edge) if name == "percent_slope" else f"{'+' if edge > 0 else ''}{plain(edge)}"
