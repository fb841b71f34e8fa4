"""What people write on a work order: time, parts, what was paid, photographs and files."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms

from assets.actions.files import MOST_AT_ONCE
from assets.filing import LARGEST
from assets.inputs import KeyedForm, TypedMoment, TypedNumber, WholeNumber
from assets.models import Person
from assets.permissions import SUPERVISORS, Desk
from maintenance.actions.labour import TimeTyped
from maintenance.compute.stock import amount_text
from maintenance.forms.proven import ProvenForm
from maintenance.models import Labour, Part, WorkOrder
from maintenance.reads.order_costs import people_with_time


class LabourForm(KeyedForm):
    """Minutes, or from when to when; what was done."""

    minutes = WholeNumber(label="Time", required=False, min_value=0, max_value=10_080)
    minutes.unit = "min"  # type: ignore[attr-defined]
    from_at = TypedMoment(label="Or from", required=False)
    to_at = TypedMoment(label="to", required=False)
    what = forms.CharField(label="What was done", max_length=160, required=False)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("from_at", "to_at"):
            self.fields[name].zone = desk.site.zone  # type: ignore[attr-defined]

    @property
    def time(self) -> TimeTyped:
        """The time as typed."""
        said = self.cleaned_data
        return TimeTyped(minutes=said["minutes"], from_at=said["from_at"], to_at=said["to_at"], what=said["what"])


class NewLabourForm(LabourForm):
    """The same, with whose time it is where the asking person may write that of others."""

    person = forms.ModelChoiceField(label="Who", queryset=Person.objects.none(), empty_label=None)
    field_order = ("person", "minutes", "from_at", "to_at", "what")

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        if not desk.may(SUPERVISORS):
            del self.fields["person"]
            return
        people = [person.pk for person in people_with_time(desk, order)]
        self.fields["person"].queryset = Person.objects.filter(pk__in=people).order_by("name")  # type: ignore[attr-defined]
        self.initial.setdefault("person", desk.person.pk)


class CorrectLabourForm(LabourForm):
    """Time written anew; begins with what is written."""

    def __init__(self, *args: Any, desk: Desk, was: Labour, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["minutes"].help_text = "0 takes it back"
        self.initial.setdefault("what", was.what)


class PartChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A part by its name and bin."""

    def label_from_instance(self, obj: Any) -> str:
        """Name, bin, unit."""
        where = f", bin {obj.bin}" if obj.bin else ""
        return f"{obj.name}{where} ({obj.unit})"


class OrderPartForm(KeyedForm):
    """A part and how much of it."""

    part = PartChoice(
        label="Part",
        queryset=Part.objects.none(),
        empty_label="Choose a part",
        error_messages={"required": "Choose the part."},
    )
    amount = TypedNumber(label="How much")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = Part.objects.at(desk.site).standing().order_by("name")  # type: ignore[attr-defined]


class OrderUseForm(OrderPartForm):
    """What is done with the part: used, put back, or needed later."""

    WAYS = (("use", "Used"), ("back", "Put back"), ("need", "Needed later"))
    way = forms.ChoiceField(label="It is", choices=WAYS, widget=forms.RadioSelect, initial="use")

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        first = self.initial.get("part")
        need = order.needed.filter(part=first).first() if first else None
        if need is not None:
            self.initial.setdefault("amount", amount_text(need.thousandths))


class CostForm(KeyedForm):
    """What was paid to somebody outside."""

    amount = TypedNumber(label="Paid", hint="in the money of the plant", low="0", high="100000000")
    what = forms.CharField(label="For what", max_length=160, help_text="Who was paid for what; the number of the bill")


class SeveralFiles(forms.FileInput):
    """A file input that takes several at once."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several files. Cleans to the list of them; refuses one that is too large, and more than fit into one act."""

    widget = SeveralFiles(
        attrs={
            "multiple": True,
            "accept": "image/jpeg,image/png,image/webp,application/pdf,text/plain,.xlsx",
        }
    )

    def clean(self, data: Any, initial: Any = None) -> Any:
        """Return the files as a list."""
        given = [one for one in data if one] if isinstance(data, list | tuple) else [data] if data else []
        if not given:
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


class OrderFilesForm(ProvenForm):
    """Photographs and other files, with words to all of them."""

    attached = FilesField(
        label="Photographs or files",
        help_text=f"Up to {MOST_AT_ONCE} at once, 20 MB each: JPEG, PNG, WebP, PDF, text, XLSX",
    )
    words = forms.CharField(label="What they show", max_length=160, required=False)

    def _said(self) -> list[tuple[str, list[str]]]:
        """Count the bytes of the files to what was said: other files from the same page are another act."""
        sent = self.files.getlist("attached") if hasattr(self.files, "getlist") else []
        return [*super()._said(), ("attached", [_hash_of(one) for one in sent])]


def _hash_of(file: Any) -> str:
    seen = hashlib.sha256()
    for part in file.chunks():
        seen.update(part)
    file.seek(0)
    return seen.hexdigest()
