"""Readings that routines look at, read once for all of them: by the tag or machine they are of, and by name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

from django.db.models import F, Q

from assets.compute.readings.facts import taken
from assets.compute.readings.series import Broken, Count, broken, totals, with_break
from assets.compute.readings.together import Read
from assets.compute.units import OtherQuantity, UnknownUnit
from assets.models import CounterBreak, Fitting, Reading

ON_A_WALK = ", check point "  # stands in the source of a reading of a walk: walk 12, check point 3
CORRECTED = (1, 2, 3)  # how many corrections of a reading are looked through for its walk


@dataclass(slots=True)
class Wanted:
    """Which readings are looked at: at which tags and machines, of which names, and at which tags counters are."""

    positions: set[int] = field(default_factory=set)
    assets: set[int] = field(default_factory=set)
    names: set[str] = field(default_factory=set)
    counters: set[int] = field(default_factory=set)
    walks: bool = False  # whether it matters on which walk each was taken


@dataclass(frozen=True, slots=True)
class Stay:
    """A machine at a tag: from when, and until it was fitted somewhere else (None: not since)."""

    asset: int
    from_at: datetime
    until: datetime | None


@dataclass(slots=True)
class ReadingsKept:
    """The standing readings that are wanted, in order of time; the number of queries does not depend on theirs."""

    by_place: dict[tuple[str, int, str], list[Reading]]
    breaks: dict[int, CounterBreak]
    stays: dict[int, list[Stay]]

    def at(self, position: int | None, name: str) -> Sequence[Reading]:
        """Readings of a tag by their name, capitals aside."""
        return self.by_place.get(("tag", position or 0, name.casefold()), ())

    def of(self, asset: int | None, name: str) -> Sequence[Reading]:
        """Readings of a machine by their name."""
        return self.by_place.get(("asset", asset or 0, name.casefold()), ())

    def fitted(self, positions: Collection[int]) -> set[int]:
        """Machines ever fitted at tags. A counter belongs to the machine."""
        return {stay.asset for position in positions for stay in self.stays.get(position, ())}

    def counts(self, rows: Iterable[Reading], unit: str) -> list[Count]:
        """Readings of one counter with why it does not go on, in a unit; what measures something else is left out."""
        found = []
        for row in rows:
            said = self.breaks.get(row.pk)
            try:
                reading = taken(row.entered, row.unit, row.taken_at, into=unit, recorded_at=row.recorded_at)
                found.append(with_break(reading, _broken(said, row.unit, unit) if said is not None else None))
            except (UnknownUnit, OtherQuantity):
                continue
        return found

    def values(self, position: int, name: str, unit: str, zone: ZoneInfo) -> list[Read]:
        """Readings of a tag as values in a unit, their moments in the site's zone."""
        return [one for row in self.at(position, name) if (one := read_of(row, unit, zone)) is not None]

    def counted(self, position: int, name: str, unit: str, zone: ZoneInfo) -> list[Read]:
        """Readings of the counter at a tag, each with the running total as its value.

        Those of the tag itself; where there are none those of the machines, each while it was there. What a machine ran
        between its last reading and its exchange is not known and left out. Nothing after a fall that nobody explained.
        """
        own = self.at(position, name)
        if own:
            return self._running(own, unit, zone, Fraction(0))
        found: list[Read] = []
        for stay in self.stays.get(position, ()):
            rows = [row for row in self.of(stay.asset, name) if _stayed(stay, row)]
            begin = found[-1].value if found else Fraction(0)
            found += self._running(rows, unit, zone, begin, from_nothing=True)
        return found

    def _running(
        self, rows: Sequence[Reading], unit: str, zone: ZoneInfo, begin: Fraction, *, from_nothing: bool = False
    ) -> list[Read]:
        known = totals(self.counts(rows, unit)).known
        first = known[0].total if known and from_nothing else Fraction(0)
        at = {one.at: (one.total - first + begin, one.known_at) for one in known}
        found = []
        for row in rows:
            read = read_of(row, unit, zone)
            if read is not None and row.taken_at in at:
                total, known_at = at.pop(row.taken_at)
                found.append(
                    Read(
                        key=read.key, value=total, at=read.at, text=read.text, unit=read.unit, walk=read.walk,
                        recorded_at=max(read.known_at, known_at),
                    )
                )  # fmt: skip
        return found


