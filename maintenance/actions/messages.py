"""Messages by e-mail: written once, in a transaction; sent outside it; then marked as sent.

A crash between sending and marking leaves a try that never ended. The message is then sent a second time, with the same
Message-ID, and never a third time: at most one repeat, and what is still not known after it is named in Review.
"""

from __future__ import annotations

import datetime as dt
import time
from contextlib import suppress
from dataclasses import dataclass
from email.utils import parseaddr
from smtplib import SMTPRecipientsRefused, SMTPResponseException
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.template.loader import render_to_string
from django.urls import reverse

from assets.compute.canonical import digest
from assets.compute.words import day_named
from assets.errors import Refusal
from assets.history import act
from assets.models import Person, Site
from assets.permissions import OPERATORS, SUPERVISORS
from assets.reads.site_rules import rules_on
from maintenance.compute.messages import Next, morning_has_come
from maintenance.models import Message, MessageAbout, MessageChoice, MessageKind, MessageTry, Morning
from maintenance.reads.messages import (
    Grave,
    Recipient,
    Standing,
    digest_of,
    morning_of,
    newly_grave,
    recipients,
    standing_of,
    told_of,
    unsent,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

WEEK = dt.timedelta(days=7)
CONNECTION_GIVES_UP_S = 20
ROUND_S = 60  # the worker ends a task after two minutes


def write_morning(*, site: Site, day: dt.date, by: Person | None = None) -> list[Message]:
    """Write the morning messages of a site, one to each person of whom something is, all at once or none.

    `by` None: time did it. Raises Refusal when this morning was written already.
    """
    morning = morning_of(site, day)
    ends = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(0), tzinfo=site.zone)
    made: list[Message] = []
    with act(site=site, by=by) as opened:
        opened.add(Morning(site=site, day=day, made_at=opened.at))
        for who in recipients(site, MessageKind.DIGEST, OPERATORS):
            told = digest_of(site, who, morning)
            if not told.says_something:
                continue
            text = _text("digest", site, day, told=told, today_path=reverse("today"))
            key = f"digest {day.isoformat()} site {site.pk} person {who.person.pk}"
            subject = f"{site.name}: what is yours, {_day(day)}"
            made.append(opened.add(_message(who, site, MessageKind.DIGEST, key, (subject, text), opened.at, ends)))
        opened.write("morning.written", subject=site, facts={"day": day, "messages": len(made)})
    return made


def write_escalation(
    *, site: Site, day: dt.date, to: Recipient, grave: Sequence[Grave], by: Person | None = None
) -> Message:
    """Write one message to a supervisor of due items past their last allowed day, each told to them only once.

    Raises Refusal when one of them was told meanwhile.
    """
    lines = [one.line for one in grave]
    with act(site=site, by=by) as opened:
        key = f"escalation person {to.person.pk} {digest([one.about for one in grave])[:40]}"
        subject = f"{site.name}: past the last allowed day, {len(grave)} of safety or compliance"
        text = _text("escalation", site, day, lines=lines, review_path=reverse("review"))
        row = _message(to, site, MessageKind.ESCALATION, key, (subject, text), opened.at, opened.at + WEEK)
        message = opened.add(row)
        opened.add_all([MessageAbout(message=message, person=to.person, about=one.about) for one in grave])
        opened.write("escalation.written", subject=message, facts={"due items": len(grave)})
    return message


def _message(
    who: Recipient, site: Site, kind: MessageKind, key: str, said: tuple[str, str], at: dt.datetime, until: dt.datetime
) -> Message:
    subject, text = said
    return Message(
        site=site,
        person=who.person,
        kind=kind,
        key=key,
        address=who.person.email,
        subject=" ".join(subject.split())[:160],
        text=text,
        made_at=at,
        until_at=until,
    )


def _text(name: str, site: Site, day: dt.date, **more: object) -> str:
    context = {"site": site, "day": _day(day), "own_path": reverse("maintenance:own-messages"), **more}
    return render_to_string(f"maintenance/messages/{name}.txt", context).strip() + "\n"


def _day(day: dt.date) -> str:
    return f"{day:%A} {day_named(day)}"


def choose_messages(*, site: Site, kind: MessageKind, wanted: bool, by: Person) -> MessageChoice:
    """Switch a kind of message on or off for oneself, at every site."""
    with act(site=site, by=by) as opened:
        row = MessageChoice(person=by, kind=kind, wanted=wanted, recorded_at=opened.at, recorded_by=by)
        opened.add(row)
        opened.write("messages.chosen", subject=by, facts={"kind": kind, "wanted": wanted})
    return row


# ---------------------------------------------------------------------------------- the post


