"""What the plant knows of one tag: what is fitted, what hangs on its signal, its limits, its last readings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.models import Fitting, Limit, Position, Reading, SignalUse
from assets.permissions import OPERATORS, SUPERVISORS, Desk

LAST_READINGS = 10


@dataclass(frozen=True, slots=True)
class TagPanel:
    """The plant’s part of the page of a tag."""

    position: Position
    fitted: Fitting | None
    past: tuple[Fitting, ...]
    uses: tuple[SignalUse, ...]
    used_by: tuple[SignalUse, ...]
    limits: tuple[Limit, ...]
    readings: tuple[Reading, ...]
    as_known_on: dt.date | None
    may_write: bool
    may_keep: bool

    @property
    def machine(self) -> bool:
        """Whether its plate is black."""
        return not self.position.measures


def tag_panel(desk: Desk, position: Position, *, known: dt.datetime | None = None) -> TagPanel:
    """Return what the plant knows of a tag now, or what was known of it at a moment (aware)."""
    moment = known or dt.datetime.max.replace(tzinfo=dt.UTC)
    day = known.astimezone(desk.site.zone).date() if known else desk.today
    fittings = list(position.fittings.select_related("asset").filter(recorded_at__lte=moment))
    here = [f for f in fittings if f.to_at is None or (f.to_recorded_at is not None and f.to_recorded_at > moment)]
    uses = SignalUse.objects.select_related("target", "position").filter(from_at__lte=moment)
    limits = Limit.objects.filter(position=position).in_force(day, known=known)
    readings = position.readings.select_related("recorded_by").filter(recorded_at__lte=moment)
    corrected = readings.filter(replaces__isnull=False).values("replaces")
    return TagPanel(
        position=position,
        fitted=here[0] if here else None,
        past=tuple(f for f in fittings if f not in here),
        uses=tuple(u for u in uses.filter(position=position) if u.to_at is None or u.to_at > moment),
        used_by=tuple(u for u in uses.filter(target=position) if u.to_at is None or u.to_at > moment),
        limits=tuple(sorted(limits, key=lambda limit: (limit.name.casefold(), limit.side))),
        readings=tuple(readings.exclude(pk__in=corrected)[:LAST_READINGS]),
        as_known_on=day if known else None,
        may_write=desk.may(OPERATORS) and position.retired_at is None and known is None,
        may_keep=desk.may(SUPERVISORS) and position.retired_at is None and known is None,
    )
