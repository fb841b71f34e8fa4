"""What the pages show of forced values, holds, bypasses and shelved alarms."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Max, Q, QuerySet

from assets.compute.site_rules import InForce
from assets.models import Position, SignalUse, Site
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from assets.reads.site_rules import rules_on
from maintenance.compute.overrides import ORDER, Facts, State, next_look, state_of
from maintenance.models import Override, OverrideExtension, OverrideLook
from maintenance.reads.due_words import Shown

LOOKS = 50  # looks shown on the page of one, the newest
KINDS = {"forced value": "forced", "hold": "hold", "bypass": "bypass", "shelved alarm": "shelved"}
_STATES = {
    State.ASKED: Shown("Asked for", "asks"),
    State.REFUSED: Shown("Refused", "refused"),
    State.UNAPPROVED: Shown("In force, not yet approved", "asks", "watch"),
    State.IN_FORCE: Shown("In force", "now"),
    State.OVER: Shown("Over its time limit", "over", "bad"),
    State.REMOVED: Shown("Taken off, not yet seen to work", "waiting", "watch"),
    State.ENDED: Shown("Ended", "done"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OverrideRow:
    """One of them as a list shows it."""

    override: Override
    kind: Shown
    state: Shown
    over: bool
    look_by: dt.datetime | None
    look_late: bool
    last_look: OverrideLook | None
    extended: int
    beside: tuple[str, ...]
    mine: bool

    @property
    def title(self) -> str:
        """What is forced or defeated, and to which value."""
        # The number and its unit stay on one line; the words before them may break.
        value = "\N{NO-BREAK SPACE}".join(filter(None, (self.override.value, self.override.unit)))
        return f"{self.override.what}: {value}" if value else self.override.what

    @property
    def url(self) -> str:
        """Its page."""
        return self.override.get_absolute_url()


SHOWN = {"": "Now", "ended": "Ended"}
COLUMNS = (
    *("number", "kind", "tag", "what", "value", "unit", "matters for", "state", "asked by", "asked because"),
    *("owner", "what stands in for it", "begun", "limit", "removed", "restored", "extended"),
)


def overrides_of(site: Site, shown: str, kind: str, found: Q) -> QuerySet[Override]:
    """Those that stand, the first limit first, or those that ended, the newest first; of a kind, of a condition."""
    rows = Override.objects.at(site)
    ended = shown == "ended"
    chosen = rows.exclude(pk__in=rows.standing().values("pk")) if ended else rows.standing()
    chosen = chosen.filter(found, **({"kind": kind} if kind else {}))
    return _with_people(chosen.order_by("-number") if ended else chosen.order_by("limit_at", "number"))


def override_cells(rows: Iterable[OverrideRow]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for rows of the list."""
    for row in rows:
        one, zone = row.override, row.override.site.zone
        yield (
            *(str(one.number), row.kind.word, one.position.tag, one.what, one.value, one.unit, one.matters_for),
            *(row.state.word, one.asked_by.name, one.reason, one.owner.name, one.measures),
            *(_iso(at, zone) for at in (one.begun_at, one.limit_at, one.removed_at, one.restored_at)),
            str(row.extended),
        )


def _iso(at: dt.datetime | None, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).strftime("%Y-%m-%d %H:%M") if at is not None else ""


def standing_rows(desk: Desk, now: dt.datetime) -> tuple[OverrideRow, ...]:
    """All that stand at the site now: over their limit first, then the most serious, then the oldest limit."""
    found = rows_of(desk, list(_with_people(Override.objects.at(desk.site).standing())), now)
    return tuple(
        sorted(
            found, key=lambda r: (not r.over, ORDER.index(r.override.matters_for), r.override.limit_at, r.override.pk)
        )
    )


def rows_at(desk: Desk, position: Position, now: dt.datetime) -> tuple[OverrideRow, ...]:
    """Those that stand at one tag."""
    return rows_of(desk, list(_with_people(Override.objects.filter(position=position).standing())), now)


def rows_of(desk: Desk, found: list[Override], now: dt.datetime) -> tuple[OverrideRow, ...]:
    """Rows to show; the number of queries does not depend on theirs."""
    rules = rules_on(desk.site, desk.today)
    looks = _last_looks(found)
    extended: dict[int, int] = defaultdict(int)
    granted = OverrideExtension.objects.filter(override__in=found, granted=True).values_list("override", flat=True)
    for override_id in granted:
        extended[override_id] += 1
    together = _together(desk.site, found)
    return tuple(
        _row(
            one, looks.get(one.pk), extended[one.pk], together[one.pk], rules, now, mine=one.owner_id == desk.person.pk
        )
        for one in found
    )


def _with_people(rows: QuerySet[Override]) -> QuerySet[Override]:
    return rows.select_related("position", "owner", "asked_by", "approved_by", "removed_by", "site", "order")


def _last_looks(found: Iterable[Override]) -> dict[int, OverrideLook]:
    newest = (
        OverrideLook.objects.filter(override__in=found).order_by().values("override").annotate(last=Max("taken_at"))
    )
    times = {row["override"]: row["last"] for row in newest}
    rows = OverrideLook.objects.filter(override__in=times, taken_at__in=set(times.values())).select_related("looked_by")
    return {row.override_id: row for row in rows if row.taken_at == times[row.override_id]}


