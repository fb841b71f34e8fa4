"""What people type about strapping tables, and the two levels whose volumes they ask for."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.compute.readings.strapping import LEVEL, VOLUME
from assets.compute.units import codes_for
from assets.inputs import KeyedForm, TypedDay, TypedNumber
from assets.models import Position
from assets.permissions import Desk
from maintenance.actions.walks_strapping import TableTyped
from maintenance.models import StrappingTable


class StrappingForm(KeyedForm):
    """A strapping table of a tank."""

    position = forms.ModelChoiceField(
        Position.objects.none(),
        label="Tag of the level",
        empty_label="Choose the tag",
        error_messages={"invalid_choice": "This tag measures nothing at this site; choose one of the list."},
    )
    what = forms.CharField(label="Called on the walk", max_length=60, initial="Level")
    level_unit = forms.ChoiceField(label="Unit of the levels", choices=[(one, one) for one in codes_for(LEVEL)])
    volume_unit = forms.ChoiceField(label="Unit of the volumes", choices=[(one, one) for one in codes_for(VOLUME)])
    rows = forms.CharField(
        label="The table",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
        help_text="A row a line, level then volume, the lowest first; two columns of a spreadsheet can be pasted",
    )
    share = TypedNumber(
        label="Standard uncertainty of a difference of volumes",
        unit="%",
        required=False,
        hint="If the source states it",
    )
    source = forms.CharField(
        label="Where it comes from", max_length=160, help_text="Its maker, a survey, a drawing; its number and date"
    )
    why = forms.CharField(label="Why it is written", max_length=200)
    from_day = TypedDay(label="From the day")

    def __init__(self, *args: Any, desk: Desk, was: StrappingTable | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tags = Position.objects.at(desk.site).standing().in_walking_order().filter(does="measures")
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]
        self.fields["share"].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]
        kept = ("what", "level_unit", "volume_unit", "rows", "share", "source") if was is not None else ()
        for name in kept:
            self.initial[name] = getattr(was, name)
        if was is not None:
            self.initial["position"] = was.position_id

    def typed(self) -> TableTyped:
        """Return what was typed."""
        names = ("position", "what", "level_unit", "volume_unit", "rows", "share", "source", "why", "from_day")
        return TableTyped(**{name: self.cleaned_data[name] for name in names})


class EndStrappingForm(KeyedForm):
    """From which day the table counts no more, and why."""

    from_day = TypedDay(label="Counts no more from the day")
    why = forms.CharField(label="Because", max_length=200)


class LevelsForm(forms.Form):
    """One level, or two with the minutes between them."""

    level = TypedNumber(label="Level")
    then = TypedNumber(label="Level afterwards", required=False)
    minutes = TypedNumber(label="After", unit="min", required=False)

    def __init__(self, *args: Any, table: StrappingTable, decimal_mark: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.fields:
            self.fields[name].decimal_mark = decimal_mark  # type: ignore[attr-defined]
        for name in ("level", "then"):
            self.fields[name].unit = table.level_unit  # type: ignore[attr-defined]
