"""What relied on a standard from a day on: straight, and through what was made, assigned or checked with it.

The way may be of any length: a dilution of the lot, a block that got its value after a calibration with that dilution,
a bench meter that was checked with the block, and the checks made with that meter.
"""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet
from django.urls import reverse

from assets.models import Asset, Site
from calibration.models import (
    Assignment,
    Check,
    Dilution,
    Lot,
    Point,
    ReadingSet,
    Recall,
    RelianceWithdrawal,
    StandardUse,
)
from calibration.reads.consequences import key_of
from calibration.reads.sheet import FAILING, PASSING


@dataclass(frozen=True, slots=True)
class _Node:
    """A standard that must not be relied on from one moment to another; `unit`: on that instrument alone."""

    lot: int | None
    asset: int | None
    since: dt.datetime
    until: dt.datetime | None = None
    unit: int | None = None
    way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reached:
    """A check that relied on what is withdrawn, and the way to it: what was made, assigned or checked between."""

    check: Check
    at: dt.datetime
    way: tuple[str, ...]

    @property
    def through(self) -> str:
        """The way in words; empty when the check used the standard itself."""
        return ", then ".join(self.way)


@dataclass(slots=True)
class Reach:
    """Everything that is reached: checks by their key, and the meters whose own check is among them."""

    site: Site
    checks: dict[int, Reached] = field(default_factory=dict)
    meters: dict[int, str] = field(default_factory=dict)
    lots: dict[int, str] = field(default_factory=dict)


def reach_of(*, site: Site, lot: Lot | None, asset: Asset | None, from_day: dt.date) -> Reach:
    """Return every check of a site that relied on a lot or an instrument from the beginning of a site day."""
    since = dt.datetime.combine(from_day, dt.time.min, site.zone)
    reach = Reach(site)
    waiting = deque([_Node(lot.pk if lot else None, asset.pk if asset else None, since)])
    seen: set[tuple[int | None, int | None, dt.datetime, int | None]] = set()
    while waiting:
        node = waiting.popleft()
        key = (node.lot, node.asset, node.since, node.unit)
        if key in seen:
            continue
        seen.add(key)
        waiting.extend(_made_with(reach, node))
        for point in _points(reach, node):
            check = point.set.check_of
            if check.pk not in reach.checks:
                reach.checks[check.pk] = Reached(check, point.set.performed_at, node.way)
                waiting.extend(_after(reach, check, point.set.performed_at, node.way))
    return reach


def _points(reach: Reach, node: _Node) -> QuerySet[Point]:
    rows = Point.objects.filter(
        set__check_of__site=reach.site, set__check_of__replaced_by=None, set__performed_at__gte=node.since
    )
    if node.until is not None:
        rows = rows.filter(set__performed_at__lt=node.until)
    if node.unit is not None:
        rows = rows.filter(set__check_of__asset=node.unit)
    rows = rows.filter(lot=node.lot) if node.lot is not None else _read_with(rows, node.asset)
    return rows.select_related("set__check_of__position", "set__check_of__asset", "set__check_of__plan").order_by(
        "set__performed_at", "pk"
    )


def _read_with(rows: QuerySet[Point], asset: int | None) -> QuerySet[Point]:
    """Points whose standard was an instrument."""
    return rows.filter(reference=asset)


def _made_with(reach: Reach, node: _Node) -> Iterator[_Node]:
    """Yield lots that were made, and blocks that were given their value, with a standard since it is withdrawn."""
    if node.unit is not None:
        return
    day = node.since.astimezone(reach.site.zone).date()
    made = Dilution.objects.filter(lot__site=reach.site, made_on__gte=day)
    made = made.filter(parts__parent=node.lot) if node.lot is not None else made.filter(measured_with=node.asset)
    if node.until is not None:
        made = made.filter(made_on__lte=node.until.astimezone(reach.site.zone).date())
    for dilution in made.select_related("lot").order_by("pk"):
        way = (*node.way, f"lot {dilution.lot.number} made from it")
        reach.lots[dilution.lot_id] = way[-1]
        yield _Node(dilution.lot_id, None, _morning(reach, dilution.made_on), way=way)
    if node.lot is not None:
        given = Assignment.objects.filter(primary_lot=node.lot, on__gte=day)
        yield from _assigned(reach, given, node.way)


def _after(reach: Reach, check: Check, at: dt.datetime, way: tuple[str, ...]) -> Iterator[_Node]:
    """Yield what rests on a check: blocks assigned after it, and the instrument it checked where that is a standard."""
    yield from _assigned(reach, Assignment.objects.filter(primary=check), (*way, f"check {check.number}"))
    asset = check.asset
    if asset is None or not StandardUse.objects.filter(asset=asset).exists():
        return
    good = ReadingSet.objects.filter(check_of__asset=asset, check_of__replaced_by=None, performed_at__gt=at)
    good = good.filter(outcome__valid=True, outcome__verdict__in=list(PASSING)).exclude(check_of=check)
    until = good.order_by("performed_at").values_list("performed_at", flat=True).first()
    if until is None:
        reach.meters[asset.pk] = f"check {check.number}"
    yield _Node(None, asset.pk, at, until, way=(*way, f"{asset} checked by it (check {check.number})"))


