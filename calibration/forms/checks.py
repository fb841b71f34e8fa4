"""Filters of the list of checks, and the short forms on the page of a check."""

from __future__ import annotations

from django import forms

from assets.inputs import KeyedForm, ProofField
from calibration.compute.methods import ALL
from calibration.reads.checks import VERDICTS


class CheckFilterForm(forms.Form):
    """The part of the address after the question mark; what is not understood asks for all."""

    tag = forms.IntegerField(required=False, min_value=1, max_value=2**31)
    lot = forms.IntegerField(required=False, min_value=1, max_value=2**31)
    asset = forms.IntegerField(required=False, min_value=1, max_value=2**31)
    method = forms.ChoiceField(choices=[(method.code, method.name) for method in ALL], required=False)
    verdict = forms.ChoiceField(choices=list(VERDICTS.items()), required=False)


class CorrectForm(KeyedForm):
    """Why a signed check is replaced by a new one."""

    why = forms.CharField(
        label="What was wrong",
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Both checks stay; this sentence stands on both",
    )


class ReviewForm(KeyedForm):
    """A supervisor's note and signature."""

    note = forms.CharField(
        label="What you looked at and decided", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    proof = ProofField()
