"""Which due items a link of the due list asks for; words that are none are refused, not ignored."""

from __future__ import annotations

from django import forms

from assets.models import MattersFor
from maintenance.reads.due import KINDS, OTHER_STATES, STATES, DueFilter


class DueFilterForm(forms.Form):
    """The part of the address after the question mark."""

    state = forms.ChoiceField(choices=[(s, s) for s in (*STATES, *OTHER_STATES)], required=False)
    matters = forms.ChoiceField(choices=MattersFor.choices, required=False)
    kind = forms.ChoiceField(choices=[(k, k) for k in KINDS], required=False)
    area = forms.IntegerField(required=False, min_value=1, max_value=2**31)
    page = forms.IntegerField(required=False, min_value=1, max_value=100_000)

    @property
    def which(self) -> DueFilter:
        """The filter as asked; what is not understood asks for all."""
        self.is_valid()
        typed = self.cleaned_data
        return DueFilter(
            state=typed.get("state") or "",
            matters=typed.get("matters") or "",
            kind=typed.get("kind") or "",
            area=typed.get("area"),
        )

    @property
    def number(self) -> int:
        """Which page of the list, from 1."""
        self.is_valid()
        return self.cleaned_data.get("page") or 1
