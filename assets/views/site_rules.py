"""Rules of the site, holidays, and when plant and units ran."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from assets import actions
from assets.compute.site_rules import BY_NAME
from assets.forms.site_rules import BecauseForm, HolidayForm, RuleForm, StartForm, StopForm
from assets.lists import asked_of, file_of
from assets.permissions import OPERATORS, READERS, SUPERVISORS, Desk, for_roles, holiday_for, running_for
from assets.reads import site_rules as reads
from assets.views.form_page import FormPage, answered, posted


@require_safe
@for_roles(READERS)
def rules(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What the site has set for itself, each with where it comes from and since when it holds."""
    return render(request, "assets/site_rules.html", {"page": reads.rules_page(desk)})


@for_roles(SUPERVISORS)
def rule_set(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """Set one rule from a day on."""
    rule = BY_NAME.get(name)
    if rule is None:
        raise Http404("There is no such rule.")
    held = reads.rules_on(desk.site, desk.today).text(name)
    form = RuleForm(posted(request), rule=rule, initial={"from_day": desk.today})

    def do() -> str:
        actions.set_rule(site=desk.site, typed=form.typed(), by=desk.person)
        return reverse("assets:rules")

    page = FormPage(
        form=form,
        title=rule.label,
        refused="The rule was not set",
        button="Set this rule",
        back=reverse("assets:rules"),
        back_word="Rules of the site",
        verb="rule.set",
        subject=desk.site,
        do=do,
        intro=f"Now: {reads.said(rule, held)}. {rule.means} The older value stays for the days that it ruled.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def holiday_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write a holiday."""
    form = HolidayForm(posted(request))

    def do() -> str:
        actions.add_holiday(
            site=desk.site, day=form.cleaned_data["day"], name=form.cleaned_data["name"], by=desk.person
        )
        return reverse("assets:rules")

    page = FormPage(
        form=form,
        title="A holiday",
        refused="The holiday was not written",
        button="Write this holiday",
        back=reverse("assets:rules"),
        back_word="Rules of the site",
        verb="holiday.added",
        subject=desk.site,
        do=do,
        intro="Clocks that count working days pass over it. No due date of a routine moves.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def holiday_withdraw(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Say that a day is no holiday after all."""
    holiday = holiday_for(desk, pk)
    form = BecauseForm(posted(request))

    def do() -> str:
        actions.withdraw_holiday(holiday=holiday, because=form.cleaned_data["because"], by=desk.person)
        return reverse("assets:rules")

    page = FormPage(
        form=form,
        title=f"{holiday.name} is a working day",
        refused="The holiday was not withdrawn",
        button="Withdraw this holiday",
        back=reverse("assets:rules"),
        back_word="Rules of the site",
        verb="holiday.withdrawn",
        subject=desk.site,
        do=do,
        intro="That it was written as a holiday until now stays on record.",
    )
    return answered(request, desk, page)


@require_safe
@for_roles(READERS)
def running(request: HttpRequest, desk: Desk) -> HttpResponse:
    """When the plant and its units made water: the last fortnight, or by a link every stretch."""
    asked = asked_of(request, show=reads.RUNNING_SHOWN, unit=reads.unit_words(desk.site))
    rows = reads.stretches_of(desk.site, asked["unit"])
    if asked.file:
        return file_of(asked, desk, "running", reads.RUNNING_COLUMNS, reads.stretch_cells(rows, desk.site.zone))
    every = bool(asked["show"])
    shown, pager = asked.cut(rows if every else ())
    context = {
        "page": None if every else reads.running_page(desk, timezone.now()),
        "rows": shown,
        "pager": pager,
        "shows": asked.links("show"),
        "units": asked.links("unit") if every else (),
    }
    return render(request, "assets/running.html", context)


@for_roles(OPERATORS)
def running_start(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write that a unit or the whole plant was started."""
    form = StartForm(posted(request), desk=desk, initial={"unit": request.GET.get("unit", "")})

    def do() -> str:
        typed = form.cleaned_data
        actions.start_running(site=desk.site, unit=typed["unit"], at=typed["at"], by=desk.person)
        return reverse("assets:running")

    page = FormPage(
        form=form,
        title="Something was started",
        refused="Nothing was written",
        button="Write it down",
        back=reverse("assets:running"),
        back_word="Running",
        verb="running.started",
        subject=desk.site,
        do=do,
        intro="This only writes down what was done at the plant; nothing is started from here. "
        "Look first whether a lock hangs on it.",
    )
    return answered(request, desk, page)


@for_roles(OPERATORS)
def running_stop(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write that it stopped."""
    stretch = running_for(desk, pk)
    form = StopForm(posted(request))

    def do() -> str:
        actions.stop_running(running=stretch, at=form.cleaned_data["at"], by=desk.person)
        return reverse("assets:running")

    page = FormPage(
        form=form,
        title=f"{stretch.position.tag if stretch.position else 'The plant'} stopped",
        refused="Nothing was written",
        button="Write it down",
        back=reverse("assets:running"),
        back_word="Running",
        verb="running.stopped",
        subject=desk.site,
        do=do,
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def running_withdraw(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take back a stretch that was written by mistake."""
    stretch = running_for(desk, pk)
    form = BecauseForm(posted(request))

    def do() -> str:
        actions.withdraw_running(running=stretch, because=form.cleaned_data["because"], by=desk.person)
        return reverse("assets:running")

    page = FormPage(
        form=form,
        title="This stretch is wrong",
        refused="The stretch was not withdrawn",
        button="Withdraw this stretch",
        back=reverse("assets:running"),
        back_word="Running",
        verb="running.withdrawn",
        subject=desk.site,
        do=do,
        intro="It stays on record as withdrawn. Write the right one afterwards.",
    )
    return answered(request, desk, page)
