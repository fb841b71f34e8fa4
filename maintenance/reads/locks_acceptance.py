"""What operations write down when they take a machine back, and which checks are due before it is used."""

from __future__ import annotations

from dataclasses import dataclass

from assets.models import Position
from maintenance.compute.lockout import Story
from maintenance.models import Lockout, Occurrence, Override

SELECTOR = "Selector left at"
FORCED = "Forced values on its signals"
CHECKS = "Checks due before use"
HOURS = "Hour meter, start"
BEFORE_USE = "before use"


@dataclass(frozen=True, slots=True)
class AcceptanceField:
    """One line of the acceptance list: the name of its form field, its words, and what helps to fill it in."""

    name: str
    topic: str
    hint: str = ""


def fields_of(lockout: Lockout, story: Story) -> list[AcceptanceField]:
    """The lines asked of one lockout: the procedure's own, then selector, forced values, checks and hour meter."""
    own = [AcceptanceField(f"a{number}", topic) for number, topic in enumerate(story.acceptance, 1)]
    found = story.first("selector found")
    if found is not None:
        own.append(AcceptanceField("selector", SELECTOR, f"Found at: {found.text}. Write where it stands now"))
    own.append(AcceptanceField("forced", FORCED, _forced(lockout.position)))
    due = checks_before_use(lockout.position)
    if due:
        names = ", ".join(item.plan.title for item in due)
        own.append(AcceptanceField("checks", CHECKS, f"Due: {names}. Write what is done about each"))
    if story.fitted is not None:
        own.append(AcceptanceField("hours", HOURS, f"Read at {story.fitted.name}"))
    return own


def _forced(position: Position) -> str:
    standing = Override.objects.put_on().touching(position).select_related("position").order_by("number")
    named = ", ".join(f"{one} at {one.position.tag}" for one in standing)
    return f"Still standing: {named}. It is restored first" if named else "Write which were removed, or none"


def checks_before_use(position: Position) -> list[Occurrence]:
    """Open due items of a position that the fitted asset owes before it is used."""
    rows = Occurrence.objects.open().filter(plan__position=position, plan__retired_at=None, why=BEFORE_USE)
    return list(rows.select_related("plan").order_by("due", "pk"))
