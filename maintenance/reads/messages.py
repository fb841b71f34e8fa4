"""What messages say and to whom, which of them wait for the post, and what the post did not take."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from assets.compute.words import count_of, day_of_year
from assets.models import MattersFor, Membership, Person, Role, Site
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from maintenance import hooks
from maintenance.compute.messages import Next, Tried, next_of
from maintenance.models import (
    Deferral,
    Message,
    MessageAbout,
    MessageChoice,
    MessageKind,
    MessageTry,
    Occurrence,
    OrderState,
    Override,
    OverrideExtension,
    ProcedureVersion,
    WorkOrder,
)
from maintenance.reads.due import DueFilter, due_page, how_many
from maintenance.reads.due_rows import DueRow, due_rows, listed

NAMED = 12  # due items written out in a message; the list itself is one link away
LINES = 30  # lines of each other kind
DAYS_SHOWN = dt.timedelta(days=14)
OUT_BY = dt.timedelta(minutes=20)  # a message that is not out by then waits for something
# A daily turn is missed at midnight and never overdue; one missed earlier than this is no news.
MISSED_SINCE = dt.timedelta(days=2)
GRAVE = (MattersFor.SAFETY, MattersFor.COMPLIANCE)


@dataclass(frozen=True, slots=True)
class Recipient:
    """Somebody with an address who wants the message, in their role at the site."""

    person: Person
    role: Role


def recipients(site: Site, kind: MessageKind, roles: Iterable[Role]) -> list[Recipient]:
    """People with these roles at a site now, an address, and no wish to be left alone."""
    held = Membership.objects.now().filter(site=site, role__in=list(roles)).exclude(person__email="")
    rows = list(held.select_related("person").order_by("person__name", "person__pk"))
    silent = unwanted_by([row.person_id for row in rows], kind)
    return [Recipient(row.person, Role(row.role)) for row in rows if row.person_id not in silent]


def unwanted_by(people: Sequence[int], kind: str) -> set[int]:
    """Which of these people switched a kind of message off: their newest choice counts."""
    chosen = MessageChoice.objects.filter(person__in=people, kind=kind).order_by("id")
    newest = dict(chosen.values_list("person_id", "wanted"))
    return {person for person, wanted in newest.items() if not wanted}


@dataclass(frozen=True, slots=True, kw_only=True)
class Digest:
    """What one person is told in the morning, as lines."""

    mine: tuple[str, ...]
    decide: tuple[str, ...]
    asked: tuple[str, ...]
    asked_total: str
    asked_more: bool

    @property
    def says_something(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.mine or self.decide or self.asked)


@dataclass(frozen=True, slots=True)
class Morning:
    """What a site's mornings are made of, read once for all its people."""

    orders: tuple[WorkOrder, ...]
    overrides: tuple[Override, ...]
    extensions: tuple[OverrideExtension, ...]
    deferrals: tuple[Deferral, ...]
    procedures: tuple[ProcedureVersion, ...]
    asked: tuple[DueRow, ...]
    asked_total: str


def morning_of(site: Site, today: dt.date) -> Morning:
    """Read what the morning messages of a site are made of; the number of queries depends on nothing."""
    orders = WorkOrder.objects.at(site).filter(
        Q(state__in=[OrderState.RAISED, OrderState.DONE]) | Q(in_charge__isnull=False)
    )
    orders = orders.exclude(state__in=[OrderState.ACCEPTED, OrderState.WITHDRAWN])
    standing = Override.objects.at(site).standing().select_related("position")
    extensions = OverrideExtension.objects.filter(override__site=site, decided_at__isnull=True)
    procedures = ProcedureVersion.objects.filter(procedure__position__site=site, decisions__isnull=True)
    page = due_page(site, DueFilter(), today)
    rows = [row for visit in page.visits for row in visit.rows]
    return Morning(
        orders=tuple(orders.select_related("position", "asset").order_by("number")),
        overrides=tuple(standing.order_by("limit_at", "number")),
        extensions=tuple(extensions.select_related("override__position").order_by("asked_at")),
        deferrals=tuple(
            Deferral.objects.filter(site=site, decided_at__isnull=True)
            .select_related("plan__position", "plan__asset")
            .order_by("asked_at")
        ),
        procedures=tuple(procedures.select_related("procedure__position").order_by("written_at")),
        asked=tuple(sorted(rows, key=lambda row: (MattersFor.values.index(row.matters), row.due, row.pk))),
        asked_total=how_many(site, DueFilter(), today),
    )