def begin_try(*, standing: Standing, by: Person | None = None) -> MessageTry:
    """Say that a message is being sent; raises Refusal when another worker has said so first."""
    with act(site=standing.message.site, by=by) as opened:
        row = MessageTry(message=standing.message, number=standing.number, begun_at=opened.at)
        opened.add(row)
    return row


def end_try(*, tried: MessageTry, sent: bool | None, trouble: str = "", by: Person | None = None) -> MessageTry:
    """Say what became of it: sent, not sent, or None where the connection broke after the text was handed over."""
    with act(site=tried.message.site, by=by) as opened:
        opened.close(tried, ended_at=opened.at, sent=sent, trouble=" ".join(trouble.split())[:300])
    return tried


def write_what_is_owed(now: dt.datetime) -> int:
    """Write the messages that the clock of each site owes and say how many; doing it twice does the same as once."""
    if not settings.MAIL_IS_ON:
        return 0
    return sum(_escalated(site, now) + _morning_written(site, now) for site in Site.objects.order_by("pk"))


def _morning_written(site: Site, now: dt.datetime) -> int:
    here = now.astimezone(site.zone)
    written = Morning.objects.filter(site=site, day=here.date())
    if not morning_has_come(here, rules_on(site, here.date()).times("digest_time")[0]) or written.exists():
        return 0
    try:
        return len(write_morning(site=site, day=here.date()))
    except Refusal:
        if not written.exists():
            raise
        return 0  # another worker was first


def _escalated(site: Site, now: dt.datetime) -> int:
    day = now.astimezone(site.zone).date()
    grave = newly_grave(site, day)
    people = recipients(site, MessageKind.ESCALATION, SUPERVISORS) if grave else []
    return sum(_escalated_to(site, day, who, grave) for who in people)


def _escalated_to(site: Site, day: dt.date, who: Recipient, grave: Sequence[Grave]) -> int:
    new = _not_told(who, grave)
    if not new:
        return 0
    try:
        write_escalation(site=site, day=day, to=who, grave=new)
    except Refusal:
        if len(_not_told(who, grave)) == len(new):
            raise
        return 0  # another worker was first
    return 1


def _not_told(who: Recipient, grave: Sequence[Grave]) -> list[Grave]:
    told = told_of([who.person.pk], [one.about for one in grave])
    return [one for one in grave if (who.person.pk, one.about) not in told]


def send_what_waits(now: dt.datetime) -> dict[str, int]:
    """Send every message that is to be sent now, each in a connection of its own; say how many went and did not.

    A mail server that does not open ends the round, and so does a minute: the next round goes on.
    """
    done = {"sent": 0, "not sent": 0}
    if not settings.MAIL_IS_ON:
        return done
    begun = time.monotonic()
    for standing in standing_of(unsent(now), now):
        if standing.next is not Next.SEND:
            continue
        fate = send(standing)
        if fate is not None:
            done["sent" if fate.sent else "not sent"] += 1
        if time.monotonic() - begun > ROUND_S or (fate is not None and not fate.opened):
            break
    return done


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of a message: sent or not, None for not known; what went wrong; whether the mail server opened."""

    sent: bool | None
    trouble: str = ""
    opened: bool = True


def send(standing: Standing) -> Fate | None:
    """Send one message and mark what became of it; None where another worker is at it."""
    try:
        tried = begin_try(standing=standing)
    except Refusal:
        return None
    fate = _handed_over(standing.message)
    end_try(tried=tried, sent=fate.sent, trouble=fate.trouble)
    return fate


def _handed_over(message: Message) -> Fate:
    """Hand a message to the mail server."""
    post = get_connection(timeout=CONNECTION_GIVES_UP_S)
    try:
        post.open()
    except OSError as wrong:  # every error of smtplib is one
        return Fate(sent=False, trouble=_said(wrong), opened=False)
    letter = EmailMessage(
        subject=message.subject,
        body=message.text,
        to=[message.address],
        # The same for a repeat, so that a mailbox can tell that it is one.
        headers={"Message-ID": f"<{digest(message.key)[:32]}@{_domain()}>", "Auto-Submitted": "auto-generated"},
        connection=post,
    )
    try:
        return Fate(sent=bool(letter.send()))
    except (SMTPResponseException, SMTPRecipientsRefused) as refused:
        return Fate(sent=False, trouble=_said(refused))
    except OSError as wrong:
        return Fate(sent=None, trouble=_said(wrong))
    finally:
        with suppress(OSError):  # what was said of the letter counts, not how the call ended
            post.close()


def _domain() -> str:
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1].partition("@")[2] or "localhost"


def _said(wrong: OSError) -> str:
    return f"{type(wrong).__name__}: {wrong}"
