"""People, their roles and qualifications, companies, the site."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms

from assets.actions import NewPerson, PersonFacts, QualificationFacts, SiteFacts
from assets.forms.signing_in import PASSWORD_RULE, PIN_RULE
from assets.inputs import KeyedForm, TypedDay
from assets.models import Company, DecimalMark, Role, UnitSystem
from assets.permissions import Desk, may_keep


class PersonForm(KeyedForm):
    """What is known about a person."""

    name = forms.CharField(max_length=120, help_text="First and last name")
    sign_in = forms.CharField(
        label="Sign-in name",
        max_length=60,
        required=False,
        help_text="Small letters, as they will type it; none for a contractor",
        widget=forms.TextInput(attrs={"autocapitalize": "none"}),
    )
    phone = forms.CharField(max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"}))
    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        error_messages={"invalid": "Write it like name@example.org."},
    )
    company = forms.ModelChoiceField(Company.objects.none(), required=False, empty_label="None: of this plant")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["company"].queryset = Company.objects.filter(site=desk.site)  # type: ignore[attr-defined]

    def facts(self) -> PersonFacts:
        """Return what was typed."""
        names = ("name", "sign_in", "phone", "email", "company")
        return PersonFacts(**{name: self.cleaned_data[name] for name in names})


ROLES = {
    Role.OPERATOR: "operator: readings, checks, work steps, own locks if trained",
    Role.SUPERVISOR: "supervisor: also the plant, routines, plans, approvals",
    Role.CONTRACTOR: "contractor: own job by link and code, no sign-in",
    Role.VIEWER: "viewer: reads everything of the plant",
    Role.ADMINISTRATOR: "administrator: people and the site, no act on the plant",
}


def roles_to_give(desk: Desk) -> list[tuple[str, str]]:
    """The roles this person may give here."""
    return [(role.value, word) for role, word in ROLES.items() if may_keep(desk.person, desk.site, role)]


class NewPersonForm(PersonForm):
    """A person to register, with role, first password and PIN."""

    role = forms.ChoiceField(widget=forms.RadioSelect)
    password = forms.CharField(
        label="First password",
        required=False,
        max_length=128,
        strip=False,
        help_text=f"{PASSWORD_RULE}; none for a contractor",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    pin = forms.CharField(
        label="First PIN",
        required=False,
        max_length=8,
        help_text=f"{PIN_RULE}; they change both on their own page",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password", "inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["role"].choices = roles_to_give(desk)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Whoever signs in needs a password to begin with."""
        typed: dict[str, Any] = self.cleaned_data
        if typed.get("role") not in {None, Role.CONTRACTOR.value} and not typed.get("password"):
            self.add_error("password", "Set a first password; without one they cannot sign in.")
        return typed

    def facts(self) -> NewPerson:
        """Return what was typed."""
        names = ("name", "sign_in", "phone", "email", "company", "password", "pin")
        return NewPerson(**{name: self.cleaned_data[name] for name in names})


class RoleForm(KeyedForm):
    """Another role, or none any more."""

    role = forms.ChoiceField(label="Role from now on", widget=forms.RadioSelect)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        none = ("none", "no role here any more")
        self.fields["role"].choices = [*roles_to_give(desk), none]  # type: ignore[attr-defined]


class QualificationForm(KeyedForm):
    """What a person is trained for."""

    kind = forms.ChoiceField(
        label="Trained for",
        widget=forms.RadioSelect,
        choices=[("lockout", "Lockout: may put on locks of their own"), ("voltage", "Test for absence of voltage")],
    )
    from_day = TypedDay(label="From")
    until_day = TypedDay(label="Until", required=False)
    proof = forms.CharField(label="Shown by", max_length=160, help_text="The course record or certificate and its date")

    def facts(self) -> QualificationFacts:
        """Return what was typed."""
        return QualificationFacts(
            **{name: self.cleaned_data[name] for name in ("kind", "from_day", "until_day", "proof")}
        )


class CompanyForm(KeyedForm):
    """An outside employer."""

    name = forms.CharField(max_length=120)
    phone = forms.CharField(max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"}))


class SiteForm(KeyedForm):
    """What is known about the site."""

    name = forms.CharField(max_length=120)
    time_zone = forms.ChoiceField(
        label="Time zone", choices=lambda: [(zone, zone) for zone in sorted(available_timezones())]
    )
    unit_system = forms.ChoiceField(label="Units", widget=forms.RadioSelect, choices=UnitSystem.choices)
    decimal_mark = forms.ChoiceField(
        label="Between units and tenths",
        widget=forms.RadioSelect,
        choices=[(DecimalMark.POINT, "a point: 7.01"), (DecimalMark.COMMA, "a comma: 7,01")],
    )
    address = forms.CharField(
        label="Address of these pages",
        max_length=200,
        required=False,
        help_text="Like https://spanwell.example.org; labels carry it, so set it before you print them",
        widget=forms.TextInput(attrs={"inputmode": "url"}),
    )
    ask_name = forms.CharField(label="Whom to ask", max_length=120, required=False)
    ask_phone = forms.CharField(
        label="Their phone", max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )

    def facts(self) -> SiteFacts:
        """Return what was typed."""
        names = ("name", "time_zone", "unit_system", "decimal_mark", "address", "ask_name", "ask_phone")
        return SiteFacts(**{name: self.cleaned_data[name] for name in names})