def _assigned(reach: Reach, given: QuerySet[Assignment], way: tuple[str, ...]) -> Iterator[_Node]:
    for one in given.select_related("lot", "asset").order_by("pk"):
        again = Assignment.objects.filter(lot=one.lot, asset=one.asset).filter(
            Q(on__gt=one.on) | Q(on=one.on, pk__gt=one.pk)
        )
        until = again.order_by("on", "pk").values_list("on", flat=True).first()
        yield _Node(
            one.lot_id,
            None,
            _morning(reach, one.on),
            _morning(reach, until) if until is not None else None,
            unit=one.asset_id,
            way=(*way, f"block {one.lot.number} given its value on {one.asset}"),
        )


def _morning(reach: Reach, day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time.min, reach.site.zone)


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """One check that a withdrawal reaches; `again`: what was done in its place since, if anything."""

    tag: str
    code: str
    number: int
    at: dt.datetime
    through: str
    url: str
    before: bool
    again: Check | None = None


def preview_rows(reach: Reach) -> tuple[PreviewRow, ...]:
    """Return the checks reached, by tag, then number; `before`: its reliance was withdrawn once already."""
    done = set(RelianceWithdrawal.objects.filter(check_of__in=list(reach.checks)).values_list("check_of", flat=True))
    rows = [
        PreviewRow(
            tag=one.check.position.tag,
            code=one.check.position.label_code,
            number=one.check.number,
            at=one.at,
            through=one.through,
            url=one.check.get_absolute_url(),
            before=pk in done,
        )
        for pk, one in reach.checks.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.tag, row.number)))


def done_again(checks: Collection[Check]) -> dict[int, Check]:
    """Return, by the key of each check, the first valid one of its requirement after it that is relied on still."""
    if not checks:
        return {}
    later = Check.objects.filter(
        requirement__in={one.requirement_id for one in checks},
        begun_at__gt=min(one.begun_at for one in checks),
        replaced_by=None,
        withdrawals=None,
        sets__outcome__valid=True,
    )
    rows = list(later.distinct().order_by("begun_at", "pk"))
    return {
        one.pk: after[0]
        for one in checks
        if (after := [row for row in rows if row.requirement_id == one.requirement_id and row.begun_at > one.begun_at])
    }


@dataclass(frozen=True, slots=True)
class Offer:
    """That an instrument failed its own check: the day of its last good one, from which a withdrawal is offered."""

    failed: Check
    good: Check | None
    from_day: dt.date
    url: str


def recall_offer(asset: Asset) -> Offer | None:
    """Return the offer to withdraw what an instrument measured once its own check failed; None when it is done."""
    if not StandardUse.objects.filter(asset=asset, ended_at=None).exists():
        return None
    own = (
        Check.objects.filter(asset=asset, replaced_by=None).prefetch_related("sets__outcome").order_by("begun_at", "pk")
    )
    failed, good = _last_failed(own)
    if failed is None or Recall.objects.filter(asset=asset, recorded_at__gte=failed.begun_at).exists():
        return None
    since = good.begun_at if good is not None else _first_use(asset, failed)
    day = since.astimezone(asset.site.zone).date()
    return Offer(failed, good, day, f"{reverse('calibration:recall-asset', args=[asset.pk])}?from={day.isoformat()}")


def _last_failed(own: QuerySet[Check]) -> tuple[Check | None, Check | None]:
    """Return the newest check that failed as found, and the last good one before it."""
    failed, good, before = None, None, None
    for check in own:
        found = [getattr(of, "outcome", None) for of in sorted(check.sets.all(), key=lambda of: of.pk)]
        verdicts = [(of.valid, of.verdict) for of in found if of is not None]
        if verdicts and verdicts[0][0] and verdicts[0][1] in FAILING:
            failed, good = check, before
        if verdicts and verdicts[-1][0] and verdicts[-1][1] in PASSING:
            before = check
    return failed, good


def _first_use(asset: Asset, failed: Check) -> dt.datetime:
    first = _read_with(Point.objects.all(), asset.pk).order_by("set__performed_at").select_related("set").first()
    return first.set.performed_at if first is not None else failed.begun_at


def recall_key(check: Check, recall: Recall) -> str:
    """Return the key of the record that takes back what a withdrawn check counted for."""
    return key_of(check, f"recall-{recall.pk}")


def recall_keys(site: Site) -> set[str]:
    """Return the keys of all such records of a site."""
    rows = RelianceWithdrawal.objects.filter(check_of__site=site).select_related("check_of", "recall")
    return {recall_key(row.check_of, row.recall) for row in rows}
