"""What the pages of routines show: rows of lists, and one routine with its turns, its records and its intervals."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Min

from assets.compute.words import count_of
from assets.models import Position
from maintenance.compute import schedule
from maintenance.compute.schedule import READ_THE_METER
from maintenance.models import Occurrence, Performance, Plan, PlanTerm
from maintenance.reads.due_facts import Known, known_of
from maintenance.reads.due_rows import LastDone, last_done
from maintenance.reads.due_words import Shown, by_use, due_day, out_of_season, shown_as, state_of
from maintenance.reads.stretch_facts import season_of
from maintenance.reads.values_seen import ValuesSeen, values_seen

TURNS = 60  # turns shown on the page of a routine, the newest


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutineRow:
    """One routine as the list shows it."""

    pk: int
    url: str
    tag: str
    code: str
    machine: bool
    area: str
    title: str
    kind: str
    interval: str
    matters: str
    due: dt.date | None
    state: Shown | None
    begin: int | None
    last: LastDone
    why: str = ""
    by_use: str = ""

    @property
    def due_known(self) -> bool:
        """Whether a due day can be told."""
        return self.due is not None


CARRIED = "Carried"


def routine_rows(plans: Sequence[Plan], today: dt.date) -> tuple[RoutineRow, ...]:
    """Rows to show for routines whose tag and area are loaded; their number adds no query."""
    ids = [plan.pk for plan in plans]
    terms = _terms_now(ids, today)
    last = last_done(ids)
    items = _first_open(ids, today)
    return tuple(
        _row(plan, terms.get(plan.pk), items.get(plan.pk), last.get(plan.pk, LastDone()), today) for plan in plans
    )


def _terms_now(plans: list[int], today: dt.date) -> dict[int, PlanTerm]:
    """Interval in force of each routine; one that is not yet in force gives way to the one before it."""
    terms: dict[int, PlanTerm] = {}
    for term in PlanTerm.objects.filter(plan__in=plans).order_by("from_day", "decided_on", "id"):
        if max(term.from_day, term.decided_on) <= today or term.plan_id not in terms:
            terms[term.plan_id] = term
    return terms


def _first_open(plans: list[int], today: dt.date) -> dict[int, Occurrence]:
    """The earliest open due item of each routine; reading its meter is one only once that is due."""
    open_items = Occurrence.objects.open().filter(plan__in=plans).exclude(why=READ_THE_METER, due__gt=today)
    first = open_items.values("plan").annotate(due=Min("due"))
    days = {row["plan"]: row["due"] for row in first}
    return {row.plan_id: row for row in open_items.order_by("-due", "-id") if row.due == days[row.plan_id]}


def _row(plan: Plan, term: PlanTerm | None, item: Occurrence | None, last: LastDone, today: dt.date) -> RoutineRow:
    position = plan.position
    return RoutineRow(
        pk=plan.pk,
        url=plan.get_absolute_url(),
        tag=position.tag if position else str(plan.asset),
        code=position.label_code if position else "",
        machine=bool(position and not position.measures),
        area=position.area.name if position else CARRIED,
        title=plan.title,
        kind=plan.get_kind_display(),
        interval=term.interval if term else "",
        matters=position.matters_for if position else "other",
        due=due_day(item) if item else None,
        state=_state(item, term, today),
        begin=item.pk if item else None,
        last=last,
        why=item.why if item else "",
        by_use=by_use(item) if item else "",
    )


def _state(item: Occurrence | None, term: PlanTerm | None, today: dt.date) -> Shown | None:
    """Word and shape of the earliest due item; out of season those of the season, for nothing is owed then."""
    season = season_of(term) if term is not None else None
    state = state_of(item, today) if item is not None else None
    if season is not None and not season.covers(today) and state in (None, schedule.State.NOT_YET):
        return out_of_season(season)
    return shown_as(item, state, today) if item is not None and state is not None else None


def plans_at(position: Position) -> list[Plan]:
    """Routines in force of one tag."""
    rows = Plan.objects.standing().filter(position=position).select_related("position__area", "asset", "site")
    return list(rows.order_by("title"))


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnRow:
    """One turn of a routine on its page."""

    due: dt.date
    latest: dt.date
    why: str
    state: Shown
    ended_on: dt.date | None
    note: str
    pk: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordRow:
    """One record of work on a routine, and what became of it."""

    pk: int
    at: dt.datetime
    entered_at: dt.datetime
    who: str
    label: str
    path: str
    fate: Shown
    because: str
    asset: str
    corrects: bool
    corrected: bool


@dataclass(frozen=True, slots=True)
class RoutineView:
    """All that the page of one routine shows beside the routine itself."""

    row: RoutineRow
    turns: tuple[TurnRow, ...]
    records: tuple[RecordRow, ...]
    terms: tuple[PlanTerm, ...]
    term: PlanTerm | None
    values: ValuesSeen | None


def routine_view(plan: Plan, today: dt.date) -> RoutineView:
    """Collect what one routine's page shows, worked out from its facts."""
    known = known_of([plan])[plan.pk]
    replay = schedule.replay(known.facts, today)
    stored = dict(Occurrence.objects.filter(plan=plan).values_list("turn", "pk"))
    terms = tuple(plan.terms.select_related("recorded_by").order_by("-from_day", "-id"))
    turns = [_turn(turn, known, today, stored.get(turn.key)) for turn in replay.turns]
    term = _terms_now([plan.pk], today).get(plan.pk)
    return RoutineView(
        row=routine_rows([plan], today)[0],
        turns=tuple(reversed(turns[-TURNS:])),
        records=_records(plan, {fate.act: fate for fate in replay.fates}),
        terms=terms,
        term=term,
        values=values_seen(plan, term),
    )