def _together(site: Site, shown: Iterable[Override]) -> dict[int, tuple[str, ...]]:
    """For each one that is shown and in force, the others that touch the same tag or a tag the same signal acts on."""
    standing = list(Override.objects.at(site).put_on().select_related("position").order_by("number"))
    uses = SignalUse.objects.now().filter(position__in={one.position_id for one in standing}, target__isnull=False)
    reached: dict[int, set[int]] = defaultdict(set)
    for source, target in uses.values_list("position", "target"):
        reached[source].add(target or 0)
    # By tag: who touches it. Each with each would take seconds where many stand.
    at: dict[int, list[Override]] = defaultdict(list)
    for one in standing:
        for tag in {one.position_id, *reached[one.position_id]}:
            at[tag].append(one)
    in_force = {one.pk: one for one in standing}
    beside: dict[int, tuple[str, ...]] = defaultdict(tuple)
    for row in shown:
        if row.pk in in_force:
            tags = {row.position_id, *reached[row.position_id]}
            others = {other.pk: other for tag in tags for other in at[tag] if other.pk != row.pk}
            beside[row.pk] = tuple(
                f"{str(other).capitalize()} at {other.position.tag}"
                for other in sorted(others.values(), key=lambda other: other.number)
            )
    return beside


def facts_of(override: Override, looked_at: dt.datetime | None = None) -> Facts:
    """What the computation knows of one."""
    return Facts(
        begun_at=override.begun_at,
        limit_at=override.limit_at,
        needs_approval=override.needs_approval,
        approved_at=override.approved_at,
        refused_at=override.refused_at,
        removed_at=override.removed_at,
        restored_at=override.restored_at,
        looked_at=looked_at,
    )


def _row(
    one: Override,
    look: OverrideLook | None,
    extended: int,
    beside: tuple[str, ...],
    rules: InForce,
    now: dt.datetime,
    *,
    mine: bool,
) -> OverrideRow:
    facts = facts_of(one, look.taken_at if look else None)
    state = state_of(facts, now)
    by = next_look(facts, rules)
    return OverrideRow(
        override=one,
        kind=Shown(one.get_kind_display(), KINDS[one.kind], "standin"),
        state=_STATES[state],
        over=state is State.OVER,
        look_by=by,
        look_late=by is not None and now > by,
        last_look=look,
        extended=extended,
        beside=beside,
        mine=mine,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OverrideView:
    """One of them with all that was decided and seen, and what the asking person may do now."""

    row: OverrideRow
    looks: tuple[OverrideLook, ...]
    extensions: tuple[OverrideExtension, ...]
    waiting: OverrideExtension | None
    may: frozenset[str]


def override_view(desk: Desk, override: Override, now: dt.datetime) -> OverrideView:
    """Return one of them for its page."""
    row = rows_of(desk, [override], now)[0]
    extensions = tuple(override.extensions.select_related("asked_by", "decided_by"))
    waiting = next((one for one in extensions if one.decided_at is None), None)
    return OverrideView(
        row=row,
        looks=tuple(override.looks.select_related("looked_by")[:LOOKS]),
        extensions=extensions,
        waiting=waiting,
        may=_may(desk, override, waiting),
    )


def _may(desk: Desk, one: Override, waiting: OverrideExtension | None) -> frozenset[str]:
    """Which acts lead on from where it stands, for this person."""
    on = one.begun_at is not None and one.removed_at is None
    undecided = one.needs_approval and one.approved_at is None and one.refused_at is None and one.removed_at is None
    decides, works, me = desk.may(SUPERVISORS), desk.may(OPERATORS), desk.person.pk
    off = one.removed_at is not None and one.restored_at is None
    acts = {
        "approve": decides and undecided and one.asked_by_id != me,
        "decide": decides and on and waiting is not None and waiting.asked_by_id != me,
        "put on": works and one.begun_at is None and one.refused_at is None and not undecided,
        "look": works and on,
        "extend": works and on and waiting is None,
        "take off": works and on,
        "take over": works and one.begun_at is not None and one.restored_at is None and one.owner_id != me,
        "see restored": works and off and one.removed_by_id != me,
    }
    return frozenset(act for act, may in acts.items() if may)


@dataclass(frozen=True, slots=True)
class ReviewOverrides:
    """What waits for a supervisor: approvals, time asked for, what is over its limit or was not looked at."""

    to_approve: tuple[OverrideRow, ...]
    extensions: tuple[tuple[OverrideExtension, OverrideRow], ...]
    late: tuple[OverrideRow, ...]

    @property
    def waiting(self) -> int:
        """How many things wait."""
        return len(self.to_approve) + len(self.extensions) + len(self.late)


def review_overrides(desk: Desk, now: dt.datetime) -> ReviewOverrides:
    """Return what Review shows of them."""
    rows = standing_rows(desk, now)
    by_pk = {row.override.pk: row for row in rows}
    undecided = [row for row in rows if row.override.needs_approval and row.override.approved_at is None]
    waiting = OverrideExtension.objects.filter(override__in=by_pk, decided_at__isnull=True)
    asked = waiting.select_related("asked_by").order_by("asked_at")
    return ReviewOverrides(
        to_approve=tuple(row for row in undecided if row.override.refused_at is None and not row.override.removed_at),
        extensions=tuple((one, by_pk[one.override_id]) for one in asked),
        late=tuple(row for row in rows if row.over or row.look_late),
    )
