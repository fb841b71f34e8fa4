"""Serial-numbered things: the list, the page of one, and its forms."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets import actions, reads
from assets.forms.plant import AssetForm, SureForm
from assets.lists import asked_of, file_of
from assets.permissions import READERS, SUPERVISORS, Desk, asset_for, for_roles
from assets.reads.asset import COLUMNS, FILTERS, asset_cells, asset_rows, assets_of
from assets.views.form_page import FormPage, answered, posted


def asset_path(pk: int) -> str:
    """Return the address of the page of an asset."""
    return reverse("assets:asset", kwargs={"pk": pk})


@require_safe
@for_roles(READERS)
def assets(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every asset, fifty at a time."""
    asked = asked_of(request, show=FILTERS, find=None)
    rows = assets_of(desk, asked["show"], asked.finds("serial", "kind", "model"))
    if asked.file:
        return file_of(asked, desk, "assets", COLUMNS, asset_cells(rows, desk.site.zone))
    shown, pager = asked.cut(rows)
    context = {
        "title": FILTERS[asked["show"]] if asked["show"] else "",
        "rows": asset_rows(shown),
        "pager": pager,
        "links": asked.links("show"),
        "finder": asked.finder("Serial, kind or model"),
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "assets/assets.html", context)


@require_safe
@for_roles(READERS)
def asset(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """One asset and where it has been fitted."""
    return render(request, "assets/asset.html", {"page": reads.asset_page(desk, asset_for(desk, pk))})


@for_roles(SUPERVISORS)
def asset_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register an asset; `?for=` names the tag it is going to be fitted at."""
    form = AssetForm(posted(request))
    wanted = request.GET.get("for", "")
    fit_at = int(wanted) if wanted.isascii() and wanted.isdecimal() else None

    def do() -> str:
        made = actions.register_asset(site=desk.site, facts=form.facts(), by=desk.person)
        if fit_at is not None:
            return f"{reverse('assets:fit', kwargs={'pk': fit_at})}?asset={made.pk}"
        return asset_path(made.pk)

    page = FormPage(
        form=form,
        title="Register an asset",
        refused="The asset was not registered",
        button="Register this asset",
        back=reverse("assets:assets"),
        back_word="Assets",
        verb="asset.registered",
        subject=desk.site,
        do=do,
        intro="A thing with a serial: a probe, an analyzer, a pump, a tester. Where it sits is written at its tag.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def asset_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change what is written about an asset."""
    row = asset_for(desk, pk)
    names = ("kind", "serial", "model", "note", "version")
    form = AssetForm(posted(request), initial={name: getattr(row, name) for name in names})

    def do() -> str:
        actions.change_asset(asset=row, facts=form.facts(), by=desk.person, version=form.cleaned_data["version"])
        return asset_path(pk)

    page = FormPage(
        form=form,
        title=f"Change {row}",
        refused="The asset was not changed",
        button="Save the asset",
        back=asset_path(pk),
        back_word=str(row),
        verb="asset.changed",
        subject=row,
        do=do,
        also=(("Retire it", reverse("assets:asset-retire", kwargs={"pk": pk})),),
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def asset_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Note that an asset is gone for good."""
    row = asset_for(desk, pk)
    form = SureForm(posted(request), initial={"version": row.version})

    def do() -> str:
        actions.retire_asset(asset=row, by=desk.person, version=form.cleaned_data["version"])
        return asset_path(pk)

    page = FormPage(
        form=form,
        title=f"Retire {row}",
        refused="The asset was not retired",
        button="Retire it",
        back=asset_path(pk),
        back_word=str(row),
        verb="asset.retired",
        subject=row,
        do=do,
        intro="It can be fitted nowhere any more; every record of it stays.",
    )
    return answered(request, desk, page)
