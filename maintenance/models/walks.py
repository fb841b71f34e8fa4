"""The walk: rounds with their check points, one walk of a round, and what was written at each point of it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from django.urls import reverse

from assets.models import Face, Person, Position, Reading, Site
from assets.triggers import APPEND_ONLY, CHANGES, Kept, close_once
from maintenance.models.orders import WorkOrder
from maintenance.models.routines import Plan
from maintenance.queries import CheckPointQuerySet, RoundQuerySet, StopAnswerQuerySet, WalkQuerySet


class Round(models.Model):
    """An ordered round of readings and looks, asked on some days of the week in one shift."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rounds")
    name = models.CharField(max_length=80)
    # Days of the week on which it is asked: 1 is Monday, 7 is Sunday.
    days = models.CharField(max_length=7, default="1234567")
    asked_from = models.CharField("asked from", max_length=5)  # 06:30, by the clock of the site
    plan = models.OneToOneField(Plan, on_delete=models.PROTECT, related_name="round", null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = RoundQuerySet.as_manager()

    class Meta:
        ordering = ["asked_from", "name"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("name"),
                condition=Q(retired_at__isnull=True),
                name="round_name_once_a_site",
                violation_error_message="This site has a round of this name already.",
            ),
            models.CheckConstraint(
                condition=~Q(days=""),
                name="round_is_asked_on_some_day",
                violation_error_message="A round is asked on one day of the week at least.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page where it is kept."""
        return reverse("maintenance:round", args=[self.pk])


class CheckPoint(models.Model):
    """One place of a round, at a tag or in words; what a walk was asked stands in its stops, not here."""

    kept: ClassVar[Kept] = CHANGES

    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="points")
    number = models.PositiveSmallIntegerField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    name = models.CharField(max_length=60)
    caution = models.CharField(max_length=300, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = CheckPointQuerySet.as_manager()

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="check_point_has_a_name",
                violation_error_message="A check point says in words where it is.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class LineKind(models.TextChoices):
    """What is asked at a check point."""

    READING = "reading", "A reading"
    LOOK = "look", "A look: good or not good"
    COUNTER = "counter", "A counter: run hours, starts, a totalizer"
    DRAWDOWN = "drawdown", "A drawdown: volume and seconds"
    SAMPLE_FLOW = "sample flow", "The sample flow at an analyzer"
    LAMP = "lamp", "A lamp or a message on an instrument"


NUMBERS = (LineKind.READING, LineKind.COUNTER, LineKind.DRAWDOWN, LineKind.SAMPLE_FLOW)


class PointLine(models.Model):
    """One thing asked at a check point. A changed one is ended and written anew, so that old walks keep theirs."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by")

    point = models.ForeignKey(CheckPoint, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=LineKind)
    what = models.CharField(max_length=60)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    face = models.CharField(max_length=10, choices=Face, default=Face.DISPLAY)
    hint = models.CharField("what is right", max_length=160, blank=True)
    low = models.CharField("usual from", max_length=24, blank=True)
    high = models.CharField("usual to", max_length=24, blank=True)
    modulus = models.CharField("number at which it begins anew", max_length=24, blank=True)
    twin = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    constant = models.BooleanField("stands still where all is well", default=False)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=LineKind.values, face__in=Face.values),
                name="line_kind_and_face_are_known",
                violation_error_message="A check point asks a reading, a look, a counter, a drawdown or a lamp.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["look", "lamp"]) | (Q(position__isnull=False) & ~Q(unit="")),
                name="number_of_a_walk_has_a_tag_and_a_unit",
                violation_error_message="A number read on the walk belongs to a tag and has a unit.",
            ),
            models.CheckConstraint(
                condition=~Q(what=""),
                name="line_says_what_is_asked",
                violation_error_message="Say what is read or looked at.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} at {self.point}"

    @property
    def is_number(self) -> bool:
        """Whether a number is typed; else it is a look."""
        return self.kind in NUMBERS


class Walk(models.Model):
    """One walk of a round."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by", "ended_recorded_at", "left_undone")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="walks")
    number = models.PositiveIntegerField()
    round = models.ForeignKey(Round, on_delete=models.PROTECT, related_name="walks")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_recorded_at = models.DateTimeField(null=True, blank=True)
    left_undone = models.TextField("check points left undone", null=True, blank=True)  # noqa: DJ001 - NULL until ended

    objects = WalkQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        indexes = [models.Index(fields=["site", "-begun_at"], name="walk_newest_first")]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="walk_number_once_a_site"),
            models.UniqueConstraint(
                fields=["round"],
                condition=Q(ended_at__isnull=True),
                name="one_open_walk_a_round",
                violation_error_message="This round is being walked already.",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("begun_at"), ended_by__isnull=False),
                name="walk_ends_after_it_begins",
                violation_error_message="A walk ends after it was begun, by a named person.",
            ),
        ]

    def __str__(self) -> str:
        return f"walk {self.number}"

    def get_absolute_url(self) -> str:
        """Its page."""
        return reverse("maintenance:walk", args=[self.number])


class WalkStop(models.Model):
    """A check point as this walk was asked it; what the round asks later changes nothing here."""

    kept: ClassVar[Kept] = APPEND_ONLY

    walk = models.ForeignKey(Walk, on_delete=models.PROTECT, related_name="stops")
    number = models.PositiveSmallIntegerField()
    point = models.ForeignKey(CheckPoint, on_delete=models.PROTECT, related_name="stops")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    name = models.CharField(max_length=60)
    caution = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["walk", "number"], name="stop_number_once_a_walk")]

    def __str__(self) -> str:
        return f"check point {self.number} of {self.walk}"

    def get_absolute_url(self) -> str:
        """Where it is written."""
        return reverse("maintenance:walk-point", args=[self.walk.number, self.number])


