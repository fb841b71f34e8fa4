"""The working, line by line: each formula with its figures put in, so that a person can check it by hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction

from calibration.compute.figures import EXTRA_DIGITS, MINUS, plain, rounded, shown
from calibration.compute.method import Band, Line, Typed

_LEADING_NEGATIVE = re.compile(rf"^\(({MINUS}[\d.]+)\)(?= )")


def band_text(band: Band) -> str:
    """Write limits as people do: '±0.10 pH', '92 to 102 %', 'at least 4 pH'."""
    low, high = band.low, band.high
    if low is not None and high is not None:
        if low == -high:
            return f"±{_limit_text(high, band.unit)} {band.unit}"
        return f"{_limit_text(low, band.unit)} to {_limit_text(high, band.unit)} {band.unit}"
    if high is not None:
        return f"at most {_limit_text(high, band.unit)} {band.unit}"
    return f"at least {_limit_text(low, band.unit)} {band.unit}" if low is not None else "no limit"


def _limit_text(value: Fraction, unit: str) -> str:
    """Write one limit: a pH with at least two places, others with as many as needed."""
    return shown(value, 2) if unit == "pH" and rounded(value, 2) == value else plain(value)


class Entry:
    """A number on its way into a line: as typed (exact, never rounded) or computed (rounded for show)."""

    __slots__ = ("exact", "places", "value")

    def __init__(self, value: Fraction, places: int, *, exact: bool = False) -> None:
        """`exact` keeps every digit; else the number may be shown with `places` or, where needed, more."""
        self.value, self.places, self.exact = value, places, exact

    def text(self, extra: int) -> str:
        """Write the number with `extra` more places than usual, negative numbers in brackets."""
        places = self.places if self.exact else self.places + extra
        text = shown(self.value, places)
        while not self.exact and "." in text and len(text.partition(".")[2]) > self.places and text.endswith("0"):
            text = text[:-1]
        text = text.removesuffix(".")
        return f"({text})" if text.startswith(MINUS) else text

    def as_ratio(self) -> str:
        """Write a number that no count of decimals gives exactly as a ratio of whole numbers."""
        if self.exact:
            return self.text(0)
        text = f"{abs(self.value.numerator)}/{self.value.denominator}"
        return f"({MINUS}{text})" if self.value < 0 else f"({text})"

    def read_back(self, extra: int) -> Fraction:
        """Return the value of what `text` prints."""
        return self.value if self.exact else rounded(self.value, self.places + extra)


def typed(number: Typed) -> Entry:
    """Take a typed number into a line with its own digits; of one that was converted, as many as needed."""
    if number.converted:
        return Entry(number.value, number.decimals + 2)
    return Entry(number.value, number.decimals, exact=True)


def fixed(text: str) -> Entry:
    """Take a constant into a line, exactly as written."""
    return Entry(Fraction(text), len(text.partition(".")[2]), exact=True)


def put_in(
    text: str,
    pattern: str,
    formula: Callable[..., Fraction | float],
    entries: Mapping[str, Entry],
    *,
    write: Callable[[Fraction | float], str],
    unit: str,
    source: str = "",
) -> Line:
    """Write one line of the working with its figures put in.

    The figures get as many digits as it takes that whoever works the printed line out by hand gets the printed value;
    where no count of digits does (the value lies on a half of the last place) they are printed as ratios.
    """
    value = write(formula(**{name: entry.value for name, entry in entries.items()}))
    for extra in range(EXTRA_DIGITS):
        try:
            again = write(formula(**{name: entry.read_back(extra) for name, entry in entries.items()}))
        except ZeroDivisionError:  # a divisor that rounds to nought needs more digits
            continue
        if again == value:
            texts = {name: entry.text(extra) for name, entry in entries.items()}
            break
    else:
        texts = {name: entry.as_ratio() for name, entry in entries.items()}
    figures = _LEADING_NEGATIVE.sub(r"\1", pattern.format(**texts))
    return Line(text=text, figures=figures, value=value, unit=unit, source=source)
