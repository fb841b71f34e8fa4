"""What people write about spare parts."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay, TypedNumber, WholeNumber
from maintenance.actions.parts import PartTyped
from maintenance.compute.stock import amount_text
from maintenance.models import Part


class PartForm(KeyedForm):
    """A part of the register."""

    name = forms.CharField(label="Name", max_length=80, help_text="Like “pH probe, glass”")
    bin = forms.CharField(label="Bin", max_length=24, required=False, help_text="Where it lies")
    unit = forms.CharField(label="Counted in", max_length=12, help_text="piece, m, L, kg", initial="piece")
    least = TypedNumber(label="Least stock", required=False, hint="below it, it is listed")
    lead_days = WholeNumber(label="Comes after", required=False, min_value=0, max_value=3650)
    lead_days.unit = "days"  # type: ignore[attr-defined]
    shelf_days = WholeNumber(label="Keeps for", required=False, min_value=1, max_value=36_500)
    shelf_days.unit = "days"  # type: ignore[attr-defined]
    price = TypedNumber(label="Price of one", required=False, hint="in the money of the plant")

    @property
    def part(self) -> PartTyped:
        """The part as typed."""
        return PartTyped(**{name: self.cleaned_data[name] for name in PartTyped.__dataclass_fields__})


class ChangePartForm(PartForm):
    """What is written of a part, to change."""

    def __init__(self, *args: Any, was: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("name", "bin", "unit", "lead_days", "shelf_days", "price"):
            self.initial.setdefault(name, getattr(was, name))
        self.initial.setdefault("least", amount_text(was.least) if was.least is not None else "")
        self.initial.setdefault("version", was.version)


class ReceiveForm(KeyedForm):
    """A delivery."""

    amount = TypedNumber(label="Received")
    expires = TypedDay(label="Last day it may be used", required=False)
    price = TypedNumber(label="Price of one", required=False, hint="where it has changed")

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = part.unit  # type: ignore[attr-defined]
        if part.shelf_days:
            self.fields["expires"].hint = f"Left empty: {part.shelf_days} days from today"  # type: ignore[attr-defined]


class CountForm(KeyedForm):
    """What lies on the shelf."""

    counted = TypedNumber(label="Counted on the shelf")
    because = forms.CharField(label="Why it differs", max_length=200, required=False)

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["counted"].unit = part.unit  # type: ignore[attr-defined]


class ScrapForm(KeyedForm):
    """What is thrown away."""

    amount = TypedNumber(label="Thrown away")
    because = forms.CharField(label="Because", max_length=200)

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].unit = part.unit  # type: ignore[attr-defined]
