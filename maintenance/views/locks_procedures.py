"""The energy procedure of a tag: its revisions, a new one, approval, withdrawal as unsafe."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from assets.models import Fitting, Position
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, position_for
from maintenance.actions import isolation_procedures as actions
from maintenance.forms import locks_register as forms
from maintenance.forms.locks import ProofForm, WhyForm
from maintenance.models import IsolationPoint, ProcedureVersion
from maintenance.permissions.locks import version_for
from maintenance.reads import locks_procedures as reads
from maintenance.views.locks_form import answered, proof_in
from maintenance.views.one_form import OneForm, typed

BOTH = ["GET", "POST"]


def _page_of(position: Position) -> str:
    return reverse("maintenance:procedure", args=[position.pk])


@require_safe
@for_roles(READERS)
def procedure(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """The procedure of a tag with all its revisions."""
    position = position_for(desk, pk)
    fitted = Fitting.objects.now().filter(position=position).select_related("asset").first()
    context = {
        "position": position,
        "page": reads.procedure_page(position),
        "fitted": fitted,
        "me": desk.person.pk,
        "may_keep": desk.may(SUPERVISORS),
        "may_work": desk.may(OPERATORS),
    }
    return render(request, "maintenance/locks/procedure.html", context)


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def procedure_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write the next revision, from the one before or from the points of the tag."""
    position = position_for(desk, pk)
    page = reads.procedure_page(position)
    form = forms.ProcedureForm(
        typed(request),
        points=IsolationPoint.objects.filter(site=desk.site, retired_at=None),
        initial=_start(position, page),
    )

    def do() -> str:
        actions.write_procedure(position=position, text=form.text, by=desk.person)
        return _page_of(position)

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title=f"Energy procedure of {position.tag}, a new revision",
            refused="The revision was not written",
            button="Write the revision",
            back=_page_of(position),
            template="maintenance/locks/procedure_new.html",
            verb="procedure.written",
            subject=position,
            do=do,
            more={"position": position, "points": page.points},
        ),
    )


def _start(position: Position, page: reads.ProcedurePage) -> dict[str, Any]:
    """The words of the newest revision, else one line for each registered point and the usual lists."""
    if not page.revisions:
        start: dict[str, Any] = {"closing": forms.CLOSING, "acceptance": forms.ACCEPTANCE}
        for n, point in enumerate(page.points[: forms.LINES], 1):
            start |= {f"point{n}": point.pk, f"energy{n}": point.energy}
        return start
    newest = page.revisions[0]
    words = ("purpose", "shutdown", "restore", "closing", "acceptance")
    start = {name: getattr(newest.version, name) for name in words}
    for n, line in enumerate(newest.lines[: forms.LINES], 1):
        start |= {
            f"energy{n}": line.energy,
            f"point{n}": line.point_id,
            f"safe{n}": line.safe_state,
            f"relief{n}": line.relief,
            f"test{n}": line.test,
        }
    return start


@require_http_methods(BOTH)
@for_roles(SUPERVISORS)
def procedure_approve(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Approve a revision that another person wrote."""
    version = version_for(desk, pk)
    position = version.procedure.position
    form = ProofForm(typed(request))

    def do(proof: Any) -> str:
        actions.approve_procedure(version=version, by=desk.person, proof=proof)
        return _page_of(position)

    who: dict[str, Any] = {"site": desk.site, "by": desk.person, "verb": "procedure.approved", "subject": version}
    if request.method == "POST" and not form.refused_unread(**who):
        answer = form.sent_after(proof_in(desk, form), do, **who)
        if answer is not None:
            return redirect(answer)
    context = _decision_context(version, form) | {"own": version.written_by_id == desk.person.pk}
    return render(request, "maintenance/locks/approve.html", context, status=422 if form.errors else 200)


def _decision_context(version: ProcedureVersion, form: Any) -> dict[str, Any]:
    position = version.procedure.position
    lines = version.lines.select_related("point")
    return {"version": version, "position": position, "lines": lines, "form": form, "back": _page_of(position)}


@require_http_methods(BOTH)
@for_roles(OPERATORS)
def procedure_withdraw(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Withdraw a revision as unsafe; lockouts that run under it stop work."""
    version = version_for(desk, pk)
    position = version.procedure.position
    form = WhyForm(typed(request))

    def do() -> str:
        actions.withdraw_procedure(version=version, why=form.cleaned_data["why"], by=desk.person)
        return _page_of(position)

    return answered(
        request,
        desk,
        OneForm(
            form=form,
            title=f"Withdraw revision {version.revision} for {position.tag} as unsafe",
            refused="Nothing was withdrawn",
            button="Withdraw it as unsafe",
            back=_page_of(position),
            intro="Every lockout that runs under it stops work at once. No lock comes off by that.",
            verb="procedure.withdrawn",
            subject=version,
            do=do,
        ),
    )
