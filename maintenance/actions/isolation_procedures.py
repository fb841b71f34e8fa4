"""The written energy procedure of a position: written in revisions, approved by another person, withdrawn as unsafe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Max

from assets.compute.canonical import digest
from assets.errors import Refusal
from assets.models import Fitting, Person, Position
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from maintenance.actions.lockout.opening import LockAct, Stop
from maintenance.compute.lockout_procedure import Written, WrittenLine, gaps
from maintenance.models import EnergyProcedure, IsolationPoint, ProcedureDecision, ProcedureLine, ProcedureVersion
from maintenance.permissions.locks import must_be_own


@dataclass(frozen=True, slots=True, kw_only=True)
class LineText:
    """One source of energy as typed; the point may be None where energy is stored only."""

    energy: str
    point: IsolationPoint | None = None
    safe_state: str = ""
    relief: str = ""
    test: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureText:
    """A revision as typed. `closing` and `acceptance` hold one question or line each line."""

    purpose: str
    shutdown: str
    restore: str
    lines: Sequence[LineText]
    closing: str = ""
    acceptance: str = ""


def write_procedure(*, position: Position, text: ProcedureText, by: Person) -> ProcedureVersion:
    """Write the next revision, for the asset that is fitted now. Gaps may be left; approval refuses them."""
    must_have_role(by, position.site, SUPERVISORS, to="write an energy procedure")
    fitted = Fitting.objects.now().filter(position=position).select_related("asset").first()
    with LockAct.on_site(position.site, by) as act:
        procedure = EnergyProcedure.objects.filter(position=position).first()
        if procedure is None:
            procedure = act.add(EnergyProcedure(position=position, recorded_at=act.at, recorded_by=by))
        last = procedure.versions.aggregate(last=Max("revision"))["last"] or 0
        version = act.add(
            ProcedureVersion(
                procedure=procedure,
                revision=last + 1,
                purpose=text.purpose,
                shutdown=text.shutdown,
                restore=text.restore,
                closing=text.closing,
                acceptance=text.acceptance,
                written_for=fitted.asset if fitted else None,
                written_at=act.at,
                written_by=by,
            )
        )
        for number, line in enumerate(text.lines, 1):
            act.add(_line(version, number, line))
        act.write("procedure.written", subject=version, facts={"tag": position.tag, "revision": version.revision})
    return version


def _line(version: ProcedureVersion, number: int, line: LineText) -> ProcedureLine:
    if line.point is not None and line.point.site_id != version.procedure.position.site_id:
        raise Refusal(f"{line.point} belongs to another site.")
    return ProcedureLine(
        version=version,
        number=number,
        energy=line.energy,
        point=line.point,
        safe_state=line.safe_state,
        relief=line.relief,
        test=line.test,
    )


def approve_procedure(*, version: ProcedureVersion, by: Person, proof: Proof) -> ProcedureDecision:
    """Approve a revision: by a supervisor other than its author, when no source lacks its point, relief or test."""
    site = version.procedure.position.site
    must_have_role(by, site, SUPERVISORS, to="approve an energy procedure")
    must_be_own(proof, by)
    if version.written_by_id == by.pk:
        raise Refusal("The author of a procedure does not approve it; another person does.")
    with LockAct.on_site(site, by) as act:
        lines = list(version.lines.select_related("point"))
        Stop.unless_none(gaps(_written(version, lines)))
        _refuse_idle_points(version, lines)
        signed = {"version": version.pk, "lines": [[n.energy, str(n.point or ""), n.relief, n.test] for n in lines]}
        sign(act, site=site, person=by, proof=proof, meaning=f"Approved: {version}", digest=digest(signed))
        decision = act.add(
            ProcedureDecision(version=version, kind="approved", author=version.written_by, by=by, at=act.at)
        )
        act.write("procedure.approved", subject=version, facts={"revision": version.revision, "proof": proof.kind})
    return decision


def _written(version: ProcedureVersion, lines: Sequence[ProcedureLine]) -> Written:
    return Written(
        purpose=version.purpose,
        shutdown=version.shutdown,
        restore=version.restore,
        lines=[
            WrittenLine(
                number=line.number,
                energy=line.energy,
                point=str(line.point or ""),
                safe_state=line.safe_state,
                relief=line.relief,
                test=line.test,
            )
            for line in lines
        ],
    )


def _refuse_idle_points(version: ProcedureVersion, lines: Sequence[ProcedureLine]) -> None:
    """A point that serves the position and stands in no line would be left open by whoever follows the procedure."""
    position = version.procedure.position
    serving = IsolationPoint.objects.filter(serves__position=position, serves__to_at__isnull=True)
    left = sorted(point.name for point in set(serving) - {line.point for line in lines})
    gone = sorted(line.point.name for line in lines if line.point is not None and line.point.retired_at is not None)
    if left:
        raise Refusal(f"{', '.join(left)}: registered as serving {position.tag} and not in this revision.")
    if gone:
        raise Refusal(f"{', '.join(gone)}: retired; a procedure names points that are there.")


def withdraw_procedure(*, version: ProcedureVersion, why: str, by: Person) -> ProcedureDecision:
    """Withdraw a revision as unsafe, at once; lockouts running under it stop work until they are ended."""
    site = version.procedure.position.site
    must_have_role(by, site, OPERATORS, to="withdraw a procedure as unsafe")
    if not why.strip():
        raise Refusal("Write what is unsafe about it.", field="why")
    with LockAct.on_site(site, by) as act:
        row = ProcedureDecision(
            version=version, kind="withdrawn", author=version.written_by, by=by, at=act.at, why=why.strip()
        )
        decision = act.add(row)
        running = list(version.lockouts.filter(closed_at__isnull=True).values_list("number", flat=True))
        facts = {"revision": version.revision, "why": why.strip(), "running lockouts": running}
        act.write("procedure.withdrawn", subject=version, facts=facts)
    return decision
