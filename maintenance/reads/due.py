"""What the due list shows: one page of due items with what rests on them, and how many there are of each sort."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, replace
from itertools import groupby
from typing import Any

from django.core.cache import cache
from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.urls import reverse

from assets.compute.canonical import digest
from assets.models import Area, Event, MattersFor, SignalUse, Site
from maintenance.compute.schedule import READ_THE_METER, State
from maintenance.models import Occurrence, Performance, Plan
from maintenance.queries import OccurrenceQuerySet
from maintenance.reads.due_words import Shown, by_use, counted, hours, shown_as, state_of

PAGE = 50
MOST = 999  # counts stop here; the exact number of a thousand late items helps nobody
MISSED_DAYS = dt.timedelta(days=90)

STATES = ("overdue", "due", "late but allowed", "blocked")
OTHER_STATES = ("deferred", "can be done now", "not yet", "missed")
KINDS = {"measure": ("calibrate", "verify"), "keep": ("inspect", "upkeep")}
SHOWN = (
    *(field.name for field in Occurrence._meta.concrete_fields),
    *("plan__title", "plan__kind", "plan__minutes", "plan__asset__kind", "plan__asset__serial"),
    *(f"plan__position__{name}" for name in ("tag", "label_code", "does", "matters_for")),
    *("plan__position__area__name", "plan__position__area__walk_order"),
)
ASKED = frozenset({State.OVERDUE, State.LATE_ALLOWED, State.DUE, State.CAN_BE_DONE})
KIND_WORDS = {"measure": "Calibrate and verify", "keep": "Inspect and upkeep"}


@dataclass(frozen=True, slots=True)
class DueFilter:
    """Which due items are asked for; '' and None ask for all. State '' is what the day asks for."""

    state: str = ""
    matters: str = ""
    kind: str = ""
    area: int | None = None

    def of(self, **changed: str | int | None) -> DueFilter:
        """Same filter with something else in it."""
        return replace(self, **changed)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class LastDone:
    """When a routine was last done, and newer work on it that did not count, with the reason."""

    done_on: dt.date | None = None
    failed_on: dt.date | None = None
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DueRow:
    """One due item as the list shows it."""

    pk: int
    url: str
    do_url: str
    later_url: str
    tag: str
    code: str
    machine: bool
    area: str
    what: str
    kind: str
    matters: str
    state: Shown
    due: dt.date
    latest: dt.date
    late: int
    why: str
    because: str
    rests_on_it: str
    last: LastDone
    minutes: int
    asked_now: bool
    by_use: str
    may_defer: bool
    order: tuple[object, ...]

    @property
    def hours(self) -> str:
        """Planned time, as hours and minutes."""
        return hours(self.minutes)


@dataclass(frozen=True, slots=True)
class Visit:
    """Due items of one area: what is done in one go."""

    name: str
    rows: tuple[DueRow, ...]

    @property
    def hours(self) -> str:
        """Planned time of the visit."""
        return hours(sum(row.minutes for row in self.rows))

    @property
    def said(self) -> str:
        """How much it is."""
        return f"{self.name}: {counted(len(self.rows), 'due item')}, {self.hours}"


@dataclass(frozen=True, slots=True)
class DuePage:
    """One page of the due list, and beside a list of no single state what something stops, the longest first."""

    visits: tuple[Visit, ...]
    blocked: tuple[DueRow, ...]
    first: int
    last: int
    more: bool

    @property
    def rows(self) -> int:
        """Number of rows on the page."""
        return sum(len(visit.rows) for visit in self.visits)

    @property
    def hours(self) -> str:
        """Planned time of the page."""
        return hours(sum(row.minutes for visit in self.visits for row in visit.rows))


def chosen(site: Site, which: DueFilter, day: dt.date) -> OccurrenceQuerySet:
    """Due items that the filter asks for, as a query."""
    rows = Occurrence.objects.at(site)
    if which.state == "missed":
        rows = rows.missed_between(day - MISSED_DAYS, day)
    elif which.state:
        rows = rows.open().in_state(which.state, day)
    else:
        rows = rows.open().owed(day)
    if which.matters:
        rows = rows.filter(plan__position__matters_for=which.matters)
    if which.kind:
        rows = rows.filter(plan__kind__in=KINDS[which.kind])
    if which.area is not None:
        rows = rows.filter(plan__position__area=which.area)
    return rows


def up_to(rows: QuerySet[Any], most: int = MOST) -> str:
    """How many rows there are, counted no further than `most`."""
    number = rows.order_by()[: most + 1].count()
    return f"{most}+" if number > most else str(number)


def how_many(site: Site, which: DueFilter, day: dt.date) -> str:
    """How many due items the filter asks for, as far as they are counted."""
    return up_to(chosen(site, which, day))


def due_page(site: Site, which: DueFilter, day: dt.date, *, number: int = 1) -> DuePage:
    """One page of the due list: the longest owed first, and within the page by visit, in walking order."""
    start = (number - 1) * PAGE
    found = list(_longest_first(site, which, day)[start : start + PAGE + 1])
    stopped = [] if which.state else list(_longest_first(site, which.of(state="blocked"), day)[:PAGE])
    shown = found[:PAGE]
    rows = due_rows([*shown, *stopped], day)
    return DuePage(
        visits=_visits(rows[: len(shown)]),
        blocked=rows[len(shown) :],
        first=start + 1 if shown else 0,
        last=start + len(shown),
        more=len(found) > PAGE,
    )


def _longest_first(site: Site, which: DueFilter, day: dt.date) -> OccurrenceQuerySet:
    # Sorted by the column that the state is chosen by, so that one index gives both.
    return _with_plan(chosen(site, which, day)).order_by("blocked_from" if which.state == "blocked" else "due", "id")


def missed_rows(site: Site, day: dt.date, most: int) -> tuple[tuple[DueRow, ...], str]:
    """Due items whose turn passed undone in the last 90 days, the newest first, and how many there are."""
    wanted = chosen(site, DueFilter(state="missed"), day)
    return due_rows(_with_plan(wanted).order_by("-due", "-id")[:most], day), up_to(wanted)


def counts(site: Site, which: DueFilter, day: dt.date) -> dict[str, dict[str, str]]:
    """How many due items each link of the filter would show: by state, matters and kind.

    Counted once between two acts of the site: whatever changes a due item, its routine or its tag writes an event.
    """
    newest = Event.objects.filter(chain=site.pk).aggregate(newest=Max("number"))["newest"]
    key = digest(["due counts", site.pk, newest, day, *astuple(which)])
    kept: dict[str, dict[str, str]] | None = cache.get(key)
    if kept is None:
        kept = _counted(site, which, day)
        cache.set(key, kept, timeout=86_400)
    return kept


def _counted(site: Site, which: DueFilter, day: dt.date) -> dict[str, dict[str, str]]:
    return {
        "state": {s: how_many(site, which.of(state=s), day) for s in ("", *STATES, *OTHER_STATES)},
        "matters": {m: how_many(site, which.of(matters=m), day) for m in ("", *MattersFor.values)},
        "kind": {k: how_many(site, which.of(kind=k), day) for k in ("", *KINDS)},
    }


def areas(site: Site) -> list[tuple[int, str]]:
    """Areas of the site in walking order."""
    return list(Area.objects.filter(site=site).order_by("walk_order", "name").values_list("pk", "name"))


def every_row(site: Site, which: DueFilter, day: dt.date) -> Iterator[DueRow]:
    """All rows the filter asks for, page by page, so that a long list does not fill the memory."""
    rows = _with_plan(chosen(site, which, day)).order_by("due", "id")
    last: tuple[dt.date, int] | None = None
    while True:
        further = rows if last is None else rows.filter(_after(*last))
        found = list(further[:500])
        if not found:
            return
        yield from due_rows(found, day)
        last = (found[-1].due, found[-1].pk)


def _after(due: dt.date, pk: int) -> Q:
    return Q(due__gt=due) | Q(due=due, pk__gt=pk)


def _with_plan(rows: OccurrenceQuerySet) -> OccurrenceQuerySet:
    # A page of the list makes some two hundred of these objects; with every column they are a quarter of its time.
    return rows.select_related("plan__position__area", "plan__asset").only(*SHOWN)


def due_rows(found: Iterable[Occurrence], day: dt.date) -> tuple[DueRow, ...]:
    """Rows to show for due items whose routine, tag and area are loaded; their number adds no query."""
    items = list(found)
    plans = {item.plan_id: item.plan for item in items}
    last = last_done(list(plans))
    uses = rests_on({plan.position_id for plan in plans.values() if plan.position_id})
    to = _Addresses(*(_by_key(name) for name in ("maintenance:routine", "do", "maintenance:deferral-new")))
    return tuple(_row(item, day, last.get(item.plan_id, LastDone()), uses, to) for item in items)


@dataclass(frozen=True, slots=True)
class _Addresses:
    """Where a row leads, by key: its routine, where it is done, where it is put off."""

    routine: Callable[[int], str]
    do: Callable[[int], str]
    later: Callable[[int], str]


def _by_key(name: str) -> Callable[[int], str]:
    """Resolve an address once for a whole page: what stands before and after the key is the same in every row."""
    before, _, after = reverse(name, args=[0]).rpartition("/0/")
    return lambda pk: f"{before}/{pk}/{after}"


def _row(item: Occurrence, day: dt.date, last: LastDone, uses: dict[int, str], to: _Addresses) -> DueRow:
    plan, position = item.plan, item.plan.position
    state = state_of(item, day)
    late = (day - item.due).days if state is State.OVERDUE else 0
    matters = position.matters_for if position else MattersFor.OTHER
    walk = (position.area.walk_order, position.area.name) if position else (10**6, "Carried")
    return DueRow(
        pk=item.pk,
        url=to.routine(plan.pk),
        do_url=to.do(item.pk),
        later_url=to.later(item.pk),
        tag=position.tag if position else str(plan.asset),
        code=position.label_code if position else "",
        machine=bool(position and not position.measures),
        area=walk[1],
        what=plan.title,
        kind=plan.get_kind_display(),
        matters=matters,
        state=shown_as(item, state, day),
        due=item.due,
        latest=item.latest,
        late=late,
        why=item.why,
        because=item.because,
        rests_on_it=uses.get(plan.position_id or 0, ""),
        last=last,
        minutes=plan.minutes,
        asked_now=state in ASKED,
        by_use=by_use(item),
        may_defer=state in ASKED and item.why != READ_THE_METER,
        order=(*walk, MattersFor.values.index(matters), -late, item.due, item.pk),
    )


def _visits(rows: Sequence[DueRow]) -> tuple[Visit, ...]:
    walked = sorted(rows, key=lambda row: row.order)
    return tuple(Visit(name, tuple(group)) for name, group in groupby(walked, key=lambda row: row.area))


def last_done(plans: Sequence[int]) -> dict[int, LastDone]:
    """When each routine was last done, and what became of work on it since that did not count."""
    newest = Performance.objects.standing().filter(plan=OuterRef("pk")).newest_first()
    wanted = Plan.objects.filter(pk__in=plans).annotate(
        newest=Subquery(newest.values("pk")[:1]), counted=Subquery(newest.filter(counts=True).values("pk")[:1])
    )
    keys = {pk: (new, done) for pk, new, done in wanted.order_by().values_list("pk", "newest", "counted")}
    rows = Performance.objects.filter(pk__in={one for pair in keys.values() for one in pair}).order_by()
    said = {pk: (day, because) for pk, day, because in rows.values_list("pk", "performed_on", "because")}
    nothing = (None, "")
    return {
        pk: LastDone(said.get(done, nothing)[0], *(said[new] if new != done else nothing))
        for pk, (new, done) in keys.items()
    }


def rests_on(positions: Iterable[int]) -> dict[int, str]:
    """What depends on the signal of each position: Paces P-41 and P-42; reports to the regulator."""
    by_use: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    uses = SignalUse.objects.now().filter(position__in=list(positions)).select_related("target").order_by("id")
    for use in uses.only("position", "use", "text", "target__tag"):
        by_use[use.position_id][use.get_use_display()].append(use.on)
    return {pk: _sentence(words) for pk, words in by_use.items()}


def _sentence(words: dict[str, list[str]]) -> str:
    parts = [f"{word.lower() if n else word} {_and(names)}" for n, (word, names) in enumerate(words.items())]
    return "; ".join(parts) + "."


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
