"""A file of certificates, with what the person who takes it in looked at."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.compute.workbook import LARGEST
from assets.inputs import KeyedForm, YesNo
from calibration.reads.certificates import INTAKE


class CertificatesForm(KeyedForm):
    """The file and the questions, answered once for all of its certificates."""

    file = forms.FileField(
        label="File",
        help_text="A table as XLSX or CSV (UTF-8), one row a point of a certificate",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx"}),
        error_messages={"required": "Choose the file first."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for code, question in INTAKE.items():
            self.fields[code] = YesNo(label=question)

    def clean_file(self) -> bytes:
        """Return the content; refuse a file that is far too large for a table of results."""
        given = self.cleaned_data["file"]
        if given.size > LARGEST:
            raise forms.ValidationError(f"The file is larger than {LARGEST // 1_000_000} MB; part it.")
        return bytes(given.read())

    @property
    def questions(self) -> list[forms.BoundField]:
        """The questions, for the page."""
        return [self[code] for code in INTAKE]

    @property
    def asked(self) -> dict[str, str]:
        """The answers by the code of the question."""
        return {code: self.cleaned_data[code] for code in INTAKE}
