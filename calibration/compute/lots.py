"""A lot of a standard on the day it is used: its label, its own table, and whether it may be used at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from calibration.compute.buffers import BufferTable

OPENED_LIFE_DAYS = 90
"""How long an opened bottle is used: common practice, no source; a lot may state its own."""

HIGH_BUFFER = Fraction(9)
HIGH_BUFFER_LIFE_DAYS = 30
"""A high buffer takes up carbon dioxide once opened and falls: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """One lot. `nominal` is the value on the label; `label` its number; `opened_life` in days, None = the usual one.

    `uncertainty` is the expanded uncertainty of its value (same unit as the value, coverage factor `k`).
    """

    id: str
    label: str
    nominal: Fraction
    nominal_text: str
    table: BufferTable
    expires: date | None = None
    opened: date | None = None
    opened_life: int | None = None
    quarantined: str = ""
    discarded: date | None = None
    uncertainty: Fraction | None = None
    k: Fraction | None = None

    @property
    def life(self) -> int:
        """Days the opened bottle may be used."""
        if self.opened_life is not None:
            return self.opened_life
        return HIGH_BUFFER_LIFE_DAYS if self.nominal >= HIGH_BUFFER else OPENED_LIFE_DAYS

    @property
    def opened_until(self) -> date | None:
        """The last day the opened bottle may be used; None when no opening day is written."""
        return None if self.opened is None else self.opened + timedelta(days=self.life)


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def why_unfit(lot: Lot, day: date) -> tuple[str, ...]:
    """Return a sentence for each reason why the lot must not be used on that day; empty when it may be."""
    until = lot.opened_until
    reasons: list[str] = []
    if lot.expires is not None and lot.expires < day:
        reasons.append(f"Lot {lot.label} expired on {_day(lot.expires)}. Read again in a lot that is in date.")
    if lot.quarantined:
        reasons.append(f"Lot {lot.label} is quarantined: {lot.quarantined.rstrip('.')}. Read again in another lot.")
    if lot.discarded is not None and lot.discarded <= day:
        reasons.append(f"Lot {lot.label} was discarded on {_day(lot.discarded)}. Choose the lot in your hand.")
    if lot.opened is not None and lot.opened > day:
        reasons.append(
            f"Lot {lot.label} was opened on {_day(lot.opened)}, after this reading. Choose the lot you used."
        )
    if until is not None and until < day:
        why = " A high buffer falls as it takes up carbon dioxide." if lot.nominal >= HIGH_BUFFER else ""
        reasons.append(
            f"Lot {lot.label} was opened on {_day(lot.opened or day)} and may be used for {lot.life} days, "
            f"to {_day(until)}.{why} Read again in a fresh bottle."
        )
    return tuple(reasons)
