"""Areas, tagged positions and serial-numbered assets: registered, changed, retired."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from typing import Any

from assets import hooks
from assets.actions.changing import amend
from assets.compute.label_codes import LETTERS
from assets.compute.numbers import NotANumber, read_number
from assets.compute.register_csv import TAG
from assets.compute.units import UnknownUnit, unit_of
from assets.errors import Reason, Refusal
from assets.history import PLANT, Act, act, lock_site
from assets.models import Area, Asset, Fitting, Person, Position, SignalUse, Site
from assets.permissions import SUPERVISORS, must_have_role

LABEL_LENGTH = 8


@dataclass(frozen=True, slots=True)
class PositionFacts:
    """What is known about a tagged place; a walk order of None puts it at the end of its area."""

    area: Area
    tag: str
    service: str
    does: str
    matters_for: str
    quantity: str = ""
    unit: str = ""
    range_low: str = ""
    range_high: str = ""
    compliance_point: bool = False
    walk_order: int | None = None

    def columns(self, *, decimal_mark: str) -> dict[str, Any]:
        """Return the columns of the position; raises Refusal with every fault of them at once."""
        faults: list[Reason] = []
        unit = _unit(self.unit, faults)
        _range(self.range_low, self.range_high, decimal_mark, faults)
        if not TAG.fullmatch(self.tag.strip().upper()):
            faults.append(Reason(f"“{self.tag.strip()}” is no tag; write it like AIT-310, P-2 or V-721.", "tag"))
        if not self.service.strip():
            faults.append(Reason("Write what it serves, like “pH, treated water”.", "service"))
        if self.does == "measures" and not self.unit.strip():
            faults.append(Reason("A position that measures needs the unit it reads in.", "unit"))
        if faults:
            raise Refusal(faults)
        return {
            "area": self.area,
            "tag": self.tag.strip().upper(),
            "service": self.service.strip(),
            "does": self.does,
            "matters_for": self.matters_for,
            "quantity": self.quantity.strip(),
            "unit": unit,
            "range_low": self.range_low.strip(),
            "range_high": self.range_high.strip(),
            "compliance_point": self.compliance_point,
        }


def _unit(typed: str, faults: list[Reason]) -> str:
    if not typed.strip():
        return ""
    try:
        return unit_of(typed).code
    except UnknownUnit as wrong:
        faults.append(Reason(str(wrong), "unit"))
        return ""


def _range(low: str, high: str, decimal_mark: str, faults: list[Reason]) -> None:
    ends = []
    for name, typed in (("range_low", low), ("range_high", high)):
        try:
            ends.append(read_number(typed, decimal_mark=decimal_mark) if typed.strip() else None)
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
            ends.append(None)
    if ends[0] is not None and ends[1] is not None and ends[0] >= ends[1]:
        faults.append(Reason(f"The range ends above where it begins; {low} to {high} does not.", "range_high"))


def new_label_code() -> str:
    """Return a random code for a plate: it says nothing about the tag and is never given twice."""
    while True:
        code = "".join(secrets.choice(LETTERS) for _ in range(LABEL_LENGTH))
        if not Position.objects.filter(label_code=code).exists():
            return code


def register_area(*, site: Site, name: str, by: Person, walk_order: int | None = None) -> Area:
    """Register a part of the works; without a walk order it comes last."""
    must_have_role(by, site, SUPERVISORS, to="register an area")
    with act(site=site, by=by) as opened:
        area = add_area(opened, site=site, name=name, walk_order=walk_order)
        opened.write("area.registered", subject=area)
    return area


def add_area(opened: Act, *, site: Site, name: str, walk_order: int | None = None) -> Area:
    """Add an area to an open act, without an event of its own."""
    if not name.strip():
        raise Refusal("Write the area's name, like “Filter gallery”.", field="name")
    last = Area.objects.filter(site=site).order_by("-walk_order").values_list("walk_order", flat=True).first()
    order = walk_order if walk_order is not None else (last or 0) + 10
    return opened.add(Area(site=site, name=name.strip(), walk_order=order))


def change_area(*, area: Area, name: str, walk_order: int, by: Person, version: int | None = None) -> Area:
    """Rename an area or move it in the walking order."""
    must_have_role(by, area.site, SUPERVISORS, to="change an area")
    if not name.strip():
        raise Refusal("Write the area's name, like “Filter gallery”.", field="name")
    with act(site=area.site, by=by) as opened:
        changes = amend(opened, area, version=version, name=name.strip(), walk_order=walk_order)
        opened.write("area.changed", subject=area, facts={"changes": changes})
    return area


def retire_area(*, area: Area, by: Person, version: int | None = None) -> Area:
    """Take an area out of the walk; refused while a position stands in it."""
    must_have_role(by, area.site, SUPERVISORS, to="retire an area")
    with act(site=area.site, by=by) as opened:
        standing = Position.objects.filter(area=area).standing()
        if standing.exists():
            tags = ", ".join(p.tag for p in standing[:5])
            raise Refusal(f"{tags} and what else stands in {area} must be moved to another area or retired first.")
        amend(opened, area, version=version, retired_at=opened.at)
        opened.write("area.retired", subject=area)
    return area


def register_position(*, site: Site, facts: PositionFacts, by: Person) -> Position:
    """Register a tagged place, with a label code of its own."""
    must_have_role(by, site, SUPERVISORS, to="register a tag")
    with act(site=site, by=by) as opened:
        position = add_position(opened, site=site, facts=facts)
        opened.write("position.registered", subject=position, facts=_told(position))
    return position


def add_position(opened: Act, *, site: Site, facts: PositionFacts) -> Position:
    """Add a position to an open act, without an event of its own."""
    _area_is_here(facts.area, site)
    columns = facts.columns(decimal_mark=site.decimal_mark)
    _tag_is_free(site, columns["tag"])
    return opened.add(
        Position(site=site, label_code=new_label_code(), walk_order=_order_in(facts), **columns),
    )


def _order_in(facts: PositionFacts) -> int:
    if facts.walk_order is not None:
        return facts.walk_order
    there = Position.objects.filter(area=facts.area).order_by("-walk_order").values_list("walk_order", flat=True)
    return (there.first() or 0) + 10


def _area_is_here(area: Area, site: Site) -> None:
    if area.site_id != site.pk or area.retired_at is not None:
        raise Refusal("Choose an area of this site that is not retired.", field="area")


def _tag_is_free(site: Site, tag: str, *, but: Position | None = None) -> None:
    # The constraint says the same; asked before, the sentence stands at its field.
    holders = Position.objects.at(site).standing().filter(tag__iexact=tag)
    if (holders.exclude(pk=but.pk) if but else holders).exists():
        raise Refusal("This site has a position with this tag already.", field="tag")


def _told(position: Position) -> dict[str, str]:
    return {"service": position.service, "does": position.does, "matters for": position.matters_for}


def change_position(*, position: Position, facts: PositionFacts, by: Person, version: int | None = None) -> Position:
    """Change a tagged place; its records keep the tag they were made under, its label code stays."""
    must_have_role(by, position.site, SUPERVISORS, to="change a tag")
    if position.retired_at is not None:
        raise Refusal(f"{position.tag} is retired and stays as it was.")
    _area_is_here(facts.area, position.site)
    columns = facts.columns(decimal_mark=position.site.decimal_mark)
    _tag_is_free(position.site, columns["tag"], but=position)
    if facts.walk_order is not None:
        columns["walk_order"] = facts.walk_order
    with act(site=position.site, by=by) as opened:
        changes = amend(opened, position, version=version, **columns)
        opened.write("position.changed", subject=position, facts={"changes": changes})
    return position


def retire_position(*, position: Position, by: Person, version: int | None = None) -> Position:
    """Take a tagged place out of the plant; its records stay. Refused while it carries an asset, a use or a lock."""
    must_have_role(by, position.site, SUPERVISORS, to="retire a tag")
    with act(site=position.site, by=by) as opened:
        lock_site(PLANT, position.site)
        if position.retired_at is not None:
            raise Refusal(f"{position.tag} is retired already.")
        _nothing_hangs_on(position)
        _ask_before(position, opened.at)
        for use in SignalUse.objects.filter(position=position).now():
            opened.close(use, to_at=opened.at, to_by=by)
        amend(opened, position, version=version, retired_at=opened.at)
        opened.write("position.retired", subject=position)
        _tell_after(opened, position)
    return position


def _nothing_hangs_on(position: Position) -> None:
    fitting = Fitting.objects.filter(position=position).now().select_related("asset").first()
    if fitting is not None:
        raise Refusal(f"{fitting.asset} is fitted at {position.tag}; take it out first.")
    users = SignalUse.objects.filter(target=position).now().select_related("position")
    if users:
        tags = ", ".join(f"{use.position.tag} {use.use}" for use in users)
        raise Refusal(f"{tags} {position.tag}; end that use first.")


@dataclass(frozen=True, slots=True)
class AssetFacts:
    """What is known about a serial-numbered thing."""

    kind: str
    serial: str
    model: str = ""
    note: str = ""

    def columns(self) -> dict[str, str]:
        """Return the columns of the asset; raises Refusal with every fault of them at once."""
        faults = []
        if not self.kind.strip():
            faults.append(Reason("Write what it is, like “pH probe” or “Booster pump”.", "kind"))
        if not self.serial.strip():
            faults.append(Reason("Write the serial on its plate; where it has none, a number of your own.", "serial"))
        if faults:
            raise Refusal(faults)
        return {
            "kind": self.kind.strip(),
            "serial": self.serial.strip(),
            "model": self.model.strip(),
            "note": self.note.strip(),
        }


def register_asset(*, site: Site, facts: AssetFacts, by: Person) -> Asset:
    """Register a serial-numbered thing that is fitted nowhere yet."""
    must_have_role(by, site, SUPERVISORS, to="register an asset")
    with act(site=site, by=by) as opened:
        asset = add_asset(opened, site=site, facts=facts)
        opened.write("asset.registered", subject=asset, facts={"model": asset.model})
    return asset


def add_asset(opened: Act, *, site: Site, facts: AssetFacts) -> Asset:
    """Add an asset to an open act, without an event of its own."""
    columns = facts.columns()
    _serial_is_free(site, columns)
    return opened.add(Asset(site=site, **columns))


def _serial_is_free(site: Site, columns: dict[str, str], *, but: Asset | None = None) -> None:
    same = Asset.objects.at(site).filter(kind__iexact=columns["kind"], serial__iexact=columns["serial"])
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("This site has an asset of this kind with this serial already.", field="serial")


def change_asset(*, asset: Asset, facts: AssetFacts, by: Person, version: int | None = None) -> Asset:
    """Change what is written about an asset."""
    must_have_role(by, asset.site, SUPERVISORS, to="change an asset")
    if asset.retired_at is not None:
        raise Refusal(f"{asset} is retired and stays as it was.")
    columns = facts.columns()
    _serial_is_free(asset.site, columns, but=asset)
    with act(site=asset.site, by=by) as opened:
        changes = amend(opened, asset, version=version, **columns)
        opened.write("asset.changed", subject=asset, facts={"changes": changes})
    return asset


def retire_asset(*, asset: Asset, by: Person, version: int | None = None) -> Asset:
    """Note that an asset is gone for good; refused while it is fitted somewhere or an app above objects."""
    must_have_role(by, asset.site, SUPERVISORS, to="retire an asset")
    with act(site=asset.site, by=by) as opened:
        lock_site(PLANT, asset.site)
        if asset.retired_at is not None:
            raise Refusal(f"{asset} is retired already.")
        fitting = Fitting.objects.filter(asset=asset).now().select_related("position").first()
        if fitting is not None:
            raise Refusal(f"{asset} is fitted at {fitting.position.tag}; take it out first.")
        _ask_before(asset, opened.at)
        amend(opened, asset, version=version, retired_at=opened.at)
        opened.write("asset.retired", subject=asset)
        _tell_after(opened, asset)
    return asset


def _ask_before(what: Position | Asset, at: dt.datetime) -> None:
    for ask in hooks.before_retire:
        ask(what, at)


def _tell_after(opened: Act, what: Position | Asset) -> None:
    for tell in hooks.after_retire:
        tell(opened, what)
