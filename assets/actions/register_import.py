"""Taking in a plant's register from a file: looked through first, then taken whole or not at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from django.utils import timezone

from assets.actions.fittings import add_fitting, tell_fitted
from assets.actions.plant import AssetFacts, PositionFacts, add_area, add_asset, add_position
from assets.actions.uses_limits import LimitFacts, add_limit, add_use
from assets.compute.register_cells import COLUMNS
from assets.compute.register_csv import TAG, Fault, Row, Sheet, UseText, read_rows, read_sheet
from assets.compute.register_workbook import lines_in
from assets.compute.workbook import NotAWorkbook
from assets.compute.workbook_scan import is_packed, other_kind
from assets.errors import Reason, Refusal, Stale
from assets.history import PLANT, Act, act, lock_site
from assets.models import Area, Asset, Fitting, Limit, Person, Position, SignalUse, Site
from assets.permissions import SUPERVISORS, must_have_role
from assets.reads.register import content_hash, fitted_text, register_text

# What a column of the file is called on the position.
FIELDS = {
    **{"area": "area", "service": "service", "does": "does", "quantity": "quantity", "unit": "unit"},
    **{"low": "range_low", "high": "range_high", "matters for": "matters_for", "compliance point": "compliance_point"},
}


@dataclass(frozen=True, slots=True)
class Step:
    """What a row will do: `added`, `changed` (which columns) or `same`."""

    row: Row
    state: str
    columns: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Looked:
    """A file looked through: what each good row would do, every fault, and by what both states are told again.

    Of an XLSX file, `title` is the sheet that was read and `others` are those that were not.
    """

    sheet: Sheet
    steps: tuple[Step, ...]
    faults: tuple[Fault, ...]
    new_areas: tuple[str, ...]
    file_hash: str
    register_hash: str
    title: str = ""
    others: tuple[str, ...] = ()

    def count(self, state: str) -> int:
        """Return how many rows are `added`, `changed` or `same`."""
        return sum(step.state == state for step in self.steps)


@dataclass(slots=True)
class _Plant:
    """The register as it stands, found by the words a file uses."""

    site: Site
    today: dt.date
    areas: dict[str, Area] = field(default_factory=dict)
    positions: dict[str, Position] = field(default_factory=dict)
    assets: dict[tuple[str, str], Asset] = field(default_factory=dict)
    fitted_at: dict[int, Fitting] = field(default_factory=dict)
    fitted_of: dict[int, Fitting] = field(default_factory=dict)
    uses: set[tuple[int, str, str]] = field(default_factory=set)
    limits: dict[tuple[int, str, str], Limit] = field(default_factory=dict)

    @classmethod
    def of(cls, site: Site, today: dt.date) -> _Plant:
        plant = cls(site, today)
        plant.areas = {area.name.casefold(): area for area in Area.objects.at(site).standing()}
        for position in Position.objects.at(site).standing().select_related("area", "site"):
            plant.positions[position.tag.upper()] = position
        for asset in Asset.objects.at(site):
            plant.assets[asset.kind.casefold(), asset.serial.casefold()] = asset
        for fitting in Fitting.objects.now().filter(position__site=site).select_related("position", "asset"):
            plant.fitted_at[fitting.position_id] = plant.fitted_of[fitting.asset_id] = fitting
        for use in SignalUse.objects.now().filter(position__site=site).select_related("target"):
            plant.uses.add((use.position_id, use.use, use.on.casefold()))
        for limit in Limit.objects.filter(position__site=site).in_force(today):
            plant.limits[limit.position_id, limit.name.casefold(), limit.side] = limit
        return plant


def decoded(content: bytes) -> str:
    """Return a file's text; raises Refusal at the field `file` when it is no UTF-8 text."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        raise Refusal(
            "The file is not in UTF-8, so letters like µ and ³ would be misread. Save it as “CSV UTF-8”.", field="file"
        ) from wrong
    if "\0" in text:
        raise Refusal("This is no table of text; save the sheet as XLSX or as “CSV UTF-8”.", field="file")
    return text


def _sheet_of(content: bytes, *, site: Site, now: dt.datetime) -> tuple[Sheet, str, tuple[str, ...]]:
    """Read a CSV or XLSX file, told apart by its bytes: its rows, the title of its sheet, titles of those not read."""
    if not is_packed(content):
        other = other_kind(content)
        if other:
            raise Refusal(other, field="file")
        return read_sheet(decoded(content), zone=site.zone, decimal_mark=site.decimal_mark, now=now), "", ()
    try:
        found = lines_in(content, decimal_mark=site.decimal_mark)
    except NotAWorkbook as wrong:
        raise Refusal(str(wrong), field="file") from None
    sheet = read_rows(found.lines, zone=site.zone, decimal_mark=site.decimal_mark, now=now, known=found.faults)
    return sheet, found.title, found.others


