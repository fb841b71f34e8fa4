"""What a site has set for itself: its rules with their dates, its holidays, and when plant and units ran."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from assets.compute.site_rules import RULES, InForce, Rule
from assets.models import Holiday, Position, Production, Setting, Site
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from assets.queries import PositionQuerySet, ProductionQuerySet

DAYS_BACK = dt.timedelta(days=14)
YEARS_AHEAD = dt.timedelta(days=400)


def rules_on(site: Site, day: dt.date, *, known: dt.datetime | None = None) -> InForce:
    """Return the rules of a site that hold on a day; as known at a moment, if one is given."""
    rows = Setting.objects.in_force(site, day, known=known)
    return InForce({name: row.value for name, row in rows.items()}, day)


def holidays_of(site: Site) -> frozenset[dt.date]:
    """Return the days that are no working days at a site."""
    return frozenset(Holiday.objects.standing().filter(site=site).values_list("day", flat=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """One rule as the page shows it: what holds now in words, since when, from where, and what is to come."""

    rule: Rule
    value: str
    since: dt.date | None
    source: str
    why: str
    to_come: tuple[tuple[dt.date, str], ...]


@dataclass(frozen=True, slots=True)
class RulesPage:
    """The rules and holidays of a site."""

    rules: tuple[RuleRow, ...]
    holidays: tuple[Holiday, ...]
    site_pk: int
    may_set: bool


def rules_page(desk: Desk) -> RulesPage:
    """Return what the page of the rules shows."""
    in_force = Setting.objects.in_force(desk.site, desk.today)
    later = list(Setting.objects.filter(site=desk.site, from_day__gt=desk.today).order_by("from_day", "id"))
    begin, end = desk.today - dt.timedelta(days=60), desk.today + YEARS_AHEAD
    holidays = Holiday.objects.standing().filter(site=desk.site, day__gte=begin, day__lte=end)
    rows = tuple(_row(rule, in_force.get(rule.name), [one for one in later if one.name == rule.name]) for rule in RULES)
    return RulesPage(rows, tuple(holidays), desk.site.pk, desk.may(SUPERVISORS))


def _row(rule: Rule, written: Setting | None, later: list[Setting]) -> RuleRow:
    return RuleRow(
        rule=rule,
        value=said(rule, written.value if written else rule.default),
        since=written.from_day if written else None,
        source=written.source if written else rule.source,
        why=written.why if written else "",
        to_come=tuple((one.from_day, said(rule, one.value)) for one in later),
    )


def said(rule: Rule, value: str) -> str:
    """Return the value of a rule in words, with its unit."""
    if not value:
        return "nothing written"
    if rule.kind == "choice":
        return dict(rule.choices)[value]
    return f"{value} {rule.unit}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningUnit:
    """A unit, or the whole plant (None): whether it runs now, and its stretches of the last fortnight."""

    unit: Position | None
    now: Production | None
    stretches: tuple[Production, ...]

    @property
    def called(self) -> str:
        """What it is called."""
        return self.unit.tag if self.unit is not None else "The whole plant"


@dataclass(frozen=True, slots=True)
class RunningPage:
    """What is written of the running of the plant."""

    units: tuple[RunningUnit, ...]
    may_write: bool
    may_withdraw: bool


def running_page(desk: Desk, now: dt.datetime) -> RunningPage:
    """Return the plant and every unit of which running was ever written, with the last fortnight."""
    rows = list(
        Production.objects.within(now - DAYS_BACK, now + DAYS_BACK)
        .filter(site=desk.site)
        .select_related("position", "from_by", "to_by")
    )
    of_unit: dict[int | None, list[Production]] = defaultdict(list)
    for row in rows:
        of_unit[row.position_id].append(row)
    shown = tuple(
        RunningUnit(
            unit=unit,
            now=next((row for row in of_unit[unit.pk if unit else None] if row.to_at is None), None),
            stretches=tuple(of_unit[unit.pk if unit else None]),
        )
        for unit in (None, *_units(desk.site))
    )
    return RunningPage(shown, desk.may(OPERATORS), desk.may(SUPERVISORS))


RUNNING_SHOWN = {"": "The last 14 days", "every": "Every stretch"}
RUNNING_COLUMNS = ("unit", "from", "written by", "to", "ended by", "withdrawn", "because")


def _units(site: Site) -> PositionQuerySet:
    """Units of which running was ever written."""
    ever = Production.objects.standing().filter(site=site, position__isnull=False).values("position")
    return Position.objects.filter(pk__in=ever).standing().in_walking_order()


def unit_words(site: Site) -> dict[str, str]:
    """Return the plant and its units that ever ran, as the words of a filter."""
    return {"": "Everything", "plant": "The whole plant", **{str(unit.pk): unit.tag for unit in _units(site)}}


def stretches_of(site: Site, unit: str) -> ProductionQuerySet:
    """Return every stretch of a unit ('plant', its key, '' for all), withdrawn ones too, the newest first."""
    rows = Production.objects.filter(site=site).select_related("position", "from_by", "to_by")
    if unit:
        rows = rows.filter(position__isnull=True) if unit == "plant" else rows.filter(position=int(unit))
    return rows.order_by("-from_at", "-pk")


def stretch_cells(rows: Iterable[Production], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for stretches."""
    for row in rows:
        yield (
            *(row.position.tag if row.position else "the whole plant", _iso(row.from_at, zone), row.from_by.name),
            *(_iso(row.to_at, zone), row.to_by.name if row.to_by else "", _iso(row.withdrawn_at, zone)),
            row.withdrawn_because or "",
        )


def _iso(at: dt.datetime | None, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).strftime("%Y-%m-%d %H:%M") if at is not None else ""
