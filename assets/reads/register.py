"""The plant's register as rows of text: what an export writes and an import is compared with."""

from __future__ import annotations

import datetime as dt
import hashlib
from zoneinfo import ZoneInfo

from django.db.models import Prefetch

from assets.compute.register_cells import write_sheet
from assets.compute.register_workbook import write_workbook
from assets.models import Fitting, Limit, Position, SignalUse, Site


def register_rows(site: Site, *, today: dt.date) -> list[dict[str, str]]:
    """Return one row for each standing position, in walking order, with what is fitted, used and limited now."""
    positions = (
        Position.objects.at(site)
        .standing()
        .in_walking_order()
        .prefetch_related(
            Prefetch("fittings", Fitting.objects.now().select_related("asset"), to_attr="fitted"),
            Prefetch("uses", SignalUse.objects.now().select_related("target"), to_attr="used"),
        )
    )
    limits: dict[int, list[Limit]] = {}
    for limit in Limit.objects.filter(position__site=site).in_force(today):
        limits.setdefault(limit.position_id, []).append(limit)
    return [_row(position, limits.get(position.pk, []), site.zone) for position in positions]


def _row(position: Position, limits: list[Limit], zone: ZoneInfo) -> dict[str, str]:
    fitting: Fitting | None = next(iter(position.fitted), None)  # type: ignore[attr-defined]
    used: list[SignalUse] = position.used  # type: ignore[attr-defined]
    return {
        "tag": position.tag,
        "area": position.area.name,
        "service": position.service,
        "does": position.does,
        "quantity": position.quantity,
        "unit": position.unit,
        "low": position.range_low,
        "high": position.range_high,
        "matters for": position.matters_for,
        "compliance point": "yes" if position.compliance_point else "no",
        "kind": fitting.asset.kind if fitting else "",
        "serial": fitting.asset.serial if fitting else "",
        "model": fitting.asset.model if fitting else "",
        "fitted from": fitted_text(fitting.from_at, zone) if fitting else "",
        "uses": "; ".join(f"{use.use} {use.on}" for use in used),
        "limits": "; ".join(limit_text(limit) for limit in limits),
    }


def fitted_text(moment: dt.datetime, zone: ZoneInfo) -> str:
    """Return a moment as the file writes it: a day when it is the day's beginning, else day and minute."""
    here = moment.astimezone(zone)
    return f"{here:%Y-%m-%d}" if (here.hour, here.minute) == (0, 0) else f"{here:%Y-%m-%d %H:%M}"


def limit_text(limit: Limit) -> str:
    """Return a limit as the file writes it."""
    name = "" if limit.name == "Limit" else f"{limit.name} "
    return f"{name}{limit.side} {limit.value} {limit.unit} ({limit.source})"


def register_text(site: Site, *, today: dt.date) -> str:
    """Return the register as the text of a file."""
    return write_sheet(register_rows(site, today=today))


def register_workbook(site: Site, *, today: dt.date) -> bytes:
    """Return the register as an XLSX file with the same cells."""
    return write_workbook(register_rows(site, today=today))


def content_hash(content: bytes) -> str:
    """Return the SHA-256 by which a file, or a state of the register, is told from another."""
    return hashlib.sha256(content).hexdigest()
