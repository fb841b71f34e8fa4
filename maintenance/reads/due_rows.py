"""Rows of due items as lists show them: what, where, its state, what rests on it, when it was last done."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from django.db.models import OuterRef, Q, Subquery
from django.urls import reverse

from assets.models import Does, MattersFor, SignalUse, Use
from maintenance.compute.schedule import READ_THE_METER, State
from maintenance.models import Occurrence, Performance, Plan
from maintenance.models.routines import PlanKind
from maintenance.queries import OccurrenceQuerySet
from maintenance.reads.due_words import Shown, by_use, hours, shown_as, state_of

ASKED = frozenset({State.OVERDUE, State.LATE_ALLOWED, State.DUE, State.CAN_BE_DONE})
KIND_WORDS = dict(PlanKind.choices)
MATTERS = MattersFor.values
USES = dict(Use.choices)
CARRIED = (10**6, "Carried")


class Listed(NamedTuple):
    """What a list reads of a due item, its routine and its tag.

    A page holds a hundred of them. As rows of four models they were a fifth of its time.
    """

    pk: int
    turn: str
    raw: dt.date
    due: dt.date
    earliest: dt.date
    latest: dt.date
    blocked_from: dt.date | None
    missed_from: dt.date | None
    deferred_until: dt.date | None
    day_due: dt.date | None
    use_next: str
    use_now: str
    why: str
    because: str
    ended: str
    ended_on: dt.date | None
    plan: int
    what: str
    kind: str
    minutes: int
    position: int | None
    tag: str | None
    code: str | None
    does: str | None
    matters: str | None
    area: str | None
    walk_order: int | None
    carried_kind: str | None
    carried_serial: str | None


COLUMNS = (
    *Listed._fields[: Listed._fields.index("plan")],
    *("plan_id", "plan__title", "plan__kind", "plan__minutes", "plan__position_id"),
    *(f"plan__position__{name}" for name in ("tag", "label_code", "does", "matters_for")),
    *("plan__position__area__name", "plan__position__area__walk_order", "plan__asset__kind", "plan__asset__serial"),
)


@dataclass(frozen=True, slots=True)
class LastDone:
    """When a routine was last done, and newer work on it that did not count, with the reason."""

    done_on: dt.date | None = None
    failed_on: dt.date | None = None
    because: str = ""


class DueRow(NamedTuple):
    """One due item as the list shows it."""

    pk: int
    plan: int
    turn: str
    url: str
    do_url: str
    later_url: str
    tag: str
    tag_url: str
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


def listed(rows: OccurrenceQuerySet) -> list[Listed]:
    """Due items with what a list says of them, in one query."""
    return [Listed(*row) for row in rows.values_list(*COLUMNS)]


def due_rows(items: Sequence[Listed], day: dt.date) -> tuple[DueRow, ...]:
    """Rows to show for due items, in their order; their number adds no query."""
    last = last_done({item.plan for item in items})
    uses = rests_on({item.position for item in items if item.position is not None})
    to = _Addresses(*(_by_key(name) for name in ("maintenance:routine", "do", "maintenance:deferral-new", "tag")))
    return tuple(
        _row(item, day, last.get(item.plan, LastDone()), uses.get(item.position or 0, ""), to) for item in items
    )


def due_row(item: Occurrence, day: dt.date) -> DueRow:
    """The row of one due item."""
    return due_rows(listed(Occurrence.objects.filter(pk=item.pk)), day)[0]


class _Addresses(NamedTuple):
    """Where a row leads, by key: its routine, where it is done, where it is put off, its tag by the label."""

    routine: Callable[[object], str]
    do: Callable[[object], str]
    later: Callable[[object], str]
    tag: Callable[[object], str]


def _by_key(name: str) -> Callable[[object], str]:
    """Resolve an address once for a whole page: what stands before and after the key is the same in every row."""
    before, _, after = reverse(name, args=["0"]).rpartition("/0/")
    return lambda key: f"{before}/{key}/{after}"


def _row(item: Listed, day: dt.date, last: LastDone, rests_on_it: str, to: _Addresses) -> DueRow:
    state = state_of(item, day)
    late = (day - item.due).days if state is State.OVERDUE else 0
    matters = item.matters or MattersFor.OTHER.value
    walk = CARRIED if item.position is None else (item.walk_order or 0, item.area or "")
    return DueRow(
        pk=item.pk,
        plan=item.plan,
        turn=item.turn,
        url=to.routine(item.plan),
        do_url=to.do(item.pk),
        later_url=to.later(item.pk),
        tag=item.tag or f"{item.carried_kind} {item.carried_serial}",
        tag_url=to.tag(item.code) if item.code else "",
        code=item.code or "",
        machine=item.position is not None and item.does != Does.MEASURES.value,
        area=walk[1],
        what=item.what,
        kind=KIND_WORDS[item.kind],
        matters=matters,
        state=shown_as(item, state, day),
        due=item.due,
        latest=item.latest,
        late=late,
        why=item.why,
        because=item.because,
        rests_on_it=rests_on_it,
        last=last,
        minutes=item.minutes,
        asked_now=state in ASKED,
        by_use=by_use(item),
        may_defer=state in ASKED and item.why != READ_THE_METER,
        order=(*walk, MATTERS.index(matters), -late, item.due, item.pk),
    )


def last_done(plans: Collection[int]) -> dict[int, LastDone]:
    """When each routine was last done, and what became of work on it since that did not count."""
    of_these = Plan.objects.filter(pk__in=plans).order_by()
    keys = [Q(pk__in=of_these.values_list(one, flat=True)) for one in _newest_of_a_routine()]
    # At most two rows a routine: the newest that counted, and the newest of all where that one did not.
    rows = Performance.objects.filter(keys[0] | keys[1]).order_by()
    done: dict[int, dt.date] = {}
    failed: dict[int, tuple[dt.date, str]] = {}
    for plan, counts, day, because in rows.values_list("plan", "counts", "performed_on", "because"):
        if counts:
            done[plan] = day
        else:
            failed[plan] = day, because
    return {pk: LastDone(done.get(pk), *failed.get(pk, (None, ""))) for pk in done | failed}


@cache
def _newest_of_a_routine() -> tuple[Subquery, Subquery]:
    # Put together once: together they take as long as the statement itself.
    newest = Performance.objects.standing().filter(plan=OuterRef("pk")).newest_first().values("pk")
    return Subquery(newest[:1]), Subquery(newest.filter(counts=True)[:1])


def rests_on(positions: Collection[int]) -> dict[int, str]:
    """What depends on the signal of each position: Paces P-41 and P-42; reports to the regulator."""
    by_use: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    uses = SignalUse.objects.now().filter(position__in=positions).order_by("id")
    for position, use, tag, text in uses.values_list("position", "use", "target__tag", "text"):
        by_use[position][USES[use]].append(tag or text)
    return {pk: _sentence(words) for pk, words in by_use.items()}


def _sentence(words: dict[str, list[str]]) -> str:
    parts = [f"{word.lower() if n else word} {_and(names)}" for n, (word, names) in enumerate(words.items())]
    return "; ".join(parts) + "."


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
