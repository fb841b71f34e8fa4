"""Photographs and files that people hand in with a work order: when it is raised, and later."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms

from assets.actions.files import MOST_AT_ONCE, read_file
from assets.filing import LARGEST
from assets.models import KeptFile
from maintenance.forms.proven import ProvenForm

PICTURES = "image/jpeg,image/png,image/webp"


class SeveralFiles(forms.FileInput):
    """A file input that takes several at once."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several files. Cleans to the list of them; refuses one that is too large, and more than fit into one act."""

    widget = SeveralFiles(attrs={"multiple": True, "accept": f"{PICTURES},application/pdf,text/plain,.xlsx"})

    def clean(self, data: Any, initial: Any = None) -> Any:
        """Return the files as a list."""
        given = [one for one in data if one] if isinstance(data, list | tuple) else [data] if data else []
        if not given and self.required:
            raise forms.ValidationError("Choose at least one photograph or file.")
        if len(given) > MOST_AT_ONCE:
            raise forms.ValidationError(
                f"{len(given)} files were chosen; at most {MOST_AT_ONCE} go at once. Send the others after them."
            )
        for one in given:
            if one.size > LARGEST:
                raise forms.ValidationError(
                    f"{one.name} has {one.size // 1024 // 1024} MB; at most 20 MB are kept. Send a smaller one."
                )
        return given


class FilesForm(ProvenForm):
    """A form that takes files. Their bytes count to what was said: other files from the same page are another act."""

    FILES: tuple[str, ...] = ("attached",)

    attached = FilesField(
        label="Photographs or files",
        help_text=f"Up to {MOST_AT_ONCE} at once, 20 MB each: JPEG, PNG, WebP, PDF, text, XLSX",
    )

    def _said(self) -> list[tuple[str, list[str]]]:
        sent = [(name, self.files.getlist(name) if hasattr(self.files, "getlist") else []) for name in self.FILES]
        return [*super()._said(), *((name, [_hash_of(one) for one in files]) for name, files in sent)]

    def read_files(self) -> list[KeptFile]:
        """Write the files to the disk, before any act is opened. Raises Refusal at the field of the one at fault."""
        return [
            read_file(data=one.read(), name=one.name, field=name)
            for name in self.FILES
            for one in self.cleaned_data[name]
        ]


class OrderFilesForm(FilesForm):
    """Photographs and other files, with words to all of them."""

    words = forms.CharField(label="What they show", max_length=160, required=False)


class FilesWhenRaised(FilesForm):
    """A form that raises a work order, with what was seen: a photograph taken now, and what is on the device."""

    FILES = ("shot", "attached")
    field_order = ("position", "title", "reason", "type", "wanted_by", "shot", "attached")

    shot = FilesField(
        label="Take a photograph",
        required=False,
        widget=forms.FileInput(attrs={"accept": PICTURES, "capture": "environment"}),
        help_text="Opens the camera of a phone",
    )
    attached = FilesField(
        label="Photographs or files there already",
        required=False,
        help_text=f"Up to {MOST_AT_ONCE} at once, 20 MB each: JPEG, PNG, WebP, PDF, text, XLSX",
    )

    def clean(self) -> dict[str, Any]:
        """Count the photograph taken now to the files."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if sum(len(cleaned.get(name, [])) for name in self.FILES) > MOST_AT_ONCE:
            self.add_error("attached", f"At most {MOST_AT_ONCE} go at once, the one taken now among them.")
        return cleaned

    @property
    def files_to_choose_again(self) -> bool:
        """Whether files were sent with what is refused; no browser keeps them when the page is shown again."""
        return bool(self.errors) and bool(self.files)


def _hash_of(file: Any) -> str:
    seen = hashlib.sha256()
    for part in file.chunks():
        seen.update(part)
    file.seek(0)
    return seen.hexdigest()
