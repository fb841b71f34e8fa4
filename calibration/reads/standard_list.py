"""The list of standards: lots and instruments by family, on the shelf or gone, and their cells in a file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Q

from assets.models import Site
from calibration.compute.standards import KINDS, family_heading
from calibration.reads.instruments import InstrumentRow, instrument_rows
from calibration.reads.lots import LotRow, lot_rows

SHOWN = {"": "On the shelf", "gone": "Expired or discarded"}
FAMILY_WORDS = {"": "Every kind", **{code: family_heading(code) for code in KINDS}}
STANDARD_COLUMNS = (
    "kind",
    "standard",
    "worth",
    "state",
    "opened",
    "use it to",
    "expires",
    "uncertainty",
    "certificate",
)
PLACE = {code: place for place, code in enumerate(KINDS)}

Listed = LotRow | InstrumentRow


@dataclass(frozen=True, slots=True)
class Family:
    """The standards of one family on a page of the list: lots and instruments."""

    code: str
    name: str
    lots: tuple[LotRow, ...]
    instruments: tuple[InstrumentRow, ...]


def listed_standards(site: Site, day: dt.date, *, shown: str, family: str, find: str) -> list[Listed]:
    """Return the standards that a filter asks for, in the order of the families, lots before instruments.

    Whether a lot may be used is worked out, not stored, so rows are counted here and not by the database.
    """
    gone = shown == "gone"
    found = Q(number__icontains=find) | Q(kind__name__icontains=find) if find else Q()
    rows: list[Listed] = list(lot_rows(site, day, gone=gone, family=family, found=found))
    if not gone:
        rows += (row for row in instrument_rows(site, day) if _is_asked(row, family, find.casefold()))
    return sorted(rows, key=lambda row: (PLACE.get(row.family, len(PLACE)), isinstance(row, InstrumentRow)))


def _is_asked(row: InstrumentRow, family: str, find: str) -> bool:
    return family in {"", row.family} and find in f"{row.name} {row.model}".casefold()


def families(rows: Iterable[Listed]) -> tuple[Family, ...]:
    """Return standards of the list under their families."""
    found = []
    for code, group in groupby(rows, key=lambda row: row.family):
        own = list(group)
        lots = tuple(row for row in own if isinstance(row, LotRow))
        instruments = tuple(row for row in own if isinstance(row, InstrumentRow))
        found.append(Family(code, family_heading(code), lots, instruments))
    return tuple(found)


def standard_cells(rows: Iterable[Listed]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for standards of the list, days in ISO form."""
    for row in rows:
        head = family_heading(row.family)
        if isinstance(row, LotRow):
            last = row.opened_until or row.expires_on
            yield (
                *(head, row.number, row.valued, row.state.word, _iso(row.opened), _iso(last)),
                *(_iso(row.expires_on), "", ""),
            )
        else:
            yield (
                *(head, row.name, "", row.state.word, "", _iso(row.until)),
                *("", row.uncertainty, row.certificate),
            )


def _iso(day: dt.date | None) -> str:
    return day.isoformat() if day is not None else ""
