"""What a work order took: time against plan, parts used and left, what it cost, photographs and files."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Sum

from assets.compute.numbers import kept_number
from assets.compute.rounding import shown
from assets.compute.words import day_of_year
from assets.models import KeptFile, Person, Role
from assets.permissions import SUPERVISORS, Desk
from maintenance.compute.stock import THOUSANDTHS, amount_text, in_unit
from maintenance.models import Labour, OrderCost, Part, PartMove, WorkOrder
from maintenance.reads.due_words import hours


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourRow:
    """Time of one person; `may_correct` for the person, and for a supervisor."""

    pk: int
    who: str
    when: str
    what: str
    time: str
    may_correct: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part of an order: what is needed and used, what is left in its bin, and the least it should hold."""

    pk: int
    name: str
    bin: str
    unit: str
    needed: str
    used: str
    left: str
    order_at: str
    low: bool
    cost: str


@dataclass(frozen=True, slots=True)
class CostRow:
    """What was paid to somebody outside."""

    pk: int
    amount: str
    what: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Took:
    """All that an order took; `unpriced` names parts used without a price, so that the cost is not all of it."""

    labour: tuple[LabourRow, ...]
    time: str
    parts: tuple[PartRow, ...]
    costs: tuple[CostRow, ...]
    parts_cost: str
    outside_cost: str
    cost: str
    unpriced: tuple[str, ...]
    files: tuple[KeptFile, ...]


def took(desk: Desk, order: WorkOrder) -> Took:
    """Collect what an order took; the same number of questions whatever it took."""
    labour = list(Labour.objects.filter(order=order, replaced_by__isnull=True).select_related("person").order_by("pk"))
    parts, priced, unpriced = _parts(order)
    costs = list(OrderCost.objects.filter(order=order, replaced_by__isnull=True).select_related("recorded_by"))
    outside = sum((kept_number(cost.amount) or Fraction(0) for cost in costs), Fraction(0))
    open_here = order.state not in {"accepted", "withdrawn"}
    return Took(
        labour=tuple(_labour_row(row, desk, open_here=open_here) for row in labour if row.minutes),
        time=hours(sum(row.minutes for row in labour)),
        parts=parts,
        costs=tuple(CostRow(c.pk, c.amount, c.what, c.recorded_by.name) for c in costs if kept_number(c.amount)),
        parts_cost=shown(priced, 2),
        outside_cost=shown(outside, 2),
        cost=shown(priced + outside, 2),
        unpriced=unpriced,
        files=tuple(row.file for row in order.files.select_related("file__recorded_by")),
    )


def _labour_row(row: Labour, desk: Desk, *, open_here: bool) -> LabourRow:
    zone = desk.site.zone
    if row.from_at is not None and row.to_at is not None:
        begun, ended = row.from_at.astimezone(zone), row.to_at.astimezone(zone)
        when = f"{day_of_year(begun)}, {begun:%H:%M} to {ended:%H:%M}"
    else:
        written = row.recorded_at.astimezone(zone)
        when = f"written {day_of_year(written)}"
    return LabourRow(
        pk=row.pk,
        who=row.person.name,
        when=when,
        what=row.what,
        time=hours(row.minutes),
        may_correct=open_here and (row.person_id == desk.person.pk or desk.may(SUPERVISORS)),
    )


def _parts(order: WorkOrder) -> tuple[tuple[PartRow, ...], Fraction, tuple[str, ...]]:
    """Rows of parts needed or used, the cost of those used, and the names of used ones without a price."""
    needed = dict(order.needed.values_list("part", "thousandths"))
    used: defaultdict[int, int] = defaultdict(int)
    cost: defaultdict[int, Fraction] = defaultdict(Fraction)
    bare: set[int] = set()
    for part, thousandths, price in order.part_moves.values_list("part", "thousandths", "price"):
        used[part] -= thousandths
        cost[part] -= (kept_number(price) or Fraction(0)) * thousandths / THOUSANDTHS
        if not price:
            bare.add(part)
    found = Part.objects.filter(pk__in={*needed, *used}).order_by("name")
    stock = dict(PartMove.objects.filter(part__in=found).order_by().values_list("part").annotate(Sum("thousandths")))
    rows = tuple(
        _part_row(part, needed.get(part.pk, 0), used[part.pk], stock.get(part.pk, 0), cost[part.pk]) for part in found
    )
    return rows, sum(cost.values(), Fraction(0)), tuple(p.name for p in found if p.pk in bare and used[p.pk])


def _part_row(part: Part, needed: int, used: int, left: int, cost: Fraction) -> PartRow:
    return PartRow(
        pk=part.pk,
        name=part.name,
        bin=part.bin,
        unit=part.unit,
        needed=amount_text(needed) if needed else "",
        used=amount_text(used) if used else "",
        left=in_unit(left, part.unit),
        order_at=amount_text(part.least) if part.least is not None else "",
        low=left < needed - used or (part.least is not None and left < part.least),
        cost=shown(cost, 2) if cost else "",
    )


def people_with_time(desk: Desk, order: WorkOrder) -> list[Person]:
    """Whose time the asking person may write: their own; a supervisor anybody's who works at the site."""
    if not desk.may(SUPERVISORS):
        return [desk.person]
    roles = [Role.OPERATOR, Role.SUPERVISOR, Role.CONTRACTOR]
    rows = Person.objects.filter(memberships__site=desk.site, memberships__role__in=roles, memberships__to_at=None)
    return list(rows.distinct().order_by("name"))
