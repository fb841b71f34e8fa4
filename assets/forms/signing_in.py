"""Signing in, and what a person changes about themself."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm
from assets.models import Site

PASSWORD_RULE = "At least 10 characters, not only digits, no word everybody uses"  # noqa: S105 - a rule, no password
PIN_RULE = "4 to 8 digits"


class SignInForm(forms.Form):
    """Name and password."""

    sign_in = forms.CharField(
        label="Your sign-in name",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
        error_messages={"required": "Write your sign-in name."},
    )
    password = forms.CharField(
        label="Your password",
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your password."},
    )

    def clean_sign_in(self) -> str:
        """Sign-in names know no capitals."""
        return str(self.cleaned_data["sign_in"]).strip().casefold()


def _secret(label: str, *, hint: str = "", digits: bool = False) -> forms.CharField:
    attrs = {"autocomplete": "new-password", **({"inputmode": "numeric"} if digits else {})}
    return forms.CharField(
        label=label,
        help_text=hint,
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs=attrs),
        error_messages={"required": f"Type it: {label[0].lower()}{label[1:]}."},
    )


def _present() -> forms.CharField:
    return forms.CharField(
        label="Your present password",
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your present password first."},
    )


class OwnPinForm(KeyedForm):
    """A new PIN for oneself."""

    proof = _present()
    pin = _secret("New PIN", hint=PIN_RULE, digits=True)
    again = _secret("New PIN again", digits=True)

    def clean(self) -> dict[str, Any]:
        """Both spellings must agree."""
        return _agreed(self, "pin")


class PasswordForm(KeyedForm):
    """A new password, typed twice."""

    password = _secret("New password", hint=PASSWORD_RULE)
    again = _secret("New password again")

    def clean(self) -> dict[str, Any]:
        """Both spellings must agree."""
        return _agreed(self, "password")


class OwnPasswordForm(PasswordForm):
    """A new password for oneself, after the present one."""

    proof = _present()
    field_order = ("proof", "password", "again")


def _agreed(form: forms.Form, name: str) -> dict[str, Any]:
    typed = form.cleaned_data
    if name in typed and "again" in typed and typed[name] != typed["again"]:
        form.add_error("again", "This is not the same as above; type both again.")
    return typed


class SiteChoiceForm(forms.Form):
    """At which site the pages open."""

    site = forms.ChoiceField(label="Your site", widget=forms.RadioSelect)

    def __init__(self, *args: Any, sites: list[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].choices = [(str(site.pk), site.name) for site in sites]  # type: ignore[attr-defined]
