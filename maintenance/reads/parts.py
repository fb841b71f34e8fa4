"""What the pages of spare parts show: the list with stock and cover, one part with its moves."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F, Q, Sum
from django.db.models.functions import Coalesce

from assets.compute.words import count_of
from assets.models import Site
from maintenance.compute.stock import Cover, Moved, amount_text, cover_of, in_stock, in_unit, left_by_last_day
from maintenance.models import Part, PartMove
from maintenance.queries import PartQuerySet

SOON = dt.timedelta(days=60)
"""Days ahead within which a last day is listed: common practice, no source."""

GROUPS = {
    "": "All",
    "low": "Below least stock",
    "expiring": "Expired or expiring in 60 days",
    "retired": "Kept no longer",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One part of the list; `expires` is the first last day of what is left, `cover` in words with its n."""

    pk: int
    url: str
    name: str
    bin: str
    unit: str
    stock: str
    least: str
    low: bool
    expires: dt.date | None
    expiring: bool
    expired: bool
    cover: str
    short: bool
    lead: str
    shelf: str
    price: str


def parts_of(site: Site, group: str, today: dt.date, found: Q | None = None) -> PartQuerySet:
    """The parts of a group, of those only such as a condition finds, by name."""
    return group_of(site, group, today).filter(found or Q()).select_related("site").order_by("name", "pk")


def group_counts(site: Site, today: dt.date) -> dict[str, str]:
    """How many parts each link of the list shows."""
    return {group: str(group_of(site, group, today).count()) for group in GROUPS}


def group_of(site: Site, group: str, today: dt.date) -> PartQuerySet:
    """Parts of a group."""
    rows = Part.objects.at(site)
    if group == "retired":
        return rows.filter(retired_at__isnull=False)
    rows = rows.standing()
    if group == "low":
        return rows.annotate(stock=Coalesce(Sum("moves__thousandths"), 0)).filter(stock__lt=F("least"))
    if group == "expiring":
        return rows.filter(pk__in=_expiring(site, today))
    return rows


def _expiring(site: Site, today: dt.date) -> list[int]:
    """Keys of the parts of which something that is left expires soon; worked out from their moves, in one question."""
    soon = Q(moves__expires__lte=today + SOON)
    candidates = Part.objects.at(site).standing().filter(soon).values("pk")
    moves = moves_of(PartMove.objects.filter(part__in=candidates), site)
    return [pk for pk, those in moves.items() if _first_day(those) and _first_day(those) <= today + SOON]  # type: ignore[operator]


def moves_of(rows: Iterable[PartMove], site: Site) -> dict[int, list[Moved]]:
    """Moves by part, in the order they were written."""
    found: defaultdict[int, list[Moved]] = defaultdict(list)
    for move in sorted(rows, key=lambda one: one.pk):
        on = move.recorded_at.astimezone(site.zone).date()
        found[move.part_id].append(Moved(move.kind, move.thousandths, on, move.expires))
    return found


def _first_day(moves: list[Moved]) -> dt.date | None:
    return min((day for day in left_by_last_day(moves) if day is not None), default=None)


def part_lines(parts: list[Part], today: dt.date) -> tuple[PartLine, ...]:
    """Rows to show for parts of one site, their moves asked for at once: one question for any number of parts."""
    if not parts:
        return ()
    moves = moves_of(PartMove.objects.filter(part__in=parts), parts[0].site)
    return tuple(_line(part, moves.get(part.pk, []), today) for part in parts)


def _line(part: Part, moves: list[Moved], today: dt.date) -> PartLine:
    stock, first, cover = in_stock(moves), _first_day(moves), cover_of(moves, today)
    return PartLine(
        pk=part.pk,
        url=part.get_absolute_url(),
        name=part.name,
        bin=part.bin,
        unit=part.unit,
        stock=in_unit(stock, part.unit),
        least=amount_text(part.least) if part.least is not None else "",
        low=part.least is not None and stock < part.least,
        expires=first,
        expiring=first is not None and first <= today + SOON,
        expired=first is not None and first < today,
        cover=cover_words(cover),
        short=cover.days is not None and part.lead_days is not None and cover.days < part.lead_days,
        lead=count_of(part.lead_days, "day") if part.lead_days is not None else "",
        shelf=count_of(part.shelf_days, "day") if part.shelf_days is not None else "",
        price=part.price,
    )


def cover_words(cover: Cover) -> str:
    """Say how long the stock lasts, with what it rests on."""
    over = "12 months" if cover.span == 365 else "day" if cover.span == 1 else f"{cover.span} days"
    if not cover.n:
        return f"no use in the last {over}"
    used = f"{amount_text(cover.used)} used in the last {over}, n = {cover.n}"
    return f"too few to say: {used}" if cover.days is None else f"{count_of(cover.days, 'day')}, from {used}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveRow:
    """One move of the log of a part."""

    at: dt.datetime
    who: str
    what: str
    amount: str
    because: str
    order: int | None
    order_url: str


@dataclass(frozen=True, slots=True)
class PartView:
    """One part: its line, what is left by last day, its moves, the newest first."""

    line: PartLine
    left: tuple[tuple[dt.date | None, str], ...]
    moves: tuple[MoveRow, ...]


def part_view(part: Part, today: dt.date) -> PartView:
    """Collect what the page of one part shows."""
    rows = PartMove.objects.filter(part=part).select_related("recorded_by", "order")
    found = list(rows)
    moves = moves_of(found, part.site).get(part.pk, [])
    left = sorted(left_by_last_day(moves).items(), key=lambda one: one[0] or dt.date.max)
    newest = sorted(found, key=lambda one: -one.pk)[:100]
    return PartView(
        _line(part, moves, today),
        tuple((day, in_unit(amount, part.unit)) for day, amount in left),
        tuple(_move_row(move, part.unit) for move in newest),
    )


def _move_row(move: PartMove, unit: str) -> MoveRow:
    sign = "+" if move.thousandths > 0 else ""
    counted = f", {amount_text(move.counted)} on the shelf" if move.counted is not None else ""
    return MoveRow(
        at=move.recorded_at,
        who=move.recorded_by.name,
        what=f"{move.get_kind_display()}{counted}".capitalize(),
        amount=f"{sign}{in_unit(move.thousandths, unit)}",
        because=move.because,
        order=move.order.number if move.order else None,
        order_url=move.order.get_absolute_url() if move.order else "",
    )


PART_COLUMNS = (
    *("part", "bin", "unit", "stock", "least stock", "below least", "first last day", "cover", "lead days"),
    *("shelf life days", "price of one"),
)


def part_sheet(parts: list[Part], today: dt.date) -> list[tuple[str, ...]]:
    """Parts as rows of a file."""
    rows = part_lines(parts, today)
    return [
        (
            *(row.name, row.bin, row.unit, row.stock.split(" ")[0], row.least, "yes" if row.low else "no"),
            *(row.expires.isoformat() if row.expires else "", row.cover),
            *(row.lead.split(" ")[0], row.shelf.split(" ")[0], row.price),
        )
        for row in rows
    ]