class Outcome(models.TextChoices):
    """How a check point ended; each of them counts as done."""

    READ = "read", "Done"
    NOT_RUNNING = "not running", "Not running"
    COULD_NOT = "could not", "Could not"


class StopAnswer(models.Model):
    """What one person wrote at a check point. The first one counts, or the one that replaces it.

    `beside`: it came second, from another phone; it is kept as typed and counts for nothing until a person takes it.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    stop = models.ForeignKey(WalkStop, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=12, choices=Outcome)
    because = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=400, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=60, unique=True)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    beside = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="seconds")
    # The second answer of which this one took what was typed.
    taken_from = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_as")

    objects = StopAnswerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["stop"],
                condition=Q(replaces__isnull=True, beside__isnull=True),
                name="check_point_is_answered_once_a_walk",
                violation_error_message="Somebody else has written this check point meanwhile.",
            ),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True) | Q(beside__isnull=True),
                name="second_answer_replaces_nothing",
                violation_error_message="What came second replaces nothing by itself.",
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=Outcome.values),
                name="stop_outcome_is_known",
                violation_error_message="A check point is done, not running, or could not be done.",
            ),
            models.CheckConstraint(
                condition=~Q(outcome="could not") | ~Q(because=""),
                name="stop_that_could_not_says_why",
                violation_error_message="Say why it could not be done.",
            ),
            models.CheckConstraint(
                condition=Q(written_at__lte=F("recorded_at")),
                name="answer_arrives_after_it_was_written",
                violation_error_message="What is written arrives afterwards, not before.",
            ),
        ]

    def __str__(self) -> str:
        return f"answer at {self.stop}"

    @property
    def came_late(self) -> bool:
        """Whether it lay on a phone before it arrived."""
        return (self.recorded_at - self.written_at).total_seconds() >= 60


class WalkEntry(models.Model):
    """One line of an answer: what was typed, what was asked about it and answered, and the reading it became."""

    kept: ClassVar[Kept] = APPEND_ONLY

    answer = models.ForeignKey(StopAnswer, on_delete=models.PROTECT, related_name="entries")
    line = models.ForeignKey(PointLine, on_delete=models.PROTECT, related_name="entries")
    typed = models.CharField(max_length=60, blank=True)
    first_typed = models.CharField("typed before a second look", max_length=60, blank=True)
    good = models.BooleanField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True)
    could_not = models.CharField(max_length=160, blank=True)
    # Canonical JSON: each question put, with its answer; '' where nothing was asked.
    asked = models.TextField(blank=True)
    # The kind of work order that was wanted for it, also where the answer came second and raised none yet.
    wants = models.CharField("kind of work order wanted", max_length=20, blank=True)
    reading = models.OneToOneField(Reading, on_delete=models.PROTECT, null=True, blank=True, related_name="walk_entry")
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, null=True, blank=True, related_name="walk_entries")

    class Meta:
        ordering = ["line__number", "id"]
        constraints = [
            models.UniqueConstraint(fields=["answer", "line"], name="line_once_an_answer"),
            models.CheckConstraint(
                condition=~Q(typed="", could_not="") | Q(good__isnull=False),
                name="entry_says_something",
                violation_error_message="Write what it shows, or say why it could not be read.",
            ),
            models.CheckConstraint(
                condition=~Q(good=False) | ~Q(words=""),
                name="not_good_says_because",
                violation_error_message="Say what is not good.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line.what}: {self.typed}"


class BalancePart(models.Model):
    """A tag that counts in the water balance of the day, from a day on; a changed one is ended and written anew."""

    kept: ClassVar[Kept] = close_once("to_day", "ended_at", "ended_by")

    class Kind(models.TextChoices):
        """On which side of the balance it counts."""

        IN = "in", "In"
        OUT = "out", "Out"
        PLANT_USE = "plant use", "Plant use"
        BACKWASH = "backwash", "Backwash"
        STORE = "store", "Storage"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="balance_parts")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=60)
    face = models.CharField(max_length=10, choices=Face, default=Face.DISPLAY)
    kind = models.CharField(max_length=10, choices=Kind)
    uncertainty = models.CharField("standard uncertainty, % of the total", max_length=24, blank=True)
    area = models.CharField("surface of the store, m²", max_length=24, blank=True)
    level_uncertainty = models.CharField("standard uncertainty of one level, m", max_length=24, blank=True)
    area_uncertainty = models.CharField("standard uncertainty of the surface, m²", max_length=24, blank=True)
    from_day = models.DateField()
    why = models.CharField("why it counts so", max_length=200)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    to_day = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["kind", "position__tag"]
        constraints = [
            models.UniqueConstraint(
                fields=["position", "what"],
                condition=Q(ended_at__isnull=True),
                name="balance_counts_a_register_once",
                violation_error_message="This counts in the balance already; end that first.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["in", "out", "plant use", "backwash", "store"]),
                name="balance_part_is_known",
                violation_error_message="It counts as in, out, plant use, backwash or storage.",
            ),
            models.CheckConstraint(
                condition=Q(to_day__isnull=True) | Q(to_day__gte=F("from_day")),
                name="balance_part_ends_after_it_begins",
                violation_error_message="It counts until a day that is not before the first one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position.tag}, {self.what}: {self.kind}"
