"""What supervisors write in templates of work orders."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, WholeNumber
from assets.permissions import Desk
from maintenance.actions.order_templates import TemplateTyped
from maintenance.forms.orders import type_field
from maintenance.models import OrderTemplate
from maintenance.reads.order_templates import machine_kinds


class TemplateForm(KeyedForm):
    """The head of a template."""

    machine = forms.ChoiceField(label="For machines of the kind", required=False)
    title = forms.CharField(label="What is done", max_length=140, help_text="In a few words.")
    type = type_field(required=True)
    reason = forms.CharField(label="Usual reason", max_length=200, required=False)
    minutes = WholeNumber(label="Planned time", required=False, min_value=1, max_value=60_000)
    minutes.unit = "min"  # type: ignore[attr-defined]

    def __init__(self, *args: Any, desk: Desk, was: OrderTemplate | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = machine_kinds(desk.site)
        if was is not None and was.machine and was.machine not in kinds:
            kinds = [*kinds, was.machine]
        self.fields["machine"].choices = [("", "Any kind"), *((kind, kind) for kind in kinds)]  # type: ignore[attr-defined]
        if was is not None:
            for name in ("machine", "title", "type", "reason", "minutes", "version"):
                self.initial.setdefault(name, getattr(was, name))

    @property
    def template(self) -> TemplateTyped:
        """The head as typed."""
        return TemplateTyped(**{name: self.cleaned_data[name] for name in TemplateTyped.__dataclass_fields__})


class NewTemplateForm(TemplateForm):
    """A template with its steps."""

    steps = forms.CharField(
        label="Steps",
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="One a line. A step that asks for a value is added on the next page",
    )

    def clean_steps(self) -> list[str]:
        """Lines that say something; each fits into a step."""
        lines = [line.strip() for line in self.cleaned_data["steps"].splitlines() if line.strip()]
        long = next((n for n, line in enumerate(lines, start=1) if len(line) > 200), None)
        if long:
            raise forms.ValidationError(f"Line {long} is longer than 200 letters; make two steps of it.")
        return lines
