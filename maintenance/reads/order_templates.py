"""Templates of work orders: the list, one of them, those that fit a tag."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q

from assets.models import Asset, Fitting, Position, Site
from maintenance.compute.stock import in_unit
from maintenance.models import OrderTemplate
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


def template_rows(site: Site) -> tuple[TemplateRow, ...]:
    """Every template of a site, those in use first; one question."""
    rows = OrderTemplate.objects.at(site).annotate(
        step_count=Count("steps", filter=Q(steps__ended_at=None), distinct=True),
        part_count=Count("parts", filter=Q(parts__ended_at=None), distinct=True),
    )
    return _rows(sorted(rows, key=lambda row: (row.retired_at is not None, row.machine.casefold(), row.title)))


def templates_for(position: Position) -> tuple[TemplateRow, ...]:
    """Templates in use for what is fitted at a tag, and those for any kind."""
    kinds = Fitting.objects.filter(position=position, to_at__isnull=True).values_list("asset__kind", flat=True)
    rows = OrderTemplate.objects.at(position.site).standing().for_machine(list(kinds))
    counted = rows.annotate(
        step_count=Count("steps", filter=Q(steps__ended_at=None), distinct=True),
        part_count=Count("parts", filter=Q(parts__ended_at=None), distinct=True),
    )
    return _rows(counted.order_by("-machine", "title"))


def _rows(rows: Iterable[OrderTemplate]) -> tuple[TemplateRow, ...]:
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
