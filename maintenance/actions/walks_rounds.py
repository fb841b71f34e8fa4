"""Rounds are registered and changed: their check points in walking order, and what is asked at each."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Max

from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.history import act
from assets.models import Face, Person, Position, Site
from assets.permissions import SUPERVISORS, must_have_role
from maintenance.compute.walk import DRAWDOWN_UNIT, days_said
from maintenance.models import CheckPoint, LineKind, Plan, PointLine, Round

KEEP = "keep the rounds"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTyped:
    """A round: its name, the days of the week it is asked on (1 is Monday), from what time, the routine it fulfils."""

    name: str
    days: str
    asked_from: str
    plan: Plan | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PointTyped:
    """A check point: where it is in words, at which tag, with what caution."""

    name: str
    position: Position | None = None
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAsked:
    """One thing asked at a check point, as typed."""

    kind: str
    what: str
    position: Position | None = None
    unit: str = ""
    face: str = Face.DISPLAY
    hint: str = ""
    low: str = ""
    high: str = ""
    modulus: str = ""
    twin: Position | None = None
    constant: bool = False


def register_round(*, site: Site, typed: RoundTyped, by: Person) -> Round:
    """Register a round without check points."""
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    _refuse_plan(site, typed.plan)
    with act(site=site, by=by) as opened:
        row = opened.add(
            Round(site=site, name=typed.name.strip(), days=typed.days, asked_from=typed.asked_from, plan=typed.plan)
        )
        opened.write("round.registered", subject=row, facts=_told(typed))
    return row


def change_round(*, round: Round, typed: RoundTyped, by: Person, version: int | None) -> Round:
    """Change when a round is asked, what it is called and which routine it fulfils."""
    must_have_role(by, round.site, SUPERVISORS, to=KEEP)
    _refuse_plan(round.site, typed.plan)
    with act(site=round.site, by=by) as opened:
        opened.change(
            round,
            expect={"version": version if version is not None else round.version},
            name=typed.name.strip(),
            days=typed.days,
            asked_from=typed.asked_from,
            plan=typed.plan,
            version=round.version + 1,
        )
        opened.write("round.changed", subject=round, facts=_told(typed))
    return round


def _told(typed: RoundTyped) -> dict[str, object]:
    return {
        "name": typed.name.strip(),
        "days": days_said(typed.days),
        "from": typed.asked_from,
        "fulfils": typed.plan.title if typed.plan is not None else "",
    }


def _refuse_plan(site: Site, plan: Plan | None) -> None:
    if plan is not None and (plan.site_id != site.pk or plan.kind != "inspect" or plan.retired_at is not None):
        raise Refusal("A round fulfils a routine of this site that inspects and is in force.", field="plan")


def retire_round(*, round: Round, by: Person) -> Round:
    """End a round; its walks stay."""
    must_have_role(by, round.site, SUPERVISORS, to=KEEP)
    with act(site=round.site, by=by) as opened:
        if round.walks.filter(ended_at__isnull=True).exists():
            raise Refusal(f"{round.name} is being walked; end that walk first.")
        opened.change(round, expect={"retired_at": None}, retired_at=opened.at, version=round.version + 1, plan=None)
        opened.write("round.retired", subject=round)
    return round


def add_point(*, round: Round, typed: PointTyped, by: Person) -> CheckPoint:
    """Add a check point behind the others."""
    must_have_role(by, round.site, SUPERVISORS, to=KEEP)
    _refuse_elsewhere(round.site, typed.position, "position")
    with act(site=round.site, by=by) as opened:
        last = round.points.aggregate(last=Max("number"))["last"]
        row = opened.add(
            CheckPoint(
                round=round,
                number=int(last or 0) + 1,
                position=typed.position,
                name=typed.name.strip(),
                caution=typed.caution.strip(),
            )
        )
        opened.write("round.point_added", subject=round, facts={"point": row.name, "number": row.number})
    return row


def change_point(*, point: CheckPoint, typed: PointTyped, by: Person, version: int | None) -> CheckPoint:
    """Change where a check point is and what to take care of there."""
    site = point.round.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    _refuse_elsewhere(site, typed.position, "position")
    with act(site=site, by=by) as opened:
        opened.change(
            point,
            expect={"version": version if version is not None else point.version},
            name=typed.name.strip(),
            position=typed.position,
            caution=typed.caution.strip(),
            version=point.version + 1,
        )
        opened.write("round.point_changed", subject=point.round, facts={"point": point.name, "caution": point.caution})
    return point


def move_point(*, point: CheckPoint, to: int, by: Person) -> CheckPoint:
    """Put a check point at another place of the walk, 1 for the first; the others close up."""
    site = point.round.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    with act(site=site, by=by) as opened:
        others = [one for one in point.round.points.standing() if one.pk != point.pk]
        place = max(0, min(to - 1, len(others)))
        for number, one in enumerate([*others[:place], point, *others[place:]], 1):
            if one.number != number:
                opened.change(one, number=number, version=one.version + 1)
        opened.write("round.points_ordered", subject=point.round, facts={"point": point.name, "to": place + 1})
    return point


def retire_point(*, point: CheckPoint, by: Person) -> CheckPoint:
    """Ask a check point no more; walks that were asked it keep it."""
    site = point.round.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    with act(site=site, by=by) as opened:
        opened.change(point, expect={"retired_at": None}, retired_at=opened.at, version=point.version + 1)
        opened.write("round.point_retired", subject=point.round, facts={"point": point.name})
    return point


def add_line(*, point: CheckPoint, typed: LineAsked, by: Person, instead_of: PointLine | None = None) -> PointLine:
    """Ask one more thing at a check point, or another thing instead of one that is ended with it."""
    site = point.round.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    faults = _faults(point, typed)
    if faults:
        raise Refusal(faults)
    with act(site=site, by=by) as opened:
        if instead_of is not None:
            opened.close(instead_of, ended_at=opened.at, ended_by=by)
        last = point.lines.aggregate(last=Max("number"))["last"]
        number = instead_of.number if instead_of is not None else int(last or 0) + 1
        is_number = typed.kind not in {LineKind.LOOK, LineKind.LAMP}
        row = opened.add(
            PointLine(
                point=point,
                number=number,
                kind=typed.kind,
                what=typed.what.strip(),
                position=typed.position or point.position,
                unit=_unit_of(typed) if is_number else "",
                face=typed.face,
                hint=typed.hint.strip(),
                low=typed.low.strip(),
                high=typed.high.strip(),
                modulus=typed.modulus.strip(),
                twin=typed.twin,
                constant=typed.constant,
                added_at=opened.at,
                added_by=by,
            )
        )
        facts = {"point": point.name, "asks": f"{row.get_kind_display()}: {row.what} {row.unit}".strip()}
        opened.write("round.line_asked", subject=point.round, facts=facts)
    return row


def end_line(*, line: PointLine, by: Person) -> PointLine:
    """Ask one thing no more."""
    site = line.point.round.site
    must_have_role(by, site, SUPERVISORS, to=KEEP)
    with act(site=site, by=by) as opened:
        opened.close(line, ended_at=opened.at, ended_by=by)
        opened.write("round.line_ended", subject=line.point.round, facts={"point": line.point.name, "asked": line.what})
    return line


def _unit_of(typed: LineAsked) -> str:
    return DRAWDOWN_UNIT if typed.kind == LineKind.DRAWDOWN else unit_of(typed.unit).code


def _faults(point: CheckPoint, typed: LineAsked) -> list[Reason]:
    site = point.round.site
    faults: list[Reason] = []
    if typed.kind not in {LineKind.LOOK, LineKind.LAMP}:
        faults += _number_faults(typed, typed.position or point.position)
    for name in ("low", "high", "modulus"):
        text = getattr(typed, name).strip()
        try:
            if text:
                read_number(text, decimal_mark=site.decimal_mark)
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
    for name in ("position", "twin"):
        row = getattr(typed, name)
        if row is not None and row.site_id != site.pk:
            faults.append(Reason("This tag belongs to another site.", name))
    return faults


def _number_faults(typed: LineAsked, position: Position | None) -> list[Reason]:
    if position is None:
        return [Reason("A number belongs to a tag: choose it here, or at the check point.", "position")]
    try:
        code = _unit_of(typed)
    except UnknownUnit as wrong:
        return [Reason(str(wrong), "unit")]
    its_own = position.unit and typed.what.strip().casefold() == position.quantity.casefold()
    if its_own and not same_quantity(code, position.unit):
        return [Reason(f"{position.tag} reads in {position.unit}; {code} measures something else.", "unit")]
    return []


def _refuse_elsewhere(site: Site, position: Position | None, field: str) -> None:
    if position is not None and position.site_id != site.pk:
        raise Refusal("This tag belongs to another site.", field=field)