def kept(wanted: Wanted) -> ReadingsKept:
    """Read what is wanted."""
    stays = _stays(wanted.counters)
    fitted = {stay.asset for own in stays.values() for stay in own}
    names = Q()
    for name in wanted.names:
        names |= Q(what__iexact=name)
    of = Q(position__in=wanted.positions) | Q(asset__in=wanted.assets | fitted)
    rows = Reading.objects.standing().filter(of & names).order_by("taken_at", "id")
    if wanted.walks:
        rows = rows.annotate(**{f"before_{n}": F("__".join(["replaces"] * n) + "__source") for n in CORRECTED})
    by_place: dict[tuple[str, int, str], list[Reading]] = defaultdict(list)
    for row in rows:
        where = ("tag", row.position_id) if row.position_id is not None else ("asset", row.asset_id or 0)
        by_place[*where, row.what.casefold()].append(row)
    keys = [row.pk for own in by_place.values() for row in own]
    breaks = {row.reading_id: row for row in CounterBreak.objects.filter(reading__in=keys)} if wanted.counters else {}
    return ReadingsKept(by_place, breaks, stays)


def read_of(row: Reading, unit: str, zone: ZoneInfo) -> Read | None:
    """A reading as a value in a unit; None where it measures something else."""
    try:
        one = taken(row.entered, row.unit, row.taken_at.astimezone(zone), into=unit, recorded_at=row.recorded_at)
    except (UnknownUnit, OtherQuantity):
        return None
    return Read(
        key=str(row.pk),
        value=one.value,
        at=one.at,
        text=one.text,
        unit=one.unit,
        recorded_at=one.recorded_at,
        walk=_walk_of(row),
    )


def _walk_of(row: Reading) -> str:
    """The walk on which a reading was taken, or the one that it corrects; '' for none.

    By its source, which stands with it from the beginning; the answer of the walk that holds it is written after it.
    """
    sources = [row.source, *(getattr(row, f"before_{n}", "") or "" for n in CORRECTED)]
    return next((one.partition(ON_A_WALK)[0] for one in sources if ON_A_WALK in one), "")


def _stays(positions: Collection[int]) -> dict[int, list[Stay]]:
    found: dict[int, list[Stay]] = defaultdict(list)
    if not positions:
        return found
    ever = Fitting.objects.filter(position__in=positions).values("asset")
    of_asset: dict[int, list[Fitting]] = defaultdict(list)
    for fitting in Fitting.objects.filter(asset__in=ever).order_by("from_at", "id"):
        of_asset[fitting.asset_id].append(fitting)
    for asset, own in of_asset.items():
        for fitting, following in zip(own, [*own[1:], None], strict=True):
            if fitting.position_id in positions:
                stay = Stay(asset, fitting.from_at, following.from_at if following is not None else None)
                found[fitting.position_id].append(stay)
    return {position: sorted(own, key=lambda stay: stay.from_at) for position, own in found.items()}


def _stayed(stay: Stay, row: Reading) -> bool:
    return stay.from_at <= row.taken_at and (stay.until is None or row.taken_at < stay.until)


def _broken(said: CounterBreak, unit: str, into: str) -> Broken:
    numbers = (said.modulus, said.old_last, said.new_first)
    if said.kind == "rolled over":
        return broken("rolled over", numbers=numbers, unit=unit, into=into, recorded_at=said.recorded_at)
    return broken("replaced", numbers=numbers, unit=unit, into=into, recorded_at=said.recorded_at)
