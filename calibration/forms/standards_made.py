"""Forms of kinds, dilutions and assigned values."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay, TypedNumber
from assets.models import Asset
from assets.permissions import Desk
from calibration.actions.standards_kinds import KindTyped
from calibration.actions.standards_made import MOST_PARTS, AssignmentTyped, DilutionTyped, PartTyped
from calibration.compute.standards import IN_LOTS, family_heading
from calibration.forms.standards import kind_words
from calibration.models import Check, Lot, StandardKind

NEWEST = 50


class KindForm(KeyedForm):
    """A kind of standard that does not come with the tool."""

    name = forms.CharField(label="Name", max_length=120, help_text="As the label has it, like Formazin 20 NTU")
    family = forms.ChoiceField(
        label="Family", choices=[("", "Choose what it is"), *((code, family_heading(code)) for code in IN_LOTS)]
    )
    quantity = forms.CharField(label="What it is worth in", max_length=40, help_text="like turbidity or free chlorine")
    unit = forms.CharField(label="Unit", max_length=12, help_text="like NTU, mg/L, ppm")
    nominal = TypedNumber(
        label="Nominal value", required=False, max_length=8, hint="Empty where each lot has its own, as a test gas has"
    )
    table = forms.CharField(
        label="Value at temperature",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="One temperature and value a line, like 15 7.036; empty where temperature changes nothing",
    )
    source = forms.CharField(label="Where the table stands", max_length=200, required=False)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["nominal"].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    @property
    def kind(self) -> KindTyped:
        """The kind as typed."""
        return KindTyped(**{name: text for name, text in self.cleaned_data.items() if name not in {"key", "version"}})


class DilutionForm(KeyedForm):
    """A lot made here from others. The boxes of each part are `part1_lot`, `part1_taken`, `part1_tolerance` ..."""

    kind = forms.ModelChoiceField(
        label="What it becomes", queryset=StandardKind.objects.none(), empty_label="Choose the kind"
    )
    number = forms.CharField(label="Lot", max_length=40, help_text="The number you write on the bottle")
    made_on = TypedDay(label="Made on")
    use_by = TypedDay(label="Use by", hint="The last day; a weak dilution often keeps a day or less")
    volume_unit = forms.ChoiceField(
        label="Volumes are in", choices=[("mL", "mL"), ("L", "L")], widget=forms.RadioSelect
    )
    made_up = TypedNumber(label="Made up to")
    made_up_tolerance = TypedNumber(label="Tolerance on the flask, ±", required=False)
    measured_with = forms.ModelChoiceField(
        label="Measured with", queryset=Asset.objects.none(), required=False, empty_label="No registered instrument"
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mark = desk.site.decimal_mark
        kinds = StandardKind.objects.at(desk.site).exclude(family="")
        self.fields["kind"].queryset = kinds  # type: ignore[attr-defined]
        self.fields["kind"].label_from_instance = kind_words  # type: ignore[attr-defined]
        standing = Asset.objects.filter(site=desk.site, retired_at=None, standard_uses__ended_at=None)
        self.fields["measured_with"].queryset = standing.filter(standard_uses__isnull=False).distinct()  # type: ignore[attr-defined]
        lots = Lot.objects.at(desk.site).select_related("kind").exclude(kind__family="")
        for number in range(1, MOST_PARTS + 1):
            must = number == 1
            lot = forms.ModelChoiceField(
                label=f"Taken from, {number}", queryset=lots, required=must, empty_label="Choose the lot"
            )
            lot.label_from_instance = lambda obj: f"{obj.valued}, lot {obj.number}"  # type: ignore[method-assign]
            self.fields[f"part{number}_lot"] = lot
            self.fields[f"part{number}_taken"] = TypedNumber(label="Volume taken", required=must)
            self.fields[f"part{number}_tolerance"] = TypedNumber(label="Tolerance, ±", required=False)
        for one in self.fields.values():
            if isinstance(one, TypedNumber):
                one.decimal_mark = mark

    @property
    def parts(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        """The boxes of the parts, for the page."""
        return [
            (self[f"part{number}_lot"], self[f"part{number}_taken"], self[f"part{number}_tolerance"])
            for number in range(1, MOST_PARTS + 1)
        ]

    @property
    def made(self) -> DilutionTyped:
        """The dilution as typed."""
        typed = self.cleaned_data
        parts = [
            PartTyped(
                lot=typed[f"part{number}_lot"],
                taken=typed[f"part{number}_taken"],
                tolerance=typed[f"part{number}_tolerance"],
            )
            for number in range(1, MOST_PARTS + 1)
            if typed[f"part{number}_lot"] is not None
        ]
        names = ("kind", "number", "made_on", "use_by", "volume_unit", "made_up", "made_up_tolerance", "measured_with")
        return DilutionTyped(parts=parts, **{name: typed[name] for name in names})


class AssignmentForm(KeyedForm):
    """The value of a block on one instrument."""

    asset = forms.ModelChoiceField(
        label="On which instrument", queryset=Asset.objects.none(), empty_label="Choose the instrument"
    )
    value = TypedNumber(label="It showed", hint="Read right after the primary calibration, the block clean and dry")
    on = TypedDay(label="Day")
    primary = forms.ModelChoiceField(
        label="The primary calibration", queryset=Check.objects.none(), required=False, empty_label="Not a check here"
    )
    primary_lot = forms.ModelChoiceField(
        label="Else: the lot that was used", queryset=Lot.objects.none(), required=False, empty_label="Choose the lot"
    )
    primary_words = forms.CharField(label="... and where it stands", max_length=200, required=False)

    def __init__(self, *args: Any, desk: Desk, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        at = {"site": desk.site}
        self.fields["asset"].queryset = Asset.objects.filter(**at, retired_at=None)  # type: ignore[attr-defined]
        newest = Check.objects.filter(**at, replaced_by=None, asset__isnull=False).order_by("-begun_at")
        chosen = list(newest.values_list("pk", flat=True)[:NEWEST])
        checks = Check.objects.filter(pk__in=chosen).order_by("-begun_at")
        self.fields["primary"].queryset = checks  # type: ignore[attr-defined]
        self.fields["primary"].label_from_instance = (  # type: ignore[attr-defined]
            lambda check: f"check {check.number}, {check.asset_label}, {check.position_label}"
        )
        lots = Lot.objects.at(desk.site).select_related("kind").exclude(pk=lot.pk)
        self.fields["primary_lot"].queryset = lots  # type: ignore[attr-defined]
        self.fields["primary_lot"].label_from_instance = lambda row: f"{row.valued}, lot {row.number}"  # type: ignore[attr-defined]
        self.fields["value"].unit = lot.kind.in_unit  # type: ignore[attr-defined]
        self.fields["value"].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    @property
    def given(self) -> AssignmentTyped:
        """The value as typed."""
        names = ("value", "on", "primary", "primary_lot", "primary_words")
        return AssignmentTyped(**{name: self.cleaned_data[name] for name in names})