def digest_of(site: Site, who: Recipient, morning: Morning) -> Digest:
    """What one person is told this morning: what they have in charge, what they may decide, what the day asks."""
    told = [line for teller in hooks.digest_tellers for line in teller(site, who.person, who.role)]
    asked = morning.asked if who.role in OPERATORS else ()
    return Digest(
        mine=(*_mine(who.person, morning, site), *(line.text for line in told if not line.decide))[:LINES],
        decide=(*_to_decide(who.person, morning), *(line.text for line in told if line.decide))[:LINES]
        if who.role in SUPERVISORS
        else (),
        asked=tuple(_due_line(row) for row in asked[:NAMED]),
        asked_total="1 due item" if morning.asked_total == "1" else f"{morning.asked_total} due items",
        asked_more=len(asked) > NAMED,
    )


def _mine(person: Person, morning: Morning, site: Site) -> list[str]:
    orders = [one for one in morning.orders if one.in_charge_id == person.pk and one.is_open]
    lines = [
        f"{str(one).capitalize()}, {one.position or one.asset}: {one.title}"
        + (f". Wanted by {day_of_year(one.wanted_by)}" if one.wanted_by else "")
        for one in orders
    ]
    carried = [one for one in morning.overrides if one.owner_id == person.pk]
    return lines + [f"{_override(one)}. Until {_moment(one.limit_at, site)}" for one in carried]


def _to_decide(person: Person, morning: Morning) -> list[str]:
    lines = [
        f"To approve: {_override(one)}" for one in morning.overrides if _waits(one) and one.asked_by_id != person.pk
    ]
    lines += [
        f"To decide: more time for {_override(one.override)}"
        for one in morning.extensions
        if one.asked_by_id != person.pk
    ]
    lines += [
        f"To decide: {one.plan.position or one.plan.asset}: {one.plan.title}, put off to {day_of_year(one.to_day)}"
        for one in morning.deferrals
        if one.asked_by_id != person.pk
    ]
    lines += [
        f"To approve: energy procedure of {one.procedure.position}, revision {one.revision}"
        for one in morning.procedures
        if one.written_by_id != person.pk
    ]
    lines += [
        f"To plan: {one}, {one.position or one.asset}: {one.title}"
        for one in morning.orders
        if one.state == OrderState.RAISED
    ]
    return lines + [
        f"To accept: {one}, {one.position or one.asset}: {one.title}"
        for one in morning.orders
        if one.state == OrderState.DONE and one.done_by_id != person.pk
    ]


def _waits(one: Override) -> bool:
    return one.needs_approval and not (one.approved_at or one.refused_at or one.removed_at)


def _override(one: Override) -> str:
    value = f": {one.value} {one.unit}".rstrip(": ")
    return f"{one.get_kind_display()} at {one.position.tag}, {one.what}{value}"


def _due_line(row: DueRow) -> str:
    matters = "" if row.matters == MattersFor.OTHER else f"; matters for {row.matters}"
    return f"{row.tag}: {row.what}. {row.state.word}, due {day_of_year(row.due)}{matters}"


def _moment(at: dt.datetime, site: Site) -> str:
    here = at.astimezone(site.zone)
    return f"{day_of_year(here.date())}, {here:%H:%M}"


# ---------------------------------------------------------------------------------- past the last allowed day


@dataclass(frozen=True, slots=True)
class Grave:
    """A due item of safety or compliance that is past its last allowed day; `about` names it for ever."""

    about: str
    line: str


def newly_grave(site: Site, today: dt.date) -> tuple[Grave, ...]:
    """Due items of safety and compliance that are overdue, or were missed since the day before yesterday."""
    late = Occurrence.objects.at(site).filter(plan__position__matters_for__in=GRAVE)
    missed = late.missed_between(today - MISSED_SINCE, today)
    late = late.open().in_state("overdue", today) | missed
    rows = due_rows(listed(late.order_by("due", "id")), today)
    return tuple(Grave(f"{row.plan} {row.turn}"[:120], _grave_line(row)) for row in rows)


def _grave_line(row: DueRow) -> str:
    rests = f" {row.rests_on_it}" if row.rests_on_it else ""
    stopped = f" Blocked then: {row.because}." if row.because else ""
    due = day_of_year(row.due)
    return f"{row.tag}: {row.what}. {row.state.word}, was due {due}; matters for {row.matters}.{rests}{stopped}"


