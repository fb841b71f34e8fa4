"""People, roles, qualifications and companies."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe

from assets import actions, reads
from assets.forms.people import CompanyForm, NewPersonForm, PersonForm, QualificationForm, RoleForm
from assets.forms.plant import SureForm
from assets.forms.signing_in import PasswordForm
from assets.lists import asked_of, file_of
from assets.models import Role
from assets.permissions import (
    EVERYBODY,
    PEOPLE_KEEPERS,
    Desk,
    company_for,
    for_roles,
    person_for,
    qualification_for,
    role_of,
)
from assets.reads.people import COLUMNS, ROLES, companies_of, people_cells, people_groups, people_of
from assets.views.form_page import FormPage, answered, posted


def people_path() -> str:
    """Return the address of the people."""
    return reverse("assets:people")


def person_path(pk: int) -> str:
    """Return the address of the page of a person."""
    return reverse("assets:person", kwargs={"pk": pk})


@require_safe
@for_roles(EVERYBODY)
def people(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Everybody with a role here."""
    asked = asked_of(request, role=ROLES, find=None)
    rows = people_of(desk, asked["role"], asked.finds("name", "company__name"))
    if asked.file:
        return file_of(asked, desk, "people", COLUMNS, people_cells(rows))
    shown, pager = asked.cut(rows)
    context = {
        "groups": people_groups(shown),
        "pager": pager,
        "links": asked.links("role"),
        "finder": asked.finder("Name or company"),
        "companies": companies_of(desk),
        "may_keep": desk.may(PEOPLE_KEEPERS),
    }
    return render(request, "assets/people.html", context)


