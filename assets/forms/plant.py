"""Areas, tags, assets and what is fitted where."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.actions import AssetFacts, PositionFacts
from assets.compute.units import UNITS
from assets.inputs import KeyedForm, TypedMoment, WholeNumber, YesNo
from assets.models import Area, Asset, MattersFor, Position
from assets.permissions import Desk

Choices = list[tuple[str, Any]]


def unit_choices() -> Choices:
    """Every unit, grouped by what it measures, nothing chosen."""
    grouped: dict[str, Choices] = {}
    for unit in UNITS:
        grouped.setdefault(unit.quantity, []).append((unit.code, unit.code))
    return [("", "Choose"), *grouped.items()]


class AreaForm(KeyedForm):
    """An area and its place in the walk."""

    name = forms.CharField(max_length=80, help_text="Like “Filter gallery”")
    walk_order = WholeNumber(
        label="Place in the walk",
        min_value=0,
        max_value=100_000,
        required=False,
        help_text="A number; the walk goes from small to large",
    )


class PositionForm(KeyedForm):
    """A tagged place."""

    area = forms.ModelChoiceField(Area.objects.none(), empty_label="Choose")
    tag = forms.CharField(max_length=24, help_text="As on its plate, like AIT-310 or P-2")
    service = forms.CharField(max_length=120, help_text="What it serves, like “pH, treated water”")
    does = forms.ChoiceField(
        label="What it does",
        widget=forms.RadioSelect,
        choices=[("measures", "Measures: a white plate"), ("moves", "Moves water or chemical, or is worked on: black")],
    )
    matters_for = forms.ChoiceField(
        label="What suffers when it fails", widget=forms.RadioSelect, choices=MattersFor.choices
    )
    quantity = forms.CharField(
        label="What it measures", max_length=40, required=False, help_text="Like pH, Turbidity, Flow"
    )
    unit = forms.ChoiceField(label="Unit it reads in", choices=unit_choices, required=False)
    range_low = forms.CharField(
        label="Lowest it can show",
        max_length=24,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    range_high = forms.CharField(
        label="Highest it can show",
        max_length=24,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    compliance_point = YesNo(label="Is its number reported to the authority?")
    walk_order = WholeNumber(
        label="Place in the area’s walk",
        min_value=0,
        max_value=100_000,
        required=False,
        help_text="A number; empty puts it last",
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["area"].queryset = Area.objects.at(desk.site).standing()  # type: ignore[attr-defined]

    def facts(self) -> PositionFacts:
        """Return what was typed."""
        typed = self.cleaned_data
        names = ("area", "tag", "service", "does", "matters_for", "quantity", "unit", "range_low", "range_high")
        return PositionFacts(
            **{name: typed[name] for name in names},
            compliance_point=typed["compliance_point"] == "yes",
            walk_order=typed["walk_order"],
        )


def initial_of(position: Position) -> dict[str, Any]:
    """Return a position as its form shows it."""
    names = ("tag", "service", "does", "matters_for", "quantity", "unit", "range_low", "range_high", "walk_order")
    shown = {name: getattr(position, name) for name in names}
    answer = "yes" if position.compliance_point else "no"
    return {**shown, "area": position.area_id, "compliance_point": answer, "version": position.version}


class AssetForm(KeyedForm):
    """A serial-numbered thing."""

    kind = forms.CharField(label="What it is", max_length=60, help_text="Like “pH probe” or “Booster pump”")
    serial = forms.CharField(max_length=60, help_text="On its plate; where it has none, a number of your own")
    model = forms.CharField(max_length=80, required=False)
    note = forms.CharField(max_length=200, required=False)

    def facts(self) -> AssetFacts:
        """Return what was typed."""
        return AssetFacts(**{name: self.cleaned_data[name] for name in ("kind", "serial", "model", "note")})


class FitForm(KeyedForm):
    """Fit an asset at an empty position."""

    asset = forms.ModelChoiceField(Asset.objects.none(), empty_label="Choose", label="Asset fitted")
    at = TypedMoment(label="When", required=False, hint="Like 2026-11-25 14:05; empty means now")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["asset"].queryset = Asset.objects.at(desk.site).free()  # type: ignore[attr-defined]


class ExchangeForm(FitForm):
    """Take out what is fitted, with or without another in its place."""

    done = forms.ChoiceField(
        label="What was done",
        widget=forms.RadioSelect,
        choices=[
            ("exchange", "Another asset was fitted in its place"),
            ("out", "Taken out, and nothing is fitted now"),
        ],
    )
    field_order = ("done", "asset", "at")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["asset"].required = False

    def clean(self) -> dict[str, Any]:
        """An exchange names what came in; nothing is fitted when it was only taken out."""
        typed: dict[str, Any] = self.cleaned_data
        if typed.get("done") == "exchange" and "asset" in typed and typed["asset"] is None:
            self.add_error("asset", "Choose what was fitted in its place.")
        if typed.get("done") == "out" and typed.get("asset") is not None:
            self.add_error("asset", "Nothing was fitted, you said; leave this empty or answer otherwise above.")
        return typed


class SureForm(KeyedForm):
    """Nothing to type: only the act itself."""