def look_through(*, site: Site, content: bytes) -> Looked:
    """Read a file beside the register and say what each row would do; nothing is written."""
    now = timezone.now()
    today = now.astimezone(site.zone).date()
    sheet, title, others = _sheet_of(content, site=site, now=now)
    plant = _Plant.of(site, today)
    faults = list(sheet.faults)
    tags = {cells[0].strip().upper() for cells in _tag_cells(sheet)} | plant.positions.keys()
    for row in sheet.rows:
        faults += [*_asset_faults(plant, row), *_use_faults(row, tags)]
    bad = {fault.row for fault in faults}
    good = [row for row in sheet.rows if row.number not in bad]
    new = {row["area"].casefold(): row["area"] for row in good if row["area"].casefold() not in plant.areas}
    return Looked(
        sheet=sheet,
        steps=tuple(_step(plant, row) for row in good),
        faults=tuple(sorted(faults, key=lambda fault: (fault.row, _place(fault.column)))),
        new_areas=tuple(new.values()),
        file_hash=content_hash(content),
        register_hash=content_hash(register_text(site, today=today).encode()),
        title=title,
        others=others,
    )


def _place(column: str) -> int:
    return COLUMNS.index(column) if column in COLUMNS else -1


def _tag_cells(sheet: Sheet) -> list[list[str]]:
    # Also the tags of faulty rows count as written: a use of them is not a second fault.
    place = sheet.heading.index("tag") if "tag" in sheet.heading else 0
    return [cells[place : place + 1] for cells in sheet.raw.values() if len(cells) > place]


def _asset_faults(plant: _Plant, row: Row) -> list[Fault]:
    if not row["serial"] or not row["kind"]:
        return []
    position = plant.positions.get(row.tag)
    asset = plant.assets.get((row["kind"].casefold(), row["serial"].casefold()))
    here = plant.fitted_at.get(position.pk) if position else None
    there = plant.fitted_of.get(asset.pk) if asset else None
    if here is not None and (asset is None or here.asset_id != asset.pk):
        what = f"{row.tag} has {here.asset} fitted."
        return [Fault(row.number, "serial", what, "Leave it so in the file, and exchange it on the page of the tag.")]
    if there is not None and (position is None or there.position_id != position.pk):
        what = f"{there.asset} is fitted at {there.position.tag}."
        return [Fault(row.number, "serial", what, "Take it out there first, or correct the serial.")]
    if asset is not None and asset.retired_at is not None:
        return [
            Fault(row.number, "serial", f"{asset} is retired.", "Correct the serial, or leave kind and serial empty.")
        ]
    if here is not None and row["fitted from"] and _fitted_otherwise(plant, row, here):
        since = fitted_text(here.from_at, plant.site.zone)
        what = f"{here.asset} is here from {since}, not from {row['fitted from']}."
        return [Fault(row.number, "fitted from", what, f"A fitting is not changed by a file; write {since}.")]
    if here is None and not row["fitted from"]:
        what = "An asset is written without the day it was fitted."
        return [Fault(row.number, "fitted from", what, "Write the day, like 2026-11-25; where nobody knows, today.")]
    return []


def _fitted_otherwise(plant: _Plant, row: Row, here: Fitting) -> bool:
    since = here.from_at.astimezone(plant.site.zone)
    written = f"{since:%Y-%m-%d}" if row.fitted_as_day else f"{since:%Y-%m-%d %H:%M}"
    return written != row["fitted from"].replace("T", " ")


def _use_faults(row: Row, tags: set[str]) -> list[Fault]:
    found = []
    for use in row.uses:
        tag = use.on.upper()
        if tag == row.tag:
            found.append(Fault(row.number, "uses", f"{row.tag} cannot act on itself.", "Write another tag, or words."))
        elif tag not in tags and _looks_like_a_tag(use.on):
            what = f"{use.on} stands neither in this file nor in the register."
            found.append(Fault(row.number, "uses", what, "Correct the tag, or add its row."))
    return found


def _looks_like_a_tag(text: str) -> bool:
    return bool(TAG.fullmatch(text)) and any(sign.isdigit() for sign in text)


def _step(plant: _Plant, row: Row) -> Step:
    position = plant.positions.get(row.tag)
    if position is None:
        return Step(row, "added")
    columns = [column for column, now in _position_cells(position).items() if now != _wanted(row, column)]
    columns += [] if not row["serial"] or position.pk in plant.fitted_at else ["serial"]
    columns += ["model"] if _model_differs(plant, row) else []
    columns += ["uses"] if _new_uses(plant, row, position) else []
    columns += ["limits"] if _new_limits(plant, row, position) else []
    return Step(row, "changed", tuple(columns)) if columns else Step(row, "same")


def _position_cells(position: Position) -> dict[str, object]:
    cells = {column: getattr(position, name) for column, name in FIELDS.items()}
    return {**cells, "area": position.area.name.casefold()}


