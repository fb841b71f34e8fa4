"""Forms of instruments that carry a value: their use, their certificates, where they are, and withdrawals."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, ProofField, TypedDay, TypedNumber, YesNo
from assets.models import Asset
from assets.permissions import Desk
from calibration.actions.certificates import CertificateTyped
from calibration.actions.custody import SendingTyped
from calibration.actions.standards_instruments import UseTyped
from calibration.compute.standards import INSTRUMENTS, family_heading
from calibration.forms.standards import fingerprint
from calibration.models import StandardUse
from calibration.reads.certificates import INTAKE
from calibration.reads.standards import rows_of

TICKS = {
    "in_scope": "The calibration is inside the scope of that accreditation",
    "as_found_given": "Results as found are given",
    "as_left_given": "Results as left are given",
}


class UseForm(KeyedForm):
    """As which standard an instrument serves."""

    family = forms.ChoiceField(
        label="Serves as",
        choices=[("", "Choose what it is"), *((one, family_heading(one)) for one in INSTRUMENTS)],
    )
    unit = forms.CharField(label="Unit", max_length=12, help_text="In which it is read, like kPa or °C")
    measured_by = forms.CharField(
        label="A tank: measured by", max_length=120, required=False, help_text="Needed for a measured tank"
    )
    measured_how = forms.CharField(label="A tank: measured how", max_length=200, required=False)

    @property
    def use(self) -> UseTyped:
        """The use as typed."""
        return UseTyped(**{name: text for name, text in self.cleaned_data.items() if name not in {"key", "version"}})


class EndForm(KeyedForm):
    """Why an instrument serves as a standard no more."""

    why = forms.CharField(label="Because", max_length=200)


class IntakeForm(KeyedForm):
    """A certificate as it is taken in: what it says, the questions, and what the person decides."""

    number = forms.CharField(label="Number on the certificate", max_length=60)
    issuer = forms.CharField(label="Issued by", max_length=120)
    accreditation = forms.CharField(
        label="Accreditation", max_length=120, required=False, help_text="Its number; empty when it carries none"
    )
    in_scope = forms.BooleanField(label=TICKS["in_scope"], required=False)
    method = forms.CharField(label="Method", max_length=200, required=False)
    calibrated_on = TypedDay(label="Calibrated on")
    until = TypedDay(label="Until", hint="The last day the plant relies on it; your interval, not the laboratory’s")
    as_found_given = forms.BooleanField(label=TICKS["as_found_given"], required=False)
    as_left_given = forms.BooleanField(label=TICKS["as_left_given"], required=False)
    value = TypedNumber(label="Certified value", required=False, hint="For what carries one: a mass, a tank")
    uncertainty = TypedNumber(label="Expanded uncertainty U", required=False, hint="The largest of its points")
    coverage = TypedNumber(label="Coverage factor k", required=False, max_length=6)
    unit = forms.CharField(label="Unit", max_length=12)
    corrections = forms.CharField(
        label="Corrections",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="A line a point: what it shows, then what is added to it, like 50.0 -0.2",
    )
    file = forms.FileField(
        label="The certificate as a file",
        required=False,
        help_text="Its fingerprint is kept, so that the file can be recognised; keep the file itself",
    )
    decision = forms.ChoiceField(
        label="Your decision", choices=[("accept", "Accept it"), ("refuse", "Refuse it")], widget=forms.RadioSelect
    )
    because = forms.CharField(
        label="Because", max_length=200, required=False, help_text="Needed when it is refused; it may not be used then"
    )

    def __init__(self, *args: Any, desk: Desk, use: StandardUse, **kwargs: Any) -> None:
        kwargs["initial"] = {"unit": use.unit, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        for code, question in INTAKE.items():
            self.fields[code] = YesNo(label=question)
        for one in self.fields.values():
            if isinstance(one, TypedNumber):
                one.decimal_mark = desk.site.decimal_mark

    def clean_file(self) -> str:
        """Return the fingerprint of the file; refuse one that is too large to be a certificate."""
        return fingerprint(self.cleaned_data.get("file"))

    @property
    def questions(self) -> list[forms.BoundField]:
        """The questions of the intake, for the page."""
        return [self[code] for code in INTAKE]

    @property
    def accepted(self) -> bool:
        """Whether the person accepts it."""
        return bool(self.cleaned_data["decision"] == "accept")

    @property
    def read(self) -> CertificateTyped:
        """The certificate as typed."""
        typed = self.cleaned_data
        names = (
            *("number", "issuer", "accreditation", "in_scope", "method", "calibrated_on", "until"),
            *("as_found_given", "as_left_given", "value", "uncertainty", "coverage", "unit"),
        )
        return CertificateTyped(
            **{name: typed[name] for name in names},
            file_hash=typed["file"],
            corrections=rows_of(typed["corrections"]),
            asked={code: typed[code] for code in INTAKE},
        )


class SendForm(KeyedForm):
    """An instrument that is sent out."""

    sent_to = forms.CharField(label="Sent to", max_length=120)
    why = forms.CharField(label="Why", max_length=200, help_text="like yearly calibration, or repair of the display")
    sent_with = forms.CharField(label="Sent with", max_length=120, help_text="The carrier, or who takes it")
    sent_on = TypedDay(label="Sent on")
    due_back = TypedDay(label="Due back")
    loaner = forms.ModelChoiceField(
        label="Fitted meanwhile", queryset=Asset.objects.none(), required=False, empty_label="Nothing takes its place"
    )

    def __init__(self, *args: Any, desk: Desk, asset: Asset, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        spare = Asset.objects.filter(site=desk.site, retired_at=None).exclude(pk=asset.pk)
        spare = spare.exclude(fittings__in=asset.fittings.model.objects.now())
        self.fields["loaner"].queryset = spare  # type: ignore[attr-defined]

    @property
    def sending(self) -> SendingTyped:
        """The sending as typed."""
        return SendingTyped(**{name: v for name, v in self.cleaned_data.items() if name not in {"key", "version"}})


class BackForm(KeyedForm):
    """An instrument that came back."""

    back_on = TypedDay(label="Back on")
    condition = forms.CharField(label="Condition", max_length=200, help_text="Look at it, and say how it came back")
    certificate = forms.CharField(label="Certificate that came with it", max_length=80, required=False)


class RecallLook(forms.Form):
    """From which day a standard is in doubt, and why: nothing is written yet."""

    since = TypedDay(label="In doubt since", hint="The checks of this day and of later ones are listed")
    because = forms.CharField(label="Because", max_length=200)


class RecallSign(KeyedForm):
    """The signature under a withdrawal, with what the page listed."""

    since = TypedDay(widget=forms.HiddenInput)
    because = forms.CharField(max_length=200, widget=forms.HiddenInput)
    seen = forms.CharField(required=False, max_length=20000, widget=forms.HiddenInput)
    proof = ProofField()

    @property
    def numbers(self) -> list[int]:
        """The numbers of the checks that the page listed."""
        return [int(one) for one in self.cleaned_data["seen"].split() if one.isdecimal()]
