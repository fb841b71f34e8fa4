"""Forms of lots and certificates."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay, TypedNumber, WholeNumber
from assets.permissions import SUPERVISORS, Desk
from calibration.actions.lots import LotTyped
from calibration.models import LotFact, StandardKind

LARGEST_FILE = 10 * 1024 * 1024


def kind_words(kind: StandardKind) -> str:
    """Name a kind in a list: 'pH 7.00: Phosphate ...', '1413 µS/cm: Potassium chloride ...', 'test gas: ...'."""
    if kind.of_family == "buffer":
        return f"pH {kind.nominal}: {kind.name}"
    value = f"{kind.nominal} {kind.in_unit}" if kind.nominal else kind.family_words
    return f"{value}: {kind.name}"


class LotForm(KeyedForm):
    """A lot as its label and certificate say."""

    kind = forms.ModelChoiceField(
        label="Kind", queryset=StandardKind.objects.none(), empty_label="Choose what is on the label"
    )
    number = forms.CharField(label="Lot", max_length=40)
    label_value = forms.CharField(
        label="Value on the label",
        max_length=12,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="In the unit of the kind; a solution at 25 °C. Like 7.00 or 1413",
    )
    received_on = TypedDay(label="Received on")
    expires_on = TypedDay(label="Expires on", required=False, hint="Needed, except for a solid standard")
    opened_life_days = WholeNumber(
        label="Days it may be used once opened",
        required=False,
        min_value=1,
        max_value=3650,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="Empty: the usual ones, 90 days for most, a high buffer 30; common practice, no source",
        error_messages={"invalid": "Write whole days, like 90.", "min_value": "Write at least 1 day."},
    )
    uncertainty = TypedNumber(
        label="Expanded uncertainty", required=False, max_length=12, hint="In the unit of the value"
    )
    coverage = TypedNumber(label="Coverage factor k", required=False, max_length=6)
    certificate = forms.CharField(label="Certificate", max_length=80, required=False)
    issuer = forms.CharField(label="Issued by", max_length=120, required=False)
    own_table = forms.CharField(
        label="Table on the label",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="One temperature and value a line, like 15 7.036. Empty: the table of its kind",
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].queryset = StandardKind.objects.at(desk.site)  # type: ignore[attr-defined]
        self.fields["kind"].label_from_instance = kind_words  # type: ignore[attr-defined]
        for name in ("uncertainty", "coverage"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    @property
    def lot(self) -> LotTyped:
        """The lot as typed."""
        typed = {name: value for name, value in self.cleaned_data.items() if name not in {"key", "version"}}
        return LotTyped(**typed)


class LotFactForm(KeyedForm):
    """What became of a lot."""

    kind = forms.ChoiceField(label="What became of it", widget=forms.RadioSelect)
    day = TypedDay(label="Day")
    why = forms.CharField(
        label="Because", max_length=200, required=False, help_text="Needed except for opening a bottle"
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [kind for kind in LotFact.KINDS if kind != "released" or desk.may(SUPERVISORS)]
        self.fields["kind"].choices = [(kind, kind.capitalize()) for kind in kinds]  # type: ignore[attr-defined]


class CertificateForm(KeyedForm):
    """A certificate of an asset that others rely on; only the fingerprint of a file is kept here."""

    number = forms.CharField(label="Number on the certificate", max_length=60)
    issuer = forms.CharField(label="Issued by", max_length=80)
    from_day = TypedDay(label="From")
    until = TypedDay(label="Until", hint="The last day the asset may be relied on")
    file = forms.FileField(
        label="The certificate as a file",
        required=False,
        help_text="Its fingerprint is kept, so that the file can be recognised; keep the file itself",
    )

    def clean_file(self) -> str:
        """Return the SHA-256 of the file; refuse one that is too large to be a certificate."""
        return fingerprint(self.cleaned_data.get("file"))


def fingerprint(file: Any) -> str:
    """Return the SHA-256 of an uploaded file in hex, empty without one. Raises ValidationError for a too large one."""
    if not file:
        return ""
    if file.size > LARGEST_FILE:
        raise forms.ValidationError("This file is larger than 10 MB; a certificate is a few pages.")
    seen = hashlib.sha256()
    for part in file.chunks():
        seen.update(part)
    return seen.hexdigest()


class UnfitForm(KeyedForm):
    """Why an asset must not be relied on."""

    why = forms.CharField(label="Because", max_length=200)
