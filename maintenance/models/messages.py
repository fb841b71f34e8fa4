"""Messages to people by e-mail: what was written to whom, each try to send it, and who wants none."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from assets.models import Person, Site
from assets.triggers import APPEND_ONLY, Kept, close_once


class MessageKind(models.TextChoices):
    """Which messages there are."""

    DIGEST = "digest", "The morning message"
    ESCALATION = "escalation", "The message when safety or compliance work is past its last allowed day"


class Morning(models.Model):
    """The morning of a site whose messages were written, also where nobody had anything to be told."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "day"],
                name="morning_once_a_site_and_day",
                violation_error_message="The messages of this morning are written already.",
            )
        ]

    def __str__(self) -> str:
        return f"morning of {self.day:%d %B %Y}"


class Message(models.Model):
    """One message as it was written; `key` makes it one a person, day and kind. Never sent after `until_at`."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=MessageKind)
    key = models.CharField(max_length=120, unique=True, error_messages={"unique": "This message is written already."})
    address = models.EmailField()
    subject = models.CharField(max_length=160)
    text = models.TextField()
    made_at = models.DateTimeField()
    until_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [models.Index(fields=["until_at"], name="message_by_end")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=MessageKind.values),
                name="message_kind_is_known",
                violation_error_message="A message is the morning's, or of work that is past its last allowed day.",
            ),
            models.CheckConstraint(
                condition=~Q(address="") & ~Q(text=""),
                name="message_has_an_address_and_a_text",
                violation_error_message="A message has an address and a text.",
            ),
            models.CheckConstraint(
                condition=Q(until_at__gt=F("made_at")),
                name="message_may_be_sent_for_a_while",
                violation_error_message="A message may be sent until a moment after it was written.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} to {self.person}"


class MessageAbout(models.Model):
    """A due item that a message told a person of; no second message tells it again."""

    kept: ClassVar[Kept] = APPEND_ONLY

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="about")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    about = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "about"],
                name="told_of_it_once_a_person",
                violation_error_message="This person was told of it already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} told of {self.about}"


class MessageTry(models.Model):
    """One try to send a message: begun before the mail server is asked, ended after it answered.

    A try that never ended was cut short: whether the message went out is not known. `sent` NULL with `ended_at` says
    the same of a connection that broke after the text was handed over.
    """

    kept: ClassVar[Kept] = close_once("ended_at", "sent", "trouble")
    # What the post did is no record of the plant; the message itself is.
    digested: ClassVar[bool] = False

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="tries")
    number = models.PositiveSmallIntegerField()
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    sent = models.BooleanField(null=True, blank=True)
    trouble = models.CharField(max_length=300, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    class Meta:
        verbose_name = "try to send a message"
        ordering = ["message", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["message", "number"],
                name="try_once_a_message_and_number",
                violation_error_message="Another worker is sending this message.",
            ),
            models.UniqueConstraint(
                fields=["message"],
                condition=Q(sent=True),
                name="message_is_sent_once",
                violation_error_message="This message was sent already.",
            ),
            models.CheckConstraint(
                condition=Q(sent__isnull=True) | Q(ended_at__isnull=False),
                name="ended_try_says_when",
                violation_error_message="A try that ended says when.",
            ),
        ]

    def __str__(self) -> str:
        return f"try {self.number} of {self.message}"


class MessageChoice(models.Model):
    """Whether a person wants a kind of message; the newest one counts, and without one they get it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=MessageKind)
    wanted = models.BooleanField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = "choice of messages"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=MessageKind.values),
                name="chosen_kind_is_known",
                violation_error_message="There is no such message.",
            ),
            models.CheckConstraint(
                condition=Q(recorded_by=F("person")),
                name="messages_are_chosen_by_oneself",
                violation_error_message="Everybody chooses their own messages.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.kind} {'wanted' if self.wanted else 'not wanted'}"
