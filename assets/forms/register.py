"""Taking in a register: the file to look through, and the same content sent again to be taken."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from django import forms

from assets.inputs import KeyedForm

LARGEST = 1_000_000  # bytes; a plant of thousands of tags is smaller


class LookForm(forms.Form):
    """A file of tags."""

    file = forms.FileField(
        label="File",
        help_text="A table as XLSX or CSV (UTF-8; comma or semicolon between its cells), one row a tag",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,text/csv"}),
        error_messages={"required": "Choose the file first."},
    )

    def clean_file(self) -> Any:
        """Refuse a file that no register is as large as."""
        given = self.cleaned_data["file"]
        if given.size > LARGEST:
            raise forms.ValidationError(f"The file is larger than {LARGEST // 1000} kB; part it into smaller ones.")
        return given


def carried(content: bytes) -> str:
    """Return a file's content as a hidden field carries it, byte for byte."""
    return base64.b64encode(content).decode("ascii")


class TakeForm(KeyedForm):
    """The content that was looked through, and by what the file and the register of then are told."""

    name = forms.CharField(widget=forms.HiddenInput, max_length=200, required=False)
    content = forms.CharField(widget=forms.HiddenInput, max_length=2 * LARGEST, required=False)
    file_hash = forms.CharField(widget=forms.HiddenInput, max_length=64)
    register_hash = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def clean_content(self) -> bytes:
        """Return the bytes of the file."""
        try:
            return base64.b64decode(self.cleaned_data["content"], validate=True)
        except (binascii.Error, ValueError) as wrong:
            raise forms.ValidationError("The page was incomplete. Choose the file again.") from wrong
