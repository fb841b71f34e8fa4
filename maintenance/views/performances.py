"""Work recorded in words: done, could not be done, put right."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from assets.permissions import OPERATORS, Desk, for_roles
from maintenance.actions.performances import correct_work, record_work
from maintenance.forms.routines import CorrectionForm, PerformanceForm
from maintenance.permissions.upkeep import occurrence_for, performance_for
from maintenance.reads.bearing import put_off_from_tomorrow
from maintenance.reads.due_rows import due_row
from maintenance.reads.orders import hanging
from maintenance.views.one_form import OneForm, answered, typed


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def performance_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Record that a due item's work was done, or why it could not be."""
    item = occurrence_for(desk, pk)
    plan = item.plan
    if not plan.by_hand:
        return redirect("do", pk=item.pk)
    form = PerformanceForm(typed(request))
    form.fields["performed_at"].initial = f"{timezone.localtime():%Y-%m-%d %H:%M}"
    page = OneForm(
        form=form,
        title=plan.title,
        refused="The work was not recorded",
        button="Record the work",
        back=plan.get_absolute_url(),
        template="maintenance/routines/perform.html",
        verb="performance.recorded",
        subject=plan,
        do=lambda: record_work(
            occurrence=item,
            performed_at=form.cleaned_data["performed_at"],
            what=form.cleaned_data["what"],
            could_not=form.cleaned_data["could_not"],
            key=f"form-{form.cleaned_data['key']}",
            by=desk.person,
        ).plan.get_absolute_url(),
        more={
            "plan": plan,
            "row": due_row(item, desk.today),
            "locks": hanging(plan.position) if plan.position else (),
            "ended": item.ended != "open",
            "from_tomorrow": put_off_from_tomorrow(plan, desk.today),
        },
    )
    return answered(request, desk, page)


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
def performance_correct(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Put a record right with a new one that names it; the old one stays readable."""
    wrong = performance_for(desk, pk)
    if not wrong.plan.by_hand:
        raise Http404("A signed record is corrected where it was signed.")
    form = CorrectionForm(
        typed(request),
        initial={
            "performed_at": f"{timezone.localtime(wrong.performed_at):%Y-%m-%d %H:%M}",
            "what": wrong.source_label,
        },
    )
    page = OneForm(
        form=form,
        title=f"Correct a record: {wrong.plan}",
        refused="The record was not corrected",
        button="Record the correction",
        back=wrong.plan.get_absolute_url(),
        intro="The record stays as it is; the correction is a new one that names it, and the due days follow from it.",
        verb="performance.corrected",
        subject=wrong.plan,
        do=lambda: correct_work(
            wrong=wrong,
            performed_at=form.cleaned_data["performed_at"],
            what=form.cleaned_data["what"],
            mistake=form.cleaned_data["mistake"],
            key=f"form-{form.cleaned_data['key']}",
            by=desk.person,
        ).plan.get_absolute_url(),
    )
    return answered(request, desk, page)
