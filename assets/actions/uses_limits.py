"""What depends on a position's signal, and the limits on what it reads."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.history import Act, act
from assets.models import Limit, Person, Position, SignalUse
from assets.permissions import SUPERVISORS, must_have_role


def register_use(
    *, position: Position, use: str, target: Position | None = None, text: str = "", by: Person
) -> SignalUse:
    """Note what a position's signal does to another tag (`target`), or to a report or figure (`text`)."""
    must_have_role(by, position.site, SUPERVISORS, to="note what depends on a signal")
    with act(site=position.site, by=by) as opened:
        must_stand(position)
        row = add_use(opened, position=position, use=use, target=target, text=text)
        opened.write("use.registered", subject=position, facts={"use": f"{row.use} {row.on}"})
    return row


def must_stand(position: Position) -> None:
    """Refuse to give a retired tag anything new: its tag may be another place's by now."""
    if Position.objects.filter(pk=position.pk, retired_at__isnull=False).exists():
        raise Refusal(f"{position.tag} is retired and stays as it was.")


def add_use(opened: Act, *, position: Position, use: str, target: Position | None, text: str) -> SignalUse:
    """Add a use to an open act, without an event of its own."""
    words = text.strip()
    if ";" in words:
        raise Refusal("A semicolon parts one use from the next in a register’s file; write a comma.", field="text")
    if (target is None) == (words == ""):
        raise Refusal(
            "Choose the tag that depends on the signal or say in words what does, one of the two.", field="target"
        )
    if target == position:
        raise Refusal("A signal does not depend on itself; choose another tag.", field="target")
    if target is not None and (target.site_id != position.site_id or target.retired_at is not None):
        raise Refusal("Choose a tag of this site that is not retired.", field="target")
    if SignalUse.objects.filter(position=position, use=use, target=target, text=words).now().exists():
        raise Refusal("This use is written already.", field="use")
    row = SignalUse(position=position, use=use, target=target, text=words, from_at=opened.at, from_by=opened.by)
    return opened.add(row)


def end_use(*, use: SignalUse, by: Person) -> SignalUse:
    """End a use of a signal now."""
    must_have_role(by, use.position.site, SUPERVISORS, to="end a use of a signal")
    with act(site=use.position.site, by=by) as opened:
        opened.close(use, to_at=opened.at, to_by=by)
        opened.write("use.ended", subject=use.position, facts={"use": f"{use.use} {use.on}"})
    return use


@dataclass(frozen=True, slots=True)
class LimitFacts:
    """One limit: its side is high or low, its value is kept as typed, its source is never empty."""

    name: str
    side: str
    value: str
    unit: str
    source: str
    from_day: dt.date


def set_limit(*, position: Position, facts: LimitFacts, by: Person) -> Limit:
    """Set a limit from a day on; the newest of a name and side counts, the older ones stay on record."""
    must_have_role(by, position.site, SUPERVISORS, to="set a limit")
    with act(site=position.site, by=by) as opened:
        must_stand(position)
        row = add_limit(opened, position=position, facts=facts)
        opened.write("limit.set", subject=position, facts=_told(row))
    return row


def add_limit(opened: Act, *, position: Position, facts: LimitFacts) -> Limit:
    """Add a limit to an open act, without an event of its own."""
    unit = _fitting_unit(position, facts)
    row = Limit(
        position=position,
        name=facts.name.strip() or "Limit",
        side=facts.side,
        value=facts.value.strip(),
        unit=unit,
        source=facts.source.strip(),
        from_day=facts.from_day,
        recorded_at=opened.at,
        recorded_by=opened.by,
    )
    return opened.add(row)


def _fitting_unit(position: Position, facts: LimitFacts) -> str:
    faults: list[Reason] = []
    unit = position.unit
    try:
        read_number(facts.value, decimal_mark=position.site.decimal_mark)
    except NotANumber as wrong:
        faults.append(Reason(str(wrong), "value"))
    try:
        unit = unit_of(facts.unit).code
        if position.unit and not same_quantity(unit, position.unit):
            faults.append(Reason(f"{position.tag} reads in {position.unit}; {unit} measures something else.", "unit"))
    except UnknownUnit as wrong:
        faults.append(Reason(str(wrong), "unit"))
    if set(facts.name) & set(";()"):
        faults.append(Reason("The name of a limit has no semicolon and no parentheses.", "name"))
    if facts.source.count("(") != facts.source.count(")"):
        faults.append(Reason("A parenthesis is opened and not closed, or the other way round.", "source"))
    if not facts.source.strip():
        faults.append(Reason("Write where the limit comes from: the permit, the rule and its clause.", "source"))
    if faults:
        raise Refusal(faults)
    return unit


def end_limit(*, limit: Limit, source: str, by: Person, from_day: dt.date) -> Limit:
    """End a limit from a day on: a row of the same name and side without a value, with where that comes from."""
    position = limit.position
    must_have_role(by, position.site, SUPERVISORS, to="end a limit")
    if not source.strip():
        raise Refusal("Write why it ends: the new permit, the rule that fell away.", field="source")
    with act(site=position.site, by=by) as opened:
        row = opened.add(
            Limit(
                position=position,
                name=limit.name,
                side=limit.side,
                value="",
                unit=limit.unit,
                source=source.strip(),
                from_day=from_day,
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        opened.write("limit.ended", subject=position, facts=_told(row))
    return row


def _told(row: Limit) -> dict[str, object]:
    value = f"{row.side} {row.value} {row.unit}" if row.value else f"{row.side}, none any more"
    return {"limit": f"{row.name}: {value}", "source": row.source, "from": row.from_day}
