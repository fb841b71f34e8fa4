"""Spare parts: registered, changed, retired; received, counted, scrapped. Each move is a row that never changes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Sum

from assets import history
from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Person, Site
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from maintenance.compute.stock import NotAnAmount, amount_of, amount_text, in_unit
from maintenance.models import MoveKind, Part, PartMove


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTyped:
    """A part as typed: name, bin, unit it is counted in, least stock, days to come, days it keeps, price of one."""

    name: str
    unit: str
    bin: str = ""
    least: str = ""
    lead_days: int | None = None
    shelf_days: int | None = None
    price: str = ""

    def columns(self, site: Site) -> dict[str, object]:
        """Return the columns of the row. Raises Refusal with every fault at its field."""
        faults = []
        if not self.name.strip():
            faults.append(Reason("Name: write what it is called.", "name"))
        if not self.unit.strip():
            faults.append(Reason("Write what it is counted in, like “piece”, “m” or “L”.", "unit"))
        least = None
        if self.least.strip():
            try:
                least = amount_of(self.least, decimal_mark=site.decimal_mark, nothing=True)
            except NotAnAmount as wrong:
                faults.append(Reason(str(wrong), "least"))
        faults += price_faults(self.price, site)
        if faults:
            raise Refusal(faults)
        return {
            "name": self.name.strip(),
            "bin": self.bin.strip(),
            "unit": self.unit.strip(),
            "least": least,
            "lead_days": self.lead_days,
            "shelf_days": self.shelf_days,
            "price": self.price.strip(),
        }


def price_faults(price: str, site: Site) -> list[Reason]:
    """Return what is wrong with a typed price; nothing typed is no fault."""
    if not price.strip():
        return []
    try:
        value = read_number(price, decimal_mark=site.decimal_mark)
    except NotANumber as wrong:
        return [Reason(str(wrong), "price")]
    return [Reason("A price is not below 0.", "price")] if value < 0 else []


def register_part(*, site: Site, part: PartTyped, by: Person) -> Part:
    """Register a part; nothing is in stock until it is received or counted."""
    must_have_role(by, site, SUPERVISORS, to="register a part")
    columns = part.columns(site)
    with history.act(site=site, by=by) as act:
        row = act.add(Part(site=site, **columns))
        act.write("part.registered", subject=row, facts=columns)
    return row


def change_part(*, part: Part, typed: PartTyped, version: int, by: Person) -> Part:
    """Change what is written of a part. Its unit stays once anything has moved: old amounts are counted in it."""
    must_have_role(by, part.site, SUPERVISORS, to="change a part")
    columns = typed.columns(part.site)
    with history.act(site=part.site, by=by) as act:
        if columns["unit"] != part.unit and part.moves.exists():
            raise Refusal(
                f"{part.name} was counted in {part.unit} so far; retire it and register it anew for another unit.",
                field="unit",
            )
        act.change(part, expect={"version": version}, version=version + 1, **columns)
        act.write("part.changed", subject=part, facts=columns)
    return part


def retire_part(*, part: Part, because: str, by: Person) -> Part:
    """Keep a part no longer. What is left of it is scrapped or counted to nothing before."""
    must_have_role(by, part.site, SUPERVISORS, to="retire a part")
    if not because.strip():
        raise Refusal("Because: write why it is kept no longer.", field="because")
    with history.act(site=part.site, by=by) as act:
        history.lock_site(UPKEEP, part.site)
        left = stock_of(part)
        if left:
            raise Refusal(f"{in_unit(left, part.unit)} still in stock; scrap or use it first.")
        act.change(part, expect={"retired_at": None}, retired_at=act.at)
        act.write("part.retired", subject=part, facts={"because": because.strip()})
    return part


def stock_of(part: Part) -> int:
    """Return what is in stock, in thousandths, as the rows say now."""
    return int(PartMove.objects.filter(part=part).aggregate(sum=Sum("thousandths"))["sum"] or 0)


def receive_part(*, part: Part, amount: str, expires: dt.date | None, price: str, by: Person) -> PartMove:
    """Put what was delivered into stock.

    Its last day, where none is given, follows from the shelf life; a price that is given becomes that of the part.
    """
    must_have_role(by, part.site, OPERATORS, to="receive a part")
    faults = price_faults(price, part.site)
    thousandths = 0
    try:
        thousandths = amount_of(amount, decimal_mark=part.site.decimal_mark)
    except NotAnAmount as wrong:
        faults.append(Reason(str(wrong), "amount"))
    if faults:
        raise Refusal(faults)
    with history.act(site=part.site, by=by) as act:
        today = act.at.astimezone(part.site.zone).date()
        if expires is not None and expires < today:
            raise Refusal("That day has passed; send it back, or look at the day.", field="expires")
        last = expires or (today + dt.timedelta(days=part.shelf_days) if part.shelf_days else None)
        move = PartMove(part=part, kind=MoveKind.RECEIVED, thousandths=thousandths, expires=last, price=price.strip())
        _add(act, move)
        if price.strip() and price.strip() != part.price:
            part.refresh_from_db()
            act.change(part, expect={"version": part.version}, version=part.version + 1, price=price.strip())
        act.write("part.received", subject=part, facts={"amount": amount_text(thousandths), "expires": last})
    return move


def count_part(*, part: Part, counted: str, because: str, by: Person) -> PartMove:
    """Write how much was counted on the shelf; from now on that is the stock."""
    must_have_role(by, part.site, OPERATORS, to="count a part")
    try:
        found = amount_of(counted, decimal_mark=part.site.decimal_mark, nothing=True)
    except NotAnAmount as wrong:
        raise Refusal(str(wrong), field="counted") from wrong
    with history.act(site=part.site, by=by) as act:
        _lock_standing(part)
        before = stock_of(part)
        move = PartMove(
            part=part, kind=MoveKind.COUNTED, thousandths=found - before, counted=found, because=because.strip()
        )
        _add(act, move)
        facts = {"counted": amount_text(found), "before": amount_text(before), "because": because.strip()}
        act.write("part.counted", subject=part, facts=facts)
    return move


def scrap_part(*, part: Part, amount: str, because: str, by: Person) -> PartMove:
    """Take out of stock what is thrown away, with the reason."""
    must_have_role(by, part.site, OPERATORS, to="scrap a part")
    if not because.strip():
        raise Refusal("Because: write why it is thrown away.", field="because")
    thousandths = amount_wanted(part, amount)
    with history.act(site=part.site, by=by) as act:
        _lock_standing(part)
        refuse_more_than_there_is(part, thousandths)
        move = PartMove(part=part, kind=MoveKind.SCRAPPED, thousandths=-thousandths, because=because.strip())
        _add(act, move)
        facts = {"amount": amount_text(thousandths), "because": because.strip()}
        act.write("part.scrapped", subject=part, facts=facts)
    return move


def amount_wanted(part: Part, amount: str) -> int:
    """Return a typed amount in thousandths; refuses at the field of the amount what is none."""
    try:
        return amount_of(amount, decimal_mark=part.site.decimal_mark)
    except NotAnAmount as wrong:
        raise Refusal(str(wrong), field="amount") from wrong


def refuse_more_than_there_is(part: Part, thousandths: int) -> None:
    """Refuse to take more than is in stock, and say who took the last: they may have been quicker by a second."""
    left = stock_of(part)
    if thousandths <= left:
        return
    last = PartMove.objects.filter(part=part, thousandths__lt=0).select_related("recorded_by", "order").last()
    taken = ""
    if last is not None:
        where = f" for {last.order}" if last.order else ""
        taken = f" The last to take some was {last.recorded_by.name}{where}: {amount_text(-last.thousandths)}."
    raise Refusal(
        f"{part.name}: {in_unit(left, part.unit)} in stock, {amount_text(thousandths)} wanted.{taken} Nothing was "
        "taken; count the shelf if it holds more.",
        field="amount",
    )


def _lock_standing(part: Part) -> None:
    history.lock_site(UPKEEP, part.site)
    part.refresh_from_db(fields=["retired_at"])
    if part.retired_at is not None:
        raise Refusal(f"{part.name} is retired; nothing more is moved.")


def _add(act: Act, move: PartMove) -> PartMove:
    _lock_standing(move.part)
    assert act.by is not None
    move.recorded_at, move.recorded_by = act.at, act.by
    return act.add(move)
