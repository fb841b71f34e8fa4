"""What a digital calibration certificate needs beside the check: the country, and which version of the schema."""

from __future__ import annotations

import re

from django import forms

from calibration.compute.dcc import VERSIONS

COUNTRY = re.compile(r"[A-Z]{2}")


class DccForm(forms.Form):
    """Asked by link, so that the answer can be kept as one."""

    country = forms.CharField(
        label="Country of the works",
        max_length=2,
        help_text="Two letters of ISO 3166-1, like CH",
        widget=forms.TextInput(attrs={"autocomplete": "country", "size": 4}),
        error_messages={"max_length": "Write the country as two letters of ISO 3166-1, like CH."},
    )
    schema = forms.ChoiceField(
        label="Version of the schema", choices=[(one, one) for one in VERSIONS], widget=forms.RadioSelect
    )

    def clean_country(self) -> str:
        """Return the two letters in capitals."""
        text = str(self.cleaned_data["country"]).strip().upper()
        if not COUNTRY.fullmatch(text):
            raise forms.ValidationError(f"“{text}” is no country of two letters; write it like CH.")
        return text