@require_safe
@for_roles(EVERYBODY)
def person(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One person."""
    page = reads.person_page(desk, person_for(desk, pk))
    return render(request, "assets/person.html", {"page": page, "own": desk.person.pk == pk})


@sensitive_post_parameters("password", "pin")
@for_roles(PEOPLE_KEEPERS)
def person_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a person."""
    form = NewPersonForm(posted(request), desk=desk)

    def do() -> str:
        role = Role(form.cleaned_data["role"])
        made = actions.register_person(site=desk.site, new=form.facts(), role=role, by=desk.person)
        return person_path(made.pk)

    page = FormPage(
        form=form,
        title="Register a person",
        refused="The person was not registered",
        button="Register this person",
        back=people_path(),
        back_word="People",
        verb="person.registered",
        subject=desk.site,
        do=do,
        intro="Everybody writes under their own name. A contractor gets a link and a code for each job instead.",
        also=(("Register a company first", reverse("assets:company-new")),),
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def person_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change what is known about a person."""
    row = person_for(desk, pk)
    initial = {name: getattr(row, name) or "" for name in ("name", "sign_in", "phone", "email", "company")}
    form = PersonForm(posted(request), desk=desk, initial={**initial, "version": row.version})

    def do() -> str:
        version = form.cleaned_data["version"]
        actions.change_person(site=desk.site, person=row, facts=form.facts(), by=desk.person, version=version)
        return person_path(pk)

    page = FormPage(
        form=form,
        title=f"Change {row.name}",
        refused="The person was not changed",
        button="Save",
        back=person_path(pk),
        back_word=row.name,
        verb="person.changed",
        subject=row,
        do=do,
    )
    return answered(request, desk, page)


@sensitive_post_parameters()
@for_roles(PEOPLE_KEEPERS)
def person_password(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Set a new password for somebody who forgot theirs."""
    row = person_for(desk, pk)
    form = PasswordForm(posted(request))

    def do() -> str:
        actions.set_password(site=desk.site, person=row, password=form.cleaned_data["password"], by=desk.person)
        return person_path(pk)

    page = FormPage(
        form=form,
        title=f"A new password for {row.name}",
        refused="The password was not set",
        button="Set this password",
        back=person_path(pk),
        back_word=row.name,
        verb="password.set",
        subject=row,
        do=do,
        intro="Tell it to them yourself; they change it on their own page. The history says that you set it.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def person_pin_clear(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take a forgotten PIN away."""
    row = person_for(desk, pk)

    def do() -> str:
        actions.clear_pin(site=desk.site, person=row, by=desk.person)
        return person_path(pk)

    page = FormPage(
        form=SureForm(posted(request)),
        title=f"Take the PIN of {row.name} away",
        refused="The PIN was not taken away",
        button="Take it away",
        back=person_path(pk),
        back_word=row.name,
        verb="pin.cleared",
        subject=row,
        do=do,
        intro="They sign with their password until they set a new PIN on their own page.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def role_change(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Give a person another role here, or none."""
    row = person_for(desk, pk)
    held = role_of(row, desk.site)
    form = RoleForm(posted(request), desk=desk)

    def do() -> str:
        chosen = form.cleaned_data["role"]
        if chosen == "none":
            actions.end_role(site=desk.site, person=row, by=desk.person)
        else:
            actions.change_role(site=desk.site, person=row, role=Role(chosen), by=desk.person)
        return person_path(pk)

    page = FormPage(
        form=form,
        title=f"Role of {row.name}",
        refused="The role was not changed",
        button="Change the role",
        back=person_path(pk),
        back_word=row.name,
        verb="role.changed",
        subject=row,
        do=do,
        intro=f"Now: {held.label if held else 'no role here'}. A lock that is on must come off first.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def person_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Note that a person has left."""
    row = person_for(desk, pk)

    def do() -> str:
        actions.retire_person(site=desk.site, person=row, by=desk.person)
        return people_path()

    page = FormPage(
        form=SureForm(posted(request)),
        title=f"{row.name} has left",
        refused="Nothing was changed about this person",
        button="Note that they have left",
        back=person_path(pk),
        back_word=row.name,
        verb="person.retired",
        subject=row,
        do=do,
        intro="They can no longer sign in, and every role ends. Their records keep their name. "
        "It is refused while a lock of theirs is on.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def qualification_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Record what a person is trained for."""
    row = person_for(desk, pk)
    form = QualificationForm(posted(request))

    def do() -> str:
        actions.add_qualification(site=desk.site, person=row, facts=form.facts(), by=desk.person)
        return person_path(pk)

    page = FormPage(
        form=form,
        title=f"What {row.name} is trained for",
        refused="The qualification was not recorded",
        button="Record it",
        back=person_path(pk),
        back_word=row.name,
        verb="qualification.added",
        subject=row,
        do=do,
        intro="It is asked for when a lock is put on, never when one comes off. "
        "Who counts as qualified is for the site’s program and local law to say.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def qualification_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Withdraw a qualification."""
    row = qualification_for(desk, pk)

    def do() -> str:
        actions.withdraw_qualification(qualification=row, by=desk.person)
        return person_path(row.person_id)

    page = FormPage(
        form=SureForm(posted(request)),
        title=f"Withdraw: {row}",
        refused="The qualification was not withdrawn",
        button="Withdraw it",
        back=person_path(row.person_id),
        back_word=row.person.name,
        verb="qualification.withdrawn",
        subject=row.person,
        do=do,
        intro="It ends now. Locks that are on stay theirs to take off.",
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def company_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register an outside employer."""
    form = CompanyForm(posted(request))

    def do() -> str:
        typed = form.cleaned_data
        actions.register_company(site=desk.site, name=typed["name"], phone=typed["phone"], by=desk.person)
        return people_path()

    page = FormPage(
        form=form,
        title="Register a company",
        refused="The company was not registered",
        button="Register this company",
        back=people_path(),
        back_word="People",
        verb="company.registered",
        subject=desk.site,
        do=do,
    )
    return answered(request, desk, page)


@for_roles(PEOPLE_KEEPERS)
def company_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change a company's name or phone."""
    row = company_for(desk, pk)
    initial = {"name": row.name, "phone": row.phone, "version": row.version}
    form = CompanyForm(posted(request), initial=initial)

    def do() -> str:
        typed = form.cleaned_data
        actions.change_company(
            company=row, name=typed["name"], phone=typed["phone"], by=desk.person, version=typed["version"]
        )
        return people_path()

    page = FormPage(
        form=form,
        title=f"Change {row.name}",
        refused="The company was not changed",
        button="Save the company",
        back=people_path(),
        back_word="People",
        verb="company.changed",
        subject=row,
        do=do,
    )
    return answered(request, desk, page)