def told_of(people: Sequence[int], about: Sequence[str]) -> set[tuple[int, str]]:
    """Which of these people were told of which of these due items."""
    rows = MessageAbout.objects.filter(person__in=people, about__in=about)
    return set(rows.values_list("person_id", "about"))


# ---------------------------------------------------------------------------------- the post


@dataclass(frozen=True, slots=True)
class Standing:
    """A message with what became of it so far; `number` is that of the next try."""

    message: Message
    next: Next
    number: int
    trouble: str


def standing_of(messages: Iterable[Message], now: dt.datetime) -> tuple[Standing, ...]:
    """What became of messages, in their order; two queries however many they are."""
    found = list(messages)
    tries: dict[int, list[MessageTry]] = {one.pk: [] for one in found}
    for row in MessageTry.objects.filter(message__in=found).order_by("message", "number"):
        tries[row.message_id].append(row)
    return tuple(_standing(one, tries[one.pk], now) for one in found)


def _standing(message: Message, tries: Sequence[MessageTry], now: dt.datetime) -> Standing:
    tried = [Tried(begun_at=one.begun_at, ended_at=one.ended_at, sent=one.sent) for one in tries]
    trouble = next((one.trouble for one in reversed(tries) if one.trouble), "")
    return Standing(message, next_of(tried, now, message.until_at), len(tries) + 1, trouble or "")


def unsent(now: dt.datetime, site: Site | None = None) -> list[Message]:
    """Messages of the last fortnight that no try is known to have sent, the oldest first."""
    rows = Message.objects.filter(made_at__gte=now - DAYS_SHOWN).exclude(tries__sent=True)
    return list((rows.filter(site=site) if site else rows).select_related("person", "site").order_by("id"))


@dataclass(frozen=True, slots=True)
class PostLine:
    """What Review says of the post in one line; nothing where all went out."""

    waiting: int
    lost: tuple[str, ...]
    trouble: str

    @property
    def says(self) -> str:
        """The line; '' where there is no trouble."""
        parts = []
        if self.waiting:
            parts.append(f"{count_of(self.waiting, 'message')} could not be sent yet and will be tried again.")
        if self.lost:
            parts.append(f"Given up in the last 14 days: {', '.join(self.lost)}.")
        return " ".join([*parts, f"The mail server's last word: {self.trouble}"] if self.trouble else parts)


def post_line(site: Site, now: dt.datetime) -> PostLine:
    """What the post did not take at a site."""
    found = standing_of(unsent(now, site), now)
    troubled = [one for one in found if one.trouble or one.number > 1 or now - one.message.made_at > OUT_BY]
    given_up = [one for one in troubled if one.next in (Next.NOT_KNOWN, Next.TOO_LATE)]
    words = {Next.NOT_KNOWN: "not known whether it went out", Next.TOO_LATE: "not sent in time"}
    lost = tuple(
        f"{one.message.get_kind_display().lower()} of {day_of_year(one.message.made_at.astimezone(site.zone))} to "
        f"{one.message.person.name} ({words[one.next]})"
        for one in given_up
    )
    trouble = next((one.trouble for one in reversed(troubled) if one.trouble), "")
    return PostLine(len(troubled) - len(given_up), lost, trouble)


@dataclass(frozen=True, slots=True)
class OwnMessages:
    """What a person's own page says of messages: what they would get, what they chose, what was written last."""

    address: str
    choices: tuple[tuple[MessageKind, bool], ...]
    last: tuple[tuple[Message, str], ...]


_WORDS = {
    Next.SEND: "waits to be sent",
    Next.WAIT: "waits to be sent",
    Next.SENT: "sent",
    Next.NOT_KNOWN: "not known whether it went out",
    Next.TOO_LATE: "not sent in time",
}


def own_messages(desk: Desk, now: dt.datetime) -> OwnMessages:
    """Return what a person's own page shows of messages."""
    kinds: list[MessageKind] = [MessageKind.DIGEST] if desk.may(OPERATORS) else []
    kinds += [MessageKind.ESCALATION] if desk.may(SUPERVISORS) else []
    person: Any = desk.person.pk
    last = Message.objects.filter(person=person, site=desk.site, made_at__gte=now - DAYS_SHOWN).order_by("-id")[:LINES]
    return OwnMessages(
        address=desk.person.email,
        choices=tuple((kind, person not in unwanted_by([person], kind)) for kind in kinds),
        last=tuple((one.message, _WORDS[one.next]) for one in standing_of(last, now)),
    )
