"""What a planned replacement and a failure cost, asked to tell the best age to replace; nothing is kept of it."""

from __future__ import annotations

from django import forms

from assets.compute.numbers import read_number
from assets.compute.reliability.replacement import Costs
from assets.inputs import TypedNumber


class CostsForm(forms.Form):
    """Both costs in one currency."""

    planned = TypedNumber(label="A planned replacement costs", low="0.01", high="100000000", hint="parts and hours")
    failure = TypedNumber(
        label="A failure costs, with all it brings",
        low="0.01",
        high="100000000",
        hint="in the same money: parts, hours, water bought or lost",
    )

    def costs(self) -> Costs:
        """Return the costs of a form that is valid."""
        planned, failure = (float(read_number(self.cleaned_data[name])) for name in ("planned", "failure"))
        return Costs(planned=planned, failure=failure)