_STATES = {
    schedule.State.NOT_YET: ("notyet", ""),
    schedule.State.CAN_BE_DONE: ("cannow", ""),
    schedule.State.DUE: ("due", ""),
    schedule.State.LATE_ALLOWED: ("lateok", ""),
    schedule.State.OVERDUE: ("overdue", "bad"),
    schedule.State.DEFERRED: ("deferred", ""),
    schedule.State.BLOCKED: ("blocked", "still"),
    schedule.State.DONE: ("done", ""),
    schedule.State.MISSED: ("missed", "bad"),
    schedule.State.WITHDRAWN: ("withdrawn", ""),
}


def _turn(turn: schedule.Turn, known: Known, today: dt.date, pk: int | None) -> TurnRow:
    own = tuple(one for one in known.deferrals if one.turn == turn.key)
    state = schedule.state(turn, today, known.blocks, own)
    shape, ink = _STATES[state.state]
    late = f", late by {count_of(state.days_late, 'day')}" if state.days_late else ""
    blocked = f"blocked for {count_of(state.blocked_days, 'day')}" if state.blocked_days else ""
    return TurnRow(
        due=turn.own_due,
        latest=state.latest,
        why=turn.why,
        state=Shown(f"{state.state.value.capitalize()}{late}", shape, ink),
        ended_on=turn.ended_on,
        note=", ".join(part for part in (state.because, blocked) if part),
        pk=pk,
    )


_FATES = {
    schedule.Fate.CLOSED: Shown("Fulfilled", "yes"),
    schedule.Fate.EXTRA: Shown("Extra work", "done"),
    schedule.Fate.BEFORE_START: Shown("Before the routine began", "done"),
    schedule.Fate.NOT_COUNTED: Shown("Does not count", "no"),
}
CORRECTED = Shown("Corrected", "withdrawn")


def _records(plan: Plan, fates: dict[str, schedule.ActFate]) -> tuple[RecordRow, ...]:
    rows = Performance.objects.filter(plan=plan).select_related("asset", "recorded_by", "replaced_by").newest_first()
    return tuple(_record(row, fates.get(row.key)) for row in rows[:TURNS])


def _record(row: Performance, fate: schedule.ActFate | None) -> RecordRow:
    corrected = hasattr(row, "replaced_by")
    shown = CORRECTED if corrected else _FATES[fate.fate] if fate else Shown("Not yet", "notyet")
    return RecordRow(
        pk=row.pk,
        at=row.performed_at,
        entered_at=row.recorded_at,
        who=row.recorded_by.name,
        label=row.source_label,
        path=row.source_path,
        fate=shown,
        because=row.because or (fate.because if fate else ""),
        asset=str(row.asset or ""),
        corrects=row.replaces_id is not None,
        corrected=corrected,
    )


def open_items_of(plans: Sequence[Plan]) -> dict[int, list[Occurrence]]:
    """Open due items of routines, the earliest first."""
    found: dict[int, list[Occurrence]] = defaultdict(list)
    for row in Occurrence.objects.open().filter(plan__in=[plan.pk for plan in plans]).order_by("due", "id"):
        found[row.plan_id].append(row)
    return found
