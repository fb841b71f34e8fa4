"""What people type about isolation points, procedures, locks and boxes."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm
from assets.models import Company, Person, Position
from assets.permissions import Desk
from maintenance.actions.isolation_procedures import LineText, ProcedureText
from maintenance.forms.locks import Line
from maintenance.models import IsolationPoint
from maintenance.models.isolation import PointKind

LINES = 8
CLOSING = """Guard and coupling cover on and fast
Bolts tightened to the sheet
Suction and discharge flanges tight
Drain closed
Seal water on
Alignment sheet, photograph"""
ACCEPTANCE = """Primed
Valve line-up
Rotation
Running current
Discharge pressure
Vibration
Leaks"""


class PointForm(KeyedForm):
    """A new isolation point."""

    name = forms.CharField(label="Name", max_length=24, help_text="As engraved, like B-72.")
    what = forms.CharField(label="What it is", max_length=120, help_text="Like: motor breaker, MCC 2, bay 4.")
    kind = forms.ChoiceField(
        label="Kind",
        choices=[("", "Choose"), *PointKind.choices],
        help_text="Push buttons, selectors and interlocks isolate nothing and are no choice.",
    )
    energy = forms.CharField(label="Energy it cuts off", max_length=80)
    plate_code = forms.CharField(
        label="Code on its plate",
        max_length=8,
        help_text="4 to 8 letters and digits; shown on no page afterwards.",
        min_length=3,
    )
    positions = forms.ModelMultipleChoiceField(
        label="It serves", queryset=Position.objects.none(), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["positions"].queryset = Position.objects.at(desk.site).standing().in_walking_order()  # type: ignore[attr-defined]


class ServeForm(KeyedForm):
    """One more position that a point serves."""

    position = forms.ModelChoiceField(
        label="It also serves", queryset=Position.objects.none(), empty_label="Choose a tag"
    )

    def __init__(self, *args: Any, desk: Desk, point: IsolationPoint, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["position"].queryset = rows.exclude(isolation__point=point, isolation__to_at=None)  # type: ignore[attr-defined]


class LockNewForm(KeyedForm):
    """A lock of the register."""

    number = forms.CharField(label="Number on the lock", max_length=16, help_text="Shown on every page.")
    stamp = forms.CharField(
        label="Stamp",
        max_length=24,
        min_length=3,
        help_text="Other characters on the lock; shown on no page afterwards.",
    )
    issued_to = forms.ModelChoiceField(
        label="Issued to", queryset=Person.objects.none(), empty_label="Choose the one person who uses it"
    )
    issuer = forms.ModelChoiceField(
        label="Whose lock", queryset=Company.objects.none(), required=False, empty_label="The plant’s"
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = Person.objects.filter(
            memberships__site=desk.site,
            memberships__to_at=None,
            memberships__role__in=["operator", "supervisor", "contractor"],
            is_active=True,
        )
        self.fields["issued_to"].queryset = people.order_by("name")  # type: ignore[attr-defined]
        self.fields["issuer"].queryset = Company.objects.filter(site=desk.site)  # type: ignore[attr-defined]


class BoxForm(KeyedForm):
    """A lock box."""

    name = forms.CharField(label="Number or name", max_length=16, help_text="As engraved; “box” is said by itself.")
    plate_code = forms.CharField(
        label="Code on its plate", max_length=8, min_length=3, help_text="Shown on no page afterwards."
    )


class ProcedureForm(KeyedForm):
    """A revision of an energy procedure: its words, and up to eight sources of energy."""

    purpose = forms.CharField(label="What it is for", widget=forms.Textarea(attrs={"rows": 2}))
    shutdown = forms.CharField(label="How it is shut down", widget=forms.Textarea(attrs={"rows": 3}))
    restore = forms.CharField(label="How it is given back", widget=forms.Textarea(attrs={"rows": 3}))
    closing = forms.CharField(
        label="Asked before a lock comes off, one a line",
        widget=forms.Textarea(attrs={"rows": 6}),
        required=False,
        help_text="Tools counted and everybody out are always asked as well.",
    )
    acceptance = forms.CharField(
        label="Written down at acceptance, one a line",
        widget=forms.Textarea(attrs={"rows": 6}),
        required=False,
        help_text="Selector, forced values and hour meter are always asked as well.",
    )

    def __init__(self, *args: Any, points: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for n in range(1, LINES + 1):
            self.fields[f"energy{n}"] = Line(label="Energy", max_length=80)
            self.fields[f"point{n}"] = forms.ModelChoiceField(
                label="Isolation point", queryset=points, required=False, empty_label="None: stored energy only"
            )
            self.fields[f"safe{n}"] = Line(label="Its safe state", max_length=80)
            self.fields[f"relief{n}"] = Line(
                label="How stored energy is let off", max_length=200, help_text="Or: none, because …"
            )
            self.fields[f"test{n}"] = Line(label="How its absence is tested", max_length=200)

    @property
    def sources(self) -> list[tuple[int, list[forms.BoundField]]]:
        """The fields of each source of energy that is written, and of two more."""
        return self._fields_of(range(1, self._shown + 1))

    @property
    def further(self) -> list[tuple[int, list[forms.BoundField]]]:
        """The fields of the sources after those."""
        return self._fields_of(range(self._shown + 1, LINES + 1))

    @property
    def _shown(self) -> int:
        used = [n for n in range(1, LINES + 1) if self[f"energy{n}"].value()]
        return min(LINES, max(used, default=0) + 2)

    def _fields_of(self, numbers: range) -> list[tuple[int, list[forms.BoundField]]]:
        names = ("energy", "point", "safe", "relief", "test")
        return [(n, [self[f"{name}{n}"] for name in names]) for n in numbers]

    def clean(self) -> dict[str, Any]:
        """Ask for the energy of every source of which something is written."""
        data = super().clean() or self.cleaned_data
        for n in range(1, LINES + 1):
            others = [data.get(f"{name}{n}") for name in ("point", "safe", "relief", "test")]
            if any(others) and not data.get(f"energy{n}"):
                self.add_error(f"energy{n}", "Write which energy this source is.")
        return data

    @property
    def text(self) -> ProcedureText:
        """The revision as typed."""
        data = self.cleaned_data
        lines = [
            LineText(
                energy=data[f"energy{n}"],
                point=data[f"point{n}"],
                safe_state=data[f"safe{n}"],
                relief=data[f"relief{n}"],
                test=data[f"test{n}"],
            )
            for n in range(1, LINES + 1)
            if data[f"energy{n}"]
        ]
        words = {name: data[name] for name in ("purpose", "shutdown", "restore", "closing", "acceptance")}
        return ProcedureText(**words, lines=lines)


class AddPointForm(KeyedForm):
    """A further point in a running lockout."""

    point = forms.ModelChoiceField(
        label="Isolation point", queryset=IsolationPoint.objects.none(), empty_label="Choose"
    )
    energy = forms.CharField(label="Energy it cuts off", max_length=80)
    safe_state = forms.CharField(label="Its safe state", max_length=80)
    relief = forms.CharField(label="How stored energy is let off", max_length=200, help_text="Or: none, because …")
    test = forms.CharField(label="How its absence is tested", max_length=200)

    def __init__(self, *args: Any, points: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["point"].queryset = points  # type: ignore[attr-defined]
