"""A lockout begins, takes in a further point, and changes hands."""

from __future__ import annotations

from django.db.models import Max

from assets.errors import Refusal
from assets.models import Person, Position
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof
from maintenance.actions.isolation_procedures import LineText
from maintenance.actions.lockout.opening import LockAct
from maintenance.models import (
    IsolationPoint,
    LockBox,
    Lockout,
    LockoutLine,
    PointOfPosition,
    ProcedureLine,
    ProcedureVersion,
    WorkOrder,
)
from maintenance.permissions.locks import must_be_own, must_be_qualified
from maintenance.reads.locks_procedures import version_in_force


def begin_lockout(
    *,
    position: Position,
    why: str,
    in_charge: Person,
    by: Person,
    order: WorkOrder | None = None,
    box: LockBox | None = None,
) -> Lockout:
    """Begin a lockout of a position under the approved revision of its procedure, copying points and lines."""
    site = position.site
    must_have_role(by, site, OPERATORS, to="begin a lockout")
    must_have_role(in_charge, site, OPERATORS, to="be in charge of a lockout")
    if order is not None and order.position_id != position.pk:
        raise Refusal(f"Work order {order.number} is not for {position.tag}.", field="order")
    with LockAct.on_site(site, by) as act:
        must_be_qualified(in_charge, site, at=act.at, to="be in charge of a lockout")
        if Position.objects.filter(pk=position.pk, retired_at__isnull=False).exists():
            raise Refusal(f"{position.tag} is retired.")
        version = version_in_force(position)
        if version is None:
            raise Refusal(
                f"{position.tag} has no approved energy procedure in force; it is written and approved first."
            )
        lines = _lines_for(position, version)
        number = (Lockout.objects.filter(site=site).aggregate(last=Max("number"))["last"] or 0) + 1
        lockout = act.add(
            Lockout(
                site=site,
                number=number,
                position=position,
                version=version,
                order=order,
                box=box,
                why=why.strip(),
                in_charge=in_charge,
                begun_at=act.at,
                begun_by=by,
            )
        )
        for line in lines:
            act.add(_copied(lockout, line))
        facts = {"tag": position.tag, "revision": version.revision, "in charge": in_charge.name, "why": why.strip()}
        act.write("lockout.begun", subject=lockout, facts=facts)
    return lockout


def _lines_for(position: Position, version: ProcedureVersion) -> list[ProcedureLine]:
    """The lines to copy; refused when a point came to the position after the revision was approved."""
    lines = list(version.lines.select_related("point"))
    serving = PointOfPosition.objects.filter(position=position, to_at__isnull=True).select_related("point")
    missing = sorted({row.point.name for row in serving} - {line.point.name for line in lines if line.point})
    if missing:
        raise Refusal(
            f"{', '.join(missing)} serves {position.tag} and does not stand in revision {version.revision}; "
            "write a revision that names it."
        )
    return lines


def _copied(lockout: Lockout, line: ProcedureLine) -> LockoutLine:
    return LockoutLine(
        lockout=lockout,
        number=line.number,
        energy=line.energy,
        point=line.point,
        safe_state=line.safe_state,
        relief=line.relief,
        test=line.test,
    )


def add_point(*, lockout: Lockout, line: LineText, by: Person) -> LockoutLine:
    """Take a further isolation point into a running lockout; the tests made before no longer count."""
    must_have_role(by, lockout.site, OPERATORS, to="add an isolation point")
    _refuse_gaps(line)
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="add an isolation point")
        last = LockoutLine.objects.filter(lockout=lockout).aggregate(last=Max("number"))["last"] or 0
        note = opened.note("point added", text=f"{line.point}: {line.energy}")
        row = opened.act.add(
            LockoutLine(
                lockout=opened.lockout,
                number=last + 1,
                energy=line.energy,
                point=line.point,
                safe_state=line.safe_state,
                relief=line.relief,
                test=line.test,
                added_number=note.number,
            )
        )
        opened.write("lockout.point_added", point=str(line.point), energy=line.energy)
    return row


def _refuse_gaps(line: LineText) -> None:
    point: IsolationPoint | None = line.point
    if point is None or point.retired_at is not None:
        raise Refusal("Choose an isolation point that is there.", field="point")
    for field, label in (("energy", "energy"), ("safe_state", "safe state"), ("relief", "relief"), ("test", "test")):
        if not getattr(line, field).strip():
            raise Refusal(f"The {label} of this point is not written.", field=field)


def take_charge(*, lockout: Lockout, by: Person, proof: Proof) -> Lockout:
    """Take charge of a lockout, for oneself: the person before is named in the history, no lock changes owner."""
    must_have_role(by, lockout.site, OPERATORS, to="be in charge of a lockout")
    must_be_own(proof, by)
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="be in charge of a lockout")
        before = opened.lockout.in_charge
        if before == by:
            raise Refusal("You are in charge already.")
        opened.act.change(opened.lockout, expect={"in_charge": before}, in_charge=by)
        opened.note("in charge", text=f"after {before.name}")
        opened.write("lockout.charge_taken", after=before.name, proof=proof.kind)
    return opened.lockout
