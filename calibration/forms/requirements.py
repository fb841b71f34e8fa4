"""The form of a requirement: its limits with their sources, its rule, its routine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from assets.inputs import KeyedForm, TypedDay, WholeNumber
from assets.models import Position
from assets.widgets import NumberText
from calibration.actions.requirements import TAGS, LimitTyped, TermsTyped
from calibration.compute.figures import plain, sentence_case
from calibration.compute.method import Ask, Limit
from calibration.compute.methods import METHODS
from calibration.models import RequirementTerm
from calibration.reads.known import headline_unit
from maintenance.models import Plan

RULES = [("plain", "The limit alone"), ("guarded", "Guarded: inside by more than the uncertainty")]
SIGNS = [("falling", "Falling: more volts in acid, as nearly all probes"), ("rising", "Rising, by design")]
NEW_ROUTINE = "new"


def _number(label: str, unit: str, hint: str = "") -> forms.CharField:
    field = forms.CharField(label=label, required=False, max_length=12, widget=NumberText(), help_text=hint)
    field.unit = unit  # type: ignore[attr-defined]
    return field


def _setting(ask: Ask) -> forms.CharField:
    label = sentence_case(ask.label)
    if ask.kind in {"choice", "yes or no"}:
        choices = list(ask.choices) or [("yes", "Yes"), ("no", "No")]
        widget = forms.Select(choices=[("", "Choose one"), *choices])
        return forms.CharField(label=label, required=ask.must, max_length=40, widget=widget, help_text=ask.advice)
    if ask.kind == "number":
        field = _number(label, ask.units[0] if ask.units else "", ask.advice)
        field.required = ask.must
        return field
    return forms.CharField(label=label, required=ask.must, max_length=160, help_text=ask.advice)


class TermForm(KeyedForm):
    """Limits and rule from a day on. The limits' fields are made from the method."""

    from_day = TypedDay(label="From")
    rule = forms.ChoiceField(label="Rule", choices=RULES, widget=forms.RadioSelect)
    uncertainty = _number("Expanded uncertainty of the error, k = 2", "", "Empty: uncertainty not stated")
    uncertainty_source = forms.CharField(label="Where the uncertainty comes from", max_length=160, required=False)
    working_value = _number("Working pH", "pH", "Where the error is judged when the plant is off")
    slope_sign = forms.ChoiceField(label="The probe's millivolts with pH", choices=SIGNS, widget=forms.RadioSelect)
    source = forms.CharField(label="Where these limits come from as a whole", max_length=160)

    def __init__(self, *args: Any, method: str = "ph", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.method = METHODS[method]
        self.limits: tuple[Limit, ...] = self.method.limits
        self.fields["uncertainty"].unit = headline_unit(self.method)  # type: ignore[attr-defined]
        if self.method.budget is not None:
            self.fields["uncertainty"].help_text = "Empty: what the method works out itself, under the guarded rule"
        if method != "ph":
            del self.fields["working_value"], self.fields["slope_sign"]
        for ask in self.method.settings:
            self.fields[f"setting_{ask.name}"] = _setting(ask)
        for limit in self.limits:
            open_hint = "Empty: as the method works it out" if callable(limit.low) or callable(limit.high) else ""
            self.fields[f"{limit.name}_low"] = _number("Lowest", limit.unit, open_hint)
            self.fields[f"{limit.name}_high"] = _number("Highest", limit.unit, open_hint)
            self.fields[f"{limit.name}_source"] = forms.CharField(label="Source", max_length=160)
            self.fields[f"{limit.name}_tag"] = forms.ChoiceField(label="Which is", choices=[(tag, tag) for tag in TAGS])

    @property
    def groups(self) -> list[dict[str, Any]]:
        """The limits' fields, one group a limit."""
        parts = ("low", "high", "source", "tag")
        return [
            {"what": sentence_case(limit.what), **{part: self[f"{limit.name}_{part}"] for part in parts}}
            for limit in self.limits
        ]

    @property
    def settings(self) -> list[BoundField]:
        """The fields of what the method asks once of the place."""
        return [self[f"setting_{ask.name}"] for ask in self.method.settings]

    @property
    def terms(self) -> TermsTyped:
        """The terms as typed."""
        typed = self.cleaned_data
        return TermsTyped(
            limits={
                limit.name: LimitTyped(
                    low=typed[f"{limit.name}_low"],
                    high=typed[f"{limit.name}_high"],
                    unit=limit.unit,
                    source=typed[f"{limit.name}_source"],
                    tag=typed[f"{limit.name}_tag"],
                )
                for limit in self.limits
            },
            from_day=typed["from_day"],
            source=typed["source"],
            rule=typed["rule"],
            uncertainty=typed["uncertainty"],
            uncertainty_source=typed["uncertainty_source"],
            working_value=typed.get("working_value", ""),
            slope_sign=typed.get("slope_sign", "falling"),
            settings={ask.name: typed[f"setting_{ask.name}"] for ask in self.method.settings},
        )


class RequirementForm(TermForm):
    """A requirement of a tag, and the routine that asks for it."""

    plan = forms.ChoiceField(label="Routine that asks for it", widget=forms.RadioSelect)
    every = WholeNumber(
        label="A new routine: every",
        help_text="Only for a new routine",
        required=False,
        min_value=1,
        max_value=3650,
        widget=NumberText(attrs={"inputmode": "numeric"}),
    )
    late = WholeNumber(
        label="Days it may be late",
        required=False,
        min_value=0,
        max_value=365,
        widget=NumberText(attrs={"inputmode": "numeric"}),
    )
    interval_source = forms.CharField(label="Where the interval comes from", max_length=160, required=False)

    def __init__(self, *args: Any, position: Position, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plans = Plan.objects.standing().filter(position=position, kind__in=["calibrate", "verify"])
        free = plans.filter(requirement__isnull=True)
        self.fields["plan"].choices = [  # type: ignore[attr-defined]
            (NEW_ROUTINE, "A new one, counted from the last time"),
            *((str(plan.pk), plan.title) for plan in free),
            ("none", "None: checked on demand"),
        ]
        self.fields["every"].unit = "days"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A new routine needs its interval and where that comes from."""
        typed = super().clean() or self.cleaned_data
        if typed.get("plan") == NEW_ROUTINE:
            if not typed.get("every") and "every" not in self.errors:
                self.add_error("every", "A new routine needs its interval; write it in days, like 30.")
            if not typed.get("interval_source"):
                self.add_error("interval_source", "Say where the interval comes from, or “from memory”.")
        return typed


class ChangeForm(TermForm):
    """Other limits from a day on, with the reason."""

    why = forms.CharField(label="Reason of the change", max_length=200)


def _text(value: Any) -> str:
    return plain(value).replace("\u2212", "-") if isinstance(value, Fraction) else ""


def preset(method: str) -> dict[str, str]:
    """Return the method's own limits with their sources, as the form shows them."""
    fields = {
        "rule": "plain",
        "slope_sign": "falling",
        "source": "the limits this tool starts with, each with its source",
    }
    for limit in METHODS[method].limits:
        fields |= {
            f"{limit.name}_low": _text(limit.low),
            f"{limit.name}_high": _text(limit.high),
            f"{limit.name}_source": limit.source,
            f"{limit.name}_tag": limit.tag,
        }
    return fields


def of_term(term: RequirementTerm) -> Mapping[str, str]:
    """Return a term's limits as the form shows them."""
    fields = {
        "rule": term.rule,
        "uncertainty": term.uncertainty,
        "uncertainty_source": term.uncertainty_source,
        "working_value": term.working_value,
        "slope_sign": term.slope_sign,
        "source": term.source,
        **{f"setting_{name}": text for name, text in json.loads(term.settings or "{}").items()},
    }
    for name, limit in json.loads(term.limits).items():
        fields |= {
            f"{name}_low": limit["low"],
            f"{name}_high": limit["high"],
            f"{name}_source": limit["source"],
            f"{name}_tag": limit["tag"],
        }
    return fields