def _wanted(row: Row, column: str) -> object:
    special = {"unit": row.unit, "compliance point": row.compliance_point, "area": row["area"].casefold()}
    return special.get(column, row[column])


def _model_differs(plant: _Plant, row: Row) -> bool:
    asset = plant.assets.get((row["kind"].casefold(), row["serial"].casefold()))
    return asset is not None and bool(row["model"]) and asset.model != row["model"]


def _new_uses(plant: _Plant, row: Row, position: Position) -> list[UseText]:
    return [use for use in row.uses if (position.pk, use.use, use.on.casefold()) not in plant.uses]


def _new_limits(plant: _Plant, row: Row, position: Position) -> list[LimitFacts]:
    found = []
    for limit in row.limits:
        now = plant.limits.get((position.pk, limit.name.casefold(), limit.side))
        if now is None or (now.value, now.unit, now.source) != (limit.value, limit.unit, limit.source):
            found.append(
                LimitFacts(limit.name, limit.side, limit.value, limit.unit, limit.source, from_day=plant.today)
            )
    return found


def take_register(*, site: Site, content: bytes, file_hash: str, register_hash: str, name: str, by: Person) -> Looked:
    """Take in a file that was looked through: all of it, as one event with its hash and counts, or nothing.

    Refused when it has a fault, or when the file or the register is no longer the one that was looked through.
    """
    must_have_role(by, site, SUPERVISORS, to="take in a register")
    with act(site=site, by=by) as opened:
        lock_site(PLANT, site)
        looked = look_through(site=site, content=content)
        if looked.file_hash != file_hash:
            raise Stale("The file is not the one that was looked through. Look through it again; nothing was taken.")
        if looked.register_hash != register_hash:
            raise Stale(
                "The register was changed since the file was looked through. Look through it again; nothing was taken."
            )
        if looked.faults:
            raise Refusal(Reason(str(fault)) for fault in looked.faults)
        fittings = _write(opened, site, looked)
        counts = {state: looked.count(state) for state in ("added", "changed", "same")}
        opened.write("register.taken in", subject=site, facts={"file": name, "hash": file_hash, **counts})
        for fitting in fittings:
            tell_fitted(opened, fitting)
    return looked


def _write(opened: Act, site: Site, looked: Looked) -> list[Fitting]:
    """Write every row; uses last, since they name tags of other rows."""
    plant = _Plant.of(site, opened.at.astimezone(site.zone).date())
    for name in looked.new_areas:
        plant.areas[name.casefold()] = add_area(opened, site=site, name=name)
    fittings = []
    for step in looked.steps:
        if step.state != "same":
            _write_position(opened, plant, step)
            fittings += _write_asset(opened, plant, step.row)
            for limit in _new_limits(plant, step.row, plant.positions[step.row.tag]):
                add_limit(opened, position=plant.positions[step.row.tag], facts=limit)
    for step in looked.steps:
        position = plant.positions[step.row.tag]
        for use in _new_uses(plant, step.row, position):
            target = plant.positions.get(use.on.upper())
            add_use(opened, position=position, use=use.use, target=target, text="" if target else use.on)
    return fittings


def _write_position(opened: Act, plant: _Plant, step: Step) -> None:
    row, facts = step.row, _facts(plant, step.row)
    if step.state == "added":
        plant.positions[row.tag] = add_position(opened, site=plant.site, facts=facts)
        return
    position = plant.positions[row.tag]
    wanted = facts.columns(decimal_mark=plant.site.decimal_mark)
    changed = {FIELDS[column]: wanted[FIELDS[column]] for column in step.columns if column in FIELDS}
    if changed:
        opened.change(position, expect={"version": position.version}, version=position.version + 1, **changed)


def _facts(plant: _Plant, row: Row) -> PositionFacts:
    return PositionFacts(
        area=plant.areas[row["area"].casefold()],
        tag=row.tag,
        service=row["service"],
        does=row["does"],
        matters_for=row["matters for"],
        quantity=row["quantity"],
        unit=row.unit,
        range_low=row["low"],
        range_high=row["high"],
        compliance_point=row.compliance_point,
    )


def _write_asset(opened: Act, plant: _Plant, row: Row) -> list[Fitting]:
    if not row["serial"]:
        return []
    position = plant.positions[row.tag]
    key = (row["kind"].casefold(), row["serial"].casefold())
    asset = plant.assets.get(key)
    if asset is None:
        asset = add_asset(opened, site=plant.site, facts=AssetFacts(row["kind"], row["serial"], row["model"]))
    elif _model_differs(plant, row):
        opened.change(asset, expect={"version": asset.version}, version=asset.version + 1, model=row["model"])
    plant.assets[key] = asset
    if position.pk in plant.fitted_at:
        return []
    return [add_fitting(opened, position=position, asset=asset, at=row.fitted_from)]
