"""The list of handovers: every one of a site, or those of which something is still to be taken over."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from django.db.models import Count, Q, QuerySet

from assets.models import Site
from maintenance.models import Handover

SHOWN = {"": "All", "open": "Not taken over yet"}
COLUMNS = ("handover", "from", "shift from", "made", "to take over", "not taken over yet", "in their own words")
CARRIED = ~Q(items__carried_key="")
LEFT = CARRIED & Q(items__taken_at__isnull=True)


def listed_handovers(site: Site, shown: str, found: Q) -> QuerySet[Handover]:
    """Return the handovers that a filter asks for, the newest first, with how much each carries and has left."""
    counted = Handover.objects.filter(found, site=site).annotate(
        carried=Count("items", filter=CARRIED, distinct=True), left=Count("items", filter=LEFT, distinct=True)
    )
    rows = counted.filter(left__gt=0) if shown == "open" else counted
    return rows.select_related("made_by").order_by("-number")


def handover_cells(rows: Iterable[Handover], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for handovers of `listed_handovers`."""
    for row in rows:
        yield (
            *(str(row.number), row.made_by.name, _iso(row.shift_from, zone), _iso(row.made_at, zone)),
            *(str(row.carried), str(row.left), row.words),  # type: ignore[attr-defined]
        )


def _iso(at: dt.datetime, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).strftime("%Y-%m-%d %H:%M")
