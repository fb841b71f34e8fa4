"""A day of every year as people type it: 1 May, May 1 or 05-01."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import forms

from assets.compute.words import MONTHS, day_of_year
from maintenance.compute.season import LEAP_YEAR

DAY_MONTH = re.compile(r"(\d{1,2})\.?\s+([a-z]{3,9})\.?", re.ASCII)
MONTH_DAY = re.compile(r"([a-z]{3,9})\.?\s+(\d{1,2})", re.ASCII)
NUMBERS = re.compile(r"(?:\d{4}-)?(\d{1,2})-(\d{1,2})", re.ASCII)


class DayOfYear(forms.CharField):
    """A day without a year. Cleans to that day of a leap year, None for nothing typed; shows one as 1 May."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})

    def __init__(self, *, hint: str = "", **kwargs: Any) -> None:
        super().__init__(max_length=20, **kwargs)
        self.hint = hint

    def prepare_value(self, value: Any) -> Any:
        """Show a day as it is typed."""
        return day_of_year(value) if isinstance(value, dt.date) else value

    def clean(self, value: Any) -> Any:
        """Return the day, or None when nothing was typed and nothing is required."""
        text: str = super().clean(value)
        if not text:
            return None
        month, day = _read(text)
        try:
            return dt.date(LEAP_YEAR, month, day)
        except ValueError as wrong:
            raise forms.ValidationError(
                f"“{text}” is no day of a year; write the day and the month like 1 May."
            ) from wrong


def _read(text: str) -> tuple[int, int]:
    """Month and day of a text; (0, 0) where none can be read."""
    said = text.casefold().strip()
    if found := NUMBERS.fullmatch(said):
        return int(found[1]), int(found[2])
    if found := DAY_MONTH.fullmatch(said):
        return _month(found[2]), int(found[1])
    if found := MONTH_DAY.fullmatch(said):
        return _month(found[1]), int(found[2])
    return 0, 0


def _month(name: str) -> int:
    return next((n for n, month in enumerate(MONTHS, 1) if month.lower().startswith(name)), 0)
