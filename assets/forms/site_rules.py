"""Rules of the site, its holidays, and when it ran."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.actions import RuleTyped
from assets.compute.site_rules import Rule
from assets.inputs import KeyedForm, TypedDay, TypedMoment
from assets.models import Position
from assets.permissions import Desk

HINTS = {
    "times": "Like 06:30 18:30",
    "time": "Like 06:00",
}


class RuleForm(KeyedForm):
    """One rule of the site from a day on."""

    value = forms.CharField(max_length=60)
    from_day = TypedDay(label="From which day")
    source = forms.CharField(
        label="Where it comes from", max_length=160, help_text="The permit or rule and its clause, or “our own”"
    )
    why = forms.CharField(label="Why it is set so", max_length=200)

    def __init__(self, *args: Any, rule: Rule, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rule = rule
        if rule.kind == "choice":
            self.fields["value"] = forms.ChoiceField(widget=forms.RadioSelect, choices=rule.choices)
        label = f"Value, {rule.unit}" if rule.unit else "Value"
        self.fields["value"].label = label
        self.fields["value"].help_text = HINTS.get(rule.kind, "")

    def typed(self) -> RuleTyped:
        """Return what was typed."""
        names = ("value", "source", "why", "from_day")
        return RuleTyped(name=self.rule.name, **{name: self.cleaned_data[name] for name in names})


class HolidayForm(KeyedForm):
    """A day that is no working day."""

    day = TypedDay(label="Which day")
    name = forms.CharField(label="Which holiday", max_length=60)


class BecauseForm(KeyedForm):
    """Why something written is taken back."""

    because = forms.CharField(max_length=160)


class StartForm(KeyedForm):
    """What began to make water, and when."""

    unit = forms.ModelChoiceField(
        Position.objects.none(), required=False, empty_label="The whole plant", label="What was started"
    )
    at = TypedMoment(label="When", required=False, hint="Like 2026-11-25 14:05; empty means now")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        machines = Position.objects.at(desk.site).standing().filter(does="moves").in_walking_order()
        self.fields["unit"].queryset = machines  # type: ignore[attr-defined]


class StopForm(KeyedForm):
    """When it stopped."""

    at = TypedMoment(label="When", required=False, hint="Like 2026-11-25 14:05; empty means now")
