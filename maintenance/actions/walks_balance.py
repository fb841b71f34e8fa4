"""Which tags count in the water balance of the day: written with a reason from a day on, and ended."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason, Refusal
from assets.history import act
from assets.models import Face, Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.models import BalancePart, StrappingTable

KEEP = "say what counts in the water balance"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTyped:
    """One register or level that counts, as typed: a totalizer with its uncertainty, %, or a store with its surface."""

    position: Position
    what: str
    kind: str
    face: str = Face.DISPLAY
    uncertainty: str = ""
    area: str = ""
    level_uncertainty: str = ""
    area_uncertainty: str = ""
    from_day: dt.date
    why: str


def count_in_balance(*, site: Site, typed: PartTyped, by: Person) -> BalancePart:
    """Let a register or a level count in the balance from a day on."""
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    faults = _faults(site, typed)
    if faults:
        raise Refusal(faults)
    with act(site=site, by=by) as opened:
        row = opened.add(
            BalancePart(
                site=site,
                position=typed.position,
                what=typed.what.strip(),
                face=typed.face,
                kind=typed.kind,
                uncertainty=typed.uncertainty.strip(),
                area=typed.area.strip(),
                level_uncertainty=typed.level_uncertainty.strip(),
                area_uncertainty=typed.area_uncertainty.strip(),
                from_day=typed.from_day,
                why=typed.why.strip(),
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        facts = {"counts as": row.kind, "what": row.what, "from": row.from_day, "why": row.why}
        opened.write("balance.part_counted", subject=row, facts=facts)
    return row


def end_in_balance(*, part: BalancePart, to_day: dt.date, by: Person) -> BalancePart:
    """Let it count up to a day, that day included."""
    must_have_role(by, part.site, SUPERVISORS, to=KEEP)
    if to_day < part.from_day:
        raise Refusal("It counts until a day that is not before the first one.", field="to_day")
    with act(site=part.site, by=by) as opened:
        opened.close(part, to_day=to_day, ended_at=opened.at, ended_by=by)
        opened.write("balance.part_ended", subject=part, facts={"to": to_day})
    return part


def _has_table(typed: PartTyped) -> bool:
    tables = StrappingTable.objects.filter(position=typed.position).in_force(typed.from_day)
    return any(table.what.casefold() == typed.what.strip().casefold() for table in tables)


def _faults(site: Site, typed: PartTyped) -> list[Reason]:
    faults: list[Reason] = []
    if typed.position.site_id != site.pk:
        faults.append(Reason("This tag belongs to another site.", "position"))
    if typed.kind == BalancePart.Kind.STORE and not typed.area.strip() and not _has_table(typed):
        faults.append(
            Reason(
                "A store says its surface in m², or has a strapping table, so that a level becomes a volume.", "area"
            )
        )
    for name in ("uncertainty", "area", "level_uncertainty", "area_uncertainty"):
        text = getattr(typed, name).strip()
        try:
            if text and read_number(text, decimal_mark=site.decimal_mark) <= 0:
                faults.append(Reason("Write a number above zero.", name))
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
    return faults
