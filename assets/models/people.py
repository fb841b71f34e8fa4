"""People, companies, roles, qualifications and the personal links of contractors."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import F, Q

from assets.models.plant import Site
from assets.queries import MembershipQuerySet, QualificationQuerySet
from assets.triggers import CHANGES, Kept, close_once


class Role(models.TextChoices):
    """What a person may do at a site."""

    OPERATOR = "operator", "operator"
    SUPERVISOR = "supervisor", "supervisor"
    CONTRACTOR = "contractor", "contractor"
    VIEWER = "viewer", "viewer"
    ADMINISTRATOR = "administrator", "administrator"


class Company(models.Model):
    """An outside employer whose people work at a site."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="companies")
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "name"],
                name="company_once_a_site",
                violation_error_message="This site knows a company of this name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class PersonManager(BaseUserManager["Person"]):
    """Finds people by their sign-in name; people are registered by an action, never here."""

    # Otherwise every migration would import this module.
    use_in_migrations = False


class Person(AbstractBaseUser):
    """One human being. A contractor needs no sign-in name and no password; nobody is ever deleted."""

    kept: ClassVar[Kept] = CHANGES
    # A secret is hashed anew whenever the hash's strength is raised, which is no change of the record.
    undigested: ClassVar[tuple[str, ...]] = ("password", "pin_hash")

    last_login = None

    name = models.CharField(max_length=120)
    sign_in = models.CharField(
        "sign-in name",
        max_length=60,
        unique=True,
        null=True,
        blank=True,
        error_messages={"unique": "Somebody has this sign-in name already."},
    )
    pin_hash = models.CharField(max_length=128, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, null=True, blank=True, related_name="people")
    is_active = models.BooleanField(default=True)
    # Looks after the installation: may read every table of every site in Django's own admin pages.
    is_staff = models.BooleanField("keeper of the installation", default=False)
    version = models.PositiveIntegerField(default=1)

    USERNAME_FIELD = "sign_in"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects = PersonManager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"
        constraints = [
            models.CheckConstraint(
                condition=Q(sign_in__isnull=True) | ~Q(sign_in=""),
                name="sign_in_name_is_not_empty",
                violation_error_message="A sign-in name is left out or has at least one letter.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def has_perm(self, perm: str, obj: Any = None) -> bool:
        """Whether Django's admin pages may show a table: to the keeper, for reading only."""
        return self.is_active and self.is_staff and ".view_" in perm

    def has_module_perms(self, app_label: str) -> bool:
        """Whether Django's admin pages list an app: to the keeper."""
        return self.is_active and self.is_staff


class Membership(models.Model):
    """A person's role at a site, from when to when."""

    kept: ClassVar[Kept] = close_once("to_at", "to_by")

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=14, choices=Role)
    from_at = models.DateTimeField()
    from_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        ordering = ["person__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "site"],
                condition=Q(to_at__isnull=True),
                name="one_role_a_person_and_site",
                violation_error_message="This person has a role at this site already; end it first.",
            ),
            models.CheckConstraint(
                condition=Q(role__in=Role.values),
                name="role_is_known",
                violation_error_message="A role is operator, supervisor, contractor, viewer or administrator.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.role}"


class Qualification(models.Model):
    """What a person is trained for at a site, from a day to a day; a lapsed one never keeps a lock from coming off."""

    kept: ClassVar[Kept] = close_once("withdrawn_at", "withdrawn_by")

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="qualifications")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20, choices=[("lockout", "lockout, authorized"), ("voltage", "voltage test")])
    from_day = models.DateField()
    until_day = models.DateField(null=True, blank=True)
    proof = models.CharField("shown by", max_length=160)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = QualificationQuerySet.as_manager()

    class Meta:
        ordering = ["-from_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["lockout", "voltage"]),
                name="qualification_is_known",
                violation_error_message="A qualification is for lockout or for the voltage test.",
            ),
            models.CheckConstraint(
                condition=Q(until_day__isnull=True) | Q(until_day__gte=F("from_day")),
                name="qualification_ends_after_it_begins",
                violation_error_message="A qualification ends on or after the day it begins.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.person}"


class AccessLink(models.Model):
    """A contractor's way in: one secret link and a code told apart from it, for one job, for one person."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="links")
    path = models.CharField(max_length=120)
    token_hash = models.CharField(max_length=64, unique=True)
    code_hash = models.CharField(max_length=128)
    wrong_codes = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "path"],
                condition=Q(closed_at__isnull=True),
                name="one_open_link_a_person_and_job",
                violation_error_message="This person has an open link to this job already.",
            )
        ]

    def __str__(self) -> str:
        return f"link of {self.person} to {self.path}"
