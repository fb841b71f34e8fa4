"""Templates of work orders: the list, one of them, those that fit a tag."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Case, Count, Q, When
from django.db.models.functions import Lower

from assets.models import Asset, Fitting, Position, Site
from maintenance.compute.stock import in_unit
from maintenance.models import OrderTemplate, OrderType
from maintenance.queries import OrderTemplateQuerySet
from maintenance.reads.due_words import hours
from maintenance.reads.order_page import asked


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateRow:
    """One template of the list."""

    pk: int
    url: str
    title: str
    machine: str
    type: str
    steps: int
    parts: int
    planned: str
    retired: bool


@dataclass(frozen=True, slots=True)
class TemplateLine:
    """One step or part of a template; `asks` is what a step reads, or how much of a part is needed."""

    pk: int
    text: str
    asks: str


@dataclass(frozen=True, slots=True)
class TemplateView:
    """Steps and parts of one template."""

    steps: tuple[TemplateLine, ...]
    parts: tuple[TemplateLine, ...]
    planned: str


def machine_kinds(site: Site) -> list[str]:
    """Kinds of the assets of a site, by name."""
    rows = Asset.objects.filter(site=site, retired_at__isnull=True).order_by("kind").values_list("kind", flat=True)
    return list(dict.fromkeys(rows))


SHOWN = {"": "All", "offered": "Offered", "retired": "Not offered"}
TYPE_WORDS = {"": "Any kind of work", **{one.value.replace(" ", "-"): str(one.label) for one in OrderType}}
TEMPLATE_COLUMNS = ("what is done", "kind of machine", "kind of work", "steps", "parts", "planned", "offered")


def listed_templates(site: Site, shown: str, type_: str, found: Q) -> OrderTemplateQuerySet:
    """Return the templates that a filter asks for, those in use first, then by kind of machine."""
    rows = OrderTemplate.objects.at(site).filter(found)
    if shown:
        rows = rows.filter(retired_at__isnull=shown == "offered")
    if type_:
        rows = rows.filter(type=next(one.value for one in OrderType if one.value.replace(" ", "-") == type_))
    gone = Case(When(retired_at__isnull=True, then=0), default=1)
    return _counted(rows).order_by(gone, Lower("machine"), "title", "pk")


def templates_for(position: Position) -> tuple[TemplateRow, ...]:
    """Templates in use for what is fitted at a tag, and those for any kind."""
    kinds = Fitting.objects.filter(position=position, to_at__isnull=True).values_list("asset__kind", flat=True)
    rows = OrderTemplate.objects.at(position.site).standing().for_machine(list(kinds))
    return template_rows(_counted(rows).order_by("-machine", "title"))


def _counted(rows: OrderTemplateQuerySet) -> OrderTemplateQuerySet:
    """Templates with how many steps and parts they have."""
    return rows.annotate(
        step_count=Count("steps", filter=Q(steps__ended_at=None), distinct=True),
        part_count=Count("parts", filter=Q(parts__ended_at=None), distinct=True),
    )


def template_cells(rows: Iterable[OrderTemplate]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for templates of `listed_templates`."""
    for row in template_rows(rows):
        yield (
            *(row.title, row.machine, row.type, str(row.steps), str(row.parts), row.planned),
            "no" if row.retired else "yes",
        )


def template_rows(rows: Iterable[OrderTemplate]) -> tuple[TemplateRow, ...]:
    """Rows to show for templates with their counts."""
    return tuple(
        TemplateRow(
            pk=row.pk,
            url=row.get_absolute_url(),
            title=row.title,
            machine=row.machine or "Any kind",
            type=row.get_type_display(),
            steps=row.step_count,  # type: ignore[attr-defined]
            parts=row.part_count,  # type: ignore[attr-defined]
            planned=hours(row.minutes) if row.minutes else "",
            retired=row.retired_at is not None,
        )
        for row in rows
    )


def template_view(template: OrderTemplate) -> TemplateView:
    """Collect what the page of one template shows."""
    steps = template.steps.filter(ended_at=None).order_by("number")
    parts = template.parts.filter(ended_at=None).select_related("part").order_by("pk")
    return TemplateView(
        tuple(TemplateLine(step.pk, step.text, asked(step)) for step in steps),
        tuple(TemplateLine(p.pk, p.part.name, in_unit(p.thousandths, p.part.unit)) for p in parts),
        hours(template.minutes) if template.minutes else "",
    )
