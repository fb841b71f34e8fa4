"""Rounds and walks for tests, made by the actions."""

from __future__ import annotations

import datetime as dt
import itertools

from django.utils import timezone

from assets.actions import LimitFacts, ReadingFacts, record_reading, set_limit
from assets.models import Person, Position, Role, Site
from maintenance.actions.walks import LineTyped, StopTyped, begin_walk, write_stop
from maintenance.actions.walks_balance import PartTyped, count_in_balance
from maintenance.actions.walks_rounds import LineAsked, PointTyped, RoundTyped, add_line, add_point, register_round
from maintenance.actions.walks_strapping import TableTyped, write_strapping
from maintenance.models import (
    BalancePart,
    CheckPoint,
    Plan,
    PointLine,
    Round,
    StopAnswer,
    StrappingTable,
    Walk,
    WalkStop,
)
from tests.make import make_person, make_position

NUMBERS = itertools.count(1)


def make_round(*, site: Site, by: Person | None = None, plan: Plan | None = None, name: str = "") -> Round:
    """A round asked every day, without check points."""
    return register_round(
        site=site,
        typed=RoundTyped(name=name or f"Morning walk {next(NUMBERS)}", days="1234567", asked_from="06:30", plan=plan),
        by=by or make_person(site=site, role=Role.SUPERVISOR),
    )


def make_point(round: Round, *, by: Person, name: str = "", position: Position | None = None) -> CheckPoint:
    """A check point behind the others."""
    typed = PointTyped(name=name or f"Place {next(NUMBERS)}", position=position)
    return add_point(round=round, typed=typed, by=by)


def make_line(point: CheckPoint, *, by: Person, **asked: object) -> PointLine:
    """One thing asked; a look where nothing else is said."""
    facts: dict[str, object] = {"kind": "look", "what": "Packing drip", **asked}
    return add_line(point=point, typed=LineAsked(**facts), by=by)  # type: ignore[arg-type]


def make_gauge(*, site: Site, by: Person, tag: str = "PI-611", high: str = "720", low: str = "560") -> Position:
    """A pressure gauge with an operating limit on either side."""
    gauge = make_position(site=site, tag=tag, quantity="Discharge pressure", unit="kPa", service="Discharge of P-61")
    for side, value in (("high", high), ("low", low)):
        facts = LimitFacts(
            name="Operating limit", side=side, value=value, unit="kPa", source="made up", from_day=dt.date(2026, 1, 1)
        )
        set_limit(position=gauge, facts=facts, by=by)
    return gauge


def make_small_round(*, site: Site, by: Person, points: int = 2) -> Round:
    """A round with one look at each check point."""
    made = make_round(site=site, by=by)
    for _ in range(points):
        make_line(make_point(made, by=by), by=by)
    return made


def read_before(
    position: Position, *values: str, by: Person, what: str, unit: str, hours: float = 24, face: str = "display"
) -> None:
    """Numbers read before now, the last one so many hours ago, the others a day each before it."""
    now = timezone.now()
    for ago, value in enumerate(reversed(values)):
        at = now - dt.timedelta(hours=hours + 24 * ago)
        record_reading(of=position, facts=ReadingFacts(what, value, unit, face, taken_at=at), by=by)


def stop_of(walk: Walk, number: int = 1) -> WalkStop:
    """A check point of a walk."""
    return WalkStop.objects.select_related("walk__site", "walk__round", "point", "position").get(
        walk=walk, number=number
    )


def line_of(stop: WalkStop, what: str = "") -> PointLine:
    """Something asked at a check point; the first where nothing else is said."""
    lines = PointLine.objects.filter(point=stop.point, ended_at__isnull=True).select_related("position", "point")
    return lines.get(what=what) if what else lines.order_by("number")[0]


def write(
    stop: WalkStop, *, by: Person, key: str = "", waited: int = 0, shown: int | None = None, **typed: object
) -> StopAnswer:
    """Write a check point: what was typed at its first line, or why it was skipped."""
    facts = {"outcome": "read", **{name: typed.pop(name) for name in ("outcome", "because", "note") if name in typed}}
    if facts["outcome"] == "read":
        typed = typed or {"good": True}
    lines = (LineTyped(line=line_of(stop), **typed),) if typed else ()  # type: ignore[arg-type]
    made = StopTyped(lines=lines, waited=dt.timedelta(seconds=waited), **facts)  # type: ignore[arg-type]
    return write_stop(stop=stop, typed=made, key=key or f"test {next(NUMBERS)}", by=by, shown=shown)


def make_walk(*, site: Site, by: Person | None = None, points: int = 2) -> Walk:
    """A walk that has just begun."""
    keeper = make_person(site=site, role=Role.SUPERVISOR)
    return begin_walk(round=make_small_round(site=site, by=keeper, points=points), by=by or keeper)


def make_part(
    position: Position, *, by: Person, kind: str = "in", what: str = "Totalizer", **other: object
) -> BalancePart:
    """A register that counts in the water balance."""
    facts = {"from_day": dt.date(2026, 1, 1), "why": "the only meter there", **other}
    typed = PartTyped(position=position, what=what, kind=kind, **facts)  # type: ignore[arg-type]
    return count_in_balance(site=position.site, typed=typed, by=by)


def make_strapping(position: Position, *, by: Person, **other: object) -> StrappingTable:
    """A strapping table of a tank's level in m: 300 m³ a metre up to 3 m, above that 500."""
    facts: dict[str, object] = {
        "what": "Level",
        "level_unit": "m",
        "volume_unit": "m³",
        "rows": "0 0\n3 900\n4 1400",
        "source": "survey 12/2019",
        "why": "the floor is a cone",
        "from_day": dt.date(2026, 1, 1),
        **other,
    }
    return write_strapping(site=position.site, typed=TableTyped(position=position, **facts), by=by)  # type: ignore[arg-type]
